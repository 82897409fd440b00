/* The controller's image on the simulated chip: it draws as the core does, takes a power cut, and is not
 * stopped by noise on its switch lines. The long campaigns are in bench-chip. */
#include "chip-inside.h"
#include "support/ink-apart.h"

#include <math.h>
#include <string.h>

static const double half_step_mm = 0.0101; /* at the rig's scale */

#define NEAR_HOME "[truth]\nstart_x = 1\nstart_y = 1\n"

static const char *image;

static DtRig *make(const char *file, const DtChipOptions *o)
{
    g_autoptr(GError) error = NULL;
    DtRig *r = dt_rig_new_from_text(file, "test", &error);
    g_assert_no_error(error);
    const gboolean good = o == NULL || dt_rig_use_chip(r, o, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    return r;
}

static DtRig *make_chip(void)
{
    return make(NEAR_HOME, &(DtChipOptions){.image = image, .seed = 1});
}

static void run(DtRig *r, const char *program)
{
    dt_rig_run_text(r, program, strlen(program));
}

static void send(DtRig *r, const char *text)
{
    for (; *text; text++)
        dt_rig_chip_send(r, (guint8)*text);
}

static const char drawing[] =
    "G28\nG0 X6 Y5\nM3 S40\nG4 P0.15\nG1 X9 Y6 F600\nG2 X11 Y8 I0 J2\nG1 X6.5 Y7.3\n"
    "M5\nG4 P0.1\nG0 X4 Y8\nM3 S40\nG4 P0.15\nG1 X4.2 Y4\nM5\nG4 P0.1\nG0 X1 Y1\n";

/* The chip takes time to plan, at most so much more than the core. */
static void draw_on_both(const char *file, double planning_s)
{
    const DtChipOptions o = {.image = image, .seed = 1};
    g_autoptr(DtRig) core = make(file, NULL), chip = make(file, &o);
    DtRigFigures want, got;
    DtChipFigures c;
    g_assert_cmpuint(chip->out->len, ==, 0);
    run(core, drawing);
    run(chip, drawing);
    dt_rig_figures(core, &want);
    dt_rig_figures(chip, &got);
    dt_rig_chip_figures(chip, &c);
    g_assert_cmpuint(dt_rig_stroke_count(core), ==, 2);
    g_assert_cmpfloat(ink_apart(core, chip), <=, half_step_mm);
    g_assert_cmpuint(got.lines_taken, ==, want.lines_taken);
    g_assert_cmpuint(got.lines_refused + got.bytes_lost + got.steps_lost + got.endstop_hits, ==, 0);
    g_assert_cmpuint(c.bad_patterns + c.unasked + c.resets + c.overruns, ==, 0);
    g_assert_true(got.steps[0] == want.steps[0] && got.steps[1] == want.steps[1]);
    g_assert_true(got.pen_up_at_end && got.homed);
    /* What stands behind a dwell is planned while it lasts: the chip's time for it is not seen. */
    g_assert_cmpfloat(fabs(got.time_s - want.time_s), <, planning_s);
    g_assert_cmpfloat(want.home_s, >, 1); /* ends when the line is answered */
    g_assert_cmpfloat(fabs(got.home_s - want.home_s), <, planning_s);
}

static void draws_as_the_core(void)
{
    draw_on_both(NEAR_HOME, 0.03);
}

/* Those of the rig file that are not standard are told to the chip before, and their answers are not heard. */
static void settings_of_the_file_reach_the_chip(void)
{
    draw_on_both(NEAR_HOME "[controller]\nsteps_per_mm_x=90\nspeed_y=9\nacceleration_x=120\n"
                           "pull_in_y=2.5\npull_off=3\npen_us_per_s=12\nsettle_s=0.5\n",
                 0.05);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new_from_text("[vocabulary]\nwords=G0 G1\n", "test", &error);
    const DtChipOptions o = {.image = image, .seed = 1};
    g_assert_false(dt_rig_use_chip(r, &o, &error));
    g_assert_nonnull(strstr(error->message, "vocabulary"));
}

/* Common practice, no source: a hobby servo takes a pulse every 20 ms and turns with its width. */
static void servo_pulses_are_exact(void)
{
    g_autoptr(DtRig) r = make_chip();
    DtChipFigures c;
    dt_rig_chip_run(r, 0.3);
    dt_rig_chip_watch_pulses(r);
    dt_rig_chip_run(r, 0.3);
    dt_rig_chip_figures(r, &c);
    g_assert_cmpfloat(c.pulse_low_us, >, 998);
    g_assert_cmpfloat(c.pulse_high_us, <, 1002);
    g_assert_cmpfloat(c.pulse_high_us, >=, c.pulse_low_us);
    g_assert_cmpfloat(c.frame_low_us, >, 19998);
    g_assert_cmpfloat(c.frame_high_us, <, 20002);
    g_assert_cmpfloat(c.frame_high_us, >=, c.frame_low_us);
    run(r, "G28\nM3 S37\nG4 P0.5\n");
    dt_rig_chip_watch_pulses(r);
    run(r, "G0 X5 Y5\nG0 X1 Y2\n"); /* the step interrupt does not move its edges */
    dt_rig_chip_figures(r, &c);
    g_assert_cmpfloat(c.pulse_low_us, >, 1368);
    g_assert_cmpfloat(c.pulse_high_us, <, 1372);
    g_assert_cmpfloat(c.pulse_high_us, >=, c.pulse_low_us);
}

static void hear(const char *text, void *user)
{
    g_string_append_printf(user, "%s\n", text);
}

static void assert_safe_start(DtRig *r, GString *said)
{
    DtChipFigures before, after;
    g_string_truncate(said, 0);
    dt_rig_chip_cut_power(r);
    dt_rig_chip_figures(r, &before);
    dt_rig_chip_run(r, 0.3);
    send(r, "\005#412=#412\n");
    dt_rig_chip_run(r, 0.1);
    dt_rig_chip_figures(r, &after);
    g_assert_nonnull(strstr(said->str, "ready"));
    g_assert_nonnull(strstr(said->str, "state unhomed"));
    g_assert_nonnull(strstr(said->str, "pen up"));
    g_assert_cmpfloat(fabs(after.pulse_us - 1000), <, 2);
    g_assert_true(!after.coils_on[0] && !after.coils_on[1]);
    g_assert_true(after.half_steps[0] == before.half_steps[0]);
    g_assert_true(after.half_steps[1] == before.half_steps[1]);
}

static void power_goes_while_it_draws(void)
{
    g_autoptr(DtRig) r = make_chip();
    g_autoptr(GString) said = g_string_new("");
    dt_rig_chip_on_answer(r, hear, said);
    run(r, "G28\nM3 S40\nG4 P0.2\n");
    send(r, "G1 X10 Y10 F600\n");
    dt_rig_chip_run(r, 0.4);
    assert_safe_start(r, said);
    dt_rig_chip_on_answer(r, NULL, NULL);
}

/* At many moments from before the first byte is written to after the last: the old speed or the new one,
 * and never one that nobody has set. */
static void power_goes_while_settings_are_kept(void)
{
    g_autoptr(DtRig) r = make_chip();
    g_autoptr(GString) said = g_string_new("");
    unsigned old = 0, new = 0;
    double speed = 15; /* standard, controller.h */
    dt_rig_chip_run(r, 0.1);
    dt_rig_chip_on_answer(r, hear, said);
    for (int i = 0; i < 14; i++) {
        const double to = 5 + 0.25 * i;
        g_autofree char *line = g_strdup_printf("#412=%.2f\n", to);
        send(r, line);
        dt_rig_chip_run(r, 0.006 * i);
        assert_safe_start(r, said);
        double found = 0;
        const char *at = strstr(said->str, "parameter 412 ");
        g_assert_nonnull(at);
        found = g_ascii_strtod(at + strlen("parameter 412 "), NULL);
        old += fabs(found - speed) < 1e-3;
        new += fabs(found - to) < 1e-3;
        g_assert_true(fabs(found - speed) < 1e-3 || fabs(found - to) < 1e-3);
        speed = found;
    }
    g_assert_cmpuint(old, >, 0);
    g_assert_cmpuint(new, >, 0);
    dt_rig_chip_on_answer(r, NULL, NULL);
}

/* The same data sheet, section 8.4 (from memory): a reset does not end the write of a byte. */
static void a_reset_does_not_end_a_write(void)
{
    g_autoptr(DtRig) r = make_chip();
    const ChipEeprom *e = &((Chip *)r->chip)->eeprom;
    dt_rig_chip_run(r, 0.1);
    send(r, "#412=9.5\n");
    for (int ms = 0; ms < 200 && !e->busy; ms++)
        dt_rig_chip_run(r, 0.001);
    g_assert_true(e->busy);
    const unsigned at = e->at;
    const guint8 value = e->value;
    g_assert_cmpuint(e->cells[at], !=, value);
    dt_rig_reset(r);
    dt_rig_chip_run(r, 0.005);
    g_assert_false(e->busy);
    g_assert_cmpuint(e->cells[at], ==, value);
}

static void noise_stops_nothing(void)
{
    g_autoptr(DtRig) r = make(NEAR_HOME, &(DtChipOptions){.image = image,
                                                          .bounce_s = 0.005,
                                                          .burst_hz = 20,
                                                          .burst_s = 0.02,
                                                          .spike_s = 60e-6,
                                                          .seed = 7});
    DtRigFigures f;
    DtChipFigures c;
    run(r, "G28\nG0 X0.5 Y0.5\nG0 X12 Y9\nG1 X0 Y0 F700\nG0 X6 Y0\nG1 X0 F500\nG0 X8 Y8\nM5\n");
    dt_rig_figures(r, &f);
    dt_rig_chip_figures(r, &c);
    g_assert_cmpuint(c.spikes, >, 100);
    g_assert_cmpuint(f.lines_refused + f.endstop_hits + c.bad_patterns, ==, 0);
    g_assert_true(f.homed && !f.stopped_on_switch);
}

/* Spikes so short that both their edges may come in one interrupt, at each change of a coil. */
static void short_spikes_stop_nothing(void)
{
    g_autoptr(DtRig) r =
        make(NEAR_HOME,
             &(DtChipOptions){
                 .image = image, .burst_hz = 200, .burst_s = 0.02, .spike_s = 8e-6, .seed = 1});
    g_autoptr(GString) s = g_string_new("G28\n");
    DtRigFigures f;
    DtChipFigures c;
    for (int i = 0; i < 12; i++)
        g_string_append(s, "G0 X30 Y25\nG0 X1 Y1\n");
    run(r, s->str);
    dt_rig_figures(r, &f);
    dt_rig_chip_figures(r, &c);
    g_assert_cmpuint(c.spikes, >, 10000);
    g_assert_cmpuint(f.lines_refused, ==, 0);
}

/* A switch that is hit in the middle of a job, with bouncing contacts and noise on its line. */
static void hit(int axis, unsigned speed, gboolean noise, guint32 seed)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text =
        g_strdup_printf(NEAR_HOME "[faults]\nlist = switch %c at line 22\n", axis ? 'y' : 'x');
    g_autoptr(DtRig) r = dt_rig_new_from_text(text, "test", &error);
    const DtChipOptions o = {.image = image,
                             .bounce_s = 0.005,
                             .burst_hz = noise ? 50 : 0,
                             .burst_s = 0.02,
                             .spike_s = 60e-6,
                             .seed = seed};
    g_autoptr(GString) s = g_string_new("G28\nG0 X12 Y12\nM5\n");
    for (int i = 0; i < 22; i++)
        g_string_append_printf(s, "G1 %c%.1f F%u\n", axis ? 'Y' : 'X', 11.5 - 0.5 * i, speed);
    dt_rig_use_chip(r, &o, &error);
    g_assert_no_error(error);
    run(r, s->str);
    DtRigFigures f;
    DtChipFigures c;
    dt_rig_figures(r, &f);
    dt_rig_chip_figures(r, &c);
    g_assert_true(f.stopped_on_switch);
    g_assert_cmpuint(c.after_closing[axis], <=, 2);
}

static void switch_stops_the_axis(void)
{
    for (guint32 i = 0; i < 12; i++)
        hit((int)(i & 1), 200 + 50 * i, i % 4 >= 2, i + 3);
}

/* Lines behind a dwell that are more than the buffer holds. */
static void bytes_without_room_are_counted(void)
{
    g_autoptr(DtRig) r = make_chip();
    DtChipFigures c;
    dt_rig_chip_run(r, 0.1);
    send(r, "\005");
    dt_rig_chip_run(r, 0.1);
    dt_rig_chip_figures(r, &c);
    g_assert_cmpuint(c.no_room, ==, 0);
    send(r, "G4 P1\n");
    for (int i = 0; i < 60; i++)
        send(r, "M5\n");
    send(r, "\005");
    dt_rig_chip_run(r, 0.2);
    dt_rig_chip_figures(r, &c);
    g_assert_cmpuint(c.no_room, >, 0);
    g_assert_cmpuint(c.overruns, ==, 0);
}

static void wrong_image_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new(NULL, &error);
    const DtChipOptions o = {.image = "/proc/self/exe"};
    g_assert_false(dt_rig_use_chip(r, &o, &error));
    g_assert_nonnull(strstr(error->message, "not an image"));
}

/* The ATmega328P data sheet (from memory): RAM from 0x100 on, which power takes away and a reset does not, and
 * MCUSR, which says which of both it was. */
static void power_takes_the_ram_and_a_reset_does_not(void)
{
    enum { RAM = 0x100, BYTES = 2048 };
    g_autoptr(DtRig) r = make_chip();
    guint8 before[BYTES];
    unsigned kept;
    avr_t *avr = ((Chip *)r->chip)->avr;
    for (int power = 0; power < 4; power++) {
        dt_rig_chip_run(r, 0.1);
        memcpy(before, avr->data + RAM, BYTES);
        if (power % 2)
            dt_rig_chip_cut_power(r);
        else
            dt_rig_reset(r);
        kept = 0;
        for (int i = 0; i < BYTES; i++)
            kept += avr->data[RAM + i] == before[i];
        if (power % 2)
            g_assert_cmpuint(kept, <, BYTES / 50);
        else
            g_assert_cmpuint(kept, ==, BYTES);
        g_assert_cmpint(avr->data[CHIP_MCUSR], ==, power % 2 ? 1 : 2);
    }
}

/* 16 MHz. */
static void cycles_are_counted(void)
{
    g_autoptr(DtRig) r = make_chip();
    DtChipFigures from, to;
    dt_rig_chip_figures(r, &from);
    dt_rig_chip_run(r, 0.25);
    dt_rig_chip_figures(r, &to);
    g_assert_cmpfloat_with_epsilon((double)(to.cycles - from.cycles) / 16e6, 0.25, 0.005);
}

/* The simulator frees little of what it allocates. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libsimavr\n";
}

static void skip(void)
{
    g_test_skip("avr-gcc is not installed (gcc-avr, avr-libc)");
}

/* The image, by the project's own script. */
static void build(const char *source)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *script = g_build_filename(source, "controller", "build.sh", NULL);
    char *argv[] = {"sh", script, "drawtrue-atmega328p", NULL};
    int status = 0;
    g_spawn_sync(NULL, argv, NULL, G_SPAWN_SEARCH_PATH | G_SPAWN_STDOUT_TO_DEV_NULL, NULL, NULL,
                 NULL, NULL, &status, &error);
    g_assert_no_error(error);
    g_spawn_check_wait_status(status, &error);
    g_assert_no_error(error);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    const char *source = argc > 1 ? argv[1] : ".";
    g_autofree char *gcc = g_find_program_in_path("avr-gcc");
    g_autofree char *path =
        g_build_filename(source, "build", "board", "drawtrue-atmega328p.elf", NULL);
    image = path;
    if (gcc)
        build(source);
    const struct {
        const char *name;
        void (*test)(void);
    } tests[] = {
        {"/chip/draws-as-the-core", draws_as_the_core},
        {"/chip/settings-of-the-file", settings_of_the_file_reach_the_chip},
        {"/chip/power-takes-the-ram", power_takes_the_ram_and_a_reset_does_not},
        {"/chip/cycles-are-counted", cycles_are_counted},
        {"/chip/servo-pulses-are-exact", servo_pulses_are_exact},
        {"/chip/power-goes-while-it-draws", power_goes_while_it_draws},
        {"/chip/power-goes-while-settings-are-kept", power_goes_while_settings_are_kept},
        {"/chip/a-reset-ends-no-write", a_reset_does_not_end_a_write},
        {"/chip/noise-stops-nothing", noise_stops_nothing},
        {"/chip/short-spikes-stop-nothing", short_spikes_stop_nothing},
        {"/chip/bytes-without-room-are-counted", bytes_without_room_are_counted},
        {"/chip/switch-stops-the-axis", switch_stops_the_axis},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(tests); i++)
        g_test_add_func(tests[i].name, gcc ? tests[i].test : skip);
    g_test_add_func("/chip/wrong-image-is-refused", wrong_image_is_refused);
    return g_test_run();
}
