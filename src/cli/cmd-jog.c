/* jog: home, move, lift and lower by hand. */
#include "cli/jogging.h"
#include "cli/print.h"

#include <math.h>
#include <string.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_jog = {
    .name = "jog",
    .usage = "--port PORT [home | by X,Y | to X,Y | up | down | park]... [OPTION...]",
    .summary = N_("home, move, lift and lower by hand: by the keys, or the motions given"),
    .about = "Homes the machine, then moves it as the motions say: home, by X,Y (mm from "
             "here), to X,Y (mm from the origin), up, down and park. Without motions it takes "
             "the keys of the terminal: arrows move, 1, 2 and 3 choose steps of 10, 1 and 0.1 "
             "mm, space lowers and lifts the pen, h homes, p parks, q ends. Places are kept "
             "within the travel. It ends with the pen up and the motors off.\n"
             "\n"
             "Keep hands, hair and cables away from what moves, and have the supply's switch "
             "in reach.",
    .examples = "drawtrue jog --port /dev/ttyUSB0 -m my.ini  # by the keys\n"
                "drawtrue jog --port /dev/ttyUSB0 -m my.ini --speed 10 to 50,60 down by 10,0 "
                "up park  # by a list",
    .run = run,
};

static const struct {
    const char *word;
    DtJogKind kind;
    gboolean has_place;
} words[] = {
    {"home", DT_JOG_HOME, FALSE}, {"by", DT_JOG_BY, TRUE},          {"to", DT_JOG_TO, TRUE},
    {"up", DT_JOG_PEN_UP, FALSE}, {"down", DT_JOG_PEN_DOWN, FALSE}, {"park", DT_JOG_PARK, FALSE},
};

/* One motion from the words at `argv`; returns how many words it has, 0 if they are wrong. */
static int read_motion(char **argv, double speed, DtJog *out)
{
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++) {
        if (strcmp(argv[0], words[i].word) != 0)
            continue;
        *out = (DtJog){.kind = words[i].kind, .speed = speed};
        if (!words[i].has_place)
            return 1;
        return argv[1] != NULL && dt_cli_read_place(argv[1], &out->x, &out->y) ? 2 : 0;
    }
    return 0;
}

static GArray *read_motions(char **argv, double speed, GError **error)
{
    g_autoptr(GArray) list = g_array_new(FALSE, FALSE, sizeof(DtJog));
    for (int used = 1; *argv != NULL; argv += used) {
        DtJog jog;
        used = read_motion(argv, speed, &jog);
        if (used == 0) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_USAGE,
                "'%s%s%s' is not a motion; motions are home, by X,Y (mm), to X,Y, up, down and "
                "park",
                argv[0], argv[1] ? " " : "", argv[1] ? argv[1] : "");
            return NULL;
        }
        g_array_append_val(list, jog);
    }
    return g_steal_pointer(&list);
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *port = NULL, *file = NULL;
    double speed = 0;
    gboolean json = FALSE;
    const GOptionEntry entries[] = {
        {"port", 'p', 0, G_OPTION_ARG_FILENAME, &port, N_("Serial port of the controller"), "PORT"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, N_("Machine profile"), "FILE"},
        {"speed", 's', 0, G_OPTION_ARG_DOUBLE, &speed,
         N_("Speed of the moves (the machine's fastest)"), "MM/S"},
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, N_("Print events as JSON, one on each line"),
         NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_jog, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (port == NULL || !(speed >= 0) || !isfinite(speed)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            port == NULL ? N_("jog: say where the controller is, with --port")
                                         : N_("jog: --speed takes 0 mm/s or more"));
        return DT_ERROR_USAGE;
    }
    g_autoptr(GArray) list = read_motions(argv + 1, speed, error);
    g_autoptr(DtProfile) p = list ? dt_cli_profile(file, error) : NULL;
    if (p == NULL)
        return (*error)->code;
    if (!json)
        dt_cli_print(
            stderr,
            "The machine homes first. Keep hands, hair and cables away from what moves, and have "
            "its\nsupply's switch in reach.\n");
    g_autoptr(DtSession) s = dt_session_new(p, port);
    const gboolean good =
        list->len > 0 ? dt_cli_jog_by_list(s, (const DtJog *)list->data, list->len, json, error)
                      : dt_cli_jog_by_keys(s, speed, NULL, NULL, 0, error);
    return good ? 0 : (*error)->code;
}
