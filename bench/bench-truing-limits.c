/* bench-truing-limits: random pens and motors, measured by the settle and speed sheets. Prints by how much
 * the times found exceed those that the pen takes, and what share of the true limits is proposed for the
 * motors. The speed sheet is drawn up to four times, each time with what the last one proposed.
 * Usage: bench-truing-limits [N] [--seed S] [--settle] */
#include "support/eye-reader.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    double drop_s, lift_s;
    double torque[2], no_load[2], friction[2];
} Machine;

static double between(GRand *r, double a, double b)
{
    return g_rand_double_range(r, a, b);
}

static void draw_machine(Machine *m, guint32 seed)
{
    GRand *r = g_rand_new_with_seed(seed);
    m->drop_s = between(r, 0.03, 0.26);
    m->lift_s = between(r, 0.03, 0.2);
    for (int i = 0; i < 2; i++) {
        m->torque[i] = between(r, 1200, 4000);
        m->no_load[i] = between(r, 25, 45);
        m->friction[i] = between(r, 50, 300);
    }
    g_rand_free(r);
}

static char *rig_text(const Machine *m, gboolean motors)
{
    GString *s = g_string_new(NULL);
    g_string_append_printf(
        s,
        "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\nbacklash_y = 0.3\n"
        "wave = 0\n[pen]\ndrop_s = %.4f\nlift_s = %.4f\nmerge = 0.0005\n",
        m->drop_s, m->lift_s);
    if (motors)
        g_string_append(
            s, "[controller]\nhome_speed = 3\n"); /* it homes without a ramp at such limits */
    for (int i = 0; i < 2 && motors; i++)
        g_string_append_printf(s,
                               "[controller]\nspeed_%c = 200\nacceleration_%c = 50000\n"
                               "[truth]\ntorque_%c = %.2f\nno_load_%c = %.3f\nfriction_%c = %.2f\n",
                               "xy"[i], "xy"[i], "xy"[i], m -> torque[i], "xy"[i], m -> no_load[i],
                               "xy"[i], m -> friction[i]);
    return g_string_free(s, FALSE);
}

static DtProfile *profile(const char *more)
{
    g_autofree char *text =
        g_strdup_printf("[paper]\nsize = A5 landscape\nat = 5, 5 mm\nmargin = 8 mm\n%s", more);
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "bench", &error);
    g_assert_no_error(error);
    return p;
}

static DtFigures *measure(const Machine *m, const DtProfile *p, guint kind)
{
    g_autoptr(GError) error = NULL;
    gsize len = 0;
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kind, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_assert_no_error(error);
    g_autofree char *truth = rig_text(m, kind == DT_SHEET_SPEED);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    EyeReader e;
    eye_reader_init(&e, s, rig, 1);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&e, r);
    eye_reader_clear(&e);
    DtFigures *f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    return f;
}

static const DtFigure *find(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].known)
            return &f->f[i];
    return NULL;
}

/* Wait beyond what the pen takes, s. */
static double waste(const DtFigures *f, DtErrorKind kind, double truth)
{
    const DtFigure *g = find(f, kind, -1);
    return g ? ceil(g->value * 1000) / 1000 - truth : NAN;
}

static void settle(guint n, guint32 seed)
{
    double least = G_MAXDOUBLE, most = -G_MAXDOUBLE;
    guint unknown = 0;
    for (guint i = 0; i < n; i++) {
        Machine m;
        draw_machine(&m, seed + i);
        g_autoptr(DtProfile) p = profile("");
        g_autoptr(DtFigures) f = measure(&m, p, DT_SHEET_SETTLE);
        const double w[2] = {waste(f, DT_ERROR_OF_DROP_TIME, m.drop_s),
                             waste(f, DT_ERROR_OF_LIFT_TIME, m.lift_s)};
        for (int k = 0; k < 2; k++) {
            unknown += isnan(w[k]);
            least = isnan(w[k]) ? least : MIN(least, w[k]);
            most = isnan(w[k]) ? most : MAX(most, w[k]);
        }
    }
    printf(
        "settle: %u pens; the times found exceed the true ones by %.0f to %.0f ms; %u not found\n",
        n, least * 1000, most * 1000, unknown);
}

/* Above which speed the torque does not carry the acceleration, and the other way round. */
static double speed_limit(const Machine *m, int axis, double acceleration)
{
    return m->no_load[axis] * (1 - (acceleration + m->friction[axis]) / m->torque[axis]);
}

/* Steps lost over random moves at the proposed limits, which the controller now has. */
static guint lost_steps(const Machine *m, const DtProfile *p, guint32 seed)
{
    enum { MOVES = 2000 };
    g_autoptr(GString) truth = g_string_new(NULL), program = g_string_new("G21G90\nM5\nG28\n");
    g_autofree char *machine = rig_text(m, TRUE);
    GRand *r = g_rand_new_with_seed(seed);
    g_string_append(truth, machine);
    for (int i = 0; i < 2; i++)
        g_string_append_printf(
            truth, "[controller]\nspeed_%c = %.3f\nacceleration_%c = %.1f\npull_in_%c = %.2f\n",
            "xy"[i], p -> speed[i], "xy"[i], p -> acceleration[i], "xy"[i], p -> pull_in[i]);
    for (int i = 0; i < MOVES; i++)
        g_string_append_printf(program, "G0X%.2fY%.2f\n", between(r, 0, 200), between(r, 0, 150));
    g_rand_free(r);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth->str, "truth", NULL);
    dt_rig_run_text(rig, program->str, program->len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    return f.steps_slipped;
}

static double acceleration_limit(const Machine *m, int axis, double speed)
{
    return m->torque[axis] * (1 - speed / m->no_load[axis]) - m->friction[axis];
}

enum { MOST_ROUNDS = 4 };

static void limits(guint n, guint32 seed)
{
    double share[2][2] = {{9, 0}, {9, 0}}; /* speed, acceleration: least and most */
    guint lossy = 0, unknown = 0;
    for (guint i = 0; i < n; i++) {
        Machine m;
        draw_machine(&m, seed + i);
        g_autoptr(DtProfile) p = profile("");
        double v[2], a[2];
        gboolean goes_on = TRUE;
        for (int round = 0; round < MOST_ROUNDS && goes_on; round++) {
            g_autoptr(DtFigures) f = measure(&m, p, DT_SHEET_SPEED);
            goes_on = FALSE;
            for (int axis = 0; axis < 2; axis++) {
                const DtFigure *s = find(f, DT_ERROR_OF_SPEED, axis),
                               *c = find(f, DT_ERROR_OF_ACCELERATION, axis);
                if (s && s->proposed)
                    p->speed[axis] = dt_truing_limit_share(s->kind) * s->value;
                if (c && c->proposed)
                    p->acceleration[axis] = dt_truing_limit_share(c->kind) * c->value;
                const DtFigure *jump = find(f, DT_ERROR_OF_PULL_IN, axis);
                if (jump && jump->proposed)
                    p->pull_in[axis] = dt_truing_limit_share(jump->kind) * jump->value;
                goes_on |= (s && s->proposed) || (c && c->proposed);
                unknown += s == NULL || c == NULL;
            }
        }
        for (int axis = 0; axis < 2; axis++) {
            v[axis] = p->speed[axis] / speed_limit(&m, axis, 0);
            a[axis] = p->acceleration[axis] / acceleration_limit(&m, axis, p->speed[axis]);
            share[0][0] = MIN(share[0][0], v[axis]);
            share[0][1] = MAX(share[0][1], v[axis]);
            share[1][0] = MIN(share[1][0], a[axis]);
            share[1][1] = MAX(share[1][1], a[axis]);
        }
        const guint lost = lost_steps(&m, p, seed + i);
        lossy += lost > 0;
        printf("%u: speed %.2f %.2f, acceleration %.2f %.2f of what torque gives; %u steps lost in "
               "2000 moves\n",
               seed + i, v[0], v[1], a[0], a[1], lost);
        fflush(stdout);
    }
    printf("limits: %u machines; proposed %.2f to %.2f of the true speed, %.2f to %.2f of the "
           "acceleration that the "
           "torque gives at a steady ramp; %u lost steps, %u axes not found\n",
           n, share[0][0], share[0][1], share[1][0], share[1][1], lossy, unknown);
}

int main(int argc, char **argv)
{
    int n = 2, seed = 1;
    gboolean settle_only = FALSE;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = atoi(argv[++i]);
        else if (strcmp(argv[i], "--settle") == 0)
            settle_only = TRUE;
        else
            n = atoi(argv[i]);
    }
    settle((guint)n, (guint32)seed);
    if (!settle_only)
        limits((guint)n, (guint32)seed);
    return 0;
}
