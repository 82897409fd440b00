/* rig: the files that it writes of the ink: the JSON against the strokes and figures in memory, the picture by where there
 * is which colour. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"
#include "support/folder.h"
#include "support/font-leaks.h"

#include <cairo.h>
#include <json-glib/json-glib.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define UP "M5\nG4 P0.2\n"
#define DOWN "M3 S40\nG4 P0.2\n"

static const char truth[] =
    "[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0\nbacklash_y=0\nwave=0\n"
    "[controller]\ntravel_x=120\ntravel_y=80\n[pens]\nrust=#c04020 2\nsky=#2060e0 1\n";
/* An L in one colour, a line and a dot in another; one line too many. */
static const char program[] =
    "G28\n(pen rust)\nG0 X20 Y20\n" DOWN "G1 X60 F600\nG1 Y40.25\n" UP
    "M0\n(pen sky)\nG0 X10 Y70\n" DOWN "G1 X50 F600\n" UP "G0 X80 Y60\n" DOWN UP "G5 X1\n";

typedef struct {
    DtRig *rig;
    char *folder;
} Made;

static void made_init(Made *m, const char *keys)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strconcat(truth, keys, NULL);
    m->rig = dt_rig_new_from_text(text, "test", &error);
    g_assert_no_error(error);
    dt_rig_run_text(m->rig, program, strlen(program));
    m->folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_assert_true(dt_rig_write(m->rig, m->folder, &error));
    g_assert_no_error(error);
}

static void made_clear(Made *m)
{
    dt_rig_free(m->rig);
    g_assert_true(folder_remove(m->folder));
    g_free(m->folder);
}

static void check_number(JsonObject *o, const char *name, double value)
{
    g_assert_true(json_object_has_member(o, name));
    g_assert_cmpfloat_with_epsilon(json_object_get_double_member(o, name), value, 0.5001e-4);
}

static void check_figures(JsonObject *o, const DtRigFigures *f)
{
    check_number(o, "time_s", f->time_s);
    check_number(o, "home_s", f->home_s);
    check_number(o, "stop_s", f->stop_s);
    check_number(o, "ink_mm", f->ink_mm);
    check_number(o, "travel_mm", f->travel_mm);
    check_number(o, "dry_mm", f->dry_mm);
    check_number(o, "drag_mm", f->drag_mm);
    check_number(o, "end_x", f->end_x);
    check_number(o, "end_y", f->end_y);
    check_number(o, "lines_taken", f->lines_taken);
    check_number(o, "lines_refused", f->lines_refused);
    check_number(o, "endstop_hits", f->endstop_hits);
    check_number(o, "bytes_lost", f->bytes_lost);
    check_number(o, "steps_lost", f->steps_lost);
    check_number(o, "steps_slipped", f->steps_slipped);
    check_number(o, "lifts", f->lifts);
    check_number(o, "homings", f->homings);
    check_number(o, "pen_changes", f->pen_changes);
    check_number(o, "changes_without_stop", f->changes_without_stop);
    check_number(o, "steps_x", (double)f->steps[0]);
    check_number(o, "steps_y", (double)f->steps[1]);
    check_number(o, "replies", f->replies);
    check_number(o, "starved", f->starved);
    check_number(o, "bytes", (double)f->bytes);
    check_number(o, "faults", f->faults);
    g_assert_cmpint(json_object_get_boolean_member(o, "homed"), ==, f->homed);
    g_assert_cmpint(json_object_get_boolean_member(o, "motors_off"), ==, f->motors_off);
    g_assert_cmpint(json_object_get_boolean_member(o, "stopped_on_switch"), ==,
                    f->stopped_on_switch);
    g_assert_cmpint(json_object_get_boolean_member(o, "pen_up_at_end"), ==, f->pen_up_at_end);
    g_assert_cmpuint(json_object_get_size(o), ==, 29);
}

static void test_json_holds_all_strokes_and_figures(void)
{
    Made m;
    DtRigFigures f;
    g_autoptr(GError) error = NULL;
    g_autoptr(JsonParser) parser = json_parser_new();
    made_init(&m, "");
    dt_rig_figures(m.rig, &f);
    g_autofree char *path = g_build_filename(m.folder, "ink.json", NULL);
    json_parser_load_from_file(parser, path, &error);
    g_assert_no_error(error);
    JsonObject *o = json_node_get_object(json_parser_get_root(parser));
    g_assert_cmpstr(json_object_get_string_member(o, "unit"), ==, "mm");
    JsonArray *bed = json_object_get_array_member(o, "bed"),
              *strokes = json_object_get_array_member(o, "strokes");
    g_assert_cmpfloat(json_array_get_double_element(bed, 0), ==, 120);
    g_assert_cmpfloat(json_array_get_double_element(bed, 1), ==, 80);
    check_figures(json_object_get_object_member(o, "figures"), &f);
    g_assert_cmpuint(f.lines_refused, ==, 1);
    g_assert_cmpuint(dt_rig_stroke_count(m.rig), ==, 3);
    g_assert_cmpuint(json_array_get_length(strokes), ==, 3);
    for (guint i = 0; i < 3; i++) {
        const DtRigStroke k = dt_rig_stroke(m.rig, i);
        JsonObject *s = json_array_get_object_element(strokes, i);
        JsonArray *points = json_object_get_array_member(s, "points");
        g_assert_cmpstr(json_object_get_string_member(s, "pen"), ==, i == 0 ? "rust" : "sky");
        check_number(s, "from_s", k.from_s);
        check_number(s, "to_s", k.to_s);
        g_assert_cmpuint(json_array_get_length(points), ==, k.n);
        for (guint j = 0; j < k.n; j++)
            for (guint axis = 0; axis < 2; axis++)
                g_assert_cmpfloat_with_epsilon(
                    json_array_get_double_element(json_array_get_array_element(points, j), axis),
                    k.xy[2 * j + axis], 0.5001e-4);
    }
    made_clear(&m);
}

typedef struct {
    int n, x0, y0, x1, y1;
} Area;

/* Where the picture has a colour, as 0xRRGGBB. */
static Area area_of(cairo_surface_t *s, guint32 colour)
{
    Area a = {0, G_MAXINT, G_MAXINT, -1, -1};
    const uint8_t *data = cairo_image_surface_get_data(s);
    const int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < cairo_image_surface_get_height(s); y++)
        for (int x = 0; x < cairo_image_surface_get_width(s); x++) {
            guint32 v;
            memcpy(&v, data + y * stride + 4 * x, 4);
            if ((v & 0xffffff) != colour)
                continue;
            a.n++;
            a.x0 = MIN(a.x0, x);
            a.y0 = MIN(a.y0, y);
            a.x1 = MAX(a.x1, x);
            a.y1 = MAX(a.y1, y);
        }
    return a;
}

/* Six pixels a mm, fewer for a wide bed; a margin of 8 mm all round and 9 mm more for the figures below; home is at the lower
 * left. */
static void test_the_picture_shows_the_ink_in_its_colours(void)
{
    for (int wide = 0; wide < 2; wide++) {
        Made m;
        made_init(&m, wide ? "[controller]\ntravel_x=584\n" : "");
        const double w = (wide ? 584 : 120) + 16, h = 80 + 16 + 9, scale = wide ? 4 : 6;
        g_autofree char *path = g_build_filename(m.folder, "ink.png", NULL);
        cairo_surface_t *s = cairo_image_surface_create_from_png(path);
        g_assert_cmpint(cairo_surface_status(s), ==, CAIRO_STATUS_SUCCESS);
        g_assert_cmpint(cairo_image_surface_get_width(s), ==, (int)(w * scale));
        g_assert_cmpint(cairo_image_surface_get_height(s), ==, (int)(h * scale));
        const Area rust = area_of(s, 0xc04020), sky = area_of(s, 0x2060e0);
        /* the L, 2 mm wide with round ends, from (20,20) to (60,20) and up to (60,40.25) */
        g_assert_cmpint(ABS(rust.x0 - (int)((8 + 19) * scale)), <=, 2);
        g_assert_cmpint(ABS(rust.x1 - (int)((8 + 61) * scale)), <=, 2);
        g_assert_cmpint(ABS(rust.y0 - (int)((8 + 80 - 41.25) * scale)), <=, 2);
        g_assert_cmpint(ABS(rust.y1 - (int)((8 + 80 - 19) * scale)), <=, 2);
        g_assert_cmpfloat(fabs(rust.n / (scale * scale) / ((40 + 20.25) * 2 + G_PI / 4 * 4) - 1), <,
                          0.1);
        /* the line and the dot */
        g_assert_cmpint(ABS(sky.x0 - (int)((8 + 9.5) * scale)), <=, 2);
        g_assert_cmpint(ABS(sky.x1 - (int)((8 + 80.5) * scale)), <=, 2);
        g_assert_cmpint(ABS(sky.y0 - (int)((8 + 80 - 70.5) * scale)), <=, 2);
        g_assert_cmpint(ABS(sky.y1 - (int)((8 + 80 - 59.5) * scale)), <=, 2);
        cairo_surface_destroy(s);
        g_autofree char *svg = g_build_filename(m.folder, "ink.svg", NULL), *text = NULL;
        g_autofree char *size = g_strdup_printf("width=\"%gmm\" height=\"%gmm\"", w, h);
        g_assert_true(g_file_get_contents(svg, &text, NULL, NULL));
        g_assert_nonnull(strstr(text, size));
        made_clear(&m);
    }
}

/* Of the pen that the file describes, all three colours and the width. */
static void test_pens_are_as_the_file_has_them(void)
{
    static const struct {
        const char *line, *why; /* NULL: right */
    } cases[] = {{"a=#102030 0.4\n", NULL},
                 {"a=#102030 0.4 0.3 -0.2\n", NULL},
                 {"a=#102030 20\n", NULL},
                 {"a=#102030 20.1\n", "a colour and a tip width"},
                 {"a=#102030 0\n", "a colour and a tip width"},
                 {"a=#102030\n", "a colour and a tip width"},
                 {"a=#102030 0.4 0.3\n", "a colour and a tip width"},
                 {"a=102030 0.4\n", "a colour and a tip width"},
                 {"a=#102030 0.4 x 1\n", "the place in the holder"},
                 {"a=#102030 0.4 51 0\n", "the place in the holder"},
                 {"a=#102030 0.4 0 -51\n", "the place in the holder"},
                 {"a=#102030 0.4 -50 50\n", NULL}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text = g_strconcat("[pens]\n", cases[i].line, NULL);
        DtRig *r = dt_rig_new_from_text(text, "my.rig", &error);
        if (cases[i].why == NULL) {
            g_assert_no_error(error);
            dt_rig_free(r);
            continue;
        }
        g_assert_null(r);
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_true(g_str_has_prefix(error->message, "my.rig:2: a: "));
        g_assert_nonnull(strstr(error->message, cases[i].why));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/write/json", test_json_holds_all_strokes_and_figures);
    g_test_add_func("/write/picture", test_the_picture_shows_the_ink_in_its_colours);
    g_test_add_func("/write/pens", test_pens_are_as_the_file_has_them);
    return g_test_run();
}
