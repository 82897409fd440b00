/* job: the whole chain in one call, one sheet and several, and what drawing one way is worth. */
#include "drawtrue/job.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *path; /* of the drawing */

static void write_drawing(double w, double h, const char *inside)
{
    g_autofree char *text = g_strdup_printf(
        "<svg xmlns='http://www.w3.org/2000/svg' width='%gmm' height='%gmm' viewBox='0 0 %g %g'>\n"
        "%s\n</svg>\n",
        w, h, w, h, inside);
    g_assert_true(g_file_set_contents(path, text, -1, NULL));
}

#define LINE "<path d='M%d %dL%d %d' stroke='#1c1c1c' stroke-width='0.3' fill='none'/>"

static void write_line(double w, double h, int x0, int y0, int x1, int y1)
{
    g_autofree char *line = g_strdup_printf(LINE, x0, y0, x1, y1);
    write_drawing(w, h, line);
}

static DtProfile *make_profile(void)
{
    DtProfile *p = dt_profile_new();
    p->travel[0] = p->travel[1] = 320;
    p->paper_w = 210;
    p->paper_h = 148;
    p->paper_at = dt_point(20, 20);
    p->margin = 10;
    return p;
}

static void set_lost(DtTable *t, size_t n, double mm)
{
    t->at = g_renew(double, t->at, n);
    t->value = g_renew(double, t->value, n);
    t->n = n;
    for (size_t i = 0; i < n; i++) {
        t->at[i] = 100.0 * (double)i;
        t->value[i] = mm;
    }
}

static void test_ink_of_a_pen_is_the_line_s_length(void)
{
    g_autoptr(DtProfile) p = make_profile();
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job;
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    memset(&job, 0xa5, sizeof job); /* whatever it held */
    o.placement.fit = DT_FIT_TRUE_SIZE;
    write_line(100, 100, 10, 50, 90, 50);
    g_assert_true(dt_job_plan(p, path, &o, &job, NULL, &error));
    g_assert_cmpfloat_with_epsilon(dt_sequence_ink_mm(&job.sequence), 80, 1e-6);
    g_assert_cmpfloat_with_epsilon(job.times.ink_mm, 80, 1e-6);
    for (size_t i = 0; i < job.moves.n; i++)
        g_assert_cmpuint(job.moves.m[i].pen, ==, 0);
}

static void test_a_drawing_without_ink_is_refused_with_the_reader_s_notes(void)
{
    g_autoptr(DtProfile) p = make_profile();
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job = {0};
    const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    write_drawing(100, 100,
                  "<rect width='50' height='50' fill='white'/>\n"
                  "<image href='no-such.png' width='10' height='10'/>");
    g_assert_false(dt_job_plan(p, path, &o, &job, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "nothing in it would put ink on the paper"));
    g_autofree char *note = g_strdup_printf("\n%s:3: ", path);
    g_assert_nonnull(strstr(error->message, note));
    g_assert_null(job.moves.m);
}

/* Of a drawing planned for its program alone nothing is kept that a time limit does not need. */
static void test_a_program_alone_is_the_same(void)
{
    g_autoptr(DtProfile) p = make_profile();
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) whole = {0}, alone = {0}, timed = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    write_drawing(100, 80,
                  "<rect x='20' y='30' width='50' height='9' fill='#1c1c1c'/>\n"
                  "<path d='M5 5L90 60' stroke='#1c1c1c' stroke-width='0.3'/>\n"
                  "<image href='no-such.png' width='10' height='10'/>");
    g_assert_true(dt_job_plan(p, path, &o, &whole, NULL, &error));
    o.program_only = TRUE;
    g_assert_true(dt_job_plan(p, path, &o, &alone, NULL, &error));
    o.minutes = 1000;
    g_assert_true(dt_job_plan(p, path, &o, &timed, NULL, &error));
    g_assert_cmpuint(whole.drawing->n_shapes, ==, 2);
    g_assert_cmpuint(alone.drawing->n_shapes, ==, 0);
    g_assert_null(alone.drawing->store);
    g_assert_cmpuint(timed.drawing->n_shapes, ==, 2);
    const DtBox a = dt_art_box(whole.drawing), b = dt_art_box(alone.drawing);
    g_assert_cmpmem(&a, sizeof a, &b, sizeof b);
    g_assert_cmpuint(alone.drawing->n_notes, ==, whole.drawing->n_notes);
    g_assert_cmpstr(alone.drawing->notes[0].text, ==, whole.drawing->notes[0].text);
    gsize len[2];
    g_autofree char *one = dt_code_write(p, &whole.moves, &len[0], &error);
    g_autofree char *two = dt_code_write(p, &alone.moves, &len[1], &error);
    g_assert_cmpmem(one, len[0], two, len[1]);
}

/* Several sheets ---------------------------------------------------------------------------- */

static double longest_run(const DtSequence *s)
{
    double longest = 0;
    for (size_t i = 0; i < s->n; i++) {
        double length = 0;
        const DtPoint *pts = s->pts + s->polylines[i].first;
        for (size_t k = 1; k < s->polylines[i].n; k++)
            length += dt_point_distance(pts[k - 1], pts[k]);
        longest = MAX(longest, length);
    }
    return longest;
}

/* Each sheet's ink lies in its usable part; the line's pieces add up to the line, and what each
 * two neighbours have in common besides. */
static double line_over(const DtJobSheets *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtSequence *q = &s->sheets[i].job.sequence;
        for (size_t k = 0; k < q->n_pts; k++) {
            g_assert_cmpfloat(q->pts[k].x, >=, 30 - 1e-6);
            g_assert_cmpfloat(q->pts[k].x, <=, 220 + 1e-6);
            g_assert_cmpfloat(q->pts[k].y, >=, 30 - 1e-6);
            g_assert_cmpfloat(q->pts[k].y, <=, 158 + 1e-6);
        }
        g_assert_true(q->n > 1 || s->n == 1); /* registration crosses, too */
        sum += longest_run(q);
    }
    return sum;
}

static double plan_line(const DtJobOptions *o, DtJobTiling tiling, DtJobSheets *out)
{
    g_autoptr(DtProfile) p = make_profile();
    g_autoptr(GError) error = NULL;
    gboolean good = dt_job_plan_sheets(p, path, o, &tiling, out, NULL, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    return line_over(out);
}

/* Sheets of 190 mm inside their margins: 380 mm of line take three of them. */
static void test_a_long_line_goes_over_the_sheets_whole(void)
{
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_auto(DtJobSheets) s = {0};
    write_line(400, 100, 10, 50, 390, 50);
    g_assert_cmpfloat_with_epsilon(plan_line(&o, (DtJobTiling){0, 0, 12}, &s), 380 + 2 * 12, 0.01);
    g_assert_cmpuint(s.n, ==, 3);
    g_assert_cmpuint(s.columns, ==, 3);
    g_assert_cmpuint(s.rows, ==, 1);
    for (unsigned i = 0; i < 3; i++) {
        g_assert_cmpuint(s.sheets[i].column, ==, i + 1);
        g_assert_cmpuint(s.sheets[i].row, ==, 1);
    }
}

/* Two side by side are 2 x 190 - 12 mm wide, 0.92 of the page; a tall page is turned for them,
 * unless it must not: then its height fits one sheet's 128 mm. */
static void test_a_page_grows_to_the_sheets_and_may_turn(void)
{
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    const DtJobTiling two = {2, 1, 12};
    const double scale = (2 * 190.0 - 12) / 400;
    g_auto(DtJobSheets) wide = {0}, tall = {0}, upright = {0};
    write_line(400, 100, 10, 50, 390, 50);
    g_assert_cmpfloat_with_epsilon(plan_line(&o, two, &wide), scale * 380 + 12, 0.01);
    write_line(100, 400, 50, 10, 50, 390);
    g_assert_cmpfloat_with_epsilon(plan_line(&o, two, &tall), scale * 380 + 12, 0.01);
    o.placement.turn = FALSE;
    g_assert_cmpfloat_with_epsilon(plan_line(&o, two, &upright), 128.0 / 400 * 380, 0.01);
}

/* Rows are counted from above; a sheet that stays bare is left out. */
static void test_rows_are_counted_from_above(void)
{
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.placement.turn = FALSE;
    for (unsigned row = 1; row <= 2; row++) {
        g_auto(DtJobSheets) s = {0};
        const int y = row == 1 ? 10 : 190;
        write_line(100, 200, 10, y, 60, y);
        plan_line(&o, (DtJobTiling){1, 2, 12}, &s);
        g_assert_cmpuint(s.n, ==, 1);
        g_assert_cmpuint(s.rows, ==, 2);
        g_assert_cmpuint(s.sheets[0].row, ==, row);
        g_assert_cmpuint(s.sheets[0].column, ==, 1);
    }
}

/* Registration crosses are drawn with the pen that draws most strokes, whichever it is. */
static void test_crosses_are_of_the_busiest_pen(void)
{
    static const char *const inks[] = {"#000000", "#c00000", "#0000c0"};
    g_autoptr(DtProfile) p = make_profile();
    g_assert_cmpuint(p->rack.n, ==, G_N_ELEMENTS(inks));
    p->rack.pens[0].colour = (DtColour){0, 0, 0, 1};
    p->rack.pens[1].colour = (DtColour){0.75, 0, 0, 1};
    p->rack.pens[2].colour = (DtColour){0, 0, 0.75, 1};
    for (unsigned busy = 0; busy < G_N_ELEMENTS(inks); busy++) {
        g_autoptr(GString) lines = g_string_new(NULL);
        for (unsigned i = 0; i < 6; i++)
            g_string_append_printf(
                lines, "<path d='M10 %uH390' stroke='%s' stroke-width='0.3' fill='none'/>",
                20 + 10 * i, inks[i < 3 ? i : busy]);
        write_drawing(400, 100, lines->str);
        const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
        const DtJobTiling any = {0, 0, 12};
        g_auto(DtJobSheets) s = {0};
        g_assert_true(dt_job_plan_sheets(p, path, &o, &any, &s, NULL, NULL));
        size_t crosses = 0;
        for (size_t i = 0; i < s.n; i++)
            for (size_t k = 0; k < s.sheets[i].job.strokes.n; k++) {
                const DtStroke *stroke = &s.sheets[i].job.strokes.strokes[k];
                if (stroke->shape >= 0)
                    continue;
                g_assert_cmpuint(stroke->pen, ==, busy);
                crosses++;
            }
        g_assert_cmpuint(crosses, >, 0);
    }
}

static void test_sheets_too_take_no_corrections_where_none_are_wanted(void)
{
    g_autoptr(DtProfile) p = make_profile();
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    const DtJobTiling any = {0, 0, 12};
    for (int without = 0; without < 2; without++) {
        g_auto(DtJobSheets) s = {0};
        double most = 0;
        p->scale[0] = 1.01;
        o.no_corrections = without;
        write_line(400, 100, 10, 50, 390, 50);
        g_assert_true(dt_job_plan_sheets(p, path, &o, &any, &s, NULL, NULL));
        const DtMoves *m = &s.sheets[0].job.moves;
        for (size_t i = 0; i < m->n; i++)
            if (m->m[i].kind == DT_MOVE_DRAW)
                most = MAX(most, fabs(m->m[i].to.x - m->m[i].ink.x));
        if (without)
            g_assert_cmpfloat(most, <, 1e-6);
        else
            g_assert_cmpfloat(most, >, 1);
    }
}

static void fail_sheets(DtProfile *p, DtJobTiling tiling, const char *words)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtJobSheets) s = {0};
    const DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_assert_false(dt_job_plan_sheets(p, path, &o, &tiling, &s, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (strstr(error->message, words) == NULL)
        g_error("'%s' does not say '%s'", error->message, words);
    g_assert_cmpuint(s.n, ==, 0);
    g_assert_null(s.drawing);
}

static void test_sheets_that_cannot_be_are_refused(void)
{
    g_autoptr(DtProfile) p = make_profile();
    write_line(400, 100, 10, 50, 390, 50);
    fail_sheets(p, (DtJobTiling){2, 0, 12}, "from 1 to 100");
    fail_sheets(p, (DtJobTiling){101, 1, 12}, "from 1 to 100");
    fail_sheets(p, (DtJobTiling){2, 1, 5.9}, "cannot overlap by 5.9 mm");
    fail_sheets(p, (DtJobTiling){2, 1, 64}, "less than half a side");
    fail_sheets(p, (DtJobTiling){2, 1, NAN}, "cannot overlap");
    p->margin = 80;
    fail_sheets(p, (DtJobTiling){2, 1, 12}, "no part of the paper");
    p->margin = 10;
    write_drawing(100, 100, "<rect width='50' height='50' fill='white'/>");
    fail_sheets(p, (DtJobTiling){2, 1, 12}, "nothing in it would put ink");
    write_line(90000, 90000, 10, 10, 89990, 89990);
    fail_sheets(p, (DtJobTiling){0, 0, 12}, "would take more than");
}

/* One way ----------------------------------------------------------------------------------- */

#define LOST 0.4

/* Where the carriage lags by b in one direction of a slant of 45 degrees, the ink lies b / 2 off
 * along the axis, and half of all lines are drawn that way: b / 4 in the mean, less what is drawn
 * while the slack is taken up. Drawn one way none is off. */
static void weigh(int axis)
{
    g_autoptr(DtProfile) p = make_profile();
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.one_way = TRUE;
    o.ink.hatch = DT_HATCH_LINES;
    o.ink.edge = FALSE;
    o.own_angle = TRUE;
    o.ink.angle = G_PI / 4;
    set_lost(&p->backlash[axis], 3, LOST);
    write_drawing(100, 70, "<rect x='10' y='10' width='60' height='40' fill='#1c1c1c'/>");
    g_assert_true(dt_job_plan(p, path, &o, &job, NULL, &error));
    const DtOneWay *w = &job.one_way;
    g_assert_cmpint(w->axis, ==, axis);
    g_assert_cmpfloat(w->lost, ==, LOST);
    g_assert_cmpfloat(w->error_mm[0], >, 0.8 * LOST / 4);
    g_assert_cmpfloat(w->error_mm[0], <, 1.05 * LOST / 4);
    g_assert_cmpfloat(w->error_mm[1], <, 0.02 * LOST);
    g_assert_cmpfloat_with_epsilon(w->time_s[1], job.times.total_s, 1e-9);
    g_assert_cmpfloat(w->time_s[0], <, w->time_s[1]);
    g_assert_cmpuint(p->backlash[axis].n, ==, 3); /* the profile is as it was */
    g_assert_cmpuint(p->backlash[!axis].n, ==, 0);
}

static void test_one_way_along_the_looser_axis_leaves_no_error(void)
{
    weigh(0);
    weigh(1);
}

static void test_without_lost_motion_there_is_nothing_to_gain(void)
{
    g_autoptr(DtProfile) p = make_profile();
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.one_way = TRUE;
    write_drawing(100, 70, "<rect x='10' y='10' width='60' height='40' fill='#1c1c1c'/>");
    g_assert_true(dt_job_plan(p, path, &o, &job, NULL, NULL));
    g_assert_cmpint(job.one_way.axis, ==, 1);
    g_assert_cmpfloat(job.one_way.lost, ==, 0);
    g_assert_cmpfloat(job.one_way.error_mm[0], <, 1e-6);
}

/* A tour is one line for each pen, through every point once; nothing else is joined. */
static void test_a_picture_s_points_become_one_line(void)
{
    static const char picture[] =
        "<image width='60' height='60' href='data:image/png;base64,"
        "iVBORw0KGgoAAAANSUhEUgAAAAIAAAACCAAAAABX3VL4AAAADklEQVR4nGNgSGBY8B8AA8UCAKEFgZcAAAAASUVORK"
        "5CYII='/>"
        "<path d='M70 10L90 10' stroke='#1c1c1c' stroke-width='0.3' fill='none'/>";
    size_t dots = 0;
    for (int tour = 0; tour < 2; tour++) {
        g_autoptr(DtProfile) p = make_profile();
        g_autoptr(GError) error = NULL;
        g_auto(DtJob) job;
        DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
        o.placement.fit = DT_FIT_TRUE_SIZE;
        o.ink.picture = tour ? DT_PICTURE_TOUR : DT_PICTURE_STIPPLE;
        o.own_picture = TRUE;
        o.ink.points = 150;
        o.route.iterations = 100;
        write_drawing(100, 100, picture);
        g_assert_true(dt_job_plan(p, path, &o, &job, NULL, &error));
        g_assert_no_error(error);
        size_t longest = 0, lines = 0;
        double line_mm = 0;
        for (size_t i = 0; i < job.strokes.n; i++) {
            const DtStroke *s = &job.strokes.strokes[i];
            g_assert_cmpint(s->kind, !=, DT_INK_TOUR);
            dots += s->kind == DT_INK_DOT;
            lines += s->kind != DT_INK_DOT;
            longest = MAX(longest, s->n);
            if (s->kind == DT_INK_OUTLINE)
                line_mm += dt_strokes_length(&job.strokes, i);
        }
        g_assert_cmpfloat_with_epsilon(line_mm, 20, 1e-6);
        if (!tour) {
            g_assert_cmpuint(dots, >, 50);
            g_assert_cmpuint(longest, ==, 2);
            continue;
        }
        g_test_message("%zu dots, %zu lines, the longest of %zu points", dots, lines, longest);
        g_assert_cmpuint(lines, <=, 1 + p->rack.n);
        g_assert_cmpuint(longest, >, 50);
        for (size_t i = 0; i < job.strokes.n_pts; i++) /* once each */
            for (size_t k = 0; k < i; k++)
                g_assert_cmpfloat(dt_point_distance(job.strokes.pts[i], job.strokes.pts[k]), >, 0);
        g_assert_cmpuint(job.sequence.n, ==, job.strokes.n);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-job-XXXXXX", NULL);
    path = g_build_filename(folder, "drawing.svg", NULL);
    g_test_add_func("/job/ink", test_ink_of_a_pen_is_the_line_s_length);
    g_test_add_func("/job/bare", test_a_drawing_without_ink_is_refused_with_the_reader_s_notes);
    g_test_add_func("/job/program-only", test_a_program_alone_is_the_same);
    g_test_add_func("/job/tour", test_a_picture_s_points_become_one_line);
    g_test_add_func("/job/sheets/line", test_a_long_line_goes_over_the_sheets_whole);
    g_test_add_func("/job/sheets/grown", test_a_page_grows_to_the_sheets_and_may_turn);
    g_test_add_func("/job/sheets/rows", test_rows_are_counted_from_above);
    g_test_add_func("/job/sheets/crosses", test_crosses_are_of_the_busiest_pen);
    g_test_add_func("/job/sheets/uncorrected",
                    test_sheets_too_take_no_corrections_where_none_are_wanted);
    g_test_add_func("/job/sheets/refused", test_sheets_that_cannot_be_are_refused);
    g_test_add_func("/job/one-way/gain", test_one_way_along_the_looser_axis_leaves_no_error);
    g_test_add_func("/job/one-way/none", test_without_lost_motion_there_is_nothing_to_gain);
    int status = g_test_run();
    g_unlink(path);
    g_rmdir(folder);
    g_free(path);
    return status;
}
