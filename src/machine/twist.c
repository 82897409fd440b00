/* twist: see twist.h. */
#include "machine/twist.h"

#include <math.h>

/* Travel of the other axis over which a carriage leans from one side to the other, mm. It is
 * short compared with what is drawn and hardly visible on paper; not measured on any machine, no
 * source. */
static const double way_mm = 0.3;

gboolean dt_machine_twists(const DtProfile *p)
{
    return p->twist[0].n > 0 || p->twist[1].n > 0;
}

/* A twist is never corrected faster than it happens. */
static double way_of(const DtProfile *p, int axis, double at)
{
    return MAX(way_mm, 2 * fabs(dt_table_at(&p->twist[axis], at)));
}

void dt_twist_lean(const DtProfile *p, double lean[2], DtPoint from, DtPoint to)
{
    const double way[2] = {(to.x - from.x) * p->scale[0], (to.y - from.y) * p->scale[1]};
    const double at[2] = {to.x * p->scale[0], to.y * p->scale[1]};
    for (int i = 0; i < 2; i++)
        lean[i] = CLAMP(lean[i] + 2 * way[1 - i] / way_of(p, i, at[i]), -1, 1);
}

DtPoint dt_twist_shift(const DtProfile *p, DtPoint at, const double lean[2])
{
    return dt_point(dt_table_at(&p->twist[0], at.x * p->scale[0]) / 2 * lean[0] / p->scale[0],
                    dt_table_at(&p->twist[1], at.y * p->scale[1]) / 2 * lean[1] / p->scale[1]);
}

/* Where the carriage must go, coming from `from`, so that its tip is where that of an untwisted
 * carriage at `aim` would be; `lean` is updated to its end. Each iteration at least halves the
 * error. */
static DtPoint aim_at(const DtProfile *p, DtPoint aim, DtPoint from, double lean[2])
{
    enum { ROUNDS = 24 };
    DtPoint at = aim;
    double then[2] = {lean[0], lean[1]};
    for (int i = 0; i < ROUNDS; i++) {
        const DtPoint before = at;
        then[0] = lean[0];
        then[1] = lean[1];
        dt_twist_lean(p, then, from, at);
        at = dt_point_sub(aim, dt_twist_shift(p, at, then));
        if (dt_point_distance(at, before) < 1e-9)
            break;
    }
    lean[0] = then[0];
    lean[1] = then[1];
    return at;
}

/* Whether a carriage changes its lean on a move in this direction. */
static gboolean leans_over(const double lean[2], DtPoint d)
{
    return (d.y != 0 && lean[0] * d.y < fabs(d.y)) || (d.x != 0 && lean[1] * d.x < fabs(d.x));
}

static void add_point(GArray *out, DtPoint at)
{
    const DtCarriagePoint point = {.at = {at.x, at.y}};
    g_array_append_val(out, point);
}

void dt_twist_run(const DtProfile *p, DtPoint from, const double lean_before[2], GArray *points,
                  GArray *spare)
{
    const double piece = way_mm / 4;
    double lean[2] = {lean_before[0], lean_before[1]};
    const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)points->data;
    DtPoint aim = dt_point(c[0].at[0], c[0].at[1]), at = aim_at(p, aim, from, lean);
    g_array_set_size(spare, 0);
    add_point(spare, at);
    for (guint i = 1; i < points->len; i++) {
        const DtPoint next = dt_point(c[i].at[0], c[i].at[1]), d = dt_point_sub(next, aim);
        const double length = hypot(d.x, d.y);
        const int pieces = MAX((int)ceil(length / piece), 1);
        for (int k = 1; k <= pieces; k++) {
            if (!leans_over(lean, d))
                k = pieces;
            at = aim_at(p, dt_point_lerp(aim, next, (double)k / pieces), at, lean);
            add_point(spare, at);
        }
        aim = next;
    }
    g_array_set_size(points, 0);
    g_array_append_vals(points, spare->data, spare->len);
}

/* The carriage of a program ------------------------------------------------------------------- */

DtPoint dt_carriage_twist(DtCarriage *c, DtPoint to)
{
    const DtPoint from = c->at;
    c->at = c->slack ? dt_carriage_follow(c, to) : to;
    dt_twist_lean(c->profile, c->lean, from, c->at);
    return dt_carriage_ink(c, c->at);
}

DtPoint dt_carriage_twisted_ink(const DtCarriage *c, DtPoint carriage)
{
    const DtPoint shift = dt_twist_shift(c->profile, carriage, c->lean);
    return dt_machine_ink_at(c->profile, dt_point_add(carriage, shift));
}
