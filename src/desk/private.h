/* private: shared by the files of the desk. All of it belongs to the thread of the main context,
 * except what drafting.c passes to its own thread. */
#pragma once

#include "drawtrue/desk.h"
#include "drawtrue/link.h"
#include "drawtrue/options.h"
#include "drawtrue/truing.h"
#include "desk/ink-data.h"

#include <json-glib/json-glib.h>
#include <libsoup/soup.h>

/* The kind of log note for a pen that has got a new tip; its text is the pen's name. */
#define DT_DESK_NEW_TIP "new tip"

/* What pages are sent; each page gets the parts that have changed. */
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
    DT_DRAFT_SEEN, /* its ink is known; a resumed run, which has its program, goes no further */
    DT_DRAFT_READY,
    DT_DRAFT_FAILED
} DtDraftState;

typedef enum {
    DT_DESK_NO_RUN,
    DT_DESK_RUN_READY, /* checked, ready to start */
    DT_DESK_RUN_ACTIVE,
    DT_DESK_RUN_ENDED,
} DtDeskRunPhase;

/* The drawing on the bed and its plan. */
typedef struct {
    char *source; /* our own copy, or the program of a run; NULL: none */
    char *name;   /* for people */
    gboolean is_program;
    gint64 resumes; /* the run of the journal whose program this is; 0: none */
    DtOptions *options;
    size_t sheet; /* of several, from 0 */
    size_t skip;  /* strokes skipped at the start */
    gboolean has_left, has_right;
    DtPoint left, right; /* corners of the sheet, commanded mm */
    guint revision;      /* number of changes; requests to draw carry it */
    DtDraftState state;
    char *problem;     /* why it failed or cannot be drawn */
    char *report;      /* JSON of the plan or of the inspection */
    char *program;     /* path; NULL until it is written */
    gboolean is_draft; /* `program` is ours and no run has started with it */
    DtWorkState work;
    size_t sheets;
    DtBox paper; /* bed mm */
    double margin;
    char *paper_name;
    GBytes *ink, *picture;
    guint ink_number, picture_number; /* number of changes, for the page */
    DtBox ink_paper;                  /* where the paper was for this ink, bed mm */
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
    double allowance; /* requests that can still be made now */
    gint64 allowance_us;

    DtProfile *profile;
    char *given_port, *port_path;
    DtSession *session;
    guint listener;
    gint64 event_us; /* time of its last event, since 1970 */
    gboolean reopen; /* start a new session with the profile once the port is closed */
    char *next_profile;
    gboolean next_is_built_in;

    DtDeskDrawing drawing;
    struct DtDraft *draft; /* under way */
    gboolean draft_again;

    DtRun *run;
    DtDeskRunPhase phase;
    GPtrArray *happened; /* DtHappened */
    char *ended_text, *ended_cause;
    gboolean ended_silent; /* the board did not answer any more */
    DtState ended_state;
    gint64 alone_us; /* time since which nobody watches a run; 0: somebody does */

    gboolean learning;
    GPtrArray *found; /* lines of text */
    char *learn_text;
    guint log_number;
    guint measure_number; /* number of changes of sheets, readings and corrections */
    gint64 log_changed;   /* time of the last change of the journal */

    struct DtScanning *scanning; /* under way */
    GPtrArray *scans;            /* of scanning.c; NULL: none is known */
    char *scan_problem;          /* of the last reading of scans */
};

/* desk.c ------------------------------------------------------------------------------------- */

void dt_desk_changed(DtDesk *d, guint parts);
/* Whether a run is drawing, waiting or recovering. */
gboolean dt_desk_is_drawing(const DtDesk *d);

/* pages.c ------------------------------------------------------------------------------------ */

void dt_desk_add_page(DtDesk *d, SoupWebsocketConnection *c);
void dt_desk_flush_pages(DtDesk *d);
/* Once a second: closes pages that no longer answer. */
void dt_desk_sweep_pages(DtDesk *d);

/* tell.c ------------------------------------------------------------------------------------- */

/* The parts as members of one JSON object with number `n`; freed by the caller. */
char *dt_desk_tell(DtDesk *d, guint parts, guint n);

/* machine-form.c ------------------------------------------------------------------------------ */

/* Every key of the profile with its value in the file; freed by the caller. */
char *dt_desk_keys_json(DtDesk *d);
/* The profile's file, or the built-in one's text, as keys; freed with g_key_file_unref(). */
GKeyFile *dt_desk_read_keys(const DtDesk *d);
/* Whether the profile can be changed now; DT_ERROR_INPUT while the machine is working. */
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
/* Reloads the profile (`path` NULL: the built-in one) as soon as the port is closed. */
void dt_desk_reload_profile(DtDesk *d, const char *path);
void dt_desk_set_run(DtDesk *d, DtRun *r); /* takes ownership */
void dt_desk_drop_run(DtDesk *d);
gboolean dt_desk_start_run(DtDesk *d, guint accepted, GError **error);
gboolean dt_desk_resume(DtDesk *d, const DtResume *from, GError **error);
gboolean dt_desk_learn(DtDesk *d, gboolean may_move, GError **error);
void dt_desk_note_watched(DtDesk *d);
/* Once a second: looks for what other programs have written into the journal. */
void dt_desk_look_at_log(DtDesk *d);

typedef struct {
    DtEventKind kind;
    double done; /* 0 to 1 */
    gint64 at;   /* seconds since 1970 */
    char *text;
} DtHappened;

/* artwork.c ----------------------------------------------------------------------------------- */

/* Stores a file uploaded by the page in the work folder; of `name` only the ending is used. */
gboolean dt_desk_take_upload(DtDesk *d, const char *name, GBytes *bytes, GError **error);
/* The one of these endings that a name has, in letters of either case; NULL if it has none. */
const char *dt_desk_ending_of(const char *name, const char *const *endings, gsize n);
/* Opens a file below the start folder. */
gboolean dt_desk_take_file(DtDesk *d, const char *relative, GError **error);
/* The contents of a folder below it, as JSON; freed by the caller. */
char *dt_desk_files_json(DtDesk *d, const char *relative, GError **error);
/* Deletes what is no longer needed in the work folder. */
void dt_desk_tidy_work(DtDesk *d);
/* Puts a file of ours on the bed: a new drawing, or the program of run `resumes` of the journal. */
void dt_desk_set_source(DtDesk *d, const char *path, const char *name, gint64 resumes);

/* drafting.c ---------------------------------------------------------------------------------- */

/* Plans again with the present options, replacing a plan in progress. */
void dt_desk_draft(DtDesk *d);
/* Waits for the thread. */
void dt_desk_stop_draft(DtDesk *d);
gboolean dt_desk_mend(DtDesk *d, GError **error);

/* sheet-on-bed.c -------------------------------------------------------------------------------- */

/* Makes a test sheet, enters it in the journal and puts it on the bed; `kind` as for
 * dt_sheet_kinds(). */
gboolean dt_desk_make_test_sheet(DtDesk *d, const char *kind, GError **error);

/* measuring.c ---------------------------------------------------------------------------------- */

/* The last sheet of this machine, its questions and answers, and what follows from them, as
 * JSON; freed by the caller. */
char *dt_desk_measure_json(DtDesk *d, GError **error);
/* The strokes around what a question is about, and the possible choices among them, as JSON. */
char *dt_desk_comb_json(DtDesk *d, const char *ask, GError **error);
/* Stores a reading in the journal. */
gboolean dt_desk_keep_reading(DtDesk *d, JsonObject *in, GError **error);
/* Writes the corrections that the page has seen, and undoes the last ones. */
gboolean dt_desk_write_corrections(DtDesk *d, JsonObject *in, GError **error);
gboolean dt_desk_undo_corrections(DtDesk *d, JsonObject *in, GError **error);

/* Adds a scan of the last sheet, whose number must be the one the page has seen; drops all of
 * them. */
gboolean dt_desk_take_scan(DtDesk *d, const char *name, gint64 sheet, gboolean card, GBytes *bytes,
                           GError **error);
gboolean dt_desk_forget_scans(DtDesk *d, JsonObject *in, GError **error);

/* scanning.c ---------------------------------------------------------------------------------- */

gboolean dt_desk_keep_scan(DtDesk *d, const DtTestSheet *s, const char *name, gboolean card,
                           GBytes *bytes, GError **error);
void dt_desk_drop_scans(DtDesk *d, gint64 sheet);
/* Starts to read them and to solve for the machine's errors, replacing what is in progress. */
void dt_desk_solve_scans(DtDesk *d, const DtTestSheet *s, const DtEyeReadings *r);
/* Waits for the thread. */
void dt_desk_stop_scanning(DtDesk *d);
/* "scanning", "scan_problem" and "scans" of a sheet. */
void dt_desk_add_scans(JsonBuilder *b, const DtDesk *d, gint64 sheet);

/* comparing.c --------------------------------------------------------------------------------- */

/* All sheets of this machine with their results, oldest first, as JSON; freed by the caller. */
char *dt_desk_sheets_json(DtDesk *d, GError **error);
/* Two sheets that were read, by number: figure by figure with a verdict, and what probably needs
 * repair; and the same as a PNG. */
char *dt_desk_compare_json(DtDesk *d, gint64 first, gint64 second, GError **error);
GBytes *dt_desk_compare_picture(DtDesk *d, gint64 first, gint64 second, GError **error);

/* actions.c ----------------------------------------------------------------------------------- */

/* Carries out a request of a page. FALSE with DT_ERROR_USAGE if it is invalid, DT_ERROR_INPUT if
 * the state does not permit it. */
gboolean dt_desk_act(DtDesk *d, const char *action, JsonObject *in, GError **error);

/* server.c ------------------------------------------------------------------------------------ */

gboolean dt_desk_serve(DtDesk *d, guint16 port, GError **error);
void dt_desk_stop_serving(DtDesk *d);
