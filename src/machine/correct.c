/* correct: what was measured on the machine, and its inverse. */
#include "machine/correct.h"

#include <math.h>

double dt_table_at(const DtTable *t, double position)
{
    if (t->n == 0)
        return 0;
    if (position <= t->at[0])
        return t->value[0];
    gsize low = 0, high = t->n - 1;
    if (position >= t->at[high])
        return t->value[high];
    while (high - low > 1) {
        gsize middle = (low + high) / 2;
        if (t->at[middle] <= position)
            low = middle;
        else
            high = middle;
    }
    double f = (position - t->at[low]) / (t->at[high] - t->at[low]);
    return t->value[low] + f * (t->value[high] - t->value[low]);
}

DtPoint dt_machine_command(const DtProfile *p, DtPoint at)
{
    return dt_point((at.x - at.y * tan(p->square)) / p->scale[0],
                    at.y / (p->scale[1] * cos(p->square)));
}

DtPoint dt_machine_ink_at(const DtProfile *p, DtPoint command)
{
    double along_y = p->scale[1] * command.y;
    return dt_point(p->scale[0] * command.x + along_y * sin(p->square), along_y * cos(p->square));
}

double dt_correct_lost(const DtProfile *p, int axis, double c)
{
    return dt_table_at(&p->backlash[axis], c * p->scale[axis]) / p->scale[axis];
}

/* c = m + lost(c). Tables are never steeper than a half, so each round halves the error at least;
 * where the loss is the same all along, the second one changes nothing. */
static double pulled_back(const DtProfile *p, int axis, double m)
{
    double c = m, before;
    int i = 0;
    do {
        before = c;
        c = m + dt_correct_lost(p, axis, c);
    } while (c != before && ++i < 64);
    return c;
}

double dt_machine_follow(const DtProfile *p, int axis, double c, double m)
{
    if (m > c)
        return m;
    return m < c - dt_correct_lost(p, axis, c) ? pulled_back(p, axis, m) : c;
}

void dt_carriage_init(DtCarriage *c, const DtProfile *p)
{
    *c = (DtCarriage){.profile = p, .slack = p->backlash[0].n > 0 || p->backlash[1].n > 0};
    c->x_way = dt_machine_ink_at(p, dt_point(1, 0));
    c->y_way = dt_machine_ink_at(p, dt_point(0, 1));
}

DtPoint dt_carriage_follow(const DtCarriage *c, DtPoint to)
{
    return dt_point(dt_machine_follow(c->profile, 0, c->at.x, to.x),
                    dt_machine_follow(c->profile, 1, c->at.y, to.y));
}

DtBox dt_machine_reach(const DtProfile *p)
{
    /* towards - the drive must run ahead by the lost motion, and cannot run below 0 */
    double low_x = pulled_back(p, 0, 0), low_y = pulled_back(p, 1, 0);
    DtPoint low = dt_machine_ink_at(p, dt_point(0, low_y));
    DtPoint high = dt_machine_ink_at(p, dt_point(0, p->travel[1]));
    DtBox b = {p->scale[0] * low_x + MAX(low.x, high.x), low.y,
               p->scale[0] * p->travel[0] + MIN(low.x, high.x), high.y};
    DtBox all = b;
    for (gsize i = 0; i < p->rack.n; i++) {
        DtPoint o = p->rack.pens[i].offset;
        DtBox one = {b.x0 + o.x, b.y0 + o.y, b.x1 + o.x, b.y1 + o.y};
        all = dt_box_intersect(all, one);
    }
    return all;
}

double dt_machine_fastest_angle(const DtProfile *p)
{
    DtPoint d = dt_point_sub(dt_machine_ink_at(p, dt_point(p->speed[0], p->speed[1])),
                             dt_machine_ink_at(p, dt_point(0, 0)));
    return atan2(d.y, d.x);
}
