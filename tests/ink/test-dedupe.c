/* ink/dedupe: walks on a lattice, whose edges can be counted, are drawn edge by edge once. */
#include "ink/dedupe.h"

#include <math.h>

enum { SIDE = 6, PENS = 2, WALKS = 12, LONGEST = 14 };
#define EDGE 3.0 /* mm, a multiple of which is no tip */
#define TOLERANCE 0.02

static DtPen pens[PENS] = {{.name = (char *)"fine", .tip = 0.4},
                           {.name = (char *)"broad", .tip = 0.9}};
static const DtRack rack = {pens, PENS};

/* Lattice coordinates turned by an angle that no edge of a grid has. */
static DtPoint place_of(double x, double y)
{
    const double c = cos(0.3), s = sin(0.3);
    return dt_point(EDGE * (x * c - y * s) - 7, EDGE * (x * s + y * c) + 4);
}

static DtPoint lattice_of(DtPoint p)
{
    const double c = cos(0.3), s = sin(0.3), x = (p.x + 7) / EDGE, y = (p.y - 4) / EDGE;
    return dt_point(x * c + y * s, y * c - x * s);
}

/* Adds a piece of a line, from lattice place a to b, to the lengths drawn of each edge, in edges. */
static void add_piece(double (*drawn)[SIDE][SIDE][2], DtPoint a, DtPoint b)
{
    const gboolean up = fabs(b.y - a.y) > fabs(b.x - a.x);
    const double fixed = up ? a.x : a.y, low = up ? MIN(a.y, b.y) : MIN(a.x, b.x),
                 high = up ? MAX(a.y, b.y) : MAX(a.x, b.x);
    g_assert_cmpfloat_with_epsilon(up ? b.x : b.y, fixed, TOLERANCE / EDGE + 1e-6);
    g_assert_cmpfloat_with_epsilon(fixed, round(fixed), TOLERANCE / EDGE + 1e-6);
    const int across = (int)lround(fixed);
    for (int i = 0; i < SIDE; i++) {
        const double part = MIN(high, i + 1) - MAX(low, i);
        if (part > 0)
            (*drawn)[up ? i : across][up ? across : i][up] += part;
    }
}

static void add_stroke(double (*drawn)[SIDE][SIDE][2], const DtStrokes *all, size_t i)
{
    const DtStroke *s = &all->strokes[i];
    for (size_t k = 0; k + !s->closed < s->n; k++)
        add_piece(drawn, lattice_of(all->pts[s->first + k]),
                  lattice_of(all->pts[s->first + (k + 1) % s->n]));
}

/* A walk from node to node, which may go back over itself, or once round a rectangle. */
static void add_walk(DtStrokes *s, DtInkKind kind, unsigned pen, int shape)
{
    DtPoint p[LONGEST];
    int x = g_test_rand_int_range(0, SIDE), y = g_test_rand_int_range(0, SIDE);
    if (g_test_rand_int_range(0, 3) == 0) {
        const int w = g_test_rand_int_range(0, SIDE - 1), h = g_test_rand_int_range(0, SIDE - 1);
        const int x1 = g_test_rand_int_range(w + 1, SIDE), y1 = g_test_rand_int_range(h + 1, SIDE);
        const DtPoint round[] = {place_of(w, h), place_of(x1, h), place_of(x1, y1),
                                 place_of(w, y1)};
        dt_strokes_append(s, round, 4, TRUE, kind, pen, shape);
        return;
    }
    const size_t n = (size_t)g_test_rand_int_range(2, LONGEST);
    for (size_t i = 0; i < n; i++) {
        p[i] = place_of(x, y);
        int *along = g_test_rand_bit() ? &x : &y;
        *along += *along == 0 ? 1 : *along == SIDE - 1 ? -1 : g_test_rand_bit() ? 1 : -1;
    }
    dt_strokes_append(s, p, n, FALSE, kind, pen, shape);
}

static gboolean is_same(const DtStrokes *a, size_t i, const DtStrokes *b, size_t k)
{
    const DtStroke *s = &a->strokes[i], *t = &b->strokes[k];
    gboolean same = s->n == t->n && s->closed == t->closed && s->kind == t->kind &&
                    s->pen == t->pen && s->shape == t->shape;
    for (size_t j = 0; same && j < s->n; j++)
        same = dt_point_distance(a->pts[s->first + j], b->pts[t->first + j]) == 0;
    return same;
}

/* Of each pen every edge that some walk takes is drawn once, but for the pen's width where lines meet, and no other;
 * fills and what lies before `first` stay as they are. What is left of a walk comes in its turn. */
static void test_every_edge_is_drawn_once(void)
{
    for (int round = 0; round < 200; round++) {
        g_auto(DtStrokes) s, before;
        dt_strokes_init(&s);
        dt_strokes_init(&before);
        const size_t first = (size_t)g_test_rand_int_range(0, 3);
        for (int i = 0; i < WALKS; i++) {
            const DtInkKind kind = g_test_rand_int_range(0, 6) ? DT_INK_OUTLINE : DT_INK_FILL;
            add_walk(&s, kind, (unsigned)g_test_rand_int_range(0, PENS), i);
        }
        for (size_t i = 0; i < s.n; i++)
            dt_strokes_append(&before, s.pts + s.strokes[i].first, s.strokes[i].n,
                              s.strokes[i].closed, s.strokes[i].kind, s.strokes[i].pen,
                              s.strokes[i].shape);
        dt_dedupe_strokes(&s, first, &rack, TOLERANCE);

        double wanted[PENS][SIDE][SIDE][2] = {0}, drawn[PENS][SIDE][SIDE][2] = {0};
        size_t k = 0;
        for (size_t i = 0; i < before.n; i++) {
            const DtStroke *was = &before.strokes[i];
            if (i < first || was->kind == DT_INK_FILL) {
                g_assert_cmpuint(k, <, s.n);
                g_assert_true(is_same(&before, i, &s, k++));
                continue;
            }
            add_stroke(&wanted[was->pen], &before, i);
            for (; k < s.n && s.strokes[k].shape == was->shape; k++) {
                g_assert_cmpint(s.strokes[k].pen, ==, was->pen);
                g_assert_cmpint(s.strokes[k].kind, ==, was->kind);
                add_stroke(&drawn[was->pen], &s, k);
            }
        }
        g_assert_cmpuint(k, ==, s.n);
        for (int pen = 0; pen < PENS; pen++)
            for (int y = 0; y < SIDE; y++)
                for (int x = 0; x < SIDE; x++)
                    for (int way = 0; way < 2; way++)
                        g_assert_cmpfloat_with_epsilon(drawn[pen][y][x][way],
                                                       wanted[pen][y][x][way] > 0.5 ? 1 : 0,
                                                       3 * TOLERANCE / EDGE);
    }
}

/* A straight line, then one that weaves about it within the tolerance, at up to 4 degrees from it, in
 * every direction and either way along it: nothing of the second is left. */
static void test_weaving_line_is_the_same(void)
{
    enum { DIRECTIONS = 720, BENDS = 24 };
    for (int i = 0; i < DIRECTIONS; i++) {
        const double angle = i * 2 * G_PI / DIRECTIONS;
        const DtPoint way = {cos(angle), sin(angle)}, from = {31.7, -12.9};
        const DtPoint straight[2] = {from, dt_point_add(from, dt_point_scale(way, BENDS * 0.5))};
        DtPoint woven[BENDS];
        for (int k = 0; k < BENDS; k++) {
            const double off = (k % 2 ? 0.9 : -0.9) * TOLERANCE, along = 0.5 * (k + 0.5);
            woven[i % 2 ? k : BENDS - 1 - k] = dt_point(from.x + along * way.x - off * way.y,
                                                        from.y + along * way.y + off * way.x);
        }
        g_auto(DtStrokes) s;
        dt_strokes_init(&s);
        dt_strokes_append(&s, straight, 2, FALSE, DT_INK_OUTLINE, 0, 0);
        dt_strokes_append(&s, woven, BENDS, FALSE, DT_INK_OUTLINE, 0, 1);
        dt_dedupe_strokes(&s, 0, &rack, TOLERANCE);
        g_assert_cmpuint(s.n, ==, 1);
        g_assert_cmpuint(s.n_pts, ==, 2);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/dedupe/edges", test_every_edge_is_drawn_once);
    g_test_add_func("/ink/dedupe/directions", test_weaving_line_is_the_same);
    return g_test_run();
}
