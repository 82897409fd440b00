/* texture-means: the mean colours of textures take the place of their parts. */
#include "ink/look/texture.h"

#include "drawtrue/work.h"
#include "ink/look/distances.h"
#include "ink/look/edge-rows.h"

#include <math.h>

/* Means are of cells of so many places a side, and of those up to AROUND away, twice. */
enum { CELL = 4, AROUND = 2, FAR_AROUND = 8 };
/* Where the lightness of the means differs by more than this (L*) from that far around, on average over a piece, it shows
 * shapes: their lines are drawn. */
#define SHAPES_FROM 4.5

/* Area --------------------------------------------------------------------------------------- */

/* A run of places in one row, and the row where equal ones began. */
typedef struct {
    int x0, x1, since;
} Run;

static void add_box(const DtTexture *t, const Run *r, int row, DtLines *out)
{
    const double x0 = t->box.x0 + r->x0 * t->step, x1 = t->box.x0 + r->x1 * t->step,
                 y0 = t->box.y0 + r->since * t->step, y1 = t->box.y0 + row * t->step;
    const DtPoint p[4] = {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}};
    dt_lines_append(out, p, 4, TRUE);
}

static void find_runs(const DtTexture *t, int row, GArray *runs)
{
    g_array_set_size(runs, 0);
    const uint8_t *in = t->in + (size_t)row * (size_t)t->w;
    for (int x = 0; x < t->w; x++) {
        if (!in[x])
            continue;
        Run r = {x, x, row};
        while (r.x1 < t->w && in[r.x1])
            r.x1++;
        x = r.x1;
        g_array_append_val(runs, r);
    }
}

/* Boxes of equal runs, one above the other. */
static void add_boxes(const DtTexture *t, DtLines *out)
{
    g_autoptr(GArray) before = g_array_new(FALSE, FALSE, sizeof(Run));
    g_autoptr(GArray) here = g_array_new(FALSE, FALSE, sizeof(Run));
    for (int row = 0; row <= t->h; row++) {
        if (row < t->h)
            find_runs(t, row, here);
        else
            g_array_set_size(here, 0);
        for (guint i = 0, k = 0; i < before->len; i++) {
            const Run *r = &g_array_index(before, Run, i);
            while (k < here->len && g_array_index(here, Run, k).x0 < r->x0)
                k++;
            Run *same = k < here->len ? &g_array_index(here, Run, k) : NULL;
            if (same && same->x0 == r->x0 && same->x1 == r->x1)
                same->since = r->since;
            else
                add_box(t, r, row, out);
        }
        GArray *swap = before;
        before = here;
        here = swap;
    }
}

gboolean dt_texture_region(const DtTexture *t, DtLines *out, GError **error)
{
    g_auto(DtLines) boxes, stairs, plain;
    dt_lines_init(&boxes);
    dt_lines_init(&stairs);
    dt_lines_init(&plain);
    add_boxes(t, &boxes);
    if (!dt_region_clean(&boxes, DT_PLANE_NONZERO, &stairs, error))
        return FALSE;
    dt_region_simplify(&stairs, 0.75 * t->step, &plain);
    return dt_region_clean(&plain, DT_PLANE_POSITIVE, out, error);
}

/* Colours ------------------------------------------------------------------------------------ */

typedef struct {
    const DtTexture *t;
    int w, h;
    double bare[3]; /* linear light of the paper */
    float *sum;     /* of each cell: linear light times area, and the area; 4 * w * h */
} Sum;

static void light_of(DtColour c, double *light)
{
    light[0] = dt_colour_linear(c.r);
    light[1] = dt_colour_linear(c.g);
    light[2] = dt_colour_linear(c.b);
}

/* Adds a paint from a to b, places along a row, less the paper that was counted before. */
static void add_span(const Sum *s, int row, double a, double b, int paint)
{
    const DtTexture *t = s->t;
    const DtSeenPaint *p = dt_compose_paint(t->c, paint);
    const uint8_t *in = t->in + (size_t)row * (size_t)t->w;
    double light[3];
    light_of(p->colour, light);
    int known = -1;
    for (int x = (int)a; x < b; x++) {
        if (!in[x])
            continue;
        if (p->tone >= 0 && x / CELL != known) {
            known = x / CELL;
            const DtPoint at = {t->box.x0 + (known + 0.5) * CELL * t->step,
                                t->box.y0 + (row + 0.5) * t->step};
            const DtColour seen = dt_paint_layers_seen_at(t->c->t->layers, p->tone, at).colour;
            light_of(dt_colour_over(seen, t->c->t->o->paper), light);
        }
        float *sum = s->sum + 4 * ((size_t)(row / CELL) * (size_t)s->w + (size_t)(x / CELL));
        const double part = MIN(b, x + 1) - MAX(a, x);
        for (int k = 0; k < 3; k++)
            sum[k] += (float)(part * (light[k] - s->bare[k]));
    }
}

static void add_row(int row, const DtScanChange *changes, size_t n, void *user)
{
    const Sum *s = user;
    const DtTexture *t = s->t;
    for (size_t i = 0; i + 1 < n; i++)
        if (changes[i].beyond >= 0)
            add_span(s, row, MAX((changes[i].at - t->box.x0) / t->step, 0),
                     MIN((changes[i + 1].at - t->box.x0) / t->step, t->w), changes[i].beyond);
}

static void add_paper(const Sum *s)
{
    const DtTexture *t = s->t;
    for (int y = 0; y < t->h; y++)
        for (int x = 0; x < t->w; x++) {
            float *sum = s->sum + 4 * ((size_t)(y / CELL) * (size_t)s->w + (size_t)(x / CELL));
            if (!t->in[(size_t)y * (size_t)t->w + (size_t)x])
                continue;
            for (int k = 0; k < 3; k++)
                sum[k] += (float)s->bare[k];
            sum[3]++;
        }
}

/* Sums of each cell and those around it, along rows or columns. */
static void spread(const Sum *s, int around, gboolean upright)
{
    const int n = upright ? s->h : s->w, lines = upright ? s->w : s->h;
    const size_t stride = 4 * (upright ? (size_t)s->w : 1);
    g_autofree float *old = g_new(float, 4 * (size_t)n);
    for (int l = 0; l < lines; l++) {
        float *v = s->sum + 4 * (upright ? (size_t)l : (size_t)l * (size_t)s->w);
        for (int i = 0; i < n; i++)
            for (int k = 0; k < 4; k++)
                old[4 * i + k] = v[(size_t)i * stride + (size_t)k];
        for (int i = 0; i < n; i++)
            for (int k = 0; k < 4; k++)
                for (int d = -around; d <= around; d++)
                    if (d != 0 && i + d >= 0 && i + d < n)
                        v[(size_t)i * stride + (size_t)k] += old[4 * (i + d) + k];
    }
}

static void divide(const Sum *s, DtMeans *m)
{
    double all[4] = {0, 0, 0, 0};
    const size_t n = (size_t)s->w * (size_t)s->h;
    for (size_t i = 0; i < n; i++)
        for (int k = 0; k < 4; k++)
            all[k] += (double)s->sum[4 * i + (size_t)k];
    for (size_t i = 0; i < n; i++) {
        const float *sum = s->sum + 4 * i;
        for (size_t k = 0; k < 3; k++) {
            const double light = sum[3] > 0 ? (double)(sum[k] / sum[3]) : all[k] / all[3];
            m->rgb[3 * i + k] = (float)dt_colour_encoded(CLAMP(light, 0, 1));
        }
    }
    m->overall = (DtColour){dt_colour_encoded(CLAMP(all[0] / all[3], 0, 1)),
                            dt_colour_encoded(CLAMP(all[1] / all[3], 0, 1)),
                            dt_colour_encoded(CLAMP(all[2] / all[3], 0, 1)), 1};
}

/* L* of each cell. */
static float *lightness(const Sum *s)
{
    const size_t n = (size_t)s->w * (size_t)s->h;
    float *out = g_new0(float, n);
    for (size_t i = 0; i < n; i++) {
        const float *sum = s->sum + 4 * i;
        if (sum[3] > 0)
            out[i] =
                (float)dt_colour_lab_linear((double)(sum[0] / sum[3]), (double)(sum[1] / sum[3]),
                                            (double)(sum[2] / sum[3]))
                    .l;
    }
    return out;
}

/* Leaves out the pieces whose means show shapes. */
static void drop_shapes(DtTexture *t, const Sum *s, const float *near, const float *far)
{
    const size_t n = (size_t)t->w * (size_t)t->h;
    g_autofree uint8_t *left = g_memdup2(t->in, n);
    g_autoptr(GArray) piece = g_array_new(FALSE, FALSE, sizeof(size_t));
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        double sum = 0;
        if (!left[i])
            continue;
        dt_raster_take_piece(left, t->w, t->h, i, piece);
        for (guint k = 0; k < piece->len; k++) {
            const size_t at = g_array_index(piece, size_t, k),
                         cell = at / (size_t)t->w / CELL * (size_t)s->w + at % (size_t)t->w / CELL;
            sum += fabs((double)(near[cell] - far[cell]));
        }
        if (sum > SHAPES_FROM * piece->len)
            for (guint k = 0; k < piece->len; k++)
                t->in[g_array_index(piece, size_t, k)] = 0;
    }
}

DtMeans *dt_texture_means(DtTexture *t)
{
    Sum s = {.t = t, .w = (t->w + CELL - 1) / CELL, .h = (t->h + CELL - 1) / CELL};
    const size_t n = (size_t)s.w * (size_t)s.h;
    s.sum = g_new0(float, 4 * n);
    light_of(t->c->t->o->paper, s.bare);
    add_paper(&s);
    const DtScan scan = {t->c->regions, t->box, t->step, t->tip, FALSE};
    dt_scan_rows(&scan, add_row, &s);
    for (int i = 0; i < 4; i++)
        spread(&s, AROUND, i % 2);
    DtMeans *m = g_new0(DtMeans, 1);
    const double step = CELL * t->step;
    *m = (DtMeans){.w = s.w,
                   .h = s.h,
                   .at = {t->box.x0 + step / 2, t->box.y0 + step / 2},
                   .step = step,
                   .rgb = g_new(float, 3 * n)};
    divide(&s, m);
    g_autofree float *near = lightness(&s);
    for (int i = 0; i < 4; i++)
        spread(&s, FAR_AROUND, i % 2);
    g_autofree float *far = lightness(&s);
    drop_shapes(t, &s, near, far);
    g_free(s.sum);
    return m;
}

/* In their place ------------------------------------------------------------------------------ */

static gboolean take_out(DtLines *l, const DtLines *other, GError **error)
{
    DtLines rest;
    dt_lines_init(&rest);
    const gboolean good = dt_region_subtract(l, DT_PLANE_NONZERO, other, &rest, error);
    dt_lines_clear(l);
    *l = rest;
    return good;
}

/* How many places of the texture are below and to the left of each corner: (w + 1) * (h + 1) (Crow 1984). */
static guint32 *count_places(const DtTexture *t)
{
    const size_t w = (size_t)t->w + 1;
    guint32 *n = g_new0(guint32, w * ((size_t)t->h + 1));
    for (int y = 0; y < t->h; y++) {
        guint32 row = 0;
        for (int x = 0; x < t->w; x++) {
            const size_t at = (size_t)(y + 1) * w + (size_t)x + 1;
            row += t->in[(size_t)y * (size_t)t->w + (size_t)x];
            n[at] = n[at - w] + row;
        }
    }
    return n;
}

/* Whether everything in a box is inside the texture, even if its edge is a place off. */
static gboolean is_inside(const DtTexture *t, const guint32 *n, DtBox b)
{
    const int x0 = (int)floor((b.x0 - t->box.x0) / t->step) - 2,
              x1 = (int)floor((b.x1 - t->box.x0) / t->step) + 3,
              y0 = (int)floor((b.y0 - t->box.y0) / t->step) - 2,
              y1 = (int)floor((b.y1 - t->box.y0) / t->step) + 3;
    if (x0 < 0 || y0 < 0 || x1 > t->w || y1 > t->h)
        return FALSE;
    const size_t w = (size_t)t->w + 1, a = (size_t)y0 * w, z = (size_t)y1 * w;
    return n[z + (size_t)x1] - n[z + (size_t)x0] - n[a + (size_t)x1] + n[a + (size_t)x0] ==
           (guint32)((x1 - x0) * (y1 - y0));
}

/* Most rings are so small that nothing of them is left: those are dropped first. */
static void drop_inside(const DtTexture *t, const guint32 *n, DtLines *l)
{
    DtLines rest;
    dt_lines_init(&rest);
    for (size_t i = 0; i < l->n; i++) {
        DtBox b = DT_BOX_EMPTY;
        for (size_t k = 0; k < dt_lines_count(l, i); k++)
            b = dt_box_add_point(b, dt_lines_at(l, i)[k]);
        if (!is_inside(t, n, b))
            dt_lines_append(&rest, dt_lines_at(l, i), dt_lines_count(l, i), TRUE);
    }
    dt_lines_clear(l);
    *l = rest;
}

static gboolean overlap(const DtLines *a, const DtLines *b)
{
    return !dt_box_is_empty(dt_box_intersect(dt_lines_box(a), dt_lines_box(b)));
}

/* What the user gave a pen stays as it is. */
static gboolean keep_asked(const DtCompose *c, DtLines *area, GError **error)
{
    for (guint i = 0; i < c->regions->len; i++) {
        const DtLines *l = &g_array_index(c->regions, DtLines, i);
        if (dt_compose_paint(c, (int)i)->asked >= 0 && overlap(l, area) &&
            !take_out(area, l, error))
            return FALSE;
    }
    return TRUE;
}

static gboolean take_parts_out(DtCompose *c, const DtTexture *t, const DtLines *area,
                               GError **error)
{
    g_autofree guint32 *places = count_places(t);
    for (guint i = 0; i < c->regions->len; i++) {
        DtLines *l = &g_array_index(c->regions, DtLines, i);
        DtSeenPaint *p = dt_compose_paint(c, (int)i);
        if (p->asked >= 0 || !overlap(l, area))
            continue;
        drop_inside(t, places, l);
        if (!dt_work_check(error) || !take_out(l, area, error))
            return FALSE;
        p->labels = 1; /* it is clean */
    }
    return TRUE;
}

static gboolean average(DtCompose *c, DtTexture *texture, GError **error)
{
    DtTrace *t = c->t;
    g_auto(DtLines) area;
    dt_lines_init(&area);
    t->means = dt_texture_means(texture);
    if (!dt_texture_region(texture, &area, error) || !keep_asked(c, &area, error))
        return FALSE;
    if (area.n == 0)
        return TRUE;
    t->texture_mm2 = dt_region_area(&area);
    const DtPaintLayer layer = {.colour = t->means->overall,
                                .means = t->means,
                                .opaque = TRUE,
                                .pen = -1,
                                .group = -1,
                                .opacity = 1,
                                .ink = -1};
    if (!take_parts_out(c, texture, &area, error))
        return FALSE;
    dt_compose_add_tone(c, dt_paint_layers_label(t->layers, &layer), &area);
    dt_compose_paint(c, (int)c->paints->len - 1)->texture = TRUE;
    return dt_work_check(error);
}

gboolean dt_compose_average_textures(DtCompose *c, GError **error)
{
    if (c->t->only_thin)
        return TRUE;
    DtTexture texture;
    const gboolean found = dt_texture_find(c, &texture);
    const gboolean good = dt_work_check(error) && (!found || average(c, &texture, error));
    dt_texture_clear(&texture);
    return good;
}
