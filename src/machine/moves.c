/* moves: turns a sequence of strokes into motion of the drives.
 *
 * On each axis the carriage c stands within the slack of its drive m: m <= c <= m + lost(c).
 * Driven towards + it has c = m, driven towards - c = m + lost(c), and in between it stands
 * still. Both are tracked exactly here, in commanded mm, so that every stroke starts with the
 * slack on the side of its first motion, and every reversal within it first takes up the slack
 * that is really there. */
#include "machine/tidy.h"
#include "machine/twist.h"

#include "drawtrue/clock.h"
#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void dt_moves_init(DtMoves *m)
{
    *m = (DtMoves){NULL, 0, 0};
}

void dt_moves_clear(DtMoves *m)
{
    g_free(m->m);
    dt_moves_init(m);
}

void dt_moves_append(DtMoves *m, const DtMove *move)
{
    if (m->n == m->cap) {
        m->cap = m->cap ? m->cap * 2 : 256;
        m->m = g_renew(DtMove, m->m, m->cap);
    }
    m->m[m->n++] = *move;
}

typedef DtCarriagePoint Pair;

typedef struct {
    const DtProfile *p;
    DtCost cost;
    DtMoves *out;
    Pair drive, carriage; /* commanded mm */
    gboolean twists;
    double lean[2]; /* of the carriages; see DtCarriage */
    uint16_t pen;
    size_t polyline;
    Pair least, most;       /* extremes of the drives so far */
    size_t beyond_polyline; /* the first run that leaves the travel */
    gboolean beyond;
    double thin;        /* see dt_machine_moves_thinned() */
    double believed_mm; /* the middle of a longer line does not prove that it is straight; 0: the
                         * middle is enough */
    DtClock clock;
    GArray *splits; /* scratch of draw_line() */
    GArray *given;  /* of Pair: where the carriage is to go in one run */
    GArray *points; /* of Pair: where it is sent */
    GArray *spare;  /* of Pair: scratch */
} Machine;

static DtPoint tip(const Machine *m)
{
    const DtPoint c = dt_point(m->carriage.at[0], m->carriage.at[1]);
    const DtPoint shift = m->twists ? dt_twist_shift(m->p, c, m->lean) : dt_point(0, 0);
    DtPoint at = dt_machine_ink_at(m->p, dt_point_add(c, shift));
    return dt_point_add(at, m->p->rack.pens[m->pen].offset);
}

static void append(Machine *m, DtMoveKind kind, double feed)
{
    const DtMove move = {.kind = kind,
                         .to = dt_point(m->drive.at[0], m->drive.at[1]),
                         .ink = tip(m),
                         .feed_mm_s = feed,
                         .pen = m->pen,
                         .polyline = m->polyline};
    dt_moves_append(m->out, &move);
}

static DtPoint place(Pair c)
{
    return dt_point(c.at[0], c.at[1]);
}

static double speed_along(const Machine *m, DtPoint way)
{
    const double speed = dt_route_speed_along(&m->cost, way);
    return m->thin > 0 ? dt_feeds_step(speed) : speed;
}

/* Sends the drives to `to`; the caller passes the carriage, which it knows exactly. */
static void drive_to(Machine *m, DtMoveKind kind, Pair to, Pair carriage)
{
    DtPoint way = {to.at[0] - m->drive.at[0], to.at[1] - m->drive.at[1]};
    for (int i = 0; i < 2; i++) {
        m->least.at[i] = MIN(m->least.at[i], to.at[i]);
        m->most.at[i] = MAX(m->most.at[i], to.at[i]);
        if (!m->beyond && (to.at[i] < -1e-9 || to.at[i] > m->p->travel[i] + 1e-9)) {
            m->beyond = TRUE;
            m->beyond_polyline = m->polyline;
        }
    }
    m->drive = to;
    if (m->twists)
        dt_twist_lean(m->p, m->lean, place(m->carriage), place(carriage));
    m->carriage = carriage;
    if (way.x != 0 || way.y != 0)
        append(m, kind, kind == DT_MOVE_TRAVEL ? 0 : speed_along(m, way));
}

static int sign(double v)
{
    return (v > 0) - (v < 0);
}

/* Drive position that holds a carriage at c that is about to move, or has moved, in direction d. */
static double drive_for(const Machine *m, int axis, double c, int d)
{
    return d < 0 ? c - dt_correct_lost(m->p, axis, c) : c;
}

/* Strokes ----------------------------------------------------------------------------------- */

static int rising(const void *a, const void *b)
{
    return sign(*(const double *)a - *(const double *)b);
}

/* Fractions of the way from a to b at which an axis moving towards - passes a corner of its
 * table. */
static void find_splits(const Machine *m, Pair a, Pair b)
{
    g_array_set_size(m->splits, 0);
    for (int i = 0; i < 2; i++) {
        const DtTable *t = &m->p->backlash[i];
        double way = b.at[i] - a.at[i];
        for (size_t k = 0; k < t->n && t->n > 1 && way < 0; k++) {
            double f = (t->at[k] / m->p->scale[i] - a.at[i]) / way;
            if (f > 1e-9 && f < 1 - 1e-9)
                g_array_append_val(m->splits, f);
        }
    }
    if (m->splits->len > 1)
        qsort(m->splits->data, m->splits->len, sizeof(double), rising);
}

static Pair along(Pair a, Pair b, double f)
{
    return (Pair){.at = {a.at[0] + f * (b.at[0] - a.at[0]), a.at[1] + f * (b.at[1] - a.at[1])}};
}

/* The share of the slack that is taken up at a point of a wait that began at `from` or earlier. */
static double taken_before(const Pair *from, const Pair *c, int axis)
{
    return from->turn[axis] == c->turn[axis] ? from->taken[axis] : 0;
}

/* Required drive positions when the carriage, on its way from `from` to `c`, is at `at`, a
 * fraction f of the way. An axis that waits takes up its slack meanwhile. */
static Pair drives_at(const Machine *m, const Pair *from, const Pair *c, Pair at, double f)
{
    Pair to = m->drive;
    for (int i = 0; i < 2; i++) {
        const int d = sign(c->at[i] - from->at[i]);
        if (d) {
            to.at[i] = drive_for(m, i, at.at[i], d);
        } else if (c->turn[i]) {
            const double before = taken_before(from, c, i);
            const double taken = before + f * (c->taken[i] - before);
            const double came = drive_for(m, i, at.at[i], -c->turn[i]);
            to.at[i] = came + taken * (drive_for(m, i, at.at[i], c->turn[i]) - came);
        }
    }
    return to;
}

/* Moves the carriage straight to c with the pen down. */
static void draw_line(Machine *m, const Pair *c)
{
    const Pair from = m->carriage;
    const gboolean stands = c->at[0] == from.at[0] && c->at[1] == from.at[1];
    const DtMoveKind kind = stands ? DT_MOVE_SLACK : DT_MOVE_DRAW;
    Pair taut = m->drive;
    for (int i = 0; i < 2; i++)
        if (c->at[i] != from.at[i])
            taut.at[i] = drive_for(m, i, from.at[i], sign(c->at[i] - from.at[i]));
    drive_to(m, DT_MOVE_SLACK, taut, from);
    find_splits(m, from, *c);
    for (guint k = 0; k <= m->splits->len; k++) {
        const double f = k < m->splits->len ? g_array_index(m->splits, double, k) : 1;
        const Pair at = f < 1 ? along(from, *c, f) : *c;
        drive_to(m, kind, drives_at(m, &from, c, at, f), at);
    }
}

/* Piece length where the map is curved: short compared with the knots of every table and with a
 * turn of the pulley, so that a bend that is zero in the middle of a line is not missed. */
static double believed_mm(const DtProfile *p)
{
    double mm = 5;
    if (!dt_machine_is_curved(p))
        return 0;
    for (int i = 0; i < 2; i++)
        if (p->pulley_error[i] > 0)
            mm = MIN(mm, dt_correct_turn_mm(p, i) / 8);
    return mm;
}

/* Adds the carriage's path for the ink's path to `to`, in as many pieces as keep it within a
 * quarter of a step if the map is curved. `from` is the previous point of the ink, `c` and `d`
 * those of the carriage. */
static void add_way(Machine *m, DtPoint from, DtPoint c, DtPoint to, DtPoint d, int depth)
{
    enum { DEEPEST = 14 };
    const double shortest_mm = 0.25;
    const double within = 0.25 / MAX(m->p->steps_per_mm[0], m->p->steps_per_mm[1]);
    const double way = dt_point_distance(from, to);
    if (m->believed_mm > 0 && depth < DEEPEST && way > shortest_mm) {
        const DtPoint half = dt_point_lerp(from, to, 0.5), e = dt_machine_command(m->p, half);
        if (way > m->believed_mm || dt_point_distance(e, dt_point_lerp(c, d, 0.5)) > within) {
            add_way(m, from, c, half, e, depth + 1);
            add_way(m, half, e, to, d, depth + 1);
            return;
        }
    }
    const Pair point = {.at = {d.x, d.y}};
    g_array_append_val(m->given, point);
}

/* The side to which the carriage leans when it arrives at the run's start depends on the path it
 * takes there. */
static void allow_for_twist(Machine *m, const DtPolyline *r, gboolean goes_on)
{
    double lean[2] = {m->lean[0], m->lean[1]};
    DtPoint from = place(m->carriage);
    if (r->has_run_in && !goes_on) {
        const DtPoint offset = m->p->rack.pens[r->pen].offset;
        const DtPoint run_in = dt_machine_command(m->p, dt_point_sub(r->run_in, offset));
        dt_twist_lean(m->p, lean, from, run_in);
        from = run_in;
    }
    dt_twist_run(m->p, from, lean, m->given, m->spare);
}

/* Carriage positions of a polyline's points from `first` to `last` into m->given. */
static gboolean load_run(Machine *m, const DtSequence *s, const DtPolyline *r, size_t first,
                         size_t last, GError **error)
{
    const DtPoint offset = m->p->rack.pens[r->pen].offset;
    DtPoint from = {0}, c = {0};
    g_array_set_size(m->given, 0);
    for (size_t i = first; i <= last; i++) {
        const DtPoint at = dt_point_sub(s->pts[r->first + i], offset);
        if (!isfinite(at.x) || !isfinite(at.y)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "stroke %zu has a point that is not finite", m->polyline + 1);
            return FALSE;
        }
        const DtPoint d = dt_machine_command(m->p, at);
        if (i == first) {
            const Pair point = {.at = {d.x, d.y}};
            g_array_append_val(m->given, point);
        } else {
            add_way(m, from, c, at, d, 0);
        }
        from = at;
        c = d;
    }
    if (m->twists)
        allow_for_twist(m, r, first > 0);
    dt_tidy_straighten(m->p, m->thin, m->given);
    return TRUE;
}

static const Pair *point_at(const Machine *m, size_t i)
{
    return &g_array_index(m->points, Pair, i);
}

/* The direction in which the run first moves along an axis; 0 if it never does. */
static int first_direction(const Machine *m, int axis)
{
    double start = point_at(m, 0)->at[axis];
    for (size_t i = 1; i < m->points->len; i++)
        if (point_at(m, i)->at[axis] != start)
            return sign(point_at(m, i)->at[axis] - start);
    return 0;
}

/* Time from rest at `from` through n points to rest, s. */
static double time_over(Machine *m, Pair from, const Pair *place, int n)
{
    DtClock *c = &m->clock;
    c->seconds = 0;
    for (int i = 0; i < n; i++) {
        const double dx = place[i].at[0] - from.at[0], dy = place[i].at[1] - from.at[1];
        const double length = sqrt(dx * dx + dy * dy);
        if (length > 0)
            dt_clock_move(c, dx, dy, length, G_MAXDOUBLE);
        from = place[i];
    }
    dt_clock_stop(c);
    return c->seconds;
}

/* Pen up from the present drive positions to `arrive` and back to `taut`, if one axis must come
 * back to take up its slack: it turns before the other axis has arrived, at the best moment for
 * the total time. `turns` is that axis. */
static void travel_and_return(Machine *m, Pair arrive, Pair taut, Pair start, int turns)
{
    enum { TRIES = 5, VIA = 2 };
    static const double lead = 0.1; /* share of the remaining way before the axis turns */
    const int other = 1 - turns;
    const double lost = fabs(taut.at[turns] - arrive.at[turns]);
    const double way = taut.at[other] - m->drive.at[other];
    Pair best[VIA + 1] = {arrive, arrive, taut};
    double best_s = time_over(m, m->drive, best, VIA + 1), left = lost / 4;
    for (int i = 0; i < TRIES && left < fabs(way); i++, left *= 2) {
        Pair via[VIA + 1] = {arrive, arrive, taut};
        via[0].at[other] = taut.at[other] - copysign(left, way);
        via[1].at[other] = taut.at[other] - copysign(left * (1 - lead), way);
        const double s = time_over(m, m->drive, via, VIA + 1);
        if (s < best_s) {
            best_s = s;
            memcpy(best, via, sizeof best);
        }
    }
    for (int i = 0; i < VIA; i++) {
        Pair carriage = start;
        carriage.at[other] =
            dt_machine_follow(m->p, other, m->carriage.at[other], best[i].at[other]);
        drive_to(m, DT_MOVE_TRAVEL, best[i], carriage);
    }
    const gboolean stands = m->carriage.at[other] == start.at[other];
    drive_to(m, stands ? DT_MOVE_SLACK : DT_MOVE_TRAVEL, taut, start);
}

/* Pen up to the run's start, arriving with the slack on the side of the run's first motion. */
static void travel_to_run(Machine *m)
{
    Pair start = *point_at(m, 0), arrive = m->drive, taut = m->drive;
    int turning = 0, turns = 0;
    for (int i = 0; i < 2; i++) {
        int came = sign(start.at[i] - m->carriage.at[i]), goes = first_direction(m, i);
        if (came)
            arrive.at[i] = taut.at[i] = drive_for(m, i, start.at[i], came);
        if (goes)
            taut.at[i] = drive_for(m, i, start.at[i], goes);
        if (!came) /* the carriage stands there already: the slack can be taken up on the way */
            arrive.at[i] = taut.at[i];
        if (arrive.at[i] != taut.at[i]) {
            turning++;
            turns = i;
        }
    }
    if (turning == 1) {
        travel_and_return(m, arrive, taut, start, turns);
        return;
    }
    drive_to(m, DT_MOVE_TRAVEL, arrive, start);
    drive_to(m, DT_MOVE_SLACK, taut, start);
}

/* Pen up to the place where the drives have these positions. */
static void travel_to_place(Machine *m, DtPoint place)
{
    Pair to = {.at = {place.x, place.y}}, carriage = to;
    for (int i = 0; i < 2; i++)
        carriage.at[i] = dt_machine_follow(m->p, i, m->carriage.at[i], to.at[i]);
    drive_to(m, DT_MOVE_TRAVEL, to, carriage);
}

/* Pen up to the place where the tip is at this position. */
static void travel_to_ink(Machine *m, DtPoint place)
{
    DtPoint c = dt_machine_command(m->p, dt_point_sub(place, m->p->rack.pens[m->pen].offset));
    Pair at = {.at = {c.x, c.y}}, to = m->drive;
    for (int i = 0; i < 2; i++) {
        int d = sign(at.at[i] - m->carriage.at[i]);
        if (d)
            to.at[i] = drive_for(m, i, at.at[i], d);
    }
    drive_to(m, DT_MOVE_TRAVEL, to, at);
}

/* Ways to draw a run --------------------------------------------------------------------------- */

/* State that drawing a run changes. */
typedef struct {
    Pair drive, carriage, least, most;
    double lean[2];
    gboolean beyond;
    size_t n; /* moves */
} State;

static State state_of(const Machine *m)
{
    return (State){m->drive,  m->carriage, m->least, m->most, {m->lean[0], m->lean[1]},
                   m->beyond, m->out->n};
}

static void set_state(Machine *m, const State *s)
{
    m->drive = s->drive;
    m->carriage = s->carriage;
    m->least = s->least;
    m->most = s->most;
    m->beyond = s->beyond;
    m->lean[0] = s->lean[0];
    m->lean[1] = s->lean[1];
    m->out->n = s->n;
}

/* Time of the moves since then, s. */
static double time_since(Machine *m, const State *since)
{
    DtClock *c = &m->clock;
    DtPoint at = dt_point(since->drive.at[0], since->drive.at[1]);
    c->seconds = 0;
    for (size_t i = since->n; i < m->out->n; i++) {
        const DtMove *v = &m->out->m[i];
        const DtPoint d = dt_point_sub(v->to, at);
        const double length = sqrt(dt_point_dot(d, d));
        if (v->kind == DT_MOVE_PEN_DOWN)
            dt_clock_stop(c);
        else if (length > 0)
            dt_clock_move(c, d.x, d.y, length,
                          v->kind == DT_MOVE_TRAVEL ? G_MAXDOUBLE : v->feed_mm_s);
        at = v->to;
    }
    dt_clock_stop(c);
    return c->seconds;
}

/* Travels to the run and draws it, or continues it. */
static void draw_by_rule(Machine *m, const DtWayRule *rule, gboolean goes_on)
{
    dt_tidy_run(m->p, m->given, rule, m->points, m->spare);
    if (!goes_on) {
        travel_to_run(m);
        append(m, DT_MOVE_PEN_DOWN, 0);
    }
    for (size_t i = 1; i < m->points->len && !dt_work_stopped(); i++)
        draw_line(m, point_at(m, i));
}

/* Draws the run by the rule that takes the least time. */
static void draw_soonest(Machine *m, gboolean goes_on)
{
    DtWayRule rules[DT_TIDY_RULES];
    const size_t n = dt_tidy_rules(m->p, m->thin, rules);
    const State before = state_of(m);
    double best_s = G_MAXDOUBLE;
    size_t best = 0;
    for (size_t i = 0; i < n; i++) {
        set_state(m, &before);
        draw_by_rule(m, &rules[i], goes_on);
        const double s = n > 1 ? time_since(m, &before) : 0;
        if (s < best_s) {
            best_s = s;
            best = i;
        }
    }
    if (best + 1 < n) {
        set_state(m, &before);
        draw_by_rule(m, &rules[best], goes_on);
    }
}

/* Points of a run that are processed together, which bounds the memory for very long ones. The
 * joint between two parts is drawn exactly. */
enum { PART = 200000 };

static gboolean draw_polyline(Machine *m, const DtSequence *s, const DtPolyline *r, GError **error)
{
    if (r->pen != m->pen) {
        travel_to_place(m, m->p->change_at);
        m->pen = r->pen;
        append(m, DT_MOVE_PEN_CHANGE, 0);
    }
    for (size_t first = 0; first == 0 || first + 1 < r->n; first += PART) {
        if (!load_run(m, s, r, first, MIN(first + PART, r->n - 1), error))
            return FALSE;
        if (r->has_run_in && first == 0)
            travel_to_ink(m, r->run_in);
        draw_soonest(m, first > 0);
    }
    append(m, DT_MOVE_PEN_UP, 0);
    return TRUE;
}

/*  ------------------------------------------------------------------------------------------ */

static gboolean refuse_beyond(const Machine *m, GError **error)
{
    g_autoptr(GString) s = g_string_new(NULL);
    for (int i = 0; i < 2; i++)
        if (m->least.at[i] < -1e-9 || m->most.at[i] > m->p->travel[i] + 1e-9)
            g_string_append_printf(s,
                                   _("%s%c from %.3f to %.3f mm where the machine travels from 0 "
                                     "to %g mm"),
                                   s->len ? _(", and ") : "", i ? 'y' : 'x', m->least.at[i],
                                   m->most.at[i], m->p->travel[i]);
    g_set_error(
        error, DT_ERROR, DT_ERROR_INPUT,
        "with the corrections the drawing needs %s (first at stroke %zu); nothing was moved",
        s->str, m->beyond_polyline + 1);
    return FALSE;
}

static gboolean check_sequence(const DtProfile *p, const DtSequence *s, GError **error)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->polylines[i].pen >= p->rack.n) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "stroke %zu wants pen %u of a rack of %zu",
                        i + 1, s->polylines[i].pen + 1u, p->rack.n);
            return FALSE;
        }
    return TRUE;
}

static gboolean fill_moves(Machine *m, const DtSequence *s, GError **error)
{
    append(m, DT_MOVE_PEN_UP, 0);
    append(m, DT_MOVE_HOME, 0);
    for (size_t i = 0; i < s->n; i++) {
        m->polyline = i;
        dt_work_report((double)i / (double)s->n);
        if (!dt_work_check(error))
            return FALSE;
        if (s->polylines[i].n && !draw_polyline(m, s, &s->polylines[i], error))
            return FALSE;
    }
    travel_to_place(m, m->p->park);
    append(m, DT_MOVE_END, 0);
    if (!dt_work_check(error))
        return FALSE;
    return !m->beyond || refuse_beyond(m, error);
}

gboolean dt_machine_moves(const DtProfile *p, const DtSequence *s, DtMoves *out, GError **error)
{
    return dt_machine_moves_thinned(p, s, 0, out, error);
}

gboolean dt_machine_moves_thinned(const DtProfile *p, const DtSequence *s, double thin,
                                  DtMoves *out, GError **error)
{
    if (!check_sequence(p, s, error))
        return FALSE;
    Machine m = {.p = p,
                 .thin = thin,
                 .believed_mm = believed_mm(p),
                 .twists = dt_machine_twists(p),
                 .lean = {1, 1},
                 .cost = dt_profile_cost(p),
                 .out = out,
                 .splits = g_array_new(FALSE, FALSE, sizeof(double)),
                 .given = g_array_new(FALSE, FALSE, sizeof(Pair)),
                 .points = g_array_new(FALSE, FALSE, sizeof(Pair)),
                 .spare = g_array_new(FALSE, FALSE, sizeof(Pair)),
                 .pen = s->n ? s->polylines[0].pen : 0};
    dt_clock_init(&m.clock, p);
    dt_moves_clear(out);
    gboolean good = fill_moves(&m, s, error);
    if (good && thin > 0)
        dt_feeds_for_wire(p, out);
    if (!good)
        dt_moves_clear(out);
    g_array_unref(m.splits);
    g_array_unref(m.given);
    g_array_unref(m.points);
    g_array_unref(m.spare);
    return good;
}
