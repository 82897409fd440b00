/* traffic: what is in flight between the program and the board. Knows lines, replies, the
 * window, the line check and resynchronisation after noise; knows nothing of strokes. Does no
 * I/O and reads no clock: bytes and times are passed in. Private to link. */
#pragma once

#include "drawtrue/program.h"

enum { LAST_NUMBER = 99999 }; /* of an N word */

/* A line that was sent and is not answered yet, with the state after it. */
typedef struct {
    char text[DT_PROGRAM_LONGEST + 32]; /* as on the wire, line end included */
    gsize len;
    unsigned n;    /* its N word, 0 if lines have none */
    size_t number; /* line in the program, 0 for one of our own */
    DtLineKind kind;
    gboolean settled;        /* when this line is answered, the strokes in `after` are completely
                              * drawn */
    double dwell_s, seconds; /* the time of its execution */
    DtProgramState after;
    gboolean answered; /* accepted, although an earlier line's answer is still missing */
    unsigned doubts;   /* refusals so far that may be due to garbled replies or checks */
    unsigned repeats;  /* number of times that it was sent again */
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
    unsigned line; /* line accepted last */
    gboolean has_line;
    gboolean at_switch[2];
} DtBoardState;

/* A state in our own words. FALSE if a part is garbled: it counts as a whole or not at all. */
gboolean dt_board_state(const char *text, DtBoardState *s);
/* The position as a board of another make reports it: any reply with an X and a Y number. */
gboolean dt_board_position(const char *text, DtBoardState *s);

/* What the traffic reports. A callback may send (dt_traffic_urgent), but not push or reset. */
typedef struct {
    void (*taken)(const DtSent *line, void *user);
    /* The board refuses a line because of its content. `line` may be NULL if the reply names
     * none. */
    void (*refused)(const DtSent *line, const char *reason, void *user);
    void (*greeting)(const char *text, void *user);
    void (*state)(const DtBoardState *state, void *user);
    /* The board requests line `wanted`, which it has answered already, or (0) it counts no lines
     * and does not stand at the end of them: what it did is uncertain. */
    void (*disagreed)(unsigned wanted, void *user);
    void (*repeated)(const DtSent *from, void *user); /* lines from here on are sent again */
    void (*other)(const char *text,
                  void *user); /* a reply in no words of the dialect; may be NULL */
} DtTrafficEvents;

typedef struct DtTraffic DtTraffic;

DtTraffic *dt_traffic_new(const DtDialect *d, const DtTrafficEvents *events, void *user);
void dt_traffic_free(DtTraffic *w);

/* Forgets everything in flight: after a reset, or when the port was reopened. `next` is the N
 * word of the next line. */
void dt_traffic_reset(DtTraffic *w, unsigned next);

/* Whether a line of this text may be sent now without overflowing the board's receive buffer. */
gboolean dt_traffic_has_room(const DtTraffic *w, const char *text);
/* Takes a line (fields from `number` on, and the text without its line end) and puts it in
 * flight. */
void dt_traffic_push(DtTraffic *w, const DtSent *line, gint64 now_us);
/* Bytes that act at once, outside any line. */
void dt_traffic_urgent(DtTraffic *w, const char *bytes);

size_t dt_traffic_in_flight(const DtTraffic *w);
/* Whether it waits for the board: for answers, or for its state after something inconsistent. */
gboolean dt_traffic_waits(const DtTraffic *w);
gsize dt_traffic_bytes_in_flight(const DtTraffic *w);
/* Time that the lines in flight take, s. */
double dt_traffic_work_s(const DtTraffic *w);
const DtSent *dt_traffic_oldest(const DtTraffic *w);
/* Whether a board in this state has accepted no line, although the first ones were answered. */
gboolean dt_traffic_count_is_lost(const DtTraffic *w, const DtBoardState *s);

/* Bytes to be written to the port; dt_traffic_written() reports how many were. */
const char *dt_traffic_output(const DtTraffic *w, gsize *n);
void dt_traffic_written(DtTraffic *w, gsize n);

void dt_traffic_feed(DtTraffic *w, const char *bytes, gsize n, gint64 now_us);

/* Advances time: requests the state after a silence, sends again what was lost. Returns the time
 * of the next call. */
gint64 dt_traffic_tick(DtTraffic *w, gint64 now_us);

/* Time since which nothing meaningful has been received. */
gint64 dt_traffic_alive_us(const DtTraffic *w);
/* The N word that the last refusal requests; 0: none. */
unsigned dt_traffic_wanted(const DtTraffic *w);
/* Acceptances since the last reset that came while no line was waiting for one: an answer was
 * doubled, or did not come from the board. */
size_t dt_traffic_unasked(const DtTraffic *w);
/* The last message since the lines in flight were sent that is not an answer known to the
 * profile; "". */
const char *dt_traffic_unknown_reply(const DtTraffic *w);
/* Number of bytes received so far that cannot be text, and of all bytes. */
void dt_traffic_noise(const DtTraffic *w, size_t *noise, size_t *all);
