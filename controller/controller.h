/* controller: what runs on the board of a two-axis pen plotter. Takes RS-274 lines, answers each
 * with one line, and turns two unipolar stepper motors and a pen servo. Freestanding: no
 * allocation, no library but <stdint.h> and <math.h>, all state in one struct, hardware through
 * DtHardware alone.
 *
 * Lines   RS-274/NGC words (NISTIR 6556), two axes, plane XY. Each line is answered when it has left
 *         the receive buffer: "taken N" or "refused N reason". N is the line's N word where it has
 *         one, else the number of lines since the reset. Lines that wait for motion to stop before
 *         they are done: M0 M2 M3 M5 M30 G4 G28.
 * Bytes   that act at once, ahead of all lines (ISO/IEC 646): ENQ asks for the state, DC3 holds, DC1
 *         goes on, CAN abandons.
 * Check   A line may end in "(*1A2B)": CRC-16 of ITU-T V.41 over the bytes before its "(". With an
 *         N word too, lines are taken in order only: the last one again is answered but not executed
 *         again, any other is refused with "order" and the number expected. Once such a line was
 *         taken, a line with N but without check is refused: its check was lost on the way. After a
 *         reset or CAN the order begins anew with 1.
 * Motion  Straight blocks; each axis has its highest speed, acceleration and pull-in (the speed at
 *         which the motor starts, stops or reverses without a ramp). */
#pragma once

#include <stdint.h>

#define DT_CONTROLLER_AXES 2
#define DT_CONTROLLER_BLOCKS 16 /* a power of two */

#ifndef DT_CONTROLLER_RX
#define DT_CONTROLLER_RX 128 /* bytes of the receive buffer: a power of two up to 32768 */
#endif

/* Counts bytes and lines of the buffer, free-running. One byte is read and written at once on an 8-bit
 * board, also beside an interrupt; a larger buffer is for boards with a wider bus. */
#if DT_CONTROLLER_RX > 256
typedef uint16_t DtRxCount;
#else
typedef uint8_t DtRxCount;
#endif

enum { DT_BYTE_ASK = 0x05, DT_BYTE_GO_ON = 0x11, DT_BYTE_HOLD = 0x13, DT_BYTE_ABANDON = 0x18 };

/* The board. Every call gets `board` back. Called from the main loop unless noted otherwise. */
typedef struct {
    void (*send)(void *board, char byte);
    /* Drives the four coils of a motor: bit 0 is the first coil; 0 lets the motor go. From the timer
     * interrupt too. */
    void (*coils)(void *board, uint8_t axis, uint8_t bits);
    void (*servo)(void *board, uint16_t pulse_us);
    uint8_t (*switches)(void *board); /* bit per axis, 1: pressed. From the timer interrupt too */
    /* One interrupt, `us` microseconds after the last one or after now; 0 stops the timer. */
    void (*timer)(void *board, uint32_t us);
    /* Keeps the timer and receive interrupts out, and lets them in again. */
    void (*lock)(void *board);
    void (*unlock)(void *board);
    /* May be NULL: called with each point that the axes are sent to, commanded nanometres. */
    void (*target)(void *board, const int32_t nm[DT_CONTROLLER_AXES]);
} DtHardware;

/* What differs between boards and machines. Bits of `words` are rows of the table in words.c. */
typedef struct {
    float steps_per_mm[DT_CONTROLLER_AXES]; /* half steps; below 3900 */
    float speed[DT_CONTROLLER_AXES];        /* mm/s */
    float acceleration[DT_CONTROLLER_AXES]; /* mm/s^2 */
    float pull_in[DT_CONTROLLER_AXES];      /* mm/s; may be 0 */
    float travel[DT_CONTROLLER_AXES];       /* mm from 0; moves beyond are refused */
    float home_speed;                       /* mm/s towards the switch */
    float pull_off;                         /* mm from the switch to 0; more than the slack */
    float chord;                            /* mm that a chord may miss its arc by */
    uint16_t pen_up_us;                     /* servo pulse at M5 */
    uint16_t pen_us_per_s;                  /* M3 Sn: pen_up_us + n * pen_us_per_s */
    uint16_t s_max;                         /* greatest S */
    uint16_t pen_wait_ms;                   /* after M3 and M5, before the line is answered */
    uint16_t settle_ms;                     /* after the pen is put back down by DC1 */
    uint16_t longest_line;                  /* bytes without the line end; 0: the buffer's size */
    uint16_t rx_bytes;                      /* of the receive buffer in use; 0: all of it */
    uint32_t words;                         /* which words are taken */
    uint8_t reverse;                        /* bit per axis: the motor turns the other way */
    uint8_t manner;                         /* DT_MANNER_*; 0 for the controller as described */
} DtSettings;

/* Narrower controllers that this core can play. */
enum {
    DT_MANNER_SPACES = 1,      /* words must be apart by a space */
    DT_MANNER_NO_COMMENTS = 2, /* a comment is refused */
    DT_MANNER_NO_CHECK = 4,    /* a check is a comment like any other */
    DT_MANNER_NO_ASK = 8,      /* ENQ is a byte of the line */
    DT_MANNER_NO_HOLD = 16,    /* so are DC1, DC3 and CAN; a stop (M0) is then passed over */
};

extern const DtSettings dt_settings_default;

typedef enum {
    DT_STATE_STILL,
    DT_STATE_MOVING, /* or waiting for a dwell to end */
    DT_STATE_HELD,
    DT_STATE_HOMING,
    DT_STATE_UNHOMED,
    DT_STATE_STOPPED, /* at M0, until DC1 */
} DtState;

/* Private from here to the calls: laid open so that the board can give it static storage. */

typedef struct {
    float length;                  /* mm */
    float gap[DT_CONTROLLER_AXES]; /* path length between two steps of the axis, mm */
    uint32_t steps[DT_CONTROLLER_AXES];
    uint8_t first[DT_CONTROLLER_AXES];       /* from the start to the first step: 1/256 of a gap */
    uint8_t back;                            /* bit per axis: towards the low end */
    float acceleration2;                     /* twice the acceleration, mm/s^2 */
    float cruise2, entry2, junction2, rest2; /* speeds squared: fastest, planned at entry, fastest
                                              * at entry, and fastest from or to rest */
} DtBlock;

typedef struct {
    DtBlock block[DT_CONTROLLER_BLOCKS];
    volatile uint8_t head, tail;            /* free-running */
    int32_t q8[DT_CONTROLLER_AXES];         /* where the last block ends: 1/256 step */
    int32_t nm[DT_CONTROLLER_AXES];         /* the same in nanometres */
    float unit[DT_CONTROLLER_AXES];         /* its direction */
    uint32_t q8_per_nm[DT_CONTROLLER_AXES]; /* times 2^32 */
} DtPlanner;

typedef struct {
    volatile uint8_t running;
    volatile uint8_t resting; /* a short rest before a block that cannot be entered at speed */
    uint8_t loaded;           /* the first block of the plan is under way */
    uint8_t loose;            /* no coil is on */
    uint8_t due;              /* bit per axis: steps at the coming interrupt */
    uint8_t phase[DT_CONTROLLER_AXES];
    uint32_t done[DT_CONTROLLER_AXES];             /* steps of this block */
    volatile int32_t position[DT_CONTROLLER_AXES]; /* half steps from 0 */
    float at[DT_CONTROLLER_AXES];                  /* path position of the axis' next step, mm */
    float s, v, v2;                /* path position in the block, speed there and its square */
    float next_s, next_v, next_v2; /* at the coming interrupt */
    float us_per_mm;               /* 1e6 / v while it stays the same; 0: not worked out */
    float owed_us;                 /* what rounding to the timer has left */
    volatile uint32_t wait_ms;
    uint8_t pressed;       /* switches seen at the last step */
    volatile uint8_t seek; /* bit per axis: stop when its switch closes */
    volatile uint8_t found;
    volatile uint8_t tripped;
} DtStepper;

typedef struct {
    float centre[DT_CONTROLLER_AXES]; /* from the start, mm */
    float radius, radius_change, angle, sweep;
    int32_t start[DT_CONTROLLER_AXES];
    uint16_t chords, chord;
} DtArc;

/* The line under way: what is left to do of it, in the order of execution. */
typedef struct {
    uint8_t todo;
    uint8_t program_end;
    uint16_t pulse_us;
    uint32_t dwell_ms;
    int32_t target[DT_CONTROLLER_AXES];
    float feed;      /* mm/s; 0: as fast as the axes go */
    uint32_t number; /* for the answer */
    uint16_t bytes;  /* in the receive buffer, with the line end */
    uint8_t running;
    uint8_t sequence; /* it takes part in the order */
    uint8_t homing;   /* it has begun to home */
    uint8_t sync;     /* it is done when all motion is */
} DtLine;

typedef struct {
    const DtHardware *hw;
    void *board;
    const DtSettings *set;

    uint8_t rx[DT_CONTROLLER_RX];
    volatile DtRxCount rx_head, rx_tail, lines_in, lines_out; /* free-running */
    uint8_t overlong;
    volatile uint8_t asked, hold, go_on, abandon;
    volatile DtRxCount abandon_head;
    volatile uint16_t lost; /* received bytes that found no room */

    uint32_t count;      /* lines since the reset */
    uint32_t last;       /* number of the line taken last */
    uint32_t last_n;     /* last N taken in order */
    uint8_t in_order;    /* numbered, checked lines have begun */
    uint8_t may_restart; /* the next N may be 1 */

    uint8_t motion, inches, relative, spindle;
    uint8_t feed_known;
    float feed; /* mm/s */
    uint32_t s; /* thousandths */
    uint8_t s_known;
    uint16_t pulse_us;

    uint8_t homed, locked, stopped, lifted;
    uint8_t home_axis, home_phase;
    char detail; /* letter that a reason is about */
    uint32_t detail_number;
    DtLine line;
    DtArc arc;
    DtPlanner plan;
    DtStepper step;
} DtController;

/* Calls -------------------------------------------------------------------------------------- */

/* Power on or reset: lifts the pen, forgets everything, sends the greeting. */
void dt_controller_reset(DtController *c, const DtHardware *hw, void *board, const DtSettings *set);

/* From the receive interrupt: a byte has come. Returns 0 where it was lost for want of room. */
uint8_t dt_controller_receive(DtController *c, uint8_t byte);

/* From the timer interrupt. Turns the motors first, then works out the next interrupt, for about
 * 0.3 ms on an 8-bit board: the board should let the receive interrupt in meanwhile. */
void dt_controller_timer(DtController *c);

/* From the main loop, again and again. Returns 0 when there was nothing to do. */
uint8_t dt_controller_poll(DtController *c);

DtState dt_controller_state(const DtController *c);
/* Whether it would take a line now: none waits in the buffer or is under way, and the planner has
 * room. */
uint8_t dt_controller_ready(const DtController *c);
/* CRC-16 of ITU-T V.41, one byte further; starts with 0. */
uint16_t dt_controller_crc(uint16_t crc, uint8_t byte);

/* Row of the word table for "G1", "X"...; -1 for a word that no setting can make it take. */
int dt_controller_word_row(char letter, uint16_t tenths);
