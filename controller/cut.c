/* cut: cuts blocks into segments, in floating point, in the main loop. Along a block the speed
 * follows v2*v2 = v1*v1 + 2*a*s, so that the time for a distance s is 2*s/(v1+v2), exactly.
 * Within a segment the time is the parabola through its exact ends whose slope changes between
 * them as 1/v does: if the speed changes by a share x in a time T its error is at most
 * 0.024*x^2*T (the third-order remainder x^2*T/2, times the maximum of u^3 - 1.5*u^2 + 0.5*u),
 * below 2 us. Where the speed changes by more, in the first and last step from and to rest, the
 * times are exact. */
#include "core.h"

#include <math.h>

enum { REST_US = 10000, MOST_STEPS = 180, MOST_US = 20000 };
enum { AHEAD_US = 12000, AHEAD_SEEKING_US = 5000 };

static const float longest_s = 0.004f; /* of a segment */
static const float short_s =
    0.005f; /* a rest of a block shorter than this is one ramp, without a peak */
static const float ramp = 0.24f;   /* change of the speed squared in a segment: 0.12 of the speed */
static const float near = 0.9995f; /* squared speeds this close are equal */
static const float slowest_mm_s = 0.0005f;

static void set_speed2(DtCutter *k, float v2)
{
    k->v2 = v2;
    k->v = v2 > 0 ? sqrtf(v2) : 0;
    k->us_per_mm = 0;
}

/* The step that a position belongs to; steps change half way between two. */
static int32_t nearest_step(int32_t q8)
{
    return (q8 + 128) >> 8;
}

static void load_axis(DtCutter *k, const DtBlock *b, uint8_t axis, float per_256)
{
    int32_t from = k->q8[axis], way = b->q8[axis];
    int32_t step = nearest_step(from), steps = nearest_step(from + way) - step;
    int32_t first = step * 256 + 128 - from;
    if (way < 0) {
        k->back |= (uint8_t)(1u << axis);
        first = 256 - first;
        steps = -steps;
        way = -way;
    }
    k->steps[axis] = (uint32_t)steps;
    k->done[axis] = 0;
    k->first[axis] = (float)first * (1.0f / 256);
    k->per_gap[axis] = (float)way * per_256;
    k->gap[axis] = way ? 1 / k->per_gap[axis] : 0;
}

static void load(DtController *c, const DtBlock *b)
{
    DtCutter *k = &c->cut;
    float per_256 = b->per_length * (1.0f / 256);
    k->back = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        load_axis(k, b, axis, per_256);
    k->per_acceleration2 = 0;
    k->s = k->s_low = 0;
    k->loaded = 1;
}

static void unload(DtController *c, const DtBlock *b)
{
    DtCutter *k = &c->cut;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        k->q8[axis] += b->q8[axis];
    k->loaded = 0;
    c->plan.tail++;
}

void dtc_cut_forget(DtController *c)
{
    DtCutter *k = &c->cut;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        k->q8[axis] = c->plan.q8[axis];
    k->loaded = 0;
    k->owed_us = 0;
    set_speed2(k, 0);
    c->step.tail = c->step.head;
    c->step.begun_us = c->step.handed_us;
    c->step.seen[DTC_X] = c->step.seen[DTC_Y] = 0;
}

static bool is_stopping(const DtController *c)
{
    return c->hold || c->abandon || c->step.found || c->step.tripped;
}

static float exit2(DtController *c, const DtBlock *b)
{
    if (dtc_plan_count(c) < 2)
        return b->rest2;
    return dtc_plan_block(c, (uint8_t)(c->plan.tail + 1))->entry2;
}

/* A piece of the block with one acceleration. */
typedef struct {
    float way, left; /* mm: of the piece; of the block */
    float to2;       /* speed squared at its end */
    float change;    /* of the speed squared, a mm */
} Piece;

/* Computed only when it is needed: at constant speed it is not. */
static float per_acceleration2(DtCutter *k, const DtBlock *b)
{
    if (!dtc_some(k->per_acceleration2))
        k->per_acceleration2 = 1 / b->acceleration2;
    return k->per_acceleration2;
}

static void slow_down(DtCutter *k, const DtBlock *b, Piece *p)
{
    p->way = dtc_least((k->v2 - b->rest2) * per_acceleration2(k, b), p->left);
    p->to2 = k->v2 - b->acceleration2 * p->way;
    if (p->to2 < b->rest2)
        p->to2 = b->rest2;
    p->change = -b->acceleration2;
}

/* From here on: accelerate, cruise or brake, as the block and what follows it allow. */
static void find_piece(DtController *c, const DtBlock *b, Piece *p)
{
    DtCutter *k = &c->cut;
    float v2 = k->v2, a2 = b->acceleration2;
    p->left = (b->length - k->s) - k->s_low;
    if (p->left < 0)
        p->left = 0;
    p->way = p->left;
    p->to2 = v2;
    p->change = 0;
    if (is_stopping(c)) {
        slow_down(k, b, p);
        return;
    }
    float end2 = exit2(c, b), gain2 = a2 * p->left, brake2 = end2 + gain2;
    if (dtc_below(p->left, k->v * short_s) && v2 < brake2 * near) {
        p->to2 = dtc_least(dtc_least(b->cruise2, v2 + gain2), end2);
        p->change = dtc_same(p->to2, v2) ? 0 : (p->to2 - v2) / p->left;
    } else if (v2 >= brake2 * near) {
        /* Two roundings meet at the end; what came too late is too fast there. */
        p->to2 = v2 * near > brake2 ? v2 - gain2 : dtc_least(end2, v2);
        p->change = -a2;
    } else if (v2 < b->cruise2 * near) {
        p->to2 = dtc_least(b->cruise2, (v2 + brake2) / 2);
        p->way = (p->to2 - v2) * per_acceleration2(k, b);
        p->change = a2;
        if (p->way >= p->left * near) { /* no rest too short to go on from */
            p->way = p->left;
            p->to2 = v2 + gain2;
        }
    } else if (end2 < v2) {
        p->way -= (v2 - end2) * per_acceleration2(k, b);
    }
}

/* How much of a piece becomes one segment. */
static float find_way(DtCutter *k, const DtBlock *b, const Piece *p)
{
    float gap = k->gap[DTC_X];
    if (!dtc_some(gap) || (dtc_some(k->gap[DTC_Y]) && dtc_below(k->gap[DTC_Y], gap)))
        gap = k->gap[DTC_Y];
    if (!dtc_some(gap)) /* shorter than any step */
        return p->way;
    float way = k->v * longest_s;
    if (dtc_some(p->change))
        way = dtc_least(way, ramp * k->v2 * per_acceleration2(k, b));
    way = dtc_least(dtc_most(way, gap), MOST_STEPS * gap);
    return way * 1.3f < p->way ? way : p->way;
}

/* The time along a segment: a parabola or, if the speed changes too much for one, the exact
 * root. */
typedef struct {
    float way, us;
    float v, to2, us_per_mm; /* at its end; us_per_mm 0: not computed */
    float rise, bend;        /* us = (rise + bend * s) * s */
    float change;            /* of the speed squared, per mm: where the time is exact; otherwise
                              * 0 */
    bool ends;               /* the piece */
} Curve;

static float per_speed(float v)
{
    return 1e6f / dtc_most(v, slowest_mm_s);
}

static void curve_ramp(DtCutter *k, const DtBlock *b, const Piece *p, Curve *q)
{
    q->to2 = q->ends ? p->to2 : k->v2 + p->change * q->way;
    if (q->to2 < 0)
        q->to2 = 0;
    q->v = sqrtf(q->to2);
    float mean = 2 * per_speed(k->v + q->v), step = q->v - k->v;
    q->us = q->way * mean;
    q->us_per_mm = 0;
    if (dtc_below(0.2f * dtc_least(k->v, q->v), fabsf(step))) {
        q->change = (q->to2 - k->v2) / q->way;
        return;
    }
    if (!dtc_some(k->us_per_mm))
        k->us_per_mm = per_speed(k->v);
    q->us_per_mm = per_speed(q->v);
    float half = (q->us_per_mm - k->us_per_mm) / 2;
    q->change = 0;
    q->rise = mean - half;
    q->bend = dtc_same(q->way, b->length) ? half * b->per_length : half / q->way;
}

static void curve_level(DtCutter *k, Curve *q)
{
    if (!dtc_some(k->us_per_mm))
        k->us_per_mm = per_speed(k->v);
    q->v = k->v;
    q->to2 = k->v2;
    q->us_per_mm = q->rise = k->us_per_mm;
    q->bend = q->change = 0;
    q->us = q->way * q->rise;
}

/* Shortens the segment if it would take too long. */
static void find_curve(DtCutter *k, const DtBlock *b, const Piece *p, Curve *q)
{
    q->way = find_way(k, b, p);
    q->ends = q->way >= p->way;
    for (;;) {
        if (dtc_same(p->to2, k->v2) || q->way <= 0)
            curve_level(k, q);
        else
            curve_ramp(k, b, p, q);
        if (q->us <= MOST_US)
            return;
        q->way /= 4;
        q->ends = false;
    }
}

static float time_us(const DtCutter *k, const Curve *q, float way)
{
    if (!dtc_some(q->change))
        return (q->rise + q->bend * way) * way;
    float v2 = k->v2 + q->change * way;
    return 2 * way * per_speed(k->v + (v2 > 0 ? sqrtf(v2) : 0));
}

static uint32_t fixed(float us)
{
    return us > 0 ? (uint32_t)(us * 65536) : 0;
}

/* The steps of an axis within the next `way` of the path. */
static uint8_t count_steps(const DtCutter *k, uint8_t axis, float first, float way, bool to_end)
{
    uint32_t left = k->steps[axis] - k->done[axis];
    if (left == 0 || (first > way && !to_end))
        return 0;
    uint32_t n = to_end ? left : 1 + (uint32_t)((way - first) * k->per_gap[axis]);
    if (n > left)
        n = left;
    return (uint8_t)(n < UINT8_MAX ? n : UINT8_MAX);
}

static void cut_axis(DtCutter *k, DtSegment *g, uint8_t axis, const Curve *q, bool to_end)
{
    DtSegmentAxis *a = &g->axis[axis];
    float gap = k->gap[axis];
    float first = ((float)k->done[axis] + k->first[axis]) * gap - k->s - k->s_low;
    a->steps = dtc_some(gap) ? count_steps(k, axis, first, q->way, to_end) : 0;
    a->at = DTC_NEVER;
    if (a->steps == 0)
        return;
    first = first < 0 ? 0 : dtc_least(first, q->way);
    float at = time_us(k, q, first);
    a->at = fixed(dtc_least(at + k->owed_us, (float)g->us));
    a->gap = 0;
    a->change = 0;
    if (a->steps > 1)
        a->gap = fixed(time_us(k, q, dtc_least(first + gap, q->way)) - at);
    if (dtc_some(q->bend) && a->steps > 2)
        a->change = (int32_t)(2 * 65536 * q->bend * gap * gap);
}

static void advance(DtCutter *k, const uint8_t steps[2], float way)
{
    float low = k->s_low + way, s = k->s + low;
    k->s_low = low - (s - k->s);
    k->s = s;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        k->done[axis] += steps[axis];
}

static DtSegment *next_segment(DtController *c)
{
    return &c->step.segment[c->step.head & (DT_CONTROLLER_SEGMENTS - 1)];
}

/* Passes the segment at the head to the interrupt. False if the motors have come to rest
 * meanwhile and the segment was cut for moving motors. */
static bool hand_over(DtController *c, bool from_rest)
{
    DtStepper *s = &c->step;
    const DtSegment *g = next_segment(c);
    DTC_CALL(c, lock);
    bool good = from_rest || s->running || dtc_segments_wait(c);
    if (good) {
        s->handed_us = (uint16_t)(s->handed_us + g->us);
        s->head++;
    }
    DTC_CALL(c, unlock);
    return good;
}

static void cut_rest(DtController *c)
{
    DtSegment *g = next_segment(c);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        g->axis[axis].steps = 0;
        g->axis[axis].at = DTC_NEVER;
    }
    g->us = REST_US;
    g->may_rest = DTC_ANYWHERE;
    hand_over(c, true);
}

/* How the motors enter the block: at speed, or after a rest. */
static void enter(DtController *c, const DtBlock *b, bool from_rest)
{
    DtCutter *k = &c->cut;
    if (from_rest) {
        set_speed2(k, b->rest2);
        k->owed_us = 0;
    } else if (k->v2 * near > b->junction2) {
        cut_rest(c); /* it came too late to brake for it */
        set_speed2(k, b->rest2);
    }
}

static uint8_t rest_allowed(const DtBlock *b, float v2, float to2)
{
    float rest2 = b->rest2 * 1.002f;
    if (to2 > rest2)
        return 0;
    return v2 > rest2 ? DTC_AT_END : DTC_ANYWHERE;
}

static void cut_segment(DtController *c, const DtBlock *b, const Piece *p, bool from_rest)
{
    DtCutter *k = &c->cut;
    DtSegment *g = next_segment(c);
    Curve q = {0};
    find_curve(k, b, p, &q);
    bool to_end = q.ends && p->way >= p->left;
    float us = q.us + k->owed_us;
    g->us = (uint16_t)us;
    g->back = k->back;
    g->may_rest = rest_allowed(b, k->v2, q.to2);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        cut_axis(k, g, axis, &q, to_end);
    /* Once it is passed on, the interrupt counts its steps down. */
    const uint8_t steps[2] = {g->axis[DTC_X].steps, g->axis[DTC_Y].steps};
    const uint16_t whole_us = g->us;
    bool empty = whole_us == 0 && steps[DTC_X] == 0 && steps[DTC_Y] == 0;
    if (!empty && !hand_over(c, from_rest))
        return;
    k->owed_us = us - (float)whole_us;
    k->v = q.v;
    k->v2 = q.to2;
    k->us_per_mm = q.us_per_mm;
    advance(k, steps, q.way);
    if (to_end)
        unload(c, b);
}

/* Whether the motors have segments for the next moments. */
static bool has_enough(const DtController *c)
{
    const DtStepper *s = &c->step;
    if ((uint8_t)(s->head - s->tail) >= DT_CONTROLLER_SEGMENTS - 1)
        return true;
    DTC_CALL(c, lock);
    int16_t us = (int16_t)(s->handed_us - s->begun_us);
    if (s->running)
        us = (int16_t)(us - s->now);
    DTC_CALL(c, unlock);
    return us >= (s->seek ? AHEAD_SEEKING_US : AHEAD_US);
}

static bool cut(DtController *c)
{
    DtCutter *k = &c->cut;
    if (dtc_plan_count(c) == 0 || has_enough(c) || c->step.tripped)
        return false;
    const DtBlock *b = dtc_plan_block(c, c->plan.tail);
    bool from_rest = !c->step.running && !dtc_segments_wait(c);
    if (is_stopping(c) && (from_rest || k->v2 * near <= b->rest2))
        return false;
    if (!k->loaded) {
        enter(c, b, from_rest);
        load(c, b);
    } else if (from_rest) {
        enter(c, b, true);
    }
    Piece p;
    find_piece(c, b, &p);
    cut_segment(c, b, &p, from_rest);
    return true;
}

/* The switch was found: the rest of the search is discarded. */
static bool end_search(DtController *c)
{
    bool ends = c->step.found && !c->step.running && (dtc_plan_count(c) || dtc_segments_wait(c));
    if (ends) {
        c->plan.tail = c->plan.head;
        dtc_cut_forget(c);
    }
    return ends;
}

bool dtc_cut_go_on(DtController *c)
{
    if (end_search(c))
        return true;
    bool more = cut(c);
    if (!c->step.running && (!more || has_enough(c)))
        dtc_step_start(c);
    return more;
}

void dtc_cut_start(DtController *c)
{
    if (!c->step.running && has_enough(c))
        dtc_step_start(c);
}
