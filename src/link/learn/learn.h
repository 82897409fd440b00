/* learn: shared by the parts of learning. Private. */
#pragma once

#include "drawtrue/learn.h"
#include "link/reply.h"
#include "link/traffic.h"

enum { MOST_REPLY = 256 };

/* The bytes to and from a controller, and the clock that both use. */
typedef struct {
    gboolean (*write)(void *user, const char *bytes, gsize n, GError **error);
    /* Bytes that arrive within `wait_s`; 0 if none do, -1 if the port fails. */
    gssize (*read)(void *user, char *to, gsize room, double wait_s, GError **error);
    /* Reopens the port, which resets many boards; NULL if that is not possible. */
    gboolean (*reopen)(void *user, GError **error);
    gint64 (*now_us)(void *user);
    void *user;
} DtWire;

typedef struct {
    DtWire wire;
    double boot_s; /* see DtLearnOptions */
    gboolean may_move;
    void (*tell)(const char *text, void *user); /* what was found, as it is found; may be NULL */
    void *user;
} DtLearnJob;

/* Fails with DT_ERROR_INPUT if the controller answers nothing that can be understood, or with
 * the error of the wire. Clear `out` after success. */
gboolean dt_learn_controller(const DtProfile *p, const DtLearnJob *job, DtLearnt *out,
                             GError **error);

typedef struct {
    const DtProfile *profile;
    DtLearnJob options;
    DtLearnt *out;
    gint64 end_us; /* when it gives up */

    DtDialect dialect;  /* replies as far as they are known; its strings belong to `out` */
    DtTraffic *traffic; /* the run's own matcher */

    /* What has arrived since the last line was sent. */
    const char *line; /* that line */
    size_t accepted, refused, states;
    DtBoardState state;
    char reason[MOST_REPLY]; /* of the last refusal */
    GPtrArray *others;       /* lines in no words of the dialect */

    GHashTable *restarts; /* per line: how often the board restarted or fell silent over it */
    unsigned n_restarts;
    gboolean greeted, expects_greeting;
    unsigned greetings_in_vain; /* greetings of a board that answers nevertheless */
    GHashTable *sent;           /* lines: an echo of one is no notice */
    gboolean restarted;         /* this pass is void; `error` is set, so that everything returns */
    gboolean hung;              /* and the port has to be opened anew */

    double wait_s;           /* how long a reply may take */
    gboolean silent_refusal; /* a refused line is not answered at all */
    const char *base;        /* a line that is accepted and has no effect */
    const char *other;       /* one or two words that may be added to it */
    GString *words, *settings;
    GHashTable *tried;    /* words */
    int most_s;           /* highest S that it accepts; 0: any */
    gboolean dwell_in_ms; /* unit of the dwell's number */
    gboolean dwells;      /* lines wait for a dwell, and its number has the unit in the profile */
    GError *error;        /* the port failed, or the board: everything stops */
    gboolean homed;
} DtLearner;

/* A new learner that knows nothing; `out` must outlive it. */
void dt_learner_init(DtLearner *l, const DtProfile *p, const DtLearnJob *job, DtLearnt *out);
void dt_learner_clear(DtLearner *l);
/* After a change of the replies in `out`: updates the matcher. */
void dt_learner_set_replies(DtLearner *l);

/* Wire: lines out, lines in. */
gboolean dt_learn_send(DtLearner *l, const char *bytes, gsize n);
/* Processes the bytes that arrive within this time; returns their number, -1 if everything
 * stops. */
gssize dt_learn_hear_some(DtLearner *l, double wait_s);
/* Processes what arrives for this long, or until this many answers to lines have come. */
void dt_learn_hear(DtLearner *l, double wait_s, size_t answers);
/* The same as long as something arrives, up to the longer time; it belongs to no line. */
void dt_learn_drain(DtLearner *l, double quiet_s, double most_s);
/* Sends `lines` lines, with their line ends; what arrives from here on belongs to them. */
gboolean dt_learn_begin(DtLearner *l, const char *text, size_t lines);
/* Sends a line and returns how it was answered; a line without a meaningful answer is sent once
 * more. If the board is silent from then on, the whole pass becomes void. */
DtReply dt_learn_try(DtLearner *l, const char *line);
DtReply dt_learn_try_for(DtLearner *l, const char *line, double wait_s);
/* The same once, without repetition. */
DtReply dt_learn_ask(DtLearner *l, const char *line, double wait_s);
/* Whether a line has made the board restart or fall silent twice: it is not sent again. */
gboolean dt_learn_is_harmful(const DtLearner *l, const char *line);
/* Marks this pass as void: the line has silenced the board. */
void dt_learn_void(DtLearner *l, const char *line);
double dt_learn_now_s(const DtLearner *l);
void dt_learn_tell(DtLearner *l, const char *format, ...) G_GNUC_PRINTF(2, 3);
/* Whether the reply can serve as a notice; if so, records it. */
void dt_learn_take_notice(DtLearner *l, const char *text);

/* The parts, in the order in which they are done. */
gboolean dt_learn_greeting(DtLearner *l);
gboolean dt_learn_replies(DtLearner *l);
void dt_learn_still_words(DtLearner *l);
void dt_learn_forms(DtLearner *l);
void dt_learn_sizes(DtLearner *l);
void dt_learn_moving_words(DtLearner *l);
void dt_learn_bytes_at_once(DtLearner *l);
void dt_learn_end(DtLearner *l);

gboolean dt_learn_knows(const DtLearner *l, const char *word);
void dt_learn_add_word(DtLearner *l, const char *word);
/* Tries a line that contains the word; `undo` (may be NULL) undoes its effect. */
gboolean dt_learn_try_word(DtLearner *l, const char *word, const char *line, const char *undo);
/* Records all words of a line that was accepted. */
void dt_learn_add_words_of(DtLearner *l, const char *line);
void dt_learn_note_tried(DtLearner *l, const char *word);
