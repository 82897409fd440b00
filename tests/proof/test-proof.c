/* proof: pictures of every kind, with the ink where it should be, or nothing left behind. */
#include "job.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define PICTURE_W 1200 /* px */

static char *folder;

static char *write_proof(const DtProofInput *in, const char *name)
{
    char *path = g_build_filename(folder, name, NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_proof_write(in, path, PICTURE_W, &error));
    g_assert_no_error(error);
    return path;
}

static void assert_begins(const char *path, const char *with)
{
    gsize len;
    g_autofree char *text = dt_base_read_file(path, 1 << 26, &len, NULL);
    g_assert_nonnull(text);
    g_assert_true(len > 1000 && memcmp(text, with, strlen(with)) == 0);
}

/* Pixels of a picture that are near a colour. */
static unsigned count_pixels(const char *path, DtColour c)
{
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    g_assert_cmpint(cairo_surface_status(image), ==, CAIRO_STATUS_SUCCESS);
    unsigned char *data = cairo_image_surface_get_data(image);
    int w = cairo_image_surface_get_width(image), h = cairo_image_surface_get_height(image);
    int stride = cairo_image_surface_get_stride(image);
    unsigned n = 0;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            unsigned char *px = data + y * stride + 4 * x;
            n += abs(px[2] - (int)(c.r * 255)) < 12 && abs(px[1] - (int)(c.g * 255)) < 12 &&
                 abs(px[0] - (int)(c.b * 255)) < 12;
        }
    cairo_surface_destroy(image);
    return n;
}

static void test_a_proof_in_every_format(void)
{
    Job j;
    job_make(&j);
    DtProofInput in = {
        .profile = j.p, .moves = &j.m, .times = &j.t, .title = "Spirals & hatch <1>"};
    g_autofree char *png = write_proof(&in, "proof.png");
    g_autofree char *svg = write_proof(&in, "proof.svg");
    g_autofree char *pdf = write_proof(&in, "proof.PDF");
    assert_begins(png, "\211PNG\r\n");
    assert_begins(svg, "<?xml");
    assert_begins(pdf, "%PDF-1.");
    job_clear(&j);
}

/* A sheet 210 mm wide with 6 mm round it takes 850 px of 1200: 3.83 px/mm. 30 lines of 60 mm in
 * red, 0.4 mm wide, with round caps cover 30 x 60.3 x 0.4 mm2, more or less what the edges blend
 * away. */
static void test_ink_covers_what_it_should(void)
{
    Job j;
    job_make(&j);
    DtProofInput in = {.profile = j.p, .sequence = &j.s, .title = "red"};
    j.p->rack.pens[1].tip = 1.5; /* closed, so that no pixel is blended: 61.5 x 30.5 mm */
    g_autofree char *png = write_proof(&in, "cover.png");
    double px_mm = (1200 - 2 * 28 - 26 - 268) / 222.0;
    double expected = 61.3 * 30.5 * px_mm * px_mm;
    g_assert_cmpfloat_with_epsilon(count_pixels(png, j.p->rack.pens[1].colour), expected,
                                   0.04 * expected);
    job_clear(&j);
}

/* Middle and size of the area of a colour in a picture, px. */
static DtBox box_of_colour(const char *path, DtColour c)
{
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    const unsigned char *data = cairo_image_surface_get_data(image);
    int stride = cairo_image_surface_get_stride(image), h = cairo_image_surface_get_height(image);
    DtBox b = DT_BOX_EMPTY;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < cairo_image_surface_get_width(image); x++) {
            const unsigned char *px = data + y * stride + 4 * x;
            if (abs(px[2] - (int)(c.r * 255)) < 12 && abs(px[1] - (int)(c.g * 255)) < 12 &&
                abs(px[0] - (int)(c.b * 255)) < 12 && x < PICTURE_W * 3 / 4) /* beside the column */
                b = (DtBox){MIN(b.x0, x), MIN(b.y0, y), MAX(b.x1, x), MAX(b.y1, y)};
        }
    cairo_surface_destroy(image);
    return b;
}

/* A field in magenta, which nothing else in the picture is drawn in, at two places of the sheet. */
static void test_ink_is_where_it_belongs(void)
{
    const DtColour magenta = {1, 0, 1, 1};
    const DtPoint low[] = {{30, 40}, {150, 100}};
    DtBox seen[2];
    for (int i = 0; i < 2; i++) {
        Job j;
        job_make(&j);
        dt_sequence_clear(&j.s);
        dt_sequence_init(&j.s);
        j.p->rack.pens[1].tip = 1.5;
        j.p->rack.pens[1].colour = magenta;
        job_add_hatch(&j.s, 1, (DtBox){low[i].x, low[i].y, low[i].x + 40, low[i].y + 20});
        job_add_hatch(&j.s, 0, (DtBox){5, 5, 205, 6}); /* the same frame for both */
        job_add_hatch(&j.s, 0, (DtBox){5, 140, 205, 141});
        DtProofInput in = {.profile = j.p, .sequence = &j.s, .title = "place"};
        g_autofree char *png = write_proof(&in, "place.png");
        seen[i] = box_of_colour(png, magenta);
        job_clear(&j);
    }
    /* 120 mm to the right and 60 mm up, which is less in a picture; a field of 40 by 19 mm and a tip. */
    const double px_mm = (seen[1].x0 - seen[0].x0) / 120;
    g_assert_cmpfloat(px_mm, >, 1);
    g_assert_cmpfloat_with_epsilon(seen[1].y0 - seen[0].y0, -60 * px_mm, 2);
    g_assert_cmpfloat_with_epsilon(dt_box_width(seen[0]) + 1, 41.5 * px_mm, 3);
    g_assert_cmpfloat_with_epsilon(dt_box_height(seen[0]) + 1, 20.5 * px_mm, 3);
}

/* A pen is round: an angle of 20 degrees ends half a tip beyond its corner, where a mitre would go on for nearly six
 * times as much. */
static void test_corners_are_as_round_as_the_pen(void)
{
    const DtColour magenta = {1, 0, 1, 1};
    const double high = 5 / tan(10 * G_PI / 180), tip = 2;
    Job j;
    job_make(&j);
    dt_sequence_clear(&j.s);
    dt_sequence_init(&j.s);
    j.p->rack.pens[1].tip = tip;
    j.p->rack.pens[1].colour = magenta;
    dt_sequence_begin(&j.s, 1, 0);
    dt_sequence_point(&j.s, dt_point(100, 50));
    dt_sequence_point(&j.s, dt_point(105, 50 + high));
    dt_sequence_point(&j.s, dt_point(110, 50));
    DtProofInput in = {.profile = j.p, .sequence = &j.s, .title = "corner"};
    DtProofPanel panel = {.title = "Corner", .view = {60, 40, 160, 100}, .sequence = &j.s};
    DtProofSheet sheet = {.title = "Corner", .profile = j.p, .panels = &panel, .n_panels = 1};
    g_autofree char *page = write_proof(&in, "corner.png");
    g_autofree char *panels = g_build_filename(folder, "corners.png", NULL);
    g_assert_true(dt_proof_write_sheet(&sheet, panels, PICTURE_W, NULL));
    for (int i = 0; i < 2; i++) {
        const DtBox seen = box_of_colour(i ? panels : page, magenta);
        const double px_mm = (dt_box_width(seen) + 1) / (10 + tip);
        g_assert_cmpfloat_with_epsilon(dt_box_height(seen) + 1, (high + tip) * px_mm,
                                       3 + 0.3 * px_mm);
    }
    job_clear(&j);
}

/* The points of all lines of a colour in an SVG picture, in its paths' own coordinates, mm. */
static GArray *points_of_colour(const char *svg, DtColour c)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_auto(GStrv) paths = g_strsplit(svg, "<path ", -1);
    for (char **path = paths + 1; *path; path++) {
        double r, g, b;
        const char *stroke = strstr(*path, "stroke:rgb("), *d = strstr(*path, " d=\"");
        if (stroke == NULL || d == NULL ||
            sscanf(stroke, "stroke:rgb(%lf%%,%lf%%,%lf%%)", &r, &g, &b) != 3 ||
            fabs(r - 100 * c.r) > 0.6 || fabs(g - 100 * c.g) > 0.6 || fabs(b - 100 * c.b) > 0.6)
            continue;
        g_autofree char *text = g_strndup(d + 4, strcspn(d + 4, "\""));
        for (const char *at = text; (at = strpbrk(at, "ML")) != NULL; at++) {
            DtPoint p;
            if (sscanf(at + 1, "%lf %lf", &p.x, &p.y) == 2)
                g_array_append_val(points, p);
        }
    }
    return points;
}

static gboolean is_among(const GArray *points, DtPoint p)
{
    for (guint i = 0; i < points->len; i++)
        if (dt_point_distance(g_array_index(points, DtPoint, i), p) < 0.02)
            return TRUE;
    return FALSE;
}

static unsigned count_of(const char *text, const char *what)
{
    unsigned n = 0;
    for (const char *at = text; (at = strstr(at, what)) != NULL; at += strlen(what))
        n++;
    return n;
}

/* Every corner of every stroke stands in the picture in its pen's colour, and no other: a bend of the
 * spiral is 0.2 rad, so that leaving out collinear points leaves these. */
static void test_the_svg_has_each_stroke_in_its_pens_colour(void)
{
    Job j;
    job_make(&j);
    DtProofInput in = {.profile = j.p, .moves = &j.m, .times = &j.t, .title = "strokes"};
    g_autofree char *path = write_proof(&in, "strokes.svg");
    g_autofree char *svg = dt_base_read_file(path, 1 << 26, NULL, NULL);
    for (unsigned pen = 0; pen < 3; pen++) {
        g_autoptr(GArray) drawn = points_of_colour(svg, j.p->rack.pens[pen].colour);
        size_t n = 0, found = 0, alien = 0;
        for (size_t i = 0; i < j.m.n; i++) {
            const DtMove *m = &j.m.m[i];
            if (m->kind != DT_MOVE_DRAW)
                continue;
            const gboolean there = is_among(drawn, m->ink);
            n += m->pen == pen;
            found += m->pen == pen && there;
            alien += m->pen != pen && there;
        }
        g_assert_cmpuint(n, >, 20);
        g_assert_cmpuint(found, ==, n);
        g_assert_cmpuint(alien, <, n / 20 + 3); /* strokes of two pens may meet */
    }
    job_clear(&j);
}

/* Glyphs are drawn one by one: the title, the pens' names and the figures are letters in the picture. */
static void test_the_svg_has_title_and_pen_names(void)
{
    Job j;
    job_make(&j);
    DtProofInput in = {.profile = j.p, .moves = &j.m, .times = &j.t, .title = ""};
    g_autofree char *bare_path = write_proof(&in, "bare.svg");
    in.title = "twelve chars";
    g_autofree char *titled_path = write_proof(&in, "titled.svg");
    g_free(j.p->rack.pens[1].name);
    j.p->rack.pens[1].name = g_strdup("scarlet"); /* was "red": in the column, and on the sheet */
    g_autofree char *named_path = write_proof(&in, "named.svg");
    g_autofree char *bare = dt_base_read_file(bare_path, 1 << 26, NULL, NULL);
    g_autofree char *titled = dt_base_read_file(titled_path, 1 << 26, NULL, NULL);
    g_autofree char *named = dt_base_read_file(named_path, 1 << 26, NULL, NULL);
    const unsigned n_bare = count_of(bare, "<use "), n_titled = count_of(titled, "<use ");
    const unsigned n_named = count_of(named, "<use ");
    g_assert_cmpuint(n_bare, >, 60);
    g_assert_cmpuint(n_titled - n_bare, >=, 11);
    g_assert_cmpuint(n_titled - n_bare, <=, 12);
    g_assert_cmpuint(n_named - n_titled, >=, 4);
    job_clear(&j);
}

static void test_pens_add_up(void)
{
    Job j;
    job_make(&j);
    DtProofPen pens[3];
    dt_proof_pens(j.p, &j.m, &j.t, pens);
    g_assert_cmpuint(pens[0].strokes, ==, 2);
    g_assert_cmpuint(pens[1].strokes, ==, 30);
    g_assert_cmpuint(pens[2].strokes, ==, 1);
    g_assert_cmpfloat_with_epsilon(pens[1].ink_mm, 1800, 1e-6);
    double ink = 0, s = j.t.home_s;
    for (int i = 0; i < 3; i++) {
        ink += pens[i].ink_mm;
        s += pens[i].ink_s + pens[i].slack_s + pens[i].travel_s + pens[i].lift_s;
    }
    g_assert_cmpfloat_with_epsilon(ink, dt_sequence_ink_mm(&j.s), 1e-6);
    g_assert_cmpfloat_with_epsilon(s, j.t.total_s, 0.01 * j.t.total_s);
    job_clear(&j);
}

static void test_order_and_comparison(void)
{
    Job j;
    job_make(&j);
    DtTimes slow = j.t;
    slow.total_s *= 1.5;
    slow.travel_s += 0.5 * j.t.total_s;
    DtProofInput in = {.profile = j.p,
                       .moves = &j.m,
                       .times = &j.t,
                       .before = &slow,
                       .order = TRUE,
                       .title = "order"};
    g_autofree char *png = write_proof(&in, "order.png");
    g_assert_cmpuint(count_pixels(png, (DtColour){0.97, 0.66, 0.14, 1}), >, 20);
    job_clear(&j);
}

/* Bars 8 units high, the longest of a pair 120 long: half of it less is 480 square units less. */
static void test_one_way_is_shown_beside_both_ways(void)
{
    Job j;
    job_make(&j);
    const DtColour both = {0.66, 0.64, 0.60, 1}, one = {0.30, 0.55, 0.76, 1};
    const DtOneWay alike = {{200, 200}, {0.2, 0.2}, 1, 0.45}, w = {{100, 200}, {0.2, 0.1}, 1, 0.45};
    DtProofInput in = {
        .profile = j.p, .moves = &j.m, .times = &j.t, .title = "", .one_way = &alike};
    g_autofree char *full = write_proof(&in, "alike.png");
    in.one_way = &w;
    g_autofree char *half = write_proof(&in, "one-way.png");
    g_assert_cmpfloat_with_epsilon((double)count_pixels(full, both) - count_pixels(half, both), 480,
                                   60);
    g_assert_cmpfloat_with_epsilon((double)count_pixels(full, one) - count_pixels(half, one), 480,
                                   60);
    const DtOneWay unknown = {{200, 200}, {0, 0}, 1, 0}; /* no bars of the error */
    in.one_way = &unknown;
    g_autofree char *no_gain = write_proof(&in, "one-way-unknown.png");
    g_assert_cmpfloat_with_epsilon((double)count_pixels(full, both) - count_pixels(no_gain, both),
                                   960, 120);
    job_clear(&j);
}

/* Hatch all over a square of 100 mm but for one gap of 14 by 6 mm, which the name just fits. */
static void hatch_around(DtProofTrace *t, DtBox gap)
{
    dt_lines_init(&t->ink);
    t->travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel));
    for (double y = 0; y < 100; y += 0.5) {
        const gboolean cut = y > gap.y0 && y < gap.y1;
        dt_lines_begin(&t->ink);
        dt_lines_point(&t->ink, dt_point(0, y));
        dt_lines_point(&t->ink, dt_point(cut ? gap.x0 : 50, y));
        dt_lines_begin(&t->ink);
        dt_lines_point(&t->ink, dt_point(cut ? gap.x1 : 50, y));
        dt_lines_point(&t->ink, dt_point(100, y));
    }
}

static void test_a_name_stands_where_it_hides_no_ink(void)
{
    static const DtPoint middles[] = {{67, 50}, {33, 50}, {50, 60}, {50, 40}};
    const DtProofFrame f = {{0, 0, 100, 100}, 0, 0, 4};
    g_autoptr(GArray) taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
    for (gsize i = 0; i < G_N_ELEMENTS(middles); i++) {
        const DtPoint m = middles[i];
        const DtBox gap = dt_box_grow((DtBox){m.x - 9, m.y - 5, m.x + 9, m.y + 5}, 1);
        DtProofTrace t = {0};
        hatch_around(&t, gap);
        DtBox at = dt_proof_clear_place(&f, &t, FALSE, dt_point(200, 200), 56, 24, 2, taken);
        g_assert_cmpfloat(at.x0, >=, 4 * gap.x0);
        g_assert_cmpfloat(at.x1, <=, 4 * gap.x1);
        g_assert_cmpfloat(at.y0, >=, 400 - 4 * gap.y1);
        g_assert_cmpfloat(at.y1, <=, 400 - 4 * gap.y0);
        g_array_append_val(taken, at); /* another name is there: it moves, if over ink */
        DtBox other = dt_proof_clear_place(&f, &t, FALSE, dt_point(200, 200), 56, 24, 2, taken);
        g_assert_true(other.x0 >= at.x1 || other.x1 <= at.x0 || other.y0 >= at.y1 ||
                      other.y1 <= at.y0);
        g_array_set_size(taken, 0);
        dt_lines_clear(&t.ink);
        g_array_unref(t.travels);
    }
}

/* At the frame's corner all of it stays in view. */
static void test_a_name_stays_within_the_frame(void)
{
    const DtProofFrame f = {{0, 0, 100, 100}, 30, 20, 4};
    g_autoptr(GArray) taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
    DtProofTrace t = {.travels = g_array_new(FALSE, FALSE, sizeof(DtProofTravel))};
    for (int i = 0; i < 4; i++) {
        const DtPoint corner = dt_point(30 + (i & 1) * 400, 20 + (i >> 1) * 400);
        const DtBox b = dt_proof_clear_place(&f, &t, FALSE, corner, 56, 24, 1, taken);
        g_assert_true(b.x0 >= 30 && b.x1 <= 430 && b.y0 >= 20 && b.y1 <= 420);
    }
    g_array_unref(t.travels);
}

static void test_a_sheet_of_panels(void)
{
    Job j;
    job_make(&j);
    DtBox detail = {130, 85, 150, 105}, all = {-5, -5, 215, 153};
    g_auto(DtLines) lines;
    dt_lines_init(&lines);
    DtPoint cross[] = {{130, 85}, {150, 105}};
    dt_lines_append(&lines, cross, 2, FALSE);
    DtProofLayer layer = {&lines, {0, 0.6, 0, 1}, 0};
    DtProofPanel panels[] = {
        {.title = "Planned",
         .figures = "error 0.1 mm\nsecond line",
         .view = all,
         .sequence = &j.s,
         .marks = &detail,
         .n_marks = 1},
        {.title = "Detail, magnified",
         .view = detail,
         .sequence = &j.s,
         .layers = &layer,
         .n_layers = 1},
    };
    DtProofSheet sheet = {.title = "Two panels",
                          .figures = "below all",
                          .profile = j.p,
                          .panels = panels,
                          .n_panels = 2};
    g_autofree char *path = g_build_filename(folder, "sheet.png", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_proof_write_sheet(&sheet, path, 1600, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(count_pixels(path, layer.colour), >, 100);
    for (size_t i = 0; i < 3; i++) /* the ink of each pen */
        g_assert_cmpuint(count_pixels(path, j.p->rack.pens[i].colour), >, 300);
    panels[1].view = DT_BOX_EMPTY;
    g_assert_false(dt_proof_write_sheet(&sheet, path, 1600, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    job_clear(&j);
}

/* Two squares of 40 mm that overlap by 20 x 20 mm clip a red page: 2800 mm2 stay. */
static void test_artwork_keeps_its_clips_and_shades(void)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='190mm' height='128mm' "
        "viewBox='0 0 190 128'><defs><clipPath id='c'><rect x='10' y='10' width='40' height='40'/>"
        "<rect x='30' y='30' width='40' height='40'/></clipPath>"
        "<linearGradient id='g'><stop offset='0' stop-color='#00f'/><stop offset='1' "
        "stop-color='#0f0'/></linearGradient></defs>"
        "<rect width='190' height='128' fill='#e00000' clip-path='url(#c)'/>"
        "<rect x='100' y='20' width='80' height='80' fill='url(#g)'/></svg>";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "clips.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    DtAffine m;
    g_assert_true(dt_machine_place(p, d, &DT_PLACEMENT_DEFAULT, &m, &error));
    dt_art_place(d, m);
    DtProofInput in = {.profile = p, .drawing = d, .title = "clips"};
    g_autofree char *png = write_proof(&in, "clips.png");
    double px_mm = (1200 - 2 * 28 - 26 - 268) / 222.0;
    double expected = 2800 * px_mm * px_mm;
    g_assert_cmpfloat_with_epsilon(count_pixels(png, (DtColour){0.878, 0, 0, 1}), expected,
                                   0.02 * expected);
    g_assert_cmpuint(count_pixels(png, (DtColour){0, 0.5, 0.5, 1}), >, 500);
}

/* Of a clip of two squares, one in the other, the even-odd rule leaves a frame. */
static void test_a_clip_keeps_its_rule(void)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='190mm' height='128mm' "
        "viewBox='0 0 190 128'><defs><clipPath id='c'><path clip-rule='evenodd' "
        "d='M10 10h60v60h-60zM20 20h40v40h-40z'/></clipPath></defs>"
        "<rect width='190' height='128' fill='#e00000' clip-path='url(#c)'/></svg>";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "clips.svg", &DT_ART_OPTIONS_DEFAULT, NULL);
    DtAffine m;
    g_assert_true(dt_machine_place(p, d, &DT_PLACEMENT_DEFAULT, &m, NULL));
    dt_art_place(d, m);
    DtProofInput in = {.profile = p, .drawing = d, .title = "clips"};
    g_autofree char *png = write_proof(&in, "rule.png");
    double px_mm = (1200 - 2 * 28 - 26 - 268) / 222.0;
    double expected = (3600 - 1600) * px_mm * px_mm;
    g_assert_cmpfloat_with_epsilon(count_pixels(png, (DtColour){0.878, 0, 0, 1}), expected,
                                   0.03 * expected);
}

static void test_what_cannot_be_written_leaves_nothing(void)
{
    Job j;
    job_make(&j);
    DtProofInput in = {.profile = j.p, .moves = &j.m};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_proof_write(&in, "picture.bmp", 1200, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    g_clear_error(&error);
    g_assert_false(dt_proof_write(&in, "/no/such/folder/picture.png", 1200, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_autofree char *path = g_build_filename(folder, "huge.png", NULL);
    g_assert_false(dt_proof_write(&in, path, 100000, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
    job_clear(&j);
}

/* A profile alone, a title that is no UTF-8 and that is far too long. */
static void test_sparse_input_still_makes_a_picture(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *title = g_strnfill(5000, 'x');
    title[3] = '\377';
    DtProofInput in = {.profile = p, .title = title};
    g_autofree char *png = write_proof(&in, "sparse.png");
    assert_begins(png, "\211PNG\r\n");
}

/* A red area of 61.5 by 30.5 mm, closely hatched by a pen of its own red and of another colour. */
static void test_the_look_of_the_ink(void)
{
    Job j;
    job_make(&j);
    j.p->rack.pens[1].tip = 1.5;
    j.p->rack.pens[1].colour = (DtColour){0.7, 0.2, 0.1, 1};
    j.s.n = 0;
    j.s.n_pts = 0;
    job_add_hatch(&j.s, 1, (DtBox){120, 30, 180, 60});
    const char *svg = "<svg xmlns='http://www.w3.org/2000/svg' width='210mm' height='148mm'"
                      " viewBox='0 -148 210 148'><path d='M119.2 -29.2h61.6v-30.4h-61.6z'"
                      " fill='rgb(70%,20%,10%)'/></svg>";
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "red.svg", &o, NULL);
    g_assert_nonnull(d);
    dt_art_place(d, (DtAffine){1, 0, 0, -1, 0, 148});
    DtProofInput in = {.profile = j.p, .drawing = d, .sequence = &j.s, .title = "red"};
    DtProofLook alike, other;
    g_autofree char *without = write_proof(&in, "no-artwork.png");
    g_assert_true(dt_proof_look(&in, &alike));
    g_assert_cmpfloat(alike.near, <, 2);
    g_assert_cmpfloat(alike.far, <, 2);
    in.look = &alike;
    g_autofree char *with = write_proof(&in, "artwork.png");
    const DtColour red = j.p->rack.pens[1].colour;
    g_assert_cmpuint(count_pixels(with, red), >, count_pixels(without, red) + 1000);
    j.p->rack.pens[1].colour = (DtColour){0.1, 0.2, 0.7, 1};
    g_assert_true(dt_proof_look(&in, &other));
    g_assert_cmpfloat(other.far, >, 25);
    in.drawing = NULL;
    g_assert_false(dt_proof_look(&in, &other));
    job_clear(&j);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    const char *keep = g_getenv("DRAWTRUE_KEEP_PICTURES");
    folder = keep ? g_strdup(keep) : g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_test_add_func("/proof/svg-strokes", test_the_svg_has_each_stroke_in_its_pens_colour);
    g_test_add_func("/proof/svg-letters", test_the_svg_has_title_and_pen_names);
    g_test_add_func("/proof/formats", test_a_proof_in_every_format);
    g_test_add_func("/proof/coverage", test_ink_covers_what_it_should);
    g_test_add_func("/proof/pens", test_pens_add_up);
    g_test_add_func("/proof/place", test_ink_is_where_it_belongs);
    g_test_add_func("/proof/order", test_order_and_comparison);
    g_test_add_func("/proof/one-way", test_one_way_is_shown_beside_both_ways);
    g_test_add_func("/proof/names", test_a_name_stands_where_it_hides_no_ink);
    g_test_add_func("/proof/names-in-view", test_a_name_stays_within_the_frame);
    g_test_add_func("/proof/corners", test_corners_are_as_round_as_the_pen);
    g_test_add_func("/proof/sheet", test_a_sheet_of_panels);
    g_test_add_func("/proof/artwork", test_artwork_keeps_its_clips_and_shades);
    g_test_add_func("/proof/clip-rule", test_a_clip_keeps_its_rule);
    g_test_add_func("/proof/look", test_the_look_of_the_ink);
    g_test_add_func("/proof/refusals", test_what_cannot_be_written_leaves_nothing);
    g_test_add_func("/proof/sparse", test_sparse_input_still_makes_a_picture);
    int failed = g_test_run();
    g_autoptr(GDir) dir = keep ? NULL : g_dir_open(folder, 0, NULL);
    for (const char *name; dir && (name = g_dir_read_name(dir));) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        g_unlink(path);
    }
    if (dir)
        g_rmdir(folder);
    g_free(folder);
    return failed;
}
