/* Takes down what is drawn with cairo. */
#include "drawn.h"

#include <cairo.h>
#include <dlfcn.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

GArray *texts, *bands, *lines;
double picture_height;

static gboolean is_bold;

static DtBox on_picture(cairo_t *cr, double x0, double y0, double x1, double y1)
{
    cairo_user_to_device(cr, &x0, &y0);
    cairo_user_to_device(cr, &x1, &y1);
    return (DtBox){MIN(x0, x1), MIN(y0, y1), MAX(x0, x1), MAX(y0, y1)};
}

/* The path as a shape, where its colour is one for all of it. */
static void take_shape(cairo_t *cr, GArray *into)
{
    Shape s = {0};
    double x0, y0, x1, y1, width = cairo_get_line_width(cr), none = 0;
    if (cairo_pattern_get_rgba(cairo_get_source(cr), &s.colour.r, &s.colour.g, &s.colour.b,
                               &s.colour.alpha) != CAIRO_STATUS_SUCCESS)
        return;
    cairo_path_extents(cr, &x0, &y0, &x1, &y1);
    s.box = on_picture(cr, x0, y0, x1, y1);
    cairo_clip_extents(cr, &x0, &y0, &x1, &y1);
    s.clip = on_picture(cr, x0, y0, x1, y1);
    cairo_user_to_device_distance(cr, &width, &none);
    s.width = into == lines ? fabs(width) : 0;
    g_array_append_val(into, s);
}

void cairo_select_font_face(cairo_t *cr, const char *family, cairo_font_slant_t slant,
                            cairo_font_weight_t weight)
{
    void (*choose)(cairo_t *, const char *, cairo_font_slant_t, cairo_font_weight_t) =
        (void (*)(cairo_t *, const char *, cairo_font_slant_t, cairo_font_weight_t))dlsym(
            RTLD_NEXT, "cairo_select_font_face");
    is_bold = weight == CAIRO_FONT_WEIGHT_BOLD;
    choose(cr, family, slant, weight);
}

void cairo_stroke_preserve(cairo_t *cr)
{
    void (*stroke)(cairo_t *) = (void (*)(cairo_t *))dlsym(RTLD_NEXT, "cairo_stroke_preserve");
    take_shape(cr, lines);
    stroke(cr);
}

void cairo_stroke(cairo_t *cr)
{
    void (*stroke)(cairo_t *) = (void (*)(cairo_t *))dlsym(RTLD_NEXT, "cairo_stroke");
    take_shape(cr, lines);
    stroke(cr);
}

void cairo_fill_preserve(cairo_t *cr)
{
    void (*fill)(cairo_t *) = (void (*)(cairo_t *))dlsym(RTLD_NEXT, "cairo_fill_preserve");
    take_shape(cr, bands);
    fill(cr);
}

void cairo_fill(cairo_t *cr)
{
    void (*fill)(cairo_t *) = (void (*)(cairo_t *))dlsym(RTLD_NEXT, "cairo_fill");
    take_shape(cr, bands);
    fill(cr);
}

void cairo_show_text(cairo_t *cr, const char *text)
{
    void (*show)(cairo_t *, const char *) =
        (void (*)(cairo_t *, const char *))dlsym(RTLD_NEXT, "cairo_show_text");
    cairo_text_extents_t e;
    double x, y;
    cairo_get_current_point(cr, &x, &y);
    cairo_text_extents(cr, text, &e);
    const Text t = {g_strdup(text),
                    on_picture(cr, x + e.x_bearing, y + e.y_bearing, x + e.x_bearing + e.width,
                               y + e.y_bearing + e.height),
                    {on_picture(cr, x, y, x, y).x0, on_picture(cr, x, y, x, y).y0},
                    e.x_advance,
                    is_bold};
    if (*text != '\0')
        g_array_append_val(texts, t);
    else
        g_free(t.text);
    picture_height = cairo_image_surface_get_height(cairo_get_target(cr));
    show(cr, text);
}

static void clear_text(gpointer t)
{
    g_free(((Text *)t)->text);
}

void drawn_init(void)
{
    texts = g_array_new(FALSE, FALSE, sizeof(Text));
    g_array_set_clear_func(texts, clear_text);
    bands = g_array_new(FALSE, FALSE, sizeof(Shape));
    lines = g_array_new(FALSE, FALSE, sizeof(Shape));
}

void drawn_clear(void)
{
    g_array_unref(texts);
    g_array_unref(bands);
    g_array_unref(lines);
}

void drawn_begin(void)
{
    g_array_set_size(texts, 0);
    g_array_set_size(bands, 0);
    g_array_set_size(lines, 0);
}

const Text *drawn_text(const char *text)
{
    for (guint i = 0; i < texts->len; i++)
        if (strcmp(g_array_index(texts, Text, i).text, text) == 0)
            return &g_array_index(texts, Text, i);
    return NULL;
}

gboolean is_colour(DtColour a, DtColour b)
{
    return fabs(a.r - b.r) < 0.002 && fabs(a.g - b.g) < 0.002 && fabs(a.b - b.b) < 0.002 &&
           fabs(a.alpha - b.alpha) < 0.002;
}

const Shape *drawn_shape(const GArray *of, DtColour colour, guint nth)
{
    for (guint i = 0; i < of->len; i++) {
        const Shape *s = &g_array_index(of, Shape, i);
        if (is_colour(s->colour, colour) && nth-- == 0)
            return s;
    }
    return NULL;
}

void assert_near(double a, double b, double tolerance, const char *what)
{
    if (!(fabs(a - b) <= tolerance))
        g_error("%s: %g against %g", what, a, b);
}

const Text *text_of(const char *text)
{
    const Text *t = drawn_text(text);
    if (t == NULL)
        g_error("'%s' is not on the picture", text);
    return t;
}

const Text *text_at(guint i)
{
    return &g_array_index(texts, Text, i);
}

void assert_bold(const char *const *bold)
{
    for (guint i = 0; i < texts->len; i++) {
        const Text *t = text_at(i);
        if (t->bold != g_strv_contains(bold, t->text))
            g_error("'%s' is%s bold", t->text, t->bold ? "" : " not");
    }
}

const Shape *shape_of(const GArray *of, DtColour c, guint nth)
{
    const Shape *s = drawn_shape(of, c, nth);
    g_assert_nonnull(s);
    return s;
}

double end_of(const Text *t)
{
    return t->at.x + t->advance;
}

void drawn_page(const DtProofInput *in, const char *folder, int width)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *path = g_build_filename(folder, "page.png", NULL);
    drawn_begin();
    g_assert_true(dt_proof_write(in, path, width, &error));
    g_assert_no_error(error);
    g_unlink(path);
}
