/* step: the timer interrupt: counts segments down and turns the motors. Integers only, and short. */
#include "core.h"

/* What the interrupt does at each step; a board may inline it. */
#ifndef DTC_PRESSED
#define DTC_PRESSED(c) (DTC_CALL(c, switches) ^ (c)->step.opens) /* bit per axis */
#define DTC_DEBOUNCED 0 /* 1: those were pressed for the time of the settings since the last look */
#define DTC_UPPER(word) ((int16_t)(*(word) >> 16))
#endif

/* Not inlined: rarely called, and the code of every step stays short. */
#define SELDOM __attribute__((noinline))
/* Not of the interrupt: built for size where the rest is built for speed. */
#define SMALL __attribute__((cold))

enum {
    WAIT_MS = 10,         /* a piece of a wait */
    TOGETHER_US = 11,     /* steps closer than this are made in one interrupt */
    SHORTEST_US = 4,      /* to the next interrupt */
    FARTHEST_US = 12000,  /* how far ahead of its time the next segment is started */
    SURE_STEPS = 64,      /* of a pressed switch, whatever time they took */
    NEVER_US = INT16_MAX, /* of DTC_NEVER */
};

/* The eight half steps of a four-wire unipolar motor: one and two coils alternately; common
 * practice, no source. */
static const DTC_FLASH uint8_t half_steps[8] = {1, 3, 2, 6, 4, 12, 8, 9};

static inline int16_t whole_us(const uint32_t *time)
{
    return DTC_UPPER(time);
}

/* Starts the segment at the tail. */
static void begin(DtController *c)
{
    DtStepper *s = &c->step;
    DtSegment *g = &s->segment[s->tail & (DT_CONTROLLER_SEGMENTS - 1)];
    uint8_t down = g->back ^ c->set->reverse;
    s->segment_now = g;
    s->opens = c->set->opens;
    s->turn[DTC_X] = down & 1 ? -1 : 1;
    s->turn[DTC_Y] = down & 2 ? -1 : 1;
}

SMALL void dtc_step_reset(DtController *c)
{
    DTC_CALL1(c, timer, 0);
    dtc_step_release(c);
}

SMALL void dtc_step_release(DtController *c)
{
    c->step.loose = 1;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        DTC_CALL2(c, coils, axis, 0);
}

SMALL static void hold_motors(DtController *c)
{
    c->step.loose = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        DTC_CALL2(c, coils, axis, half_steps[c->step.phase[axis]]);
}

SMALL uint8_t dtc_switches(const DtController *c)
{
    return (DTC_CALL(c, switches) ^ c->set->opens) & 3;
}

/* Continues from a segment whose steps are done to the next one, if that is near enough:
 * NEVER_US. Otherwise the time to look again; the motors may have come to rest. */
SELDOM static int16_t go_to_next(DtController *c)
{
    DtStepper *s = &c->step;
    DtSegment *g = s->segment_now;
    int16_t end = (int16_t)g->us;
    if ((uint8_t)(s->tail + 1) == s->head) {
        if (s->now < end)
            return end;
        if (!g->may_rest)
            s->late++;
        s->begun_us = (uint16_t)(s->begun_us + g->us);
        s->tail++;
        s->running = 0;
        return end;
    }
    if (end - s->now > FARTHEST_US)
        return end;
    s->now = (int16_t)(s->now - end);
    s->begun_us = (uint16_t)(s->begun_us + g->us);
    s->tail++;
    begin(c);
    return NEVER_US;
}

/* Finds the next step. Returns the time to it, 0 if the motors rest. */
static inline uint16_t find_next(DtController *c)
{
    DtStepper *s = &c->step;
    int16_t next;
    do {
        const DtSegment *g = s->segment_now;
        next = whole_us(&g->axis[DTC_X].at);
        int16_t other = whole_us(&g->axis[DTC_Y].at);
        if (other < next)
            next = other;
        if (next == NEVER_US) {
            next = go_to_next(c);
            if (!s->running)
                return 0;
        }
    } while (next == NEVER_US);
    int16_t us = (int16_t)(next - s->now);
    if (us < SHORTEST_US)
        us = SHORTEST_US;
    if (us > DT_CONTROLLER_FARTHEST) /* an interrupt on the way, at which nothing is due */
        us = DT_CONTROLLER_FARTHEST;
    s->now = (int16_t)(s->now + us);
    s->clock = (uint16_t)(s->clock + (uint16_t)us);
    return (uint16_t)us;
}

static inline void turn(DtController *c, DtSegmentAxis *a, uint8_t axis, bool back)
{
    DtStepper *s = &c->step;
    uint8_t phase = (uint8_t)(s->phase[axis] + (uint8_t)s->turn[axis]) & 7;
    s->phase[axis] = phase;
    DTC_CALL2(c, coils, axis, half_steps[phase]);
    if (back)
        s->position[axis]--;
    else
        s->position[axis]++;
    if (--a->steps == 0) {
        a->at = DTC_NEVER;
        return;
    }
    a->at += a->gap;
    a->gap += (uint32_t)a->change;
}

/* Whether a pressed switch was seen at enough steps: at one if the board debounces, otherwise at
 * two and for the time of the settings. A search always takes two, so that it ends at the same
 * step. */
static inline bool counts(const DtController *c, uint8_t axis, bool seeks)
{
    const DtStepper *s = &c->step;
    if (s->seen[axis] < 2)
        return DTC_DEBOUNCED && !seeks;
    uint16_t since = (uint16_t)(s->clock - s->seen_clock[axis]);
    return DTC_DEBOUNCED || since >= c->set->debounce_us || s->seen[axis] >= SURE_STEPS;
}

/* Reads the switches that the due axes move towards, before the coils disturb them. Returns
 * whether the motors must stop. */
SELDOM static bool meets_switch(DtController *c, uint8_t due, uint8_t may_rest, uint8_t pressed)
{
    DtStepper *s = &c->step;
    for (uint8_t axis = 0, bit = 1; axis < DT_CONTROLLER_AXES; axis++, bit = 2) {
        if (!(due & bit))
            continue;
        if (!(pressed & bit)) {
            s->seen[axis] = 0;
            continue;
        }
        if (!DTC_DEBOUNCED && s->seen[axis] == 0)
            s->seen_clock[axis] = s->clock;
        if (s->seen[axis] < SURE_STEPS)
            s->seen[axis]++;
        if (!counts(c, axis, s->seek & bit))
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

SMALL void dtc_step_doubt_switches(DtController *c)
{
    DtStepper *s = &c->step;
    if (DTC_DEBOUNCED || (s->seen[DTC_X] | s->seen[DTC_Y]) == 0)
        return;
    uint8_t pressed = dtc_switches(c);
    DTC_CALL(c, lock);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (!(pressed >> axis & 1))
            s->seen[axis] = 0;
    DTC_CALL(c, unlock);
}

SMALL SELDOM static uint16_t wait_on(DtStepper *s)
{
    uint16_t ms = s->wait_ms < WAIT_MS ? (uint16_t)s->wait_ms : WAIT_MS;
    if (ms == 0)
        s->waiting = 0;
    s->wait_ms -= ms;
    return (uint16_t)(ms * 1000);
}

static inline __attribute__((always_inline)) uint16_t interrupt(DtController *c)
{
    c = DTC_ONLY(c);
    DtStepper *s = &c->step;
    if (!s->running) {
        s->ticked = 1;
        return s->waiting ? wait_on(s) : 0;
    }
    DtSegment *g = s->segment_now;
    DtSegmentAxis *x = &g->axis[DTC_X], *y = &g->axis[DTC_Y];
    int16_t until = (int16_t)(s->now + TOGETHER_US);
    uint8_t due =
        (uint8_t)((whole_us(&x->at) <= until ? 1 : 0) | (whole_us(&y->at) <= until ? 2 : 0));
    uint8_t back = g->back;
    if (due & back) {
        uint8_t pressed = DTC_PRESSED(c);
        if ((pressed | s->seen[DTC_X] | s->seen[DTC_Y]) &&
            meets_switch(c, due & back, g->may_rest, pressed)) {
            s->running = 0;
            return 0;
        }
    }
    if (due & 1)
        turn(c, x, DTC_X, back & 1);
    if (due & 2)
        turn(c, y, DTC_Y, back & 2);
    return find_next(c);
}

uint16_t dt_controller_timer(DtController *c)
{
    return interrupt(c);
}

SMALL void dtc_step_start(DtController *c)
{
    DtStepper *s = &c->step;
    bool kept = s->running || s->waiting || s->tripped || s->found || c->hold || c->abandon;
    if (kept || !dtc_segments_wait(c))
        return;
    if (s->loose)
        hold_motors(c);
    DTC_CALL(c, lock);
    s->now = SHORTEST_US;
    s->running = 1;
    begin(c);
    DTC_CALL1(c, timer, SHORTEST_US);
    DTC_CALL(c, unlock);
}

SMALL void dtc_wait_ms(DtController *c, uint32_t ms)
{
    dtc_wait_rest(c, ms, 0);
}

SMALL void dtc_wait_rest(DtController *c, uint32_t ms, uint16_t passed_us)
{
    DtStepper *s = &c->step;
    if (ms == 0)
        return;
    DTC_CALL(c, lock);
    s->wait_ms += ms;
    if (!s->waiting) {
        s->waiting = 1;
        uint16_t us = wait_on(s);
        us = us > passed_us ? (uint16_t)(us - passed_us) : SHORTEST_US;
        DTC_CALL1(c, timer, us);
    }
    DTC_CALL(c, unlock);
}

SMALL void dtc_wait_end(DtController *c)
{
    DTC_CALL(c, lock);
    DTC_CALL1(c, timer, 0);
    c->step.wait_ms = 0;
    c->step.waiting = 0;
    DTC_CALL(c, unlock);
}
