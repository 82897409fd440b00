/* cmd-rig: the virtual machine on a pseudo-terminal. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/json.h"
#include "drawtrue/rig.h"

#include <errno.h>
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
    sigaction(SIGHUP, &a, NULL);
    signal(SIGPIPE, SIG_IGN);
}

/* One line of the log for each line that the board has answered: the time, how far the motors
 * have turned since the last one, the line and the answer. */
typedef struct {
    DtRig *rig;
    FILE *file;
    guint64 steps[2];
} Log;

static void log_line(const char *line, const char *answer, void *user)
{
    Log *l = user;
    DtRigFigures f;
    dt_rig_figures(l->rig, &f);
    fprintf(l->file, "%12.6f s  %6" PRIu64 " %6" PRIu64 " steps  %s  ->  %s\n",
            dt_rig_clock_s(l->rig), f.steps[0] - l->steps[0], f.steps[1] - l->steps[1], line,
            answer);
    memcpy(l->steps, f.steps, sizeof l->steps);
}

static gboolean open_log(Log *l, DtRig *r, const char *path, GError **error)
{
    *l = (Log){.rig = r, .file = fopen(path, "we")};
    if (l->file == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, g_strerror(errno));
        return FALSE;
    }
    setvbuf(l->file, NULL, _IOLBF, 0);
    dt_rig_listen(r, log_line, l);
    return TRUE;
}

static void report(const DtRig *r, const char *folder)
{
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_autofree char *time = dt_base_duration(f.time_s);
    dt_cli_printf(stdout, "time       %s on the machine's clock\n", time);
    dt_cli_printf(stdout,
                  P_("ink        %.1f mm in %zu stroke, %.1f mm of travel\n",
                     "ink        %.1f mm in %zu strokes, %.1f mm of travel\n",
                     dt_rig_stroke_count(r)),
                  f.ink_mm, dt_rig_stroke_count(r), f.travel_mm);
    dt_cli_printf(stdout, "lines      %u taken, %u refused, %u bytes lost\n", f.lines_taken,
                  f.lines_refused, f.bytes_lost);
    dt_cli_printf(stdout, "machine    %u end-stop hits; pen %s at %.2f %.2f, motors %s\n",
                  f.endstop_hits, f.pen_up_at_end ? _("up") : _("down"), f.end_x, f.end_y,
                  f.motors_off ? _("off") : _("on"));
    dt_cli_printf(
        stdout,
        "pen        %.2f mm commanded down, not yet touching; %.2f mm dragged; %u changes\n",
        f.dry_mm, f.drag_mm, f.pen_changes);
    if (folder)
        dt_cli_printf(stdout, "ink is in  %s\n", folder);
}

typedef struct {
    char *link, *out, *log, *scan;
    gboolean real_time, once, json, template, force;
} Options;

static void print_port(const char *port, gboolean json)
{
    if (!json) {
        dt_cli_printf(stdout, "port       %s\n", port);
        return;
    }
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "port", port);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, FALSE);
    dt_cli_print_report(text, TRUE);
    dt_cli_print_report("\n", TRUE);
}

/* Checks all outputs before an hour of drawing, not after it. */
static gboolean claim_outputs(const Options *o, const char *file, GError **error)
{
    static const struct {
        const char *name;
        DtFileKind kind;
    } ink[] = {
        {"ink.json", DT_FILE_INK}, {"ink.svg", DT_FILE_PICTURE}, {"ink.png", DT_FILE_PICTURE}};
    for (gsize i = 0; o->out != NULL && i < G_N_ELEMENTS(ink); i++) {
        g_autofree char *path = g_build_filename(o->out, ink[i].name, NULL);
        if (g_file_test(o->out, G_FILE_TEST_EXISTS) &&
            !dt_cli_claim_output(path, ink[i].kind, file, NULL, o->force, error))
            return FALSE;
    }
    return (o->log == NULL ||
            dt_cli_claim_output(o->log, DT_FILE_TRACE, file, NULL, o->force, error)) &&
           (o->scan == NULL ||
            dt_cli_claim_output(o->scan, DT_FILE_PICTURE, file, NULL, o->force, error));
}

static int serve(DtRig *r, const Options *o, GError **error)
{
    const char *port = dt_rig_open_port(r, error);
    if (port == NULL || (o->link && !dt_rig_link_port(r, o->link, error)))
        return DT_ERROR_IO;
    if (o->out &&
        g_mkdir_with_parents(o->out, 0777) != 0) { /* before an hour of drawing, not after it */
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", o->out, g_strerror(errno));
        return DT_ERROR_IO;
    }
    catch_signals();
    print_port(o->link ? o->link : port, o->json);
    fflush(stdout);
    if (!dt_rig_serve(r, o->real_time, o->once, &stop, error))
        return DT_ERROR_IO;
    if ((o->out && !dt_rig_write(r, o->out, error)) || (o->scan && !dt_rig_scan(r, o->scan, error)))
        return DT_ERROR_IO;
    if (o->json) {
        g_autofree char *figures = dt_rig_figures_json(r);
        dt_cli_print_report(figures, TRUE);
        dt_cli_print(stdout, "\n");
    } else {
        report(r, o->out);
    }
    return 0;
}

static int run_rig(const char *file, const Options *o, GError **error)
{
    g_autoptr(DtRig) r = dt_rig_new(file, error);
    Log log = {0};
    if (r == NULL)
        return DT_ERROR_INPUT;
    if (o->scan &&
        !dt_rig_check_scan_path(o->scan, error)) /* before an hour of drawing, not after it */
        return DT_ERROR_USAGE;
    if (!claim_outputs(o, file, error))
        return DT_ERROR_INPUT;
    if (o->log && !open_log(&log, r, o->log, error))
        return DT_ERROR_IO;
    int code = serve(r, o, error);
    if (log.file && fclose(log.file) != 0 && code == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", o->log, g_strerror(errno));
        code = DT_ERROR_IO;
    }
    return code;
}

static int run(int argc, char **argv, GError **error)
{
    Options o = {0};
    const GOptionEntry entries[] = {
        {"link", 0, 0, G_OPTION_ARG_FILENAME, &o.link, N_("Keep a symbolic link to the port here"),
         "PATH"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &o.out,
         N_("Write ink.json, ink.svg and ink.png there"), "FOLDER"},
        {"log", 0, 0, G_OPTION_ARG_FILENAME, &o.log,
         N_("Write each line, its answer and the motors' steps there"), "FILE"},
        {"scan", 0, 0, G_OPTION_ARG_FILENAME, &o.scan,
         N_("Write what a scanner would see of the sheet there"), "FILE.png|FILE.jpg"},
        {"real-time", 0, 0, G_OPTION_ARG_NONE, &o.real_time, N_("Run by the wall clock"), NULL},
        {"once", 0, 0, G_OPTION_ARG_NONE, &o.once, N_("End when the sender hangs up"), NULL},
        {"template", 0, 0, G_OPTION_ARG_NONE, &o.template, N_("Print a rig file with every key"),
         NULL},
        DT_CLI_FORCE(o.force),
        {"json", 0, 0, G_OPTION_ARG_NONE, &o.json, N_("Print JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    int code = 0;
    if (!dt_cli_parse(&dt_command_rig, entries, &argc, &argv, error)) {
        code = *error ? DT_ERROR_USAGE : 0;
    } else if (o.template) {
        g_autofree char *text = dt_rig_template();
        dt_cli_print_report(text, TRUE); /* lines of a rig file are not broken */
    } else if (argc > 2) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "rig: one rig file, not %d", argc - 1);
        code = DT_ERROR_USAGE;
    } else {
        code = run_rig(argc == 2 ? argv[1] : NULL, &o, error);
    }
    g_free(o.link);
    g_free(o.out);
    g_free(o.log);
    g_free(o.scan);
    return code;
}

const DtCommand dt_command_rig = {
    .name = "rig",
    .usage = "[RIG.ini] [--link PATH] [--out FOLDER] [--log FILE] [--scan FILE] [--real-time] "
             "[--once] [--json]",
    .summary = N_("the virtual machine on a pseudo-terminal"),
    .about = "Runs a plotter that exists only in the computer: its controller answers on a "
             "pseudo-terminal, its motors, cords, rails and pens have the faults that the rig "
             "file gives them, and it writes the ink that landed. It runs in virtual time, so "
             "that hours take seconds. With --template it prints a rig file in which every key "
             "is explained; drawtrue-rig(5) lists the keys.",
    .examples = "drawtrue rig --link /tmp/plotter --out ink --once  # in one terminal\n"
                "drawtrue run garden.nc --port /tmp/plotter --pens-ready  # in another",
    .run = run,
};
