/* drive: from the coils to the carriage. In this order, each rigid or exact unless the rig file says
 * otherwise:
 *
 * rotor   An inertia that the field pulls by the sine of its lag, with the peak torque of the speed
 *         (which falls in a straight line to nothing at the no-load speed), against friction. The
 *         difference of the two speeds damps it, less so where it is great (the torque of an
 *         induction motor over its slip, Kloss), so that a rotor out of step stalls. One electrical
 *         period is 8 half steps; a rotor that lags by more than half of it falls back by a whole
 *         one, unnoticed. From this follow, with damping and friction left out: pull-out
 *         where torque(v) < acceleration, and pull-in at sqrt(16 torque step / pi). (The sine of the
 *         lag is the textbooks' first harmonic, from memory: Acarnley, "Stepping Motors".)
 * pulley  A pulley bored off centre, and a gear's teeth, add a sine over their period.
 * slack   Driven towards + the carriage is where the motor has the cord, driven towards - it stays
 *         behind by the slack of its place, which may scatter from reversal to reversal.
 * cord    A spring with a damper between the cord's end and the carriage: a second-order system of
 *         the given frequency and damping ratio, which swings after each stop. */
#include "inside.h"

#include <math.h>

static const double rotor_damping = 0.2; /* ratio */
static const double rest_mm = 1e-6, rest_mm_s = 1e-4;
static const double reversal_settled_mm = 0.5; /* above the switch: it has been released for good */

static double normal(GRand *r)
{
    const double u = 1 - g_rand_double(r), v = g_rand_double(r);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v); /* Box and Muller 1958 */
}

/* Steps in a row against a stop are one hit. */
static void slip(RigMachine *m, RigAxis *a, gboolean slips)
{
    if (slips && !a->slipping)
        m->figures.endstop_hits++;
    a->slipping = slips;
}

static double slack_at(const RigMachine *m, int i, double place)
{
    return MAX(dt_rig_table_at(&m->truth->backlash[i], place) + m->axis[i].slack_error, 0);
}

/* The cord is pulled by `way`; at a stop it slips on the pulley. */
static void pull(RigMachine *m, int i, double way)
{
    RigAxis *a = &m->axis[i];
    const int sign = way > 0 ? 1 : -1;
    if (sign != a->driven && m->truth->slack_scatter[i] > 0)
        a->slack_error = m->truth->slack_scatter[i] * normal(m->rand);
    a->driven = sign;
    a->motor += way;
    if (way > 0) {
        a->carriage = MAX(a->carriage, a->motor);
        slip(m, a, a->carriage > a->high);
        if (a->slipping)
            a->carriage = a->motor = a->high;
        return;
    }
    const double behind = a->motor + slack_at(m, i, a->carriage);
    if (behind < a->carriage)
        a->carriage = a->motor + slack_at(m, i, behind);
    slip(m, a, a->carriage < a->low);
    if (a->slipping) {
        a->carriage = a->low;
        a->motor = a->low - slack_at(m, i, a->low);
    }
}

static double periodic(double amplitude, double at, double period, double phase_deg)
{
    const double phase = phase_deg * (G_PI / 180);
    return amplitude * (sin(2 * G_PI * at / period + phase) - sin(phase));
}

static double wound(const RigTruth *t, int i, double rotor)
{
    double cord = rotor;
    if (t->pulley[i] > 0)
        cord += periodic(t->pulley[i], rotor, t->pulley_period[i], t->pulley_phase[i]);
    if (t->gear[i] > 0)
        cord += periodic(t->gear[i], rotor, t->gear_period[i], 0);
    return cord;
}

/* The longest time step that follows every motion accurately, microseconds. */
static gint64 longest_step_us(const RigMachine *m)
{
    double fastest = 1;
    for (int i = 0; i < 2; i++)
        fastest = MAX(fastest, MAX(m->axis[i].omega / (2 * G_PI), m->truth->ring_hz[i]));
    return (gint64)MAX(1e6 / (50 * fastest), 1);
}

void dt_rig_drive_init(RigMachine *m)
{
    const RigTruth *t = m->truth;
    for (int i = 0; i < 2; i++) {
        RigAxis *a = &m->axis[i];
        a->at = a->carriage;
        a->field = a->rotor = a->motor;
        a->cord = wound(t, i, a->rotor);
        a->omega = sqrt(t->torque[i] * 2 * G_PI / (8 * a->step));
        a->lean = 1;
        a->driven = 1;
        if (t->switch_scatter > 0)
            a->trip_error = t->switch_scatter * normal(m->rand);
        m->swings |= t->torque[i] > 0 || t->ring_hz[i] > 0;
    }
    m->longest_step_us = longest_step_us(m);
}

/* The carriage of the other axis leans as this one moves. */
static void lean(RigMachine *m, int i, double way)
{
    if (m->truth->twist[1 - i].n == 0)
        return;
    RigAxis *other = &m->axis[1 - i];
    other->lean = CLAMP(other->lean + 2 * way / m->truth->twist_way, -1, 1);
}

/* The rotor has turned; the cord's end and, with a rigid cord, the carriage follow. */
static void turn_rotor(RigMachine *m, int i, double way)
{
    RigAxis *a = &m->axis[i];
    const RigTruth *t = m->truth;
    const double before = a->carriage;
    a->rotor += way;
    const double cord = wound(t, i, a->rotor);
    if (cord != a->cord)
        pull(m, i, cord - a->cord);
    a->cord = cord;
    const double moved = a->carriage - before;
    if (moved == 0)
        return;
    if (t->ring_hz[i] > 0) /* the damper's share of a sudden move */
        a->speed += 2 * t->ring_damping[i] * (2 * G_PI * t->ring_hz[i]) * moved;
    else
        a->at = a->carriage;
    lean(m, i, moved);
    if (t->switch_scatter > 0 && before <= a->trip + reversal_settled_mm &&
        a->carriage > a->trip + reversal_settled_mm)
        a->trip_error = t->switch_scatter * normal(m->rand);
}

void dt_rig_drive_step(RigMachine *m, int i, double way, gint64 now)
{
    RigAxis *a = &m->axis[i];
    if (m->truth->torque[i] <= 0) {
        a->field += way;
        turn_rotor(m, i, way);
        return;
    }
    const double since = (double)(now - a->stepped) * 1e-6;
    if (since > 0)
        a->field_speed = copysign(a->step, way) / since;
    a->field += way;
    a->still = FALSE;
}

/* One time step, by the semi-implicit Euler method. */
static void swing_rotor(RigMachine *m, int i, double h)
{
    RigAxis *a = &m->axis[i];
    const RigTruth *t = m->truth;
    const double period = 8 * a->step, peak = t->torque[i];
    const double left = MAX(1 - fabs(a->rotor_speed) / t->no_load[i], 0);
    const double behind = a->field_speed - a->rotor_speed, most = a->omega * period / (4 * G_PI);
    const double torque =
        peak * left * sin(2 * G_PI * (a->field - a->rotor) / period) +
        2 * rotor_damping * a->omega * behind / (1 + behind * behind / (most * most));
    double speed = a->rotor_speed + torque * h;
    const double stop = t->friction[i] * h; /* friction never reverses a motion */
    speed = fabs(speed) <= stop ? 0 : speed - copysign(stop, speed);
    /* Friction holds it against a field that stands: nothing changes before the next step. */
    a->still = speed == 0 && a->rotor_speed == 0 && a->field_speed == 0;
    a->rotor_speed = speed;
    if (speed != 0)
        turn_rotor(m, i, speed * h);
    while (fabs(a->field - a->rotor) > period / 2) {
        a->field -= copysign(period, a->field - a->rotor);
        m->figures.steps_slipped += 8;
    }
}

static void swing_carriage(RigMachine *m, int i, double h)
{
    RigAxis *a = &m->axis[i];
    const double omega = 2 * G_PI * m->truth->ring_hz[i];
    a->speed +=
        (omega * omega * (a->carriage - a->at) - 2 * m->truth->ring_damping[i] * omega * a->speed) *
        h;
    a->at += a->speed * h;
}

static gboolean is_at_rest(const RigMachine *m, int i)
{
    const RigAxis *a = &m->axis[i];
    if (fabs(a->rotor_speed) >= rest_mm_s || fabs(a->speed) >= rest_mm_s ||
        fabs(a->at - a->carriage) >= rest_mm)
        return FALSE;
    if (a->still)
        return TRUE;
    const double period = 8 * a->step;
    const double pull = m->truth->torque[i] * fabs(sin(2 * G_PI * (a->field - a->rotor) / period));
    return pull <= MAX(m->truth->friction[i], rest_mm_s);
}

/* The field of a motor that is no longer stepped stands still. */
static void let_field_stand(RigMachine *m, gint64 now)
{
    for (int i = 0; i < 2; i++) {
        RigAxis *a = &m->axis[i];
        const double since = (double)(now - a->stepped) * 1e-6;
        if (a->field_speed != 0 && since > 3 * a->step / fabs(a->field_speed))
            a->field_speed = 0;
    }
}

void dt_rig_drive_follow(RigMachine *m, gint64 now, void (*each)(RigMachine *m))
{
    while (m->swings && m->followed < now) {
        let_field_stand(m, m->followed);
        if (is_at_rest(m, 0) && is_at_rest(m, 1))
            break;
        const gint64 us = MIN(now - m->followed, m->longest_step_us);
        m->followed += us;
        for (int i = 0; i < 2; i++) {
            if (m->truth->torque[i] > 0 && !m->axis[i].still)
                swing_rotor(m, i, (double)us * 1e-6);
            if (m->truth->ring_hz[i] > 0)
                swing_carriage(m, i, (double)us * 1e-6);
        }
        each(m);
    }
    m->followed = MAX(m->followed, now);
}
