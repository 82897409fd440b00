/* Outside checks of art: drawings made up here, painted by us and by librsvg, must look alike. */
#include "art-pair.h"

#define HEAD                                                                                       \
    "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' "          \
    "width='500' height='500' viewBox='0 0 100 100'>"

/* Both figures at least as given; what differs by no more than 16 of 255 is alike. */
static void assert_alike(const char *content, double iou, double colours)
{
    g_autofree char *svg = g_strconcat(HEAD, content, "</svg>", NULL);
    Pair p = pair_paint(svg, strlen(svg), "made.svg");
    g_test_message("IoU %.4f colours %.4f", pair_agreement(&p), pair_colours(&p, 16));
    if (pair_agreement(&p) < iou || pair_colours(&p, 16) < colours)
        g_error("IoU %.4f, colours %.4f of %s", pair_agreement(&p), pair_colours(&p, 16), svg);
    pair_clear(&p);
}

/* Masks ---------------------------------------------------------------------------------------- */

static void add_stops(GString *s, GRand *g)
{
    for (int i = 0; i < 4; i++) {
        int grey = g_rand_int_range(g, i == 0 ? 0 : 150, 256); /* most of it shows */
        g_string_append_printf(s, "<stop offset='%d%%' stop-color='rgb(%d,%d,%d)'/>", 30 * i, grey,
                               grey, grey);
    }
}

/* A mask of a gradient, discs of other greys and a see-through bar. */
static void add_mask(GString *s, GRand *g, const char *id)
{
    gboolean round = g_rand_boolean(g);
    g_string_append_printf(s, "<%sGradient id='g%s' gradientTransform='rotate(%d .5 .5)'>",
                           round ? "radial" : "linear", id, g_rand_int_range(g, 0, 360));
    add_stops(s, g);
    g_string_append_printf(s,
                           "</%sGradient><mask id='%s' maskUnits='userSpaceOnUse' x='0' y='0' "
                           "width='100' height='100'><rect width='100' height='100' "
                           "fill='url(#g%s)'/>",
                           round ? "radial" : "linear", id, id);
    for (int i = 0; i < 4; i++)
        g_string_append_printf(s, "<circle cx='%d' cy='%d' r='%d' fill='#%02x%02x%02x'/>",
                               g_rand_int_range(g, 0, 100), g_rand_int_range(g, 0, 100),
                               g_rand_int_range(g, 3, 20), g_rand_int_range(g, 0, 256),
                               g_rand_int_range(g, 150, 256), g_rand_int_range(g, 0, 256));
    g_string_append_printf(s,
                           "<rect x='%d' y='40' width='30' height='20' opacity='.8' "
                           "fill='white'/></mask>",
                           g_rand_int_range(g, 0, 70));
}

static void add_group(GString *s, GRand *g, const char *mask, const char *inner)
{
    g_string_append_printf(s,
                           "<g mask='url(#%s)' opacity='%.2f'>"
                           "<rect x='5' y='5' width='90' height='90' fill='#%06x'/>"
                           "<g mask='%s'><path d='M5 95L50 5 95 95z' fill='url(#gm1)'/>"
                           "<circle cx='50' cy='60' r='25' fill='none' stroke='#%06x' "
                           "stroke-width='9'/></g></g>",
                           mask, g_rand_double_range(g, .75, 1),
                           (unsigned)g_rand_int_range(g, 0, 1 << 24), inner,
                           (unsigned)g_rand_int_range(g, 0, 1 << 24));
}

/* On a transparent sheet, where what is cut away at half is not painted by either. */
static void test_masks_of_half_tones(void)
{
    GRand *g = g_rand_new_with_seed(14);
    for (int i = 0; i < 8; i++) {
        g_autoptr(GString) s = g_string_new("<defs>");
        add_mask(s, g, "m1");
        add_mask(s, g, "m2");
        g_string_append(s, "</defs>");
        add_group(s, g, "m2", i % 2 ? "none" : "url(#m1)");
        assert_alike(s->str, i % 2 ? 0.99 : 0.98, i % 2 ? 0.99 : 0.9);
    }
    g_rand_free(g);
}

/* Drawings of everything -------------------------------------------------------------------- */

static double any(GRand *g, double low, double high)
{
    return g_rand_double_range(g, low, high);
}

static void add_transform(GString *s, GRand *g)
{
    switch (g_rand_int_range(g, 0, 5)) {
    case 0:
        g_string_append_printf(s, " transform='translate(%.2f %.2f)'", any(g, -9, 9),
                               any(g, -9, 9));
        break;
    case 1:
        g_string_append_printf(s, " transform='rotate(%.1f,50 50)'", any(g, -180, 180));
        break;
    case 2:
        g_string_append_printf(s, " transform='matrix(%.2f,%.2f %.2f,%.2f 5,-5)'", any(g, .6, 1.2),
                               any(g, -.3, .3), any(g, -.3, .3), any(g, .6, 1.2));
        break;
    case 3:
        g_string_append_printf(s, " transform='skewX(%.1f) scale(.9)'", any(g, -20, 20));
        break;
    default:
        break;
    }
}

static void add_paint(GString *s, GRand *g, const char *name)
{
    switch (g_rand_int_range(g, 0, 6)) {
    case 0:
        g_string_append_printf(s, "%s:none;", name);
        break;
    case 1:
        g_string_append_printf(s, "%s:url(#lin);", name);
        break;
    case 2:
        g_string_append_printf(s, "%s:url(#rad);", name);
        break;
    default:
        g_string_append_printf(s, "%s:#%06x;", name, (unsigned)g_rand_int_range(g, 0, 1 << 24));
    }
}

static void add_style(GString *s, GRand *g)
{
    static const char *const joins[] = {"miter", "round", "bevel"};
    static const char *const caps[] = {"butt", "round", "square"};
    g_string_append(s, " style='");
    add_paint(s, g, "fill");
    add_paint(s, g, "stroke");
    g_string_append_printf(s, "stroke-width:%.1f;stroke-linejoin:%s;stroke-linecap:%s;",
                           any(g, 1, 6), joins[g_rand_int_range(g, 0, 3)],
                           caps[g_rand_int_range(g, 0, 3)]);
    if (g_rand_int_range(g, 0, 3) == 0)
        g_string_append_printf(s, "stroke-dasharray:%.1f %.1f;stroke-dashoffset:%.1f;",
                               any(g, 4, 12), any(g, 4, 9), any(g, -5, 5));
    if (g_rand_int_range(g, 0, 3) == 0)
        g_string_append_printf(s, "opacity:%.2f;", any(g, .6, 1));
    if (g_rand_boolean(g))
        g_string_append(s, "fill-rule:evenodd;");
    g_string_append(s, "'");
}

static void add_shape(GString *s, GRand *g)
{
    double x = any(g, 10, 80), y = any(g, 10, 80), w = any(g, 10, 50), h = any(g, 10, 50);
    switch (g_rand_int_range(g, 0, 6)) {
    case 0:
        g_string_append_printf(s, "<rect x='%.1f' y='%.1f' width='%.1f' height='%.1f' rx='%.1f'", x,
                               y, w, h, any(g, 0, 9));
        break;
    case 1:
        g_string_append_printf(s, "<ellipse cx='%.1f' cy='%.1f' rx='%.1f' ry='%.1f'", x, y, w / 2,
                               h / 2);
        break;
    case 2:
        g_string_append_printf(s, "<polygon points='%.1f,%.1f %.1f %.1f,%.1f-%.1f %.1f,%.1f'", x, y,
                               x + w, y + 3, x + w / 3, h, x, y + h);
        break;
    case 3:
        g_string_append_printf(s, "<path d='m%.1f%+.1f%+.1f%+.1fa%.1f %.1f %.0f 1,0%.1f %.1fz'", x,
                               y, w, -h / 2, w, h, any(g, 0, 90), any(g, 5, 20), h);
        break;
    case 4:
        g_string_append_printf(s, "<path d='M%.1f %.1fc%.1f %.1f%+.1f%+.1f 20 30s9-9 20,5t9 9v9z'",
                               x, y, w, -h, -w, h);
        break;
    default:
        g_string_append_printf(s, "<use xlink:href='#u' x='%.1f' y='%.1f'", x - 50, y - 50);
    }
    add_transform(s, g);
    add_style(s, g);
    g_string_append(s, "/>");
}

static void add_tree(GString *s, GRand *g, int depth)
{
    static const char *const extras[] = {"", "", " clip-path='url(#clip)'", " opacity='.8'"};
    for (int i = 0; i < 4; i++) {
        if (depth > 0 && g_rand_int_range(g, 0, 3) == 0) {
            g_string_append_printf(s, "<g%s", extras[g_rand_int_range(g, 0, 4)]);
            add_transform(s, g);
            g_string_append(s, ">");
            add_tree(s, g, depth - 1);
            g_string_append(s, "</g>");
        } else {
            add_shape(s, g);
        }
    }
}

/* Gradients are in user units: what differs over a box is told in art-misses.md. */
static void test_drawings_of_everything(void)
{
    GRand *g = g_rand_new_with_seed(2026);
    for (int i = 0; i < 10; i++) {
        g_autoptr(GString) s = g_string_new(
            "<defs><linearGradient id='lin' gradientUnits='userSpaceOnUse' x1='20' y1='10' x2='60' "
            "y2='70' spreadMethod='reflect'><stop offset='.1' stop-color='red'/>"
            "<stop offset='90%' stop-color='#0af' stop-opacity='.9'/></linearGradient>"
            "<radialGradient id='rad' gradientUnits='userSpaceOnUse' cx='50' cy='50' r='40' "
            "fx='40' "
            "gradientTransform='scale(1 .8)'><stop stop-color='white'/><stop offset='1' "
            "stop-color='green'/></radialGradient><clipPath id='clip'><circle cx='50' cy='50' "
            "r='38'/><path d='M0 40h100v20h-100z'/></clipPath><path id='u' d='M40 "
            "40h20v20l-20-5z'/>"
            "</defs>");
        add_tree(s, g, 3);
        assert_alike(s->str, 0.997, 0.997);
    }
    g_rand_free(g);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/art/masks-of-half-tones", test_masks_of_half_tones);
    g_test_add_func("/outside/art/drawings-of-everything", test_drawings_of_everything);
    return g_test_run();
}
