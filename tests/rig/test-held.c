/* held: virtual machines of held.txt, each with its program: figures, answers, ink by pen, and what a scanner sees. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"
#include "support/held.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* What a case draws that has no program of its own: lines there and back, an arc, a dot, a second pen. */
static const char usual[] =
    "G21 G90\nG28\n(pen black)\nM5\nG4 P0.2\nG0 X20 Y15\nM3 S40\nG4 P0.2\n"
    "G1 X60 Y15 F600\nX60 Y45\nX20\nY15\nM5\nG4 P0.2\n"
    "G0 X70 Y20\nM3 S40\nG4 P0.2\nG2 X90 Y20 I10 J0 F400\nG1 X72 Y40 F900\n"
    "M5\nG4 P0.1\nG0 X45 Y30\nM3 S40\nG4 P0.2\nM5\nG4 P0.2\nM0\n(pen red)\n"
    "G0 X15 Y50\nM3 S40\nG4 P0.15\nG1 X95 Y55 F720\nX15.5 Y50.5\nM5\nG4 P0.2\n"
    "G0 X0 Y0\nM2\n";

static void on_talk(const char *line, const char *answer, void *user)
{
    if (g_str_has_prefix(answer, "taken"))
        return;
    g_autofree char *shown = g_strescape(line, NULL), *said = g_strescape(answer, NULL);
    g_string_append_printf(user, "  %s: %s\n", shown, said);
}

static void say_figures(GString *out, const DtRig *r)
{
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_string_append_printf(
        out,
        "  %.3f s, homing %.3f s %u times, %u stops of %.2f s, clock %.2f s\n"
        "  lines: %u taken, %u refused, %u replies, %" G_GUINT64_FORMAT " bytes, %u lost\n"
        "  ends: %u hits, steps %u lost, %u slipped, %" G_GUINT64_FORMAT " and %" G_GUINT64_FORMAT
        "\n  ink %.2f mm, travel %.2f, dry %.2f, drag %.2f, %u lifts, end %.3f %.3f\n"
        "  %u without stop, %u starved, %u faults%s%s%s%s\n",
        f.time_s, f.home_s, f.homings, f.pen_changes, f.stop_s, dt_rig_clock_s(r), f.lines_taken,
        f.lines_refused, f.replies, f.bytes, f.bytes_lost, f.endstop_hits, f.steps_lost,
        f.steps_slipped, f.steps[0], f.steps[1], f.ink_mm, f.travel_mm, f.dry_mm, f.drag_mm,
        f.lifts, f.end_x, f.end_y, f.changes_without_stop, f.starved, f.faults,
        f.homed ? ", homed" : "", f.motors_off ? ", motors off" : "",
        f.stopped_on_switch ? ", on a switch" : "", f.pen_up_at_end ? ", pen up" : "");
}

static void say_ink(GString *out, const DtRig *r)
{
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++) {
        const DtRigStroke k = dt_rig_stroke(r, i);
        double length = 0, x = 0, y = 0;
        for (size_t j = 0; j < k.n; j++) {
            x += k.xy[2 * j] / (double)k.n;
            y += k.xy[2 * j + 1] / (double)k.n;
            if (j > 0)
                length += hypot(k.xy[2 * j] - k.xy[2 * j - 2], k.xy[2 * j + 1] - k.xy[2 * j - 1]);
        }
        g_string_append_printf(out,
                               "  %s: %zu points, %.3f mm from %.3f %.3f to %.3f %.3f about %.2f "
                               "%.2f, %.3f to %.3f s\n",
                               k.pen, k.n, length, k.xy[0], k.xy[1], k.xy[2 * k.n - 2],
                               k.xy[2 * k.n - 1], x, y, k.from_s, k.to_s);
    }
}

/* Size of the picture, mean light, how often it is light and dark, and where it is dark. */
static void say_scan(GString *out, const DtRig *r)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *path = g_build_filename(folder, "scan.png", NULL);
    dt_rig_scan(r, path, &error);
    g_assert_no_error(error);
    cairo_surface_t *s = cairo_image_surface_create_from_png(path);
    g_assert_cmpint(cairo_surface_status(s), ==, CAIRO_STATUS_SUCCESS);
    const int w = cairo_image_surface_get_width(s), h = cairo_image_surface_get_height(s);
    double light = 0, square = 0, dark = 0, x = 0, y = 0;
    for (int row = 0; row < h; row++)
        for (int column = 0; column < w; column++) {
            const unsigned char *at = cairo_image_surface_get_data(s) +
                                      row * cairo_image_surface_get_stride(s) + 4 * column;
            const double v = at[1], d = v < 100;
            light += v;
            square += v * v;
            dark += d;
            x += d * column;
            y += d * row;
        }
    const double n = (double)w * h;
    g_string_append_printf(
        out, "  scan: %d by %d, light %.2f (%.2f), %.3f dark in 1000, about %.2f %.2f\n", w, h,
        light / n, sqrt(MAX(0, square / n - light / n * light / n)), 1000 * dark / n,
        x / MAX(1, dark), y / MAX(1, dark));
    cairo_surface_destroy(s);
    g_unlink(path);
    g_rmdir(folder);
}

static char *figures_of(const HeldCase *c)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *file = held_given(c, "rig"), *own = held_given(c, "program"),
                    *scan = held_given(c, "scan");
    g_autoptr(DtRig) r = dt_rig_new_from_text(file, "rig", &error);
    g_assert_no_error(error);
    GString *out = g_string_new(NULL);
    const char *program = *own ? own : usual;
    dt_rig_listen(r, on_talk, out);
    dt_rig_run_text(r, program, strlen(program));
    say_figures(out, r);
    say_ink(out, r);
    g_auto(GStrv) scans = g_strsplit(scan, "\n", -1);
    for (char **one = scans; *one; one++)
        if (**one) { /* "KEY = VALUE; KEY = VALUE" */
            g_autofree char *keys = g_strdelimit(g_strdup(*one), ";", '\n'),
                            *text = g_strconcat("[scan]\n", keys, "\n", NULL);
            dt_rig_set_scan(r, text, "scan", &error);
            g_assert_no_error(error);
            say_scan(out, r);
        }
    return g_string_free(out, FALSE);
}

int main(int argc, char **argv)
{
    return held_main(argc, argv, "held.txt", "/rig/held", figures_of);
}
