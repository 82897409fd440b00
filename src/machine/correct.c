/* correct: the errors measured on the machine, and their inverse. */
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

gboolean dt_machine_is_curved(const DtProfile *p)
{
    return p->position[0].n > 0 || p->position[1].n > 0 || p->straight[0].n > 0 ||
           p->straight[1].n > 0 || p->pulley_error[0] != 0 || p->pulley_error[1] != 0;
}

/* Difference between the true position of the axis and `a`, its position by the scale alone. */
static double place_error(const DtProfile *p, int axis, double a)
{
    double error = dt_table_at(&p->position[axis], a);
    if (p->pulley_error[axis] != 0) {
        const double phase = p->pulley_phase[axis];
        const double turn = a * 2 * G_PI / dt_correct_turn_mm(p, axis);
        error += p->pulley_error[axis] * (sin(turn + phase) - sin(phase));
    }
    return error;
}

double dt_correct_turn_mm(const DtProfile *p, int axis)
{
    return G_PI * (p->pulley_diameter[axis] + p->cord_diameter[axis]);
}

DtPoint dt_machine_ink_at(const DtProfile *p, DtPoint command)
{
    const double ax = p->scale[0] * command.x, ay = p->scale[1] * command.y;
    if (!dt_machine_is_curved(p))
        return dt_point(ax + ay * sin(p->square), ay * cos(p->square));
    const double rx = ax + place_error(p, 0, ax), ry = ay + place_error(p, 1, ay);
    return dt_point(rx + ry * sin(p->square) + dt_table_at(&p->straight[1], ay),
                    ry * cos(p->square) + dt_table_at(&p->straight[0], ax));
}

DtPoint dt_machine_command(const DtProfile *p, DtPoint at)
{
    enum { MOST_ROUNDS = 100 };
    const double close_mm = 1e-10;
    double ax = at.x - at.y * tan(p->square), ay = at.y / cos(p->square);
    for (int i = 0; i < MOST_ROUNDS && dt_machine_is_curved(p); i++) {
        const double before_x = ax, before_y = ay;
        const double ry = (at.y - dt_table_at(&p->straight[0], ax)) / cos(p->square);
        const double rx = at.x - ry * sin(p->square) - dt_table_at(&p->straight[1], ay);
        ax = rx - place_error(p, 0, ax);
        ay = ry - place_error(p, 1, ay);
        if (fabs(ax - before_x) < close_mm && fabs(ay - before_y) < close_mm)
            break;
    }
    return dt_point(ax / p->scale[0], ay / p->scale[1]);
}

/* Lost motion is a length of cord; a pulley off its centre winds up a varying length of it per
 * turn. */
double dt_correct_lost(const DtProfile *p, int axis, double c)
{
    const double lost = dt_table_at(&p->backlash[axis], c * p->scale[axis]) / p->scale[axis];
    if (p->pulley_error[axis] == 0 || lost == 0)
        return lost;
    const double turn = 2 * G_PI / dt_correct_turn_mm(p, axis);
    const double middle = (c - lost / 2) * p->scale[axis];
    return lost / (1 + p->pulley_error[axis] * turn * cos(turn * middle + p->pulley_phase[axis]));
}

/* c = m + lost(c). Tables are never steeper than one half, so each iteration at least halves the
 * error; if the loss is constant the second iteration changes nothing. */
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
    *c = (DtCarriage){.profile = p,
                      .slack = p->backlash[0].n > 0 || p->backlash[1].n > 0,
                      .curved = dt_machine_is_curved(p),
                      .twists = dt_machine_twists(p),
                      .lean = {1, 1}};
    c->x_way = dt_machine_ink_at(p, dt_point(1, 0));
    c->y_way = dt_machine_ink_at(p, dt_point(0, 1));
}

DtPoint dt_carriage_follow(const DtCarriage *c, DtPoint to)
{
    return dt_point(dt_machine_follow(c->profile, 0, c->at.x, to.x),
                    dt_machine_follow(c->profile, 1, c->at.y, to.y));
}

/* The largest term, mm, that makes the map of an axis and its neighbour nonlinear. */
static double most_bend(const DtProfile *p, int axis)
{
    double position = 0, across = 0, twist = 0;
    for (size_t i = 0; i < p->position[axis].n; i++)
        position = MAX(position, fabs(p->position[axis].value[i]));
    for (size_t i = 0; i < p->twist[axis].n; i++)
        twist = MAX(twist, fabs(p->twist[axis].value[i]) / 2);
    for (size_t i = 0; i < p->straight[1 - axis].n; i++)
        across = MAX(across, fabs(p->straight[1 - axis].value[i]));
    return position + across + twist + 2 * p->pulley_error[axis];
}

/* Of the linear part of the map. */
static DtPoint linear_ink_at(const DtProfile *p, double x, double y)
{
    const double along_y = p->scale[1] * y;
    return dt_point(p->scale[0] * x + along_y * sin(p->square), along_y * cos(p->square));
}

DtBox dt_machine_reach(const DtProfile *p)
{
    /* towards - the drive runs ahead by the lost motion, and cannot go below 0 */
    double low_x = pulled_back(p, 0, 0), low_y = pulled_back(p, 1, 0);
    DtPoint low = linear_ink_at(p, 0, low_y);
    DtPoint high = linear_ink_at(p, 0, p->travel[1]);
    const double bend_x = most_bend(p, 0) + most_bend(p, 1) * fabs(sin(p->square));
    const double bend_y = most_bend(p, 1);
    DtBox b = {p->scale[0] * low_x + MAX(low.x, high.x) + bend_x, low.y + bend_y,
               p->scale[0] * p->travel[0] + MIN(low.x, high.x) - bend_x, high.y - bend_y};
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
    const DtPoint d = linear_ink_at(p, p->speed[0], p->speed[1]);
    return atan2(d.y, d.x);
}
