/* attached: lines and thin tips that are attached to a field of their own paint. As part of the field they would have
 * its hatch, of which nothing is seen beside a darker field: there they become parts of their own. */
#include "drawtrue/work.h"
#include "ink/look/compose.h"

#include <math.h>

/* A piece is at least this many times as long as the widest that is narrow: the corners of a field are none. */
#define LEAST_WIDTHS 3.0
/* What is beside a piece is darker if it is by so much (L*). */
#define DARKER 3.0
/* A piece is beside what is darker on at least this length, in tips. */
#define LEAST_DARK_TIPS 5.0
/* Pieces are not taken from parts of more points. */
enum { MOST_POINTS = 50000 };

/* Whether a part is beside another (-1: the paper) of quite another paint, which is darker, at a place, and so much that
 * its ink can give way to a gap. */
static gboolean is_beside_dark(const DtCompose *c, int part, int other, DtPoint at)
{
    if (part < 0 || other < 0)
        return FALSE;
    const DtLab own = dt_compose_paint(c, dt_compose_part(c, (guint)part)->label)->lab,
                beside = dt_compose_paint_at(c, other, at);
    return beside.l < own.l - DARKER && dt_colour_difference(beside, own) >= DT_LOOK_APART_IN_ART &&
           dt_look_is_worth_a_gap(c->t->appear, beside, own, dt_compose_tip(c->t));
}

/* How much of each part's edge (mm) is beside what is darker. */
static double *dark_edges(const DtCompose *c)
{
    double *dark = g_new0(double, c->parts->len + 1);
    for (guint i = 0; i < c->edges->len && !dt_work_stopped(); i++) {
        const DtPartEdge *e = &g_array_index(c->edges, DtPartEdge, i);
        const DtPoint at = dt_point_lerp(e->a, e->b, 0.5);
        const double mm = dt_point_distance(e->a, e->b);
        if (is_beside_dark(c, e->left, e->right, at))
            dark[e->left] += mm;
        if (is_beside_dark(c, e->right, e->left, at))
            dark[e->right] += mm;
    }
    return dark;
}

/* The parts of a region into which no circle of width `narrow` fits, as a region; empty if it is all of it. */
static gboolean find_narrow(const DtLines *rings, double narrow, DtLines *out, GError **error)
{
    g_auto(DtLines) wide;
    dt_lines_init(&wide);
    return dt_parts_find_wide(rings, narrow, &wide, error) &&
           (wide.n == 0 || dt_region_subtract(rings, DT_PLANE_NONZERO, &wide, out, error));
}

static void measure(DtPart *p)
{
    p->area = dt_region_area(&p->rings);
    p->width = 2 * p->area / MAX(dt_lines_total_length(&p->rings), 1e-6);
}

/* Takes the long narrow pieces off a part; they become the last parts. */
static gboolean take_off(DtCompose *c, guint part, double narrow, GError **error)
{
    g_auto(DtLines) thin, taken, core;
    dt_lines_init(&thin);
    dt_lines_init(&taken);
    dt_lines_init(&core);
    if (!find_narrow(&dt_compose_part(c, part)->rings, narrow, &thin, error))
        return FALSE;
    g_autoptr(GArray) pieces = g_array_new(FALSE, TRUE, sizeof(DtPart));
    g_array_set_clear_func(pieces, dt_part_clear);
    dt_parts_add(pieces, dt_compose_part(c, part)->label, &thin);
    for (guint i = 0; i < pieces->len; i++) {
        DtPart *p = &g_array_index(pieces, DtPart, i);
        if (dt_lines_total_length(&p->rings) < 2 * LEAST_WIDTHS * narrow)
            continue;
        dt_lines_append_lines(&taken, &p->rings);
        g_array_append_val(c->parts, *p);
        g_array_append_val(c->attached, part);
        dt_lines_init(&p->rings);
    }
    DtPart *own = dt_compose_part(c, part);
    if (taken.n == 0)
        return TRUE;
    if (!dt_region_subtract(&own->rings, DT_PLANE_NONZERO, &taken, &core, error))
        return FALSE;
    dt_lines_clear(&own->rings);
    dt_lines_append_lines(&own->rings, &core);
    measure(own);
    return TRUE;
}

static gboolean find_borders(DtCompose *c, GError **error)
{
    g_array_free(g_steal_pointer(&c->edges), TRUE);
    g_array_free(g_steal_pointer(&c->borders), TRUE);
    return dt_parts_borders(c->parts, &c->edges, &c->borders, error);
}

/* Makes one region of the rings of pieces that are put back. */
static gboolean clean_part(DtPart *p, GError **error)
{
    DtLines clean;
    dt_lines_init(&clean);
    const gboolean good = dt_region_clean(&p->rings, DT_PLANE_NONZERO, &clean, error);
    dt_lines_clear(&p->rings);
    p->rings = clean;
    measure(p);
    return good;
}

/* Puts those pieces back, from part number `first` on, that are hardly beside anything darker. */
static gboolean put_back(DtCompose *c, guint first, double least, GError **error)
{
    const guint n = c->parts->len;
    g_autofree double *dark = dark_edges(c);
    g_autofree gboolean *grown = g_new0(gboolean, n + 1);
    guint kept = first;
    for (guint i = first; i < n; i++) {
        const int parent = g_array_index(c->attached, int, i - first);
        DtPart *p = dt_compose_part(c, i);
        if (dark[i] >= least) {
            g_array_index(c->attached, int, kept - first) = parent;
            const DtPart moved = *p;
            dt_lines_init(&p->rings);
            *dt_compose_part(c, kept++) = moved;
            continue;
        }
        grown[parent] = TRUE;
        dt_lines_append_lines(&dt_compose_part(c, (guint)parent)->rings, &p->rings);
        dt_lines_clear(&p->rings);
    }
    g_array_set_size(c->parts, kept);
    g_array_set_size(c->attached, kept - first);
    for (guint i = 0; i < first; i++)
        if (grown[i] && !clean_part(dt_compose_part(c, i), error))
            return FALSE;
    return kept == n || find_borders(c, error);
}

gboolean dt_compose_take_off_lines(DtCompose *c, double narrow, GError **error)
{
    const double least = LEAST_DARK_TIPS * dt_compose_tip(c->t);
    const guint first = c->parts->len;
    g_autofree double *dark = dark_edges(c);
    for (guint i = 0; i < first; i++) {
        const DtPart *p = dt_compose_part(c, i);
        if (dark[i] >= least && dt_compose_paint(c, p->label)->label < 0 &&
            p->rings.n_pts <= MOST_POINTS && !take_off(c, i, narrow, error))
            return FALSE;
        if (!dt_work_check(error))
            return FALSE;
    }
    return c->parts->len == first || (find_borders(c, error) && put_back(c, first, least, error));
}

/* Whether a part is drawn densely by one pen, and by which. */
static int dense_pen(const DtCompose *c, int part)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    return a->recipe.share[0] >= 1 && a->recipe.pen[1] < 0 ? a->recipe.pen[0] : -1;
}

void dt_compose_join_attached(const DtCompose *c, int *place_of_part)
{
    const guint first = c->parts->len - c->attached->len;
    for (guint i = 0; i < c->attached->len; i++) {
        const int parent = g_array_index(c->attached, int, i), own = (int)(first + i),
                  pen = dense_pen(c, own);
        if (pen >= 0 && pen == dense_pen(c, parent))
            place_of_part[own] = place_of_part[parent];
    }
}
