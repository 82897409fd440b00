/* core: shared by the controller's files. */
#pragma once

#include "controller.h"

#include <stdbool.h>
#include <stddef.h>

enum { DTC_X, DTC_Y };
enum { DTC_LITTLE_ENDIAN = __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ };

/* The board's calls. A chip that runs one controller may make them without pointers, by a header
 * that is included first. */
#ifndef DTC_CALL
#define DTC_CALL(c, what) (c)->hw->what((c)->board)
#define DTC_CALL1(c, what, value) (c)->hw->what((c)->board, value)
#define DTC_CALL2(c, what, which, value) (c)->hw->what((c)->board, which, value)
#define DTC_HAS(c, what) ((c)->hw->what != NULL)
#define DTC_MOST_STEPS(c) (c)->hw->most_steps
#define DTC_ONLY(c) (c) /* the one controller's constant address */
#endif

/* Why a line is refused: texts in reply.c. Those that end in a letter or number use c->detail or
 * c->detail_number. */
typedef enum {
    DTC_FINE,
    DTC_CHECK,
    DTC_ORDER,
    DTC_LONG,
    DTC_CHARACTER,
    DTC_COMMENT,
    DTC_NO_COMMENTS,
    DTC_NUMBER,
    DTC_LARGE,
    DTC_NEGATIVE,
    DTC_SPACE,
    DTC_UNKNOWN,
    DTC_TWICE,
    DTC_GROUP,
    DTC_N_PLACE,
    DTC_UNUSED,
    DTC_MISSING,
    DTC_NO_MOTION,
    DTC_NO_AXIS,
    DTC_NO_FEED,
    DTC_S_RANGE,
    DTC_ARC_WORDS,
    DTC_ARC_ENDS,
    DTC_ARC_RADIUS,
    DTC_BOTH_AXES,
    DTC_TRAVEL,
    DTC_UNHOMED,
    DTC_LOCKED,
    DTC_ABANDONED,
    DTC_SWITCH_STUCK,
    DTC_SWITCH_MISSED,
    DTC_SWITCH_HIT,
    DTC_PARAMETER,
    DTC_PARAMETER_FORM,
    DTC_PARAMETER_ALONE,
    DTC_RANGE,
    DTC_TOO_FAST,
    DTC_TOO_FAR,
    DTC_REASONS,
} DtcReason;

/* Words: words.c. -------------------------------------------------------------------------- */

/* Letters with a value of their own, as bits of DtcWords.given and slots of its numbers. */
enum { DTC_N, DTC_VX, DTC_VY, DTC_I, DTC_J, DTC_R, DTC_F, DTC_S, DTC_P, DTC_VALUES };

/* Modal groups of NISTIR 6556 table 4 that this controller has words of. */
enum {
    DTC_GROUP_MOTION,
    DTC_GROUP_PLANE,
    DTC_GROUP_UNITS,
    DTC_GROUP_DISTANCE,
    DTC_GROUP_FEED_MODE,
    DTC_GROUP_ONCE, /* group 0: non-modal G words */
    DTC_GROUP_STOP,
    DTC_GROUP_SPINDLE,
    DTC_GROUPS,
};

/* A decimal as written: whole + part / 10^places, nine places at most. */
typedef struct {
    uint32_t whole, part;
    uint8_t places;
    bool negative;
} DtcNumber;

/* A parsed line: the word of each group (its number in tenths, DTC_NONE for none) and the
 * values. */
#define DTC_NONE 0xffff
typedef struct {
    uint16_t given;
    uint16_t word[DTC_GROUPS];
    DtcNumber value[DTC_VALUES];
    bool deleted;       /* begins with the block delete character */
    uint8_t parameters; /* that it sets; they go to the line under way */
} DtcWords;

DtcReason dtc_words_read(DtController *c, DtRxCount length, DtcWords *out);
char dtc_value_letter(int slot);

/* Of two non-negative floats, whose order is that of their bits: much faster than a comparison
 * of floats on a chip that has none. */
static inline bool dtc_below(float a, float b)
{
    union {
        float number;
        uint32_t bits;
    } x = {a}, y = {b};
    return x.bits < y.bits;
}
/* Not 0. */
static inline bool dtc_some(float a)
{
    union {
        float number;
        uint32_t bits;
    } x = {a};
    return (x.bits & 0x7fffffffu) != 0;
}
/* The same number; a signed zero becomes 0. */
static inline bool dtc_same(float a, float b)
{
    union {
        float number;
        uint32_t bits;
    } x = {a}, y = {b};
    return x.bits == y.bits;
}
float dtc_least(float a, float b);
float dtc_most(float a, float b);

/* Numbers: number.c. ------------------------------------------------------------------------- */

/* Halves of 32 bits: a small chip shifts 64 bits one by one. */
typedef union {
    int64_t whole;
    uint32_t half[2];
} DtcHalves;
static inline uint32_t dtc_upper(int64_t n)
{
    return (DtcHalves){n}.half[DTC_LITTLE_ENDIAN];
}
static inline uint32_t dtc_lower(int64_t n)
{
    return (DtcHalves){n}.half[!DTC_LITTLE_ENDIAN];
}
/* The number times 1e6 (nanometres), or times 25.4e6; false if it is beyond +-20 m. */
bool dtc_number_nm(const DtcNumber *n, bool inches, int64_t *nm);
float dtc_number_float(const DtcNumber *n);
extern const DTC_FLASH uint32_t dtc_tens[10]; /* powers of ten, 1e9 first */
/* Millimetres, and nanometres. */
float dtc_mm(int64_t nm);
int64_t dtc_nm(float mm);
float dtc_length(float x, float y);
/* The number times 1000, rounded; false if it is negative or beyond 2^32-1. */
bool dtc_number_thousandths(const DtcNumber *n, uint32_t *thousandths);

/* Lines: line.c and run.c. ------------------------------------------------------------------- */

/* A byte that marks where bytes were lost: a line that contains it is refused, even in a
 * comment, whose end and following words may have been among them. It does not occur in UTF-8. */
enum { DTC_LOST = 0xff };
static inline uint8_t dtc_rx(const DtController *c, DtRxCount at)
{
    return c->rx[(DtRxCount)(c->rx_tail + at) & (DT_CONTROLLER_RX - 1)];
}
static inline DtRxCount dtc_rx_used(const DtController *c)
{
    return (DtRxCount)(c->rx_head - c->rx_tail);
}
static inline bool dtc_line_waits(const DtController *c)
{
    return c->lines_in != c->lines_out;
}
/* Answers that wait for the end of a dwell; the first of them is the dwell's own. */
static inline uint8_t dtc_owed_count(const DtController *c)
{
    return (uint8_t)(c->owed_head - c->owed_tail);
}
static inline uint32_t dtc_owed_next(const DtController *c)
{
    return c->owed[c->owed_tail & (DT_CONTROLLER_OWED - 1)];
}
void dtc_line_take(DtController *c);
/* Empties a full buffer that contains no line end; the line is refused when its end comes. */
bool dtc_line_drop_overlong(DtController *c);
/* The same from the receive interrupt, or with it disabled: what a CAN discards counts less. */
static inline void dtc_line_drop_received(DtController *c)
{
    c->rx_tail = c->abandon_head = c->rx_head;
    c->overlong = c->abandon ? 2 : 1;
}
/* Discards what was received before the latest CAN; the receive interrupt is disabled. */
void dtc_line_forget(DtController *c);
/* The modes after a line, computed before any is changed. */
typedef struct {
    uint16_t motion;
    bool inches, relative, home, moves, arc;
    bool settings; /* it sets parameters and does nothing else */
    float feed;
    bool feed_known, s_known;
    uint32_t s;
} DtcModes;

/* Determines the actions of the words, in three calls, which keeps the stack low: without its
 * arc; its arc; and the modes, changed only if everything is right. */
DtcReason dtc_interpret(DtController *c, const DtcWords *w, DtcModes *m);
DtcReason dtc_interpret_arc(DtController *c, const DtcWords *w, const DtcModes *m);
void dtc_interpret_end(DtController *c, const DtcWords *w, const DtcModes *m);
/* Continues with the current line; true if something was done. */
bool dtc_line_go_on(DtController *c);
void dtc_line_end(DtController *c, DtcReason reason);

/* What a line has to do, in this order. */
enum {
    DTC_DO_PEN = 1,
    DTC_DO_DWELL = 2,
    DTC_DO_MOVE = 4,
    DTC_DO_ARC = 8,
    DTC_DO_HOME = 16,
    DTC_DO_STOP = 32,
    DTC_DO_SET = 64,
};

/* Arcs: arc.c. ----------------------------------------------------------------------------- */

/* From the end of the plan to the target of the current line. */
DtcReason dtc_arc_begin(DtController *c, const DtcWords *w, bool clockwise, bool inches);
/* End of the current chord, nanometres. */
void dtc_arc_point(const DtController *c, int64_t nm[DT_CONTROLLER_AXES]);

/* Planner: plan.c. --------------------------------------------------------------------------- */

void dtc_plan_reset(DtController *c);
static inline uint8_t dtc_plan_count(const DtController *c)
{
    return (uint8_t)(c->plan.head - c->plan.tail);
}
static inline bool dtc_plan_room(const DtController *c)
{
    return dtc_plan_count(c) < DT_CONTROLLER_BLOCKS;
}
static inline DtBlock *dtc_plan_block(DtController *c, uint8_t at)
{
    return &c->plan.block[at & (DT_CONTROLLER_BLOCKS - 1)];
}
/* Adds a straight block; there must be room. feed 0: as fast as the axes can. */
void dtc_plan_line(DtController *c, const int64_t nm[2], float feed);
/* Discards all blocks; the plan continues from where the axes stand. */
void dtc_plan_forget(DtController *c);

/* Segments: cut.c. --------------------------------------------------------------------------- */

enum { DTC_AT_END = 1, DTC_ANYWHERE = 2 }; /* DtSegment.may_rest */
#define DTC_NEVER 0x7fffffffu              /* DtSegmentAxis.at */

static inline bool dtc_segments_wait(const DtController *c)
{
    return c->step.head != c->step.tail;
}
/* Cuts what the motors need for the next moments and starts them if they rest; false if there
 * was nothing to do. */
bool dtc_cut_go_on(DtController *c);
/* Starts the motors if enough has been cut ahead and nothing prevents it. */
void dtc_cut_start(DtController *c);
/* Discards all segments and the rest of the current block; the motors must rest. */
void dtc_cut_forget(DtController *c);

/* Steps: step.c. ----------------------------------------------------------------------------- */

void dtc_step_reset(DtController *c);
/* Starts the motors if they rest and may turn. */
void dtc_step_start(DtController *c);
/* Switches the motors off until the next start; they must rest. Their gears hold the carriage. */
void dtc_step_release(DtController *c);
/* Bit per axis: the switch is pressed. */
uint8_t dtc_switches(const DtController *c);
/* Between two steps: a switch that is open now was not pressed. */
void dtc_step_doubt_switches(DtController *c);
void dtc_wait_ms(DtController *c, uint32_t ms);
/* The same, of which so much has passed already. */
void dtc_wait_rest(DtController *c, uint32_t ms, uint16_t passed_us);
void dtc_wait_end(DtController *c);
/* Neither stepping nor waiting, and no block left. */
static inline bool dtc_still(const DtController *c)
{
    return !c->step.running && !c->step.waiting && dtc_plan_count(c) == 0 && !dtc_segments_wait(c);
}

/* Pen: pen.c. -------------------------------------------------------------------------------- */

/* Sends the pen to a pulse; lowering takes the time of the settings, waited for with
 * dtc_wait_ms(). */
void dtc_pen_move(DtController *c, uint16_t pulse_us);
/* Lowers it a little further; true if it moved. */
bool dtc_pen_go_on(DtController *c);

/* Settings: settings.c. ---------------------------------------------------------------------- */

/* Loads those that the board has stored, or the defaults. */
void dtc_settings_recall(DtController *c, const DTC_FLASH DtSettings *instead);
/* Whether there is such a parameter, and its value. */
bool dtc_settings_value(const DtController *c, uint16_t parameter, float *value);
/* Does what the current line requests: all of it, or nothing. */
DtcReason dtc_settings_change(DtController *c);
/* Writes a byte of them; false if all are written, or the memory is busy. */
bool dtc_settings_keep(DtController *c);

/* Homing: home.c. ---------------------------------------------------------------------------- */

void dtc_home_begin(DtController *c);
/* One step of homing; sets *done at its end. */
DtcReason dtc_home_go_on(DtController *c, bool *done);

/* Replies: reply.c. -------------------------------------------------------------------------- */

void dtc_reply_greeting(DtController *c);
void dtc_reply_taken(DtController *c, uint32_t number);
void dtc_reply_refused(DtController *c, uint32_t number, DtcReason reason);
void dtc_reply_state(DtController *c);
void dtc_reply_parameter(DtController *c, uint16_t parameter);
/* Sends the next part of a state; true if something was sent. */
bool dtc_reply_go_on(DtController *c);
/* Whether a line can be answered now, without waiting. */
bool dtc_reply_may(const DtController *c);
/* The same for any reply but a state. */
bool dtc_reply_may_at_length(const DtController *c);
