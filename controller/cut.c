/* cut: cuts blocks into segments, in floating point, in the main loop. Along a block the speed follows
 * v2*v2 = v1*v1 + 2*a*s, so that the time of path s is 2*s/(v1+v2), without error. Within a segment
 * the steps of an axis are given by the exact times of its first and last one and, where it has more
 * than two, by intervals that change evenly between them: with the speed changing by a share x in a
 * time T this misses the true times by 3*T*x^2/(72*sqrt(3)) at most, the third-order remainder. */
#include "core.h"

#include <math.h>

enum { REST_US = 10000, MOST_STEPS = 180, MOST_US = 20000 };
enum { AHEAD_US = 12000, AHEAD_SEEKING_US = 5000 };

static const float longest_s = 0.004f; /* of a segment */
static const float ramp = 0.24f;   /* change of the speed squared in a segment: 0.12 of the speed */
static const float near = 0.9995f; /* speeds squared this near are the same */
static const float slowest_mm_s = 0.0005f;

static float least(float a, float b)
{
    return a < b ? a : b;
}

static float most(float a, float b)
{
    return a > b ? a : b;
}

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
    float per_256 = 1 / (256 * b->length);
    k->back = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        load_axis(k, b, axis, per_256);
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
    float change;    /* of the speed squared, a mm */
    float to2;       /* speed squared at its end */
} Piece;

static void slow_down(const DtCutter *k, const DtBlock *b, Piece *p)
{
    p->way = least((k->v2 - b->rest2) / b->acceleration2, p->left);
    p->to2 = most(k->v2 - b->acceleration2 * p->way, b->rest2);
}

/* From here on: up, level or down, whatever the block and what follows it allow. */
static void find_piece(DtController *c, const DtBlock *b, Piece *p)
{
    DtCutter *k = &c->cut;
    float v2 = k->v2, a2 = b->acceleration2;
    p->left = most((b->length - k->s) - k->s_low, 0);
    p->way = p->left;
    p->to2 = v2;
    p->change = 0;
    if (is_stopping(c)) {
        slow_down(k, b, p);
    } else {
        float end2 = exit2(c, b), brake2 = end2 + a2 * p->left;
        if (v2 >= brake2 * near) {
            /* The ways of two roundings meet in the end; what came too late is too fast there. */
            p->to2 = v2 * near > brake2 ? v2 - a2 * p->left : least(end2, v2);
        } else if (v2 < b->cruise2 * near) {
            p->to2 = least(b->cruise2, (v2 + brake2) / 2);
            p->way = (p->to2 - v2) / a2;
            if (p->way >= p->left * near) { /* no rest too short to go on from */
                p->way = p->left;
                p->to2 = v2 + a2 * p->left;
            }
        } else {
            if (end2 < v2)
                p->way -= (v2 - end2) / a2;
            return;
        }
    }
    if (p->way > 0)
        p->change = (p->to2 - v2) / p->way;
}

/* How much of a piece is one segment. */
static float find_way(const DtCutter *k, const Piece *p)
{
    float gap = p->left;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        if (k->gap[axis] > 0)
            gap = least(gap, k->gap[axis]);
    float way = k->v * longest_s;
    if (p->change != 0)
        way = least(way, ramp * k->v2 / fabsf(p->change));
    way = least(most(way, gap), MOST_STEPS * gap);
    return way * 1.3f < p->way ? way : p->way;
}

/* Time along the piece from the segment's start, microseconds. */
static float time_us(const DtCutter *k, const Piece *p, float way, float *v)
{
    if (p->change == 0) {
        *v = k->v;
        return way * k->us_per_mm;
    }
    float v2 = k->v2 + p->change * way;
    *v = v2 > 0 ? sqrtf(v2) : 0;
    return 2e6f * way / most(k->v + *v, 2 * slowest_mm_s);
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
    return (uint8_t)least((float)n, (float)(left < UINT8_MAX ? left : UINT8_MAX));
}

/* The steps between the first and the last one, by their exact times. */
static void cut_between(DtCutter *k, DtSegmentAxis *a, uint8_t axis, const Piece *p, float first,
                        float way)
{
    float steps = (float)(a->steps - 1), v, last_v;
    float at = time_us(k, p, first, &v);
    float last = time_us(k, p, least(first + k->gap[axis] * steps, way), &last_v);
    float gap = (last - at) / steps;
    if (a->steps > 2) {
        float change = k->gap[axis] * 1e6f * (v - last_v) / (most(v * last_v, 1e-6f) * steps);
        a->change = (int32_t)(change * 65536);
        gap -= change * (steps - 1) / 2;
    }
    a->gap = fixed(gap);
}

static void cut_axis(DtCutter *k, DtSegment *g, uint8_t axis, const Piece *p, float way,
                     bool to_end)
{
    DtSegmentAxis *a = &g->axis[axis];
    float v, first = ((float)k->done[axis] + k->first[axis]) * k->gap[axis] - k->s - k->s_low;
    a->steps = k->gap[axis] > 0 ? count_steps(k, axis, first, way, to_end) : 0;
    a->at = DTC_NEVER;
    if (a->steps == 0)
        return;
    first = least(most(first, 0), way);
    a->at = fixed(least(time_us(k, p, first, &v) + k->owed_us, (float)g->us));
    a->gap = 0;
    a->change = 0;
    if (a->steps == 1)
        return;
    if (p->change == 0)
        a->gap = fixed(k->gap[axis] * k->us_per_mm);
    else
        cut_between(k, a, axis, p, first, way);
}

static void advance(DtCutter *k, const DtSegment *g, float way)
{
    float low = k->s_low + way, s = k->s + low;
    k->s_low = low - (s - k->s);
    k->s = s;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        k->done[axis] += g->axis[axis].steps;
}

static DtSegment *next_segment(DtController *c)
{
    return &c->step.segment[c->step.head & (DT_CONTROLLER_SEGMENTS - 1)];
}

/* Hands the segment at the head to the interrupt. False where the motors have come to rest meanwhile
 * and the segment was cut for motors at speed. */
static bool hand_over(DtController *c, bool from_rest)
{
    DtStepper *s = &c->step;
    c->hw->lock(c->board);
    bool good = from_rest || s->running || dtc_segments_wait(c);
    if (good)
        s->head++;
    c->hw->unlock(c->board);
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
    c->step.head++;
}

/* How the motors may pass into the block: at speed, or after a rest. */
static void enter(DtController *c, const DtBlock *b, bool from_rest)
{
    DtCutter *k = &c->cut;
    if (from_rest) {
        set_speed2(k, b->rest2);
        k->owed_us = 0;
    } else if (k->v2 * near > b->junction2) {
        cut_rest(c); /* it came too late to slow down for it */
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

/* The segment's way, shortened where it would take too long. */
static float fit_time(DtCutter *k, const Piece *p, float *us)
{
    float way = find_way(k, p), v;
    if (p->change == 0 && k->us_per_mm == 0)
        k->us_per_mm = 1e6f / most(k->v, slowest_mm_s);
    while ((*us = time_us(k, p, way, &v)) > MOST_US)
        way /= 4;
    return way;
}

static void cut_segment(DtController *c, const DtBlock *b, const Piece *p, bool from_rest)
{
    DtCutter *k = &c->cut;
    DtSegment *g = next_segment(c);
    float us, way = fit_time(k, p, &us);
    bool piece_ends = way >= p->way, to_end = piece_ends && p->way >= p->left;
    float to2 = piece_ends ? p->to2 : most(k->v2 + p->change * way, 0);
    us += k->owed_us;
    g->us = (uint16_t)us;
    g->back = k->back;
    g->may_rest = rest_allowed(b, k->v2, to2);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        cut_axis(k, g, axis, p, way, to_end);
    bool empty = g->us == 0 && g->axis[DTC_X].steps == 0 && g->axis[DTC_Y].steps == 0;
    if (!empty && !hand_over(c, from_rest))
        return;
    k->owed_us = us - (float)g->us;
    advance(k, g, way);
    if (to2 != k->v2)
        set_speed2(k, to2);
    if (to_end)
        unload(c, b);
}

/* Time that the motors have segments for, about. */
static bool has_enough(const DtController *c)
{
    const DtStepper *s = &c->step;
    const int32_t enough_us = s->seek ? AHEAD_SEEKING_US : AHEAD_US;
    c->hw->lock(c->board);
    uint8_t at = s->tail;
    int32_t us = s->running ? -s->now : 0;
    c->hw->unlock(c->board);
    if ((uint8_t)(s->head - at) >= DT_CONTROLLER_SEGMENTS - 1)
        return true;
    for (; at != s->head && us < enough_us; at++)
        us += s->segment[at & (DT_CONTROLLER_SEGMENTS - 1)].us;
    return us >= enough_us;
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

/* What was looked for is found: the rest of the search is not wanted any more. */
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
