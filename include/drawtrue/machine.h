/* machine: how does THIS machine move? The profile, placement on the bed, corrections, and time. */
#pragma once

#include "drawtrue/dialect.h"
#include "drawtrue/rack.h"
#include "drawtrue/route.h"

/* A value that changes along an axis: n pairs in rising position, linear between, constant beyond.
 * n == 0 means zero everywhere. */
typedef struct {
    double *at, *value; /* mm */
    size_t n;
} DtTable;

double dt_table_at(const DtTable *t, double position);

typedef struct {
    char *path;  /* the file it came from; NULL for the built-in one */
    char *notes; /* "file:line: text" lines on what it still says in an earlier way; NULL: none */
    char *name;

    /* motion, axis by axis (0: X, 1: Y) */
    double travel[2];          /* mm from home to the far end */
    double steps_per_mm[2];    /* given, or from the drive train */
    double motor_steps[2];     /* half steps per motor turn */
    double gear[2];            /* motor turns per pulley turn */
    double pulley_diameter[2]; /* mm, bottom of the groove */
    double cord_diameter[2];   /* mm */
    double speed[2];           /* mm/s */
    double acceleration[2];    /* mm/s^2 */
    double pull_in[2];         /* mm/s at which an axis may start, stop or reverse without a ramp */
    double ink_tolerance; /* mm by which the ink may leave the planned line where that saves time */

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
    double pulley_error[2]; /* amplitude, true mm, of the error that repeats with each turn of the
                             * pulley, which takes up pi * (pulley + cord) */
    double pulley_phase[2]; /* of that sine at the origin, radians */
    DtTable
        twist[2]; /* shift of the axis, towards + of its own, where the other one turns round from -
                           * to +, over the position along it: true mm. Half of it either way. */
    DtTable backlash[2]; /* mm of lost motion at a reversal of the axis, over its position; both as
                           * measured on paper, so true mm along the axis. Driven towards + the
                           * carriage stands where it is sent; driven towards - it stays behind by
                           * this much (reversal value, ISO 230-2). Homing ends with the slack taken
                           * up towards +. */

    /* supply */
    double supply_v, supply_a, motor_a[2], servo_a, board_a;

    /* board: what ours keeps beside the motion */
    double pen_up_pulse_s, pen_pulse_per_s; /* servo pulse at pen up, and more for each S: s */
    double pen_fall_s, motor_rest_s, switch_s;
    double home_speed, home_pull_off; /* mm/s, mm */
    gboolean switch_opens[2], motor_reversed[2];

    DtDialect dialect;
    DtRack rack;

    /* paper and placement */
    double paper_w, paper_h;
    DtPoint paper_at; /* lower left corner on the bed */
    double margin;
    char *paper_name;
} DtProfile;

/* NULL with DT_ERROR_INPUT and "file:line: message", one line for each problem, on any wrong section,
 * key, unit or range, and where the file has no key and no pen. */
DtProfile *dt_profile_load(const char *path, GError **error);
/* The same from memory; `name` stands for the file in messages. */
DtProfile *dt_profile_read_data(const char *text, gsize len, const char *name, GError **error);
/* The profile with every key at its default, three pens and no corrections. */
DtProfile *dt_profile_new(void);
/* Takes the pens out of the rack whose `keep` is FALSE; at least one stays. */
void dt_profile_keep_pens(DtProfile *p, const gboolean *keep);
DtProfile *dt_profile_copy(const DtProfile *p);
void dt_profile_free(DtProfile *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtProfile, dt_profile_free)
/* A commented profile with every key, its unit, range, default and meaning, from the one table. */
char *dt_profile_template(void);

/* One value to write back. `remark`, which may be NULL, goes onto a comment line above it, in place of
 * an earlier remark that begins with the same word. */
typedef struct {
    const char *section, *key, *value; /* the value as it is written in the file, with its unit */
    const char *remark;
} DtProfileChange;

/* The line of the file on which a key of a section stands; 0 where it has none or cannot be read. */
guint dt_profile_line_of(const char *path, const char *section, const char *key);

/* The text of the profile at `path` with the changes, checked before and after as in
 * dt_profile_update(). Freed by the caller. */
char *dt_profile_changed_text(const char *path, const DtProfileChange *changes, size_t n,
                              GError **error);

/* Writes the profile at `path` with the changes to `to` (NULL: in place), whole or not at all; every
 * other line stays as it is. Nothing is written, and the error is that of dt_profile_load(), where the
 * profile is not sound before or after. */
gboolean dt_profile_update(const char *path, const char *to, const DtProfileChange *changes,
                           size_t n, GError **error);

/* Bytes as the value of a key that holds bytes: "\\x05". Freed by the caller. */
char *dt_profile_escape(const char *bytes);

/* The direction on paper, radians from +x, in which the pen goes fastest: both axes at their full
 * speed. Its mirror image is as fast but for the squareness. */
double dt_machine_fastest_angle(const DtProfile *p);

/* Turns the corrections off, in place. */
void dt_profile_drop_corrections(DtProfile *p);
DtCost dt_profile_cost(const DtProfile *p);

/* Half steps per mm that the drive train of an axis makes: motor steps times gear over
 * pi * (pulley + cord), the length of the cord's middle line that one turn takes up. */
double dt_machine_drive_steps(const DtProfile *p, int axis);

/* Paper by name: ISO 216 (A0 to A10, B0 to B10, width < height) or "WxH" in mm, either way round;
 * "A5 landscape" is wide. */
gboolean dt_machine_paper(const char *text, double *w, double *h, GError **error);

/* The largest upright box on the bed, mm, all of which the tip of every pen can reach in whatever
 * direction it is drawn, with the corrections as they are. Empty where there is none. */
DtBox dt_machine_reach(const DtProfile *p);

typedef enum { DT_FIT_MARGINS, DT_FIT_TRUE_SIZE } DtFit;

typedef struct {
    DtFit fit;
    gboolean turn;           /* may turn by 90 degrees where that makes it larger or makes it fit */
    double align_x, align_y; /* 0 to 1: where it sits in the free space; 0.5 centred */
} DtPlacement;

#define DT_PLACEMENT_DEFAULT ((DtPlacement){DT_FIT_MARGINS, TRUE, 0.5, 0.5})

/* The map from the page (y down) to the bed (y up) that lays the drawing's page on the profile's
 * paper: into the margins, as far as the machine reaches there, or at true size on the whole sheet.
 * Fails with DT_ERROR_INPUT and the numbers where it cannot be laid within paper or travel. */
gboolean dt_machine_place(const DtProfile *p, const DtDrawing *d, const DtPlacement *o,
                          DtAffine *out, GError **error);

/* One thing the machine does. */
typedef enum {
    DT_MOVE_HOME,
    DT_MOVE_TRAVEL, /* pen up, fastest */
    DT_MOVE_DRAW,   /* pen down at feed_mm_s */
    DT_MOVE_SLACK,  /* takes up lost motion: the carriage stands still; pen up or down */
    DT_MOVE_PEN_UP,
    DT_MOVE_PEN_DOWN,
    DT_MOVE_PEN_CHANGE, /* `pen` is the next one; the carriage is at the change place */
    DT_MOVE_TURN_PAPER, /* a person turns the paper by a quarter; the carriage is at the change place */
    DT_MOVE_END,
} DtMoveKind;

typedef struct {
    DtMoveKind kind : 16; /* packed: a long drawing has millions of them */
    unsigned pen : 16;
    float wait_s; /* PEN_UP and PEN_DOWN: waited after it in place of the profile's time; 0: the
                       * profile's; < 0: none */
    DtPoint to;   /* where the axes are sent: commanded mm */
    DtPoint ink;  /* where the tip of the current pen then truly is: bed mm */
    union {
        double
            feed_mm_s; /* DRAW and SLACK: path feed in commanded mm; TRAVEL: a feed, 0: fastest */
        double drop_word; /* PEN_DOWN: S of the line that drops the pen; 0: the profile's */
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

/* What is waited after a pen move whose profile has `usual_s`. */
static inline double dt_move_wait_s(const DtMove *m, double usual_s)
{
    return m->wait_s == 0 ? usual_s : m->wait_s > 0 ? (double)m->wait_s : 0;
}

/* Moves for a sequence: pen up, home, each run with the corrections applied and the slack taken up,
 * pen changes, and the way to the park place (home by default) with the pen up. The first pen is
 * taken to be in the holder. Where lost motion changes along an axis a stroke is split at the corners
 * of the table, between which the correction is linear, so that the tip stays on the line.
 *
 * Moves that the motors could not follow are not made: points within a quarter of a step of the line
 * between their neighbours are left out; on an axis with backlash, reversals smaller than half a step
 * are not followed, and where it turns round gently it waits within a step of its outermost point
 * while the other axis goes on, its slack being taken up meanwhile. So no tip deviates by more than
 * a step and a half.
 *
 * Fails with DT_ERROR_INPUT and the numbers where any move would leave the travel. */
gboolean dt_machine_moves(const DtProfile *p, const DtSequence *s, DtMoves *out, GError **error);
/* The same with fewer and shorter lines, for a slow wire: points within `thin` mm of the line between
 * those that stay are left out, and speeds are said in coarse steps. What is left of the profile's
 * tolerance is used as above. */
gboolean dt_machine_moves_thinned(const DtProfile *p, const DtSequence *s, double thin,
                                  DtMoves *out, GError **error);

/* Where the ink is for a command, backlash and the pen's offset left out, and the inverse. Along each
 * axis a = scale * c is its place by the scale alone, and r = a + position(a) + pulley(a) its true one;
 *     x_ink = rx + ry*sin(square) + straight_y(ay),   y_ink = ry*cos(square) + straight_x(ax).
 * The inverse is found by iteration, to 1e-9 mm, where it is not linear; tables and pulleys are never so
 * steep that it would not end. */
DtPoint dt_machine_command(const DtProfile *p, DtPoint at);
DtPoint dt_machine_ink_at(const DtProfile *p, DtPoint command);
/* Whether a straight line of commands makes a line that is not quite straight on paper. */
gboolean dt_machine_is_curved(const DtProfile *p);
/* Whether one axis shifts where the other turns round. dt_machine_ink_at() leaves that out. */
gboolean dt_machine_twists(const DtProfile *p);

/* Where the carriage of an axis (0: X, 1: Y) stands, commanded mm, after the drive has gone straight
 * from where it held the carriage at `carriage` to `drive`: unmoved within the slack, else pushed or
 * pulled along. */
double dt_machine_follow(const DtProfile *p, int axis, double carriage, double drive);

/* The carriage as it follows the drives of both axes. Where dt_machine_ink_at() is linear its columns
 * are kept, since a program is followed point by point. */
typedef struct {
    const DtProfile *profile;
    gboolean slack;  /* some axis has backlash */
    gboolean curved; /* see dt_machine_is_curved() */
    gboolean twists; /* see dt_machine_twists() */
    double
        lean[2]; /* of each carriage, -1 to 1: +1 where the other axis was driven towards + last */
    DtPoint at;  /* commanded mm */
    DtPoint x_way, y_way;
} DtCarriage;

/* As after homing: at the origin, the slack taken up towards +. */
void dt_carriage_init(DtCarriage *c, const DtProfile *p);
/* Where it would stand if the drives went straight to `to`. */
DtPoint dt_carriage_follow(const DtCarriage *c, DtPoint to);
DtPoint dt_carriage_twisted_ink(const DtCarriage *c, DtPoint carriage); /* private */
DtPoint dt_carriage_twist(DtCarriage *c, DtPoint to);                   /* private */
/* Where the ink is with the carriage there, bed mm, a pen's offset left out. */
static inline DtPoint dt_carriage_ink(const DtCarriage *c, DtPoint carriage)
{
    if (c->twists)
        return dt_carriage_twisted_ink(c, carriage);
    if (c->curved)
        return dt_machine_ink_at(c->profile, carriage);
    return (DtPoint){c->x_way.x * carriage.x + c->y_way.x * carriage.y,
                     c->x_way.y * carriage.x + c->y_way.y * carriage.y};
}
/* The drives go straight to `to`; returns where the ink then is. */
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
    double slack_s;    /* of travel_s: taking up lost motion, the pen up or down */
    double slack_up_s; /* of slack_s: with the pen up */
    double
        held_up_s;  /* of total_s: more than the motors need, for want of lines or of blocks planned
                        * ahead; of a written program alone */
    size_t starved; /* stops in mid-stroke because the next line has not come yet */
    double *at_s;   /* at the end of each move, n_moves entries; NULL unless asked for; g_free */
} DtTimes;

/* What homing takes, s, as far as it can be known: where the carriage stands at first is not. */
double dt_machine_home_s(const DtProfile *p);
/* The same where it stands at this share of its travel along both axes: 0 at home, 1 at the far corner. */
double dt_machine_home_from_s(const DtProfile *p, double share);

/* The time the moves take: acceleration-limited, per axis, with look-ahead; a full stop wherever the
 * pen moves. Pen changes are counted apart and not in total_s. */
void dt_machine_time(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out);
void dt_times_clear(DtTimes *t);

/* The table of keys, for a form ----------------------------------------------------------------- */

/* One key that a profile may have. All text is static but `range`. */
typedef struct {
    const char *section; /* "pen" stands for every [pen NAME] */
    const char *name;
    const char *type;   /* "number", "ratio", "whole", "flag", "text", "bytes", "point", "table",
                         * "colour" or "paper" */
    const char *unit;   /* as it is written; "" for none */
    const char *preset; /* as it would be written; NULL: follows from other keys */
    const char *help;   /* NULL: as of the key before it, for the other axis */
    char *range;        /* for people, freed by the caller; NULL where there is none */
} DtProfileKey;

/* Key number `i` of the table; FALSE behind the last one. */
gboolean dt_profile_key(size_t i, DtProfileKey *out);
/* What a section is about; NULL where there is none of this name. */
const char *dt_profile_section_help(const char *section);
