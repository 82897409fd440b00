/* move-time: the time of a straight move on a machine whose axes have separate limits. */
#include "route/metric.h"

DtMetric dt_metric_of_cost(const DtCost *c, double join)
{
    DtMetric m = {.kind = DT_METRIC_MOVE_TIME,
                  .lift_s = c->lift_s + c->drop_s,
                  .join2 = join < 0 ? -1 : join * join};
    for (int a = 0; a < 2; a++) {
        m.per_speed[a] = 1 / c->speed[a];
        m.per_acceleration[a] = 1 / c->acceleration[a];
        m.per_pull_in[a] = c->pull_in[a] > 0 ? 1 / c->pull_in[a] : DT_METRIC_NO_PULL_IN;
    }
    return m;
}

double dt_route_move_s(const DtCost *c, DtPoint from, DtPoint to)
{
    DtMetric m = dt_metric_of_cost(c, 0);
    return dt_metric_move_s(&m, fabs(from.x - to.x), fabs(from.y - to.y));
}

/* The largest k for which k*d/|d| is within the limits of both axes. */
static double along(const double limit[2], DtPoint d)
{
    double length = hypot(d.x, d.y);
    double share = MAX(fabs(d.x) / limit[0], fabs(d.y) / limit[1]);
    return share > 0 ? length / share : 0;
}

double dt_route_speed_along(const DtCost *c, DtPoint d)
{
    return along(c->speed, d);
}

double dt_route_acceleration_along(const DtCost *c, DtPoint d)
{
    return along(c->acceleration, d);
}
