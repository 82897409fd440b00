/* flow: evenly spaced streamlines of a direction field. */
#include "ink/picture/flow.h"
#include "ink/picture/balance.h"

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
/* Lines are first placed about as far apart as the tone asks for; since many end early, more are placed where
 * ink is still owed, at smaller shares of that distance, and at the smallest where it is dark. */
typedef struct {
    double apart, closer; /* of the distance; by how much less at full coverage */
} Round;
static const Round rounds[] = {{0.95, 0.18}, {0.85, 0.2}, {0.75, 0.25}, {0.75, 0.6}};
/* A line ends when it comes closer to another than this share of the requested distance. */
#define NEAREST 0.75
/* A line ends where there is more ink than is asked for, by this factor, in a square behind its end that
 * reaches this many distances between lines to each side. */
#define EXCESS 1.1
#define WINDOW 1.5
/* A line turns by no more than this between steps (cosine). */
#define SHARPEST 0.7

typedef struct {
    const DtShareGrid *g;
    double tip, angle;
    Round round;
    float *xx, *xy, *yy;
    /* points of drawn lines in cells of one tip */
    double cell;
    int cw, ch;
    GHashTable *cells; /* cell -> GArray of DtPoint */
    DtLines *out;
    GQueue *seeds; /* DtPoint */
    DtBalance balance;
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
    share = CLAMP(share, LEAST_SHARE, 1);
    return f->round.apart * (1 - f->round.closer * share * share) * f->tip / share;
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

/* Whether more ink is asked for around a place than there is. */
static gboolean is_owed(const Flow *f, DtPoint p, double reach, double least)
{
    double asked, laid;
    dt_balance_around(&f->balance, p, reach, &asked, &laid);
    return EXCESS * asked - laid >= least;
}

/* The reach of a window for a share. */
static double reach_for(const Flow *f, double share)
{
    return WINDOW * f->tip / CLAMP(share, LEAST_SHARE, 1);
}

/* Lays the ink of a step of a line, which reaches from its middle half a step either way, or takes it back. */
static void lay(Flow *f, DtPoint p, int sign)
{
    dt_balance_lay(&f->balance, p, sign * STEP_TIPS * f->tip * f->tip);
}

/* Follows one direction from a seed; points are appended except the seed itself. */
static void follow(Flow *f, DtPoint p, int way, GArray *line)
{
    DtPoint d = dt_point_scale(direction_at(f, p), way);
    double step = STEP_TIPS * f->tip;
    for (int i = 0; i < 4000; i++) {
        DtPoint next = dt_point_add(p, dt_point_scale(d, step));
        DtPoint turn = direction_at(f, next);
        if (dt_point_dot(turn, d) < 0)
            turn = dt_point_scale(turn, -1);
        double share = dt_share_grid_at(f->g, next);
        double reach = reach_for(f, share);
        if (dt_point_dot(turn, d) < SHARPEST || share < LEAST_SHARE ||
            !is_free(f, next, NEAREST * distance_for(f, share)) ||
            !is_owed(f, dt_point_sub(next, dt_point_scale(d, reach)), reach, 0))
            return;
        /* ends a line that curls back on itself */
        for (guint k = 0; k + 12 < line->len; k += 3)
            if (dt_point_distance(g_array_index(line, DtPoint, k), next) < f->tip)
                return;
        g_array_append_val(line, next);
        lay(f, next, 1);
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
    if (share < LEAST_SHARE || !is_free(f, seed, 0.98 * distance_for(f, share)) ||
        !is_owed(f, seed, reach_for(f, share), SHORTEST_TIPS * f->tip * f->tip))
        return;
    g_autoptr(GArray) back = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_autoptr(GArray) line = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    lay(f, seed, 1);
    follow(f, seed, -1, back);
    for (guint i = back->len; i-- > 0;)
        g_array_append_val(line, g_array_index(back, DtPoint, i));
    g_array_append_val(line, seed);
    follow(f, seed, 1, line);
    if (line->len * STEP_TIPS >= SHORTEST_TIPS)
        keep_line(f, line);
    else
        for (guint i = 0; i < line->len; i++)
            lay(f, g_array_index(line, DtPoint, i), -1);
}

static void free_array(gpointer a)
{
    g_array_free(a, TRUE);
}

static void place_lines(Flow *f)
{
    const double every = 2 * f->tip; /* a first seed where no line leads to */
    for (double y = 0; y < f->g->h * f->g->step && !dt_work_stopped(); y += every)
        for (double x = 0; x < f->g->w * f->g->step; x += every) {
            try_seed(f, dt_point(f->g->at.x + x, f->g->at.y + y));
            DtPoint *seed;
            while ((seed = g_queue_pop_head(f->seeds)) != NULL) {
                if (!dt_work_stopped())
                    try_seed(f, *seed);
                g_free(seed);
            }
        }
}

void dt_flow_lines(const DtShareGrid *g, const DtShareGrid *whole, double tip, double angle,
                   DtLines *out)
{
    if (g->w < 3 || g->h < 3)
        return;
    Flow f = {.g = g, .tip = tip, .angle = angle, .cell = 2 * tip, .out = out};
    f.cw = (int)(g->w * g->step / f.cell) + 1;
    f.ch = (int)(g->h * g->step / f.cell) + 1;
    f.cells = g_hash_table_new_full(NULL, NULL, NULL, free_array);
    f.seeds = g_queue_new();
    make_tensor(&f);
    dt_balance_init(&f.balance, whole, tip);
    for (size_t i = 0; i < G_N_ELEMENTS(rounds); i++) {
        f.round = rounds[i];
        place_lines(&f);
    }
    dt_balance_clear(&f.balance);
    g_queue_free(f.seeds);
    g_hash_table_unref(f.cells);
    g_free(f.xx);
    g_free(f.xy);
    g_free(f.yy);
}
