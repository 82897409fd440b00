/* ink/sheets: art over several sheets is whole again when the sheets are laid on their crosses. */
#include "drawtrue/base.h"
#include "support/shapes.h"

static double to_strokes(const DtStrokes *s, DtPoint p)
{
    double d = G_MAXDOUBLE;
    for (size_t i = 0; i < s->n; i++) {
        const DtPoint *q = s->pts + s->strokes[i].first;
        size_t n = s->strokes[i].n;
        for (size_t k = 0; k + (s->strokes[i].closed ? 0 : 1) < n; k++)
            d = MIN(d, dt_point_segment_distance(p, q[k], q[(k + 1) % n]));
    }
    return d;
}

static void make_art(GRand *rand, DtStrokes *all)
{
    for (int i = 0; i < 20; i++) {
        DtPoint p[9];
        for (int k = 0; k < 9; k++)
            p[k] = dt_point(g_rand_double_range(rand, 0, 500), g_rand_double_range(rand, 0, 350));
        dt_strokes_append(all, p, 9, i % 2, DT_INK_OUTLINE, 0, i);
    }
}

static void test_every_line_is_on_the_sheets_of_its_places(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(31);
    g_auto(DtStrokes) all;
    dt_strokes_init(&all);
    make_art(rand, &all);
    g_auto(DtSheets) sheets;
    g_assert_true(dt_ink_sheets(&all, (DtBox){0, 0, 500, 350}, 190, 277, 10, 0, &sheets, NULL));
    g_assert_cmpuint(sheets.n, ==, 6);
    for (int i = 0; i < 4000; i++) {
        const DtStroke *st = &all.strokes[i % 20];
        const DtPoint *q = all.pts + st->first;
        size_t k = (size_t)g_rand_int_range(rand, 0, st->closed ? 9 : 8);
        DtPoint p = dt_point_lerp(q[k], q[(k + 1) % 9], g_rand_double(rand));
        int on = 0;
        for (size_t s = 0; s < sheets.n; s++) {
            DtBox w = sheets.sheets[s].window;
            DtPoint at = dt_point(p.x - w.x0, p.y - w.y0);
            if (!dt_box_contains(w, p))
                continue;
            on++;
            g_assert_cmpfloat(to_strokes(&sheets.sheets[s].ink, at), <, 1e-9);
        }
        g_assert_cmpint(on, >=, 1);
    }
    for (size_t s = 0; s < sheets.n; s++) {
        DtBox b = dt_strokes_box(&sheets.sheets[s].ink);
        g_assert_cmpfloat(b.x0, >=, -1e-9);
        g_assert_cmpfloat(b.y0, >=, -1e-9);
        g_assert_cmpfloat(b.x1, <=, 190 + 1e-9);
        g_assert_cmpfloat(b.y1, <=, 277 + 1e-9);
    }
}

static void test_neighbours_share_their_crosses(void)
{
    g_auto(DtStrokes) none;
    dt_strokes_init(&none);
    g_auto(DtSheets) sheets;
    g_assert_true(dt_ink_sheets(&none, (DtBox){0, 0, 300, 200}, 190, 277, 10, 2, &sheets, NULL));
    g_assert_cmpuint(sheets.n, ==, 2);
    const DtStrokes *a = &sheets.sheets[0].ink, *b = &sheets.sheets[1].ink;
    g_assert_cmpuint(a->n, ==, 4); /* two crosses of two arms */
    g_assert_cmpuint(b->n, ==, 4);
    double shift = sheets.sheets[1].window.x0 - sheets.sheets[0].window.x0;
    for (size_t i = 0; i < a->n_pts; i++) {
        g_assert_cmpfloat_with_epsilon(a->pts[i].x, b->pts[i].x + shift, 1e-9);
        g_assert_cmpfloat_with_epsilon(a->pts[i].y, b->pts[i].y, 1e-9);
    }
    g_assert_cmpuint(a->strokes[0].pen, ==, 2);
}

/* How many crosses of a sheet another one has in the same places; all that its window has room for. */
static size_t shared(const DtSheet *a, const DtSheet *b)
{
    size_t n = 0;
    for (size_t i = a->n_art; i < a->ink.n; i++) {
        const DtPoint *p = a->ink.pts + a->ink.strokes[i].first;
        const DtPoint to_b = dt_point(a->window.x0 - b->window.x0, a->window.y0 - b->window.y0);
        const DtPoint from = dt_point_add(p[0], to_b), to = dt_point_add(p[1], to_b);
        const DtBox own = {0, 0, dt_box_width(b->window), dt_box_height(b->window)};
        gboolean has = FALSE;
        for (size_t k = b->n_art; k < b->ink.n; k++) {
            const DtPoint *q = b->ink.pts + b->ink.strokes[k].first;
            has |= dt_point_distance(q[0], from) < 1e-9 && dt_point_distance(q[1], to) < 1e-9;
        }
        g_assert_true(has || !dt_box_contains(own, from) || !dt_box_contains(own, to));
        n += has;
    }
    return n;
}

/* Three by two sheets: the artwork's strokes come first, and a small one stays whole; then crosses, two on each seam
 * for either neighbour. */
static void test_a_grid_of_sheets(void)
{
    enum { COLUMNS = 3, ROWS = 2 };
    const DtPoint small[4] = {{20, 20}, {30, 20}, {30, 33}, {20, 33}};
    g_autoptr(GRand) rand = g_rand_new_with_seed(32);
    g_auto(DtStrokes) all;
    dt_strokes_init(&all);
    dt_strokes_append(&all, small, 4, TRUE, DT_INK_CENTRE, 1, 77);
    make_art(rand, &all);
    g_auto(DtSheets) sheets;
    g_assert_true(dt_ink_sheets(&all, (DtBox){0, 0, 500, 350}, 190, 277, 10, 2, &sheets, NULL));
    g_assert_cmpuint(sheets.n, ==, COLUMNS * ROWS);
    gsize whole = 0;
    for (unsigned i = 0; i < sheets.n; i++) {
        const DtSheet *s = &sheets.sheets[i];
        g_assert_cmpuint(s->row * COLUMNS + s->column, ==, i);
        for (size_t k = 0; k < s->ink.n; k++) {
            const DtStroke *st = &s->ink.strokes[k];
            g_assert_cmpint(st->shape >= 0, ==, k < s->n_art);
            g_assert_cmpuint(st->pen, ==, k >= s->n_art ? 2 : st->shape == 77);
            whole += st->shape == 77 && st->closed && st->n == 4 && st->kind == DT_INK_CENTRE;
        }
        if (s->column + 1 < COLUMNS)
            g_assert_cmpuint(shared(s, s + 1), >=, 4); /* of two arms each */
        if (s->row + 1 < ROWS)
            g_assert_cmpuint(shared(s, s + COLUMNS), >=, 4);
        if (i > 0)
            shared(s, s - 1);
    }
    g_assert_cmpuint(whole, ==, 1);
}

static void test_small_art_takes_one_sheet_and_bad_sizes_none(void)
{
    g_auto(DtStrokes) none;
    dt_strokes_init(&none);
    g_auto(DtSheets) one, bad;
    g_assert_true(dt_ink_sheets(&none, (DtBox){5, 5, 100, 100}, 190, 277, 10, 0, &one, NULL));
    g_assert_cmpuint(one.n, ==, 1);
    g_assert_cmpuint(one.sheets[0].ink.n, ==, 0);
    const double sizes[][3] = {{0, 10, 0}, {10, NAN, 0}, {10, 10, 5}, {10, 10, -1}, {1, 1, 0}};
    for (int i = 0; i < 5; i++) {
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_ink_sheets(&none, (DtBox){0, 0, 100, 100}, sizes[i][0], sizes[i][1],
                                     sizes[i][2], 0, &bad, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/sheets/whole", test_every_line_is_on_the_sheets_of_its_places);
    g_test_add_func("/ink/sheets/crosses", test_neighbours_share_their_crosses);
    g_test_add_func("/ink/sheets/grid", test_a_grid_of_sheets);
    g_test_add_func("/ink/sheets/sizes", test_small_art_takes_one_sheet_and_bad_sizes_none);
    return g_test_run();
}
