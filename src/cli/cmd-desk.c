/* desk: the local web page. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/desk.h"
#include "drawtrue/json.h"
#include "drawtrue/rig.h"

#include <gio/gio.h>
#include <glib-unix.h>
#include <signal.h>

typedef struct {
    char *machine, *port, *journal, *folder, *work, *rig_file, *ink;
    gboolean rig, real_time, no_browser, json;
    int listen;
} Options;

/* The virtual machine, on a thread of its own. */
typedef struct {
    DtRig *rig;
    const char *port;
    gboolean real_time;
    volatile int stop;
    GThread *thread;
} Workshop;

static gpointer serve_rig(gpointer data)
{
    Workshop *w = data;
    g_autoptr(GError) error = NULL;
    if (!dt_rig_serve(w->rig, w->real_time, FALSE, &w->stop, &error))
        dt_cli_printf(stderr, "drawtrue: %s\n", error->message);
    return NULL;
}

static gboolean start_rig(Workshop *w, const Options *o, GError **error)
{
    w->rig = dt_rig_new(o->rig_file, error);
    w->real_time = o->real_time;
    if (w->rig == NULL || (w->port = dt_rig_open_port(w->rig, error)) == NULL)
        return FALSE;
    w->thread = g_thread_new("rig", serve_rig, w);
    return TRUE;
}

static gboolean end_rig(Workshop *w, const Options *o, GError **error)
{
    w->stop = 1;
    if (w->thread != NULL)
        g_thread_join(w->thread);
    const gboolean good = w->rig == NULL || o->ink == NULL || dt_rig_write(w->rig, o->ink, error);
    g_clear_pointer(&w->rig, dt_rig_free);
    return good;
}

static void print_address(const char *address, const Options *o)
{
    if (!o->json) {
        dt_cli_printf(stdout,
                      "desk       %s\n"
                      "           for this computer alone, and for whoever has this address; "
                      "Ctrl-C ends it\n",
                      address);
    } else {
        g_autoptr(JsonBuilder) b = json_builder_new();
        json_builder_begin_object(b);
        dt_json_text(b, "address", address);
        json_builder_end_object(b);
        g_autofree char *text = dt_json_write(b, FALSE);
        dt_cli_print_report(text, TRUE);
        dt_cli_print_report("\n", TRUE);
    }
    fflush(stdout);
}

/* The desktop's own way of opening a page; without one the printed address must suffice. */
static void open_browser(const char *address, const Options *o)
{
    const gboolean shown = g_getenv("DISPLAY") != NULL || g_getenv("WAYLAND_DISPLAY") != NULL;
    if (!o->no_browser && !o->json && shown)
        g_app_info_launch_default_for_uri_async(address, NULL, NULL, NULL, NULL);
}

static gboolean on_signal(gpointer loop)
{
    g_main_loop_quit(loop);
    return G_SOURCE_CONTINUE;
}

static int serve(const Options *o, const DtDeskOptions *options, const char *file, GError **error)
{
    g_autoptr(DtDesk) d = dt_desk_new(options, error);
    if (d == NULL || (file != NULL && !dt_desk_open(d, file, error)))
        return DT_ERROR_INPUT;
    g_autoptr(GMainLoop) loop = g_main_loop_new(NULL, FALSE);
    g_unix_signal_add(SIGINT, on_signal, loop);
    g_unix_signal_add(SIGTERM, on_signal, loop);
    signal(SIGHUP, SIG_IGN); /* a run does not die with its terminal */
    signal(SIGPIPE, SIG_IGN);
    print_address(dt_desk_address(d), o);
    open_browser(dt_desk_address(d), o);
    g_main_loop_run(loop);
    return 0;
}

static int run_desk(Options *o, const char *file, GError **error)
{
    Workshop w = {0};
    g_autoptr(GError) lost = NULL;
    const char *machine = o->machine ? o->machine : g_getenv("DRAWTRUE_MACHINE");
    DtDeskOptions options = {.machine = machine && *machine ? machine : NULL,
                             .port = o->port,
                             .journal = o->journal,
                             .folder = o->folder,
                             .work = o->work,
                             .listen = (uint16_t)o->listen,
                             .is_rig = o->rig};
    int code = DT_ERROR_INPUT;
    if (!o->rig || start_rig(&w, o, error)) {
        if (o->rig)
            options.port = w.port;
        code = serve(o, &options, file, error);
    }
    if (!end_rig(&w, o, &lost) && *error == NULL) {
        g_propagate_error(error, g_steal_pointer(&lost));
        code = DT_ERROR_IO;
    }
    return code;
}

static gboolean is_sound(const Options *o, int argc, GError **error)
{
    const char *why = argc > 2 ? _("desk takes one drawing or program at most")
                      : o->listen < 0 || o->listen > 65535
                          ? _("--listen takes a TCP port, 0 to 65535")
                      : o->rig && o->port ? _("--rig brings a port of its own")
                      : !o->rig && (o->rig_file || o->ink || o->real_time)
                          ? _("--rig-file, --ink and --real-time go with --rig")
                          : NULL;
    if (why != NULL)
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, why);
    return why == NULL;
}

static int run(int argc, char **argv, GError **error)
{
    Options o = {0};
    const GOptionEntry entries[] = {
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &o.machine, N_("Machine profile"), "FILE"},
        {"port", 'p', 0, G_OPTION_ARG_FILENAME, &o.port, N_("Serial port of the controller"),
         "PORT"},
        {"rig", 0, 0, G_OPTION_ARG_NONE, &o.rig, N_("Start the virtual machine with it"), NULL},
        {"rig-file", 0, 0, G_OPTION_ARG_FILENAME, &o.rig_file, N_("Its rig file"), "RIG.ini"},
        {"real-time", 0, 0, G_OPTION_ARG_NONE, &o.real_time, N_("It runs by the wall clock"), NULL},
        {"ink", 0, 0, G_OPTION_ARG_FILENAME, &o.ink, N_("Write its ink there at the end"),
         "FOLDER"},
        {"folder", 0, 0, G_OPTION_ARG_FILENAME, &o.folder,
         N_("The page may open files below this folder (the current one)"), "FOLDER"},
        {"work", 0, 0, G_OPTION_ARG_FILENAME, &o.work, N_("Keep programs and uploads there"),
         "FOLDER"},
        {"journal", 0, 0, G_OPTION_ARG_FILENAME, &o.journal, N_("Keep the journal in this file"),
         "FILE"},
        {"listen", 0, 0, G_OPTION_ARG_INT, &o.listen,
         N_("TCP port on this computer (any free one)"), "N"},
        {"no-browser", 0, 0, G_OPTION_ARG_NONE, &o.no_browser, N_("Only print the address"), NULL},
        {"json", 0, 0, G_OPTION_ARG_NONE, &o.json, N_("Print the address as JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    int code = 0;
    if (!dt_cli_parse(&dt_command_desk, entries, &argc, &argv, error))
        code = *error ? DT_ERROR_USAGE : 0;
    else if (!is_sound(&o, argc, error))
        code = DT_ERROR_USAGE;
    else
        code = run_desk(&o, argc == 2 ? argv[1] : NULL, error);
    char *all[] = {o.machine, o.port, o.rig_file, o.ink, o.folder, o.work, o.journal};
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
        g_free(all[i]);
    return code;
}

const DtCommand dt_command_desk = {
    .name = "desk",
    .usage = "[FILE] [--machine FILE] [--port PORT | --rig] [OPTION...]",
    .summary = N_("the local web page"),
    .about =
        "Opens a page in the browser from which a drawing is planned, seen, drawn and watched on "
        "this computer. The page is served to this computer alone, and nothing is fetched from "
        "elsewhere. With --rig the virtual machine takes the place of the plotter, to try "
        "everything on.\n\nA plotter moves by itself: keep fingers, hair and cords out of its way, "
        "keep its switch in reach, and do not leave it alone.",
    .examples = "drawtrue desk garden-bed.svg -m my.ini --port /dev/ttyUSB0  # at the plotter\n"
                "drawtrue desk --rig  # on the virtual machine",
    .run = run,
};
