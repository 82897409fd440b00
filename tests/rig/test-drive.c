/* rig: motors that fall out of step, cords that swing, pulleys off centre, carriages that twist, pens
 * that bounce: each against its closed form. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include <math.h>
#include <string.h>

/* A machine without errors; keys given after it override. */
#define RIGID                                                                                      \
    "[controller]\nsteps_per_mm_x=100\nsteps_per_mm_y=100\nchord=0.001\n"                          \
    "[pen]\nmerge=0.0005\ndrop_s=0.05\nlift_s=0.05\n"                                              \
    "[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0\nbacklash_y=0\nwave=0\n"
#define DOWN "M3 S40\nG4 P0.2\n"
#define UP "M5\nG4 P0.2\n"
#define DOT DOWN UP

static DtRig *draw(const char *keys, const char *program)
{
    g_autofree char *text = g_strconcat(RIGID, keys, NULL);
    g_autoptr(GError) error = NULL;
    DtRig *r = dt_rig_new_from_text(text, "test", &error);
    g_assert_no_error(error);
    dt_rig_run_text(r, program, strlen(program));
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_assert_cmpuint(f.lines_refused, ==, 0);
    return r;
}

static double start_of(const DtRig *r, size_t stroke, int axis)
{
    return dt_rig_stroke(r, stroke).xy[axis];
}

/* By a move after homing, whose reversals ask more of a motor. */
static unsigned slipped(const char *keys, const char *move)
{
    g_autoptr(DtRig) r = draw(keys, "G28\n");
    DtRigFigures before, after;
    dt_rig_figures(r, &before);
    dt_rig_run_text(r, move, strlen(move));
    dt_rig_figures(r, &after);
    return after.steps_slipped - before.steps_slipped;
}

/* Pull-out: a ramp of 150 mm/s2 up to 15 mm/s needs that much torque at its top, where
 * 1 - 15/30 of the peak is left: 300 mm/s2 at standstill. */
static void test_steps_are_lost_where_the_torque_ends(void)
{
    static const char move[] = "G0 X200\nG0 X20\n";
    static const char machine[] = "[controller]\npull_in_x=1\n[truth]\nno_load_x=30\n";
    g_autofree char *strong = g_strconcat(machine, "torque_x=360\n", NULL);
    g_autofree char *weak = g_strconcat(machine, "torque_x=240\n", NULL);
    g_assert_cmpuint(slipped(strong, move), ==, 0);
    g_assert_cmpuint(slipped(weak, move), >, 0);
    g_assert_cmpuint(slipped(machine, move), ==, 0);
}

/* Friction takes its share of the torque at a constant speed too: 15 mm/s need less than half. */
static void test_friction_takes_its_share(void)
{
    static const char move[] = "G0 X200\n";
    g_assert_cmpuint(
        slipped("[controller]\npull_in_x=1\n[truth]\nno_load_x=30\ntorque_x=1000\nfriction_x=300\n",
                move),
        ==, 0);
    g_assert_cmpuint(
        slipped("[controller]\npull_in_x=1\n[truth]\nno_load_x=30\ntorque_x=1000\nfriction_x=520\n",
                move),
        >, 0);
}

/* Pull-in, without damping and friction: sqrt(16 torque step / pi). Damping raises it somewhat. */
static void test_a_start_faster_than_pull_in_loses_steps(void)
{
    const double torque = 800, step = 0.01, pull_in = sqrt(16 * torque * step / G_PI);
    for (int i = 0; i < 2; i++) {
        const double speed = pull_in * (i == 0 ? 0.9 : 1.2);
        g_autofree char *keys = g_strdup_printf(
            "torque_x=%g\nno_load_x=10000\n[controller]\npull_in_x=%g\nspeed_x=%g\nhome_speed=2\n",
            torque, speed, speed);
        const unsigned lost = slipped(keys, "G0 X100\n");
        if (i == 0)
            g_assert_cmpuint(lost, ==, 0);
        else
            g_assert_cmpuint(lost, >, 0);
    }
}

/* What is lost shows on the paper, by whole electrical periods: 8 half steps of 0.01 mm. */
static void test_lost_steps_shift_the_ink(void)
{
    g_autoptr(DtRig) r = draw("no_load_x=30\ntorque_x=240\n[controller]\npull_in_x=1\n",
                              "G28\nG0 X50 F120\n" DOT "G0 X200\nG1 X50 F120\n" DOT);
    const double shift = start_of(r, 1, 0) - start_of(r, 0, 0), periods = shift / 0.08;
    g_assert_cmpfloat(fabs(shift), >, 0.07);
    g_assert_cmpfloat(fabs(periods - round(periods)), <, 0.15); /* a step */
}

/* A second-order system that is stopped from v0 swings by v0/omega exp(-zeta omega t) sin(omega t),
 * for small damping. The other axis draws the swing out over its way. */
static void test_a_sudden_stop_rings(void)
{
    const double hz = 8, zeta = 0.05, v0 = 10, along = 10, omega = 2 * G_PI * hz;
    g_autoptr(DtRig) r = draw("ring_x=8\nring_damping_x=0.05\n"
                              "[controller]\nspeed_x=20\npull_in_x=20\nspeed_y=20\npull_in_y=20\n",
                              "G28\nG0 X50 Y50\nG4 P2\n" DOWN "G1 X100 F600\nG1 Y53\n" UP);
    const DtRigStroke s = dt_rig_stroke(r, 0);
    const double corner =
        s.xy[0] + 50; /* homing was swinging too: its switch closes early or late */
    double peak = 0, peak_y = 0;
    for (size_t i = 0; i < s.n; i++)
        if (s.xy[2 * i] > corner + peak) {
            peak = s.xy[2 * i] - corner;
            peak_y = s.xy[2 * i + 1] - 50;
        }
    const double quarter = 0.25 / hz;
    g_assert_cmpfloat_with_epsilon(peak, v0 / omega * exp(-zeta * omega * quarter), 0.012);
    g_assert_cmpfloat_with_epsilon(peak_y / along, quarter, 0.012);
    /* It has died down after ten periods. */
    g_autoptr(DtRig) later =
        draw("ring_x=8\nring_damping_x=0.05\n", "G28\nG0 X50\nG4 P3\n" DOT "G0 X100\nG4 P3\n" DOT);
    g_assert_cmpfloat_with_epsilon(start_of(later, 1, 0) - start_of(later, 0, 0), 50, 0.003);
}

static void test_pulley_and_gear_add_their_sines(void)
{
    g_autoptr(DtRig) r =
        draw("pulley_x=0.2\npulley_period_x=40\npulley_phase_x=90\ngear_y=0.03\n"
             "gear_period_y=4\n",
             "G28\nG0 X10 Y1\n" DOT "G0 X20 Y3\n" DOT "G0 X30\n" DOT "G0 X40\n" DOT);
    static const double cosine[] = {0, -1, 0, 1};
    for (size_t i = 0; i < 4; i++)
        g_assert_cmpfloat_with_epsilon(start_of(r, i, 0),
                                       10 * (double)(i + 1) + 0.2 * (cosine[i] - 1), 0.015);
    g_assert_cmpfloat_with_epsilon(start_of(r, 0, 1), 1 + 0.03, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 1), 3 - 0.03, 0.012);
}

static void test_rails_have_errors_of_place_and_straightness(void)
{
    g_autoptr(DtRig) r = draw("position_x=0:0 100:0.4 200:0.1\nstraight_x=0:0 100:-0.3\n"
                              "straight_y=0:0 50:0.2\n",
                              "G28\nG0 X50\n" DOT "G0 X150 Y25\n" DOT);
    g_assert_cmpfloat_with_epsilon(start_of(r, 0, 0), 50.2, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 0, 1), -0.15, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 0), 150.25 + 0.1, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 1), 25 - 0.3, 0.012);
}

/* The carriage of X leans over when Y turns round, more so where its rails are loose. */
static void test_a_carriage_twists_when_the_other_axis_turns_round(void)
{
    g_autoptr(DtRig) r =
        draw("twist_x=0:0 200:0.4\n", "G28\nG0 X100 Y50\n" DOT "G0 Y60\nG0 Y50\n" DOT
                                      "G0 X200 Y40\nG0 Y50\n" DOT "G0 Y49.9\n" DOT);
    g_assert_cmpfloat_with_epsilon(start_of(r, 0, 0) - start_of(r, 1, 0), 0.2, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 2, 0), 200.2, 0.012);
    /* 0.1 mm back of the 0.3 mm that the twist takes: a third of the way over. */
    g_assert_cmpfloat_with_epsilon(start_of(r, 3, 0), 200.2 - 0.4 / 3, 0.02);
}

static double deviation(const double *x, size_t n, double *mean)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < n; i++)
        sum += x[i];
    *mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += (x[i] - *mean) * (x[i] - *mean);
    return sqrt(squares / (double)(n - 1));
}

/* Over 200 reversals the sample deviation lies within 15 % of the true one (3 standard errors). */
static void test_slack_scatters_from_reversal_to_reversal(void)
{
    enum { N = 200 };
    g_autoptr(GString) program = g_string_new("G28\nG0 X50\n" DOT);
    for (int i = 0; i < N; i++)
        g_string_append(program, "G0 X54\nG0 X50\n" DOT);
    g_autoptr(DtRig) r = draw("backlash_x=0.4\nslack_scatter_x=0.05\n", program->str);
    double lost[N], mean;
    for (size_t i = 0; i < N; i++)
        lost[i] = start_of(r, i + 1, 0) - start_of(r, 0, 0);
    g_assert_cmpfloat_with_epsilon(deviation(lost, N, &mean), 0.05, 0.0075);
    g_assert_cmpfloat_with_epsilon(mean, 0.4, 0.02);
}

static void test_switches_scatter_from_homing_to_homing(void)
{
    enum { N = 100 };
    g_autoptr(GString) program = g_string_new(NULL);
    for (int i = 0; i < N; i++)
        g_string_append(program, "G28\nG0 X5 Y5\n" DOT);
    g_autoptr(DtRig) r = draw("switch_scatter=0.05\n", program->str);
    double x[N], mean;
    for (size_t i = 0; i < N; i++)
        x[i] = start_of(r, i, 0);
    g_assert_cmpfloat_with_epsilon(deviation(x, N, &mean), 0.05, 0.011);
    g_assert_cmpfloat_with_epsilon(mean, 5, 0.02);
}

static void test_the_origin_drifts(void)
{
    g_autoptr(DtRig) r =
        draw("drift_x=0.6\ndrift_y=-1.2\n", "G28\nG0 X50 Y50\n" DOT "G4 P900\n" DOT);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 0) - start_of(r, 0, 0), 0.15, 0.012);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 1) - start_of(r, 0, 1), -0.3, 0.012);
}

static void test_home_may_be_in_any_corner(void)
{
    static const char *const corners[] = {"lower-left", "lower-right", "upper-left", "upper-right"};
    for (int i = 0; i < 4; i++) {
        g_autofree char *keys = g_strdup_printf("home_corner=%s\n", corners[i]);
        g_autoptr(DtRig) r = draw(keys, "G28\nG0 X10 Y20\n" DOT);
        g_assert_cmpfloat_with_epsilon(start_of(r, 0, 0), i & 1 ? 290 : 10, 0.012);
        g_assert_cmpfloat_with_epsilon(start_of(r, 0, 1), i & 2 ? 200 : 20, 0.012);
    }
}

/* The tip is dragged half its play behind: a line drawn to and fro is short by half at each end,
 * but where the pen falls. The carriage is where it was sent, also while the pen is down. */
static void test_a_loose_tip_is_dragged_behind(void)
{
    g_autoptr(DtRig) r =
        draw("[pen]\nplay=0.4\n", "G28\nG0 X50 Y50\n" DOWN "G1 X80 F600\nG1 X60\n" UP);
    const DtRigStroke s = dt_rig_stroke(r, 0);
    double most = 0;
    for (size_t i = 0; i < s.n; i++)
        most = MAX(most, s.xy[2 * i]);
    g_assert_cmpfloat_with_epsilon(s.xy[0], 50, 0.012);
    g_assert_cmpfloat_with_epsilon(most, 80 - 0.2, 0.012);
    g_assert_cmpfloat_with_epsilon(s.xy[2 * (s.n - 1)], 60 + 0.2, 0.012);
    g_autoptr(DtRig) down = draw("[pen]\nplay=0.4\n", "G28\nG0 X50 Y50\n" DOWN "G1 X80 F600\n");
    DtRigFigures f;
    dt_rig_figures(down, &f);
    g_assert_false(f.pen_up_at_end);
    g_assert_cmpfloat_with_epsilon(f.end_x, 80, 0.012);
    g_assert_cmpfloat_with_epsilon(f.end_y, 50, 0.012);
}

/* It comes down, and again after 40, 20, 10 and 5 ms: at 10 mm/s the gaps are 0.4 to 0.05 mm. */
static void test_a_fallen_pen_bounces(void)
{
    g_autoptr(DtRig) r = draw("[pen]\nbounce_s=0.04\ndrop_s=0.3\n"
                              "[controller]\npull_in_x=10\nspeed_x=10\n",
                              "G28\nG0 X50 Y50\nM3 S40\nG1 X80 F600\n" UP);
    g_assert_cmpuint(dt_rig_stroke_count(r), ==, 5);
    static const double gaps[] = {0.4, 0.2, 0.1, 0.05};
    for (size_t i = 0; i < 4; i++)
        g_assert_cmpfloat_with_epsilon(start_of(r, i + 1, 0) - start_of(r, i, 0), gaps[i], 0.022);
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_assert_cmpuint(f.lifts, ==, 1);
}

static void test_pens_sit_differently_in_the_holder(void)
{
    g_autoptr(DtRig) r = draw("[pens]\nred=#c02020 0.4\nblue=#2040b0 0.5 0.3 -0.2\n",
                              "G28\n(pen red)\nG0 X50 Y50\n" DOT "(pen blue)\nM0\n" DOT);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 0) - start_of(r, 0, 0), 0.3, 1e-6);
    g_assert_cmpfloat_with_epsilon(start_of(r, 1, 1) - start_of(r, 0, 1), -0.2, 1e-6);
}

/* Without any of the keys nothing changes; with rigid values neither. */
static void test_effects_are_off_by_default(void)
{
    static const char program[] = "G28\nG0 X20 Y20\n" DOWN "G1 X70 Y30 F600\nG3 X40 I-15\n" UP;
    g_autoptr(DtRig) plain = draw("", program);
    g_autoptr(DtRig) stiff = draw("torque_x=1e6\ntorque_y=1e6\nno_load_x=10000\nno_load_y=10000\n"
                                  "ring_x=500\nring_y=500\nring_damping_x=1\nring_damping_y=1\n",
                                  program);
    const DtRigStroke a = dt_rig_stroke(plain, 0), b = dt_rig_stroke(stiff, 0);
    g_assert_cmpfloat_with_epsilon(a.xy[0], b.xy[0], 0.02);
    g_assert_cmpfloat_with_epsilon(a.xy[2 * (a.n - 1)], b.xy[2 * (b.n - 1)], 0.02);
    g_assert_cmpfloat_with_epsilon(a.xy[2 * a.n - 1], b.xy[2 * b.n - 1], 0.02);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/drive/pull-out", test_steps_are_lost_where_the_torque_ends);
    g_test_add_func("/drive/friction", test_friction_takes_its_share);
    g_test_add_func("/drive/pull-in", test_a_start_faster_than_pull_in_loses_steps);
    g_test_add_func("/drive/lost-steps-shift-the-ink", test_lost_steps_shift_the_ink);
    g_test_add_func("/drive/ringing", test_a_sudden_stop_rings);
    g_test_add_func("/drive/pulley-and-gear", test_pulley_and_gear_add_their_sines);
    g_test_add_func("/drive/rails", test_rails_have_errors_of_place_and_straightness);
    g_test_add_func("/drive/twist", test_a_carriage_twists_when_the_other_axis_turns_round);
    g_test_add_func("/drive/slack-scatter", test_slack_scatters_from_reversal_to_reversal);
    g_test_add_func("/drive/switch-scatter", test_switches_scatter_from_homing_to_homing);
    g_test_add_func("/drive/drift", test_the_origin_drifts);
    g_test_add_func("/drive/home-corner", test_home_may_be_in_any_corner);
    g_test_add_func("/drive/tip-play", test_a_loose_tip_is_dragged_behind);
    g_test_add_func("/drive/bounce", test_a_fallen_pen_bounces);
    g_test_add_func("/drive/pens-in-the-holder", test_pens_sit_differently_in_the_holder);
    g_test_add_func("/drive/off-by-default", test_effects_are_off_by_default);
    return g_test_run();
}
