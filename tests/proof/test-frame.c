/* frame: lettering, scale bars, lines and tones, by where their ink lies on a surface that takes it down. */
#include "proof/private.h"
#include "support/font-leaks.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    cairo_surface_t *surface;
    cairo_t *cr;
} Sheet;

static Sheet sheet(void)
{
    cairo_surface_t *s = cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, NULL);
    return (Sheet){s, cairo_create(s)};
}

/* Where the ink lies; the sheet is gone then. */
static DtBox ink_of(Sheet s)
{
    double x, y, w, h;
    g_assert_cmpint(cairo_status(s.cr), ==, CAIRO_STATUS_SUCCESS);
    cairo_destroy(s.cr);
    cairo_recording_surface_ink_extents(s.surface, &x, &y, &w, &h);
    cairo_surface_destroy(s.surface);
    return (DtBox){x, y, x + w, y + h};
}

static DtBox letters(double x, double y, DtProofType type, const char *text)
{
    Sheet s = sheet();
    dt_proof_letters(s.cr, x, y, &type, text);
    return ink_of(s);
}

static double width_of(DtProofType type, const char *text)
{
    Sheet s = sheet();
    const double w = dt_proof_letters_width(s.cr, &type, text);
    ink_of(s);
    return w;
}

static void assert_box(DtBox got, DtBox wanted, double tolerance)
{
    g_assert_cmpfloat_with_epsilon(got.x0, wanted.x0, tolerance);
    g_assert_cmpfloat_with_epsilon(got.y0, wanted.y0, tolerance);
    g_assert_cmpfloat_with_epsilon(got.x1, wanted.x1, tolerance);
    g_assert_cmpfloat_with_epsilon(got.y1, wanted.y1, tolerance);
}

/* The capitals of DejaVu Sans are 0.729 em high (1493 of 2048 units). */
static void test_letters_stand_where_they_are_told(void)
{
    const DtProofType type = {.size = 40, .colour = dt_proof_text};
    DtProofType other = type;
    const DtBox left = letters(100, 200, type, "HEH");
    const double w = width_of(type, "HEH");
    g_assert_cmpfloat_with_epsilon(left.y1, 200, 1.01);
    g_assert_cmpfloat_with_epsilon(left.y0, 200 - 0.729 * 40, 1.01);
    g_assert_cmpfloat(left.x0, >, 100);
    g_assert_cmpfloat(left.x1, <, 100 + w);
    for (int i = 1; i <= 2; i++) {
        other.align = i / 2.0;
        const double shift = other.align * w;
        assert_box(letters(100 + shift, 200, other, "HEH"), left, 1.01);
    }
    other = type;
    other.bold = TRUE;
    g_assert_cmpfloat(width_of(other, "HEH"), >, 1.05 * w);
    other = type;
    other.size = 80;
    g_assert_cmpfloat_with_epsilon(width_of(other, "HEH"), 2 * w, 0.05 * w);
}

/* What is too wide keeps as many letters as there is room for, and an ellipsis. */
static void test_what_is_too_wide_is_cut(void)
{
    static const char text[] = "Seed packets of 2026";
    DtProofType type = {.size = 20, .colour = dt_proof_text};
    const double whole = width_of(type, text);
    for (double room = 30; room < whole + 20; room += 7) {
        g_autofree char *wanted = g_strdup(text);
        for (size_t n = strlen(text) - 1; n > 0 && width_of(type, wanted) > room; n--) {
            g_free(wanted);
            wanted = g_strdup_printf("%.*s\342\200\246", (int)n, text);
        }
        type.width = 0;
        const DtBox plain = letters(10, 50, type, wanted);
        type.width = room;
        assert_box(letters(10, 50, type, text), plain, 1e-6);
        type.align = 1;
        g_assert_cmpfloat(letters(300, 50, type, text).x0, >=, 300 - room - 2);
        g_assert_cmpfloat(letters(300, 50, type, text).x1, <=, 301);
        type.align = 0;
        type.width = 0;
    }
    g_assert_cmpfloat(dt_box_width(letters(0, 0, type, "\xff\xfe seeds")), >, 20);
}

/* A halo of 0.15 of the size around the letters. */
static void test_labels_have_a_halo(void)
{
    const DtProofType type = {.size = 40, .align = 0.5, .colour = dt_proof_text};
    const DtBox plain = letters(100, 200, type, "HEH");
    Sheet s = sheet();
    dt_proof_label(s.cr, 100, 200, &type, "HEH");
    assert_box(ink_of(s), dt_box_grow(plain, 0.15 * 40), 2);
}

/* The line has a tick of 0.35 of the size to both sides at either end, and the length is beside it. */
static void test_scale_bars(void)
{
    const DtProofFrame f = {{0, 0, 300, 200}, 10, 20, 3};
    Sheet s = sheet(), bar = sheet();
    dt_proof_scale_bar(s.cr, &f, 50, 100, 20, 10);
    const DtBox all = ink_of(s);
    const DtProofType type = {.size = 10, .colour = dt_proof_text};
    cairo_rectangle(bar.cr, 50 - 0.5, 100 - 3.5, 60 + 1, 7); /* lines of 1 */
    cairo_fill(bar.cr);
    const DtBox label = letters(50 + 60 + 6, 100 + 3.6, type, "20 mm");
    assert_box(all, dt_box_union(ink_of(bar), label), 1.01);
    cairo_surface_t *picture = cairo_image_surface_create(CAIRO_FORMAT_A8, 200, 120);
    cairo_t *cr = cairo_create(picture);
    dt_proof_scale_bar(cr, &f, 50.5, 100.5, 20, 10);
    cairo_destroy(cr);
    cairo_surface_flush(picture);
    const uint8_t *data = cairo_image_surface_get_data(picture);
    const int stride = cairo_image_surface_get_stride(picture);
    for (int y = 92; y < 109; y++)
        for (int x = 48; x < 113; x++) {
            const gboolean inked =
                (x >= 50 && x <= 110 && y == 100) || ((x == 50 || x == 110) && abs(y - 100) <= 3);
            g_assert_cmpint(data[y * stride + x] > 128, ==, inked);
        }
    cairo_surface_destroy(picture);
}

static void test_lines_are_closed_or_dots(void)
{
    g_auto(DtLines) l;
    dt_lines_init(&l);
    const DtPoint p[3] = {{10, 10}, {50, 10}, {50, 50}};
    dt_lines_append(&l, p, 3, FALSE);
    dt_lines_append(&l, p, 3, TRUE);
    dt_lines_append(&l, p, 1, FALSE);
    for (size_t i = 0; i < l.n; i++) {
        cairo_surface_t *picture = cairo_image_surface_create(CAIRO_FORMAT_A8, 60, 60);
        cairo_t *cr = cairo_create(picture);
        g_auto(DtLines) one;
        dt_lines_init(&one);
        dt_lines_append(&one, dt_lines_at(&l, i), dt_lines_count(&l, i), l.closed[i] != 0);
        dt_proof_stroke(cr, &one, dt_proof_text, 4);
        cairo_destroy(cr);
        cairo_surface_flush(picture);
        const unsigned char *px = cairo_image_surface_get_data(picture);
        const int stride = cairo_image_surface_get_stride(picture);
        g_assert_cmpint(px[10 * stride + 10] > 128, ==, TRUE);
        g_assert_cmpint(px[10 * stride + 30] > 128, ==, i < 2);  /* along the first side */
        g_assert_cmpint(px[30 * stride + 30] > 128, ==, i == 1); /* along the closing one */
        g_assert_cmpint(px[13 * stride + 30] > 128, ==, FALSE);
        g_assert_cmpint(px[10 * stride + 8] > 128, ==, i != 3); /* a round end */
        cairo_surface_destroy(picture);
    }
}

/* Eleven steps, each as dark as its coverage. */
static void test_tones_rise(void)
{
    const DtPen pen = {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1};
    const DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    enum { STEP = 100, HIGH = 160, AT = 10 };
    cairo_surface_t *picture =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, 11 * STEP + 2 * AT, HIGH + 2 * AT);
    cairo_t *cr = cairo_create(picture);
    cairo_set_source_rgb(cr, 1, 0, 0);
    cairo_paint(cr);
    dt_proof_tones(cr, &pen, &o, (DtBox){AT, AT, AT + 11 * STEP, AT + HIGH}, 16);
    cairo_destroy(cr);
    cairo_surface_flush(picture);
    const unsigned char *px = cairo_image_surface_get_data(picture);
    const int stride = cairo_image_surface_get_stride(picture);
    for (int step = 0; step <= 10; step++) {
        double dark = 0;
        for (int y = AT; y < AT + HIGH; y++)
            for (int x = AT + step * STEP; x < AT + (step + 1) * STEP; x++)
                dark += 1 - px[y * stride + 4 * x] / 255.0;
        dark /= STEP * HIGH;
        g_assert_cmpfloat_with_epsilon(dark, step / 10.0, step == 0 ? 0.01 : 0.09);
    }
    g_assert_cmpint(px[stride * (AT - 2) + 4 * AT + 2], ==, 255); /* nothing is drawn outside */
    g_assert_cmpint(px[stride * (AT - 2) + 4 * AT], ==, 0);
    cairo_surface_destroy(picture);
}

static void draw_square(cairo_t *cr, gpointer user)
{
    (void)user;
    cairo_rectangle(cr, 10, 10, 20, 20);
    cairo_fill(cr);
}

/* A unit is a pixel, or 1/96 inch: 0.75 points. */
static void test_sizes_of_pictures(void)
{
    static const struct {
        const char *name, *says;
    } cases[] = {{"a.png", "\211PNG"},
                 {"a.svg", "width=\"90.3"},
                 {"a.SVG", "height=\"60"},
                 {"b.pdf", "%PDF"},
                 {"c.PNG", "\211PNG"}};
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *path = g_build_filename(folder, cases[i].name, NULL), *text = NULL;
        g_autoptr(GError) error = NULL;
        gsize len;
        g_assert_true(dt_proof_emit(path, 120.4, 80, draw_square, NULL, &error));
        g_assert_no_error(error);
        g_assert_true(g_file_get_contents(path, &text, &len, NULL));
        g_assert_nonnull(g_strstr_len(text, (gssize)len, cases[i].says));
        if (g_ascii_strcasecmp(strrchr(path, '.'), ".png") == 0) {
            cairo_surface_t *s = cairo_image_surface_create_from_png(path);
            g_assert_cmpint(cairo_image_surface_get_width(s), ==, 120);
            g_assert_cmpint(cairo_image_surface_get_height(s), ==, 80);
            cairo_surface_destroy(s);
        }
        g_unlink(path);
    }
    static const char *const wrong[] = {"a.gif", "png", "a.png.txt", "a", ".sv", "a.svgz"};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_proof_emit(wrong[i], 10, 10, draw_square, NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
        g_assert_nonnull(strstr(error->message, wrong[i]));
    }
    g_rmdir(folder);
}

static void assert_pixel(cairo_surface_t *image, int x, int y, DtColour c)
{
    const unsigned char *px =
        cairo_image_surface_get_data(image) + y * cairo_image_surface_get_stride(image) + 4 * x;
    g_assert_cmpint(abs(px[2] - (int)lround(c.r * 255)), <=, 1);
    g_assert_cmpint(abs(px[1] - (int)lround(c.g * 255)), <=, 1);
    g_assert_cmpint(abs(px[0] - (int)lround(c.b * 255)), <=, 1);
}

/* 4 px for each mm; the origin at (40.5, 440.5). The bed's edge is 3 px wide, the sheet lies on it and throws a
 * shadow down and to the right. */
static void test_the_bed_and_its_sheet(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->travel[0] = 150;
    p->travel[1] = 100;
    p->paper_at = dt_point(20, 15);
    p->paper_w = 100;
    p->paper_h = 60;
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 700, 500);
    cairo_t *cr = cairo_create(image);
    const DtProofFrame f = {{-10, -10, 160, 110}, 0.5, 0.5, 4};
    dt_proof_colour(cr, (DtColour){1, 1, 1, 1});
    cairo_paint(cr);
    dt_proof_frame_bed(cr, &f, p);
    cairo_surface_flush(image);
    const DtColour white = {1, 1, 1, 1};
    for (int side = 0; side < 2; side++) {
        const int x = side ? 640 : 40; /* 0 and 150 mm */
        assert_pixel(image, side ? x + 2 : x - 2, 60, white);
        for (int k = -1; k <= 1; k++)
            assert_pixel(image, x + k, 60, dt_proof_bed_edge);
        assert_pixel(image, side ? x - 2 : x + 2, 60, dt_proof_bed);
        const int y = side ? 440 : 40; /* 0 and 100 mm */
        assert_pixel(image, 60, side ? y + 2 : y - 2, white);
        for (int k = -1; k <= 1; k++)
            assert_pixel(image, 60, y + k, dt_proof_bed_edge);
    }
    assert_pixel(image, 122, 378, dt_proof_paper); /* the corners, half a millimetre inside */
    assert_pixel(image, 518, 142, dt_proof_paper);
    assert_pixel(image, 116, 250, dt_proof_bed); /* no shadow to the left or above */
    assert_pixel(image, 300, 136, dt_proof_bed);
    const unsigned char *row =
        cairo_image_surface_get_data(image) + 250 * cairo_image_surface_get_stride(image);
    for (int k = 0; k < 2; k++) /* the lighter the farther */
        g_assert_cmpint(row[4 * (521 + k) + 2], <, row[4 * (522 + k) + 2]);
    g_assert_cmpint(row[4 * 523 + 2], <, (int)lround(dt_proof_bed.r * 255) - 2);
    assert_pixel(image, 525, 250, dt_proof_bed);
    cairo_destroy(cr);
    cairo_surface_destroy(image);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/proof/frame/letters", test_letters_stand_where_they_are_told);
    g_test_add_func("/proof/frame/cut", test_what_is_too_wide_is_cut);
    g_test_add_func("/proof/frame/halo", test_labels_have_a_halo);
    g_test_add_func("/proof/frame/scale-bars", test_scale_bars);
    g_test_add_func("/proof/frame/lines", test_lines_are_closed_or_dots);
    g_test_add_func("/proof/frame/tones", test_tones_rise);
    g_test_add_func("/proof/frame/sizes", test_sizes_of_pictures);
    g_test_add_func("/proof/frame/bed", test_the_bed_and_its_sheet);
    return g_test_run();
}
