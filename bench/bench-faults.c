/* bench-faults: N runs on the virtual machine with one fault each at a random moment, and 0.3 N
 * runs whose process is killed (SIGKILL) at a random moment and then resumed. The ink that landed
 * is held against the ink of the undisturbed run: it is the same within 0.02 mm with at most one
 * stroke drawn twice, or the run has stopped with the pen up, nothing drawn wrong and the right
 * count reported.
 *
 *     bench-faults [N] [--seed S] [--only I] [--chip IMAGE.elf]
 *
 * I: one run of the campaign, with its details. With an image the disturbed runs go through the simulated
 * chip, and their ink is held against the undisturbed ink of the rig's core. */
#include "bench-faults.h"

#include "support/drawing.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { HOMED_BY = 8 /* lines */ };
enum { JOBS = 32 };     /* runs side by side: most of a run's time is waiting */
enum { CHIP_JOBS = 8 }; /* a simulated chip takes more of the processor */

/* A run ------------------------------------------------------------------------------------- */

static DtRunOptions options_of(const Stage *s)
{
    return (DtRunOptions){
        .journal = s->journal, .pens_ready = TRUE, .doubts = TRUE, .replug_s = 10};
}

static gboolean verbose;

static void tell(const DtEvent *e, void *user)
{
    (void)user;
    if (e->kind != DT_EVENT_PROGRESS)
        printf("    event %d state %d stroke %zu line %zu: %s\n", e->kind, e->at.state,
               e->at.stroke, e->at.line, e->text ? e->text : "");
}

static gboolean draw(const DtProfile *p, const Stage *s, GError **error)
{
    const DtRunOptions o = options_of(s);
    return drawing_program(p, s->link, s->program, &o, verbose ? tell : NULL, NULL, error);
}

static gboolean go_on(const DtProfile *p, const Stage *s, GError **error)
{
    const DtRunOptions o = options_of(s);
    return drawing_resume(p, s->link, &(DtResume){0}, &o, verbose ? tell : NULL, NULL, error);
}

/* The program in a process of its own, killed once the board has answered so many lines and then so
 * many seconds have passed. FALSE where it had drawn all before that. */
static gboolean draw_and_kill(const char *self, Stage *s, unsigned lines, double after_s)
{
    char *argv[] = {(char *)self, "--draw", s->folder, NULL};
    GPid pid;
    if (!g_spawn_async(NULL, argv, NULL,
                       G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDOUT_TO_DEV_NULL |
                           G_SPAWN_STDERR_TO_DEV_NULL,
                       NULL, NULL, &pid, NULL))
        g_error("cannot start %s", self);
    int status = 0;
    while ((unsigned)g_atomic_int_get(&s->answered) < lines)
        if (waitpid(pid, &status, WNOHANG) == pid)
            return !WIFEXITED(status) || WEXITSTATUS(status) != 0;
        else
            g_usleep(200);
    g_usleep((gulong)(after_s * 1e6));
    kill(pid, SIGKILL);
    waitpid(pid, &status, 0);
    return !WIFEXITED(status) || WEXITSTATUS(status) != 0;
}

/* The program in a process of its own, whose files cannot grow beyond so many bytes. */
static gboolean draw_with_room(const char *self, const Stage *s, int bytes, GError **error)
{
    g_autofree char *room = g_strdup_printf("%d", bytes), *said = NULL;
    char *argv[] = {(char *)self, "--draw", s->folder, room, NULL};
    int status = 0;
    if (!g_spawn_sync(NULL, argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, NULL, &said, &status, error))
        g_error("cannot start %s", self);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, g_strchomp(said));
    return FALSE;
}

static int draw_in_child(const char *folder, const char *room)
{
    if (room != NULL) {
        const struct rlimit limit = {(rlim_t)atol(room), (rlim_t)atol(room)};
        signal(SIGXFSZ, SIG_IGN);
        setrlimit(RLIMIT_FSIZE, &limit);
    }
    g_autoptr(DtProfile) p = faults_make_profile();
    g_autofree char *link = g_build_filename(folder, "port", NULL);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    const Stage s = {.link = link, .program = program, .journal = journal};
    g_autoptr(GError) error = NULL;
    if (draw(p, &s, &error))
        return 0;
    g_printerr("%s\n", error->message);
    return 1;
}

/* The first pen, then the other one whenever a stop asks for a person; a resumed run names them, as the
 * standard profile has them. */
#define PENS "[pen]\norder = black red red red red red\n"

/* `lines` and `bytes`: what the undisturbed run took. */
static char *rig_text(const Kind *k, GRand *rand, gboolean small, unsigned lines, guint64 bytes)
{
    if (k == NULL || k >= &faults_kinds[FULL_DISK])
        return g_strdup(PENS);
    if (k == &faults_kinds[LEARNING]) /* it asks some hundred lines */
        lines = 150;
    if (k == &faults_kinds[REFUSED_LINE]) /* its travel ends before the program's last strokes do */
        return g_strdup_printf(PENS "[controller]\ntravel_x = %d\n",
                               small ? g_rand_int_range(rand, 50, 65)
                                     : g_rand_int_range(rand, 60, 150));
    const unsigned most = k->by_byte ? (unsigned)bytes : lines;
    /* A switch that closes before homing is found open by it. */
    const unsigned least = k->outcome == STOPS_AND_RESUMES ? HOMED_BY : 1;
    const unsigned moment = (unsigned)g_rand_int_range(rand, (gint32)least, (gint32)most);
    g_autofree char *number = g_strdup_printf("%u", moment);
    g_auto(GStrv) parts = g_strsplit(k->fault, "%u", -1);
    g_autofree char *fault = g_strjoinv(number, parts);
    return g_strdup_printf(PENS "[faults]\nseed = %u\nlist = %s\n", g_rand_int(rand) % 100000,
                           fault);
}

typedef struct {
    const char *self;
    const char *image; /* through the chip; NULL: through the rig's core */
    char *drawtrue;    /* the program, built beside this one */
    char *learnt;      /* what it learns of an undisturbed board; found by whoever needs it first */
    GMutex learning;
    DtProfile *profile;
    guint32 seed;
    unsigned faults, all, finished, wrong;
    Tally tally[KINDS + 1];
    GMutex lock; /* of the counts */
} Campaign;

/* One run of the campaign. */
typedef struct {
    Campaign *campaign;
    const Kind *kind; /* NULL: killed and resumed */
    GRand *rand;
    Stage stage;
    Ink want, got;
    DtRigFigures undisturbed, figures;
    gboolean came; /* the fault did happen */
    gboolean stopped;
} Play;

static gboolean draw_undisturbed(Play *t, GError **error)
{
    Stage *s = &t->stage;
    faults_start_rig(s, PENS, NULL);
    const gboolean good = draw(t->campaign->profile, s, error);
    faults_stop_rig(s, &t->want, &t->undisturbed);
    g_unlink(s->journal); /* it does not count */
    return good;
}

static gboolean kill_and_resume(Play *t, GError **error)
{
    const Campaign *c = t->campaign;
    Stage *s = &t->stage;
    g_autoptr(GError) problem = NULL;
    const unsigned lines =
        (unsigned)g_rand_int_range(t->rand, 0, (gint32)t->undisturbed.lines_taken);
    t->came = draw_and_kill(c->self, s, lines, g_rand_double_range(t->rand, 0, 0.01));
    if (!t->came || go_on(c->profile, s, &problem))
        return TRUE;
    if (strstr(problem->message, "every run is finished") != NULL)
        return TRUE; /* killed after its end */
    if (strstr(problem->message, "no run has been started") != NULL)
        return draw(c->profile, s, error);
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
}

/* A person who interrupts once, behind a line, and lets it go on. */
typedef struct {
    DtRun *run;
    DtRequest interrupt;
    size_t line;
    gboolean done;
} Person;

static void steer(const DtEvent *e, void *user)
{
    Person *p = user;
    if (verbose)
        tell(e, NULL);
    if (e->kind == DT_EVENT_PAUSED)
        dt_run_request(p->run, DT_REQUEST_GO_ON, e->at.serial);
    else if (!p->done && e->at.line >= p->line)
        p->done = dt_run_request(p->run, p->interrupt, 0);
}

static gboolean draw_by_hand(Play *t, DtRequest interrupt, GError **error)
{
    const DtRunOptions o = options_of(&t->stage);
    g_autoptr(DtSession) s = dt_session_new(t->campaign->profile, t->stage.link);
    g_autoptr(DtRun) r = dt_run_new(s, t->stage.program, &o, error);
    Person p = {.run = r,
                .interrupt = interrupt,
                .line = (size_t)g_rand_int_range(t->rand, 0, (gint32)t->undisturbed.lines_taken)};
    const gboolean good = r != NULL && drawing_run(r, steer, &p, error);
    t->came = p.done;
    return good;
}

/* The terminal -------------------------------------------------------------------------------- */

static gboolean pen_is_up(void *user)
{
    Play *t = user;
    faults_look_at_rig(&t->stage, &t->got, &t->figures);
    faults_clear_ink(&t->got);
    t->got = (Ink){0};
    faults_serve_on(&t->stage);
    return t->figures.pen_up_at_end;
}

static gboolean draw_in_terminal(Play *t, TerminalFault fault, GError **error)
{
    Stage *s = &t->stage;
    char *argv[] = {t->campaign->drawtrue,
                    "run",
                    s->program,
                    "--port",
                    s->link,
                    "--machine",
                    s->profile,
                    "--journal",
                    s->journal,
                    "--pens-ready",
                    "--other-machine",
                    "--despite-doubts",
                    NULL};
    const TerminalPlay play = {
        .argv = argv,
        .fault = fault,
        /* Before its first line it may not have begun to live without a terminal. */
        .lines = (unsigned)MAX(g_rand_int_range(t->rand, 0, (gint32)t->undisturbed.lines_taken), 1),
        .after_s = g_rand_double_range(t->rand, 0, 0.01),
        .answered = &s->answered,
        .is_safe = pen_is_up,
        .user = t,
    };
    g_autofree char *said = NULL;
    const char *wrong = faults_play_terminal(&play, &t->came, &said);
    if (verbose)
        printf("    %s\n", said);
    if (wrong != NULL)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", wrong);
    return wrong == NULL;
}

/* Learning ---------------------------------------------------------------------------------- */

/* What the undisturbed board teaches; on a rig of its own. */
static const char *learn_undisturbed(Play *t)
{
    Campaign *c = t->campaign;
    g_mutex_lock(&c->learning);
    if (c->learnt == NULL) {
        Stage own;
        Ink ink;
        DtRigFigures f;
        g_autofree char *said = NULL;
        faults_make_stage(&own, "", 0);
        own.real_time = TRUE;
        faults_start_rig(&own, PENS, c->image);
        g_autofree char *to = g_build_filename(own.folder, "learnt.ini", NULL);
        c->learnt = faults_learn(c->drawtrue, own.link, own.profile, to, &said);
        faults_stop_rig(&own, &ink, &f);
        faults_clear_ink(&ink);
        faults_clear_stage(&own);
        if (c->learnt == NULL)
            g_error("learning fails without a fault: %s", said);
    }
    g_mutex_unlock(&c->learning);
    return c->learnt;
}

/* Learns while the board restarts, and draws with what was learnt before. */
static gboolean learn_and_draw(Play *t, GError **error)
{
    const char *want = learn_undisturbed(t);
    g_autofree char *said = NULL;
    g_autofree char *to = g_build_filename(t->stage.folder, "learnt.ini", NULL);
    g_autofree char *got =
        faults_learn(t->campaign->drawtrue, t->stage.link, t->stage.profile, to, &said);
    if (verbose)
        printf("    %s\n", said);
    if (g_strcmp0(got, want) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "learnt otherwise: %s; undisturbed: %s",
                    got ? got : said, want);
        return FALSE;
    }
    Ink ink;
    faults_look_at_rig(&t->stage, &ink, &t->figures); /* dots where it lowered the pen once */
    faults_clear_ink(&ink);
    g_clear_pointer(&t->stage.rig, dt_rig_free);
    t->stage.real_time = FALSE;
    faults_start_rig(&t->stage, PENS, t->campaign->image);
    t->came = t->figures.faults > 0;
    return draw(t->campaign->profile, &t->stage, error);
}

static gboolean draw_disturbed(Play *t, GError **error)
{
    const Campaign *c = t->campaign;
    if (t->kind == NULL)
        return kill_and_resume(t, error);
    if (t->kind == &faults_kinds[FULL_DISK])
        return draw_with_room(c->self, &t->stage, g_rand_int_range(t->rand, 34000, 110000), error);
    if (t->kind == &faults_kinds[PARKED])
        return draw_by_hand(t, DT_REQUEST_PARK, error);
    if (t->kind == &faults_kinds[HELD])
        return draw_by_hand(t, DT_REQUEST_PAUSE_NOW, error);
    if (t->kind >= &faults_kinds[SLEEPS])
        return draw_in_terminal(t, (TerminalFault)(t->kind - &faults_kinds[SLEEPS]), error);
    if (t->kind == &faults_kinds[LEARNING])
        return learn_and_draw(t, error);
    return draw(c->profile, &t->stage, error);
}

/* A board that hears nothing lifts its pen by itself, within some seconds of its clock. */
static void wait_for_lift(Play *t)
{
    enum { TRIES = 30, WAIT_US = 500000 };
    for (int i = 0; i < TRIES && !t->figures.pen_up_at_end; i++) {
        faults_clear_ink(&t->got);
        faults_serve_on(&t->stage);
        g_usleep(WAIT_US);
        faults_look_at_rig(&t->stage, &t->got, &t->figures);
    }
}

/* After a stop: the rig is looked at, and where the run can be resumed, it is. */
static const char *judge_stopped(Play *t, const char *message)
{
    faults_look_at_rig(&t->stage, &t->got, &t->figures);
    if (t->kind == NULL || t->kind->outcome == DRAWS_ON)
        return "it stopped";
    if (t->kind == &faults_kinds[SILENT])
        wait_for_lift(t);
    const char *wrong = faults_judge_stop(&t->want, &t->got, &t->figures, message,
                                          t->kind != &faults_kinds[SILENT]);
    if (wrong != NULL || t->kind->outcome == STOPS)
        return wrong;
    faults_clear_ink(&t->got);
    faults_serve_on(&t->stage);
    g_autoptr(GError) error = NULL;
    gboolean good = go_on(t->campaign->profile, &t->stage, &error);
    if (!good && strstr(error->message, "no run has been started") != NULL) {
        g_clear_error(&error);
        good = draw(t->campaign->profile, &t->stage, &error);
    }
    faults_look_at_rig(&t->stage, &t->got, &t->figures);
    if (!good && verbose)
        printf("    resumed: %s\n", error->message);
    return good ? faults_judge_whole(&t->want, &t->got) : "it does not resume";
}

static const char *judge(Play *t, gboolean good, const char *message)
{
    t->stopped = !good;
    if (!good)
        return judge_stopped(t, message);
    faults_look_at_rig(&t->stage, &t->got, &t->figures);
    const char *wrong = faults_judge_whole(&t->want, &t->got);
    if (wrong == NULL && t->kind != NULL && t->kind->outcome != DRAWS_ON && t->figures.faults > 0)
        return "it was to stop and did not";
    return wrong;
}

/* NULL where it is as defined, else what is wrong. */
static char *play_out(Play *t)
{
    gsize len = 0;
    g_autofree char *program =
        faults_make_program(t->campaign->profile, t->rand, t->campaign->image != NULL, &len);
    faults_make_stage(&t->stage, program, len);
    g_autoptr(GError) error = NULL;
    if (!draw_undisturbed(t, &error))
        return g_strdup_printf("the undisturbed run failed: %s", error->message);
    g_autofree char *text = rig_text(t->kind, t->rand, t->campaign->image != NULL,
                                     t->undisturbed.lines_taken, t->undisturbed.bytes);
    if (verbose)
        printf("    %zu strokes, %u lines\n%s", t->want.lines.n, t->undisturbed.lines_taken, text);
    t->stage.real_time = t->kind == &faults_kinds[LEARNING];
    faults_start_rig(&t->stage, text, t->campaign->image);
    const gboolean good = draw_disturbed(t, &error);
    if (verbose)
        printf("    %s\n", good ? "drawn" : error->message);
    const char *wrong = judge(t, good, good ? NULL : error->message);
    t->came = t->came || t->figures.faults > 0 || t->stopped;
    if (wrong == NULL)
        return NULL;
    return g_strdup_printf("%s (%s; pen %s, %.1f of %.1f mm of ink)", wrong,
                           good ? "drawn" : error->message,
                           t->figures.pen_up_at_end ? "up" : "down", t->got.total, t->want.total);
}

static void clear_play(Play *t)
{
    faults_clear_ink(&t->want);
    if (t->got.pens != NULL)
        faults_clear_ink(&t->got);
    g_clear_pointer(&t->stage.rig, dt_rig_free);
    faults_clear_stage(&t->stage);
    g_rand_free(t->rand);
}

static void count(Campaign *c, const Play *t, unsigned i, double seconds, const char *report)
{
    const size_t kind = t->kind ? (size_t)(t->kind - faults_kinds) : KILLED;
    Tally *sum = &c->tally[kind];
    sum->runs++;
    sum->seconds += seconds;
    *(report != NULL ? &sum->wrong
      : !t->came     ? &sum->spared
      : t->stopped   ? &sum->stopped
                     : &sum->recovered) += 1;
    c->finished++;
    if (report != NULL) {
        c->wrong++;
        printf("run %u, %s: %s\n", i, t->kind ? t->kind->name : "killed", report);
    } else if (c->finished % 100 == 0) {
        printf("%u of %u, %u wrong\n", c->finished, c->all, c->wrong);
    }
    fflush(stdout);
    if (isatty(STDERR_FILENO))
        fprintf(stderr, "\r%u of %u ", c->finished, c->all);
}

static volatile sig_atomic_t ended; /* by SIGINT or SIGTERM: the table tells what was done */

static void on_signal(int number)
{
    (void)number;
    ended = 1;
}

static void play(gpointer number, gpointer user)
{
    Campaign *c = user;
    if (ended)
        return;
    const unsigned i = GPOINTER_TO_UINT(number);
    Play t = {.campaign = c,
              .kind = i <= c->faults ? &faults_kinds[(i - 1) % KINDS] : NULL,
              .rand = g_rand_new_with_seed(c->seed * 1000003u + i)};
    const gint64 start = g_get_monotonic_time();
    g_autofree char *report = play_out(&t);
    g_mutex_lock(&c->lock);
    count(c, &t, i, (double)(g_get_monotonic_time() - start) / 1e6, report);
    g_mutex_unlock(&c->lock);
    clear_play(&t);
}

int main(int argc, char **argv)
{
    if (argc >= 3 && strcmp(argv[1], "--draw") == 0)
        return draw_in_child(argv[2], argc > 3 ? argv[3] : NULL);
    unsigned n = 100, seed = 1, only = 0;
    const char *image = NULL;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = (unsigned)atoi(argv[++i]);
        else if (strcmp(argv[i], "--only") == 0 && i + 1 < argc)
            only = (unsigned)atoi(argv[++i]);
        else if (strcmp(argv[i], "--chip") == 0 && i + 1 < argc)
            image = argv[++i];
        else
            n = (unsigned)atoi(argv[i]);
    }
    signal(SIGPIPE, SIG_IGN);
    signal(SIGINT, on_signal);
    signal(SIGTERM, on_signal);
    verbose = only > 0;
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *folder = g_path_get_dirname(self);
    g_autofree char *drawtrue = g_build_filename(folder, "..", "src", "cli", "drawtrue", NULL);
    Campaign c = {.self = self,
                  .image = image,
                  .drawtrue = drawtrue,
                  .profile = faults_make_profile(),
                  .seed = seed,
                  .faults = n};
    g_mutex_init(&c.lock);
    g_mutex_init(&c.learning);
    c.all = n + n * 3 / 10;
    GThreadPool *pool = g_thread_pool_new(play, &c,
                                          only > 0 ? 1
                                          : image  ? CHIP_JOBS
                                                   : JOBS,
                                          TRUE, NULL);
    for (unsigned i = 1; i <= c.all; i++)
        if (only == 0 || i == only)
            g_thread_pool_push(pool, GUINT_TO_POINTER(i), NULL);
    g_thread_pool_free(pool, FALSE, TRUE);
    faults_print_table(c.tally);
    dt_profile_free(c.profile);
    g_free(c.learnt);
    return c.wrong > 0;
}
