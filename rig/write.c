/* write: the ink and the figures as JSON, SVG and PNG. */
#include "inside.h"

#include <cairo-svg.h>
#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* JSON -------------------------------------------------------------------------------------- */

static void add_text(GString *s, const char *text)
{
    g_string_append_c(s, '"');
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            g_string_append_c(s, '\\');
        if ((unsigned char)*text < ' ')
            g_string_append_printf(s, "\\u%04x", (unsigned char)*text);
        else
            g_string_append_c(s, *text);
    }
    g_string_append_c(s, '"');
}

/* Four digits after the point: a tenth of a micrometre. */
static void add_number(GString *s, double value)
{
    gint64 n = llround(value * 1e4);
    if (n < 0)
        g_string_append_c(s, '-');
    guint64 size = (guint64)ABS(n);
    g_string_append_printf(s, "%" G_GUINT64_FORMAT, size / 10000);
    unsigned rest = (unsigned)(size % 10000);
    if (rest == 0)
        return;
    char digits[6] = {'.',
                      (char)('0' + rest / 1000),
                      (char)('0' + rest / 100 % 10),
                      (char)('0' + rest / 10 % 10),
                      (char)('0' + rest % 10),
                      0};
    for (int i = 4; digits[i] == '0'; i--)
        digits[i] = '\0';
    g_string_append(s, digits);
}

static void add_key_number(GString *s, const char *key, double value)
{
    g_string_append_printf(s, "  \"%s\": ", key);
    add_number(s, value);
    g_string_append(s, ",\n");
}

char *dt_rig_figures_json(const DtRig *r)
{
    DtRigFigures f;
    dt_rig_figures(r, &f);
    GString *s = g_string_new("{\n");
    const struct {
        const char *key;
        double value;
    } numbers[] = {
        {"time_s", f.time_s},
        {"home_s", f.home_s},
        {"stop_s", f.stop_s},
        {"ink_mm", f.ink_mm},
        {"travel_mm", f.travel_mm},
        {"dry_mm", f.dry_mm},
        {"drag_mm", f.drag_mm},
        {"end_x", f.end_x},
        {"end_y", f.end_y},
        {"lines_taken", f.lines_taken},
        {"lines_refused", f.lines_refused},
        {"endstop_hits", f.endstop_hits},
        {"bytes_lost", f.bytes_lost},
        {"steps_lost", f.steps_lost},
        {"steps_slipped", f.steps_slipped},
        {"lifts", f.lifts},
        {"homings", f.homings},
        {"pen_changes", f.pen_changes},
        {"changes_without_stop", f.changes_without_stop},
        {"steps_x", (double)f.steps[0]},
        {"steps_y", (double)f.steps[1]},
        {"replies", f.replies},
        {"starved", f.starved},
        {"bytes", (double)f.bytes},
        {"faults", f.faults},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(numbers); i++)
        add_key_number(s, numbers[i].key, numbers[i].value);
    g_string_append_printf(s, "  \"homed\": %s,\n", f.homed ? "true" : "false");
    g_string_append_printf(s, "  \"motors_off\": %s,\n", f.motors_off ? "true" : "false");
    g_string_append_printf(s, "  \"stopped_on_switch\": %s,\n",
                           f.stopped_on_switch ? "true" : "false");
    g_string_append_printf(s, "  \"pen_up_at_end\": %s\n}", f.pen_up_at_end ? "true" : "false");
    return g_string_free(s, FALSE);
}

static void add_stroke(GString *s, const DtRig *r, size_t i)
{
    DtRigStroke k = dt_rig_stroke(r, i);
    g_string_append(s, i ? ",\n {\"pen\": " : "\n {\"pen\": ");
    add_text(s, k.pen);
    g_string_append(s, ", \"from_s\": ");
    add_number(s, k.from_s);
    g_string_append(s, ", \"to_s\": ");
    add_number(s, k.to_s);
    g_string_append(s, ", \"points\": [");
    for (size_t j = 0; j < k.n; j++) {
        g_string_append(s, j ? ",[" : "[");
        add_number(s, k.xy[2 * j]);
        g_string_append_c(s, ',');
        add_number(s, k.xy[2 * j + 1]);
        g_string_append_c(s, ']');
    }
    g_string_append(s, "]}");
}

static gboolean write_json(const DtRig *r, const char *folder, GError **error)
{
    g_autofree char *path = g_build_filename(folder, "ink.json", NULL);
    g_autofree char *figures = dt_rig_figures_json(r);
    g_autoptr(GString) s = g_string_new("{\"unit\": \"mm\",\n\"figures\": ");
    g_string_append_printf(s, "%s,\n\"bed\": [", figures);
    add_number(s, r->truth.travel[0] * r->truth.scale[0]);
    g_string_append_c(s, ',');
    add_number(s, r->truth.travel[1] * r->truth.scale[1]);
    g_string_append(s, "],\n\"strokes\": [");
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++)
        add_stroke(s, r, i);
    g_string_append(s, "\n]}\n");
    return dt_base_write_file(path, s->str, s->len, error);
}

/* Pictures ---------------------------------------------------------------------------------- */

static const double margin = 8, strip = 9;

static void size_of(const DtRig *r, double *w, double *h)
{
    *w = r->truth.travel[0] * r->truth.scale[0] + 2 * margin;
    *h = r->truth.travel[1] * r->truth.scale[1] + 2 * margin + strip;
}

static void draw_bed(cairo_t *c, double w, double h)
{
    cairo_set_source_rgb(c, 0.925, 0.905, 0.87);
    cairo_paint(c);
    cairo_rectangle(c, margin, margin, w - 2 * margin, h - 2 * margin - strip);
    cairo_set_source_rgb(c, 1, 1, 1);
    cairo_fill_preserve(c);
    cairo_set_source_rgb(c, 0.6, 0.57, 0.5);
    cairo_set_line_width(c, 0.25);
    cairo_stroke(c);
    for (int x = 0; x <= w - 2 * margin; x += 10) {
        double tick = x % 50 == 0 ? 2.4 : 1.2;
        cairo_move_to(c, margin + x, h - margin - strip);
        cairo_rel_line_to(c, 0, tick);
    }
    for (int y = 0; y <= h - 2 * margin - strip; y += 10) {
        double tick = y % 50 == 0 ? 2.4 : 1.2;
        cairo_move_to(c, margin, h - margin - strip - y);
        cairo_rel_line_to(c, -tick, 0);
    }
    cairo_stroke(c);
}

static void draw_strokes(cairo_t *c, const DtRig *r)
{
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++) {
        DtRigStroke k = dt_rig_stroke(r, i);
        const RigPen *pen = dt_rig_truth_pen(&r->truth, k.pen);
        cairo_set_source_rgb(c, pen->r, pen->g, pen->b);
        cairo_set_line_width(c, pen->tip);
        cairo_move_to(c, k.xy[0], k.xy[1]);
        if (k.n == 1)
            cairo_line_to(c, k.xy[0], k.xy[1]);
        for (size_t j = 1; j < k.n; j++)
            cairo_line_to(c, k.xy[2 * j], k.xy[2 * j + 1]);
        cairo_stroke(c);
    }
}

static void draw_figures(cairo_t *c, const DtRig *r, double h)
{
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_autofree char *text = g_strdup_printf(
        _("ink %.1f m in %u strokes   travel %.1f m   time %.0f min %02.0f s   refused %u   "
          "end stops %u   lost bytes %u   dry %.1f mm   drag %.1f mm"),
        f.ink_mm / 1000, (unsigned)dt_rig_stroke_count(r), f.travel_mm / 1000, floor(f.time_s / 60),
        fmod(f.time_s, 60), f.lines_refused, f.endstop_hits, f.bytes_lost, f.dry_mm, f.drag_mm);
    cairo_select_font_face(c, "sans-serif", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(c, 3.6);
    cairo_text_extents_t extents;
    cairo_text_extents(c, text, &extents);
    double w, unused;
    size_of(r, &w, &unused);
    if (extents.width > w - 2 * margin)
        cairo_set_font_size(c, 3.6 * (w - 2 * margin) / extents.width);
    cairo_set_source_rgb(c, 0.2, 0.2, 0.2);
    cairo_move_to(c, margin, h - margin + 2.6);
    cairo_show_text(c, text);
}

static void draw(cairo_t *c, const DtRig *r)
{
    double w, h;
    size_of(r, &w, &h);
    draw_bed(c, w, h);
    cairo_save(c);
    cairo_translate(c, margin, h - margin - strip);
    cairo_scale(c, 1, -1);
    draw_strokes(c, r);
    cairo_restore(c);
    draw_figures(c, r, h);
}

typedef struct {
    GByteArray *bytes;
} Sink;

static cairo_status_t sink(void *user, const unsigned char *data, unsigned n)
{
    g_byte_array_append(((Sink *)user)->bytes, data, n);
    return CAIRO_STATUS_SUCCESS;
}

static gboolean write_picture(const DtRig *r, const char *folder, gboolean png, GError **error)
{
    double w, h, scale = 1;
    size_of(r, &w, &h);
    Sink to = {g_byte_array_new()};
    cairo_surface_t *surface;
    if (png) {
        scale = MIN(6, 2400 / w);
        surface =
            cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(w * scale), (int)(h * scale));
    } else {
        surface = cairo_svg_surface_create_for_stream(sink, &to, w, h);
        cairo_svg_surface_set_document_unit(surface, CAIRO_SVG_UNIT_MM);
    }
    cairo_t *c = cairo_create(surface);
    cairo_scale(c, scale, scale);
    draw(c, r);
    cairo_status_t status = cairo_status(c);
    cairo_destroy(c);
    if (png && status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_write_to_png_stream(surface, sink, &to);
    cairo_surface_finish(surface);
    cairo_surface_destroy(surface);
    g_autofree char *path = g_build_filename(folder, png ? "ink.png" : "ink.svg", NULL);
    gboolean good = status == CAIRO_STATUS_SUCCESS;
    if (good)
        dt_base_sign_picture(to.bytes);
    if (good)
        good = dt_base_write_file(path, (const char *)to.bytes->data, to.bytes->len, error);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, cairo_status_to_string(status));
    g_byte_array_unref(to.bytes);
    return good;
}

gboolean dt_rig_write(const DtRig *r, const char *folder, GError **error)
{
    if (g_mkdir_with_parents(folder, 0777) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", folder, g_strerror(errno));
        return FALSE;
    }
    return write_json(r, folder, error) && write_picture(r, folder, FALSE, error) &&
           write_picture(r, folder, TRUE, error);
}
