/* outside: artwork as it is painted for proofs, against librsvg's picture of the same random SVG: fills by either rule, open
 * outlines, pens of all ends and joins under transforms, dashes, gradients, and clips of one region or several, one
 * within another. */
#include "drawtrue/art.h"

#include <cairo.h>

#include <librsvg/rsvg.h>
#include <string.h>

enum { SIDE = 320 }; /* px */
#define PAGE 80.0    /* mm */
#define ROUNDS 60
#define SVG_OF_80_MM                                                                               \
    "<svg xmlns='http://www.w3.org/2000/svg' width='80mm' height='80mm' viewBox='0 0 80 "          \
    "80'><defs>"
/* Edges blended another way, and those of flattened curves, px. */
#define LEAST_OTHER 1200

static double any(double least, double most)
{
    return g_test_rand_double_range(least, most);
}

static int one_of(int n)
{
    return g_test_rand_int_range(0, n);
}

static const char *of(const char *const *words, int n)
{
    return words[one_of(n)];
}

#define OF(...)                                                                                    \
    of((const char *const[]){__VA_ARGS__},                                                         \
       (int)(sizeof((const char *const[]){__VA_ARGS__}) / sizeof(char *)))

/* A path of straight lines and curves that crosses itself and may be open. */
static void add_path_data(GString *s)
{
    g_string_append_printf(s, " d='M%g %g", any(5, 75), any(5, 75));
    for (int i = 0, n = 3 + one_of(4); i < n; i++)
        if (one_of(3))
            g_string_append_printf(s, "L%g %g", any(5, 75), any(5, 75));
        else
            g_string_append_printf(s, "Q%g %g %g %g", any(5, 75), any(5, 75), any(5, 75),
                                   any(5, 75));
    g_string_append(s, OF("", "Z"));
    g_string_append(s, "'");
}

enum { GRADIENTS = 2, CLIPS = 5 };

/* The same drawing twice: clips that clips are clipped by in turn, which librsvg leaves out, are in its text those of
 * groups about groups. */
typedef struct {
    GString *ours, *theirs;
    int by[CLIPS], child_by[CLIPS]; /* the clip that a clip has, or its only path; -1: none */
} Pair;

static void add_both(Pair *p, const char *text)
{
    g_string_append(p->ours, text);
    g_string_append(p->theirs, text);
}

/* Of one path by either rule; or of several rectangles, of which librsvg makes one path. */
static void add_clip(Pair *p, int i)
{
    p->by[i] = i > 0 && one_of(3) == 0 ? one_of(i) : -1;
    p->child_by[i] = -1;
    const int n = one_of(3);
    g_autoptr(GString) s = g_string_new(NULL);
    g_string_append_printf(p->theirs, "<clipPath id='c%d'>", i);
    g_string_append_printf(p->ours, "<clipPath id='c%d'", i);
    if (p->by[i] >= 0)
        g_string_append_printf(p->ours, " clip-path='url(#c%d)'", p->by[i]);
    g_string_append(p->ours, ">");
    if (n == 0) {
        p->child_by[i] = i > 0 && one_of(3) == 0 ? one_of(i) : -1;
        add_both(p, "<path");
        if (p->child_by[i] >= 0)
            g_string_append_printf(p->ours, " clip-path='url(#c%d)'", p->child_by[i]);
        g_string_append_printf(s, " clip-rule='%s'", OF("nonzero", "evenodd"));
        add_path_data(s);
        g_string_append(s, "/>");
    }
    for (int k = 0; k < n; k++)
        g_string_append_printf(s, "<rect x='%g' y='%g' width='%g' height='%g'/>", any(0, 40),
                               any(0, 40), any(15, 40), any(15, 40));
    g_string_append(s, "</clipPath>");
    add_both(p, s->str);
}

/* Groups about what a clip clips, in librsvg's text; returns how many. */
static int open_clips(const Pair *p, int i)
{
    if (i < 0)
        return 0;
    g_string_append_printf(p->theirs, "<g clip-path='url(#c%d)'>", i);
    return 1 + open_clips(p, p->by[i]) + open_clips(p, p->child_by[i]);
}

static void add_colour(GString *s, const char *what)
{
    g_string_append_printf(s, " %s='#%06x' %s-opacity='%.2f'", what, (unsigned)one_of(0x1000000),
                           what, one_of(2) ? 1 : any(0.3, 1));
}

static void add_fill(GString *s, int n_gradients)
{
    const int way = one_of(4);
    if (way == 0)
        g_string_append(s, " fill='none'");
    else if (way == 1)
        g_string_append_printf(s, " fill='url(#g%d)'", one_of(n_gradients));
    else
        add_colour(s, "fill");
    g_string_append_printf(s, " fill-rule='%s'", OF("nonzero", "evenodd"));
}

static void add_stroke(GString *s)
{
    if (one_of(3) == 0)
        return;
    add_colour(s, "stroke");
    g_string_append_printf(s,
                           " stroke-width='%g' stroke-linecap='%s' stroke-linejoin='%s' "
                           "stroke-miterlimit='%g'",
                           any(0.5, 3), OF("butt", "round", "square"),
                           OF("miter", "round", "bevel"), any(1, 12));
    if (one_of(3) == 0)
        g_string_append_printf(s, " stroke-dasharray='%g %g' stroke-dashoffset='%g'", any(3, 9),
                               any(4, 12), any(0, 9));
    if (one_of(3) == 0)
        g_string_append_printf(s, " transform='translate(%g %g) rotate(%g) scale(%g %g)'",
                               any(-5, 5), any(-5, 5), any(-20, 20), any(0.6, 1.4), any(0.6, 1.4));
    g_string_append(s, OF("", " paint-order='stroke'"));
}

static void add_gradient(GString *s, int i)
{
    g_string_append_printf(s,
                           "<linearGradient id='g%d' gradientUnits='userSpaceOnUse' x1='%g' "
                           "y1='%g' x2='%g' y2='%g'>",
                           i, any(0, 30), any(0, 30), any(50, 80), any(50, 80));
    for (int k = 0; k < 3; k++)
        g_string_append_printf(s, "<stop offset='%g' stop-color='#%06x' stop-opacity='%.2f'/>",
                               k / 2.0, (unsigned)one_of(0x1000000), one_of(2) ? 1 : any(0.3, 1));
    g_string_append(s, "</linearGradient>");
}

static Pair make_pair(void)
{
    Pair p = {.ours = g_string_new(NULL), .theirs = g_string_new(NULL)};
    g_autoptr(GString) s = g_string_new(SVG_OF_80_MM);
    for (int i = 0; i < GRADIENTS; i++)
        add_gradient(s, i);
    add_both(&p, s->str);
    for (int i = 0; i < CLIPS; i++)
        add_clip(&p, i);
    add_both(&p, "</defs>");
    for (int i = 0, n = 1 + one_of(3); i < n; i++) {
        int opened = 0;
        const int groups = one_of(3);
        for (int k = 0; k < groups; k++) {
            const int clip = one_of(CLIPS);
            g_string_append_printf(p.ours, "<g clip-path='url(#c%d)'>", clip);
            opened += open_clips(&p, clip);
        }
        g_string_truncate(s, 0);
        g_string_append(s, "<path");
        add_path_data(s);
        add_fill(s, GRADIENTS);
        add_stroke(s);
        g_string_append(s, "/>");
        add_both(&p, s->str);
        for (int k = 0; k < groups; k++)
            g_string_append(p.ours, "</g>");
        for (int k = 0; k < opened; k++)
            g_string_append(p.theirs, "</g>");
    }
    add_both(&p, "</svg>");
    return p;
}

static cairo_surface_t *white_sheet(cairo_t **cr)
{
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, SIDE, SIDE);
    *cr = cairo_create(image);
    cairo_set_source_rgb(*cr, 1, 1, 1);
    cairo_paint(*cr);
    return image;
}

static cairo_surface_t *by_librsvg(const char *svg)
{
    cairo_t *cr;
    cairo_surface_t *image = white_sheet(&cr);
    g_autoptr(GError) error = NULL;
    RsvgHandle *h = rsvg_handle_new_from_data((const guint8 *)svg, strlen(svg), &error);
    g_assert_no_error(error);
    const RsvgRectangle all = {0, 0, SIDE, SIDE};
    g_assert_true(rsvg_handle_render_document(h, cr, &all, &error));
    g_object_unref(h);
    cairo_destroy(cr);
    return image;
}

static cairo_surface_t *by_ours(const char *svg)
{
    cairo_t *cr;
    cairo_surface_t *image = white_sheet(&cr);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "random.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    cairo_scale(cr, SIDE / PAGE, SIDE / PAGE);
    dt_art_paint(d, cr);
    g_assert_cmpint(cairo_status(cr), ==, CAIRO_STATUS_SUCCESS);
    cairo_destroy(cr);
    return image;
}

/* Of a picture's pixels, how many differ by more than edges blended another way do. */
static unsigned count_other(cairo_surface_t *a, cairo_surface_t *b)
{
    cairo_surface_flush(a);
    cairo_surface_flush(b);
    const unsigned char *p = cairo_image_surface_get_data(a), *q = cairo_image_surface_get_data(b);
    const int stride = cairo_image_surface_get_stride(a);
    unsigned n = 0;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            int most = 0;
            for (int k = 0; k < 3; k++)
                most = MAX(most, abs(p[y * stride + 4 * x + k] - q[y * stride + 4 * x + k]));
            n += most > 12;
        }
    return n;
}

static void test_artwork_is_what_librsvg_paints(void)
{
    unsigned all = 0;
    for (int round = 0; round < ROUNDS; round++) {
        const Pair p = make_pair();
        cairo_surface_t *theirs = by_librsvg(p.theirs->str), *ours = by_ours(p.ours->str);
        const unsigned other = count_other(theirs, ours);
        all += other;
        g_test_message("%u pixels: %s", other, p.ours->str);
        g_string_free(p.ours, TRUE);
        g_string_free(p.theirs, TRUE);
        g_assert_cmpuint(other, <, LEAST_OTHER);
        cairo_surface_destroy(theirs);
        cairo_surface_destroy(ours);
    }
    g_test_message("all %u", all);
    g_assert_cmpuint(all, <, ROUNDS * LEAST_OTHER / 16);
}

/* The black area of a picture, mm^2. */
static double painted_area(const char *svg)
{
    cairo_surface_t *image = by_ours(svg);
    cairo_surface_flush(image);
    const unsigned char *p = cairo_image_surface_get_data(image);
    double painted = 0;
    for (int i = 0; i < SIDE * SIDE; i++)
        painted += (255 - p[4 * i]) / 255.0;
    cairo_surface_destroy(image);
    const double px_mm = SIDE / PAGE;
    return painted / (px_mm * px_mm);
}

/* Two squares of 50 mm, 4 mm apart either way, clip each other twice at every one of 30 levels: 2^30 ways through, and
 * what is let through is still both squares. */
static void test_clips_by_many_ways_are_painted_once(void)
{
    g_autoptr(GString) s = g_string_new(SVG_OF_80_MM);
    for (int i = 0; i < 30; i++) {
        g_autofree char *by =
            i > 0 ? g_strdup_printf(" clip-path='url(#c%d)'", i - 1) : g_strdup("");
        g_string_append_printf(s,
                               "<clipPath id='c%d'><rect x='1' y='1' width='50' height='50'%s/>"
                               "<rect x='5' y='5' width='50' height='50'%s/></clipPath>",
                               i, by, by);
    }
    g_string_append(s, "</defs><rect width='80' height='80' clip-path='url(#c29)'/></svg>");
    g_assert_cmpfloat_with_epsilon(painted_area(s->str), 2 * 50 * 50 - 46 * 46, 5);
}

/* The innermost of 300 clips, each of two parts, is the narrowest: 2 x 10 mm by 40 mm. What clips one is the clip of its
 * parts at every other level and of the whole at those between. */
static void test_clips_within_clips_at_any_depth(void)
{
    g_autoptr(GString) s = g_string_new(SVG_OF_80_MM);
    for (int i = 0; i < 300; i++) {
        g_autofree char *by =
            i > 0 ? g_strdup_printf(" clip-path='url(#c%d)'", i - 1) : g_strdup("");
        const double width = 10 + 0.05 * i;
        g_string_append_printf(s,
                               "<clipPath id='c%d'%s><rect x='2' y='4' width='%g' height='40'%s/>"
                               "<rect x='42' y='4' width='%g' height='40'%s/></clipPath>",
                               i, i % 2 ? by : "", width, i % 2 ? "" : by, width, i % 2 ? "" : by);
    }
    g_string_append(s, "</defs><rect width='80' height='80' clip-path='url(#c299)'/></svg>");
    g_assert_cmpfloat_with_epsilon(painted_area(s->str), 2 * 10 * 40, 3);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/art-paint/librsvg", test_artwork_is_what_librsvg_paints);
    g_test_add_func("/outside/art-paint/many-ways", test_clips_by_many_ways_are_painted_once);
    g_test_add_func("/outside/art-paint/any-depth", test_clips_within_clips_at_any_depth);
    return g_test_run();
}
