/* rig: what a scanner sees of the ink: where lines lie in the picture, how wide and how dark they are. */
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
    g_test_add_func("/scan/files", test_only_pictures_are_written);
    return g_test_run();
}
