/* The pins and the switch lines of the simulated chip, against the ATmega328P data sheet (Microchip DS40002061,
 * section 14; from memory) and what the rig file says of the contacts. */
#include "bare-chip.h"

#include <math.h>
#include <simavr/avr_ioport.h>

enum { DDR = 1, PORT = 2 }; /* behind PINx */
enum { COILS_X = 0xf0, COILS_Y = 0x0f, SERVO = 4, SWITCH_X = 4, SWITCH_Y = 8, SWITCHES = 12 };

static DtRig *make(const DtChipOptions *o)
{
    return bare_chip_new("", o);
}

static DtRig *make_plain(void)
{
    return make(&(DtChipOptions){.seed = 1});
}

/* Ports -------------------------------------------------------------------------------------- */

/* Table "port pin configurations": an output shows its register, an input its pull-up or what is outside; a
 * one written to PINx toggles. Ends of travel are far away: their contacts are open. */
static void ports_read_and_toggle(void)
{
    static const uint16_t ports[] = {CHIP_PINB, CHIP_PINC, CHIP_PIND};
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    for (gsize i = 0; i < G_N_ELEMENTS(ports); i++) {
        const uint16_t p = ports[i];
        bare_put(c, p + DDR, 0x33);
        bare_put(c, p + PORT, 0x55);
        g_assert_cmpuint(bare_get(c, p + DDR), ==, 0x33);
        g_assert_cmpuint(bare_get(c, p), ==, 0x55);
        bare_put(c, p, 0x0f);
        g_assert_cmpuint(bare_get(c, p + PORT), ==, 0x5a);
        g_assert_cmpuint(bare_get(c, p), ==, 0x5a);
        for (gsize k = 0; k < G_N_ELEMENTS(ports); k++)
            g_assert_cmpuint(bare_get(c, ports[k] + PORT), ==, k <= i ? 0x5a : 0);
    }
    r->machine.axis[0].forced = r->machine.axis[1].forced = TRUE;
    chip_switches_follow(c);
    bare_put(c, CHIP_PIND + DDR, 0);
    bare_put(c, CHIP_PIND + PORT, 0xff);
    g_assert_cmpuint(bare_get(c, CHIP_PIND), ==, 0xff & ~SWITCHES);
    bare_put(c, CHIP_PIND + DDR, SWITCH_Y); /* driven against its contact */
    g_assert_cmpuint(bare_get(c, CHIP_PIND), ==, 0xff & ~SWITCH_X);
    bare_put(c, CHIP_PINB + DDR, 0);
    bare_put(c, CHIP_PINB + PORT, 0xff); /* others have none */
    g_assert_cmpuint(bare_get(c, CHIP_PINB), ==, 0xff);
}

/* Coils -------------------------------------------------------------------------------------- */

typedef struct {
    unsigned n;
    int axis, turn;
    guint64 cycle;
} Seen;

static void note_step(guint64 cycle, int axis, int turn, void *user)
{
    Seen *s = user;
    *s = (Seen){s->n + 1, axis, turn, cycle};
}

static const uint8_t phases[8] = {1, 3, 2, 6, 4, 12, 8, 9}; /* common practice, no source */

static void set_coils(Chip *c, int axis, uint8_t bits)
{
    if (axis == 0)
        bare_put(c, CHIP_PIND + PORT, (uint8_t)(bits << 4));
    else
        bare_put(c, CHIP_PINC + PORT, bits);
}

static void drive_both(Chip *c)
{
    bare_put(c, CHIP_PIND + DDR, COILS_X);
    bare_put(c, CHIP_PINC + DDR, COILS_Y);
}

/* Either way round, at any phase: one half step of its axis each, seen by the machine within 24 us. */
static void coils_in_order_turn_the_motors(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    Seen seen = {0};
    DtChipFigures f;
    drive_both(c);
    dt_rig_chip_on_step(r, note_step, &seen);
    for (int axis = 0; axis < 2; axis++) {
        const RigAxis *a = &r->machine.axis[axis];
        int at = 0, steps = 0;
        set_coils(c, axis, phases[0]);
        bare_pass(c, 100 * CYCLES_PER_US);
        const double from = a->motor;
        seen.n = 0;
        for (int i = 0; i < 60; i++) {
            const int turn = i % 20 < 13 ? 1 : -1;
            at += turn;
            steps++;
            set_coils(c, axis, phases[(at + 80) % 8]);
            g_assert_cmpuint(seen.n, ==, steps);
            g_assert_cmpint(seen.axis, ==, axis);
            g_assert_cmpint(seen.turn, ==, turn);
            g_assert_cmpuint(seen.cycle, ==, c->avr->cycle);
            g_assert_cmpuint(c->moved, ==, c->avr->cycle);
            g_assert_cmpint(a->turn, ==, turn);
            bare_pass(c, 24 * CYCLES_PER_US - 2);
            g_assert_cmpint(a->turn, ==, turn);
            bare_pass(c, 2);
            g_assert_cmpint(a->turn, ==, 0);
            g_assert_cmpint(r->now, ==, chip_now_us(c));
            g_assert_cmpfloat_with_epsilon(a->motor - from, at * a->step, 1e-9);
            bare_pass(c, 1000);
        }
        dt_rig_chip_figures(r, &f);
        g_assert_cmpuint(f.half_steps[axis], ==, steps);
        g_assert_true(f.coils_on[axis] && !(axis == 0 && f.coils_on[1]));
    }
    g_assert_cmpuint(f.bad_patterns + r->machine.figures.steps_lost, ==, 0);
    g_assert_cmpuint(f.unasked, ==, 120); /* nobody has asked for them */
    c->homed = TRUE;
    c->figures.after_closing[1] = 0;
    for (int i = 1; i < 5; i++)
        set_coils(c, 1, phases[i]);
    dt_rig_chip_figures(r, &f);
    g_assert_cmpuint(f.unasked, ==, 120);
    g_assert_cmpuint(f.after_closing[1], ==, 4);
}

/* Both axes within 24 us turn as one, and an axis that turns twice within them turns twice. */
static void coils_that_switch_together_turn_together(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    const RigAxis *a = r->machine.axis;
    drive_both(c);
    for (int axis = 0; axis < 2; axis++)
        set_coils(c, axis, phases[0]);
    bare_pass(c, 1000);
    const double from[2] = {a[0].motor, a[1].motor};
    set_coils(c, 0, phases[1]);
    bare_pass(c, 10 * CYCLES_PER_US);
    set_coils(c, 1, phases[7]);
    g_assert_cmpint(a[0].turn, ==, 1);
    g_assert_cmpint(a[1].turn, ==, -1);
    set_coils(c, 0, phases[2]);
    bare_pass(c, 25 * CYCLES_PER_US);
    g_assert_cmpfloat_with_epsilon(a[0].motor - from[0], 2 * a[0].step, 1e-9);
    g_assert_cmpfloat_with_epsilon(a[1].motor - from[1], -a[1].step, 1e-9);
}

static int phase_of(uint8_t bits)
{
    for (int i = 0; i < 8; i++)
        if (phases[i] == bits)
            return i;
    return -1;
}

/* To a phase itself and to its two neighbours a rotor can follow; from rest to any of the eight; to another
 * pattern never. */
static void try_every_pattern_after(int axis, int from, gboolean rest)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    drive_both(c);
    for (uint8_t bits = 0; bits < 16; bits++) {
        const int phase = phase_of(bits), change = (phase - from + 8) % 8;
        const gboolean next = phase >= 0 && (change == 1 || change == 7);
        const gboolean good = bits == 0 || next || (phase >= 0 && (rest || change == 0));
        set_coils(c, axis, 0);
        set_coils(c, axis, phases[from]);
        if (rest)
            set_coils(c, axis, 0);
        c->figures.bad_patterns = 0;
        c->figures.half_steps[axis] = 0;
        set_coils(c, axis, bits);
        g_assert_cmpuint(c->figures.bad_patterns, ==, !good);
        g_assert_cmpuint(c->figures.half_steps[axis], ==, next);
        bare_pass(c, 1000);
    }
}

static void patterns_that_no_motor_follows_are_counted(void)
{
    for (int axis = 0; axis < 2; axis++)
        for (int from = 0; from < 8; from++)
            for (int rest = 0; rest < 2; rest++)
                try_every_pattern_after(axis, from, rest);
}

static void a_pin_that_becomes_an_output_drives_its_coil(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    for (int axis = 0; axis < 2; axis++)
        set_coils(c, axis, phases[2]);
    g_assert_true(c->coils[0] == 0 && c->coils[1] == 0);
    bare_put(c, CHIP_PIND + DDR, COILS_X);
    g_assert_true(c->coils[0] == phases[2] && c->coils[1] == 0);
    bare_put(c, CHIP_PINC + DDR, COILS_Y);
    g_assert_true(c->coils[1] == phases[2]);
    bare_put(c, CHIP_PINB + PORT, SERVO);
    g_assert_false(c->servo_pin);
    bare_put(c, CHIP_PINB + DDR, SERVO);
    g_assert_true(c->servo_pin);
}

static void a_reset_lets_the_coils_go(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    DtChipFigures f;
    drive_both(c);
    for (int axis = 0; axis < 2; axis++)
        set_coils(c, axis, phases[3]);
    bare_put(c, CHIP_PINB + DDR, SERVO);
    bare_put(c, CHIP_PINB + PORT, SERVO);
    bare_pass(c, 1000 * CYCLES_PER_US);
    bare_put(c, CHIP_PINB + PORT, 0);
    bare_put(c, CHIP_PINB + PORT, SERVO);
    dt_rig_chip_figures(r, &f);
    g_assert_true(f.coils_on[0] && f.coils_on[1] && c->servo_pin && f.pulse_us == 1000);
    dt_rig_reset(r);
    dt_rig_chip_figures(r, &f);
    g_assert_false(f.coils_on[0] || f.coils_on[1] || c->servo_pin);
    g_assert_cmpfloat(f.pulse_us, ==, 0);
    g_assert_true(r->machine.axis[0].loose && r->machine.axis[1].loose);
    dt_rig_chip_watch_pulses(r);
    bare_pass(c, 100);
    bare_put(c, CHIP_PINB + DDR, SERVO);
    bare_put(c, CHIP_PINB + PORT, SERVO); /* the first pulse ends no frame */
    dt_rig_chip_figures(r, &f);
    g_assert_cmpfloat(f.frame_high_us, ==, 0);
}

/* Servo -------------------------------------------------------------------------------------- */

static void pulse(Chip *c, uint64_t us, uint64_t frame_us)
{
    bare_put(c, CHIP_PINB + PORT, SERVO);
    bare_pass(c, us * CYCLES_PER_US);
    bare_put(c, CHIP_PINB + PORT, 0);
    bare_pass(c, (frame_us - us) * CYCLES_PER_US);
}

/* From edge to edge; the pen follows them, and without one for 0.1 s there is none. */
static void pulses_are_measured(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    DtChipFigures f;
    const uint64_t up = 1000, down = (uint64_t)r->truth.pen_down_us + 100;
    pulse(c, up, 20000); /* the pin is no output yet */
    dt_rig_chip_figures(r, &f);
    g_assert_cmpuint(f.pulses, ==, 0);
    bare_put(c, CHIP_PINB + DDR, SERVO);
    dt_rig_chip_watch_pulses(r);
    pulse(c, up, 20000);
    pulse(c, down, 19000);
    g_assert_true(r->machine.commanded_down);
    pulse(c, up + 5, 21000);
    g_assert_false(r->machine.commanded_down);
    pulse(c, up + 3, 20000);
    dt_rig_chip_figures(r, &f);
    g_assert_cmpuint(f.pulses, ==, 4);
    g_assert_cmpfloat(f.pulse_us, ==, up + 3);
    g_assert_cmpfloat(f.pulse_low_us, ==, up);
    g_assert_cmpfloat(f.pulse_high_us, ==, (double)down);
    g_assert_cmpfloat(f.frame_low_us, ==, 19000);
    g_assert_cmpfloat(f.frame_high_us, ==, 21000);
    bare_pass(c, (100000 - 20000 + up + 3) * CYCLES_PER_US - 2);
    dt_rig_chip_figures(r, &f);
    g_assert_cmpfloat(f.pulse_us, ==, up + 3);
    bare_pass(c, 4);
    dt_rig_chip_figures(r, &f);
    g_assert_cmpfloat(f.pulse_us, ==, 0);
    g_assert_cmpint(f.pulses, ==, 4);
}

/* The pen moves at the time of its edge, not at the end of what the rig runs the chip for. */
static void the_pen_moves_when_its_pulse_ends(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    bare_put(c, CHIP_PINB + DDR, SERVO);
    pulse(c, 1000, 20000);
    bare_put(c, CHIP_PINB + PORT, SERVO);
    bare_pass(c, 1900 * CYCLES_PER_US);
    bare_put(c, CHIP_PINB + PORT, 0);
    g_assert_true(r->machine.commanded_down);
    g_assert_cmpint(r->now, ==, chip_now_us(c));
    g_assert_cmpint(r->machine.last_motion, ==, chip_now_us(c));
}

/* To the nearest microsecond. */
static void pulses_are_rounded(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    const uint64_t edge = (uint64_t)r->truth.pen_down_us * CYCLES_PER_US - CYCLES_PER_US / 2;
    bare_put(c, CHIP_PINB + DDR, SERVO);
    for (unsigned late = 0; late < 2; late++) {
        bare_put(c, CHIP_PINB + PORT, SERVO);
        bare_pass(c, edge - (late ? 0 : 2));
        bare_put(c, CHIP_PINB + PORT, 0);
        g_assert_cmpint(r->machine.commanded_down, ==, late);
        bare_pass(c, 1000);
    }
}

/* Switches ----------------------------------------------------------------------------------- */

typedef struct {
    Chip *c;
    GArray *at; /* cycles */
    unsigned level;
} Edges;

static void on_edge(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    Edges *e = user;
    g_array_append_val(e->at, e->c->avr->cycle);
    e->level = value;
}

/* A contact bounces for 5 ms at most, 20 to 400 us at a level, and ends as the machine has it. It closes to
 * ground, or is open where the switch opens. */
static void contacts_bounce_and_come_to_rest(void)
{
    enum { LONGEST = 400, SHORTEST = 20, MOST_US = 5000 };
    const DtChipOptions o = {.seed = 3, .bounce_s = MOST_US * 1e-6, .opens = {FALSE, TRUE}};
    g_autoptr(DtRig) r = make(&o);
    Chip *c = bare_chip(r);
    bare_put(c, CHIP_PIND + PORT, SWITCHES);
    for (int axis = 0; axis < 2; axis++) {
        unsigned bounces = 0;
        double longest = 0;
        Edges e = {c, g_array_new(FALSE, FALSE, sizeof(avr_cycle_count_t)), 0};
        avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2 + axis),
                                on_edge, &e);
        for (unsigned i = 0; i < 60; i++) {
            const gboolean reached = i % 2 == 0;
            const uint64_t from = c->avr->cycle;
            g_array_set_size(e.at, 0);
            c->figures.after_closing[axis] = 9;
            r->machine.axis[axis].forced = reached;
            chip_switches_follow(c);
            g_assert_cmpuint(c->figures.after_closing[axis], ==, 0);
            bare_pass(c, 2 * MOST_US * CYCLES_PER_US);
            const unsigned low = reached != o.opens[axis];
            g_assert_cmpuint(e.level, ==, !low);
            g_assert_cmpuint(bare_get(c, CHIP_PIND) >> (2 + axis) & 1, ==, !low);
            g_assert_cmpuint(c->figures.closings[axis], ==, i / 2 + 1);
            g_assert_cmpuint(e.at->len % 2, ==, 1);
            for (guint k = 0; k < e.at->len; k++) {
                const uint64_t before = k ? g_array_index(e.at, uint64_t, k - 1) : from;
                const uint64_t at = g_array_index(e.at, uint64_t, k);
                if (k == 1)
                    g_assert_cmpuint(at - before, ==, SHORTEST * CYCLES_PER_US);
                else if (k > 1 && k + 1 < e.at->len)
                    g_assert_cmpuint(at - before, >=, SHORTEST * CYCLES_PER_US);
                g_assert_cmpuint(at - before, <=, LONGEST * CYCLES_PER_US + 2);
                longest = MAX(longest, (double)(at - from) / CYCLES_PER_US);
            }
            bounces += e.at->len / 2;
        }
        g_array_unref(e.at);
        avr_irq_unregister_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2 + axis),
                                  on_edge, &e);
        g_assert_cmpuint(bounces, >, 150);
        g_assert_cmpfloat(longest, <, MOST_US + 1);
        g_assert_cmpfloat(longest, >, MOST_US * 0.8);
    }
    chip_switches_follow(c); /* nothing has changed */
    g_assert_cmpuint(c->figures.closings[0] + c->figures.closings[1], ==, 60);
}

static void contacts_without_bounce_close_once(void)
{
    g_autoptr(DtRig) r = make_plain();
    Chip *c = bare_chip(r);
    Edges e = {c, g_array_new(FALSE, FALSE, sizeof(avr_cycle_count_t)), 0};
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 3), on_edge, &e);
    r->machine.axis[1].forced = TRUE;
    chip_switches_follow(c);
    bare_pass(c, 100000);
    g_assert_cmpuint(e.at->len, ==, 1);
    g_assert_false(chip_switch_level(c, 1));
    g_assert_true(chip_switch_level(c, 0));
    g_array_unref(e.at);
}

/* A reset finds them as they are, and at rest. */
static void contacts_are_as_they_are_after_a_reset(void)
{
    g_autoptr(DtRig) r = make(&(DtChipOptions){.seed = 1, .bounce_s = 0.005});
    Chip *c = bare_chip(r);
    for (unsigned closed = 0; closed < 4; closed++) {
        for (int axis = 0; axis < 2; axis++)
            r->machine.axis[axis].forced = closed >> axis & 1;
        chip_switches_follow(c);
        bare_pass(c, 50 * CYCLES_PER_US);
        c->switches[0].spike = c->switches[1].spike = TRUE;
        dt_rig_reset(r);
        for (int i = 0; i < 100; i++) {
            for (int axis = 0; axis < 2; axis++) {
                g_assert_cmpint(chip_switch_level(c, axis), ==, !(closed >> axis & 1));
                g_assert_cmpint(c->switches[axis].reached, ==, closed >> axis & 1);
            }
            bare_pass(c, 20 * CYCLES_PER_US);
        }
    }
}

/* Over 4 s: bursts at the rate that is set, and after each change of a coil in one a spike that ends. */
static void noise_comes_in_bursts(void)
{
    enum { HZ = 100, SECONDS = 4 };
    const DtChipOptions o = {.seed = 5, .burst_hz = HZ, .burst_s = 0.004, .spike_s = 30e-6};
    g_autoptr(DtRig) r = make(&o);
    Chip *c = bare_chip(r);
    DtChipFigures f;
    unsigned inside = 0, changes = 0, spikes[4] = {0}, spiky = 0, kept = 0;
    avr_irq_t *const pins[2] = {avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2),
                                avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 3)};
    drive_both(c);
    dt_rig_chip_figures(r, &f);
    const guint64 before = f.bursts;
    for (unsigned i = 0; i < SECONDS * 1000; i++) {
        const gboolean burst = c->avr->cycle < c->burst_end;
        const guint64 had = c->figures.spikes;
        set_coils(c, i & 1, phases[i / 2 % 8]);
        changes++;
        inside += burst;
        for (int k = 0; k < 25; k++) {
            const unsigned on = (unsigned)(c->switches[0].spike | c->switches[1].spike << 1);
            spikes[on]++;
            spiky += on != 0;
            for (int axis = 0; axis < 2; axis++) {
                g_assert_cmpint(chip_switch_level(c, axis), ==, !(on >> axis & 1));
                if (c->figures.spikes > 0) /* the pin is told */
                    g_assert_cmpint((int)pins[axis]->value, ==, !(on >> axis & 1));
            }
            bare_pass(c, 4 * CYCLES_PER_US);
        }
        g_assert_false(c->switches[0].spike || c->switches[1].spike); /* 50 us until and 30 after */
        kept += c->figures.spikes - had == (burst ? 1 : 0);
        bare_pass(c, 900 * CYCLES_PER_US);
    }
    dt_rig_chip_figures(r, &f);
    /* Poisson arrivals: within four deviations. A burst lasts 2 ms on average. */
    const double want = HZ * SECONDS, bursts = (double)(f.bursts - before);
    g_assert_cmpfloat(fabs(bursts - want), <, 4 * sqrt(want));
    g_assert_cmpfloat((double)inside / changes, >, 0.1);
    g_assert_cmpfloat((double)inside / changes, <, 0.3);
    g_assert_cmpuint(kept, ==, changes);
    for (int i = 1; i < 4; i++) /* on one line, the other, or both */
        g_assert_cmpfloat(fabs((double)spikes[i] / spiky - 1 / 3.0), <, 0.1);
    g_assert_cmpfloat(4.0 * spiky / inside, >, 13); /* us that one lasts: 15 */
    g_assert_cmpfloat(4.0 * spiky / inside, <, 17);
}

/* The simulator frees little of what it allocates. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libsimavr\n";
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/chip-pins/ports", ports_read_and_toggle);
    g_test_add_func("/chip-pins/coils", coils_in_order_turn_the_motors);
    g_test_add_func("/chip-pins/together", coils_that_switch_together_turn_together);
    g_test_add_func("/chip-pins/patterns", patterns_that_no_motor_follows_are_counted);
    g_test_add_func("/chip-pins/output", a_pin_that_becomes_an_output_drives_its_coil);
    g_test_add_func("/chip-pins/reset", a_reset_lets_the_coils_go);
    g_test_add_func("/chip-pins/pulses", pulses_are_measured);
    g_test_add_func("/chip-pins/pen", the_pen_moves_when_its_pulse_ends);
    g_test_add_func("/chip-pins/rounded", pulses_are_rounded);
    g_test_add_func("/chip-switch/bounce", contacts_bounce_and_come_to_rest);
    g_test_add_func("/chip-switch/plain", contacts_without_bounce_close_once);
    g_test_add_func("/chip-switch/reset", contacts_are_as_they_are_after_a_reset);
    g_test_add_func("/chip-switch/noise", noise_comes_in_bursts);
    return g_test_run();
}
