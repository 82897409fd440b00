/* cmd-rig: the virtual machine on a pseudo-terminal. */
#include "cli.h"
#include "drawtrue/rig.h"

#include <signal.h>
#include <string.h>

static volatile int stop;

static void on_signal(int number)
{
    (void)number;
    stop = 1;
}

static void catch_signals(void)
{
    struct sigaction a = {.sa_handler = on_signal};
    sigemptyset(&a.sa_mask);
    sigaction(SIGTERM, &a, NULL);
    sigaction(SIGINT, &a, NULL);
    signal(SIGPIPE, SIG_IGN);
}

static void report(const DtRig *r, const char *folder)
{
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_autofree char *time = dt_cli_duration(f.time_s);
    printf("time       %s on the machine's clock\n", time);
    printf("ink        %.1f mm in %zu strokes, %.1f mm of travel\n", f.ink_mm,
           dt_rig_stroke_count(r), f.travel_mm);
    printf("lines      %u taken, %u refused, %u bytes lost\n", f.lines_taken, f.lines_refused,
           f.bytes_lost);
    printf("machine    %u end-stop hits; pen %s at %.2f %.2f\n", f.endstop_hits,
           f.pen_up_at_end ? "up" : "down", f.end_x, f.end_y);
    printf("pen        %.2f mm told down but dry, %.2f mm dragged, %u changes\n", f.dry_mm,
           f.drag_mm, f.pen_changes);
    if (folder)
        printf("ink is in  %s\n", folder);
}

static int serve(DtRig *r, const char *link, const char *out, gboolean real_time, gboolean once,
                 gboolean json, GError **error)
{
    const char *port = dt_rig_open_port(r, error);
    if (port == NULL || (link && !dt_rig_link_port(r, link, error)))
        return DT_ERROR_IO;
    printf(json ? "{\"port\": \"%s\"}\n" : "port       %s\n", link ? link : port);
    fflush(stdout);
    catch_signals();
    if (!dt_rig_serve(r, real_time, once, &stop, error))
        return DT_ERROR_IO;
    if (out && !dt_rig_write(r, out, error))
        return DT_ERROR_IO;
    if (json) {
        g_autofree char *figures = dt_rig_figures_json(r);
        puts(figures);
    } else {
        report(r, out);
    }
    return 0;
}

static int run(int argc, char **argv, GError **error)
{
    char *link = NULL, *out = NULL;
    gboolean real_time = FALSE, once = FALSE, json = FALSE, template = FALSE;
    const GOptionEntry entries[] = {
        {"link", 0, 0, G_OPTION_ARG_FILENAME, &link, "Keep a symbolic link to the port here",
         "PATH"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "Write ink.json, ink.svg and ink.png there",
         "FOLDER"},
        {"real-time", 0, 0, G_OPTION_ARG_NONE, &real_time, "Run by the wall clock", NULL},
        {"once", 0, 0, G_OPTION_ARG_NONE, &once, "End when the sender hangs up", NULL},
        {"template", 0, 0, G_OPTION_ARG_NONE, &template, "Print a rig file with every key", NULL},
        {"json", 0, 0, G_OPTION_ARG_NONE, &json, "Print JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    int code = 0;
    if (!dt_cli_parse(&dt_command_rig, entries, &argc, &argv, error)) {
        code = DT_ERROR_USAGE;
    } else if (template) {
        g_autofree char *text = dt_rig_template();
        fputs(text, stdout);
    } else if (argc > 2) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "rig: one rig file, not %d", argc - 1);
        code = DT_ERROR_USAGE;
    } else {
        g_autoptr(DtRig) r = dt_rig_new(argc == 2 ? argv[1] : NULL, error);
        code = r ? serve(r, link, out, real_time, once, json, error) : DT_ERROR_INPUT;
    }
    g_free(link);
    g_free(out);
    return code;
}

const DtCommand dt_command_rig = {
    .name = "rig",
    .usage = "[RIG.ini] [--link PATH] [--out FOLDER] [--real-time] [--once] [--json]",
    .summary = "the virtual machine on a pseudo-terminal",
    .run = run,
};
