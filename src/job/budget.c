/* budget: keeps a plan within a time limit. First photographs are drawn in a faster way, then
 * all hatches are opened as far as necessary. */
#include "job/private.h"

/* Hatches are opened by this factor at most; beyond it what was drawn would not be recognisable. */
#define MOST_SPREAD 6.0
/* A plan within the limit that uses this share of it is good enough; so are two factors this
 * close. */
#define ENOUGH 0.96
#define NEAR_ENOUGH 1.03
enum { TRIES = 8 };

static double all_s(const DtJob *job)
{
    return job->times.total_s + job->times.change_s;
}

/* A job without drawing, filled in by an attempt. */
static DtJob bare_copy(const DtJob *job)
{
    DtJob copy;
    dt_job_init(&copy);
    copy.drawing = job->drawing;
    copy.placed = job->placed;
    copy.budget = job->budget;
    return copy;
}

static void clear_copy(DtJob *copy)
{
    copy->drawing = NULL; /* owned by the job */
    dt_job_clear(copy);
}

static void swap_jobs(DtJob *a, DtJob *b)
{
    const DtJob other = *a;
    *a = *b;
    *b = other;
}

static gboolean has_pictures(const DtDrawing *d)
{
    for (size_t i = 0; i < d->n_shapes; i++) {
        const DtPaint *fill = &d->shapes[i].fill;
        if (fill->kind == DT_PAINT_TONE && fill->tone && dt_art_tone_is_picture(fill->tone))
            return TRUE;
    }
    return FALSE;
}

/* The next factor to try between one that takes too long and one that does not (0: none is
 * known), assuming a time of a + b / factor through both. */
static double next_spread(double slow, double slow_s, double quick, double quick_s, double asked_s)
{
    if (quick <= 0)
        return MIN(MOST_SPREAD, slow * CLAMP(1.1 * slow_s / asked_s, 1.25, 3));
    const double b = (slow_s - quick_s) / (1 / slow - 1 / quick), a = slow_s - b / slow;
    const double aim = 0.985 * asked_s, at = aim > a ? b / (aim - a) : quick;
    const double margin = (quick - slow) / 10;
    return CLAMP(at, slow + margin, quick - margin);
}

static gboolean refuse(const DtJob *job, double asked_s, double full_s, GError **error)
{
    g_autofree char *asked = dt_base_duration(asked_s), *full = dt_base_duration(full_s);
    g_autofree char *least = dt_base_duration(all_s(job));
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "it cannot be drawn in %s: with all hatches %g times as open it takes %s (%s in "
                "full); give "
                "it more time, draw it smaller, or take '--outlines'",
                asked, MOST_SPREAD, least, full);
    return FALSE;
}

/* One attempt, which replaces the job if it is within the limit. */
static gboolean try_spread(const DtProfile *p, const DtJobOptions *o, DtJob *job, double *seconds,
                           GError **error)
{
    DtJob attempt = bare_copy(job);
    const double asked_s = job->budget.asked_s;
    gboolean good = dt_job_draw(p, o, &attempt, error);
    if (good) {
        *seconds = all_s(&attempt);
        attempt.budget.spread = o->ink.spread;
        if (*seconds <= asked_s)
            swap_jobs(job, &attempt);
        else if (o->ink.spread >= MOST_SPREAD)
            good = refuse(&attempt, asked_s, job->budget.full_s, error);
    }
    clear_copy(&attempt);
    return good;
}

/* Opens the hatches until the plan fits; the best plan that does is left in the job. */
static gboolean open_hatches(const DtProfile *p, DtJobOptions *o, DtJob *job, GError **error)
{
    const double asked_s = job->budget.asked_s;
    double slow = 1, slow_s = all_s(job), quick = 0, quick_s = 0;
    for (int k = 0; k < TRIES; k++) {
        if (quick > 0 && (quick_s > ENOUGH * asked_s || quick < NEAR_ENOUGH * slow))
            break;
        double seconds;
        o->ink.spread = next_spread(slow, slow_s, quick, quick_s, asked_s);
        if (!try_spread(p, o, job, &seconds, error))
            return FALSE;
        if (seconds <= asked_s) {
            quick = o->ink.spread;
            quick_s = seconds;
        } else {
            slow = o->ink.spread;
            slow_s = seconds;
        }
    }
    return TRUE;
}

gboolean dt_job_fit_budget(const DtProfile *p, const DtJobOptions *options, DtJob *job,
                           GError **error)
{
    DtJobOptions o = *options;
    job->budget = (DtBudget){.asked_s = 60 * o.minutes, .full_s = all_s(job), .spread = 1};
    if (all_s(job) > job->budget.asked_s && !o.own_picture && o.ink.picture != DT_PICTURE_HATCH &&
        !o.ink.solid && has_pictures(job->drawing)) {
        o.ink.picture = job->budget.picture = DT_PICTURE_HATCH;
        job->budget.picture_changed = TRUE;
        DtJob other = bare_copy(job);
        const gboolean good = dt_job_draw(p, &o, &other, error);
        if (good)
            swap_jobs(job, &other);
        clear_copy(&other);
        if (!good)
            return FALSE;
    }
    return all_s(job) <= job->budget.asked_s || open_hatches(p, &o, job, error);
}
