/* inside: shared by the rig's files. Lengths mm, times s; the clock counts microseconds. */
#pragma once

#include "controller.h"
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

/* The contents of the rig file; keys.c has the table. */

typedef struct {
    double at[16], value[16];
    unsigned n;
} RigTable;

double dt_rig_table_between(const RigTable *t, double at);

/* The table's value at a place, by straight lines between its places; 0 without any. Inline, since
 * it is asked several times a step and most tables of most machines are empty. */
static inline double dt_rig_table_at(const RigTable *t, double at)
{
    return t->n == 0 ? 0 : dt_rig_table_between(t, at);
}

typedef struct {
    char *name;
    double r, g, b, tip;
    double offset[2]; /* of its tip in the holder, mm */
} RigPen;

/* How the sheet is scanned; see scan.c. */
typedef struct {
    double sheet[2], sheet_at[2]; /* its size, and its lower left corner on the bed, mm */
    double dpi, turn, rotation, skew, scale[2], wave, wave_length, border;
    double blur, spread, noise, paper, lid, uneven, quality, seed;
    double card, card_at[2], card_turn,
        card_size[2]; /* brightness (< 0: none), middle on the glass */
} RigScan;

typedef struct {
    /* settings of the controller */
    double steps_per_mm[2], speed[2], acceleration[2], pull_in[2], travel[2];
    double home_speed, pull_off, chord;
    double pen_up_us, pen_us_per_s, pen_wait_s, settle_s;
    /* the true machine */
    double scale[2];   /* true mm per commanded mm */
    double square_deg; /* angle between the axes less a right angle */
    RigTable backlash[2];
    double wave, wave_length;   /* straightness deviation of the rails, peak to valley */
    double start[2];            /* where the carriage is at power on */
    double over_low, over_high; /* from the switch, and from the travel's end, to the stop */
    double torque[2], no_load[2], friction[2]; /* see drive.c */
    double ring_hz[2], ring_damping[2];
    double pulley[2], pulley_period[2], pulley_phase[2], gear[2], gear_period[2];
    double slack_scatter[2];
    RigTable position[2], straight[2], twist[2];
    double twist_way;
    double switch_scatter, drift[2];
    char *corner;
    double play, bounce_s;
    double drop_s, lift_s, pen_down_us;
    double merge;
    /* board and vocabulary */
    double baud, rx_bytes, boot_s, reply_delay_s;
    gboolean reset_on_open;
    char *words;
    gboolean spaces, comments, check, ask, hold, numbers;
    double longest_line;
    char *accept, *refuse, *greeting;
    RigPen *pens;
    unsigned n_pens;
    char *pen_order; /* pens in turn, if no comment names them */
    char *faults;
    double seed;
    RigScan scan;
} RigTruth;

gboolean dt_rig_truth_read(RigTruth *t, const char *text, const char *name, GError **error);
void dt_rig_truth_clear(RigTruth *t);
void dt_rig_truth_settings(const RigTruth *t, DtSettings *out);
const RigPen *dt_rig_truth_pen(const RigTruth *t, const char *name);

/* Ink: ink.c. -------------------------------------------------------------------------------- */

typedef struct {
    size_t first, n;
    unsigned pen; /* index into the names */
    double from_s, to_s;
} RigStroke;

typedef struct {
    GArray *xy;      /* double pairs */
    GArray *strokes; /* RigStroke */
    GPtrArray *names;
    double merge;
    gboolean open;
    /* the straight piece under way: all points since the anchor lie within `merge` of a line from
     * it between the directions left and right */
    double anchor[2], last[2], left[2], right[2], reach;
    gboolean narrowed;
} RigInk;

void dt_rig_ink_init(RigInk *k, double merge);
void dt_rig_ink_clear(RigInk *k);
void dt_rig_ink_begin(RigInk *k, const char *pen, double x, double y, double now_s);
void dt_rig_ink_point(RigInk *k, double x, double y);
void dt_rig_ink_end(RigInk *k, double now_s);

/* Machine: machine.c. ------------------------------------------------------------------------ */

typedef struct {
    double step;               /* true mm of a half step */
    double field;              /* where the coils pull the rotor to, true mm of cord */
    double field_speed;        /* mm/s, over the last two steps */
    double rotor, rotor_speed; /* where the rotor is */
    double omega;              /* of the rotor's small swings, rad/s */
    gboolean still;            /* it has come to rest, and the field stands */
    double cord;               /* wound up by the pulley, including its errors */
    double slack_error;        /* of this reversal, mm */
    int driven;                /* sign of the drive's last motion */
    double motor;              /* where the motor holds the cord, true mm */
    double carriage;           /* where the cord holds the carriage along its rail */
    double at, speed;          /* where the carriage is, swinging on the cord */
    double lean;               /* how far the other axis' carriage has twisted, -1 to 1 */
    double trip_error;         /* of the switch, this time */
    gint64 stepped;            /* time of the field's last move, microseconds */
    double low, high, trip;    /* stops, and where the switch closes */
    int phase;                 /* of the half-step sequence */
    int turn;                  /* requested at this instant: -1, 0, 1 */
    gboolean loose;            /* no coil is on */
    gboolean slipping;
    gboolean forced; /* a fault holds the switch closed */
} RigAxis;

enum { RIG_WAVE = 1024 };

typedef struct {
    const RigTruth *truth;
    double sine, cosine;       /* of the angle by which the axes are not square */
    double wave[RIG_WAVE + 1]; /* one wave of a rail, mm */
    RigAxis axis[2];
    gboolean swings; /* motors or cords are not rigid: drive.c follows them in time */
    gint64 longest_step_us;
    gint64 followed; /* time up to which it has, microseconds */
    GRand *rand;
    double span[2];       /* of the bed, mm: for a home in another corner */
    gboolean mirrored[2]; /* axes whose home is at the far end */
    double tip[2];        /* true bed mm, as computed last */
    double counted[2];    /* the tip when its path was measured last */
    unsigned turns;       /* of the motors since then */
    gboolean commanded_down, touching;
    gint64 touch_at, leave_at; /* microseconds; -1: not on the way */
    gint64 lift_began;
    double bounce_s;      /* the next bounce of the pen after it has fallen */
    char *pen;            /* in the holder */
    const RigPen *seated; /* the same */
    RigInk ink;
    DtRigFigures figures;
    gint64 last_motion;
} RigMachine;

/* Drive: drive.c. ---------------------------------------------------------------------------- */

void dt_rig_drive_init(RigMachine *m);
/* Turns the field of an axis' motor by `way` true mm of cord, at `now`. The carriage of a rigid
 * machine follows at once. */
void dt_rig_drive_step(RigMachine *m, int axis, double way, gint64 now);
/* Simulates rotors and carriages up to `now`; `each` is called after every small time step. */
void dt_rig_drive_follow(RigMachine *m, gint64 now, void (*each)(RigMachine *m));

void dt_rig_machine_init(RigMachine *m, const RigTruth *t);
void dt_rig_machine_clear(RigMachine *m);
/* Which of the eight states of a four-wire motor's coils this is, in order of rotation: one coil and two
 * alternately (common practice, no source); -1: none. */
int dt_rig_machine_phase(uint8_t bits);
void dt_rig_machine_coils(RigMachine *m, unsigned axis, uint8_t bits);
/* Turns the motors as the coils have requested since the last call. */
void dt_rig_machine_turn(RigMachine *m, gint64 now);
/* Where the holder is now, true bed mm. */
void dt_rig_machine_holder(const RigMachine *m, double *holder_x, double *holder_y);
void dt_rig_machine_servo(RigMachine *m, uint16_t pulse_us, gint64 now);
uint8_t dt_rig_machine_switches(const RigMachine *m);
/* Lets the pen fall or rise until now. */
void dt_rig_machine_settle(RigMachine *m, gint64 now);

/* Faults: faults.c. -------------------------------------------------------------------------- */

typedef enum {
    FAULT_LOSE,
    FAULT_DOUBLE,
    FAULT_GARBLE,
    FAULT_STRAY,
    FAULT_LOSE_REPLY,
    FAULT_DOUBLE_REPLY,
    FAULT_GARBLE_REPLY,
    FAULT_CUT_REPLY,
    FAULT_STALE_REPLY,
    FAULT_SWAP_REPLIES,
    FAULT_FORGE_REPLY,
    FAULT_MERGE_REPLIES,
    FAULT_LATE_REPLY,
    FAULT_RESET,
    FAULT_SILENCE,
    FAULT_UNPLUG,
    FAULT_CUT,
    FAULT_SWITCH,
    FAULT_SLIP,
    FAULTS,
} RigFaultKind;

enum { AT_BYTE, AT_LINE, AT_TIME, EVERY };

typedef struct {
    RigFaultKind kind;
    double amount;
    unsigned axis;
    unsigned when; /* AT_BYTE, AT_LINE, AT_TIME or EVERY */
    double at;
    gboolean done;
} RigFault;

enum { RIG_STRAYS = 2 };

typedef struct {
    GArray *list; /* RigFault */
    GRand *rand;
    guint64 bytes, lines;   /* so far: bytes towards the board, lines answered */
    unsigned armed[FAULTS]; /* number of bytes or replies that each kind still spoils */
    double late_s;
    char *earlier[4];                  /* replies, the last one first */
    char *held_back;                   /* a reply that is sent after the next one */
    uint8_t stray[RIG_STRAYS], strays; /* bytes that arrive before the next one */
    /* to be carried out by the port and the clock */
    gboolean reset;
    double silence_s, unplug_s; /* real time; 0: for good; -1: nothing to do */
    gboolean power;             /* unplugging also cuts the board's power */
    unsigned happened;
} RigFaults;

gboolean dt_rig_faults_read(RigFaults *f, const char *text, guint32 seed, char **problem);
void dt_rig_faults_clear(RigFaults *f);
/* Spoils a byte on its way to the board; returns what arrives. */
unsigned dt_rig_faults_byte(DtRig *r, uint8_t byte, uint8_t out[RIG_STRAYS + 2]);
/* The bytes sent for a reply, including line ends; freed by the caller. */
char *dt_rig_faults_reply(DtRig *r, const char *text);
void dt_rig_faults_line(DtRig *r);
void dt_rig_faults_time(DtRig *r);

/* The rig. ----------------------------------------------------------------------------------- */

enum { RIG_QUEUE = 8192 };

typedef struct {
    guint n;   /* bytes */
    gint64 at; /* real time, microseconds */
} RigDue;

/* What the sender knew at which time: after a reply it may send more. */
typedef struct {
    guint64 bytes, lines; /* answered so far */
    double at;            /* virtual time at which the sender has read that, microseconds */
} RigAck;

/* What is behind the port and drives the motors: the core, compiled in, or a chip that runs it. */
typedef struct {
    void (*reset)(DtRig *r);
    gboolean (*receive)(DtRig *r, uint8_t byte); /* FALSE: lost */
    gboolean (*poll)(DtRig *r);                  /* FALSE: there was nothing to do at this
                                                  * instant */
    /* Continues to its next event, but not beyond that time (-1: none is set); FALSE if there is
     * none. */
    gboolean (*advance)(DtRig *r, gint64 not_beyond);
    gboolean (*ready)(const DtRig *r); /* for another line, which has not arrived */
    gboolean (*rests)(const DtRig *r); /* nothing moves or is in progress */
    gboolean (*homed)(const DtRig *r);
    gboolean (*abandons)(const DtRig *r); /* CAN has come twice, and is not done yet */
    DtState (*state)(const DtRig *r);
    void (*heard)(DtRig *r, const char *text); /* what it has just sent; may be NULL */
    void (*unplug)(DtRig *r); /* its power is off until the next reset; may be NULL */
    void (*free)(DtRig *r);   /* may be NULL */
} RigBoard;

struct DtRig {
    const RigBoard *board;
    void *chip; /* of the board; NULL: the core below */
    RigTruth truth;
    DtSettings settings;
    DtHardware hardware;
    DtController core;
    RigMachine machine;
    gint64 now;          /* microseconds since the rig was made */
    gint64 deadline;     /* of the controller's timer; -1: stopped */
    gint64 next_second;  /* of the board's count of seconds */
    gint64 stop_since;   /* while at_stop */
    uint8_t memory[256]; /* of the board: survives a reset */
    gint64 first_line;   /* -1: none yet */

    /* the UART */
    uint8_t queue[RIG_QUEUE];
    unsigned queue_head, queue_n;
    double byte_us, last_arrival;     /* of the last byte queued */
    GArray *acks;                     /* RigAck, those that may still matter */
    RigAck known;                     /* what the sender knew when it sent the latest line */
    guint64 in_bytes, in_lines;       /* received from the sender, including what is still on the
                                   * wire */
    guint64 begun_bytes, begun_lines; /* of that, arrived */
    guint64 acked_bytes, acked_lines; /* of that, answered */
    guint64 most_bytes, most_lines;   /* most that the sender ever had in flight */
    double reply_passed;              /* virtual time at which the last reply has passed the UART */
    gboolean line_timed;              /* the next line may not arrive before it does */
    GString *answer;                  /* the line being sent by the core */
    GArray *out_due;                  /* RigDue: when parts of `out` may be sent */
    double sent_at;                   /* real time at which the last reply has passed the UART */
    GByteArray *out;                  /* towards the host */

    /* lines in the receive buffer, for pens and listeners */
    GQueue *lines;
    GString *line;
    char *next_pen; /* named by a comment */
    unsigned next_in_order;
    gboolean stop_seen, at_stop, abandoned, was_homed, was_homing, was_running, hungry;

    /* the port */
    int master;
    char *port, *link;
    gboolean connected, real_time;

    RigFaults faults;
    gint64 silent_until; /* real time; 0: not silent */
    gint64 late_until;   /* real time before which no reply is sent */

    DtRigWatch watch;
    void *watch_user;
    DtRigTalk talk;
    void *talk_user;
};

/* The core as the board, and its hardware: core.c. */
extern const RigBoard dt_rig_core_board;
extern const DtHardware dt_rig_core_hardware;
/* Notes a stop for want of lines; called after anything that may have started or stopped the
 * motors. */
void dt_rig_watch_hunger(DtRig *r);

void dt_rig_reset(DtRig *r);
/* What the board sends, and the pulses of its servo. */
void dt_rig_hear(DtRig *r, char byte);
void dt_rig_servo(DtRig *r, uint16_t pulse_us);
/* Discards what has not been sent to the host yet. */
void dt_rig_drop_out(DtRig *r);
/* Removes the link, if it still leads to this port. */
void dt_rig_unlink_port(DtRig *r);
/* Delivers queued bytes that have arrived, and lets the core do what it can at this instant. */
void dt_rig_settle(DtRig *r);
/* Continues to the next event; FALSE if there is none. */
gboolean dt_rig_advance(DtRig *r, gint64 not_beyond);
void dt_rig_queue(DtRig *r, const uint8_t *bytes, unsigned n, double not_before);
