/* look: what of the artwork is compared with the ink. */
#include "job.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* Paper that the artwork paints white is not compared: with a field on a white page the look is that of the field. */
static void test_white_is_no_paint(void)
{
    static const char *const shapes[] = {"<path d='M119.2 -29.2h61.6v-30.4h-61.6z' fill='#b33'/>",
                                         "<rect y='-148' width='210' height='148' fill='#fff'/>"
                                         "<path d='M119.2 -29.2h61.6v-30.4h-61.6z' fill='#b33'/>",
                                         "<rect y='-148' width='210' height='148' fill='#fff'/>"};
    Job j;
    job_make(&j);
    DtProofLook look[3];
    for (int i = 0; i < 3; i++) {
        g_autofree char *svg =
            g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='210mm' height='148mm'"
                            " viewBox='0 -148 210 148'>%s</svg>",
                            shapes[i]);
        g_autoptr(DtDrawing) d =
            dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, NULL);
        dt_art_place(d, (DtAffine){1, 0, 0, -1, 0, 148});
        const DtProofInput in = {.profile = j.p, .drawing = d, .sequence = &j.s};
        g_assert_true(dt_proof_look(&in, &look[i]) == (i < 2));
    }
    g_assert_cmpfloat(look[0].far, >, 5);
    g_assert_cmpfloat_with_epsilon(look[0].far, look[1].far, 0.5);
    g_assert_cmpfloat_with_epsilon(look[0].near, look[1].near, 0.5);
    job_clear(&j);
}

/* Pixels of a picture in a colour, but for what rounding leaves. */
static unsigned count_pixels(const char *path, DtColour c)
{
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    g_assert_cmpint(cairo_surface_status(image), ==, CAIRO_STATUS_SUCCESS);
    const unsigned char *data = cairo_image_surface_get_data(image);
    const int stride = cairo_image_surface_get_stride(image);
    const double want[3] = {c.b, c.g, c.r};
    unsigned n = 0;
    for (int y = 0; y < cairo_image_surface_get_height(image); y++)
        for (int x = 0; x < cairo_image_surface_get_width(image); x++) {
            gboolean is_it = TRUE;
            for (int k = 0; k < 3; k++)
                is_it &= fabs(data[y * stride + 4 * x + k] - 255 * want[k]) < 3;
            n += is_it;
        }
    cairo_surface_destroy(image);
    return n;
}

/* Ink lets the light through: where fields of two pens cross, 20 by 20 mm, the picture has the product of their
 * colours, whichever is drawn first; neither field lets the travel across it show. */
static void test_inks_of_two_pens_multiply(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *path = g_build_filename(folder, "two.png", NULL);
    for (unsigned first = 0; first < 2; first++) {
        g_auto(DtSequence) s;
        dt_sequence_init(&s);
        p->rack.pens[0].colour = (DtColour){0.9, 0.5, 0.4, 1};
        p->rack.pens[1].colour = (DtColour){0.5, 0.8, 0.6, 1};
        p->rack.pens[0].tip = p->rack.pens[1].tip = 1.5;
        const DtBox fields[2] = {{80, 40, 100, 100}, {60, 60, 120, 80}};
        job_add_hatch(&s, first, fields[first]);
        job_add_hatch(&s, 1 - first, fields[1 - first]);
        const DtProofInput in = {.profile = p, .sequence = &s, .title = "two"};
        g_assert_true(dt_proof_write(&in, path, 1200, NULL));
        const double px_mm = (1200 - 2 * 28 - 26 - 268) / 222.0,
                     each = 21 * 20.5 * px_mm * px_mm; /* mm of the crossing, with the tips */
        const unsigned both = count_pixels(path, (DtColour){0.45, 0.4, 0.24, 1});
        g_test_message("%u pixels of both, about %.0f", both, each);
        g_assert_cmpfloat_with_epsilon(both, each, 0.08 * each);
        for (int pen = 0; pen < 2; pen++)
            g_assert_cmpfloat_with_epsilon(count_pixels(path, p->rack.pens[pen].colour), 2 * each,
                                           0.15 * each);
    }
    g_unlink(path);
    g_rmdir(folder);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/proof/look/white", test_white_is_no_paint);
    g_test_add_func("/proof/look/two-inks", test_inks_of_two_pens_multiply);
    return g_test_run();
}
