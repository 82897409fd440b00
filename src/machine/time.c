/* time: how long moves take, by kind of move. */
#include "drawtrue/clock.h"
#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

typedef struct {
    const DtProfile *p;
    const DtMoves *m;
    DtCost cost;
    DtClock clock;
    DtTimes *out;
    gboolean down; /* the pen */
    double now;    /* the end of the last move, without changes */
    DtPoint at;    /* commanded */
    gboolean homed;
} Timing;

static void add_time(DtTimes *t, DtMoveKind kind, gboolean down, double s)
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
        t->slack_up_s += down ? 0 : s;
        t->travel_s += s;
        break;
    default:
        t->travel_s += s;
    }
}

static void take_time(Timing *t, size_t move, double s)
{
    add_time(t->out, t->m->m[move].kind, t->down, s);
    t->now += s;
    if (t->out->at_s)
        t->out->at_s[move] = t->now;
}

static void on_block(size_t move, double s, void *user)
{
    take_time(user, move, s);
}

static void go(Timing *t, size_t move, DtPoint to, double feed)
{
    const DtPoint d = dt_point_sub(to, t->at);
    const double length = hypot(d.x, d.y);
    t->at = to;
    t->clock.tag = move;
    if (length > 0)
        dt_clock_move(&t->clock, d.x, d.y, length, feed > 0 ? feed : G_MAXDOUBLE);
}

static void stand(Timing *t, size_t move, double s)
{
    dt_clock_stop(&t->clock);
    take_time(t, move, s);
}

/* Where the carriage starts is unknown: at home half of the time, otherwise anywhere, hence a
 * quarter of the travel on average. */
double dt_machine_home_s(const DtProfile *p)
{
    return dt_machine_home_from_s(p, dt_point(p->travel[0] / 4, p->travel[1] / 4));
}

/* Each axis in turn runs to its switch, off it, slowly to it again and a little off. Controllers
 * home at about two thirds of their top speed (common practice, no source). */
double dt_machine_home_from_s(const DtProfile *p, DtPoint from)
{
    enum { OFF_MM = 3 };
    const double fast = MIN(p->speed[0], p->speed[1]) * 2 / 3,
                 way[2] = {from.x, from.y}; /* which may be out of reach */
    double s = 0;
    for (int a = 0; a < 2; a++) {
        const double slow = CLAMP(p->pull_in[a], 0.5, fast);
        s += (CLAMP(way[a], 0, p->travel[a]) + 2 * OFF_MM) / fast + OFF_MM / slow;
    }
    return s;
}

static void take(Timing *t, size_t i)
{
    const DtMove *m = &t->m->m[i];
    DtPoint ink_before = i > 0 ? t->m->m[i - 1].ink : m->ink;
    switch (m->kind) {
    case DT_MOVE_HOME:
        stand(t, i, t->homed ? dt_machine_home_from_s(t->p, t->at) : dt_machine_home_s(t->p));
        t->at = dt_point(0, 0);
        t->homed = TRUE;
        return;
    case DT_MOVE_TRAVEL:
    case DT_MOVE_END:
        t->out->travel_mm += dt_point_distance(t->at, m->to);
        go(t, i, m->to, m->kind == DT_MOVE_TRAVEL ? m->feed_mm_s : 0);
        return;
    case DT_MOVE_DRAW:
        t->out->ink_mm += dt_point_distance(ink_before, m->ink);
        go(t, i, m->to, m->feed_mm_s);
        return;
    case DT_MOVE_SLACK:
        go(t, i, m->to, m->feed_mm_s);
        return;
    case DT_MOVE_PEN_UP:
        t->out->lifts++;
        stand(t, i, dt_move_wait_s(m, t->cost.lift_s));
        t->down = FALSE;
        return;
    case DT_MOVE_PEN_DOWN:
        stand(t, i, dt_move_wait_s(m, t->cost.drop_s));
        t->down = TRUE;
        return;
    case DT_MOVE_PEN_CHANGE:
    case DT_MOVE_TURN_PAPER:
        dt_clock_stop(&t->clock);
        t->out->changes++;
        t->out->change_s += t->cost.change_s;
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
    Timing t = {.p = p, .m = m, .cost = dt_profile_cost(p), .out = out};
    dt_clock_init(&t.clock, p);
    t.clock.took = on_block;
    t.clock.user = &t;
    for (size_t i = 0; i < m->n && !dt_work_stopped(); i++)
        take(&t, i);
    dt_clock_stop(&t.clock);
    for (size_t i = 0; each && i < m->n; i++)
        if (out->at_s[i] < 0) /* took no time */
            out->at_s[i] = i > 0 ? out->at_s[i - 1] : 0;
}

void dt_times_clear(DtTimes *t)
{
    g_free(t->at_s);
    t->at_s = NULL;
}
