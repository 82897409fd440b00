/* learn: asks a controller which words and forms it takes, and puts that into its profile. */
#pragma once

#include "drawtrue/session.h"

typedef struct {
    double boot_s;     /* how long the board may take to greet after the port was opened */
    gboolean may_move; /* the user agrees: home, the pen once, and arcs within 10 mm of home */
} DtLearnOptions;

/* What was found out. */
typedef struct {
    char *greeting, *accept, *refuse; /* how lines begin, up to their first number */
    char *words;                      /* as DtDialect.words */
    int window;                       /* 0: not found */
    int longest_line;                 /* 0: not found */
    gboolean line_check;
    gboolean asks, holds; /* ENQ reports its state; DC3 and DC1 act at once */
    double latency_s;     /* from a line to its reply */
} DtLearnt;

void dt_learnt_clear(DtLearnt *l);

/* Begins to ask the controller which words and forms it takes; DT_EVENT_FOUND tells what is found,
 * DT_EVENT_ENDED the end. The caller makes sure that the pen is up and the axes still. Without
 * `may_move` only lines are sent that move nothing, and words that cannot be tried so stay as the
 * profile has them. Fails where something else is under way. */
gboolean dt_session_learn(DtSession *s, const DtLearnOptions *o, GError **error);
/* After its end: what was learnt, for the caller to clear, or the error that it ended with. */
gboolean dt_session_learnt(DtSession *s, DtLearnt *out, GError **error);

/* Puts what was learnt into the profile at `path`, which `p` was read from, and writes it to `to`;
 * everything else stays as it is laid out, comments too. `date` is noted. Fails as dt_profile_update()
 * does. */
gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error);
