/* bare-lines: room for thin parts that are left bare in a darker field, such as white lines. The ink of both sides
 * spreads, and the machine is not exact: a gap that is much narrower than the tip would close. */
#include "ink/look/compose.h"
#include "ink/outline.h"

#include <math.h>

/* Widths are told apart in this many steps per tip. */
#define STEPS_PER_TIP 16
enum { N_STEPS = 12 };

/* How much of the paper is to be bare along an edge of a bare part, beyond the part's own width, in steps. */
static int room_beside(const DtCompose *c, int part, int field, DtPoint at)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    const double tip = dt_compose_tip(c->t);
    if (!a->narrow || a->recipe.pen[0] >= 0 || dt_compose_area(c, c->area_of[field])->narrow)
        return 0;
    const DtLab beside = dt_compose_paint_at(c, field, at);
    if (beside.l > a->lab.l || dt_colour_difference(beside, a->lab) < DT_LOOK_APART_IN_ART)
        return 0;
    const double lacking = DT_LOOK_GAP_TIPS - dt_compose_part(c, (guint)part)->width / tip;
    return CLAMP((int)lround(lacking * STEPS_PER_TIP), 0, N_STEPS);
}

static void add_edge(const DtCompose *c, const DtPartEdge *e, const int *place_of, DtLines *edges)
{
    const int part[2] = {e->left, e->right};
    const DtPoint p[2] = {e->a, e->b};
    for (int k = 0; k < 2 && part[0] >= 0 && part[1] >= 0; k++) {
        const int field = part[1 - k], place = place_of[c->area_of[field]],
                  room = place < 0 ? 0
                                   : room_beside(c, part[k], field, dt_point_lerp(e->a, e->b, 0.5));
        if (room > 0)
            dt_lines_append(&edges[place * N_STEPS + room - 1], p, 2, FALSE);
    }
}

gboolean dt_compose_make_room(const DtCompose *c, const int *place_of, GError **error)
{
    const double tip = dt_compose_tip(c->t);
    const guint n = c->t->inks->len * N_STEPS;
    DtLines *edges = g_new0(DtLines, n + 1);
    gboolean good = TRUE;
    for (guint i = 0; i < c->edges->len; i++)
        add_edge(c, &g_array_index(c->edges, DtPartEdge, i), place_of, edges);
    for (guint i = 0; i < n && good; i++) {
        /* Half of the room is on either side of a part: a band along the edge has the other half in the part. */
        const double width = (i % N_STEPS + 1) * tip / STEPS_PER_TIP;
        good = edges[i].n == 0 ||
               dt_outline_band(&edges[i], width + dt_compose_overlap(c, i / N_STEPS), DT_CAP_ROUND,
                               tip / 20, &dt_trace_place(c->t, i / N_STEPS)->cut, error);
    }
    for (guint i = 0; i < n; i++)
        dt_lines_clear(&edges[i]);
    g_free(edges);
    return good;
}
