/* feeds: reduces speeds to what a slow wire can keep up with.
 *
 * If lines arrive more slowly than the motors carry them out, the controller runs out of blocks
 * and stops at the end of each. Driving slower by just that factor takes no longer and avoids
 * the stops: over any few consecutive lines the motion takes at least as long as the
 * transmission of their bytes. */
#include "machine/tidy.h"

#include "drawtrue/work.h"

#include <math.h>

enum {
    AROUND = 7,   /* lines before and after a line that share their time: fewer than are planned
                 * ahead */
    SENDERS = 14, /* bytes of a line: "N12345", "(*1A2B)" and its end */
};

/* As many digits after the point as a step needs. */
static double number_bytes(double v, double steps_per_mm)
{
    const double whole = fabs(v) >= 100 ? 3 : fabs(v) >= 10 ? 2 : 1;
    return 2 + whole + ceil(log10(MAX(steps_per_mm, 1)) - 0.3);
}

static double line_bytes(const DtProfile *p, const DtMove *m, const DtMove *before)
{
    double n = p->dialect.line_check ? SENDERS : 1;
    if (m->to.x != before->to.x)
        n += number_bytes(m->to.x, p->steps_per_mm[0]);
    if (m->to.y != before->to.y)
        n += number_bytes(m->to.y, p->steps_per_mm[1]);
    return n + (fabs(m->feed_mm_s - before->feed_mm_s) > 1e-9 ? 4 : 0);
}

static gboolean is_drawn(const DtMove *m)
{
    return m->kind == DT_MOVE_DRAW || m->kind == DT_MOVE_SLACK;
}

/* Cumulative times up to each move, of the motors and of the wire. */
typedef struct {
    double *motors_s, *wire_s;
} Sums;

static Sums sum_up(const DtProfile *p, const DtMoves *m)
{
    enum { BITS = 10 };
    DtTimes t;
    dt_machine_time(p, m, TRUE, &t);
    Sums s = {t.at_s, g_new0(double, m->n + 1)};
    for (size_t i = 1; i < m->n; i++)
        s.wire_s[i] =
            s.wire_s[i - 1] + (is_drawn(&m->m[i])
                                   ? BITS * line_bytes(p, &m->m[i], &m->m[i - 1]) / p->dialect.baud
                                   : 0);
    return s;
}

/* Ratio by which the motors are faster than the wire around a move; 1 if they are not. */
static double excess(const DtMoves *m, const Sums *s, size_t i)
{
    size_t from = i, to = i;
    while (i - from < AROUND && from > 1 && is_drawn(&m->m[from - 1]))
        from--;
    while (to - i < AROUND && to + 1 < m->n && is_drawn(&m->m[to + 1]))
        to++;
    const double motors = s->motors_s[to] - s->motors_s[from - 1];
    const double wire = s->wire_s[to] - s->wire_s[from - 1];
    return motors > 0 ? MAX(1, wire / motors) : 1;
}

void dt_feeds_for_wire(const DtProfile *p, DtMoves *m)
{
    Sums s = sum_up(p, m);
    for (size_t i = 1; i < m->n && !dt_work_stopped(); i++) {
        if (!is_drawn(&m->m[i]))
            continue;
        const double more = excess(m, &s, i);
        const double took = s.motors_s[i] - s.motors_s[i - 1];
        const double mm = dt_point_distance(m->m[i].to, m->m[i - 1].to);
        if (more > 1 && took > 0)
            m->m[i].feed_mm_s = MIN(m->m[i].feed_mm_s, dt_feeds_step(mm / took / more));
    }
    g_free(s.motors_s);
    g_free(s.wire_s);
}

double dt_feeds_step(double speed)
{
    const double step = 1.1;
    return pow(step, floor(log(speed) / log(step) + 1e-9));
}
