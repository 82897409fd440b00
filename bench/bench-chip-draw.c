/* bench-chip-draw: a program drawn through the chip or through the rig's core, and how far the two inks are
 * apart. */
#include "bench-chip.h"
#include "support/drawing.h"

#include <math.h>
#include <time.h>

static const double sample_mm = 0.1;

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
    Serving s = {.rig = out->rig};
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE};
    GThread *thread = g_thread_new("rig", serve, &s);
    const gboolean good = drawing_program(p, port, program, &o, NULL, NULL, error);
    if (!good)
        s.stop = 1; /* it may never have opened the port */
    g_thread_join(thread);
    dt_rig_figures(out->rig, &out->figures);
    if (chip)
        dt_rig_chip_figures(out->rig, &out->chip);
    out->processor_s = s.processor_s;
    return good;
}

/* From a point to a polyline, near the place where the last one was found. */
static double distance(DtPoint p, const DtRigStroke *s, size_t *near)
{
    const DtPoint *at = (const DtPoint *)s->xy;
    if (s->n == 1)
        return dt_point_distance(p, at[0]);
    double least = G_MAXDOUBLE;
    size_t best = 0;
    for (size_t reach = 40; least > 0.005; reach *= 8) {
        const size_t from = *near > reach ? *near - reach : 0, to = MIN(*near + reach, s->n - 1);
        for (size_t k = from; k < to; k++) {
            const double d = dt_point_segment_distance(p, at[k], at[k + 1]);
            best = d < least ? k : best;
            least = MIN(least, d);
        }
        if (from == 0 && to == s->n - 1)
            break;
    }
    *near = best;
    return least;
}

static double farthest(const DtRigStroke *a, const DtRigStroke *b)
{
    const DtPoint *at = (const DtPoint *)a->xy;
    double most = 0;
    size_t near = 0;
    for (size_t k = 0; k < a->n; k++) {
        const double length = k + 1 < a->n ? dt_point_distance(at[k], at[k + 1]) : 0;
        most = MAX(most, distance(at[k], b, &near));
        for (double d = sample_mm; d < length; d += sample_mm)
            most = MAX(most, distance(dt_point_lerp(at[k], at[k + 1], d / length), b, &near));
    }
    return most;
}

double bench_ink_apart(const DtRig *a, const DtRig *b)
{
    const size_t n = dt_rig_stroke_count(a);
    double most = 0;
    if (n != dt_rig_stroke_count(b))
        return G_MAXDOUBLE;
    for (size_t i = 0; i < n; i++) {
        const DtRigStroke s = dt_rig_stroke(a, i), t = dt_rig_stroke(b, i);
        if (g_strcmp0(s.pen, t.pen) != 0)
            return G_MAXDOUBLE;
        most = MAX(most, MAX(farthest(&s, &t), farthest(&t, &s)));
    }
    return most;
}
