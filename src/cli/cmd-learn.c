/* learn: finds out which words a connected controller accepts, and writes them into the profile. */
#include "cli/cli.h"
#include "cli/print.h"

#include "drawtrue/code.h"
#include "drawtrue/json.h"
#include "drawtrue/learn.h"

#include <glib-unix.h>
#include <signal.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_learn = {
    .name = "learn",
    .usage = "--port PORT --machine FILE [--output FILE] [--may-move | --still] [--json]",
    .summary = N_("ask a controller which words it takes, into the profile"),
    .about = "Tries the words of RS-274 on a connected controller one by one and writes those "
             "that it takes, and how it answers, into the profile, whose comments stay. Words "
             "that move the machine are tried only with --may-move or after you agree.\n"
             "\n"
             "Keep hands, hair and cords clear of the axes, and have the supply's switch in "
             "reach.",
    .examples = "drawtrue learn --port /dev/ttyUSB0 -m my.ini --still  # without any movement",
    .run = run,
};

typedef struct {
    GMainLoop *loop;
    FILE *report;
    DtSession *session;
} Client;

static void on_event(const DtEvent *e, void *user)
{
    Client *c = user;
    if (e->kind == DT_EVENT_FOUND)
        dt_cli_printf(c->report, "  %s\n", e->text);
    fflush(c->report);
    if (e->kind == DT_EVENT_ENDED)
        g_main_loop_quit(c->loop);
}

static gboolean on_signal(gpointer data)
{
    Client *c = data;
    dt_session_request(c->session, DT_REQUEST_STOP, 0);
    return G_SOURCE_CONTINUE;
}

/* Whether the machine may move: asked on a terminal, otherwise no. */
static gboolean ask_to_move(void)
{
    if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
        return FALSE;
    tcflush(STDIN_FILENO, TCIFLUSH); /* what was typed before the question is not an answer */
    dt_cli_print(
        stdout,
        "Some words can only be tried by moving: homing both axes, the pen once down and up, and\n"
        "arcs within 10 mm of home. Take the paper out or the pen off, keep hands, hair and cords\n"
        "clear of the axes, and have the supply's switch in reach. May it move? [y/N] ");
    fflush(stdout);
    char answer[16];
    return fgets(answer, sizeof answer, stdin) && g_ascii_tolower(answer[0]) == 'y';
}

static gboolean learn(const DtProfile *p, const char *port_path, gboolean may_move, FILE *report,
                      DtLearnt *out, GError **error)
{
    const DtLearnOptions o = {.boot_s = 8, .may_move = may_move};
    g_autoptr(DtSession) s = dt_session_new(p, port_path);
    g_autoptr(GMainLoop) loop = g_main_loop_new(NULL, FALSE);
    Client c = {loop, report, s};
    const guint listener = dt_session_listen(s, on_event, &c);
    signal(SIGTSTP,
           SIG_IGN); /* it ends by itself within minutes; if it were suspended, a pen might stay
                      * down */
    signal(SIGPIPE, SIG_IGN);
    const guint hung_up = g_unix_signal_add(SIGHUP, on_signal, &c);
    const guint interrupted = g_unix_signal_add(SIGINT, on_signal, &c);
    const guint terminated = g_unix_signal_add(SIGTERM, on_signal, &c);
    const gboolean begun = dt_session_learn(s, &o, error);
    if (begun)
        g_main_loop_run(loop);
    dt_session_unlisten(s, listener);
    g_source_remove(hung_up);
    g_source_remove(interrupted);
    g_source_remove(terminated);
    return begun && dt_session_learnt(s, out, error);
}

static gboolean note(const DtProfile *p, const char *file, const char *output,
                     const DtLearnt *learnt, GError **error)
{
    g_autoptr(GDateTime) now = g_date_time_new_now_local();
    g_autofree char *date = g_date_time_format(now, "%Y-%m-%d");
    return dt_link_note_learnt(p, file, output, learnt, date, error);
}

static void print_json(const DtLearnt *l, const char *output)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "profile", output);
    dt_json_text(b, "words", l->words);
    dt_json_text(b, "untried", l->untried);
    dt_json_text(b, "greeting", l->greeting);
    dt_json_text(b, "accept", l->accept);
    dt_json_text(b, "refuse", l->refuse);
    dt_json_text(b, "notices", l->notices);
    dt_json_text(b, "program_end", l->program_end);
    dt_json_text(b, "refused_lines", l->refused);
    dt_json_count(b, "window", (size_t)l->window);
    dt_json_count(b, "longest_line", (size_t)l->longest_line);
    dt_json_flag(b, "line_check", l->line_check);
    dt_json_flag(b, "tells_state", l->asks);
    dt_json_flag(b, "holds_at_once", l->holds);
    dt_json_flag(b, "abandons_at_once", l->abandons);
    dt_json_number(b, "latency_s", l->latency_s);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    dt_cli_print_report(text, TRUE);
    dt_cli_print(stdout, "\n");
}

/* Whether the profile that was written can draw. If no motion was permitted this is only
 * reported: it was to be expected. */
static gboolean check_written(const char *path, const DtLearnt *l, gboolean moved, FILE *report,
                              GError **error)
{
    g_autoptr(GError) problem = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(path, &problem);
    if (p != NULL && dt_code_check_profile(p, &problem))
        return TRUE;
    if (p != NULL && !moved && *l->refused == '\0') {
        dt_cli_printf(report, "it cannot draw yet: %s\n", problem->message);
        return TRUE;
    }
    g_propagate_error(error, g_steal_pointer(&problem));
    return FALSE;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *port = NULL, *file = NULL, *output = NULL;
    gboolean may_move = FALSE, still = FALSE, json = FALSE, force = FALSE;
    const GOptionEntry entries[] = {
        {"port", 'p', 0, G_OPTION_ARG_FILENAME, &port, N_("Where the controller is connected"),
         "PORT"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file,
         N_("The profile to fill in; its comments are kept"), "FILE"},
        {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output,
         N_("Write the profile here instead of in place"), "FILE"},
        {"may-move", 0, 0, G_OPTION_ARG_NONE, &may_move,
         N_("Try words that move too: home, the pen, and arcs within 10 mm of home"), NULL},
        {"still", 0, 0, G_OPTION_ARG_NONE, &still, N_("Do not ask: nothing may move"), NULL},
        DT_CLI_FORCE(force),
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, N_("Report as JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_learn, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (port == NULL || file == NULL || argc > 1 || (may_move && still)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    port == NULL ? N_("learn: say where the controller is, with --port")
                    : file == NULL
                        ? N_("learn: say which profile is to be filled in, with --machine")
                    : argc > 1 ? N_("learn: '%s' is one argument too many")
                               : N_("learn: --may-move and --still exclude each other"),
                    argc > 1 ? argv[1] : "");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_profile_load(file, error);
    if (p == NULL)
        return (*error)->code;
    if (output != NULL && g_strcmp0(output, file) != 0 &&
        !dt_cli_claim_output(output, DT_FILE_PROFILE, NULL, p, force, error))
        return (*error)->code;
    DtLearnt learnt;
    gboolean move = may_move || (!still && ask_to_move());
    if (!learn(p, port, move, json ? stderr : stdout, &learnt, error))
        return (*error)->code;
    const char *to = output ? output : file;
    gboolean good = note(p, file, to, &learnt, error);
    if (good && json)
        print_json(&learnt, to);
    else if (good)
        dt_cli_printf(stdout, "written to %s\n", to);
    good = good && check_written(to, &learnt, move, json ? stderr : stdout, error);
    dt_learnt_clear(&learnt);
    return good ? 0 : (*error)->code;
}
