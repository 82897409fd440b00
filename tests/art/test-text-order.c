/* art: the order in which text of two directions stands, whichever elements it is in. The cases were held against Chromium. */
#include "art-test.h"

static int by_place(gconstpointer a, gconstpointer b)
{
    const DtBox p = dt_lines_box(&(*(const DtShape *const *)a)->outline),
                q = dt_lines_box(&(*(const DtShape *const *)b)->outline);
    return (p.x0 > q.x0) - (p.x0 < q.x0);
}

static char letter_of(const DtShape *s)
{
    const DtColour c = s->fill.kind == DT_PAINT_FLAT ? s->fill.colour : s->stroke.paint.colour;
    return c.r > 0.5 ? 'r' : c.g > 0.4 ? 'g' : c.b > 0.5 ? 'b' : 'k';
}

/* The colours of the text from left to right: r, g, b, k. */
static char *order_of(const char *text, gboolean single_line)
{
    g_autofree char *svg = g_strconcat(PAGE, text, "</svg>", NULL);
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.single_line_text = single_line;
    g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "test.svg", &o, &error);
    g_assert_no_error(error);
    g_autoptr(GPtrArray) shapes = g_ptr_array_new();
    for (gsize i = 0; i < d->n_shapes; i++)
        g_ptr_array_add(shapes, &d->shapes[i]);
    g_ptr_array_sort(shapes, by_place);
    GString *order = g_string_new(NULL);
    for (guint i = 0; i < shapes->len; i++)
        if (order->len == 0 || order->str[order->len - 1] != letter_of(shapes->pdata[i]))
            g_string_append_c(order, letter_of(shapes->pdata[i]));
    return g_string_free(order, FALSE);
}

#define R "<tspan fill='red'>"
#define G "<tspan fill='green'>"
#define E "</tspan>"
#define SHALOM "\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d"
#define OLAM "\xd7\xa2\xd7\x95\xd7\x9c\xd7\x9d"

static void test_runs_of_several_elements(void)
{
    static const char *const cases[][2] = {
        {"<text x='50' y='50'>ab " R "cd" E G "ef" E " gh</text>", "krgk"},
        {"<text x='50' y='50'>ab " R SHALOM E " " G OLAM E "</text>", "kgr"},
        {"<text x='50' y='50'>ab " R SHALOM E " " G OLAM E " cd</text>", "kgrk"},
        {"<text x='50' y='50'>ab " R SHALOM E G " 12" E " cd</text>", "kgrk"},
        {"<text x='90' y='50' direction='rtl'>ab " R "cd" E " ef</text>", "krk"},
        {"<text x='90' y='50' direction='rtl'>" R "ab" E " " G "cd" E "</text>", "rg"},
        {"<text x='90' y='50' direction='rtl'>" R "ab" E " " SHALOM " " G "cd" E "</text>", "gkr"},
        {"<text x='90' y='50' direction='rtl' unicode-bidi='bidi-override'>" R "ab" E G "cd" E
         "</text>",
         "gr"},
        {"<text x='50' y='50' unicode-bidi='bidi-override'>" R SHALOM E G OLAM E "</text>", "rg"},
        {"<text x='50' y='50'>a<tspan direction='rtl' unicode-bidi='embed'>" R "b" E SHALOM G "c" E
         "</tspan>d</text>",
         "kgkrk"},
        {"<text x='50' y='50'>" R SHALOM E
         "<tspan direction='ltr' unicode-bidi='isolate'> - </tspan>" G OLAM E "</text>",
         "gkr"},
        {"<text y='50'><tspan x='10' fill='red'>" SHALOM "</tspan><tspan x='60' fill='green'>" OLAM
         "</tspan></text>",
         "rg"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *order = order_of(cases[i][0], FALSE);
        if (strcmp(order, cases[i][1]) != 0)
            g_test_fail_printf("%s: %s, not %s", cases[i][0], order, cases[i][1]);
    }
}

/* The letters of an element that is overridden from outside are turned too, single-line ones as well. */
static void test_letters_are_turned(void)
{
    for (int single = 0; single < 2; single++) {
        g_autofree char *order =
            order_of("<text x='90' y='50' direction='rtl' unicode-bidi='bidi-override'><tspan>I" R
                     "I" E "</tspan>" G "I" E "</text>",
                     single);
        g_assert_cmpstr(order, ==, "grk");
    }
    g_autoptr(DtDrawing) turned =
        read_page("<text x='50' y='50' direction='rtl' "
                  "unicode-bidi='bidi-override'><tspan>.I</tspan></text>");
    g_autoptr(DtDrawing) plain = read_page("<text x='50' y='50'>I.</text>");
    const DtLines *a = &turned->shapes[0].outline, *b = &plain->shapes[0].outline;
    g_assert_cmpuint(a->n_pts, ==, b->n_pts);
    g_assert_cmpfloat_with_epsilon(dt_box_width(dt_lines_box(a)), dt_box_width(dt_lines_box(b)),
                                   0.02);
}

/* What moves a run stays with it, wherever it comes to stand: the letters behind it are moved too. */
static void test_shifts_stay(void)
{
    g_autoptr(DtDrawing) plain = read_page("<text x='20' y='50'>a" R SHALOM E G OLAM E "</text>");
    g_autoptr(DtDrawing) moved = read_page("<text x='20' y='50'>a" R SHALOM E
                                           "<tspan dx='5' fill='green'>" OLAM "</tspan></text>");
    g_assert_cmpuint(plain->n_shapes, ==, 3);
    g_assert_cmpuint(moved->n_shapes, ==, 3);
    for (gsize i = 0; i < 3; i++) {
        const DtBox p = dt_lines_box(&plain->shapes[i].outline),
                    q = dt_lines_box(&moved->shapes[i].outline);
        g_assert_cmpfloat_with_epsilon(q.x0 - p.x0, letter_of(&plain->shapes[i]) == 'g' ? 5 : 0,
                                       1e-6);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/text-order/elements", test_runs_of_several_elements);
    g_test_add_func("/art/text-order/turned", test_letters_are_turned);
    g_test_add_func("/art/text-order/shifts", test_shifts_stay);
    return g_test_run();
}
