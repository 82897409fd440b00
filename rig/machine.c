/* machine: motors, cords, rails, switches and the pen, as they truly are. */
#include "inside.h"

#include <math.h>
#include <string.h>

enum { COUNT_EVERY = 24 }; /* turns: about a quarter of a millimetre */

double dt_rig_table_between(const RigTable *t, double at)
{
    unsigned i = 0;
    while (i < t->n && t->at[i] < at)
        i++;
    if (i == 0)
        return t->value[0];
    if (i == t->n)
        return t->value[t->n - 1];
    double part = (at - t->at[i - 1]) / (t->at[i] - t->at[i - 1]);
    return t->value[i - 1] + part * (t->value[i] - t->value[i - 1]);
}

/* Deviation of a rail from straight at a place: a wave, looked up in a table of one period. */
static double wave_at(const RigMachine *m, double at)
{
    if (m->truth->wave == 0)
        return 0;
    const double turns = at / m->truth->wave_length;
    const int whole = (int)turns - (turns < 0); /* floor() would be a call */
    const double place = (turns - whole) * RIG_WAVE;
    const int i = MIN((int)place, RIG_WAVE - 1);
    return m->wave[i] + (place - i) * (m->wave[i + 1] - m->wave[i]);
}

/* For the positions of the carriages on their rails: axes not square, rails not straight, scale
 * uneven, carriages twisted, home in any of the four corners. */
void dt_rig_machine_holder(const RigMachine *m, double *holder_x, double *holder_y)
{
    const RigTruth *t = m->truth;
    double place[2];
    for (int i = 0; i < 2; i++) {
        const RigAxis *a = &m->axis[i];
        place[i] = a->at + dt_rig_table_at(&t->position[i], a->at);
        if (t->twist[i].n > 0)
            place[i] += dt_rig_table_at(&t->twist[i], a->at) / 2 * a->lean;
        if (t->drift[i] != 0)
            place[i] += t->drift[i] * ((double)m->followed / 3600e6);
    }
    const double across[2] = {
        wave_at(m, m->axis[1].at) + dt_rig_table_at(&t->straight[1], m->axis[1].at),
        wave_at(m, m->axis[0].at) + dt_rig_table_at(&t->straight[0], m->axis[0].at)};
    const double x = place[0] + place[1] * m->sine + across[0];
    const double y = place[1] * m->cosine + across[1];
    *holder_x = m->mirrored[0] ? m->span[0] - x : x;
    *holder_y = m->mirrored[1] ? m->span[1] - y : y;
}

/* A tip with play stays where it is until the holder is half the play away, and is then dragged
 * along; off the paper it hangs in the middle. */
static void place(RigMachine *m)
{
    double x, y;
    dt_rig_machine_holder(m, &x, &y);
    if (m->touching && m->truth->play > 0) {
        const double half = m->truth->play / 2, dx = x - m->tip[0], dy = y - m->tip[1];
        const double away = sqrt(dx * dx + dy * dy);
        const double go = away > half ? 1 - half / away : 0;
        x = m->tip[0] + dx * go;
        y = m->tip[1] + dy * go;
    }
    m->tip[0] = x;
    m->tip[1] = y;
}

/* Where the pen in the holder marks the paper. */
static double mark(const RigMachine *m, int i)
{
    return m->tip[i] + m->seated->offset[i];
}

static double distance(double x, double y)
{
    return sqrt(x * x + y * y);
}

void dt_rig_machine_init(RigMachine *m, const RigTruth *t)
{
    *m = (RigMachine){.truth = t, .touch_at = -1, .leave_at = -1};
    for (int i = 0; i < 2; i++) {
        RigAxis *a = &m->axis[i];
        a->step = t->scale[i] / t->steps_per_mm[i];
        /* Homing ends at 0: it sees the switch with two steps in a row, comes back across the
         * slack and then goes the pull-off distance. */
        a->trip = dt_rig_table_at(&t->backlash[i], 0) + 1.5 * a->step - t->pull_off * t->scale[i];
        a->low = a->trip - t->over_low;
        a->high = t->travel[i] * t->scale[i] + t->over_high;
        a->carriage = a->motor = t->start[i];
        m->span[i] = t->travel[i] * t->scale[i];
    }
    m->mirrored[0] = g_str_has_suffix(t->corner, "right");
    m->mirrored[1] = g_str_has_prefix(t->corner, "upper");
    m->sine = sin(t->square_deg * (G_PI / 180));
    m->cosine = cos(t->square_deg * (G_PI / 180));
    for (int i = 0; i <= RIG_WAVE; i++)
        m->wave[i] = t->wave / 2 * sin(2 * G_PI * i / RIG_WAVE);
    dt_rig_ink_init(&m->ink, t->merge);
    m->rand = g_rand_new_with_seed((guint32)t->seed);
    dt_rig_drive_init(m);
    place(m);
    memcpy(m->counted, m->tip, sizeof m->counted);
}

void dt_rig_machine_clear(RigMachine *m)
{
    dt_rig_ink_clear(&m->ink);
    g_rand_free(m->rand);
    g_free(m->pen);
}

int dt_rig_machine_phase(uint8_t bits)
{
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    for (int i = 0; i < 8; i++)
        if (order[i] == bits)
            return i;
    return -1;
}

void dt_rig_machine_coils(RigMachine *m, unsigned axis, uint8_t bits)
{
    RigAxis *a = &m->axis[axis];
    a->loose = bits == 0;
    if (a->loose)
        return; /* the gear holds it */
    int index = dt_rig_machine_phase(bits);
    int change = (index - a->phase + 8) % 8;
    if (index < 0 || (change != 0 && change != 1 && change != 7))
        m->figures.steps_lost++;
    if (index < 0)
        return;
    a->turn += change == 1 ? 1 : change == 7 ? -1 : 0;
    a->phase = index;
}

/* Measures the path since the last call, in pieces long enough to hide the staircase of the
 * steps. */
static void count_way(RigMachine *m)
{
    DtRigFigures *f = &m->figures;
    place(m);
    m->turns = 0;
    double way = distance(m->tip[0] - m->counted[0], m->tip[1] - m->counted[1]);
    memcpy(m->counted, m->tip, sizeof m->counted);
    if (m->touching)
        f->ink_mm += way;
    else
        f->travel_mm += way;
    if (m->commanded_down && !m->touching)
        f->dry_mm += way;
    if (!m->commanded_down && m->touching)
        f->drag_mm += way;
}

static void draw_point(RigMachine *m)
{
    if (!m->touching)
        return;
    place(m);
    dt_rig_ink_point(&m->ink, mark(m, 0), mark(m, 1));
}

void dt_rig_machine_turn(RigMachine *m, gint64 now)
{
    int turn[2] = {m->axis[0].turn, m->axis[1].turn};
    dt_rig_machine_settle(m, now);
    if (turn[0] == 0 && turn[1] == 0)
        return;
    /* The rotor of a rigid machine passes the halfway point at the moment of switching. */
    for (int half = 0; half < 2; half++) {
        for (int i = 0; i < 2; i++)
            if (turn[i])
                dt_rig_drive_step(m, i, turn[i] * m->axis[i].step / 2, now);
        if (half == 0)
            draw_point(m);
    }
    if (++m->turns == COUNT_EVERY)
        count_way(m);
    for (int i = 0; i < 2; i++) {
        m->figures.steps[i] += turn[i] != 0;
        m->axis[i].turn = 0;
        if (turn[i])
            m->axis[i].stepped = now;
    }
    m->last_motion = now;
}

enum { SHORTEST_BOUNCE_US = 4000 };

static void touch(RigMachine *m)
{
    count_way(m);
    m->touching = TRUE;
    const char *pen = m->pen ? m->pen : "pen";
    m->seated = dt_rig_truth_pen(m->truth, pen);
    dt_rig_ink_begin(&m->ink, pen, mark(m, 0), mark(m, 1), (double)m->touch_at * 1e-6);
    const gint64 bounce = (gint64)(m->bounce_s * 1e6);
    if (bounce < SHORTEST_BOUNCE_US) {
        m->touch_at = -1;
        return;
    }
    /* It leaves a dot, and falls again. */
    dt_rig_ink_end(&m->ink, (double)m->touch_at * 1e-6);
    m->touching = FALSE;
    m->touch_at += bounce;
    m->bounce_s /= 2;
}

void dt_rig_machine_settle(RigMachine *m, gint64 now)
{
    while (m->touch_at >= 0 && now >= m->touch_at) {
        dt_rig_drive_follow(m, m->touch_at, draw_point);
        touch(m);
    }
    if (m->leave_at >= 0 && now >= m->leave_at) {
        dt_rig_drive_follow(m, m->leave_at, draw_point);
        count_way(m);
        dt_rig_ink_point(&m->ink, mark(m, 0), mark(m, 1));
        dt_rig_ink_end(&m->ink, (double)m->leave_at * 1e-6);
        m->touching = FALSE;
        m->figures.lifts++;
        m->leave_at = -1;
    }
    dt_rig_drive_follow(m, now, draw_point);
}

void dt_rig_machine_servo(RigMachine *m, uint16_t pulse_us, gint64 now)
{
    dt_rig_machine_settle(m, now);
    gboolean down = pulse_us >= m->truth->pen_down_us;
    if (down == m->commanded_down)
        return;
    count_way(m);
    m->commanded_down = down;
    m->last_motion = now;
    gint64 lift = (gint64)(m->truth->lift_s * 1e6);
    if (!down) {
        m->lift_began = now;
        if (m->touching)
            m->leave_at = now + lift;
        m->touch_at = -1;
        return;
    }
    double height = 1; /* of the whole way up, where it starts to fall */
    if (lift > 0 && m->lift_began > 0 && now - m->lift_began < lift)
        height = (double)(now - m->lift_began) / (double)lift;
    if (m->touching) {
        m->leave_at = now;
        dt_rig_machine_settle(m, now);
    }
    m->touch_at = now + (gint64)(m->truth->drop_s * height * 1e6);
    m->bounce_s = m->truth->bounce_s * height;
}

uint8_t dt_rig_machine_switches(const RigMachine *m)
{
    uint8_t bits = 0;
    for (int i = 0; i < 2; i++)
        if (m->axis[i].forced || m->axis[i].at <= m->axis[i].trip + m->axis[i].trip_error)
            bits |= (uint8_t)(1 << i);
    return bits;
}
