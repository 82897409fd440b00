/* learn: asks a controller which words and forms it takes, and puts that into its profile. */
#pragma once

#include "drawtrue/session.h"

typedef struct {
    double boot_s;     /* how long the board may take to greet after the port was opened */
    gboolean may_move; /* the user agrees: home, the pen once, and arcs within 10 mm of home */
} DtLearnOptions;

/* What was found out. Each string is "" where nothing was. */
typedef struct {
    char *greeting, *accept, *refuse; /* how lines begin, up to their first number; a refusal of ""
                                       * is whatever does not accept */
    char *notices;                    /* as DtDialect.notices */
    char *words;                      /* as DtDialect.words; each of them was tried and taken */
    char *untried;     /* words that the profile has, or that a drawing needs, and that could not be
                        * tried; separated by spaces */
    char *program_end; /* the word that ends a program and leaves the board ready for the next */
    char *refused;     /* lines of the profile that it refuses, one after the other */
    int window;        /* 0: not found, or it keeps nothing while it works */
    int longest_line;  /* 0: not found */
    int decimals;      /* most digits after the point that it takes; -1: not tried */
    gboolean line_check;
    gboolean asks, holds, abandons; /* ENQ reports its state or place; DC3 and DC1, and CAN, act at
                                     * once */
    double latency_s;               /* from a line to its reply */
} DtLearnt;

void dt_learnt_clear(DtLearnt *l);

/* Begins to ask the controller which words and forms it takes; DT_EVENT_FOUND tells what is found,
 * DT_EVENT_ENDED the end, which comes within minutes whatever the board says. The caller makes sure
 * that the pen is up and the axes still. Without `may_move` only lines are sent that move nothing.
 * A board that restarts meanwhile is asked again from the beginning; a line that restarts it twice is
 * not sent again. Fails where something else is under way. */
gboolean dt_session_learn(DtSession *s, const DtLearnOptions *o, GError **error);
/* After its end: what was learnt, for the caller to clear, or the error that it ended with. */
gboolean dt_session_learnt(DtSession *s, DtLearnt *out, GError **error);

/* Puts what was learnt into the profile at `path`, which `p` was read from, and writes it to `to`;
 * everything else stays as it is laid out, comments too. Words that were not tried are marked
 * "untried:" and so not used. `date` is noted. Fails as dt_profile_update() does. */
gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error);
