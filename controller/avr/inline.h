/* inline: what the step interrupt does at each step, in line. Included before the core's files that hold interrupts. */
#pragma once

#include "controller.h"
#include "pins.h"

#include <avr/io.h>

#define DTC_COILS(c, axis, bits) dt_board_coils(axis, bits)
#define DTC_PRESSED(c) dt_board_pressed()
#define DTC_DEBOUNCED 1
#define DTC_ONLY(c) (&dt_board_controller)
#define DTC_UPPER(word) (((const int16_t *)(const void *)(word))[1]) /* no need to load the rest */

extern DtController dt_board_controller;

static inline void dt_board_coils(unsigned char axis, unsigned char bits)
{
    if (axis == 0)
        DT_X_PORT = (unsigned char)((DT_X_PORT & ~(15 << DT_X_SHIFT)) | bits << DT_X_SHIFT);
    else
        DT_Y_PORT = (unsigned char)((DT_Y_PORT & ~(15 << DT_Y_SHIFT)) | bits << DT_Y_SHIFT);
}

static inline unsigned char dt_board_contacts(void)
{
    unsigned char pins = (unsigned char)~DT_SWITCH_PINS;
    return (unsigned char)((pins >> DT_SWITCH_X & 1) | (pins >> DT_SWITCH_Y & 1) << 1);
}

/* Switches are debounced by the edges of their contacts, which have an interrupt: one counts as pressed when
 * it was closed without a break for the time of the settings, since the last look or now. Neither bouncing,
 * which has long contacts among the short ones, nor a spike of noise, which is shorter, deceives it. */
extern volatile unsigned char dt_board_firm; /* bit per axis: such a contact was seen */
unsigned char dt_board_look(unsigned char pressed);

static inline unsigned char dt_board_pressed(void)
{
    unsigned char pressed = dt_board_contacts() ^ dt_board_controller.step.opens;
    return pressed | dt_board_firm ? dt_board_look(pressed) : 0;
}
