/* time: how long do moves take? Acceleration-limited, axis by axis, with look-ahead. */
#include "drawtrue/machine.h"
#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* A straight block between two points where the path is given: length in commanded mm, unit
 * direction, fastest speed and acceleration along it. */
typedef struct {
    double length, speed, acceleration;
    DtPoint u;
    size_t move;
} Block;

/* Blocks that follow each other without a full stop. */
typedef struct {
    Block *b;
    double *junction; /* n + 1 speeds: junction[i] where block i begins */
    size_t n, cap;
} Stretch;

typedef struct {
    const DtProfile *p;
    const DtMoves *m;
    DtCost cost;
    Stretch stretch;
    DtTimes *out;
    double now; /* the end of the last move, changes left out */
    DtPoint at; /* commanded */
} Clock;

/* The largest speed v for which v*|d_i| is within the pull-in of both axes; d is a change of the
 * unit direction, and the direction itself for a start from rest. */
static double pull_in_speed(const DtCost *c, DtPoint d)
{
    double v = G_MAXDOUBLE;
    if (fabs(d.x) > 1e-12)
        v = MIN(v, c->pull_in[0] / fabs(d.x));
    if (fabs(d.y) > 1e-12)
        v = MIN(v, c->pull_in[1] / fabs(d.y));
    return v;
}

static void add_block(Clock *c, size_t move, DtPoint to, double feed)
{
    DtPoint d = dt_point_sub(to, c->at);
    double length = hypot(d.x, d.y);
    c->at = to;
    if (!(length > 0))
        return;
    Stretch *s = &c->stretch;
    if (s->n == s->cap) {
        s->cap = MAX(64, 2 * s->cap);
        s->b = g_renew(Block, s->b, s->cap);
        s->junction = g_renew(double, s->junction, s->cap + 1);
    }
    s->b[s->n++] = (Block){.length = length,
                           .speed = MIN(feed, dt_route_speed_along(&c->cost, d)),
                           .acceleration = dt_route_acceleration_along(&c->cost, d),
                           .u = dt_point_scale(d, 1 / length),
                           .move = move};
}

/* Speeds at the junctions: the corner limits, then lowered until every block can reach them. */
static void look_ahead(Stretch *s, const DtCost *c)
{
    double *v = s->junction;
    size_t n = s->n;
    v[0] = MIN(s->b[0].speed, pull_in_speed(c, s->b[0].u));
    v[n] = MIN(s->b[n - 1].speed, pull_in_speed(c, s->b[n - 1].u));
    for (size_t i = 1; i < n; i++)
        v[i] = MIN(MIN(s->b[i - 1].speed, s->b[i].speed),
                   pull_in_speed(c, dt_point_sub(s->b[i].u, s->b[i - 1].u)));
    for (size_t i = n; i > 0; i--)
        v[i - 1] =
            MIN(v[i - 1], sqrt(v[i] * v[i] + 2 * s->b[i - 1].acceleration * s->b[i - 1].length));
    for (size_t i = 0; i < n; i++)
        v[i + 1] = MIN(v[i + 1], sqrt(v[i] * v[i] + 2 * s->b[i].acceleration * s->b[i].length));
}

/* Time of one block between two speeds: trapezoid, or triangle where it is too short to reach its
 * full speed (Biagiotti and Melchiorri 2008, 3.2.3). */
static double block_s(const Block *b, double v0, double v1)
{
    double a = b->acceleration, v = b->speed;
    double top2 = a * b->length + (v0 * v0 + v1 * v1) / 2;
    if (top2 <= v * v)
        return (2 * sqrt(top2) - v0 - v1) / a;
    double ramps = (v * v - (v0 * v0 + v1 * v1) / 2) / a;
    return (2 * v - v0 - v1) / a + (b->length - ramps) / v;
}

static void add_time(DtTimes *t, DtMoveKind kind, double s)
{
    t->total_s += s;
    switch (kind) {
    case DT_MOVE_DRAW:
        t->ink_s += s;
        break;
    case DT_MOVE_HOME:
        t->home_s += s;
        break;
    case DT_MOVE_PEN_UP:
    case DT_MOVE_PEN_DOWN:
        t->lift_s += s;
        break;
    case DT_MOVE_SLACK:
        t->slack_s += s;
        t->travel_s += s;
        break;
    default:
        t->travel_s += s;
    }
}

/* Full stop: what has been gathered is moved along. */
static void stop(Clock *c)
{
    Stretch *s = &c->stretch;
    if (s->n == 0)
        return;
    look_ahead(s, &c->cost);
    for (size_t i = 0; i < s->n; i++) {
        double t = block_s(&s->b[i], s->junction[i], s->junction[i + 1]);
        add_time(c->out, c->m->m[s->b[i].move].kind, t);
        c->now += t;
        if (c->out->at_s)
            c->out->at_s[s->b[i].move] = c->now;
    }
    s->n = 0;
}

static double distance(DtPoint a, DtPoint b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

static void stand(Clock *c, size_t i, double s)
{
    stop(c);
    add_time(c->out, c->m->m[i].kind, s);
    c->now += s;
    if (c->out->at_s)
        c->out->at_s[i] = c->now;
}

/* Homing: each axis in turn runs to its switch, off it, slowly to it again and off by a little.
 * Where the carriage stands at first is not known: as likely as not at home, else anywhere, hence a
 * quarter of the travel in the mean. Controllers home at about two thirds of their fastest (common
 * practice, no source). */
double dt_machine_home_s(const DtProfile *p)
{
    enum { OFF_MM = 3, SHARE = 4 };
    double fast = MIN(p->speed[0], p->speed[1]) * 2 / 3, s = 0;
    for (int a = 0; a < 2; a++) {
        double slow = CLAMP(p->pull_in[a], 0.5, fast);
        s += (p->travel[a] / SHARE + 2 * OFF_MM) / fast + OFF_MM / slow;
    }
    return s;
}

static void take(Clock *c, size_t i)
{
    const DtMove *m = &c->m->m[i];
    DtPoint ink_before = i > 0 ? c->m->m[i - 1].ink : m->ink;
    switch (m->kind) {
    case DT_MOVE_HOME:
        stand(c, i, dt_machine_home_s(c->p));
        c->at = dt_point(0, 0);
        return;
    case DT_MOVE_TRAVEL:
    case DT_MOVE_END:
        c->out->travel_mm += distance(c->at, m->to);
        add_block(c, i, m->to, G_MAXDOUBLE);
        return;
    case DT_MOVE_DRAW:
        c->out->ink_mm += distance(ink_before, m->ink);
        add_block(c, i, m->to, m->feed_mm_s > 0 ? m->feed_mm_s : G_MAXDOUBLE);
        return;
    case DT_MOVE_SLACK:
        add_block(c, i, m->to, m->feed_mm_s > 0 ? m->feed_mm_s : G_MAXDOUBLE);
        return;
    case DT_MOVE_PEN_UP:
        c->out->lifts++;
        stand(c, i, c->cost.lift_s);
        return;
    case DT_MOVE_PEN_DOWN:
        stand(c, i, c->cost.drop_s);
        return;
    case DT_MOVE_PEN_CHANGE:
        stop(c);
        c->out->changes++;
        c->out->change_s += c->cost.change_s;
        return;
    }
}

void dt_machine_time(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out)
{
    memset(out, 0, sizeof *out);
    if (each) {
        out->at_s = g_new(double, MAX(m->n, 1));
        for (size_t i = 0; i < m->n; i++)
            out->at_s[i] = -1;
    }
    Clock c = {.p = p, .m = m, .cost = dt_profile_cost(p), .out = out};
    for (size_t i = 0; i < m->n && !dt_work_stopped(); i++)
        take(&c, i);
    stop(&c);
    for (size_t i = 0; each && i < m->n; i++)
        if (out->at_s[i] < 0) /* took no time */
            out->at_s[i] = i > 0 ? out->at_s[i - 1] : 0;
    g_free(c.stretch.b);
    g_free(c.stretch.junction);
}

void dt_times_clear(DtTimes *t)
{
    g_free(t->at_s);
    t->at_s = NULL;
}
