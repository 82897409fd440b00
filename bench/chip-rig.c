/* chip-rig: the virtual machine with the controller's image on a simulated chip, on a pseudo-terminal:
 *
 *     chip-rig --chip IMAGE.elf [RIG.ini] [--link PATH] [--out FOLDER] [--once] [--real-time] [--json]
 *              [--eeprom FILE] [--normally-closed xy] [--bounce-ms N] [--bursts N] [--seed N]
 *
 * Settings of the rig file that are not standard are sent to the chip before the port opens. */
#include "chip.h"
#include "drawtrue/base.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

static const double burst_s = 0.02, spike_s = 60e-6;

typedef struct {
    DtChipOptions chip;
    char *link, *out, *closed;
    double bounce_ms;
    int seed;
    gboolean real_time, once, json;
} Options;

static volatile int stop;

static void on_signal(int number)
{
    (void)number;
    stop = 1;
}

static void report(const DtRig *r)
{
    DtRigFigures f;
    DtChipFigures c;
    dt_rig_figures(r, &f);
    dt_rig_chip_figures(r, &c);
    printf("time       %.2f s on the machine's clock\n", f.time_s);
    printf("ink        %.1f mm in %zu strokes, %.1f mm of travel\n", f.ink_mm,
           dt_rig_stroke_count(r), f.travel_mm);
    printf("lines      %u taken, %u refused, %u bytes lost\n", f.lines_taken, f.lines_refused,
           f.bytes_lost);
    printf("machine    %u end-stop hits, %u steps lost; pen %s at %.2f %.2f\n", f.endstop_hits,
           f.steps_lost, f.pen_up_at_end ? "up" : "down", f.end_x, f.end_y);
    printf("chip       %.2f s of its clock, %" G_GUINT64_FORMAT " and %" G_GUINT64_FORMAT
           " half steps, %u wrong patterns, %u unasked, %u resets%s\n",
           (double)c.cycles / 16e6, c.half_steps[0], c.half_steps[1], c.bad_patterns, c.unasked,
           c.resets, c.crashed ? ", CRASHED" : "");
    printf("servo      %" G_GUINT64_FORMAT " pulses of %.2f to %.2f us, %.1f to %.1f us apart\n",
           c.pulses, c.pulse_low_us, c.pulse_high_us, c.frame_low_us, c.frame_high_us);
}

static gboolean serve(DtRig *r, const Options *o, GError **error)
{
    const char *port = dt_rig_open_port(r, error);
    if (port == NULL || (o->link && !dt_rig_link_port(r, o->link, error)))
        return FALSE;
    struct sigaction a = {.sa_handler = on_signal};
    sigaction(SIGTERM, &a, NULL);
    sigaction(SIGINT, &a, NULL);
    signal(SIGPIPE, SIG_IGN);
    if (o->json)
        printf("{\"port\": \"%s\"}\n", o->link ? o->link : port);
    else
        printf("port       %s\n", o->link ? o->link : port);
    fflush(stdout);
    if (!dt_rig_serve(r, o->real_time, o->once, &stop, error) ||
        (o->out && !dt_rig_write(r, o->out, error)))
        return FALSE;
    if (o->json) {
        g_autofree char *figures = dt_rig_figures_json(r);
        printf("%s\n", figures);
    } else {
        report(r);
    }
    return TRUE;
}

static gboolean run(Options *o, const char *file, GError **error)
{
    g_autoptr(DtRig) r = dt_rig_new(file, error);
    if (r == NULL)
        return FALSE;
    if (o->chip.image == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--chip IMAGE is missing");
        return FALSE;
    }
    o->chip.bounce_s = o->bounce_ms / 1000;
    o->chip.burst_s = burst_s;
    o->chip.spike_s = spike_s;
    o->chip.seed = (guint32)o->seed;
    o->chip.opens[0] = o->closed && strchr(o->closed, 'x') != NULL;
    o->chip.opens[1] = o->closed && strchr(o->closed, 'y') != NULL;
    return dt_rig_use_chip(r, &o->chip, error) && serve(r, o, error);
}

int main(int argc, char **argv)
{
    Options o = {.seed = 1};
    const GOptionEntry entries[] = {
        {"chip", 0, 0, G_OPTION_ARG_FILENAME, (void *)&o.chip.image, "The controller's image",
         "IMAGE"},
        {"eeprom", 0, 0, G_OPTION_ARG_FILENAME, (void *)&o.chip.eeprom, "Keep the EEPROM there",
         "FILE"},
        {"normally-closed", 0, 0, G_OPTION_ARG_STRING, &o.closed, "Axes whose switch opens", "xy"},
        {"bounce-ms", 0, 0, G_OPTION_ARG_DOUBLE, &o.bounce_ms, "Longest bounce of a switch", "N"},
        {"bursts", 0, 0, G_OPTION_ARG_DOUBLE, &o.chip.burst_hz, "Bursts of coil noise a second",
         "N"},
        {"seed", 0, 0, G_OPTION_ARG_INT, &o.seed, "Of the random numbers", "N"},
        {"link", 0, 0, G_OPTION_ARG_FILENAME, &o.link, "Keep a symbolic link to the port here",
         "PATH"},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &o.out, "Write ink.json, ink.svg and ink.png there",
         "FOLDER"},
        {"real-time", 0, 0, G_OPTION_ARG_NONE, &o.real_time, "Run by the wall clock", NULL},
        {"once", 0, 0, G_OPTION_ARG_NONE, &o.once, "End when the sender hangs up", NULL},
        {"json", 0, 0, G_OPTION_ARG_NONE, &o.json, "Print JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(GOptionContext) context = g_option_context_new("[RIG.ini]");
    g_option_context_add_main_entries(context, entries, NULL);
    if (!g_option_context_parse(context, &argc, &argv, &error) ||
        !run(&o, argc > 1 ? argv[1] : NULL, &error)) {
        fprintf(stderr, "rig: %s\n", error->message);
        return error->domain == DT_ERROR ? error->code : DT_ERROR_USAGE;
    }
    return 0;
}
