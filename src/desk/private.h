/* private: what the files of the desk share. All of it belongs to the main context's thread, but for
 * what drafting.c hands to its thread. */
#pragma once

#include "drawtrue/desk.h"
#include "drawtrue/link.h"
#include "drawtrue/options.h"
#include "drawtrue/truing.h"
#include "desk/ink-data.h"

#include <json-glib/json-glib.h>
#include <libsoup/soup.h>

/* The log's kind of note that a pen has got a new tip; its text is the pen's name. */
#define DT_DESK_NEW_TIP "new tip"

/* What the pages are told; each page is sent those parts that have changed. */
typedef enum {
    DT_PART_MACHINE = 1 << 0,
    DT_PART_SESSION = 1 << 1,
    DT_PART_DRAWING = 1 << 2,
    DT_PART_RUN = 1 << 3,
    DT_PART_LEARN = 1 << 4,
    DT_PART_LOG = 1 << 5,
    DT_PART_MEASURE = 1 << 6,
    DT_PARTS_ALL = (1 << 7) - 1,
} DtDeskPart;

typedef enum {
    DT_DRAFT_NONE,
    DT_DRAFT_WORKING,
    DT_DRAFT_SEEN,
    DT_DRAFT_READY,
    DT_DRAFT_FAILED
} DtDraftState;

typedef enum {
    DT_DESK_NO_RUN,
    DT_DESK_RUN_READY, /* checked, can be started */
    DT_DESK_RUN_ACTIVE,
    DT_DESK_RUN_ENDED,
} DtDeskRunPhase;

/* The drawing on the bed and what became of it. */
typedef struct {
    char *source; /* our own copy, or the program of a run; NULL: none */
    char *name;   /* for people */
    gboolean is_program;
    gint64 resumes; /* the journal's run whose program this is; 0: none */
    DtOptions *options;
    size_t sheet; /* of several, from 0 */
    size_t skip;  /* strokes skipped at the start */
    gboolean has_left, has_right;
    DtPoint left, right; /* corners of the sheet, commanded mm */
    guint revision;      /* counts what changed; requests to draw carry it */
    DtDraftState state;
    char *problem;     /* why it failed, or cannot be drawn */
    char *report;      /* JSON of the plan or of the inspection */
    char *program;     /* path; NULL until it is written */
    gboolean is_draft; /* `program` is ours and no run has begun with it */
    DtWorkState work;
    size_t sheets;
    DtBox paper; /* bed mm */
    double margin;
    char *paper_name;
    GBytes *ink, *picture;
    guint ink_number, picture_number; /* count them for the page */
    DtBox ink_paper;                  /* where the paper lay for this ink, bed mm */
    DtInkSummary summary;
    DtOwnOrder own;
} DtDeskDrawing;

struct DtDesk {
    char *folder, *work, *journal;
    gboolean pens_ready, is_rig;
    GMainContext *context;

    SoupServer *server;
    GSocketService *service;
    guint16 port;
    char *address;
    char token[65], secret[65]; /* of the address; of the cookie */
    GHashTable *connections;    /* of server.c */
    GPtrArray *pages;           /* open WebSockets */
    guint sweep, flush, dirty;
    double allowance; /* requests that may still be made now */
    gint64 allowance_us;

    DtProfile *profile;
    char *given_port, *port_path;
    DtSession *session;
    guint listener;
    gint64 event_us; /* when its last event came, since 1970 */
    gboolean reopen; /* a session by the profile anew, once the port is closed */
    char *next_profile;
    gboolean next_is_built_in;

    DtDeskDrawing drawing;
    struct DtDraft *draft; /* under way */
    gboolean draft_again;

    DtRun *run;
    DtDeskRunPhase phase;
    GPtrArray *happened; /* DtHappened */
    char *ended_text, *ended_cause;
    gboolean ended_silent; /* the board no longer answered */
    DtState ended_state;
    gint64 alone_us; /* since when nobody watches a run; 0: somebody does */

    gboolean learning;
    GPtrArray *found; /* lines of text */
    char *learn_text;
    guint log_number;
    guint measure_number; /* counts what changed of sheets, readings and corrections */
    gint64 log_changed;   /* when the journal was last seen to change */

    struct DtScanning *scanning; /* under way */
    GPtrArray *scans;            /* of scanning.c; NULL: none is known */
    char *scan_problem;          /* of the last reading of scans */
};

/* desk.c ------------------------------------------------------------------------------------- */

void dt_desk_changed(DtDesk *d, guint parts);
/* Whether a run draws, waits or recovers. */
gboolean dt_desk_is_drawing(const DtDesk *d);

/* pages.c ------------------------------------------------------------------------------------ */

void dt_desk_add_page(DtDesk *d, SoupWebsocketConnection *c);
void dt_desk_flush_pages(DtDesk *d);
/* Once a second: pages that no longer answer are closed. */
void dt_desk_sweep_pages(DtDesk *d);

/* tell.c ------------------------------------------------------------------------------------- */

/* The parts as members of one JSON object with the number `n`; freed by the caller. */
char *dt_desk_tell(DtDesk *d, guint parts, guint n);

/* machine-form.c ------------------------------------------------------------------------------ */

/* Every key of the profile with what the file says; freed by the caller. */
char *dt_desk_keys_json(DtDesk *d);
/* The profile's file, or the built-in one's text, as keys; freed with g_key_file_unref(). */
GKeyFile *dt_desk_read_keys(const DtDesk *d);
/* Whether the profile can be changed now; DT_ERROR_INPUT while the machine is at work. */
gboolean dt_desk_may_change_profile(DtDesk *d, GError **error);
gboolean dt_desk_write_keys(DtDesk *d, JsonObject *in, GError **error);
gboolean dt_desk_new_profile(DtDesk *d, const char *name, GError **error);
/* Paths of the profiles in the folder; NULL-terminated, g_strfreev(). */
char **dt_desk_profiles(DtDesk *d);
gboolean dt_desk_choose_profile(DtDesk *d, const char *path, GError **error);
gboolean dt_desk_choose_port(DtDesk *d, const char *path, GError **error);

/* operate.c ----------------------------------------------------------------------------------- */

void dt_desk_open_session(DtDesk *d);
void dt_desk_close_session(DtDesk *d);
/* Loads the profile anew (`path` NULL: the built-in one), as soon as the port is closed. */
void dt_desk_reload_profile(DtDesk *d, const char *path);
void dt_desk_set_run(DtDesk *d, DtRun *r); /* takes it over */
void dt_desk_drop_run(DtDesk *d);
gboolean dt_desk_start_run(DtDesk *d, guint accepted, GError **error);
gboolean dt_desk_resume(DtDesk *d, const DtResume *from, GError **error);
gboolean dt_desk_learn(DtDesk *d, gboolean may_move, GError **error);
void dt_desk_note_watched(DtDesk *d);
/* Once a second: what other programs have written into the journal. */
void dt_desk_look_at_log(DtDesk *d);

typedef struct {
    DtEventKind kind;
    double done; /* 0 to 1 */
    gint64 at;   /* seconds since 1970 */
    char *text;
} DtHappened;

/* artwork.c ----------------------------------------------------------------------------------- */

/* Takes a file of the page's into the work folder; `name` is only looked at. */
gboolean dt_desk_take_upload(DtDesk *d, const char *name, GBytes *bytes, GError **error);
/* Opens one below the start folder. */
gboolean dt_desk_take_file(DtDesk *d, const char *relative, GError **error);
/* What lies in a folder below it, as JSON; freed by the caller. */
char *dt_desk_files_json(DtDesk *d, const char *relative, GError **error);
/* Deletes what is no longer needed in the work folder. */
void dt_desk_tidy_work(DtDesk *d);
/* Puts a file of ours on the bed: a new drawing, or the program of run `resumes` of the journal. */
void dt_desk_set_source(DtDesk *d, const char *path, const char *name, gint64 resumes);

/* drafting.c ---------------------------------------------------------------------------------- */

/* Plans anew with the options as they are, in place of a plan under way. */
void dt_desk_draft(DtDesk *d);
/* Waits for the thread. */
void dt_desk_stop_draft(DtDesk *d);
gboolean dt_desk_mend(DtDesk *d, GError **error);

/* sheet-on-bed.c -------------------------------------------------------------------------------- */

/* Makes one, enters it in the journal and puts it on the bed; `kind` as dt_sheet_kinds() takes it. */
gboolean dt_desk_make_test_sheet(DtDesk *d, const char *kind, GError **error);

/* measuring.c ---------------------------------------------------------------------------------- */

/* The last sheet of this machine, what it is asked and was answered, and what follows from that, as JSON;
 * freed by the caller. */
char *dt_desk_measure_json(DtDesk *d, GError **error);
/* The strokes around what a question asks of, and what can be chosen among them, as JSON. */
char *dt_desk_comb_json(DtDesk *d, const char *ask, GError **error);
/* Keeps a reading in the journal. */
gboolean dt_desk_keep_reading(DtDesk *d, JsonObject *in, GError **error);
/* Writes the corrections that the page has seen, and takes the last ones back. */
gboolean dt_desk_write_corrections(DtDesk *d, JsonObject *in, GError **error);
gboolean dt_desk_undo_corrections(DtDesk *d, JsonObject *in, GError **error);

/* A scan of the last sheet, which carries the number that the page has seen; and all of them dropped. */
gboolean dt_desk_take_scan(DtDesk *d, const char *name, gint64 sheet, gboolean card, GBytes *bytes,
                           GError **error);
gboolean dt_desk_forget_scans(DtDesk *d, JsonObject *in, GError **error);

/* scanning.c ---------------------------------------------------------------------------------- */

gboolean dt_desk_keep_scan(DtDesk *d, const DtTestSheet *s, const char *name, gboolean card,
                           GBytes *bytes, GError **error);
void dt_desk_drop_scans(DtDesk *d, gint64 sheet);
/* Begins to read them and to solve for the machine's errors, in place of what is under way. */
void dt_desk_solve_scans(DtDesk *d, const DtTestSheet *s, const DtEyeReadings *r);
/* Waits for the thread. */
void dt_desk_stop_scanning(DtDesk *d);
/* "scanning", "scan_problem" and "scans" of a sheet. */
void dt_desk_add_scans(JsonBuilder *b, const DtDesk *d, gint64 sheet);

/* comparing.c --------------------------------------------------------------------------------- */

/* All sheets of this machine with what they showed, oldest first, as JSON; freed by the caller. */
char *dt_desk_sheets_json(DtDesk *d, GError **error);
/* Two sheets that were read, by their numbers: figure by figure with a verdict, and what is likely to need
 * repair; and the same as a PNG. */
char *dt_desk_compare_json(DtDesk *d, gint64 first, gint64 second, GError **error);
GBytes *dt_desk_compare_picture(DtDesk *d, gint64 first, gint64 second, GError **error);

/* actions.c ----------------------------------------------------------------------------------- */

/* Does what a page asks for. FALSE with DT_ERROR_USAGE on a wrong request, DT_ERROR_INPUT where the
 * state does not permit it. */
gboolean dt_desk_act(DtDesk *d, const char *action, JsonObject *in, GError **error);

/* server.c ------------------------------------------------------------------------------------ */

gboolean dt_desk_serve(DtDesk *d, guint16 port, GError **error);
void dt_desk_stop_serving(DtDesk *d);
