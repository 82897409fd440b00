/* fake: a small controller on a pseudo-terminal, played by a thread, that makes odd replies on
 * purpose. It keeps what it executed and how full its receive buffer ever was. */
#pragma once

#include <glib.h>

typedef struct {
    /* How it speaks. */
    const char *greeting;    /* NULL: silent after a reset */
    gboolean gaps;           /* words must stand apart */
    const char *own_refusal; /* refuses with this reply, and again when the line is repeated; NULL:
                                * in our words */
    gboolean check;          /* lines carry N words and checks */
    gboolean deaf_to_ask;    /* ENQ is nothing to it */
    gboolean held;           /* from the beginning */
    gboolean noise_only;     /* sends bytes that are no text */
    gboolean resumes_silently; /* opened without a reset: no greeting, answers ENQ */
    unsigned slow_ms;          /* before each answer */
    gboolean leaves_link;      /* unplugged, its name still shows where it was */
    gboolean stops;            /* stands at M0, and answers it when it is let go on */
    unsigned home_ms;          /* it answers the line that homes after this long */
    double homes_at[2];        /* where it stands then, mm */
    const char
        *at_switch; /* which end switches it says are pressed; NULL: those that it ran into */
    gboolean lifts; /* the pen when it hears nothing, until the next move */
    /* What goes wrong, by count of lines received since the start, 1-based; 0: never. */
    unsigned drop_reply, double_reply, garble_reply, late_reply;
    unsigned garble_line, lose_line_end, reset_at, silent_from, refuse_at, hold_at, hang_up_at;
    unsigned skip_at;                            /* answered, but not executed */
    unsigned trip_at;                            /* an end switch */
    const char *trips;                           /* which; NULL: that of X */
    unsigned count_from_start_at, count_back_at; /* by five lines */
    /* Or by count of moves since the pen went down, each time that it starts, 0-ended: it resets at this one. */
    const unsigned *resets;
} FakeFaults;

typedef struct Fake Fake;

Fake *fake_new(const FakeFaults *faults);
const char *fake_port(const Fake *f);
/* Stops the thread; after it the lists are complete. */
void fake_stop(Fake *f);
void fake_free(Fake *f);

/* Lines executed, without N word and check, in order. */
GPtrArray *fake_executed(Fake *f);
/* The most bytes that were ever sent and not answered. */
unsigned fake_most_unanswered(Fake *f);
/* It restarts by itself: it greets, and does not know any more where it stands. */
void fake_restart(Fake *f);
/* Opens a fresh pseudo-terminal under the same symbolic link: plugged in again. */
void fake_plug_in_again(Fake *f);
