/* bench-chip-steps: when each half step comes at the coil pins, against the closed form of a move that starts
 * and ends at the pull-in speed: s(t) = v0 t + a t^2 / 2 up to the cruising speed, and back. */
#include "bench-chip.h"
#include "sample.h"

#include <stdio.h>
#include <string.h>

enum { CYCLES_PER_US = 16 };

/* The image's standard settings, controller.h. */
static const double steps_per_mm = 100, speed[2] = {15, 12}, acceleration[2] = {150, 100},
                    pull_in[2] = {4, 3};

typedef struct {
    GArray *times[2]; /* us, double */
} Steps;

static void note(guint64 cycle, int axis, int turn, void *user)
{
    (void)turn;
    Steps *s = user;
    sample_add(s->times[axis], (double)cycle / CYCLES_PER_US);
}

typedef struct {
    const char *name, *line;
    double way[2], feed; /* mm, mm/s; feed 0: as fast as the axes go */
} Move;

/* Time at which a path of `length` mm has come to `s`. */
static double time_at(double s, double length, double v0, double v, double a)
{
    const double ramp = MIN((v * v - v0 * v0) / (2 * a), length / 2);
    const double top = sqrt(v0 * v0 + 2 * a * ramp);
    if (s <= ramp)
        return (sqrt(v0 * v0 + 2 * a * s) - v0) / a;
    const double up = (top - v0) / a, flat = (length - 2 * ramp) / top;
    if (s <= length - ramp)
        return up + (s - ramp) / top;
    return 2 * up + flat - (sqrt(v0 * v0 + 2 * a * (length - s)) - v0) / a;
}

/* Errors of one axis' steps, the whole move shifted so that their middle is 0. */
static void judge(const Move *m, const Steps *s, int axis)
{
    const double length = hypot(m->way[0], m->way[1]);
    double v = m->feed > 0 ? m->feed : 1e9, a = 1e9, v0 = 1e9;
    for (int i = 0; i < 2; i++) {
        const double part = fabs(m->way[i]) / length;
        if (part > 0) {
            v = MIN(v, speed[i] / part);
            a = MIN(a, acceleration[i] / part);
            v0 = MIN(v0, pull_in[i] / part);
        }
    }
    v0 = MIN(v0, v);
    GArray *times = s->times[axis];
    const double steps = fabs(m->way[axis]) * steps_per_mm;
    g_autoptr(GArray) errors = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) off = g_array_new(FALSE, FALSE, sizeof(double));
    for (guint k = 0; k < times->len; k++) /* a step is due when half of it is covered */
        sample_add(errors, g_array_index(times, double, k) -
                               1e6 * time_at((k + 0.5) / steps * length, length, v0, v, a));
    g_autoptr(GArray) sorted = g_array_copy(errors);
    const double middle = sample_quantile(sorted, 0.5);
    for (guint k = 0; k < errors->len; k++)
        sample_add(off, fabs(g_array_index(errors, double, k) - middle));
    printf("%-26s %c %7u of %5.0f steps  median %6.2f  p99 %6.2f  worst %6.2f us\n", m->name,
           axis ? 'Y' : 'X', times->len, steps, sample_quantile(off, 0.5),
           sample_quantile(off, 0.99), sample_quantile(off, 1));
}

int bench_steps(void)
{
    static const Move moves[] = {
        {"X at full speed", "G0 X140\n", {60, 0}, 0},
        {"Y at full speed", "G0 Y140\n", {0, 60}, 0},
        {"both at full speed", "G0 X80 Y80\n", {-60, -60}, 0},
        {"flat diagonal, 7 mm/s", "G1 X140 Y97 F420\n", {60, 17}, 7},
        {"steep, 2 mm/s", "G1 X133 Y117 F120\n", {-7, 20}, 2},
    };
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r =
        dt_rig_new_from_text("[truth]\nstart_x = 2\nstart_y = 2\n", "bench", &error);
    const DtChipOptions o = {.image = bench_image, .seed = 1};
    if (r == NULL || !dt_rig_use_chip(r, &o, &error)) {
        fprintf(stderr, "bench: %s\n", error->message);
        return 1;
    }
    dt_rig_chip_run(r, 0.1);
    const char *begin = "G28\nG0 X80 Y80\nM5\n";
    dt_rig_run_text(r, begin, strlen(begin));
    for (gsize i = 0; i < G_N_ELEMENTS(moves); i++) {
        Steps s = {
            {g_array_new(FALSE, FALSE, sizeof(double)), g_array_new(FALSE, FALSE, sizeof(double))}};
        dt_rig_chip_on_step(r, note, &s);
        dt_rig_run_text(r, moves[i].line, strlen(moves[i].line));
        for (int axis = 0; axis < 2; axis++)
            if (moves[i].way[axis] != 0)
                judge(&moves[i], &s, axis);
        g_array_unref(s.times[0]);
        g_array_unref(s.times[1]);
    }
    dt_rig_chip_on_step(r, NULL, NULL);
    return 0;
}
