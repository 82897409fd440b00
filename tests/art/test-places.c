/* art: the coordinates and lengths of what a drawing uses by reference. */
#include "art-test.h"

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

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/use/box", test_box_of_a_moved_use);
    g_test_add_func("/art/use/clip", test_clip_of_a_moved_use);
    g_test_add_func("/art/percentages-within-view-boxes", test_percentages_within_view_boxes);
    return g_test_run();
}
