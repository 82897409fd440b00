/* outside: no plan that draws narrow lines along their middle, or leaves them out, does better than
 * the bound that the corpus is judged by; plans are drawn by cairo. */
#include "support/pen-bound.h"

#include <cairo.h>
#include <glib.h>
#include <math.h>
#include <string.h>

enum { SIDE = 160 };
#define RADIUS 4.0

typedef struct {
    cairo_surface_t *surface;
    cairo_t *cr;
} Canvas;

static Canvas canvas_new(void)
{
    Canvas c;
    c.surface = cairo_image_surface_create(CAIRO_FORMAT_A8, SIDE, SIDE);
    c.cr = cairo_create(c.surface);
    cairo_set_line_cap(c.cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(c.cr, CAIRO_LINE_JOIN_ROUND);
    return c;
}

static void canvas_mask(Canvas *c, uint8_t *mask)
{
    cairo_destroy(c->cr);
    cairo_surface_flush(c->surface);
    const uint8_t *rows = cairo_image_surface_get_data(c->surface);
    int stride = cairo_image_surface_get_stride(c->surface);
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++)
            mask[y * SIDE + x] = rows[y * stride + x] >= 128;
    cairo_surface_destroy(c->surface);
}

static double iou(const uint8_t *a, const uint8_t *b)
{
    int both = 0, either = 0;
    for (int i = 0; i < SIDE * SIDE; i++) {
        both += a[i] && b[i];
        either += a[i] || b[i];
    }
    return either ? (double)both / either : 1;
}

static void test_what_a_pen_can_draw_has_no_bound(void)
{
    static uint8_t art[SIDE * SIDE];
    Canvas c = canvas_new();
    cairo_set_line_width(c.cr, 2 * RADIUS + 2);
    cairo_move_to(c.cr, 30, 30);
    cairo_curve_to(c.cr, 130, 20, 20, 130, 120, 120);
    cairo_stroke(c.cr);
    canvas_mask(&c, art);
    g_assert_cmpfloat(pen_bound_iou(art, SIDE, SIDE, RADIUS), >, 0.999);
}

/* Drawn, a line half as wide as the pen shares w / 2r of the ink; its ends a little less. */
static void test_a_thin_line_has_one(void)
{
    static uint8_t art[SIDE * SIDE];
    Canvas c = canvas_new();
    cairo_set_line_width(c.cr, RADIUS);
    cairo_move_to(c.cr, 20, 80);
    cairo_line_to(c.cr, 140, 80);
    cairo_stroke(c.cr);
    canvas_mask(&c, art);
    double bound = pen_bound_iou(art, SIDE, SIDE, RADIUS);
    g_test_message("bound %.3f", bound);
    g_assert_cmpfloat(fabs(bound - 0.5), <, 0.06);
}

static void random_line(GRand *rand, cairo_t *cr)
{
    double x = g_rand_double_range(rand, 10, SIDE - 10);
    double y = g_rand_double_range(rand, 10, SIDE - 10);
    cairo_move_to(cr, x, y);
    for (int k = g_rand_int_range(rand, 1, 4); k > 0; k--)
        cairo_line_to(cr, CLAMP(x + g_rand_double_range(rand, -60, 60), 10, SIDE - 10),
                      CLAMP(y + g_rand_double_range(rand, -60, 60), 10, SIDE - 10));
}

/* Art of random thin and thick lines; plans draw the narrow ones or leave them out, and the wide
 * ones as they are. */
static void test_no_plan_beats_the_bound(void)
{
    static uint8_t art[SIDE * SIDE], ink[SIDE * SIDE];
    g_autoptr(GRand) rand = g_rand_new_with_seed(8);
    for (int round = 0; round < 40; round++) {
        cairo_path_t *path[8];
        double width[8];
        Canvas c = canvas_new();
        int n = g_rand_int_range(rand, 1, 8);
        for (int i = 0; i < n; i++) {
            random_line(rand, c.cr);
            path[i] = cairo_copy_path(c.cr);
            width[i] = g_rand_double_range(rand, 2, 14);
            cairo_set_line_width(c.cr, width[i]);
            cairo_stroke(c.cr);
        }
        canvas_mask(&c, art);
        double bound = pen_bound_iou(art, SIDE, SIDE, RADIUS), best = 0;
        for (int plan = 0; plan < 1 << n; plan++) {
            c = canvas_new();
            for (int i = 0; i < n; i++)
                if (width[i] >= 2 * RADIUS || plan >> i & 1) {
                    cairo_append_path(c.cr, path[i]);
                    cairo_set_line_width(c.cr, MAX(width[i], 2 * RADIUS));
                    cairo_stroke(c.cr);
                }
            canvas_mask(&c, ink);
            best = MAX(best, iou(art, ink));
        }
        g_test_message("best plan %.3f, bound %.3f", best, bound);
        g_assert_cmpfloat(best, <=, bound + 0.01); /* for what a raster rounds */
        for (int i = 0; i < n; i++)
            cairo_path_destroy(path[i]);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/pen-bound/none", test_what_a_pen_can_draw_has_no_bound);
    g_test_add_func("/outside/pen-bound/thin-line", test_a_thin_line_has_one);
    g_test_add_func("/outside/pen-bound/plans", test_no_plan_beats_the_bound);
    return g_test_run();
}
