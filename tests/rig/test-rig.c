/* rig: the machine's truth behind the controller: slack, scale, squareness, the pen's delay, end
 * stops, the buffer, vocabularies and faults. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include "../../rig/inside.h"
#include "support/font-leaks.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* A machine without errors, with fine steps. */
#define TRUE_MACHINE                                                                               \
    "[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0\nbacklash_y=0\nwave=0\n"                \
    "[controller]\nsteps_per_mm_x=1000\nsteps_per_mm_y=1000\n[pen]\nmerge=0.0005\n"

static DtRig *make(const char *text)
{
    g_autoptr(GError) error = NULL;
    DtRig *r = dt_rig_new_from_text(text, "test", &error);
    g_assert_no_error(error);
    return r;
}

static DtRigFigures run(DtRig *r, const char *program)
{
    DtRigFigures f;
    dt_rig_run_text(r, program, strlen(program));
    dt_rig_figures(r, &f);
    return f;
}

#define DOWN "M3 S40\nG4 P0.2\n"
#define UP "M5\nG4 P0.2\n"

static void test_true_machine_draws_what_it_is_told(void)
{
    g_autoptr(DtRig) r = make(TRUE_MACHINE);
    DtRigFigures f =
        run(r, "G28\n(pen red)\nG0 X20 Y20\n" DOWN "G1 X70 F600\nY60\nX20 Y20\n" UP
               "(pen blue)\nM0\nG0 X100 Y100\n" DOWN "G3 X100 I20 F600\n" UP "G0 X0 Y0\nM2\n");
    g_assert_cmpuint(f.lines_refused, ==, 0);
    g_assert_cmpuint(dt_rig_stroke_count(r), ==, 2);
    DtRigStroke red = dt_rig_stroke(r, 0), blue = dt_rig_stroke(r, 1);
    g_assert_cmpstr(red.pen, ==, "red");
    g_assert_cmpstr(blue.pen, ==, "blue");
    g_assert_cmpuint(f.pen_changes, ==, 1);
    g_assert_cmpfloat(f.stop_s, >=, 0);
    g_assert_cmpfloat(f.stop_s, <, f.time_s);
    g_assert_cmpuint(f.changes_without_stop, ==, 0);
    g_assert_cmpfloat(fabs(f.ink_mm - (50 + 40 + sqrt(4100) + 2 * G_PI * 20)), <, 1.0);
    static const double corners[4][2] = {{20, 20}, {70, 20}, {70, 60}, {20, 20}};
    for (int i = 0; i < 4; i++) {
        double nearest = 1e9;
        for (size_t k = 0; k < red.n; k++)
            nearest = MIN(nearest,
                          hypot(red.xy[2 * k] - corners[i][0], red.xy[2 * k + 1] - corners[i][1]));
        g_assert_cmpfloat(nearest, <, 0.003); /* homing itself is good to a step or two */
    }
    for (size_t k = 0; k < blue.n; k++)
        g_assert_cmpfloat(fabs(hypot(blue.xy[2 * k] - 120, blue.xy[2 * k + 1] - 100) - 20), <,
                          0.008);
    g_assert_cmpfloat(hypot(f.end_x, f.end_y), <, 0.003);
    g_assert_true(f.pen_up_at_end);
    g_assert_cmpfloat(f.dry_mm + f.drag_mm, ==, 0);
}

static void test_scale_and_square(void)
{
    g_autoptr(DtRig) r = make("[truth]\nscale_x=1.01\nscale_y=0.98\nsquare=2\nbacklash_x=0\n"
                              "backlash_y=0\nwave=0\n");
    run(r, "G28\nG0 X100 Y0\n" DOWN "G1 Y100 F600\n" UP);
    DtRigStroke s = dt_rig_stroke(r, 0);
    double turn = 2 * G_PI / 180;
    const double *from = s.xy, *to = s.xy + 2 * (s.n - 1);
    g_assert_cmpfloat(fabs(from[0] - 101), <, 0.03);
    g_assert_cmpfloat(fabs(to[0] - (101 + 98 * sin(turn))), <, 0.03);
    g_assert_cmpfloat(fabs(to[1] - 98 * cos(turn)), <, 0.03);
}

/* ISO 230-2: approached from either side, an axis stands apart by its reversal value. */
static void test_slack_is_lost_at_reversals(void)
{
    g_autoptr(DtRig) r = make("[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0:0.1 300:0.4\n"
                              "backlash_y=0.45\nwave=0\n");
    run(r, "G28\nG0 X50 Y50\n" DOWN UP "G0 X250\n" DOWN UP "G0 X290 Y90\nG0 X250\n" DOWN UP
           "G0 X50\n" DOWN UP "G0 Y50\n" DOWN UP);
    double p[5][2];
    for (size_t i = 0; i < 5; i++)
        memcpy(p[i], dt_rig_stroke(r, i).xy, sizeof p[i]);
    g_assert_cmpfloat(fabs(p[0][0] - 50), <, 0.025);
    g_assert_cmpfloat(fabs(p[2][0] - p[1][0] - (0.1 + 0.3 * 250 / 300)), <, 0.02);
    g_assert_cmpfloat(fabs(p[3][0] - p[0][0] - (0.1 + 0.3 * 50 / 300)), <, 0.02);
    g_assert_cmpfloat(fabs(p[4][1] - p[0][1] - 0.45), <, 0.02);
}

/* A table is constant beyond its ends. */
static void test_slack_beyond_its_table_is_that_of_the_end(void)
{
    g_autoptr(DtRig) r = make("[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_y=0\nwave=0\n"
                              "backlash_x=100:0.1 200:0.4\n");
    run(r, "G28\nG0 X50 Y50\n" DOWN UP "G0 X90\nG0 X50\n" DOWN UP "G0 X250\n" DOWN UP
           "G0 X290\nG0 X250\n" DOWN UP);
    double x[4];
    for (size_t i = 0; i < 4; i++)
        x[i] = dt_rig_stroke(r, i).xy[0];
    g_assert_cmpfloat(fabs(x[1] - x[0] - 0.1), <, 0.02);
    g_assert_cmpfloat(fabs(x[3] - x[2] - 0.4), <, 0.02);
}

/* 100 mm at 10 mm/s behind the last lift count, the ramps of a moment besides. */
static void test_time_ends_with_the_last_motion(void)
{
    DtRigFigures f[2];
    const char *const last[] = {"", "G1 X120 F600\n"};
    for (int i = 0; i < 2; i++) {
        g_autoptr(DtRig) r = make(TRUE_MACHINE);
        g_autofree char *program = g_strconcat("G28\nG0 X20 Y20\n" DOWN UP, last[i], NULL);
        f[i] = run(r, program);
    }
    g_assert_cmpfloat(f[1].time_s - f[0].time_s, >, 9.99);
    g_assert_cmpfloat(f[1].time_s - f[0].time_s, <, 10.6);
}

static void test_wavy_rail_shows(void)
{
    g_autoptr(DtRig) r =
        make("[truth]\nscale_x=1\nscale_y=1\nsquare=0\nbacklash_x=0\nbacklash_y=0\n"
             "wave=0.05\nwave_length=140\n");
    run(r, "G28\nG0 X0 Y100\n" DOWN "G1 X280 F900\n" UP);
    DtRigStroke s = dt_rig_stroke(r, 0);
    double least = 1e9, most = -1e9;
    for (size_t i = 0; i < s.n; i++) {
        least = MIN(least, s.xy[2 * i + 1]);
        most = MAX(most, s.xy[2 * i + 1]);
    }
    g_assert_cmpfloat(fabs(most - least - 0.05), <, 0.004);
}

static void test_pen_takes_its_time(void)
{
    g_autoptr(DtRig) r = make("[pen]\ndrop_s=0.12\nlift_s=0.08\n");
    DtRigFigures f = run(r, "G28\nG0 X50 Y50\nM3 S40\nG1 X80 F600\nM5\nG0 X100\n");
    /* 10 mm/s reached after a ramp from 4: 0.12 s are about 1 mm. */
    g_assert_cmpfloat(f.dry_mm, >, 0.8);
    g_assert_cmpfloat(f.dry_mm, <, 1.3);
    g_assert_cmpfloat(f.drag_mm, >, 0.3);
    g_assert_cmpfloat(f.drag_mm, <, 1.0);
    g_assert_cmpuint(f.lifts, ==, 1);
}

static void test_shallow_pulse_does_not_drop_the_pen(void)
{
    g_autoptr(DtRig) r = make("");
    DtRigFigures f = run(r, "G28\nG0 X50 Y50\nM3 S10\nG4 P0.5\nG1 X80 F600\nM5\n");
    g_assert_cmpfloat(f.ink_mm, ==, 0);
    g_assert_cmpuint(dt_rig_stroke_count(r), ==, 0);
}

static void test_end_stop_slips_the_cord(void)
{
    /* The controller believes in more travel than there is. */
    g_autoptr(DtRig) r = make("[controller]\ntravel_x=300\n[truth]\nscale_x=1.1\nover_high=0\n"
                              "backlash_x=0\nwave=0\nsquare=0\n");
    DtRigFigures f = run(r, "G28\nG0 X290\nG0 X0\n");
    g_assert_cmpuint(f.endstop_hits, ==, 0);
    g_autoptr(DtRig) bad = make("[truth]\nscale_x=1\nscale_y=1\nbacklash_x=0\nwave=0\nsquare=0\n"
                                "[faults]\nlist=slip x 5 at line 3\n");
    f = run(bad, "G28\nG0 X200\nG0 X201\nG0 X299.9\nG0 X10\n" DOWN UP);
    g_assert_cmpuint(f.endstop_hits, ==, 1);
    /* It slipped 5 mm out, then lost what did not fit before the stop at 303 mm. */
    g_assert_cmpfloat(fabs(dt_rig_stroke(bad, 0).xy[0] - (10 + 5 - 1.9)), <, 0.03);
}

static void push(RigMachine *m, double mm)
{
    for (int i = 0; i < 1000; i++)
        dt_rig_drive_step(m, 0, mm / 1000, 0);
}

/* A run against a stop is one hit, however long it lasts. On the way back the motor takes up the slack first. */
static void test_a_run_against_a_stop_is_one_hit(void)
{
    const double slack = 1;
    g_autoptr(DtRig) r = make(TRUE_MACHINE "[truth]\nbacklash_x=1\n");
    RigMachine *m = &r->machine;
    const RigAxis *a = &m->axis[0];
    push(m, 100);
    for (unsigned hits = 0; hits < 4; hits += 2) { /* the upper stop, and the lower one */
        const double stop = hits ? a->low : a->high, towards = hits ? -1 : 1;
        push(m, towards * (fabs(stop - a->carriage) + slack + 5));
        push(m, towards * 2);
        g_assert_cmpfloat(a->carriage, ==, stop);
        g_assert_cmpuint(m->figures.endstop_hits, ==, hits + 1);
        push(m, -towards * (slack + 2));
        g_assert_cmpfloat_with_epsilon(a->carriage, stop - towards * 2, 1e-9);
        push(m, towards * (slack + 2.5));
        g_assert_cmpfloat(a->carriage, ==, stop);
        g_assert_cmpuint(m->figures.endstop_hits, ==, hits + 2);
    }
}

static void test_second_homing_finds_the_same_origin(void)
{
    g_autoptr(DtRig) r = make("");
    run(r, "G28\n" DOWN UP "G0 X150 Y99\nG28\n" DOWN UP "G0 X3.333 Y0.017\nG28\n" DOWN UP);
    for (size_t i = 0; i < 3; i++) {
        const double *p = dt_rig_stroke(r, i).xy;
        g_assert_cmpfloat(hypot(p[0], p[1]), <, 0.025);
    }
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_assert_cmpuint(f.homings, ==, 3);
}

static void test_pens_by_turns_without_comments(void)
{
    g_autoptr(DtRig) r = make("[pen]\norder=green brown\n[vocabulary]\ncomments=no\ncheck=no\n");
    DtRigFigures f = run(r, "G28\n" DOWN UP "M0\n" DOWN UP "M0\n" DOWN UP);
    g_assert_cmpuint(f.pen_changes, ==, 2);
    g_assert_cmpstr(dt_rig_stroke(r, 0).pen, ==, "green");
    g_assert_cmpstr(dt_rig_stroke(r, 1).pen, ==, "brown");
    g_assert_cmpstr(dt_rig_stroke(r, 2).pen, ==, "brown");
}

static void until(DtRig *r, DtState state, gboolean is)
{
    dt_rig_settle(r);
    for (int i = 0; (r->board->state(r) == state) != is; i++) {
        g_assert_cmpint(i, <, 100000);
        g_assert_true(dt_rig_advance(r, -1));
        dt_rig_settle(r);
    }
}

/* Twice the sender lets a stop last for some seconds of virtual time. */
static void test_the_time_of_stops_is_counted(void)
{
    static const double stops_s[] = {5, 1.5};
    static const uint8_t go_on[] = {DT_BYTE_GO_ON, DT_BYTE_GO_ON};
    g_autoptr(DtRig) r = make("");
    DtRigFigures f = run(r, "G28\n");
    for (size_t i = 0; i < G_N_ELEMENTS(stops_s); i++) {
        dt_rig_queue(r, (const uint8_t *)"M0\n", 3, (double)r->now);
        until(r, DT_STATE_STOPPED, TRUE);
        dt_rig_queue(r, go_on, sizeof go_on, (double)r->now + 1e6 * stops_s[i]);
        until(r, DT_STATE_STOPPED, FALSE);
        dt_rig_figures(r, &f);
        g_assert_cmpuint(f.pen_changes, ==, i + 1);
    }
    g_assert_cmpfloat_with_epsilon(f.stop_s, 6.5, 0.001);
}

static void test_change_without_a_stop_is_counted(void)
{
    g_autoptr(DtRig) r = make("");
    DtRigFigures f = run(r, "G28\n(pen red)\n" DOWN UP "(pen blue)\n" DOWN UP);
    g_assert_cmpuint(f.changes_without_stop, ==, 1);
    g_assert_cmpstr(dt_rig_stroke(r, 1).pen, ==, "blue");
}

static void listen(const char *line, const char *answer, void *user)
{
    g_string_append_printf(user, "%s>%s|", line, answer);
}

/* Words are those of the file and no others, with one digit, with two, and alone. */
static void test_vocabulary_of_the_rig_file(void)
{
    g_autoptr(DtRig) r = make("[vocabulary]\nwords=G0 G1 G28 G90 M3 M5 X Y F S\naccept=gladly\n"
                              "refuse=never\nnumbers=no\n");
    g_autoptr(GString) talk = g_string_new(NULL);
    dt_rig_listen(r, listen, talk);
    run(r, "G90\nG28\nG1 X1 F60\nM3 S40\nM5\nG0 Y1\nM0\nG2 X1 I1\nG4 P1\nM2\n");
    g_assert_cmpstr(talk->str, ==,
                    "G90>gladly|G28>gladly|G1 X1 F60>gladly|M3 S40>gladly|M5>gladly|G0 Y1>gladly|"
                    "M0>never word M0 not known|G2 X1 I1>never word G2 not known|"
                    "G4 P1>never word G4 not known|M2>never word M2 not known|");
}

static void test_wrong_rig_files_are_refused(void)
{
    static const struct {
        const char *text, *message;
    } cases[] = {
        {"[truth]\nscale_x=3\n", "bad.ini:2: scale_x: 3 is not from 0.5 to 2 "},
        {"[truth]\n\nscale_z=1\n", "bad.ini:3: no key 'scale_z' in [truth]; did you mean 'scale_x' "
                                   "in [truth]?"},
        {"[truths]\n", "bad.ini:1: no section [truths]"},
        {"[truth]\nbacklash_x=1 2 3\n", "bad.ini:2: backlash_x: up to 16 pairs in rising position"},
        {"[truth]\nbacklash_y=100:0.1 50:0.4\n",
         "bad.ini:2: backlash_y: up to 16 pairs in rising position"},
        {"[truth]\nbacklash_x=0:0.1 50:11\n", "bad.ini:2: backlash_x: 11 is not from 0 to 10 mm"},
        {"[truth]\nhome_corner=middle\n",
         "bad.ini:2: home_corner: 'middle' is not one of the four corners"},
        {"[truth]\nwave=much\n", "bad.ini:2: wave: not a number: 'much'"},
        {"[board]\nreset_on_open=maybe\n", "bad.ini:2: reset_on_open: 'yes' or 'no', not 'maybe'"},
        {"[vocabulary]\nwords=G0 G64\n", "bad.ini:2: words: the core has no word 'G64'"},
        {"[pens]\nred=red\n", "bad.ini:2: red: a colour and a tip width, like '#1a2b3c 0.4'"},
        {"[faults]\nlist=garble 2 at noon\n",
         "bad.ini: [faults] list: not a fault: 'garble 2 at noon'"},
        {"scale=1\n", NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_rig_new_from_text(cases[i].text, "bad.ini", &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        if (cases[i].message)
            g_assert_cmpstr(error->message, ==, cases[i].message);
    }
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_rig_new("/no/such/rig.ini", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void test_template_reads_back_as_the_built_in_machine(void)
{
    g_autofree char *text = dt_rig_template();
    g_autoptr(DtRig) a = make(text);
    g_autoptr(DtRig) b = make("");
    static const char program[] = "G28\nG0 X20 Y20\n" DOWN "G1 X70 F600\n" UP;
    run(a, program);
    run(b, program);
    DtRigStroke p = dt_rig_stroke(a, 0), q = dt_rig_stroke(b, 0);
    g_assert_cmpmem(p.xy, p.n * 16, q.xy, q.n * 16);
}

static void test_flood_overflows_the_buffer(void)
{
    /* One line of 5000 bytes is drained and refused; nothing else is harmed. */
    g_autoptr(DtRig) r = make("");
    g_autofree char *spaces = g_strnfill(5000, ' ');
    g_autofree char *program = g_strconcat("G28\n", spaces, "\nG0 X5\n", NULL);
    DtRigFigures f = run(r, program);
    g_assert_cmpuint(f.lines_taken, ==, 2);
    g_assert_cmpuint(f.lines_refused, ==, 1);
}

static void test_ink_files_are_written(void)
{
    g_autoptr(DtRig) r = make("");
    run(r, "G28\n(pen red \"fine\")\nG0 X20 Y20\n" DOWN "G1 X70 F600\n" UP DOWN UP);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *inner = g_build_filename(folder, "made", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_rig_write(r, inner, &error));
    g_assert_no_error(error);
    static const char *const names[] = {"ink.json", "ink.svg", "ink.png"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++) {
        g_autofree char *path = g_build_filename(inner, names[i], NULL);
        gsize len;
        g_autofree char *text = dt_base_read_file(path, 1 << 24, &len, &error);
        g_assert_no_error(error);
        g_assert_cmpuint(len, >, 100);
        if (i == 0)
            g_assert_nonnull(strstr(text, "{\"pen\": \"red \\\"fine\\\"\", \"from_s\": "));
        g_unlink(path);
    }
    g_rmdir(inner);
    g_rmdir(folder);
    g_assert_false(dt_rig_write(r, "/proc/none/here", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
}

/* Each setting of the controller by a number of its own. */
static void test_the_controller_s_settings_are_those_of_the_file(void)
{
    g_autoptr(DtRig) r = make(
        "[controller]\nsteps_per_mm_x=101\nsteps_per_mm_y=102\nspeed_x=31\nspeed_y=32\n"
        "acceleration_x=201\nacceleration_y=202\npull_in_x=2.5\npull_in_y=3.5\ntravel_x=311\n"
        "travel_y=222\nhome_speed=7\npull_off=3\nchord=0.25\npen_up_us=1100\npen_us_per_s=11\n"
        "pen_wait_s=0.123\nsettle_s=0.456\n[vocabulary]\nlongest_line=90\n[board]\nrx_bytes=200\n");
    DtSettings s;
    dt_rig_truth_settings(&r->truth, &s);
    for (int i = 0; i < 2; i++) {
        g_assert_cmpfloat(s.steps_per_mm[i], ==, (float)(101 + i));
        g_assert_cmpfloat(s.speed[i], ==, (float)(31 + i));
        g_assert_cmpfloat(s.acceleration[i], ==, (float)(201 + i));
        g_assert_cmpfloat(s.pull_in[i], ==, (float)(2.5 + i));
        g_assert_cmpfloat(s.travel[i], ==, i ? 222 : 311);
    }
    g_assert_cmpfloat(s.home_speed, ==, 7);
    g_assert_cmpfloat(s.pull_off, ==, 3);
    g_assert_cmpfloat(s.chord, ==, 0.25F);
    g_assert_cmpuint(s.pen_up_us, ==, 1100);
    g_assert_cmpuint(s.pen_us_per_s, ==, 11);
    g_assert_cmpuint(s.pen_wait_ms, ==, 123);
    g_assert_cmpuint(s.settle_ms, ==, 456);
    g_assert_cmpuint(s.longest_line, ==, 90);
    g_assert_cmpuint(s.rx_bytes, ==, 200);
    g_assert_cmpuint(s.quirks, ==, 0);
    static const struct {
        const char *keys;
        unsigned quirks;
    } cases[] = {{"spaces=yes", DT_QUIRK_SPACES},
                 {"comments=no", DT_QUIRK_NO_COMMENTS},
                 {"check=no", DT_QUIRK_NO_CHECK},
                 {"ask=no", DT_QUIRK_NO_ASK},
                 {"hold=no", DT_QUIRK_NO_HOLD}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf("[vocabulary]\n%s\n", cases[i].keys);
        g_autoptr(DtRig) own = make(text);
        dt_rig_truth_settings(&own->truth, &s);
        g_assert_cmpuint(s.quirks, ==, cases[i].quirks);
    }
}

/* Which bytes arrive, by what is to go wrong with them. */
static void test_bytes_go_wrong_as_asked(void)
{
    static const struct {
        const char *fault, *arrives;
    } cases[] = {{"", "abcdefgh"},
                 {"lose at byte 3", "abdefgh"},
                 {"lose 3 at byte 2", "aefgh"},
                 {"double at byte 1", "aabcdefgh"},
                 {"double 2 at byte 7", "abcdefgghh"},
                 {"lose at byte 2; double at byte 4", "acddefgh"},
                 {"stray 33 at byte 3", "ab!cdefgh"},
                 {"stray 33 at byte 3; stray 63 at byte 3; stray 33 at byte 3; double at byte 3",
                  "ab!?ccdefgh"},
                 {"stray 63 at byte 1; lose at byte 8", "?abcdefg"},
                 {"lose at every 1", ""},
                 {"double at every 0", "abcdefgh"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strdup_printf("[faults]\nlist=%s\n", cases[i].fault);
        g_autoptr(DtRig) r = make(text);
        g_autoptr(GString) got = g_string_new(NULL);
        for (const char *c = "abcdefgh"; *c; c++) {
            uint8_t out[RIG_STRAYS + 2];
            const unsigned n = dt_rig_faults_byte(r, (uint8_t)*c, out);
            g_string_append_len(got, (const char *)out, n);
        }
        g_assert_cmpstr(got->str, ==, cases[i].arrives);
    }
    g_autoptr(DtRig) r = make("[faults]\nlist=garble at byte 2\n");
    for (unsigned k = 1; k <= 4; k++) { /* a single bit */
        uint8_t out[RIG_STRAYS + 2];
        g_assert_cmpuint(dt_rig_faults_byte(r, 'x', out), ==, 1);
        g_assert_cmpint(__builtin_popcount((unsigned)out[0] ^ 'x'), ==, k == 2);
    }
}

/* What the sender hears for the replies "taken 1" to "taken 7", ";" for a line's end. */
static char *heard_of(const char *faults)
{
    g_autofree char *text = g_strdup_printf("[faults]\nlist=%s\n", faults);
    g_autoptr(DtRig) r = make(text);
    GString *heard = g_string_new(NULL);
    for (int i = 1; i <= 7; i++) {
        g_autofree char *reply = g_strdup_printf("taken %d", i);
        dt_rig_faults_line(r);
        g_autofree char *sent = dt_rig_faults_reply(r, reply);
        g_string_append(heard, sent);
    }
    g_strdelimit(heard->str, "\n", ';');
    return g_string_free(heard, FALSE);
}

static void test_replies_go_wrong_as_asked(void)
{
    static const struct {
        const char *faults, *heard;
    } cases[] = {
        {"", "taken 1;taken 2;taken 3;taken 4;taken 5;taken 6;taken 7;"},
        {"lose-reply 2 at line 2", "taken 1;taken 4;taken 5;taken 6;taken 7;"},
        {"double-reply 2 at line 6",
         "taken 1;taken 2;taken 3;taken 4;taken 5;taken 6;taken 6;taken 7;taken 7;"},
        {"swap-replies at line 2", "taken 1;taken 3;taken 2;taken 4;taken 5;taken 6;taken 7;"},
        {"swap-replies 2 at line 1", "taken 2;taken 1;taken 4;taken 3;taken 5;taken 6;taken 7;"},
        {"merge-replies 2 at line 5", "taken 1;taken 2;taken 3;taken 4;taken 5taken 6taken 7;"},
        /* that of four replies ago; the greeting is one */
        {"stale-reply at line 6", "taken 1;taken 2;taken 3;taken 4;taken 5;taken 2;taken 7;"},
        {"stale-reply 2 at line 5", "taken 1;taken 2;taken 3;taken 4;taken 1;taken 2;taken 7;"},
        /* and the next one's beforehand */
        {"forge-reply at line 3",
         "taken 1;taken 2;taken 3;taken 4;taken 4;taken 5;taken 6;taken 7;"},
        {"forge-reply at line 2; double-reply at line 2",
         "taken 1;taken 2;taken 2;taken 3;taken 3;taken 4;taken 5;taken 6;taken 7;"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *heard = heard_of(cases[i].faults);
        g_assert_cmpstr(heard, ==, cases[i].heard);
    }
    for (int seed = 1; seed <= 40; seed++) {
        g_autofree char *cut_faults = g_strdup_printf("cut-reply at line 7\nseed=%d", seed),
                        *bit_faults = g_strdup_printf("garble-reply at line 7\nseed=%d", seed);
        g_autofree char *whole = heard_of(""), *cut = heard_of(cut_faults),
                        *bit = heard_of(bit_faults);
        const gsize kept = strlen(cut) - 1; /* the beginning of it, and the line's end */
        g_assert_cmpuint(kept, <, strlen(whole) - 1);
        g_assert_cmpuint(kept, >=, strlen(whole) - 8);
        g_assert_cmpint(strncmp(cut, whole, kept), ==, 0);
        g_assert_cmpint(cut[kept], ==, ';');
        int turned = 0;
        g_assert_cmpuint(strlen(bit), ==, strlen(whole));
        for (gsize k = 0; whole[k]; k++)
            turned += __builtin_popcount((guint8)(bit[k] ^ whole[k]));
        g_assert_cmpint(turned, ==, strchr(bit, 0x80) ? 2 : 1); /* the port takes no NUL */
    }
}

/* Queues bytes and runs until all their lines are answered. */
static void send_and_wait(DtRig *r, const char *text)
{
    dt_rig_queue(r, (const uint8_t *)text, (unsigned)strlen(text), 0);
    do
        dt_rig_settle(r);
    while (r->acked_bytes < r->in_bytes && dt_rig_advance(r, -1));
    g_assert_cmpuint(r->acked_bytes, ==, r->in_bytes);
}

static void count_line(const char *line, const char *answer, void *user)
{
    (void)line;
    (void)answer;
    ++*(unsigned *)user;
}

/* A single CAN takes no line away, neither from the board nor from what the rig has of them. */
static void test_one_can_forgets_no_line(void)
{
    g_autoptr(DtRig) r = make("[faults]\nlist=stray 24 at byte 8\n");
    unsigned lines = 0;
    dt_rig_listen(r, count_line, &lines);
    send_and_wait(r, "G4 P0.1\nG4 P0.1\nM5\n");
    g_assert_cmpuint(lines, ==, 3);
}

/* A sender that never had more than so many lines or bytes in flight has no more of them in flight later: the next
 * line comes after the reply that made room for it, 0.1 s after the line that it answers. */
static void test_no_more_is_in_flight_than_ever_was(void)
{
    enum { LINES = 40 };
    static const struct {
        const char *first; /* all at once */
        int bytes;         /* of each later line */
        int in_flight;     /* of the later lines */
    } cases[] = {
        {"M5\n", 3, 1},
        {"M5                                  \n", 3, 1}, /* never two lines */
        {"M5\nM5                               \n", 3, 2},
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 3, 6},
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 4, 4}, /* four of 4 bytes and no fifth in 18 */
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 6, 3},
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 9, 2},
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 10, 1},
        {"M5\nM5\nM5\nM5\nM5\nM5\n", 18, 1},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtRig) r = make("[board]\nreply_delay_s=0.1\n");
        g_autofree char *line = g_strdup_printf("M5%*s\n", cases[i].bytes - 3, "");
        send_and_wait(r, cases[i].first);
        const double begun_s = dt_rig_clock_s(r);
        for (int k = 0; k < LINES; k++)
            send_and_wait(r, line);
        const double took_s = dt_rig_clock_s(r) - begun_s,
                     want_s = 0.1 * LINES / cases[i].in_flight;
        if (took_s < 0.95 * want_s - 0.1 || took_s > 1.1 * want_s + 0.1)
            g_test_fail_printf("case %zu takes %g instead of %g s", i, took_s, want_s);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/rig/settings", test_the_controller_s_settings_are_those_of_the_file);
    g_test_add_func("/rig/in-flight", test_no_more_is_in_flight_than_ever_was);
    g_test_add_func("/rig/bytes", test_bytes_go_wrong_as_asked);
    g_test_add_func("/rig/replies", test_replies_go_wrong_as_asked);
    g_test_add_func("/rig/one-can", test_one_can_forgets_no_line);
    g_test_add_func("/rig/true-machine-draws-what-it-is-told",
                    test_true_machine_draws_what_it_is_told);
    g_test_add_func("/rig/scale-and-square", test_scale_and_square);
    g_test_add_func("/rig/slack-is-lost-at-reversals", test_slack_is_lost_at_reversals);
    g_test_add_func("/rig/slack-beyond-its-table", test_slack_beyond_its_table_is_that_of_the_end);
    g_test_add_func("/rig/time-ends", test_time_ends_with_the_last_motion);
    g_test_add_func("/rig/wavy-rail-shows", test_wavy_rail_shows);
    g_test_add_func("/rig/pen-takes-its-time", test_pen_takes_its_time);
    g_test_add_func("/rig/shallow-pulse", test_shallow_pulse_does_not_drop_the_pen);
    g_test_add_func("/rig/stops", test_the_time_of_stops_is_counted);
    g_test_add_func("/rig/end-stop-slips-the-cord", test_end_stop_slips_the_cord);
    g_test_add_func("/rig/one-hit", test_a_run_against_a_stop_is_one_hit);
    g_test_add_func("/rig/second-homing", test_second_homing_finds_the_same_origin);
    g_test_add_func("/rig/pens-by-turns", test_pens_by_turns_without_comments);
    g_test_add_func("/rig/change-without-a-stop", test_change_without_a_stop_is_counted);
    g_test_add_func("/rig/vocabulary", test_vocabulary_of_the_rig_file);
    g_test_add_func("/rig/wrong-rig-files", test_wrong_rig_files_are_refused);
    g_test_add_func("/rig/template-reads-back", test_template_reads_back_as_the_built_in_machine);
    g_test_add_func("/rig/flood", test_flood_overflows_the_buffer);
    g_test_add_func("/rig/ink-files", test_ink_files_are_written);
    return g_test_run();
}
