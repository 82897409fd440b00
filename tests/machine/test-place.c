/* place: a page on the sheet, fitted, at true size, turned, and refused with the numbers. */
#include "drawtrue/machine.h"

#include <math.h>
#include <string.h>

/* A drawing of one rectangle on a page; y down. */
typedef struct {
    DtDrawing d;
    DtShape shape;
} Page;

static void make_page(Page *g, double w, double h, DtBox art)
{
    *g = (Page){0};
    g->d.path = "page.svg";
    g->d.width = w;
    g->d.height = h;
    g->d.view = (DtBox){0, 0, w, h};
    g->d.shapes = &g->shape;
    g->d.n_shapes = 1;
    g->shape.clip = -1;
    g->shape.fill.kind = DT_PAINT_FLAT;
    g->shape.fill.colour = (DtColour){0, 0, 0, 1};
    DtPoint pts[] = {{art.x0, art.y0}, {art.x1, art.y0}, {art.x1, art.y1}, {art.x0, art.y1}};
    dt_lines_init(&g->shape.outline);
    dt_lines_append(&g->shape.outline, pts, 4, TRUE);
}

static DtBox place(const DtProfile *p, Page *g, const DtPlacement *o, DtAffine *m)
{
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_machine_place(p, &g->d, o, m, &error));
    g_assert_no_error(error);
    return dt_affine_apply_box(*m, g->d.view);
}

static void assert_box(DtBox b, double x0, double y0, double x1, double y1)
{
    g_assert_cmpfloat_with_epsilon(b.x0, x0, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.y0, y0, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.x1, x1, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.y1, y1, 1e-9);
}

static void test_fit_fills_the_margins_upright(void)
{
    g_autoptr(DtProfile) p = dt_profile_new(); /* A5 landscape at 0, 0 with 10 mm margins */
    Page g;
    make_page(&g, 380, 128, (DtBox){0, 0, 380, 128});
    DtAffine m;
    assert_box(place(p, &g, &DT_PLACEMENT_DEFAULT, &m), 10, 42, 200, 106);
    /* y is flipped: the page's upper left corner lies away from the maker */
    DtPoint corner = dt_affine_apply(m, dt_point(0, 0));
    g_assert_cmpfloat_with_epsilon(corner.x, 10, 1e-9);
    g_assert_cmpfloat_with_epsilon(corner.y, 106, 1e-9);
    DtPlacement low = DT_PLACEMENT_DEFAULT;
    low.align_y = 0;
    assert_box(place(p, &g, &low, &m), 10, 10, 200, 74);
    dt_lines_clear(&g.shape.outline);
}

static void test_a_tall_page_is_turned(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    Page g;
    make_page(&g, 64, 95, (DtBox){0, 0, 64, 95});
    DtAffine m;
    assert_box(place(p, &g, &DT_PLACEMENT_DEFAULT, &m), 10, 10, 200, 138);
    g_assert_cmpfloat_with_epsilon(dt_affine_determinant(m), -4,
                                   1e-9); /* twice the size, y flipped */
    DtPlacement upright = DT_PLACEMENT_DEFAULT;
    upright.turn = FALSE;
    DtBox b = place(p, &g, &upright, &m);
    g_assert_cmpfloat_with_epsilon(dt_box_height(b), 128, 1e-9);
    dt_lines_clear(&g.shape.outline);
}

static void test_true_size_keeps_the_size(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    DtPlacement o = DT_PLACEMENT_DEFAULT;
    o.fit = DT_FIT_TRUE_SIZE;
    Page g;
    make_page(&g, 148, 210, (DtBox){20, 20, 128, 190}); /* A5 portrait on A5 landscape: turned */
    DtAffine m;
    assert_box(place(p, &g, &o, &m), 0, 0, 210, 148);
    o.turn = FALSE;
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_machine_place(p, &g.d, &o, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "beyond the paper"));
    g_assert_nonnull(strstr(error->message, "159.00")); /* 20 mm in from 210 - 31 */
    dt_lines_clear(&g.shape.outline);
}

static void test_fit_keeps_within_the_reach(void)
{
    g_autoptr(GError) error = NULL;
    const char *text = "[motion]\ntravel_x = 180 mm\n"
                       "[corrections]\nbacklash_y = 0.5 mm\nsquare = 0.5 deg\nscale_x = 0.99\n"
                       "[paper]\nmargin = 0 mm\n[pen a]\n[pen b]\noffset = 1, 2 mm\n";
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "t", &error);
    g_assert_no_error(error);
    DtBox reach = dt_machine_reach(p);
    Page g;
    make_page(&g, 100, 50, (DtBox){0, 0, 100, 50});
    DtAffine m;
    DtBox b = place(p, &g, &DT_PLACEMENT_DEFAULT, &m);
    g_assert_cmpfloat(b.x1, <=, reach.x1 + 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_box_width(b), dt_box_width(reach), 1e-9);
    /* each corner can be drawn by each pen in each direction */
    DtPoint corners[] = {{reach.x0, reach.y0},
                         {reach.x1, reach.y0},
                         {reach.x1, reach.y1},
                         {reach.x0, reach.y1},
                         {reach.x0, reach.y0}};
    for (int way = 0; way < 2; way++)
        for (unsigned pen = 0; pen < 2; pen++) {
            g_auto(DtSequence) s;
            dt_sequence_init(&s);
            dt_sequence_begin(&s, pen, 0);
            for (int i = 0; i < 5; i++)
                dt_sequence_point(&s, corners[way ? 4 - i : i]);
            g_auto(DtMoves) moves;
            dt_moves_init(&moves);
            g_assert_true(dt_machine_moves(p, &s, &moves, &error));
            g_assert_no_error(error);
        }
    dt_lines_clear(&g.shape.outline);
}

static void test_refusals_name_the_numbers(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    DtPlacement o = DT_PLACEMENT_DEFAULT;
    o.fit = DT_FIT_TRUE_SIZE;
    p->paper_at = dt_point(150, 0); /* the sheet hangs over the end of the travel */
    Page g;
    make_page(&g, 210, 148, (DtBox){0, 0, 210, 148});
    DtAffine m;
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_machine_place(p, &g.d, &o, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "page.svg: "));
    g_assert_nonnull(strstr(error->message, "150.00 to 360.00"));
    g_assert_nonnull(strstr(error->message, "the machine's reach: x 0.00 to 300.00"));
    g_clear_error(&error);
    p->paper_at = dt_point(400, 0); /* beyond it altogether */
    g_assert_false(dt_machine_place(p, &g.d, &DT_PLACEMENT_DEFAULT, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g.d.n_shapes = 0; /* no page, no art */
    g.d.view = DT_BOX_EMPTY;
    g_assert_false(dt_machine_place(p, &g.d, &DT_PLACEMENT_DEFAULT, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    dt_lines_clear(&g.shape.outline);
}

static void test_paper_by_name_and_by_size(void)
{
    double w, h;
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_machine_paper("a5", &w, &h, &error) && w == 148 && h == 210);
    g_assert_true(dt_machine_paper("A5 landscape", &w, &h, &error) && w == 210 && h == 148);
    g_assert_true(dt_machine_paper(" A5  portrait ", &w, &h, &error) && w == 148);
    g_assert_true(dt_machine_paper("210x148", &w, &h, &error) && w == 210 && h == 148);
    g_assert_true(dt_machine_paper("8.5 x 11 in", &w, &h, &error) && fabs(w - 215.9) < 1e-9);
    static const char *const wrong[] = {"",      "A11",   "A",      "C4",       "A5 sideways",
                                        "10x",   "x10",   "1x1",    "9999x10",  "10x10 feet",
                                        "-5x10", "A5 10", "infx10", "1e400x10", "A-1"};
    for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_assert_false(dt_machine_paper(wrong[i], &w, &h, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_clear_error(&error);
    }
}

static void test_margins_that_leave_nothing_are_named(void)
{
    static const char svg[] = "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='50mm' "
                              "viewBox='0 0 50 50'><path d='M1 1h40' stroke='#000'/></svg>";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    DtPlacement o = DT_PLACEMENT_DEFAULT;
    DtAffine m;
    p->margin = MIN(p->paper_w, p->paper_h) / 2;
    g_assert_false(dt_machine_place(p, d, &o, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "a.svg: margins of "));
    g_clear_error(&error);
    o.fit = DT_FIT_TRUE_SIZE; /* keeps none */
    g_assert_true(dt_machine_place(p, d, &o, &m, &error));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/place/fit", test_fit_fills_the_margins_upright);
    g_test_add_func("/machine/place/turn", test_a_tall_page_is_turned);
    g_test_add_func("/machine/place/true-size", test_true_size_keeps_the_size);
    g_test_add_func("/machine/place/reach", test_fit_keeps_within_the_reach);
    g_test_add_func("/machine/place/refusals", test_refusals_name_the_numbers);
    g_test_add_func("/machine/place/margins", test_margins_that_leave_nothing_are_named);
    g_test_add_func("/machine/place/paper", test_paper_by_name_and_by_size);
    return g_test_run();
}
