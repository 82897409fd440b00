/* chip-eeprom: the EEPROM (data sheet, section 8.4): a byte takes 3.4 ms to write (1.8 ms to
 * erase or write alone), EEPE must follow EEMPE within four cycles, a reset does not end a
 * write, and a byte whose write is interrupted by a power failure has any value. */
#include "chip-inside.h"

#include <string.h>

enum { EERE = 1, EEPE = 2, EEMPE = 4, EERIE = 8 };
enum { ERASE_AND_WRITE, ERASE, WRITE };
enum { BOTH_US = 3400, ONE_US = 1800, WINDOW = 4 };

static void ask_ready(Chip *c)
{
    chip_ask(c, CHIP_EE_READY, c->avr->data[CHIP_EECR] & EERIE && !c->eeprom.busy);
}

static uint8_t result(const ChipEeprom *e)
{
    if (e->mode == ERASE)
        return 0xff;
    return e->mode == WRITE ? e->cells[e->at] & e->value : e->value;
}

static avr_cycle_count_t on_done(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    Chip *c = user;
    ChipEeprom *e = &c->eeprom;
    e->cells[e->at] = result(e);
    e->busy = FALSE;
    e->writes++;
    ask_ready(c);
    return 0;
}

static uint16_t address(const Chip *c)
{
    return (uint16_t)((c->avr->data[CHIP_EEARL] | c->avr->data[CHIP_EEARH] << 8) % CHIP_EEPROM);
}

static void begin_write(Chip *c, uint8_t mode)
{
    ChipEeprom *e = &c->eeprom;
    const uint64_t cycles = (uint64_t)(mode == ERASE_AND_WRITE ? BOTH_US : ONE_US) * CYCLES_PER_US;
    e->busy = TRUE;
    e->mode = mode;
    e->at = address(c);
    e->value = c->avr->data[CHIP_EEDR];
    e->done = c->avr->cycle + cycles;
    avr_cycle_timer_register(c->avr, cycles, on_done, c);
    c->avr->cycle += 2; /* the processor halts */
}

static void write_control(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    Chip *c = user;
    ChipEeprom *e = &c->eeprom;
    avr->data[at] = value & (uint8_t) ~(EERE | EEPE | EEMPE);
    if (value & EEPE && avr->cycle <= e->armed_until && !e->busy)
        begin_write(c, value >> 4 & 3);
    if (value & EEMPE && !(value & EEPE))
        e->armed_until = avr->cycle + WINDOW + 2; /* of the instruction that sets EEPE */
    if (value & EERE && !e->busy) {
        avr->data[CHIP_EEDR] = e->cells[address(c)];
        avr->cycle += 4;
    }
    ask_ready(c);
}

static uint8_t read_control(avr_t *avr, avr_io_addr_t at, void *user)
{
    const ChipEeprom *e = &((Chip *)user)->eeprom;
    const uint8_t kept =
        avr->data[at] & (uint8_t) ~(EERE | EEPE | EEMPE); /* the remaining time is that of the
                                                           * last read */
    return (uint8_t)(kept | (e->busy ? EEPE : 0) | (avr->cycle <= e->armed_until ? EEMPE : 0));
}

static void on_interrupt(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    if (!value)
        ask_ready(user);
}

void chip_eeprom_lose_power(Chip *c)
{
    ChipEeprom *e = &c->eeprom;
    if (e->busy)
        e->cells[e->at] = (uint8_t)g_rand_int(c->rand);
    e->busy = FALSE;
}

/* The simulator has forgotten what it should wait for, which is right if power was lost. */
void chip_eeprom_reset(Chip *c)
{
    ChipEeprom *e = &c->eeprom;
    const uint64_t now = c->avr->cycle;
    e->armed_until = 0;
    if (e->busy)
        avr_cycle_timer_register(c->avr, MAX(e->done, now) - now, on_done, c);
}

void chip_eeprom_init(Chip *c)
{
    memset(c->eeprom.cells, 0xff, sizeof c->eeprom.cells);
    chip_hook(c, CHIP_EECR, read_control, write_control);
    chip_on_interrupt(c, CHIP_EE_READY, on_interrupt);
}
