/* bench-chip-draw: a program drawn through the chip or through the rig's core. */
#include "bench-chip.h"
#include "support/drawing.h"

#include <stdio.h>
#include <time.h>

enum { ENQ = 5 };

typedef struct {
    DtRig *rig;
    volatile int stop;
    double processor_s;
} Serving;

static gpointer serve(gpointer data)
{
    Serving *s = data;
    dt_rig_serve(s->rig, FALSE, TRUE, &s->stop, NULL);
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    s->processor_s = (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
    return NULL;
}

static void tell_refusal(const char *line, const char *answer, void *user)
{
    (void)user;
    if (g_str_has_prefix(answer, "refused"))
        printf("  %s -> %s\n", line, answer);
}

void bench_clear(Drawn *d)
{
    g_clear_pointer(&d->rig, dt_rig_free);
}

gboolean bench_draw(const DtProfile *p, const char *program, const char *rig_file,
                    const DtChipOptions *chip, const char *folder, Drawn *out, GError **error)
{
    *out = (Drawn){.rig = dt_rig_new(rig_file, error)};
    if (out->rig == NULL || (chip && !dt_rig_use_chip(out->rig, chip, error)))
        return FALSE;
    const char *port = dt_rig_open_port(out->rig, error);
    if (port == NULL)
        return FALSE;
    dt_rig_listen(out->rig, tell_refusal, NULL);
    Serving s = {.rig = out->rig};
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE};
    GThread *thread = g_thread_new("rig", serve, &s);
    const gboolean good = drawing_program(p, port, program, &o, NULL, NULL, error);
    if (!good)
        s.stop = 1; /* it may never have opened the port */
    g_thread_join(thread);
    dt_rig_figures(out->rig, &out->figures);
    if (chip) {
        dt_rig_chip_send(out->rig, ENQ);
        dt_rig_chip_run(out->rig, 0.1);
        dt_rig_chip_figures(out->rig, &out->chip);
    }
    out->processor_s = s.processor_s;
    return good;
}
