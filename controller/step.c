/* step: turns blocks into motor steps, each at its own time. Between two steps the path speed
 * changes by v2*v2 = v1*v1 + 2*a*s, so that the time of path s is 2*s/(v1+v2), without error. */
#include "core.h"

#include <math.h>

enum { REST_US = 10000, SHORTEST_US = 5, LONGEST_WAIT_MS = 1000 };
enum { AT_BLOCK_END = 0 };
#define NEVER_MM 1e9f
#define TOGETHER_MM 2e-5f /* steps closer than this on the path are one interrupt */

/* The eight half steps of a four-wire unipolar motor: one and two coils by turns. */
static const DTC_FLASH uint8_t half_steps[8] = {1, 3, 2, 6, 4, 12, 8, 9};

static float least(float a, float b)
{
    return a < b ? a : b;
}

/* Where on the path the axis steps next. Rounding may put its last step past the end. */
static void find_step(DtStepper *s, const DtBlock *b, uint8_t axis)
{
    float at = NEVER_MM;
    if (s->done[axis] < b->steps[axis])
        at = least(((float)s->done[axis] + (float)b->first[axis] * (1.0f / 256)) * b->gap[axis],
                   b->length);
    s->at[axis] = at;
}

static void load(DtStepper *s, const DtBlock *b)
{
    s->s = 0;
    s->done[0] = s->done[1] = 0;
    find_step(s, b, DTC_X);
    find_step(s, b, DTC_Y);
    s->loaded = 1;
}

static void set_speed2(DtStepper *s, float v2)
{
    s->v2 = s->next_v2 = v2;
    s->v = s->next_v = v2 > 0 ? sqrtf(v2) : 0;
    s->us_per_mm = 0;
}

static void hold_motors(DtController *c)
{
    c->step.loose = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        c->hw->coils(c->board, axis, half_steps[c->step.phase[axis]]);
}

void dtc_step_reset(DtController *c)
{
    DtStepper *s = &c->step;
    s->running = s->resting = s->loaded = s->due = 0;
    s->seek = s->found = s->tripped = s->pressed = 0;
    s->wait_ms = 0;
    s->owed_us = 0;
    s->s = 0;
    set_speed2(s, 0);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        s->position[axis] = 0;
        s->phase[axis] = 0;
    }
    hold_motors(c);
    c->hw->timer(c->board, 0);
}

static bool is_stopping(const DtController *c)
{
    return c->hold || c->abandon || c->step.found;
}

static void stop(DtController *c)
{
    c->step.running = 0;
    set_speed2(&c->step, 0);
    c->step.owed_us = 0;
    c->hw->timer(c->board, 0);
}

static void set_timer(DtController *c, float us)
{
    DtStepper *s = &c->step;
    s->owed_us += us;
    uint32_t whole = s->owed_us > SHORTEST_US ? (uint32_t)s->owed_us : SHORTEST_US;
    s->owed_us -= (float)whole;
    c->hw->timer(c->board, whole);
}

/* The next thing on the path of the block: a step of one or both axes, or its end. */
static void find_next(DtStepper *s, const DtBlock *b)
{
    float next = least(least(s->at[DTC_X], s->at[DTC_Y]), b->length);
    s->due = AT_BLOCK_END;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (s->at[axis] <= next + TOGETHER_MM)
            s->due |= (uint8_t)(1u << axis);
    s->next_s = next < s->s ? s->s : next;
}

static float exit2(DtController *c, const DtBlock *b)
{
    if (dtc_plan_count(c) < 2)
        return b->rest2;
    return dtc_plan_block(c, (uint8_t)(c->plan.tail + 1))->entry2;
}

/* Speed and time to the next thing. */
static float travel_us(DtController *c, const DtBlock *b)
{
    DtStepper *s = &c->step;
    float way = s->next_s - s->s;
    float change = b->acceleration2 * way;
    float next2 = least(s->v2 + change, b->cruise2);
    next2 = least(next2, exit2(c, b) + b->acceleration2 * (b->length - s->next_s));
    if (is_stopping(c) && next2 > s->v2 - change) {
        next2 = s->v2 - change;
        if (next2 < b->rest2)
            next2 = least(b->rest2, s->v2);
    }
    s->next_v2 = next2;
    if (next2 == s->v2) {
        s->next_v = s->v;
        if (s->us_per_mm == 0)
            s->us_per_mm = 1e6f / (s->v > 0.0005f ? s->v : 0.0005f);
        return way * s->us_per_mm;
    }
    s->next_v = next2 > 0 ? sqrtf(next2) : 0;
    float sum = s->v + s->next_v;
    return 2e6f * way / (sum > 0.001f ? sum : 0.001f);
}

/* At the next thing. */
static void arrive(DtStepper *s)
{
    s->s = s->next_s;
    if (s->next_v2 != s->v2)
        s->us_per_mm = 0;
    s->v = s->next_v;
    s->v2 = s->next_v2;
}

/* Leaves a finished block. False when the motors rest. */
static bool next_block(DtController *c)
{
    DtStepper *s = &c->step;
    c->plan.tail++;
    s->loaded = 0;
    if (dtc_plan_count(c) == 0) {
        stop(c);
        return false;
    }
    const DtBlock *b = dtc_plan_block(c, c->plan.tail);
    load(s, b);
    if (s->v2 <= b->junction2 * 1.001f)
        return true;
    /* It came too late to slow down for it: rest, and start again. */
    s->resting = 1;
    set_speed2(s, b->rest2);
    s->next_s = 0;
    set_timer(c, REST_US);
    return false;
}

static void schedule(DtController *c)
{
    DtStepper *s = &c->step;
    for (;;) {
        DtBlock *b = dtc_plan_block(c, c->plan.tail);
        if (is_stopping(c) && s->v2 <= b->rest2 * 1.001f) {
            stop(c);
            if (s->found) { /* the rest of a search is not wanted any more */
                c->plan.tail = c->plan.head;
                s->loaded = 0;
            }
            return;
        }
        find_next(s, b);
        float us = travel_us(c, b);
        if (s->due != AT_BLOCK_END || us >= SHORTEST_US) {
            set_timer(c, us);
            return;
        }
        s->owed_us += us;
        arrive(s);
        if (!next_block(c))
            return;
    }
}

void dtc_step_release(DtController *c)
{
    c->step.loose = 1;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        c->hw->coils(c->board, axis, 0);
}

static void start(DtController *c)
{
    DtStepper *s = &c->step;
    if (s->running || c->hold || c->abandon || s->wait_ms || s->tripped || dtc_plan_count(c) == 0)
        return;
    if (s->loose)
        hold_motors(c);
    const DtBlock *b = dtc_plan_block(c, c->plan.tail);
    if (!s->loaded)
        load(s, b);
    set_speed2(s, b->rest2);
    s->owed_us = 0;
    s->running = 1;
    schedule(c);
}

/* Long waits are cut up for timers that cannot count far. */
static uint32_t one_wait(uint32_t ms)
{
    return ms < LONGEST_WAIT_MS ? ms : LONGEST_WAIT_MS;
}

void dtc_step_start(DtController *c)
{
    c->hw->lock(c->board);
    start(c);
    c->hw->unlock(c->board);
}

void dtc_wait_ms(DtController *c, uint32_t ms)
{
    DtStepper *s = &c->step;
    if (ms == 0)
        return;
    c->hw->lock(c->board);
    bool waiting = s->wait_ms > 0;
    s->wait_ms += ms;
    if (!waiting)
        c->hw->timer(c->board, one_wait(s->wait_ms) * 1000);
    c->hw->unlock(c->board);
}

static void turn(DtController *c, const DtBlock *b, uint8_t axis)
{
    DtStepper *s = &c->step;
    bool back = (b->back >> axis & 1) != 0;
    bool reverse = (c->set->reverse >> axis & 1) != 0;
    s->phase[axis] = (uint8_t)((s->phase[axis] + (back != reverse ? 7 : 1)) & 7);
    c->hw->coils(c->board, axis, half_steps[s->phase[axis]]);
    s->position[axis] += back ? -1 : 1;
    s->done[axis]++;
    find_step(s, b, axis);
}

/* A switch counts when two steps in a row see it closed. */
static void watch_switches(DtController *c, const DtBlock *b)
{
    DtStepper *s = &c->step;
    uint8_t now = c->hw->switches(c->board) & b->back & s->due;
    uint8_t closed = now & s->pressed;
    s->pressed = (uint8_t)((s->pressed & ~s->due) | now);
    if (closed & s->seek)
        s->found = 1;
    else if (closed && !s->seek && c->homed)
        s->tripped = 1;
}

void dt_controller_timer(DtController *c)
{
    DtStepper *s = &c->step;
    if (s->wait_ms) {
        s->wait_ms -= one_wait(s->wait_ms);
        if (s->wait_ms)
            c->hw->timer(c->board, one_wait(s->wait_ms) * 1000);
        else
            start(c);
        return;
    }
    if (!s->running)
        return;
    const DtBlock *b = dtc_plan_block(c, c->plan.tail);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (!s->resting && (s->due >> axis & 1))
            turn(c, b, axis);
    arrive(s);
    if (s->resting) {
        s->resting = 0;
    } else if (s->due == AT_BLOCK_END) {
        if (!next_block(c))
            return;
    } else {
        watch_switches(c, b);
        if (s->tripped) {
            stop(c);
            return;
        }
    }
    schedule(c);
}
