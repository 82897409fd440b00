/* lay: the same ink on a sheet that lies elsewhere and rotated, in spite of backlash and a skew
 * frame. */
#include "drawtrue/job.h"
#include "drawtrue/program.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static DtProfile *skew_profile(void)
{
    static const char ini[] = "[corrections]\nbacklash_x = 0:0.1 300:0.4\nbacklash_y = 0.45 mm\n"
                              "scale_x = 1.008\nscale_y = 0.994\nsquare = 0.4 deg\n";
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(ini, strlen(ini), "test", &error);
    g_assert_no_error(error);
    return p;
}

/* Ink of a program by its own slack-following, one polyline a stroke. */
static void ink_of(const DtProfile *p, const char *path, DtLines *out)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProgram) g = dt_program_open(p, path, &error);
    g_assert_no_error(error);
    DtProgramLine l;
    dt_lines_init(out);
    while (dt_program_next(g, &l, &error)) {
        const DtProgramState *t = dt_program_state(g);
        if (l.kind == DT_LINE_PEN_DOWN)
            dt_lines_begin(out);
        if (t->pen_down)
            dt_lines_point(out, t->tip);
    }
    g_assert_no_error(error);
}

static double distance_to(const DtLines *l, size_t i, DtPoint p)
{
    double least = G_MAXDOUBLE;
    const DtPoint *at = dt_lines_at(l, i);
    for (size_t k = 1; k < dt_lines_count(l, i); k++)
        least = MIN(least, dt_point_segment_distance(p, at[k - 1], at[k]));
    return least;
}

static void make_program(const DtProfile *p, const DtWriteOptions *o, const char *path)
{
    g_auto(DtSequence) s;
    g_auto(DtMoves) moves;
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    for (size_t i = 0; i < 6; i++) { /* axis-parallel lines and arcs, both ways */
        dt_sequence_begin(&s, 0, i);
        for (int k = 0; k <= 20; k++) {
            const double f = i % 2 ? 20 - k : k;
            dt_sequence_point(&s, i < 3 ? dt_point(60 + 2 * f, 70 + 8.0 * i)
                                        : dt_point(90 + 15 * cos(f / 4), 90 + 15 * sin(f / 4)));
        }
    }
    g_autoptr(GError) error = NULL;
    gsize len;
    g_autofree char *text = NULL;
    if (dt_machine_moves(p, &s, &moves, &error))
        text = dt_code_write_as(p, &moves, o, &len, &error);
    g_assert_no_error(error);
    g_assert_true(g_file_set_contents(path, text, len, NULL));
}

/* As a program from elsewhere, which does not say what made it. */
static void remove_head(const char *path)
{
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
    const char *rest = strchr(text, '\n') + 1;
    g_assert_true(g_str_has_prefix(text, "(drawtrue "));
    g_assert_true(g_file_set_contents(path, rest, -1, NULL));
}

typedef struct {
    DtPoint shift; /* of the sheet's lower left corner, mm */
    double turn;
    gboolean is_foreign, is_uncorrected;
    gboolean has_own_paper; /* planned for another sheet than the profile's */
} Case;

/* A machine with errors draws on the sheet what `means` draws with the same program where the profile has the sheet. */
static void lay_by(const Case *c)
{
    g_autoptr(DtProfile) p = skew_profile(), bare = dt_profile_copy(p);
    dt_profile_drop_corrections(bare);
    const DtProfile *means = c->is_foreign || c->is_uncorrected ? bare : p;
    const DtProfile *draws = c->is_uncorrected ? bare : p;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-lay-XXXXXX", NULL);
    g_autofree char *job = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *laid = g_build_filename(folder, "laid.nc", NULL);
    const DtWriteOptions o = {.lacks_corrections = c->is_uncorrected};
    g_autoptr(DtProfile) planned = dt_profile_copy(means);
    if (c->has_own_paper) {
        planned->paper_at = dt_point(40, 60);
        planned->paper_w = 130;
        planned->paper_is_job_s = TRUE;
    }
    make_program(planned, &o, job);
    if (c->is_foreign)
        remove_head(job);
    const DtPoint at = planned->paper_at, corner = dt_point_add(at, c->shift);
    const double w = planned->paper_w;
    const DtPoint other = dt_point_add(corner, dt_point(w * cos(c->turn), w * sin(c->turn)));
    g_autoptr(GError) error = NULL;
    gboolean good = dt_job_lay(p, job, dt_machine_command(p, corner), dt_machine_command(p, other),
                               laid, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_auto(DtLines) before, after;
    ink_of(means, job, &before);
    ink_of(draws, laid, &after);
    const DtAffine m =
        dt_affine_then(dt_affine_then(dt_affine_translate(-at.x, -at.y), dt_affine_rotate(c->turn)),
                       dt_affine_translate(corner.x, corner.y));
    g_assert_cmpuint(before.n, ==, after.n);
    for (size_t i = 0; i < before.n; i++)
        for (size_t k = 0; k < dt_lines_count(&before, i); k++)
            g_assert_cmpfloat(
                distance_to(&after, i, dt_affine_apply(m, dt_lines_at(&before, i)[k])), <, 0.02);
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(laid, &text, NULL, NULL));
    g_assert_cmpint(dt_code_head(text), ==,
                    c->is_uncorrected ? DT_HEAD_UNCORRECTED : DT_HEAD_CORRECTED);
    DtInspection i; /* it states where its sheet is now */
    g_assert_true(dt_code_inspect(p, laid, &i, NULL));
    g_assert_true(i.paper.stated);
    g_assert_cmpfloat(i.paper.w, ==, w);
    g_assert_cmpfloat(dt_point_distance(i.paper.at, corner), <, 0.02);
    g_assert_cmpfloat_with_epsilon(i.paper.turn, c->turn, 1e-3);
    g_assert_cmpfloat_with_epsilon(i.off_paper_mm, 0, 1e-6);
    dt_inspection_clear(&i);
    g_unlink(job);
    g_unlink(laid);
    g_rmdir(folder);
}

static void test_the_ink_lies_as_the_sheet_does(void)
{
    static const Case cases[] = {
        {{0, 0}, 0, FALSE, FALSE, FALSE},        {{4.2, -1.3}, 0.03, FALSE, FALSE, FALSE},
        {{-2, 3}, -0.05, FALSE, FALSE, FALSE},   {{4.2, -1.3}, 0.03, TRUE, FALSE, FALSE},
        {{-2, 3}, -0.05, FALSE, TRUE, FALSE},    {{0, 0}, 0, FALSE, FALSE, TRUE},
        {{4.2, -1.3}, 0.03, FALSE, FALSE, TRUE}, {{-2, 3}, -0.05, FALSE, TRUE, TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        lay_by(&cases[i]);
}

static void test_corners_of_another_sheet_are_refused(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    DtAffine m;
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_job_sheet_at(p, dt_point(10, 10), dt_point(20, 10), &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "the two corners are 10.0 mm apart"));
}

/* Corners may be 2 mm nearer or farther apart than the sheet is wide; the map takes the sheet's own corners there, by
 * the left one and the direction alone. */
static void test_two_corners_place_the_sheet(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const double w = p->paper_w;
    static const struct {
        double off, turn;
        gboolean good;
    } cases[] = {{0, 0, TRUE},      {1.99, 0, TRUE}, {-1.99, 0.1, TRUE}, {2.01, 0, FALSE},
                 {-2.01, 0, FALSE}, {0, -0.2, TRUE}, {0, 1, TRUE},       {50, 0.1, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        DtAffine m;
        const double turn = cases[i].turn, apart = w + cases[i].off;
        const DtPoint left = {12, 34}, right = {12 + apart * cos(turn), 34 + apart * sin(turn)};
        const gboolean good = dt_job_sheet_at(p, left, right, &m, &error);
        g_assert_true(good == cases[i].good);
        if (!good) {
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            continue;
        }
        const DtPoint a = dt_affine_apply(m, p->paper_at);
        const DtPoint b = dt_affine_apply(m, dt_point(p->paper_at.x + w, p->paper_at.y));
        const DtPoint c = dt_affine_apply(m, dt_point(p->paper_at.x, p->paper_at.y + 10));
        g_assert_cmpfloat_with_epsilon(dt_point_distance(a, left), 0, 1e-9);
        g_assert_cmpfloat_with_epsilon(b.x, 12 + w * cos(turn), 1e-9);
        g_assert_cmpfloat_with_epsilon(b.y, 34 + w * sin(turn), 1e-9);
        g_assert_cmpfloat_with_epsilon(c.x, 12 - 10 * sin(turn), 1e-9);
        g_assert_cmpfloat_with_epsilon(c.y, 34 + 10 * cos(turn), 1e-9);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/job/lay/ink", test_the_ink_lies_as_the_sheet_does);
    g_test_add_func("/job/lay/corners", test_corners_of_another_sheet_are_refused);
    g_test_add_func("/lay/corners", test_two_corners_place_the_sheet);
    return g_test_run();
}
