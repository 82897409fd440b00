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
        p->nm[axis] = 0;
        p->q8[axis] = 0;
        p->q8_per_nm[axis] = (uint32_t)(c->set->steps_per_mm[axis] * (256e-6f * 4294967296.0f));
    }
}

void dtc_plan_forget(DtController *c)
{
    DtPlanner *p = &c->plan;
    p->tail = p->head;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        p->q8[axis] = c->step.position[axis] * 256;
        float mm = (float)c->step.position[axis] / c->set->steps_per_mm[axis];
        p->nm[axis] = (int64_t)(int32_t)(mm * 1e5f) * 10;
    }
    dtc_cut_forget(c);
}

static void measure_way(DtPlanner *p, DtBlock *b, const int64_t nm[2])
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        int32_t to = (int32_t)((nm[axis] * p->q8_per_nm[axis] + 0x80000000) >> 32);
        b->q8[axis] = to - p->q8[axis];
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

/* The block at the tail is being cut: it is left alone. */
static void plan_back(DtController *c)
{
    DtPlanner *p = &c->plan;
    float exit2 = dtc_plan_block(c, (uint8_t)(p->head - 1))->entry2;
    for (uint8_t at = (uint8_t)(p->head - 2); (int8_t)(at - p->tail) > 0; at--) {
        DtBlock *b = dtc_plan_block(c, at);
        float entry2 = least(b->junction2, exit2 + b->acceleration2 * b->length);
        if (entry2 == b->entry2)
            return; /* what lies before was planned with this already */
        b->entry2 = entry2;
        exit2 = entry2;
    }
}

/* Straight from the nanometres: for a way of a few steps 1/256 step is too coarse. */
static float length_of(const DtController *c, const int64_t nm[2], float d[2])
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        d[axis] = dtc_mm(nm[axis] - c->plan.nm[axis]);
    return sqrtf(d[0] * d[0] + d[1] * d[1]);
}

void dtc_plan_line(DtController *c, const int64_t nm[2], float feed)
{
    DtPlanner *p = &c->plan;
    float d[2], length = length_of(c, nm, d);
    if (length <= 0)
        return;
    DtBlock *b = dtc_plan_block(c, p->head);
    float unit[2] = {d[0] / length, d[1] / length};
    bool from_rest = dtc_plan_count(c) == 0 && !c->step.running && !dtc_segments_wait(c);
    if (from_rest)
        p->unit[0] = p->unit[1] = 0;
    b->length = length;
    find_limits(c, b, unit, feed);
    if (!from_rest)
        b->junction2 = least(b->junction2, dtc_plan_block(c, (uint8_t)(p->head - 1))->cruise2);
    b->entry2 = least(b->junction2, b->rest2 + b->acceleration2 * length);
    measure_way(p, b, nm);
    p->unit[0] = unit[0];
    p->unit[1] = unit[1];
    p->head++;
    plan_back(c);
    if (c->hw->target)
        c->hw->target(c->board, nm);
}
