/* chip: the firmware on a simulated 8-bit chip, watched from outside: its coil pins, interrupts, stack and
 * serial line. */
#pragma once

#include <glib.h>
#include <simavr/sim_avr.h>

enum { CHIP_CLOCK = 16000000, CHIP_RAM = 2048, CHIP_RAM_END = 0x8ff, CHIP_NESTED = 8 };

typedef struct {
    uint64_t cycle;
    int axis;
} ChipStep;

typedef struct {
    uint64_t entered, within; /* cycles: when, and in interrupts that came in between */
    int vector;
} ChipInterrupt;

typedef struct {
    avr_t *avr;
    GString *heard, *said; /* the line under way, and all lines */
    unsigned answered, refused;
    gboolean greeted;
    avr_irq_t *receive, *switch_pin[2];
    uint8_t coils[2];
    int position[2];
    GArray *steps; /* ChipStep */
    ChipInterrupt nested[CHIP_NESTED];
    unsigned depth;
    uint64_t longest, longest_wall,
        steps_us;           /* of the step interrupt alone, and with what came in between */
    uint64_t in_interrupts; /* cycles in any interrupt */
    uint64_t off_since, longest_off; /* interrupts off */
    gboolean off;
    unsigned deepest; /* lowest stack pointer */
    /* the main loop: cycles in calls of its one function that found nothing to do */
    uint32_t poll, poll_back;
    uint64_t poll_began, poll_interrupts, idle;
    double load; /* of the last leg, percent */
    unsigned bytes, interrupts;
} Chip;

/* `poll`: address of the main loop's function, from the symbol table. */
gboolean chip_start(Chip *c, const char *elf, uint32_t poll);
void chip_stop(Chip *c);
gboolean chip_wait_for_greeting(Chip *c);
/* Sends lines with up to 127 bytes unanswered, at the UART's rate; a line of one byte below space is sent at
 * once and not answered. FALSE where the chip died or took too long. */
gboolean chip_send(Chip *c, const char *program, double limit_s);
/* Forgets what was measured so far. */
void chip_forget(Chip *c);
