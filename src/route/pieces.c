/* pieces: the tour's nodes for pieces, and the starting points of loops. */
#include "route/pieces.h"

#include "drawtrue/work.h"
#include "route/links.h"
#include "route/tour.h"

#include <string.h>
#include <time.h>

/* A step with the pen up whatever its length: from the start, and to the end. */
static int32_t lifted_step(const DtMetric *m, DtPoint a, DtPoint b)
{
    DtMetric lifted = *m;
    lifted.join2 = -1;
    return dt_metric_step(&lifted, a, b);
}

static int32_t step(const DtMetric *m, const DtPiecesTask *task, const DtPiece *from,
                    const DtPiece *to)
{
    if (task->links)
        return dt_links_between(task->links, dt_piece_last_end(from), dt_piece_first_end(to)).cost;
    return dt_metric_step(m, dt_piece_end(from), dt_piece_start(to));
}

static int32_t stop_at(const DtPiecesTask *task, uint32_t end)
{
    return task->links ? task->links->end[end].stop : 0;
}

int64_t dt_pieces_cost(const DtMetric *m, const DtPiece *pieces, size_t n, const DtPiecesTask *task)
{
    if (n == 0)
        return 0;
    int64_t sum = lifted_step(m, task->start, dt_piece_start(&pieces[0])) +
                  stop_at(task, dt_piece_first_end(&pieces[0]));
    for (size_t i = 1; i < n; i++)
        sum += step(m, task, &pieces[i - 1], &pieces[i]);
    if (!task->end_anywhere)
        sum += lifted_step(m, dt_piece_end(&pieces[n - 1]), task->end) +
               stop_at(task, dt_piece_last_end(&pieces[n - 1]));
    return sum;
}

/* Starts of loops ---------------------------------------------------------------------------- */

typedef struct {
    const DtMetric *m;
    DtPoint from, to;
    gboolean from_lifted, to_lifted, to_anywhere;
} Between;

static int64_t through(const Between *b, DtPoint p)
{
    int64_t in = b->from_lifted ? lifted_step(b->m, b->from, p) : dt_metric_step(b->m, b->from, p);
    if (b->to_anywhere)
        return in;
    return in + (b->to_lifted ? lifted_step(b->m, p, b->to) : dt_metric_step(b->m, p, b->to));
}

/* Starts each loop at the vertex that is cheapest between its neighbours in the order, until no
 * loop gains, or for a few rounds. Returns how many loops have been moved, those moved again counted
 * again. */
static size_t choose_starts(const DtMetric *m, DtPiece *pieces, size_t n, const DtPiecesTask *task)
{
    enum { ROUNDS = 6 };
    size_t moved = 0, before = G_MAXSIZE;
    for (int round = 0; round < ROUNDS && moved != before; round++) {
        before = moved;
        for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
            DtPiece *p = &pieces[i];
            if (!p->closed)
                continue;
            gboolean last = i + 1 == n;
            Between b = {m,
                         i == 0 ? task->start : dt_piece_end(&pieces[i - 1]),
                         last ? task->end : dt_piece_start(&pieces[i + 1]),
                         i == 0,
                         last,
                         last && task->end_anywhere};
            const size_t turn = p->turn;
            int64_t best = through(&b, p->pts[turn]);
            for (size_t k = 0; k < p->n; k++) {
                int64_t cost = through(&b, p->pts[k]);
                if (cost < best) {
                    best = cost;
                    p->turn = k;
                }
            }
            moved += p->turn != turn;
        }
    }
    return moved;
}

static size_t choose_loop_starts(const DtMetric *m, DtPiece *pieces, size_t n,
                                 const DtPiecesTask *task)
{
    const size_t moved = choose_starts(m, pieces, n, task);
    for (size_t i = 0; i < n && task->links; i++)
        if (pieces[i].closed)
            dt_links_move(task->links, 2 * pieces[i].section, dt_piece_start(&pieces[i]));
    if (task->links)
        dt_links_forget(task->links);
    return moved;
}

/* Most kicks per piece: few pieces are soon in their best order. */
#define KICKS_PER_PIECE 200

/* Of so many pieces, each round takes long. */
#define MANY_PIECES 20000
/* Few loops move if less than one in so many pieces has another start than before. */
#define FEW_MOVE 50
/* Instead of the local search over the whole order with which each round begins, the kicks of so many
 * rounds: they gain more in a quarter of the time. */
#define INSTEAD 1

/* The tour ----------------------------------------------------------------------------------- */

/* Nodes 0 and 1 are where the pen comes from and where it goes; piece i has one node if it
 * starts and ends at one place, otherwise two tied ones. */
typedef struct {
    DtPoint *at;
    int32_t *tied;
    uint8_t *side;
    uint32_t *owner;
    uint32_t *end; /* of sections; G_MAXUINT32: none */
    uint32_t n;
} Nodes;

static void add_node(Nodes *nodes, size_t owner, DtPoint at, int32_t tied, uint8_t side)
{
    nodes->at[nodes->n] = at;
    nodes->tied[nodes->n] = tied;
    nodes->side[nodes->n] = side;
    nodes->end[nodes->n] = G_MAXUINT32;
    nodes->owner[nodes->n++] = (uint32_t)owner;
}

static void nodes_init(Nodes *nodes, const DtPiece *pieces, size_t n, const DtPiecesTask *task)
{
    nodes->n = 0;
    nodes->at = g_new(DtPoint, 2 * n + 2);
    nodes->tied = g_new(int32_t, 2 * n + 2);
    nodes->side = g_new(uint8_t, 2 * n + 2);
    nodes->owner = g_new(uint32_t, 2 * n + 2);
    nodes->end = g_new(uint32_t, 2 * n + 2);
    uint8_t entry = task->directed ? DT_SIDE_ENTRY : DT_SIDE_FREE;
    uint8_t exit = task->directed ? DT_SIDE_EXIT : DT_SIDE_FREE;
    add_node(nodes, n, task->start, 1, exit | DT_SIDE_LIFTED);
    add_node(nodes, n, task->end_anywhere ? task->start : task->end, 0,
             entry | DT_SIDE_LIFTED | (task->end_anywhere ? DT_SIDE_ANYWHERE : 0));
    for (size_t i = 0; i < n; i++) {
        const DtPiece *p = &pieces[i];
        int32_t first = (int32_t)nodes->n;
        if (!task->directed && (p->closed || p->n == 1)) {
            add_node(nodes, i, dt_piece_start(p), -1, DT_SIDE_FREE);
            nodes->end[first] = dt_piece_first_end(p);
            continue;
        }
        add_node(nodes, i, dt_piece_start(p), first + 1, entry);
        add_node(nodes, i, dt_piece_end(p), first, exit);
        nodes->end[first] = dt_piece_first_end(p);
        nodes->end[first + 1] = dt_piece_last_end(p);
    }
}

static void nodes_clear(Nodes *nodes)
{
    g_free(nodes->at);
    g_free(nodes->tied);
    g_free(nodes->side);
    g_free(nodes->owner);
    g_free(nodes->end);
}

/* Puts the pieces into the order of the tour, read from its start. */
static void take_order(const DtTour *t, const Nodes *nodes, DtPiece *pieces, size_t n)
{
    g_autofree uint32_t *order = g_new(uint32_t, nodes->n);
    g_autofree DtPiece *old = g_memdup2(pieces, n * sizeof *pieces);
    dt_tour_order(t, order);
    uint32_t at = 0;
    while (order[at] != 0)
        at++;
    gboolean down = order[at + 1 == nodes->n ? 0 : at + 1] == 1;
    size_t done = 0;
    uint32_t latest = (uint32_t)n;
    for (uint32_t i = 1; i < nodes->n; i++) {
        at = down ? (at == 0 ? nodes->n - 1 : at - 1) : (at + 1 == nodes->n ? 0 : at + 1);
        uint32_t node = order[at], owner = nodes->owner[node];
        if (owner == n || owner == latest) /* the second of two tied nodes */
            continue;
        latest = owner;
        pieces[done] = old[owner];
        if (nodes->tied[node] >= 0 && nodes->tied[node] < (int32_t)node)
            pieces[done].backwards = !pieces[done].backwards;
        done++;
    }
}

static double processor_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void improve(const DtMetric *m, DtPiece *pieces, size_t n, const DtPiecesTask *task,
                    gboolean from_scratch, const DtTourBudget *budget)
{
    Nodes nodes;
    nodes_init(&nodes, pieces, n, task);
    g_autoptr(DtTour) t = dt_tour_new(m, nodes.n, nodes.at, nodes.tied, nodes.side);
    if (task->links)
        dt_tour_set_links(t, task->links, nodes.end);
    g_clear_pointer(&nodes.at, g_free); /* the tour has its own */
    g_clear_pointer(&nodes.side, g_free);
    g_clear_pointer(&nodes.end, g_free);
    dt_tour_find_near(t);
    if (from_scratch) {
        dt_tour_start(t);
    } else {
        g_autofree uint32_t *order = g_new(uint32_t, nodes.n);
        order[0] = 0;
        for (uint32_t i = 2; i < nodes.n; i++)
            order[i - 1] = i;
        order[nodes.n - 1] = 1;
        dt_tour_set_order(t, order);
    }
    dt_tour_improve(t, budget);
    take_order(t, &nodes, pieces, n);
    nodes_clear(&nodes);
}

static gboolean has_loops(const DtPiece *pieces, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (pieces[i].closed && pieces[i].n > 1)
            return TRUE;
    return FALSE;
}

void dt_pieces_order(const DtMetric *m, DtPiece *pieces, size_t n, const DtPiecesTask *task)
{
    if (n == 0)
        return;
    double started = processor_s();
    int64_t given = dt_pieces_cost(m, pieces, n, task);
    g_autofree DtPiece *old = g_memdup2(pieces, n * sizeof *pieces);
    /* The start of a loop and its position in the order depend on each other: optimised
     * alternately. When few of many pieces move, the rounds that are left are made in one. */
    const unsigned rounds = has_loops(pieces, n) ? 3 : 1;
    const double share = (task->to - task->from) / rounds;
    const uint64_t kicks = MIN(task->kicks, KICKS_PER_PIECE * (uint64_t)n);
    size_t moved = n;
    if (rounds > 1 && !task->keep) {
        DtTourBudget none = {.seed = task->seed};
        improve(m, pieces, n, task, TRUE, &none);
        moved = choose_loop_starts(m, pieces, n, task);
    }
    for (unsigned r = 0, end; r < rounds && !dt_work_stopped(); r = end) {
        end = n > MANY_PIECES && moved < n / FEW_MOVE ? rounds : r + 1;
        const unsigned shares = end - r + (end > r + 1 ? INSTEAD : 0);
        DtTourBudget b = {.kicks = kicks / rounds * shares,
                          .seed = task->seed + r,
                          .from = task->from + r * share,
                          .to = task->from + end * share};
        if (task->budget_s > 0)
            b.until_s = started + task->budget_s * end / rounds;
        improve(m, pieces, n, task, rounds == 1 && !task->keep, &b);
        if (rounds > 1)
            moved = choose_loop_starts(m, pieces, n, task);
    }
    if (dt_pieces_cost(m, pieces, n, task) > given) {
        memcpy(pieces, old, n * sizeof *pieces);
        choose_loop_starts(m, pieces, n, task);
    }
}
