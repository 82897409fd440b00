/* plan: straight blocks and the speeds at which they follow each other. Each junction is passed at
 * the greatest speed that jumps no axis by more than its pull-in; a backward pass keeps every speed
 * low enough to come down to the next one. No forward pass is needed: the step generator speeds up
 * from what it has reached. */
#include "core.h"

#include <math.h>

void dtc_plan_reset(DtController *c)
{
    DtPlanner *p = &c->plan;
    p->head = p->tail = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        p->nm[axis] = p->q8[axis] = 0;
        p->q8_per_nm[axis] = (uint32_t)(c->set->steps_per_mm[axis] * (256e-6f * 4294967296.0f));
    }
}

void dtc_plan_forget(DtController *c)
{
    DtPlanner *p = &c->plan;
    p->tail = p->head;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        p->q8[axis] = c->step.position[axis] * 256;
        p->nm[axis] = (int32_t)((float)c->step.position[axis] * 1e6f / c->set->steps_per_mm[axis]);
    }
}

/* The step that a position belongs to; steps change half way between two. */
static int32_t nearest_step(int32_t q8)
{
    return (q8 + 128) >> 8;
}

static void cut_into_steps(DtController *c, DtBlock *b, const int32_t nm[2])
{
    DtPlanner *p = &c->plan;
    b->back = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        int32_t from = p->q8[axis];
        int32_t to = (int32_t)(((int64_t)nm[axis] * p->q8_per_nm[axis] + 0x80000000) >> 32);
        int32_t step = nearest_step(from);
        int32_t first = step * 256 + 128 - from;
        int32_t steps = nearest_step(to) - step;
        if (to < from) {
            b->back |= (uint8_t)(1u << axis);
            first = 256 - first;
            steps = -steps;
        }
        b->steps[axis] = (uint32_t)steps;
        b->first[axis] = (uint8_t)(first > 255 ? 255 : first);
        b->gap[axis] = to != from ? b->length * 256 / fabsf((float)(to - from)) : 0;
        p->q8[axis] = to;
        p->nm[axis] = nm[axis];
    }
}

static float least(float a, float b)
{
    return a < b ? a : b;
}

/* What the axes' limits allow along a direction. */
static void find_limits(const DtController *c, DtBlock *b, const float unit[2], float feed)
{
    const DtSettings *s = c->set;
    float cruise = feed > 0 ? feed : 1e6f, acceleration = 1e6f, rest = 1e6f, junction = 1e6f;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        float share = fabsf(unit[axis]);
        float turn = fabsf(unit[axis] - c->plan.unit[axis]);
        if (share > 1e-6f) {
            cruise = least(cruise, s->speed[axis] / share);
            acceleration = least(acceleration, s->acceleration[axis] / share);
            rest = least(rest, s->pull_in[axis] / share);
        }
        if (turn > 1e-6f)
            junction = least(junction, s->pull_in[axis] / turn);
    }
    b->acceleration2 = 2 * acceleration;
    b->cruise2 = cruise * cruise;
    b->rest2 = least(rest * rest, b->cruise2);
    b->junction2 = least(junction * junction, b->cruise2);
}

/* The block under way, at the tail, is left alone; the step generator may pass on to the next one
 * meanwhile. */
static void plan_back(DtController *c)
{
    DtPlanner *p = &c->plan;
    float exit2 = dtc_plan_block(c, (uint8_t)(p->head - 1))->entry2;
    for (uint8_t at = (uint8_t)(p->head - 2); (int8_t)(at - p->tail) > 0; at--) {
        DtBlock *b = dtc_plan_block(c, at);
        float entry2 = least(b->junction2, exit2 + b->acceleration2 * b->length);
        if (entry2 == b->entry2)
            return; /* what lies before was planned with this already */
        c->hw->lock(c->board);
        b->entry2 = entry2;
        c->hw->unlock(c->board);
        exit2 = entry2;
    }
}

void dtc_plan_line(DtController *c, const int32_t nm[2], float feed)
{
    DtPlanner *p = &c->plan;
    float d[2];
    for (uint8_t axis = 0; axis < 2; axis++)
        d[axis] = (float)(nm[axis] - p->nm[axis]) * 1e-6f;
    float length = sqrtf(d[0] * d[0] + d[1] * d[1]);
    if (length <= 0)
        return;
    DtBlock *b = dtc_plan_block(c, p->head);
    float unit[2] = {d[0] / length, d[1] / length};
    b->length = length;
    if (dtc_plan_count(c) == 0) /* from rest */
        p->unit[0] = p->unit[1] = 0;
    find_limits(c, b, unit, feed);
    float before2 = dtc_plan_count(c) ? dtc_plan_block(c, (uint8_t)(p->head - 1))->cruise2 : 1e12f;
    b->junction2 = least(b->junction2, before2);
    b->entry2 = least(b->junction2, b->rest2 + b->acceleration2 * length);
    cut_into_steps(c, b, nm);
    p->unit[0] = unit[0];
    p->unit[1] = unit[1];
    p->head++;
    plan_back(c);
    if (c->hw->target)
        c->hw->target(c->board, nm);
    dtc_step_start(c);
}
