/* crossings: lines of one ink that cross are one. Where a line of the artwork that is drawn as an area crosses
 * another, the upper one takes a piece out of the lower one. If both are drawn as single lines of the same
 * ink, the lower one need not end there: a gap shows nothing and costs two lifts. */
#include "ink/look/compose.h"

#include <math.h>
#include <stdlib.h>

/* A part up to this many tips wide is drawn as one line. */
#define LINE_TIPS 1.3
/* Where one line ends at another it borders on it along at most this many of their widths: they cross at 20
 * degrees or more. */
#define MOST_WIDTHS 3.0
/* A part that borders on another along a larger share of its edge than this lies beside it. */
#define BESIDE 0.2

/* An end of an edge between parts a < b. */
typedef struct {
    int a, b;
    DtPoint at;
    double half; /* of the edge's length */
} EdgeEnd;

static int by_parts_and_point(const void *pa, const void *pb)
{
    const EdgeEnd *p = pa, *q = pb;
    if (p->a != q->a)
        return p->a < q->a ? -1 : 1;
    if (p->b != q->b)
        return p->b < q->b ? -1 : 1;
    if (p->at.x != q->at.x)
        return p->at.x < q->at.x ? -1 : 1;
    return (p->at.y > q->at.y) - (p->at.y < q->at.y);
}

static gboolean is_line(const DtCompose *c, int part)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    return a->narrow && a->recipe.pen[0] >= 0 &&
           (a->recipe.share[0] < 1 || dt_compose_part(c, (guint)part)->width <=
                                          LINE_TIPS * c->t->rack->pens[a->recipe.pen[0]].tip);
}

static gboolean are_one_ink(const DtCompose *c, int part, int other)
{
    const DtRecipe *r = &dt_compose_area(c, c->area_of[part])->recipe,
                   *s = &dt_compose_area(c, c->area_of[other])->recipe;
    return r->pen[0] == s->pen[0] && r->share[0] == s->share[0];
}

/* The ends of all edges between lines of one ink, sorted. */
static GArray *ends_of_edges(const DtCompose *c)
{
    GArray *ends = g_array_new(FALSE, FALSE, sizeof(EdgeEnd));
    for (guint i = 0; i < c->edges->len; i++) {
        const DtPartEdge *e = &g_array_index(c->edges, DtPartEdge, i);
        if (e->left < 0 || e->right < 0 || e->left == e->right || !is_line(c, e->left) ||
            !is_line(c, e->right) || !are_one_ink(c, e->left, e->right))
            continue;
        EdgeEnd end = {MIN(e->left, e->right), MAX(e->left, e->right), e->a,
                       dt_point_distance(e->a, e->b) / 2};
        g_array_append_val(ends, end);
        end.at = e->b;
        g_array_append_val(ends, end);
    }
    g_array_sort(ends, by_parts_and_point);
    return ends;
}

/* What parts a < b have in common: the edges make up stretches, each of which has two ends that no other edge
 * shares. */
typedef struct {
    int a, b;
    double length;
    unsigned stretches;
} Contact;

/* The contact that begins at ends[*i]; *i is moved behind it. */
static Contact next_contact(const GArray *ends, guint *i)
{
    const EdgeEnd *e = &g_array_index(ends, EdgeEnd, *i);
    Contact k = {e->a, e->b, 0, 0};
    unsigned single = 0;
    while (*i < ends->len && e->a == k.a && e->b == k.b) {
        const DtPoint at = e->at;
        unsigned same = 0;
        for (; *i < ends->len && e->a == k.a && e->b == k.b && e->at.x == at.x && e->at.y == at.y;
             e++, ++*i, same++)
            k.length += e->half;
        single += same % 2;
    }
    k.stretches = single / 2;
    return k;
}

static gboolean is_crossing(const DtCompose *c, const Contact *k)
{
    const DtPart *p = dt_compose_part(c, (guint)k->a), *q = dt_compose_part(c, (guint)k->b);
    const double edge = MIN(dt_lines_total_length(&p->rings), dt_lines_total_length(&q->rings));
    return k->length <= k->stretches * MOST_WIDTHS * MAX(p->width, q->width) &&
           k->length <= BESIDE * edge;
}

static int root_of(int *group, int i)
{
    while (group[i] != i)
        i = group[i] = group[group[i]];
    return i;
}

/* Joins the groups of lines that cross; a line that lies beside another of its ink stays apart. */
static void join_groups(const DtCompose *c, const GArray *contacts, int *group)
{
    g_autofree gboolean *beside = g_new0(gboolean, c->parts->len + 1);
    for (guint i = 0; i < contacts->len; i++) {
        const Contact *k = &g_array_index(contacts, Contact, i);
        if (!is_crossing(c, k))
            beside[k->a] = beside[k->b] = TRUE;
    }
    for (guint i = 0; i < contacts->len; i++) {
        const Contact *k = &g_array_index(contacts, Contact, i);
        const int a = root_of(group, k->a), b = root_of(group, k->b);
        if (!beside[k->a] && !beside[k->b])
            group[MAX(a, b)] = MIN(a, b);
    }
}

void dt_compose_join_crossings(const DtCompose *c, int *place_of_part)
{
    g_autoptr(GArray) ends = ends_of_edges(c);
    g_autoptr(GArray) contacts = g_array_new(FALSE, FALSE, sizeof(Contact));
    g_autofree int *group = g_new(int, c->parts->len + 1);
    for (guint i = 0; i < c->parts->len; i++)
        group[i] = (int)i;
    for (guint i = 0; i < ends->len;) {
        const Contact k = next_contact(ends, &i);
        g_array_append_val(contacts, k);
    }
    join_groups(c, contacts, group);
    for (guint i = 0; i < c->parts->len; i++)
        place_of_part[i] = place_of_part[root_of(group, (int)i)];
}
