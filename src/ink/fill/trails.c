/* trails: from run to run of hatch lines. End 2i is run i's lower end in u, end 2i + 1 its upper one. */
#include "ink/fill/trails.h"

#include "drawtrue/work.h"
#include "ink/fill/hatch.h"

#include <math.h>

#define NONE G_MAXSIZE
/* Runs of two hatches go on as one line if they are no farther apart across it than this share of the wider pitch, in a
 * bend of no more than 45 degrees, and along it than this many tips and the distance across. */
#define ACROSS 0.75
#define ALONG_TIPS 3.0
/* Pitches of hatches that go on into one another differ by less than this factor. */
#define RATIO 1.7
/* An open end where nothing goes on is set back by this, in tips: it is round. */
#define BACK_TIPS (G_PI / 8)
/* The bend from one to the other begins this many tips before the end, but in the outer part of a run. */
#define BEND_TIPS 6.0
#define BEND_PART 0.4
/* Runs side by side that end within this many tips along them are joined, unless they are farther apart than this. */
#define REACH_TIPS 2.0
#define JOIN_TIPS 2.5
/* Bends and joins stay inside the area: it is looked at on rows this far apart, in tips, where they may leave it by no
 * more than that. */
#define ROW_TIPS 0.125
/* Where the rows could cross the edge more often than this nothing goes on or is joined. */
#define MOST_CROSSINGS 5000000.0

typedef struct {
    const DtTrailRun *run;
    size_t n;
    double angle, tip;
    gboolean joins;
    DtHatching rows; /* the area */
    size_t *link;    /* of each end: the end of another run that goes on there */
    size_t *order;   /* runs by hatch, line and u */
    gboolean *used;  /* of each run */
    DtLines *out;
} Trails;

/* Inside ------------------------------------------------------------------------------------- */

/* Whether a row is inside the area from u0 to u1. */
static gboolean row_is_inside(const Trails *t, int64_t row, double u0, double u1)
{
    const double slack = ROW_TIPS * t->tip;
    size_t low = 0, high = t->rows.n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        const DtCrossing *end = &t->rows.c[2 * middle + 1];
        if (end->line < row || (end->line == row && end->u < u1 - slack))
            low = middle + 1;
        else
            high = middle;
    }
    return low < t->rows.n && t->rows.c[2 * low].line == row && t->rows.c[2 * low].u <= u0 + slack;
}

/* Whether the area is not left on the straight way from (u, v) = (ua, va) to (ub, vb). */
static gboolean stays_inside(const Trails *t, double ua, double va, double ub, double vb)
{
    const double step = t->rows.grid.pitch, slope = va != vb ? (ub - ua) / (vb - va) : 0,
                 from = MIN(ua, ub), to = MAX(ua, ub);
    int64_t first = (int64_t)ceil(MIN(va, vb) / step), last = (int64_t)floor(MAX(va, vb) / step);
    if (first > last)
        return row_is_inside(t, llround((va + vb) / 2 / step), from, to);
    for (int64_t row = first; row <= last; row++) {
        const double u = ua + ((double)row * step - va) * slope, d = fabs(slope) * step / 2;
        const double u0 = va != vb ? CLAMP(u - d, from, to) : from,
                     u1 = va != vb ? CLAMP(u + d, from, to) : to;
        if (!row_is_inside(t, row, u0, u1))
            return FALSE;
    }
    return TRUE;
}

/* Links -------------------------------------------------------------------------------------- */

typedef struct {
    size_t end;
    double v;
} OpenEnd;

typedef struct {
    size_t a, b; /* ends */
    double away;
} Pair;

static int by_v(const void *pa, const void *pb)
{
    const OpenEnd *a = pa, *b = pb;
    if (a->v != b->v)
        return a->v < b->v ? -1 : 1;
    return (a->end > b->end) - (a->end < b->end);
}

static int by_distance(const void *pa, const void *pb)
{
    const Pair *a = pa, *b = pb;
    if (a->away != b->away)
        return a->away < b->away ? -1 : 1;
    if (a->a != b->a)
        return a->a < b->a ? -1 : 1;
    return (a->b > b->b) - (a->b < b->b);
}

static double end_u(const Trails *t, size_t end)
{
    return t->run[end / 2].u[end % 2];
}

/* How far before its end a run bends. */
static double bend_of(const Trails *t, const DtTrailRun *r)
{
    return MIN(BEND_TIPS * t->tip, BEND_PART * (r->u[1] - r->u[0]));
}

/* The place before its end at which a run that goes on begins to bend. */
static double bend_u(const Trails *t, size_t end)
{
    const double bend = bend_of(t, &t->run[end / 2]);
    return end_u(t, end) + (end % 2 ? -bend : bend);
}

static void add_pair(const Trails *t, size_t a, size_t b, GArray *pairs)
{
    const DtTrailRun *p = &t->run[a / 2], *q = &t->run[b / 2];
    const double across = fabs(p->v - q->v), along = fabs(end_u(t, a) - end_u(t, b));
    const Pair pair = {a, b, hypot(across, along)};
    if (a % 2 != b % 2 && p->hatch != q->hatch && across <= ACROSS * MAX(p->pitch, q->pitch) &&
        across <= RATIO * ACROSS * MIN(p->pitch, q->pitch) &&
        across <= bend_of(t, p) + bend_of(t, q) && along <= ALONG_TIPS * t->tip + across)
        g_array_append_val(pairs, pair);
}

/* The nearest ends first. */
static void link_ends(Trails *t)
{
    g_autoptr(GArray) open = g_array_new(FALSE, FALSE, sizeof(OpenEnd));
    g_autoptr(GArray) pairs = g_array_new(FALSE, FALSE, sizeof(Pair));
    for (size_t end = 0; end < 2 * t->n; end++) {
        const OpenEnd o = {end, t->run[end / 2].v};
        t->link[end] = NONE;
        if (t->run[end / 2].open[end % 2])
            g_array_append_val(open, o);
    }
    g_array_sort(open, by_v);
    for (guint i = 0; i < open->len && !dt_work_stopped(); i++) {
        const OpenEnd *a = &g_array_index(open, OpenEnd, i);
        for (guint k = i + 1; k < open->len; k++) {
            const OpenEnd *b = &g_array_index(open, OpenEnd, k);
            if (b->v - a->v > RATIO * ACROSS * t->run[a->end / 2].pitch)
                break;
            add_pair(t, a->end, b->end, pairs);
        }
    }
    g_array_sort(pairs, by_distance);
    for (guint i = 0; i < pairs->len; i++) {
        const Pair *p = &g_array_index(pairs, Pair, i);
        if (t->link[p->a] != NONE || t->link[p->b] != NONE ||
            !stays_inside(t, bend_u(t, p->a), t->run[p->a / 2].v, bend_u(t, p->b),
                          t->run[p->b / 2].v))
            continue;
        t->link[p->a] = p->b;
        t->link[p->b] = p->a;
    }
}

/* Joins -------------------------------------------------------------------------------------- */

static int compare_runs(gconstpointer pa, gconstpointer pb, gpointer user)
{
    const Trails *t = user;
    const DtTrailRun *a = &t->run[*(const size_t *)pa], *b = &t->run[*(const size_t *)pb];
    if (a->hatch != b->hatch)
        return a->hatch < b->hatch ? -1 : 1;
    if (a->line != b->line)
        return a->line < b->line ? -1 : 1;
    return (a->u[0] > b->u[0]) - (a->u[0] < b->u[0]);
}

/* The place in the order of the first run on a line, or after it, that ends at u or later. */
static size_t first_on(const Trails *t, int hatch, int64_t line, double u)
{
    size_t low = 0, high = t->n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        const DtTrailRun *r = &t->run[t->order[middle]];
        if (r->hatch < hatch || (r->hatch == hatch && r->line < line) ||
            (r->hatch == hatch && r->line == line && r->u[1] < u))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The nearest end on a line, on the same side of the area, at which a join from another may end. */
static size_t find_join(const Trails *t, size_t end, int64_t line)
{
    const DtTrailRun *from = &t->run[end / 2];
    const double u = end_u(t, end), reach = REACH_TIPS * t->tip;
    double least = reach;
    size_t found = NONE;
    for (size_t i = first_on(t, from->hatch, line, u - reach); i < t->n; i++) {
        const size_t k = t->order[i];
        const DtTrailRun *r = &t->run[k];
        if (r->hatch != from->hatch || r->line != line || r->u[0] > u + reach)
            break;
        const double away = fabs(r->u[end % 2] - u);
        if (t->used[k] || r->open[end % 2] || away > least ||
            fabs(r->v - from->v) > JOIN_TIPS * t->tip ||
            !stays_inside(t, u, from->v, r->u[end % 2], r->v))
            continue;
        least = away;
        found = 2 * k + end % 2;
    }
    return found;
}

static size_t next_end(const Trails *t, size_t end)
{
    const DtTrailRun *r = &t->run[end / 2];
    if (t->link[end] != NONE)
        return t->used[t->link[end] / 2] ? NONE : t->link[end];
    if (!t->joins || r->open[end % 2])
        return NONE;
    const size_t up = find_join(t, end, r->line + 1);
    return up != NONE ? up : find_join(t, end, r->line - 1);
}

/* Lines -------------------------------------------------------------------------------------- */

static DtPoint point_of(const Trails *t, size_t end)
{
    const DtTrailRun *r = &t->run[end / 2];
    const double length = r->u[1] - r->u[0],
                 back = r->open[end % 2] ? MIN(BACK_TIPS * t->tip, BEND_PART * length) : 0,
                 u = t->link[end] != NONE ? bend_u(t, end)
                                          : end_u(t, end) + (end % 2 ? -back : back),
                 k = cos(t->angle), s = sin(t->angle);
    return dt_point(u * k - r->v * s, u * s + r->v * k);
}

static void follow(Trails *t, size_t end)
{
    dt_lines_begin(t->out);
    while (end != NONE) {
        t->used[end / 2] = TRUE;
        dt_lines_point(t->out, point_of(t, end));
        dt_lines_point(t->out, point_of(t, end ^ 1));
        end = next_end(t, end ^ 1);
    }
}

void dt_trails_draw(const GArray *runs, const DtLines *inset, double angle, double tip,
                    gboolean joins, DtLines *out)
{
    const size_t n = runs->len;
    g_autofree size_t *link = g_new(size_t, 2 * n + 1);
    g_autofree size_t *order = g_new(size_t, n + 1);
    g_autofree gboolean *used = g_new0(gboolean, n + 1);
    Trails t = {.run = (const DtTrailRun *)(const void *)runs->data,
                .n = n,
                .angle = angle,
                .tip = tip,
                .joins = joins,
                .link = link,
                .order = order,
                .used = used,
                .out = out};
    t.rows.grid = (DtHatchGrid){angle, ROW_TIPS * tip, 0};
    if (n > 1 && dt_lines_total_length(inset) <= MOST_CROSSINGS * ROW_TIPS * tip)
        dt_hatch_lines(inset, DT_FILL_NONZERO, t.rows.grid, &t.rows, NULL);
    for (size_t i = 0; i < n; i++)
        order[i] = i;
    g_qsort_with_data(order, (gint)n, sizeof *order, compare_runs, &t);
    link_ends(&t);
    for (size_t i = 0; i < n; i++) /* first those with an end where nothing goes on */
        for (size_t end = 2 * order[i]; end <= 2 * order[i] + 1 && !used[order[i]]; end++)
            if (link[end] == NONE)
                follow(&t, end);
    for (size_t i = 0; i < n; i++)
        if (!used[order[i]])
            follow(&t, 2 * order[i]);
    dt_hatching_clear(&t.rows);
}
