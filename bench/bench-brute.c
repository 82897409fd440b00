/* bench brute: small drawings, up to eight edges where strokes are cut at ends and crossings, planned by
 * every order, split and way back over ink. Nothing that is found may take less than the lower bound, and
 * the planner's own plan should not be far from the best.
 * Usage: bench-brute [CASES] [SEED]: 2,000 cases by default.
 *
 * Up to three edges every plan is timed by the machine's model. Of more, a table over all sets of edges and
 * where the pen stands (Held and Karp 1962) keeps the best few plans of each by a rougher time, and the
 * best of these are timed by the model. Ways back are of two kinds: any length, against the bound, and
 * within the planner's own rules, against the planner. */
#include "job/private.h"
#include "lower-bound.h"
#include "route/sections.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PROFILE "examples/workshop.ini"

enum { MOST_EDGES = 8, ENDS = 2 * MOST_EDGES, KEPT = 4, TIMED = 400 };

/* Cases -------------------------------------------------------------------------------------- */

static DtPoint random_point(GRand *r, double x, double y, double side)
{
    return dt_point(x + g_rand_double_range(r, 0, side), y + g_rand_double_range(r, 0, side));
}

static void add_line(DtStrokes *s, DtPoint a, DtPoint b)
{
    const DtPoint p[2] = {a, b};
    dt_strokes_append(s, p, 2, FALSE, DT_INK_OUTLINE, 0, -1);
}

/* Lines here and there; lines from a place on another one; bends; triangles. */
static void random_case(GRand *r, DtStrokes *s)
{
    const int n = g_rand_int_range(r, 1, 6);
    const double side = pow(10, g_rand_double_range(r, 0.5, 1.8));
    dt_strokes_init(s);
    for (int i = 0; i < n; i++) {
        const DtPoint a = random_point(r, 30, 30, side), b = random_point(r, 30, 30, side);
        const int kind = g_rand_int_range(r, 0, 8);
        if (kind < 3 || i == 0) {
            add_line(s, a, b);
        } else if (kind < 6) { /* a rib */
            const DtStroke *host = &s->strokes[g_rand_int_range(r, 0, i)];
            const DtPoint *p = s->pts + host->first;
            const DtPoint at = dt_point_lerp(p[0], p[1], g_rand_double(r));
            const double length = g_rand_double_range(r, 0.3, kind == 5 ? 6 : 2),
                         angle = g_rand_double_range(r, 0, 2 * G_PI);
            add_line(s, at, dt_point_add(at, dt_point(length * cos(angle), length * sin(angle))));
        } else if (kind == 6) {
            const DtPoint p[3] = {a, b, random_point(r, 30, 30, side)};
            dt_strokes_append(s, p, 3, FALSE, DT_INK_OUTLINE, 0, -1);
        } else {
            const DtPoint p[3] = {a, b, random_point(r, 30, 30, side)};
            dt_strokes_append(s, p, 3, TRUE, DT_INK_OUTLINE, 0, -1);
        }
    }
}

/* The edges of the case, from the planner's own cutting; a loop that nothing touches is one, open at its
 * first point. */
typedef struct {
    DtSections sections;
    GPtrArray *opened;
    DtPiece edge[MOST_EDGES];
    size_t n;
    double mm[MOST_EDGES], ink_mm;
    /* Shortest ways over the ink between ends, and the first edge of each, an end; -1: none. */
    double way_mm[ENDS][ENDS];
    int step[ENDS][ENDS];
    double join;
} Case;

static DtPoint end_at(const Case *c, int end)
{
    const DtPiece *p = &c->edge[end / 2];
    return p->pts[end % 2 ? p->n - 1 : 0];
}

static DtPoint heading(const Case *c, int end)
{
    const DtPiece *p = &c->edge[end / 2];
    const DtPoint d = end % 2 ? dt_point_sub(p->pts[p->n - 2], p->pts[p->n - 1])
                              : dt_point_sub(p->pts[1], p->pts[0]);
    const double n = hypot(d.x, d.y);
    return n > 0 ? dt_point_scale(d, 1 / n) : d;
}

/* Floyd 1962. A step from an end to another is its edge, or a gap within the join. */
static void find_ways(Case *c)
{
    const int n = 2 * (int)c->n;
    for (int a = 0; a < n; a++)
        for (int b = 0; b < n; b++) {
            const double gap = dt_point_distance(end_at(c, a), end_at(c, b));
            c->step[a][b] = b;
            c->way_mm[a][b] = gap <= c->join ? gap : INFINITY;
            if (b == (a ^ 1) && c->mm[a / 2] < c->way_mm[a][b])
                c->way_mm[a][b] = c->mm[a / 2];
        }
    for (int k = 0; k < n; k++)
        for (int a = 0; a < n; a++)
            for (int b = 0; b < n; b++)
                if (c->way_mm[a][k] + c->way_mm[k][b] < c->way_mm[a][b] - 1e-12) {
                    c->way_mm[a][b] = c->way_mm[a][k] + c->way_mm[k][b];
                    c->step[a][b] = c->step[a][k];
                }
}

static void open_loop(Case *c, DtPiece *p)
{
    DtPoint *pts = g_new(DtPoint, p->n + 1);
    memcpy(pts, p->pts, p->n * sizeof *pts);
    pts[p->n] = p->pts[0];
    g_ptr_array_add(c->opened, pts);
    *p = (DtPiece){.pts = pts, .n = p->n + 1};
}

static gboolean case_init(Case *c, const DtStrokes *s, double join)
{
    DtPieces set = {0};
    *c = (Case){.opened = g_ptr_array_new_with_free_func(g_free), .join = join};
    for (size_t i = 0; i < s->n; i++)
        dt_pieces_add(&set, (DtPiece){.pts = s->pts + s->strokes[i].first,
                                      .n = s->strokes[i].n,
                                      .stroke = i,
                                      .closed = s->strokes[i].closed});
    gboolean good = dt_sections_cut(&set, join, &c->sections);
    g_free(set.p);
    if (!good || c->sections.set.n > MOST_EDGES)
        return FALSE;
    c->n = c->sections.set.n;
    for (size_t i = 0; i < c->n; i++) {
        c->edge[i] = c->sections.set.p[i];
        if (c->edge[i].closed)
            open_loop(c, &c->edge[i]);
        for (size_t k = 1; k < c->edge[i].n; k++)
            c->mm[i] += dt_point_distance(c->edge[i].pts[k - 1], c->edge[i].pts[k]);
        c->ink_mm += c->mm[i];
    }
    find_ways(c);
    return TRUE;
}

static void case_clear(Case *c)
{
    dt_sections_clear(&c->sections);
    g_ptr_array_unref(c->opened);
}

/* Plans -------------------------------------------------------------------------------------- */

/* Edges in order, each by the end where it is entered, and how the pen gets there. */
typedef struct {
    uint8_t enter[MOST_EDGES], by_ink[MOST_EDGES]; /* by_ink: over a join or a way back */
    uint8_t coats[MOST_EDGES];                     /* of each edge, more than one */
    double back_mm, rough_s;
} Plan;

static void walk(const Case *c, int a, int b, DtSequence *q)
{
    while (a != b) {
        const int next = c->step[a][b];
        if (next == (a ^ 1) && c->mm[a / 2] <= c->way_mm[a][next]) {
            const DtPiece *p = &c->edge[a / 2];
            for (size_t k = 1; k < p->n; k++)
                dt_sequence_point(q, p->pts[a % 2 ? p->n - 1 - k : k]);
        } else {
            dt_sequence_point(q, end_at(c, next));
        }
        a = next;
    }
}

static void add_coats(const Case *c, int a, int b, Plan *p)
{
    while (a != b) {
        const int next = c->step[a][b];
        if (next == (a ^ 1) && c->mm[a / 2] <= c->way_mm[a][next]) {
            p->coats[a / 2]++;
            p->back_mm += c->mm[a / 2];
        }
        a = next;
    }
}

static void write_plan(const Case *c, const Plan *p, DtSequence *q)
{
    for (size_t i = 0; i < c->n; i++) {
        const DtPiece *e = &c->edge[p->enter[i] / 2];
        if (i == 0 || !p->by_ink[i])
            dt_sequence_begin(q, 0, e->stroke);
        else
            walk(c, p->enter[i - 1] ^ 1, p->enter[i], q);
        for (size_t k = i > 0 && p->by_ink[i] ? 1 : 0; k < e->n; k++)
            dt_sequence_point(q, e->pts[p->enter[i] % 2 ? e->n - 1 - k : k]);
    }
}

static double model_s(const DtProfile *p, const DtSequence *q)
{
    g_auto(DtMoves) moves = {0};
    DtTimes t;
    if (!dt_machine_moves(p, q, &moves, NULL))
        return INFINITY;
    dt_machine_time(p, &moves, FALSE, &t);
    return t.total_s - t.home_s;
}

static double time_plan(const DtProfile *p, const Case *c, const Plan *plan)
{
    g_auto(DtSequence) q = {0};
    write_plan(c, plan, &q);
    return model_s(p, &q);
}

/* What the planner may do. */
typedef struct {
    double longest, share;
    int coats;
} Rules;

static const Rules own_rules = {3, 0.05, 1}, no_rules = {INFINITY, INFINITY, 255};

/* Goes on from a plan of `done` edges; FALSE where that is not possible or not allowed. */
static gboolean extend(const DtProfile *p, const Case *c, const Rules *rules, const Plan *from,
                       size_t done, int enter, gboolean by_ink, Plan *to)
{
    const DtCost cost = dt_profile_cost(p);
    *to = *from;
    to->enter[done] = (uint8_t)enter;
    to->by_ink[done] = (uint8_t)by_ink;
    if (done == 0)
        to->rough_s = dt_route_move_s(&cost, dt_point(0, 0), end_at(c, enter));
    if (done == 0)
        return !by_ink;
    const int at = from->enter[done - 1] ^ 1;
    const DtPoint u = heading(c, at), v = heading(c, enter);
    if (!by_ink) {
        to->rough_s +=
            p->lift_s + p->drop_s + 0.1 + dt_route_move_s(&cost, end_at(c, at), end_at(c, enter));
        return TRUE;
    }
    if (isinf(c->way_mm[at][enter]) || c->way_mm[at][enter] > MAX(rules->longest, c->join))
        return FALSE;
    add_coats(c, at, enter, to);
    for (size_t i = 0; i < c->n; i++)
        if (to->coats[i] > rules->coats)
            return FALSE;
    to->rough_s +=
        c->way_mm[at][enter] / MIN(p->speed[0], p->speed[1]) + 0.08 * (1 + dt_point_dot(u, v));
    return to->back_mm <= rules->share * c->ink_mm + 1e-9;
}

/* The best of all, by the model, plan by plan. */
static void try_all(const DtProfile *p, const Case *c, const Rules *rules, const Plan *plan,
                    size_t done, unsigned mask, double *best)
{
    if (done == c->n) {
        *best = MIN(*best, time_plan(p, c, plan));
        return;
    }
    for (int enter = 0; enter < 2 * (int)c->n; enter++)
        for (int by_ink = 0; by_ink < 2 && !(mask >> enter / 2 & 1); by_ink++) {
            Plan next;
            if (extend(p, c, rules, plan, done, enter, by_ink, &next))
                try_all(p, c, rules, &next, done + 1, mask | 1u << enter / 2, best);
        }
}

typedef struct {
    Plan plan[KEPT];
    int n;
} Cell;

static void keep(Plan *list, int *n, int most, const Plan *p)
{
    int i = *n;
    if (i == most && list[i - 1].rough_s <= p->rough_s)
        return;
    if (i < most)
        ++*n;
    else
        i--;
    for (; i > 0 && list[i - 1].rough_s > p->rough_s; i--)
        list[i] = list[i - 1];
    list[i] = *p;
}

static int fewest_edges_first(const void *x, const void *y)
{
    const unsigned a = *(const unsigned *)x, b = *(const unsigned *)y;
    const int n = __builtin_popcount(a), m = __builtin_popcount(b);
    return n != m ? n - m : (a > b) - (a < b);
}

static void try_table(const DtProfile *p, const Case *c, const Rules *rules, double *best)
{
    const unsigned full = (1u << c->n) - 1, ends = 2 * (unsigned)c->n;
    g_autofree Cell *cell = g_new0(Cell, (size_t)(full + 1) * ends);
    g_autofree unsigned *mask = g_new(unsigned, full + 1);
    g_autofree Plan *final = g_new(Plan, TIMED);
    int n_final = 0;
    for (unsigned m = 0; m <= full; m++)
        mask[m] = m;
    qsort(mask, full + 1, sizeof *mask, fewest_edges_first);
    for (unsigned i = 0; i <= full; i++) {
        const unsigned m = mask[i], done = (unsigned)__builtin_popcount(m);
        for (unsigned at = 0; at < (m ? ends : 1); at++) {
            const Plan none = {0};
            const Cell *from = &cell[m * ends + at];
            for (int k = 0; k < (m ? from->n : 1); k++) {
                const Plan *plan = m ? &from->plan[k] : &none;
                if (m == full)
                    keep(final, &n_final, TIMED, plan);
                for (unsigned e = 0; e < 2 * ends && m != full; e++) {
                    Plan next;
                    const int enter = (int)(e / 2);
                    if (m >> enter / 2 & 1 || !extend(p, c, rules, plan, done, enter, e % 2, &next))
                        continue;
                    Cell *to = &cell[(m | 1u << enter / 2) * ends + (unsigned)(enter ^ 1)];
                    keep(to->plan, &to->n, KEPT, &next);
                }
            }
        }
    }
    for (int k = 0; k < n_final; k++)
        *best = MIN(*best, time_plan(p, c, &final[k]));
}

static double best_s(const DtProfile *p, const Case *c, const Rules *rules)
{
    const Plan none = {0};
    double best = INFINITY;
    if (c->n <= 3)
        try_all(p, c, rules, &none, 0, 0, &best);
    else
        try_table(p, c, rules, &best);
    return best;
}

/* Figures ------------------------------------------------------------------------------------ */

typedef struct {
    size_t cases, below, within, edges[MOST_EDGES + 1];
    double worst, sum_bound, sum_best, sum_planned;
    GArray *to_bound;
} Figures;

static gboolean plan_s(const DtProfile *p, const DtStrokes *s, double *seconds)
{
    DtJob job = {.strokes = *s};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_autoptr(GError) error = NULL;
    gboolean good = dt_job_order(p, &o, &job, &error);
    if (good)
        *seconds = model_s(p, &job.sequence);
    else
        fprintf(stderr, "bench: %s\n", error->message);
    dt_sequence_clear(&job.sequence);
    return good;
}

static void measure(const DtProfile *p, const DtStrokes *s, const Case *c, unsigned number,
                    Figures *f)
{
    double planned = 0;
    const double least = lower_bound(p, s, c->join, dt_point(0, 0), p->change_at).sum_s;
    if (!plan_s(p, s, &planned))
        return;
    const double best = MIN(planned, best_s(p, c, &own_rules));
    const double any = MIN(best, best_s(p, c, &no_rules)), ratio = any / least;
    f->cases++;
    f->edges[c->n]++;
    f->within += planned <= 1.02 * best;
    f->worst = MAX(f->worst, planned / best);
    f->sum_best += best;
    f->sum_planned += planned;
    f->sum_bound += least;
    g_array_append_val(f->to_bound, ratio);
    if (any < least - 1e-6) {
        f->below++;
        printf("case %u: %zu edges drawn in %.3f s, below the bound of %.3f s\n", number, c->n, any,
               least);
    }
}

static int rising(const void *x, const void *y)
{
    const double a = *(const double *)x, b = *(const double *)y;
    return (a > b) - (a < b);
}

static void print_figures(const Figures *f)
{
    printf("%zu cases; of 1 to %d edges:", f->cases, MOST_EDGES);
    for (int i = 1; i <= MOST_EDGES; i++)
        printf(" %zu", f->edges[i]);
    g_array_sort(f->to_bound, rising);
    printf("\n%zu of them below the bound; the best over the bound: median %.3f, least %.3f\n",
           f->below, g_array_index(f->to_bound, double, f->to_bound->len / 2),
           g_array_index(f->to_bound, double, 0));
    printf(
        "planned within 2 %% of the best on %.2f %%, worst %.3f times, all together %.4f times\n",
        100.0 * (double)f->within / (double)f->cases, f->worst, f->sum_planned / f->sum_best);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    if (!p) {
        fprintf(stderr, "bench: %s\n", error->message);
        return 1;
    }
    const size_t cases = argc > 1 ? strtoul(argv[1], NULL, 10) : 2000;
    g_autoptr(GRand) r = g_rand_new_with_seed(argc > 2 ? (guint32)strtoul(argv[2], NULL, 10) : 1);
    Figures f = {.to_bound = g_array_new(FALSE, FALSE, sizeof(double))};
    const double join = ((DtRouteOptions)DT_ROUTE_OPTIONS_DEFAULT).join;
    for (unsigned i = 0; f.cases < cases && i < 100 * cases; i++) {
        DtStrokes s;
        Case c;
        random_case(r, &s);
        if (case_init(&c, &s, join))
            measure(p, &s, &c, i, &f);
        case_clear(&c);
        dt_strokes_clear(&s);
    }
    if (f.cases > 0)
        print_figures(&f);
    g_array_unref(f.to_bound);
    return f.below > 0;
}
