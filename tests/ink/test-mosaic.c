/* ink: random mosaics against a count of their cells, and random strips against the rule for what lies between them. */
#include "ink/look/appear.h"
#include "ink/look/parts.h"

#include "drawtrue/ink.h"

#include <math.h>
#include <string.h>

/* Mosaics ------------------------------------------------------------------------------------ */

enum { SIDE = 14, LABELS = 3 };

typedef struct {
    int label[SIDE][SIDE]; /* -1: bare */
    int piece[SIDE][SIDE]; /* that the cell is of, -1: bare */
    int n_pieces;
} Mosaic;

static int label_at(const Mosaic *m, int x, int y)
{
    return x < 0 || y < 0 || x >= SIDE || y >= SIDE ? -1 : m->label[y][x];
}

static int piece_at(const Mosaic *m, int x, int y)
{
    return x < 0 || y < 0 || x >= SIDE || y >= SIDE ? -1 : m->piece[y][x];
}

/* Where cells of one label meet in a corner alone it is open whether they are one piece: there is no such corner. */
static gboolean fill_corners(Mosaic *m)
{
    gboolean changed = FALSE;
    for (int y = 0; y + 1 < SIDE; y++)
        for (int x = 0; x + 1 < SIDE; x++) {
            const int a = m->label[y][x], b = m->label[y][x + 1], c = m->label[y + 1][x],
                      d = m->label[y + 1][x + 1];
            if ((a == d && a != b && a != c) || (b == c && b != a && b != d)) {
                m->label[y][x] = m->label[y][x + 1];
                m->label[y + 1][x] = m->label[y][x + 1];
                changed = TRUE;
            }
        }
    return changed;
}

static void flood(Mosaic *m, int x, int y, int label, int piece)
{
    if (label_at(m, x, y) != label || piece_at(m, x, y) >= 0 || label < 0)
        return;
    m->piece[y][x] = piece;
    flood(m, x + 1, y, label, piece);
    flood(m, x - 1, y, label, piece);
    flood(m, x, y + 1, label, piece);
    flood(m, x, y - 1, label, piece);
}

static void make_mosaic(Mosaic *m)
{
    const int bare = g_test_rand_int_range(0, 2);
    m->n_pieces = 0;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            m->label[y][x] = g_test_rand_int_range(bare ? -1 : 0, LABELS);
            m->piece[y][x] = -1;
        }
    while (fill_corners(m))
        ;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++)
            if (m->label[y][x] >= 0 && m->piece[y][x] < 0)
                flood(m, x, y, m->label[y][x], m->n_pieces++);
}

/* The cells are not square, so that rows are not columns. */
static const DtPoint cell = {1.25, 0.75};
static const DtPoint corner = {-3, 7};

static void add_pieces_of(const Mosaic *m, int label, GArray *parts)
{
    g_auto(DtLines) cells, clean;
    dt_lines_init(&cells);
    dt_lines_init(&clean);
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            const double x0 = corner.x + x * cell.x, y0 = corner.y + y * cell.y;
            const DtPoint p[] = {
                {x0, y0}, {x0 + cell.x, y0}, {x0 + cell.x, y0 + cell.y}, {x0, y0 + cell.y}};
            if (m->label[y][x] == label)
                dt_lines_append(&cells, p, 4, TRUE);
        }
    g_assert_true(dt_region_clean(&cells, DT_PLANE_NONZERO, &clean, NULL));
    g_assert_true(dt_parts_add(parts, label + 10, &clean));
}

static void add_pieces(const Mosaic *m, GArray *parts)
{
    for (int label = 0; label < LABELS; label++)
        add_pieces_of(m, label, parts);
}

static gboolean is_inside(const DtLines *rings, DtPoint at)
{
    gboolean in = FALSE;
    for (size_t r = 0; r < rings->n; r++) {
        const DtPoint *p = dt_lines_at(rings, r);
        const size_t n = dt_lines_count(rings, r);
        for (size_t i = 0; i < n; i++) {
            const DtPoint a = p[i], b = p[(i + 1) % n];
            if ((a.y > at.y) != (b.y > at.y) &&
                a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) > at.x)
                in = !in;
        }
    }
    return in;
}

/* The piece that each part is; each cell lies in one part, that of its piece. */
static void match_pieces(const Mosaic *m, const GArray *parts, int *piece_of)
{
    for (guint i = 0; i < parts->len; i++)
        piece_of[i] = -1;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            const DtPoint at = {corner.x + (x + 0.5) * cell.x, corner.y + (y + 0.5) * cell.y};
            unsigned holding = 0;
            for (guint i = 0; i < parts->len; i++) {
                const DtPart *p = &g_array_index(parts, DtPart, i);
                if (!is_inside(&p->rings, at))
                    continue;
                holding++;
                g_assert_cmpint(p->label, ==, m->label[y][x] + 10);
                if (piece_of[i] < 0)
                    piece_of[i] = m->piece[y][x];
                g_assert_cmpint(piece_of[i], ==, m->piece[y][x]);
            }
            g_assert_cmpuint(holding, ==, m->label[y][x] >= 0 ? 1 : 0);
        }
}

/* length[a + 1][b + 1] mm along which two groups of pieces meet, 0 being what is bare; returns the sum over a's. */
static void count_borders(const Mosaic *m, const int *group, int n, double *length)
{
    memset(length, 0, (size_t)((n + 1) * (n + 1)) * sizeof *length);
    for (int y = -1; y < SIDE; y++)
        for (int x = -1; x < SIDE; x++)
            for (int k = 0; k < 2; k++) {
                const int a = piece_at(m, x, y),
                          b = k ? piece_at(m, x, y + 1) : piece_at(m, x + 1, y);
                const int ga = a < 0 ? 0 : group[a] + 1, gb = b < 0 ? 0 : group[b] + 1;
                if (ga != gb)
                    length[MIN(ga, gb) * (n + 1) + MAX(ga, gb)] += k ? cell.x : cell.y;
            }
}

/* Each pair once, in order, as long as was counted; group_of[i] is part or group i's number in the count. */
static void assert_borders(const GArray *borders, const int *group_of, int n, const double *length)
{
    unsigned meeting = 0;
    for (int i = 0; i < (n + 1) * (n + 1); i++)
        meeting += length[i] > 0;
    g_assert_cmpuint(borders->len, ==, meeting);
    for (guint i = 0; i < borders->len; i++) {
        const DtPartBorder *b = &g_array_index(borders, DtPartBorder, i);
        g_assert_cmpint(b->a, <, b->b);
        const int ga = b->a < 0 ? 0 : group_of[b->a] + 1, gb = group_of[b->b] + 1;
        g_assert_cmpfloat_with_epsilon(b->length, length[MIN(ga, gb) * (n + 1) + MAX(ga, gb)],
                                       1e-6);
        if (i > 0) {
            const DtPartBorder *last = b - 1;
            g_assert_true(last->a < b->a || (last->a == b->a && last->b < b->b));
        }
    }
}

/* The part on either side of an edge is that whose cell lies there. */
static void assert_edges(const Mosaic *m, const GArray *edges, const int *piece_of)
{
    for (guint i = 0; i < edges->len; i++) {
        const DtPartEdge *e = &g_array_index(edges, DtPartEdge, i);
        const DtPoint mid = dt_point_lerp(e->a, e->b, 0.5);
        const double k = 0.1 / dt_point_distance(e->a, e->b);
        for (int side = -1; side <= 1; side += 2) {
            const DtPoint at = {mid.x - side * k * (e->b.y - e->a.y),
                                mid.y + side * k * (e->b.x - e->a.x)};
            const int there = piece_at(m, (int)floor((at.x - corner.x) / cell.x),
                                       (int)floor((at.y - corner.y) / cell.y));
            const int part = side > 0 ? e->left : e->right;
            g_assert_cmpint(part < 0 ? -1 : piece_of[part], ==, there);
        }
    }
}

static void test_mosaics_come_apart_into_their_pieces(void)
{
    for (int round = 0; round < 40; round++) {
        Mosaic m;
        make_mosaic(&m);
        g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
        g_array_set_clear_func(parts, dt_part_clear);
        add_pieces(&m, parts);
        g_assert_cmpint(parts->len, ==, m.n_pieces);
        const int n = m.n_pieces;
        g_autofree int *piece_of = g_new(int, n + 1), *own = g_new(int, n + 1),
                       *group = g_new(int, n + 1), *groups = g_new(int, n + 1);
        match_pieces(&m, parts, piece_of);

        g_autoptr(GArray) edges = NULL, borders = NULL;
        g_assert_true(dt_parts_borders(parts, &edges, &borders, NULL));
        g_autofree double *length = g_new(double, (n + 1) * (n + 1));
        for (int i = 0; i < n; i++)
            own[i] = i;
        count_borders(&m, own, n, length);
        assert_borders(borders, piece_of, n, length);
        assert_edges(&m, edges, piece_of);

        double area = 0;
        for (guint i = 0; i < parts->len; i++) {
            const DtPart *p = &g_array_index(parts, DtPart, i);
            unsigned cells = 0;
            double around = 0;
            for (int y = 0; y < SIDE; y++)
                for (int x = 0; x < SIDE; x++)
                    cells += m.piece[y][x] == piece_of[i];
            for (int k = 0; k <= n; k++)
                around +=
                    length[(piece_of[i] + 1) * (n + 1) + k] + length[k * (n + 1) + piece_of[i] + 1];
            g_assert_cmpfloat_with_epsilon(p->area, cells * cell.x * cell.y, 1e-6);
            g_assert_cmpfloat_with_epsilon(p->width, 2 * p->area / around, 1e-6);
            area += p->area;
        }
        g_assert_cmpfloat(area, >, 0);

        /* group k of parts is group k of their pieces */
        const int n_groups = g_test_rand_int_range(1, n + 1);
        for (int i = 0; i < n; i++) {
            groups[i] = g_test_rand_int_range(0, n_groups);
            group[piece_of[i]] = groups[i];
        }
        count_borders(&m, group, n, length);
        g_autoptr(GArray) joined = dt_parts_group_borders(borders, groups);
        assert_borders(joined, own, n, length);
    }
}

/* The pieces of one paint have no edge in common: listing the edges ring by ring gives what the plane
 * gives, in the same order. */
static void test_pieces_of_one_paint_border_on_paper(void)
{
    for (int round = 0; round < 20; round++) {
        Mosaic m;
        make_mosaic(&m);
        for (int label = 0; label < LABELS; label++) {
            g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
            g_array_set_clear_func(parts, dt_part_clear);
            add_pieces_of(&m, label, parts);
            g_autoptr(GArray) edges = NULL, borders = NULL, own_edges = NULL, own_borders = NULL;
            g_assert_true(dt_parts_borders(parts, &edges, &borders, NULL));
            dt_parts_borders_apart(parts, &own_edges, &own_borders);
            g_assert_cmpuint(own_edges->len, ==, edges->len);
            for (guint i = 0; i < edges->len; i++) {
                const DtPartEdge *e = &g_array_index(edges, DtPartEdge, i),
                                 *own = &g_array_index(own_edges, DtPartEdge, i);
                g_assert_true(own->a.x == e->a.x && own->a.y == e->a.y && own->b.x == e->b.x &&
                              own->b.y == e->b.y);
                g_assert_true(own->left == e->left && own->right == e->right);
            }
            g_assert_cmpuint(own_borders->len, ==, borders->len);
            g_assert_cmpuint(borders->len, ==, parts->len);
            for (guint i = 0; i < borders->len; i++) {
                const DtPartBorder *b = &g_array_index(borders, DtPartBorder, i),
                                   *own = &g_array_index(own_borders, DtPartBorder, i);
                g_assert_true(own->a == -1 && own->b == (int)i && own->length == b->length);
            }
        }
    }
}

/* Strips ------------------------------------------------------------------------------------- */

#define TIP 0.4
#define GAP (0.75 * TIP) /* bare, between two inks */
#define HIGH 12.0

enum { STRIPS = 5 };

/* As dark as the lightest paint, so that it draws all of them densely; the strips that are not narrow are so wide that
 * a hatch of one of them costs more than a gap. */
static DtPen grey = {.name = (char *)"grey",
                     .colour = {0.2, 0.2, 0.2, 1},
                     .tip = TIP,
                     .classes = (char *)"ink",
                     .dot_gain = 1};
static const DtRack rack = {&grey, 1};

typedef struct {
    double from, to; /* mm */
    int paint;       /* among `paints`; -1: none */
} Strip;

static const char *paints[] = {"#000", "#222", "#333"};

/* Whether a bare gap is worth its contrast: what both lose over its width, against four times what the paints
 * differ by. */
static gboolean has_gap(const DtAppear *appear, int a, int b, gboolean narrow_a, gboolean narrow_b)
{
    static const DtRecipe dense = {{0, -1}, {1, 0}};
    const char *name[2] = {paints[a], paints[b]};
    const gboolean narrow[2] = {narrow_a, narrow_b};
    DtLab lab[2];
    double lost = 0;
    for (int k = 0; k < 2; k++) {
        const double v = (double)g_ascii_xdigit_value(name[k][1]) / 15;
        lab[k] = dt_colour_lab((DtColour){v, v, v, 1});
        if (!narrow[k])
            lost += dt_appear_difference(appear, lab[k], DT_RECIPE_PAPER) -
                    dt_appear_difference(appear, lab[k], dense);
    }
    const int n = !narrow_a + !narrow_b;
    return n > 0 && GAP * lost / n < 4 * dt_colour_difference(lab[0], lab[1]);
}

static gboolean is_narrow(const Strip *s)
{
    return s->to - s->from < 3 * TIP;
}

/* How far the ink of strip i stays from its border with another, but for half a tip. */
static double back_from(const DtAppear *appear, const Strip *own, const Strip *other)
{
    if (!other || other->paint < 0 || other->paint == own->paint ||
        !has_gap(appear, own->paint, other->paint, is_narrow(own), is_narrow(other)))
        return 0;
    return is_narrow(own) ? 0 : is_narrow(other) ? GAP : GAP / 2;
}

static void trace(const Strip *s, gboolean upright, DtStrokes *out)
{
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    g_autoptr(GString) svg = g_string_new("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' "
                                          "height='100mm' viewBox='0 0 100 100'><g class='ink'>");
    for (int i = 0; i < STRIPS; i++) {
        if (s[i].paint < 0)
            continue;
        g_string_append_printf(svg, "<rect %s='%g' %s='%g' %s='%g' %s='%g' fill='%s'/>",
                               upright ? "x" : "y", s[i].from, upright ? "width" : "height",
                               s[i].to - s[i].from, upright ? "y" : "x", 40.0,
                               upright ? "height" : "width", HIGH, paints[s[i].paint]);
    }
    g_string_append(svg, "</g></svg>");
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg->str, svg->len, "strips.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    dt_strokes_init(out);
    g_assert_true(dt_ink_trace(d, &rack, &o, out, NULL, &error));
    g_assert_no_error(error);
}

/* Of one dense pen, strips of several paints, some narrow, some bare, across or upright: the ink of each ends half a
 * tip inside, and where there is a gap half of it, or all where the other is narrow, before that. */
static void test_strips_keep_apart(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, (DtColour){1, 1, 1, 1});
    unsigned gaps[3] = {0};
    for (int round = 0; round < 300; round++) {
        Strip s[STRIPS];
        double at = 5;
        for (int i = 0; i < STRIPS; i++) {
            s[i].from = at;
            at += g_test_rand_bit() ? 0.9 : 0.25 * g_test_rand_int_range(60, 72);
            s[i].to = at;
            s[i].paint = g_test_rand_int_range(-1, G_N_ELEMENTS(paints));
            if (i > 0 && s[i].paint == s[i - 1].paint)
                s[i].paint = -1; /* else they would be one strip */
        }
        g_auto(DtStrokes) ink = {0};
        const gboolean upright = g_test_rand_bit();
        trace(s, upright, &ink);
        for (int i = 0; i < STRIPS; i++) {
            double low = G_MAXDOUBLE, high = -G_MAXDOUBLE;
            for (size_t k = 0; k < ink.n_pts; k++) {
                const double v = upright ? ink.pts[k].x : ink.pts[k].y;
                if (v > s[i].from - 1e-3 && v < s[i].to + 1e-3) {
                    low = MIN(low, v);
                    high = MAX(high, v);
                }
            }
            if (s[i].paint < 0) {
                g_assert_cmpfloat(low, >, high);
                continue;
            }
            const double before = back_from(appear, &s[i], i > 0 ? &s[i - 1] : NULL),
                         after = back_from(appear, &s[i], i + 1 < STRIPS ? &s[i + 1] : NULL);
            gaps[(int)(2 * before / TIP + 0.5)]++;
            g_assert_cmpfloat_with_epsilon(low, s[i].from + TIP / 2 + before, 0.012);
            g_assert_cmpfloat_with_epsilon(high, s[i].to - TIP / 2 - after, 0.012);
        }
    }
    for (int i = 0; i < 3; i++)
        g_assert_cmpuint(gaps[i], >, 10);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/mosaic/pieces", test_mosaics_come_apart_into_their_pieces);
    g_test_add_func("/ink/mosaic/one-paint", test_pieces_of_one_paint_border_on_paper);
    g_test_add_func("/ink/mosaic/strips", test_strips_keep_apart);
    return g_test_run();
}
