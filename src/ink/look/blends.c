/* blends: joins neighbours with similar paints in rounds, the most similar first. */
#include "ink/look/blends.h"

#include "drawtrue/work.h"

/* Groups whose mean paints are farther apart (CIEDE2000) stay apart. */
#define ALIKE 8.0
/* So do groups that have less than this share of the shorter edge in common, or of the edge of the one that is narrow:
 * a line that meets another at its end, or crosses a field, is not a step of a blend. */
#define BESIDE 0.15
/* Each round at most halves the number of groups. */
enum { ROUNDS = 14 };

typedef struct {
    DtLab sum; /* times area */
    double area, edge;
    gboolean fixed, taken;
} Group;

typedef struct {
    int a, b;
    double length, apart;
} Join;

static DtLab mean_of(const Group *g)
{
    double k = g->area > 0 ? 1 / g->area : 0;
    return (DtLab){g->sum.l * k, g->sum.a * k, g->sum.b * k};
}

static gboolean is_narrow(const Group *g, double narrow)
{
    return 2 * g->area < narrow * g->edge;
}

static int most_alike_first(const void *pa, const void *pb)
{
    const Join *x = pa, *y = pb;
    if (x->apart != y->apart)
        return x->apart < y->apart ? -1 : 1;
    if (x->a != y->a)
        return x->a < y->a ? -1 : 1;
    return (x->b > y->b) - (x->b < y->b);
}

/* The edge of which two groups must have a share in common. */
static double edge_to_share(const Group *a, const Group *b, double narrow)
{
    if (is_narrow(a, narrow) && is_narrow(b, narrow))
        return MIN(a->edge, b->edge);
    return is_narrow(a, narrow) ? a->edge : b->edge;
}

/* The possible joins, in order. */
static GArray *find_joins(const Group *groups, const GArray *borders, double narrow)
{
    GArray *joins = g_array_new(FALSE, FALSE, sizeof(Join));
    for (guint i = 0; i < borders->len && !dt_work_stopped(); i++) {
        const DtPartBorder *b = &g_array_index(borders, DtPartBorder, i);
        if (b->a < 0 || groups[b->a].fixed || groups[b->b].fixed ||
            !(is_narrow(&groups[b->a], narrow) || is_narrow(&groups[b->b], narrow)))
            continue;
        Join j = {b->a, b->b, b->length,
                  dt_colour_difference(mean_of(&groups[b->a]), mean_of(&groups[b->b]))};
        if (j.apart < ALIKE &&
            b->length >= BESIDE * edge_to_share(&groups[b->a], &groups[b->b], narrow))
            g_array_append_val(joins, j);
    }
    g_array_sort(joins, most_alike_first);
    return joins;
}

/* One round: into[g] is the group that g joins. FALSE if none joins another. */
static gboolean join_once(Group *groups, int n, const GArray *borders, double narrow, int *into)
{
    g_autoptr(GArray) joins = find_joins(groups, borders, narrow);
    gboolean any = FALSE;
    for (int i = 0; i < n; i++) {
        into[i] = i;
        groups[i].taken = FALSE;
    }
    for (guint k = 0; k < joins->len; k++) {
        const Join *j = &g_array_index(joins, Join, k);
        Group *a = &groups[j->a], *b = &groups[j->b];
        if (a->taken || b->taken)
            continue;
        a->taken = b->taken = TRUE;
        a->sum = (DtLab){a->sum.l + b->sum.l, a->sum.a + b->sum.a, a->sum.b + b->sum.b};
        a->area += b->area;
        a->edge += b->edge - 2 * j->length;
        into[j->b] = j->a;
        any = TRUE;
    }
    return any;
}

/* Numbers the groups that are left from 0, in order; returns how many. */
static int renumber(Group *groups, int n, int *into)
{
    g_autofree int *fresh = g_new(int, n + 1);
    int k = 0;
    for (int i = 0; i < n; i++)
        if (into[i] == i) {
            groups[k] = groups[i];
            fresh[i] = k++;
        }
    for (int i = 0; i < n; i++)
        into[i] = fresh[into[i]]; /* a group joins one that stays */
    return k;
}

int *dt_blend_parts(const GArray *parts, const GArray *borders, const DtLab *paint,
                    const gboolean *fixed, double narrow, DtLab *mean, int *n_groups)
{
    int n = (int)parts->len;
    int *of = g_new(int, n + 1);
    g_autofree int *into = g_new(int, n + 1);
    g_autofree Group *groups = g_new0(Group, n + 1);
    for (int i = 0; i < n; i++) {
        const DtPart *p = &g_array_index(parts, DtPart, i);
        of[i] = i;
        groups[i] = (Group){{paint[i].l * p->area, paint[i].a * p->area, paint[i].b * p->area},
                            p->area,
                            dt_lines_total_length(&p->rings),
                            fixed[i],
                            FALSE};
    }
    for (int round = 0; round < ROUNDS && !dt_work_stopped(); round++) {
        g_autoptr(GArray) own = dt_parts_group_borders(borders, of);
        if (!join_once(groups, n, own, narrow, into))
            break;
        n = renumber(groups, n, into);
        for (guint i = 0; i < parts->len; i++)
            of[i] = into[of[i]];
    }
    for (int i = 0; i < n; i++)
        mean[i] = mean_of(&groups[i]);
    *n_groups = n;
    return of;
}
