/* dark: dark tones by lines of one pen in two directions, where the look gains most for the longer time. */
#include "ink/look/dark.h"

#include "drawtrue/work.h"

/* By this share the ink of all areas may become longer. */
#define MOST_LONGER 0.4
/* Least reduction of the difference. */
#define LEAST_GAIN 1.0
/* The share that each direction covers; below it both cover what one can. */
#define LEAST_EACH 0.6
#define MOST_EACH 0.8

typedef struct {
    size_t area;
    DtRecipe recipe;
    double worth;  /* gain per length */
    double longer; /* mm */
} Crossing;

/* The length of ink that a recipe needs, mm. */
static double length_of(const DtLookArea *a, DtRecipe r, double tip)
{
    return r.pen[0] < 0 ? 0 : a->area * (r.share[0] + (r.pen[1] < 0 ? 0 : r.share[1])) / tip;
}

static double mean_difference(const DtAppear *appear, const DtLookArea *a, DtRecipe r)
{
    return dt_colour_difference(a->lab, dt_appear_lab(appear, r));
}

/* The crossed lines of a pen whose mean colour is nearest. */
static DtRecipe nearest_crossing(const DtAppear *appear, const DtLookArea *a, int pen)
{
    DtRecipe best = {{pen, pen}, {LEAST_EACH, LEAST_EACH}};
    for (double s = LEAST_EACH; s > 0 && s <= MOST_EACH; s = dt_appear_next_share(s, 1)) {
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
           a->recipe.share[0] >= MOST_EACH && a->least <= LEAST_EACH;
}

static void add_crossing(const DtAppear *appear, const DtLookArea *areas, size_t i, double tip,
                         GArray *out)
{
    const DtLookArea *a = &areas[i];
    const DtRecipe r = nearest_crossing(appear, a, a->recipe.pen[0]);
    const double now = dt_appear_difference(appear, a->lab, a->recipe) - LEAST_GAIN;
    if (mean_difference(appear, a, r) >= now || dt_appear_is_too_far(appear, a->lab, r))
        return;
    const double gain = now - dt_appear_difference(appear, a->lab, r),
                 longer = length_of(a, r, tip) - length_of(a, a->recipe, tip);
    const Crossing c = {i, r, a->area * gain / longer, longer};
    if (gain > 0 && longer > 0)
        g_array_append_val(out, c);
}

static int best_first(const void *pa, const void *pb)
{
    const Crossing *a = pa, *b = pb;
    if (a->worth != b->worth)
        return a->worth > b->worth ? -1 : 1;
    return (a->area > b->area) - (a->area < b->area);
}

void dt_look_cross_dark(const DtAppear *appear, DtLookArea *areas, size_t n, double tip)
{
    g_autoptr(GArray) all = g_array_new(FALSE, FALSE, sizeof(Crossing));
    double left = 0;
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        left += MOST_LONGER * length_of(&areas[i], areas[i].recipe, tip);
        if (is_dark(&areas[i]))
            add_crossing(appear, areas, i, tip, all);
    }
    g_array_sort(all, best_first);
    for (guint i = 0; i < all->len; i++) {
        const Crossing *c = &g_array_index(all, Crossing, i);
        if (c->longer > left)
            continue;
        left -= c->longer;
        areas[c->area].recipe = c->recipe;
    }
}
