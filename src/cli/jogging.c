/* jogging: see jogging.h. One motion at a time: what is typed while the machine moves or homes
 * is discarded, so that it stops when the key is released. */
#include "cli/jogging.h"

#include "cli/print.h"

#include "drawtrue/report.h"

#include <errno.h>
#include <gio/gio.h>
#include <glib-unix.h>
#include <math.h>
#include <signal.h>
#include <string.h>
#include <sys/signalfd.h>
#include <termios.h>
#include <unistd.h>

typedef struct {
    DtSession *session;
    GMainLoop *loop;
    double speed, step;
    const char *const *names;
    DtPoint *places;
    size_t n, taken;
    const DtJog *list;
    size_t n_list, done;
    gboolean json, by_keys, ends, to_suspend;
    struct termios before;
    char escape[2];
    size_t escaped;
    GError *error;
} Jogger;

gboolean dt_cli_read_place(const char *text, double *x, double *y)
{
    char *end;
    *x = g_ascii_strtod(text, &end);
    if (end == text || *end != ',')
        return FALSE;
    const char *second = end + 1 + strspn(end + 1, " ");
    *y = g_ascii_strtod(second, &end);
    return end != second && *end == '\0' && isfinite(*x) && isfinite(*y);
}

/* Motions ----------------------------------------------------------------------------------- */

static gboolean jog(Jogger *j, DtJogKind kind, double x, double y)
{
    return dt_session_jog(j->session, &(DtJog){kind, x, y, j->speed}, NULL);
}

/* Ends as soon as the machine stands still. */
static void end(Jogger *j)
{
    j->ends = TRUE;
    if (!jog(j, DT_JOG_END, 0, 0))
        dt_session_request(j->session, DT_REQUEST_STOP, 0);
}

static void fail(Jogger *j, int code, const char *text)
{
    if (j->error == NULL)
        j->error = g_error_new_literal(DT_ERROR, code, text);
}

static void next_of_list(Jogger *j)
{
    if (j->done == j->n_list) {
        end(j);
        return;
    }
    if (!dt_session_jog(j->session, &j->list[j->done++], &j->error))
        end(j);
}

/* Keys -------------------------------------------------------------------------------------- */

static void show(const Jogger *j, const DtSnapshot *now)
{
    const char *what = now->state == DT_STATE_HOMING  ? _("homing; keep clear of the axes")
                       : now->state == DT_STATE_READY ? ""
                                                      : dt_report_state_name(now->state);
    const gboolean asks = j->taken < j->n;
    g_autoptr(GString) line = g_string_new(NULL);
    if (asks)
        g_string_append_printf(line, _("%s corner: "), _(j->names[j->taken]));
    g_string_append(line, what);
    if (*what == '\0')
        g_string_append_printf(line, _("X %.2f Y %.2f mm, step %g mm, pen %s"), now->at.x,
                               now->at.y, j->step, now->pen_down ? _("down") : _("up"));
    dt_cli_show_line(stdout, line->str);
}

static void take_place(Jogger *j, const DtSnapshot *now)
{
    if (j->n == 0 || now->state != DT_STATE_READY)
        return;
    j->places[j->taken++] = now->tip;
    putchar('\n');
    if (j->taken == j->n)
        end(j);
    else if (now->pen_down)
        jog(j, DT_JOG_PEN_UP, 0, 0);
    else
        show(j, now);
}

static void quit(Jogger *j)
{
    putchar('\n');
    if (j->n > 0)
        fail(j, DT_ERROR_INPUT, _("placing was ended by hand"));
    end(j);
}

static void take_key(Jogger *j, char key)
{
    DtSnapshot now;
    dt_session_snapshot(j->session, &now);
    static const struct {
        char key;
        double x, y;
    } ways[] = {{'A', 0, 1}, {'B', 0, -1}, {'C', 1, 0}, {'D', -1, 0}};
    for (gsize i = 0; j->escaped == 2 && i < G_N_ELEMENTS(ways); i++)
        if (ways[i].key == key)
            jog(j, DT_JOG_BY, ways[i].x * j->step, ways[i].y * j->step);
    if (j->escaped == 2)
        return;
    if (key >= '1' && key <= '3') {
        j->step = key == '1' ? 10 : key == '2' ? 1 : 0.1;
        show(j, &now);
    } else if (key == ' ') {
        jog(j, now.pen_down ? DT_JOG_PEN_UP : DT_JOG_PEN_DOWN, 0, 0);
    } else if (key == 'h') {
        jog(j, DT_JOG_HOME, 0, 0);
    } else if (key == 'p') {
        jog(j, DT_JOG_PARK, 0, 0);
    } else if (key == '\n' || key == '\r') {
        take_place(j, &now);
    } else if (key == 'q') {
        quit(j);
    }
}

/* Arrows are ESC [ A to D (ECMA-48 cursor keys). */
static void take_byte(Jogger *j, char byte)
{
    const gboolean introduces = j->escaped == 1 && (byte == '[' || byte == 'O');
    if (byte == 0x1B || introduces) {
        j->escaped = byte == 0x1B ? 1 : 2;
        return;
    }
    take_key(j, byte);
    j->escaped = 0;
}

static gboolean on_keys(int fd, GIOCondition condition, gpointer data)
{
    Jogger *j = data;
    char bytes[64];
    (void)condition;
    const ssize_t n = read(fd, bytes, sizeof bytes);
    if (n < 0 && (errno == EAGAIN || errno == EINTR))
        return G_SOURCE_CONTINUE;
    for (ssize_t i = 0; i < n && !j->ends; i++)
        take_byte(j, bytes[i]);
    if (n > 0)
        return G_SOURCE_CONTINUE;
    if (!j->ends)
        fail(j, DT_ERROR_INPUT, _("the terminal is gone; jogging was ended"));
    if (!j->ends)
        quit(j);
    return G_SOURCE_REMOVE;
}

/* The terminal and signals ------------------------------------------------------------------ */

static void set_raw(Jogger *j)
{
    struct termios raw = j->before;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &raw);
}

static void suspend(Jogger *j)
{
    j->to_suspend = FALSE;
    if (j->by_keys)
        tcsetattr(STDIN_FILENO, TCSANOW, &j->before);
    kill(getpid(), SIGSTOP);
    if (j->by_keys)
        set_raw(j);
}

/* Ctrl-Z: the pen is lifted before the program is suspended. */
static gboolean on_suspend(int fd, GIOCondition condition, gpointer data)
{
    Jogger *j = data;
    struct signalfd_siginfo info;
    (void)condition;
    if (read(fd, &info, sizeof info) != sizeof info)
        return G_SOURCE_CONTINUE;
    DtSnapshot now;
    dt_session_snapshot(j->session, &now);
    const gboolean stands = now.state == DT_STATE_READY || now.state == DT_STATE_CLOSED;
    if (stands && (!now.pen_down || !jog(j, DT_JOG_PEN_UP, 0, 0)))
        suspend(j);
    else
        j->to_suspend = TRUE;
    return G_SOURCE_CONTINUE;
}

static gboolean on_signal(gpointer data)
{
    Jogger *j = data;
    if (!j->ends)
        fail(j, DT_ERROR_INPUT, _("jogging was ended by hand"));
    if (!j->ends)
        end(j);
    return G_SOURCE_CONTINUE;
}

static void say(const DtEvent *e)
{
    const DtSnapshot *s = &e->at;
    g_autofree char *text = dt_report_event_text(e, NULL);
    if (text != NULL)
        dt_cli_printf(stdout, "%s\n", text);
    if (s->state == DT_STATE_READY && s->homed)
        dt_cli_printf(stdout, "position   X %.2f Y %.2f mm, pen %s\n", s->at.x, s->at.y,
                      s->pen_down ? _("down") : _("up"));
    fflush(stdout);
}

/* Its text says why it closed; a pen that is down is lifted before the program is suspended. */
static void on_event(const DtEvent *e, void *user)
{
    Jogger *j = user;
    if (j->json) {
        g_autofree char *text = dt_report_event_json(e);
        dt_cli_print_report(text, TRUE);
        dt_cli_print_report("\n", TRUE);
        fflush(stdout);
    } else if (j->by_keys && !j->ends) {
        show(j, &e->at);
    } else if (!j->by_keys) {
        say(e);
    }
    if (e->at.state == DT_STATE_CLOSED) {
        if (e->text != NULL)
            fail(j, DT_ERROR_INPUT, e->text);
        g_main_loop_quit(j->loop);
    } else if (e->at.state == DT_STATE_READY && j->ends) {
        end(j);
    } else if (e->at.state == DT_STATE_READY && j->to_suspend) {
        if (!e->at.pen_down || !jog(j, DT_JOG_PEN_UP, 0, 0))
            suspend(j);
    } else if (e->at.state == DT_STATE_READY && !j->by_keys) {
        next_of_list(j);
    }
}

static gboolean work(Jogger *j, GError **error)
{
    static const int ending[] = {SIGINT, SIGTERM, SIGHUP};
    sigset_t stop;
    sigemptyset(&stop);
    sigaddset(&stop, SIGTSTP);
    pthread_sigmask(SIG_BLOCK, &stop, NULL); /* before the session has its thread */
    const int suspend_fd = signalfd(-1, &stop, SFD_CLOEXEC | SFD_NONBLOCK);
    guint sources[G_N_ELEMENTS(ending) + 2] = {g_unix_fd_add(suspend_fd, G_IO_IN, on_suspend, j)};
    for (gsize i = 0; i < G_N_ELEMENTS(ending); i++)
        sources[i + 1] = g_unix_signal_add(ending[i], on_signal, j);
    if (j->by_keys)
        g_unix_fd_add(STDIN_FILENO, G_IO_IN | G_IO_HUP | G_IO_ERR, on_keys, j);
    j->loop = g_main_loop_new(NULL, FALSE);
    const guint listener = dt_session_listen(j->session, on_event, j);
    if (dt_session_jog(j->session, &(DtJog){.kind = DT_JOG_HOME}, &j->error))
        g_main_loop_run(j->loop);
    dt_session_unlisten(j->session, listener);
    for (gsize i = 0; i <= G_N_ELEMENTS(ending); i++)
        g_source_remove(sources[i]);
    if (j->by_keys)
        g_source_remove_by_user_data(j); /* the source of keys, if it still exists */
    close(suspend_fd);
    pthread_sigmask(SIG_UNBLOCK, &stop, NULL);
    g_main_loop_unref(j->loop);
    if (j->error == NULL)
        return TRUE;
    g_propagate_error(error, j->error);
    return FALSE;
}

gboolean dt_cli_jog_by_keys(DtSession *s, double speed, const char *const *names, DtPoint *places,
                            size_t n, GError **error)
{
    Jogger j = {.session = s,
                .speed = speed,
                .step = 10,
                .names = names,
                .places = places,
                .n = n,
                .by_keys = TRUE};
    if (tcgetattr(STDIN_FILENO, &j.before) != 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "moving by keys needs a terminal on the standard input");
        return FALSE;
    }
    dt_cli_print(
        stdout,
        "The arrow keys move the pen; 1, 2 and 3 step by 10, 1 and 0.1 mm, space lets it touch\n"
        "and lifts it, h homes, p parks, q ends. What is typed while it moves is discarded.\n");
    set_raw(&j);
    const gboolean good = work(&j, error);
    tcsetattr(STDIN_FILENO, TCSAFLUSH, &j.before);
    return good;
}

gboolean dt_cli_jog_by_list(DtSession *s, const DtJog *list, size_t n, gboolean json,
                            GError **error)
{
    Jogger j = {.session = s, .list = list, .n_list = n, .json = json};
    return work(&j, error);
}
