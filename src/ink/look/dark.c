/* dark: dark tones by lines of one pen in two directions, where that looks nearer. */
#include "ink/look/dark.h"

#include "drawtrue/work.h"

/* Least reduction of the difference, for lines up to 1.7 times as long. */
#define LEAST_GAIN 1.0
/* The share that each direction covers; below it both cover what one can. */
#define LEAST_EACH 0.6
/* One pen's lines that cover this much make a dark tone. */
#define DARK 0.8

static double mean_difference(const DtAppear *appear, const DtLookArea *a, DtRecipe r)
{
    return dt_colour_difference(a->lab, dt_appear_lab(appear, r));
}

/* The crossed lines of a pen whose mean colour is nearest. */
static DtRecipe nearest_crossing(const DtAppear *appear, const DtLookArea *a, int pen)
{
    DtRecipe best = {{pen, pen}, {LEAST_EACH, LEAST_EACH}};
    for (double s = LEAST_EACH; s > 0 && s <= DT_LOOK_MOST_EACH; s = dt_appear_next_share(s, 1)) {
        const DtRecipe r = {{pen, pen}, {s, s}};
        if (mean_difference(appear, a, r) < mean_difference(appear, a, best))
            best = r;
    }
    return best;
}

/* Whether an area is one dark tone by one pen. */
static gboolean is_dark(const DtLookArea *a)
{
    return !a->fixed && !a->narrow && a->recipe.pen[0] >= 0 && a->recipe.pen[1] < 0 &&
           a->recipe.share[0] >= DARK && a->least <= LEAST_EACH;
}

/* From both distances together, and no farther from 40 cm. That it is lighter does not suffice: its mean colour or its
 * pattern from 40 cm must gain as well. */
static gboolean is_nearer(const DtAppear *appear, const DtLookArea *a, DtRecipe r)
{
    const double mean = mean_difference(appear, a, a->recipe) - mean_difference(appear, a, r),
                 near = dt_appear_near_difference(appear, a->lab, a->recipe) -
                        dt_appear_near_difference(appear, a->lab, r),
                 all = dt_appear_difference(appear, a->lab, a->recipe) -
                       dt_appear_difference(appear, a->lab, r);
    return near >= 0 && MAX(mean, near) > LEAST_GAIN && all > LEAST_GAIN;
}

void dt_look_cross_dark(const DtAppear *appear, DtLookArea *areas, size_t n)
{
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        DtLookArea *a = &areas[i];
        if (!is_dark(a))
            continue;
        const DtRecipe r = nearest_crossing(appear, a, a->recipe.pen[0]);
        if (is_nearer(appear, a, r))
            a->recipe = r;
    }
}
