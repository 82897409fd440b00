/* art: text as outlines, single-line letters, places of letters, text on a path. */
#include "art-test.h"

static DtDrawing *read_single_line(const char *content)
{
    g_autofree char *svg = g_strconcat(PAGE, content, "</svg>", NULL);
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.single_line_text = TRUE;
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "test.svg", &o, &error);
    g_assert_no_error(error);
    return d;
}

static DtBox ink(const DtDrawing *d)
{
    DtBox b = DT_BOX_EMPTY;
    for (gsize i = 0; i < d->n_shapes; i++)
        b = dt_box_union(b, dt_lines_box(&d->shapes[i].outline));
    return b;
}

static void test_letters_are_closed_outlines_of_the_right_height(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<text x='10' y='50' font-size='20' font-family='DejaVu Sans' fill='red'>HO</text>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const DtShape *s = &d->shapes[0];
    g_assert_cmpuint(s->outline.n, ==, 3); /* H, and O with its hole */
    for (gsize i = 0; i < s->outline.n; i++)
        g_assert_true(s->outline.closed[i]);
    DtBox h = dt_lines_box(&s->outline);
    g_assert_cmpfloat_with_epsilon(h.y1, 50, 0.4);
    g_assert_cmpfloat_with_epsilon(h.y1 - h.y0, 20 * 0.75, 0.5); /* capitals: 0.73 em, O over it */
    assert_colour(s->fill.colour, 1, 0, 0, 1);
}

static void test_anchor_shifts_whole_chunk(void)
{
    g_autoptr(DtDrawing) start = read_page("<text x='50' y='50'>ab<tspan dx='3'>c</tspan></text>");
    g_autoptr(DtDrawing) middle =
        read_page("<text x='50' y='50' text-anchor='middle'>ab<tspan dx='3'>c</tspan></text>");
    g_autoptr(DtDrawing) end =
        read_page("<text x='50' y='50' text-anchor='end'>ab<tspan dx='3'>c</tspan></text>");
    double a = ink(start).x0, b = ink(middle).x0, c = ink(end).x0;
    g_assert_cmpfloat(a, >, b);
    g_assert_cmpfloat_with_epsilon(a - b, b - c, 0.02);
    g_assert_cmpfloat(ink(end).x1, <=, 50.2);
}

static void test_right_to_left_pieces(void)
{
    const char *text = "<text x='50' y='50' direction='rtl' %s><tspan fill='red'>\xd7\x90\xd7\x91"
                       "</tspan><tspan fill='blue'>\xd7\x92</tspan></text>";
    g_autofree char *a = g_strdup_printf(text, ""), *b = g_strdup_printf(text, "text-anchor='end'");
    g_autoptr(DtDrawing) start = read_page(a);
    g_autoptr(DtDrawing) end = read_page(b);
    g_assert_cmpfloat(ink(start).x1, <=, 50.5);
    g_assert_cmpfloat(ink(end).x0, >=, 49.5);
    DtBox first = dt_lines_box(&start->shapes[0].outline);
    g_assert_cmpfloat(first.x0, >, dt_lines_box(&start->shapes[1].outline).x1 - 0.5);
}

/* CSS Cascade 4, 3.2: the shorthand `all` sets every property but those that are part of the text, its direction
 * among them. */
static void test_all_but_the_direction_is_reset(void)
{
    static const char *const values[] = {"initial", "unset"};
    for (gsize i = 0; i < G_N_ELEMENTS(values); i++)
        for (int rtl = 0; rtl < 2; rtl++) {
            g_autofree char *page = g_strdup_printf("<text x='50' y='50' fill='#f00' opacity='0.5' "
                                                    "direction='%s' style='all:%s'>H</text>",
                                                    rtl ? "rtl" : "ltr", values[i]);
            g_autoptr(DtDrawing) d = read_page(page);
            if (rtl)
                g_assert_cmpfloat(ink(d).x1, <=, 50.5);
            else
                g_assert_cmpfloat(ink(d).x0, >=, 49.5);
            assert_colour(d->shapes[0].fill.colour, 0, 0, 0, 1);
        }
}

static void test_lists_place_letters_one_by_one(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<text x='10 30 70' y='20 40' font-size='10' rotate='0 90'>III</text>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    DtBox a = dt_lines_box(&d->shapes[0].outline), b = dt_lines_box(&d->shapes[1].outline);
    DtBox c = dt_lines_box(&d->shapes[2].outline);
    g_assert_cmpfloat(fabs(a.y1 - 20), <, 0.1);
    g_assert_cmpfloat(dt_box_height(a), >, 2 * dt_box_width(a));
    g_assert_cmpfloat(dt_box_width(b), >, 2 * dt_box_height(b)); /* lies down */
    g_assert_cmpfloat(b.x0, >=, 29.9);
    g_assert_cmpfloat(c.x0, >=, 70);
    g_assert_cmpfloat(dt_box_width(c), >, 2 * dt_box_height(c)); /* the last turn holds on */
}

static void test_spaces_collapse(void)
{
    g_autoptr(DtDrawing) a = read_page("<text x='9' y='50'>  a \n  b <tspan> c</tspan> </text>");
    g_autoptr(DtDrawing) b = read_page("<text x='9' y='50'>a b <tspan>c</tspan></text>");
    g_autoptr(DtDrawing) c =
        read_page("<text x='9' y='50' xml:space='preserve'>a  b <tspan>c</tspan></text>");
    g_assert_cmpfloat_with_epsilon(ink(a).x1, ink(b).x1, 1e-6);
    g_assert_cmpfloat(ink(c).x1, >, ink(b).x1 + 2);
}

static void test_text_on_a_path(void)
{
    g_autoptr(DtDrawing) d = read_page("<path id='p' d='M80 10V90'/><text font-size='10'><textPath "
                                       "href='#p'>II</textPath></text>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    DtBox b = ink(d);
    g_assert_cmpfloat(b.y0, >=, 10);
    g_assert_cmpfloat(b.x0, >=, 79.9); /* the track runs down: letters stand to its right */
    g_assert_cmpfloat(b.x1, <=, 88);
}

/* A substituted font may be wider than the one that the artist had. */
static void test_letters_beyond_the_path_are_noted(void)
{
    static const struct {
        const char *path;
        gboolean lost;
    } cases[] = {{"M10 50H90", FALSE}, {"M10 50H20", TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *body =
            g_strdup_printf("<path id='p' d='%s'/><text font-size='10'><textPath "
                            "href='#p'>HHHH </textPath></text>",
                            cases[i].path);
        g_autoptr(DtDrawing) d = read_page(body);
        gboolean told = FALSE;
        for (gsize k = 0; k < d->n_notes; k++)
            told |= strstr(d->notes[k].text, "letters beyond the end of their path") != NULL;
        g_assert_cmpint(told, ==, cases[i].lost);
    }
}

/* SVG 2, 11.8.2: a length is in the units of the path's pathLength, a percentage is of the whole path. */
static void test_text_starts_on_a_path(void)
{
    static const char *const starts[] = {"startOffset='20'", "pathLength='40' startOffset='10'",
                                         "pathLength='40' startOffset='25%'", "startOffset='25%'"};
    for (gsize i = 0; i < G_N_ELEMENTS(starts); i++) {
        const char *offset = strstr(starts[i], "startOffset");
        g_autofree char *text =
            g_strdup_printf("<path id='p' d='M10 50H90' %.*s/><text font-size='10'><textPath "
                            "href='#p' %s>I</textPath></text>",
                            (int)(offset - starts[i]), starts[i], offset);
        g_autoptr(DtDrawing) d = read_page(text);
        g_assert_cmpfloat_with_epsilon(ink(d).x0, 30, 2);
        g_assert_cmpfloat(ink(d).x0, >=, 30);
    }
}

static void test_letter_spacing_and_decoration(void)
{
    g_autoptr(DtDrawing) a = read_page("<text x='9' y='50' font-size='10'>abc</text>");
    g_autoptr(DtDrawing) b =
        read_page("<text x='9' y='50' font-size='10' letter-spacing='5'>abc</text>");
    g_assert_cmpfloat_with_epsilon(ink(b).x1 - ink(a).x1, 10, 0.05);
    g_autoptr(DtDrawing) u =
        read_page("<text x='9' y='50' font-size='10' text-decoration='underline'>aaa</text>");
    g_autoptr(DtDrawing) plain = read_page("<text x='9' y='50' font-size='10'>aaa</text>");
    g_assert_cmpfloat(ink(u).y1, >, ink(plain).y1 + 0.3);
}

static void test_text_length(void)
{
    g_autoptr(DtDrawing) a = read_page("<text x='10' y='50' font-size='10'>III</text>");
    g_autoptr(DtDrawing) b =
        read_page("<text x='10' y='50' font-size='10' textLength='60'>III</text>");
    g_autoptr(DtDrawing) c = read_page("<text x='10' y='50' font-size='10' textLength='60' "
                                       "lengthAdjust='spacingAndGlyphs'>III</text>");
    g_assert_cmpfloat_with_epsilon(ink(b).x1, 70, 0.6);
    g_assert_cmpfloat_with_epsilon(ink(c).x1, 70, 4);
    DtLines *plain = &a->shapes[0].outline, *spread = &b->shapes[0].outline;
    DtLines *wide = &c->shapes[0].outline;
    g_assert_cmpfloat_with_epsilon(dt_lines_area(plain, 0), dt_lines_area(spread, 0), 1e-3);
    g_assert_cmpfloat(fabs(dt_lines_area(wide, 0)), >, 3 * fabs(dt_lines_area(plain, 0)));
}

static void test_single_line_letters_are_open_strokes(void)
{
    g_autoptr(DtDrawing) d =
        read_single_line("<text x='10' y='50' font-size='20' fill='blue'>HE\xc3\x89</text>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    const DtShape *s = &d->shapes[0];
    g_assert_cmpint(s->fill.kind, ==, DT_PAINT_NONE);
    assert_colour(s->stroke.paint.colour, 0, 0, 1, 1);
    g_assert_cmpuint(s->outline.n, ==, 3 + 4 + 5); /* strokes of H, E and E with its accent */
    for (gsize i = 0; i < s->outline.n; i++)
        g_assert_false(s->outline.closed[i]);
    DtBox b = dt_lines_box(&s->outline);
    g_assert_cmpfloat_with_epsilon(b.y1, 50, 0.02);
    g_assert_cmpfloat(dt_art_stroke_width_mm(&s->stroke), <=, 0.21);
}

static void test_single_line_falls_back_to_outlines(void)
{
    g_autoptr(DtDrawing) d = read_single_line("<text x='10' y='50'>\xce\xa9</text>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_FLAT);
    g_assert_cmpuint(d->n_notes, ==, 2); /* that, and which font is drawn */
}

/* Each accent is a stroke or two more; one that there is no stroke for takes the letter to outlines. */
static void test_single_line_accents(void)
{
    static const struct {
        const char *letter, *plain;
        guint more;
        gboolean below;
    } cases[] = {{"\xc3\x80", "A", 1, FALSE}, /* grave */
                 {"\xc3\x82", "A", 1, FALSE}, /* circumflex */
                 {"\xc3\x91", "N", 1, FALSE}, /* tilde */
                 {"\xc3\x9c", "U", 2, FALSE}, /* diaeresis */
                 {"\xc5\xae", "U", 1, FALSE}, /* ring */
                 {"\xc5\xa0", "S", 1, FALSE}, /* caron */
                 {"\xc3\x87", "C", 1, TRUE},  /* cedilla */
                 {"\xc4\x98", "E", 1, TRUE}}; /* ogonek */
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *with =
            g_strdup_printf("<text x='10' y='50' font-size='20'>%s</text>", cases[i].letter);
        g_autofree char *without =
            g_strdup_printf("<text x='10' y='50' font-size='20'>%s</text>", cases[i].plain);
        g_autoptr(DtDrawing) d = read_single_line(with), plain = read_single_line(without);
        g_assert_cmpuint(d->shapes[0].outline.n, ==, plain->shapes[0].outline.n + cases[i].more);
        const DtBox a = dt_lines_box(&d->shapes[0].outline),
                    b = dt_lines_box(&plain->shapes[0].outline);
        g_assert_cmpfloat(cases[i].below ? a.y1 - b.y1 : b.y0 - a.y0, >, 1);
        g_assert_cmpfloat(fabs(cases[i].below ? a.y0 - b.y0 : a.y1 - b.y1), <, 1e-6);
    }
    g_autoptr(DtDrawing) d =
        read_single_line("<text x='10' y='50'>\xe1\xb8\x8f</text>"); /* a line below */
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_FLAT);
}

/* The marks of an accented letter, first stroke to last, and the letter itself without them. */
static void accented(gunichar base, gunichar mark, gunichar second, DtBox *letter, DtBox *marks)
{
    gunichar c = base;
    char plain[8] = "", with[8] = "";
    g_assert_true(g_unichar_compose(base, mark, &c));
    g_assert_true(second == 0 || g_unichar_compose(c, second, &c));
    g_unichar_to_utf8(base, plain);
    g_unichar_to_utf8(c, with);
    /* of this size the faces' unit, 0.72 / 21 of an em, is 1 */
    const char *page = "<text x='10' y='60' font-size='29.1666667'>%s</text>";
    g_autofree char *one = g_strdup_printf(page, plain), *two = g_strdup_printf(page, with);
    g_autoptr(DtDrawing) a = read_single_line(one), b = read_single_line(two);
    const DtLines *l = &a->shapes[0].outline, *m = &b->shapes[0].outline;
    *letter = dt_lines_box(l);
    *marks = DT_BOX_EMPTY;
    g_assert_cmpuint(m->n_pts, >, l->n_pts);
    for (gsize i = 0; i < m->n_pts; i++)
        if (i >= l->n_pts)
            *marks = dt_box_add_point(*marks, m->pts[i]);
        else
            g_assert_cmpfloat(dt_point_distance(m->pts[i], l->pts[i]), <, 1e-6);
}

/* Accents stand over the middle of capitals and small letters alike, apart from them by 2 to 4 units of the 21 of
 * a capital; a second one stands above the first, but not above one below the letter. */
static void test_single_line_accents_stand_clear(void)
{
    static const gunichar above[] = {0x300, 0x301, 0x302, 0x303, 0x304, 0x306, 0x308, 0x30a, 0x30c};
    DtBox letter, marks, first;
    for (gsize i = 0; i < G_N_ELEMENTS(above); i++)
        for (const char *base = "AUau"; *base; base++) {
            accented((gunichar)*base, above[i], 0, &letter, &marks);
            g_assert_cmpfloat(letter.y0 - marks.y1, >, 1.9);
            g_assert_cmpfloat(letter.y0 - marks.y1, <, 4.1);
            g_assert_cmpfloat(fabs(marks.x0 + marks.x1 - letter.x0 - letter.x1) / 2, <, 1.1);
        }
    accented('C', 0x327, 0, &letter, &marks);
    g_assert_cmpfloat_with_epsilon(marks.y0, letter.y1, 0.01); /* a cedilla hangs from it */
    accented('a', 0x302, 0, &letter, &first);
    accented('a', 0x302, 0x301, &letter, &marks);
    g_assert_cmpfloat_with_epsilon(marks.y1, first.y1, 0.01);
    g_assert_cmpfloat_with_epsilon(marks.y0, first.y0 - 6, 0.01);
    accented('c', 0x301, 0, &letter, &first);
    accented('c', 0x327, 0x301, &letter, &marks);
    g_assert_cmpfloat_with_epsilon(marks.y0, first.y0, 0.01);
}

static DtBox box_of_letter(const char *face, gunichar base, gunichar mark, gsize *strokes)
{
    gunichar c = base;
    char text[8] = "";
    g_assert_true(mark == 0 || g_unichar_compose(base, mark, &c));
    g_unichar_to_utf8(c, text);
    g_autofree char *page =
        g_strdup_printf("<text x='10' y='60' font-size='29.1666667' %s>%s</text>", face, text);
    g_autoptr(DtDrawing) d = read_single_line(page);
    *strokes = d->shapes[0].outline.n;
    return dt_lines_box(&d->shapes[0].outline);
}

/* The dot of i and j gives way to an accent above (Soft_Dotted in PropList.txt of the Unicode Character Database),
 * which stands as high as that of a u; it stays where the mark is below. */
static void test_single_line_dots_give_way(void)
{
    static const gunichar above[] = {0x300, 0x301, 0x302, 0x303, 0x304, 0x306, 0x308, 0x30c};
    static const char *const faces[] = {"", "font-weight='bold'", "font-family='cursive'"};
    for (gsize k = 0; k < G_N_ELEMENTS(faces); k++) {
        const char *face = faces[k];
        gsize i, u, j, with, of_u;
        const DtBox dotted = box_of_letter(face, 'i', 0, &i),
                    tail = box_of_letter(face, 'j', 0, &j);
        box_of_letter(face, 'u', 0, &u);
        const gsize dot = k == 1 ? 2 : 1; /* strokes of it */
        for (gsize m = 0; m < G_N_ELEMENTS(above); m++) {
            const DtBox a = box_of_letter(face, 'i', above[m], &with),
                        b = box_of_letter(face, 'u', above[m], &of_u);
            g_assert_cmpfloat_with_epsilon(a.y0, b.y0, 0.01);
            g_assert_cmpuint(with - (i - dot), ==, of_u - u);
        }
        const DtBox hat = box_of_letter(face, 'j', 0x302, &with),
                    of_hat = box_of_letter(face, 'u', 0x302, &of_u);
        g_assert_cmpfloat_with_epsilon(hat.y0, of_hat.y0, 0.01);
        g_assert_cmpfloat_with_epsilon(hat.y1, tail.y1, 0.01);
        g_assert_cmpuint(with, ==, j - dot + 1);
        const DtBox below = box_of_letter(face, 'i', 0x328, &with);
        g_assert_cmpfloat_with_epsilon(below.y0, dotted.y0, 0.01);
        g_assert_cmpuint(with, ==, i + 1);
    }
}

/* Quotation marks, dashes and spaces of typography are drawn as what ASCII has for them. */
static void test_single_line_typography(void)
{
    static const char *const cases[][2] = {
        {"a\xc2\xa0z", "a z"},          {"a\xe2\x80\x98z", "a'z"},      {"a\xe2\x80\x99z", "a'z"},
        {"a\xe2\x80\x9cz", "a&quot;z"}, {"a\xe2\x80\x9dz", "a&quot;z"}, {"a\xe2\x80\x90z", "a-z"},
        {"a\xe2\x80\x91z", "a-z"},      {"a\xe2\x80\x93z", "a-z"},      {"a\xe2\x80\x94z", "a-z"},
        {"a\xe2\x88\x92z", "a-z"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *with =
            g_strdup_printf("<text x='10' y='50' font-size='20'>%s</text>", cases[i][0]);
        g_autofree char *without =
            g_strdup_printf("<text x='10' y='50' font-size='20'>%s</text>", cases[i][1]);
        g_autoptr(DtDrawing) d = read_single_line(with), plain = read_single_line(without);
        const DtLines *a = &d->shapes[0].outline, *b = &plain->shapes[0].outline;
        g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_NONE);
        g_assert_cmpuint(a->n_pts, ==, b->n_pts);
        g_assert_cmpmem(a->pts, a->n_pts * sizeof *a->pts, b->pts, b->n_pts * sizeof *b->pts);
    }
}

/* Letters that are lines have lines of text that are lines too, and small capitals and slanted letters of their own. */
static void test_single_line_styles(void)
{
    static const char *const with[] = {"text-decoration='underline'",
                                       "text-decoration='overline line-through'",
                                       "text-decoration='underline double'"};
    static const gsize lines[] = {1, 2, 2};
    g_autoptr(DtDrawing) plain = read_single_line("<text x='10' y='50' font-size='20'>HE</text>");
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_autofree char *text =
            g_strdup_printf("<text x='10' y='50' font-size='20' %s>HE</text>", with[i]);
        g_autoptr(DtDrawing) d = read_single_line(text);
        gsize more = 0;
        for (gsize k = 0; k < d->n_shapes; k++) {
            const DtLines *l = &d->shapes[k].outline;
            g_assert_cmpint(d->shapes[k].fill.kind, ==, DT_PAINT_NONE);
            for (gsize j = 0; l->n < 7 && j < l->n; j++, more++) {
                const DtPoint *p = dt_lines_at(l, j);
                g_assert_cmpuint(dt_lines_count(l, j), ==, 2);
                g_assert_cmpfloat_with_epsilon(p[0].y, p[1].y, 1e-9);
                g_assert_cmpfloat(fabs(p[1].x - p[0].x), >=, dt_box_width(ink(plain)));
            }
        }
        g_assert_cmpuint(more, ==, lines[i]);
    }
    g_autoptr(DtDrawing) caps =
        read_single_line("<text x='10' y='50' font-size='20' font-variant='small-caps'>he</text>");
    g_autoptr(DtDrawing) all = read_single_line(
        "<text x='10' y='50' font-size='20' font-variant='all-small-caps'>HE</text>");
    g_autoptr(DtDrawing) italic =
        read_single_line("<text x='10' y='50' font-size='20' font-style='italic'>HE</text>");
    const DtBox full = ink(plain), slanted = ink(italic);
    for (int i = 0; i < 2; i++) {
        const DtBox b = ink(i ? all : caps);
        g_assert_cmpfloat_with_epsilon(dt_box_height(b), 0.7 * dt_box_height(full), 1e-6);
        g_assert_cmpfloat_with_epsilon(b.y1, full.y1, 1e-6);
    }
    g_assert_cmpfloat_with_epsilon(dt_box_height(slanted), dt_box_height(full), 1e-6);
    g_assert_cmpfloat_with_epsilon(slanted.x1 - full.x1, 0.21256 * dt_box_height(full), 1e-6);
    g_assert_cmpuint(caps->n_notes, ==, plain->n_notes);
}

static void test_missing_letter_is_told(void)
{
    g_autoptr(DtDrawing) d = read_page("\n<text x='10' y='50'>a\xf0\x93\x80\x80</text>");
    gboolean told = FALSE;
    for (gsize i = 0; i < d->n_notes; i++)
        told |= strstr(d->notes[i].text, "U+13000") && d->notes[i].line == 2;
    g_assert_true(told);
}

static void test_gradient_runs_over_the_whole_text(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<linearGradient id='g'><stop stop-color='red'/><stop offset='1' stop-color='blue'/>"
        "</linearGradient><text x='10' y='50' font-size='20' fill='url(#g)'>MM<tspan "
        "font-weight='bold'>MM</tspan></text>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    DtBox b = ink(d);
    DtColour left = dt_art_tone_at(d->shapes[0].fill.tone, dt_point(b.x0, 45));
    DtColour right = dt_art_tone_at(d->shapes[1].fill.tone, dt_point(b.x1, 45));
    g_assert_cmpfloat(left.r, >, 0.9);
    g_assert_cmpfloat(right.b, >, 0.9);
}

/* CSS Fonts 3, 3.1: a name without quotes is a run of identifiers, else the declaration is void. */
static void test_font_family_must_be_names(void)
{
    static const struct {
        const char *family;
        gboolean counts;
    } cases[] = {{"Eli 5.0b", FALSE},          {"monospace, 3D", FALSE},
                 {"\"monospace\" x", FALSE},   {"", FALSE},
                 {"monospace,", FALSE},        {"monospace", TRUE},
                 {"\"5.0\", monospace", TRUE}, {"No Such-Face_2 , monospace", TRUE}};
    g_autoptr(DtDrawing) plain = read_page("<text y='20' font-family='serif'>iii</text>");
    double serif = dt_box_width(dt_art_box(plain));
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *page = g_strdup_printf(
            "<g font-family='serif'><text y='20' font-family='%s'>iii</text></g>", cases[i].family);
        g_autoptr(DtDrawing) d = read_page(page);
        gboolean same = fabs(dt_box_width(dt_art_box(d)) - serif) < 1e-6;
        g_assert_cmpint(same, ==, !cases[i].counts);
    }
}

/* CSS Inline 3, 4.2.1: the middle is half the letter x above the alphabetic baseline. */
static void test_middle_is_half_the_letter_x(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<g font-family='DejaVu Sans' font-size='40'><text x='5' y='50'>x</text>"
                  "<text x='50' y='50' dominant-baseline='middle'>x</text></g>");
    DtBox plain = dt_lines_box(&d->shapes[0].outline);
    DtBox middle = dt_lines_box(&d->shapes[1].outline);
    g_assert_cmpfloat_with_epsilon((middle.y0 + middle.y1) / 2, 50, 0.05);
    g_assert_cmpfloat_with_epsilon(middle.y1 - plain.y1, (plain.y1 - plain.y0) / 2, 0.05);
}

/* SVG 1.1, 10.12: a line has the paint of the element that asks for it. */
static void test_lines_have_the_paint_of_their_element(void)
{
    g_autoptr(DtDrawing) d =
        read_page("<text y='50' font-size='20' fill='blue' text-decoration='underline'>a"
                  "<tspan fill='red'>b<tspan fill='lime' text-decoration='line-through'>c</tspan>"
                  "</tspan></text>");
    static const double want[][3] = {{0, 0, 1}, {0, 0, 1}, {0, 0, 1}, {1, 0, 0},
                                     {0, 0, 1}, {0, 1, 0}, {0, 1, 0}};
    g_assert_cmpuint(d->n_shapes, ==, G_N_ELEMENTS(want));
    for (gsize i = 0; i < d->n_shapes; i++)
        assert_colour(d->shapes[i].fill.colour, want[i][0], want[i][1], want[i][2], 1);
}

static void test_text_transform_and_white_space(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g font-family='DejaVu Sans' font-size='9'><text y='10'>STRASSE OF X</text>"
        "<text y='10' style='text-transform:uppercase'>stra\xc3\x9f"
        "e of x</text>"
        "<text y='30'>It&apos;s A-Day</text>"
        "<text y='30' style='text-transform:capitalize'>it&apos;s a-day</text>"
        "<text y='50' xml:space='preserve'>a   b</text><text y='50' style='white-space:pre'>a   b"
        "</text></g>");
    g_assert_cmpuint(d->n_shapes, ==, 6);
    for (gsize i = 0; i < 6; i += 2) {
        DtBox a = dt_lines_box(&d->shapes[i].outline), b = dt_lines_box(&d->shapes[i + 1].outline);
        assert_box(b, a.x0, a.y0, a.x1, a.y1);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/text/single-line-typography", test_single_line_typography);
    g_test_add_func("/art/text/outlines", test_letters_are_closed_outlines_of_the_right_height);
    g_test_add_func("/art/text/anchor", test_anchor_shifts_whole_chunk);
    g_test_add_func("/art/text/right-to-left", test_right_to_left_pieces);
    g_test_add_func("/art/text/all", test_all_but_the_direction_is_reset);
    g_test_add_func("/art/text/lists", test_lists_place_letters_one_by_one);
    g_test_add_func("/art/text/spaces-collapse", test_spaces_collapse);
    g_test_add_func("/art/text/on-a-path", test_text_on_a_path);
    g_test_add_func("/art/text/on-a-path/too-long", test_letters_beyond_the_path_are_noted);
    g_test_add_func("/art/text/starts-on-a-path", test_text_starts_on_a_path);
    g_test_add_func("/art/text/spacing-and-decoration", test_letter_spacing_and_decoration);
    g_test_add_func("/art/text/length", test_text_length);
    g_test_add_func("/art/text/single-line-styles", test_single_line_styles);
    g_test_add_func("/art/text/single-line", test_single_line_letters_are_open_strokes);
    g_test_add_func("/art/text/single-line-accents", test_single_line_accents);
    g_test_add_func("/art/text/single-line-accents-clear", test_single_line_accents_stand_clear);
    g_test_add_func("/art/text/single-line-dots", test_single_line_dots_give_way);
    g_test_add_func("/art/text/single-line-falls-back", test_single_line_falls_back_to_outlines);
    g_test_add_func("/art/text/missing-letter", test_missing_letter_is_told);
    g_test_add_func("/art/text/gradient", test_gradient_runs_over_the_whole_text);
    g_test_add_func("/art/text/font-family", test_font_family_must_be_names);
    g_test_add_func("/art/text/middle", test_middle_is_half_the_letter_x);
    g_test_add_func("/art/text/paint-of-lines", test_lines_have_the_paint_of_their_element);
    g_test_add_func("/art/text/transform", test_text_transform_and_white_space);
    return g_test_run();
}
