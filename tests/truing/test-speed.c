/* speed: the program of a speed sheet really goes beyond the profile's limits; what is proposed of its
 * ladders holds together; and a motor of known torque is found out by it. */
#include "drawtrue/rig.h"
#include "support/eye-reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static DtProfile *profile(void)
{
    static const char text[] = "[paper]\nsize = A5 landscape\nat = 5, 5 mm\nmargin = 8 mm\n";
    GError *error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static DtTestSheet *speed_sheet(const DtProfile *p)
{
    GError *error = NULL;
    DtTestSheet *s = dt_sheet_new(p, DT_SHEET_SPEED, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    return s;
}

/* The largest F of a program, mm/s. */
static double largest_feed(const char *program)
{
    double most = 0;
    for (const char *f = program; (f = strchr(f, 'F')) != NULL; f++)
        most = MAX(most, atof(f + 1));
    return most / 60;
}

static void test_the_program_goes_beyond_the_limits(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    g_autofree char *program = dt_sheet_write(s, p, NULL, NULL);
    double asked = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_RUN)
            asked = MAX(asked, s->marks[i].feed_mm_s);
    g_assert_cmpfloat(asked, >, 3 * MAX(p->speed[0], p->speed[1]));
    /* a feed that was said already serves for one that is 2 % faster */
    g_assert_cmpfloat(largest_feed(program), >=, 0.98 * asked);
}

/* The jump that goes with an acceleration: v0^2 = 0.1 a s, with half the jump as v0 and 2.25 steps as s. */
static double jump_of(const DtProfile *p, int axis, double a)
{
    return 2 * sqrt(0.225 * a / p->steps_per_mm[axis]);
}

/* After how many different numbers of steps a rung turns round: five, and as many more as take 25 ms or less from one
 * turn to the next, by t = 2 (sqrt(v^2 + a s) - v) / a with half the jump as v. */
static size_t rhythms(const DtProfile *p, const DtMark *run)
{
    const double v = run->start_mm_s / 2, a = run->acceleration_mm_s2;
    size_t n = 5;
    while (n < 30 && 2 * (sqrt(v * v + a * (n + 1) / p->steps_per_mm[run->axis]) - v) / a <= 0.025)
        n++;
    return n;
}

enum { ROWS_OF_AXIS = 3, RUNGS = 9, LADDERS = 2 };

/* Each rung: a gentle run out, five as asked. Where acceleration is tried, each rhythm is turned to and fro 24 times at
 * either end of a short way, and sets out on that way, gentler out and as asked back. Each third rung has its name beside
 * it, the last none. */
static void test_each_rung_has_its_runs_and_name(void)
{
    enum { FAST = 5, TURNS = 2 * (24 + 1) };
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    for (int i = 0; i < 2 * LADDERS; i++)
        for (int rung = 1; rung <= RUNGS; rung++) {
            const int axis = i / LADDERS, row = axis * ROWS_OF_AXIS + i % LADDERS;
            const gboolean shaken = i % LADDERS != 0;
            size_t runs = 0, ticks = 0, before_middle = 0;
            gboolean named = FALSE;
            DtPoint at = {0, 0};
            const DtMark *gentle = NULL, *last = NULL;
            for (size_t k = 0; k < s->n; k++) {
                const DtMark *m = &s->marks[k];
                if (m->row != row || m->place != rung)
                    continue;
                if (m->kind == DT_MARK_RUN && gentle == NULL)
                    gentle = m;
                if (m->kind == DT_MARK_RUN)
                    last = m;
                runs += m->kind == DT_MARK_RUN;
                if (m->kind == DT_MARK_VERNIER && ticks == 1)
                    before_middle = runs;
                ticks += m->kind == DT_MARK_COMB || m->kind == DT_MARK_VERNIER;
                if (m->kind == DT_MARK_COMB)
                    at = axis == 0 ? dt_point(m->from.x, m->from.y - 1.425)
                                   : dt_point(m->from.x - 1.425, m->from.y);
            }
            for (size_t k = 0; k < s->n; k++) {
                const DtPoint d = dt_point_sub(s->marks[k].from, at);
                named |=
                    s->marks[k].kind == DT_MARK_LETTER && d.x < -1 && d.x > -7 && fabs(d.y) < 1.2;
            }
            /* what was lost to one side before the middle tick cannot be hidden by what is lost after it */
            g_assert_cmpuint(ticks, ==, 3);
            g_assert_cmpuint(before_middle, >, runs / 3);
            g_assert_cmpuint(before_middle, <, runs);
            g_assert_cmpuint(runs, ==, 1 + FAST + (shaken ? TURNS * rhythms(p, last) : 0));
            g_assert_cmpfloat(gentle->feed_mm_s, ==, p->speed[axis] / 2);
            g_assert_cmpfloat(gentle->acceleration_mm_s2, ==, p->acceleration[axis] / 2);
            if (shaken)
                g_assert_cmpfloat_with_epsilon(last->start_mm_s,
                                               jump_of(p, axis, last->acceleration_mm_s2), 1e-9);
            if (axis == 0) /* those of Y stand below, close to one another */
                g_assert_true(named == (rung % 3 == 1 && rung < RUNGS));
        }
}

/* Whatever each rung loses, one run towards the switch or two away from it, the axis homes before it is at its switch
 * or its ticks beside the paper; and each ladder begins at home. */
static void test_an_axis_homes_before_it_can_be_lost(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    double near = 0, far = 0;
    guint homes = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == DT_MARK_HOME) {
            near = far = 0;
            homes++;
        }
        if (m->kind != DT_MARK_COMB)
            continue;
        const double at = m->axis == 0 ? m->from.x : m->from.y, corner[2] = {5, 5},
                     edge[2] = {5 + 210, 5 + 148};
        double run = 0;
        for (size_t k = i; k < s->n && s->marks[k].place == m->place; k++)
            if (s->marks[k].kind == DT_MARK_RUN)
                run = MAX(run, dt_point_distance(s->marks[k].from, s->marks[k].to));
        if (m->place == 1)
            g_assert_cmpfloat(near, ==, 0);
        g_assert_cmpfloat(at - near - run, >, corner[m->axis]);
        if (far > 0)
            g_assert_cmpfloat(at + far + 2 * run, <, edge[m->axis]);
        near += run;
        far += 2 * run;
    }
    g_assert_cmpuint(homes, <, 2 * LADDERS * RUNGS / 2); /* one takes longer than a rung */
}

static void test_runs_stay_within_the_travel_whatever_is_lost(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_RUN)
            continue;
        const double a = m->axis == 0 ? m->from.x : m->from.y, b = m->axis == 0 ? m->to.x : m->to.y;
        g_assert_cmpfloat(MIN(a, b) - fabs(b - a), >, 0);
        g_assert_cmpfloat(MAX(a, b) + 2 * fabs(b - a), <, p->travel[m->axis]);
    }
}

static DtFigures *solve(const DtProfile *p, const char *readings)
{
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    g_auto(GStrv) words = g_strsplit(readings, " ", -1);
    GError *error = NULL;
    for (char **w = words; *w; w++) {
        dt_eye_readings_take(r, *w, &error);
        g_assert_no_error(error);
    }
    DtFigures *f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    return f;
}

/* What the profile would get, or what it has where nothing is proposed. */
static double proposed(const DtFigures *f, DtErrorKind kind, double has)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == 0 && f->f[i].proposed)
            return dt_truing_limit_share(kind) * f->f[i].value;
    return has;
}

static void test_a_faster_axis_gets_no_more_acceleration_than_it_has_there(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtFigures) same = solve(p, "XV=6 XA=9");
    g_autoptr(DtFigures) fast = solve(p, "XV=9 XA=9");
    const double a = p->acceleration[0], v = p->speed[0];
    const double sharp = proposed(same, DT_ERROR_OF_ACCELERATION, a),
                 fast_v = proposed(fast, DT_ERROR_OF_SPEED, v),
                 fast_a = proposed(fast, DT_ERROR_OF_ACCELERATION, a);
    g_assert_cmpfloat(sharp, >, a);
    g_assert_cmpfloat(fast_v, >, 1.2 * v);
    g_assert_cmpfloat(fast_a, <, sharp); /* torque falls with speed */
}

/* The jump goes with the acceleration, and with nothing else. */
static void test_the_jump_follows_the_acceleration(void)
{
    g_autoptr(DtProfile) p = profile();
    for (int rung = 2; rung <= RUNGS + 1; rung++) {
        g_autofree char *readings = g_strdup_printf("XV=6 XA=%d", rung);
        g_autoptr(DtFigures) f = solve(p, readings);
        const double a = proposed(f, DT_ERROR_OF_ACCELERATION, p->acceleration[0]);
        g_assert_cmpfloat_with_epsilon(
            proposed(f, DT_ERROR_OF_PULL_IN, p->pull_in[0]) / jump_of(p, 0, a), 1, 1e-6);
    }
}

/* The number from which a ladder of accelerations is read has the profile's own acceleration and the jump that goes with
 * it, and the question says which number that is. */
static void test_accelerations_are_read_from_the_profiles_own(void)
{
    enum { OWN = 2 };
    g_autoptr(DtProfile) p = profile();
    p->acceleration[0] = 173;
    p->acceleration[1] = 412;
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    for (int axis = 0; axis < 2; axis++) {
        const DtMark *last = NULL;
        for (size_t i = 0; i < s->n; i++)
            if (s->marks[i].kind == DT_MARK_RUN && s->marks[i].row == axis * ROWS_OF_AXIS + 1 &&
                s->marks[i].place == OWN)
                last = &s->marks[i];
        g_assert_cmpfloat_with_epsilon(last->acceleration_mm_s2, p->acceleration[axis], 1e-6);
        g_assert_cmpfloat_with_epsilon(last->start_mm_s, jump_of(p, axis, p->acceleration[axis]),
                                       1e-6);
    }
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    for (size_t i = 0; i < r->n; i++) {
        g_autofree char *question = dt_eye_question(&r->asks[i]);
        g_assert_true((strstr(question, "start at number 2") != NULL) ==
                      (r->asks[i].name[1] == 'A'));
    }
    g_assert_cmpuint(r->n, ==, 2 * LADDERS);
}

/* What a sheet raises an acceleration to lies below the last number that was kept, and not far below it. */
static void test_what_is_raised_was_kept(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    for (int lost = 8; lost <= RUNGS + 1; lost++) {
        double kept[RUNGS + 1] = {0};
        for (size_t i = 0; i < s->n; i++)
            if (s->marks[i].kind == DT_MARK_RUN && s->marks[i].row == 1)
                kept[s->marks[i].place] = s->marks[i].acceleration_mm_s2;
        g_autofree char *readings = g_strdup_printf("XV=6 XA=%d", lost);
        g_autoptr(DtFigures) f = solve(p, readings);
        const double a = proposed(f, DT_ERROR_OF_ACCELERATION, p->acceleration[0]);
        g_test_message("lost at %d: %.0f; kept from %.0f", lost, a, kept[lost - 4]);
        g_assert_cmpfloat(a, >=, kept[lost - 4]);
        g_assert_cmpfloat(a, <, kept[lost - 1]);
    }
}

/* Where they keep the share that the profile gets, nothing changes: the fourth rung of acceleration and the fifth of
 * speed are what is implied. */
static void test_limits_that_have_their_reserve_stay(void)
{
    g_autoptr(DtProfile) p = profile();
    p->pull_in[0] = jump_of(p, 0, p->acceleration[0]);
    g_autoptr(DtFigures) f = solve(p, "XV=6 XA=5");
    for (size_t i = 0; i < f->n; i++)
        g_assert_false(f->f[i].proposed);
    g_assert_cmpuint(f->n, ==, 3);
}

/* A few steps to and fro, `turns` times. */
static double time_of_sheet(const DtProfile *p, int steps, int turns)
{
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    DtMark m = dt_sheet_mark(DT_MARK_RUN, DT_SHEET_SPEED, 1, dt_point(50, 40), dt_point(50, 60));
    m.feed_mm_s = p->speed[1];
    m.acceleration_mm_s2 = p->acceleration[1];
    m.start_mm_s = p->pull_in[1];
    s->n = 0;
    dt_sheet_add(s, &m);
    for (int i = 0; i < 2 * turns; i++) {
        const double low = 60, high = 60 + steps / p->steps_per_mm[1];
        m.from.y = i % 2 ? high : low;
        m.to.y = i % 2 ? low : high;
        dt_sheet_add(s, &m);
    }
    gsize len = 0;
    g_autofree char *program = dt_sheet_write(s, p, &len, NULL);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(
        "[controller]\nspeed_y = 200\nacceleration_y = 50000\n", "truth", NULL);
    dt_rig_run_text(rig, program, len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    return f.time_s;
}

static double time_of_controller(const DtProfile *p, int steps, int turns)
{
    g_autoptr(GString) s = g_string_new("G21G90\nM5\nG28\nG0X50Y60\n");
    for (int i = 0; i < turns; i++)
        g_string_append_printf(s, "G0Y%.3f\nG0Y60\n", 60 + steps / p->steps_per_mm[1]);
    g_autofree char *truth =
        g_strdup_printf("[controller]\nspeed_y = %g\nacceleration_y = %g\npull_in_y = %g\n",
                        p->speed[1], p->acceleration[1], p->pull_in[1]);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "truth", NULL);
    dt_rig_run_text(rig, s->str, s->len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    return f.time_s;
}

/* A rotor swings in the rhythm in which the axis turns round: the sheet's own ramps take as long over a few
 * steps as those of a controller with these limits. */
static void test_short_turns_last_as_long_as_the_controllers(void)
{
    static const int steps[] = {1, 2, 3, 5, 8, 15, 30};
    static const double sharp[] = {120, 300, 600};
    const int turns = 100;
    g_autoptr(DtProfile) p = profile();
    p->pull_in[1] = 2.2;
    for (gsize k = 0; k < G_N_ELEMENTS(sharp); k++)
        for (gsize i = 0; i < G_N_ELEMENTS(steps); i++) {
            p->acceleration[1] = sharp[k];
            const double own = time_of_sheet(p, steps[i], turns) - time_of_sheet(p, steps[i], 0),
                         real = time_of_controller(p, steps[i], turns) -
                                time_of_controller(p, steps[i], 0);
            g_test_message("%d steps at %g mm/s2: %.2f and %.2f ms", steps[i], sharp[k],
                           own * 1000 / (2 * turns), real * 1000 / (2 * turns));
            /* a single step has no room for a speed of its own beside the jump of the turn */
            g_assert_cmpfloat(fabs(own / real - 1), <, steps[i] == 1 ? 0.07 : 0.05);
        }
}

static void test_steps_lost_at_once_lower_the_limits_and_say_so(void)
{
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtFigures) f = solve(p, "XV=1 XA=1");
    g_assert_cmpfloat(proposed(f, DT_ERROR_OF_SPEED, 99), <, p->speed[0]);
    g_assert_cmpfloat(proposed(f, DT_ERROR_OF_ACCELERATION, 9999), <, p->acceleration[0]);
    g_assert_cmpfloat(proposed(f, DT_ERROR_OF_PULL_IN, 99), <, p->pull_in[0]);
    g_assert_nonnull(strstr(f->notes, "a guess"));
}

/* Also where the profile's limits are confirmed: the sheet cannot try every rhythm. */
static void test_limits_that_were_tried_come_with_their_caution(void)
{
    g_autoptr(DtProfile) p = profile();
    const char *const readings[] = {"XV=1 XA=1", "XV=6 XA=5", "XV=9 XA=9", "YA=5"};
    for (gsize i = 0; i < G_N_ELEMENTS(readings); i++) {
        g_autoptr(DtFigures) f = solve(p, readings[i]);
        g_assert_nonnull(strstr(f->notes, "may still lose steps"));
    }
}

/* A motor whose torque is known: the speed found is a little below that at which friction takes all of it,
 * v = v0 (1 - friction / torque). */
static void test_a_known_motor_is_found_out(void)
{
    static const double no_load = 36, torque = 2400, friction = 150;
    g_autoptr(DtProfile) p = profile();
    g_autoptr(DtTestSheet) s = speed_sheet(p);
    gsize len = 0;
    g_autofree char *program = dt_sheet_write(s, p, &len, NULL);
    g_autofree char *truth = g_strdup_printf(
        "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\nbacklash_y = 0.3\nwave = "
        "0\n"
        "torque_x = %g\nno_load_x = %g\nfriction_x = %g\n"
        "[pen]\nmerge = 0.0005\n[controller]\nhome_speed = 5\nspeed_x = 200\nspeed_y = 200\n"
        "acceleration_x = 50000\nacceleration_y = 50000\n",
        torque, no_load, friction);
    GError *error = NULL;
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    DtRigFigures figures;
    dt_rig_figures(rig, &figures);
    g_assert_cmpuint(figures.lines_refused, ==, 0); /* no loss drives the axis into its switch */
    EyeReader e;
    eye_reader_init(&e, s, rig, 1);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&e, r);
    eye_reader_clear(&e);
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    const double true_limit = no_load * (1 - friction / torque);
    const double v = proposed(f, DT_ERROR_OF_SPEED, 0) / true_limit;
    g_assert_cmpfloat(v, >, 0.5);
    g_assert_cmpfloat(v, <, 0.75);
}

/* Where the top speed falls below the jump that goes with the acceleration, the jump is the top speed. */
static void test_no_jump_exceeds_the_top_speed(void)
{
    gsize limited = 0;
    for (int low = 1; low <= 4; low++) {
        g_autoptr(DtProfile) p = profile();
        p->speed[0] = 6;
        p->acceleration[0] = 1500;
        p->pull_in[0] = jump_of(p, 0, p->acceleration[0]);
        g_autofree char *readings = g_strdup_printf("XV=%d XA=10", low);
        g_autoptr(DtFigures) f = solve(p, readings);
        const double v = proposed(f, DT_ERROR_OF_SPEED, p->speed[0]),
                     jump = proposed(f, DT_ERROR_OF_PULL_IN, p->pull_in[0]),
                     a = proposed(f, DT_ERROR_OF_ACCELERATION, p->acceleration[0]);
        g_test_message("%g mm/s, jump of %g mm/s, %g mm/s2", v, jump, a);
        g_assert_cmpfloat(jump, <=, v);
        limited += jump_of(p, 0, a) > v;
    }
    g_assert_cmpuint(limited, >, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/speed/stay", test_limits_that_have_their_reserve_stay);
    g_test_add_func("/speed/limits that were tried come with their caution",
                    test_limits_that_were_tried_come_with_their_caution);
    g_test_add_func("/speed/the program goes beyond the limits",
                    test_the_program_goes_beyond_the_limits);
    g_test_add_func("/speed/runs stay within the travel whatever is lost",
                    test_runs_stay_within_the_travel_whatever_is_lost);
    g_test_add_func("/speed/a faster axis gets no more acceleration than it has there",
                    test_a_faster_axis_gets_no_more_acceleration_than_it_has_there);
    g_test_add_func("/speed/steps lost at once lower the limits and say so",
                    test_steps_lost_at_once_lower_the_limits_and_say_so);
    g_test_add_func("/speed/short turns last as long as the controller's",
                    test_short_turns_last_as_long_as_the_controllers);
    g_test_add_func("/speed/a known motor is found out", test_a_known_motor_is_found_out);
    g_test_add_func("/speed/accelerations are read from the profile's own",
                    test_accelerations_are_read_from_the_profiles_own);
    g_test_add_func("/speed/what is raised was kept", test_what_is_raised_was_kept);
    g_test_add_func("/speed/no jump exceeds the top speed", test_no_jump_exceeds_the_top_speed);
    g_test_add_func("/speed/the jump follows the acceleration",
                    test_the_jump_follows_the_acceleration);
    g_test_add_func("/speed/an axis homes before it can be lost",
                    test_an_axis_homes_before_it_can_be_lost);
    g_test_add_func("/speed/rungs", test_each_rung_has_its_runs_and_name);
    return g_test_run();
}
