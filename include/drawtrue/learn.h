/* learn: asks a controller which words and forms it takes, and puts that into its profile. */
#pragma once

#include "drawtrue/machine.h"

/* A port to a controller, opened by the caller. */
typedef struct {
    gboolean (*write)(void *user, const char *bytes, gsize n, GError **error);
    /* Bytes that come within `wait_s`; 0 where none do, -1 where the port fails. */
    gssize (*read)(void *user, char *to, gsize room, double wait_s, GError **error);
    void *user;
} DtWire;

typedef struct {
    DtWire wire;
    double boot_s;     /* how long the board may take to greet after the port was opened */
    gboolean may_move; /* the user agrees: home, the pen once, and arcs within 10 mm of home */
    void (*tell)(const char *text, void *user); /* what was found, as it is found; may be NULL */
    void *user;
} DtLearnOptions;

/* What was found out. */
typedef struct {
    char *greeting, *accept, *refuse; /* how lines begin, up to their first number */
    char *words;                      /* as DtDialect.words */
    int window;                       /* 0: not found */
    int longest_line;                 /* 0: not found */
    gboolean line_check;
    gboolean asks, holds;             /* ENQ tells its state; DC3 and DC1 act at once */
    double latency_s;                 /* from a line to its reply */
} DtLearnt;

/* Asks the controller which words and forms it takes. The caller sees to it that the pen is up and
 * the axes still. Without `may_move` only lines are sent that move nothing, and words that cannot be
 * tried so stay as the profile has them. Fails with DT_ERROR_INPUT where it answers nothing that can
 * be understood, or with the error of the wire. Clear `out` after success. */
gboolean dt_link_learn(const DtProfile *p, const DtLearnOptions *o, DtLearnt *out, GError **error);
void dt_learnt_clear(DtLearnt *l);

/* Puts what was learnt into the profile at `path`, which `p` was read from, and writes it to `to`;
 * everything else stays as it is laid out, comments too. `date` is noted. Fails as dt_profile_update()
 * does. */
gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error);
