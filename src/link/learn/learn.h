/* learn: what finding out needs to share between its parts. Private. */
#pragma once

#include "drawtrue/learn.h"
#include "link/reply.h"
#include "link/traffic.h"

enum { MOST_REPLY = 256 };

/* The bytes to and from a controller, and the clock that both go by. */
typedef struct {
    gboolean (*write)(void *user, const char *bytes, gsize n, GError **error);
    /* Bytes that come within `wait_s`; 0 where none do, -1 where the port fails. */
    gssize (*read)(void *user, char *to, gsize room, double wait_s, GError **error);
    /* Opens the port anew, which resets many boards; NULL where that is not possible. */
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

/* Fails with DT_ERROR_INPUT where the controller answers nothing that can be understood, or with the
 * error of the wire. Clear `out` after success. */
gboolean dt_learn_controller(const DtProfile *p, const DtLearnJob *job, DtLearnt *out,
                             GError **error);

typedef struct {
    const DtProfile *profile;
    DtLearnJob options;
    DtLearnt *out;
    gint64 end_us; /* when it gives up */

    DtDialect dialect;  /* replies as far as they are known; its strings are those of `out` */
    DtTraffic *traffic; /* the run's own matcher */

    /* What has come since the last line was sent. */
    const char *line; /* that line */
    size_t accepted, refused, states;
    DtBoardState state;
    char reason[MOST_REPLY]; /* of the last refusal */
    GPtrArray *others;       /* lines in no words of the dialect */

    GHashTable *restarts; /* by line: times that the board restarted or fell silent over it */
    unsigned n_restarts;
    gboolean greeted, expects_greeting;
    unsigned greetings_in_vain; /* greetings of a board that answers all the same */
    GHashTable *sent;           /* lines: an echo of one is no notice */
    gboolean restarted;         /* this pass is void; `error` is set, so that everything unwinds */
    gboolean hung;              /* and the port has to be opened anew */

    double wait_s;           /* how long a reply may take */
    gboolean silent_refusal; /* a refused line is not answered at all */
    const char *base;        /* a line that is taken and does nothing */
    const char *other;       /* one or two words that may stand beside it */
    GString *words, *settings;
    GHashTable *tried;    /* words */
    int most_s;           /* greatest S that it takes; 0: any */
    gboolean dwell_in_ms; /* what the dwell's number counts */
    gboolean dwells;      /* lines wait behind a dwell, and its number counts as the profile says */
    GError *error;        /* the port failed, or the board: everything stops */
    gboolean homed;
} DtLearner;

/* A learner that knows nothing yet; `out` must outlive it. */
void dt_learner_init(DtLearner *l, const DtProfile *p, const DtLearnJob *job, DtLearnt *out);
void dt_learner_clear(DtLearner *l);
/* After a change of the replies in `out`: the matcher goes by them from here on. */
void dt_learner_set_replies(DtLearner *l);

/* Wire: lines out, lines in. */
gboolean dt_learn_send(DtLearner *l, const char *bytes, gsize n);
/* Takes the next bytes that come within so long; their number, -1 where everything stops. */
gssize dt_learn_hear_some(DtLearner *l, double wait_s);
/* Takes what comes for this long, or until this many answers to lines have come. */
void dt_learn_hear(DtLearner *l, double wait_s, size_t answers);
/* The same for as long as things come, so long at the most; what it hears is of no line. */
void dt_learn_drain(DtLearner *l, double quiet_s, double most_s);
/* Sends lines, `lines` of them, with their line ends; what comes from here on belongs to them. */
gboolean dt_learn_begin(DtLearner *l, const char *text, size_t lines);
/* Sends a line and tells how it was answered; a line that is answered by nothing that makes sense is
 * sent once more. A board that is silent from then on makes the whole pass void. */
DtReply dt_learn_try(DtLearner *l, const char *line);
DtReply dt_learn_try_for(DtLearner *l, const char *line, double wait_s);
/* The same once, without a second thought. */
DtReply dt_learn_ask(DtLearner *l, const char *line, double wait_s);
/* Whether a line has made the board restart or fall silent twice: it is not sent again. */
gboolean dt_learn_is_harmful(const DtLearner *l, const char *line);
/* Makes this pass void: the line has silenced the board. */
void dt_learn_void(DtLearner *l, const char *line);
double dt_learn_now_s(const DtLearner *l);
void dt_learn_tell(DtLearner *l, const char *format, ...) G_GNUC_PRINTF(2, 3);
/* Whether the reply can be used as a notice; takes it as one. */
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
/* Tries a line that holds the word; `undo` (may be NULL) takes back what it does. */
gboolean dt_learn_try_word(DtLearner *l, const char *word, const char *line, const char *undo);
/* All words of a line that was taken. */
void dt_learn_add_words_of(DtLearner *l, const char *line);
void dt_learn_note_tried(DtLearner *l, const char *word);
