/* art: the coordinates and lengths of what a drawing uses by reference. */
#include "art-test.h"

#define MM (96 / 25.4) /* px */

/* The box of a <use> is that of its content before x and y move it, as in browsers. */
static void test_box_of_a_moved_use(void)
{
    static const struct {
        const char *place;
        DtBox
            box; /* mm, of a square of 9 mm that turns by 90 degrees about the middle of its box */
    } cases[] = {{"", {0, 0, 9, 9}},
                 {"x='3'", {0, 3, 9, 12}},
                 {"y='3'", {-3, 0, 6, 9}},
                 {"x='3' y='2'", {-2, 3, 7, 12}}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *content = g_strdup_printf(
            "<defs><rect id='r' width='9' height='9'/></defs><use href='#r' %s "
            "style='transform-box:fill-box;transform-origin:center;transform:rotate(90deg)'/>",
            cases[i].place);
        g_autoptr(DtDrawing) d = read_page(content);
        const DtBox b = cases[i].box;
        g_assert_cmpuint(d->n_notes, ==, 0);
        assert_box(dt_lines_box(&d->shapes[0].outline), b.x0, b.y0, b.x1, b.y1);
    }
}

/* What clips a <use> moves with it, as it would with a <g> of the same translation (SVG 1.1, 5.6). */
static void test_clip_of_a_moved_use(void)
{
    static const char *const ways[] = {"clip-path='url(#c)'", "mask='url(#m)'",
                                       "clip-path='circle(20px at 30px 30px)'"};
    for (gsize i = 0; i < G_N_ELEMENTS(ways); i++) {
        DtBox box[2];
        for (int k = 0; k < 2; k++) {
            g_autofree char *content = g_strdup_printf(
                "<defs><rect id='r' width='60' height='60'/><clipPath id='c'><circle cx='30' "
                "cy='30' r='20'/></clipPath><mask id='m'><circle cx='30' cy='30' r='20' "
                "fill='#fff'/></mask></defs>%s%s%s",
                k ? "<g transform='translate(9 4)'><g " : "<use href='#r' x='9' y='4' ", ways[i],
                k ? "><use href='#r'/></g></g>" : "/>");
            g_autoptr(DtDrawing) d = read_page(content);
            g_assert_cmpuint(d->n_shapes, ==, 1);
            const DtClip *clip = &d->clips[d->shapes[0].clip];
            box[k] = dt_lines_box(&clip->regions[clip->n_regions - 1].outline);
        }
        assert_box(box[0], box[1].x0, box[1].y0, box[1].x1, box[1].y1);
        assert_box(box[0], 19, 14, 59, 54);
    }
}

/* Neither a pattern nor a marker is a viewport: a percentage within one is that of the page (SVG 2, 8.2). */
static void test_percentages_within_view_boxes(void)
{
    g_autoptr(DtDrawing) marked =
        read_page("<defs><marker id='m' markerWidth='20' markerHeight='20' viewBox='0 0 20 20' "
                  "markerUnits='userSpaceOnUse'><rect width='10%' height='5%'/></marker></defs>"
                  "<path d='M40 40h9' fill='none' marker-start='url(#m)'/>");
    assert_box(dt_lines_box(&marked->shapes[0].outline), 40, 40, 50, 45);
    g_autoptr(DtDrawing) tiled =
        read_page("<defs><pattern id='p' width='20' height='20' viewBox='0 0 40 40' "
                  "patternUnits='userSpaceOnUse'><rect width='20%' height='10%'/></pattern></defs>"
                  "<rect width='20' height='20' fill='url(#p)'/>");
    g_assert_cmpuint(tiled->n_shapes, >=, 1);
    assert_box(dt_art_box(tiled), 0, 0, 10, 5);
}

static DtBox box_of_text(const char *attributes, const char *words)
{
    g_autofree char *content = g_strdup_printf(
        "<text y='50' font-size='10' font-family='sans-serif' %s>%s</text>", attributes, words);
    g_autoptr(DtDrawing) d = read_page(content);
    return dt_art_box(d);
}

/* textLength (SVG 2, 11.2.4) is from the first letter to the last, with what dx moves those between, wherever the text is
 * anchored. */
static void test_length_of_a_text(void)
{
    static const char *const adjusts[] = {"spacing", "spacingAndGlyphs"};
    static const int lengths[] = {20, 60};
    for (gsize i = 0; i < 2 * G_N_ELEMENTS(lengths); i++) {
        const int length = lengths[i / 2];
        g_autofree char *start =
            g_strdup_printf("x='15' textLength='%d' lengthAdjust='%s'", length, adjusts[i % 2]);
        const DtBox b = box_of_text(start, "HEIH");
        const struct {
            const char *anchor;
            double x;
        } anchors[] = {{"middle", 15 + length / 2.0}, {"end", 15 + length}};
        for (gsize k = 0; k < G_N_ELEMENTS(anchors); k++) {
            g_autofree char *there =
                g_strdup_printf("x='%g' text-anchor='%s' textLength='%d' lengthAdjust='%s'",
                                anchors[k].x, anchors[k].anchor, length, adjusts[i % 2]);
            assert_box(box_of_text(there, "HEIH"), b.x0, b.y0, b.x1, b.y1);
            g_autofree char *moved_there = g_strconcat(there, " dx='3'", NULL);
            assert_box(box_of_text(moved_there, "HEIH"), b.x0 + 3, b.y0, b.x1 + 3, b.y1);
        }
        g_autofree char *moved = g_strconcat(start, " dx='3'", NULL);
        assert_box(box_of_text(moved, "HEIH"), b.x0 + 3, b.y0, b.x1 + 3, b.y1);
    }
    const DtBox plain = box_of_text("x='15' textLength='60'", "HEIH");
    const DtBox apart = box_of_text("x='15' textLength='60'", "HE<tspan dx='9'>IH</tspan>");
    assert_box(apart, plain.x0, plain.y0, plain.x1, plain.y1);
}

/* Browsers set monospace text of the usual size, or of one relative to it, smaller. */
static void test_monospace_text_of_no_size(void)
{
    static const struct {
        const char *attributes;
        guint notes;
    } cases[] = {{"font-family='monospace'", 1},
                 {"font-family='monospace' font-size='150%'", 1},
                 {"font-family='monospace' font-size='large'", 1},
                 {"font-family='monospace' font-size='12'", 0},
                 {"font-family='monospace' style='font-size:3mm'", 0},
                 {"font-family='monospace, serif'", 0},
                 {"font-family='serif'", 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        for (int sized = 0; sized < 2; sized++) {
            g_autofree char *content =
                g_strdup_printf("<g %s><text y='50' %s>Beans</text></g>",
                                sized ? "font-size='9px'" : "", cases[i].attributes);
            g_autoptr(DtDrawing) d = read_page(content);
            const gboolean by_keyword = strstr(cases[i].attributes, "large") != NULL;
            g_assert_cmpuint(d->n_notes, ==, sized && !by_keyword ? 0 : cases[i].notes);
        }
}

/* What a browser ignores in silence is told where it decides the size and the place of the drawing, or leaves a
 * shape out. Without any size in mm or px the page is as large as its contents. */
static void test_errors_of_size_and_place(void)
{
    static const struct {
        const char *root, *content;
        double width, height; /* of the page, mm; 0: not looked at */
        const char *note;     /* NULL: none */
    } cases[] = {
        {"width='100mm' height='50mm' viewBox='0 0 100 50'", "", 100, 50, NULL},
        {"width='100mm' height='50mm' viewBox='0 0 100'", "", 100, 50, "viewBox: 0 0 100 is not"},
        {"width='100mm' height='50mm' viewBox='0 0 9mm 5mm'", "", 100, 50,
         "viewBox: 0 0 9mm 5mm is not"},
        {"width='9furlong' height='50mm' viewBox='0 0 100 50'", "", 100, 50,
         "width: 9furlong is not"},
        {"width='auto' height='50mm' viewBox='0 0 100 50'", "", 100, 50, NULL},
        {"width='100mm' height='50mm' viewBox='0 0 100 50' preserveAspectRatio='mid'", "", 0, 0,
         "preserveAspectRatio: mid is not"},
        {"width='100mm'", "", 100, 297, "the page has no height: taken as 297 mm"},
        {"height='100mm'", "", 210, 100, "the page has no width: taken as 210 mm"},
        {"width='100%' height='100%'", "", 80 / MM, 40 / MM, NULL},
        {"", "", 80 / MM, 40 / MM, NULL},
        {"", "<rect width='abc' height='9'/>", 80 / MM, 40 / MM, "width: abc is not"},
        {"", "<rect x='' width='9' height='9'/>", 0, 0, "x: '' is not"},
        {"", "<circle r='1 px'/>", 0, 0, "r: 1 px is not"},
        {"", "<ellipse rx='9' ry='b'/>", 0, 0, "ry: b is not"},
        {"", "<line x2='9' y2='9!'/>", 0, 0, "y2: 9! is not"},
        {"", "<svg width='9' height='9' viewBox='a'/>", 0, 0, "viewBox: a is not"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg = g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' %s><rect "
                                               "x='10' y='10' width='80' height='40'/>%s</svg>",
                                               cases[i].root, cases[i].content);
        g_autoptr(DtDrawing) d = read_text(svg);
        g_assert_cmpuint(d->n_notes, ==, cases[i].note ? 1 : 0);
        if (cases[i].note)
            g_assert_true(g_str_has_prefix(d->notes[0].text, cases[i].note));
        if (cases[i].width > 0) {
            g_assert_cmpfloat_with_epsilon(d->width, cases[i].width, 0.01);
            g_assert_cmpfloat_with_epsilon(d->height, cases[i].height, 0.01);
        }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/use/box", test_box_of_a_moved_use);
    g_test_add_func("/art/use/clip", test_clip_of_a_moved_use);
    g_test_add_func("/art/percentages-within-view-boxes", test_percentages_within_view_boxes);
    g_test_add_func("/art/page/errors-of-size-and-place", test_errors_of_size_and_place);
    g_test_add_func("/art/text/length", test_length_of_a_text);
    g_test_add_func("/art/text/monospace-of-no-size", test_monospace_text_of_no_size);
    return g_test_run();
}
