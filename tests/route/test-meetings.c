/* meetings: where pieces meet, found pair by pair without a grid; sections are cut and loops attached at just these
 * places. */
#include "drawing.h"
#include "route/sections.h"

#include <math.h>
#include <string.h>

static DtPoint random_point(GRand *r, double side)
{
    return dt_point(g_rand_double_range(r, -side / 2, side / 2),
                    g_rand_double_range(r, -side / 2, side / 2));
}

static DtPoint around(GRand *r, DtPoint at, double mm)
{
    const double angle = g_rand_double_range(r, 0, 2 * G_PI);
    return dt_point(at.x + mm * cos(angle), at.y + mm * sin(angle));
}

/* Lines of one to six edges and loops, of which every other one begins near a piece that was there before. */
static void add_random(Drawing *d, GRand *r, size_t n, double side, double join)
{
    for (size_t i = 0; i < n; i++) {
        DtPoint p[7];
        const size_t corners = (size_t)g_rand_int_range(r, 2, 8);
        p[0] = random_point(r, side);
        if (i % 2) {
            const DtPiece *on = &d->set.p[g_rand_int_range(r, 0, (gint32)i)];
            const size_t e = (size_t)g_rand_int_range(r, 0, (gint32)edges_of(on));
            const DtPoint at = dt_point_lerp(vertex(on, e), vertex(on, e + 1), g_rand_double(r));
            p[0] = around(r, at, g_rand_double_range(r, 0, 1.5 * join));
        }
        for (size_t k = 1; k < corners; k++)
            p[k] = around(r, p[k - 1], g_rand_double_range(r, 0.2, side / 3));
        add(d, p, corners, corners > 2 && i % 3 == 0);
    }
}

/* Whether two edges cross, and where. */
static gboolean crossing(const DtPiece *p, size_t e, const DtPiece *q, size_t f, DtPoint *at)
{
    const DtPoint a = vertex(p, e), b = vertex(p, e + 1), c = vertex(q, f), d = vertex(q, f + 1);
    const DtPoint ab = dt_point_sub(b, a), cd = dt_point_sub(d, c);
    const double of_c = dt_point_cross(ab, dt_point_sub(c, a)),
                 of_d = dt_point_cross(ab, dt_point_sub(d, a));
    if (of_c * of_d >= 0 ||
        dt_point_cross(cd, dt_point_sub(a, c)) * dt_point_cross(cd, dt_point_sub(b, c)) >= 0)
        return FALSE;
    *at = dt_point_lerp(c, d, of_c / (of_c - of_d));
    return TRUE;
}

/* Two edges that do not cross are nearest at an end of one of them. */
static double distance_of(const DtPiece *p, const DtPiece *q)
{
    double least = G_MAXDOUBLE;
    DtPoint at;
    for (size_t i = 0; i < p->n; i++)
        least = MIN(least, distance_to(q, p->pts[i]));
    for (size_t i = 0; i < q->n; i++)
        least = MIN(least, distance_to(p, q->pts[i]));
    for (size_t e = 0; e < edges_of(p); e++)
        for (size_t f = 0; f < edges_of(q); f++)
            if (crossing(p, e, q, f, &at))
                least = 0;
    return least;
}

/* Sections ----------------------------------------------------------------------------------- */

/* Whether a piece has a node: an end of one of its sections. */
static gboolean has_node(const DtSections *s, size_t piece, uint32_t node)
{
    for (size_t i = 0; i < s->set.n; i++)
        if (s->set.p[i].stroke == piece && (s->node[i][0] == node || s->node[i][1] == node))
            return TRUE;
    return FALSE;
}

/* The length of the shortest contact between nodes of two pieces, each within so many mm of its place; infinite
 * where there is none. */
static double contact_of(const DtSections *s, size_t p, DtPoint on_p, double within_p, size_t q,
                         DtPoint on_q, double within_q)
{
    double least = INFINITY;
    for (uint32_t i = 0; i < s->n_contacts; i++)
        for (int way = 0; way < 2; way++) {
            const uint32_t a = s->contact[i][way], b = s->contact[i][!way];
            if (dt_point_distance(s->at[a], on_p) <= within_p &&
                dt_point_distance(s->at[b], on_q) <= within_q && has_node(s, p, a) &&
                has_node(s, q, b))
                least = MIN(least, dt_point_distance(s->at[a], s->at[b]));
        }
    return least;
}

/* An end within the join of another piece is joined to its nearest place, if not to an end of it. Cuts may be moved by
 * a quarter of the join. */
static guint check_ends(const Drawing *d, const DtSections *s, double join)
{
    guint met = 0;
    for (size_t i = 0; i < d->set.n; i++)
        for (size_t k = 0; k < d->set.n; k++) {
            const DtPiece *p = &d->set.p[i], *q = &d->set.p[k];
            for (int last = 0; last < 2 && i != k && !p->closed; last++) {
                const DtPoint end = p->pts[last ? p->n - 1 : 0];
                const double mm = distance_to(q, end);
                if (mm > 0.74 * join)
                    continue;
                const double of_ends = q->closed ? INFINITY
                                                 : MIN(dt_point_distance(end, q->pts[0]),
                                                       dt_point_distance(end, q->pts[q->n - 1]));
                const double most = of_ends <= join ? of_ends : mm + join / 4;
                g_assert_cmpfloat(contact_of(s, i, end, 1e-9, k, end, 2 * join), <=, most + 1e-9);
                met++;
            }
        }
    return met;
}

/* Where two edges cross, both pieces are cut, or have a cut within a quarter of the join. */
static guint check_crossings(const Drawing *d, const DtSections *s, double join)
{
    guint met = 0;
    for (size_t i = 0; i < d->set.n; i++)
        for (size_t k = i + 1; k < d->set.n; k++) {
            const DtPiece *p = &d->set.p[i], *q = &d->set.p[k];
            for (size_t e = 0; e < edges_of(p); e++)
                for (size_t f = 0; f < edges_of(q); f++) {
                    DtPoint at;
                    if (!crossing(p, e, q, f, &at))
                        continue;
                    g_assert_cmpfloat(contact_of(s, i, at, join / 4 + 1e-9, k, at, join / 4 + 1e-9),
                                      <=, join / 2 + 1e-9);
                    met++;
                }
        }
    return met;
}

/* No section is shorter than a quarter of the join, unless its piece was. Each node is an end of one. */
static void check_sections(const Drawing *d, const DtSections *s, double join)
{
    g_autofree gboolean *is_end = g_new0(gboolean, s->n_nodes + 1);
    for (size_t i = 0; i < s->set.n; i++) {
        const DtPiece *p = &s->set.p[i];
        g_assert_true(length(p) > join / 4 - 1e-9 ||
                      fabs(length(p) - length(&d->set.p[p->stroke])) < 1e-9);
        for (int end = 0; end < 2 && s->node[i][0] != DT_NO_NODE; end++)
            is_end[s->node[i][end]] = TRUE;
    }
    for (uint32_t i = 0; i < s->n_nodes; i++)
        g_assert_true(is_end[i]);
}

static size_t root_of(const size_t *group, size_t i)
{
    while (group[i] != i)
        i = group[i];
    return i;
}

/* A loop within the join of another piece is connected with it. */
static guint check_loops(const Drawing *d, const DtSections *s, double join)
{
    guint met = 0;
    const size_t n = d->set.n;
    g_autofree size_t *group = g_new(size_t, n);
    for (size_t i = 0; i < n; i++)
        group[i] = i;
    for (size_t i = 0; i < n; i++)
        for (size_t k = i + 1; k < n; k++)
            if (!isinf(contact_of(s, i, dt_point(0, 0), INFINITY, k, dt_point(0, 0), INFINITY)))
                group[root_of(group, i)] = root_of(group, k);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++)
            if (i != k && d->set.p[i].closed &&
                distance_of(&d->set.p[i], &d->set.p[k]) <= join / 2) {
                g_assert_cmpuint(root_of(group, i), ==, root_of(group, k));
                met++;
            }
    return met;
}

static void test_all_that_meets_is_cut_and_joined(void)
{
    static const double joins[] = {0.2, 1, 3};
    g_autoptr(GRand) r = g_rand_new_with_seed(73);
    guint ends = 0, crossings = 0, loops = 0;
    for (int round = 0; round < 150; round++) {
        const double join = joins[round % 3];
        Drawing d;
        DtSections s;
        drawing_init(&d);
        add_random(&d, r, (size_t)g_rand_int_range(r, 2, 14), 60, join);
        g_assert_true(dt_sections_cut(&d.set, join, &s));
        ends += check_ends(&d, &s, join);
        crossings += check_crossings(&d, &s, join);
        loops += check_loops(&d, &s, join);
        check_sections(&d, &s, join);
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
    g_assert_cmpuint(ends, >, 50);
    g_assert_cmpuint(crossings, >, 500);
    g_assert_cmpuint(loops, >, 50);
}

/* Spliced loops ------------------------------------------------------------------------------ */

/* How many pieces are left: every open one, and one loop of each group that is within the join of none of these. */
static size_t pieces_left(const Drawing *d, double join)
{
    const size_t n = d->set.n;
    size_t left = 0;
    g_autofree size_t *group = g_new(size_t, n);
    for (size_t i = 0; i < n; i++)
        group[i] = i;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++) {
            const DtPiece *p = &d->set.p[i], *q = &d->set.p[k];
            if (i != k && p->closed && q->closed && distance_of(p, q) <= join)
                group[root_of(group, i)] = root_of(group, k);
        }
    for (size_t root = 0; root < n; root++) {
        gboolean touches = FALSE;
        if (group[root] != root)
            continue;
        for (size_t i = 0; i < n; i++)
            for (size_t k = 0; k < n; k++)
                touches |= d->set.p[i].closed && root_of(group, i) == root && !d->set.p[k].closed &&
                           distance_of(&d->set.p[i], &d->set.p[k]) <= join;
        left += !touches;
    }
    return left;
}

static void test_each_loop_within_the_join_is_attached(void)
{
    static const double joins[] = {0.05, 1, 4};
    g_autoptr(GRand) r = g_rand_new_with_seed(79);
    size_t attached = 0, apart = 0;
    for (int round = 0; round < 200; round++) {
        const double join = joins[round % 3], side = round % 2 ? 300 : 60;
        Drawing d;
        drawing_init(&d);
        add_random(&d, r, (size_t)g_rand_int_range(r, 1, 14), side, join);
        size_t loops = 0;
        for (size_t i = 0; i < d.set.n; i++)
            loops += d.set.p[i].closed;
        const size_t left = pieces_left(&d, join), hung = d.set.n - left;
        const double ink = total(&d.set);
        g_autofree DtPiece *given = g_memdup2(d.set.p, d.set.n * sizeof *given);
        const size_t n = d.set.n;
        dt_pieces_splice(&d.set, join, d.owned);
        g_assert_cmpuint(d.set.n, ==, left);
        g_assert_cmpfloat(total(&d.set), >=, ink - 1e-6);
        g_assert_cmpfloat(total(&d.set), <=, ink + 2 * join * (double)hung + 1e-6);
        for (size_t i = 0; i < n; i++)
            for (size_t e = 0; e < edges_of(&given[i]); e++) {
                const DtPoint middle =
                    dt_point_lerp(vertex(&given[i], e), vertex(&given[i], e + 1), 0.4);
                double least = INFINITY;
                for (size_t k = 0; k < d.set.n; k++)
                    least = MIN(least, distance_to(&d.set.p[k], middle));
                g_assert_cmpfloat(least, <, 1e-6);
            }
        attached += hung;
        apart += loops - hung;
        drawing_clear(&d);
    }
    g_assert_cmpuint(attached, >, 50);
    g_assert_cmpuint(apart, >, 20);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/route/meetings/sections", test_all_that_meets_is_cut_and_joined);
    g_test_add_func("/route/meetings/loops", test_each_loop_within_the_join_is_attached);
    return g_test_run();
}
