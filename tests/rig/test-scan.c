/* rig: what a scanner sees of the ink: where lines lie in the picture, how wide and how dark they are. */
#define _GNU_SOURCE /* memmem() */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

#define RIGID                                                                                      \
    "[pens]\npen=#000000 0.4\n[pen]\nmerge=0.0005\n"                                               \
    "[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0\nbacklash_y=0\nwave=0\n"                \
    "[scan]\nsheet_w=100\nsheet_h=60\nsheet_x=10\nsheet_y=20\nborder=0\nnoise=0\nuneven=0\nblur="  \
    "0\n"                                                                                          \
    "paper=1\n"
/* One mark of 20 mm at right angles to each axis: at 40 mm along X, at 50 mm along Y. */
#define MARKS                                                                                      \
    "G28\nG0 X40 Y40\nM3 S40\nG4 P0.2\nG1 Y60 F600\nM5\nG4 P0.2\n"                                 \
    "G0 X60 Y50\nM3 S40\nG4 P0.2\nG1 X80 F600\nM5\nG4 P0.2\n"

typedef struct {
    cairo_surface_t *surface;
    const uint8_t *data;
    int w, h;
    size_t stride;
} Picture;

static Picture scan(const char *keys)
{
    g_autofree char *text = g_strconcat(RIGID, keys, NULL);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new_from_text(text, "test", &error);
    g_assert_no_error(error);
    dt_rig_run_text(r, MARKS, strlen(MARKS));
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "scan.png", NULL);
    g_assert_true(dt_rig_scan(r, path, &error));
    g_assert_no_error(error);
    Picture p = {cairo_image_surface_create_from_png(path), NULL, 0, 0, 0};
    g_assert_cmpint(cairo_surface_status(p.surface), ==, CAIRO_STATUS_SUCCESS);
    p.data = cairo_image_surface_get_data(p.surface);
    p.w = cairo_image_surface_get_width(p.surface);
    p.h = cairo_image_surface_get_height(p.surface);
    p.stride = (size_t)cairo_image_surface_get_stride(p.surface);
    g_unlink(path);
    g_rmdir(folder);
    return p;
}

static double level(const Picture *p, int x, int y)
{
    return p->data[(size_t)y * p->stride + (size_t)x * 4 + 1] / 255.0;
}

/* The share of the light that is missing: pixels are coded on the scale of IEC 61966-2-1, and a pixel that ink covers
 * by half reflects half. */
static double darkness(const Picture *p, int x, int y)
{
    const double v = level(p, x, y);
    return 1 - (v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4));
}

/* Ink area in square pixels and its middle, within a window given in shares of the picture. */
static double weigh(const Picture *p, const double window[4], double middle[2])
{
    double sum = 0, x_sum = 0, y_sum = 0;
    for (int y = (int)(window[1] * p->h); y < (int)(window[3] * p->h); y++)
        for (int x = (int)(window[0] * p->w); x < (int)(window[2] * p->w); x++) {
            const double d = darkness(p, x, y);
            sum += d;
            x_sum += d * (x + 0.5);
            y_sum += d * (y + 0.5);
        }
    middle[0] = x_sum / sum;
    middle[1] = y_sum / sum;
    return sum;
}

static const double left_part[4] = {0.02, 0.02, 0.42, 0.98};

/* The sheet begins at 10, 20 on the bed, so that the first mark's middle is 30, 30 mm from its lower
 * left corner. */
static void test_ink_is_where_it_lies_on_the_sheet(void)
{
    const double px = 300 / 25.4;
    Picture p = scan("dpi=300\n");
    double middle[2];
    g_assert_cmpint(p.w, ==, (int)ceil(100 * px));
    g_assert_cmpint(p.h, ==, (int)ceil(60 * px));
    const double area = weigh(&p, left_part, middle);
    g_assert_cmpfloat_with_epsilon(middle[0], 30 * px, 0.15);
    g_assert_cmpfloat_with_epsilon(middle[1], (60 - 30) * px, 0.3);
    /* 20 mm with round ends, 0.4 mm wide, in ink that is wholly black. */
    g_assert_cmpfloat_with_epsilon(area / (px * px), 20 * 0.4 + G_PI * 0.04, 0.1);
    cairo_surface_destroy(p.surface);
}

static void test_scanners_stretch_and_skew(void)
{
    const double px = 300 / 25.4;
    Picture p = scan("scale_x=1.01\nscale_y=0.98\nskew=1\n");
    double middle[2];
    weigh(&p, left_part, middle);
    g_assert_cmpfloat_with_epsilon(middle[0], 1.01 * (30 + 30 * G_PI / 180) * px, 0.2);
    g_assert_cmpfloat_with_epsilon(middle[1], 0.98 * 30 * px, 0.3);
    cairo_surface_destroy(p.surface);
}

/* A quarter turn clockwise: what was above is to the right. */
static void test_sheets_lie_turned_on_the_glass(void)
{
    const double px = 300 / 25.4;
    Picture p = scan("turn=1\n");
    const double window[4] = {0.02, 0.02, 0.98, 0.42};
    double middle[2];
    g_assert_cmpint(p.w, ==, (int)ceil(60 * px));
    weigh(&p, window, middle);
    g_assert_cmpfloat_with_epsilon(middle[0], 30 * px, 0.3);
    g_assert_cmpfloat_with_epsilon(middle[1], 30 * px, 0.2);
    cairo_surface_destroy(p.surface);
}

/* A blur spreads ink and keeps its sum: across a line of width w its second moment is w*w/12 + sigma*sigma. */
static void test_lenses_blur(void)
{
    const double px = 600 / 25.4;
    double moment[2];
    for (int i = 0; i < 2; i++) {
        Picture p = scan(i ? "dpi=600\nblur=0.2\n" : "dpi=600\n");
        const int y = p.h / 2;
        double sum = 0, first = 0, second = 0;
        for (int x = (int)(25 * px); x < (int)(35 * px); x++) {
            const double d = darkness(&p, x, y);
            sum += d;
            first += d * x;
            second += d * x * x;
        }
        moment[i] = second / sum - first / sum * (first / sum);
        g_assert_cmpfloat_with_epsilon(sum / px, 0.4, 0.02);
        cairo_surface_destroy(p.surface);
    }
    g_assert_cmpfloat_with_epsilon(sqrt(moment[0]) / px, 0.4 / sqrt(12), 0.006);
    g_assert_cmpfloat_with_epsilon(sqrt(moment[1] - moment[0]) / px, 0.2, 0.02);
}

static void test_sensors_are_noisy(void)
{
    Picture p = scan("noise=5\npaper=0.6\n");
    double sum = 0, squares = 0, n = 0;
    for (int y = 20; y < 220; y++)
        for (int x = 20; x < 220; x++, n++) {
            const double v = 255 * level(&p, x, y);
            sum += v;
            squares += v * v;
        }
    g_assert_cmpfloat_with_epsilon(sum / n, 153, 0.5);
    g_assert_cmpfloat_with_epsilon(sqrt(squares / n - sum / n * (sum / n)), 5, 0.2);
    cairo_surface_destroy(p.surface);
}

/* On the scale of IEC 61966-2-1. */
static double coded(double linear)
{
    return linear <= 0.0031308 ? linear * 12.92 : 1.055 * pow(linear, 1 / 2.4) - 0.055;
}

static double linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

/* Paper is a little yellow, the lid is grey, and ink takes its share of the light of the paper. */
static void test_paper_lid_and_ink_are_as_bright_as_they_are(void)
{
    const double px = 300 / 25.4, shade = 128 / 255.0;
    Picture p = scan("paper=0.6\nlid=0.3\nborder=5\n[pens]\npen=#808080 2\n");
    const int x = (int)(50 * px), y = (int)(15 * px), border = (int)(2 * px);
    const uint8_t *blue = p.data + (size_t)y * p.stride + (size_t)x * 4;
    g_assert_cmpint(p.w, ==, (int)ceil(110 * px));
    g_assert_cmpint(p.h, ==, (int)ceil(70 * px));
    g_assert_cmpfloat_with_epsilon(level(&p, x, y), 0.6, 0.004);
    g_assert_cmpfloat_with_epsilon(blue[0] / 255.0, 0.985 * 0.6, 0.004);
    g_assert_cmpfloat_with_epsilon(blue[2] / 255.0, 0.6, 0.004);
    for (int i = 0; i < 4; i++)
        g_assert_cmpfloat_with_epsilon(
            level(&p, i % 2 ? border : p.w - border, i < 2 ? y : p.h - border), 0.3, 0.01);
    g_assert_cmpfloat_with_epsilon(level(&p, (int)(35 * px), (int)(35 * px)),
                                   coded(linear(shade) * linear(0.6)), 0.01);
    cairo_surface_destroy(p.surface);
}

/* The pixels as bright as `v`: their area, mm^2, their middle, mm, and the direction in which they are longest. */
typedef struct {
    double area, middle[2], direction;
} Patch;

static Patch patch_of(const Picture *p, double px, const double *levels, int n_levels)
{
    double n = 0, sum[2] = {0, 0}, xx = 0, yy = 0, xy = 0;
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++)
            for (int i = 0; i < n_levels; i++)
                if (fabs(level(p, x, y) - levels[i]) < 0.04) {
                    const double at[2] = {(x + 0.5) / px, (y + 0.5) / px};
                    n++;
                    sum[0] += at[0];
                    sum[1] += at[1];
                    xx += at[0] * at[0];
                    yy += at[1] * at[1];
                    xy += at[0] * at[1];
                }
    const double mx = sum[0] / n, my = sum[1] / n;
    return (Patch){n / (px * px),
                   {mx, my},
                   atan2(2 * (xy / n - mx * my), xx / n - mx * mx - yy / n + my * my) / 2};
}

/* A card with round corners of 3.18 mm (ISO/IEC 7810); its middle, 0.6 of its size each way, is printed and two thirds as
 * bright. */
static void test_a_card_hides_what_lies_above_it(void)
{
    static const double levels[] = {0.6, 0.4};
    const double px = 300 / 25.4, w = 42, h = 20;
    Picture p = scan("card=0.6\ncard_x=50\ncard_y=28\ncard_turn=20\ncard_w=42\ncard_h=20\n");
    const Patch all = patch_of(&p, px, levels, 2), print = patch_of(&p, px, levels + 1, 1);
    g_assert_cmpfloat_with_epsilon(all.area, w * h - (4 - G_PI) * 3.18 * 3.18, 9);
    g_assert_cmpfloat_with_epsilon(print.area, 0.36 * w * h, 5);
    for (int i = 0; i < 2; i++) {
        const Patch *patch = i ? &all : &print;
        g_assert_cmpfloat_with_epsilon(patch->middle[0], 50, 0.1);
        g_assert_cmpfloat_with_epsilon(patch->middle[1], 28, 0.1);
        g_assert_cmpfloat_with_epsilon(patch->direction, 20 * G_PI / 180, 0.005);
    }
    cairo_surface_destroy(p.surface);
}

/* The width of the first mark in a row of pixels, and its middle, mm. */
static double width_in_row(const Picture *p, double px, int y, double *middle)
{
    double sum = 0, first = 0;
    for (int x = (int)(24 * px); x < (int)(36 * px); x++) {
        const double d = darkness(p, x, y);
        sum += d;
        first += d * (x + 0.5);
    }
    *middle = first / sum / px;
    return sum / px;
}

/* By up to 30 % to either side, about as often to one as to the other, and not from one tenth of a mm to the next. */
static void test_lines_are_of_uneven_width(void)
{
    const double px = 600 / 25.4, tenth = 0.1 * px;
    Picture p = scan("dpi=600\nuneven=0.3\n");
    double sum = 0, squares = 0, n = 0, jump = 0, before = 0, middle;
    for (double y = 21 * px; y < 39 * px; y += tenth, n++) {
        const double w = width_in_row(&p, px, (int)y, &middle);
        g_assert_cmpfloat(w, >, 0.4 * 0.69);
        g_assert_cmpfloat(w, <, 0.4 * 1.31);
        jump = n > 0 ? MAX(jump, fabs(w - before)) : 0;
        before = w;
        sum += w;
        squares += w * w;
    }
    const double sd = sqrt(squares / n - sum / n * (sum / n));
    g_assert_cmpfloat(fabs(sum / n - 0.4), <, 0.05);
    g_assert_cmpfloat(sd, >, 0.025);
    g_assert_cmpfloat(sd, <, 0.1);
    g_assert_cmpfloat(jump, <, 0.06); /* 0.24 mm within 1 mm at most, by a smooth step */
    cairo_surface_destroy(p.surface);
}

/* Across by 1 mm sin(2 pi y / 60 mm), along by 1 mm sin(0.7 of that angle + 1). */
static void test_carriages_run_in_waves(void)
{
    const double px = 300 / 25.4;
    Picture p = scan("wave=2\nwave_length=60\n");
    for (double y = 22; y <= 38; y += 2) { /* on the glass */
        const double turn = 2 * G_PI * y / 60, seen = y + sin(0.7 * turn + 1);
        double middle;
        width_in_row(&p, px, (int)(seen * px), &middle);
        g_assert_cmpfloat_with_epsilon(middle, 30 + sin(turn), 0.02);
    }
    cairo_surface_destroy(p.surface);
}

static void test_only_pictures_are_written(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new_from_text("[scan]\ndpi=50\n", "test", &error);
    g_assert_no_error(error);
    g_assert_false(dt_rig_scan(r, "scan.pdf", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    g_clear_error(&error);
    g_assert_false(dt_rig_scan(r, "/proc/none/scan.png", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "scan.JPG", NULL);
    g_assert_true(dt_rig_scan(r, path, &error));
    gsize n;
    g_autofree char *bytes = dt_base_read_file(path, 1 << 24, &n, &error);
    g_assert_no_error(error);
    /* ISO/IEC 10918-1: start of image, end of image. */
    g_assert_cmpmem(bytes, 2, "\xff\xd8", 2);
    g_assert_cmpmem(bytes + n - 2, 2, "\xff\xd9", 2);
    /* JFIF (ECMA TR/98): after APP0, its length, "JFIF\0" and the version, dots per inch and how many each way. */
    g_assert_cmpmem(bytes + 13, 5, "\x01\x00\x32\x00\x32", 5);
    g_assert_nonnull(memmem(bytes, MIN(n, 400),
                            "\xff\xfe\0\x0a"
                            "drawtrue",
                            12)); /* a comment */
    g_unlink(path);
    g_rmdir(folder);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/scan/place", test_ink_is_where_it_lies_on_the_sheet);
    g_test_add_func("/scan/stretch-and-skew", test_scanners_stretch_and_skew);
    g_test_add_func("/scan/turned", test_sheets_lie_turned_on_the_glass);
    g_test_add_func("/scan/blur", test_lenses_blur);
    g_test_add_func("/scan/noise", test_sensors_are_noisy);
    g_test_add_func("/scan/brightness", test_paper_lid_and_ink_are_as_bright_as_they_are);
    g_test_add_func("/scan/card", test_a_card_hides_what_lies_above_it);
    g_test_add_func("/scan/uneven", test_lines_are_of_uneven_width);
    g_test_add_func("/scan/wave", test_carriages_run_in_waves);
    g_test_add_func("/scan/files", test_only_pictures_are_written);
    return g_test_run();
}
