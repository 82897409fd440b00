/* runner: one run's state, shared by the files that draw (run.c), talk to the board (talk.c) and
 * bring it back after a mishap (recover.c). Private to link. */
#pragma once

#include "drawtrue/program.h"
#include "link/journal.h"
#include "link/port.h"
#include "link/traffic.h"

/* What a person asked for; bits. */
enum {
    WISH_GO_ON = 1,
    WISH_PAUSE_AT_LIFT = 2,
    WISH_STOP = 4,
    WISH_PAUSE_NOW = 8,
    WISH_PAUSE_AT_CHANGE = 16,
    WISH_PARK = 32,
};

/* Why drawing was interrupted. */
typedef enum {
    TROUBLE_NONE,
    TROUBLE_RESET,     /* the board started anew, its position is lost */
    TROUBLE_UNPLUGGED, /* the port is gone */
    TROUBLE_ABANDONED, /* the board forgot its lines */
    TROUBLE_SILENT,    /* no answer within the profile's timeout */
    TROUBLE_REFUSED,   /* a line, for what it says */
    TROUBLE_SWITCH,    /* an end switch was hit while drawing */
    TROUBLE_JOURNAL,   /* it cannot be written */
    TROUBLE_PROGRAM,   /* it cannot be read any more */
    TROUBLE_STOPPED,   /* by a person */
} Trouble;

enum { PLANNED = 64 }; /* lines that a controller may have answered but not executed yet */

struct DtRunner {
    const DtProfile *profile;
    DtRunOptions options;
    char *program_path, *port_path;
    DtProgram *program;
    DtProgramTotals totals;
    DtJournal *journal;
    gint64 id;
    double pace; /* real time over estimated time on this machine */

    DtPort *port;
    DtTraffic *traffic;
    int wake;   /* eventfd: a wish was made */
    int wishes; /* atomic */

    DtProgramLine line; /* read ahead, not sent yet, where has_line */
    gboolean has_line, at_end;
    DtProgramState before; /* before that line */
    DtProgramState told;   /* with the line sent last, our own ones included */
    DtProgramState acked;  /* with the program line answered last */
    size_t acked_line;
    size_t drawn;           /* strokes in the journal */
    gboolean at_home;       /* nothing has moved since homing */
    size_t proved;          /* strokes whose end was compared with the board's own position */
    gboolean tells_nothing; /* the board was asked for its position and has none to tell */
    gboolean resumed;       /* the run was begun by an earlier process */
    gboolean homed;         /* the board has told so since the port was opened */
    DtProgramState drawn_state;    /* at the end of the stroke drawn last */
    gboolean needs_motion, needs_feed; /* the next motion must say its modes itself */
    double recent_s[PLANNED];          /* of the lines answered last */
    size_t recent;

    gboolean greeted; /* since the port was opened */
    gboolean expects_greeting, expects_stop, expects_hold, expects_refusals;
    gboolean heard_state;
    DtBoardState state; /* the last one */
    unsigned wanted;    /* N word that the board insists on, 0: none */

    double jogged[2]; /* where jogging has brought the carriage, commanded mm */

    Trouble trouble;
    char *trouble_text; /* what happened, for people */
    GError *failure;    /* of the journal or the program file */
    gint64 start_us, told_us;
    gint64 answered_us; /* when the last answer came */
    double home_s;      /* what homing is thought to take */
    double earlier_s;   /* of the run's earlier parts */
    size_t recoveries;  /* since a stroke was drawn */
};

/* talk.c ------------------------------------------------------------------------------------ */

extern const DtTrafficEvents dt_runner_traffic_events;

void dt_runner_trouble(DtRunner *r, Trouble t, const char *format, ...) G_GNUC_PRINTF(3, 4);
void dt_runner_tell(DtRunner *r, DtRunEventKind kind, const char *text);
/* Clears a wish and says whether it had been made. */
gboolean dt_runner_take_wish(DtRunner *r, int wish);

/* One round of writing, waiting (until `until_us` at the longest) and reading. FALSE in trouble. */
gboolean dt_runner_pump(DtRunner *r, gint64 until_us);
/* Until every line in flight is answered. */
gboolean dt_runner_settle(DtRunner *r);
/* Sends a line of our own and waits for its answer. An empty one does nothing. */
gboolean dt_runner_command(DtRunner *r, const char *text, DtLineKind kind);
/* What homing from anywhere may take at most, s. */
double dt_runner_home_s(const DtRunner *r);
/* Sends the program's stop (M0) and waits until the board stands at it; then lets it go on. */
gboolean dt_runner_send_stop(DtRunner *r);
gboolean dt_runner_end_stop(DtRunner *r);
/* Whether strokes' ends are proved by the board's position: it checks no lines, but can be asked.
 */
gboolean dt_runner_proves_strokes(const DtRunner *r);
gboolean dt_runner_stands_at(const DtRunner *r, DtPoint to);
/* Enters that the strokes up to `t` are drawn. */
void dt_runner_journal_stroke(DtRunner *r, const DtProgramState *t);
/* A fresh state of the board; FALSE where it has none to give. */
gboolean dt_runner_ask(DtRunner *r, double patience_s);
/* Until the machine stands still. */
gboolean dt_runner_stand_still(DtRunner *r);
/* Waits until one of these wishes is made, which stays made. FALSE in trouble, a stop included. */
gboolean dt_runner_wait_for(DtRunner *r, int wishes);

/* Opens the port and waits until the board is ready to take lines. */
gboolean dt_runner_connect(DtRunner *r, GError **error);
/* Pen up by whatever still works, and to the parking place. FALSE where the board has not said that
 * the pen is up. */
gboolean dt_runner_lift_at_last(DtRunner *r, gboolean parks);

/* pause.c ------------------------------------------------------------------------------------ */

/* At a lift, with all answered. */
void dt_runner_change_pen(DtRunner *r);
void dt_runner_pause(DtRunner *r);
/* In mid-line. */
void dt_runner_hold(DtRunner *r);

/* recover.c ---------------------------------------------------------------------------------- */

/* Homes, proves the origin and places the axes as they were right behind stroke `drawn`, slack
 * included; the program stands there. */
gboolean dt_runner_bring_up(DtRunner *r, size_t drawn);
/* Pen up, and up for certain before anything moves. */
gboolean dt_runner_lift(DtRunner *r);
gboolean dt_runner_home(DtRunner *r);
/* Units as the program has them at `t`, and absolute coordinates for lines of our own. */
gboolean dt_runner_restate_modes(DtRunner *r, const DtProgramState *t);
/* Travel by a line of our own; commanded mm. */
gboolean dt_runner_go_to(DtRunner *r, DtPoint to);
/* Drives to where `t` says, arriving as its last motion did. */
gboolean dt_runner_return_to(DtRunner *r, const DtProgramState *t);
/* After trouble: TRUE when drawing may go on. */
gboolean dt_runner_recover(DtRunner *r);
