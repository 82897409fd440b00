/* running: a client of the session that shows a run and lets a person steer it. */
#include "cli/running.h"

#include "cli/print.h"

#include "cli/background.h"
#include "drawtrue/report.h"
#include "cli/view.h"

#include <errno.h>
#include <gio/gio.h>
#include <glib-unix.h>
#include <math.h>
#include <signal.h>
#include <sys/signalfd.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

static char *port, *machine, *journal;
static gboolean pens_ready, as_json, other_machine, doubts, background;
static double replug_s;

const GOptionEntry dt_cli_running_entries[] = {
    {"port", 'p', 0, G_OPTION_ARG_FILENAME, &port, N_("Serial port of the controller"), "PORT"},
    {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine, N_("Machine profile"), "FILE"},
    {"pens-ready", 0, 0, G_OPTION_ARG_NONE, &pens_ready, N_("Do not wait at pen changes"), NULL},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Print events as JSON, one on each line"), NULL},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal, N_("Keep the journal in this file"), "FILE"},
    {"replug", 0, 0, G_OPTION_ARG_DOUBLE, &replug_s,
     N_("Wait this long for an unplugged port (600 s)"), "SECONDS"},
    {"other-machine", 0, 0, G_OPTION_ARG_NONE, &other_machine,
     N_("Draw though the program was made for another machine or an older profile"), NULL},
    {"despite-doubts", 0, 0, G_OPTION_ARG_NONE, &doubts,
     N_("Draw though 'drawtrue inspect' says that it will look wrong"), NULL},
    {"background", 0, 0, G_OPTION_ARG_NONE, &background,
     N_("Leave the terminal and go on drawing; 'drawtrue log' shows its progress"), NULL},
    G_OPTION_ENTRY_NULL,
};

const char *dt_cli_running_machine(void)
{
    return machine;
}

const char *dt_cli_running_port(void)
{
    return port;
}

static DtRunOptions run_options(void)
{
    return (DtRunOptions){
        .journal = journal, .pens_ready = pens_ready, .doubts = doubts, .replug_s = replug_s};
}

/* Before it starts -------------------------------------------------------------------------- */

/* Whether to draw all the same; without a terminal the answer is `otherwise`. */
static gboolean confirm(const DtConcern *c, const char *text, gboolean otherwise)
{
    dt_cli_printf(stderr, "%s: %s\n", c->program, text);
    if (!isatty(STDIN_FILENO))
        return otherwise;
    char answer[16];
    tcflush(STDIN_FILENO, TCIFLUSH); /* what was typed before the question is not an answer */
    dt_cli_print(stderr, "Draw it as it is? [y/N] ");
    return fgets(answer, sizeof answer, stdin) != NULL && g_ascii_tolower(answer[0]) == 'y';
}

static gboolean settle_concern(const DtConcern *c, const DtProfile *p, GError **error)
{
    g_autofree char *text = dt_report_concern_text(c, p);
    if (text == NULL)
        return TRUE;
    if (c->rank == DT_CONCERN_NOTE) {
        FILE *to = c->kind == DT_CONCERN_FIRST_RUN ? stderr : stdout;
        if (!as_json)
            dt_cli_printf(to, "%s\n", text);
        fflush(to);
        return TRUE;
    }
    if (other_machine || confirm(c, text, c->rank == DT_CONCERN_DOUBT))
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                        "nothing was drawn; 'drawtrue plan' makes the program anew, "
                        "--other-machine draws it as it is");
    return FALSE;
}

/* Those whose kinds are in `settled` were told before; the others are added to it. */
static gboolean settle_concerns(const DtRun *r, const DtProfile *p, unsigned *settled,
                                GError **error)
{
    size_t n;
    const DtConcern *concerns = dt_run_concerns(r, &n);
    for (size_t i = 0; i < n; i++) {
        const unsigned kind = 1u << concerns[i].kind;
        if (!(*settled & kind) && !settle_concern(&concerns[i], p, error))
            return FALSE;
        *settled |= kind;
    }
    return TRUE;
}

gboolean dt_cli_running_ask(const DtProfile *p, DtCliRunMaker make, void *user, unsigned *settled,
                            GError **error)
{
    const DtRunOptions o = run_options();
    g_autoptr(DtSession) s = dt_session_new(p, port);
    g_autoptr(DtRun) r = make(s, &o, user, error);
    return r != NULL && settle_concerns(r, p, settled, error);
}

/* A person steers --------------------------------------------------------------------------- */

typedef struct {
    DtRun *run;
    GMainLoop *loop;
    DtRunView view;
    DtSnapshot seen; /* as of the last event, which is what the person knows */
    unsigned interrupts;
    gboolean detached;   /* the parent has been told that it draws */
    gboolean ended;      /* the run */
    gboolean to_suspend; /* once the pen is up */
    guint keys, suspend_limit;
    int suspend_fd;
} Client;

static gboolean request(Client *c, DtRequest what)
{
    return dt_run_request(c->run, what, c->seen.serial);
}

static const struct {
    char key;
    DtRequest request;
    const char *said; /* checked at once, since it may become true later only */
} keys[] = {
    {'\n', DT_REQUEST_GO_ON, NULL},
    {'p', DT_REQUEST_PAUSE_AT_LIFT, N_("p          pauses at the next lift")},
    {'c', DT_REQUEST_PAUSE_AT_CHANGE, N_("c          waits at the next pen change")},
    {'h', DT_REQUEST_PAUSE_NOW, NULL},
    {'a', DT_REQUEST_PARK, N_("a          parks at the next lift")},
    {'q', DT_REQUEST_STOP, N_("q          ends the run")},
};

static void take_key(Client *c, char key)
{
    if (key == '\n')
        c->interrupts = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++)
        if (keys[i].key == key && request(c, keys[i].request) && keys[i].said != NULL)
            dt_run_view_say(&c->view, _(keys[i].said));
}

static gboolean on_keys(int fd, GIOCondition condition, gpointer data);

/* If the run is in the background of its terminal, try again. */
static gboolean watch_keys(gpointer data)
{
    Client *c = data;
    c->keys = g_unix_fd_add(STDIN_FILENO, G_IO_IN | G_IO_HUP | G_IO_ERR, on_keys, c);
    return G_SOURCE_REMOVE;
}

/* Lines typed; see KEYS. Ends with the input. */
static gboolean on_keys(int fd, GIOCondition condition, gpointer data)
{
    Client *c = data;
    char text[256];
    (void)condition;
    const ssize_t n = read(fd, text, sizeof text);
    if (n < 0 && (errno == EAGAIN || errno == EINTR))
        return G_SOURCE_CONTINUE;
    for (ssize_t i = 0; i < n; i++)
        if (i == 0 || text[i - 1] == '\n')
            take_key(c, text[i]);
    if (n > 0)
        return G_SOURCE_CONTINUE;
    if (n < 0 && errno == EIO && isatty(fd))
        c->keys = g_timeout_add_seconds(1, watch_keys, c);
    else
        c->keys = 0;
    c->view.keys = c->keys != 0;
    return G_SOURCE_REMOVE;
}

/* A terminal or a pipe; no lines are typed into a file. */
static gboolean has_keys(void)
{
    struct stat st;
    return isatty(STDIN_FILENO) ||
           (fstat(STDIN_FILENO, &st) == 0 && (S_ISFIFO(st.st_mode) || S_ISSOCK(st.st_mode)));
}

/* Signals ----------------------------------------------------------------------------------- */

static gboolean on_interrupt(gpointer data)
{
    Client *c = data;
    if (c->interrupts++ > 0)
        request(c, DT_REQUEST_STOP);
    else if (request(c, DT_REQUEST_PAUSE_AT_LIFT))
        dt_run_view_say(&c->view, _("Ctrl-C     pauses at the next lift; once more ends the run"));
    return G_SOURCE_CONTINUE;
}

static gboolean on_terminate(gpointer data)
{
    request(data, DT_REQUEST_STOP);
    return G_SOURCE_CONTINUE;
}

static gboolean on_usr1(gpointer data)
{
    request(data, DT_REQUEST_GO_ON);
    return G_SOURCE_CONTINUE;
}

static gboolean on_usr2(gpointer data)
{
    request(data, DT_REQUEST_PAUSE_AT_LIFT);
    return G_SOURCE_CONTINUE;
}

static gboolean is_moving(DtState state)
{
    return state == DT_STATE_DRAWING || state == DT_STATE_HOMING || state == DT_STATE_ENDING;
}

/* The process is suspended until its terminal continues it; the run stays paused. */
static void suspend(Client *c)
{
    c->to_suspend = FALSE;
    g_clear_handle_id(&c->suspend_limit, g_source_remove);
    dt_run_view_close(&c->view);
    kill(getpid(), SIGSTOP);
    if (isatty(STDIN_FILENO))
        tcflush(STDIN_FILENO, TCIFLUSH); /* typed for whatever had the terminal meanwhile */
    if (c->seen.waits == DT_WAITS_FOR_PERSON)
        dt_run_view_say(&c->view, c->view.keys ? _("paused     with the pen up; Enter goes on")
                                               : _("paused     with the pen up"));
}

static gboolean on_suspend_limit(gpointer data)
{
    Client *c = data;
    c->suspend_limit = 0;
    suspend(c);
    return G_SOURCE_REMOVE;
}

/* Ctrl-Z: the pen is lifted first, as far as the board answers. */
static gboolean on_suspend(int fd, GIOCondition condition, gpointer data)
{
    enum { PATIENCE_S = 10 };
    Client *c = data;
    struct signalfd_siginfo info;
    (void)condition;
    if (read(fd, &info, sizeof info) != sizeof info || c->to_suspend)
        return G_SOURCE_CONTINUE;
    if (!is_moving(c->seen.state)) {
        suspend(c);
        return G_SOURCE_CONTINUE;
    }
    request(c, DT_REQUEST_PAUSE_NOW);
    dt_run_view_say(&c->view, _("Ctrl-Z     lifts the pen first"));
    c->to_suspend = TRUE;
    c->suspend_limit = g_timeout_add_seconds(PATIENCE_S, on_suspend_limit, c);
    return G_SOURCE_CONTINUE;
}

/* A run survives its terminal. */
static void catch_signals(Client *c)
{
    sigset_t stop;
    sigemptyset(&stop);
    sigaddset(&stop, SIGTSTP);
    pthread_sigmask(SIG_BLOCK, &stop, NULL); /* before the session has its thread */
    c->suspend_fd = signalfd(-1, &stop, SFD_CLOEXEC | SFD_NONBLOCK);
    g_unix_fd_add(c->suspend_fd, G_IO_IN, on_suspend, c);
    g_unix_signal_add(SIGINT, on_interrupt, c);
    g_unix_signal_add(SIGTERM, on_terminate, c);
    g_unix_signal_add(SIGUSR1, on_usr1, c);
    g_unix_signal_add(SIGUSR2, on_usr2, c);
    signal(SIGHUP, SIG_IGN);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGTTIN, SIG_IGN);
    signal(SIGTTOU, SIG_IGN);
}

/* The loop ---------------------------------------------------------------------------------- */

static void on_event(const DtEvent *e, void *user)
{
    Client *c = user;
    if (c->ended) /* that the session is free again is not an event of the run */
        return;
    c->seen = e->at;
    if (!background)
        dt_run_view_show(&c->view, e);
    else if (!c->detached && dt_run_id(c->run) != 0 && e->kind != DT_EVENT_WAITING) {
        dt_cli_tell_parent(dt_run_id(c->run));
        c->detached = TRUE;
    }
    if (c->to_suspend && !is_moving(e->at.state))
        suspend(c);
    if (e->kind == DT_EVENT_ENDED) {
        c->ended = TRUE;
        g_main_loop_quit(c->loop);
    }
}

static gboolean draw(Client *c, GError **error)
{
    const gboolean typed = !background && has_keys();
    c->view = dt_run_view(c->view.profile, as_json, typed);
    c->loop = g_main_loop_new(NULL, FALSE);
    catch_signals(c);
    if (typed)
        watch_keys(c);
    if (typed && !as_json)
        dt_cli_print(stdout,
                     "keys       with Enter: p pauses at the next lift, h at once, c at the next "
                     "pen change;\n           a parks to look at the sheet, Enter alone goes on, q "
                     "ends the run\n");
    const guint listener = dt_session_listen(dt_run_session(c->run), on_event, c);
    gboolean good = dt_run_start(c->run, ~0u, error); /* all were asked about before */
    if (good)
        g_main_loop_run(c->loop);
    dt_session_unlisten(dt_run_session(c->run), listener);
    dt_run_view_close(&c->view);
    good = good && dt_run_wait(c->run, error);
    close(c->suspend_fd);
    g_main_loop_unref(c->loop);
    return good;
}

/* A run that a person ended is reported as a problem too. */
static int exit_code(GError **error)
{
    if ((*error)->domain == DT_ERROR)
        return (*error)->code;
    GError *reported = g_error_new_literal(DT_ERROR, DT_ERROR_INPUT, (*error)->message);
    g_clear_error(error);
    *error = reported;
    return DT_ERROR_INPUT;
}

int dt_cli_running_draw(const DtProfile *p, DtCliRunMaker make, void *user, unsigned settled,
                        GError **error)
{
    const DtRunOptions o = run_options();
    int code = 0;
    if (!(replug_s >= 0)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "--replug takes 0 seconds or more");
        return DT_ERROR_USAGE;
    }
    if (background && !dt_cli_running_ask(p, make, user, &settled, error))
        return exit_code(error);
    if (background && !dt_cli_leave_terminal(&code, error))
        return code;
    g_autoptr(DtSession) s = dt_session_new(p, port);
    g_autoptr(DtRun) r = make(s, &o, user, error);
    if (r == NULL || !settle_concerns(r, p, &settled, error))
        return exit_code(error);
    Client c = {.run = r, .view.profile = p};
    return draw(&c, error) ? 0 : exit_code(error);
}
