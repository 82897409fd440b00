/* bench-faults-terminal: the program itself in a terminal of its own that is stopped by Ctrl-Z, hangs up
 * or is closed; and learning on a board that restarts meanwhile. */
#include "bench-faults.h"

#include <errno.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { PATIENCE_S = 120, TICK_US = 2000 };

typedef struct {
    int terminal; /* -1 once it is closed */
    pid_t pid;
    int status;
    gboolean ended;
    GString *said;
} Child;

static gboolean start_child(Child *c, char *const argv[])
{
    *c = (Child){.said = g_string_new(NULL)};
    c->pid = forkpty(&c->terminal, NULL, NULL, NULL);
    if (c->pid == 0) {
        execv(argv[0], argv);
        _exit(127);
    }
    return c->pid > 0;
}

/* Takes what it says; TRUE while it lives. */
static gboolean attend(Child *c)
{
    struct pollfd p = {c->terminal, POLLIN, 0};
    char text[1024];
    while (c->terminal >= 0 && poll(&p, 1, 0) > 0) {
        const ssize_t n = read(c->terminal, text, sizeof text);
        if (n <= 0)
            break;
        g_string_append_len(c->said, text, n);
    }
    if (!c->ended && waitpid(c->pid, &c->status, WNOHANG | WUNTRACED) == c->pid &&
        !WIFSTOPPED(c->status))
        c->ended = TRUE;
    g_usleep(TICK_US);
    return !c->ended;
}

static void close_terminal(Child *c)
{
    if (c->terminal >= 0)
        close(c->terminal);
    c->terminal = -1;
}

/* Ctrl-Z: it goes to sleep with the pen up, wakes and stays paused until a person presses Enter. */
static const char *put_to_sleep(Child *c, const TerminalPlay *p)
{
    const gint64 until = g_get_monotonic_time() + 30 * G_USEC_PER_SEC;
    kill(c->pid, SIGTSTP);
    c->status = 0;
    while (attend(c) && !WIFSTOPPED(c->status) && g_get_monotonic_time() < until)
        ;
    if (c->ended)
        return NULL; /* it had drawn all */
    if (!WIFSTOPPED(c->status))
        return "it does not go to sleep";
    if (!p->is_safe(p->user))
        return "it sleeps with the pen down";
    c->status = 0;
    kill(c->pid, SIGCONT);
    return NULL;
}

static void press_enter(Child *c)
{
    static const char enter = '\n';
    if (c->terminal >= 0 && write(c->terminal, &enter, 1) < 0)
        close_terminal(c);
}

const char *faults_play_terminal(const TerminalPlay *p, gboolean *came, char **said)
{
    Child c;
    const char *wrong = NULL;
    if (!start_child(&c, p->argv))
        return "it cannot be started";
    const gint64 until = g_get_monotonic_time() + PATIENCE_S * (gint64)G_USEC_PER_SEC;
    while ((unsigned)g_atomic_int_get(p->answered) < p->lines && attend(&c))
        ;
    g_usleep((gulong)(p->after_s * 1e6));
    *came = !c.ended;
    if (c.ended)
        ;
    else if (p->fault == TERMINAL_SLEEPS)
        wrong = put_to_sleep(&c, p);
    else if (p->fault == TERMINAL_HANGS_UP)
        kill(c.pid, SIGHUP);
    else
        close_terminal(&c);
    gint64 enter_at = 0;
    while (attend(&c) && wrong == NULL && g_get_monotonic_time() < until) {
        if (p->fault == TERMINAL_SLEEPS && g_get_monotonic_time() > enter_at) {
            press_enter(&c);
            enter_at = g_get_monotonic_time() + G_USEC_PER_SEC / 2;
        }
    }
    if (!c.ended) {
        kill(c.pid, SIGKILL);
        waitpid(c.pid, &c.status, 0);
        wrong = wrong ? wrong : "it does not end";
    }
    attend(&c);
    if (wrong == NULL && !(WIFEXITED(c.status) && WEXITSTATUS(c.status) == 0))
        wrong = "it did not draw on";
    close_terminal(&c);
    *said = g_string_free(c.said, FALSE);
    return wrong;
}

/* The lines of a profile that learning writes, but for its date. */
static char *learnt_lines(const char *path)
{
    g_autofree char *text = NULL;
    GString *out = g_string_new(NULL);
    if (!g_file_get_contents(path, &text, NULL, NULL))
        return g_string_free(out, FALSE);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **l = lines; *l != NULL; l++)
        if (**l != '#')
            g_string_append_printf(out, "%s\n", *l);
    return g_string_free(out, FALSE);
}

char *faults_learn(const char *program, const char *port, const char *profile, const char *to,
                   char **said)
{
    char *argv[] = {(char *)program, "learn",         "--port", (char *)port,
                    "--machine",     (char *)profile, "-o",     (char *)to,
                    "--may-move",    "--force",       NULL};
    int status = 0;
    g_autofree char *out = NULL, *err = NULL;
    const gboolean good =
        g_spawn_sync(NULL, argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &out, &err, &status, NULL) &&
        WIFEXITED(status) && WEXITSTATUS(status) == 0;
    *said = g_strconcat(out ? out : "", err ? err : "", NULL);
    return good ? learnt_lines(to) : NULL;
}
