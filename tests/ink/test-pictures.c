/* ink: raster pictures. */
#include "shapes-in-ink.h"

#include <cairo.h>
#include <math.h>

#define TIP 0.4
#define MM 60.0 /* a picture's side */
enum { PX = 240 };

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1}};
static const DtRack rack = {pens, 1};

typedef guint32 (*Pixel)(double x, double y); /* places from 0 to 1 */

static guint32 rgb(double r, double g, double b)
{
    return 0xff000000U | (guint32)lround(255 * r) << 16 | (guint32)lround(255 * g) << 8 |
           (guint32)lround(255 * b);
}

/* Greys as in a photograph: many, of no single direction. */
static guint32 grey(double x, double y)
{
    const double v = 0.5 + 0.25 * sin(9 * x) * cos(7 * y) + 0.2 * (x - y);
    return rgb(v, v, v);
}

/* Dark reds and purples. */
static guint32 dusk(double x, double y)
{
    const double v = 0.25 + 0.4 * sin(3 * x) * sin(2 * y);
    return rgb(0.9 * v + 0.1, 0.3 * v, 0.5 * v + 0.1 * x);
}

/* Black on the left, grey on the right. */
static guint32 half(double x, double y)
{
    return x < 0.5 ? rgb(0, 0, 0) : grey(x, y);
}

static cairo_status_t add_bytes(void *bytes, const unsigned char *data, unsigned n)
{
    g_byte_array_append(bytes, data, n);
    return CAIRO_STATUS_SUCCESS;
}

/* SVG of a picture, MM wide and high; `attributes` are its own. */
static char *picture(Pixel pixel, const char *attributes)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, PX, PX);
    cairo_surface_flush(s);
    guint32 *px = (guint32 *)(void *)cairo_image_surface_get_data(s);
    for (int i = 0; i < PX * PX; i++)
        px[i] = pixel((i % PX + 0.5) / PX, (i / PX + 0.5) / PX);
    cairo_surface_mark_dirty(s);
    g_autoptr(GByteArray) png = g_byte_array_new();
    g_assert_cmpint(cairo_surface_write_to_png_stream(s, add_bytes, png), ==, CAIRO_STATUS_SUCCESS);
    cairo_surface_destroy(s);
    g_autofree char *data = g_base64_encode(png->data, png->len);
    return g_strdup_printf("<image x='20' y='20' width='60' height='60' %s "
                           "href='data:image/png;base64,%s'/>",
                           attributes, data);
}

/* The length of ink in the hatch's direction and across it, mm, between two x. */
static void lengths(const DtStrokes *s, double x0, double x1, double sum[2])
{
    sum[0] = sum[1] = 0;
    for (size_t i = 0; i < s->n; i++)
        for (size_t k = 1; k < s->strokes[i].n; k++) {
            const DtPoint a = s->pts[s->strokes[i].first + k - 1],
                          b = s->pts[s->strokes[i].first + k];
            const double turn = fmod(atan2(b.y - a.y, b.x - a.x) + 3 * G_PI, G_PI);
            const gboolean across = fabs(turn - G_PI / 2) < G_PI / 4;
            enum { STEPS = 50 };
            for (int j = 0; j < STEPS; j++) {
                const double x = dt_point_lerp(a, b, (j + 0.5) / STEPS).x;
                if (x >= x0 && x < x1)
                    sum[across] += dt_point_distance(a, b) / STEPS;
            }
        }
}

static DtStrokes ink_of(const char *shapes, DtPicture kind)
{
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.picture = kind;
    o.angle = 0;
    return shapes_in_ink(shapes, &rack, &o, NULL);
}

/* A picture in greys, or without its colours by a filter, is drawn as pictures are: by crossed lines unless another kind
 * is asked for. */
static void test_grey_pictures_are_pictures(void)
{
    static const struct {
        Pixel pixel;
        const char *attributes;
    } cases[] = {{grey, ""}, {dusk, "style='filter:grayscale(1)'"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg = picture(cases[i].pixel, cases[i].attributes);
        double crossed[2], lines[2];
        g_auto(DtStrokes) one = ink_of(svg, DT_PICTURE_CROSSED);
        g_auto(DtStrokes) other = ink_of(svg, DT_PICTURE_HATCH);
        lengths(&one, 0, 100, crossed);
        lengths(&other, 0, 100, lines);
        g_test_message("crossed %.0f and %.0f mm, lines %.0f and %.0f mm", crossed[0], crossed[1],
                       lines[0], lines[1]);
        g_assert_cmpfloat(crossed[1], >, 0.6 * crossed[0]);
        g_assert_cmpfloat(lines[1], <, 0.1 * lines[0]);
    }
}

/* The share of a square around a place that is inked. */
static double inked_around(const DtStrokes *s, DtPoint at, double side)
{
    enum { PLACES = 40 };
    int n = 0;
    for (int i = 0; i < PLACES * PLACES; i++)
        n += is_within_strokes(s,
                               (DtPoint){at.x + side * ((i % PLACES + 0.5) / PLACES - 0.5),
                                         at.y + side * ((i / PLACES + 0.5) / PLACES - 0.5)},
                               TIP / 2);
    return (double)n / (PLACES * PLACES);
}

static double linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

/* The share that ink of `pens` covers where it is as light as a place of a picture (Murray 1936, with the Y of
 * IEC 61966-2-1; both from memory). */
static double asked(Pixel pixel, double x, double y)
{
    const guint32 c = pixel(x, y);
    const double seen = 0.2126 * linear((c >> 16 & 255) / 255.0) +
                        0.7152 * linear((c >> 8 & 255) / 255.0) +
                        0.0722 * linear((c & 255) / 255.0);
    return (1 - seen) / (1 - linear(pens[0].colour.r));
}

/* A dark picture of colours that no pen has is not drawn as one dense field, though seen from near this would differ no
 * more from it: its light and shade count. */
static void test_dark_pictures_keep_light_and_shade(void)
{
    g_autofree char *svg = picture(dusk, "");
    g_auto(DtStrokes) s = ink_of(svg, DT_PICTURE_CROSSED);
    double least = 1;
    for (int i = 0; i < 9; i++) {
        const double x = 0.2 + 0.3 * (i % 3), y = 0.2 + 0.3 * (i / 3), want = asked(dusk, x, y);
        const double got = inked_around(&s, (DtPoint){20 + MM * x, 20 + MM * y}, 10);
        g_test_message("at %.1f, %.1f: %.3f inked, %.3f asked", x, y, got, want);
        g_assert_cmpfloat_with_epsilon(got, want, 0.05);
        least = MIN(least, got);
    }
    g_assert_cmpfloat(least, <, 0.9);
}

/* What is as dark as the ink is drawn once, not in both directions, but for its border. */
static void test_black_is_drawn_once(void)
{
    g_autofree char *svg = picture(half, "");
    g_auto(DtStrokes) s = ink_of(svg, DT_PICTURE_CROSSED);
    double black[2], greys[2];
    lengths(&s, 20, 48, black);
    lengths(&s, 52, 80, greys);
    const double once = 28 * MM / TIP;
    g_test_message("black %.0f and %.0f mm of %.0f, grey %.0f and %.0f", black[0], black[1], once,
                   greys[0], greys[1]);
    g_assert_cmpfloat_with_epsilon(black[0], once, 0.04 * once);
    g_assert_cmpfloat(black[1], <, 0.2 * once); /* along the border */
    g_assert_cmpfloat(greys[1], >, 0.6 * greys[0]);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/pictures/grey", test_grey_pictures_are_pictures);
    g_test_add_func("/ink/pictures/dark", test_dark_pictures_keep_light_and_shade);
    g_test_add_func("/ink/pictures/black", test_black_is_drawn_once);
    return g_test_run();
}
