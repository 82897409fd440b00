/* outside: the colour of translucent areas over one another, against cairo's compositing. */
#include "ink/paint/layers.h"

#include <cairo.h>
#include <math.h>

#define SIDE 60 /* mm, and pixels */
#define AREAS 24
#define ROUNDS 40

typedef struct {
    DtBox box;
    DtColour colour; /* alpha without the group's opacity */
    int group;       /* -1 for none */
    double opacity;  /* of the group */
} Sheet;

static double pick(GRand *rand)
{
    return g_rand_int_range(rand, 0, 256) / 255.0;
}

/* Rectangles on whole pixels; now and then some follow one another in a group. */
static void make_sheets(GRand *rand, Sheet *s)
{
    int group = -1;
    double opacity = 1;
    for (int i = 0; i < AREAS; i++) {
        if (i % 4 == 0) {
            group = g_rand_boolean(rand) ? i : -1;
            opacity = group < 0 ? 1 : 0.2 + 0.6 * g_rand_double(rand);
        }
        int x = g_rand_int_range(rand, 0, SIDE - 20), y = g_rand_int_range(rand, 0, SIDE - 20);
        double alpha = g_rand_int_range(rand, 0, 5) == 0 ? 1 : pick(rand);
        s[i] = (Sheet){{x, y, x + g_rand_int_range(rand, 5, 20), y + g_rand_int_range(rand, 5, 20)},
                       {pick(rand), pick(rand), pick(rand), alpha},
                       group,
                       opacity};
    }
}

static cairo_surface_t *paint(const Sheet *s)
{
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, SIDE, SIDE);
    cairo_t *cr = cairo_create(surface);
    for (int i = 0; i < AREAS; i++) {
        if (s[i].group >= 0 && s[i].group == i)
            cairo_push_group(cr);
        cairo_set_source_rgba(cr, s[i].colour.r, s[i].colour.g, s[i].colour.b, s[i].colour.alpha);
        cairo_rectangle(cr, s[i].box.x0, s[i].box.y0, dt_box_width(s[i].box),
                        dt_box_height(s[i].box));
        cairo_fill(cr);
        if (s[i].group >= 0 && (i + 1 == AREAS || s[i + 1].group != s[i].group)) {
            cairo_pop_group_to_source(cr);
            cairo_paint_with_alpha(cr, s[i].opacity);
        }
    }
    cairo_destroy(cr);
    cairo_surface_flush(surface);
    return surface;
}

static DtStack *lay(const Sheet *s, DtPaintLayers *layers)
{
    DtStackOverlap overlaps = dt_paint_layers_overlap(layers);
    DtStack *stack = dt_stack_new(&overlaps);
    for (int i = 0; i < AREAS; i++) {
        DtPaintLayer layer = {s[i].colour, NULL, NULL, FALSE, -1, s[i].group, s[i].opacity, -1};
        layer.colour.alpha *= s[i].opacity;
        layer.opaque = layer.colour.alpha >= DT_PAINT_LAYER_OPAQUE;
        DtBox b = s[i].box;
        DtPoint p[4] = {{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}};
        g_auto(DtLines) l;
        dt_lines_init(&l);
        dt_lines_append(&l, p, 4, TRUE);
        g_assert_true(dt_stack_add_area(stack, dt_paint_layers_label(layers, &layer), &l,
                                        DT_PLANE_NONZERO, NULL));
    }
    g_assert_true(dt_stack_finish(stack, NULL));
    return stack;
}

/* Writes the label at each pixel's middle. */
static void find_labels(const DtStack *stack, int *label)
{
    for (int i = DT_STACK_FIRST; i < (int)dt_stack_n_labels(stack); i++) {
        const DtLines *region = dt_stack_region(stack, i);
        for (int k = 0; region && k < SIDE * SIDE; k++)
            if (dt_lines_inside(region, DT_FILL_NONZERO,
                                dt_point(k % SIDE + 0.5, k / SIDE + 0.5))) {
                g_assert_cmpint(label[k], ==, 0); /* no two regions overlap */
                label[k] = i;
            }
    }
}

static double channel(uint32_t argb, int shift)
{
    return (argb >> shift & 255) / 255.0;
}

static void compare(const Sheet *s)
{
    g_autoptr(DtPaintLayers) layers = dt_paint_layers_new();
    g_autoptr(DtStack) stack = lay(s, layers);
    g_autofree int *label = g_new0(int, SIDE *SIDE);
    find_labels(stack, label);
    cairo_surface_t *surface = paint(s);
    const uint8_t *rows = cairo_image_surface_get_data(surface);
    int stride = cairo_image_surface_get_stride(surface);
    for (int k = 0; k < SIDE * SIDE; k++) {
        DtColour c = {0, 0, 0, 0};
        if (label[k])
            c = dt_paint_layers_seen(layers, label[k]).colour;
        uint32_t theirs = ((const uint32_t *)(const void *)(rows + k / SIDE * stride))[k % SIDE];
        g_assert_cmpfloat(fabs(c.alpha - channel(theirs, 24)), <, 0.02);
        g_assert_cmpfloat(fabs(c.r * c.alpha - channel(theirs, 16)), <, 0.02);
        g_assert_cmpfloat(fabs(c.g * c.alpha - channel(theirs, 8)), <, 0.02);
        g_assert_cmpfloat(fabs(c.b * c.alpha - channel(theirs, 0)), <, 0.02);
    }
    cairo_surface_destroy(surface);
}

static void test_sheets_mix_as_cairo_paints_them(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    for (int i = 0; i < ROUNDS; i++) {
        Sheet s[AREAS];
        make_sheets(rand, s);
        compare(s);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-layers/cairo", test_sheets_mix_as_cairo_paints_them);
    return g_test_run();
}
