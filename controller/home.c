/* home: finds the switch of each axis, X first: fast to it, off it, slowly to it again, and away
 * by the pull-off distance, which takes the slack up towards + and ends at 0. */
#include "core.h"

enum { FAST, BACK, SLOW, PULL, PHASES };

static const float off_mm = 3, search_mm = 20;

void dtc_home_begin(DtController *c)
{
    c->homed = 0;
    c->home_axis = DTC_X;
    c->home_phase = FAST;
    c->pulse_us = c->set->pen_up_us;
    c->spindle = 0;
    dtc_pen_move(c, c->pulse_us);
    dtc_wait_ms(c, c->set->settle_ms);
}

static void send(DtController *c, float mm, float feed, bool seek)
{
    uint8_t axis = c->home_axis;
    int64_t nm[DT_CONTROLLER_AXES] = {c->plan.nm[0], c->plan.nm[1]};
    nm[axis] += dtc_nm(mm);
    c->step.found = 0;
    c->step.seek = (uint8_t)(seek ? 1u << axis : 0);
    dtc_plan_line(c, nm, feed);
}

/* Positions mean nothing before the switch is found; each search starts from 0. */
static void begin_phase(DtController *c)
{
    const DtSettings *s = c->set;
    uint8_t axis = c->home_axis;
    c->step.position[axis] = 0;
    dtc_plan_forget(c);
    switch (c->home_phase) {
    case FAST:
        send(c, -(s->travel[axis] + search_mm), s->home_speed, true);
        break;
    case BACK:
        send(c, off_mm, s->home_speed, false);
        break;
    case SLOW:
        send(c, -2 * off_mm, s->pull_in[axis] > 0.5f ? s->pull_in[axis] : 0.5f, true);
        break;
    default:
        send(c, s->pull_off, s->home_speed, false);
        break;
    }
}

/* What is wrong at the end of a phase. */
static DtcReason judge_phase(DtController *c)
{
    bool seeking = c->home_phase == FAST || c->home_phase == SLOW;
    bool closed = (dtc_switches(c) >> c->home_axis & 1) != 0;
    c->detail = c->home_axis ? 'Y' : 'X';
    if (seeking && !c->step.found)
        return DTC_SWITCH_MISSED;
    return !seeking && closed ? DTC_SWITCH_STUCK : DTC_FINE;
}

DtcReason dtc_home_go_on(DtController *c, bool *done)
{
    bool begun = c->home_phase & 0x80;
    c->home_phase &= 0x7f;
    if (begun) {
        DtcReason reason = judge_phase(c);
        c->step.seek = c->step.found = 0;
        if (reason != DTC_FINE)
            return reason;
        c->home_phase++;
        if (c->home_phase == PHASES) {
            c->home_phase = FAST;
            c->step.position[c->home_axis] = 0;
            c->home_axis++;
        }
    }
    *done = c->home_axis == DT_CONTROLLER_AXES;
    if (*done) {
        dtc_plan_forget(c);
        c->homed = 1;
        c->locked = 0;
        return DTC_FINE;
    }
    begin_phase(c);
    c->home_phase |= 0x80;
    return DTC_FINE;
}
