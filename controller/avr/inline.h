/* inline: the core's calls of the board without pointers and, in its interrupts, without calls.
 * Included before everything else in each of the core's files. */
#pragma once

#include "controller.h"
#include "pins.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define DTC_CALL(c, what) ((void)(c), dt_board_##what())
#define DTC_CALL1(c, what, value) ((void)(c), dt_board_##what(value))
#define DTC_CALL2(c, what, which, value) ((void)(c), dt_board_##what(which, value))
#define DTC_HAS(c, what) DTC_HAS_##what
#define DTC_HAS_room 1
#define DTC_HAS_recall 1
#define DTC_HAS_keep 1
#define DTC_HAS_cause 1
#define DTC_HAS_clock 1
#define DTC_HAS_target 0
#define DTC_MOST_STEPS(c) 20000u
#define DTC_ONLY(c) (&dt_board_controller)
#define DTC_PRESSED(c) dt_board_pressed()
#define DTC_DEBOUNCED 1
#define DTC_UPPER(word) (((const int16_t *)(const void *)(word))[1]) /* no need to load the rest */

/* As in DtHardware. */
void dt_board_send(char byte);
unsigned char dt_board_room(void);
void dt_board_servo(uint16_t pulse_us);
void dt_board_timer(uint16_t us);
unsigned char dt_board_recall(unsigned char at);
unsigned char dt_board_keep(unsigned char at, unsigned char byte);
unsigned char dt_board_cause(void);

static inline void dt_board_target(const int64_t *nm)
{
    (void)nm;
}

static inline void dt_board_lock(void)
{
    cli();
}

/* Only the main loop locks, and not before interrupts are on. */
static inline void dt_board_unlock(void)
{
    sei();
}

/* An interrupt that came between the two bytes would write the register that holds the second. */
static inline unsigned int dt_board_clock(void)
{
    cli();
    unsigned int ticks = TCNT1;
    sei();
    return ticks;
}

extern DtController dt_board_controller;

static inline void dt_board_coils(unsigned char axis, unsigned char bits)
{
    if (axis == 0)
        DT_X_PORT = (unsigned char)((DT_X_PORT & ~(15 << DT_X_SHIFT)) | bits << DT_X_SHIFT);
    else
        DT_Y_PORT = (unsigned char)((DT_Y_PORT & ~(15 << DT_Y_SHIFT)) | bits << DT_Y_SHIFT);
}

static inline unsigned char dt_board_switches(void)
{
    unsigned char pins = (unsigned char)~DT_SWITCH_PINS;
    return (unsigned char)((pins >> DT_SWITCH_X & 1) | (pins >> DT_SWITCH_Y & 1) << 1);
}

/* Switches are debounced by the edges of their contacts, which have an interrupt: one counts as
 * pressed if it was closed without interruption for the time of the settings, since the last
 * look or now. This is immune to bouncing, which has long contacts among the short ones, and to
 * a spike of noise, which is shorter. */
extern volatile unsigned char dt_board_firm; /* bit per axis: such a contact was seen */
unsigned char dt_board_look(unsigned char pressed);

static inline unsigned char dt_board_pressed(void)
{
    unsigned char pressed = dt_board_switches() ^ dt_board_controller.step.opens;
    return pressed | dt_board_firm ? dt_board_look(pressed) : 0;
}
