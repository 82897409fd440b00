/* corners: cuts a corner with a chord. Each axis then changes its speed in two jumps instead of
 * one, so that the pen may pass at a higher speed. If an axis with slack turns round at the
 * corner, it waits there instead: waits.c. */
#include "machine/tidy.h"

#include <math.h>

typedef struct {
    DtPoint to; /* unit vector */
    double length;
} Line;

static Line line_between(const DtCarriagePoint *a, const DtCarriagePoint *b)
{
    const double dx = b->at[0] - a->at[0], dy = b->at[1] - a->at[1];
    const double length = sqrt(dx * dx + dy * dy);
    return (Line){length > 0 ? dt_point(dx / length, dy / length) : dt_point(0, 0), length};
}

static gboolean turns_round(const DtProfile *p, Line in, Line out)
{
    return (p->backlash[0].n > 0 && in.to.x * out.to.x < 0) ||
           (p->backlash[1].n > 0 && in.to.y * out.to.y < 0);
}

/* Whether the corner is already passed at the full speed of its lines. */
static gboolean is_gentle(const DtProfile *p, Line in, Line out)
{
    const double d[2] = {fabs(in.to.x - out.to.x), fabs(in.to.y - out.to.y)};
    const double u[2][2] = {{fabs(in.to.x), fabs(in.to.y)}, {fabs(out.to.x), fabs(out.to.y)}};
    double corner = G_MAXDOUBLE, top[2] = {G_MAXDOUBLE, G_MAXDOUBLE};
    for (int axis = 0; axis < 2; axis++) {
        if (d[axis] > 1e-9)
            corner = MIN(corner, p->pull_in[axis] / d[axis]);
        for (int k = 0; k < 2; k++)
            if (u[k][axis] > 1e-9)
                top[k] = MIN(top[k], p->speed[axis] / u[k][axis]);
    }
    return corner >= MIN(top[0], top[1]);
}

/* How far from the corner the chord begins and ends, mm; 0 if it is not worth while. The chord
 * passes the corner at sin(turn / 2) of that distance. */
static double cut_of(const DtProfile *p, const GArray *given, const DtWayRule *rule, Line in,
                     Line out, const DtCarriagePoint *corner)
{
    enum { STEPS = 4 }; /* a shorter chord has no effect */
    const double finest = 1 / MAX(p->steps_per_mm[0], p->steps_per_mm[1]);
    const double half_turn = sqrt(MAX(0, (1 - dt_point_dot(in.to, out.to)) / 2));
    const double room = MIN(rule->corner, rule->most - sqrt(dt_tidy_off2(given, corner)));
    if (room <= 0 || turns_round(p, in, out) || is_gentle(p, in, out))
        return 0;
    const double cut = MIN(room / half_turn, 0.45 * MIN(in.length, out.length));
    return cut > STEPS * finest ? cut : 0;
}

void dt_corners_cut(const DtProfile *p, const GArray *given, const DtWayRule *rule,
                    const GArray *points, GArray *out)
{
    const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)points->data;
    const guint n = points->len;
    g_array_set_size(out, 0);
    for (guint i = 0; i < n; i++) {
        double cut = 0;
        if (i > 0 && i + 1 < n) {
            const Line in = line_between(&c[i - 1], &c[i]), after = line_between(&c[i], &c[i + 1]);
            cut = cut_of(p, given, rule, in, after, &c[i]);
            if (cut > 0) {
                const DtCarriagePoint from = dt_tidy_between(&c[i], &c[i - 1], cut / in.length);
                const DtCarriagePoint to = dt_tidy_between(&c[i], &c[i + 1], cut / after.length);
                g_array_append_val(out, from);
                g_array_append_val(out, to);
            }
        }
        if (cut <= 0)
            g_array_append_val(out, c[i]);
    }
}
