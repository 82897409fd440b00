/* truing-machine: see truing-machine.h. The ranges: uniform between the bounds, both axes alike.
 *
 *   scale                  0.98 to 1.02         square           -0.6 to 0.6 degrees
 *   slack                  0.05 to 0.5 mm at either end, linear or with a knee between
 *   position along a rail  five points of -0.3 to 0.3 mm, its mean slope left out
 *   straightness of a rail four points of -0.2 to 0.2 mm, and both rails' wave of up to 0.06 mm peak to
 *                          valley over 90 to 220 mm
 *   pulley off centre      0.02 to 0.2 mm       gear's teeth     0 to 0.008 mm over 1.1 to 2.3 mm
 *   twist                  -0.15 to 0.15 mm, linear along the axis
 *   scatter of slack       0 to 0.02 mm         play of the tip  0 to 0.03 mm
 *   ringing                25 to 50 Hz          switch           0 to 0.03 mm
 *   drift                  -0.02 to 0.02 mm/h
 *   scanner                scales 0.992 to 1.008, skew -0.3 to 0.3 degrees, carriage waviness 0 to
 *                          0.06 mm peak to valley over 60 to 200 mm, blur 0.03 to 0.06 mm */
#include "support/truing-machine.h"

#include <math.h>
#include <string.h>

static double between(GRand *r, double a, double b)
{
    return g_rand_double_range(r, a, b);
}

double truth_table_at(const TruthTable *t, double at)
{
    if (t->n == 0)
        return 0;
    if (at <= t->at[0])
        return t->value[0];
    for (int i = 1; i < t->n; i++)
        if (at < t->at[i]) {
            const double f = (at - t->at[i - 1]) / (t->at[i] - t->at[i - 1]);
            return t->value[i - 1] + f * (t->value[i] - t->value[i - 1]);
        }
    return t->value[t->n - 1];
}

static void draw_table(GRand *r, TruthTable *t, int n, double length, double size, gboolean level)
{
    double sum = 0, sum_x = 0, xx = 0;
    t->n = n;
    for (int i = 0; i < n; i++) {
        t->at[i] = length * i / (n - 1);
        t->value[i] = between(r, -size, size);
        sum += t->value[i] / n;
    }
    for (int i = 0; i < n; i++) {
        const double x = t->at[i] - length / 2;
        sum_x += x * t->value[i];
        xx += x * x;
    }
    for (int i = 0; i < n && level; i++)
        t->value[i] -= sum + sum_x / xx * (t->at[i] - length / 2);
}

static void draw_slack(GRand *r, TruthTable *t, double length)
{
    t->n = 3;
    t->at[0] = 0;
    t->at[1] = between(r, 0.3, 0.7) * length;
    t->at[2] = length;
    t->value[0] = between(r, 0.05, 0.5);
    t->value[2] = between(r, 0.05, 0.5);
    const double f = t->at[1] / length;
    t->value[1] = t->value[0] + f * (t->value[2] - t->value[0]);
    if (!g_rand_boolean(r))
        return;
    /* The last of three numbers counts: that keeps the machine of almost every seed as it was while CLAMP() drew them. */
    double knee = 0;
    for (int i = 0; i < 3; i++)
        knee = between(r, -0.08, 0.08);
    t->value[1] = CLAMP(t->value[1] + knee, 0.03, 0.6);
}

void truth_draw(TruthMachine *t, guint32 seed, double paper_w, double paper_h)
{
    GRand *r = g_rand_new_with_seed(seed);
    *t = (TruthMachine){.seed = seed, .paper = {paper_w, paper_h}};
    for (int i = 0; i < 2; i++) {
        t->travel[i] = t->paper[i] + 10;
        t->scale[i] = between(r, 0.98, 1.02);
        const double length = t->travel[i];
        draw_slack(r, &t->slack[i], length);
        draw_table(r, &t->position[i], 5, length, 0.3, TRUE);
        draw_table(r, &t->straight[i], 4, length, 0.2, TRUE);
        draw_table(r, &t->twist[i], 2, length, 0.15, FALSE);
        t->pulley[i] = between(r, 0.02, 0.2);
        t->pulley_phase_deg[i] = between(r, -180, 180);
        t->gear[i] = between(r, 0, 0.008);
        t->gear_period[i] = between(r, 1.1, 2.3);
        t->scatter[i] = between(r, 0, 0.02);
        t->ring_hz[i] = between(r, 25, 50);
        t->drift[i] = between(r, -0.02, 0.02);
        t->scan_scale[i] = between(r, 0.992, 1.008);
    }
    t->square_deg = between(r, -0.6, 0.6);
    t->play = between(r, 0, 0.03);
    t->switch_scatter = between(r, 0, 0.03);
    t->wave = between(r, 0, 0.06);
    t->wave_length = between(r, 90, 220);
    t->scan_skew_deg = between(r, -0.3, 0.3);
    t->scan_wave = between(r, 0, 0.06);
    t->scan_wave_length = between(r, 60, 200);
    g_rand_free(r);
}

/* Faults: what a scan shows, each of a size that a maker would look for. */

static void shrink_table(TruthTable *t, double by)
{
    for (int i = 0; i < t->n; i++)
        t->value[i] *= by;
}

/* Everything that makes ink errors of some 0.02 mm at most. */
static void make_calm(TruthMachine *t, GRand *r)
{
    t->square_deg *= 0.02;
    t->wave *= 0.2;
    for (int i = 0; i < 2; i++) {
        const double slack = between(r, 0.01, 0.04);
        t->scale[i] = 1 + (t->scale[i] - 1) * 0.008;
        t->slack[i] = (TruthTable){{0}, {slack}, 1};
        shrink_table(&t->position[i], 0.08);
        shrink_table(&t->straight[i], 0.1);
        shrink_table(&t->twist[i], 0.1);
        t->pulley[i] *= 0.08;
        t->gear[i] *= 0.4;
        t->scatter[i] *= 0.3;
    }
}

void truth_draw_fault(TruthMachine *t, guint32 seed, double paper_w, double paper_h, DtPart *part,
                      int *axis)
{
    static const DtPart faults[] = {DT_PART_GEAR_OR_TENSION, DT_PART_RAILS_APART, DT_PART_PULLEY,
                                    DT_PART_GEAR_TEETH,      DT_PART_CARRIAGE,    DT_PART_FRICTION,
                                    DT_PART_RAIL_BENT,       DT_PART_CORD_UNEVEN, DT_PART_FRAME};
    GRand *r = g_rand_new_with_seed(seed + 31337);
    truth_draw(t, seed, paper_w, paper_h);
    make_calm(t, r);
    const int i = *axis = g_rand_boolean(r) ? 1 : 0;
    const double length = t->travel[i], size = between(r, 0.15, 0.5);
    *part = faults[g_rand_int_range(r, 0, G_N_ELEMENTS(faults))];
    switch (*part) {
    case DT_PART_GEAR_OR_TENSION:
        t->slack[i].value[0] = size;
        break;
    case DT_PART_RAILS_APART:
        t->slack[i] = (TruthTable){{0, length}, {0.05, 0.05 + size}, 2};
        break;
    case DT_PART_PULLEY:
        t->pulley[i] = size / 2;
        break;
    case DT_PART_GEAR_TEETH:
        t->gear[i] = 0.03 + size / 10;
        break;
    case DT_PART_CARRIAGE:
        t->twist[i] = (TruthTable){{0, length}, {size, size * between(r, 0.5, 1)}, 2};
        break;
    case DT_PART_FRICTION:
        t->slack[i].value[0] = 0.08;
        t->scatter[i] = 0.06 + size / 20;
        break;
    case DT_PART_RAIL_BENT:
        t->straight[i] = (TruthTable){{0, length / 2, length}, {0, size, 0}, 3};
        break;
    case DT_PART_CORD_UNEVEN:
        t->position[i] = (TruthTable){{0, length / 2, length}, {0, size, 0}, 3};
        break;
    default:
        t->square_deg = between(r, 0.15, 0.6);
        *axis = -1;
    }
    g_rand_free(r);
}

static void say_table(GString *s, const char *key, int axis, const TruthTable *t)
{
    g_string_append_printf(s, "%s_%c =", key, "xy"[axis]);
    for (int i = 0; i < t->n; i++)
        g_string_append_printf(s, " %.3f:%.5f", t->at[i], t->value[i]);
    g_string_append_c(s, '\n');
}

static void say(GString *s, const char *key, int axis, double v)
{
    g_string_append_printf(s, "%s_%c = %.6f\n", key, "xy"[axis], v);
}

char *truth_rig_text(const TruthMachine *t)
{
    GString *s = g_string_new("[controller]\n");
    for (int i = 0; i < 2; i++)
        say(s, "travel", i, t->travel[i]);
    g_string_append_printf(
        s,
        "[pen]\nmerge = 0.0005\nplay = %.4f\n[faults]\nseed = %u\n[truth]\nsquare = "
        "%.6f\nwave = %.5f\nwave_length = %.3f\nswitch_scatter = %.5f\n",
        t->play, t->seed, t->square_deg, t->wave, t->wave_length, t->switch_scatter);
    for (int i = 0; i < 2; i++) {
        say(s, "scale", i, t->scale[i]);
        say(s, "pulley", i, t->pulley[i]);
        say(s, "pulley_phase", i, t->pulley_phase_deg[i]);
        say(s, "gear", i, t->gear[i]);
        say(s, "gear_period", i, t->gear_period[i]);
        say(s, "slack_scatter", i, t->scatter[i]);
        say(s, "ring", i, t->ring_hz[i]);
        say(s, "drift", i, t->drift[i]);
        say_table(s, "backlash", i, &t->slack[i]);
        say_table(s, "position", i, &t->position[i]);
        say_table(s, "straight", i, &t->straight[i]);
        say_table(s, "twist", i, &t->twist[i]);
    }
    return g_string_free(s, FALSE);
}

char *truth_scan_text(const TruthMachine *t, int turn, double rotation_deg, double dpi)
{
    return g_strdup_printf(
        "[scan]\nsheet_w = %g\nsheet_h = %g\nsheet_x = 5\nsheet_y = 5\ndpi = %g\n"
        "turn = %d\nrotation = %.4f\nskew = %.5f\nscale_x = %.6f\nscale_y = %.6f\n"
        "wave = %.5f\nwave_length = %.3f\nblur = 0.05\nseed = %u\n",
        t->paper[0], t->paper[1], dpi, turn, rotation_deg, t->scan_skew_deg, t->scan_scale[0],
        t->scan_scale[1], t->scan_wave, t->scan_wave_length, t->seed * 4 + (guint32)turn);
}

char *truth_profile_text(const TruthMachine *t)
{
    return g_strdup_printf("[motion]\ntravel_x = %g mm\ntravel_y = %g mm\nsteps_per_mm_x = 100 "
                           "/mm\nsteps_per_mm_y = 100 /mm\n"
                           "[paper]\nsize = %gx%g\nat = 5, 5 mm\nmargin = 8 mm\n",
                           t->travel[0], t->travel[1], t->paper[0], t->paper[1]);
}

DtProfile *truth_profile(const TruthMachine *t)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = truth_profile_text(t);
    DtProfile *p = dt_profile_read_data(text, strlen(text), "truth", &error);
    g_assert_no_error(error);
    return p;
}

/* As rig/machine.c and rig/drive.c have it, rewritten. */
DtPoint truth_ink(const TruthMachine *t, DtPoint drive, const int way[2])
{
    const double m[2] = {drive.x, drive.y};
    double rail[2], across[2];
    for (int i = 0; i < 2; i++) {
        const double turn = 2 * G_PI / (G_PI * 13);
        const double phase = t->pulley_phase_deg[i] * G_PI / 180, u = m[i] * t->scale[i];
        const double cord = u + t->pulley[i] * (sin(turn * u + phase) - sin(phase));
        double carriage = cord;
        for (int k = 0; k < 20 && way[i] < 0; k++)
            carriage = cord + truth_table_at(&t->slack[i], carriage);
        rail[i] = carriage + truth_table_at(&t->position[i], carriage) +
                  truth_table_at(&t->twist[i], carriage) / 2 * way[1 - i];
        across[1 - i] = t->wave / 2 * sin(2 * G_PI * carriage / t->wave_length) +
                        truth_table_at(&t->straight[i], carriage);
    }
    const double angle = t->square_deg * G_PI / 180;
    return dt_point(rail[0] + rail[1] * sin(angle) + across[0], rail[1] * cos(angle) + across[1]);
}
