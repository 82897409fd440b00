/* slack: where the carriage stands when the drives are sent somewhere (see machine: backlash). */
#include "code/judge/judge.h"

void dt_slack_init(DtSlack *s, const DtProfile *p)
{
    s->profile = p;
    s->any = p->backlash[0].n > 0 || p->backlash[1].n > 0;
    s->zero = dt_machine_ink_at(p, dt_point(0, 0));
    s->x_way = dt_point_sub(dt_machine_ink_at(p, dt_point(1, 0)), s->zero);
    s->y_way = dt_point_sub(dt_machine_ink_at(p, dt_point(0, 1)), s->zero);
    dt_slack_home(s);
}

void dt_slack_home(DtSlack *s)
{
    s->carriage[0] = s->carriage[1] = 0;
}

static void drive_axis(DtSlack *s, int axis, double to)
{
    const DtTable *table = &s->profile->backlash[axis];
    double c = s->carriage[axis];
    double lost = 0;
    if (table->n > 0 && to < c) {
        double scale = s->profile->scale[axis] > 0 ? s->profile->scale[axis] : 1;
        lost = dt_table_at(table, c * scale) / scale;
        if (to + lost < c) /* it moves: what is lost is that of where it comes to rest */
            lost = dt_table_at(table, (to + lost) * scale) / scale;
    }
    if (to >= c)
        s->carriage[axis] = to;
    else if (to + lost < c)
        s->carriage[axis] = to + lost;
}

void dt_slack_follow(DtSlack *s, DtPoint to)
{
    drive_axis(s, 0, to.x);
    drive_axis(s, 1, to.y);
}
