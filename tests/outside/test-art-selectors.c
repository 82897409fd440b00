/* Outside checks of art: which rules a style sheet applies, and where letters stand, against the
 * examples and tables of the specifications. */
#include "drawtrue/art.h"
#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

static DtDrawing *read_svg(const char *content)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *svg = g_strconcat("<svg xmlns='http://www.w3.org/2000/svg' width='800px' "
                                       "height='600px' viewBox='0 0 800 600'>",
                                       content, "</svg>", NULL);
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "sheet.svg", NULL, &error);
    g_assert_no_error(error);
    return d;
}

static gboolean is_green(const DtShape *s)
{
    return s->fill.colour.g > 0.4 && s->fill.colour.r < 0.1;
}

/* Selectors 4 ---------------------------------------------------------------------------------- */

/* An element that all of the selectors below match: a rect with id s12 in a g.foo in a g#a.bar. */
#define ELEMENT                                                                                    \
    "<g id='a' class='bar'><g class='foo'><circle r='1'/>"                                         \
    "<rect id='s12' class='item red level' data-row='x' width='9' height='9'/></g></g>"

/* Selectors 4, 17: specificities (ids, classes, types) of selectors built as the examples there. */
static const struct {
    const char *selector;
    int ids, classes, types;
} specificities[] = {{"*", 0, 0, 0},
                     {"rect", 0, 0, 1},
                     {"g rect", 0, 0, 2},
                     {"g g + rect, g circle + rect", 0, 0, 3},
                     {"circle + *[data-row=x]", 0, 1, 1},
                     {"g g rect.red", 0, 1, 3},
                     {"rect.red.level", 0, 2, 1},
                     {"#s12", 1, 0, 0},
                     {"#s12:not(circle)", 1, 0, 1},
                     {".foo :is(rect, #s12)", 1, 1, 0},
                     {".level:where(rect, #s12#s12#s12)", 0, 1, 0},
                     {":nth-child(even of rect, .item, rect, circle)", 0, 2, 0},
                     {":not(em, strong#foo)", 1, 0, 1},
                     {"#a rect:nth-child(2)", 1, 1, 1},
                     {"#a:has(> g) rect", 1, 0, 2}};

static int compare(gsize a, gsize b)
{
    const int *x = &specificities[a].ids, *y = &specificities[b].ids;
    for (int i = 0; i < 3; i++)
        if (x[i] != y[i])
            return x[i] > y[i] ? 1 : -1;
    return 0;
}

static void test_specificities(void)
{
    for (gsize a = 0; a < G_N_ELEMENTS(specificities); a++)
        for (gsize b = 0; b < G_N_ELEMENTS(specificities); b++) {
            g_autofree char *content =
                g_strdup_printf("<style>%s{fill:green}%s{fill:red}</style>" ELEMENT,
                                specificities[a].selector, specificities[b].selector);
            g_autoptr(DtDrawing) d = read_svg(content);
            const gboolean first_wins = is_green(&d->shapes[d->n_shapes - 1]);
            if (first_wins != (compare(a, b) > 0))
                g_error("%s against %s", specificities[a].selector, specificities[b].selector);
        }
}

/* Selectors 4, 13.3.1, examples of An+B: which of thirty children each takes. */
static void test_an_plus_b(void)
{
    static const struct {
        const char *formula;
        int a, b;
    } samples[] = {{"2n+1", 2, 1},  {"odd", 2, 1},      {"2n+0", 2, 0},       {"even", 2, 0},
                   {"4n+1", 4, 1},  {"4n+2", 4, 2},     {"10n-1", 10, -1},    {"10n+9", 10, 9},
                   {"0n+5", 0, 5},  {"5", 0, 5},        {"1n+0", 1, 0},       {"n", 1, 0},
                   {"-n+6", -1, 6}, {" 3n + 1 ", 3, 1}, {" +3n - 2 ", 3, -2}, {" -n+ 6", -1, 6}};
    for (gsize k = 0; k < G_N_ELEMENTS(samples); k++) {
        g_autoptr(GString) s = g_string_new(NULL);
        g_string_append_printf(s, "<style>rect{fill:red} rect:nth-child(%s){fill:green}</style><g>",
                               samples[k].formula);
        for (int i = 0; i < 30; i++)
            g_string_append(s, "<rect width='9' height='9'/>");
        g_string_append(s, "</g>");
        g_autoptr(DtDrawing) d = read_svg(s->str);
        g_assert_cmpuint(d->n_shapes, ==, 30);
        for (int i = 1; i <= 30; i++) {
            gboolean taken = FALSE;
            for (int n = 0; n <= 30; n++)
                taken = taken || samples[k].a * n + samples[k].b == i;
            if (is_green(&d->shapes[i - 1]) != taken)
                g_error("child %d of %s", i, samples[k].formula);
        }
    }
}

/* Media Queries 5 ------------------------------------------------------------------------------ */

/* On a page 800 px wide and 600 px high. */
static void test_media_queries(void)
{
    static const struct {
        const char *query;
        gboolean applies;
    } samples[] = {
        {"all", TRUE},
        {"", TRUE}, /* 2.1: an empty list is true */
        {"print", FALSE},
        {"screen", TRUE},
        {"only screen", TRUE},
        {"not print", TRUE},
        {"(width >= 600px) and (width <= 900px)", TRUE}, /* 2.4.3 */
        {"(600px <= width <= 700px)", FALSE},
        {"(600px <= width < 800px)", FALSE},
        {"(min-width: 25em) and (max-width: 50em)", TRUE}, /* 16 px: 400 to 800 */
        {"(width: 800px)", TRUE},
        {"(orientation: landscape)", TRUE},
        {"(aspect-ratio: 4/3)", TRUE},
        {"(min-aspect-ratio: 16/9)", FALSE},
        {"not (hover)", TRUE},
        {"(hover: none) and (prefers-reduced-motion: reduce)", TRUE},
        {"screen and (color), projection and (color)", TRUE}, /* 2.1 */
        {"not screen and (color)", FALSE},                    /* 2.2.1: of the whole query */
        {"(width < 600px) or (height < 700px)", TRUE},
        {"(width) and ((height < 10px) or (height > 500px))", TRUE},
        {"&test, screen", TRUE},           /* 3.1: an error is "not all" of its own query alone */
        {"(example, all,), screen", TRUE}, /* 3.1 */
        {"(example, all,), print", FALSE},
        {"or and (color)", FALSE},                             /* 3.1: "or" is no media type */
        {"(color) and (width > 1px) or (width < 1px)", FALSE}, /* 3: no mixing without brackets */
        {"screen and (color) or (width > 1px)", FALSE},
        {"not (color) or (width > 1px)", FALSE},
        {"(max-weight: 3px)", FALSE}, /* 3.1: unknown feature */
        {"(min-orientation: portrait)", FALSE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(samples); i++) {
        g_autofree char *query = g_markup_escape_text(samples[i].query, -1);
        g_autofree char *content =
            g_strdup_printf("<style>rect{fill:red} @media %s { rect{fill:green} }</style>"
                            "<rect width='9' height='9'/>",
                            query);
        g_autoptr(DtDrawing) d = read_svg(content);
        if (is_green(&d->shapes[0]) != samples[i].applies)
            g_error("@media %s", samples[i].query);
    }
}

/* SVG 2, text ---------------------------------------------------------------------------------- */

/* The box of the i-th outline, px. */
static DtBox letter(const DtDrawing *d, gsize i)
{
    const double px = 25.4 / 96;
    gsize shape = 0;
    for (; shape < d->n_shapes && i >= d->shapes[shape].outline.n; shape++)
        i -= d->shapes[shape].outline.n;
    g_assert_cmpuint(shape, <, d->n_shapes);
    const DtLines *lines = &d->shapes[shape].outline;
    DtBox b = DT_BOX_EMPTY;
    for (gsize k = 0; k < dt_lines_count(lines, i); k++)
        b = dt_box_add_point(b, dt_lines_at(lines, i)[k]);
    return (DtBox){b.x0 / px, b.y0 / px, b.x1 / px, b.y1 / px};
}

#define LETTERS "font-family='DejaVu Sans' font-size='20'"

/* SVG 2, 11.4.2: n values of x and y place the first n characters, the rest follow; dx and dy shift
 * what comes after them too; 11.9: anchors. All measured against one letter at the origin. */
static void test_places_of_letters(void)
{
    g_autoptr(DtDrawing) one = read_svg("<text x='0' y='100' " LETTERS ">H</text>");
    const DtBox h = letter(one, 0);
    const double left = h.x0, base = h.y1 - 100;
    g_autoptr(DtDrawing) d = read_svg("<text " LETTERS " x='10 60 200' y='100 140'>HHH</text>");
    static const double expected[3][2] = {{10, 100}, {60, 140}, {200, 140}};
    for (gsize i = 0; i < 3; i++) {
        g_assert_cmpfloat_with_epsilon(letter(d, i).x0, expected[i][0] + left, 0.05);
        g_assert_cmpfloat_with_epsilon(letter(d, i).y1, expected[i][1] + base, 0.05);
    }
    g_autoptr(DtDrawing) shifted =
        read_svg("<text " LETTERS " x='10' y='100' dx='0 7' dy='0 3 -3'>HHH</text>");
    g_autoptr(DtDrawing) plain = read_svg("<text " LETTERS " x='10' y='100'>HHH</text>");
    const double dx[3] = {0, 7, 7}, dy[3] = {0, 3, 0};
    for (gsize i = 0; i < 3; i++) {
        g_assert_cmpfloat_with_epsilon(letter(shifted, i).x0 - letter(plain, i).x0, dx[i], 0.05);
        g_assert_cmpfloat_with_epsilon(letter(shifted, i).y1 - letter(plain, i).y1, dy[i], 0.05);
    }
    const double advance = letter(plain, 1).x0 - letter(plain, 0).x0;
    g_autoptr(DtDrawing) middle =
        read_svg("<text " LETTERS " x='100' y='100' text-anchor='middle'>HHH</text>");
    g_autoptr(DtDrawing) end =
        read_svg("<text " LETTERS " x='100' y='100' text-anchor='end'>HHH</text>");
    g_assert_cmpfloat_with_epsilon(letter(middle, 0).x0, 100 - 1.5 * advance + left, 0.05);
    g_assert_cmpfloat_with_epsilon(letter(end, 0).x0, 100 - 3 * advance + left, 0.05);
}

/* SVG 2, 11.5: spaces collapse, also around line breaks; 11.4.2: collapsed ones take no place of a
 * list. */
static void test_spaces_and_lists(void)
{
    g_autoptr(DtDrawing) d =
        read_svg("<text " LETTERS " y='100' x='10 50 90'>\n   H\n     H   </text>");
    g_autoptr(DtDrawing) plain = read_svg("<text " LETTERS " y='100' x='10 50 90'>H H</text>");
    for (gsize i = 0; i < 2; i++)
        g_assert_cmpfloat_with_epsilon(letter(d, i).x0, letter(plain, i).x0, 0.01);
    g_assert_cmpfloat_with_epsilon(letter(d, 1).x0 - letter(d, 0).x0, 80, 0.05);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/selectors/specificity", test_specificities);
    g_test_add_func("/outside/selectors/an-plus-b", test_an_plus_b);
    g_test_add_func("/outside/media-queries", test_media_queries);
    g_test_add_func("/outside/text/places", test_places_of_letters);
    g_test_add_func("/outside/text/spaces", test_spaces_and_lists);
    return g_test_run();
}
