/* machine: how this machine moves: the profile, placement on the bed, corrections, and time. */
#pragma once

#include "drawtrue/dialect.h"
#include "drawtrue/rack.h"
#include "drawtrue/route.h"

/* A value that changes along an axis: n pairs in rising position, linear between them, constant
 * beyond. n == 0 means zero everywhere. */
typedef struct {
    double *at, *value; /* mm */
    size_t n;
} DtTable;

double dt_table_at(const DtTable *t, double position);

typedef struct {
    char *path;  /* the file it came from; NULL for the built-in one */
    char *notes; /* "file:line: text" lines on keys that are still written in an older form;
                  * NULL: none */
    char *name;

    /* motion, axis by axis (0: X, 1: Y) */
    double travel[2];          /* mm from home to the far end */
    double steps_per_mm[2];    /* as given, or from the drive train */
    double motor_steps[2];     /* half steps per motor turn */
    double gear[2];            /* motor turns per pulley turn */
    double pulley_diameter[2]; /* mm, bottom of the groove */
    double cord_diameter[2];   /* mm */
    double speed[2];           /* mm/s */
    double acceleration[2];    /* mm/s^2 */
    double pull_in[2];         /* mm/s at which an axis may start, stop or reverse without a ramp */
    double ink_tolerance;      /* mm by which the ink may deviate from the planned line where that
                           * saves time */

    /* pen */
    double lift_s, drop_s; /* settle time after pen up, pen down */
    double change_s;       /* expected time of one pen change by hand */
    DtPoint park;          /* where the carriage rests after a program, commanded mm */
    DtPoint change_at;     /* where pens are changed, commanded mm */

    /* corrections: what was measured on this machine, see dt_machine_command() */
    double scale[2];     /* ink length / commanded length */
    double square;       /* angle between the axes less a right angle, radians */
    DtTable position[2]; /* position error of the axis beyond its scale, over the position along it:
                           * true mm */
    DtTable
        straight[2]; /* straightness: shift across the rail, towards + of the other axis, over the
                           * position along it */
    double pulley_error[2]; /* amplitude, true mm, of the error that repeats with each turn of
                             * the pulley, whose period is pi * (pulley + cord) */
    double pulley_phase[2]; /* phase of that sine at the origin, radians */
    DtTable
        twist[2]; /* shift of the axis, towards its own +, when the other axis turns round from -
                   * to +, over the position along it: true mm. Half of it to either side. */
    DtTable backlash[2]; /* mm of lost motion at a reversal of the axis, over its position; both
                          * as measured on paper, so true mm along the axis. Driven towards + the
                          * carriage stands where it is sent; driven towards - it lags by this
                          * much (reversal value, ISO 230-2). Homing ends with the slack taken up
                          * towards +. */

    /* supply */
    double supply_v, supply_a, motor_a[2], servo_a, board_a;

    /* board: what our own board stores apart from the motion */
    double pen_up_pulse_s, pen_pulse_per_s; /* servo pulse at pen up, and its increase per unit
                                             * of S: s */
    double pen_fall_s, motor_rest_s, switch_s;
    double home_speed, home_pull_off; /* mm/s, mm */
    gboolean switch_opens[2], motor_reversed[2];

    DtDialect dialect;
    DtRack rack;

    /* paper and placement */
    double paper_w, paper_h;
    DtPoint paper_at;  /* lower left corner on the bed */
    double paper_turn; /* radians, about that corner; 0 in every profile file */
    double margin;
    char *paper_name;
    gboolean paper_is_job_s; /* for one job, not from the profile: its program states it */
} DtProfile;

/* NULL with DT_ERROR_INPUT and "file:line: message", one line for each problem, on any wrong
 * section, key, unit or range, and if the file has no key and no pen. */
DtProfile *dt_profile_load(const char *path, GError **error);
/* The same from memory; `name` stands for the file in messages. */
DtProfile *dt_profile_read_data(const char *text, gsize len, const char *name, GError **error);
/* The profile with default values, three pens and no corrections. */
DtProfile *dt_profile_new(void);
/* Removes the pens whose `keep` is FALSE from the rack; at least one stays. */
void dt_profile_keep_pens(DtProfile *p, const gboolean *keep);
DtProfile *dt_profile_copy(const DtProfile *p);
void dt_profile_free(DtProfile *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtProfile, dt_profile_free)
/* A commented profile with every key, its unit, range, default and meaning, made from the table
 * of keys. */
char *dt_profile_template(void);

/* One value to write back. `remark`, which may be NULL, goes into a comment line above it and
 * replaces an earlier remark that begins with the same word. */
typedef struct {
    const char *section, *key, *value; /* the value as it is written in the file, with its unit */
    const char *remark;
} DtProfileChange;

/* The line of the file that holds a key of a section; 0 if there is none or the file cannot be
 * read. */
guint dt_profile_line_of(const char *path, const char *section, const char *key);

/* The text of the profile at `path` with the changes, checked before and after as in
 * dt_profile_update(). Freed by the caller. */
char *dt_profile_changed_text(const char *path, const DtProfileChange *changes, size_t n,
                              GError **error);

/* Writes the profile at `path` with the changes to `to` (NULL: in place), whole or not at all;
 * every other line stays as it is. If the profile is not valid before or after the change
 * nothing is written, and the error is that of dt_profile_load(). */
gboolean dt_profile_update(const char *path, const char *to, const DtProfileChange *changes,
                           size_t n, GError **error);

/* Bytes as the value of a key that holds bytes: "\\x05". Freed by the caller. */
char *dt_profile_escape(const char *bytes);

/* The direction on paper, radians from +x, in which the pen moves fastest: both axes at full
 * speed. Its mirror image is as fast but for the squareness. */
double dt_machine_fastest_angle(const DtProfile *p);

/* Clears the corrections, in place. */
void dt_profile_drop_corrections(DtProfile *p);
DtCost dt_profile_cost(const DtProfile *p);

/* Half steps per mm produced by the drive train of an axis: motor steps times gear over pi *
 * (pulley + cord), the length of the cord's neutral line for one turn. */
double dt_machine_drive_steps(const DtProfile *p, int axis);

/* Paper by name: ISO 216 (A0 to A10, B0 to B10, width < height) or "WxH" in mm, in either
 * orientation; "A5 landscape" is wide. */
gboolean dt_machine_paper(const char *text, double *w, double *h, GError **error);

/* The largest axis-parallel box on the bed, mm, that the tip of every pen can reach all over, in
 * whatever direction it is drawn, with the corrections in force. Empty if there is none. */
DtBox dt_machine_reach(const DtProfile *p);

typedef enum { DT_FIT_MARGINS, DT_FIT_TRUE_SIZE } DtFit;

typedef struct {
    DtFit fit;
    gboolean turn;           /* may be rotated by 90 degrees if that makes it larger or makes it
                              * fit */
    double align_x, align_y; /* 0 to 1: position within the free space; 0.5 is centred */
} DtPlacement;

#define DT_PLACEMENT_DEFAULT ((DtPlacement){DT_FIT_MARGINS, TRUE, 0.5, 0.5})

/* The map from the page (y down) to the bed (y up) that lays the drawing's page on the profile's
 * paper: inside the margins, as far as the machine reaches there, or at true size on the whole
 * sheet. Fails with DT_ERROR_INPUT and the numbers if it does not fit paper or travel. */
gboolean dt_machine_place(const DtProfile *p, const DtDrawing *d, const DtPlacement *o,
                          DtAffine *out, GError **error);

/* One thing the machine does. */
typedef enum {
    DT_MOVE_HOME,
    DT_MOVE_TRAVEL, /* pen up, at top speed */
    DT_MOVE_DRAW,   /* pen down at feed_mm_s */
    DT_MOVE_SLACK,  /* takes up lost motion: the carriage stands still; pen up or down */
    DT_MOVE_PEN_UP,
    DT_MOVE_PEN_DOWN,
    DT_MOVE_PEN_CHANGE, /* `pen` is the next one; the carriage is at the change place */
    DT_MOVE_TURN_PAPER, /* a person turns the paper by a quarter; the carriage is at the change
                         * place */
    DT_MOVE_END,
} DtMoveKind;

typedef struct {
    DtMoveKind kind : 16; /* packed, since a long drawing has millions of moves */
    unsigned pen : 16;
    float wait_s; /* PEN_UP and PEN_DOWN: dwell after it instead of the profile's; 0: the
                   * profile's; < 0: none */
    DtPoint to;   /* where the axes are sent: commanded mm */
    DtPoint ink;  /* where the tip of the current pen is after it: bed mm */
    union {
        double
            feed_mm_s; /* DRAW and SLACK: path feed in commanded mm; TRAVEL: a feed; 0: top speed */
        double drop_word; /* PEN_DOWN: S of the line that lowers the pen; 0: the profile's */
    };
    size_t polyline; /* index into the sequence */
} DtMove;

typedef struct {
    DtMove *m;
    size_t n, cap;
} DtMoves;

void dt_moves_init(DtMoves *m);
void dt_moves_clear(DtMoves *m);
void dt_moves_append(DtMoves *m, const DtMove *move);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtMoves, dt_moves_clear)

/* What is waited after a pen move if its profile has `usual_s`. */
static inline double dt_move_wait_s(const DtMove *m, double usual_s)
{
    return m->wait_s == 0 ? usual_s : m->wait_s > 0 ? (double)m->wait_s : 0;
}

/* Moves for a sequence: pen up, homing, each run with the corrections applied and the slack
 * taken up, pen changes, and the way to the park place (home by default) with the pen up. The
 * first pen is assumed to be in the holder. If lost motion changes along an axis, strokes are
 * split at the corners of its table, between which the correction is linear, so that the tip
 * stays on the line.
 *
 * Moves that the motors could not follow are left out: points within a quarter of a step of the
 * line between their neighbours, and reversals smaller than half a step on an axis with
 * backlash. Where such an axis turns round gradually it waits within a step of its extreme
 * position while the other axis moves on, and its slack is taken up meanwhile. The tip never
 * deviates by more than a step and a half.
 *
 * Fails with DT_ERROR_INPUT and the numbers if any move would leave the travel. */
gboolean dt_machine_moves(const DtProfile *p, const DtSequence *s, DtMoves *out, GError **error);
/* The same with fewer and shorter lines, for a slow wire: points within `thin` mm of the line
 * between the points that stay are left out, and speeds are written in coarse steps. The rest of
 * the profile's tolerance is used as above. */
gboolean dt_machine_moves_thinned(const DtProfile *p, const DtSequence *s, double thin,
                                  DtMoves *out, GError **error);

/* Where the ink is for a command, ignoring backlash and the pen's offset, and the inverse. Along
 * each axis a = scale * c is its position by the scale alone, and r = a + position(a) +
 * pulley(a) the true one;
 *     x_ink = rx + ry*sin(square) + straight_y(ay),
 *     y_ink = ry*cos(square) + straight_x(ax).
 * If this is not linear the inverse is found by iteration, to 1e-9 mm; tables and pulleys are
 * never steep enough for it to diverge. */
DtPoint dt_machine_command(const DtProfile *p, DtPoint at);
DtPoint dt_machine_ink_at(const DtProfile *p, DtPoint command);
/* Whether a straight line of commands gives a line that is not quite straight on paper. */
gboolean dt_machine_is_curved(const DtProfile *p);
/* Whether one axis shifts when the other turns round, which dt_machine_ink_at() ignores. */
gboolean dt_machine_twists(const DtProfile *p);

/* Where the carriage of an axis (0: X, 1: Y) stands, commanded mm, after the drive has gone
 * straight to `drive` from where it held the carriage at `carriage`: unmoved within the slack,
 * otherwise pushed or pulled along. */
double dt_machine_follow(const DtProfile *p, int axis, double carriage, double drive);

/* The carriages as they follow the drives of both axes. If dt_machine_ink_at() is linear its
 * columns are kept, since a program is followed point by point. */
typedef struct {
    const DtProfile *profile;
    gboolean slack;  /* some axis has backlash */
    gboolean curved; /* see dt_machine_is_curved() */
    gboolean twists; /* see dt_machine_twists() */
    double lean[2]; /* for each carriage, -1 to 1: +1 if the other axis was last driven towards + */
    DtPoint at;     /* commanded mm */
    DtPoint x_way, y_way;
} DtCarriage;

/* After homing: at the origin, with the slack taken up towards +. */
void dt_carriage_init(DtCarriage *c, const DtProfile *p);
/* Where it would stand after the drives had gone straight to `to`. */
DtPoint dt_carriage_follow(const DtCarriage *c, DtPoint to);
DtPoint dt_carriage_twisted_ink(const DtCarriage *c, DtPoint carriage); /* private */
DtPoint dt_carriage_twist(DtCarriage *c, DtPoint to);                   /* private */
/* Where the ink is with the carriage there, bed mm, without a pen's offset. */
static inline DtPoint dt_carriage_ink(const DtCarriage *c, DtPoint carriage)
{
    if (c->twists)
        return dt_carriage_twisted_ink(c, carriage);
    if (c->curved)
        return dt_machine_ink_at(c->profile, carriage);
    return (DtPoint){c->x_way.x * carriage.x + c->y_way.x * carriage.y,
                     c->x_way.y * carriage.x + c->y_way.y * carriage.y};
}
/* Drives straight to `to`; returns where the ink is then. */
static inline DtPoint dt_carriage_drive(DtCarriage *c, DtPoint to)
{
    if (c->twists)
        return dt_carriage_twist(c, to);
    c->at = c->slack ? dt_carriage_follow(c, to) : to;
    return dt_carriage_ink(c, c->at);
}

typedef struct {
    double total_s, ink_s, travel_s, lift_s, change_s, home_s;
    double ink_mm, travel_mm;
    size_t lifts, changes;
    double slack_s;    /* part of travel_s: taking up lost motion, pen up or down */
    double slack_up_s; /* part of slack_s: with the pen up */
    double held_up_s;  /* part of total_s: what the motors wait because lines, or blocks planned
                     * ahead, are missing; of a written program only */
    size_t starved;    /* stops in mid-stroke because the next line has not arrived yet */
    double *at_s;      /* at the end of each move, n_moves entries; NULL unless requested; g_free */
} DtTimes;

/* The time that homing takes, s, as far as it can be known, since the starting place of the
 * carriage is not. */
double dt_machine_home_s(const DtProfile *p);
/* The same from a known place, commanded mm; from its end stop where it is beyond the travel. */
double dt_machine_home_from_s(const DtProfile *p, DtPoint from);

/* The time that the moves take: acceleration-limited, per axis, with look-ahead; a full stop at
 * every pen move. Pen changes are counted separately and are not in total_s. */
void dt_machine_time(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out);
void dt_times_clear(DtTimes *t);

/* The table of keys, for a form ----------------------------------------------------------------- */

/* One possible key of a profile. All text is static except `range`. */
typedef struct {
    const char *section; /* "pen" stands for every [pen NAME] section */
    const char *name;
    const char *type;   /* "number", "ratio", "whole", "flag", "text", "bytes", "point", "table",
                         * "colour" or "paper" */
    const char *unit;   /* as written in a file; "" for none */
    const char *preset; /* as it would be written; NULL: follows from other keys */
    const char *help;   /* NULL: as for the key before it, which is that of the other axis */
    char *range;        /* for people, freed by the caller; NULL if there is none */
} DtProfileKey;

/* Key number `i` of the table; FALSE past the end. */
gboolean dt_profile_key(size_t i, DtProfileKey *out);
/* What a section is about; NULL if there is none of this name. */
const char *dt_profile_section_help(const char *section);
