/* joins: the parts of a blend, such as a gradient that a drawing program split up, become one. */
#include "drawtrue/work.h"
#include "ink/look/blends.h"
#include "ink/look/compose.h"

#include <math.h>

/* A new paint for a group of parts of several paints, the first of which is `first`. */
static int paint_of_group(DtCompose *c, DtLab mean, guint first)
{
    DtSeenPaint p = *dt_compose_paint(c, dt_compose_part(c, first)->label);
    p.lab = mean;
    p.tone = -1;
    p.separation = NULL;
    p.colours = NULL;
    g_array_append_val(c->paints, p);
    return (int)c->paints->len - 1;
}

/* Makes one part of each group of them. */
static gboolean join_groups(DtCompose *c, const int *of, int n, const DtLab *mean, GError **error)
{
    GArray *joined = g_array_new(FALSE, TRUE, sizeof(DtPart));
    g_array_set_clear_func(joined, dt_part_clear);
    g_array_set_size(joined, (guint)n);
    g_autofree guint *members = g_new0(guint, n + 1);
    g_autofree gboolean *mixed = g_new0(gboolean, n + 1);
    for (guint i = 0; i < c->parts->len; i++) {
        DtPart *p = &g_array_index(joined, DtPart, of[i]);
        const int paint = dt_compose_part(c, i)->label;
        mixed[of[i]] |= members[of[i]]++ > 0 && p->label != paint;
        p->label = paint;
    }
    for (int g = 0; g < n; g++)
        if (mixed[g])
            g_array_index(joined, DtPart, g).label = -1;
    for (guint i = 0; i < c->parts->len && !dt_work_stopped(); i++) {
        DtPart *p = &g_array_index(joined, DtPart, of[i]), *own = dt_compose_part(c, i);
        if (members[of[i]] == 1) {
            *p = *own;
            dt_lines_init(&own->rings);
            continue;
        }
        if (p->label < 0)
            p->label = paint_of_group(c, mean[of[i]], i);
        dt_lines_append_lines(&p->rings, &own->rings);
        p->area += own->area;
    }
    gboolean good = dt_work_check(error);
    for (int g = 0; g < n && good; g++) {
        DtPart *p = &g_array_index(joined, DtPart, g);
        DtLines clean;
        if (members[g] < 2)
            continue;
        dt_lines_init(&clean);
        good = dt_region_clean(&p->rings, DT_PLANE_NONZERO, &clean, error);
        dt_lines_clear(&p->rings);
        p->rings = clean;
        p->width = 2 * p->area / MAX(dt_lines_total_length(&p->rings), 1e-6);
    }
    g_array_free(c->parts, TRUE);
    c->parts = joined;
    return good;
}

/* How much of each part's border (mm) is with what differs from it so much that it must in ink. */
static double *differing_borders(const DtCompose *c, const DtLab *paint)
{
    double *sum = g_new0(double, c->parts->len + 1);
    const DtLab paper = dt_appear_lab(c->t->appear, DT_RECIPE_PAPER);
    for (guint i = 0; i < c->borders->len; i++) {
        const DtPartBorder *b = &g_array_index(c->borders, DtPartBorder, i);
        const DtLab beside = b->a < 0 ? paper : paint[b->a];
        if (dt_colour_difference(beside, paint[b->b]) < DT_LOOK_APART_IN_ART)
            continue;
        sum[b->b] += b->length;
        if (b->a >= 0)
            sum[b->a] += b->length;
    }
    return sum;
}

/* A part of which more than this share of the border is with what differs is no step of a blend. */
#define DIFFERS 0.5

/* Records the places along narrow parts that become part of a field, such as a pale line that joins a paler one: as
 * part of it nothing would look for their ink. */
static void find_thin_joined(DtCompose *c, const int *of, const DtLab *paint, double narrow)
{
    const guint n = c->parts->len;
    g_autofree guint *members = g_new0(guint, n + 1);
    g_autofree double *differing = differing_borders(c, paint);
    for (guint i = 0; i < n; i++)
        members[of[i]]++;
    c->sides = g_new0(DtPartSides, n + 1);
    for (guint i = 0; i < n; i++) {
        const DtPart *p = dt_compose_part(c, i);
        c->sides[i].narrow = members[of[i]] > 1 && p->width < narrow &&
                             differing[i] > DIFFERS * dt_lines_total_length(&p->rings);
    }
    dt_compose_find_thin(c, FALSE);
    g_clear_pointer(&c->sides, g_free);
    for (guint i = 0; i < c->t->thin->len; i++) {
        DtThinPlace *place = &g_array_index(c->t->thin, DtThinPlace, i);
        place->part = of[place->part];
    }
}

gboolean dt_compose_join_blends(DtCompose *c, double narrow, GError **error)
{
    guint n = c->parts->len;
    g_autofree DtLab *paint = g_new(DtLab, n + 1);
    g_autofree DtLab *mean = g_new(DtLab, n + 1);
    g_autofree gboolean *fixed = g_new(gboolean, n + 1);
    for (guint i = 0; i < n; i++) {
        const DtSeenPaint *p = dt_compose_paint(c, dt_compose_part(c, i)->label);
        paint[i] = p->lab;
        fixed[i] = p->label >= 0 || p->asked >= 0;
    }
    int groups;
    g_autofree int *of = dt_blend_parts(c->parts, c->borders, paint, fixed, narrow, mean, &groups);
    if (groups == (int)n)
        return TRUE;
    find_thin_joined(c, of, paint, narrow);
    if (!join_groups(c, of, groups, mean, error))
        return FALSE;
    GArray *borders = dt_parts_group_borders(c->borders, of);
    g_array_free(c->borders, TRUE);
    c->borders = borders;
    for (guint i = 0; i < c->edges->len; i++) {
        DtPartEdge *e = &g_array_index(c->edges, DtPartEdge, i);
        e->left = e->left < 0 ? -1 : of[e->left];
        e->right = e->right < 0 ? -1 : of[e->right];
    }
    return TRUE;
}
