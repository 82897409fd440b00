/* pace: simulates a controller and its wire, event by event. */
#include "drawtrue/pace.h"

#include <math.h>
#include <string.h>

static const double none = 1e-12; /* component of a direction below which an axis counts as not
                                   * moving */

/* "taken 12345" with its line end. */
static guint reply_bytes(const DtPace *c)
{
    guint digits = 1;
    for (guint64 n = c->sent_lines; n >= 10; n /= 10)
        digits++;
    return c->accept_bytes + 1 + digits + 1;
}

void dt_pace_init(DtPace *c, const DtProfile *p)
{
    enum { BITS = 10 }; /* start, eight data bits, stop */
    memset(c, 0, sizeof *c);
    c->byte_s = BITS / (double)MAX(p->dialect.baud, 1);
    c->accept_bytes = (guint)strlen(p->dialect.accept ? p->dialect.accept : "");
    c->delay_s = p->dialect.reply_delay_s;
    c->window = p->dialect.window > 0 ? (guint64)p->dialect.window - 1 : 0;
    c->depth = (guint)CLAMP(p->dialect.blocks, 1, DT_PACE_MOST_BLOCKS);
    for (int i = 0; i < 2; i++) {
        c->speed[i] = p->speed[i];
        c->acceleration[i] = p->acceleration[i];
        c->pull_in[i] = p->pull_in[i];
    }
}

void dt_pace_clear(DtPace *c)
{
    g_clear_pointer(&c->answers, g_free);
}

/* Motion --------------------------------------------------------------------------------------- */

static double along(const double limit[2], double ux, double uy)
{
    const double x = fabs(ux), y = fabs(uy);
    return MIN(x > none ? limit[0] / x : G_MAXDOUBLE, y > none ? limit[1] / y : G_MAXDOUBLE);
}

static double square(double v)
{
    return v < 1e150 ? v * v : G_MAXDOUBLE;
}

static DtPaceBlock *block_at(DtPace *c, guint i)
{
    return &c->block[(c->first + i) % DT_PACE_MOST_BLOCKS];
}

/* Advances by `s` seconds within the first block, which is longer than that. */
static void go_into(DtPace *c, const DtPaceBlock *b, double v, double peak, double cruise_s,
                    double s)
{
    const double a = b->twice_a / 2, speeding_s = (peak - v) / a;
    if (s <= speeding_s) {
        c->at += (v + a * s / 2) * s;
        c->v2 = square(v + a * s);
        return;
    }
    c->at += (v + peak) / 2 * speeding_s;
    const double cruised = MIN(s - speeding_s, cruise_s), slowing = s - speeding_s - cruised;
    c->at += peak * cruised + (peak - a * slowing / 2) * slowing;
    c->v2 = square(MAX(peak - a * slowing, 0));
}

/* Removes the first block, which is finished. */
static void leave_block(DtPace *c, double exit2)
{
    c->first = (c->first + 1) % DT_PACE_MOST_BLOCKS;
    c->n--;
    c->at = 0;
    c->v2 = c->n > 0 ? exit2 : 0;
    c->hungry = c->n == 0 && c->down;
}

/* Advances until `until`, or until only `blocks` blocks are left. */
static void advance(DtPace *c, double until, guint blocks)
{
    while (c->n > blocks && c->now < until) {
        const DtPaceBlock *b = block_at(c, 0);
        const double left = MAX(b->length - c->at, 0);
        const double wanted2 = c->n > 1 ? block_at(c, 1)->entry2 : b->rest2;
        const double exit2 = MIN(wanted2, c->v2 + b->twice_a * left);
        const double v2 = MIN(c->v2, exit2 + b->twice_a * left);
        const double peak2 = MIN(b->top2, (b->twice_a * left + v2 + exit2) / 2);
        const double v = sqrt(v2), peak = MAX(sqrt(peak2), v), exit = sqrt(MIN(exit2, peak2));
        const double ramps = (2 * peak2 - v2 - exit2) / b->twice_a;
        const double cruise_s = peak > 0 ? MAX(0, left - ramps) / peak : 0;
        const double s = 2 * (2 * peak - v - exit) / b->twice_a + cruise_s;
        if (c->now + s <= until) {
            c->now += s;
            leave_block(c, exit2);
        } else {
            go_into(c, b, v, peak, cruise_s, until - c->now);
            c->now = until;
        }
    }
    if (c->n == 0 && until < G_MAXDOUBLE)
        c->now = MAX(c->now, until);
}

/* Limits every planned entry speed so that the following one can be reached by braking; the
 * block in progress is not changed. */
static void plan_back(DtPace *c)
{
    double exit2 = block_at(c, c->n - 1)->entry2;
    for (guint i = c->n - 1; i-- > 1;) {
        DtPaceBlock *b = block_at(c, i);
        const double entry2 = MIN(b->junction2, exit2 + b->twice_a * b->length);
        if (entry2 == b->entry2)
            return;
        b->entry2 = exit2 = entry2;
    }
}

static void add_block(DtPace *c, DtPaceBlock b, double ux, double uy)
{
    b.rest2 = MIN(b.top2, square(along(c->pull_in, ux, uy)));
    if (c->n == 0) {
        b.junction2 = b.rest2;
        c->at = 0;
        c->v2 = b.rest2;
    } else {
        const double junction = along(c->pull_in, ux - c->ux, uy - c->uy);
        b.junction2 = MIN(MIN(b.top2, block_at(c, c->n - 1)->top2), square(junction));
    }
    b.entry2 = MIN(b.junction2, b.rest2 + b.twice_a * b.length);
    *block_at(c, c->n++) = b;
    plan_back(c);
}

/* The wire ------------------------------------------------------------------------------------- */

static DtPaceAnswer *answer_at(DtPace *c, guint i)
{
    return &c->answers[(c->first_answer + i) & (c->answers_room - 1)];
}

static void push_answer(DtPace *c, DtPaceAnswer a)
{
    if (c->n_answers == c->answers_room) {
        const guint room = MAX(64, 2 * c->answers_room);
        DtPaceAnswer *more = g_new(DtPaceAnswer, room);
        for (guint i = 0; i < c->n_answers; i++)
            more[i] = *answer_at(c, i);
        g_free(c->answers);
        c->answers = more;
        c->answers_room = room;
        c->first_answer = 0;
    }
    c->n_answers++;
    *answer_at(c, c->n_answers - 1) = a;
}

static DtPaceAnswer pop_answer(DtPace *c)
{
    const DtPaceAnswer a = *answer_at(c, 0);
    c->first_answer++;
    c->n_answers--;
    return a;
}

/* Answers the current line. */
static void answer_line(DtPace *c)
{
    if (!c->has_line)
        return;
    const double replied = MAX(c->reply_free, c->taken) + reply_bytes(c) * c->byte_s;
    push_answer(c, (DtPaceAnswer){c->sent_bytes, c->sent_lines, replied + c->delay_s});
    c->reply_free = replied;
    c->has_line = FALSE;
}

static gboolean fits(const DtPace *c, guint bytes)
{
    if (c->window == 0)
        return c->known_lines == c->sent_lines;
    return c->sent_bytes + bytes - c->known_bytes <= c->window;
}

void dt_pace_line(DtPace *c, guint bytes)
{
    answer_line(c);
    while (!fits(c, bytes) && c->n_answers > 0) {
        const DtPaceAnswer a = pop_answer(c);
        c->known_bytes = a.bytes;
        c->known_lines = a.lines;
        c->known_at = a.at;
    }
    c->arrived = MAX(c->wire_free, c->known_at) + bytes * c->byte_s;
    c->wire_free = c->arrived;
    c->sent_bytes += bytes;
    c->sent_lines++;
    c->taken = MAX(c->taken, c->arrived);
    c->has_line = TRUE;
}

/* Accepts a block of the current line as soon as the planner has room. */
static void take_block(DtPace *c, DtPaceBlock b, double ux, double uy)
{
    advance(c, c->taken, 0);
    if (c->n == 0 && c->hungry)
        c->starved++;
    c->hungry = FALSE;
    if (c->n >= c->depth) {
        advance(c, G_MAXDOUBLE, c->depth - 1);
        c->taken = MAX(c->taken, c->now);
    }
    add_block(c, b, ux, uy);
}

void dt_pace_move(DtPace *c, double dx, double dy, double length, double feed)
{
    const double ux = dx / length, uy = dy / length;
    const DtPaceBlock b = {.length = length,
                           .twice_a = 2 * along(c->acceleration, ux, uy),
                           .top2 = square(MIN(along(c->speed, ux, uy), feed))};
    take_block(c, b, ux, uy);
    c->ux = ux;
    c->uy = uy;
}

void dt_pace_arc(DtPace *c, const double leave[2], const double arrive[2], double length,
                 double feed, double turn)
{
    const double x = (leave[0] + arrive[0]) / 2, y = (leave[1] + arrive[1]) / 2;
    const double corner = along(c->pull_in, y, x) / turn; /* directions change across the way */
    const DtPaceBlock b = {.length = length,
                           .twice_a = 2 * along(c->acceleration, x, y),
                           .top2 = square(MIN(MIN(along(c->speed, x, y), feed), corner))};
    take_block(c, b, leave[0], leave[1]);
    c->ux = arrive[0];
    c->uy = arrive[1];
}

void dt_pace_wait(DtPace *c, double s)
{
    advance(c, G_MAXDOUBLE, 0);
    c->hungry = FALSE;
    c->now = MAX(c->now, c->taken) + s;
    c->taken = c->now;
}

double dt_pace_so_far(const DtPace *c)
{
    double s = c->now;
    for (guint i = 0; i < c->n; i++) {
        const DtPaceBlock *b = &c->block[(c->first + i) % DT_PACE_MOST_BLOCKS];
        s += (b->length - (i == 0 ? c->at : 0)) / sqrt(b->top2);
    }
    return s;
}

double dt_pace_finish(DtPace *c)
{
    advance(c, G_MAXDOUBLE, 0);
    return c->now;
}
