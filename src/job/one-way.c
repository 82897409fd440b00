/* one-way: cost and gain of drawing fills in one direction only. */
#include "job/private.h"

#include <math.h>

static double most_lost(const DtTable *t)
{
    double most = 0;
    for (size_t i = 0; i < t->n; i++)
        most = MAX(most, t->value[i]);
    return most;
}

void dt_job_set_one_way(const DtProfile *p, DtRouteOptions *o)
{
    const double lost[2] = {most_lost(&p->backlash[0]), most_lost(&p->backlash[1])};
    o->one_way_axis = lost[0] > lost[1] ? 0 : 1;
    o->run_in = MAX(o->run_in, 1.5 * MAX(lost[0], lost[1]));
}

/* Moves as if there were no lost motion. */
static gboolean plan_uncorrected(const DtProfile *p, const DtSequence *q, DtMoves *out,
                                 GError **error)
{
    DtProfile without = *p; /* shares what it points to, and is not freed */
    without.backlash[0].n = without.backlash[1].n = 0;
    return dt_machine_moves(&without, q, out, error);
}

typedef struct {
    double sum, mm;
} Errors;

/* Distance of a point from a line, along the axis, mm. */
static double off_along(DtPoint p, DtPoint a, DtPoint b, int axis)
{
    DtPoint d = dt_point_sub(b, a);
    double n = dt_point_dot(d, d);
    double f = n > 0 ? CLAMP(dt_point_dot(dt_point_sub(p, a), d) / n, 0, 1) : 0;
    DtPoint off = dt_point_sub(p, dt_point_lerp(a, b, f));
    return fabs(axis ? off.y : off.x);
}

/* One drawn move in short steps: where the carriage follows, compared with the line that the tip
 * should draw. */
static void follow_line(DtCarriage *c, const DtMove *from, const DtMove *to, int axis, Errors *e)
{
    enum { PER_MM = 5 };
    double mm = dt_point_distance(from->ink, to->ink);
    size_t n = 1 + (size_t)(mm * PER_MM);
    for (size_t k = 1; k <= n; k++) {
        double f = (double)k / (double)n;
        DtPoint ink = dt_carriage_drive(c, dt_point_lerp(from->to, to->to, f));
        DtPoint at = dt_point_add(ink, c->profile->rack.pens[to->pen].offset);
        e->sum += off_along(at, from->ink, to->ink, axis) * mm / (double)n;
    }
    e->mm += mm;
}

static gboolean is_fill(const DtStrokes *s, const DtSequence *q, const DtMove *m)
{
    return s->strokes[q->polylines[m->polyline].stroke].kind == DT_INK_FILL;
}

/* Of the fills. */
static double mean_error(const DtProfile *p, const DtStrokes *s, const DtSequence *q,
                         const DtMoves *m, int axis)
{
    DtCarriage carriage;
    Errors e = {0, 0};
    dt_carriage_init(&carriage, p);
    for (size_t i = 1; i < m->n && !dt_work_stopped(); i++) {
        const DtMove *move = &m->m[i];
        if (move->kind == DT_MOVE_DRAW && is_fill(s, q, move)) {
            follow_line(&carriage, &m->m[i - 1], move, axis, &e);
            continue;
        }
        dt_carriage_drive(&carriage, move->to);
    }
    return e.mm > 0 ? e.sum / e.mm : 0;
}

static gboolean weigh(const DtProfile *p, const DtStrokes *s, const DtSequence *q, double *time_s,
                      double *error_mm, int axis, GError **error)
{
    g_auto(DtMoves) moves = {0}, uncorrected = {0};
    if (!dt_machine_moves(p, q, &moves, error) || !plan_uncorrected(p, q, &uncorrected, error))
        return FALSE;
    DtTimes t;
    dt_code_times(p, &moves, FALSE, &t);
    *time_s = t.total_s;
    *error_mm = mean_error(p, s, q, &uncorrected, axis);
    return TRUE;
}

gboolean dt_job_weigh_one_way(const DtProfile *p, const DtRouteOptions *one_way, DtJob *job,
                              GError **error)
{
    DtOneWay *w = &job->one_way;
    DtRouteOptions both = *one_way;
    g_auto(DtSequence) q = {0};
    DtCost cost = dt_profile_cost(p);
    both.one_way = FALSE;
    w->axis = one_way->one_way_axis;
    w->lost = most_lost(&p->backlash[w->axis]);
    return dt_route_order(&job->strokes, &cost, &p->rack, &both, &q, error) &&
           weigh(p, &job->strokes, &q, &w->time_s[0], &w->error_mm[0], w->axis, error) &&
           weigh(p, &job->strokes, &job->sequence, &w->time_s[1], &w->error_mm[1], w->axis, error);
}
