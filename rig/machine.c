/* machine: motors, cords, rails, switches and the pen, as they truly are. */
#include "inside.h"

#include <math.h>
#include <string.h>

enum { COUNT_EVERY = 24 }; /* turns: about a quarter of a millimetre */

double dt_rig_table_at(const RigTable *t, double at)
{
    if (t->n == 0)
        return 0;
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

/* How far a rail is from straight at a place: a wave, looked up in a table of one wave. */
static double wave_at(const RigMachine *m, double at)
{
    double turns = at / m->truth->wave_length;
    double place = (turns - floor(turns)) * RIG_WAVE;
    int i = MIN((int)place, RIG_WAVE - 1);
    return m->wave[i] + (place - i) * (m->wave[i + 1] - m->wave[i]);
}

/* The tip for the carriage's place on its rails: axes off square, rails not straight. */
void dt_rig_machine_tip(const RigMachine *m, double *tip_x, double *tip_y)
{
    double x = m->axis[0].carriage, y = m->axis[1].carriage;
    *tip_x = x + y * m->sine + wave_at(m, y);
    *tip_y = y * m->cosine + wave_at(m, x);
}

static void place(RigMachine *m)
{
    dt_rig_machine_tip(m, &m->tip[0], &m->tip[1]);
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
    }
    m->sine = sin(t->square_deg * (G_PI / 180));
    m->cosine = cos(t->square_deg * (G_PI / 180));
    for (int i = 0; i <= RIG_WAVE; i++)
        m->wave[i] = t->wave / 2 * sin(2 * G_PI * i / RIG_WAVE);
    dt_rig_ink_init(&m->ink, t->merge);
    place(m);
    memcpy(m->counted, m->tip, sizeof m->counted);
}

void dt_rig_machine_clear(RigMachine *m)
{
    dt_rig_ink_clear(&m->ink);
    g_free(m->pen);
}

/* The eight states of the coils in turning order, one and two by turns; common practice, no source.
 */
static int sequence_index(uint8_t bits)
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
    int index = sequence_index(bits);
    int change = (index - a->phase + 8) % 8;
    if (index < 0 || (change != 0 && change != 1 && change != 7))
        m->figures.steps_lost++;
    if (index < 0)
        return;
    a->turn += change == 1 ? 1 : change == 7 ? -1 : 0;
    a->phase = index;
}

static void slip(RigMachine *m, RigAxis *a)
{
    if (!a->slipping)
        m->figures.endstop_hits++;
    a->slipping = TRUE;
}

/* Driven towards + the carriage is where the motor has the cord, driven towards - it stays behind
 * by the slack of its place; between the two it stands. At a stop the cord slips over the pulley.
 */
static void drive(RigMachine *m, int i, double way)
{
    RigAxis *a = &m->axis[i];
    const RigTable *slack = &m->truth->backlash[i];
    a->motor += way;
    if (way > 0) {
        a->carriage = MAX(a->carriage, a->motor);
        if (a->carriage > a->high) {
            a->carriage = a->motor = a->high;
            slip(m, a);
        } else if (a->carriage > a->low) {
            a->slipping = FALSE;
        }
        return;
    }
    double behind = a->motor + dt_rig_table_at(slack, a->carriage);
    if (behind < a->carriage)
        a->carriage = a->motor + dt_rig_table_at(slack, behind);
    if (a->carriage < a->low) {
        a->carriage = a->low;
        a->motor = a->low - dt_rig_table_at(slack, a->low);
        slip(m, a);
    } else if (a->carriage < a->high) {
        a->slipping = FALSE;
    }
}

/* Counts the way since the last count, measured in pieces that the stairs of the steps do not show
 * in. */
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
    if (m->told_down && !m->touching)
        f->dry_mm += way;
    if (!m->told_down && m->touching)
        f->drag_mm += way;
}

void dt_rig_machine_turn(RigMachine *m, gint64 now)
{
    int turn[2] = {m->axis[0].turn, m->axis[1].turn};
    if (turn[0] == 0 && turn[1] == 0)
        return;
    dt_rig_machine_settle(m, now);
    /* The rotor passes half way at the moment of switching. */
    for (int half = 0; half < 2; half++) {
        for (int i = 0; i < 2; i++)
            if (turn[i])
                drive(m, i, turn[i] * m->axis[i].step / 2);
        if (half == 0 && m->touching) {
            place(m);
            dt_rig_ink_point(&m->ink, m->tip[0], m->tip[1]);
        }
    }
    if (++m->turns == COUNT_EVERY)
        count_way(m);
    for (int i = 0; i < 2; i++) {
        m->figures.steps[i] += turn[i] != 0;
        m->axis[i].turn = 0;
    }
    m->last_motion = now;
}

void dt_rig_machine_settle(RigMachine *m, gint64 now)
{
    if (m->touch_at >= 0 && now >= m->touch_at) {
        count_way(m);
        dt_rig_ink_begin(&m->ink, m->pen ? m->pen : "pen", m->tip[0], m->tip[1],
                      (double)m->touch_at * 1e-6);
        m->touching = TRUE;
        m->touch_at = -1;
    }
    if (m->leave_at >= 0 && now >= m->leave_at) {
        count_way(m);
        dt_rig_ink_point(&m->ink, m->tip[0], m->tip[1]);
        dt_rig_ink_end(&m->ink, (double)m->leave_at * 1e-6);
        m->touching = FALSE;
        m->figures.lifts++;
        m->leave_at = -1;
    }
}

void dt_rig_machine_servo(RigMachine *m, uint16_t pulse_us, gint64 now)
{
    dt_rig_machine_settle(m, now);
    gboolean down = pulse_us >= m->truth->pen_down_us;
    if (down == m->told_down)
        return;
    count_way(m);
    m->told_down = down;
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
}

uint8_t dt_rig_machine_switches(const RigMachine *m)
{
    uint8_t bits = 0;
    for (int i = 0; i < 2; i++)
        if (m->axis[i].forced || m->axis[i].carriage <= m->axis[i].trip)
            bits |= (uint8_t)(1 << i);
    return bits;
}
