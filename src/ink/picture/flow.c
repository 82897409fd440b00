/* flow: evenly spaced streamlines of a direction field. */
#include "ink/picture/flow.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* The structure tensor is smoothed over this many mm. */
#define SMOOTH 1.2
/* Below this coherence times slope a place has no direction of its own. */
#define FLAT 2e-4
/* Steps along a line, in tips; lines shorter than this many tips are left out. */
#define STEP_TIPS 0.5
#define SHORTEST_TIPS 4
/* Shares below this get no line; above the other, lines touch. */
#define LEAST_SHARE 0.04
/* Factor by which lines that are placed one after the other at a minimum distance end up farther
 * apart on average; its inverse. */
#define PLACED 0.72
/* A line ends when it comes closer to another than this share of the requested distance. */
#define NEAREST 0.75
/* A line turns by no more than this between steps (cosine). */
#define SHARPEST 0.7

typedef struct {
    const DtShareGrid *g;
    double tip, angle;
    float *xx, *xy, *yy;
    /* points of drawn lines in cells of one tip */
    double cell;
    int cw, ch;
    GHashTable *cells; /* cell -> GArray of DtPoint */
    DtLines *out;
    GQueue *seeds; /* DtPoint */
} Flow;

static void blur(float *v, float *half, int w, int h, int r)
{
    for (int pass = 0; pass < 2; pass++)
        for (int turn = 0; turn < 2; turn++) {
            const float *in = turn ? half : v;
            float *out = turn ? v : half;
            int n = turn ? h : w, m = turn ? w : h;
            size_t step = turn ? (size_t)w : 1, row = turn ? 1 : (size_t)w;
            for (int k = 0; k < m; k++) {
                float sum = 0;
                const float *p = in + (size_t)k * row;
                float *q = out + (size_t)k * row;
                for (int i = -r; i < n; i++) {
                    if (i + r < n)
                        sum += p[(size_t)(i + r) * step];
                    if (i - r - 1 >= 0)
                        sum -= p[(size_t)(i - r - 1) * step];
                    if (i >= 0)
                        q[(size_t)i * step] = sum / (float)(2 * r + 1);
                }
            }
        }
}

static void make_tensor(Flow *f)
{
    const DtShareGrid *g = f->g;
    size_t n = (size_t)g->w * (size_t)g->h, w = (size_t)g->w;
    f->xx = g_new0(float, n);
    f->xy = g_new0(float, n);
    f->yy = g_new0(float, n);
    for (int y = 1; y + 1 < g->h; y++)
        for (int x = 1; x + 1 < g->w; x++) {
            size_t i = (size_t)y * w + (size_t)x;
            float dx = g->share[i + 1] - g->share[i - 1], dy = g->share[i + w] - g->share[i - w];
            f->xx[i] = dx * dx;
            f->xy[i] = dx * dy;
            f->yy[i] = dy * dy;
        }
    float *half = g_new(float, n);
    int r = MAX(1, (int)(SMOOTH / g->step));
    blur(f->xx, half, g->w, g->h, r);
    blur(f->xy, half, g->w, g->h, r);
    blur(f->yy, half, g->w, g->h, r);
    g_free(half);
}

/* Along the shapes, in both directions. */
static DtPoint direction_at(const Flow *f, DtPoint p)
{
    int x = CLAMP((int)lround((p.x - f->g->at.x) / f->g->step), 0, f->g->w - 1);
    int y = CLAMP((int)lround((p.y - f->g->at.y) / f->g->step), 0, f->g->h - 1);
    size_t i = (size_t)y * (size_t)f->g->w + (size_t)x;
    double xx = (double)f->xx[i], xy = (double)f->xy[i], yy = (double)f->yy[i];
    /* directions are averaged as tensors: flat places have little weight */
    double a = f->angle + G_PI / 2;
    xx = (xx - yy) + FLAT * cos(2 * a);
    xy = 2 * xy + FLAT * sin(2 * a);
    double across = atan2(xy, xx) / 2;
    return dt_point(-sin(across), cos(across));
}

static double distance_for(const Flow *f, double share)
{
    return PLACED * f->tip / CLAMP(share, LEAST_SHARE, 1);
}

static GArray *cell_at(const Flow *f, int x, int y, gboolean make)
{
    if (x < 0 || y < 0 || x >= f->cw || y >= f->ch)
        return NULL;
    gpointer key = GINT_TO_POINTER(y * f->cw + x + 1);
    GArray *cell = g_hash_table_lookup(f->cells, key);
    if (!cell && make) {
        cell = g_array_new(FALSE, FALSE, sizeof(DtPoint));
        g_hash_table_insert(f->cells, key, cell);
    }
    return cell;
}

static void cell_of(const Flow *f, DtPoint p, int *x, int *y)
{
    *x = (int)floor((p.x - f->g->at.x) / f->cell);
    *y = (int)floor((p.y - f->g->at.y) / f->cell);
}

static gboolean is_free(const Flow *f, DtPoint p, double apart)
{
    int x, y, r = (int)ceil(apart / f->cell);
    cell_of(f, p, &x, &y);
    for (int i = x - r; i <= x + r; i++)
        for (int k = y - r; k <= y + r; k++) {
            const GArray *cell = cell_at(f, i, k, FALSE);
            for (guint j = 0; cell && j < cell->len; j++)
                if (dt_point_distance(g_array_index(cell, DtPoint, j), p) < apart)
                    return FALSE;
        }
    return TRUE;
}

/* Follows one direction from a seed; points are appended except the seed itself. */
static void follow(const Flow *f, DtPoint p, int way, GArray *line)
{
    DtPoint d = dt_point_scale(direction_at(f, p), way);
    double step = STEP_TIPS * f->tip;
    for (int i = 0; i < 4000; i++) {
        DtPoint next = dt_point_add(p, dt_point_scale(d, step));
        DtPoint turn = direction_at(f, next);
        if (dt_point_dot(turn, d) < 0)
            turn = dt_point_scale(turn, -1);
        double share = dt_share_grid_at(f->g, next);
        if (dt_point_dot(turn, d) < SHARPEST || share < LEAST_SHARE ||
            !is_free(f, next, NEAREST * distance_for(f, share)))
            return;
        /* ends a line that curls back on itself */
        for (guint k = 0; k + 12 < line->len; k += 3)
            if (dt_point_distance(g_array_index(line, DtPoint, k), next) < f->tip)
                return;
        g_array_append_val(line, next);
        p = next;
        d = turn;
    }
}

static void keep_line(Flow *f, const GArray *line)
{
    dt_lines_begin(f->out);
    for (guint i = 0; i < line->len; i++) {
        DtPoint p = g_array_index(line, DtPoint, i), d = direction_at(f, p);
        int x, y;
        dt_lines_point(f->out, p);
        cell_of(f, p, &x, &y);
        GArray *cell = cell_at(f, x, y, TRUE);
        if (cell)
            g_array_append_val(cell, p);
        if (i % 4 != 0)
            continue;
        double apart = distance_for(f, dt_share_grid_at(f->g, p));
        for (int way = -1; way <= 1; way += 2) {
            DtPoint seed = {p.x - d.y * apart * way, p.y + d.x * apart * way};
            g_queue_push_tail(f->seeds, g_memdup2(&seed, sizeof seed));
        }
    }
}

static void try_seed(Flow *f, DtPoint seed)
{
    double share = dt_share_grid_at(f->g, seed);
    if (share < LEAST_SHARE || !is_free(f, seed, 0.98 * distance_for(f, share)))
        return;
    g_autoptr(GArray) back = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_autoptr(GArray) line = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    follow(f, seed, -1, back);
    for (guint i = back->len; i-- > 0;)
        g_array_append_val(line, g_array_index(back, DtPoint, i));
    g_array_append_val(line, seed);
    follow(f, seed, 1, line);
    if (line->len * STEP_TIPS >= SHORTEST_TIPS)
        keep_line(f, line);
}

static void free_array(gpointer a)
{
    g_array_free(a, TRUE);
}

void dt_flow_lines(const DtShareGrid *g, double tip, double angle, DtLines *out)
{
    if (g->w < 3 || g->h < 3)
        return;
    Flow f = {.g = g, .tip = tip, .angle = angle, .cell = 2 * tip, .out = out};
    f.cw = (int)(g->w * g->step / f.cell) + 1;
    f.ch = (int)(g->h * g->step / f.cell) + 1;
    f.cells = g_hash_table_new_full(NULL, NULL, NULL, free_array);
    f.seeds = g_queue_new();
    make_tensor(&f);
    double every = 2 * tip; /* a first seed where no line leads to */
    for (double y = 0; y < g->h * g->step && !dt_work_stopped(); y += every)
        for (double x = 0; x < g->w * g->step; x += every) {
            try_seed(&f, dt_point(g->at.x + x, g->at.y + y));
            DtPoint *seed;
            while ((seed = g_queue_pop_head(f.seeds)) != NULL) {
                if (!dt_work_stopped())
                    try_seed(&f, *seed);
                g_free(seed);
            }
        }
    g_queue_free(f.seeds);
    g_hash_table_unref(f.cells);
    g_free(f.xx);
    g_free(f.xy);
    g_free(f.yy);
}
