/* look: pictures of artwork and ink in linear light, blurred and compared. */
#include "support/look.h"

#include "drawtrue/base.h"
#include "ink/paint/colour-difference.h"
#include "support/pen-mask.h"

#include <cairo.h>
#include <gio/gio.h>
#include <librsvg/rsvg.h>
#include <math.h>
#include <string.h>

/* Blurs are cut off at so many standard deviations. */
#define REACH 3.0
/* Of edges, in CIELAB units per pixel: a step of 10 (5) units, blurred by LOOK_NEAR, reaches this at
 * 5 pixels per mm. */
#define STRONG 5.7
#define WEAK 2.9

static double linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static double encoded(double v)
{
    return v <= 0.0031308 ? v * 12.92 : 1.055 * pow(v, 1 / 2.4) - 0.055;
}

static LookPicture new_picture(int w, int h, double px_per_mm)
{
    const size_t n = (size_t)w * (size_t)h;
    return (LookPicture){w, h, px_per_mm, g_new(float, 3 * n), NULL};
}

void look_clear(LookPicture *p)
{
    g_free(p->rgb);
    g_free(p->painted);
    memset(p, 0, sizeof *p);
}

static cairo_surface_t *new_canvas(const WitnessSheet *s, cairo_format_t format, cairo_t **cr)
{
    const double k = s->px_per_mm;
    const int w = (int)ceil((s->sheet.x1 - s->sheet.x0) * k / 2) * 2;
    const int h = (int)ceil((s->sheet.y1 - s->sheet.y0) * k / 2) * 2;
    cairo_surface_t *surface = cairo_image_surface_create(format, w, h);
    cairo_matrix_t m;
    cairo_matrix_init(&m, k, 0, 0, -k, -s->sheet.x0 * k, s->sheet.y1 * k);
    *cr = cairo_create(surface);
    cairo_set_matrix(*cr, &m);
    return surface;
}

/* Artwork ---------------------------------------------------------------------------------------- */

/* Four pixels to one, laid on white. */
static void take_art(cairo_surface_t *surface, LookPicture *out)
{
    float light[256];
    for (int i = 0; i < 256; i++)
        light[i] = (float)linear(i / 255.0);
    const size_t n = (size_t)out->w * (size_t)out->h;
    const uint8_t *rows = cairo_image_surface_get_data(surface);
    const int stride = cairo_image_surface_get_stride(surface);
    for (int y = 0; y < out->h; y++)
        for (int x = 0; x < out->w; x++) {
            const size_t at = (size_t)y * (size_t)out->w + (size_t)x;
            float sum[3] = {0, 0, 0};
            int painted = 0;
            for (int k = 0; k < 4; k++) {
                const uint8_t *row = rows + (ptrdiff_t)(2 * y + k / 2) * stride;
                const uint32_t argb = ((const uint32_t *)(const void *)row)[2 * x + k % 2];
                const uint32_t a = argb >> 24, left = 255 - a;
                painted += witness_pixel_is_painted(argb);
                for (int c = 0; c < 3; c++)
                    sum[c] += light[MIN(255, ((argb >> (16 - 8 * c)) & 255) + left)] / 4;
            }
            out->painted[at] = painted >= 2;
            for (int c = 0; c < 3; c++)
                out->rgb[(size_t)c * n + at] = sum[c];
        }
}

gboolean look_of_art(const char *svg, const WitnessSheet *sheet, LookPicture *out, GError **error)
{
    cairo_t *cr;
    cairo_surface_t *surface = new_canvas(sheet, CAIRO_FORMAT_ARGB32, &cr);
    const gboolean ok = witness_paint_svg(svg, sheet, cr, error);
    cairo_destroy(cr);
    if (ok) {
        cairo_surface_flush(surface);
        *out = new_picture(cairo_image_surface_get_width(surface) / 2,
                           cairo_image_surface_get_height(surface) / 2, sheet->px_per_mm / 2);
        out->painted = g_malloc((size_t)out->w * (size_t)out->h);
        take_art(surface, out);
    }
    cairo_surface_destroy(surface);
    return ok;
}

/* Ink -------------------------------------------------------------------------------------------- */

/* Multiplies by what a pen's ink lets through. */
static void lay_ink(cairo_surface_t *mask, const double *rgb, LookPicture *out)
{
    const size_t n = (size_t)out->w * (size_t)out->h;
    float ink[3];
    for (int c = 0; c < 3; c++)
        ink[c] = (float)linear(rgb[c]);
    cairo_surface_flush(mask);
    const uint8_t *rows = cairo_image_surface_get_data(mask);
    const int stride = cairo_image_surface_get_stride(mask);
    for (int y = 0; y < 2 * out->h; y++)
        for (int x = 0; x < 2 * out->w; x++) {
            const uint8_t a = rows[(ptrdiff_t)y * stride + x];
            if (a == 0)
                continue;
            const size_t at = (size_t)y * 2 * (size_t)out->w + (size_t)x;
            for (int c = 0; c < 3; c++)
                out->rgb[(size_t)c * 4 * n + at] *= 1 - (float)a / 255 * (1 - ink[c]);
        }
}

static void halve(const float *full, int w, int h, float *out)
{
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const float *p = full + (size_t)(2 * y) * 2 * (size_t)w + 2 * (size_t)x;
            out[(size_t)y * (size_t)w + (size_t)x] = (p[0] + p[1] + p[2 * w] + p[2 * w + 1]) / 4;
        }
}

void look_of_ink(const WitnessInk *ink, const LookPen *pens, size_t n_pens,
                 const WitnessSheet *sheet, LookPicture *out)
{
    float *full = NULL;
    size_t n = 0;
    for (size_t p = 0; p < n_pens; p++) {
        cairo_t *cr;
        cairo_surface_t *mask = new_canvas(sheet, CAIRO_FORMAT_A8, &cr);
        if (p == 0) {
            *out = new_picture(cairo_image_surface_get_width(mask) / 2,
                               cairo_image_surface_get_height(mask) / 2, sheet->px_per_mm / 2);
            n = (size_t)out->w * (size_t)out->h;
            full = g_new(float, 12 * n);
            for (size_t i = 0; i < 12 * n; i++)
                full[i] = 1;
        }
        cairo_set_antialias(cr, CAIRO_ANTIALIAS_NONE); /* lines side by side leave no seam */
        witness_stroke_pen(cr, ink, (unsigned)p, pens[p].tip);
        cairo_destroy(cr);
        LookPicture fine = {out->w, out->h, 0, full, NULL};
        lay_ink(mask, pens[p].rgb, &fine);
        cairo_surface_destroy(mask);
    }
    for (size_t c = 0; c < 3 && full; c++)
        halve(full + c * 4 * n, out->w, out->h, out->rgb + c * n);
    g_free(full);
}

/* Looking ---------------------------------------------------------------------------------------- */

/* Along rows into `out`, turned over its diagonal, so that a second call does the columns. Beyond the
 * sheet is paper. */
static void blur_rows(const float *in, int w, int h, const float *k, int r, float *out)
{
    for (int y = 0; y < h; y++) {
        const float *row = in + (size_t)y * (size_t)w;
        for (int x = 0; x < w; x++) {
            float sum = 0;
            for (int i = -r; i <= r; i++)
                sum += k[i + r] * (x + i < 0 || x + i >= w ? 1 : row[x + i]);
            out[(size_t)x * (size_t)h + (size_t)y] = sum;
        }
    }
}

void look_blur(const LookPicture *p, double sigma_mm, LookPicture *out)
{
    *out = new_picture(p->w, p->h, p->px_per_mm);
    const double s = sigma_mm * p->px_per_mm;
    const int r = (int)ceil(REACH * s);
    const size_t n = (size_t)p->w * (size_t)p->h;
    g_autofree float *k = g_new(float, 2 * (size_t)r + 1);
    g_autofree float *half = g_new(float, n);
    float sum = 0;
    for (int i = -r; i <= r; i++)
        sum += k[i + r] = (float)exp(-i * i / (2 * s * s));
    for (int i = 0; i <= 2 * r; i++)
        k[i] /= sum;
    for (size_t c = 0; c < 3; c++) {
        blur_rows(p->rgb + c * n, p->w, p->h, k, r, half);
        blur_rows(half, p->h, p->w, k, r, out->rgb + c * n);
    }
}

static DtLab lab_at(const LookPicture *p, size_t i)
{
    const size_t n = (size_t)p->w * (size_t)p->h;
    return dt_colour_lab_linear(p->rgb[i], p->rgb[n + i], p->rgb[2 * n + i]);
}

LookFigures look_compare(const LookPicture *art, const LookPicture *ink, const uint8_t *painted)
{
    LookFigures f = {0, 0, 0};
    /* Every other pixel of every other row: 0.4 mm apart, half a blur from afar. */
    for (int y = 0; y < art->h; y += 2)
        for (int x = y / 2 % 2; x < art->w; x += 2) {
            const size_t i = (size_t)y * (size_t)art->w + (size_t)x;
            if (painted && !painted[i])
                continue;
            const DtLab a = lab_at(art, i), b = lab_at(ink, i);
            f.difference += dt_colour_difference(a, b);
            f.lightness += fabs(a.l - b.l);
            f.n++;
        }
    if (f.n > 0) {
        f.difference /= (double)f.n;
        f.lightness /= (double)f.n;
    }
    return f;
}

/* Ideal ------------------------------------------------------------------------------------------ */

/* Coverages of a pen that are tried. */
enum { SHARES = 32 };

typedef struct {
    double light[3];
    DtLab lab;
} IdealColour;

static GArray *ideal_colours(const LookPen *pens, size_t n_pens)
{
    GArray *table = g_array_new(FALSE, FALSE, sizeof(IdealColour));
    for (size_t p = 0; p < n_pens; p++)
        for (int k = 0; k <= SHARES; k++) {
            IdealColour c;
            for (int i = 0; i < 3; i++)
                c.light[i] = 1 - (double)k / SHARES * (1 - linear(pens[p].rgb[i]));
            c.lab = dt_colour_lab_linear(c.light[0], c.light[1], c.light[2]);
            g_array_append_val(table, c);
        }
    return table;
}

/* The nearest colour's index, kept by the rounded coordinates of what is looked for. */
static guint nearest(GHashTable *known, DtLab lab, const GArray *table)
{
    const gint64 key =
        ((gint64)lround(2 * lab.l) * 2048 + (gint64)lround(2 * lab.a + 1024)) * 2048 +
        (gint64)lround(2 * lab.b + 1024);
    gpointer found;
    if (g_hash_table_lookup_extended(known, &key, NULL, &found))
        return GPOINTER_TO_UINT(found);
    guint best = 0;
    double least = G_MAXDOUBLE;
    for (guint i = 0; i < table->len; i++) {
        const double d = dt_colour_difference(lab, g_array_index(table, IdealColour, i).lab);
        if (d < least) {
            least = d;
            best = i;
        }
    }
    g_hash_table_insert(known, g_memdup2(&key, sizeof key), GUINT_TO_POINTER(best));
    return best;
}

void look_of_ideal(const LookPicture *art, const LookPen *pens, size_t n_pens, LookPicture *out)
{
    g_autoptr(GHashTable) known = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, NULL);
    g_autoptr(GArray) table = ideal_colours(pens, n_pens);
    const size_t n = (size_t)art->w * (size_t)art->h;
    *out = new_picture(art->w, art->h, art->px_per_mm);
    for (size_t i = 0; i < n; i++) {
        const guint best = nearest(known, lab_at(art, i), table);
        for (size_t c = 0; c < 3; c++)
            out->rgb[c * n + i] = (float)g_array_index(table, IdealColour, best).light[c];
    }
}

/* Edges ------------------------------------------------------------------------------------------ */

typedef struct {
    float size, dx, dy; /* of the strongest change, and its direction */
} Slope;

static Slope slope_at(const DtLab *across, const DtLab *down)
{
    const double gx[3] = {across[1].l - across[0].l, across[1].a - across[0].a,
                          across[1].b - across[0].b};
    const double gy[3] = {down[1].l - down[0].l, down[1].a - down[0].a, down[1].b - down[0].b};
    double xx = 0, yy = 0, xy = 0;
    for (int i = 0; i < 3; i++) {
        xx += gx[i] * gx[i] / 4;
        yy += gy[i] * gy[i] / 4;
        xy += gx[i] * gy[i] / 4;
    }
    const double angle = atan2(2 * xy, xx - yy) / 2;
    const double size = (xx + yy + sqrt((xx - yy) * (xx - yy) + 4 * xy * xy)) / 2;
    return (Slope){(float)sqrt(MAX(size, 0)), (float)cos(angle), (float)sin(angle)};
}

static Slope *all_slopes(const LookPicture *p)
{
    const size_t n = (size_t)p->w * (size_t)p->h, w = (size_t)p->w;
    DtLab *lab = g_new(DtLab, n);
    Slope *s = g_new0(Slope, n);
    for (size_t i = 0; i < n; i++)
        lab[i] = lab_at(p, i);
    for (int y = 1; y + 1 < p->h; y++)
        for (int x = 1; x + 1 < p->w; x++) {
            const size_t i = (size_t)y * w + (size_t)x;
            DtLab across[2] = {lab[i - 1], lab[i + 1]}, down[2] = {lab[i - w], lab[i + w]};
            s[i] = slope_at(across, down);
        }
    g_free(lab);
    return s;
}

/* Keeps what is steepest along its own direction: 1 weak, 2 strong. */
static void thin_edges(const Slope *s, int w, int h, uint8_t *edge)
{
    for (int y = 1; y + 1 < h; y++)
        for (int x = 1; x + 1 < w; x++) {
            const ptrdiff_t i = (ptrdiff_t)y * w + x;
            if (s[i].size < (float)WEAK)
                continue;
            const int dx = (int)lround(s[i].dx), dy = (int)lround(s[i].dy);
            const ptrdiff_t step = (ptrdiff_t)dy * w + dx;
            if (s[i].size >= s[i - step].size && s[i].size > s[i + step].size)
                edge[i] = s[i].size >= (float)STRONG ? 2 : 1;
        }
}

/* Weak edges stay where they hang together with strong ones. */
static void link_edges(uint8_t *edge, int w, int h)
{
    g_autoptr(GArray) todo = g_array_new(FALSE, FALSE, sizeof(size_t));
    for (size_t i = 0; i < (size_t)w * (size_t)h; i++)
        if (edge[i] == 2)
            g_array_append_val(todo, i);
    while (todo->len > 0) {
        const size_t i = g_array_index(todo, size_t, todo->len - 1);
        g_array_set_size(todo, todo->len - 1);
        for (int k = 0; k < 9; k++) {
            const size_t j = i + (size_t)(k / 3) * (size_t)w - (size_t)w + (size_t)(k % 3) - 1;
            if (edge[j] == 1) { /* a border pixel is never an edge */
                edge[j] = 2;
                g_array_append_val(todo, j);
            }
        }
    }
    for (size_t i = 0; i < (size_t)w * (size_t)h; i++)
        edge[i] = edge[i] == 2;
}

uint8_t *look_edges(const LookPicture *p)
{
    uint8_t *edge = g_malloc0((size_t)p->w * (size_t)p->h);
    Slope *s = all_slopes(p);
    thin_edges(s, p->w, p->h, edge);
    link_edges(edge, p->w, p->h);
    g_free(s);
    return edge;
}

double look_edges_kept(const uint8_t *art, const uint8_t *ink, const LookPicture *size,
                       double reach)
{
    const size_t n = (size_t)size->w * (size_t)size->h;
    g_autofree float *far = g_new(float, n);
    pen_mask_squared_distance(ink, 1, size->w, size->h, far);
    const double most = reach * size->px_per_mm + PEN_MASK_RASTER;
    size_t all = 0, kept = 0;
    for (size_t i = 0; i < n; i++)
        if (art[i]) {
            all++;
            kept += far[i] <= most * most;
        }
    return all > 0 ? (double)kept / (double)all : 1;
}

/* For people ------------------------------------------------------------------------------------- */

gboolean look_write_png(const LookPicture *const *p, size_t n, const char *path)
{
    const int gap = 8, w = (int)n * (p[0]->w + gap) - gap, h = p[0]->h;
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, w, h);
    uint8_t *rows = cairo_image_surface_get_data(s);
    const int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const size_t k = (size_t)(x / (p[0]->w + gap));
            const int in = x % (p[0]->w + gap);
            uint32_t rgb = 0x8080c0;
            if (in < p[0]->w) {
                const size_t at = (size_t)y * (size_t)p[k]->w + (size_t)in,
                             all = (size_t)p[k]->w * (size_t)h;
                rgb = 0;
                for (size_t c = 0; c < 3; c++)
                    rgb = rgb << 8 |
                          (uint32_t)lround(255 * CLAMP(encoded(p[k]->rgb[c * all + at]), 0, 1));
            }
            ((uint32_t *)(void *)(rows + (ptrdiff_t)y * stride))[x] = rgb;
        }
    cairo_surface_mark_dirty(s);
    const cairo_status_t status = cairo_surface_write_to_png(s, path);
    cairo_surface_destroy(s);
    return status == CAIRO_STATUS_SUCCESS;
}
