/* witness: distances both ways between two sets of pen lines, found over a grid of short pieces. */
#include "support/witness.h"
#include <math.h>
#include <stdlib.h>

/* Lines --------------------------------------------------------------------------------------- */

void witness_ink_init(WitnessInk *ink)
{
    ink->pts = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    ink->lines = g_array_new(FALSE, FALSE, sizeof(WitnessLine));
}

void witness_ink_clear(WitnessInk *ink)
{
    g_clear_pointer(&ink->pts, g_array_unref);
    g_clear_pointer(&ink->lines, g_array_unref);
}

void witness_ink_add(WitnessInk *ink, const DtPoint *pts, size_t n, gboolean closed, unsigned pen)
{
    if (n == 0)
        return;
    WitnessLine line = {ink->pts->len, n + (closed && n > 1), pen};
    g_array_append_vals(ink->pts, pts, (guint)n);
    if (closed && n > 1)
        g_array_append_vals(ink->pts, pts, 1);
    g_array_append_val(ink->lines, line);
}

static const DtPoint *line_points(const WitnessInk *ink, const WitnessLine *line)
{
    return &g_array_index(ink->pts, DtPoint, line->first);
}

static double between(DtPoint a, DtPoint b)
{
    return hypot(b.x - a.x, b.y - a.y);
}

double witness_ink_length(const WitnessInk *ink)
{
    double length = 0;
    for (guint i = 0; i < ink->lines->len; i++) {
        const WitnessLine *line = &g_array_index(ink->lines, WitnessLine, i);
        const DtPoint *p = line_points(ink, line);
        for (size_t k = 1; k < line->n; k++)
            length += between(p[k - 1], p[k]);
    }
    return length;
}

/* Grid ---------------------------------------------------------------------------------------- */

#define CELL 1.0 /* mm; lines are cut into pieces no longer than this */

typedef struct {
    DtPoint a, b;
} Piece;

/* The pieces of one pen, sorted by the cell that holds their middle. */
typedef struct {
    DtBox box;
    long nx, ny;
    size_t *first; /* nx*ny+1 */
    Piece *pieces;
    size_t n;
} Grid;

static long cell_of(double at, double from)
{
    return (long)floor((at - from) / CELL);
}

static size_t piece_cell(const Grid *g, const Piece *p)
{
    const long cx = cell_of((p->a.x + p->b.x) / 2, g->box.x0);
    const long cy = cell_of((p->a.y + p->b.y) / 2, g->box.y0);
    return (size_t)(CLAMP(cy, 0, g->ny - 1) * g->nx + CLAMP(cx, 0, g->nx - 1));
}

static void add_pieces(GArray *pieces, DtPoint a, DtPoint b)
{
    const int n = (int)fmax(1, ceil(between(a, b) / CELL));
    for (int i = 0; i < n; i++) {
        const double s = (double)i / n, t = (double)(i + 1) / n;
        Piece p = {{a.x + (b.x - a.x) * s, a.y + (b.y - a.y) * s},
                   {a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t}};
        g_array_append_val(pieces, p);
    }
}

static GArray *pieces_of_pen(const WitnessInk *ink, unsigned pen)
{
    GArray *pieces = g_array_new(FALSE, FALSE, sizeof(Piece));
    for (guint i = 0; i < ink->lines->len; i++) {
        const WitnessLine *line = &g_array_index(ink->lines, WitnessLine, i);
        const DtPoint *p = line_points(ink, line);
        if (line->pen != pen)
            continue;
        if (line->n == 1)
            add_pieces(pieces, p[0], p[0]);
        for (size_t k = 1; k < line->n; k++)
            add_pieces(pieces, p[k - 1], p[k]);
    }
    return pieces;
}

static void grid_init(Grid *g, const WitnessInk *ink, unsigned pen)
{
    g_autoptr(GArray) all = pieces_of_pen(ink, pen);
    *g = (Grid){.box = {HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL}, .n = all->len};
    if (g->n == 0)
        return;
    const Piece *p = (const Piece *)(void *)all->data;
    for (size_t i = 0; i < g->n; i++) {
        g->box.x0 = fmin(g->box.x0, fmin(p[i].a.x, p[i].b.x));
        g->box.y0 = fmin(g->box.y0, fmin(p[i].a.y, p[i].b.y));
        g->box.x1 = fmax(g->box.x1, fmax(p[i].a.x, p[i].b.x));
        g->box.y1 = fmax(g->box.y1, fmax(p[i].a.y, p[i].b.y));
    }
    g->nx = cell_of(g->box.x1, g->box.x0) + 1;
    g->ny = cell_of(g->box.y1, g->box.y0) + 1;
    const size_t n_cells = (size_t)(g->nx * g->ny);
    g->first = g_new0(size_t, n_cells + 1);
    g->pieces = g_new(Piece, g->n);
    for (size_t i = 0; i < g->n; i++)
        g->first[piece_cell(g, &p[i]) + 1]++;
    for (size_t c = 0; c < n_cells; c++)
        g->first[c + 1] += g->first[c];
    g_autofree size_t *next = g_memdup2(g->first, n_cells * sizeof *next);
    for (size_t i = 0; i < g->n; i++)
        g->pieces[next[piece_cell(g, &p[i])]++] = p[i];
}

static void grid_clear(Grid *g)
{
    g_free(g->first);
    g_free(g->pieces);
}

static double to_piece(DtPoint p, const Piece *s)
{
    const double dx = s->b.x - s->a.x, dy = s->b.y - s->a.y, l2 = dx * dx + dy * dy;
    double t = l2 > 0 ? ((p.x - s->a.x) * dx + (p.y - s->a.y) * dy) / l2 : 0;
    t = CLAMP(t, 0.0, 1.0);
    return hypot(s->a.x + t * dx - p.x, s->a.y + t * dy - p.y);
}

static double nearest_in_cell(const Grid *g, long cx, long cy, DtPoint p, double best)
{
    if (cx < 0 || cy < 0 || cx >= g->nx || cy >= g->ny)
        return best;
    const size_t c = (size_t)(cy * g->nx + cx);
    for (size_t i = g->first[c]; i < g->first[c + 1]; i++)
        best = fmin(best, to_piece(p, &g->pieces[i]));
    return best;
}

/* Distance to the nearest piece, at most WITNESS_FARTHEST. A piece reaches at most half a cell
 * beyond the cell of its middle, so after ring k every piece nearer than k - 1/2 cells has been
 * seen. */
static double grid_nearest(const Grid *g, DtPoint p)
{
    double best = WITNESS_FARTHEST;
    if (g->n == 0)
        return best;
    const long cx = cell_of(p.x, g->box.x0), cy = cell_of(p.y, g->box.y0);
    const long last = (long)(WITNESS_FARTHEST / CELL) + 1;
    for (long k = 0; k <= last && best > ((double)k - 1.5) * CELL; k++) {
        for (long d = -k; d <= k; d++) {
            best = nearest_in_cell(g, cx + d, cy - k, p, best);
            if (k > 0)
                best = nearest_in_cell(g, cx + d, cy + k, p, best);
        }
        for (long d = -k + 1; d < k; d++) {
            best = nearest_in_cell(g, cx - k, cy + d, p, best);
            best = nearest_in_cell(g, cx + k, cy + d, p, best);
        }
    }
    return best;
}

/* Comparison ---------------------------------------------------------------------------------- */

typedef struct {
    const WitnessOptions *o;
    GArray *distances; /* double */
    double absent;     /* mm */
    double max;
    DtPoint worst;
} Tally;

static void tally_sample(Tally *t, const Grid *g, DtPoint p, double share)
{
    const double d = grid_nearest(g, p);
    g_array_append_val(t->distances, d);
    if (d > t->o->absent)
        t->absent += share;
    if (d > t->max) {
        t->max = d;
        t->worst = p;
    }
}

/* Both ends of every segment and points between them, none farther apart than the step. */
static void tally_line(Tally *t, const Grid *g, const DtPoint *p, size_t n)
{
    double length = 0;
    for (size_t k = 1; k < n; k++)
        length += between(p[k - 1], p[k]);
    const size_t parts = (size_t)ceil(length / t->o->step);
    if (parts == 0) {
        tally_sample(t, g, p[0], t->o->step);
        return;
    }
    const double share = length / (double)parts;
    double along = 0; /* length before segment k */
    size_t i = 0;
    for (size_t k = 1; k < n; k++) {
        const double l = between(p[k - 1], p[k]);
        for (; i < parts && share * (double)i <= along + l; i++) {
            const double s = l > 0 ? (share * (double)i - along) / l : 0;
            DtPoint q = {p[k - 1].x + (p[k].x - p[k - 1].x) * s,
                         p[k - 1].y + (p[k].y - p[k - 1].y) * s};
            tally_sample(t, g, q, i == 0 ? share / 2 : share);
        }
        along += l;
    }
    tally_sample(t, g, p[n - 1], share / 2);
}

static void tally_pen(Tally *t, const WitnessInk *from, const Grid *g, unsigned pen)
{
    for (guint i = 0; i < from->lines->len; i++) {
        const WitnessLine *line = &g_array_index(from->lines, WitnessLine, i);
        if (line->pen == pen)
            tally_line(t, g, line_points(from, line), line->n);
    }
}

static unsigned pen_count(const WitnessInk *ink)
{
    unsigned n = 0;
    for (guint i = 0; i < ink->lines->len; i++)
        n = MAX(n, g_array_index(ink->lines, WitnessLine, i).pen + 1);
    return n;
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void witness_compare(const WitnessInk *planned, const WitnessInk *landed, const WitnessOptions *o,
                     WitnessError *out)
{
    g_autoptr(GArray) distances = g_array_new(FALSE, FALSE, sizeof(double));
    Tally missing = {.o = o, .distances = distances}, stray = missing;
    const unsigned pens = MAX(pen_count(planned), pen_count(landed));
    for (unsigned pen = 0; pen < pens; pen++) {
        Grid to_planned, to_landed;
        grid_init(&to_planned, planned, pen);
        grid_init(&to_landed, landed, pen);
        tally_pen(&missing, planned, &to_landed, pen);
        tally_pen(&stray, landed, &to_planned, pen);
        grid_clear(&to_planned);
        grid_clear(&to_landed);
    }
    *out = (WitnessError){.missing = missing.absent,
                          .stray = stray.absent,
                          .max = fmax(missing.max, stray.max),
                          .worst = missing.max >= stray.max ? missing.worst : stray.worst,
                          .planned = witness_ink_length(planned),
                          .landed = witness_ink_length(landed),
                          .n_samples = distances->len};
    if (distances->len == 0)
        return;
    double *d = (double *)(void *)distances->data;
    qsort(d, distances->len, sizeof *d, by_size);
    for (guint i = 0; i < distances->len; i++)
        out->mean += d[i] / distances->len;
    /* Nearest rank: the smallest value that at least 95 of 100 samples do not exceed. */
    out->p95 = d[(size_t)ceil(0.95 * distances->len) - 1];
}
