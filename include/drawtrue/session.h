/* session: one machine at one serial port. Jogging, learning and runs take turns on it. All of them
 * work on a thread of the session's own: no call here waits for the machine. Events report what
 * happens, snapshots the state at the moment, and requests may come from any thread. */
#pragma once

#include "drawtrue/machine.h"

typedef struct DtSession DtSession;

/* Of the machine, or of the run that has it. */
typedef enum {
    DT_STATE_CLOSED,  /* the port is not open */
    DT_STATE_OPENING, /* waiting for the board to greet or to answer */
    DT_STATE_READY,   /* open, stands still, nothing under way */
    DT_STATE_HOMING,
    DT_STATE_JOGGING,
    DT_STATE_LEARNING,
    DT_STATE_DRAWING,
    DT_STATE_PEN_CHANGE, /* waits for a person to put a pen in */
    DT_STATE_PAUSED,     /* pen up, at a lift */
    DT_STATE_HELD,       /* pen up, in the middle of a line */
    DT_STATE_PARKED,     /* pen up, at the park place */
    DT_STATE_UNPLUGGED,  /* waits for the port to come back */
    DT_STATE_RECOVERING, /* brings the board back after a mishap */
    DT_STATE_ENDING,     /* lifts the pen, parks and lets the motors go */
    DT_STATE_DONE,       /* of a run: drawn */
    DT_STATE_STOPPED,    /* of a run: ended by a person */
    DT_STATE_FAILED,     /* of a run: ended by a problem */
} DtState;

typedef enum {
    DT_WAITS_FOR_NOTHING,
    DT_WAITS_FOR_BOARD,
    DT_WAITS_FOR_PORT,
    DT_WAITS_FOR_PERSON
} DtWaits;

typedef enum {
    DT_REQUEST_GO_ON,         /* after a pen change or a pause; withdraws a pause that is to come */
    DT_REQUEST_PAUSE_AT_LIFT, /* when the stroke at hand is drawn */
    DT_REQUEST_PAUSE_NOW,     /* at once, the pen lifted; at the lift where the board cannot hold */
    DT_REQUEST_PAUSE_AT_CHANGE, /* at the next pen change, even where nobody is waited for there */
    DT_REQUEST_PARK, /* paused: to the park place, so that the sheet can be seen; else at the next
                      * lift. Going on returns to the same point, the slack of each axis taken up
                      * from the same side */
    DT_REQUEST_STOP, /* at once: decelerate, pen up, end what is under way */
    DT_N_REQUESTS
} DtRequest;

typedef struct {
    DtState state;
    guint serial; /* counts the changes of `state`, from 1; a request may carry it */
    DtWaits waits;
    guint may; /* requests that may be made now: bit 1u << DtRequest */
    gboolean homed;
    gboolean position_known; /* `at` and `tip` hold; they are ahead of the machine by what its board
                              * has taken and not executed yet */
    DtPoint at;              /* the carriage, slack taken into account, commanded mm */
    DtPoint tip;             /* of the pen in the holder, bed mm */
    gboolean pen_down;       /* as commanded; up while the board holds in the middle of a line */
    int pen;                 /* in the holder, or to be put in: index in the rack; -1: unknown */
    char pen_name[64];       /* as the program names it; "" where it does not */

    /* Of a run; 0 without one. */
    double done;              /* 0 to 1, by predicted time */
    double left_s;            /* predicted, by what this machine's runs really took */
    double ink_mm, travel_mm; /* so far */
    size_t line;              /* program line acknowledged last, 1-based */
    size_t stroke, strokes;   /* drawn, and in the whole program */
    gboolean silent;          /* it ended while the board no longer answered: the pen may be down */
} DtSnapshot;

typedef enum {
    DT_EVENT_STATE,   /* any change of state that none of the following tells */
    DT_EVENT_WAITING, /* for the board, the port; `text` is the cause, where there is one */
    DT_EVENT_PROGRESS,
    DT_EVENT_PEN_CHANGE, /* waits for a person only in DT_STATE_PEN_CHANGE */
    DT_EVENT_REPEATED,   /* lines were sent again from program line `line` on */
    DT_EVENT_REFUSED,    /* the controller refused a line; `text` names it */
    DT_EVENT_PAUSED,
    DT_EVENT_RECOVERED, /* homed again after `text`; drawing goes on */
    DT_EVENT_FOUND,     /* something learnt of the controller, in `text` */
    DT_EVENT_ENDED,     /* the run, the learning; `error` is NULL where it is done */
} DtEventKind;

/* One thing that happened: a value of its own, never changed, shared by counting references. */
typedef struct {
    DtEventKind kind;
    DtSnapshot at; /* right after it */
    size_t line;   /* of DT_EVENT_REPEATED */
    char *
        text; /* NULL where there is none; of DT_EVENT_ENDED the cause alone, without what follows */
    GError *error;
} DtEvent;

DtEvent *dt_event_ref(const DtEvent *e);
void dt_event_unref(DtEvent *e);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtEvent, dt_event_unref)

typedef void (*DtEventFunc)(const DtEvent *e, void *user);

/* Opens nothing yet. `p` must outlive the session. `port` may be NULL for a resume, which takes the
 * port that its run had. Ends with the last reference: what is under way is stopped, the pen lifted
 * and the port closed, which takes as long as the board does. */
DtSession *dt_session_new(const DtProfile *p, const char *port);
DtSession *dt_session_ref(DtSession *s);
void dt_session_unref(DtSession *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtSession, dt_session_unref)

/* Calls `func` for each event from now on, in order, in the main context that is the default of the
 * calling thread. A listener that is slow gets the latest progress and everything else. Returns its
 * number for dt_session_unlisten(), after which (called in that context) it hears nothing more. */
guint dt_session_listen(DtSession *s, DtEventFunc func, void *user);
void dt_session_unlisten(DtSession *s, guint listener);

void dt_session_snapshot(DtSession *s, DtSnapshot *out);

/* Asks for something. Refused (FALSE) where the state does not permit it now. `serial` is that of
 * the snapshot or event that the request answers, 0 for any: what moves the machine (going on,
 * parking) is refused when the state has changed since; what makes it stand never is. */
gboolean dt_session_request(DtSession *s, DtRequest request, guint serial);

/* Jogging ----------------------------------------------------------------------------------- */

typedef enum {
    DT_JOG_HOME, /* opens the port where it is closed, lifts the pen, homes */
    DT_JOG_BY,   /* by `x` and `y`; kept within the travel */
    DT_JOG_TO,   /* to `x` and `y`, commanded mm */
    DT_JOG_PARK,
    DT_JOG_PEN_UP,
    DT_JOG_PEN_DOWN,
    DT_JOG_END, /* pen up, motors off, port closed */
} DtJogKind;

typedef struct {
    DtJogKind kind;
    double x, y;  /* mm */
    double speed; /* mm/s along the way; 0: as fast as the machine goes */
} DtJog;

/* Begins one motion; DT_STATE_READY tells its end (DT_STATE_CLOSED that of DT_JOG_END, or with a
 * text a failure). Nothing is queued: fails with DT_ERROR_INPUT while another one is under way, and
 * before the machine is homed. */
gboolean dt_session_jog(DtSession *s, const DtJog *jog, GError **error);

/* Ports ------------------------------------------------------------------------------------- */

typedef struct {
    char *path; /* to open it by */
    char *text; /* what stands behind it, for people; "" where nobody knows */
} DtLinkPort;

/* The serial ports of this computer, freed with dt_link_ports_free(). */
DtLinkPort *dt_link_ports(size_t *n);
void dt_link_ports_free(DtLinkPort *ports, size_t n);
