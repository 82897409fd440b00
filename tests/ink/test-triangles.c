/* triangles: the triangulation is Delaunay's by its definition, and axes lie in the middle; far parts are cut off by what is inside;
 * shares of ink and the colours that they make are inverses. */
#include "ink/fill/axis.h"
#include "ink/fill/delaunay.h"
#include "ink/fill/tone.h"
#include "ink/plane/trim.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef __int128 Wide;

static gint64 turn(DtNode a, DtNode b, DtNode c)
{
    return ((gint64)b.x - a.x) * ((gint64)c.y - a.y) - ((gint64)b.y - a.y) * ((gint64)c.x - a.x);
}

/* Whether d lies within the circle through a, b and c, which are counterclockwise. */
static gboolean is_in_circle(DtNode a, DtNode b, DtNode c, DtNode d)
{
    const Wide ax = a.x - d.x, ay = a.y - d.y, bx = b.x - d.x, by = b.y - d.y, cx = c.x - d.x,
               cy = c.y - d.y;
    return (ax * ax + ay * ay) * (bx * cy - cx * by) - (bx * bx + by * by) * (ax * cy - cx * ay) +
               (cx * cx + cy * cy) * (ax * by - bx * ay) >
           0;
}

static int by_place(const void *a, const void *b)
{
    const DtNode *p = a, *q = b;
    return p->x != q->x ? (p->x > q->x) - (p->x < q->x) : (p->y > q->y) - (p->y < q->y);
}

/* Twice the area of the convex hull, by Andrew's chains. */
static gint64 hull_area(const DtNode *p, size_t n)
{
    g_autofree DtNode *h = g_new(DtNode, 2 * n + 2);
    size_t k = 0;
    for (int way = 0; way < 2; way++) {
        const size_t from = k;
        for (size_t i = 0; i < n; i++) {
            const DtNode at = p[way ? n - 1 - i : i];
            while (k >= from + 2 && turn(h[k - 2], h[k - 1], at) <= 0)
                k--;
            h[k++] = at;
        }
        k--;
    }
    gint64 area = 0;
    for (size_t i = 1; i + 1 < k; i++)
        area += turn(h[0], h[i], h[i + 1]);
    return area;
}

static size_t sort_distinct(DtNode *p, size_t n)
{
    qsort(p, n, sizeof *p, by_place);
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (i == 0 || by_place(&p[i], &p[kept - 1]) != 0)
            p[kept++] = p[i];
    return kept;
}

/* The triangles fill the hull, and each knows those beside it. */
static void check_whole(const DtTriangles *t, const DtNode *p, size_t n)
{
    gint64 area = 0;
    for (size_t i = 0; i < t->n; i++) {
        const uint32_t *v = t->v + 3 * i;
        const gint64 own = turn(p[v[0]], p[v[1]], p[v[2]]);
        g_assert_cmpint(own, >, 0);
        area += own;
        for (int k = 0; k < 3; k++) {
            const uint32_t across = t->t[3 * i + (size_t)k];
            int met = 0;
            for (size_t j = 0; j < t->n; j++)
                for (int e = 0; e < 3; e++)
                    if (t->v[3 * j + (size_t)e] == v[(k + 1) % 3] &&
                        t->v[3 * j + (size_t)(e + 1) % 3] == v[k]) {
                        g_assert_cmpuint(across, ==, j);
                        met++;
                    }
            g_assert_cmpint(met, ==, across != UINT32_MAX);
        }
    }
    g_assert_cmpint(area, ==, n > 2 ? hull_area(p, n) : 0);
}

static void check_triangles(DtNode *p, size_t n)
{
    n = sort_distinct(p, n);
    DtTriangles t;
    dt_delaunay(p, n, &t);
    check_whole(&t, p, n);
    for (size_t i = 0; i < t.n; i++)
        for (size_t k = 0; k < n; k++)
            g_assert_false(is_in_circle(p[t.v[3 * i]], p[t.v[3 * i + 1]], p[t.v[3 * i + 2]], p[k]));
    dt_triangles_clear(&t);
}

static void test_triangles(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    for (int round = 0; round < 120; round++) {
        DtNode p[60];
        const int reach = round % 4 == 0 ? 4 : round % 4 == 1 ? 50 : 1 << 24;
        const size_t n = (size_t)g_rand_int_range(r, 0, round % 3 ? 60 : 6);
        for (size_t i = 0; i < n; i++) {
            p[i] = (DtNode){g_rand_int_range(r, -reach, reach), g_rand_int_range(r, -reach, reach)};
            if (round % 10 == 3) /* all on one line */
                p[i].y = 2 * p[i].x + 1;
            if (round % 10 == 7)
                p[i].x = 5;
        }
        check_triangles(p, n);
    }
}

/* Given edges ---------------------------------------------------------------------------------- */

static int side_of(DtNode a, DtNode b, DtNode c)
{
    const gint64 t = turn(a, b, c);
    return (t > 0) - (t < 0);
}

/* Whether two edges have more in common than an end. */
static gboolean do_cross(const DtNode *p, const uint32_t e[2], const uint32_t f[2])
{
    const DtNode a = p[e[0]], b = p[e[1]], c = p[f[0]], d = p[f[1]];
    if (e[0] == f[0] || e[0] == f[1] || e[1] == f[0] || e[1] == f[1])
        return FALSE;
    return side_of(a, b, c) * side_of(a, b, d) < 0 && side_of(c, d, a) * side_of(c, d, b) < 0;
}

static gboolean meets_node(const DtNode *p, size_t n, const uint32_t e[2])
{
    const DtNode a = p[e[0]], b = p[e[1]];
    for (uint32_t k = 0; k < n; k++) {
        const gint64 along = ((gint64)b.x - a.x) * ((gint64)p[k].x - a.x) +
                             ((gint64)b.y - a.y) * ((gint64)p[k].y - a.y),
                     whole = ((gint64)b.x - a.x) * ((gint64)b.x - a.x) +
                             ((gint64)b.y - a.y) * ((gint64)b.y - a.y);
        if (turn(a, b, p[k]) == 0 && along > 0 && along < whole)
            return TRUE;
    }
    return FALSE;
}

enum { NODES = 60, GIVEN = 80 };

/* Random edges that do not cross one another, in rising order of their first ends. */
static size_t choose_given(GRand *r, const DtNode *p, size_t n, uint32_t given[GIVEN][2])
{
    size_t m = 0;
    for (int k = 0; k < GIVEN && n > 2; k++) {
        uint32_t e[2] = {(uint32_t)g_rand_int_range(r, 0, (gint32)n),
                         (uint32_t)g_rand_int_range(r, 0, (gint32)n)};
        gboolean free = e[0] != e[1] && !meets_node(p, n, e);
        for (size_t i = 0; i < m; i++)
            free = free && !do_cross(p, e, given[i]);
        if (!free)
            continue;
        size_t i = m++;
        for (; i > 0 && given[i - 1][0] > e[0]; i--)
            memcpy(given[i], given[i - 1], sizeof e);
        memcpy(given[i], e, sizeof e);
    }
    return m;
}

static gboolean is_given(uint32_t given[GIVEN][2], size_t m, uint32_t a, uint32_t b)
{
    for (size_t i = 0; i < m; i++)
        if ((given[i][0] == a && given[i][1] == b) || (given[i][0] == b && given[i][1] == a))
            return TRUE;
    return FALSE;
}

/* Each given edge is there, and on both sides of each other one the triangles are Delaunay's. */
static void check_given(const DtTriangles *t, const DtNode *p, uint32_t given[GIVEN][2], size_t m)
{
    for (size_t i = 0; i < m; i++) {
        gboolean found = FALSE;
        for (size_t k = 0; k < 3 * t->n; k++) {
            const uint32_t a = t->v[k], b = t->v[k / 3 * 3 + (k + 1) % 3];
            found |=
                (a == given[i][0] && b == given[i][1]) || (b == given[i][0] && a == given[i][1]);
        }
        g_assert_true(found);
    }
    for (size_t k = 0; k < 3 * t->n; k++) {
        const uint32_t *v = t->v + k / 3 * 3;
        if (t->t[k] == UINT32_MAX || is_given(given, m, v[k % 3], v[(k + 1) % 3]))
            continue;
        for (size_t j = 0; j < 3; j++)
            g_assert_false(is_in_circle(p[v[0]], p[v[1]], p[v[2]], p[t->v[3 * t->t[k] + j]]));
    }
}

static void test_given_edges(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(8);
    for (int round = 0; round < 300; round++) {
        DtNode p[NODES];
        uint32_t given[GIVEN][2], first[NODES + 1] = {0}, end[GIVEN];
        const int reach = round % 3 == 0 ? 5 : round % 3 == 1 ? 50 : 1 << 24;
        size_t n = (size_t)g_rand_int_range(r, 3, NODES);
        for (size_t i = 0; i < n; i++)
            p[i] = (DtNode){g_rand_int_range(r, -reach, reach), g_rand_int_range(r, -reach, reach)};
        n = sort_distinct(p, n);
        DtTriangles t;
        dt_delaunay(p, n, &t);
        if (t.n > 0) {
            const size_t m = choose_given(r, p, n, given);
            for (size_t i = 0; i < m; i++) {
                first[given[i][0] + 1]++;
                end[i] = given[i][1];
            }
            for (size_t i = 0; i < n; i++)
                first[i + 1] += first[i];
            dt_delaunay_constrain(p, n, &(DtNodeEdges){first, end}, &t);
            check_whole(&t, p, n);
            check_given(&t, p, given, m);
        }
        dt_triangles_clear(&t);
    }
}

/* Any edges at all, which cross one another: the triangles stay whole. */
static void test_crossing_edges(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(9);
    for (int round = 0; round < 100; round++) {
        DtNode p[NODES];
        uint32_t first[NODES + 1], end[NODES];
        size_t n = NODES;
        for (size_t i = 0; i < n; i++)
            p[i] = (DtNode){g_rand_int_range(r, -20, 20), g_rand_int_range(r, -20, 20)};
        n = sort_distinct(p, n);
        for (uint32_t i = 0; i <= n; i++)
            first[i] = i;
        for (size_t i = 0; i < n; i++)
            end[i] = (uint32_t)g_rand_int_range(r, 0, (gint32)n);
        DtTriangles t;
        dt_delaunay(p, n, &t);
        dt_delaunay_constrain(p, n, &(DtNodeEdges){first, end}, &t);
        check_whole(&t, p, n);
        dt_triangles_clear(&t);
    }
}

/* Axes ----------------------------------------------------------------------------------------- */

/* Of a straight strip: its middle line, at any angle. */
static void test_axis_of_a_strip(void)
{
    for (int turn_ = 0; turn_ < 12; turn_++)
        for (double half = 0.15; half < 0.5; half += 0.15) {
            const double angle = turn_ * G_PI / 12, length = 30;
            const DtAffine m = dt_affine_then(dt_affine_rotate(angle), dt_affine_translate(50, 60));
            const DtPoint corner[4] = {{0, -half}, {length, -half}, {length, half}, {0, half}};
            DtPoint p[4];
            for (int i = 0; i < 4; i++)
                p[i] = dt_affine_apply(m, corner[i]);
            g_auto(DtLines) strip, out;
            dt_lines_init(&strip);
            dt_lines_init(&out);
            dt_lines_append(&strip, p, 4, TRUE);
            dt_axis_lines(&strip, half, &out);
            g_assert_cmpuint(out.n, ==, 1);
            g_assert_cmpfloat(dt_lines_total_length(&out), <=, length + 1e-6);
            g_assert_cmpfloat(dt_lines_total_length(&out), >=, length - 4 * half);
            const DtPoint a = dt_affine_apply(m, dt_point(0, 0)),
                          b = dt_affine_apply(m, dt_point(length, 0));
            for (size_t i = 0; i < out.n_pts; i++)
                g_assert_cmpfloat(dt_point_segment_distance(out.pts[i], a, b), <, 0.1 * half);
        }
}

/* Of sides that begin at a phase, in sides. */
static void add_circle(DtLines *l, DtPoint at, double radius, int way, double phase)
{
    enum { SIDES = 200 };
    DtPoint p[SIDES];
    for (int i = 0; i < SIDES; i++) {
        const double angle = way * 2 * G_PI * (i + phase) / SIDES;
        p[i] = dt_point(at.x + radius * cos(angle), at.y + radius * sin(angle));
    }
    dt_lines_append(l, p, SIDES, TRUE);
}

/* Of a ring: the circle in its middle, whole. */
static void test_axis_of_a_ring(void)
{
    for (double radius = 2; radius < 20; radius *= 2) {
        const double half = 0.25;
        g_auto(DtLines) ring, out;
        dt_lines_init(&ring);
        dt_lines_init(&out);
        add_circle(&ring, dt_point(30, 40), radius + half, 1, 0);
        add_circle(&ring, dt_point(30, 40), radius - half, -1, 0);
        dt_axis_lines(&ring, half, &out);
        g_assert_cmpuint(out.n, ==, 1);
        g_assert_true(out.closed[0] ||
                      dt_point_distance(out.pts[0], out.pts[out.n_pts - 1]) < 1e-6);
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&out), 2 * G_PI * radius,
                                       0.02 * radius);
        for (size_t i = 0; i < out.n_pts; i++)
            g_assert_cmpfloat_with_epsilon(dt_point_distance(out.pts[i], dt_point(30, 40)), radius,
                                           0.1 * half);
    }
}

/* Of rings much thinner than their distance from sample to sample, and as near to one another: a whole line each. */
static void test_axes_of_thin_rings(void)
{
    enum { RINGS = 8 };
    for (double half = 0.004; half < 0.02; half *= 2) {
        g_auto(DtLines) rings, out;
        dt_lines_init(&rings);
        dt_lines_init(&out);
        double length = 0;
        for (int k = 0; k < RINGS; k++) {
            const double radius = 20 + 5 * half * k;
            length += 2 * G_PI * radius;
            add_circle(&rings, dt_point(30, 40), radius + half, 1, 0.37 * k);
            add_circle(&rings, dt_point(30, 40), radius - half, -1, 0.13 + 0.29 * k);
        }
        dt_axis_lines(&rings, 0.2, &out);
        g_assert_cmpuint(out.n, ==, RINGS);
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&out), length, 0.01 * length);
    }
}

/* Of a cross: its four arms, which meet in the middle. */
static void test_axis_of_a_cross(void)
{
    const double h = 0.3, r = 12;
    const DtPoint p[12] = {{-r, -h}, {-h, -h}, {-h, -r}, {h, -r}, {h, -h}, {r, -h},
                           {r, h},   {h, h},   {h, r},   {-h, r}, {-h, h}, {-r, h}};
    g_auto(DtLines) cross, out;
    dt_lines_init(&cross);
    dt_lines_init(&out);
    dt_lines_append(&cross, p, 12, TRUE);
    dt_axis_lines(&cross, h, &out);
    g_assert_cmpfloat(dt_lines_total_length(&out), <, 4 * r + 0.1);
    g_assert_cmpfloat(dt_lines_total_length(&out), >, 4 * r - 8 * h);
    for (size_t i = 0; i < out.n_pts; i++) {
        const DtPoint at = out.pts[i];
        const gboolean meets = hypot(at.x, at.y) < 3 * h; /* where the arms do */
        g_assert_cmpfloat(MIN(fabs(at.x), fabs(at.y)), <, (meets ? 0.5 : 0.15) * h);
    }
    for (int k = 0; k < 4; k++) { /* all arms to their ends */
        double away = G_MAXDOUBLE;
        const DtPoint end = {(k == 0) * r - (k == 1) * r, (k == 2) * r - (k == 3) * r};
        for (size_t i = 0; i < out.n_pts; i++)
            away = MIN(away, dt_point_distance(out.pts[i], end));
        g_assert_cmpfloat(away, <, 2 * h);
    }
}

/* Of a triangle, whose three twigs are all short: a dot in its middle. */
static void test_axis_of_a_triangle(void)
{
    g_auto(DtLines) triangle, out;
    dt_lines_init(&triangle);
    dt_lines_init(&out);
    dt_lines_begin(&triangle);
    for (int k = 0; k < 3; k++)
        dt_lines_point(&triangle,
                       dt_point(5 + 0.5 * cos(k * G_PI / 1.5), 5 + 0.5 * sin(k * G_PI / 1.5)));
    dt_lines_close(&triangle);
    dt_axis_lines(&triangle, 0.4, &out);
    g_assert_cmpuint(out.n, ==, 1);
    g_assert_cmpfloat(dt_point_distance(out.pts[0], dt_point(5, 5)), <, 0.1);
    g_assert_cmpfloat(dt_lines_total_length(&out), <=, 0.011);
}

/* Trimming ------------------------------------------------------------------------------------- */

static void test_segments_are_cut_at_the_box(void)
{
    const DtBox w = {-3, -2, 5, 4};
    g_autoptr(GRand) r = g_rand_new_with_seed(4);
    for (int round = 0; round < 3000; round++) {
        DtPoint p[2];
        for (int i = 0; i < 2; i++) /* on whole numbers, so that many touch the sides */
            p[i] = dt_point(g_rand_int_range(r, -8, 10), g_rand_int_range(r, -8, 10));
        double t0, t1, first = 2, last = -1;
        const gboolean in = dt_trim_segment(p[0], p[1], w, &t0, &t1);
        enum { STEPS = 840 }; /* a multiple of every difference of these numbers below 9 */
        for (int k = 0; k <= STEPS; k++) {
            const DtPoint at = dt_point_lerp(p[0], p[1], (double)k / STEPS);
            if (at.x >= w.x0 - 1e-9 && at.x <= w.x1 + 1e-9 && at.y >= w.y0 - 1e-9 &&
                at.y <= w.y1 + 1e-9) {
                first = MIN(first, (double)k / STEPS);
                last = (double)k / STEPS;
            }
        }
        if (last >= 0)
            g_assert_true(in);
        else if (in)
            g_assert_cmpfloat(t1 - t0, <, 1.01 / STEPS);
        if (last < 0)
            continue;
        g_assert_cmpfloat(fabs(t0 - first), <, 1.01 / STEPS);
        g_assert_cmpfloat(fabs(t1 - last), <, 1.01 / STEPS);
    }
}

#define FAR (0.9 * DT_PLANE_REACH)

static int winding(const DtLines *l, DtPoint p)
{
    int w = 0;
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *q = dt_lines_at(l, i);
        const size_t n = dt_lines_count(l, i);
        for (size_t k = 0; k < n; k++) {
            const DtPoint a = q[k], b = q[(k + 1) % n];
            if ((a.y <= p.y) != (b.y <= p.y) && a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) > p.x)
                w += a.y <= p.y ? 1 : -1;
        }
    }
    return w;
}

static void test_far_rings_and_lines(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(6);
    for (int round = 0; round < 200; round++) {
        g_auto(DtLines) rings, kept, lines;
        dt_lines_init(&rings);
        const double reach = round % 5 == 0 ? 0.9 * FAR : 2.5 * FAR;
        for (int k = 0; k < 2; k++) {
            DtPoint p[6];
            for (int i = 0; i < 6; i++)
                p[i] = dt_point(g_rand_double_range(r, -reach, reach),
                                g_rand_double_range(r, -reach, reach));
            dt_lines_append(&rings, p, 6, TRUE);
        }
        dt_lines_copy(&kept, &rings);
        dt_lines_copy(&lines, &rings);
        dt_trim_rings(&rings);
        dt_trim_lines(&lines);
        for (size_t i = 0; i < rings.n_pts; i++)
            g_assert_cmpfloat(MAX(fabs(rings.pts[i].x), fabs(rings.pts[i].y)), <=,
                              FAR * (1 + 1e-9));
        for (int k = 0; k < 50; k++) {
            const DtPoint at =
                dt_point(g_rand_double_range(r, -FAR, FAR), g_rand_double_range(r, -FAR, FAR));
            g_assert_cmpint(winding(&rings, at), ==, winding(&kept, at));
        }
        double wanted = 0;
        for (size_t i = 0; i < kept.n; i++)
            for (size_t k = 0; k < 6; k++) {
                const DtPoint a = dt_lines_at(&kept, i)[k], b = dt_lines_at(&kept, i)[(k + 1) % 6];
                double t0, t1;
                if (dt_trim_segment(a, b, (DtBox){-FAR, -FAR, FAR, FAR}, &t0, &t1))
                    wanted += (t1 - t0) * dt_point_distance(a, b);
            }
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&lines), wanted, 1e-6 * wanted);
        for (size_t i = 0; i < lines.n_pts; i++)
            g_assert_cmpfloat(MAX(fabs(lines.pts[i].x), fabs(lines.pts[i].y)), <=,
                              FAR * (1 + 1e-9));
    }
}

/* Tones ---------------------------------------------------------------------------------------- */

/* Murray and Davies 1936: the luminance of paper that is covered in part lies as far between. */
static void test_coverage_and_its_colour(void)
{
    static const DtColour papers[] = {{1, 1, 1, 1}, {0.95, 0.9, 0.8, 1}},
                          pens[] = {{0, 0, 0, 1}, {0.1, 0.5, 0.2, 1}, {0.02, 0.02, 0.6, 1}};
    for (size_t i = 0; i < G_N_ELEMENTS(papers); i++)
        for (size_t k = 0; k < G_N_ELEMENTS(pens); k++) {
            for (double share = 0; share < 1.01; share += 0.125) {
                const DtColour c = dt_tone_mix(papers[i], pens[k], share);
                const double bare = dt_colour_luminance(papers[i]),
                             solid = dt_colour_luminance(pens[k]);
                g_assert_cmpfloat_with_epsilon(dt_colour_luminance(c),
                                               bare + share * (solid - bare), 1e-9);
                g_assert_cmpfloat_with_epsilon(dt_ink_coverage(c, pens[k], papers[i]), share, 1e-9);
                g_assert_cmpfloat(c.alpha, ==, 1);
            }
            const DtColour none = dt_tone_mix(papers[i], pens[k], 0),
                           all = dt_tone_mix(papers[i], pens[k], 1);
            g_assert_cmpfloat_with_epsilon(none.b, papers[i].b, 1e-9);
            g_assert_cmpfloat_with_epsilon(all.g, pens[k].g, 1e-9);
            g_assert_cmpfloat(dt_ink_coverage((DtColour){0, 0, 0, 1}, pens[k], papers[i]), ==, 1);
            g_assert_cmpfloat(dt_ink_coverage((DtColour){1, 1, 1, 1}, pens[k], papers[i]), ==, 0);
            g_assert_cmpfloat(dt_ink_coverage((DtColour){0, 0, 0, 0}, pens[k], papers[i]), ==, 0);
            /* an ink no darker than its paper covers whatever it is */
            g_assert_cmpfloat(dt_ink_coverage((DtColour){0.5, 0.5, 0.5, 1}, papers[i], pens[k]), ==,
                              1);
        }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/triangles/delaunay", test_triangles);
    g_test_add_func("/triangles/given-edges", test_given_edges);
    g_test_add_func("/triangles/crossing-edges", test_crossing_edges);
    g_test_add_func("/triangles/axis-strip", test_axis_of_a_strip);
    g_test_add_func("/triangles/axis-ring", test_axis_of_a_ring);
    g_test_add_func("/triangles/axis-thin-rings", test_axes_of_thin_rings);
    g_test_add_func("/triangles/axis-cross", test_axis_of_a_cross);
    g_test_add_func("/triangles/axis-triangle", test_axis_of_a_triangle);
    g_test_add_func("/triangles/trimmed-segments", test_segments_are_cut_at_the_box);
    g_test_add_func("/triangles/trimmed-far", test_far_rings_and_lines);
    g_test_add_func("/triangles/coverage", test_coverage_and_its_colour);
    return g_test_run();
}
