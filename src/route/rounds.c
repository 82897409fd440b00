/* rounds: runs that end where they begin. Such a run may begin at any of its places; if another
 * run passes one of them it is drawn from there, without a lift. Sequential exchanges of a few
 * steps do not find this, since they pass through two separate tours. */
#include "route/links.h"

#include "drawtrue/work.h"

#include <string.h>

#define NONE G_MAXUINT32

typedef struct {
    DtLinks *l;
    DtPiece *p;
    size_t n;
    const DtPiecesTask *task;
    uint32_t *pos; /* of each section in the order */
} Order;

static int32_t rest_at(const Order *o, DtPoint from, uint32_t end)
{
    DtMetric lifted = o->l->metric;
    lifted.join2 = -1;
    return dt_metric_step(&lifted, from, o->l->end[end].at) + o->l->end[end].stop;
}

/* Between an end, or the pen's starting place, and another end, or its final place. */
static int64_t cost(const Order *o, uint32_t from, uint32_t to)
{
    if (from == NONE && to == NONE)
        return 0;
    if (from == NONE)
        return rest_at(o, o->task->start, to);
    if (to == NONE)
        return o->task->end_anywhere ? 0 : rest_at(o, o->task->end, from);
    return dt_links_cost(o->l, from, to);
}

static uint32_t first_end(const Order *o, size_t i)
{
    return i < o->n ? dt_piece_first_end(&o->p[i]) : NONE;
}

/* Of the piece before the i-th. */
static uint32_t end_before(const Order *o, size_t i)
{
    return i > 0 ? dt_piece_last_end(&o->p[i - 1]) : NONE;
}

static gboolean begins_run(const Order *o, size_t i)
{
    return i == 0 || i == o->n ||
           dt_links_between(o->l, end_before(o, i), first_end(o, i)).kind == DT_LINK_LIFT;
}

/* A run [from,to) started at its k-th piece, or traversed backwards from before that one, drawn
 * between the pieces at - 1 and at; `at` is outside the run, or is its `from`: it stays where it
 * is. */
typedef struct {
    size_t from, to, k, at;
    gboolean backwards;
    int64_t saved;
} Change;

static void offer(const Order *o, Change *best, Change c)
{
    const uint32_t first = first_end(o, c.from), last = end_before(o, c.to);
    const uint32_t x = end_before(o, c.from), y = first_end(o, c.to);
    uint32_t enter = first_end(o, c.k), leave = c.k == c.from ? last : end_before(o, c.k);
    const int64_t round = c.k == c.from ? 0 : cost(o, last, first) - cost(o, leave, enter);
    if (c.backwards) {
        const uint32_t swapped = enter;
        enter = leave;
        leave = swapped;
    }
    int64_t saved = cost(o, x, first) + cost(o, last, y) - round;
    if (c.at == c.from)
        saved -= cost(o, x, enter) + cost(o, leave, y);
    else
        saved -= cost(o, x, y) + cost(o, end_before(o, c.at), enter) +
                 cost(o, leave, first_end(o, c.at)) -
                 cost(o, end_before(o, c.at), first_end(o, c.at));
    if (saved > best->saved) {
        c.saved = saved;
        *best = c;
    }
}

/* Everything outside the run that passes the place at which the k-th piece begins. */
static void offer_hosts(const Order *o, Change *best, size_t from, size_t to, size_t k)
{
    enum { MOST = 40 };
    const DtLinks *l = o->l;
    const uint32_t place = l->end[first_end(o, k)].place;
    const uint32_t begin = l->first_at[place], end = MIN(l->first_at[place + 1], begin + MOST);
    for (uint32_t i = begin; i < end; i++) {
        const size_t at = o->pos[l->at_place[i] / 2];
        if (at >= from && at < to)
            continue;
        const size_t j = first_end(o, at) == l->at_place[i] ? at : at + 1;
        if (j == from || j == to)
            continue;
        offer(o, best, (Change){from, to, k, j, FALSE, 0});
        offer(o, best, (Change){from, to, k, j, TRUE, 0});
    }
}

static void reverse(DtPiece *p, size_t n)
{
    for (size_t i = 0; i < n / 2; i++) {
        const DtPiece swapped = p[i];
        p[i] = p[n - 1 - i];
        p[n - 1 - i] = swapped;
    }
    for (size_t i = 0; i < n; i++)
        p[i].backwards = !p[i].backwards;
}

static void make(Order *o, const Change *c)
{
    const size_t n = c->to - c->from, head = c->k - c->from;
    g_autofree DtPiece *run = g_new(DtPiece, n);
    memcpy(run, o->p + c->k, (n - head) * sizeof *run);
    memcpy(run + (n - head), o->p + c->from, head * sizeof *run);
    if (c->backwards)
        reverse(run, n);
    size_t to = c->from;
    if (c->at > c->to) {
        memmove(o->p + c->from, o->p + c->to, (c->at - c->to) * sizeof *run);
        to = c->at - n;
    } else if (c->at < c->from) {
        memmove(o->p + c->at + n, o->p + c->at, (c->from - c->at) * sizeof *run);
        to = c->at;
    }
    memcpy(o->p + to, run, n * sizeof *run);
    for (size_t i = MIN(c->from, to); i < MAX(c->to, to + n); i++)
        o->pos[o->p[i].section] = (uint32_t)i;
}

static gboolean is_round(const Order *o, size_t from, size_t to)
{
    const DtSectionEnd *a = &o->l->end[first_end(o, from)], *b = &o->l->end[end_before(o, to)];
    const DtPoint gap = dt_point_sub(b->at, a->at);
    return a->node != DT_NO_NODE && b->node != DT_NO_NODE &&
           dt_point_dot(gap, gap) <= o->l->metric.join2;
}

static gboolean better_round(Order *o, size_t from, size_t to)
{
    Change best = {0};
    for (size_t k = from; k < to; k++) {
        offer(o, &best, (Change){from, to, k, from, FALSE, 0});
        offer(o, &best, (Change){from, to, k, from, TRUE, 0});
        offer_hosts(o, &best, from, to, k);
    }
    if (best.saved > 0)
        make(o, &best);
    return best.saved > 0;
}

void dt_links_place_rounds(DtLinks *l, DtPiece *pieces, size_t n, const DtPiecesTask *task)
{
    Order o = {l, pieces, n, task, g_new(uint32_t, n + 1)};
    for (size_t i = 0; i < n; i++)
        o.pos[pieces[i].section] = (uint32_t)i;
    for (size_t from = 0; from < n && !dt_work_stopped();) {
        size_t to = from + 1;
        while (!begins_run(&o, to))
            to++;
        if (!is_round(&o, from, to) || !better_round(&o, from, to))
            from = to;
    }
    g_free(o.pos);
}
