/* A planned job for the tests of report. */
#include "job.h"

void job_make(const DtProfile *p, const char *path, DtJob *job)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='80mm' height='60mm' viewBox='0 0 80 60'>"
        "<path d='M5 5h60M5 15h50' stroke='#000' stroke-width='.3'/>"
        "<path d='M5 30h40' stroke='#c8202c' stroke-width='.3'/></svg>";
    g_autoptr(GError) error = NULL;
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.placement.fit = DT_FIT_TRUE_SIZE;
    g_assert_true(g_file_set_contents(path, svg, -1, NULL));
    g_assert_true(dt_job_plan(p, path, &o, job, NULL, &error));
    g_assert_no_error(error);
    job->times.total_s = 754;
    job->times.ink_s = 101;
    job->times.travel_s = 207;
    job->times.slack_s = 4;
    job->times.lift_s = 63;
    job->times.home_s = 37;
    job->times.ink_mm = 1510;
    job->times.travel_mm = 2260;
    job->times.lifts = 9;
    job->times.changes = 1;
}
