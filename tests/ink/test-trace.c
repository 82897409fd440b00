/* ink: from shapes to strokes. */
#include "drawtrue/base.h"
#include "drawtrue/ink.h"
#include "support/shapes.h"

#include <string.h>

typedef struct {
    DtDrawing d;
    GArray *shapes;
    DtPen pens[3];
    DtRack rack;
    DtInkOptions o;
    DtStrokes s;
} Sheet;

static const DtColour BLACK = {0, 0, 0, 1}, RED = {0.9, 0.1, 0.1, 1}, WHITE = {1, 1, 1, 1};

static void sheet_init(Sheet *t)
{
    memset(t, 0, sizeof *t);
    t->shapes = g_array_new(FALSE, TRUE, sizeof(DtShape));
    t->pens[0] = (DtPen){.name = (char *)"black", .colour = BLACK, .tip = 0.4, .dot_gain = 1};
    t->pens[1] = (DtPen){.name = (char *)"red", .colour = RED, .tip = 0.4, .dot_gain = 1};
    t->pens[2] = (DtPen){.name = (char *)"wide",
                         .colour = {0.1, 0.1, 0.9, 1},
                         .tip = 1.0,
                         .classes = (char *)"bold heavy",
                         .dot_gain = 1};
    t->rack = (DtRack){t->pens, 3};
    t->o = DT_INK_OPTIONS_DEFAULT;
    t->o.solid = TRUE;
    t->d.path = (char *)"sheet.svg";
    dt_strokes_init(&t->s);
}

static DtShape *add_shape(Sheet *t, int line)
{
    g_array_set_size(t->shapes, t->shapes->len + 1);
    DtShape *s = &g_array_index(t->shapes, DtShape, t->shapes->len - 1);
    dt_lines_init(&s->outline);
    s->clip = -1;
    s->line = line;
    s->stroke.user_to_mm = DT_AFFINE_IDENTITY;
    s->stroke.miter_limit = 4;
    return s;
}

static DtShape *add_box(Sheet *t, double x, double y, double w, double h, DtColour c)
{
    DtShape *s = add_shape(t, 10);
    DtPoint p[4] = {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}};
    dt_lines_append(&s->outline, p, 4, TRUE);
    s->fill = (DtPaint){DT_PAINT_FLAT, c, NULL};
    return s;
}

static DtShape *add_line(Sheet *t, DtPoint a, DtPoint b, double width, DtColour c)
{
    DtShape *s = add_shape(t, 20);
    DtPoint p[2] = {a, b};
    dt_lines_append(&s->outline, p, 2, FALSE);
    s->stroke.paint = (DtPaint){DT_PAINT_FLAT, c, NULL};
    s->stroke.width = width;
    return s;
}

static void run(Sheet *t)
{
    g_autoptr(GError) error = NULL;
    t->d.shapes = (DtShape *)(void *)t->shapes->data;
    t->d.n_shapes = t->shapes->len;
    dt_strokes_clear(&t->s);
    gboolean good = dt_ink_trace(&t->d, &t->rack, &t->o, &t->s, NULL, &error);
    g_assert_no_error(error);
    g_assert_true(good);
}

static void sheet_clear(Sheet *t)
{
    for (guint i = 0; i < t->shapes->len; i++)
        dt_lines_clear(&g_array_index(t->shapes, DtShape, i).outline);
    g_array_free(t->shapes, TRUE);
    dt_strokes_clear(&t->s);
}

/* Distance from p to the ink's middle lines of a pen (-1: any). */
static double to_ink(const DtStrokes *s, int pen, DtPoint p)
{
    double d = G_MAXDOUBLE;
    for (size_t i = 0; i < s->n; i++) {
        const DtPoint *q = s->pts + s->strokes[i].first;
        size_t n = s->strokes[i].n;
        if (pen >= 0 && s->strokes[i].pen != pen)
            continue;
        for (size_t k = 0; k + (s->strokes[i].closed ? 0 : 1) < n; k++)
            d = MIN(d, dt_point_segment_distance(p, q[k], q[(k + 1) % n]));
    }
    return d;
}

static double length_of(const DtStrokes *s, int pen)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        if (pen < 0 || s->strokes[i].pen == pen)
            sum += dt_strokes_length(s, i);
    return sum;
}

/* Any way may be the fastest on some machine. */
static double any_seconds(const DtLines *lines, unsigned pen, void *user)
{
    g_assert_cmpuint(pen, ==, 0);
    return lines->n > 0 ? g_rand_double_range(user, 1, 100) : 1000;
}

static void test_fill_inks_all_of_the_shape_and_nothing_else(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    g_autoptr(GRand) choice = g_rand_new_with_seed(8);
    const DtHatch kinds[] = {DT_HATCH_SERPENTINE, DT_HATCH_LINES,   DT_HATCH_CROSSED,
                             DT_HATCH_RINGS,      DT_HATCH_FASTEST, DT_HATCH_FASTEST};
    for (int round = 0; round < 48; round++) {
        Sheet t;
        sheet_init(&t);
        t.o.hatch = kinds[round % 6];
        t.o.seconds = any_seconds;
        t.o.seconds_user = choice;
        t.o.angle = g_rand_double_range(rand, -4, 4);
        DtShape *s = add_shape(&t, 5);
        random_outline(rand, 9, &s->outline);
        s->fill = (DtPaint){DT_PAINT_FLAT, BLACK, NULL};
        s->rule = round % 2 ? DT_FILL_EVENODD : DT_FILL_NONZERO;
        run(&t);
        s = &g_array_index(t.shapes, DtShape, 0);
        for (int i = 0; i < 300; i++) {
            DtPoint p =
                dt_point(g_rand_double_range(rand, -1, 41), g_rand_double_range(rand, -1, 41));
            double edge = distance_to_edges(&s->outline, p), ink = to_ink(&t.s, 0, p);
            gboolean in = dt_lines_inside(&s->outline, s->rule, p);
            /* Inside the inset: within half a pitch of a pen's middle. */
            if (in && edge > 0.21)
                g_assert_cmpfloat(ink, <, 0.2 + 0.005);
            if (!in && edge > 0.21)
                g_assert_cmpfloat(ink, >, 0.2);
        }
        sheet_clear(&t);
    }
}

/* More ink is never faster here, and lifts cost: a disc of rings is one line from ring to ring. */
static double lifts(const DtLines *lines, unsigned pen, void *user)
{
    (void)pen, (void)user;
    double reversals = 0;
    for (size_t i = 0; i < lines->n; i++)
        for (size_t k = 2; k < dt_lines_count(lines, i); k++) {
            const DtPoint *p = dt_lines_at(lines, i) + k;
            reversals += dt_point_dot(dt_point_sub(p[0], p[-1]), dt_point_sub(p[-1], p[-2])) < 0;
        }
    return reversals + 10 * (double)lines->n;
}

static void test_a_field_takes_the_fastest_way(void)
{
    for (int fastest = 0; fastest < 2; fastest++) {
        Sheet t;
        sheet_init(&t);
        t.o.hatch = fastest ? DT_HATCH_FASTEST : DT_HATCH_RINGS;
        t.o.seconds = lifts;
        DtShape *s = add_shape(&t, 5);
        dt_lines_begin(&s->outline);
        for (int i = 0; i < 200; i++)
            dt_lines_point(&s->outline,
                           dt_point(20 + 8 * cos(i * G_PI / 100), 20 + 8 * sin(i * G_PI / 100)));
        dt_lines_close(&s->outline);
        s->fill = (DtPaint){DT_PAINT_FLAT, BLACK, NULL};
        run(&t);
        if (fastest)
            g_assert_cmpuint(t.s.n, <=, 2); /* the middle may have a line of its own */
        else
            g_assert_cmpuint(t.s.n, >=, 19); /* by hand, ring by ring */
        g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), G_PI * 64 / 0.4, 0.05 * G_PI * 64 / 0.4);
        sheet_clear(&t);
    }
}

static void test_opaque_fills_hide_and_white_leaves_paper(void)
{
    Sheet t;
    sheet_init(&t);
    add_box(&t, 0, 0, 30, 30, BLACK);
    add_line(&t, dt_point(-5, 15), dt_point(35, 15), 0.3, BLACK);
    add_box(&t, 10, 10, 10, 10, WHITE);
    add_box(&t, 14, 14, 2, 2, RED);
    run(&t);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(15, 15)), >, 5 - 0.001);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(15, 15)), <, 0.3);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(12, 15)), >, 1.9);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(9.9, 15)), <, 0.11); /* the line ends at the edge */
    t.o.hide = FALSE;
    run(&t);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(15, 15)), <, 0.3);
    sheet_clear(&t);
}

/* Without fills and hiding, each shape is drawn as its own edge, all round. */
static void test_outlines_alone(void)
{
    static const DtBox boxes[] = {{0, 0, 20, 20}, {12, 12, 40, 30}, {14, 14, 18, 18}};
    Sheet t;
    sheet_init(&t);
    for (gsize i = 0; i < G_N_ELEMENTS(boxes); i++)
        add_box(&t, boxes[i].x0, boxes[i].y0, dt_box_width(boxes[i]), dt_box_height(boxes[i]),
                BLACK);
    t.o.hide = t.o.fill = FALSE;
    run(&t);
    g_assert_cmpuint(t.s.n, ==, G_N_ELEMENTS(boxes));
    for (size_t i = 0; i < t.s.n; i++) {
        const int shape = t.s.strokes[i].shape;
        g_assert_true(shape >= 0 && shape < (int)G_N_ELEMENTS(boxes));
        const DtBox b = boxes[shape];
        DtBox found = DT_BOX_EMPTY;
        for (size_t k = 0; k < t.s.strokes[i].n; k++)
            found = dt_box_add_point(found, t.s.pts[t.s.strokes[i].first + k]);
        g_assert_cmpfloat_with_epsilon(found.x0, b.x0, 0.02);
        g_assert_cmpfloat_with_epsilon(found.y0, b.y0, 0.02);
        g_assert_cmpfloat_with_epsilon(found.x1, b.x1, 0.02);
        g_assert_cmpfloat_with_epsilon(found.y1, b.y1, 0.02);
        g_assert_cmpfloat_with_epsilon(dt_strokes_length(&t.s, i),
                                       2 * (dt_box_width(b) + dt_box_height(b)), 0.1);
    }
    sheet_clear(&t);
}

static void test_narrow_strokes_are_lines_and_wide_ones_areas(void)
{
    Sheet t;
    sheet_init(&t);
    add_line(&t, dt_point(0, 0), dt_point(20, 0), 0.4, BLACK);
    run(&t);
    g_assert_cmpuint(t.s.n, ==, 1);
    g_assert_cmpint(t.s.strokes[0].kind, ==, DT_INK_OUTLINE);
    g_assert_cmpint(t.s.strokes[0].shape, ==, 0);
    g_assert_cmpfloat_with_epsilon(dt_strokes_length(&t.s, 0), 20, 0.002);
    add_line(&t, dt_point(0, 10), dt_point(20, 10), 4, RED)->stroke.cap = DT_CAP_ROUND;
    run(&t);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(10, 11.7)), <, 0.2);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(21.5, 10)), <, 0.3);
    DtBox b = dt_strokes_box(&t.s);
    g_assert_cmpfloat_with_epsilon(b.y1, 11.8, 0.01);
    g_assert_cmpfloat_with_epsilon(b.x1, 21.8, 0.01);
    sheet_clear(&t);
}

static void test_part_narrower_than_the_pen_gets_one_line(void)
{
    Sheet t;
    sheet_init(&t);
    add_box(&t, 0, 0, 20, 0.3, BLACK);
    add_box(&t, 5, 5, 0.25, 0.25, BLACK); /* and a dot a dot */
    run(&t);
    size_t lines = 0, dots = 0;
    for (size_t i = 0; i < t.s.n; i++) {
        g_assert_cmpint(t.s.strokes[i].kind, ==, DT_INK_CENTRE);
        double length = dt_strokes_length(&t.s, i);
        if (length < 0.1)
            dots++;
        else
            lines++;
        if (length > 0.1)
            g_assert_cmpfloat(length, >, 19);
    }
    g_assert_cmpuint(lines, ==, 1);
    g_assert_cmpuint(dots, ==, 1);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(10, 0.15)), <, 0.03);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(5.125, 5.125)), <, 0.02);
    sheet_clear(&t);
}

static void test_clips_cut_fills_and_lines(void)
{
    Sheet t;
    sheet_init(&t);
    DtClipRegion region = {.rule = DT_FILL_NONZERO, .clip = -1};
    DtPoint p[3] = {{0, 0}, {10, 0}, {0, 10}};
    dt_lines_init(&region.outline);
    dt_lines_append(&region.outline, p, 3, TRUE);
    DtClip clip = {&region, 1, -1};
    t.d.clips = &clip;
    t.d.n_clips = 1;
    add_box(&t, 0, 0, 10, 10, RED)->clip = 0;
    add_line(&t, dt_point(0, 5), dt_point(20, 5), 0.3, BLACK)->clip = 0;
    run(&t);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(7, 7)), >, 2.5);
    g_assert_cmpfloat(to_ink(&t.s, 1, dt_point(2, 2)), <, 0.3);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), 5, 0.002);
    clip.parent = 0; /* a clip within itself */
    t.d.shapes[0].clip = 0;
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_ink_trace(&t.d, &t.rack, &t.o, &t.s, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "sheet.svg:10: "));
    dt_lines_clear(&region.outline);
    sheet_clear(&t);
}

static void test_dashes_are_kept(void)
{
    Sheet t;
    sheet_init(&t);
    static const double dash[] = {3, 1};
    DtShape *s = add_line(&t, dt_point(0, 0), dt_point(20, 0), 0.3, BLACK);
    s->stroke.dash = dash;
    s->stroke.n_dash = 2;
    s->stroke.dash_offset = 1;
    run(&t);
    g_assert_cmpuint(t.s.n, ==, 6); /* 2, 3, 3, 3, 3, 1 with gaps of 1 */
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), 15, 0.01);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(2.5, 0)), >, 0.49);
    sheet_clear(&t);
}

/* Gaps that the pen's round ends ink are drawn across, whole lists of them too; others stay where they are. */
static void test_gaps_under_the_pen_are_drawn_across(void)
{
    static const double fine[] = {0.003}, mixed[] = {2, 0.05, 1, 1.5};
    for (int k = 0; k < 2; k++) {
        Sheet t;
        sheet_init(&t);
        DtShape *s = add_line(&t, dt_point(0, 0), dt_point(20, 0), 0.3, BLACK);
        s->stroke.dash = k ? mixed : fine;
        s->stroke.n_dash = k ? 4 : 1;
        run(&t);
        if (k == 0) {
            g_assert_cmpuint(t.s.n, ==, 1);
            g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), 20, 0.01);
        } else { /* 3.05 and a gap of 1.5 by turns, from the left */
            g_assert_cmpuint(t.s.n, ==, 5);
            g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(2.02, 0)), <, 0.01);
            g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(3.05 + 0.75, 0)), >, 0.7);
            g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(3 * 4.55 + 0.01, 0)), <, 0.02);
        }
        sheet_clear(&t);
    }
}

static void test_double_lines_are_drawn_once(void)
{
    Sheet t;
    sheet_init(&t);
    DtPoint left[4] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    DtPoint right[4] = {{10, 0.01}, {20, 0}, {20, 10}, {10, 10}};
    DtPoint back[3] = {{30, 0}, {40, 0}, {30, 0}};
    DtPoint red[2] = {{0, 0}, {10, 0}};
    const struct {
        DtPoint *p;
        size_t n;
    } lines[] = {{left, 4}, {right, 4}, {left, 4}, {back, 3}, {red, 2}};
    for (int i = 0; i < 5; i++) {
        DtShape *s = add_line(&t, dt_point(0, 0), dt_point(0, 0), 0.4, i == 4 ? RED : BLACK);
        dt_lines_clear(&s->outline);
        dt_lines_append(&s->outline, lines[i].p, lines[i].n, lines[i].n == 4);
    }
    run(&t);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), 40 + 30 + 10, 0.2);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 1), 10, 0.01); /* another pen is no double */
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(10, 5)), <, 0.02);
    g_assert_cmpfloat(to_ink(&t.s, 0, dt_point(20, 5)), <, 0.02);
    t.o.dedupe = FALSE;
    run(&t);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), 140, 0.2);
    sheet_clear(&t);
}

static void test_no_ink_is_lost_with_double_lines(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(9);
    for (int round = 0; round < 60; round++) {
        Sheet t;
        sheet_init(&t);
        for (int i = 0; i < 6; i++) { /* on a coarse grid many lines overlap in part */
            DtShape *s = add_line(&t, dt_point(0, 0), dt_point(0, 0), 0.3, BLACK);
            dt_lines_clear(&s->outline);
            random_ring(rand, 8, round % 2 ? 5 : 0, &s->outline);
            if (round % 3 == 0) /* a smooth curve drawn twice, the second time off by a hair */
                wavy_disc(dt_point(20 + 0.005 * i, 20), 10, 5, 200 + i, &s->outline);
        }
        run(&t);
        double once = length_of(&t.s, 0);
        for (guint i = 0; i < t.shapes->len; i++) {
            const DtLines *l = &g_array_index(t.shapes, DtShape, i).outline;
            for (size_t k = 0; k < l->n_pts; k++) {
                DtPoint p = dt_point_lerp(l->pts[k], l->pts[(k + 1) % l->n_pts], 0.3);
                if (distance_to_edges(l, p) < 0.001)
                    g_assert_cmpfloat(to_ink(&t.s, 0, p), <, 0.1);
            }
        }
        t.o.dedupe = FALSE;
        run(&t);
        g_assert_cmpfloat(once, <=, length_of(&t.s, 0) + 1e-6);
        if (round % 3 == 0)
            g_assert_cmpfloat(once, <, 0.8 * length_of(&t.s, 0));
        sheet_clear(&t);
    }
}

/* A line on an area of its own pen is inked with it; where it leaves the area it is drawn. */
static void test_lines_on_areas_of_their_pen_are_not_drawn_again(void)
{
    Sheet t;
    sheet_init(&t);
    add_box(&t, 10, 10, 30, 30, BLACK);
    run(&t);
    double area_alone = length_of(&t.s, 0);
    add_line(&t, dt_point(15, 20), dt_point(35, 25), 0.4, BLACK);
    add_line(&t, dt_point(20, 30), dt_point(60, 30), 0.4, BLACK);
    add_line(&t, dt_point(12, 15), dt_point(38, 15), 0.4, RED);
    run(&t);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 0), area_alone + 20, 0.01);
    g_assert_cmpfloat_with_epsilon(length_of(&t.s, 1), 26, 0.01);
    sheet_clear(&t);
}

/* A line along the edge of an area widens it by half the line, no more. */
static void test_lines_along_areas_of_their_pen_join_them(void)
{
    for (int i = 0; i < 2; i++) {
        double width = i ? 0.3 : 0.01;
        Sheet t;
        sheet_init(&t);
        add_box(&t, 10, 10, 30, 30, BLACK);
        add_line(&t, dt_point(10, 40), dt_point(40, 40), width, BLACK);
        run(&t);
        DtBox b = dt_strokes_box(&t.s);
        g_assert_cmpfloat_with_epsilon(b.x0, 10.2, 0.01);
        g_assert_cmpfloat_with_epsilon(b.y1, 40 - 0.2 + (i ? width / 2 : 0), 0.01);
        sheet_clear(&t);
    }
}

/* Property: with random lines and areas of one pen no painted place loses its ink. */
static void test_no_ink_is_lost_where_lines_join_areas(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    for (int round = 0; round < 20; round++) {
        Sheet t;
        sheet_init(&t);
        for (int i = 0; i < 3; i++)
            add_box(&t, g_rand_int_range(rand, 0, 20), g_rand_int_range(rand, 0, 20),
                    g_rand_int_range(rand, 2, 20), g_rand_int_range(rand, 2, 20), BLACK);
        DtPoint ends[12];
        for (int i = 0; i < 12; i += 2) {
            ends[i] = dt_point(g_rand_int_range(rand, 0, 40), g_rand_int_range(rand, 0, 40));
            ends[i + 1] = g_rand_boolean(rand) ? dt_point(ends[i].x, g_rand_int_range(rand, 0, 40))
                                               : dt_point(g_rand_int_range(rand, 0, 40), ends[i].y);
            add_line(&t, ends[i], ends[i + 1], 0.2, BLACK);
        }
        run(&t);
        for (int i = 0; i < 12; i += 2)
            for (int k = 0; k <= 40; k++)
                g_assert_cmpfloat(to_ink(&t.s, 0, dt_point_lerp(ends[i], ends[i + 1], k / 40.0)), <,
                                  0.2 + 0.01);
        sheet_clear(&t);
    }
}

static void test_pens_follow_colour_and_class_and_report(void)
{
    Sheet t;
    sheet_init(&t);
    add_box(&t, 0, 0, 5, 5, (DtColour){0.85, 0.15, 0.1, 1});
    add_box(&t, 10, 0, 5, 5, RED)->classes = "thin bold";
    add_box(&t, 20, 0, 5, 5, WHITE);
    t.d.shapes = (DtShape *)(void *)t.shapes->data;
    t.d.n_shapes = 3;
    g_autoptr(GError) error = NULL;
    DtInkReport r;
    g_assert_true(dt_ink_trace(&t.d, &t.rack, &t.o, &t.s, &r, &error));
    g_assert_cmpuint(r.n, ==, 3);
    g_assert_cmpint(r.matches[0].pen, ==, 1);
    g_assert_cmpfloat(r.matches[0].distance, <, 10);
    g_assert_cmpint(r.matches[1].pen, ==, 2);
    g_assert_cmpint(r.matches[2].pen, ==, -1);
    for (size_t i = 0; i < r.n; i++)
        g_assert_cmpfloat_with_epsilon(r.matches[i].area_mm2, 25, 1e-9);
    dt_ink_report_clear(&r);
    g_assert_cmpfloat(to_ink(&t.s, 2, dt_point(12, 2)), <, 0.51);
    g_assert_cmpfloat(to_ink(&t.s, -1, dt_point(22, 2)), >, 5);
    sheet_clear(&t);
}

/* A pen draws what has one of its words among its own, which white space separates (HTML, `class`: ASCII white space);
 * a part of a word is no word. */
static void test_classes_are_lists_of_words(void)
{
    static const struct {
        const char *shape, *pen;
        gboolean asked;
    } cases[] = {
        {"heavy", "bold heavy", TRUE},       {"bold", "bold heavy", TRUE},
        {"thin heavy", "bold heavy", TRUE},  {" \t thin \n\r heavy\f", "  bold \t\n heavy  ", TRUE},
        {"heav", "bold heavy", FALSE},       {"heavy2", "bold heavy", FALSE},
        {"avy", "bold heavy", FALSE},        {"Heavy", "bold heavy", FALSE},
        {"bold-heavy", "bold heavy", FALSE}, {"", "bold heavy", FALSE},
        {" ", "bold heavy", FALSE},          {"thin", "", FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        Sheet t;
        sheet_init(&t);
        t.pens[2].classes = (char *)cases[i].pen;
        add_box(&t, 10, 0, 5, 5, RED)->classes = cases[i].shape;
        run(&t);
        g_assert_cmpuint(t.s.n, >, 0);
        for (size_t k = 0; k < t.s.n; k++)
            g_assert_cmpuint(t.s.strokes[k].pen, ==, cases[i].asked ? 2 : 1);
        sheet_clear(&t);
    }
}

static void test_bad_racks_and_options_are_refused(void)
{
    Sheet t;
    sheet_init(&t);
    add_box(&t, 0, 0, 5, 5, BLACK);
    t.d.shapes = (DtShape *)(void *)t.shapes->data;
    t.d.n_shapes = 1;
    for (int i = 0; i < 11; i++) {
        DtRack rack = t.rack;
        DtInkOptions o = t.o;
        if (i == 0)
            rack.n = 0;
        if (i == 1)
            o.pitch = -1;
        if (i == 2)
            o.pitch = NAN;
        if (i == 3)
            t.pens[0].tip = 0;
        if (i == 4)
            t.pens[0].tip = INFINITY;
        if (i == 6) { /* the second of two swaps */
            o.n_swaps = 2;
            o.swaps[1] = (DtInkSwap){0, (int)rack.n};
        }
        if (i == 7) {
            o.n_rules = 2;
            o.rules[1].pen = (int)rack.n;
        }
        if (i == 8)
            o.n_swaps = DT_INK_MOST_RULES + 1;
        if (i == 9)
            o.spread = 0.99;
        if (i == 10)
            o.spread = 1e6;
        if (i == 5)
            t.d.shapes[0].outline.pts[1].x = INFINITY;
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_ink_trace(&t.d, &rack, &o, &t.s, NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        t.pens[0].tip = 0.4;
        t.d.shapes[0].outline.pts[1].x = 5;
    }
    sheet_clear(&t);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/trace/fastest", test_a_field_takes_the_fastest_way);
    g_test_add_func("/ink/trace/lines-on-areas",
                    test_lines_on_areas_of_their_pen_are_not_drawn_again);
    g_test_add_func("/ink/trace/lines-along-areas", test_lines_along_areas_of_their_pen_join_them);
    g_test_add_func("/ink/trace/lines-and-areas", test_no_ink_is_lost_where_lines_join_areas);
    g_test_add_func("/ink/trace/fill-is-whole", test_fill_inks_all_of_the_shape_and_nothing_else);
    g_test_add_func("/ink/trace/outlines-alone", test_outlines_alone);
    g_test_add_func("/ink/trace/hiding", test_opaque_fills_hide_and_white_leaves_paper);
    g_test_add_func("/ink/trace/widths", test_narrow_strokes_are_lines_and_wide_ones_areas);
    g_test_add_func("/ink/trace/narrow-parts", test_part_narrower_than_the_pen_gets_one_line);
    g_test_add_func("/ink/trace/clips", test_clips_cut_fills_and_lines);
    g_test_add_func("/ink/trace/dashes", test_dashes_are_kept);
    g_test_add_func("/ink/trace/fine-gaps", test_gaps_under_the_pen_are_drawn_across);
    g_test_add_func("/ink/trace/double-lines", test_double_lines_are_drawn_once);
    g_test_add_func("/ink/trace/no-ink-lost", test_no_ink_is_lost_with_double_lines);
    g_test_add_func("/ink/trace/classes", test_classes_are_lists_of_words);
    g_test_add_func("/ink/trace/pens", test_pens_follow_colour_and_class_and_report);
    g_test_add_func("/ink/trace/bad-input", test_bad_racks_and_options_are_refused);
    return g_test_run();
}
