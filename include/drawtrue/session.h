/* session: one machine at one serial port. Jogging, learning and runs take turns on it. All of
 * them work on a thread of the session's own, so no call here waits for the machine. Events
 * report what happens, snapshots show the current state, and requests may come from any thread. */
#pragma once

#include "drawtrue/machine.h"

typedef struct DtSession DtSession;

/* Of the machine, or of the run that uses it. */
typedef enum {
    DT_STATE_CLOSED,  /* the port is not open */
    DT_STATE_OPENING, /* waiting for the board's greeting or answer */
    DT_STATE_READY,   /* open, standing still, nothing under way */
    DT_STATE_HOMING,
    DT_STATE_JOGGING,
    DT_STATE_LEARNING,
    DT_STATE_DRAWING,
    DT_STATE_PEN_CHANGE, /* waiting for a person to insert a pen */
    DT_STATE_PAUSED,     /* pen up, between strokes */
    DT_STATE_HELD,       /* pen up, in the middle of a stroke */
    DT_STATE_PARKED,     /* pen up, at the park place */
    DT_STATE_UNPLUGGED,  /* waiting for the port to return */
    DT_STATE_RECOVERING, /* bringing the board back after a fault */
    DT_STATE_ENDING,     /* lifting the pen, parking and switching the motors off */
    DT_STATE_DONE,       /* of a run: finished */
    DT_STATE_STOPPED,    /* of a run: ended by a person */
    DT_STATE_FAILED,     /* of a run: ended by a fault */
} DtState;

typedef enum {
    DT_WAITS_FOR_NOTHING,
    DT_WAITS_FOR_BOARD,
    DT_WAITS_FOR_PORT,
    DT_WAITS_FOR_PERSON
} DtWaits;

typedef enum {
    DT_REQUEST_GO_ON,           /* after a pen change or a pause; cancels a pause that was
                               * requested */
    DT_REQUEST_PAUSE_AT_LIFT,   /* after the current stroke */
    DT_REQUEST_PAUSE_NOW,       /* at once, with the pen lifted; at the next lift if the board
                               * cannot hold */
    DT_REQUEST_PAUSE_AT_CHANGE, /* at the next pen change, even if nobody is waited for there */
    DT_REQUEST_PARK, /* paused: move to the park place, so that the sheet can be seen; otherwise
                      * at the next lift. On continuing, the pen returns to the same point, with
                      * the slack of each axis taken up from the same side */
    DT_REQUEST_STOP, /* at once: decelerate, lift the pen, end what is under way */
    DT_N_REQUESTS
} DtRequest;

typedef struct {
    DtState state;
    guint serial; /* number of changes of `state`, from 1; a request may refer to it */
    DtWaits waits;
    guint may; /* requests possible now: bit 1u << DtRequest */
    gboolean homed;
    gboolean position_known; /* `at` and `tip` are valid; they are ahead of the machine by what
                              * its board has accepted and not yet executed */
    DtPoint at;              /* the carriage, after slack, commanded mm */
    DtPoint tip;             /* of the pen in the holder, bed mm */
    gboolean pen_down;       /* as commanded; up while the board holds in the middle of a stroke */
    int pen;                 /* in the holder, or to be inserted: index in the rack; -1: unknown */
    char pen_name[64];       /* as the program names it; "" if it does not */

    /* Of a run; 0 without one. */
    double done;              /* 0 to 1, by predicted time */
    double left_s;            /* predicted, scaled by this machine's past runs */
    double ink_mm, travel_mm; /* up to now */
    size_t line;              /* program line acknowledged last, 1-based */
    size_t stroke, strokes;   /* drawn so far, and in the whole program */
    gboolean silent;          /* it ended while the board did not answer: the pen may be down */
} DtSnapshot;

typedef enum {
    DT_EVENT_STATE,   /* any change of state without an event of its own below */
    DT_EVENT_WAITING, /* waiting for the board or the port; `text` is the cause, if there is one */
    DT_EVENT_PROGRESS,
    DT_EVENT_PEN_CHANGE, /* waits for a person only in DT_STATE_PEN_CHANGE */
    DT_EVENT_REPEATED,   /* lines from program line `line` on were sent again */
    DT_EVENT_REFUSED,    /* the controller refused a line; `text` names it */
    DT_EVENT_PAUSED,
    DT_EVENT_RECOVERED, /* homed again after `text`; drawing continues */
    DT_EVENT_FOUND,     /* a property of the controller was learnt, see `text` */
    DT_EVENT_ENDED,     /* the run or the learning ended; `error` is NULL on success */
} DtEventKind;

/* Something that happened: an immutable, reference-counted value. */
typedef struct {
    DtEventKind kind;
    DtSnapshot at; /* state right after it */
    size_t line;   /* of DT_EVENT_REPEATED */
    char *text;    /* NULL if there is none; for DT_EVENT_ENDED the cause alone, without advice */
    GError *error;
} DtEvent;

DtEvent *dt_event_ref(const DtEvent *e);
void dt_event_unref(DtEvent *e);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtEvent, dt_event_unref)

typedef void (*DtEventFunc)(const DtEvent *e, void *user);

/* Opens nothing yet. `p` must outlive the session. `port` may be NULL for a resume, which uses
 * the port of its run. Releasing the last reference stops what is under way, lifts the pen and
 * closes the port, which takes as long as the board does. */
DtSession *dt_session_new(const DtProfile *p, const char *port);
DtSession *dt_session_ref(DtSession *s);
void dt_session_unref(DtSession *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtSession, dt_session_unref)

/* Calls `func` for each event from now on, in order, in the thread-default main context of the
 * caller. A slow listener gets only the latest progress, and all other events. Returns a number
 * for dt_session_unlisten(), after which (called in that context) it receives no more. */
guint dt_session_listen(DtSession *s, DtEventFunc func, void *user);
void dt_session_unlisten(DtSession *s, guint listener);

void dt_session_snapshot(DtSession *s, DtSnapshot *out);

/* Makes a request. Refused (FALSE) if the state does not permit it now. `serial` is that of the
 * snapshot or event that the request answers, 0 for any: a request that moves the machine (going
 * on, parking) is refused if the state has changed since then; one that stops it never is. */
gboolean dt_session_request(DtSession *s, DtRequest request, guint serial);

/* Jogging ----------------------------------------------------------------------------------- */

typedef enum {
    DT_JOG_HOME, /* opens the port if it is closed, lifts the pen, homes */
    DT_JOG_BY,   /* by `x` and `y`; limited to the travel */
    DT_JOG_TO,   /* to `x` and `y`, commanded mm */
    DT_JOG_PARK, /* with the pen up */
    DT_JOG_PEN_UP,
    DT_JOG_PEN_DOWN,
    DT_JOG_END, /* pen up, motors off, port closed */
} DtJogKind;

typedef struct {
    DtJogKind kind;
    double x, y;  /* mm */
    double speed; /* mm/s along the path; 0: as fast as the machine can */
} DtJog;

/* Starts one motion; DT_STATE_READY reports its end (for DT_JOG_END, DT_STATE_CLOSED, which with
 * a text means failure). Nothing is queued: fails with DT_ERROR_INPUT while another motion is
 * under way, and before the machine is homed. */
gboolean dt_session_jog(DtSession *s, const DtJog *jog, GError **error);

/* Ports ------------------------------------------------------------------------------------- */

typedef struct {
    char *path; /* path to open it by */
    char *text; /* description of the device for people; "" if unknown */
} DtLinkPort;

/* The serial ports of this computer, freed with dt_link_ports_free(). */
DtLinkPort *dt_link_ports(size_t *n);
void dt_link_ports_free(DtLinkPort *ports, size_t n);
