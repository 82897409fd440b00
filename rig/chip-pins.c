/* chip-pins: from the chip's ports to the rig's mechanics: coil patterns become turns, pulses
 * move the pen. */
#include "chip-inside.h"

enum {
    TOGETHER_US = 24
}; /* coils switched within this time turn together: no rotor is that
                            * fast */
enum { SERVO_BIT = 2, SWITCH_X_BIT = 2, NO_PULSE_US = 100000 };
enum { PIN, DDR, PORT }; /* registers of a port, from its first on */

static uint8_t driven(const Chip *c, uint16_t pin)
{
    return c->avr->data[pin + PORT] & c->avr->data[pin + DDR];
}

static void tell_time(Chip *c)
{
    c->rig->now = MAX(c->rig->now, chip_now_us(c));
}

/* Coils -------------------------------------------------------------------------------------- */

static void turn_now(Chip *c)
{
    tell_time(c);
    dt_rig_machine_turn(&c->rig->machine, c->rig->now);
    chip_switches_follow(c);
}

static avr_cycle_count_t on_turn(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    turn_now(user);
    return 0;
}

static void count_step(Chip *c, int axis, int turn)
{
    c->moved = c->avr->cycle;
    c->figures.half_steps[axis]++;
    c->figures.after_closing[axis]++;
    c->figures.unasked += !c->homed && c->rig->board->state(c->rig) != DT_STATE_HOMING;
    if (c->on_step)
        c->on_step(c->avr->cycle, axis, turn, c->on_step_user);
}

static void drive_coils(Chip *c, int axis, uint8_t bits)
{
    RigMachine *m = &c->rig->machine;
    if (bits == c->coils[axis])
        return;
    const gboolean from_rest = c->coils[axis] == 0;
    c->coils[axis] = bits;
    chip_switches_spike(c);
    if (m->axis[axis].turn != 0)
        turn_now(c);
    const int phase = dt_rig_machine_phase(bits), change = (phase - c->phase[axis] + 8) % 8;
    if (bits != 0 && (phase < 0 || (change > 1 && change < 7 && !from_rest)))
        c->figures.bad_patterns++;
    if (phase >= 0 && (change == 1 || change == 7))
        count_step(c, axis, change == 1 ? 1 : -1);
    c->phase[axis] = phase >= 0 ? phase : c->phase[axis];
    dt_rig_machine_coils(m, (unsigned)axis, bits);
    avr_cycle_timer_register(c->avr, TOGETHER_US * CYCLES_PER_US, on_turn, c);
}

/* Servo -------------------------------------------------------------------------------------- */

static avr_cycle_count_t on_no_pulse(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    ((Chip *)user)->figures.pulse_us = 0;
    return 0;
}

static void end_pulse(Chip *c)
{
    DtChipFigures *f = &c->figures;
    const double us = (double)(c->avr->cycle - c->rose) / CYCLES_PER_US;
    f->pulses++;
    f->pulse_us = us;
    f->pulse_low_us = MIN(f->pulse_low_us, us);
    f->pulse_high_us = MAX(f->pulse_high_us, us);
    avr_cycle_timer_register(c->avr, NO_PULSE_US * CYCLES_PER_US, on_no_pulse, c);
    tell_time(c);
    dt_rig_servo(c->rig, (uint16_t)(us + 0.5));
}

static void begin_pulse(Chip *c)
{
    DtChipFigures *f = &c->figures;
    c->last_rise = c->rose;
    c->rose = c->avr->cycle;
    const double us = (double)(c->rose - c->last_rise) / CYCLES_PER_US;
    if (c->last_rise == 0)
        return;
    f->frame_low_us = MIN(f->frame_low_us, us);
    f->frame_high_us = MAX(f->frame_high_us, us);
}

void chip_pins_servo(Chip *c)
{
    gboolean level;
    if (!chip_timer_drives_servo(c, &level))
        level = c->avr->data[CHIP_PINB + PORT] >> SERVO_BIT & 1;
    level = level && c->avr->data[CHIP_PINB + DDR] >> SERVO_BIT & 1;
    if (level == c->servo_pin)
        return;
    c->servo_pin = level;
    if (level)
        begin_pulse(c);
    else
        end_pulse(c);
}

/* Ports -------------------------------------------------------------------------------------- */

static void follow_port(Chip *c, uint16_t pin)
{
    if (pin == CHIP_PINB)
        chip_pins_servo(c);
    else if (pin == CHIP_PINC)
        drive_coils(c, 1, driven(c, pin) & 15);
    else
        drive_coils(c, 0, driven(c, pin) >> 4);
}

static void write_port(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    avr->data[at] = value;
    follow_port(user, (uint16_t)(at - (at - CHIP_PINB) % 3));
}

/* A one written to PINx toggles PORTx, data sheet, section 14.2.2. */
static void write_pin(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    avr->data[at + PORT] ^= value;
    follow_port(user, at);
}

static uint8_t read_pin(avr_t *avr, avr_io_addr_t at, void *user)
{
    const Chip *c = user;
    uint8_t outside = avr->data[at + PORT]; /* pulled up, or floating and read as 0 */
    if (at == CHIP_PIND)
        for (int axis = 0; axis < 2; axis++)
            if (!chip_switch_level(c, axis))
                outside &= (uint8_t) ~(1u << (SWITCH_X_BIT + axis));
    const uint8_t out = avr->data[at + DDR];
    return (uint8_t)((avr->data[at + PORT] & out) | (outside & ~out));
}

/* All pins are inputs: the coils are off, the servo gets no pulse. */
void chip_pins_reset(Chip *c)
{
    for (int axis = 0; axis < 2; axis++)
        drive_coils(c, axis, 0);
    c->servo_pin = FALSE;
    c->rose = c->last_rise = 0;
    c->figures.pulse_us = 0;
}

void chip_pins_init(Chip *c)
{
    static const uint16_t pins[3] = {CHIP_PINB, CHIP_PINC, CHIP_PIND};
    for (unsigned i = 0; i < 3; i++) {
        chip_hook(c, pins[i] + PIN, read_pin, write_pin);
        chip_hook(c, pins[i] + DDR, NULL, write_port);
        chip_hook(c, pins[i] + PORT, NULL, write_port);
    }
}
