/* layout: where the parts of a picture stand, at any size of it: the sheet, the title, ink and marks,
 * the frames of panels, scale bars and what they measure. */
#include "drawn.h"
#include "job.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

enum { WIDTH = 1200, PAD = 28, COLUMN = 268, COLUMN_X = WIDTH - PAD - COLUMN };

#define NEAR 0.6 /* px, of what stands at the same place */

static char *folder;

static void draw(const DtProofInput *in, int width)
{
    drawn_page(in, folder, width);
}

static void draw_panels(const DtProofSheet *sheet, int width)
{
    g_autofree char *path = g_build_filename(folder, "panels.png", NULL);
    drawn_begin();
    g_assert_true(dt_proof_write_sheet(sheet, path, width, NULL));
    g_unlink(path);
}

/* What was drawn once, to be compared. */
typedef struct {
    GArray *texts, *bands, *lines;
    double height;
} Drawn;

/* Takes what was drawn; the next picture begins with nothing. */
static Drawn take_drawn(void)
{
    const Drawn d = {texts, bands, lines, picture_height};
    drawn_init();
    return d;
}

static void drop_drawn(Drawn *d)
{
    g_array_unref(d->texts);
    g_array_unref(d->bands);
    g_array_unref(d->lines);
}

static void assert_twice_the_box(DtBox small, DtBox large, double tolerance)
{
    assert_near(large.x0, 2 * small.x0, tolerance, "left");
    assert_near(large.y0, 2 * small.y0, tolerance, "top");
    assert_near(large.x1, 2 * small.x1, tolerance, "right");
    assert_near(large.y1, 2 * small.y1, tolerance, "bottom");
}

/* The edge of the bed and the shadow of the sheet are some pixels wide at any size. */
static void assert_twice_the_shapes(const GArray *small, const GArray *large)
{
    g_assert_cmpuint(small->len, ==, large->len);
    for (guint i = 0; i < small->len; i++) {
        const Shape *a = &g_array_index(small, Shape, i), *b = &g_array_index(large, Shape, i);
        const gboolean letters = fabs(a->colour.alpha - 0.85) < 0.001; /* whose widths are hinted */
        const gboolean shadow = fabs(a->colour.alpha - 0.1) < 0.001,
                       edge = fabs(a->width - 3) < 0.01;
        g_assert_true(is_colour(a->colour, b->colour));
        assert_twice_the_box(a->box, b->box, letters ? 4 : shadow ? 3.1 : 0.4);
        assert_twice_the_box(a->clip, b->clip, 2.1); /* on whole pixels */
        assert_near(b->width, edge ? 3 : 2 * a->width, 0.01, "width of a line");
    }
}

static void assert_twice(const Drawn *small)
{
    assert_twice_the_shapes(small->bands, bands);
    assert_twice_the_shapes(small->lines, lines);
    assert_near(picture_height, 2 * small->height, 1.1, "height");
    g_assert_cmpuint(small->texts->len, ==, texts->len);
    for (guint i = 0; i < texts->len; i++) {
        const Text *a = &g_array_index(small->texts, Text, i), *b = text_at(i);
        g_assert_cmpstr(a->text, ==, b->text);
        g_assert_true(a->bold == b->bold);
        assert_near(b->at.y, 2 * a->at.y, 1.1, b->text); /* a height is a whole number */
        const double left = b->at.x - 2 * a->at.x, right = end_of(b) - 2 * end_of(a);
        assert_near(MIN(MIN(fabs(left), fabs(right)), fabs(left + right) / 2), 0, 0.2, b->text);
        assert_near(b->advance, 2 * a->advance, 1 + 0.06 * b->advance, b->text);
    }
}

/* A picture that is twice as wide is the same picture twice as large. */
static void test_a_page_of_twice_the_width(void)
{
    for (int order = 0; order < 2; order++) {
        Full f;
        full_make(&f, order);
        f.job.p->rack.pens[0].tip = order ? 0.4 : 0.05; /* in the list a line of 1 px at least, */
        f.job.p->rack.pens[2].tip = order ? 0.4 : 30;   /* and of 16 at most */
        draw(&f.in, WIDTH);
        Drawn small = take_drawn();
        draw(&f.in, 2 * WIDTH);
        assert_twice(&small);
        drop_drawn(&small);
        full_clear(&f);
    }
}

/* The sheet, and what ink there is around it up to 20 mm beyond the bed, as large as fits. */
static void test_what_the_page_shows(void)
{
    static const struct {
        double wide, high; /* of the sheet */
        DtPoint ink;       /* its far corner */
        DtBox shown;
    } cases[] = {{210, 148, {200, 140}, {-6, -6, 216, 154}},
                 {148, 210, {100, 200}, {-6, -6, 154, 216}},
                 {100, 200, {80, 240}, {-6, -6, 106, 246}},
                 {210, 148, {250, 140}, {-6, -6, 256, 154}},
                 {210, 148, {9000, 9000}, {-6, -6, 326, 246}}};
    const double main_w = WIDTH - 2 * PAD - 26 - COLUMN;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Job j;
        job_make(&j);
        dt_sequence_clear(&j.s);
        dt_sequence_init(&j.s);
        dt_sequence_begin(&j.s, 0, 0);
        dt_sequence_point(&j.s, dt_point(10, 10));
        dt_sequence_point(&j.s, cases[i].ink);
        j.p->travel[0] = 300;
        j.p->travel[1] = 220;
        j.p->paper_w = cases[i].wide;
        j.p->paper_h = cases[i].high;
        const DtProofInput in = {.profile = j.p, .sequence = &j.s, .title = "A title"};
        draw(&in, WIDTH);
        const DtBox v = cases[i].shown;
        const double scale = MIN(main_w / dt_box_width(v), 1.1 * main_w / dt_box_height(v));
        const Shape *sheet = shape_of(bands, dt_proof_paper, 0);
        const double left = PAD + (main_w - dt_box_width(v) * scale) / 2;
        assert_near(sheet->box.x0, left - v.x0 * scale, 0.1, "sheet");
        assert_near(sheet->box.y1, 62 + v.y1 * scale, 0.1, "sheet");
        assert_near(dt_box_width(sheet->box), cases[i].wide * scale, 0.1, "sheet");
        assert_near(sheet->clip.x0, left, 1.1, "frame");
        assert_near(sheet->clip.x1, left + dt_box_width(v) * scale, 1.1, "frame");
        assert_near(sheet->clip.y0, 62, 1.1, "frame");
        /* directly below it the bar of its scale, then the figures */
        const double y = 62 + dt_box_height(v) * scale + 29;
        const Text *size = NULL, *figures = NULL;
        for (guint k = 0; k < texts->len; k++)
            if (g_str_has_prefix(text_at(k)->text, "ink "))
                figures = text_at(k);
            else if (figures == NULL && g_str_has_suffix(text_at(k)->text, " mm") &&
                     text_at(k)->at.x < COLUMN_X)
                size = text_at(k);
        g_assert_nonnull(size);
        g_assert_nonnull(figures);
        const double length = g_ascii_strtod(size->text, NULL);
        const Shape *bar = shape_of(lines, dt_proof_text, 0);
        g_assert_cmpfloat(length * scale, <=, 120);
        g_assert_cmpfloat(length * scale * 2.5, >, 120);
        assert_near(bar->box.x0, PAD, 0.1, "bar");
        assert_near(bar->box.x1, PAD + length * scale, 0.1, "bar");
        assert_near((bar->box.y0 + bar->box.y1) / 2, y - 4, 0.1, "bar");
        assert_near(size->at.x, bar->box.x1 + 7.2, NEAR, size->text);
        assert_near(figures->at.y, y, 0.1, figures->text);
        assert_near(size->at.y, y, 0.5, size->text);
        g_assert_cmpfloat(figures->at.x, >, end_of(size) + 8);
        g_assert_cmpfloat(end_of(figures), <, COLUMN_X - 26 + NEAR);
        g_assert_cmpfloat(picture_height, >=, y + 12);
        job_clear(&j);
    }
}

/* Above all: the title at the left edge, the sheet's name at the right one. */
static void test_the_header(void)
{
    Full f;
    full_make(&f, FALSE);
    g_autofree char *long_title = g_strnfill(300, 'T');
    for (int i = 0; i < 2; i++) {
        f.in.title = i ? long_title : "A title";
        draw(&f.in, WIDTH);
        const Text *title = text_at(1), *paper = text_at(0);
        g_assert_cmpint(title->text[0], ==, i ? 'T' : 'A');
        assert_near(title->at.x, PAD, NEAR, "title");
        assert_near(title->at.y, 40, 0.1, "title");
        assert_near(paper->at.y, 40, 0.1, paper->text);
        assert_near(end_of(paper), WIDTH - PAD, NEAR, paper->text);
        g_assert_cmpfloat(end_of(title), <=, paper->at.x - 24 + NEAR);
        if (i)
            g_assert_cmpfloat(end_of(title), >, paper->at.x - 24 - 30);
    }
    full_clear(&f);
}

/* Ink is as wide as its pen, travel is a thin line of the same width on any sheet, beneath the ink, or above it where
 * the order is shown. */
static void test_ink_and_travel(void)
{
    for (int order = 0; order < 2; order++) {
        Full f;
        full_make(&f, order);
        f.in.tones = NULL;
        f.job.p->rack.pens[0].tip = 0.9;
        draw(&f.in, WIDTH);
        const Shape *sheet = shape_of(bands, dt_proof_paper, 0);
        const double scale = dt_box_width(sheet->box) / f.job.p->paper_w;
        guint ink = 0, travel = 0, first_ink = 0, first_travel = 0;
        for (guint i = 0; i < lines->len; i++) {
            const Shape *s = &g_array_index(lines, Shape, i);
            if (s->clip.x1 > COLUMN_X - 1 || s->clip.y0 < 60)
                continue; /* not in the frame of the sheet */
            if (fabs(s->width - 0.9 * scale) < 0.01 || fabs(s->width - 0.4 * scale) < 0.01) {
                first_ink = ink++ == 0 ? i : first_ink;
                if (fabs(s->width - 0.9 * scale) < 0.01 && !order)
                    g_assert_true(is_colour(s->colour, f.job.p->rack.pens[0].colour));
            } else if (fabs(s->width - (order ? 1.1 : 0.7)) < 0.01) {
                first_travel = travel++ == 0 ? i : first_travel;
                if (!order)
                    g_assert_true(is_colour(s->colour, dt_proof_travel));
            }
        }
        g_assert_cmpuint(ink, ==, 33);
        g_assert_cmpuint(travel, >=, 32);
        g_assert_true((first_travel < first_ink) == !order);
        full_clear(&f);
    }
}

/* Rings stand at the first and the last point of the ink and at home, in the colours of their names. */
static void test_the_marks_of_the_way(void)
{
    Full f;
    full_make(&f, FALSE);
    draw(&f.in, WIDTH);
    const Shape *sheet = shape_of(bands, dt_proof_paper, 0);
    const double scale = dt_box_width(sheet->box) / f.job.p->paper_w;
    DtPoint at[3] = {{0, 0}}; /* start, end, home */
    gboolean begun = FALSE;
    for (size_t i = 0; i < f.job.m.n; i++)
        if (f.job.m.m[i].kind == DT_MOVE_DRAW) {
            at[1] = f.job.m.m[i].ink;
            if (!begun)
                at[0] = f.job.m.m[i - 1].ink;
            begun = TRUE;
        }
    at[2] = dt_machine_ink_at(f.job.p, dt_point(0, 0));
    const DtColour colours[] = {dt_proof_start, dt_proof_end, dt_proof_faint};
    const DtColour halo = {1, 1, 1, 0.9};
    for (int i = 0; i < 3; i++) {
        const Shape *ring = shape_of(lines, colours[i], 0);
        assert_near(dt_box_width(ring->box), 11, 0.1, "ring");
        assert_near(ring->width, 2.2, 0.01, "ring");
        assert_near((ring->box.x0 + ring->box.x1) / 2, sheet->box.x0 + at[i].x * scale, 0.1,
                    "ring");
        assert_near((ring->box.y0 + ring->box.y1) / 2, sheet->box.y1 - at[i].y * scale, 0.1,
                    "ring");
        gboolean pale = FALSE; /* a wider one below it */
        for (guint k = 0; drawn_shape(lines, halo, k) != NULL; k++) {
            const Shape *s = drawn_shape(lines, halo, k);
            pale |= fabs(s->box.x0 - ring->box.x0) < 0.01 &&
                    fabs(s->box.y0 - ring->box.y0) < 0.01 && fabs(s->width - 4.95) < 0.01;
        }
        g_assert_true(pale);
    }
    /* each name: its halo, and it within the frame beside its ring */
    const char *const names[] = {"start", "end", "home"};
    const DtColour white = {1, 1, 1, 0.85};
    for (int i = 0; i < 3; i++) {
        const Text *t = text_of(names[i]);
        const Shape *ring = shape_of(lines, colours[i], 0);
        gboolean pale = FALSE;
        for (guint k = 0; drawn_shape(lines, white, k) != NULL; k++) {
            const Shape *s = drawn_shape(lines, white, k);
            pale |= fabs(s->box.x0 - t->box.x0) < 1.5 && fabs(s->box.y1 - t->box.y1) < 1.5 &&
                    fabs(s->box.x1 - t->box.x1) < 1.5 && fabs(s->width - 3.6) < 0.01;
        }
        g_assert_true(pale);
        const DtBox reach = dt_box_grow(ring->box, 26);
        g_assert_false(dt_box_is_empty(dt_box_intersect(reach, t->box)));
        g_assert_true(dt_box_is_empty(dt_box_intersect(dt_box_grow(ring->box, 1.5), t->box)));
    }
    full_clear(&f);
}

/* Four panels in rows of three, one of them of the whole bed, with everything that a panel can have. */
typedef struct {
    Job job;
    DtLines lines;
    DtProofLayer layers[2];
    DtBox marks[2];
    DtProofPanel panels[4];
    DtProofSheet sheet;
} Panels;

static void panels_make(Panels *s)
{
    static const DtPoint across[] = {{0, 0}, {200, 140}};
    *s = (Panels){.marks = {{130, 85, 150, 105}, {20, 30, 90, 60}}};
    job_make(&s->job);
    dt_lines_init(&s->lines);
    dt_lines_append(&s->lines, across, 2, FALSE);
    s->layers[0] = (DtProofLayer){&s->lines, {0, 1, 0, 1}, 0};
    s->layers[1] = (DtProofLayer){&s->lines, {1, 0, 1, 1}, 2};
    s->panels[0] = (DtProofPanel){.title = "Whole",
                                  .figures = "error 0.1 mm\nsecond line\nthird line",
                                  .view = {-5, -5, 215, 153},
                                  .sequence = &s->job.s,
                                  .marks = s->marks,
                                  .n_marks = 2};
    s->panels[1] = (DtProofPanel){.title = "A part of it whose title takes more room than there is",
                                  .view = {130, 85, 150, 105},
                                  .figures = "one line",
                                  .layers = s->layers,
                                  .n_layers = 2};
    s->panels[2] = (DtProofPanel){.title = "Upright", .view = {10, 10, 60, 130}, .figures = "x\n"};
    s->panels[3] = (DtProofPanel){.title = "Last", .view = {0, 0, 100, 100}};
    s->sheet = (DtProofSheet){.title = "Panels",
                              .figures = "below all\nand more",
                              .profile = s->job.p,
                              .panels = s->panels,
                              .n_panels = 4,
                              .columns = 3};
}

static void panels_clear(Panels *s)
{
    dt_lines_clear(&s->lines);
    job_clear(&s->job);
}

static void test_panels_of_twice_the_width(void)
{
    Panels s;
    panels_make(&s);
    draw_panels(&s.sheet, 1600);
    Drawn small = take_drawn();
    draw_panels(&s.sheet, 3200);
    assert_twice(&small);
    drop_drawn(&small);
    panels_clear(&s);
}

/* The edge of a panel's frame, which is drawn after all in it and is the only line of 1 px in its colour. */
static const Shape *frame_of(guint panel)
{
    for (guint k = 0; drawn_shape(lines, dt_proof_bed_edge, k) != NULL; k++) {
        const Shape *s = drawn_shape(lines, dt_proof_bed_edge, k);
        if (fabs(s->width - 1) < 0.01 && panel-- == 0)
            return s;
    }
    g_assert_not_reached();
}

/* Frames of a row side by side, as high as each other and 24 px apart, in the middle of the sheet; each has the shape
 * of its view, and what is said of it stands below. */
static void test_the_frames_of_panels(void)
{
    enum { MARGIN = 30 };
    Panels s;
    panels_make(&s);
    for (int titled = 0; titled < 2; titled++) {
        s.sheet.title = titled ? "Panels" : NULL;
        draw_panels(&s.sheet, 1600);
        const DtBox first = frame_of(0)->box;
        for (guint i = 0; i < 4; i++) {
            const DtBox b = frame_of(i)->box, v = s.panels[i].view;
            assert_near(dt_box_width(b) / dt_box_height(b), dt_box_width(v) / dt_box_height(v),
                        1e-3, "shape of a frame");
        }
        assert_near(first.y0, (titled ? 62 : MARGIN) + 30, 0.1, "top");
        assert_near(first.x0, MARGIN, 0.1, "left");
        assert_near(frame_of(2)->box.x1, 1600 - MARGIN, 0.1, "right");
        for (guint i = 1; i < 3; i++) {
            assert_near(frame_of(i)->box.y0, first.y0, 0.01, "tops of a row");
            assert_near(frame_of(i)->box.y1, first.y1, 0.01, "bottoms of a row");
            assert_near(frame_of(i)->box.x0 - frame_of(i - 1)->box.x1, 24, 0.1, "gap");
        }
        /* the last one, alone in its row, would be higher than the whole: four fifths of the width */
        const DtBox last = frame_of(3)->box;
        assert_near(dt_box_height(last), 0.8 * 1600, 0.1, "height of a frame");
        assert_near(last.x0 + last.x1, 1600, 0.1, "middle of a frame");
        assert_near(last.y0, first.y1 + 3 * 19 + 30 + 30, 0.1,
                    "second row below what is said of the first");
        g_assert_cmpfloat(picture_height, >=, last.y1 + 30 + 2 * 19 + 14);
        g_assert_cmpfloat(picture_height, <, last.y1 + 30 + 2 * 19 + 15.1);
    }
    const char *const said[] = {"error 0.1 mm", "second line", "third line"};
    for (int i = 0; i < 3; i++) {
        assert_near(text_of(said[i])->at.x, frame_of(0)->box.x0, NEAR, said[i]);
        assert_near(text_of(said[i])->at.y, frame_of(0)->box.y1 + 20 + 19 * i, 0.1, said[i]);
    }
    assert_near(text_of("one line")->at.x, frame_of(1)->box.x0, NEAR, "figures");
    assert_near(text_of("below all")->at.x, MARGIN, NEAR, "figures of all");
    assert_near(text_of("below all")->at.y, picture_height - 2 * 19 - 4, 0.1, "figures of all");
    assert_near(text_of("and more")->at.y, picture_height - 19 - 4, 0.1, "figures of all");
    assert_near(text_of("Panels")->at.x, MARGIN, NEAR, "title");
    assert_near(text_of("Panels")->at.y, 40, 0.1, "title");
    g_assert_true(text_of("Panels")->bold);
    panels_clear(&s);
}

/* Above each frame its title at the left, which leaves room for the bar of its scale at the right. */
static void test_titles_and_scales_of_panels(void)
{
    Panels s;
    panels_make(&s);
    draw_panels(&s.sheet, 1600);
    for (guint i = 0; i < 4; i++) {
        const DtBox b = frame_of(i)->box;
        const double scale = dt_box_width(b) / dt_box_width(s.panels[i].view);
        const Text *title = NULL, *size = NULL;
        for (guint k = 0; k < texts->len; k++) {
            const Text *t = text_at(k);
            if (t->at.y > b.y0 - 30 && t->at.y < b.y0 && t->at.x >= b.x0 - NEAR && t->at.x < b.x1)
                *(g_str_has_suffix(t->text, " mm") ? &size : &title) = t;
        }
        g_assert_nonnull(title);
        g_assert_nonnull(size);
        assert_near(title->at.x, b.x0, NEAR, title->text);
        assert_near(title->at.y, b.y0 - 10, 0.1, title->text);
        g_assert_cmpfloat(end_of(title), <=, b.x0 + 0.58 * dt_box_width(b) + NEAR);
        g_assert_true(title->bold);
        const double length = g_ascii_strtod(size->text, NULL);
        const double most = CLAMP(0.28 * dt_box_width(b), 40, 120);
        const Shape *bar = shape_of(lines, dt_proof_text, i);
        assert_near(dt_box_width(bar->box), length * scale, 0.1, "bar");
        g_assert_cmpfloat(length * scale, <=, most);
        g_assert_cmpfloat(length * scale * 2.5, >, most);
        assert_near(bar->box.x1, b.x1 - 58, 0.1, "bar");
        assert_near((bar->box.y0 + bar->box.y1) / 2, b.y0 - 12, 0.1, "bar");
        assert_near(dt_box_height(bar->box), 2 * 0.35 * 12, 0.01, "ticks of a bar");
        assert_near(bar->width, 1.2, 0.01, "bar");
        assert_near(size->at.x, bar->box.x1 + 7.2, NEAR, size->text);
        g_assert_cmpfloat(end_of(size), <=, b.x1 + NEAR);
        if (i != 2) /* upright */
            g_assert_cmpfloat(bar->box.x0, >, end_of(title) + 4);
    }
    panels_clear(&s);
}

/* Within a frame and nowhere else: ink as wide as its pen, layers as wide as was asked or thin, and frames of 2 px
 * about what was marked. */
static void test_what_stands_in_panels(void)
{
    Panels s;
    panels_make(&s);
    draw_panels(&s.sheet, 1600);
    const DtBox whole = frame_of(0)->box, part = frame_of(1)->box;
    const double scale = dt_box_width(whole) / 220, magnified = dt_box_width(part) / 20;
    guint inked = 0;
    for (guint i = 0; i < lines->len; i++) {
        const Shape *l = &g_array_index(lines, Shape, i);
        for (size_t pen = 0; pen < 3; pen++) {
            if (!is_colour(l->colour, s.job.p->rack.pens[pen].colour))
                continue;
            assert_near(l->width, s.job.p->rack.pens[pen].tip * scale, 0.01, "width of ink");
            assert_near(l->clip.x0, whole.x0, 1.1, "clip");
            assert_near(l->clip.y1, whole.y1, 1.1, "clip");
            inked++;
        }
    }
    g_assert_cmpuint(inked, ==, s.job.s.n);
    for (guint i = 0; i < 2; i++) {
        const Shape *l = shape_of(lines, s.layers[i].colour, 0),
                    *m = shape_of(lines, dt_proof_mark, i);
        g_assert_null(drawn_shape(lines, s.layers[i].colour, 1));
        assert_near(l->width, i ? 2 * magnified : 1.2, 0.01, "width of a layer");
        assert_near(l->box.x0, part.x0 - 130 * magnified, 0.1, "layer");
        assert_near(l->box.y1, part.y1 + 85 * magnified, 0.1, "layer");
        assert_near(l->clip.x0, part.x0, 1.1, "clip");
        assert_near(l->clip.x1, part.x1, 1.1, "clip");
        assert_near(m->width, 2, 0.01, "width of a mark");
        assert_near(m->box.x0, whole.x0 + (s.marks[i].x0 + 5) * scale, 0.1, "mark");
        assert_near(m->box.y0, whole.y1 - (s.marks[i].y1 + 5) * scale, 0.1, "mark");
        assert_near(dt_box_width(m->box), dt_box_width(s.marks[i]) * scale, 0.1, "mark");
        assert_near(dt_box_height(m->box), dt_box_height(s.marks[i]) * scale, 0.1, "mark");
    }
    g_assert_null(drawn_shape(lines, dt_proof_mark, 2));
    panels_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    drawn_init();
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_test_add_func("/proof/layout/page-twice", test_a_page_of_twice_the_width);
    g_test_add_func("/proof/layout/sheet", test_what_the_page_shows);
    g_test_add_func("/proof/layout/header", test_the_header);
    g_test_add_func("/proof/layout/ink", test_ink_and_travel);
    g_test_add_func("/proof/layout/marks", test_the_marks_of_the_way);
    g_test_add_func("/proof/layout/panels-twice", test_panels_of_twice_the_width);
    g_test_add_func("/proof/layout/frames", test_the_frames_of_panels);
    g_test_add_func("/proof/layout/titles", test_titles_and_scales_of_panels);
    g_test_add_func("/proof/layout/in-panels", test_what_stands_in_panels);
    const int result = g_test_run();
    drawn_clear();
    g_rmdir(folder);
    g_free(folder);
    return result;
}
