/* learn: what finding out needs to share between its parts. Private. */
#pragma once

#include "drawtrue/learn.h"
#include "link/reply.h"

enum { MOST_REPLY = 256 };

/* The bytes to and from a controller. */
typedef struct {
    gboolean (*write)(void *user, const char *bytes, gsize n, GError **error);
    /* Bytes that come within `wait_s`; 0 where none do, -1 where the port fails. */
    gssize (*read)(void *user, char *to, gsize room, double wait_s, GError **error);
    void *user;
} DtWire;

typedef struct {
    DtWire wire;
    double boot_s;     /* see DtLearnOptions */
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
    GString *incoming; /* bytes that came and are no whole line yet */
    double wait_s;     /* how long a reply may take */
    const char *base;  /* a line that is taken and does nothing */
    const char *other; /* one or two words that may stand beside it */
    GString *words, *settings;
    int most_s;    /* greatest S that it takes; 0: any */
    GError *error; /* the port failed: everything stops */
    gboolean homed;
} DtLearner;

/* Wire: lines out, lines in. */
gboolean dt_learn_send(DtLearner *l, const char *bytes, gsize n);
/* The next line without its end; FALSE where none comes in time or the port fails. */
gboolean dt_learn_read_line(DtLearner *l, double wait_s, char reply[MOST_REPLY]);
/* Sends a line and tells how it was answered; lines that are no answer are passed over. */
DtReply dt_learn_try(DtLearner *l, const char *line);
/* The same with the reply's text. */
DtReply dt_learn_ask(DtLearner *l, const char *line, double wait_s, char reply[MOST_REPLY]);
DtReply dt_learn_try_for(DtLearner *l, const char *line, double wait_s);
/* Reads until nothing has come for `quiet_s`. */
void dt_learn_drain(DtLearner *l, double quiet_s);
void dt_learn_tell(DtLearner *l, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* The parts, in the order in which they are done. */
gboolean dt_learn_greeting(DtLearner *l);
gboolean dt_learn_replies(DtLearner *l);
void dt_learn_still_words(DtLearner *l);
void dt_learn_forms(DtLearner *l);
void dt_learn_sizes(DtLearner *l);
void dt_learn_bytes_at_once(DtLearner *l);
void dt_learn_moving_words(DtLearner *l);
gboolean dt_learn_knows(const DtLearner *l, const char *word);
void dt_learn_add_word(DtLearner *l, const char *word);
