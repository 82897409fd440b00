/* ink: nothing drawn is covered. A witness of its own paints the planned ink pen by pen, lighter pens first,
 * and looks for lines that cannot be seen. */
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

#define PX 10 /* per mm */
#define SIDE (100 * PX)

static DtPen pens[3] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"yellow", .colour = {0.96, 0.82, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
enum { BLACK, GREEN, YELLOW };

static DtStrokes ink_of(const char *shapes, DtInkReport *report)
{
    const DtRack rack = {pens, 3};
    return shapes_in_ink(shapes, &rack, &DT_INK_OPTIONS_DEFAULT, report);
}

/* Marks the pixels within half a tip of a stroke. */
static void paint(const DtStrokes *s, size_t i, uint8_t *map, uint8_t mark)
{
    const DtStroke *k = &s->strokes[i];
    double r = pens[k->pen].tip / 2;
    for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n; j++) {
        DtPoint a = s->pts[k->first + j], b = s->pts[k->first + (j + 1) % k->n];
        int x0 = (int)((MIN(a.x, b.x) - r) * PX), x1 = (int)((MAX(a.x, b.x) + r) * PX) + 1;
        int y0 = (int)((MIN(a.y, b.y) - r) * PX), y1 = (int)((MAX(a.y, b.y) + r) * PX) + 1;
        for (int y = MAX(y0, 0); y <= MIN(y1, SIDE - 1); y++)
            for (int x = MAX(x0, 0); x <= MIN(x1, SIDE - 1); x++)
                if (dt_point_segment_distance(dt_point((x + 0.5) / PX, (y + 0.5) / PX), a, b) <= r)
                    map[y * SIDE + x] |= mark;
    }
}

/* The pens whose ink lies on a place, as bits. */
static unsigned ink_at(const DtStrokes *s, DtPoint p)
{
    unsigned found = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        double r = pens[k->pen].tip / 2;
        for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n && !(found & 1u << k->pen); j++) {
            DtPoint a = s->pts[k->first + j], b = s->pts[k->first + (j + 1) % k->n];
            if (MIN(a.x, b.x) - r <= p.x && p.x <= MAX(a.x, b.x) + r && MIN(a.y, b.y) - r <= p.y &&
                p.y <= MAX(a.y, b.y) + r && dt_point_segment_distance(p, a, b) <= r)
                found |= 1u << k->pen;
        }
    }
    return found;
}

/* What can be seen along a straight line of the artwork: the share of it that has the pen's ink, no darker
 * ink over it, and another look `aside` mm to a side. With transparent inks a darker one hides it from
 * above and from below; with opaque ones lighter pens go first, so that it is the same. */
static double seen_along(const DtStrokes *s, int pen, DtPoint a, DtPoint b, double aside)
{
    int good = 0, n = 200;
    DtPoint way = dt_point_scale(dt_point_sub(b, a), 1 / dt_point_distance(a, b));
    for (int i = 0; i < n; i++) {
        DtPoint p = dt_point_lerp(a, b, (i + 0.5) / n);
        unsigned at[3];
        for (int k = -1; k <= 1; k++) {
            DtPoint q = {p.x - way.y * aside * k, p.y + way.x * aside * k};
            at[k + 1] = ink_at(s, q);
        }
        gboolean clear = pen == BLACK || !(at[1] & (1 << BLACK));
        good += (at[1] & (1 << pen)) && clear && (at[0] != at[1] || at[2] != at[1]);
    }
    return (double)good / n;
}

/* Lines over dense and open fields, lighter, darker and of the same pen. */
static void test_lines_over_fields_are_seen(void)
{
    static const char *const fields[] = {"#000000", "#222222", "#2e7d32", "#f5d018", "#777777",
                                         "#bbbbbb", "#123a14", "#5a5a20", "#3b2a1a"};
    static const struct {
        const char *colour;
        int pen;
    } lines[] = {{"#f5d018", YELLOW}, {"#2e7d32", GREEN},  {"#000000", BLACK},
                 {"#2a6a2a", GREEN},  {"#efc800", YELLOW}, {"#3f8f42", GREEN}};
    int n = 0;
    for (size_t f = 0; f < G_N_ELEMENTS(fields); f++)
        for (size_t l = 0; l < G_N_ELEMENTS(lines); l++) {
            if (strcmp(fields[f], lines[l].colour) == 0 || (f < 2 && l == 2) ||
                (f == 2 && l == 3) || (f == 3 && l == 4))
                continue; /* a line of its field's own colour is not to be seen */
            g_autofree char *svg =
                g_strdup_printf("<rect x='10' y='10' width='80' height='80' fill='%s'/>"
                                "<path d='M20 31L80 64' stroke='%s' stroke-width='0.4'/>",
                                fields[f], lines[l].colour);
            DtInkReport r;
            g_auto(DtStrokes) s = ink_of(svg, &r);
            double seen =
                seen_along(&s, lines[l].pen, dt_point(21, 31.55), dt_point(79, 63.45), 0.3);
            g_test_message("%s on %s: %.3f seen, %.1f mm lost", lines[l].colour, fields[f], seen,
                           r.lost_mm);
            g_assert_cmpfloat(seen, >=, 0.98);
            g_assert_cmpfloat(r.lost_mm, ==, 0);
            g_assert_cmpfloat(r.unseen_mm, ==, 0);
            dt_ink_report_clear(&r);
            n++;
        }
    g_assert_cmpint(n, >=, 40);
}

static void test_letters_over_a_field_stay_clear(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='80' height='80' fill='#000'/>"
                                 "<rect x='30' y='48' width='40' height='0.9' fill='#f5d018'/>",
                                 NULL);
    g_assert_cmpfloat(seen_along(&s, YELLOW, dt_point(31, 48.45), dt_point(69, 48.45), 0.7), >=,
                      0.98);
}

/* Two dark paints that the pens cannot tell apart are kept apart by bare paper. */
static void test_what_differs_in_the_artwork_differs_on_paper(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='40' height='80' fill='#2e7d32'/>"
                                 "<rect x='50' y='10' width='40' height='80' fill='#1b5e1f'/>",
                                 NULL);
    g_autofree uint8_t *map = g_malloc0(SIDE * SIDE);
    for (size_t i = 0; i < s.n; i++)
        paint(&s, i, map, (uint8_t)(1 << s.strokes[i].pen));
    double ink[2][3] = {{0}};
    gboolean bare = FALSE;
    for (int x = 150; x < 850; x++)
        for (int y = 300; y < 700; y++)
            for (int pen = 0; pen < 3; pen++)
                ink[x < 500 ? 0 : 1][pen] += (map[y * SIDE + x] & (1 << pen)) != 0;
    for (int x = 490; x < 510 && !bare; x++)
        bare = map[500 * SIDE + x] == 0;
    double apart = 0;
    for (int pen = 0; pen < 3; pen++)
        apart = MAX(apart, fabs(ink[0][pen] - ink[1][pen]) / (350.0 * 400));
    g_test_message("shares differ by %.3f, gap %d", apart, bare);
    g_assert_true(apart > 0.1 || bare);
}

/* Half of a frame along the page's edge shows, and a line is drawn for it; none for one that lies outside. */
static void test_a_frame_along_the_page_is_drawn(void)
{
    static const struct {
        double x;
        gboolean drawn;
    } lines[] = {{0, TRUE}, {-0.02, TRUE}, {100.004, TRUE}, {-0.3, FALSE}, {100.25, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_autofree char *svg =
            g_strdup_printf("<path d='M%g 20V80' stroke='#000' stroke-width='.4'/>", lines[i].x);
        g_auto(DtStrokes) s = ink_of(svg, NULL);
        double length = 0;
        for (size_t k = 0; k < s.n; k++)
            length += dt_strokes_length(&s, k);
        g_test_message("%g: %.2f mm", lines[i].x, length);
        g_assert_true(lines[i].drawn ? length > 59.5 : length == 0);
    }
}

/* Fields of several gradients leave a gap along a line that is no lighter than their ink. */
static void test_tones_give_way(void)
{
    g_auto(DtStrokes) s = ink_of(
        "<linearGradient id='a'><stop stop-color='#000'/><stop offset='1' stop-color='#bbb'/>"
        "</linearGradient><rect x='5' y='10' width='40' height='80' fill='url(#a)'/>"
        "<rect x='55' y='10' width='40' height='80' fill='url(#a)'/>"
        "<path d='M65 31L85 64' stroke='#f5d018' stroke-width='0.4'/>",
        NULL);
    DtStrokes line, field;
    dt_strokes_init(&line);
    dt_strokes_init(&field);
    for (size_t i = 0; i < s.n; i++) {
        const DtStroke *k = &s.strokes[i];
        dt_strokes_append(k->kind == DT_INK_OUTLINE ? &line : &field, s.pts + k->first, k->n,
                          k->closed != 0, k->kind, k->pen, k->shape);
    }
    g_assert_cmpuint(line.n, ==, 1);
    const DtPoint a = line.pts[0], b = line.pts[line.n_pts - 1];
    double nearest = 100;
    for (size_t i = 0; i < field.n_pts; i++)
        nearest = MIN(nearest, dt_point_segment_distance(field.pts[i], a, b));
    g_test_message("the field's pen comes as near as %.3f mm", nearest);
    g_assert_cmpfloat(nearest, >, 0.55); /* both half widths and a bare half tip */
    dt_strokes_clear(&line);
    dt_strokes_clear(&field);
}

/* Paints that have one ink are not one paint: a line of the pen shows over the one that is not its own, wherever
 * the other lies. */
static void test_paints_of_one_ink_are_not_one(void)
{
    static const char *const fields[] = {"#0b8a12", "#3c7a3c"};
    for (int swap = 0; swap < 2; swap++) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='5' y='10' width='40' height='80' fill='%s'/>"
                            "<rect x='55' y='10' width='40' height='80' fill='%s'/>"
                            "<path d='M%d 31L%d 64' stroke='#3c7a3c' stroke-width='0.4'/>",
                            fields[swap], fields[1 - swap], swap ? 65 : 15, swap ? 85 : 35);
        g_auto(DtStrokes) s = ink_of(svg, NULL);
        const double x = swap ? 65 : 15;
        const double seen =
            seen_along(&s, GREEN, dt_point(x + 1, 32.65), dt_point(x + 19, 62.35), 0.3);
        g_test_message("%.3f seen", seen);
        g_assert_cmpfloat(seen, >=, 0.98);
    }
}

/* A part too narrow for a pattern hides no line of its pen either. */
static void test_narrow_parts_give_way(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='30' y='48' width='40' height='1' fill='#3b2a1a'/>"
                                 "<path d='M30 48.5H70' stroke='#f5d018' stroke-width='0.4'/>",
                                 NULL);
    g_assert_cmpfloat(seen_along(&s, YELLOW, dt_point(31, 48.5), dt_point(69, 48.5), 0.35), >=,
                      0.98);
}

/* The ink of a narrow part is straight where a line of another pen goes on beneath it. */
static void test_a_narrow_part_over_a_line_stays_straight(void)
{
    g_auto(DtStrokes) s = ink_of("<path d='M20 30L80 70' stroke='#f5d018' stroke-width='0.3'/>"
                                 "<path d='M20 50H80' stroke='#2e7d32' stroke-width='0.6'/>",
                                 NULL);
    for (double x = 21; x < 79; x += 0.1)
        for (int side = -1; side <= 1; side++)
            g_assert_cmpuint(ink_at(&s, dt_point(x, 50 + 0.15 * side)) & 1u << GREEN, ==,
                             1u << GREEN);
}

/* The share of a level line that has ink of any pen. */
static double inked_along(const DtStrokes *s, double x0, double x1, double y)
{
    int n = 0;
    for (int i = 0; i < 400; i++)
        n += ink_at(s, dt_point(x0 + (x1 - x0) * (i + 0.5) / 400, y)) != 0;
    return n / 400.0;
}

/* A thin line that begins at a field of its paint is drawn although the field is hatched, or left bare within an
 * edge, and so is its short end beyond a dark line that it crosses; and so is a sharp corner of the field; but
 * not where it separates dark fields, nor at a blunt corner. */
static void test_thin_parts_of_hatched_fields(void)
{
    static const char *const paints[] = {"#ccc", "#e0e0e0", "#ffd9d9"};
    for (size_t i = 0; i < G_N_ELEMENTS(paints); i++) {
        g_autofree char *alone = g_strdup_printf("<rect x='10' y='20' width='40' height='60' "
                                                 "fill='%s'/><path d='M40 50H90' stroke='%s' "
                                                 "stroke-width='.25'/>",
                                                 paints[i], paints[i]);
        g_auto(DtStrokes) line = ink_of(alone, NULL);
        g_assert_cmpfloat(inked_along(&line, 52, 89, 50), ==, 1);
        g_assert_cmpfloat(inked_along(&line, 52, 89, 50.3), ==, 0);
        g_autofree char *between = g_strconcat(
            alone, "<path d='M55 40H90V49.875H55ZM55 50.125H90V60H55Z' fill='#000'/>", NULL);
        g_auto(DtStrokes) gap = ink_of(between, NULL);
        g_assert_cmpfloat(inked_along(&gap, 56, 89, 50), ==, 0);
        g_assert_cmpfloat(inked_along(&gap, 56, 89, 50.5), ==, 1);
        g_autofree char *crossing =
            g_strconcat("<path d='M87.5 30V70' stroke='#000' stroke-width='0.8'/>", alone, NULL);
        g_auto(DtStrokes) end = ink_of(crossing, NULL);
        g_assert_cmpfloat(inked_along(&end, 88.6, 89.8, 50), ==, 1);
    }
    static const struct {
        const char *path;
        gboolean sharp;
        double drawn; /* how near to the corner, mm */
    } corners[] = {{"M10 50L90 36V64Z", TRUE, 0.3},
                   {"M10 50L90 44V56Z", TRUE, 0.3},
                   {"M10 50L90 4V96Z", FALSE, 0.5}};
    for (size_t i = 0; i < G_N_ELEMENTS(corners); i++) {
        g_autofree char *svg = g_strdup_printf("<path d='%s' fill='#bbb'/>", corners[i].path);
        g_auto(DtStrokes) ink = ink_of(svg, NULL);
        double nearest = 100;
        for (size_t k = 0; k < ink.n_pts; k++)
            nearest = MIN(nearest, hypot(ink.pts[k].x - 10, ink.pts[k].y - 50) - 0.2);
        g_test_message("%s: ink %.2f mm from the corner", corners[i].path, nearest);
        g_assert_cmpfloat(nearest, <=, corners[i].drawn);
        for (size_t k = 0; k < ink.n && !corners[i].sharp; k++)
            g_assert_cmpint(ink.strokes[k].kind, ==, DT_INK_FILL);
    }
}

/* What pale fields leave of a gradient between them, narrower than the tip, is a line. */
static void test_thin_strips_of_gradients_are_drawn(void)
{
    g_auto(DtStrokes) s = ink_of(
        "<linearGradient id='a'><stop stop-color='#bbb'/><stop offset='1' stop-color='#444'/>"
        "</linearGradient><rect x='20' y='20' width='40' height='60' fill='url(#a)'/>"
        "<rect x='20' y='20' width='40' height='19.85' fill='#f5f0d0'/>"
        "<rect x='20' y='40.15' width='40' height='19.85' fill='#c8dcc8'/>",
        NULL);
    g_assert_cmpfloat(inked_along(&s, 24, 59, 40), ==, 1);
}

/* Nor does a gradient, dense in its pen, swallow a narrow part beside it: one gradient alone, and two that share
 * their edge. */
static void test_gradients_leave_narrow_parts_apart(void)
{
    static const char *const others[] = {
        "", "<rect x='12' y='10' width='38' height='80' fill='url(#b)'/>"};
    for (size_t i = 0; i < G_N_ELEMENTS(others); i++) {
        g_autofree char *svg = g_strdup_printf(
            "<linearGradient id='a'><stop stop-color='#46586c'/><stop offset='1' "
            "stop-color='#3a4a5c'/></linearGradient><linearGradient id='b'><stop "
            "stop-color='#eee'/><stop offset='1' stop-color='#ccc'/></linearGradient>"
            "<rect x='50.3' y='10' width='40' height='80' fill='url(#a)'/>%s"
            "<rect x='50' y='10' width='0.3' height='80' fill='#000'/>",
            others[i]);
        g_auto(DtStrokes) s = ink_of(svg, NULL);
        int lines = 0, apart = 0, dense = 0, n = 0;
        for (double y = 13; y < 87; y += 0.25, n++) {
            lines += (ink_at(&s, dt_point(50.15, y)) & 1u << BLACK) != 0;
            apart += ink_at(&s, dt_point(50.45, y)) == 0;
            dense += ink_at(&s, dt_point(52, y)) != 0;
        }
        g_test_message("of %d places %d on the line, %d bare beside it, %d in the field inked", n,
                       lines, apart, dense);
        g_assert_cmpint(lines, ==, n);
        g_assert_cmpint(apart, >=, n * 98 / 100);
        g_assert_cmpint(dense, >=, n / 2);
    }
}

/* A line beside a field, not over it, has a gap of bare paper, too: the field's ink ends a tip's width from it. */
static void test_a_line_beside_a_field_stays_apart(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='40' height='80' fill='#2e7d32'/>"
                                 "<path d='M50.3 20V80' stroke='#f5d018' stroke-width='0.4'/>",
                                 NULL);
    for (double y = 22; y < 78; y += 0.5) {
        g_assert_cmpuint(ink_at(&s, dt_point(49.6, y)), ==, 1u << GREEN);
        g_assert_cmpuint(ink_at(&s, dt_point(49.97, y)), ==, 0);
        g_assert_cmpuint(ink_at(&s, dt_point(50.3, y)), ==, 1u << YELLOW);
    }
}

/* A pale line over a dark field is left bare; where it goes on over the paper it is drawn. */
static void test_a_pale_line_over_dark_and_white_ground_is_seen(void)
{
    const DtPoint a = {15, 40}, b = {85, 60};
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='40' height='80' fill='#000'/>"
                                 "<path d='M15 40L85 60' stroke='#ccc' stroke-width='0.25'/>",
                                 &r);
    int bare = 0, inked = 0;
    for (int i = 0; i < 100; i++) {
        bare +=
            ink_at(&s, dt_point_lerp(a, dt_point(48, 40 + 20 * 33 / 70.0), (i + 0.5) / 100)) == 0;
        inked +=
            ink_at(&s, dt_point_lerp(dt_point(52, 40 + 20 * 37 / 70.0), b, (i + 0.5) / 100)) != 0;
    }
    g_assert_cmpint(bare, >=, 95);
    g_assert_cmpint(inked, >=, 98);
    g_assert_cmpfloat(r.unseen_mm, ==, 0);
    dt_ink_report_clear(&r);
}

/* Nor is it drawn over the field, between two gaps, if the nearest pen is the field's own and most of it is on the
 * paper. */
static void test_a_pale_line_in_the_ink_of_a_field_is_bare(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='30' height='80' fill='#2e7d32'/>"
                                 "<path d='M12 50H95' stroke='#bfe3bf' stroke-width='0.2'/>",
                                 NULL);
    g_assert_cmpfloat(inked_along(&s, 13, 38, 50), ==, 0);
    for (int side = -1; side <= 1; side += 2)
        g_assert_cmpfloat(inked_along(&s, 13, 38, 50 + 0.3 * side), ==, 1);
    g_assert_cmpfloat(inked_along(&s, 41, 94, 50), >=, 0.98);
}

/* A pale line keeps its own middle on lighter ground where another narrow part that is bare, too, lies beside it. */
static void test_a_pale_line_beside_a_narrow_part_keeps_its_middle(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='30' height='80' fill='#222'/>"
                                 "<rect x='50' y='50' width='30' height='0.7' fill='#e8e8e8'/>"
                                 "<path d='M12 50H95' stroke='#bbb' stroke-width='0.2'/>",
                                 NULL);
    g_assert_cmpfloat(inked_along(&s, 13, 38, 50), ==, 0);
    g_assert_cmpfloat(inked_along(&s, 41, 94, 50), >=, 0.98);
}

/* A thin pale line is drawn where what it lies on is lighter, whether that is a gradient or a field whose hatch is too
 * open to show a bare line, and although it meets another line that is nearly its paint. */
static void test_a_pale_line_over_lighter_ground_is_drawn(void)
{
    static const char *const grounds[] = {
        "<linearGradient id='a'><stop stop-color='#ffedb0'/><stop offset='1' "
        "stop-color='#ffe08a'/></linearGradient><rect x='10' y='10' width='80' height='80' "
        "fill='url(#a)'/>",
        "<rect x='10' y='10' width='80' height='80' fill='#fff0f0'/>",
        "<rect x='10' y='10' width='80' height='80' fill='#cfe8ff'/>"
        "<path d='M50 12V88' stroke='#e8e8e8' stroke-width='1'/>"};
    for (size_t i = 0; i < G_N_ELEMENTS(grounds); i++) {
        g_autofree char *svg = g_strconcat(
            grounds[i], "<path d='M20 50H80' stroke='#ccc' stroke-width='0.25'/>", NULL);
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(svg, &r);
        const double drawn = inked_along(&s, 21, 79, 50);
        g_test_message("ground %zu: %.3f drawn, %.1f mm unseen", i, drawn, r.unseen_mm);
        g_assert_cmpfloat(drawn, >=, 0.95);
        g_assert_cmpfloat(r.unseen_mm, ==, 0);
        dt_ink_report_clear(&r);
    }
}

/* What a pale line leaves of its length beyond a dark field, hardly more than a tip, is drawn apart from the field. */
static void test_the_end_of_a_pale_line_beyond_a_field_is_drawn(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='50' height='80' fill='#000'/>"
                                 "<path d='M20 50H60.6' stroke='#aaa' stroke-width='0.25'/>",
                                 NULL);
    g_assert_cmpfloat(inked_along(&s, 21, 59.9, 50), ==, 0);
    g_assert_cmpfloat(inked_along(&s, 60.4, 60.6, 50), ==, 1);
}

/* A thin line that begins at a hatched field of its paint goes on beside one that is as light in another colour. */
static void test_a_thin_line_goes_on_beside_one_as_light(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='20' width='40' height='60' fill='#ccc'/>"
                                 "<path d='M70 50.4H78' stroke='#f5d018' stroke-width='0.6'/>"
                                 "<path d='M40 50H90' stroke='#ccc' stroke-width='0.3'/>",
                                 NULL);
    g_assert_cmpfloat(inked_along(&s, 52, 89, 49.95), ==, 1);
}

/* A pale line somewhat wider than the tip, over a dark field, is not one of dense ink whose bare edges are too thin to
 * be seen. One as wide as two tips may be, and is seen. */
static void test_a_line_over_its_own_ink_has_edges_that_are_seen(void)
{
    static const double widths[] = {0.57, 0.8};
    for (size_t i = 0; i < G_N_ELEMENTS(widths); i++) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='10' y='10' width='80' height='80' fill='#000'/>"
                            "<path d='M20 50H80' stroke='#888' stroke-width='%g'/>",
                            widths[i]);
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(svg, &r);
        const double aside = widths[i] / 2 - 0.03;
        const double edges[2] = {inked_along(&s, 21, 79, 50 - aside),
                                 inked_along(&s, 21, 79, 50 + aside)};
        g_test_message("%g mm: %.2f and %.2f of the edges inked, %.1f mm unseen", widths[i],
                       edges[0], edges[1], r.unseen_mm);
        g_assert_cmpfloat(MAX(edges[0], edges[1]), ==, 0);
        g_assert_cmpfloat(r.unseen_mm, ==, 0);
        dt_ink_report_clear(&r);
    }
}

/* The share of a level line on which the ink differs from that `aside` mm to either side. */
static double apart_along(const DtStrokes *s, double x0, double x1, double y, double aside)
{
    unsigned n = 0, apart = 0;
    for (double x = x0; x <= x1; x += 0.1, n++) {
        const unsigned on = ink_at(s, dt_point(x, y));
        apart += on != ink_at(s, dt_point(x, y - aside)) && on != ink_at(s, dt_point(x, y + aside));
    }
    return (double)apart / n;
}

/* Dense ink that is hardly wider than the stripes of its own pen's hatch would not be seen in it. */
static void test_a_line_is_apart_from_a_hatch_of_its_own_ink(void)
{
    static const char *const fields[] = {"#433719", "#36302a", "#555"};
    for (size_t i = 0; i < G_N_ELEMENTS(fields); i++) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='10' y='10' width='80' height='80' fill='%s'/>"
                            "<path d='M20 50H80' stroke='#00c' stroke-width='0.57'/>",
                            fields[i]);
        g_auto(DtStrokes) s = ink_of(svg, NULL);
        const double apart = apart_along(&s, 21, 79, 50, 0.45);
        g_test_message("on %s: %.2f apart", fields[i], apart);
        g_assert_cmpfloat(apart, >=, 0.95);
    }
}

/* Nor is a small letter a sliver that may vanish: an O of a line of 0.2 mm, 1.4 mm high. */
static void test_a_small_letter_is_apart(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='80' height='80' fill='#000'/>"
                                 "<path d='M50.7 50A.7 .7 0 0 1 49.3 50A.7 .7 0 0 1 50.7 50M50.5 50"
                                 "A.5 .5 0 0 0 49.5 50A.5 .5 0 0 0 50.5 50' fill='#00c'/>",
                                 NULL);
    for (int i = 0; i < 12; i++) {
        const DtPoint way = dt_point(cos(i * G_PI / 6), sin(i * G_PI / 6)), at = dt_point(50, 50);
        g_assert_cmpuint(ink_at(&s, dt_point_add(at, dt_point_scale(way, 0.6))), !=,
                         ink_at(&s, dt_point_add(at, dt_point_scale(way, 1.2))));
    }
}

/* The pale edge of a black square: bare, as is the paper beside it, which no pen mends. */
static void test_what_the_ink_does_not_show_is_told(void)
{
    DtInkReport r;
    gboolean told = FALSE;
    g_auto(DtStrokes) s = ink_of("<rect x='30' y='30' width='40' height='40' fill='#000' "
                                 "stroke='#ccc' stroke-width='0.2'/>",
                                 &r);
    g_test_message("%.1f mm unseen", r.unseen_mm);
    g_assert_cmpfloat_with_epsilon(r.unseen_mm, 160, 5);
    g_assert_cmpfloat(fabs(fmax(fabs(r.unseen_at.x - 50), fabs(r.unseen_at.y - 50)) - 20), <, 0.1);
    char *note;
    for (size_t i = 0; (note = dt_ink_report_note(&r, i)) != NULL; i++) {
        told |= strstr(note, "do not show") != NULL;
        g_free(note);
    }
    g_assert_true(told);
    dt_ink_report_clear(&r);
}

/* A stroke of a shape that has its paint on one side is an edge, and no line that could be lost; one between two other
 * paints is. */
static void test_a_stroke_beside_its_own_paint_is_no_line(void)
{
    static const struct {
        const char *other;
        double unseen;
    } cases[] = {{"#000", 0}, {"#111c7a", 80}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='50' y='10' width='40' height='80' fill='%s'/>"
                            "<rect x='10' y='10' width='40' height='80' fill='#2e7d32'/>"
                            "<path d='M50 10V90' stroke='#000' stroke-width='0.2'/>",
                            cases[i].other);
        const DtRack rack = {pens, 2};
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        DtInkReport r;
        o.solid = TRUE;
        g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &o, &r);
        g_test_message("beside %s: %.1f mm unseen", cases[i].other, r.unseen_mm);
        g_assert_cmpfloat_with_epsilon(r.unseen_mm, cases[i].unseen, 3);
        dt_ink_report_clear(&r);
    }
}

/* In dense ink, where no field gives way, lines of the same ink as the field under them are told, and those under a
 * darker pen are told apart from them; a line that is apart is not. */
static void test_lines_lost_in_dense_ink_are_told(void)
{
    static const struct {
        const char *line;
        double lost, unseen;
    } cases[] = {{"#333", 0, 60}, {"#f5d018", 60, 0}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg = g_strdup_printf(
            "<rect x='10' y='10' width='80' height='80' fill='#000'/><path d='M20 50H80' "
            "stroke='%s' stroke-width='0.3'/><path d='M20 95H80' stroke='%s' stroke-width='0.3'/>",
            cases[i].line, cases[i].line);
        const DtRack rack = {pens, 3};
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        DtInkReport r;
        o.solid = TRUE;
        g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &o, &r);
        g_test_message("%s: %.1f mm covered, %.1f mm unseen", cases[i].line, r.lost_mm,
                       r.unseen_mm);
        g_assert_cmpfloat_with_epsilon(r.lost_mm, cases[i].lost, 1);
        g_assert_cmpfloat_with_epsilon(r.unseen_mm, cases[i].unseen, 1);
        dt_ink_report_clear(&r);
    }
}

static void test_paper_white_takes_no_ink_and_pale_discs_stay(void)
{
    g_auto(DtStrokes) white =
        ink_of("<rect x='10' y='10' width='80' height='80' fill='#f9f9f9'/>", NULL);
    g_assert_cmpuint(white.n, ==, 0);
    g_auto(DtStrokes) pale = ink_of("<circle cx='50' cy='50' r='30' fill='#dfe8f4'/>", NULL);
    g_assert_cmpuint(pale.n, >, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/cover/lines", test_lines_over_fields_are_seen);
    g_test_add_func("/ink/cover/letters", test_letters_over_a_field_stay_clear);
    g_test_add_func("/ink/cover/apart", test_what_differs_in_the_artwork_differs_on_paper);
    g_test_add_func("/ink/cover/frame", test_a_frame_along_the_page_is_drawn);
    g_test_add_func("/ink/cover/tones", test_tones_give_way);
    g_test_add_func("/ink/cover/paints", test_paints_of_one_ink_are_not_one);
    g_test_add_func("/ink/cover/narrow", test_narrow_parts_give_way);
    g_test_add_func("/ink/cover/own-middle",
                    test_a_pale_line_beside_a_narrow_part_keeps_its_middle);
    g_test_add_func("/ink/cover/straight", test_a_narrow_part_over_a_line_stays_straight);
    g_test_add_func("/ink/cover/thin", test_thin_parts_of_hatched_fields);
    g_test_add_func("/ink/cover/thin-gradient", test_thin_strips_of_gradients_are_drawn);
    g_test_add_func("/ink/cover/swallowed", test_gradients_leave_narrow_parts_apart);
    g_test_add_func("/ink/cover/beside", test_a_line_beside_a_field_stays_apart);
    g_test_add_func("/ink/cover/pale", test_a_pale_line_over_dark_and_white_ground_is_seen);
    g_test_add_func("/ink/cover/pale-on-own", test_a_pale_line_in_the_ink_of_a_field_is_bare);
    g_test_add_func("/ink/cover/pale-on-lighter", test_a_pale_line_over_lighter_ground_is_drawn);
    g_test_add_func("/ink/cover/pale-end", test_the_end_of_a_pale_line_beyond_a_field_is_drawn);
    g_test_add_func("/ink/cover/as-light", test_a_thin_line_goes_on_beside_one_as_light);
    g_test_add_func("/ink/cover/bare-edges", test_a_line_over_its_own_ink_has_edges_that_are_seen);
    g_test_add_func("/ink/cover/own-hatch", test_a_line_is_apart_from_a_hatch_of_its_own_ink);
    g_test_add_func("/ink/cover/small-letter", test_a_small_letter_is_apart);
    g_test_add_func("/ink/cover/unseen", test_what_the_ink_does_not_show_is_told);
    g_test_add_func("/ink/cover/stroke-of-edge", test_a_stroke_beside_its_own_paint_is_no_line);
    g_test_add_func("/ink/cover/dense", test_lines_lost_in_dense_ink_are_told);
    g_test_add_func("/ink/cover/white", test_paper_white_takes_no_ink_and_pale_discs_stay);
    return g_test_run();
}
