/* chip-switch: the two limit switches at the chip's pins, with contacts that bounce and the
 * noise that the motors' coils induce on their lines. While a contact is open its line is held
 * up only by the chip's pull-up: only then does noise matter. */
#include "chip-inside.h"

#include <math.h>
#include <simavr/avr_ioport.h>

enum { SHORTEST_BOUNCE_US = 20, LONGEST_BOUNCE_US = 400 };

static uint64_t cycles(double s)
{
    return (uint64_t)(s * CHIP_CLOCK) + 1;
}

static int axis_of(const Chip *c, const ChipSwitch *s)
{
    return (int)(s - c->switches);
}

static gboolean contact_closed(const Chip *c, int axis)
{
    return c->switches[axis].level != c->options.opens[axis];
}

gboolean chip_switch_level(const Chip *c, int axis)
{
    return !contact_closed(c, axis) && !c->switches[axis].spike;
}

/* Pin-change interrupts are the simulator's own. */
static void tell_pin(Chip *c, int axis)
{
    avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2 + axis),
                  (uint32_t)chip_switch_level(c, axis));
}

static avr_cycle_count_t bounce(Chip *c, ChipSwitch *s, avr_cycle_count_t when)
{
    if (when >= s->settles) {
        s->level = s->reached;
        tell_pin(c, axis_of(c, s));
        return 0;
    }
    s->level = !s->level;
    tell_pin(c, axis_of(c, s));
    const uint64_t next =
        (uint64_t)g_rand_int_range(c->rand, SHORTEST_BOUNCE_US, LONGEST_BOUNCE_US) * CYCLES_PER_US;
    return MIN(when + next, s->settles);
}

static avr_cycle_count_t bounce_x(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    Chip *c = user;
    return bounce(c, &c->switches[0], when);
}

static avr_cycle_count_t bounce_y(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    Chip *c = user;
    return bounce(c, &c->switches[1], when);
}

static const avr_cycle_timer_t bounces[2] = {bounce_x, bounce_y};

void chip_switches_follow(Chip *c)
{
    const uint8_t bits = dt_rig_machine_switches(&c->rig->machine);
    for (int i = 0; i < 2; i++) {
        ChipSwitch *s = &c->switches[i];
        const gboolean reached = bits >> i & 1;
        if (reached == s->reached)
            continue;
        s->reached = s->level = reached;
        c->figures.closings[i] += (guint64)reached;
        c->figures.after_closing[i] = 0;
        if (c->options.bounce_s > 0) {
            s->settles =
                c->avr->cycle + cycles(g_rand_double_range(c->rand, 0, c->options.bounce_s));
            avr_cycle_timer_register(c->avr, SHORTEST_BOUNCE_US * CYCLES_PER_US, bounces[i], c);
        }
        tell_pin(c, i);
    }
}

/* Noise -------------------------------------------------------------------------------------- */

static avr_cycle_count_t end_spike(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    Chip *c = user;
    for (int i = 0; i < 2; i++) {
        c->switches[i].spike = FALSE;
        tell_pin(c, i);
    }
    return 0;
}

static avr_cycle_count_t begin_spike(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    Chip *c = user;
    const gint32 which = g_rand_int_range(c->rand, 1, 4);
    for (int i = 0; i < 2; i++) {
        c->switches[i].spike = which >> i & 1;
        tell_pin(c, i);
    }
    c->figures.spikes++;
    avr_cycle_timer_register(c->avr, cycles(g_rand_double_range(c->rand, 1e-6, c->options.spike_s)),
                             end_spike, c);
    return 0;
}

/* A coil is switched: during a burst this induces a spike at once or soon after, on one line or
 * both. */
void chip_switches_spike(Chip *c)
{
    if (c->avr->cycle >= c->burst_end)
        return;
    avr_cycle_timer_register(c->avr, cycles(g_rand_double_range(c->rand, 0, 50e-6)), begin_spike,
                             c);
}

static avr_cycle_count_t begin_burst(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    Chip *c = user;
    c->burst_end = when + cycles(g_rand_double_range(c->rand, 0, c->options.burst_s));
    c->figures.bursts++;
    c->next_burst = when + cycles(-log(1 - g_rand_double(c->rand)) / c->options.burst_hz);
    return c->next_burst;
}

void chip_switches_reset(Chip *c)
{
    const uint8_t bits = dt_rig_machine_switches(&c->rig->machine);
    for (int i = 0; i < 2; i++)
        c->switches[i] = (ChipSwitch){.reached = bits >> i & 1, .level = bits >> i & 1};
    if (c->options.burst_hz > 0)
        avr_cycle_timer_register(c->avr, cycles(g_rand_double(c->rand) / c->options.burst_hz),
                                 begin_burst, c);
}
