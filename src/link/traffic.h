/* traffic: what is in flight between the program and the board. Knows lines, replies, the window,
 * the line check and how both sides find together again after noise; knows nothing of strokes. Does
 * no I/O and reads no clock: bytes and times are handed in. Private to link. */
#pragma once

#include "drawtrue/program.h"

enum { LAST_NUMBER = 99999 }; /* of an N word */

/* A line that was sent and is not answered yet, with what is true once it has been. */
typedef struct {
    char text[DT_PROGRAM_LONGEST + 32]; /* as on the wire, line end included */
    gsize len;
    unsigned n;    /* its N word, 0 where lines carry none */
    size_t number; /* line in the program, 0 for one of our own */
    DtLineKind kind;
    gboolean settled;        /* with this line answered, the strokes in `after` are wholly drawn */
    double dwell_s, seconds; /* what its execution takes */
    DtProgramState after;
    gboolean answered; /* taken, though an earlier line's answer is still missing */
    unsigned doubts;   /* refusals so far that garbled replies or checks may have made */
    unsigned repeats;  /* times that it was sent again */
} DtSent;

typedef enum {
    DT_BOARD_SILENT, /* never heard of */
    DT_BOARD_STILL,
    DT_BOARD_MOVING,
    DT_BOARD_HELD,
    DT_BOARD_HOMING,
    DT_BOARD_UNHOMED,
    DT_BOARD_STOPPED,
    DT_BOARD_UNKNOWN, /* it answered in words of its own */
} DtBoardWord;

typedef struct {
    DtBoardWord word;
    gboolean has_position;
    double x, y;
    gboolean pen_known, pen_down;
    unsigned line; /* last one taken */
    gboolean has_line;
    gboolean at_switch[2];
} DtBoardState;

/* A state in our own words. FALSE where a part is garbled: it is believed whole or not at all. */
gboolean dt_board_state(const char *text, DtBoardState *s);
/* What a board of another make tells of its position: any reply with an X and a Y number. */
gboolean dt_board_position(const char *text, DtBoardState *s);

/* What the traffic has to tell. A callback may send (dt_traffic_urgent), but not push or reset. */
typedef struct {
    void (*taken)(const DtSent *line, void *user);
    /* The board refuses a line for what it says. `line` may be NULL where the reply names none. */
    void (*refused)(const DtSent *line, const char *reason, void *user);
    void (*greeting)(const char *text, void *user);
    void (*state)(const DtBoardState *state, void *user);
    /* The board wants line `wanted`, which it has answered already, or (0) it counts no lines and
     * stands elsewhere than they end: what it did is uncertain. */
    void (*disagreed)(unsigned wanted, void *user);
    void (*repeated)(const DtSent *from, void *user); /* lines from here on are sent again */
    void (*other)(const char *text,
                  void *user); /* a reply in no words of the dialect; may be NULL */
} DtTrafficEvents;

typedef struct DtTraffic DtTraffic;

DtTraffic *dt_traffic_new(const DtDialect *d, const DtTrafficEvents *events, void *user);
void dt_traffic_free(DtTraffic *w);

/* Forgets all that is in flight: after a reset, or when the port was opened anew. `next` is the N
 * word of the next line. */
void dt_traffic_reset(DtTraffic *w, unsigned next);

/* Whether a line of this text may be sent now without overflowing the board's receive buffer. */
gboolean dt_traffic_has_room(const DtTraffic *w, const char *text);
/* Takes a line (fields from `number` on, and the text without its line end) and puts it in flight.
 */
void dt_traffic_push(DtTraffic *w, const DtSent *line, gint64 now_us);
/* Bytes that act at once, out of the line. */
void dt_traffic_urgent(DtTraffic *w, const char *bytes);

size_t dt_traffic_in_flight(const DtTraffic *w);
/* Whether it waits for the board: for answers, or for its state after something that does not add up. */
gboolean dt_traffic_waits(const DtTraffic *w);
gsize dt_traffic_bytes_in_flight(const DtTraffic *w);
/* Time that the lines in flight take, s. */
double dt_traffic_work_s(const DtTraffic *w);
const DtSent *dt_traffic_oldest(const DtTraffic *w);
/* Whether a board that tells this has taken no line, though the first ones were answered. */
gboolean dt_traffic_count_is_lost(const DtTraffic *w, const DtBoardState *s);

/* What is to be written to the port; dt_traffic_written() says how much of it was. */
const char *dt_traffic_output(const DtTraffic *w, gsize *n);
void dt_traffic_written(DtTraffic *w, gsize n);

void dt_traffic_feed(DtTraffic *w, const char *bytes, gsize n, gint64 now_us);

/* Lets time pass: asks the state after a silence, sends again what was lost. Returns when it wants
 * to be called next. */
gint64 dt_traffic_tick(DtTraffic *w, gint64 now_us);

/* Since when nothing that makes sense has been heard. */
gint64 dt_traffic_alive_us(const DtTraffic *w);
/* The N word that the last refusal asks for; 0: none. */
unsigned dt_traffic_wanted(const DtTraffic *w);
/* Acceptances since the last reset that came while no line was waiting for one: an answer was doubled,
 * or is not the board's. */
size_t dt_traffic_unasked(const DtTraffic *w);
/* What was heard last, since the lines in flight were sent, that is no answer the profile knows; "". */
const char *dt_traffic_unknown_reply(const DtTraffic *w);
/* Bytes received so far that cannot be text, and all of them. */
void dt_traffic_noise(const DtTraffic *w, size_t *noise, size_t *all);
