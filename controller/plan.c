/* plan: straight blocks and the speeds at which they follow each other. Each junction is passed
 * at the highest speed at which no axis changes its speed by more than its pull-in; a backward
 * pass keeps every speed low enough to brake to the next one. No forward pass is needed: the
 * step generator accelerates from the speed it has reached. */
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
        p->nm[axis] = dtc_nm(mm);
    }
    dtc_cut_forget(c);
}

/* In 1/256 step, rounded: the upper half of the product, by halves of the nanometres. */
static int32_t q8_of(const DtPlanner *p, uint8_t axis, int64_t nm)
{
    uint32_t per_nm = p->q8_per_nm[axis];
    uint32_t low = dtc_lower(nm);
    uint32_t from_low = dtc_upper((int64_t)((uint64_t)low * per_nm + 0x80000000u));
    return (int32_t)(from_low + dtc_upper(nm) * per_nm);
}

static void measure_way(DtPlanner *p, DtBlock *b, const int64_t nm[2])
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        int32_t to = q8_of(p, axis, nm[axis]);
        b->q8[axis] = to - p->q8[axis];
        p->q8[axis] = to;
        p->nm[axis] = nm[axis];
    }
}

/* The smaller of limit / share of both axes; each share's reciprocal is worked out once, where it is
 * needed, for division is dear on a small chip. */
static float along(const float limit[2], const float share[2], float per_share[2])
{
    bool y = dtc_below(limit[DTC_Y] * share[DTC_X], limit[DTC_X] * share[DTC_Y]);
    if (!dtc_some(per_share[y]))
        per_share[y] = 1 / share[y];
    return limit[y] * per_share[y];
}

/* Reduces a speed so that no axis changes its speed by more than its pull-in where the direction
 * turns to `unit`. */
static float lower_for_turn(const DtController *c, float v, const float unit[2])
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        float turn = fabsf(unit[axis] - c->plan.unit[axis]);
        if (dtc_below(1e-6f, turn) && dtc_below(c->set->pull_in[axis], turn * v))
            v = c->set->pull_in[axis] / turn;
    }
    return v;
}

/* What the axes' limits allow along a direction. */
static void find_limits(const DtController *c, DtBlock *b, const float unit[2], float feed)
{
    const DtSettings *s = c->set;
    const float share[2] = {fabsf(unit[DTC_X]), fabsf(unit[DTC_Y])};
    float per_share[2] = {0, 0};
    float cruise = along(s->speed, share, per_share), rest = along(s->pull_in, share, per_share);
    if (dtc_some(feed))
        cruise = dtc_least(cruise, feed);
    float junction = lower_for_turn(c, cruise, unit);
    b->acceleration2 = 2 * along(s->acceleration, share, per_share);
    b->cruise2 = cruise * cruise;
    b->rest2 = dtc_least(rest * rest, b->cruise2);
    b->junction2 = junction * junction;
}

/* The block at the tail is being cut: it is not changed. */
static void plan_back(DtController *c)
{
    DtPlanner *p = &c->plan;
    float exit2 = dtc_plan_block(c, (uint8_t)(p->head - 1))->entry2;
    for (uint8_t at = (uint8_t)(p->head - 2); (int8_t)(at - p->tail) > 0; at--) {
        DtBlock *b = dtc_plan_block(c, at);
        float entry2 = dtc_least(b->junction2, exit2 + b->acceleration2 * b->length);
        if (dtc_same(entry2, b->entry2))
            return; /* what lies before was planned with this already */
        b->entry2 = entry2;
        exit2 = entry2;
    }
}

/* Directly from the nanometres: for a few steps 1/256 step is too coarse. */
static float length_of(const DtController *c, const int64_t nm[2], float d[2])
{
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        d[axis] = dtc_mm(nm[axis] - c->plan.nm[axis]);
    return dtc_length(d[0], d[1]);
}

void dtc_plan_line(DtController *c, const int64_t nm[2], float feed)
{
    DtPlanner *p = &c->plan;
    float d[2], length = length_of(c, nm, d);
    if (!dtc_some(length))
        return;
    DtBlock *b = dtc_plan_block(c, p->head);
    float per_length = 1 / length, unit[2] = {d[0] * per_length, d[1] * per_length};
    bool from_rest = dtc_plan_count(c) == 0 && !c->step.running && !dtc_segments_wait(c);
    if (from_rest)
        p->unit[0] = p->unit[1] = 0;
    b->length = length;
    b->per_length = per_length;
    find_limits(c, b, unit, feed);
    if (!from_rest)
        b->junction2 = dtc_least(b->junction2, dtc_plan_block(c, (uint8_t)(p->head - 1))->cruise2);
    b->entry2 = dtc_least(b->junction2, b->rest2 + b->acceleration2 * length);
    measure_way(p, b, nm);
    p->unit[0] = unit[0];
    p->unit[1] = unit[1];
    p->head++;
    plan_back(c);
    if (DTC_HAS(c, target))
        DTC_CALL1(c, target, nm);
}
