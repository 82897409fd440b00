/* art: paths, shapes, places, styles and refusals. */
#include "art-test.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <sys/inotify.h>
#include <unistd.h>

static void test_page_and_units(void)
{
    g_autoptr(DtDrawing) d = read_text("<svg xmlns='http://www.w3.org/2000/svg' width='1in' "
                                       "height='2cm'><rect width='48' height='6pt'/></svg>");
    g_assert_cmpfloat_with_epsilon(d->width, 25.4, 1e-9);
    g_assert_cmpfloat_with_epsilon(d->height, 20, 1e-9);
    g_assert_cmpuint(d->n_shapes, ==, 1);
    assert_box(dt_lines_box(&d->shapes[0].outline), 0, 0, 12.7, 25.4 / 12);
    assert_colour(d->shapes[0].fill.colour, 0, 0, 0, 1);
}

static void test_view_box_is_centred(void)
{
    g_autoptr(DtDrawing) d =
        read_text("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' "
                  "viewBox='10 10 20 20'><rect x='10' y='10' width='20' height='20'/></svg>");
    assert_box(dt_lines_box(&d->shapes[0].outline), 25, 0, 75, 50);
    g_autoptr(DtDrawing) e =
        read_text("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='50mm' "
                  "preserveAspectRatio='none' "
                  "viewBox='10 10 20 20'><rect x='10' y='10' width='20' height='20'/></svg>");
    assert_box(dt_lines_box(&e->shapes[0].outline), 0, 0, 100, 50);
}

static void test_path_commands(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<path d='M10 10h20v20H10z'/><path d='m10,10l20 0 0 20-20 0z'/>"
        "<path d='M10,10L30,10,30,30,10,30Z'/><path d='M10-10.5.5 20'/>"
        "<path d='M10 10A10 10 0 0130 10a10 10 0 11-20 0z'/><path d='M10 50Q20 30 30 50T50 50'/>"
        "<path d='M10 50C10 40 30 40 30 50S50 60 50 50'/>");
    g_assert_cmpuint(d->n_shapes, ==, 6); /* the fourth is a bare line without stroke */
    for (int i = 0; i < 3; i++) {
        assert_box(dt_lines_box(&d->shapes[i].outline), 10, 10, 30, 30);
        g_assert_cmpfloat_with_epsilon(dt_lines_area(&d->shapes[i].outline, 0), 400, 1e-9);
    }
    assert_box(dt_lines_box(&d->shapes[3].outline), 10, 0, 30, 20);
    assert_box(dt_lines_box(&d->shapes[4].outline), 10, 40, 50, 60);
    assert_box(dt_lines_box(&d->shapes[5].outline), 10, 42.5, 50, 57.5);
}

static void test_path_is_drawn_up_to_its_error(void)
{
    g_autoptr(DtDrawing) d = read_page("\n<path stroke='red' d='M10 10 L20 10 L20 20 L30 x'/>");
    g_assert_cmpuint(d->n_shapes, ==, 1);
    g_assert_cmpuint(d->shapes[0].outline.n_pts, ==, 3);
    g_assert_cmpuint(d->n_notes, ==, 1);
    g_assert_cmpint(d->notes[0].line, ==, 2);
    g_assert_nonnull(strstr(d->notes[0].text, "path data"));
}

static void test_transforms_multiply(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g transform='translate(50,50) rotate(90)'><rect width='10' height='20' "
        "transform='scale(2,1)'/></g><rect width='10' height='10' transform='matrix(1 0 0 1 5 6)'/>"
        "<rect width='10' height='10' transform='rotate(180 20 20)'/>");
    assert_box(dt_lines_box(&d->shapes[0].outline), 30, 50, 50, 70);
    assert_box(dt_lines_box(&d->shapes[1].outline), 5, 6, 15, 16);
    assert_box(dt_lines_box(&d->shapes[2].outline), 30, 30, 40, 40);
}

static void test_style_cascades_and_inherits(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<g fill='red' stroke='#00f' color='lime' opacity='.5'><rect width='9' height='9'/>"
        "<rect width='9' height='9' fill='blue' style='fill:hsl(120,100%,50%);stroke:none'/>"
        "<rect width='9' height='9' fill='currentColor' stroke-width='3' "
        "fill-rule='evenodd'/></g>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    assert_colour(d->shapes[0].fill.colour, 1, 0, 0, .5);
    assert_colour(d->shapes[0].stroke.paint.colour, 0, 0, 1, .5);
    assert_colour(d->shapes[1].fill.colour, 0, 1, 0, .5);
    g_assert_cmpint(d->shapes[1].stroke.paint.kind, ==, DT_PAINT_NONE);
    assert_colour(d->shapes[2].fill.colour, 0, 1, 0, .5);
    g_assert_cmpint(d->shapes[2].rule, ==, DT_FILL_EVENODD);
    g_assert_cmpfloat_with_epsilon(dt_art_stroke_width_mm(&d->shapes[2].stroke), 3, 1e-9);
}

static void test_sheet_with_selectors(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<style><![CDATA[ /* c */ rect { fill: red } .b{fill:lime !important} #c, #d {fill:blue}"
        " g > rect:nth-child(2n) { fill: #ff0 } rect:not(.b) ~ circle {fill:#0ff}"
        " [data-x='1'] { stroke: red; stroke-width: 2 } rect:first-child {fill: #f0f} ]]></style>"
        "<g><rect width='9' height='9'/><rect width='9' height='9'/>"
        "<rect class='a b' id='c' width='9' height='9' style='fill:black'/>"
        "<rect id='d' width='9' height='9'/><circle r='5' data-x='1'/></g>");
    g_assert_cmpuint(d->n_shapes, ==, 5);
    assert_colour(d->shapes[0].fill.colour, 1, 0, 1, 1);
    assert_colour(d->shapes[1].fill.colour, 1, 1, 0, 1);
    assert_colour(d->shapes[2].fill.colour, 0, 1, 0, 1);
    assert_colour(d->shapes[3].fill.colour, 0, 0, 1, 1);
    assert_colour(d->shapes[4].fill.colour, 0, 1, 1, 1);
    g_assert_cmpfloat(d->shapes[4].stroke.width, ==, 2);
    g_assert_cmpstr(d->shapes[2].classes, ==, "a b");
    g_assert_cmpstr(d->shapes[2].id, ==, "c");
}

static void test_geometry_from_a_sheet(void)
{
    g_autoptr(DtDrawing) d = read_page("<style>.w { width: 30px; x: 5px } circle { r: 7px }</style>"
                                       "<rect class='w' width='9' height='9'/><circle cx='50' "
                                       "cy='50' r='2'/>");
    assert_box(dt_lines_box(&d->shapes[0].outline), 5, 0, 35, 9);
    assert_box(dt_lines_box(&d->shapes[1].outline), 43, 43, 57, 57);
}

static void test_use_and_symbol(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<defs><rect id='r' width='10' height='10'/><symbol id='s' viewBox='0 0 2 2'>"
        "<rect width='2' height='2'/></symbol></defs><use xlink:href='#r' x='5' y='6' fill='red'/>"
        "<use href='#s' x='20' y='20' width='40' height='40'/>");
    g_assert_cmpuint(d->n_shapes, ==, 2);
    assert_box(dt_lines_box(&d->shapes[0].outline), 5, 6, 15, 16);
    assert_colour(d->shapes[0].fill.colour, 1, 0, 0, 1);
    assert_box(dt_lines_box(&d->shapes[1].outline), 20, 20, 60, 60);
}

static void test_groups_lines_and_titles(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "\n<g id='sky'\n class='far'><title>Sky</title>\n<rect width='9'\n height='9'/></g>");
    const DtShape *s = &d->shapes[0];
    g_assert_cmpint(s->line, ==, 4);
    const DtGroup *g = &d->groups[s->group];
    g_assert_cmpint(g->line, ==, 2);
    g_assert_cmpstr(g->id, ==, "sky");
    g_assert_cmpstr(g->classes, ==, "far");
    g_assert_cmpstr(g->title, ==, "Sky");
    g_assert_cmpint(g->parent, ==, 0);
}

static void test_dashes_and_place(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<path d='M10 10H90' stroke='black' stroke-dasharray='3 2 1' stroke-dashoffset='1'/>");
    DtShape *s = &d->shapes[0];
    g_assert_cmpuint(s->stroke.n_dash, ==, 6);
    g_assert_cmpfloat(s->stroke.dash[4], ==, 2);
    assert_box(dt_art_box(d), 9.5, 9.5, 90.5, 10.5);
    dt_art_place(d, (DtAffine){2, 0, 0, -2, 10, 300});
    assert_box(dt_art_box(d), 29, 279, 191, 281);
    g_assert_cmpfloat_with_epsilon(dt_art_stroke_width_mm(&s->stroke), 2, 1e-9);
    assert_box(d->view, 10, 100, 210, 300);
}

static void test_gradient_tone_by_position(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<linearGradient id='g'><stop offset='0' stop-color='red'/><stop offset='1' "
        "stop-color='blue'/></linearGradient><rect x='20' width='40' height='9' fill='url(#g)'/>");
    const DtPaint *p = &d->shapes[0].fill;
    g_assert_cmpint(p->kind, ==, DT_PAINT_TONE);
    assert_colour(dt_art_tone_at(p->tone, dt_point(30, 5)), .75, 0, .25, 1);
    assert_colour(p->colour, .5, 0, .5, 1);
    dt_art_place(d, dt_affine_scale(2, -2));
    assert_colour(dt_art_tone_at(p->tone, dt_point(60, -5)), .75, 0, .25, 1);
}

static void test_clip_path_and_page_edge(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<clipPath id='c' clipPathUnits='objectBoundingBox'><circle cx='.5' cy='.5' r='.5'/>"
        "</clipPath><rect x='10' y='10' width='40' height='20' clip-path='url(#c)'/>"
        "<rect x='90' width='20' height='20'/><rect width='20' height='20'/>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    const DtClip *c = &d->clips[d->shapes[0].clip];
    g_assert_cmpuint(c->n_regions, ==, 1);
    assert_box(dt_lines_box(&c->regions[0].outline), 10, 10, 50, 30);
    assert_box(dt_lines_box(&d->clips[d->shapes[1].clip].regions[0].outline), 0, 0, 100, 100);
    g_assert_cmpint(d->shapes[2].clip, ==, -1); /* it lies within the page */
}

static void test_refusals_name_file_and_line(void)
{
    assert_refused("", "test.svg:1: the file is empty");
    assert_refused("hello", "test.svg:1: ");
    assert_refused("<html/>", "test.svg:1: not an SVG drawing");
    assert_refused(PAGE "\n<g>\n<rect", "test.svg:3: not well-formed XML");
    assert_refused("<svg xmlns='http://www.w3.org/2000/svg' width='-5'/>", "test.svg:1: ");
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_art_read("/no/such.svg", NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* A file of these bytes, read as a file. */
static DtDrawing *read_file(const char *data, gsize len, GError **error)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "drawing.svg", NULL);
    g_assert_true(g_file_set_contents(path, data, (gssize)len, NULL));
    DtDrawing *d = dt_art_read(path, NULL, error);
    g_unlink(path);
    g_rmdir(folder);
    return d;
}

static void test_encodings(void)
{
    static const char *const encodings[] = {"UTF-8", "ISO-8859-1", "UTF-16", "UTF-16LE"};
    for (gsize i = 0; i < G_N_ELEMENTS(encodings); i++) {
        g_autofree char *svg =
            g_strdup_printf("%s<?xml version='1.0' encoding='%s'?>\n" PAGE
                            "<g id='\xc3\xa9'><rect id='r' width='9' "
                            "height='9'/></g></svg>",
                            i == 3 ? "\xef\xbb\xbf" : "", i > 1 ? "UTF-16" : encodings[i]);
        gsize len = 0;
        g_autofree char *bytes = g_convert(svg, -1, encodings[i], "UTF-8", NULL, &len, NULL);
        g_assert_nonnull(bytes);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtDrawing) d = read_file(bytes, len, &error);
        g_assert_no_error(error);
        g_assert_cmpstr(d->groups[d->shapes[0].group].id, ==, "\xc3\xa9");
        g_assert_cmpint(d->shapes[0].line, ==, 2);
        g_autoptr(DtDrawing) e = dt_art_read_data(bytes, len, "x.svg", NULL, &error);
        g_assert_no_error(error);
        g_assert_cmpuint(e->n_shapes, ==, 1);
    }
}

static char *packed(const char *text, gsize len, gsize *out_len)
{
    GZlibCompressor *z = g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_GZIP, 9);
    gsize cap = len / 100 + 4096, n = 0, in = 0;
    char *out = g_malloc(cap);
    GConverterResult state;
    do {
        gsize read = 0, wrote = 0;
        state = g_converter_convert(G_CONVERTER(z), text + in, len - in, out + n, cap - n,
                                    G_CONVERTER_INPUT_AT_END, &read, &wrote, NULL);
        in += read;
        n += wrote;
    } while (state == G_CONVERTER_CONVERTED);
    g_assert_cmpint(state, ==, G_CONVERTER_FINISHED);
    g_object_unref(z);
    *out_len = n;
    return out;
}

static void test_packed_files(void)
{
    const char *svg = PAGE "<rect width='9' height='9'/></svg>";
    gsize len;
    g_autofree char *data = packed(svg, strlen(svg), &len);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = read_file(data, len, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(d->n_shapes, ==, 1);
    g_assert_null(dt_art_read_data(data, len / 2, "x.svgz", NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "x.svgz:1: its gzip data is cut off"));
    g_clear_error(&error);
    gsize head; /* two members make one file */
    g_autofree char *first = packed(svg, 60, &head);
    g_autofree char *second = packed(svg + 60, strlen(svg) - 60, &len);
    g_autofree char *both = g_malloc(head + len);
    memcpy(both, first, head);
    memcpy(both + head, second, len);
    g_autoptr(DtDrawing) e = dt_art_read_data(both, head + len, "x.svgz", NULL, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(e->n_shapes, ==, 1);
    gsize huge = (gsize)300 << 20; /* 300 MB of spaces in some 300 kB */
    g_autofree char *spaces = g_malloc(huge);
    memset(spaces, ' ', huge);
    g_autofree char *bomb = packed(spaces, huge, &len);
    g_assert_null(dt_art_read_data(bomb, len, "x.svgz", NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "unpacks to more than 256 MB"));
}

static void test_nothing_outside_is_opened(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *secret = g_build_filename(folder, "secret.txt", NULL);
    g_assert_true(g_file_set_contents(secret, "<rect width='50' height='50'/>", -1, NULL));
    g_autofree char *svg = g_strdup_printf(
        "<!DOCTYPE svg PUBLIC 'x' 'file://%s' [<!ENTITY x SYSTEM 'file://%s'><!ENTITY %% p SYSTEM "
        "'file://%s'>%%p;]>" PAGE "<rect width='9' height='9'/>&x;<use href='file://%s#a'/></svg>",
        secret, secret, secret, secret);
    g_autoptr(GError) error = NULL;
    const int watch = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    char event[4096];
    g_assert_cmpint(inotify_add_watch(watch, secret, IN_OPEN), >=, 0);
    g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "x.svg", NULL, &error);
    if (d)
        g_assert_cmpuint(d->n_shapes, ==, 1);
    else
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpint(read(watch, event, sizeof event), <,
                    0); /* whatever it would have been read as */
    g_autofree char *opened = dt_base_read_file(secret, 100, NULL, NULL);
    g_assert_nonnull(opened);
    g_assert_cmpint(read(watch, event, sizeof event), >, 0); /* the watch does see an opening */
    close(watch);
    g_unlink(secret);
    g_rmdir(folder);
}

static void test_references_that_unfold_without_end_are_refused(void)
{
    GString *s = g_string_new(PAGE "<rect id='l0' width='9' height='9'/>");
    for (int i = 1; i < 20; i++)
        g_string_append_printf(s,
                               "<g id='l%d'><use href='#l%d'/><use href='#l%d'/><use href='#l%d'/>"
                               "</g>",
                               i, i - 1, i - 1, i - 1);
    g_string_append(s, "</svg>");
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_art_read_data(s->str, s->len, "x.svg", NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "references unfold"));
    g_string_free(s, TRUE);
}

static void test_cycles_and_bombs_end(void)
{
    g_autoptr(DtDrawing) d = read_page("<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/>"
                                       "<rect width='9' height='9'/></g><use href='#u' id='u'/>");
    g_assert_cmpuint(d->n_shapes, >=, 1);
    GString *deep = g_string_new(PAGE);
    for (int i = 0; i < 20000; i++)
        g_string_append(deep, "<g>");
    for (int i = 0; i < 20000; i++)
        g_string_append(deep, "</g>");
    g_string_append(deep, "</svg>");
    assert_refused(deep->str, "nested deeper");
    g_string_free(deep, TRUE);
    assert_refused("<!DOCTYPE svg [<!ENTITY a '0123456789'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>"
                   "<!ENTITY c '&b;&b;&b;&b;&b;&b;&b;&b;'><!ENTITY d '&c;&c;&c;&c;&c;&c;&c;&c;'>"
                   "<!ENTITY e '&d;&d;&d;&d;&d;&d;&d;&d;'><!ENTITY f '&e;&e;&e;&e;&e;&e;&e;&e;'>"
                   "<!ENTITY g '&f;&f;&f;&f;&f;&f;&f;&f;'><!ENTITY h '&g;&g;&g;&g;&g;&g;&g;&g;'>]>"
                   "<svg xmlns='http://www.w3.org/2000/svg'><text>&h;</text></svg>",
                   "test.svg:1: its entities expand to more than 16 MB");
    GString *words = g_string_new(PAGE "<text>");
    for (int i = 0; i < 100000; i++)
        g_string_append(words, "seed ");
    g_string_append(words, "</text></svg>");
    assert_refused(words->str, "more than 262144 letters");
    g_string_free(words, TRUE);
    GString *many = g_string_new(PAGE "<defs><text id='a0' y='20'>seeds for the library</text>");
    for (int level = 1; level <= 6; level++) {
        g_string_append_printf(many, "<g id='a%d'>", level);
        for (int i = 0; i < 10; i++)
            g_string_append_printf(many, "<use href='#a%d' x='%d'/>", level - 1, i);
        g_string_append(many, "</g>");
    }
    g_string_append(many, "</defs><use href='#a6'/></svg>");
    assert_refused(many->str, "more than 16777216 points");
    g_string_free(many, TRUE);
}

/* A pattern whose tiles hold patterns is refused before it is unfolded. */
static void test_patterns_that_unfold_are_refused(void)
{
    GString *s = g_string_new(PAGE "<defs>");
    static const char pattern[] =
        "<pattern id='p%d' width='%g' height='%g' patternUnits='userSpaceOnUse'>"
        "<rect width='99' height='99' fill='%s'/></pattern>";
    g_string_append_printf(s, pattern, 0, 0.2, 0.2, "black");
    for (int i = 1; i < 4; i++) {
        g_autofree char *inner = g_strdup_printf("url(#p%d)", i - 1);
        g_string_append_printf(s, pattern, i, 3.0, 3.0, inner);
    }
    g_string_append(s, "</defs><rect width='99' height='99' fill='url(#p3)'/></svg>");
    assert_refused(s->str, "its patterns unfold to more than 400000 elements");
    g_string_free(s, TRUE);
}

/* A long outline is kept without a copy of its points. */
static void test_a_million_points(void)
{
    const gsize steps = 600000;
    GString *s = g_string_new(PAGE "<path fill='none' stroke='black' d='M1 1");
    for (gsize i = 0; i < steps; i++)
        g_string_append(s, i % 2 ? "h.0001v-9" : "h.0001v9");
    g_string_append(s, "'/><path d='M5 6H7V9'/></svg>");
    g_autoptr(DtDrawing) d = read_text(s->str);
    g_string_free(s, TRUE);
    g_assert_cmpuint(d->n_shapes, ==, 2);
    const DtLines *l = &d->shapes[0].outline;
    g_assert_cmpuint(l->n, ==, 1);
    g_assert_cmpuint(l->n_pts, ==, 1 + 2 * steps);
    assert_box(dt_lines_box(l), 1, 1, 1 + (double)steps * 0.0001, 10);
    assert_box(dt_lines_box(&d->shapes[1].outline), 5, 6, 7, 9);
}

/* Only what is within the first 1024 bytes makes a file a page (PDF Reference 1.7, appendix H; from memory). */
static void test_drawings_that_speak_of_pages(void)
{
    GString *s = g_string_new(PAGE "<desc>");
    while (s->len < 1024)
        g_string_append_c(s, 'x');
    g_string_append(s, "%PDF-1.7</desc><rect width='9' height='9'/></svg>");
    g_autoptr(DtDrawing) d = read_text(s->str);
    g_string_free(s, TRUE);
    g_assert_cmpuint(d->n_shapes, ==, 1);
}

/* SVG 2, 10: a size of 0 disables rendering, of a stroke with round caps too. */
static void test_shapes_of_no_size(void)
{
    static const char *const shapes[] = {"<circle r='0'/>",
                                         "<ellipse rx='0' ry='9'/>",
                                         "<ellipse rx='9' ry='0'/>",
                                         "<rect width='0' height='9'/>",
                                         "<rect width='9' height='0'/>",
                                         "<circle r='-1'/>"};
    for (gsize i = 0; i < G_N_ELEMENTS(shapes); i++) {
        g_autofree char *content =
            g_strdup_printf("<g stroke='black' stroke-width='9' stroke-linecap='round' "
                            "transform='translate(50 50)'>%s</g>",
                            shapes[i]);
        g_autoptr(DtDrawing) d = read_page(content);
        g_assert_cmpuint(d->n_shapes, ==, 0);
    }
}

/* Notes are counted beyond the first thousand. */
static void test_very_many_notes(void)
{
    GString *s = g_string_new(PAGE);
    for (int i = 0; i < 1234; i++)
        g_string_append_printf(s, "<rect width='9' height='9' style='fill:nothing%d'/>", i);
    g_string_append(s, "</svg>");
    g_autoptr(DtDrawing) d = read_text(s->str);
    g_string_free(s, TRUE);
    g_assert_cmpuint(d->n_notes, ==, 1001);
    guint beyond = 0;
    for (gsize i = 0; i < d->n_notes; i++)
        beyond += strcmp(d->notes[i].text, "234 further notes are left out") == 0;
    g_assert_cmpuint(beyond, ==, 1);
}

/* Tolerance, page and sizes of no sense are refused, each alone. */
static void test_options_out_of_range(void)
{
    static const char svg[] = PAGE "</svg>";
    for (int i = 0; i < 7; i++) {
        DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
        o.tolerance = i == 0 ? 0 : i == 1 ? 1001 : i == 2 ? NAN : o.tolerance;
        o.default_width = i == 3 ? 0 : o.default_width;
        o.default_height = i == 4 ? -1 : o.default_height;
        o.page = i == 5 ? 0 : o.page;
        g_autoptr(GError) error = NULL;
        g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "test.svg", &o, &error);
        g_assert_true((d != NULL) == (i == 6));
        if (!d)
            g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    }
}

static void test_huge_and_odd_numbers(void)
{
    g_autoptr(DtDrawing) d = read_page(
        "<path d='M0 0L1e308 1e308 5 5z'/><path d='M0 0C1e999 0 NaN 0 5 5'/>"
        "<rect width='1e308' height='1e308' transform='scale(1e300)'/><circle r='1e-300'/>"
        "<rect width='9' height='9'/>");
    g_assert_cmpuint(d->n_shapes, >=, 1);
    for (gsize i = 0; i < d->n_shapes; i++) {
        DtBox b = dt_lines_box(&d->shapes[i].outline);
        g_assert_true(isfinite(b.x0) && isfinite(b.y1));
    }
}

/* Namespaces in XML 1.0: an element is SVG's by its name space, with a prefix or without. A file without any is drawn, and it
 * is said that browsers do not show it; in a file with one, elements without one are left out, and that is said. */
static void test_namespaces(void)
{
    static const struct {
        const char *svg;
        gsize n_shapes;
        const char *note; /* NULL: none */
    } cases[] = {
        {"<svg xmlns='http://www.w3.org/2000/svg'><rect width='9' height='9'/></svg>", 1, NULL},
        {"<s:svg xmlns:s='http://www.w3.org/2000/svg'><s:rect width='9' height='9'/></s:svg>", 1,
         NULL},
        {"<svg><rect width='9' height='9'/></svg>", 1, "<svg> is in no namespace"},
        {"<s:svg xmlns:s='http://www.w3.org/2000/svg'><rect width='9' height='9'/><s:rect "
         "width='5' height='5'/></s:svg>",
         1, "<rect> is in no namespace"},
        {"<svg xmlns='http://www.w3.org/2000/svg'><g xmlns='urn:other'><rect width='9' "
         "height='9'/></g><rect width='5' height='5'/></svg>",
         1, NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtDrawing) d = read_text(cases[i].svg);
        g_assert_cmpuint(d->n_shapes, ==, cases[i].n_shapes);
        g_assert_cmpuint(d->n_notes, ==, cases[i].note != NULL);
        if (cases[i].note && strstr(d->notes[0].text, cases[i].note) == NULL)
            g_error("%s: %s", cases[i].svg, d->notes[0].text);
    }
}

/* By its ending, or by how it begins: byte order marks and magic numbers as the formats' standards have them. What cannot
 * be opened is left to the reader, which says why. */
static void test_artwork_and_programs_are_told_apart(void)
{
    static const struct {
        const char *name, *begins;
        gsize n, zeros; /* and so many bytes of 0 */
        gboolean is_artwork;
    } cases[] = {
        {"a.svg", "G28", 3, 0, TRUE},
        {"a.svgz", "", 0, 0, TRUE},
        {"a.nc", "<svg", 4, 0, TRUE},
        {"mark", "\xef\xbb\xbf \n<?xml", 10, 0, TRUE},
        {"gzip", "\x1f\x8b\x08\0", 4, 30, TRUE},
        {"png", "\x89PNG\r\n\x1a\n", 8, 30, TRUE},
        {"jpeg", "\xff\xd8\xff\xe0", 4, 30, TRUE},
        {"gif", "GIF89a", 6, 30, TRUE},
        {"webp", "RIFF\1\1\0\0WEBP", 12, 30, TRUE},
        {"tiff", "II*\0", 4, 30, TRUE},
        {"other tiff", "MM\0*", 4, 30, TRUE},
        {"bmp", "BM", 2, 30, TRUE},
        {"pdf", "%PDF-1.7\n", 9, 0, TRUE},
        {"b.nc", "G28\nG0 X1 < 2\n", 15, 0, FALSE},
        {"percent", "%\nG28\n", 6, 0, FALSE},
        {"riff", "RIFF\1\1\0\0WAVE", 12, 30, FALSE},
        {"empty", "", 0, 0, FALSE},
    };
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *path = g_build_filename(folder, cases[i].name, NULL);
        char content[64] = {0};
        memcpy(content, cases[i].begins, cases[i].n);
        g_assert_true(
            g_file_set_contents(path, content, (gssize)(cases[i].n + cases[i].zeros), NULL));
        if (dt_art_is_artwork(path) != cases[i].is_artwork)
            g_error("%s", cases[i].name);
        g_remove(path);
    }
    g_autofree char *missing = g_build_filename(folder, "none.nc", NULL);
    g_assert_true(dt_art_is_artwork(missing) && dt_art_is_artwork(folder));
    g_assert_true(dt_art_is_artwork("-"));
    g_rmdir(folder);
}

/* What shapes and groups are called lives on without the file's text and elements. */
static void test_names_outlive_the_text(void)
{
    g_autofree char *svg =
        g_strdup("<!DOCTYPE svg [<!ENTITY e 'leaf'>]><svg xmlns='http://www.w3.org/2000/svg'>"
                 "<g id='bed' class='ab'><title>north &amp; south</title>"
                 "<path id='p1' class='ab' d='M0 0h9' stroke='red'/>"
                 "<path id='&e;2' class='a' d='M0 1h9' stroke='red'/>"
                 "<path class='a &e;' d='M0 2h9' stroke='red'/>"
                 "<path d='M0 3h9' stroke='red'/></g></svg>");
    static const char *const names[][2] = {{"p1", "ab"}, {"leaf2", "a"}, {NULL, "a leaf"}, {NULL}};
    g_autoptr(DtDrawing) d = read_text(svg);
    memset(svg, 'x', strlen(svg));
    g_assert_cmpuint(d->n_shapes, ==, G_N_ELEMENTS(names));
    for (size_t i = 0; i < d->n_shapes; i++) {
        g_assert_cmpstr(d->shapes[i].id, ==, names[i][0]);
        g_assert_cmpstr(d->shapes[i].classes, ==, names[i][1]);
    }
    g_assert_cmpuint(d->n_groups, ==, 2);
    g_assert_cmpstr(d->groups[1].id, ==, "bed");
    g_assert_cmpstr(d->groups[1].classes, ==, "ab");
    g_assert_cmpstr(d->groups[1].title, ==, "north & south");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/patterns-that-unfold", test_patterns_that_unfold_are_refused);
    g_test_add_func("/art/a-million-points", test_a_million_points);
    g_test_add_func("/art/drawings-that-speak-of-pages", test_drawings_that_speak_of_pages);
    g_test_add_func("/art/shapes-of-no-size", test_shapes_of_no_size);
    g_test_add_func("/art/very-many-notes", test_very_many_notes);
    g_test_add_func("/art/options-out-of-range", test_options_out_of_range);
    g_test_add_func("/art/page-and-units", test_page_and_units);
    g_test_add_func("/art/view-box-is-centred", test_view_box_is_centred);
    g_test_add_func("/art/path-commands", test_path_commands);
    g_test_add_func("/art/path-drawn-up-to-its-error", test_path_is_drawn_up_to_its_error);
    g_test_add_func("/art/transforms-multiply", test_transforms_multiply);
    g_test_add_func("/art/style-cascades", test_style_cascades_and_inherits);
    g_test_add_func("/art/sheet-with-selectors", test_sheet_with_selectors);
    g_test_add_func("/art/geometry-from-a-sheet", test_geometry_from_a_sheet);
    g_test_add_func("/art/use-and-symbol", test_use_and_symbol);
    g_test_add_func("/art/groups-lines-and-titles", test_groups_lines_and_titles);
    g_test_add_func("/art/dashes-and-place", test_dashes_and_place);
    g_test_add_func("/art/gradient-tone", test_gradient_tone_by_position);
    g_test_add_func("/art/clip-path-and-page-edge", test_clip_path_and_page_edge);
    g_test_add_func("/art/refusals", test_refusals_name_file_and_line);
    g_test_add_func("/art/names", test_names_outlive_the_text);
    g_test_add_func("/art/encodings", test_encodings);
    g_test_add_func("/art/packed", test_packed_files);
    g_test_add_func("/art/namespaces", test_namespaces);
    g_test_add_func("/art/told-apart", test_artwork_and_programs_are_told_apart);
    g_test_add_func("/art/nothing-outside", test_nothing_outside_is_opened);
    g_test_add_func("/art/unfolding", test_references_that_unfold_without_end_are_refused);
    g_test_add_func("/art/cycles-and-bombs-end", test_cycles_and_bombs_end);
    g_test_add_func("/art/huge-and-odd-numbers", test_huge_and_odd_numbers);
    return g_test_run();
}
