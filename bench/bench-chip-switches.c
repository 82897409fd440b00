/* bench-chip-switches: switches that bounce and lines full of coil noise: no stop that no switch called for
 * in hours of drawing, and each switch that is really hit stops the axis within two half steps. */
#include "bench-chip.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double bounce_s = 0.005, burst_hz = 1, burst_s = 0.02, spike_s = 60e-6;
static const double home_tolerance_mm = 0.0201; /* two half steps */
enum { HITS = 200, MOST_STEPS = 2, TELL_EVERY_S = 900 };

static DtRig *make(const char *text, guint32 seed, gboolean noise)
{
    g_autoptr(GError) error = NULL;
    DtRig *r = dt_rig_new_from_text(text, "bench", &error);
    const DtChipOptions o = {.image = bench_image,
                             .bounce_s = bounce_s,
                             .burst_hz = noise ? burst_hz : 0,
                             .burst_s = burst_s,
                             .spike_s = spike_s,
                             .seed = seed};
    if (r == NULL || !dt_rig_use_chip(r, &o, &error))
        g_error("%s", error->message);
    dt_rig_chip_run(r, 0.1);
    return r;
}

/* Some minutes of moves in all directions, the low ends of both axes among them; they end at one place that
 * is always come to from the same side. */
static char *moves(GRand *rand, unsigned n)
{
    GString *s = g_string_new("G28\n");
    for (unsigned i = 0; i < n; i++) {
        const double reach = g_rand_int_range(rand, 0, 4) ? 8 : 60;
        g_string_append_printf(
            s, "G%d X%.2f Y%.2f F%d\n", i % 5 == 0 ? 0 : 1, g_rand_double_range(rand, 0, reach),
            g_rand_double_range(rand, 0, reach), g_rand_int_range(rand, 100, 900));
    }
    g_string_append(s, "G0 X8 Y8\nG0 X5 Y5\n");
    return g_string_free(s, FALSE);
}

/* The first refusal of a round; those after it follow from it. */
static void note_refusal(const char *line, const char *answer, void *user)
{
    GString *first = user;
    if (first->len == 0 && g_str_has_prefix(answer, "refused"))
        g_string_printf(first, "%s -> %s", line, answer);
}

static int draw_in_noise(double hours, guint32 seed)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    g_autoptr(DtRig) r = make("[truth]\nstart_x = 3\nstart_y = 3\n", seed, TRUE);
    unsigned stops = 0, rounds = 0;
    double tell_s = TELL_EVERY_S, farthest = 0, x = 0, y = 0;
    g_autoptr(GString) refusal = g_string_new(NULL);
    dt_rig_listen(r, note_refusal, refusal);
    DtRigFigures f = {0};
    DtChipFigures c = {0};
    while (dt_rig_clock_s(r) < hours * 3600 && !c.crashed) {
        const unsigned refused = f.lines_refused;
        g_autofree char *text = moves(rand, 100);
        g_string_truncate(refusal, 0);
        dt_rig_run_text(r, text, strlen(text));
        dt_rig_figures(r, &f);
        dt_rig_chip_figures(r, &c);
        rounds++;
        stops += f.lines_refused > refused;
        /* A switch that closes falsely during homing stops nothing, and displaces all that follows. */
        if (rounds == 1)
            x = f.end_x, y = f.end_y;
        const double off = MAX(fabs(f.end_x - x), fabs(f.end_y - y));
        farthest = MAX(farthest, off);
        if (f.lines_refused > refused || c.crashed || off > home_tolerance_mm)
            printf("round %u: %u lines refused, %.3f mm off%s %s\n", rounds,
                   f.lines_refused - refused, off, c.crashed ? ", crashed" : "", refusal->str);
        if (dt_rig_clock_s(r) >= tell_s) {
            printf("%.2f h: %u false stops\n", dt_rig_clock_s(r) / 3600, stops);
            tell_s += TELL_EVERY_S;
        }
    }
    const gboolean good = stops == 0 && !c.crashed;
    bench_row("bouncing switches and noise: false stops", "0 in 10 h", good, "%u in %.2f h", stops,
              dt_rig_clock_s(r) / 3600);
    const gboolean placed = farthest <= home_tolerance_mm;
    bench_row("  ends of moves apart, over all homings", "2 half steps: 0.02 mm", placed,
              "%.4f mm in %u times", farthest, rounds);
    printf("%" G_GUINT64_FORMAT " bursts, %" G_GUINT64_FORMAT
           " spikes, %u homings, %u wrong coil patterns\n",
           c.bursts, c.spikes, rounds, c.bad_patterns);
    return !good || !placed;
}

/* A switch closes while its axis runs back towards it. */
static gboolean hit(unsigned i, guint32 seed)
{
    const int axis = (int)(i & 1);
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed + i);
    const double feed = g_rand_double_range(rand, 1, axis ? 12 : 15) * 60;
    g_autofree char *text = g_strdup_printf("[truth]\nstart_x = 3\nstart_y = 3\n"
                                            "[faults]\nlist = switch %c at line %d\n",
                                            axis ? 'y' : 'x', g_rand_int_range(rand, 23, 33));
    g_autoptr(GString) s = g_string_new("G28\nG0 X40 Y40\nM5\n");
    for (int at = 39; at > 2; at--)
        g_string_append_printf(s, "G1 %c%d F%.0f\n", axis ? 'Y' : 'X', at, feed);
    const char *program = s->str;
    g_autoptr(DtRig) r = make(text, seed + i, i % 4 >= 2);
    dt_rig_run_text(r, program, strlen(program));
    DtRigFigures f;
    DtChipFigures c;
    dt_rig_figures(r, &f);
    dt_rig_chip_figures(r, &c);
    const gboolean good =
        f.stopped_on_switch && c.after_closing[axis] <= MOST_STEPS && f.endstop_hits == 0;
    if (!good)
        printf("hit %u, %c at %.1f mm/s: %s, %" G_GUINT64_FORMAT
               " half steps after the switch closed, %u end stops\n",
               i, axis ? 'Y' : 'X', feed / 60, f.stopped_on_switch ? "stopped" : "NOT STOPPED",
               c.after_closing[axis], f.endstop_hits);
    return good;
}

int bench_switches(double hours, guint32 seed)
{
    unsigned good = 0;
    for (unsigned i = 0; i < HITS; i++)
        good += (unsigned)hit(i, seed);
    bench_row("true switch hits, stopped within 2 half steps", "all", good == HITS, "%u of %u",
              good, HITS);
    return draw_in_noise(hours, seed) || good < HITS;
}
