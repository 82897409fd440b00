/* controller: what runs on the board of a two-axis pen plotter. Takes RS-274 lines, answers each
 * with one line, and turns two unipolar stepper motors and a pen servo. Freestanding: no
 * allocation, no library but <stdint.h> and <math.h>, all state in one struct, hardware through
 * DtHardware alone.
 *
 * Lines   RS-274/NGC words (NISTIR 6556), two axes, plane XY. Each line is answered when it has left
 *         the receive buffer: "taken N" or "refused N reason". N is the line's N word where it has
 *         one, else the number of lines since the reset. Lines that wait for motion to stop before
 *         they are done: M0 M2 M3 M5 M30 G4 G28 and parameters.
 * Bytes   that act at once, ahead of all lines (ISO/IEC 646): ENQ asks for the state, DC3 holds, DC1
 *         goes on and CAN abandons; these two must come twice with nothing between, so that no single
 *         byte of noise does either.
 * Check   A line may end in "(*1A2B)": CRC-16 of ITU-T V.41 over the bytes before its "(". With an
 *         N word too, lines are taken in order only: the last one again is answered but not executed
 *         again, any other is refused with "order" and the number expected. Once such a line was
 *         taken, a line with N but without check is refused: its check was lost on the way. After a
 *         reset or CAN the order begins anew with 1.
 * Motion  Straight blocks; each axis has its highest speed, acceleration and pull-in (the speed at
 *         which the motor starts, stops or reverses without a ramp). The main loop cuts the blocks into
 *         short segments in floating point, some 20 ms ahead; the interrupt adds integers.
 * Settings are parameters, "#411=98.5" (NISTIR 6556, 3.3.2), kept in two copies where the board has a
 *         memory for them; table in settings.c. */
#pragma once

#include <stdint.h>

/* Constant text and tables stay in flash on boards whose RAM is apart. */
#ifdef __AVR__
#define DTC_FLASH __flash
#else
#define DTC_FLASH
#endif

#define DT_CONTROLLER_AXES 2
#define DT_CONTROLLER_BLOCKS 16  /* a power of two */
#define DT_CONTROLLER_SEGMENTS 8 /* a power of two */
#define DT_CONTROLLER_OWED                                                                         \
    4 /* lines answered after a dwell behind which they were taken: likewise */
/* Microseconds that the timer is set ahead at most: less than half of what a 16-bit counter of 2 MHz counts
 * (32.8 ms), so that a time to come is told from one that has passed. */
#define DT_CONTROLLER_FARTHEST 16000

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

/* Why the board has started, as bits: more than one may be set. */
enum { DT_CAUSE_POWER = 1, DT_CAUSE_PIN = 2, DT_CAUSE_BROWN_OUT = 4, DT_CAUSE_WATCHDOG = 8 };

/* Why a received byte is none: see dt_controller_receive_fault(). */
enum { DT_FAULT_FRAMING, DT_FAULT_OVERRUN };

/* The board. Every call gets `board` back. Called from the main loop unless noted otherwise. */
typedef struct {
    void (*send)(void *board, char byte);
    /* Bytes that send() takes now without waiting. NULL: any number. */
    uint8_t (*room)(void *board);
    /* Drives the four coils of a motor: bit 0 is the first coil; 0 lets the motor go. From the timer
     * interrupt too. */
    void (*coils)(void *board, uint8_t axis, uint8_t bits);
    void (*servo)(void *board, uint16_t pulse_us);
    /* Bit per axis, 1: the switch's contact is closed. From the timer interrupt too. */
    uint8_t (*switches)(void *board);
    /* One interrupt, `us` microseconds from now, at most DT_CONTROLLER_FARTHEST; 0 stops the timer. */
    void (*timer)(void *board, uint16_t us);
    /* Keeps the timer and receive interrupts out, and lets them in again. */
    void (*lock)(void *board);
    void (*unlock)(void *board);
    /* A byte of the memory that outlives the power, some 200 bytes. NULL: there is none. */
    uint8_t (*recall)(void *board, uint8_t at);
    /* Begins to write one; returns 0, and does nothing, while the last one is still being written. */
    uint8_t (*keep)(void *board, uint8_t at, uint8_t byte);
    /* A free-running count of half microseconds. NULL: none, or the main loop takes no time. */
    uint16_t (*clock)(void *board);
    /* Why it has started: DT_CAUSE_* bits. NULL: not known. */
    uint8_t (*cause)(void *board);
    /* May be NULL: called with each point that the axes are sent to, commanded nanometres. */
    void (*target)(void *board, const int64_t nm[DT_CONTROLLER_AXES]);
    uint32_t most_steps; /* half steps a second, both axes together; 0: no limit */
} DtHardware;

/* What differs between boards and machines. Those down to `opens` are parameters; they are kept. Bits
 * of `words` are rows of the table in words.c. */
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
    uint16_t drop_ms;                       /* that the servo takes down; 0: at once */
    uint16_t debounce_us;                   /* that a switch must stay pressed to count */
    uint16_t rest_s;       /* of rest, after which the motors are let go; 0: never */
    uint8_t reverse;       /* bit per axis: the motor turns the other way */
    uint8_t opens;         /* bit per axis: the switch opens when pressed */
    uint16_t longest_line; /* bytes without the line end; 0: the buffer's size */
    uint16_t rx_bytes;     /* of the receive buffer in use; 0: all of it */
    uint32_t words;        /* which words are taken */
    uint8_t quirks;        /* DT_QUIRK_*; 0 for the controller as described */
} DtSettings;

/* Narrower controllers that this core can play. */
enum {
    DT_QUIRK_SPACES = 1,      /* words must be separated by a space */
    DT_QUIRK_NO_COMMENTS = 2, /* a comment is refused */
    DT_QUIRK_NO_CHECK = 4,    /* a check is a comment like any other */
    DT_QUIRK_NO_ASK = 8,      /* ENQ is a byte of the line */
    DT_QUIRK_NO_HOLD = 16,    /* so are DC1, DC3 and CAN; a stop (M0) is then passed over */
};

extern const DTC_FLASH DtSettings dt_settings_default;

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
    float length, per_length;                /* mm, and its reciprocal */
    int32_t q8[DT_CONTROLLER_AXES];          /* way of each axis, 1/256 step */
    float acceleration2;                     /* twice the acceleration, mm/s^2 */
    float cruise2, entry2, junction2, rest2; /* speeds squared: fastest, planned at entry, fastest
                                              * at entry, and fastest from or to rest */
} DtBlock;

typedef struct {
    uint8_t head, tail;                     /* free-running; the block at the tail is being cut */
    int32_t q8[DT_CONTROLLER_AXES];         /* where the last block ends: 1/256 step */
    int64_t nm[DT_CONTROLLER_AXES];         /* the same in nanometres */
    float unit[DT_CONTROLLER_AXES];         /* its direction */
    uint32_t q8_per_nm[DT_CONTROLLER_AXES]; /* times 2^32 */
    DtBlock block[DT_CONTROLLER_BLOCKS];
} DtPlanner;

/* The steps of an axis in a segment: at even intervals, or at intervals that grow or shrink evenly. Times
 * are 1/65536 microseconds. Counted down by the interrupt while it is under way. */
typedef struct {
    uint32_t at;    /* the coming step, from the segment's start; DTC_NEVER when none is left */
    uint32_t gap;   /* from it to the one after */
    int32_t change; /* of the gap, from step to step */
    uint8_t steps;  /* still to do */
} DtSegmentAxis;

/* A piece of a block, some milliseconds long. */
typedef struct {
    DtSegmentAxis axis[DT_CONTROLLER_AXES];
    uint16_t us;      /* how long it takes */
    uint8_t back;     /* bit per axis: towards the low end */
    uint8_t may_rest; /* the motors may stop at its end, or (DTC_ANYWHERE) within */
} DtSegment;

/* Cuts blocks into segments. */
typedef struct {
    uint8_t loaded;                /* the block at the plan's tail is being cut */
    uint8_t back;                  /* bit per axis */
    float s, s_low;                /* cut so far, mm: the sum of both */
    float v, v2;                   /* speed there and its square */
    float us_per_mm;               /* 1e6 / v while it stays the same; 0: not worked out */
    float per_acceleration2;       /* 1 / (2 a) of the block */
    float owed_us;                 /* what rounding a segment's time has left */
    float gap[DT_CONTROLLER_AXES]; /* path between two steps, mm; 0: the axis stands */
    float per_gap[DT_CONTROLLER_AXES];
    float first[DT_CONTROLLER_AXES]; /* from the start to the first step: gaps */
    uint32_t steps[DT_CONTROLLER_AXES], done[DT_CONTROLLER_AXES];
    int32_t q8[DT_CONTROLLER_AXES]; /* where the block begins */
} DtCutter;

typedef struct {
    volatile uint8_t head, tail;     /* free-running; the segment at the tail is under way */
    DtSegment *segment_now;          /* that one */
    int8_t turn[DT_CONTROLLER_AXES]; /* by which the phase of its motor goes on */
    volatile uint8_t running;
    volatile uint8_t waiting;
    volatile uint8_t ticked; /* some time of a wait has passed */
    uint8_t loose;           /* no coil is on */
    uint8_t opens;           /* as in DtSettings
                              */
    uint16_t handed_us,
        begun_us;   /* of all segments, free-running: to it, and before the one at the tail */
    int16_t now;    /* of the coming interrupt, microseconds from the segment's start */
    uint16_t clock; /* of the coming interrupt, microseconds, free-running */
    uint8_t phase[DT_CONTROLLER_AXES];
    volatile int32_t position[DT_CONTROLLER_AXES]; /* half steps from 0 */
    uint32_t wait_ms;
    uint8_t seen[DT_CONTROLLER_AXES];        /* steps in a row at which the switch was pressed */
    uint16_t seen_clock[DT_CONTROLLER_AXES]; /* at the first of them */
    volatile uint8_t seek;                   /* bit per axis: stop when its switch is pressed */
    volatile uint8_t found;
    volatile uint8_t tripped;
    volatile uint16_t late; /* times that the motors ran out of segments at speed */
    DtSegment segment[DT_CONTROLLER_SEGMENTS];
} DtStepper;

typedef struct {
    float centre[DT_CONTROLLER_AXES]; /* from the start, mm */
    float radius, radius_change, angle, sweep;
    int64_t start[DT_CONTROLLER_AXES];
    uint16_t chords, chord;
} DtArc;

/* The line under way: what is left to do of it, in the order of execution. */
typedef struct {
    uint8_t todo;
    uint8_t program_end;
    uint16_t pulse_us;
    uint32_t dwell_ms;
    int64_t target[DT_CONTROLLER_AXES];
    float feed;            /* mm/s; 0: as fast as the axes go */
    uint16_t parameter[2]; /* numbers of those that it sets; 0: none */
    float value[2];
    uint32_t number; /* for the answer */
    DtRxCount bytes; /* in the receive buffer, with the line end */
    uint8_t running;
    uint8_t sequence; /* it takes part in the order */
    uint8_t homing;   /* it has begun to home */
    uint8_t sync;     /* it is done when all motion is */
} DtLine;

typedef struct {
    const DtHardware *hw;
    void *board;
    const DtSettings *set;
    volatile DtRxCount rx_head, rx_tail, lines_in, lines_out; /* free-running */
    DtRxCount rx_size; /* in use; their difference can tell a full buffer from an empty one */
    volatile DtRxCount rx_owed; /* bytes of lines that were taken and are not answered yet */
    volatile uint8_t overlong;  /* the line at the tail is the end of one: 2: behind a CAN */
    volatile uint8_t asked, hold, seen, go_on, abandon; /* seen: DC1 or CAN, once; 0: neither */
    volatile uint8_t gap;                           /* bytes were lost since the last one kept */
    volatile DtRxCount abandon_head, abandon_lines; /* where CAN came, and the lines in by then */
    volatile uint16_t lost;                         /* received bytes that found no room */
    volatile uint16_t framing, overrun; /* bytes that the receiver itself spoilt or lost */

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
    uint16_t pulse_us, servo_us; /* of the pen, asked for and so far */
    uint16_t drop_ms;            /* left of its way down */
    uint16_t sent_at;            /* the board's clock when a line sent it down */
    uint8_t sent;                /* since then the main loop has read lines without a pause */

    uint8_t homed, locked, stopped, lifted;
    uint8_t home_axis, home_phase;
    uint8_t second;
    volatile uint8_t quiet_s; /* of rest without a byte */
    uint16_t rest_s;          /* that the motors have stood, coils on */
    uint8_t cause, forgotten; /* of the start; the kept settings were not whole */
    uint8_t keep_at, keep_copy, keep_first, kept, sequence; /* settings being written: settings.c */
    uint16_t keep_check;
    char detail; /* letter that a reason is about */
    uint32_t detail_number;
    uint8_t telling;  /* part of the state that is sent next; 0: none */
    uint8_t refusing; /* reason of a refusal that waits to be sent; 0: none */
    uint32_t refused; /* number of its line */
    int32_t told[DT_CONTROLLER_AXES];
    DtLine line;
    DtArc arc;
    DtPlanner plan;
    DtCutter cut;
    DtStepper step;
    uint8_t owes;                      /* answers wait for the end of a dwell */
    uint8_t owed_head, owed_tail;      /* free-running */
    uint32_t owed[DT_CONTROLLER_OWED]; /* numbers of their lines */
    DtSettings settings;               /* what `set` points to */
    uint8_t rx[DT_CONTROLLER_RX];
} DtController;

/* Calls -------------------------------------------------------------------------------------- */

/* Power on or reset: lifts the pen, lets the motors go, forgets everything, takes the settings that the
 * board has kept, or `set` where it has none, and sends the greeting. */
void dt_controller_reset(DtController *c, const DtHardware *hw, void *board,
                         const DTC_FLASH DtSettings *set);

/* From the receive interrupt: a byte has come. Returns 0 where it was lost for want of room. */
uint8_t dt_controller_receive(DtController *c, uint8_t byte);

/* From the receive interrupt: in place of a byte (DT_FAULT_FRAMING), or before one (DT_FAULT_OVERRUN):
 * the line under way is spoilt and will be refused. */
void dt_controller_receive_fault(DtController *c, uint8_t fault);

/* From the timer interrupt. Turns the motors and returns the microseconds from when this interrupt was
 * due to the next one, at most DT_CONTROLLER_FARTHEST; 0 stops the timer. Integers only. */
uint16_t dt_controller_timer(DtController *c);

/* From the main loop, again and again. Returns 0 when there was nothing to do. */
uint8_t dt_controller_poll(DtController *c);

/* From the main loop, once a second or about. */
void dt_controller_second(DtController *c);

DtState dt_controller_state(const DtController *c);
/* Whether it would take a line now: none waits in the buffer or is under way, and the planner has
 * room. */
uint8_t dt_controller_ready(const DtController *c);
/* CRC-16 of ITU-T V.41, one byte further; starts with 0. */
uint16_t dt_controller_crc(uint16_t crc, uint8_t byte);

/* Row of the word table for "G1", "X"...; -1 for a word that no setting can make it take. */
int dt_controller_word_row(char letter, uint16_t tenths);
