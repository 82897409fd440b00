/* step: the timer interrupt: counts segments down and turns the motors. Integers only, and short. */
#include "core.h"

enum {
    WAIT_MS = 20,        /* a piece of a wait */
    TOGETHER_US = 7,     /* steps closer than this are done in one interrupt */
    SHORTEST_US = 4,     /* to the next interrupt */
    FARTHEST_US = 12000, /* that the next segment is begun ahead of its time */
    SURE_STEPS = 64,     /* of a pressed switch, whatever time they took */
    NONE = INT16_MAX,
};

/* The eight half steps of a four-wire unipolar motor: one and two coils by turns; common practice, no
 * source. */
static const DTC_FLASH uint8_t half_steps[8] = {1, 3, 2, 6, 4, 12, 8, 9};

static DtSegment *under_way(DtStepper *s)
{
    return &s->segment[s->tail & (DT_CONTROLLER_SEGMENTS - 1)];
}

static int16_t whole_us(uint32_t time)
{
    return (int16_t)(time >> 16);
}

void dtc_step_reset(DtController *c)
{
    c->hw->timer(c->board, 0);
    dtc_step_release(c);
}

void dtc_step_release(DtController *c)
{
    c->step.loose = 1;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        c->hw->coils(c->board, axis, 0);
}

static void hold_motors(DtController *c)
{
    c->step.loose = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        c->hw->coils(c->board, axis, half_steps[c->step.phase[axis]]);
}

uint8_t dtc_switches(const DtController *c)
{
    return (c->hw->switches(c->board) ^ c->set->opens) & 3;
}

/* Finds the next step, going on to the segment that holds it where that lies near enough. Returns the
 * time to it, 0 where the motors rest. */
static uint16_t find_next(DtStepper *s)
{
    DtSegment *g = under_way(s);
    int16_t next = NONE;
    for (;;) {
        for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
            if (g->steps[axis] && whole_us(g->at[axis]) < next)
                next = whole_us(g->at[axis]);
        if (next != NONE)
            break;
        bool at_end = s->now >= (int16_t)g->us;
        if ((uint8_t)(s->tail + 1) == s->head) {
            if (at_end) {
                if (!g->may_rest)
                    s->late++;
                s->tail++;
                s->running = 0;
                return 0;
            }
            next = (int16_t)g->us;
            break;
        }
        if ((int16_t)g->us - s->now > FARTHEST_US) {
            next = (int16_t)g->us;
            break;
        }
        s->now = (int16_t)(s->now - (int16_t)g->us);
        s->tail++;
        g = under_way(s);
    }
    int16_t us = (int16_t)(next - s->now);
    if (us < SHORTEST_US)
        us = SHORTEST_US;
    s->now = (int16_t)(s->now + us);
    s->clock = (uint16_t)(s->clock + (uint16_t)us);
    return (uint16_t)us;
}

static void turn(DtController *c, DtSegment *g, uint8_t axis)
{
    DtStepper *s = &c->step;
    uint8_t bit = (uint8_t)(1u << axis);
    uint8_t phase = s->phase[axis];
    phase = (uint8_t)((g->back ^ c->set->reverse) & bit ? phase - 1 : phase + 1) & 7;
    s->phase[axis] = phase;
    c->hw->coils(c->board, axis, half_steps[phase]);
    s->position[axis] += g->back & bit ? -1 : 1;
    g->steps[axis]--;
    g->at[axis] += g->gap[axis];
    g->gap[axis] += (uint32_t)g->change[axis];
}

/* Looks at the switches that the due axes move towards, before the coils disturb them. One counts when
 * it was seen pressed twice and for the time of the settings. Returns whether the motors must stop. */
static bool meets_switch(DtController *c, uint8_t due, uint8_t may_rest)
{
    DtStepper *s = &c->step;
    uint8_t pressed = dtc_switches(c);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        uint8_t bit = (uint8_t)(1u << axis);
        if (!(due & bit))
            continue;
        if (!(pressed & bit)) {
            s->seen[axis] = 0;
            continue;
        }
        if (s->seen[axis] == 0)
            s->seen_clock[axis] = s->clock;
        if (s->seen[axis] < SURE_STEPS)
            s->seen[axis]++;
        uint16_t since = (uint16_t)(s->clock - s->seen_clock[axis]);
        if (s->seen[axis] < 2 || (since < c->set->debounce_us && s->seen[axis] < SURE_STEPS))
            continue;
        if (s->seek & bit) {
            s->found = 1;
            return may_rest == DTC_ANYWHERE;
        }
        if (!s->seek && c->homed) {
            s->tripped = 1;
            return true;
        }
    }
    return false;
}

void dtc_step_doubt_switches(DtController *c)
{
    DtStepper *s = &c->step;
    if ((s->seen[DTC_X] | s->seen[DTC_Y]) == 0)
        return;
    uint8_t pressed = dtc_switches(c);
    c->hw->lock(c->board);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (!(pressed >> axis & 1))
            s->seen[axis] = 0;
    c->hw->unlock(c->board);
}

static uint16_t wait_on(DtStepper *s)
{
    uint16_t ms = s->wait_ms < WAIT_MS ? (uint16_t)s->wait_ms : WAIT_MS;
    if (ms == 0)
        s->waiting = 0;
    s->wait_ms -= ms;
    return (uint16_t)(ms * 1000);
}

uint16_t dt_controller_timer(DtController *c)
{
    DtStepper *s = &c->step;
    if (s->waiting) {
        s->ticked = 1;
        return wait_on(s);
    }
    if (!s->running)
        return 0;
    DtSegment *g = under_way(s);
    int16_t until = (int16_t)(s->now + TOGETHER_US);
    uint8_t due = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (g->steps[axis] && whole_us(g->at[axis]) <= until)
            due |= (uint8_t)(1u << axis);
    if ((due & g->back) && meets_switch(c, due & g->back, g->may_rest)) {
        s->running = 0;
        return 0;
    }
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (due >> axis & 1)
            turn(c, g, axis);
    return find_next(s);
}

void dtc_step_start(DtController *c)
{
    DtStepper *s = &c->step;
    bool kept = s->running || s->waiting || s->tripped || s->found || c->hold || c->abandon;
    if (kept || !dtc_segments_wait(c))
        return;
    if (s->loose)
        hold_motors(c);
    c->hw->lock(c->board);
    s->now = 0;
    s->running = 1;
    c->hw->timer(c->board, find_next(s));
    c->hw->unlock(c->board);
}

void dtc_wait_ms(DtController *c, uint32_t ms)
{
    DtStepper *s = &c->step;
    if (ms == 0)
        return;
    c->hw->lock(c->board);
    s->wait_ms += ms;
    if (!s->waiting) {
        s->waiting = 1;
        c->hw->timer(c->board, wait_on(s));
    }
    c->hw->unlock(c->board);
}

void dtc_wait_end(DtController *c)
{
    c->hw->lock(c->board);
    c->hw->timer(c->board, 0);
    c->step.wait_ms = 0;
    c->step.waiting = 0;
    c->hw->unlock(c->board);
}
