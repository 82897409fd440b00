/* chip-timer: the 16-bit timer 1 in normal mode (data sheet, section 16). A compare match comes with the
 * tick that ends the count equal to the register (figure "setting of OCF1x"). One temporary byte serves all
 * 16-bit registers, so that an interrupt between the two halves of a write does the harm it does there. */
#include "chip-inside.h"

#include <stdio.h>

enum { OVERFLOWS, MATCHES_A, MATCHES_B, FLAGS }; /* bits of TIFR1 and TIMSK1 */

static const uint8_t vectors[FLAGS] = {CHIP_TIMER1_OVF, CHIP_TIMER1_COMPA, CHIP_TIMER1_COMPB};

static uint16_t count_at(const ChipTimer *t, uint64_t cycle)
{
    if (t->prescale == 0)
        return t->count;
    return (uint16_t)(t->count + cycle / t->prescale - t->since / t->prescale);
}

/* Cycles until the tick at which this count ends. */
static uint64_t cycles_to_end_of(const Chip *c, uint16_t count)
{
    const ChipTimer *t = &c->timer;
    const uint64_t now = c->avr->cycle;
    const uint16_t ticks = (uint16_t)(count - count_at(t, now));
    return (now / t->prescale + ticks + 1) * t->prescale - now;
}

static void raise_enabled(Chip *c)
{
    const uint8_t ask = c->timer.flags & c->avr->data[CHIP_TIMSK1];
    for (unsigned i = 0; i < FLAGS; i++)
        if (ask >> i & 1)
            avr_raise_interrupt(c->avr, chip_vector(c, vectors[i]));
}

/* OC1A or OC1B is toggled, cleared or set, as COM1x specifies. */
static void drive(Chip *c, unsigned output)
{
    const unsigned how = c->avr->data[CHIP_TCCR1A] >> (output ? 4 : 6) & 3;
    const uint8_t bit = (uint8_t)(1u << output);
    uint8_t *level = &c->timer.output;
    if (how == 1)
        *level ^= bit;
    else if (how == 2)
        *level &= (uint8_t)~bit;
    else if (how == 3)
        *level |= bit;
    chip_pins_servo(c);
}

static avr_cycle_count_t next_round(const Chip *c, avr_cycle_count_t when)
{
    return when + 65536ull * c->timer.prescale;
}

static avr_cycle_count_t on_match(Chip *c, avr_cycle_count_t when, unsigned output)
{
    c->timer.flags |= (uint8_t)(1u << (MATCHES_A + output));
    drive(c, output);
    raise_enabled(c);
    return next_round(c, when);
}

static avr_cycle_count_t on_match_a(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    return on_match(user, when, 0);
}

static avr_cycle_count_t on_match_b(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    return on_match(user, when, 1);
}

static avr_cycle_count_t on_overflow(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    Chip *c = user;
    c->timer.flags |= 1 << OVERFLOWS;
    raise_enabled(c);
    return next_round(c, when);
}

static const avr_cycle_timer_t matches[2] = {on_match_a, on_match_b};

static void schedule_end_of(Chip *c, uint16_t count, avr_cycle_timer_t call)
{
    if (c->timer.prescale)
        avr_cycle_timer_register(c->avr, cycles_to_end_of(c, count), call, c);
    else
        avr_cycle_timer_cancel(c->avr, call, c);
}

static void schedule_compare(Chip *c, unsigned output)
{
    schedule_end_of(c, c->timer.compare[output], matches[output]);
}

static void schedule(Chip *c)
{
    schedule_compare(c, 0);
    schedule_compare(c, 1);
    schedule_end_of(c, UINT16_MAX, on_overflow);
}

/* Registers ---------------------------------------------------------------------------------- */

static void need_normal_mode(Chip *c)
{
    if ((c->avr->data[CHIP_TCCR1A] & 3) == 0 && (c->avr->data[CHIP_TCCR1B] & 0x18) == 0)
        return;
    fprintf(stderr, "chip: timer 1 is simulated in normal mode alone\n");
    c->figures.crashed = TRUE;
}

static void write_control_a(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    avr->data[at] = value;
    need_normal_mode(user);
    chip_pins_servo(user);
}

static void write_control_b(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    static const uint16_t prescales[] = {0, 1, 8, 64, 256, 1024, 0, 0}; /* by CS12:10 */
    Chip *c = user;
    c->timer.count = count_at(&c->timer, avr->cycle);
    c->timer.since = avr->cycle;
    c->timer.prescale = prescales[value & 7];
    avr->data[at] = value;
    need_normal_mode(c);
    schedule(c);
}

static void write_control_c(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    avr->data[at] = 0;
    for (unsigned output = 0; output < 2; output++)
        if (value & (output ? 0x40 : 0x80)) /* FOC1B, FOC1A */
            drive(user, output);
}

static void write_high(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    (void)avr;
    (void)at;
    ((Chip *)user)->timer.temp = value;
}

static uint8_t read_temp(avr_t *avr, avr_io_addr_t at, void *user)
{
    (void)avr;
    (void)at;
    return ((Chip *)user)->timer.temp;
}

static void write_count(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    (void)at;
    Chip *c = user;
    c->timer.count = (uint16_t)(c->timer.temp << 8 | value);
    c->timer.since = avr->cycle;
    schedule(c);
}

static uint8_t read_count(avr_t *avr, avr_io_addr_t at, void *user)
{
    (void)at;
    ChipTimer *t = &((Chip *)user)->timer;
    const uint16_t count = count_at(t, avr->cycle);
    t->temp = (uint8_t)(count >> 8);
    return (uint8_t)count;
}

static void write_compare(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    Chip *c = user;
    const unsigned output = at == CHIP_OCR1BL;
    c->timer.compare[output] = (uint16_t)(c->timer.temp << 8 | value);
    avr->data[at] = value;
    schedule_compare(c, output);
}

/* Those registers are read without the temporary byte, section 16.3. */
static uint8_t read_compare_high(avr_t *avr, avr_io_addr_t at, void *user)
{
    (void)avr;
    return (uint8_t)(((Chip *)user)->timer.compare[at == CHIP_OCR1BH] >> 8);
}

static uint8_t read_flags(avr_t *avr, avr_io_addr_t at, void *user)
{
    (void)avr;
    (void)at;
    return ((Chip *)user)->timer.flags;
}

static void write_flags(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    (void)at;
    Chip *c = user;
    c->timer.flags &= (uint8_t)~value;
    for (unsigned i = 0; i < FLAGS; i++)
        if (value >> i & 1)
            avr_clear_interrupt(avr, chip_vector(c, vectors[i]));
}

static void write_enable(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    Chip *c = user;
    avr->data[at] = value;
    for (unsigned i = 0; i < FLAGS; i++)
        if (!(value >> i & 1))
            avr_clear_interrupt(avr, chip_vector(c, vectors[i]));
    raise_enabled(c);
}

static void on_interrupt(struct avr_irq_t *irq, uint32_t value, void *user)
{
    Chip *c = user;
    for (unsigned i = 0; i < FLAGS; i++)
        if (value && irq == chip_vector(c, vectors[i])->irq + AVR_INT_IRQ_RUNNING)
            c->timer.flags &= (uint8_t) ~(1u << i);
}

gboolean chip_timer_drives_servo(const Chip *c, gboolean *level)
{
    *level = c->timer.output >> 1 & 1;
    return (c->avr->data[CHIP_TCCR1A] & 0x30) != 0;
}

void chip_timer_reset(Chip *c)
{
    c->timer = (ChipTimer){0};
}

void chip_timer_init(Chip *c)
{
    chip_hook(c, CHIP_TCCR1A, NULL, write_control_a);
    chip_hook(c, CHIP_TCCR1B, NULL, write_control_b);
    chip_hook(c, CHIP_TCCR1C, NULL, write_control_c);
    chip_hook(c, CHIP_TCNT1L, read_count, write_count);
    chip_hook(c, CHIP_TCNT1H, read_temp, write_high);
    chip_hook(c, CHIP_OCR1AL, NULL, write_compare);
    chip_hook(c, CHIP_OCR1AH, read_compare_high, write_high);
    chip_hook(c, CHIP_OCR1BL, NULL, write_compare);
    chip_hook(c, CHIP_OCR1BH, read_compare_high, write_high);
    chip_hook(c, CHIP_TIFR1, read_flags, write_flags);
    chip_hook(c, CHIP_TIMSK1, NULL, write_enable);
    for (unsigned i = 0; i < FLAGS; i++)
        chip_on_interrupt(c, vectors[i], on_interrupt);
}
