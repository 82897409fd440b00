/* threshold: samples on a grid, and the contours between them cell by cell. */
#include "ink/paint/threshold.h"

#include <math.h>

/* Alpha from which on a paint that looks like the paper counts: nearly everything is hidden. */
#define COVERING 0.9
/* Most samples of the first pass, which is enough for most tones, and of the second. */
#define FIRST_SAMPLES 5000
#define MOST_SAMPLES 20000
/* Contours are simplified to this (mm): a straight one has a point in every cell. */
#define FINE 0.002
/* Halvings of a grid step, which is at most some millimetres. */
#define HALVINGS 13

typedef enum { BARE, PAPER, INK } Place;

typedef struct {
    DtView sight;
    DtPens *pens;
    DtBox box;
    int nx, ny;    /* cells */
    uint8_t *at;   /* Place, (nx + 1) * (ny + 1) */
    size_t n[3];   /* of each */
    DtColour sum;  /* of what is INK */
    GArray *asked; /* size_t: how often each pen was requested there */
} Grid;

static Place place_of(DtPens *pens, DtSeen seen)
{
    if (seen.pen >= 0)
        return INK;
    if (seen.colour.alpha < DT_PAINT_LAYER_SOLID)
        return BARE;
    if (!dt_pens_looks_like_paper(pens, seen.colour))
        return INK;
    return seen.colour.alpha < COVERING ? BARE : PAPER;
}

gboolean dt_threshold_hides(DtSeen seen, DtPens *pens)
{
    return place_of(pens, seen) != BARE;
}

static DtPoint grid_point(const Grid *g, int x, int y)
{
    return (DtPoint){g->box.x0 + (g->box.x1 - g->box.x0) * x / g->nx,
                     g->box.y0 + (g->box.y1 - g->box.y0) * y / g->ny};
}

static Place grid_place(const Grid *g, int x, int y)
{
    return g->at[(size_t)y * (size_t)(g->nx + 1) + (size_t)x];
}

static void count_sample(Grid *g, Place p, DtSeen seen)
{
    g->n[p]++;
    if (p != INK)
        return;
    DtColour c = seen.colour;
    g->sum = (DtColour){g->sum.r + c.r, g->sum.g + c.g, g->sum.b + c.b, 1};
    if (seen.pen >= 0) {
        if (g->asked->len <= (guint)seen.pen)
            g_array_set_size(g->asked, (guint)seen.pen + 1);
        g_array_index(g->asked, size_t, seen.pen)++;
    }
}

/* The pen requested in most of what is drawn. */
static int most_asked(const Grid *g)
{
    for (guint i = 0; i < g->asked->len; i++)
        if (2 * g_array_index(g->asked, size_t, i) > g->n[INK])
            return (int)i;
    return -1;
}

static void grid_sample(Grid *g, double finest, double most)
{
    double w = g->box.x1 - g->box.x0, h = g->box.y1 - g->box.y0;
    double step = MAX(finest, sqrt(w * h / most));
    step = MAX(step, MAX(w, h) / most);
    g->nx = MAX(1, (int)ceil(w / step));
    g->ny = MAX(1, (int)ceil(h / step));
    g->at = g_realloc(g->at, (size_t)(g->nx + 1) * (size_t)(g->ny + 1));
    g->n[BARE] = g->n[PAPER] = g->n[INK] = 0;
    g->sum = (DtColour){0, 0, 0, 0};
    g_array_set_size(g->asked, 0);
    uint8_t *at = g->at;
    for (int y = 0; y <= g->ny; y++)
        for (int x = 0; x <= g->nx; x++) {
            DtSeen seen = g->sight.at(grid_point(g, x, y), g->sight.user);
            Place p = place_of(g->pens, seen);
            *at++ = (uint8_t)p;
            count_sample(g, p, seen);
        }
}

static gboolean is_mixed(const Grid *g)
{
    return (g->n[BARE] > 0) + (g->n[PAPER] > 0) + (g->n[INK] > 0) > 1;
}

/* The point where the segment from a place that counts, with `least` or more, to one that does
 * not stops counting: the same for both cells that share the edge. */
static DtPoint crossing(const Grid *g, DtPoint in, DtPoint out, Place least)
{
    for (int i = 0; i < HALVINGS; i++) {
        DtPoint middle = dt_point_lerp(in, out, 0.5);
        if (place_of(g->pens, g->sight.at(middle, g->sight.user)) >= least)
            in = middle;
        else
            out = middle;
    }
    return in;
}

/* The part of a cell that counts, as a ring. */
static void cell_part(const Grid *g, int x, int y, Place least, DtLines *out)
{
    static const int dx[4] = {0, 1, 1, 0}, dy[4] = {0, 0, 1, 1};
    dt_lines_begin(out);
    for (int i = 0; i < 4; i++) {
        int k = (i + 1) % 4;
        DtPoint a = grid_point(g, x + dx[i], y + dy[i]), b = grid_point(g, x + dx[k], y + dy[k]);
        gboolean a_in = grid_place(g, x + dx[i], y + dy[i]) >= least;
        gboolean b_in = grid_place(g, x + dx[k], y + dy[k]) >= least;
        if (a_in)
            dt_lines_point(out, a);
        if (a_in != b_in)
            dt_lines_point(out, a_in ? crossing(g, a, b, least) : crossing(g, b, a, least));
    }
    dt_lines_close(out);
}

static int corners_in(const Grid *g, int x, int y, Place least)
{
    return (grid_place(g, x, y) >= least) + (grid_place(g, x + 1, y) >= least) +
           (grid_place(g, x, y + 1) >= least) + (grid_place(g, x + 1, y + 1) >= least);
}

/* Whole cells side by side, as one ring. */
static void whole_cells(const Grid *g, int from, int to, int y, DtLines *out)
{
    DtPoint p[4] = {grid_point(g, from, y), grid_point(g, to, y), grid_point(g, to, y + 1),
                    grid_point(g, from, y + 1)};
    dt_lines_append(out, p, 4, TRUE);
}

static gboolean trace_places(const Grid *g, Place least, DtLines *out, GError **error)
{
    g_auto(DtLines) cells;
    dt_lines_init(&cells);
    for (int y = 0; y < g->ny; y++) {
        int from = 0;
        for (int x = 0; x < g->nx; x++) {
            int in = corners_in(g, x, y, least);
            if (in == 4)
                continue;
            if (from < x)
                whole_cells(g, from, x, y, &cells);
            from = x + 1;
            if (in > 0)
                cell_part(g, x, y, least, &cells);
        }
        if (from < g->nx)
            whole_cells(g, from, g->nx, y, &cells);
    }
    g_auto(DtLines) region;
    dt_lines_init(&region);
    if (!dt_region_clean(&cells, DT_PLANE_NONZERO, &region, error))
        return FALSE;
    dt_region_simplify(&region, FINE, out);
    return TRUE;
}

/* Only ink, or only one of the others. */
static void take_uniform(const Grid *g, DtThreshold *out)
{
    DtPoint p[4] = {{g->box.x0, g->box.y0},
                    {g->box.x1, g->box.y0},
                    {g->box.x1, g->box.y1},
                    {g->box.x0, g->box.y1}};
    out->all = g->n[INK] > 0;
    if (g->n[PAPER] > 0)
        dt_lines_append(&out->covers, p, 4, TRUE);
}

gboolean dt_threshold_find(DtView sight, DtBox box, double finest, DtPens *pens, DtThreshold *out,
                           GError **error)
{
    *out = (DtThreshold){.all = FALSE};
    dt_lines_init(&out->ink);
    dt_lines_init(&out->covers);
    if (dt_box_is_empty(box))
        return TRUE;
    Grid g = {.sight = sight, .pens = pens, .box = box};
    g.asked = g_array_new(FALSE, TRUE, sizeof(size_t));
    grid_sample(&g, finest, FIRST_SAMPLES);
    gboolean good = TRUE;
    if (is_mixed(&g)) {
        grid_sample(&g, finest, MOST_SAMPLES);
        good =
            trace_places(&g, INK, &out->ink, error) && trace_places(&g, PAPER, &out->covers, error);
    } else {
        take_uniform(&g, out);
    }
    double n = (double)MAX(g.n[INK], (size_t)1);
    out->mean = (DtSeen){{g.sum.r / n, g.sum.g / n, g.sum.b / n, 1}, most_asked(&g)};
    g_array_free(g.asked, TRUE);
    g_free(g.at);
    return good;
}

void dt_threshold_clear(DtThreshold *p)
{
    dt_lines_clear(&p->ink);
    dt_lines_clear(&p->covers);
}
