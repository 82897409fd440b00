/* bare-chip: the simulated chip with a program that does nothing, so that its registers can be tried one by
 * one as an instruction would. Its loop takes two cycles: times are even. */
#pragma once

#include "chip-inside.h"

/* With a rig file's text; the caller frees it. The chip of it is `bare_chip(r)`. */
DtRig *bare_chip_new(const char *rig_text, const DtChipOptions *o);
/* The same with what dt_rig_use_chip() says. */
DtRig *bare_rig_new(const char *rig_text, const DtChipOptions *o, GError **error);

static inline Chip *bare_chip(const DtRig *r)
{
    return r->chip;
}

/* As the instructions OUT or STS, and IN or LDS; they take no time. */
void bare_put(Chip *c, uint16_t address, uint8_t value);
uint8_t bare_get(Chip *c, uint16_t address);
/* A pair of registers, the high one first where it is written, the low one first where it is read. */
void bare_put_pair(Chip *c, uint16_t low, uint16_t value);
uint16_t bare_get_pair(Chip *c, uint16_t low);
/* Lets cycles pass. */
void bare_pass(Chip *c, uint64_t cycles);
/* Up to a cycle whose number is `after` more than a multiple of 1024, so that all prescalers begin there. */
void bare_align(Chip *c, unsigned after);
/* Interrupts are served from now on, or no longer. */
void bare_serve(Chip *c, gboolean on);
gboolean bare_pending(Chip *c, uint8_t vector);
/* Counts in *n how often the interrupt is entered. */
void bare_count(Chip *c, uint8_t vector, unsigned *n);
