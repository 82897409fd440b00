/* part-speed: how fast may an axis go? Each rung draws a tick, runs out and back, pen up, and draws a tick that
 * should go on where the first one ends. Where they part, the motor has lost steps.
 *
 * Two ladders for each axis: speed, with gentle ramps; and acceleration, up to the profile's speed, together with the
 * jump of speed at a start or a reversal that belongs to it. Before each run of the second the axis is shaken: it turns
 * round again and again after a few steps, as the points of a fine curve make it do. A rotor that swings when it has
 * to set out loses steps at half the acceleration that it can follow from rest.
 * Rungs are shares of the limit that the profile implies, close together about it: the first sheet finds the
 * limits roughly, the next one, with what that proposed, to a few per cent.
 * Where friction is low a rotor may lose steps in a narrow band of accelerations far below its limit. What matters is
 * that it keeps them at the profile's own value and for a reserve above it, so that ladder is read upwards from the
 * rung that has this value; the one below it is for a value that is too high. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum {
    RUNGS = 9,
    LADDERS = 2,
    SPEED = 0,
    ACCELERATION = DT_SPEED_SHARP,
    ALL_RUNGS = RUNGS * LADDERS,
    FAST = 5,
    TICKS = 3 /* before the runs, in the middle and after them */
};

static const double rungs[LADDERS][RUNGS] = {
    {0.5, 0.68, 0.8, 0.9, 0.99, 1.09, 1.22, 1.55, 2.2},
    {0.65, 0.78, 0.87, 0.98, 1.09, 1.22, 1.5, 1.9, 2.5},
};
static const double row_mm = 3.8, tick_mm = 0.95, overlap_mm = 0.05, names_mm = 12, gap_mm = 8,
                    ladder_gap_mm = 4;
static const double gentle = 0.25; /* of the profile's acceleration, where speed is tried */
static const double cruise_mm = 4, least_run_mm = 8, longest_run_mm = 32;
static const double clear_mm = 8; /* of the switch, whatever a run has lost */
/* Of what a rung may lose, in runs: towards the switch, and away from it. */
static const double most_lost_near = 1, most_lost_far = 2;

typedef struct {
    DtTestSheet *sheet;
    const DtProfile *p;
    int axis, ladder, rung;
    DtPoint at; /* where its tick stands */
    double run_mm, speed, acceleration, start;
} Rung;

static DtPoint place(const Rung *r, double along, double across)
{
    return r->axis == 0 ? dt_point(r->at.x + along, r->at.y + across)
                        : dt_point(r->at.x + across, r->at.y + along);
}

/* Ticks and letters: from rest, any motor starts like that without a ramp. */
static double slow(const DtProfile *p)
{
    const double least_mm_s = 1.2;
    return MAX(MIN(p->pull_in[0], p->pull_in[1]) / 2, least_mm_s);
}

/* Tick `i` of a rung, which goes on where the one before it ends, with the slack of both axes taken up. */
static void add_tick(const Rung *r, int i)
{
    const double from = (TICKS / 2.0 - i) * tick_mm;
    DtMark m = dt_sheet_mark(i == 0 ? DT_MARK_COMB : DT_MARK_VERNIER, DT_SHEET_SPEED, r->axis,
                             place(r, 0, from), place(r, 0, from - tick_mm - overlap_mm));
    m.approach[r->axis] = 1;
    m.approach[1 - r->axis] = -1;
    m.feed_mm_s = slow(r->p);
    m.row = r->axis * DT_SPEED_ROWS + r->ladder;
    m.place = r->rung;
    dt_sheet_add(r->sheet, &m);
}

static void add_run(const Rung *r, double from, double to)
{
    DtMark m =
        dt_sheet_mark(DT_MARK_RUN, DT_SHEET_SPEED, r->axis, place(r, from, 0), place(r, to, 0));
    m.row = r->axis * DT_SPEED_ROWS + r->ladder;
    m.place = r->rung;
    m.feed_mm_s = r->speed;
    m.acceleration_mm_s2 = r->acceleration;
    m.start_mm_s = r->start;
    dt_sheet_add(r->sheet, &m);
}

/* A rotor swings if a way of a few steps takes as long as half an oscillation, T, and over that way s = v0 T + a T^2 / 4
 * with half the jump as v0. Acceleration and jump can be had at each other's cost. Where both keep the same reserve
 * given the other, 0.7, each term is 0.4 s, and so v0^2 = 0.1 a s. On many motors it is a way of two to three steps that
 * loses first; s is taken for 2.25. */
double dt_sheet_jump(const DtProfile *p, int axis, double acceleration)
{
    const double share = 0.1, steps = 2.25;
    return 2 * sqrt(share * acceleration * steps / p->steps_per_mm[axis]);
}

/* How long a way of `way` mm takes, by a ramp up and down. */
static double turn_s(const Rung *r, double way)
{
    const double start = r->start / 2;
    return 2 * (sqrt(start * start + r->acceleration * way) - start) / r->acceleration;
}

static void turn_round(const Rung *r, double at, double way)
{
    enum { LEGS = 24 };
    for (int k = 0; k < LEGS; k++)
        add_run(r, at + (k % 2 ? way : 0), at + (k % 2 ? 0 : way));
}

/* Turns round and round again after as many steps, so that a rotor that swings in that rhythm swings its
 * most, and then sets out on a way that is long for a rotor: after 1 step to as many as still come in the rhythm of a
 * rotor, which swings at 20 Hz at least. Before each run a fifth of these, the quickest at last. Close to the limit a
 * rotor loses steps in one rhythm and keeps them in the next quicker one, so each is tried at a value below that of the
 * rung too; that on the way out, so that what is lost at the rung's own value shows on the way back. `inward`: +1 or
 * -1. */
static void shake(const Rung *r, int run, double at, int inward)
{
    enum { MOST_STEPS = 30 };
    const double gentler = 0.94, set_out_mm = 1.5, slowest_s = 0.025;
    const double steps_per_mm = r->p->steps_per_mm[r->axis], away = at + inward * set_out_mm;
    Rung a_little = *r;
    a_little.acceleration *= gentler;
    a_little.start = dt_sheet_jump(r->p, r->axis, a_little.acceleration);
    for (int n = MOST_STEPS; n > 0; n--) {
        const double way = n / steps_per_mm;
        if (n % FAST != run || (n > FAST && turn_s(r, way) > slowest_s))
            continue;
        turn_round(&a_little, at, way);
        add_run(&a_little, at, away);
        turn_round(r, away, way);
        add_run(r, away, at);
    }
}

/* Home from near by, but so far from the switch that what may have been lost towards it does not reach it. */
static void add_home(const Rung *r, double lost_mm)
{
    const double at = r->axis == 0 ? r->at.x : r->at.y, off = MIN(lost_mm + clear_mm, at);
    const DtPoint from = r->axis == 0 ? dt_point(off, clear_mm) : dt_point(clear_mm, off);
    const DtMark m = dt_sheet_mark(DT_MARK_HOME, DT_SHEET_SPEED, -1, from, from);
    dt_sheet_add(r->sheet, &m);
}

/* A motor that stalls loses as much on the way back as on the way out, and nothing would show: three runs
 * are fast on the way back, two on the way out, by turns, and the first way out is gentle. What a few turns round lose
 * to one side others may lose to the other: a tick in the middle shows what all of them together may not. What is lost then
 * leaves the axis far from the switch rather than on it. */
static void add_rung(const Rung *r)
{
    Rung gently = *r;
    gently.speed = r->p->speed[r->axis] / 2;
    gently.acceleration = r->p->acceleration[r->axis] / 2;
    gently.start = r->p->pull_in[r->axis];
    add_tick(r, 0);
    add_run(&gently, 0, r->run_mm);
    for (int i = 0; i < FAST; i++) {
        const double from = i % 2 ? 0 : r->run_mm, to = i % 2 ? r->run_mm : 0;
        if (r->ladder != SPEED)
            shake(r, i, from, to > from ? 1 : -1);
        add_run(r, from, to);
        if (i == FAST / 2)
            add_tick(r, 1);
    }
    add_tick(r, 2);
}

/* Above the first rung that loses steps nothing of a ladder counts, so an axis need not home after each: only where
 * what several lose could take it to its switch or off the paper, and before the next ladder. `room`: from the ticks to
 * the edge of the paper. */
static void add_ladders(Rung *rungs_of_axis, double room)
{
    double near = 0, far = 0;
    for (int i = 0; i < ALL_RUNGS; i++) {
        Rung *r = &rungs_of_axis[i];
        const double at = r->axis == 0 ? r->at.x : r->at.y;
        const double next_near = most_lost_near * r->run_mm, next_far = most_lost_far * r->run_mm;
        const gboolean tight =
            near + next_near + clear_mm > at || far + next_far + r->run_mm > room;
        if (i > 0 && (tight || i % RUNGS == 0)) {
            add_home(r, near);
            near = far = 0;
        }
        add_rung(r);
        near += next_near;
        far += next_far;
    }
    add_home(&rungs_of_axis[ALL_RUNGS - 1], near);
}

/* The longest run: what one loses towards the switch and three lose away from it leaves the axis within its
 * travel. */
static double room_to_run(const DtProfile *p, int axis)
{
    return MIN(longest_run_mm, (p->travel[axis] - 2 * clear_mm) / 5);
}

static double limit_implied(double value, DtErrorKind kind)
{
    return value / dt_truing_limit_share(kind);
}

static Rung rung_of(DtTestSheet *s, const DtProfile *p, int axis, int ladder, int i)
{
    const double k = rungs[ladder][i], room = room_to_run(p, axis);
    Rung r = {.sheet = s,
              .p = p,
              .axis = axis,
              .ladder = ladder,
              .rung = i + 1,
              .speed = p->speed[axis],
              .acceleration = p->acceleration[axis],
              .start = p->pull_in[axis]};
    if (ladder == SPEED) {
        r.speed = k * limit_implied(r.speed, DT_ERROR_OF_SPEED);
        r.acceleration = MAX(gentle * r.acceleration, r.speed * r.speed / (room - cruise_mm));
        r.start = slow(p);
    } else {
        r.acceleration = k * limit_implied(r.acceleration, DT_ERROR_OF_ACCELERATION);
        r.start = dt_sheet_jump(p, axis, r.acceleration);
    }
    r.start = MIN(r.start, r.speed);
    r.run_mm = CLAMP(r.speed * r.speed / r.acceleration + cruise_mm, least_run_mm, room);
    return r;
}

static gboolean add_name(DtTestSheet *s, const Rung *r, GError **error)
{
    static const char *const words[LADDERS] = {"V", "A"};
    char text[8];
    if (r->rung == 1)
        g_snprintf(text, sizeof text, "%c%s1", r->axis == 0 ? 'X' : 'Y', words[r->ladder]);
    else
        g_snprintf(text, sizeof text, "%d", r->rung);
    const DtPoint at = r->axis == 0 ? place(r, -1.5, -0.8) : place(r, -3.2, 0.4);
    const gboolean named =
        r->rung % 3 == 1 && r->rung < RUNGS; /* the last is beside the next ladder */
    return !named ||
           dt_sheet_add_text(s, DT_SHEET_SPEED, text, at, 1.6, r->axis == 0 ? 1 : 0.5, error);
}

/* At the controller's own limits a usual feed would be a start without a ramp. */
static void draw_letters_slowly(DtTestSheet *s, const DtProfile *p)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_LETTER)
            s->marks[i].feed_mm_s = slow(p);
}

gboolean dt_sheet_add_speed(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double rows = ALL_RUNGS * row_mm + (LADDERS - 1) * ladder_gap_mm;
    const double a_few = 5; /* rungs of the shortest runs need no homing between */
    DtPoint at[2];          /* of the first tick of each axis */
    for (int axis = 0; axis < 2; axis++) {
        const double start = clear_mm + MAX(room_to_run(p, axis), a_few * least_run_mm);
        at[axis] = axis == 0 ? dt_point(MAX(area.x0 + names_mm, start), area.y0 + tick_mm)
                             : dt_point(at[0].x + gap_mm, MAX(area.y0 + names_mm, start));
    }
    if (!dt_sheet_need_room(area, at[1].x - area.x0 + rows, MAX(rows, at[1].y - area.y0 + tick_mm),
                            "speed", error))
        return FALSE;
    for (int axis = 0; axis < 2; axis++) {
        Rung ladders[ALL_RUNGS];
        for (int i = 0; i < ALL_RUNGS; i++) {
            const double across = i * row_mm + i / RUNGS * ladder_gap_mm;
            ladders[i] = rung_of(s, p, axis, i / RUNGS, i % RUNGS);
            ladders[i].at = axis == 0 ? dt_point(at[0].x, at[0].y + across)
                                      : dt_point(at[1].x + across, at[1].y);
            if (!add_name(s, &ladders[i], error))
                return FALSE;
        }
        add_ladders(ladders, axis == 0 ? area.x1 - at[0].x : area.y1 - at[1].y);
    }
    draw_letters_slowly(s, p);
    return TRUE;
}
