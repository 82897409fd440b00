/* column: where the parts of the column beside the sheet stand: the map, swatches, bars, rows and columns of its
 * tables. */
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

/* The whole of a page stands within its margins, and its columns do not reach into each other. */
static void assert_within_margins(void)
{
    for (guint i = 0; i < texts->len; i++) {
        const Text *t = text_at(i);
        if (t->at.x < PAD - NEAR || end_of(t) > WIDTH - PAD + NEAR)
            g_error("'%s' stands in the margin: %g to %g", t->text, t->at.x, end_of(t));
    }
}

static void assert_row(const char *const *row, double apart)
{
    for (int i = 1; row[i]; i++)
        assert_near(text_of(row[i])->at.y - text_of(row[i - 1])->at.y, apart, 0.1, row[i]);
}

/* The parts of the column one below the other, each heading clear of what is above it. */
static void assert_headings(const char *const *headings)
{
    double last = 0;
    for (int i = 0; headings[i]; i++) {
        const Text *h = text_of(headings[i]);
        double above = 0, below = G_MAXDOUBLE;
        assert_near(h->at.x, COLUMN_X, NEAR, h->text);
        g_assert_cmpfloat(h->at.y, >, last);
        for (guint k = 0; k < texts->len; k++) {
            const Text *t = text_at(k);
            if (end_of(t) < COLUMN_X || t == h)
                continue;
            if (t->at.y < h->at.y)
                above = MAX(above, t->at.y);
            else
                below = MIN(below, t->at.y);
        }
        if (h->at.y - above < 26 || h->at.y - above > 48 || below - h->at.y < 14)
            g_error("'%s': %g below what precedes it, %g above what follows", h->text,
                    h->at.y - above, below - h->at.y);
        last = h->at.y;
    }
}

static void test_the_parts_of_the_column(void)
{
    for (int order = 0; order < 2; order++) {
        Full f;
        full_make(&f, order);
        f.job.p->rack.pens[2].name[0] = 'B'; /* not as wide as a column */
        draw(&f.in, WIDTH);
        assert_within_margins();
        if (order)
            assert_headings((const char *[]){
                "Pens, in drawing order", "Tones, % of the paper covered", "Order of the travel",
                "Time of each pen, min:s", "Fills one way along Y", "Where the time goes", NULL});
        else
            assert_headings((const char *[]){"The artwork", "Pens, in drawing order",
                                             "Tones, % of the paper covered",
                                             "Fills one way along Y", "Where the time goes", NULL});
        g_autofree char *total = dt_base_duration(f.job.t.total_s);
        assert_bold((const char *[]){
            "A title", "The artwork", "Pens, in drawing order", "Tones, % of the paper covered",
            "Order of the travel", "Time of each pen, min:s", "Fills one way along Y",
            "Where the time goes", "drawing", total, "start", "end", "home", NULL});
        /* the picture ends below the lowest text */
        double lowest = 0;
        for (guint i = 0; i < texts->len; i++)
            lowest = MAX(lowest, text_at(i)->at.y);
        g_assert_cmpfloat(picture_height - lowest, >, 8);
        g_assert_cmpfloat(picture_height - lowest, <, 80);
        full_clear(&f);
    }
}

/* Each row of a breakdown: a swatch of its colour, its name beside it, its time and share in columns. */
static void test_the_rows_of_the_breakdown(void)
{
    static const DtColour colours[] = {
        {0.20, 0.19, 0.17, 1}, {0.30, 0.55, 0.76, 1}, {0.93, 0.62, 0.18, 1}, {0.66, 0.64, 0.60, 1}};
    const char *const rows[] = {"ink", "travel", "lifts", "homing", "drawing", NULL};
    Full f;
    full_make(&f, FALSE);
    draw(&f.in, WIDTH);
    assert_row(rows, 19);
    for (int i = 0; rows[i]; i++) {
        const Text *name = text_of(rows[i]), *in_row[2] = {NULL, NULL};
        int n = 0;
        for (guint k = 0; k < texts->len; k++) {
            const Text *t = text_at(k);
            if (t != name && t->at.x > name->at.x && fabs(t->at.y - name->at.y) < 0.1) {
                g_assert_cmpint(n, <, 2);
                in_row[n++] = t;
            }
        }
        g_assert_cmpint(n, ==, i < 4 ? 2 : 1);
        assert_near(name->at.x, COLUMN_X + 18, NEAR, name->text);
        for (int k = 0; k < n; k++) /* to the right of their columns */
            assert_near(end_of(in_row[k]), COLUMN_X + (k ? 250 : 190), NEAR, in_row[k]->text);
        if (i == 4)
            continue;
        const Shape *swatch = NULL;
        for (guint k = 0; drawn_shape(bands, colours[i], k) != NULL; k++)
            if (fabs(drawn_shape(bands, colours[i], k)->box.y1 - name->at.y) < 1)
                swatch = drawn_shape(bands, colours[i], k);
        g_assert_nonnull(swatch);
        assert_near(swatch->box.x0, COLUMN_X, NEAR, "swatch");
        assert_near(dt_box_width(swatch->box), 10, 0.01, "width of a swatch");
        assert_near(dt_box_height(swatch->box), 10, 0.01, "height of a swatch");
    }
    full_clear(&f);
}

/* The bar of all parts begins at the column's edge and has no gap; that of the former order is below it. */
static void test_the_bars_of_the_breakdown(void)
{
    static const DtColour colours[] = {{0.20, 0.19, 0.17, 1},
                                       {0.72, 0.30, 0.24, 1},
                                       {0.30, 0.55, 0.76, 1},
                                       {0.93, 0.62, 0.18, 1},
                                       {0.66, 0.64, 0.60, 1}};
    Full f;
    full_make(&f, FALSE);
    f.in.one_way = NULL; /* has bars of the same colours */
    draw(&f.in, WIDTH);
    const double heading = text_of("Where the time goes")->at.y;
    double top[2] = {0};
    for (int bar = 0; bar < 2; bar++) {
        double x = COLUMN_X;
        for (gsize i = 0; i < G_N_ELEMENTS(colours); i++)
            for (guint k = 0; drawn_shape(bands, colours[i], k) != NULL; k++) {
                const Shape *b = drawn_shape(bands, colours[i], k);
                if (fabs(dt_box_height(b->box) - (bar ? 8 : 14)) > 0.01)
                    continue;
                assert_near(b->box.x0, x, 0.1, "part of a bar");
                x = b->box.x1;
                top[bar] = b->box.y0;
            }
        assert_near(x, COLUMN_X + (bar ? COLUMN : COLUMN / 2.0), 0.3, "end of a bar");
    }
    assert_near(top[0], heading + 13, 0.1, "bar below its heading");
    g_assert_cmpfloat(top[1], >, top[0] + 14);
    g_autofree char *was = dt_base_duration(f.before.total_s);
    g_autofree char *text = g_strdup_printf("in the drawing's own order: %s", was);
    assert_near(text_of(text)->at.x, COLUMN_X, NEAR, text);
    g_assert_cmpfloat(text_of(text)->box.y0, >, top[1] + 8);
    full_clear(&f);
}

/* Names to the left of their table, times to the right of each column below its head. */
static void test_the_table_of_pen_times(void)
{
    Full f;
    full_make(&f, TRUE);
    draw(&f.in, WIDTH);
    const double heading = text_of("Time of each pen, min:s")->at.y;
    const double right[] = {112, 152, 194, 230, 268};
    const char *const heads[] = {"ink", "slack", "travel", "lifts", "all"};
    const double first = heading + 17;
    int n = 0;
    for (guint i = 0; i < texts->len; i++) {
        const Text *t = text_at(i);
        const double row = (t->at.y - first) / 18;
        if (t->at.x < COLUMN_X - 1 || row < -0.5 || row > 3.5)
            continue;
        assert_near(row, round(row), 0.01, t->text);
        if (fabs(t->at.x - COLUMN_X) < NEAR) {
            g_assert_cmpstr(t->text, ==, f.job.p->rack.pens[(int)round(row) - 1].name);
            n++;
            continue;
        }
        int column = 0;
        while (column < 4 && fabs(end_of(t) - COLUMN_X - right[column]) > NEAR)
            column++;
        assert_near(end_of(t), COLUMN_X + right[column], NEAR, t->text);
        if (row < 0.5)
            g_assert_cmpstr(t->text, ==, heads[column]);
        n++;
    }
    g_assert_cmpint(n, ==, 5 + 3 * 6);
    full_clear(&f);
}

/* Each pen: a line of its colour, as wide as on the sheet from 1 px to 16, beside its name and figures. */
static void test_the_list_of_pens(void)
{
    static const double tips[] = {0.05, 0.8, 30};
    const DtColour colours[] = {{1, 0, 1, 1}, {0, 1, 1, 1}, {0, 1, 0, 1}};
    Full f;
    full_make(&f, FALSE);
    f.in.order = FALSE;
    f.in.tones = NULL; /* are drawn with the same pens */
    for (int i = 0; i < 3; i++) {
        f.job.p->rack.pens[i].tip = tips[i];
        f.job.p->rack.pens[i].colour = colours[i];
    }
    draw(&f.in, WIDTH);
    const double heading = text_of("Pens, in drawing order")->at.y;
    for (int i = 0; i < 3; i++) {
        g_autofree char *name =
            g_strdup_printf("%s  %g mm", f.job.p->rack.pens[i].name, f.job.p->rack.pens[i].tip);
        const Text *t = text_of(name), *below = NULL;
        const Shape *inked = shape_of(lines, colours[i], 0), *line = NULL;
        for (guint k = 0; drawn_shape(lines, colours[i], k) != NULL; k++)
            line = drawn_shape(lines, colours[i], k); /* the last one is the list's */
        for (guint k = 0; k < texts->len; k++)
            if (fabs(text_at(k)->at.y - t->at.y - 16) < 0.01 && text_at(k)->at.x >= COLUMN_X)
                below = text_at(k);
        g_assert_nonnull(below);
        assert_near(t->at.y, heading + 26 + 42 * i, 0.01, name);
        assert_near(t->at.x, COLUMN_X + 58, NEAR, name);
        assert_near(below->at.x, COLUMN_X + 58, NEAR, below->text);
        assert_near(line->width, CLAMP(inked->width, 1, 16), 0.01, "line of a pen");
        assert_near(line->box.x0, COLUMN_X + 8, 0.01, "line of a pen");
        assert_near(line->box.x1, COLUMN_X + 44, 0.01, "line of a pen");
        assert_near(line->box.y0, t->at.y - 4, 0.01,
                    "line of a pen"); /* half the height of its letters */
        assert_near(line->box.y1, line->box.y0, 0.01, "line of a pen");
    }
    full_clear(&f);
}

/* Eleven tones of each pen fill the column; the numbers stand below the first, the middle and the last. */
static void test_the_scale_of_tones(void)
{
    Full f;
    full_make(&f, TRUE);
    for (int i = 0; i < 3; i++)
        f.job.p->rack.pens[i].colour = (DtColour){1, 0.1 * i, 1, 1};
    draw(&f.in, WIDTH);
    const double heading = text_of("Tones, % of the paper covered")->at.y;
    double lowest = 0;
    for (int i = 0; i < 3; i++) {
        const DtColour c = f.job.p->rack.pens[i].colour;
        DtBox ink = DT_BOX_EMPTY, clip = DT_BOX_EMPTY;
        guint in_patch[11] = {0};
        for (guint k = 0; drawn_shape(lines, c, k) != NULL; k++) {
            const Shape *s = drawn_shape(lines, c, k);
            if (s->clip.x0 < COLUMN_X - 1 || dt_box_height(s->clip) > 30)
                continue;
            const double middle = (s->box.x0 + s->box.x1) / 2 - COLUMN_X;
            in_patch[CLAMP((int)(middle * 11 / COLUMN), 0, 10)]++;
            clip = s->clip;
            ink = dt_box_union(ink, s->box);
        }
        const double scale = shape_of(lines, c, 0)->width / f.job.p->rack.pens[i].tip;
        const double wide = COLUMN / scale / 11, high = 23 / scale;
        for (int k = 0; k < 11; k++) { /* bare paper is the first */
            g_auto(DtStrokes) s;
            dt_strokes_init(&s);
            dt_ink_tone_patch((DtBox){wide * k, 0, wide * (k + 1), high}, k / 10.0,
                              &f.job.p->rack.pens[i], 0, &f.tones, &s, NULL);
            g_assert_cmpuint(in_patch[k], ==, s.n);
            g_assert_true((s.n > 0) == (k > 0));
        }
        assert_near(clip.x0, COLUMN_X, 1.1, "scale of tones");
        assert_near(clip.x1, COLUMN_X + COLUMN, 1.1, "scale of tones");
        assert_near(clip.y0, heading + 13 + 28 * i, 1.1, "scale of tones");
        assert_near(clip.y1, heading + 36 + 28 * i, 1.1, "scale of tones");
        g_assert_cmpfloat(ink.x0, >, COLUMN_X + COLUMN / 11.0 - 2);
        g_assert_cmpfloat(ink.x1, >, COLUMN_X + COLUMN * 10.5 / 11);
        g_assert_cmpfloat(ink.y0, <, clip.y0 + 4);
        g_assert_cmpfloat(ink.y1, >, clip.y1 - 4);
        lowest = clip.y1;
    }
    const char *const marks[] = {"0", "50", "100"};
    for (int i = 0; i < 3; i++) {
        const Text *t = text_of(marks[i]);
        assert_near(t->at.x + t->advance / 2, COLUMN_X + COLUMN * (0.5 + 5 * i) / 11, NEAR,
                    t->text);
        assert_near(t->at.y, lowest + 14, 1.1, t->text);
    }
    full_clear(&f);
}

/* Both bars of a comparison begin at one place beside their names; the values are right-aligned. */
static void test_the_bars_of_one_way_fills(void)
{
    Full f;
    full_make(&f, FALSE);
    draw(&f.in, WIDTH);
    const double heading = text_of("Fills one way along Y")->at.y;
    const char *const values[] = {"1 min 40 s", "3 min 20 s", "0.250 mm", "0.100 mm"};
    const double wide[] = {60, 120, 120, 48};
    const Text *what = text_of("their mean error along Y, left uncorrected");
    assert_near(what->at.x, COLUMN_X, NEAR, what->text);
    for (int i = 0; i < 4; i++) {
        const Text *t = text_of(values[i]), *name = NULL;
        const Shape *bar = NULL;
        for (guint k = 0; k < texts->len; k++)
            if (fabs(text_at(k)->at.y - t->at.y) < 0.01 && text_at(k)->at.x >= COLUMN_X - 1 &&
                text_at(k) != t)
                name = text_at(k);
        for (guint k = 0; k < bands->len; k++) {
            const Shape *b = &g_array_index(bands, Shape, k);
            if (fabs(b->box.y1 - t->at.y) < 0.01 && fabs(b->box.x0 - COLUMN_X - 70) < 0.01)
                bar = b;
        }
        g_assert_nonnull(bar);
        g_assert_cmpstr(name->text, ==, i % 2 ? "one way" : "both ways");
        assert_near(name->at.x, COLUMN_X, NEAR, name->text);
        assert_near(end_of(t), COLUMN_X + COLUMN, NEAR, t->text);
        assert_near(dt_box_width(bar->box), wide[i], 0.01, t->text);
        assert_near(dt_box_height(bar->box), 8, 0.01, t->text);
    }
    assert_row((const char *[]){values[0], values[1], NULL}, 16);
    assert_row((const char *[]){values[2], values[3], NULL}, 16);
    g_assert_cmpfloat(text_of(values[0])->at.y - heading, >, 14);
    g_assert_cmpfloat(what->at.y - text_of(values[1])->at.y, >=, 16);
    g_assert_cmpfloat(text_of(values[2])->at.y - what->at.y, >=, 16);
    full_clear(&f);
}

/* The whole bed beside the sheet, as large as fits, with the ink's box where it is on the bed. */
static void test_the_map_of_the_bed(void)
{
    static const double travels[][2] = {{300, 220}, {220, 500}, {900, 220}};
    for (gsize i = 0; i < G_N_ELEMENTS(travels); i++)
        for (int artwork = 0; artwork < 2; artwork++) {
            Full f;
            full_make(&f, FALSE);
            DtProfile *p = f.job.p;
            p->travel[0] = travels[i][0];
            p->travel[1] = travels[i][1];
            p->paper_at = dt_point(3, 2);
            f.in.look = artwork ? &f.look : NULL;
            draw(&f.in, WIDTH);
            const double high = artwork ? 110 : 170;
            const double scale = MIN(COLUMN / (travels[i][0] + 8), high / (travels[i][1] + 8));
            const Shape *bed = shape_of(bands, dt_proof_bed, 1), *ink = NULL;
            const DtColour pale = {0.16, 0.45, 0.70, 0.18};
            ink = shape_of(bands, pale, 0);
            assert_near(bed->box.x0, COLUMN_X + 4 * scale, 0.1, "map");
            assert_near(bed->box.y0, 62 + 4 * scale, 0.1, "map");
            assert_near(dt_box_width(bed->box), travels[i][0] * scale, 0.1, "map");
            assert_near(dt_box_height(bed->box), travels[i][1] * scale, 0.1, "map");
            DtBox all = DT_BOX_EMPTY;
            for (size_t k = 0; k < f.job.m.n; k++)
                if (f.job.m.m[k].kind == DT_MOVE_DRAW)
                    all = dt_box_union(all, (DtBox){f.job.m.m[k].ink.x, f.job.m.m[k].ink.y,
                                                    f.job.m.m[k].ink.x, f.job.m.m[k].ink.y});
            assert_near(ink->box.x0, bed->box.x0 + all.x0 * scale, 0.3, "ink on the map");
            assert_near(ink->box.x1, bed->box.x0 + all.x1 * scale, 0.3, "ink on the map");
            assert_near(ink->box.y1, bed->box.y1 - all.y0 * scale, 0.3, "ink on the map");
            assert_near(ink->box.y0, bed->box.y1 - all.y1 * scale, 0.3, "ink on the map");
            const Shape *edge = NULL;
            for (guint k = 0; drawn_shape(lines, dt_proof_travel, k) != NULL; k++)
                edge = drawn_shape(lines, dt_proof_travel, k);
            assert_near(edge->width, 1, 0.01, "edge of the ink on the map");
            assert_near(edge->box.x0, ink->box.x0, 0.01, "edge of the ink on the map");
            g_autofree char *text = g_strdup_printf(
                "bed %g \303\227 %g mm, sheet 210 \303\227 148 mm", travels[i][0], travels[i][1]);
            assert_near(text_of(text)->at.y, 62 + (travels[i][1] + 8) * scale + 14, 0.1, text);
            assert_near(text_of(text)->at.x, COLUMN_X, NEAR, text);
            full_clear(&f);
        }
}

/* The small picture of the artwork shows the sheet, as large as fits into 268 by 150 px. */
static void test_the_artwork_beside_the_sheet(void)
{
    static const double sizes[][2] = {{210, 148}, {210, 80}, {148, 210}};
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++) {
        Full f;
        full_make(&f, FALSE);
        f.job.p->paper_w = sizes[i][0];
        f.job.p->paper_h = sizes[i][1];
        f.job.p->paper_at = dt_point(12, 7);
        f.in.tones = NULL;
        draw(&f.in, WIDTH);
        const Text *heading = text_of("The artwork");
        const double scale = MIN(COLUMN / sizes[i][0], 150 / sizes[i][1]);
        const Shape *paper = NULL, *square = NULL;
        for (guint k = 0; drawn_shape(bands, dt_proof_paper, k) != NULL; k++)
            paper = drawn_shape(bands, dt_proof_paper, k);
        for (guint k = 0; drawn_shape(bands, (DtColour){0, 0, 0, 1}, k) != NULL; k++)
            square = drawn_shape(bands, (DtColour){0, 0, 0, 1}, k);
        assert_near(paper->box.x0, COLUMN_X, 0.1, "artwork");
        assert_near(paper->box.y0, heading->at.y + 13, 0.1, "artwork");
        assert_near(dt_box_width(paper->box), sizes[i][0] * scale, 0.1, "artwork");
        assert_near(dt_box_height(paper->box), sizes[i][1] * scale, 0.1, "artwork");
        const Shape *edge = NULL;
        for (guint k = 0; drawn_shape(lines, dt_proof_bed_edge, k) != NULL; k++)
            if (drawn_shape(lines, dt_proof_bed_edge, k)->box.y0 == paper->box.y0)
                edge = drawn_shape(lines, dt_proof_bed_edge, k);
        g_assert_nonnull(edge);
        assert_near(edge->width, 1, 0.01, "edge of the artwork");
        /* its square of 9 mm, whose place on the bed is its own */
        assert_near(dt_box_width(square->box), 9 * scale, 0.1, "artwork");
        assert_near(square->box.x0, paper->box.x0 - 12 * scale, 0.1, "artwork");
        const Text *near = text_of("ink differs by 4.2 at 40 cm, 2.8 at 2 m");
        const Text *light = text_of("in CIEDE2000; L* differs by 1.5 at 2 m");
        assert_near(near->at.y, paper->box.y1 + 17, 0.1, near->text);
        assert_near(light->at.y, near->at.y + 16, 0.1, light->text);
        assert_near(near->at.x, COLUMN_X, NEAR, near->text);
        assert_near(light->at.x, COLUMN_X, NEAR, light->text);
        full_clear(&f);
    }
}

/* The colours of the travel from the first to the last, in a bar as wide as the column. */
static void test_the_key_of_the_order(void)
{
    Full f;
    full_make(&f, TRUE);
    g_autofree char *path = g_build_filename(folder, "key.png", NULL);
    drawn_begin();
    g_assert_true(dt_proof_write(&f.in, path, WIDTH, NULL));
    cairo_surface_t *image = cairo_image_surface_create_from_png(path);
    const int stride = cairo_image_surface_get_stride(image);
    const Text *first = text_of("first"), *last = text_of("last");
    assert_near(first->at.x, COLUMN_X, NEAR, first->text);
    assert_near(end_of(last), COLUMN_X + COLUMN, NEAR, last->text);
    assert_near(first->at.y, last->at.y, 0.01, last->text);
    for (int row = 0; row < 2; row++) {
        const int y = (int)first->at.y - 24 + (row ? 8 : 2);
        for (int i = 0; i <= 20; i++) {
            const int x = COLUMN_X + 1 + (COLUMN - 3) * i / 20;
            const unsigned char *px = cairo_image_surface_get_data(image) + y * stride + 4 * x;
            const DtColour c = dt_proof_when((x + 0.5 - COLUMN_X) / COLUMN);
            assert_near(px[2], 255 * c.r, 4, "red of the key");
            assert_near(px[1], 255 * c.g, 4, "green of the key");
            assert_near(px[0], 255 * c.b, 4, "blue of the key");
        }
    }
    cairo_surface_destroy(image);
    g_unlink(path);
    full_clear(&f);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    drawn_init();
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_test_add_func("/proof/column/column", test_the_parts_of_the_column);
    g_test_add_func("/proof/column/breakdown", test_the_rows_of_the_breakdown);
    g_test_add_func("/proof/column/bars", test_the_bars_of_the_breakdown);
    g_test_add_func("/proof/column/pen-times", test_the_table_of_pen_times);
    g_test_add_func("/proof/column/pens", test_the_list_of_pens);
    g_test_add_func("/proof/column/tones", test_the_scale_of_tones);
    g_test_add_func("/proof/column/one-way", test_the_bars_of_one_way_fills);
    g_test_add_func("/proof/column/map", test_the_map_of_the_bed);
    g_test_add_func("/proof/column/artwork", test_the_artwork_beside_the_sheet);
    g_test_add_func("/proof/column/key", test_the_key_of_the_order);
    const int result = g_test_run();
    drawn_clear();
    g_rmdir(folder);
    g_free(folder);
    return result;
}
