/* clock: the time of a stream of moves. */
#include "clock.h"

#include <math.h>

void dt_clock_init(DtClock *c, const DtProfile *p)
{
    c->n = 0;
    c->seconds = c->enter2 = c->ux = c->uy = 0;
    for (int i = 0; i < 2; i++) {
        c->speed[i] = p->speed[i];
        c->acceleration[i] = p->acceleration[i];
        c->pull_in[i] = p->pull_in[i];
    }
}

/* The least of limit[i] / |u[i]|: what an axis allows along a direction. */
static inline double along(const double limit[2], double ux, double uy)
{
    double x = fabs(ux), y = fabs(uy);
    double a = x > 1e-12 ? limit[0] / x : G_MAXDOUBLE, b = y > 1e-12 ? limit[1] / y : G_MAXDOUBLE;
    return MIN(a, b);
}

static inline double square(double v)
{
    return v < 1e150 ? v * v : G_MAXDOUBLE;
}

static inline double block_time(const DtClockBlock *b, double v0_2, double v1_2)
{
    double peak2 = MIN(b->top2, (b->twice_a * b->length + v0_2 + v1_2) / 2);
    double peak = sqrt(peak2), v0 = sqrt(v0_2), v1 = sqrt(v1_2);
    double ramps = (2 * peak2 - v0_2 - v1_2) / b->twice_a;
    return 2 * (2 * peak - v0 - v1) / b->twice_a + MAX(0, b->length - ramps) / peak;
}

/* Does the first `done` blocks; the last of the buffer ends at `exit2` at most. */
static void finish(DtClock *c, int done, double exit2)
{
    double reach[CLOCK_BLOCKS + 1]; /* fastest entry that can still be braked from */
    reach[c->n] = exit2;
    for (int i = c->n - 1; i >= 0; i--) {
        const DtClockBlock *b = &c->block[i];
        reach[i] = MIN(i == 0 ? c->enter2 : b->entry2, reach[i + 1] + b->twice_a * b->length);
    }
    double v2 = MIN(c->enter2, reach[0]);
    for (int i = 0; i < done; i++) {
        const DtClockBlock *b = &c->block[i];
        double next2 = MIN(reach[i + 1], v2 + b->twice_a * b->length);
        c->seconds += block_time(b, v2, next2);
        v2 = next2;
    }
    for (int i = done; i < c->n; i++)
        c->block[i - done] = c->block[i];
    c->n -= done;
    c->enter2 = v2;
}

void dt_clock_move(DtClock *c, double dx, double dy, double length, double feed)
{
    if (c->n == CLOCK_BLOCKS)
        finish(c, CLOCK_BLOCKS / 2, c->block[CLOCK_BLOCKS - 1].rest2);
    double ux = dx / length, uy = dy / length;
    DtClockBlock *b = &c->block[c->n];
    double top = MIN(along(c->speed, ux, uy), feed);
    b->length = length;
    b->top2 = square(top);
    b->twice_a = 2 * along(c->acceleration, ux, uy);
    b->rest2 = MIN(b->top2, square(along(c->pull_in, ux, uy)));
    if (c->n == 0) {
        c->enter2 = b->entry2 = b->rest2;
    } else {
        double junction = along(c->pull_in, ux - c->ux, uy - c->uy);
        b->entry2 = MIN(MIN(b->top2, c->block[c->n - 1].top2), square(junction));
    }
    c->ux = ux;
    c->uy = uy;
    c->n++;
}

void dt_clock_stop(DtClock *c)
{
    if (c->n > 0)
        finish(c, c->n, c->block[c->n - 1].rest2);
}
