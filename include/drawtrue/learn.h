/* learn: finds out which words and forms a controller accepts, and writes that into its profile. */
#pragma once

#include "drawtrue/session.h"

typedef struct {
    double boot_s;     /* how long the board may take to greet after the port was opened */
    gboolean may_move; /* the user permits motion: homing, the pen once, and arcs within 10 mm of
                        * home */
} DtLearnOptions;

/* The results. A string is "" if nothing was found. */
typedef struct {
    char *greeting, *accept, *refuse; /* how replies begin, up to their first number; a refusal
                                       * of "" is any line that does not accept */
    char *notices;                    /* as DtDialect.notices */
    char *words;                      /* as DtDialect.words; each of them was tried and accepted */
    char *untried;     /* words in the profile, or needed for drawing, that could not be tried;
                        * separated by spaces */
    char *program_end; /* the word that ends a program and leaves the board ready for the next
                        * one */
    char *refused;     /* lines of the profile that the controller refuses, one per line */
    int window;        /* 0: not found, or it buffers nothing while it works */
    int longest_line;  /* 0: not found */
    int decimals;      /* most digits after the decimal point that it accepts; -1: not tried */
    gboolean line_check;
    gboolean asks, holds, abandons; /* ENQ makes it report its state or position; DC3 and DC1,
                                     * and CAN, act at once */
    double latency_s;               /* from a line to its reply */
} DtLearnt;

void dt_learnt_clear(DtLearnt *l);

/* Starts to find out which words and forms the controller accepts. DT_EVENT_FOUND reports
 * results; DT_EVENT_ENDED reports the end, which comes within minutes whatever the board does.
 * The caller makes sure that the pen is up and the axes stand still. Without `may_move` only
 * lines that move nothing are sent. If the board restarts meanwhile, the questions begin anew; a
 * line that restarts it twice is not sent again. Fails if something else is under way. */
gboolean dt_session_learn(DtSession *s, const DtLearnOptions *o, GError **error);
/* After the end: what was learnt, to be cleared by the caller, or the error that ended it. */
gboolean dt_session_learnt(DtSession *s, DtLearnt *out, GError **error);

/* Puts what was learnt into the profile at `path`, from which `p` was read, and writes it to
 * `to`; the rest of the file, comments included, keeps its layout. Words that were not tried are
 * marked "untried:" and so are not used. `date` is noted. Fails as dt_profile_update() does. */
gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error);
