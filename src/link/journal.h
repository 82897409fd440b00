/* journal: records what was drawn, so that neither a killed process nor a power failure loses a
 * stroke whose end the board has acknowledged. SQLite in WAL mode with synchronous=FULL: a
 * commit is on the disk when it returns (sqlite.org/pragma.html#pragma_synchronous,
 * sqlite.org/wal.html). Private to link. */
#pragma once

#include "drawtrue/log.h"

typedef struct DtJournal DtJournal;

/* Opens or creates the journal; NULL: the default place in the user's state folder. Refuses one
 * that a newer version wrote. */
DtJournal *dt_journal_open(const char *path, GError **error);
/* The same, but makes none: NULL without an error and `missing` TRUE where there is none. */
DtJournal *dt_journal_open_existing(const char *path, gboolean *missing, GError **error);
void dt_journal_close(DtJournal *j);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtJournal, dt_journal_close)

typedef struct {
    gint64 id;
    double started, ended; /* seconds since 1970; ended 0: not ended */
    char *machine, *profile, *program, *sha256, *port, *status, *note;
    size_t strokes, drawn, line;
    double estimate_s;  /* by the motion model alone, without homing */
    double predicted_s; /* predicted at the start: the same scaled by this machine's past runs,
                         * plus homing */
    double time_s, total_ink_mm, ink_mm, travel_mm;
    gint64 pid; /* of the process that is drawing or drew it */
} DtJournalRun;

void dt_journal_run_clear(DtJournalRun *r);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtJournalRun, dt_journal_run_clear)

/* Enters a new run; returns its id, or 0 with *error. Status "running". */
gint64 dt_journal_begin(DtJournal *j, const DtJournalRun *run, GError **error);
/* Records that an old run continues, and removes its strokes from `drawn` on. */
gboolean dt_journal_reopen(DtJournal *j, gint64 id, const char *port, size_t drawn, GError **error);
/* Records that the run's board is at another port now. */
gboolean dt_journal_port(DtJournal *j, gint64 id, const char *port, GError **error);
/* Reads a run that can be resumed; id 0: the last one that is not finished and that no other
 * process is drawing. */
gboolean dt_journal_read(DtJournal *j, gint64 id, DtJournalRun *out, GError **error);

typedef struct {
    size_t stroke; /* 1-based: this one is completely drawn */
    size_t line;   /* program line acknowledged */
    const char *pen;
    double ink_mm, travel_mm; /* for this stroke and the travel to it */
    double time_s;            /* of the run so far */
} DtJournalStroke;

/* On disk when it returns. */
gboolean dt_journal_stroke(DtJournal *j, gint64 id, const DtJournalStroke *s, GError **error);
gboolean dt_journal_event(DtJournal *j, gint64 id, const char *kind, const char *text,
                          GError **error);
/* Status "done", "stopped" or "broken off". */
gboolean dt_journal_end(DtJournal *j, gint64 id, const char *status, const char *note,
                        double time_s, GError **error);

/* Strokes to go back from `drawn` to cover at least `mm` of ink. */
size_t dt_journal_strokes_in(DtJournal *j, gint64 id, size_t drawn, double mm);

/* Ratio of real to estimated time over this machine's past runs, without homing; 1 if there are
 * none. */
double dt_journal_pace(DtJournal *j, const char *machine);
/* Homing time in this machine's past runs, s, negative if there are none. */
double dt_journal_home_s(DtJournal *j, const char *machine);

/* Everything, for the log. */
gboolean dt_journal_read_all(DtJournal *j, DtLog *out, GError **error);
gboolean dt_journal_note(DtJournal *j, const char *machine, const char *kind, const char *text,
                         GError **error);
/* The default path; freed by the caller. */
char *dt_journal_default_path(GError **error);

/* Time spent in the journal since it was opened, s. */
double dt_journal_spent_s(const DtJournal *j);
