/* board: a board for the controller that lives in memory, for tests: it keeps what was said and
 * every step with its time, and has two switches at the low ends. */
#pragma once

#include "controller.h"

#include <glib.h>
#include <string.h>

typedef struct {
    gint64 at_us;
    uint8_t axis;
    int8_t turn;
} BoardStep;

typedef struct {
    DtController core;
    DtSettings set;
    GString *said;
    GArray *steps;   /* BoardStep */
    GArray *targets; /* int64_t pairs, nanometres */
    gint64 now, deadline;
    gboolean loose[2]; /* no coil on */
    int phase[2];
    int at[2];        /* half steps since the start */
    int closed_at[2]; /* switches are closed at and below */
    uint8_t forced;   /* switches held closed */
    int bad_patterns;
    uint16_t pulse;
    int locked;
    unsigned events;
    uint8_t memory[256];
    gboolean busy;        /* the memory, at the next call */
    unsigned writes_left; /* until the power goes */
    unsigned writes;      /* so far */
    unsigned poll_us;     /* that the main loop takes for a turn in which it has something to do */
    unsigned eager; /* interrupts that come as soon as the controller lets them in, if not 0 */
    uint8_t cause;
    uint8_t inverted, broken; /* bit per axis: the contact opens when pressed; the wire is broken */
    gboolean slow;            /* of what is said, no more than `room` bytes are taken */
    uint8_t room;
} Board;

/* NULL: the standard settings with a pull-in of 1.3 mm/s on both axes. */
void board_init(Board *b, const DtSettings *set);
void board_clear(Board *b);
/* The board again, after a reset: what it has kept is still there. */
void board_restart(Board *b);
/* DC1, twice. */
void board_go_on(Board *b);
/* CAN twice. */
void board_abandon(Board *b);
/* Gives the bytes to the controller, letting it work between lines, as fast as it takes them. */
void board_feed(Board *b, const char *text);
void board_feed_bytes(Board *b, const char *bytes, gsize n);
/* Lets time pass until nothing is to come; FALSE where that did not happen within `events`. */
gboolean board_run(Board *b, unsigned events);
/* Lets time pass for `us`. */
void board_pass(Board *b, gint64 us);
/* What was said since the last call; valid until the next. */
const char *board_heard(Board *b);
/* Homes, forgetting steps and talk. */
void board_home(Board *b);
/* One line, run to its end; returns what was said. */
const char *board_line(Board *b, const char *line);
