/* traffic-inside: shared by the two halves of the traffic, traffic.c (what is sent, and when)
 * and traffic-answers.c (what replies say about it). */
#pragma once

#include "link/traffic.h"

enum {
    RING = 1024,         /* lines in flight at most */
    LONGEST_REPLY = 200, /* bytes; anything longer is noise */
    SILENCE_US = 300000, /* after this time without a sign the state is requested */
    ASK_AGAIN_US = 250000,
    BLIND_US = 2000000, /* silence of a board that cannot report, in addition to the time of its
                         * work */
};

typedef enum {
    PHASE_FLOW,  /* sending */
    PHASE_DRAIN, /* waiting until both directions are quiet */
    PHASE_ASK,   /* asking for the last line taken, to go back to the one after it */
} Phase;

struct DtTraffic {
    const DtDialect *dialect;
    gboolean gaps; /* words need blanks between them */
    char *ask;
    DtTrafficEvents events;
    void *user;

    DtSent *ring; /* the lines in flight, oldest first from `head` */
    size_t head, n;
    gsize bytes;
    unsigned next_n;

    GString *out;
    gsize out_urgent; /* bytes at its head that are sent before lines */
    char reply[LONGEST_REPLY + 1];
    gsize reply_len;
    gboolean reply_too_long;
    char unknown[LONGEST_REPLY + 1]; /* the first reply in no words of the profile since all was
                                      * answered; "" for none */

    Phase phase;
    unsigned wanted;                      /* N word that the last refusal asks for; 0: none */
    unsigned wanted_in_vain;              /* number of times in a row that it is none of those in
                                           * flight */
    unsigned impossible, impossible_line; /* number of times in a row that the board reported
                                           * this line */
    gboolean suspect;                     /* something is inconsistent: request the state soon */
    gboolean agreed;                      /* `last_state` holds a state reply of this enquiry */
    DtBoardState last_state;
    gboolean has_reported_position; /* by the last state, `last_reported` */
    DtPoint last_reported;
    gint64 received_us, sent_us, asked_us;
    gint64 heard_us; /* last answer to a line */
    gint64 alive_us; /* last meaningful message */
    size_t noise, received;
    size_t unasked; /* acceptances since the reset that no line was waiting for */
};

/* The line in flight that is the i-th oldest. */
static inline DtSent *dt_traffic_at(const DtTraffic *w, size_t i)
{
    return &w->ring[(w->head + i) % RING];
}

/* Index of the line with this N word among those in flight, -1 if there is none. */
gssize dt_traffic_index(const DtTraffic *w, unsigned n);
unsigned dt_traffic_number_after(unsigned n);
/* Stops trusting single replies: waits until both directions are quiet. */
void dt_traffic_start_drain(DtTraffic *w);
/* Sends everything in flight again, unless the board counts its lines differently. */
void dt_traffic_go_back(DtTraffic *w);
