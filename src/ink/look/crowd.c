/* crowd: what lines cover in the artwork and in ink, by direction, in the cells of a grid, and the pitch that makes the ink
 * cover as much as they do in the artwork where they crowd. */
#include "ink/look/crowd.h"

#include <math.h>
#include <string.h>

/* Lines crowd where those of about one direction cover more than this, a pitch of 1.8 tips, or those of all directions
 * more than the second; and from there on as far as they cover at least the third share of that. */
#define CROWD_FROM 0.55
#define CROWD_TOGETHER 0.85
#define CROWD_TO 0.65
/* At least this share of the ink is left where lines do not crowd but are next to those that do. */
#define LEAST_NEAR 0.5f
/* So that the tone has no step beside lines that do not crowd but cover at least this, as much as they cover remains
 * drawn, and less with the distance, down to none so many tips away. */
#define BESIDE_FROM 0.2
#define BESIDE_TIPS 25.0
/* Ink that exceeds the artwork's coverage by less than this factor stays. */
#define MUCH_MORE 1.3
/* Means are taken twice over a square of 2 * AROUND + 1 tips. */
enum { AROUND = 2, DIRECTIONS = 8, MOST_CELLS = 1000000 };
/* The widest pitch, tips. */
#define WIDEST_TIPS 12.0

/* Adds a sample's coverage, shared between the two directions that are nearest to its own. */
static void cover(DtCrowd *c, const DtCrowdSample *p, double mm, double width)
{
    const double way = p->angle / G_PI * DIRECTIONS, per = mm / (c->cell * c->cell);
    const int d = (int)floor(way);
    const size_t n = (size_t)c->w * (size_t)c->h, cell = dt_crowd_cell(c, p->at);
    for (int k = 0; k < 2; k++) {
        const double part = k ? way - d : 1 - (way - d);
        const size_t at = (size_t)((d + k) % DIRECTIONS) * n + cell;
        c->ink[at] += (float)(part * per * c->tip);
        c->art[at] += (float)(part * per * width);
    }
}

typedef float (*Combine)(const float *v, size_t stride, int n);

static float mean_of(const float *v, size_t stride, int n)
{
    float sum = 0;
    for (int i = 0; i < n; i++)
        sum += v[(size_t)i * stride];
    return sum / (2 * AROUND + 1);
}

static float most_of(const float *v, size_t stride, int n)
{
    float most = v[0];
    for (int i = 1; i < n; i++)
        most = MAX(most, v[(size_t)i * stride]);
    return most;
}

static float least_of(const float *v, size_t stride, int n)
{
    float least = v[0];
    for (int i = 1; i < n; i++)
        least = MIN(least, v[(size_t)i * stride]);
    return least;
}

/* Replaces each value by one of those up to AROUND cells away, rows first. */
static void combine(const DtCrowd *c, float *v, Combine how)
{
    const size_t w = (size_t)c->w;
    g_autofree float *old = g_new(float, w *(size_t)c->h);
    for (int across = 0; across < 2; across++) {
        memcpy(old, v, sizeof *old * w * (size_t)c->h);
        for (int y = 0; y < c->h; y++)
            for (int x = 0; x < c->w; x++) {
                const int at = across ? y : x, end = across ? c->h : c->w;
                const int from = MAX(at - AROUND, 0), to = MIN(at + AROUND, end - 1);
                const size_t first =
                    across ? (size_t)from * w + (size_t)x : (size_t)y * w + (size_t)from;
                v[(size_t)y * w + (size_t)x] = how(old + first, across ? w : 1, to - from + 1);
            }
    }
}

/* What lines that do not crowd cover around each cell, less with the distance, which is found in two passes (Rosenfeld and
 * Pfaltz 1966, with steps along rows and columns). */
static float *find_beside(const DtCrowd *c, const uint8_t *crowded)
{
    const size_t n = (size_t)c->w * (size_t)c->h, w = (size_t)c->w;
    const float less = (float)(CROWD_FROM * c->cell / (BESIDE_TIPS * c->tip));
    float *beside = g_new0(float, n);
    for (size_t i = 0; i < n; i++)
        if (!crowded[i] && c->all_ink[i] >= BESIDE_FROM)
            beside[i] = c->all_ink[i];
    for (size_t i = 0; i < n; i++)
        beside[i] =
            MAX(beside[i], MAX(i % w > 0 ? beside[i - 1] : 0, i >= w ? beside[i - w] : 0) - less);
    for (size_t i = n; i-- > 0;)
        beside[i] =
            MAX(beside[i],
                MAX(i % w + 1 < w ? beside[i + 1] : 0, i + w < n ? beside[i + w] : 0) - less);
    return beside;
}

/* What lines of about a direction cover around a cell. */
static double ink_along(const DtCrowd *c, int direction, size_t cell)
{
    const size_t n = (size_t)c->w * (size_t)c->h;
    double sum = 0;
    for (int k = direction + DIRECTIONS - 1; k <= direction + DIRECTIONS + 1; k++)
        sum += c->ink[(size_t)(k % DIRECTIONS) * n + cell];
    return sum;
}

/* The greatest share nearby that lines of one direction cover, or that of all if it is worth more, in places wider than a
 * few tips: two lines side by side are no crowd. Free with g_free(). */
static float *find_most(const DtCrowd *c)
{
    const size_t n = (size_t)c->w * (size_t)c->h;
    float *most = g_new(float, n);
    for (size_t i = 0; i < n; i++) {
        double own = c->all_ink[i] * CROWD_FROM / CROWD_TOGETHER;
        for (int d = 0; d < DIRECTIONS; d++)
            own = MAX(own, ink_along(c, d, i));
        most[i] = (float)own;
    }
    combine(c, most, least_of);
    for (int i = 0; i < 3; i++)
        combine(c, most, most_of);
    return most;
}

/* The cells in which lines crowd (2), and from there on as far as they are thinned out (1); free with g_free(). */
static uint8_t *find_crowded(const DtCrowd *c)
{
    const size_t n = (size_t)c->w * (size_t)c->h, w = (size_t)c->w;
    g_autofree float *most = find_most(c);
    uint8_t *crowded = g_new0(uint8_t, n);
    g_autoptr(GArray) front = g_array_new(FALSE, FALSE, sizeof(size_t));
    for (size_t i = 0; i < n; i++)
        if (most[i] > CROWD_FROM) {
            crowded[i] = 2;
            g_array_append_val(front, i);
        }
    while (front->len > 0) {
        const size_t i = g_array_index(front, size_t, front->len - 1);
        const size_t beside[4] = {i % w > 0 ? i - 1 : i, i % w + 1 < w ? i + 1 : i,
                                  i >= w ? i - w : i, i + w < n ? i + w : i};
        g_array_set_size(front, front->len - 1);
        for (int k = 0; k < 4; k++)
            if (!crowded[beside[k]] && most[beside[k]] >= CROWD_TO * CROWD_FROM) {
                crowded[beside[k]] = 1;
                g_array_append_val(front, beside[k]);
            }
    }
    return crowded;
}

/* The share of the ink that is left in each cell. */
static void find_left(DtCrowd *c)
{
    const size_t n = (size_t)c->w * (size_t)c->h;
    g_autofree uint8_t *crowded = find_crowded(c);
    g_autofree float *beside = find_beside(c, crowded);
    for (size_t i = 0; i < n; i++) {
        const float ink = c->all_ink[i], art = c->all_art[i];
        const float least = crowded[i] == 2 ? 0 : LEAST_NEAR;
        if (crowded[i] && ink > MUCH_MORE * art)
            c->left[i] = CLAMP(MAX(art, beside[i]) / ink, least, 1);
        else
            c->left[i] = 1;
    }
}

/* Means around each cell. Those by direction are the greatest nearby, so that the outermost lines of a group have the same
 * pitch as those inside. */
static void average(DtCrowd *c)
{
    const size_t n = (size_t)c->w * (size_t)c->h;
    for (int d = 0; d < DIRECTIONS; d++)
        for (size_t i = 0; i < n; i++) {
            c->all_ink[i] += c->ink[(size_t)d * n + i];
            c->all_art[i] += c->art[(size_t)d * n + i];
        }
    for (int twice = 0; twice < 2; twice++) {
        combine(c, c->all_ink, mean_of);
        combine(c, c->all_art, mean_of);
        for (int d = 0; d < DIRECTIONS; d++)
            combine(c, c->ink + (size_t)d * n, mean_of);
    }
    find_left(c);
    for (int d = 0; d < DIRECTIONS; d++)
        combine(c, c->ink + (size_t)d * n, most_of);
}

double dt_crowd_pitch(const DtCrowd *c, const DtCrowdSample *p)
{
    const size_t cell = dt_crowd_cell(c, p->at);
    const double share = c->left[cell];
    if (share >= 1)
        return 0;
    const double own = ink_along(c, (int)lround(p->angle / G_PI * DIRECTIONS), cell);
    return MIN(c->tip / MAX(own * share, 1e-9), WIDEST_TIPS * c->tip);
}

/* A grid over a pen's lines, of cells as wide as its tip, or wider on a very large sheet. */
void dt_crowd_init(DtCrowd *c, const DtLines *l)
{
    const DtBox box = dt_lines_box(l);
    const double w = dt_box_width(box), h = dt_box_height(box);
    c->origin = (DtPoint){box.x0, box.y0};
    c->cell = MAX(c->tip, sqrt(w * h / MOST_CELLS));
    c->cell = MAX(c->cell, MAX(w, h) / MOST_CELLS);
    c->w = (int)(w / c->cell) + 1;
    c->h = (int)(h / c->cell) + 1;
    const size_t n = (size_t)c->w * (size_t)c->h;
    c->art = g_new0(float, DIRECTIONS *n);
    c->ink = g_new0(float, DIRECTIONS *n);
    c->all_art = g_new0(float, n);
    c->all_ink = g_new0(float, n);
    c->left = g_new0(float, n);
    c->head = g_new(int, n);
    for (size_t i = 0; i < n; i++)
        c->head[i] = -1;
}

void dt_crowd_cover(DtCrowd *c)
{
    for (guint i = 0; i < c->stretches->len; i++) {
        const DtCrowdStretch *s = &g_array_index(c->stretches, DtCrowdStretch, i);
        for (size_t k = 0; k < s->n; k++)
            cover(c, dt_crowd_sample(c, s->first + k), s->step, s->width);
    }
    average(c);
}

void dt_crowd_clear(DtCrowd *c)
{
    g_free(c->art);
    g_free(c->ink);
    g_free(c->all_art);
    g_free(c->all_ink);
    g_free(c->left);
    g_free(c->head);
    g_array_free(c->stretches, TRUE);
    g_array_free(c->samples, TRUE);
}
