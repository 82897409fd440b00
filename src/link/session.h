/* session: the state of one machine at its port, shared by the files that talk to the board
 * (board.c), move by lines of our own (moves.c), jog (jog.c), learn and draw (run.h). Private to
 * link. */
#pragma once

#include "drawtrue/learn.h"
#include "drawtrue/program.h"
#include "drawtrue/run.h"
#include "link/port.h"
#include "link/traffic.h"

/* Why the present task ended. */
typedef enum {
    TROUBLE_NONE,
    TROUBLE_RESET,     /* the board restarted, its position is lost */
    TROUBLE_UNPLUGGED, /* the port is gone */
    TROUBLE_ABANDONED, /* the board forgot its lines */
    TROUBLE_SILENT,    /* no answer within the profile's timeout */
    TROUBLE_EXCESS,    /* more answers than lines */
    TROUBLE_REFUSED,   /* a line, because of its content */
    TROUBLE_SWITCH,    /* an end switch was hit */
    TROUBLE_JOURNAL,   /* it cannot be written */
    TROUBLE_PROGRAM,   /* it cannot be read any more */
    TROUBLE_STOPPED,   /* by a person */
} Trouble;

enum { PLANNED = 64 }; /* lines that a controller may have answered but not executed yet */

/* Runs on the session's thread. */
typedef void (*DtTask)(DtSession *s, gpointer data);

struct DtSession {
    gatomicrefcount refs;
    const DtProfile *profile;
    int wake; /* eventfd: signals a new request or task */
    GThread *thread;

    GMutex lock;    /* of the following */
    guint requests; /* made but not yet processed: bit 1u << DtRequest */
    DtSnapshot snapshot;
    DtTask task;
    gpointer task_data;
    gboolean busy, quit;
    GPtrArray *listeners;
    guint last_listener;
    char *port_path; /* changed only by the thread once it runs */
    DtRun *run;      /* that draws, or NULL; changed only by the thread */

    /* The rest belongs to the session's thread. */
    DtPort *port;
    DtTraffic *traffic;
    DtProgramState sent;          /* state after the line sent last, including our own lines */
    DtProgramState taken;         /* state after the line answered last */
    gboolean at_home;             /* nothing has moved since homing */
    gboolean reports_no_position; /* the board was asked for its position and cannot report one */
    gboolean homed;               /* the board has reported it since the port was opened */
    double recent_s[PLANNED];     /* predicted times of the lines answered last */
    size_t recent;
    gint64 still_us;      /* predicted time when the board has executed everything it answered */
    gint64 answered_us;   /* when the last answer came */
    gint64 last_event_us; /* when the last event was */

    gboolean greeted; /* since the port was opened */
    gboolean expects_greeting, expects_stop, expects_hold, expects_refusals;
    gboolean lifts_at_last; /* in dt_session_lift_at_last(), after lines were abandoned */
    gboolean heard_state;
    unsigned stays;     /* how many times in a row it was told to continue and did not */
    DtBoardState state; /* the last one */
    unsigned wanted;    /* N word that the board insists on, 0: none */
    GArray *settings;   /* DtBoardSetting, while settings are being read; otherwise NULL */

    Trouble trouble;
    char *trouble_text;    /* what happened, for people */
    char *trouble_journal; /* the same for the journal, which is in English */
    gint64 person_us;      /* time that people took */

    DtLearnt learnt;
    GError *learn_error;
};

/* session.c ---------------------------------------------------------------------------------- */

/* Runs `task` on the session's thread; FALSE if another one is under way. `state` is its initial
 * state. */
gboolean dt_session_begin(DtSession *s, DtState state, DtTask task, gpointer data, GError **error);
/* Changes the state and emits the event that belongs to it; `text` may be NULL. An earlier
 * request to go on becomes void. */
void dt_session_enter(DtSession *s, DtState state, const char *text);
/* Updates the snapshot with what the board has accepted. */
void dt_session_publish(DtSession *s);
/* Emits an event without a change of state. */
void dt_session_tell(DtSession *s, DtEventKind kind, const char *text);
void dt_session_tell_repeated(DtSession *s, size_t line);
/* How a run or a learning ended. */
typedef struct {
    DtState state;
    const GError *error;                                  /* NULL: done */
    const char *cause;                                    /* the error's, may be NULL */
    void (*ended)(const DtSnapshot *last, gpointer data); /* called with the lock held */
    gpointer data;
} DtTaskEnd;

/* Ends a task, with DT_EVENT_ENDED if `end` is given: the session is then ready, or closed, and
 * free for the next one. */
void dt_session_finish(DtSession *s, const DtTaskEnd *end, const char *text);
gboolean dt_session_has_port(DtSession *s);
void dt_session_set_port(DtSession *s, const char *path);
/* Whether one of these requests (bits) was made; clears them. */
gboolean dt_session_wants(DtSession *s, guint requests);
gboolean dt_session_take(DtSession *s, guint requests);
#define WANTS(request) (1u << DT_REQUEST_##request)

/* events.c ----------------------------------------------------------------------------------- */

DtEvent *dt_event_new(DtEventKind kind, const DtSnapshot *at, const char *text, size_t line,
                      const GError *error);
/* Takes ownership of the event and queues it for each listener; `s->lock` is held. */
void dt_session_post(DtSession *s, DtEvent *e);
GPtrArray *dt_session_new_listeners(void);

/* settings.c --------------------------------------------------------------------------------- */

/* Reads the board's settings and reports (DT_EVENT_FOUND) which differ from the profile's. FALSE
 * in trouble, for instance if it refuses. */
gboolean dt_session_compare_settings(DtSession *s);
/* Records a parameter that the board reports; `all` may be NULL. */
void dt_settings_note(GArray *all, const char *text);

/* board.c ------------------------------------------------------------------------------------ */

extern const DtTrafficEvents dt_session_traffic_events;

void dt_session_trouble(DtSession *s, Trouble t, const char *format, ...) G_GNUC_PRINTF(3, 4);
/* One round of writing, waiting (until `until_us` at most) and reading. FALSE in trouble. */
gboolean dt_session_pump(DtSession *s, gint64 until_us);
gboolean dt_session_wait_s(DtSession *s, double seconds);
/* Waits until every line in flight is answered. */
gboolean dt_session_settle(DtSession *s);
/* Sends a line of our own and waits for its answer. An empty one does nothing. `work_s` is the
 * predicted time of its execution. */
gboolean dt_session_command(DtSession *s, const char *text, DtLineKind kind, double work_s);
/* The longest time that homing from anywhere can take, s. */
double dt_session_home_limit_s(const DtProfile *p);
/* Whether the board can report its position. */
gboolean dt_session_can_ask(const DtSession *s);
/* Gets a fresh state of the board; FALSE if it cannot report one. */
gboolean dt_session_ask(DtSession *s, double patience_s);
/* Within a step, by the last state heard. */
gboolean dt_session_stands_at(const DtSession *s, DtPoint to);
/* Waits until the machine stands still. */
gboolean dt_session_stand_still(DtSession *s);
/* Waits until one of these requests (bits) is made, which is not cleared. FALSE in trouble,
 * including a stop. */
gboolean dt_session_wait_for(DtSession *s, guint requests);
/* Opens the port and waits until the board is ready to accept lines. */
gboolean dt_session_connect(DtSession *s, GError **error);
/* Discards what the board still has of a program, and resynchronises the line count. */
gboolean dt_session_quieten(DtSession *s);
void dt_session_close(DtSession *s);

/* positioning.c: by lines of our own ----------------------------------------------------------- */

/* Pen up or down, settled before anything moves. */
gboolean dt_session_move_pen(DtSession *s, gboolean down);
gboolean dt_session_home(DtSession *s);
/* Travel by a line of our own; commanded mm, mm/s (0: as fast as the machine can). */
gboolean dt_session_go_to(DtSession *s, DtPoint to, double speed);
/* The state of the carriage at `t`. */
DtCarriage dt_session_carriage(const DtProfile *p, const DtProgramState *t);
/* Units as the program has them at `t`, and absolute coordinates for lines of our own. */
gboolean dt_session_restate_modes(DtSession *s, const DtProgramState *t);
/* Drives to where `t` says, arriving as its last motion did. A carriage that twists leans as it did, but where
 * it had not gone 0.3 mm since its last reversal; the ink is off by one twist over that length then. */
gboolean dt_session_return_to(DtSession *s, const DtProgramState *t);
/* Lifts the pen by whatever still works, and goes to the park place. FALSE unless the board has
 * reported that the pen is up. */
gboolean dt_session_lift_at_last(DtSession *s, gboolean parks);
