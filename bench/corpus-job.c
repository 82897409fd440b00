/* corpus-job: real drawings that nobody here drew, each through plan and the virtual machine.
 * Usage: corpus-job [N] [DIR] [--keep FOLDER] [--json FILE]
 * N drawings (40 by default) evenly spaced over the sorted .svg files of DIR, or over those of the
 * Debian package openclipart-svg. Every drawing runs in a process of its own with a time limit; it
 * must end with a complete drawing or with a clear refusal. Exit code 0 when all do. */
#include "drive.h"
#include "drawtrue/json.h"
#include "support/files.h"
#include "support/verdict.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROFILE "examples/workshop.ini"
#define RIG "bench/rig.ini"
#define LIMIT_S 300  /* for one drawing */
#define PX_PER_MM 20 /* of the coverage */
#define KICKS 1000   /* the best order is not what is judged here */
#define MOST_WORKERS 8

typedef enum { COMPLETE, REFUSED, INCOMPLETE, FAILED, CRASHED, TOO_LONG, N_OUTCOMES } Outcome;

static const char *const outcome_words[N_OUTCOMES] = {
    [COMPLETE] = "complete", [REFUSED] = "refused", [INCOMPLETE] = "INCOMPLETE",
    [FAILED] = "RUN FAILED", [CRASHED] = "CRASHED", [TOO_LONG] = "TOO LONG",
};

typedef struct {
    Outcome outcome;
    char text[400]; /* why it was refused or failed */
    Verdict verdict;
} Result;

/* One drawing ---------------------------------------------------------------------------------- */

static void note(Result *r, Outcome outcome, const char *text)
{
    r->outcome = outcome;
    g_strlcpy(r->text, text, sizeof r->text);
    for (char *c = r->text; *c; c++)
        if (*c == '\n')
            *c = ' ';
}

static void try_drawing(const char *svg, const char *folder, Result *r)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    g_auto(DtJob) job = {0};
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    DtJobOptions options = DT_JOB_OPTIONS_DEFAULT;
    options.ink.solid = TRUE; /* the area covered is held against what is painted */
    options.route.iterations = KICKS;
    if (!p || !dt_job_plan(p, svg, &options, &job, NULL, &error) ||
        !dt_job_write_program(p, NULL, &job.moves, program, NULL, &error)) {
        note(r, error->code == DT_ERROR_INPUT ? REFUSED : FAILED, error->message);
        return;
    }
    DtRigFigures figures;
    if (!drive_rig(p, program, RIG, folder, &figures, &error)) {
        note(r, FAILED, error->message);
        r->verdict.rig = figures;
        return;
    }
    g_autofree char *ink = g_build_filename(folder, "ink.json", NULL);
    g_autofree char *picture = g_build_filename(folder, "coverage.png", NULL);
    g_auto(WitnessInk) landed = {0};
    if (!verdict_read_ink(ink, &p->rack, &job.sequence, &landed, &error)) {
        note(r, FAILED, error->message);
        return;
    }
    verdict_of(&job, &landed, &figures, &r->verdict);
    r->outcome = verdict_is_complete(&r->verdict) ? COMPLETE : INCOMPLETE;
    if (!verdict_cover(p, &job, svg, &landed, PX_PER_MM, picture, &r->verdict, &error))
        g_strlcpy(r->text, "librsvg cannot paint it on this sheet", sizeof r->text);
}

/* Workers -------------------------------------------------------------------------------------- */

typedef struct {
    pid_t pid; /* 0: free; leads a process group, so that its rig ends with it */
    int fd;
    size_t drawing;
    gint64 deadline_us;
} Worker;

static gboolean start_worker(Worker *w, size_t drawing, const char *svg, const char *keep)
{
    g_autofree char *number = g_strdup_printf("%04zu", drawing);
    g_autofree char *folder = g_build_filename(keep, number, NULL);
    int ends[2];
    if (g_mkdir_with_parents(folder, 0777) != 0 || pipe(ends) != 0)
        return FALSE;
    const pid_t pid = fork();
    if (pid == 0) {
        setpgid(0, 0);
        close(ends[0]);
        Result r = {0};
        try_drawing(svg, folder, &r);
        _exit(write(ends[1], &r, sizeof r) == sizeof r ? 0 : 1);
    }
    close(ends[1]);
    *w = (Worker){pid, ends[0], drawing, g_get_monotonic_time() + LIMIT_S * G_USEC_PER_SEC};
    return pid > 0;
}

static void finish_worker(Worker *w, Result *r)
{
    if (read(w->fd, r, sizeof *r) != sizeof *r) {
        *r = (Result){0};
        note(r, CRASHED, "its process died");
    }
    kill(-w->pid, SIGKILL);
    waitpid(w->pid, NULL, 0);
    close(w->fd);
    w->pid = 0;
}

static void end_worker(Worker *w, Result *r)
{
    kill(-w->pid, SIGKILL);
    waitpid(w->pid, NULL, 0);
    close(w->fd);
    w->pid = 0;
    *r = (Result){0};
    note(r, TOO_LONG, "it was not done within the time limit");
}

/* Waits until some worker is done; marks its drawing. */
static void wait_for_one(Worker *workers, int n, Result *results, gboolean *done)
{
    struct pollfd fds[MOST_WORKERS];
    for (int i = 0; i < n; i++)
        fds[i] = (struct pollfd){.fd = workers[i].pid ? workers[i].fd : -1, .events = POLLIN};
    if (poll(fds, (nfds_t)n, 1000) < 0 && errno != EINTR)
        return;
    for (int i = 0; i < n; i++) {
        Worker *w = &workers[i];
        if (!w->pid)
            continue;
        const size_t d = w->drawing;
        if (fds[i].revents)
            finish_worker(w, &results[d]);
        else if (g_get_monotonic_time() > w->deadline_us)
            end_worker(w, &results[d]);
        else
            continue;
        done[d] = TRUE;
    }
}

/* Table ---------------------------------------------------------------------------------------- */

static void print_head(void)
{
    printf("%-34s %-10s %8s %8s %6s %7s %7s %8s %7s %6s\n", "drawing", "outcome", "ink m", "time s",
           "est %", "p95 mm", "max mm", "missing", "stray", "IoU");
}

static double time_error(const Verdict *v)
{
    return v->rig.time_s > 0 ? v->time_estimated_s / v->rig.time_s - 1 : 0;
}

static void print_row(const char *svg, const Result *r)
{
    g_autofree char *name = g_path_get_basename(svg);
    const Verdict *v = &r->verdict;
    printf("%-34.34s %-10s", name, outcome_words[r->outcome]);
    if (r->outcome == COMPLETE || r->outcome == INCOMPLETE)
        printf(" %8.2f %8.0f %+6.1f %7.3f %7.3f %8.1f %7.1f", v->error.planned / 1000,
               v->rig.time_s, 100 * time_error(v), v->error.p95, v->error.max, v->error.missing,
               v->error.stray);
    if (isfinite(v->coverage.iou))
        printf(" %6.3f", v->coverage.iou);
    if (v->error.max > 0.12) /* a drawing's bar */
        printf("  at %.2f, %.2f", v->error.worst.x, v->error.worst.y);
    if (r->outcome == INCOMPLETE)
        printf("  refused %u, end stop %u, lost %u bytes%s", v->rig.lines_refused,
               v->rig.endstop_hits, v->rig.bytes_lost,
               v->ends_at_origin_pen_up ? "" : ", not at origin");
    printf("%s%s\n", *r->text ? " " : "", r->text);
    fflush(stdout);
}

/* Summary -------------------------------------------------------------------------------------- */

typedef struct {
    size_t outcomes[N_OUTCOMES], drawn;
    double p95_median, p95_worst, max_worst, missing, stray, time_error_worst, iou_median,
        iou_least;
    unsigned lines_refused, endstop_hits, bytes_lost;
    size_t ended_away;
} Summary;

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(double *v, size_t n)
{
    qsort(v, n, sizeof *v, by_size);
    return n == 0 ? 0 : n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}

static void summarise(const Result *results, size_t n, Summary *s)
{
    *s = (Summary){.iou_least = 1};
    g_autofree double *p95 = g_new(double, n);
    g_autofree double *iou = g_new(double, n);
    size_t n_iou = 0;
    for (size_t i = 0; i < n; i++) {
        const Verdict *v = &results[i].verdict;
        s->outcomes[results[i].outcome]++;
        s->lines_refused += v->rig.lines_refused;
        s->endstop_hits += v->rig.endstop_hits;
        s->bytes_lost += v->rig.bytes_lost;
        if (results[i].outcome != COMPLETE && results[i].outcome != INCOMPLETE)
            continue;
        p95[s->drawn++] = v->error.p95;
        if (isfinite(v->coverage.iou)) {
            iou[n_iou++] = v->coverage.iou;
            s->iou_least = MIN(s->iou_least, v->coverage.iou);
        }
        s->p95_worst = MAX(s->p95_worst, v->error.p95);
        s->max_worst = MAX(s->max_worst, v->error.max);
        s->missing += v->error.missing;
        s->stray += v->error.stray;
        s->time_error_worst = MAX(s->time_error_worst, ABS(time_error(v)));
        s->ended_away += !v->ends_at_origin_pen_up;
    }
    s->p95_median = median(p95, s->drawn);
    s->iou_median = median(iou, n_iou);
}

static void print_summary(const Summary *s, size_t n)
{
    printf("\n%zu drawings:", n);
    for (int i = 0; i < N_OUTCOMES; i++)
        printf(" %zu %s%s", s->outcomes[i], outcome_words[i], i + 1 < N_OUTCOMES ? "," : "\n");
    printf("  ink error p95: median %.3f mm, worst %.3f mm; max %.3f mm\n", s->p95_median,
           s->p95_worst, s->max_worst);
    printf(
        "  missing ink %.1f mm, stray ink %.1f mm; lines refused %u, end-stop hits %u, bytes lost "
        "%u, not back at the origin %zu\n",
        s->missing, s->stray, s->lines_refused, s->endstop_hits, s->bytes_lost, s->ended_away);
    printf("  estimated time off by at most %.1f %%; coverage IoU: median %.3f, least %.3f\n",
           100 * s->time_error_worst, s->iou_median, s->iou_least);
}

static void add_drawing(JsonBuilder *b, const char *svg, const Result *r)
{
    const Verdict *v = &r->verdict;
    json_builder_begin_object(b);
    dt_json_text(b, "drawing", svg);
    dt_json_text(b, "outcome", outcome_words[r->outcome]);
    dt_json_text(b, "text", r->text);
    dt_json_number(b, "ink_error_p95_mm", v->error.p95);
    dt_json_number(b, "ink_error_max_mm", v->error.max);
    dt_json_number(b, "missing_ink_mm", v->error.missing);
    dt_json_number(b, "stray_ink_mm", v->error.stray);
    dt_json_count(b, "lines_refused", v->rig.lines_refused);
    dt_json_count(b, "endstop_hits", v->rig.endstop_hits);
    dt_json_count(b, "bytes_lost", v->rig.bytes_lost);
    dt_json_number(b, "time_estimated_s", v->time_estimated_s);
    dt_json_number(b, "time_s", v->rig.time_s);
    if (isfinite(v->coverage.iou))
        dt_json_number(b, "coverage_iou", v->coverage.iou);
    json_builder_end_object(b);
}

static gboolean write_json(const char *path, const GPtrArray *drawings, const Result *results,
                           const Summary *s, GError **error)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_count(b, "drawings_tried", drawings->len);
    for (int i = 0; i < N_OUTCOMES; i++) {
        g_autofree char *name = g_ascii_strdown(outcome_words[i], -1);
        dt_json_count(b, g_strdelimit(name, " ", '_'), s->outcomes[i]);
    }
    dt_json_begin_array(b, "drawings");
    for (guint i = 0; i < drawings->len; i++)
        add_drawing(b, drawings->pdata[i], &results[i]);
    json_builder_end_array(b);
    g_autofree char *text = dt_json_end(b);
    return dt_base_write_file(path, text, strlen(text), error);
}

/* Everything ----------------------------------------------------------------------------------- */

static void try_all(const GPtrArray *drawings, const char *keep, Result *results)
{
    Worker workers[MOST_WORKERS] = {0};
    const int n = (int)CLAMP(sysconf(_SC_NPROCESSORS_ONLN), 1, MOST_WORKERS);
    g_autofree gboolean *done = g_new0(gboolean, drawings->len + 1);
    size_t next = 0, printed = 0;
    print_head();
    while (printed < drawings->len) {
        for (int i = 0; i < n && next < drawings->len; i++)
            if (!workers[i].pid) {
                if (!start_worker(&workers[i], next, drawings->pdata[next], keep)) {
                    note(&results[next], FAILED, g_strerror(errno));
                    done[next] = TRUE;
                }
                next++;
            }
        wait_for_one(workers, n, results, done);
        for (; printed < drawings->len && done[printed]; printed++)
            print_row(drawings->pdata[printed], &results[printed]);
    }
}

int main(int argc, char **argv)
{
    g_autofree char *keep = NULL, *json = NULL;
    const GOptionEntry entries[] = {
        {"keep", 0, 0, G_OPTION_ARG_FILENAME, &keep, "Where programs and ink are kept", "FOLDER"},
        {"json", 0, 0, G_OPTION_ARG_FILENAME, &json, "Write the figures as JSON", "FILE"},
        G_OPTION_ENTRY_NULL,
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("[N] [DIR]");
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error)) {
        g_printerr("corpus: %s\n", error->message);
        return DT_ERROR_USAGE;
    }
    g_autoptr(GPtrArray) drawings = files_for_corpus(argc, argv, 40, &error);
    if (!drawings) {
        g_printerr("corpus: %s\n", error->message);
        return error->code;
    }
    if (!keep)
        keep = g_strdup("build/corpus");
    g_autofree Result *results = g_new0(Result, drawings->len + 1);
    try_all(drawings, keep, results);
    Summary s;
    summarise(results, drawings->len, &s);
    print_summary(&s, drawings->len);
    if (json && !write_json(json, drawings, results, &s, &error)) {
        g_printerr("corpus: %s\n", error->message);
        return error->code;
    }
    return s.outcomes[COMPLETE] + s.outcomes[REFUSED] == drawings->len ? 0 : 1;
}
