/* bench-cancel: how soon a plan ends when it is cancelled, and whether it leaves anything behind:
 *     ./dev bench --cancel [--moments N] [--slowest N] [--where MS] [DRAWING...]
 * Takes the named drawings, or the slowest of generated dense ones and of openclipart-svg. Each is
 * planned and written once, cancelled at random moments, and planned again: the program must be the
 * same. Exit code 0 where every cancel came back within 100 ms of processor time, which a busy computer
 * does not change, and nothing was left; the time by the wall clock is printed beside it. */
#include "drawtrue/job.h"
#include "support/files.h"
#include "support/folder.h"

#include <execinfo.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define PROFILE "examples/workshop.ini"
#define LIMIT_MS 100.0

static gint moments = 50, n_slowest = 10;
static double where_ms; /* 0: no stacks */

/* One plan ------------------------------------------------------------------------------------- */

typedef struct {
    const DtProfile *profile;
    const char *drawing, *program;
    DtWork *work;
    GError *error;
    gboolean good;
    double ended_s, ended_cpu_s; /* by the wall clock; processor time of the planning thread */
    pthread_t thread;
    GMutex lock;
    GCond ended;
    gboolean has_ended;
} Plan;

static double now_s(void)
{
    return (double)g_get_monotonic_time() / 1e6;
}

/* Processor time of a thread: what a cancel takes on a computer that has nothing else to do. */
static double cpu_s(clockid_t clock)
{
    struct timespec t = {0};
    clock_gettime(clock, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

static gpointer plan(gpointer data)
{
    Plan *p = data;
    g_auto(DtJob) job = {0};
    p->good =
        dt_job_plan(p->profile, p->drawing, &DT_JOB_OPTIONS_DEFAULT, &job, p->work, &p->error) &&
        dt_job_write_program(p->profile, NULL, &job.moves, p->program, p->work, &p->error);
    dt_job_clear(&job);
    g_mutex_lock(&p->lock);
    p->ended_s = now_s();
    p->ended_cpu_s = cpu_s(CLOCK_THREAD_CPUTIME_ID);
    p->has_ended = TRUE;
    g_cond_signal(&p->ended);
    g_mutex_unlock(&p->lock);
    return NULL;
}

static gboolean wait_for(Plan *p, double s)
{
    const gint64 until = g_get_monotonic_time() + (gint64)(s * 1e6);
    g_mutex_lock(&p->lock);
    while (!p->has_ended && g_cond_wait_until(&p->ended, &p->lock, until))
        ;
    const gboolean has_ended = p->has_ended;
    g_mutex_unlock(&p->lock);
    return has_ended;
}

static void show_stack(int signal_number)
{
    (void)signal_number;
    void *at[40];
    backtrace_symbols_fd(at, backtrace(at, G_N_ELEMENTS(at)), STDERR_FILENO);
    (void)!write(STDERR_FILENO, "\n", 1);
}

typedef struct {
    gboolean finished; /* the plan was done before it was cancelled */
    double late_ms;    /* from the cancel to the end, by the wall clock */
    double busy_ms;    /* the same in processor time of the planning thread */
    DtWorkState at;
    GError *error;
} Outcome;

/* Plans in a thread of its own, and cancels it after a time; below 0: never. */
static Outcome plan_and_cancel(const DtProfile *profile, const char *drawing, const char *program,
                               double after_s)
{
    Plan p = {.profile = profile, .drawing = drawing, .program = program};
    Outcome o = {0};
    g_mutex_init(&p.lock);
    g_cond_init(&p.ended);
    p.work = dt_work_new(NULL, NULL);
    pthread_create(&p.thread, NULL, plan, &p);
    if (after_s >= 0 && !wait_for(&p, after_s)) {
        clockid_t clock = CLOCK_REALTIME;
        pthread_getcpuclockid(p.thread, &clock);
        const double cancelled_s = now_s(), cancelled_cpu_s = cpu_s(clock);
        o.at = dt_work_state(p.work);
        dt_work_cancel(p.work);
        if (where_ms > 0 && !wait_for(&p, where_ms / 1000)) {
            fprintf(stderr, "%s at %s %.2f:\n", drawing, dt_stage_word(o.at.stage), o.at.done);
            pthread_kill(p.thread, SIGUSR1);
        }
        pthread_join(p.thread, NULL);
        o.late_ms = 1000 * MAX(p.ended_s - cancelled_s, 0);
        o.busy_ms = 1000 * MAX(p.ended_cpu_s - cancelled_cpu_s, 0);
    } else {
        pthread_join(p.thread, NULL);
    }
    o.finished = p.good;
    o.error = p.error;
    dt_work_unref(p.work);
    g_mutex_clear(&p.lock);
    g_cond_clear(&p.ended);
    return o;
}

/* One drawing ---------------------------------------------------------------------------------- */

typedef struct {
    char *path;
    double took_s;
} Drawing;

static char *digest(const char *path)
{
    g_autofree char *text = NULL;
    gsize len = 0;
    if (!g_file_get_contents(path, &text, &len, NULL))
        return NULL;
    return g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)text, len);
}

static unsigned count_files(const char *folder)
{
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    unsigned n = 0;
    while (dir && g_dir_read_name(dir))
        n++;
    return n;
}

/* Returns what went wrong, 0 for nothing. */
static unsigned try_drawing(const DtProfile *p, const Drawing *d, const char *folder, GRand *random)
{
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    unsigned wrong = 0, done_before = 0, late = 0;
    double worst_ms = 0, worst_busy_ms = 0, sum_ms = 0;
    DtWorkState worst_at = {0};
    Outcome first = plan_and_cancel(p, d->path, program, -1);
    g_autofree char *expected = digest(program);
    g_clear_error(&first.error);
    g_unlink(program);
    for (int i = 0; i < moments; i++) {
        Outcome o = plan_and_cancel(p, d->path, program, g_rand_double_range(random, 0, d->took_s));
        if (o.finished || !g_error_matches(o.error, G_IO_ERROR, G_IO_ERROR_CANCELLED)) {
            done_before++;
            wrong += !o.finished && expected != NULL;
        } else if (count_files(folder) > 0) {
            printf("  a file was left\n");
            wrong++;
        }
        late += o.busy_ms > LIMIT_MS;
        sum_ms += o.late_ms;
        worst_busy_ms = MAX(worst_busy_ms, o.busy_ms);
        if (o.late_ms > worst_ms) {
            worst_ms = o.late_ms;
            worst_at = o.at;
        }
        g_clear_error(&o.error);
        g_unlink(program);
    }
    Outcome last = plan_and_cancel(p, d->path, program, -1);
    g_autofree char *again = digest(program);
    g_clear_error(&last.error);
    g_unlink(program);
    const gboolean same = g_strcmp0(expected, again) == 0;
    g_autofree char *name = g_path_get_basename(d->path);
    printf("%-32.32s %7.2f s %7.1f ms %7.1f ms %7.1f ms  %-6s %3.0f %%  %3u  %s\n", name, d->took_s,
           sum_ms / moments, worst_ms, worst_busy_ms, dt_stage_word(worst_at.stage),
           100 * worst_at.done, done_before, same ? "same" : "NOT THE SAME");
    fflush(stdout);
    return wrong + late + !same;
}

/* Drawings ------------------------------------------------------------------------------------- */

static double noise(GRand *r, double size)
{
    return g_rand_double_range(r, 0, size);
}

/* Drawings that keep one stage each busy. */
static void write_dense(const char *folder, GPtrArray *paths)
{
    static const char *const names[] = {"dots",   "long-lines", "translucent", "rings",
                                        "styled", "curves",     "tones"};
    g_autoptr(GRand) r = g_rand_new_with_seed(12);
    for (size_t k = 0; k < G_N_ELEMENTS(names); k++) {
        g_autoptr(GString) s =
            g_string_new("<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='140mm' "
                         "viewBox='0 0 200 140'><defs><linearGradient id='g'><stop offset='0'/>"
                         "<stop offset='1' stop-color='#fff'/></linearGradient></defs>");
        if (k == 4) {
            g_string_append(s, "<style>");
            for (int i = 0; i < 500; i++)
                g_string_append_printf(s, "g g .c%d ~ rect{stroke-width:.3}", i);
            g_string_append(s, "</style><g><g>");
        }
        for (int i = 0; i < 60000; i++) {
            double x = noise(r, 190), y = noise(r, 130);
            if (k == 0)
                g_string_append_printf(s, "<circle cx='%.2f' cy='%.2f' r='.3'/>", x, y);
            else if (k == 1 && i < 3000)
                g_string_append_printf(s,
                                       "<path fill='none' stroke='#000' d='M%.2f %.2fL%.2f %.2f'/>",
                                       x, y, noise(r, 190), noise(r, 130));
            else if (k == 2 && i < 700)
                g_string_append_printf(s,
                                       "<circle cx='%.2f' cy='%.2f' r='9' fill='#%03x' "
                                       "opacity='.3'/>",
                                       x, y, (unsigned)(i * 37 % 4096));
            else if (k == 3 && i < 20000)
                g_string_append_printf(s,
                                       "<circle fill='none' stroke='#000' stroke-width='.1' "
                                       "cx='%.2f' cy='%.2f' r='%.2f'/>",
                                       x, y, 1 + noise(r, 4));
            else if (k == 4 && i < 3000)
                g_string_append_printf(s,
                                       "<rect class='c%d' x='%.2f' y='%.2f' width='1' "
                                       "height='1'/>",
                                       i % 500, x, y);
            else if (k == 5 && i < 20000)
                g_string_append_printf(
                    s, "<path fill='none' stroke='#000' d='M%.2f %.2fc9 9 -9 9 5 -5'/>", x, y);
            else if (k == 6 && i < 300)
                g_string_append_printf(
                    s, "<rect fill='url(#g)' x='%.2f' y='%.2f' width='60' height='40'/>", x, y);
        }
        g_string_append(s, k == 4 ? "</g></g></svg>" : "</svg>");
        char *path = g_strdup_printf("%s/dense-%s.svg", folder, names[k]);
        g_file_set_contents(path, s->str, (gssize)s->len, NULL);
        g_ptr_array_add(paths, path);
    }
}

static int slower(const void *a, const void *b)
{
    const Drawing *p = a, *q = b;
    return (p->took_s < q->took_s) - (p->took_s > q->took_s);
}

static GArray *time_all(const DtProfile *p, const GPtrArray *paths, const char *folder)
{
    GArray *drawings = g_array_new(FALSE, FALSE, sizeof(Drawing));
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    for (guint i = 0; i < paths->len; i++) {
        const double began = now_s();
        g_autofree char *name = g_path_get_basename(paths->pdata[i]);
        fprintf(stderr, "\rtiming %u of %u: %-40.40s", i + 1, paths->len, name);
        Outcome o = plan_and_cancel(p, paths->pdata[i], program, -1);
        Drawing d = {paths->pdata[i], now_s() - began};
        if (o.finished)
            g_array_append_val(drawings, d);
        g_clear_error(&o.error);
        g_unlink(program);
    }
    fprintf(stderr, "\n");
    g_array_sort(drawings, slower);
    return drawings;
}

static GPtrArray *find_drawings(int argc, char **argv, const char *folder, GError **error)
{
    GPtrArray *paths = g_ptr_array_new_with_free_func(g_free);
    for (int i = 1; i < argc; i++)
        g_ptr_array_add(paths, g_strdup(argv[i]));
    if (argc > 1)
        return paths;
    char *all[] = {argv[0], NULL};
    g_autoptr(GPtrArray) corpus = files_for_corpus(1, all, 120, error);
    if (corpus == NULL) {
        g_ptr_array_unref(paths);
        return NULL;
    }
    write_dense(folder, paths);
    for (guint i = 0; i < corpus->len; i++)
        g_ptr_array_add(paths, g_strdup(corpus->pdata[i]));
    return paths;
}

int main(int argc, char **argv)
{
    const GOptionEntry entries[] = {
        {"moments", 0, 0, G_OPTION_ARG_INT, &moments, "Cancels of each drawing (50)", "N"},
        {"slowest", 0, 0, G_OPTION_ARG_INT, &n_slowest, "Drawings taken (10)", "N"},
        {"where", 0, 0, G_OPTION_ARG_DOUBLE, &where_ms,
         "Print what runs where a cancel takes longer than this", "MS"},
        G_OPTION_ENTRY_NULL,
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("[DRAWING...]");
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error) || moments < 1) {
        g_printerr("bench-cancel: %s\n", error ? error->message : "--moments takes 1 or more");
        return DT_ERROR_USAGE;
    }
    signal(SIGUSR1, show_stack);
    g_autofree char *drawn = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    g_autoptr(GPtrArray) paths = p ? find_drawings(argc, argv, drawn, &error) : NULL;
    if (paths == NULL) {
        g_printerr("bench-cancel: %s\n", error->message);
        return DT_ERROR_INPUT;
    }
    g_autoptr(GArray) drawings = time_all(p, paths, folder);
    g_autoptr(GRand) random = g_rand_new_with_seed(50);
    unsigned wrong = 0;
    printf("drawing                             plan       mean      worst  processor  at stage    "
           "done  again\n");
    for (guint i = 0; i < MIN(drawings->len, (guint)n_slowest); i++)
        wrong += try_drawing(p, &g_array_index(drawings, Drawing, i), folder, random);
    printf("%s\n",
           wrong ? "NOT as it should be" : "every cancel ended within 100 ms of processor time");
    folder_remove(drawn);
    folder_remove(folder);
    return wrong ? 1 : 0;
}
