/* interpret: the meaning of a line's words in the modes in force, in the order of execution of
 * NISTIR 6556 table 8. Changes nothing until the whole line is correct. */
#include "core.h"

enum { G0 = 0, G1 = 10, G2 = 20, G3 = 30, G4 = 40, G20 = 200, G28 = 280, G91 = 910 };
enum { M0 = 0, M3 = 30, M5 = 50 };

static bool has(const DtcWords *w, int slot)
{
    return (w->given >> slot & 1) != 0;
}

static DtcReason refuse(DtController *c, DtcReason reason, char letter)
{
    c->detail = letter;
    return reason;
}

static DtcReason find_motion(DtController *c, const DtcWords *w, DtcModes *m)
{
    bool axes = has(w, DTC_VX) || has(w, DTC_VY);
    uint16_t said = w->word[DTC_GROUP_MOTION];
    m->home = w->word[DTC_GROUP_ONCE] == G28;
    m->motion = said != DTC_NONE ? said : c->motion == UINT8_MAX ? DTC_NONE : c->motion;
    m->moves = axes && !m->home;
    if (axes && m->home && said != DTC_NONE)
        return DTC_BOTH_AXES;
    if (m->moves && m->motion == DTC_NONE)
        return DTC_NO_MOTION;
    if (said != DTC_NONE && !axes)
        return DTC_NO_AXIS;
    m->arc = m->moves && (m->motion == G2 || m->motion == G3);
    return DTC_FINE;
}

static DtcReason find_unused(DtController *c, const DtcWords *w, const DtcModes *m)
{
    bool dwell = w->word[DTC_GROUP_ONCE] == G4;
    if (has(w, DTC_P) != dwell)
        return refuse(c, dwell ? DTC_MISSING : DTC_UNUSED, 'P');
    for (int slot = DTC_I; slot <= DTC_R; slot++)
        if (has(w, slot) && !m->arc)
            return refuse(c, DTC_UNUSED, dtc_value_letter(slot));
    return DTC_FINE;
}

static DtcReason find_feed(DtController *c, const DtcWords *w, DtcModes *m)
{
    m->inches = c->inches;
    m->relative = c->relative;
    m->feed = c->feed;
    m->feed_known = c->feed_known;
    if (w->word[DTC_GROUP_UNITS] != DTC_NONE)
        m->inches = w->word[DTC_GROUP_UNITS] == G20;
    if (w->word[DTC_GROUP_DISTANCE] != DTC_NONE)
        m->relative = w->word[DTC_GROUP_DISTANCE] == G91;
    if (has(w, DTC_F)) {
        uint32_t thousandths;
        if (!dtc_number_thousandths(&w->value[DTC_F], &thousandths))
            return refuse(c, DTC_NEGATIVE, 'F');
        /* In the units before this line: table 8 sets the feed before the units. */
        m->feed = (float)thousandths * (c->inches ? 25.4f / 60000 : 1.0f / 60000);
        m->feed_known = true;
    }
    if (m->moves && m->motion != G0 && !(m->feed_known && m->feed > 0))
        return DTC_NO_FEED;
    return DTC_FINE;
}

static DtcReason find_pen(DtController *c, const DtcWords *w, DtcModes *m)
{
    uint16_t spindle = w->word[DTC_GROUP_SPINDLE];
    DtLine *l = &c->line;
    m->s = c->s;
    m->s_known = c->s_known;
    if (has(w, DTC_S)) {
        if (!dtc_number_thousandths(&w->value[DTC_S], &m->s) ||
            m->s > (uint32_t)c->set->s_max * 1000)
            return refuse(c, DTC_S_RANGE, 'S');
        m->s_known = true;
    }
    bool turned = has(w, DTC_S) && c->spindle;
    if (spindle == M3 && !m->s_known)
        return refuse(c, DTC_MISSING, 'S');
    if (spindle == M3 && c->locked)
        return DTC_LOCKED;
    if (spindle == M5) {
        l->pulse_us = c->set->pen_up_us;
        l->todo |= DTC_DO_PEN;
    } else if (spindle == M3 || turned) {
        l->pulse_us = (uint16_t)(c->set->pen_up_us + m->s * c->set->pen_us_per_s / 1000);
        l->todo |= DTC_DO_PEN;
    }
    return DTC_FINE;
}

static DtcReason find_dwell(DtController *c, const DtcWords *w)
{
    if (w->word[DTC_GROUP_ONCE] != G4)
        return DTC_FINE;
    if (!dtc_number_thousandths(&w->value[DTC_P], &c->line.dwell_ms))
        return refuse(c, DTC_NEGATIVE, 'P');
    c->line.todo |= DTC_DO_DWELL;
    return DTC_FINE;
}

static DtcReason find_axis(DtController *c, const DtcWords *w, const DtcModes *m, uint8_t axis)
{
    int64_t at = c->plan.nm[axis];
    int64_t nm = at;
    char letter = axis == DTC_X ? 'X' : 'Y';
    uint8_t slot = (uint8_t)(DTC_VX + axis);
    if (has(w, slot)) {
        if (!dtc_number_nm(&w->value[slot], m->inches, &nm))
            return refuse(c, DTC_LARGE, letter);
        if (m->relative)
            nm += at;
    }
    c->line.target[axis] = nm;
    if (c->homed && (nm < 0 || nm > dtc_nm(c->set->travel[axis])))
        return refuse(c, DTC_TRAVEL, letter);
    return DTC_FINE;
}

static DtcReason find_target(DtController *c, const DtcWords *w, const DtcModes *m)
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        DtcReason reason = find_axis(c, w, m, axis);
        if (reason != DTC_FINE)
            return reason;
    }
    bool still = c->line.target[0] == c->plan.nm[0] && c->line.target[1] == c->plan.nm[1];
    if ((!still || m->arc) && !c->homed)
        return c->locked ? DTC_LOCKED : DTC_UNHOMED;
    c->line.todo |= m->arc ? DTC_DO_ARC : DTC_DO_MOVE;
    return DTC_FINE;
}

/* Parameters must be alone, apart from the line's number. */
static DtcReason find_settings(DtController *c, const DtcWords *w)
{
    bool alone = (w->given & ~(1u << DTC_N)) == 0;
    for (int group = 0; group < DTC_GROUPS; group++)
        alone = alone && w->word[group] == DTC_NONE;
    if (!alone)
        return DTC_PARAMETER_ALONE;
    if (w->parameters == 1)
        c->line.parameter[1] = 0;
    c->line.todo |= DTC_DO_SET;
    c->line.sync = 1;
    return DTC_FINE;
}

static void find_rest(DtController *c, const DtcWords *w, const DtcModes *m)
{
    DtLine *l = &c->line;
    l->feed = m->moves && m->motion != G0 ? m->feed : 0;
    if (m->home)
        l->todo |= DTC_DO_HOME;
    if (w->word[DTC_GROUP_STOP] != DTC_NONE) {
        l->todo |= DTC_DO_STOP;
        l->program_end = w->word[DTC_GROUP_STOP] != M0;
    }
    l->sync = (l->todo & (DTC_DO_HOME | DTC_DO_STOP)) || !(l->todo & (DTC_DO_MOVE | DTC_DO_ARC));
    l->sync = l->sync && l->todo;
}

DtcReason dtc_interpret(DtController *c, const DtcWords *w, DtcModes *m)
{
    m->settings = w->parameters > 0;
    if (m->settings)
        return find_settings(c, w);
    DtcReason reason = find_motion(c, w, m);
    if (reason == DTC_FINE)
        reason = find_unused(c, w, m);
    if (reason == DTC_FINE)
        reason = find_feed(c, w, m);
    if (reason == DTC_FINE)
        reason = find_pen(c, w, m);
    if (reason == DTC_FINE)
        reason = find_dwell(c, w);
    if (reason == DTC_FINE && (w->given & (1u << DTC_VX | 1u << DTC_VY)))
        reason = find_target(c, w, m);
    if (reason == DTC_FINE)
        find_rest(c, w, m);
    return reason;
}

DtcReason dtc_interpret_arc(DtController *c, const DtcWords *w, const DtcModes *m)
{
    bool arc = !m->settings && (c->line.todo & DTC_DO_ARC);
    return arc ? dtc_arc_begin(c, w, m->motion == G2, m->inches) : DTC_FINE;
}

void dtc_interpret_end(DtController *c, const DtcWords *w, const DtcModes *m)
{
    if (m->settings)
        return;
    uint16_t spindle = w->word[DTC_GROUP_SPINDLE];
    if (m->motion != DTC_NONE)
        c->motion = (uint8_t)m->motion;
    c->inches = m->inches;
    c->relative = m->relative;
    c->feed = m->feed;
    c->feed_known = m->feed_known;
    c->s = m->s;
    c->s_known = m->s_known;
    if (spindle != DTC_NONE)
        c->spindle = spindle == M3;
}
