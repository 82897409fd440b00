/* clock: the time of a stream of moves. */
#include "drawtrue/clock.h"

#include <math.h>

void dt_clock_init(DtClock *c, const DtProfile *p)
{
    c->n = 0;
    c->seconds = c->rough_s = c->enter2 = c->ux = c->uy = 0;
    c->tag = 0;
    c->took = NULL;
    for (int i = 0; i < 2; i++) {
        c->speed[i] = p->speed[i];
        c->acceleration[i] = p->acceleration[i];
        c->pull_in[i] = p->pull_in[i];
    }
}

/* The least of limit[i] / |u[i]|: what an axis allows along a direction. */
static inline double along(const double limit[2], double ux, double uy)
{
    static const double none = 1e-12; /* of a direction: rounding, and no way along the axis */
    double x = fabs(ux), y = fabs(uy);
    if (limit[0] * y < limit[1] * x && x > none)
        return limit[0] / x;
    return y > none ? limit[1] / y : x > none ? limit[0] / x : G_MAXDOUBLE;
}

static inline double square(double v)
{
    return v < 1e150 ? v * v : G_MAXDOUBLE;
}

/* The highest speed, squared, from or to rest in the direction in which the last block ends. */
static double rest2(const DtClock *c)
{
    return MIN(c->block[c->n - 1].top2, square(along(c->pull_in, c->ux, c->uy)));
}

/* From the squared speed *v2 (and *v) to next2. */
static inline double block_time(const DtClockBlock *b, double *v, double v2, double next2)
{
    double peak2 = (b->twice_a * b->length + v2 + next2) / 2;
    double peak = peak2 >= b->top2 ? b->top : sqrt(peak2);
    double next = sqrt(next2), per_a = 1 / b->twice_a, before = *v;
    peak2 = MIN(peak2, b->top2);
    double ramps = (2 * peak2 - v2 - next2) * per_a;
    *v = next;
    return 2 * (2 * peak - before - next) * per_a + MAX(0, b->length - ramps) / peak;
}

/* Carries out the first `done` blocks; the last block of the buffer ends at `exit2` at most. */
static void finish(DtClock *c, int done, double exit2)
{
    double reach[DT_CLOCK_BLOCKS + 1]; /* highest entry speed, squared, from which the rest can
                                        * still be braked */
    reach[c->n] = exit2;
    for (int i = c->n - 1; i >= 0; i--) {
        const DtClockBlock *b = &c->block[i];
        reach[i] = MIN(i == 0 ? c->enter2 : b->entry2, reach[i + 1] + b->twice_a * b->length);
    }
    double v2 = MIN(c->enter2, reach[0]), v = sqrt(v2);
    for (int i = 0; i < done; i++) {
        const DtClockBlock *b = &c->block[i];
        double next2 = MIN(reach[i + 1], v2 + b->twice_a * b->length);
        const double seconds = block_time(b, &v, v2, next2);
        c->seconds += seconds;
        c->rough_s -= b->rough_s;
        if (c->took != NULL)
            c->took(b->tag, seconds, c->user);
        v2 = next2;
    }
    for (int i = done; i < c->n; i++)
        c->block[i - done] = c->block[i];
    c->n -= done;
    c->rough_s = c->n > 0 ? c->rough_s : 0;
    c->enter2 = v2;
}

/* Room for one more block. */
static DtClockBlock *next_block(DtClock *c)
{
    if (c->n == DT_CLOCK_BLOCKS)
        finish(c, DT_CLOCK_BLOCKS / 2, rest2(c));
    return &c->block[c->n];
}

/* The block is complete except for its entry speed, which depends on its first direction. */
static void add_block(DtClock *c, DtClockBlock *b, double ux, double uy)
{
    b->top2 = square(b->top);
    b->tag = c->tag;
    b->rough_s = b->length / b->top;
    c->rough_s += b->rough_s;
    if (c->n == 0) {
        c->enter2 = b->entry2 = MIN(b->top2, square(along(c->pull_in, ux, uy)));
    } else {
        double junction = along(c->pull_in, ux - c->ux, uy - c->uy);
        b->entry2 = MIN(MIN(b->top2, c->block[c->n - 1].top2), square(junction));
    }
    c->n++;
}

void dt_clock_move(DtClock *c, double dx, double dy, double length, double feed)
{
    DtClockBlock *b = next_block(c);
    double per_length = 1 / length, ux = dx * per_length, uy = dy * per_length;
    b->length = length;
    b->top = MIN(along(c->speed, ux, uy), feed);
    b->twice_a = 2 * along(c->acceleration, ux, uy);
    add_block(c, b, ux, uy);
    c->ux = ux;
    c->uy = uy;
}

void dt_clock_arc(DtClock *c, const double leave[2], const double arrive[2], double length,
                  double feed, double turn)
{
    DtClockBlock *b = next_block(c);
    double x = (leave[0] + arrive[0]) / 2, y = (leave[1] + arrive[1]) / 2;
    double corner = along(c->pull_in, y, x) / turn; /* directions change across the way */
    b->length = length;
    b->top = MIN(MIN(along(c->speed, x, y), feed), corner);
    b->twice_a = 2 * along(c->acceleration, x, y);
    add_block(c, b, leave[0], leave[1]);
    c->ux = arrive[0];
    c->uy = arrive[1];
}

void dt_clock_stop(DtClock *c)
{
    if (c->n > 0)
        finish(c, c->n, rest2(c));
}
