/* middles: where bare narrow parts are drawn as a line along their middle. */
#include "ink/look/cells.h"
#include "ink/look/compose.h"

#include <math.h>

/* A bare narrow part up to this many tips wide is a line along its middle, without edges beside it, where this share of
 * its edge is beside what is lighter: the three would be one wide dark line. */
#define MIDDLE_TIPS 2.0
#define MOST_OF_EDGE 0.95
/* So it is along an edge beside what is much lighter (L*) of which this share, looked at every tip, has no edge near
 * that is beside nothing lighter; that is, which would keep the line away: in tips, and half the part's width more. A
 * pale line is seen better between edges. */
#define MUCH_LIGHTER 15.0
#define MOST_CLEAR 0.8
#define CLEAR_TIPS 1.2

gboolean dt_compose_is_bare_line(const DtCompose *c, int part)
{
    const DtLookArea *a = part < 0 ? NULL : dt_compose_area(c, c->area_of[part]);
    return a && a->narrow && !a->fixed && a->recipe.pen[0] < 0 && a->outline >= 0;
}

typedef struct {
    const DtCompose *c;
    double tip;
    double *all;     /* length of the edges of each part */
    double *lighter; /* of those beside what is lighter */
    DtCells *other;  /* the edges that are not */
} Finder;

static gboolean is_line(const Finder *f, int part)
{
    return dt_compose_is_bare_line(f->c, part) &&
           dt_compose_part(f->c, (guint)part)->width <= MIDDLE_TIPS * f->tip;
}

static void add_edge(Finder *f, const DtPartEdge *e, int part, int other)
{
    const double length = dt_point_distance(e->a, e->b);
    f->all[part] += length;
    if (dt_compose_is_lighter_beside(f->c, e, part, other))
        f->lighter[part] += length;
    else
        dt_cells_add(f->other, e->a, e->b, (size_t)part);
}

static gboolean is_clear(const Finder *f, DtPoint at, int part)
{
    const double reach = CLEAR_TIPS * f->tip + dt_compose_part(f->c, (guint)part)->width / 2;
    const GArray *near = dt_cells_near(f->other, at);
    for (guint i = 0; near && i < near->len; i++) {
        const DtCellStretch *s = &g_array_index(near, DtCellStretch, i);
        if (dt_point_segment_distance(at, s->a, s->b) <= reach)
            return FALSE;
    }
    return TRUE;
}

static gboolean has_middle(const Finder *f, const DtPartEdge *e, int part, int other)
{
    if (f->lighter[part] >= MOST_OF_EDGE * f->all[part])
        return f->all[part] > 0;
    const DtLab own = dt_compose_area(f->c, f->c->area_of[part])->lab;
    if (dt_compose_paint_at(f->c, other, dt_point_lerp(e->a, e->b, 0.5)).l < own.l + MUCH_LIGHTER)
        return FALSE;
    const int steps = MAX((int)ceil(dt_point_distance(e->a, e->b) / f->tip), 1);
    int clear = 0;
    for (int i = 0; i < steps; i++)
        clear += is_clear(f, dt_point_lerp(e->a, e->b, (i + 0.5) / steps), part);
    return clear >= MOST_CLEAR * steps;
}

uint8_t *dt_compose_find_middles(const DtCompose *c)
{
    const guint n = c->edges->len;
    const double tip = dt_compose_tip(c->t);
    uint8_t *out = g_new0(uint8_t, n + 1);
    Finder f = {c, tip, g_new0(double, c->parts->len + 1), g_new0(double, c->parts->len + 1),
                dt_cells_new((CLEAR_TIPS + MIDDLE_TIPS / 2) * tip)};
    for (int pass = 0; pass < 2; pass++)
        for (guint i = 0; i < n; i++) {
            const DtPartEdge *e = &g_array_index(c->edges, DtPartEdge, i);
            const int part[2] = {e->left, e->right};
            for (int k = 0; k < 2 && part[0] != part[1]; k++)
                if (!is_line(&f, part[k]))
                    continue;
                else if (pass == 0)
                    add_edge(&f, e, part[k], part[1 - k]);
                else if (has_middle(&f, e, part[k], part[1 - k]))
                    out[i] |= (uint8_t)(1U << k);
        }
    dt_cells_free(f.other);
    g_free(f.all);
    g_free(f.lighter);
    return out;
}
