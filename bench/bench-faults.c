/* bench-faults: N runs on the virtual machine with one fault each at a random moment, and 0.3 N
 * runs whose process is killed (SIGKILL) at a random moment and then resumed. The ink that landed
 * is held against the ink of the undisturbed run: it is the same within 0.02 mm with at most one
 * stroke drawn twice, or the run has stopped with the pen up, nothing drawn wrong and the right
 * count reported.
 *
 *     bench-faults [N] [--seed S] [--only I]     I: one run of the campaign, with its details */
#include "drawtrue/link.h"
#include "drawtrue/rig.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static const double tolerance = 0.02, sample = 0.1; /* mm */

/* The kinds. A stop is what the documentation defines for it; every other kind has to recover. */
typedef struct {
    const char *name;
    const char *fault; /* %u: the moment, a line or a byte; NULL: no fault of the rig */
    gboolean by_byte;
    gboolean stops;
} Kind;

static const Kind kinds[] = {
    {"byte lost on the way", "lose at byte %u", TRUE, FALSE},
    {"burst of bytes lost", "lose 25 at byte %u", TRUE, FALSE},
    {"byte doubled", "double at byte %u", TRUE, FALSE},
    {"byte garbled", "garble at byte %u", TRUE, FALSE},
    {"burst garbled", "garble 12 at byte %u", TRUE, FALSE},
    {"reply lost", "lose-reply at line %u", FALSE, FALSE},
    {"three replies lost", "lose-reply 3 at line %u", FALSE, FALSE},
    {"reply doubled", "double-reply at line %u", FALSE, FALSE},
    {"reply garbled", "garble-reply at line %u", FALSE, FALSE},
    {"reply late", "late-reply 0.6 at line %u", FALSE, FALSE},
    {"noisy line", "garble at every 0.002; garble-reply at every 0.01", FALSE, FALSE},
    {"board reset", "reset at line %u", FALSE, FALSE},
    {"unplugged", "unplug 0.4 at line %u", FALSE, FALSE},
    {"cable cut, board runs on", "cut 0.4 at line %u", FALSE, FALSE},
    {"silent for a while", "silence 0.8 at line %u", FALSE, FALSE},
    {"silent for good", "silence at line %u", FALSE, TRUE},
    {"end switch hit", "switch x at line %u", FALSE, TRUE},
    {"line refused", NULL, FALSE, TRUE},
};
enum { KINDS = G_N_ELEMENTS(kinds), KILLED = KINDS };
enum { JOBS = 6 }; /* runs side by side: most of a run's time is waiting */

typedef struct {
    unsigned runs, recovered, stopped, wrong;
    double seconds;
} Tally;

/* A job -------------------------------------------------------------------------------------------
 */

/* The rig's own truth as a maker would have measured it, so that slack moves are in play. */
static DtProfile *make_profile(void)
{
    static const char text[] = "[corrections]\nbacklash_x = 0:0.1 300:0.4\nbacklash_y = 0.45 mm\n";
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "bench", &error);
    if (p == NULL)
        g_error("%s", error->message);
    p->dialect.reply_timeout_s = 3;
    return p;
}

static void add_stroke(DtSequence *s, GRand *rand, unsigned pen, size_t i)
{
    DtPoint at = {g_rand_double_range(rand, 60, 220), g_rand_double_range(rand, 60, 150)};
    dt_sequence_begin(s, pen, i);
    dt_sequence_point(s, at);
    double heading = g_rand_double_range(rand, 0, 2 * G_PI);
    const double bend = g_rand_double_range(rand, -0.3, 0.3);
    const double step = g_rand_double_range(rand, 0.3, 2);
    const int n = g_rand_int_range(rand, 1, 25);
    for (int k = 0; k < n; k++, heading += bend) {
        at = dt_point_add(at, dt_point(step * cos(heading), step * sin(heading)));
        dt_sequence_point(s, at);
    }
}

static char *make_program(const DtProfile *p, GRand *rand, gsize *len)
{
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) moves = {0};
    g_autoptr(GError) error = NULL;
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    const int n = g_rand_int_range(rand, 8, 16);
    for (int i = 0; i < n; i++)
        add_stroke(&s, rand, i * 2 >= n, (size_t)i);
    char *text = NULL;
    if (dt_machine_moves(p, &s, &moves, &error))
        text = dt_code_write(p, &moves, len, &error);
    if (text == NULL)
        g_error("%s", error->message);
    return text;
}

/* Ink ---------------------------------------------------------------------------------------------
 */

typedef struct {
    DtLines lines;
    double longest, total;
} Ink;

static void take_ink(const DtRig *r, Ink *ink)
{
    *ink = (Ink){0};
    dt_lines_init(&ink->lines);
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++) {
        DtRigStroke s = dt_rig_stroke(r, i);
        dt_lines_append(&ink->lines, (const DtPoint *)s.xy, s.n, FALSE);
    }
    ink->total = dt_lines_total_length(&ink->lines);
    for (size_t i = 0; i < ink->lines.n; i++)
        ink->longest = MAX(ink->longest, dt_lines_length(&ink->lines, i));
}

static double distance_to(const DtLines *l, DtPoint p)
{
    double least = G_MAXDOUBLE;
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *at = dt_lines_at(l, i);
        const size_t n = dt_lines_count(l, i);
        if (n == 1)
            least = MIN(least, dt_point_distance(p, at[0]));
        for (size_t k = 1; k < n; k++) {
            if (MIN(fabs(at[k].x - p.x), fabs(at[k - 1].x - p.x)) > 5 + least)
                continue;
            least = MIN(least, dt_point_segment_distance(p, at[k - 1], at[k]));
        }
    }
    return least;
}

/* Whether each point of polyline i of `a` lies on `b`. */
static gboolean stroke_lies_on(const DtLines *a, size_t i, const DtLines *b)
{
    const DtPoint *at = dt_lines_at(a, i);
    const size_t n = dt_lines_count(a, i);
    for (size_t k = 0; k < n; k++) {
        if (distance_to(b, at[k]) > tolerance)
            return FALSE;
        const double length = k + 1 < n ? dt_point_distance(at[k], at[k + 1]) : 0;
        for (double d = sample; d < length; d += sample)
            if (distance_to(b, dt_point_lerp(at[k], at[k + 1], d / length)) > tolerance)
                return FALSE;
    }
    return TRUE;
}

static size_t strokes_on(const DtLines *a, const DtLines *b)
{
    size_t n = 0;
    for (size_t i = 0; i < a->n; i++)
        n += stroke_lies_on(a, i, b) ? 1 : 0;
    return n;
}

/* NULL where all is as it has to be, else what is wrong. */
static const char *judge_whole(const Ink *want, const Ink *got)
{
    if (strokes_on(&want->lines, &got->lines) < want->lines.n)
        return "ink is missing";
    if (strokes_on(&got->lines, &want->lines) < got->lines.n)
        return "ink where none was planned";
    if (got->total > want->total + want->longest + 0.5)
        return "more than one stroke drawn twice";
    return NULL;
}

static const char *judge_stop(const Ink *want, const Ink *got, const DtRigFigures *f,
                              const char *message)
{
    const char *of = strstr(message, " strokes are drawn");
    size_t drawn = 0, all = 0;
    while (of != NULL && of > message && of[-1] != ':')
        of--;
    if (of == NULL || sscanf(of, " %zu of %zu", &drawn, &all) != 2)
        return "the report does not count";
    if (!f->pen_up_at_end)
        return "the pen is down";
    if (strokes_on(&got->lines, &want->lines) < got->lines.n)
        return "ink where none was planned";
    for (size_t i = 0; i < MIN(drawn, want->lines.n); i++)
        if (!stroke_lies_on(&want->lines, i, &got->lines))
            return "a stroke reported as drawn is missing";
    return NULL;
}

/* A run -------------------------------------------------------------------------------------------
 */

typedef struct {
    DtRig *rig;
    volatile int stop;
    GThread *thread;
    char *folder, *link, *program, *journal;
} Stage;

static gpointer serve(gpointer data)
{
    Stage *s = data;
    dt_rig_serve(s->rig, FALSE, FALSE, &s->stop, NULL);
    return NULL;
}

static void start_rig(Stage *s, const char *text)
{
    g_autoptr(GError) error = NULL;
    s->rig = dt_rig_new_from_text(text, "bench", &error);
    if (s->rig == NULL || dt_rig_open_port(s->rig, &error) == NULL ||
        !dt_rig_link_port(s->rig, s->link, &error))
        g_error("%s", error->message);
    s->stop = 0;
    s->thread = g_thread_new("rig", serve, s);
}

static void stop_rig(Stage *s, Ink *ink, DtRigFigures *figures)
{
    g_usleep(150000); /* what it was told it does still */
    s->stop = 1;
    g_thread_join(s->thread);
    take_ink(s->rig, ink);
    dt_rig_figures(s->rig, figures);
    dt_rig_free(s->rig);
}

static void make_stage(Stage *s, const char *text, gsize len)
{
    s->folder = g_dir_make_tmp("drawtrue-faults-XXXXXX", NULL);
    s->link = g_build_filename(s->folder, "port", NULL);
    s->program = g_build_filename(s->folder, "job.nc", NULL);
    s->journal = g_build_filename(s->folder, "journal.db", NULL);
    g_assert_true(g_file_set_contents(s->program, text, (gssize)len, NULL));
}

static void clear_stage(Stage *s)
{
    g_autoptr(GDir) dir = g_dir_open(s->folder, 0, NULL);
    for (const char *name; dir != NULL && (name = g_dir_read_name(dir)) != NULL;) {
        g_autofree char *path = g_build_filename(s->folder, name, NULL);
        g_unlink(path);
    }
    g_rmdir(s->folder);
    g_free(s->folder);
    g_free(s->link);
    g_free(s->program);
    g_free(s->journal);
}

static DtRunOptions options_of(const Stage *s)
{
    return (DtRunOptions){
        .port = s->link, .journal = s->journal, .pens_ready = TRUE, .replug_s = 10};
}

static gboolean verbose;

static void tell(const DtRunEvent *e, void *user)
{
    (void)user;
    if (e->kind != DT_RUN_PROGRESS)
        printf("    event %d stroke %zu line %zu: %s\n", e->kind, e->stroke, e->line,
               e->text ? e->text : "");
}

static gboolean draw(const DtProfile *p, const Stage *s, GError **error)
{
    DtRunOptions o = options_of(s);
    if (verbose)
        o.listener = tell;
    return dt_link_run(p, s->program, &o, error);
}

static gboolean go_on(const DtProfile *p, const Stage *s, GError **error)
{
    DtRunOptions o = options_of(s);
    if (verbose)
        o.listener = tell;
    g_autoptr(DtRunner) r = dt_run_resume(p, 0, 0, 0, &o, error);
    return r != NULL && dt_run_draw(r, error);
}

/* The program in a process of its own, killed after a while. FALSE where it was drawn before that.
 */
static gboolean draw_and_kill(const char *self, const Stage *s, double after_s)
{
    char *argv[] = {(char *)self, "--draw", s->folder, NULL};
    GPid pid;
    if (!g_spawn_async(NULL, argv, NULL, G_SPAWN_DO_NOT_REAP_CHILD, NULL, NULL, &pid, NULL))
        g_error("cannot start %s", self);
    g_usleep((gulong)(after_s * 1e6));
    kill(pid, SIGKILL);
    int status;
    waitpid(pid, &status, 0);
    return !WIFEXITED(status) || WEXITSTATUS(status) != 0;
}

static int draw_in_child(const char *folder)
{
    g_autoptr(DtProfile) p = make_profile();
    Stage s = {
        .link = g_build_filename(folder, "port", NULL),
        .program = g_build_filename(folder, "job.nc", NULL),
        .journal = g_build_filename(folder, "journal.db", NULL),
    };
    g_autoptr(GError) error = NULL;
    if (draw(p, &s, &error))
        return 0;
    g_printerr("the process to be killed failed: %s\n", error->message);
    return 1;
}

static char *rig_text(const Kind *k, GRand *rand, unsigned lines, gsize bytes)
{
    if (k == NULL)
        return g_strdup("");
    if (k->fault == NULL) /* its travel ends before the program's last strokes do */
        return g_strdup_printf("[controller]\ntravel_x = %d\n", g_rand_int_range(rand, 60, 150));
    const unsigned most = k->by_byte ? (unsigned)bytes : lines;
    const unsigned moment = (unsigned)g_rand_int_range(rand, 1, (gint32)most);
    g_autofree char *fault = g_strdup_printf(k->fault, moment);
    return g_strdup_printf("[faults]\nseed = %u\nlist = %s\n", g_rand_int(rand) % 100000, fault);
}

static unsigned count_lines(const char *text)
{
    unsigned n = 0;
    for (const char *c = text; *c; c++)
        n += *c == '\n' && c[-1] != ')';
    return n;
}

typedef struct {
    const char *self;
    DtProfile *profile;
    guint32 seed;
    unsigned faults, all, finished, wrong;
    Tally tally[KINDS + 1];
    GMutex lock; /* of the counts */
} Campaign;

/* What became of run number i: NULL where it is as defined. */
static char *run_one(const Campaign *c, unsigned i, unsigned kind, gboolean *stopped)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(c->seed * 1000003u + i);
    gsize len = 0;
    g_autofree char *program = make_program(c->profile, rand, &len);
    const unsigned lines = count_lines(program);
    Stage s;
    Ink want, got;
    DtRigFigures figures;
    make_stage(&s, program, len);

    g_autoptr(GError) error = NULL;
    const gint64 start = g_get_monotonic_time();
    start_rig(&s, "");
    if (!draw(c->profile, &s, &error))
        g_error("the undisturbed run failed: %s", error->message);
    const double took_s = (double)(g_get_monotonic_time() - start) / 1e6;
    stop_rig(&s, &want, &figures);
    g_unlink(s.journal); /* the undisturbed run does not count */

    const Kind *k = kind < KINDS ? &kinds[kind] : NULL;
    g_autofree char *text = rig_text(k, rand, lines, len + lines * 14);
    if (verbose)
        printf("    %zu strokes, %u lines\n    %s\n", want.lines.n, lines, text);
    start_rig(&s, text);
    gboolean good;
    if (k != NULL)
        good = draw(c->profile, &s, &error);
    else
        good = !draw_and_kill(c->self, &s, g_rand_double_range(rand, 0.02, took_s)) ||
               go_on(c->profile, &s, &error);
    if (k == NULL && !good && strstr(error->message, "no run was begun") != NULL)
        good = draw(c->profile, &s, NULL);
    else if (k == NULL && !good && strstr(error->message, "every run is finished") != NULL)
        good = TRUE; /* killed after its end */
    stop_rig(&s, &got, &figures);
    if (verbose)
        printf("    %s\n", good ? "drawn" : error->message);

    const char *wrong;
    if (good)
        wrong = judge_whole(&want, &got);
    else if (k != NULL && k->stops)
        wrong = judge_stop(&want, &got, &figures, error->message);
    else
        wrong = "it stopped";
    *stopped = !good;
    char *report = NULL;
    if (wrong != NULL)
        report = g_strdup_printf("%s (%s; pen %s, %.1f of %.1f mm of ink)", wrong,
                                 good ? "drawn" : error->message,
                                 figures.pen_up_at_end ? "up" : "down", got.total, want.total);
    dt_lines_clear(&want.lines);
    dt_lines_clear(&got.lines);
    clear_stage(&s);
    return report;
}

static void play(gpointer number, gpointer user)
{
    Campaign *c = user;
    const unsigned i = GPOINTER_TO_UINT(number);
    const unsigned kind = i <= c->faults ? (i - 1) % KINDS : KILLED;
    gboolean stopped = FALSE;
    const gint64 start = g_get_monotonic_time();
    g_autofree char *report = run_one(c, i, kind, &stopped);
    g_mutex_lock(&c->lock);
    Tally *t = &c->tally[kind];
    t->runs++;
    t->seconds += (double)(g_get_monotonic_time() - start) / 1e6;
    *(report != NULL ? &t->wrong : stopped ? &t->stopped : &t->recovered) += 1;
    if (report != NULL) {
        c->wrong++;
        printf("run %u, %s: %s\n", i, kind < KINDS ? kinds[kind].name : "killed", report);
        fflush(stdout);
    }
    c->finished++;
    if (isatty(STDERR_FILENO))
        fprintf(stderr, "\r%u of %u ", c->finished, c->all);
    g_mutex_unlock(&c->lock);
}

static void print_table(const Tally *t)
{
    printf("\n%-26s %6s %10s %8s %6s %9s\n", "kind", "runs", "recovered", "stopped", "wrong",
           "s a run");
    Tally sum = {0};
    for (unsigned k = 0; k <= KILLED; k++) {
        if (t[k].runs == 0)
            continue;
        printf("%-26s %6u %10u %8u %6u %9.2f\n", k < KINDS ? kinds[k].name : "killed and resumed",
               t[k].runs, t[k].recovered, t[k].stopped, t[k].wrong, t[k].seconds / t[k].runs);
        sum.runs += t[k].runs;
        sum.recovered += t[k].recovered;
        sum.stopped += t[k].stopped;
        sum.wrong += t[k].wrong;
    }
    printf("%-26s %6u %10u %8u %6u\n", "all", sum.runs, sum.recovered, sum.stopped, sum.wrong);
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "--draw") == 0)
        return draw_in_child(argv[2]);
    unsigned n = 100, seed = 1, only = 0;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = (unsigned)atoi(argv[++i]);
        else if (strcmp(argv[i], "--only") == 0 && i + 1 < argc)
            only = (unsigned)atoi(argv[++i]);
        else
            n = (unsigned)atoi(argv[i]);
    }
    signal(SIGPIPE, SIG_IGN);
    verbose = only > 0;
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    Campaign c = {.self = self, .profile = make_profile(), .seed = seed, .faults = n};
    g_mutex_init(&c.lock);
    c.all = n + n * 3 / 10;
    GThreadPool *pool = g_thread_pool_new(play, &c, only > 0 ? 1 : JOBS, TRUE, NULL);
    for (unsigned i = 1; i <= c.all; i++)
        if (only == 0 || i == only)
            g_thread_pool_push(pool, GUINT_TO_POINTER(i), NULL);
    g_thread_pool_free(pool, FALSE, TRUE);
    print_table(c.tally);
    dt_profile_free(c.profile);
    return c.wrong > 0;
}
