/* bench-chip-power: the power cut at random moments: while it boots, homes, draws or stands still, and while
 * settings are written or mended. Each time it has to greet, be unhomed with the pen up and no coil on, move
 * nothing unasked, and have its settings whole: the old ones or the new ones. */
#include "bench-chip.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double pen_up_us = 1000, pulse_tolerance_us = 2; /* standard settings, controller.h */

enum { SPEED_X = 412, SPEED_Y = 422 }; /* parameters */

static const char program[] =
    "G28\nM5\nG0 X12 Y9\nM3 S40\nG4 P0.15\nG1 X16 Y9 F600\nG1 X16 Y13\nG1 X12 Y9\n"
    "M5\nG4 P0.1\nG0 X6 Y4\nM3 S40\nG1 X9 Y9 F600\nM5\n";

typedef struct {
    char *greeting, *state;
    double setting[2]; /* speeds of the axes, as it tells them */
} Said;

static void clear_said(Said *s)
{
    g_clear_pointer(&s->greeting, g_free);
    g_clear_pointer(&s->state, g_free);
}

static void hear(const char *text, void *user)
{
    Said *s = user;
    unsigned number;
    double value;
    if (sscanf(text, "parameter %u %lf", &number, &value) == 2) {
        if (number == SPEED_X || number == SPEED_Y)
            s->setting[number == SPEED_Y] = value;
        return;
    }
    char **to = g_str_has_prefix(text, "state ") ? &s->state
                : s->greeting == NULL            ? &s->greeting
                                                 : NULL;
    if (to) {
        g_free(*to);
        *to = g_strdup(text);
    }
}

/* The program's bytes at the wire's rate with at most 120 unanswered, for so long. */
static void draw_for(DtRig *r, double s)
{
    const double until = dt_rig_clock_s(r) + s;
    gsize at = 0;
    DtRigFigures f;
    dt_rig_figures(r, &f);
    const unsigned before = f.lines_taken + f.lines_refused;
    unsigned sent = 0;
    while (dt_rig_clock_s(r) < until) {
        dt_rig_figures(r, &f);
        if (program[at] != '\0' && sent - (f.lines_taken + f.lines_refused - before) < 6) {
            const gsize n = strcspn(program + at, "\n") + 1;
            for (gsize k = 0; k < n; k++) {
                dt_rig_chip_send(r, (guint8)program[at + k]);
            }
            at += n;
            sent++;
        }
        dt_rig_chip_run(r, MIN(0.004, until - dt_rig_clock_s(r) + 1e-6));
    }
}

static void send(DtRig *r, const char *text)
{
    for (; *text; text++)
        dt_rig_chip_send(r, (guint8)*text);
}

/* Whatever it stands in the middle of a line with. */
static void change_settings(DtRig *r, const double to[2])
{
    g_autofree char *line = g_strdup_printf("\n#%d=%.2f#%d=%.2f\n", SPEED_X, to[0], SPEED_Y, to[1]);
    send(r, line);
}

static gboolean same(const double a[2], const double b[2])
{
    return fabs(a[0] - b[0]) < 0.001 && fabs(a[1] - b[1]) < 0.001;
}

static const char *judge(DtRig *r, Said *said, const DtChipFigures *before)
{
    DtChipFigures f;
    dt_rig_chip_run(r, 0.2);
    dt_rig_chip_send(r, 5); /* ENQ */
    send(r, "#412=#412\n#422=#422\n");
    dt_rig_chip_run(r, 0.1);
    dt_rig_chip_figures(r, &f);
    if (said->greeting == NULL || strstr(said->greeting, "ready") == NULL)
        return "no greeting";
    if (said->state == NULL || !g_str_has_prefix(said->state, "state unhomed"))
        return "not unhomed";
    if (strstr(said->state, "pen up") == NULL || fabs(f.pulse_us - pen_up_us) > pulse_tolerance_us)
        return "the pen is not up";
    if (f.half_steps[0] != before->half_steps[0] || f.half_steps[1] != before->half_steps[1])
        return "it moved";
    if (f.coils_on[0] || f.coils_on[1])
        return "coils are on";
    if (f.crashed || f.resets != before->resets)
        return "it crashed or was reset";
    return f.unasked > before->unasked ? "it moved unasked" : NULL;
}

typedef struct {
    unsigned n, wrong, moving, writing, changed;
} Cuts;

static void cut(DtRig *r, GRand *rand, Said *said, double settings[2], unsigned number, Cuts *sum)
{
    DtChipFigures before, now;
    const gboolean writes = number % 2;
    const double new[2] = {0.25 * g_rand_int_range(rand, 20, 60),
                           0.25 * g_rand_int_range(rand, 20, 48)};
    /* One in five within the first 30 ms, the others in the 12 s that the program takes, or in the time in
     * which settings are written. */
    const double most = g_rand_int_range(rand, 0, 5) == 0 ? 0.03 : writes ? 0.13 : 12;
    const double s = g_rand_double_range(rand, 0, most);
    dt_rig_chip_figures(r, &before);
    if (writes) {
        if (number % 4 == 3)
            dt_rig_chip_run(r, 0.1); /* what the last cut has left is mended */
        change_settings(r, new);
        dt_rig_chip_run(r, s);
    } else {
        draw_for(r, s);
    }
    dt_rig_chip_figures(r, &now);
    sum->moving +=
        now.half_steps[0] + now.half_steps[1] > before.half_steps[0] + before.half_steps[1];
    sum->writing += (unsigned)now.eeprom_busy;
    clear_said(said);
    said->setting[0] = said->setting[1] = 0;
    dt_rig_chip_cut_power(r);
    dt_rig_chip_figures(r, &before);
    const char *problem = judge(r, said, &before);
    const gboolean changed = writes && same(said->setting, new);
    if (problem == NULL && !changed && !same(said->setting, settings))
        problem = "settings neither old nor new";
    sum->n++;
    sum->wrong += problem != NULL;
    sum->changed += (unsigned)changed;
    if (problem)
        printf("cut %u after %.4f s: %s (said: %s; %s; settings %.2f %.2f)\n", number, s, problem,
               said->greeting ? said->greeting : "nothing", said->state ? said->state : "no state",
               said->setting[0], said->setting[1]);
    settings[0] = said->setting[0];
    settings[1] = said->setting[1];
}

int bench_power(unsigned n, guint32 seed)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    g_autoptr(DtRig) r =
        dt_rig_new_from_text("[truth]\nstart_x = 2\nstart_y = 2\n", "bench", &error);
    const DtChipOptions o = {.image = bench_image, .seed = seed};
    double settings[2] = {15, 12}; /* standard */
    Said said = {0};
    Cuts sum = {0};
    if (r == NULL || !dt_rig_use_chip(r, &o, &error)) {
        fprintf(stderr, "bench: %s\n", error->message);
        return 1;
    }
    dt_rig_chip_on_answer(r, hear, &said);
    settings[0] = 14;
    change_settings(r, settings); /* into both copies of a blank memory */
    dt_rig_chip_run(r, 1.5);
    for (unsigned i = 0; i < n; i++)
        cut(r, rand, &said, settings, i, &sum);
    dt_rig_chip_on_answer(r, NULL, NULL);
    clear_said(&said);
    printf(
        "%u cuts after motion, %u in the middle of a byte of the EEPROM, %u with the new settings "
        "afterwards; %.0f s simulated\n",
        sum.moving, sum.writing, sum.changed, dt_rig_clock_s(r));
    bench_row("power cuts that left something wrong", "0 of 500", sum.wrong == 0, "%u of %u",
              sum.wrong, sum.n);
    return sum.wrong > 0;
}
