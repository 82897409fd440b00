/* job: a drawing that is to be done within a time. */
#include "drawtrue/job.h"
#include "job/private.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static char *path; /* of the drawing */

#define FIELD "<rect x='5' y='5' width='40' height='25' fill='#777'/>"
#define PHOTO                                                                                      \
    "<image width='30' height='30' href='data:image/png;base64,"                                   \
    "iVBORw0KGgoAAAANSUhEUgAAAAIAAAACCAAAAABX3VL4AAAADklEQVR4nGNgSGBY8B8AA8UCAKEFgZcAAAAASUVORK5"  \
    "CYII='/>"

static gboolean plan(const char *inside, double minutes, DtPicture picture, gboolean own,
                     DtJob *job, GError **error)
{
    g_autofree char *text = g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='50mm' "
                                            "height='35mm' viewBox='0 0 50 35'>%s</svg>\n",
                                            inside);
    g_assert_true(g_file_set_contents(path, text, -1, NULL));
    g_autoptr(DtProfile) p = dt_profile_new();
    for (size_t i = 1; i < p->rack.n; i++) /* one black pen, which hatches greys */
        p->rack.pens[i].colour = p->rack.pens[0].colour;
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.placement.fit = DT_FIT_TRUE_SIZE;
    o.route.iterations = 20;
    o.minutes = minutes;
    o.ink.picture = picture;
    o.ink.points = 400;
    o.own_picture = own;
    return dt_job_plan(p, path, &o, job, NULL, error);
}

static double all_s(const DtJob *job)
{
    return job->times.total_s + job->times.change_s;
}

/* Within the time, and most of it made use of; as it would be where the time is enough. */
static void test_hatches_are_opened_as_far_as_it_takes(void)
{
    g_auto(DtJob) full = {0};
    g_assert_true(plan(FIELD, 0, DT_PICTURE_CROSSED, FALSE, &full, NULL));
    const double full_s = all_s(&full);
    g_assert_cmpfloat(full.budget.asked_s, ==, 0);
    g_assert_cmpfloat(full.budget.spread, ==, 0);
    static const double shares[] = {1.01, 0.9, 0.6, 0.42};
    double spread = 1;
    for (size_t i = 0; i < G_N_ELEMENTS(shares); i++) {
        g_autoptr(GError) error = NULL;
        g_auto(DtJob) job = {0};
        const double minutes = shares[i] * full_s / 60;
        plan(FIELD, minutes, DT_PICTURE_CROSSED, FALSE, &job, &error);
        g_assert_no_error(error);
        g_test_message("%.2f: spread %.2f, %.0f of %.0f s", shares[i], job.budget.spread,
                       all_s(&job), 60 * minutes);
        g_assert_cmpfloat_with_epsilon(job.budget.asked_s, 60 * minutes, 1e-9);
        g_assert_cmpfloat_with_epsilon(job.budget.full_s, full_s, 1e-6);
        g_assert_false(job.budget.picture_changed);
        g_assert_nonnull(job.drawing);
        g_assert_cmpuint(job.moves.n, >, 0);
        if (shares[i] > 1) {
            g_assert_cmpfloat(job.budget.spread, ==, 1);
            g_assert_cmpfloat_with_epsilon(all_s(&job), full_s, 1e-6);
            continue;
        }
        g_assert_cmpfloat(all_s(&job), <=, 60 * minutes);
        g_assert_cmpfloat(all_s(&job), >, 0.9 * 60 * minutes);
        g_assert_cmpfloat(job.budget.spread, >, spread);
        g_assert_cmpfloat(job.budget.spread, <=, 6);
        spread = job.budget.spread;
    }
}

/* Hatches six times as open show little enough. */
static void test_too_little_time_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job = {0};
    g_assert_false(plan(FIELD, 0.1, DT_PICTURE_CROSSED, FALSE, &job, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "it cannot be drawn in 6.0 s"));
    g_assert_nonnull(strstr(error->message, "6 times as open it takes"));
    g_assert_null(job.drawing);
    g_assert_null(job.moves.m);
}

/* A photograph in dots is hatched where that saves the time; not where its way was chosen by hand, nor where the time
 * is enough. */
static void test_photographs_take_a_faster_way(void)
{
    g_auto(DtJob) dots = {0}, lines = {0};
    g_assert_true(plan(PHOTO, 0, DT_PICTURE_STIPPLE, FALSE, &dots, NULL));
    g_assert_true(plan(PHOTO, 0, DT_PICTURE_HATCH, FALSE, &lines, NULL));
    const double dots_s = all_s(&dots), lines_s = all_s(&lines);
    g_test_message("dots %.0f s, lines %.0f s", dots_s, lines_s);
    g_assert_cmpfloat(lines_s, <, dots_s);
    static const struct {
        gboolean own, within, changed;
    } cases[] = {{FALSE, FALSE, TRUE}, {FALSE, TRUE, FALSE}, {TRUE, TRUE, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_auto(DtJob) job = {0};
        const double seconds = cases[i].within ? 1.05 * dots_s : 0.5 * (dots_s + lines_s);
        plan(PHOTO, seconds / 60, DT_PICTURE_STIPPLE, cases[i].own, &job, &error);
        g_assert_no_error(error);
        g_assert_cmpint(job.budget.picture_changed, ==, cases[i].changed);
        g_assert_cmpfloat_with_epsilon(job.budget.full_s, dots_s, 1e-6);
        g_assert_cmpfloat(all_s(&job), <=, seconds);
        g_assert_cmpfloat(job.budget.spread, ==, 1);
        if (cases[i].changed) {
            g_assert_cmpint(job.budget.picture, ==, DT_PICTURE_HATCH);
            g_assert_cmpfloat_with_epsilon(all_s(&job), lines_s, 1e-6);
        }
    }
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job = {0};
    if (plan(PHOTO, (dots_s + lines_s) / 120, DT_PICTURE_STIPPLE, TRUE, &job, &error))
        g_assert_false(job.budget.picture_changed);
    else
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static double seconds_of(const DtProfile *p, DtPoint from, double length, int n)
{
    g_auto(DtLines) l;
    dt_lines_init(&l);
    for (int i = 0; i < n; i++) {
        const DtPoint line[] = {dt_point(from.x, from.y + i),
                                dt_point(from.x + length, from.y + i)};
        dt_lines_append(&l, line, 2, FALSE);
    }
    return dt_job_fill_seconds(&l, 0, (void *)p);
}

/* From the pen's way down to its way up: longer lines take their length at the speed of X more, wherever they lie, and
 * two lines take more than one. What travel there is before does not count. */
static void test_what_a_field_takes(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const DtPoint near = {30, 30};
    const double feed = p->speed[0];
    const double one = seconds_of(p, near, 40, 1), longer = seconds_of(p, near, 90, 1);
    g_assert_cmpfloat_with_epsilon(longer - one, 50 / feed, 0.02);
    g_assert_cmpfloat(one, >, 40 / feed);
    g_assert_cmpfloat(one, <, 40 / feed + 4);
    const DtPoint elsewhere[] = {
        {120, 100}, {1000, 30}, {-500, -700}}; /* on the bed, and on a larger sheet */
    for (size_t i = 0; i < G_N_ELEMENTS(elsewhere); i++)
        g_assert_cmpfloat_with_epsilon(seconds_of(p, elsewhere[i], 40, 1), one, 0.15);
    const double two = seconds_of(p, near, 40, 2);
    g_assert_cmpfloat(two, >, one + 40 / feed);
    g_assert_cmpfloat(two, <, 2.5 * one);
    g_assert_cmpfloat(seconds_of(p, near, 40, 0), ==, G_MAXDOUBLE);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-budget-XXXXXX", NULL);
    path = g_build_filename(folder, "drawing.svg", NULL);
    g_test_add_func("/budget/hatches", test_hatches_are_opened_as_far_as_it_takes);
    g_test_add_func("/budget/refused", test_too_little_time_is_refused);
    g_test_add_func("/budget/photographs", test_photographs_take_a_faster_way);
    g_test_add_func("/budget/field", test_what_a_field_takes);
    const int status = g_test_run();
    g_unlink(path);
    g_rmdir(folder);
    g_free(path);
    return status;
}
