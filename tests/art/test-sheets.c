/* art: style sheets and their limits, keywords of the cascade, masks and clips by their own units.
 */
#include "art-test.h"

static void assert_fill(const DtDrawing *d, int i, double r, double g, double b)
{
    assert_colour(d->shapes[i].fill.colour, r, g, b, 1);
}

static void test_places_among_siblings(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<style>rect:nth-last-of-type(2){fill:red} circle:first-of-type{fill:lime}"
                  " g > :nth-last-child(1){fill:blue} g > :only-child{fill:#ff0}"
                  " rect:not(:nth-of-type(n+2)){fill:#0ff}</style>"
                  "<g><rect width='9' height='9'/><circle r='2'/><rect width='9' height='9'/>"
                  "<rect width='9' height='9'/><circle r='3'/></g><g><ellipse rx='3' ry='4'/></g>");
    g_assert_cmpuint(d->n_shapes, ==, 6);
    assert_fill(d, 0, 0, 1, 1);
    assert_fill(d, 1, 0, 1, 0);
    assert_fill(d, 2, 1, 0, 0);
    assert_fill(d, 3, 0, 0, 0);
    assert_fill(d, 4, 0, 0, 1);
    assert_fill(d, 5, 1, 1, 0);
}

/* The strongest rule wins whichever of the index's tables it comes from. */
static void test_strength_over_tables(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<style>#i{fill:red} rect{fill:blue} .c{fill:lime} *{fill:black} .c.d{fill:#ff0}"
        " g .c{fill:#0ff} svg g > rect:nth-child(1){fill:#f0f}</style>"
        "<rect id='i' class='c' width='9' height='9'/><rect class=' c  d ' width='9' height='9'/>"
        "<g><circle r='2'/><rect class='c' width='9' height='9'/></g><rect width='9' height='9'/>");
    assert_fill(d, 0, 1, 0, 0);
    assert_fill(d, 1, 1, 1, 0);
    assert_fill(d, 2, 0, 0, 0);
    assert_fill(d, 3, 0, 1, 1);
    assert_fill(d, 4, 0, 0, 1);
}

/* Ten descendants in a thousand levels: in every combination it would never end. */
static void test_chains_do_not_explode(void)
{
    GString *s =
        g_string_new("<style>x g g g g g g g g g g rect{fill:red}"
                     " svg g + g g ~ rect{fill:blue} svg g g > g g rect{fill:lime}</style>");
    for (int i = 0; i < 1000; i++)
        g_string_append(s, "<g>");
    g_string_append(s, "<rect width='9' height='9'/>");
    for (int i = 0; i < 1000; i++)
        g_string_append(s, "</g>");
    g_autoptr(DtDrawing) d = read_page(s->str);
    assert_fill(d, 0, 0, 1, 0);
    g_string_free(s, TRUE);
}

static void test_too_much_work_is_refused(void)
{
    GString *s = g_string_new(PAGE "\n<style>circle ~ rect {fill:red}</style>");
    for (int i = 0; i < 13000; i++)
        g_string_append(s, "<rect width='9' height='9'/>");
    g_string_append(s, "</svg>");
    assert_refused(s->str, "test.svg:1: its style sheets take more than");
    g_string_free(s, TRUE);
}

static void test_crowd_of_attributes_is_refused(void)
{
    GString *s = g_string_new(PAGE "\n<g>\n<rect title='a=b' ");
    for (int i = 0; i < 12000; i++)
        g_string_append_printf(s, "a%d='1' ", i);
    g_string_append(s, "/></g></svg>");
    assert_refused(s->str, "test.svg:3: an element has more than 10000 attributes");
    g_string_free(s, TRUE);
}

static void test_long_values_are_no_crowd(void)
{
    GString *s = g_string_new("<rect width='9' height='9' title='");
    for (int i = 0; i < 30000; i++)
        g_string_append(s, "a=b ");
    g_string_append(s, "'/>");
    g_autoptr(DtDrawing) d = read_page(s->str);
    g_assert_cmpuint(d->n_shapes, ==, 1);
    g_string_free(s, TRUE);
}

static void test_keywords_of_the_cascade(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g fill='red' stroke='blue' opacity='1'><rect fill='initial' width='9' height='9'/>"
        "<rect fill='lime' style='fill:UNSET' width='9' height='9'/>"
        "<rect style='stroke:revert;stroke-width:2;stroke-width:initial' width='9' height='9'/>"
        "<g opacity='.5'><rect style='opacity:unset;stroke:initial' width='9' "
        "height='9'/></g></g>");
    assert_fill(d, 0, 0, 0, 0);
    assert_fill(d, 1, 1, 0, 0);
    assert_colour(d->shapes[2].stroke.paint.colour, 0, 0, 1, 1);
    g_assert_cmpfloat(d->shapes[2].stroke.width, ==, 1);
    g_assert_cmpint(d->shapes[3].stroke.paint.kind, ==, DT_PAINT_NONE);
    assert_colour(d->shapes[3].fill.colour, 1, 0, 0, .5);
}

static void test_sheets_for_the_screen(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<style>rect{fill:red} @media print{rect{fill:blue}} @media not print{circle{fill:lime}}"
        "</style><style media='print'>rect{fill:black}</style>"
        "<rect width='9' height='9'/><circle r='3'/>");
    assert_fill(d, 0, 1, 0, 0);
    assert_fill(d, 1, 0, 1, 0);
}

static void test_colours_of_one_kind(void)
{
    g_autoptr(DtDrawing) d = read_page("<rect fill='rgb(255, 50%, 0)' width='9' height='9'/>"
                                       "<rect fill='rgb(100%, 50%, 0%)' width='9' height='9'/>");
    assert_fill(d, 0, 0, 0, 0);
    assert_fill(d, 1, 1, .5, 0);
}

/* CSS Color 4, 4 to 9: what is no colour leaves the fill as it is inherited, and is told. */
static void test_what_is_no_colour(void)
{
    static const char *const good[] = {
        "rgb(0 255 0 / 1)",   "rgba(0,255,0)",       "rgb(0, 255, 0, 100%)",
        "rgb(0 255 0/100%)",  "rgb( 0 255 none )",   "#0f0f",
        "hsl(120,100%,50%)",  "hsl(120deg 100 50 )", "#00FF00ff",
        "hsla(120 100% 50%)", "hwb(120 0 0 / none)"};
    static const char *const bad[] = {"rgb(0 255 0 / )",
                                      "rgb(0 255 0 /)",
                                      "rgb(0 255 0 / x)",
                                      "rgb(0,255,0,)",
                                      "rgb(0,255)",
                                      "rgb(0 255 0 1)",
                                      "rgb(0, 255 0)",
                                      "rgb(0 255, 0)",
                                      "rgb(0,255,0 / 1)",
                                      "rgb(0 255 0, 1)",
                                      "rgb(none,255,0)",
                                      "rgb(0,255,0",
                                      "rgb()",
                                      "rgb(0deg 255 0)",
                                      "hsl(120,100,50)",
                                      "hsl(120 100% 50% / )",
                                      "hsl(50%,100%,50%)",
                                      "hwb(120,0%,0%)",
                                      "lab(50,0,0)",
                                      "oklab(50% 0 0 / /)",
                                      "#0f",
                                      "#00ff0",
                                      "#00ff0g",
                                      "#",
                                      "limes",
                                      "color(srgb 0 1 0 /",
                                      "color(of-seeds 0 1 0)",
                                      "rgb(0 255 0) 1"};
    for (gsize i = 0; i < G_N_ELEMENTS(good) + G_N_ELEMENTS(bad); i++) {
        const gboolean is_good = i < G_N_ELEMENTS(good);
        const char *colour = is_good ? good[i] : bad[i - G_N_ELEMENTS(good)];
        g_autofree char *content =
            g_strdup_printf("<g fill='red'><rect width='9' height='9' fill='%s'/></g>", colour);
        g_autoptr(DtDrawing) d = read_page(content);
        const DtColour c = d->shapes[0].fill.colour;
        const gboolean lime = c.r < 0.01 && c.g > 0.99 && c.b < 0.01 && c.alpha > 0.99,
                       red = c.r > 0.99 && c.g < 0.01 && c.b < 0.01 && c.alpha > 0.99;
        const gboolean transparent = strstr(colour, "/ none") != NULL && c.alpha < 0.01;
        if (is_good ? !(lime || transparent) || d->n_notes > 0 : !red || d->n_notes == 0)
            g_error("'%s' is %g %g %g %g, with %zu notes", colour, c.r, c.g, c.b, c.alpha,
                    (size_t)d->n_notes);
    }
}

static DtBox clip_box(const DtDrawing *d, int shape)
{
    g_assert_cmpint(d->shapes[shape].clip, >=, 0);
    return dt_lines_box(&d->clips[d->shapes[shape].clip].regions[0].outline);
}

static void test_clip_in_the_units_of_its_box(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<clipPath id='c' clipPathUnits='objectBoundingBox' transform='translate(5 0)'>"
                  "<rect width='.5' height='1'/></clipPath>"
                  "<rect x='10' y='20' width='40' height='20' clip-path='url(#c)'/>");
    assert_box(clip_box(d, 0), 15, 20, 35, 40);
}

static void test_mask_by_alpha(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<mask id='m' style='mask-type:alpha'><rect x='10' y='10' width='20' "
                  "height='20'/></mask><rect width='50' height='50' mask='url(#m)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    DtBox b = clip_box(d, 0);
    g_assert_cmpfloat_with_epsilon(b.x0, 10, .1);
    g_assert_cmpfloat_with_epsilon(b.y1, 30, .1);
}

static void test_blending_is_told(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect style='mix-blend-mode:normal' width='9' height='9'/>\n"
                  "<rect style='mix-blend-mode:multiply' width='9' height='9'/>");
    g_assert_cmpuint(d->n_notes, ==, 1);
    g_assert_cmpint(d->notes[0].line, ==, 2);
}

/* Values that stand in the source as they are, and those that the XML reader has to make. */
static void test_values_in_place_and_made(void)
{
    g_autoptr(DtDrawing) d =
        read_text("<!DOCTYPE svg [<!ENTITY w '30'>]><svg xmlns='http://www.w3.org/2000/svg' "
                  "width='100mm' height='100mm' viewBox='0 0 100 100'>"
                  "<rect id='plain' width=\"10\" height='&w;'/><rect id='a&amp;b' class='x\ny' "
                  "width='&#52;0' height='5'/></svg>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    g_assert_cmpstr(d->shapes[0].id, ==, "plain");
    assert_box(dt_lines_box(&d->shapes[0].outline), 0, 0, 10, 30);
    g_assert_cmpstr(d->shapes[1].id, ==, "a&b");
    g_assert_cmpstr(d->shapes[1].classes, ==, "x y"); /* XML 1.0, 3.3.3 */
    assert_box(dt_lines_box(&d->shapes[1].outline), 0, 0, 40, 5);
}

/* Each of thirty masks is seen twice through the next. */
static void test_masks_of_masks_are_limited(void)
{
    g_autoptr(GString) svg = g_string_new(PAGE);
    for (int i = 0; i < 30; i++)
        g_string_append_printf(
            svg,
            "<mask id='m%d' fill='white'><g mask='url(#m%d)'><path d='M0 0h99v99z'/>"
            "<path d='M0 0h99v99z' mask='url(#m%d)'/></g></mask>",
            i, i + 1, i + 1);
    g_string_append(svg, "<path d='M0 0h99v99z' mask='url(#m0)'/></svg>");
    assert_refused(svg->str, "its masks have more than 256 million pixels together");
}

/* CSS Custom Properties 1: inherited, of case, with what stands in for them; set anywhere in the
 * element's declarations. */
static void test_custom_properties(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<style>:root{--c:red;--C:blue;--both:var(--c)} .late{fill:var(--c);--c:lime}"
        " g{--c:yellow !important} .i{--c:green} .loop{--a:var(--b);--b:var(--a);fill:var(--a)}"
        "</style><rect width='9' height='9' fill='var(--c)'/>"
        "<rect width='9' height='9' style='fill:var(--C)'/>"
        "<rect width='9' height='9' class='late'/>"
        "<g class='i'><rect width='9' height='9' style='fill:var(--c)'/></g>"
        "<rect width='9' height='9' style='fill:var(--none, var( --c ))'/>"
        "<g fill='blue'><rect width='9' height='9' fill='red' style='fill:var(--none)'/></g>"
        "<rect width='9' height='9' class='loop'/>"
        "<rect width='9' height='9' style='--r:100%;fill:rgb(var(--r),0%,var(--r))'/>"
        "<rect width='9' height='9' style='fill:var(--both)'/>");
    static const double want[][3] = {{1, 0, 0}, {0, 0, 1}, {0, 1, 0}, {1, 1, 0}, {1, 0, 0},
                                     {0, 0, 1}, {0, 0, 0}, {1, 0, 1}, {1, 0, 0}};
    g_assert_cmpuint(d->n_shapes, ==, G_N_ELEMENTS(want));
    for (gsize i = 0; i < d->n_shapes; i++)
        assert_colour(d->shapes[i].fill.colour, want[i][0], want[i][1], want[i][2], 1);
}

/* A value that would unfold to more than memory holds is as none. */
static void test_custom_properties_do_not_unfold(void)
{
    g_autoptr(GString) css = g_string_new("--a0:red;");
    for (int i = 1; i < 15; i++)
        g_string_append_printf(css, "--a%d:var(--a%d)var(--a%d)var(--a%d);", i, i - 1, i - 1,
                               i - 1);
    g_autofree char *content = g_strdup_printf(
        "<g fill='blue' style='%s'><rect width='9' height='9' style='fill:var(--a14)'/></g>",
        css->str);
    g_autoptr(DtDrawing) d = read_page(content);
    assert_colour(d->shapes[0].fill.colour, 0, 0, 1, 1);
}

static void test_rules_for_others(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<style>rect{fill:red}@media (prefers-color-scheme:dark){rect{fill:white}}"
                  "@media print{rect{fill:blue}}@supports (fill:red){.s{fill:lime}}"
                  "@supports not (fill:red){rect{fill:black}}@layer x{.l{fill:yellow}}</style>"
                  "<rect width='9' height='9'/><rect class='s' width='9' height='9'/>");
    assert_colour(d->shapes[0].fill.colour, 1, 0, 0, 1);
    assert_colour(d->shapes[1].fill.colour, 0, 1, 0, 1);
}

/* Media Queries 4, 3.1: what is no resolution makes a query false, whether negated or not. */
static void test_resolutions_of_other_units(void)
{
    static const struct {
        const char *query;
        gboolean holds;
    } cases[] = {{"(min-resolution:0.5dppx)", TRUE}, {"(min-resolution:0.5x)", TRUE},
                 {"(min-resolution:48dpi)", TRUE},   {"(min-resolution:1dpcm)", TRUE},
                 {"(min-resolution:0.5foo)", FALSE}, {"(min-resolution:0.5)", FALSE},
                 {"(max-resolution:99foo)", FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf(
            "<style>rect{fill:red}@media %s{rect{fill:blue}}</style><rect width='9' height='9'/>",
            cases[i].query);
        g_autoptr(DtDrawing) d = read_page(text);
        g_test_message("%s", cases[i].query);
        assert_colour(d->shapes[0].fill.colour, cases[i].holds ? 0 : 1, 0, cases[i].holds ? 1 : 0,
                      1);
    }
}

static void test_sheets_of_other_files_are_noted(void)
{
    static const char *const drawings[] = {
        "<?xml-stylesheet type='text/css' href='x.css'?><svg xmlns='http://www.w3.org/2000/svg' "
        "width='9' height='9'><rect width='5' height='5'/></svg>",
        "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><style>@import url(x.css);"
        "rect{fill:red}</style><rect width='5' height='5'/></svg>"};
    for (gsize i = 0; i < G_N_ELEMENTS(drawings); i++) {
        g_autoptr(DtDrawing) d = read_text(drawings[i]);
        g_assert_cmpuint(d->n_shapes, ==, 1);
        g_assert_cmpuint(d->n_notes, ==, 1);
        g_assert_cmpint(d->notes[0].line, ==, 1);
        g_assert_nonnull(strstr(d->notes[0].text, "not fetched"));
    }
}

/* What is not drawn as it should be is said. */
static void test_functions_are_noted(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect width='9' height='9' style='clip-path:circle(3px at 4px 4px)'/>"
                  "<rect width='9' height='9' style='filter:drop-shadow(0 0 2px red)'/>"
                  "<g><foreignObject width='9' height='9'/></g>"
                  "<rect width='9' height='9' style='filter:rubbish'/>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    g_assert_cmpuint(d->n_notes, ==, 3);
    g_assert_nonnull(strstr(d->notes[0].text, "picture"));
    g_assert_nonnull(strstr(d->notes[1].text, "foreignObject"));
    g_assert_nonnull(strstr(d->notes[2].text, "rubbish"));
    g_assert_cmpint(d->shapes[0].clip, >=, 0);
}

/* CSS Transforms 1, 8 and 11. */
static void test_transform_origin(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<rect x='10' y='10' width='20' height='10' transform='rotate(90)' "
                  "transform-origin='20 15'/>"
                  "<rect x='50' y='10' width='20' height='10' style='transform-box:fill-box;"
                  "transform-origin:center;transform:rotate(90deg)'/>"
                  "<rect x='40' y='40' width='20' height='10' style='transform-origin:50% 60px;"
                  "transform:scale(2)'/>"
                  "<rect x='10' y='70' width='20' height='10' style='transform-box:fill-box;"
                  "transform-origin:bottom right;transform:scale(.5)'/>"
                  "<rect x='60' y='70' width='20' height='10' style='transform-box:fill-box;"
                  "transform:scale(.5)'/>");
    assert_box(dt_lines_box(&d->shapes[0].outline), 15, 5, 25, 25);
    assert_box(dt_lines_box(&d->shapes[1].outline), 55, 5, 65, 25);
    assert_box(dt_lines_box(&d->shapes[2].outline), 30, 20, 70, 40);
    assert_box(dt_lines_box(&d->shapes[3].outline), 20, 75, 30, 80);
    assert_box(dt_lines_box(&d->shapes[4].outline), 60, 70, 70, 75);
}

/* Custom properties that grow threefold in each step, on many elements: the rest is left out and said. */
static void test_variables_that_grow_are_bounded(void)
{
    g_autoptr(GString) text = g_string_new("<svg xmlns='http://www.w3.org/2000/svg' width='100' "
                                           "height='100'><style>*{--a0:0123456789abcdef;");
    for (int i = 1; i < 9; i++)
        g_string_append_printf(text, "--a%d:var(--a%d)var(--a%d)var(--a%d);", i, i - 1, i - 1,
                               i - 1);
    g_string_append(text, "fill:var(--a8,red)}</style>");
    for (int i = 0; i < 20000; i++)
        g_string_append(text, "<rect width='1' height='1'/>");
    g_string_append(text, "<rect width='1' height='1' style='--c:#00f;fill:var(--c)'/></svg>");
    g_autoptr(DtDrawing) d = read_text(text->str);
    /* Left out as the note says: the last one's own variable too, which would make it blue. */
    const DtColour last = d->shapes[d->n_shapes - 1].fill.colour;
    g_assert_cmpuint(d->n_shapes, ==, 20001);
    g_assert_cmpfloat(last.b, <, 0.5);
    gboolean uses = FALSE, memory = FALSE;
    for (gsize i = 0; i < d->n_notes; i++) {
        uses |= strstr(d->notes[i].text, "uses of custom properties") != NULL;
        memory |= strstr(d->notes[i].text, "custom properties of more than") != NULL;
    }
    g_assert_true(uses);
    g_assert_false(memory); /* the work ends before it has filled that */
}

/* CSS Values 3, 5.1.2: a share of the page, in px of the user units that it is given in; rem of the
 * root's font size, in font sizes too. */
static void test_units_of_the_page(void)
{
    g_autoptr(DtDrawing) d = read_text(
        "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='100mm' "
        "viewBox='0 0 100 50' font-size='5'><svg width='50' height='50' viewBox='0 0 10 10'>"
        "<rect width='.1vw' height='.1vh'/></svg>"
        "<g font-size='2rem'><rect width='1em' height='1rem'/></g></svg>");
    double px = 25.4 / 96, user = 2; /* mm; the inner svg's unit is five of the outer's */
    assert_box(dt_lines_box(&d->shapes[0].outline), 0, 0, .2 / px * 5 * user, .1 / px * 5 * user);
    assert_box(dt_lines_box(&d->shapes[1].outline), 0, 0, 10 * user, 5 * user);
}

/* SVG 2, 9.3.2. */
static void test_path_data_as_a_property(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<style>.a{d:path('M10 10h20v20z')}.b{d:none}</style><path class='a'/>"
                  "<path class='b' d='M0 0h9v9z'/><path style='d:path(x' d='M0 0h9v9z'/>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    assert_box(dt_lines_box(&d->shapes[0].outline), 10, 10, 30, 30);
}

/* 14.3.5, and CSS Masking 1, 5.1: the box is that of the element which is clipped. */
static void test_clip_of_a_clip_by_box(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<clipPath id='a' clipPathUnits='objectBoundingBox'><rect width='.5' height='1'/>"
                  "</clipPath><clipPath id='b' clip-path='url(#a)'><rect width='100' height='100'/>"
                  "</clipPath><rect x='20' y='20' width='40' height='40' clip-path='url(#b)'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const DtClip *own = &d->clips[d->shapes[0].clip];
    assert_box(dt_lines_box(&d->clips[own->parent].regions[0].outline), 20, 20, 40, 60);
}

/* Selectors 4, 17: a pseudo-class weighs as much as a class, more than an element's name. */
static void test_weight_of_pseudo_classes(void)
{
    static const char *const kinds[] = {":lang(de)", ":dir(ltr)", ":empty", ":nth-child(n)",
                                        ":first-of-type"};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        g_autofree char *over = g_strdup_printf(
            "<style>%s{fill:lime} rect{fill:red}</style><rect lang='de' width='9' height='9'/>",
            kinds[i]);
        g_autofree char *even = g_strdup_printf("<style>%s{fill:red} .a{fill:lime}</style>"
                                                "<rect class='a' lang='de' width='9' height='9'/>",
                                                kinds[i]);
        g_autoptr(DtDrawing) d = read_page(over), e = read_page(even);
        assert_colour(d->shapes[0].fill.colour, 0, 1, 0, 1);
        assert_colour(e->shapes[0].fill.colour, 0, 1, 0, 1);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/sheets/resolutions", test_resolutions_of_other_units);
    g_test_add_func("/art/sheets/weight-of-pseudo-classes", test_weight_of_pseudo_classes);
    g_test_add_func("/art/sheets/places", test_places_among_siblings);
    g_test_add_func("/art/sheets/strength", test_strength_over_tables);
    g_test_add_func("/art/sheets/chains", test_chains_do_not_explode);
    g_test_add_func("/art/sheets/too-much-work", test_too_much_work_is_refused);
    g_test_add_func("/art/sheets/crowd", test_crowd_of_attributes_is_refused);
    g_test_add_func("/art/sheets/long-values", test_long_values_are_no_crowd);
    g_test_add_func("/art/sheets/keywords", test_keywords_of_the_cascade);
    g_test_add_func("/art/sheets/screen", test_sheets_for_the_screen);
    g_test_add_func("/art/sheets/colours", test_colours_of_one_kind);
    g_test_add_func("/art/sheets/clip-units", test_clip_in_the_units_of_its_box);
    g_test_add_func("/art/sheets/mask-by-alpha", test_mask_by_alpha);
    g_test_add_func("/art/sheets/blending", test_blending_is_told);
    g_test_add_func("/art/sheets/values", test_values_in_place_and_made);
    g_test_add_func("/art/sheets/masks-of-masks", test_masks_of_masks_are_limited);
    g_test_add_func("/art/sheets/custom-properties", test_custom_properties);
    g_test_add_func("/art/sheets/custom-properties-unfolding",
                    test_custom_properties_do_not_unfold);
    g_test_add_func("/art/sheets/rules-for-others", test_rules_for_others);
    g_test_add_func("/art/sheets/other-files", test_sheets_of_other_files_are_noted);
    g_test_add_func("/art/sheets/functions", test_functions_are_noted);
    g_test_add_func("/art/sheets/variables-that-grow", test_variables_that_grow_are_bounded);
    g_test_add_func("/art/sheets/transform-origin", test_transform_origin);
    g_test_add_func("/art/sheets/units-of-the-page", test_units_of_the_page);
    g_test_add_func("/art/sheets/path-data", test_path_data_as_a_property);
    g_test_add_func("/art/sheets/clip-of-a-clip", test_clip_of_a_clip_by_box);
    g_test_add_func("/art/sheets/no-colour", test_what_is_no_colour);
    return g_test_run();
}
