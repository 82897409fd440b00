/* look: compares the ink with the artwork, both blurred as the eye blurs them from a distance. */
#include "proof/private.h"

#include <math.h>
#include <string.h>

/* Standard deviations of the luminance blur on the paper, mm, from 40 cm and from 2 m (the narrow
 * Gaussian of S-CIELAB, Zhang and Wandell 1997). */
#define NEAR 0.14
#define FAR 0.70
/* Pixels per mm that are enough for the finer of the two, and the most pixels of a picture. They are
 * painted at twice that and averaged in linear light: cairo blends edges in sRGB. */
#define PX_PER_MM 5.0
#define MOST_PX 2e6
/* The blur is cut off at this many standard deviations. */
#define REACH 3.0
/* Where the artwork covers at least half and its colour on white is not white, it counts as
 * painted. */
#define PAINTED 128
#define WHITE 254

typedef struct {
    int w, h;
    double k;     /* pixels per mm */
    DtPoint from; /* upper left corner, bed mm */
    float *art;   /* linear light, three planes one after the other */
    float *ink;   /* the same at twice the pixels each way, before it is averaged */
    uint8_t *painted;
} Picture;

static size_t n_pixels(const Picture *p)
{
    return (size_t)p->w * (size_t)p->h;
}

/* In a fine picture, the first of the four pixels that make up pixel i. */
static size_t first_of_four(const Picture *p, size_t i)
{
    const size_t w = (size_t)p->w;
    return i / w * 4 * w + i % w * 2;
}

static cairo_t *new_canvas(const Picture *p, cairo_format_t format)
{
    cairo_surface_t *s = cairo_image_surface_create(format, 2 * p->w, 2 * p->h);
    cairo_matrix_t m;
    cairo_t *cr = cairo_create(s);
    cairo_surface_destroy(s);
    const double k = 2 * p->k;
    cairo_matrix_init(&m, k, 0, 0, -k, -p->from.x * k, p->from.y * k);
    cairo_set_matrix(cr, &m);
    return cr;
}

static const uint8_t *row_at(cairo_t *cr, size_t y)
{
    cairo_surface_t *s = cairo_get_target(cr);
    return cairo_image_surface_get_data(s) + y * (size_t)cairo_image_surface_get_stride(s);
}

/* One pixel of the canvas on white paper, its light added to `sum`; returns whether it is
 * painted. */
static gboolean add_art(uint32_t argb, const float *light, float *sum)
{
    const uint32_t alpha = argb >> 24;
    gboolean white = TRUE;
    for (int c = 0; c < 3; c++) {
        const uint32_t v = MIN(255, ((argb >> (16 - 8 * c)) & 255) + 255 - alpha);
        sum[c] += light[v] / 4;
        white &= v >= WHITE;
    }
    return alpha >= PAINTED && !white;
}

/* The artwork on white paper; returns how many of its pixels are painted. */
static size_t take_art(Picture *p, const DtDrawing *d)
{
    float light[256];
    for (int i = 0; i < 256; i++)
        light[i] = (float)dt_colour_linear(i / 255.0);
    cairo_t *cr = new_canvas(p, CAIRO_FORMAT_ARGB32);
    dt_art_paint(d, cr);
    cairo_surface_flush(cairo_get_target(cr));
    const size_t n = n_pixels(p), w = (size_t)p->w;
    size_t count = 0;
    for (size_t i = 0; i < n && cairo_status(cr) == CAIRO_STATUS_SUCCESS; i++) {
        float sum[3] = {0, 0, 0};
        int painted = 0;
        for (size_t k = 0; k < 4; k++) {
            const uint8_t *row = row_at(cr, i / w * 2 + k / 2);
            painted +=
                add_art(((const uint32_t *)(const void *)row)[i % w * 2 + k % 2], light, sum);
        }
        for (size_t c = 0; c < 3; c++)
            p->art[c * n + i] = sum[c];
        p->painted[i] = painted >= 2;
        count += p->painted[i];
    }
    cairo_destroy(cr);
    return count;
}

/* Segment by segment: where a line runs to and fro, cairo without antialiasing inks the gaps of about a pixel between
 * its parts. */
static void lay_line(cairo_t *cr, const DtLines *l, size_t i)
{
    const DtPoint *at = dt_lines_at(l, i);
    const size_t n = dt_lines_count(l, i);
    for (size_t k = 0; k + (l->closed[i] || n == 1 ? 0 : 1) < n; k++) {
        const DtPoint to = at[(k + 1) % n];
        cairo_move_to(cr, at[k].x, at[k].y);
        cairo_line_to(cr, to.x, to.y);
        cairo_stroke(cr);
    }
}

/* Multiplies by the transmission of one pen's ink. */
static void lay_pen(Picture *p, const DtProofTrace *t, const DtPen *pen, unsigned index)
{
    cairo_t *cr = new_canvas(p, CAIRO_FORMAT_A8);
    cairo_set_antialias(cr, CAIRO_ANTIALIAS_NONE); /* adjacent lines leave no seam */
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(cr, pen->tip);
    for (size_t i = 0; i < t->ink.n; i++)
        if (g_array_index(t->pen, uint16_t, i) == index)
            lay_line(cr, &t->ink, i);
    cairo_surface_flush(cairo_get_target(cr));
    const double light[3] = {dt_colour_linear(pen->colour.r), dt_colour_linear(pen->colour.g),
                             dt_colour_linear(pen->colour.b)};
    const size_t n = 4 * n_pixels(p), w = 2 * (size_t)p->w;
    for (size_t i = 0; i < n && cairo_status(cr) == CAIRO_STATUS_SUCCESS; i++) {
        const uint8_t a = row_at(cr, i / w)[i % w];
        for (size_t c = 0; c < 3 && a > 0; c++)
            p->ink[c * n + i] *= (float)(1 - a / 255.0 * (1 - light[c]));
    }
    cairo_destroy(cr);
}

/* Averages four pixels to one, in place. */
static void average_ink(Picture *p)
{
    const size_t n = n_pixels(p), w = 2 * (size_t)p->w;
    for (size_t c = 0; c < 3; c++)
        for (size_t i = 0; i < n; i++) {
            const float *from = p->ink + c * 4 * n + first_of_four(p, i);
            p->ink[c * n + i] = (from[0] + from[1] + from[w] + from[w + 1]) / 4;
        }
}

/* Blurs along rows into `out`, transposed, so that a second call does the columns. Beyond the
 * sheet is paper. */
static void blur_rows(const float *in, int w, int h, const float *kernel, int r, float *out)
{
    for (int y = 0; y < h; y++) {
        const float *row = in + (size_t)y * (size_t)w;
        for (int x = 0; x < w; x++) {
            float sum = 0;
            for (int i = -r; i <= r; i++)
                sum += kernel[i + r] * (x + i < 0 || x + i >= w ? 1 : row[x + i]);
            out[(size_t)x * (size_t)h + (size_t)y] = sum;
        }
    }
}

static float *blurred(const Picture *p, const float *planes, double sigma_mm)
{
    const double s = sigma_mm * p->k;
    const int r = (int)ceil(REACH * s);
    const size_t n = n_pixels(p);
    g_autofree float *kernel = g_new(float, 2 * (size_t)r + 1);
    g_autofree float *half = g_new(float, n);
    float *out = g_new(float, 3 * n), sum = 0;
    for (int i = -r; i <= r; i++)
        sum += kernel[i + r] = (float)exp(-i * i / (2 * s * s));
    for (int i = 0; i <= 2 * r; i++)
        kernel[i] /= sum;
    for (size_t c = 0; c < 3; c++) {
        blur_rows(planes + c * n, p->w, p->h, kernel, r, half);
        blur_rows(half, p->h, p->w, kernel, r, out + c * n);
    }
    return out;
}

/* Mean CIEDE2000 where the artwork is painted; *lightness is set to the mean difference of L*.
 * Every other pixel of every other row is compared. */
static double compare(const Picture *p, double sigma_mm, double *lightness)
{
    g_autofree float *art = blurred(p, p->art, sigma_mm);
    g_autofree float *ink = blurred(p, p->ink, sigma_mm);
    const size_t n = n_pixels(p);
    double sum = 0;
    size_t count = 0;
    *lightness = 0;
    for (int y = 0; y < p->h; y += 2)
        for (int x = y / 2 % 2; x < p->w; x += 2) {
            const size_t i = (size_t)y * (size_t)p->w + (size_t)x;
            if (!p->painted[i])
                continue;
            const DtLab a = dt_colour_lab_linear(art[i], art[n + i], art[2 * n + i]);
            const DtLab b = dt_colour_lab_linear(ink[i], ink[n + i], ink[2 * n + i]);
            sum += dt_colour_difference(a, b);
            *lightness += fabs(a.l - b.l);
            count++;
        }
    *lightness = count > 0 ? *lightness / (double)count : 0;
    return count > 0 ? sum / (double)count : 0;
}

/* The part of the sheet that the artwork and the ink occupy. */
static DtBox looked_at(const DtProofInput *in, const DtProofTrace *t)
{
    const DtProfile *p = in->profile;
    DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    DtBox box = dt_box_union(dt_art_box(in->drawing), t->box);
    return dt_box_intersect(dt_box_grow(box, 2 * FAR), sheet);
}

gboolean dt_proof_look(const DtProofInput *in, DtProofLook *out)
{
    *out = (DtProofLook){0, 0, 0};
    if (!in->drawing || (!in->moves && !in->sequence))
        return FALSE;
    DtProofTrace trace;
    dt_proof_trace(&trace, in);
    const DtBox box = looked_at(in, &trace);
    const double area = dt_box_is_empty(box) ? 0 : dt_box_width(box) * dt_box_height(box);
    gboolean good = area > 0;
    if (good) {
        Picture p = {.k = MIN(PX_PER_MM, sqrt(MOST_PX / area)), .from = {box.x0, box.y1}};
        p.w = (int)ceil(dt_box_width(box) * p.k);
        p.h = (int)ceil(dt_box_height(box) * p.k);
        const size_t n = n_pixels(&p);
        p.art = g_new0(float, 3 * n + 1);
        p.ink = g_new(float, 12 * n + 1);
        p.painted = g_malloc0(n + 1);
        for (size_t i = 0; i < 12 * n; i++)
            p.ink[i] = 1;
        good = take_art(&p, in->drawing) > 0;
        for (unsigned i = 0; i < in->profile->rack.n && good; i++)
            lay_pen(&p, &trace, &in->profile->rack.pens[i], i);
        average_ink(&p);
        double near_lightness;
        if (good) {
            out->near = compare(&p, NEAR, &near_lightness);
            out->far = compare(&p, FAR, &out->lightness);
        }
        g_free(p.art);
        g_free(p.ink);
        g_free(p.painted);
    }
    dt_proof_trace_clear(&trace);
    return good;
}
