/* line-lost: whether a line is lost in the ink of its own pen beside it. */
#include "ink/fill/fill.h"
#include "ink/look/board.h"
#include "ink/trace.h"

/* A line along a narrow area that covers more than this of it leaves edges that are too thin to be seen. */
#define THIN_EDGES 0.5
/* A dense narrow area shows in a hatch of its own pen if it is this many times as wide as the hatch's lines. */
#define STANDS_OUT 2.0
/* An area that is not narrow, but whose open hatch needs at least this coverage to show it, is a line or a letter. */
#define LINE_LEAST 0.6

/* The widest ink without a gap in a hatch that covers at least half, mm: its bands, or what is between the gaps of
 * crossed lines of one pen. */
static double widest_stripe(double tip, DtRecipe r)
{
    return tip * (r.pen[1] == r.pen[0] ? 1 / r.share[0] : dt_fill_lines_in_band(r.share[0]));
}

/* The bare gap between the bands of an open hatch, or the lines of one direction of it, mm. */
static double gap_between(double tip, DtRecipe r)
{
    return (1 / r.share[0] - 1) * tip * dt_fill_lines_in_band(r.share[0]);
}

/* What a pen has of a recipe. */
static DtRecipe part_of_pen(DtRecipe r, int pen)
{
    if (dt_recipe_other_pen(r) < 0)
        return r.pen[0] == pen ? r : DT_RECIPE_PAPER;
    for (int k = 0; k < 2; k++)
        if (r.pen[k] == pen)
            return (DtRecipe){{pen, -1}, {r.share[k], 0}};
    return DT_RECIPE_PAPER;
}

/* Whether an area is a line, if perhaps with wider places where it meets others. */
static gboolean is_line(const DtLookArea *a)
{
    return a->narrow || (!a->fixed && a->least >= LINE_LEAST);
}

gboolean dt_look_is_line_lost(const DtLookArea *a, DtRecipe r, DtRecipe all_beside, double tip)
{
    const DtRecipe beside = part_of_pen(all_beside, r.pen[0]);
    if (!is_line(a) || beside.share[0] < DT_LOOK_SHOWS_OVER)
        return FALSE;
    if (a->narrow && dt_recipe_is_open(r))
        return r.share[0] > THIN_EDGES;
    if (dt_recipe_is_open(r))
        return gap_between(tip, r) < DT_LOOK_GAP_TIPS * tip;
    const double width = tip * (a->narrow ? 1 / a->least : DT_LOOK_NARROW_TIPS);
    return width < STANDS_OUT * widest_stripe(tip, beside);
}
