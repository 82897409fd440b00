/* learn: asks a connected controller which words it takes, and writes them into the profile. */
#include "cli/cli.h"

#include "drawtrue/code.h"
#include "drawtrue/link.h"
#include "drawtrue/json.h"

#include <string.h>
#include <unistd.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_learn = {
    .name = "learn",
    .usage = "--port PORT --machine FILE [--output FILE] [--may-move | --still] [--json]",
    .summary = "ask a controller which words it takes, into the profile",
    .run = run,
};

static void tell(const char *text, void *user)
{
    fprintf(user, "  %s\n", text);
    fflush(user);
}

/* Whether the machine may move: asked for on a terminal, else no. */
static gboolean ask_to_move(void)
{
    if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
        return FALSE;
    fputs(
        "Some words can only be tried by moving: homing both axes, the pen once down and up, and\n"
        "arcs within 10 mm of home. Take the paper out or the pen off, keep hands, hair and cords\n"
        "clear of the axes, and have the supply's switch in reach. May it move? [y/N] ",
        stdout);
    fflush(stdout);
    char answer[16];
    return fgets(answer, sizeof answer, stdin) && g_ascii_tolower(answer[0]) == 'y';
}

static gboolean learn(const DtProfile *p, const char *port_path, gboolean may_move, FILE *report,
                      DtLearnt *out, GError **error)
{
    DtLearnOptions o = {.boot_s = 8, .may_move = may_move, .tell = tell, .user = report};
    if (!dt_link_open(port_path, p->dialect.baud, &o.wire, error))
        return FALSE;
    gboolean good = dt_link_learn(p, &o, out, error);
    dt_link_close(&o.wire);
    return good;
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
    dt_json_text(b, "greeting", l->greeting);
    dt_json_text(b, "accept", l->accept);
    dt_json_text(b, "refuse", l->refuse);
    dt_json_count(b, "window", (size_t)l->window);
    dt_json_count(b, "longest_line", (size_t)l->longest_line);
    dt_json_flag(b, "line_check", l->line_check);
    dt_json_flag(b, "tells_state", l->asks);
    dt_json_flag(b, "holds_at_once", l->holds);
    dt_json_number(b, "latency_s", l->latency_s);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    puts(text);
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *port = NULL, *file = NULL, *output = NULL;
    gboolean may_move = FALSE, still = FALSE, json = FALSE;
    const GOptionEntry entries[] = {
        {"port", 'p', 0, G_OPTION_ARG_FILENAME, &port, "Where the controller is connected", "PORT"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file,
         "The profile that is to be filled in; its comments stay", "FILE"},
        {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output,
         "Write the profile here instead of in place", "FILE"},
        {"may-move", 0, 0, G_OPTION_ARG_NONE, &may_move,
         "Try words that move too: home, the pen, and arcs within 10 mm of home", NULL},
        {"still", 0, 0, G_OPTION_ARG_NONE, &still, "Do not ask: nothing may move", NULL},
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, "Report as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_learn, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (port == NULL || file == NULL || argc > 1 || (may_move && still)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    port == NULL   ? "learn: say where the controller is, with --port"
                    : file == NULL ? "learn: say which profile is to be filled in, with --machine"
                    : argc > 1     ? "learn: '%s' is one argument too many"
                                   : "learn: --may-move and --still exclude each other",
                    argc > 1 ? argv[1] : "");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_profile_load(file, error);
    if (p == NULL)
        return (*error)->code;
    DtLearnt learnt;
    gboolean move = may_move || (!still && ask_to_move());
    if (!learn(p, port, move, json ? stderr : stdout, &learnt, error))
        return (*error)->code;
    gboolean good = note(p, file, output ? output : file, &learnt, error);
    if (good && json)
        print_json(&learnt, output ? output : file);
    else if (good)
        printf("written to %s\n", output ? output : file);
    dt_learnt_clear(&learnt);
    return good ? 0 : (*error)->code;
}
