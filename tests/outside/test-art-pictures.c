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
    for (int i = 0; i < 12; i++) {
        g_autoptr(GString) s = g_string_new("<defs>");
        add_mask(s, g, "m1");
        add_mask(s, g, "m2");
        g_string_append(s, "</defs>");
        add_group(s, g, "m2", i % 2 ? "none" : "url(#m1)");
        assert_alike(s->str, i % 2 ? 0.99 : 0.98, i % 2 ? 0.99 : 0.9);
    }
    g_rand_free(g);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/art/masks-of-half-tones", test_masks_of_half_tones);
    return g_test_run();
}
