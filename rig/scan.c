/* scan: what a flat-bed scanner would see of the sheet: the ink that landed, in lines of uneven width,
 * on paper in which light spreads, under a lamp that is not quite even, by a carriage that does not run
 * quite evenly, through a lens that blurs.
 *
 * The sheet lies turned on the glass. A point of the glass, mm from its upper left corner, is seen at
 *     x' = scale_x (x + skew y + waviness of the carriage across), y' = scale_y (y + waviness along)
 * and then in pixels by the resolution. */
#include "inside.h"

#include <cairo.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <jpeglib.h>
#include <setjmp.h>

static const double mm_per_inch = 25.4;
static const double piece_mm = 0.15; /* of a line, of one width */

typedef struct {
    const RigScan *s;
    double cosine, sine;
    double w, h; /* of what is scanned, mm on the glass */
    double px;   /* pixels a mm */
} Glass;

static Glass make_glass(const RigScan *s)
{
    const double angle = (s->turn * 90 + s->rotation) * (G_PI / 180);
    Glass g = {.s = s, .cosine = cos(angle), .sine = sin(angle), .px = s->dpi / mm_per_inch};
    g.w = fabs(s->sheet[0] * g.cosine) + fabs(s->sheet[1] * g.sine) + 2 * s->border;
    g.h = fabs(s->sheet[0] * g.sine) + fabs(s->sheet[1] * g.cosine) + 2 * s->border;
    return g;
}

/* From mm on the glass to pixels. */
static void see_glass(const Glass *g, double x, double y, double *px, double *py)
{
    const RigScan *s = g->s;
    const double turn = 2 * G_PI * y / s->wave_length;
    *px = s->scale[0] * (x + s->skew * (G_PI / 180) * y + s->wave / 2 * sin(turn)) * g->px;
    *py = s->scale[1] * (y + s->wave / 2 * sin(turn * 0.7 + 1)) * g->px;
}

/* From bed mm to pixels. */
static void see(const Glass *g, double bed_x, double bed_y, double *px, double *py)
{
    const RigScan *s = g->s;
    const double u = bed_x - s->sheet_at[0] - s->sheet[0] / 2;
    const double v = -(bed_y - s->sheet_at[1] - s->sheet[1] / 2); /* downwards */
    see_glass(g, g->w / 2 + u * g->cosine - v * g->sine, g->h / 2 + u * g->sine + v * g->cosine, px,
              py);
}

/* Light -------------------------------------------------------------------------------------- */

/* The scale of IEC 61966-2-1 and back, 0 to 1. */
static double linear_of(double coded)
{
    return coded <= 0.04045 ? coded / 12.92 : pow((coded + 0.055) / 1.055, 2.4);
}

static double coded_of(double linear)
{
    return linear <= 0.0031308 ? linear * 12.92 : 1.055 * pow(linear, 1 / 2.4) - 0.055;
}

/* The picture holds linear light until it is scanned: an edge that covers half of a pixel
 * absorbs half of its light, and overlapping inks multiply. */
static void set_light(cairo_t *c, double r, double g, double b)
{
    cairo_set_source_rgb(c, linear_of(r), linear_of(g), linear_of(b));
}

/* Ink ---------------------------------------------------------------------------------------- */

/* Width of a line at a position along it, as a share of its tip: noise with a grain of a
 * millimetre, interpolated between random numbers. */
static double width_at(double along, guint32 seed, double uneven)
{
    const double place = floor(along);
    double part = along - place, ends[2];
    for (int i = 0; i < 2; i++) {
        guint32 h = ((guint32)(gint64)place + (guint32)i) * 2654435761u ^ seed;
        h ^= h >> 15;
        h *= 2246822519u;
        h ^= h >> 13;
        ends[i] = (double)h / 2147483648.0 - 1;
    }
    part = part * part * (3 - 2 * part);
    return 1 + uneven * (ends[0] + part * (ends[1] - ends[0]));
}

/* Appends a piece of a line with a round end to the path; all have the same orientation, so that
 * together they are one area. */
static void add_piece(cairo_t *c, const Glass *g, const double from[2], const double to[2],
                      double width)
{
    double x0, y0, x1, y1;
    see(g, from[0], from[1], &x0, &y0);
    see(g, to[0], to[1], &x1, &y1);
    const double half = width / 2 * g->px * sqrt(g->s->scale[0] * g->s->scale[1]);
    const double along = atan2(y1 - y0, x1 - x0);
    cairo_new_sub_path(c);
    cairo_arc(c, x1, y1, half, along - G_PI / 2, along + G_PI / 2);
    cairo_arc(c, x0, y0, half, along + G_PI / 2, along + 3 * G_PI / 2);
    cairo_close_path(c);
}

static void draw_stroke(cairo_t *c, const DtRig *r, const Glass *g, size_t index)
{
    const DtRigStroke k = dt_rig_stroke(r, index);
    const RigPen *pen = dt_rig_truth_pen(&r->truth, k.pen);
    double along = 0;
    if (k.n == 1)
        add_piece(c, g, k.xy, k.xy, pen->tip);
    for (size_t i = 1; i < k.n; i++) {
        const double *a = k.xy + 2 * (i - 1), *b = a + 2;
        const double length = hypot(b[0] - a[0], b[1] - a[1]);
        const int n = g->s->uneven > 0 ? (int)ceil(MAX(length / piece_mm, 1)) : 1;
        for (int p = 0; p < n; p++) {
            const double t0 = (double)p / n, t1 = (double)(p + 1) / n;
            const double from[2] = {a[0] + t0 * (b[0] - a[0]), a[1] + t0 * (b[1] - a[1])};
            const double to[2] = {a[0] + t1 * (b[0] - a[0]), a[1] + t1 * (b[1] - a[1])};
            const double at = along + (t0 + t1) / 2 * length;
            add_piece(c, g, from, to,
                      pen->tip * width_at(at, (guint32)index * 7919u, g->s->uneven));
        }
        along += length;
    }
    set_light(c, pen->r, pen->g, pen->b);
    cairo_fill(c);
}

static void draw_sheet(cairo_t *c, const DtRig *r, const Glass *g)
{
    const RigScan *s = g->s;
    static const double corners[4][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
    set_light(c, s->lid, s->lid, s->lid);
    cairo_paint(c);
    for (int i = 0; i < 4; i++) {
        double x, y;
        see(g, s->sheet_at[0] + corners[i][0] * s->sheet[0],
            s->sheet_at[1] + corners[i][1] * s->sheet[1], &x, &y);
        cairo_line_to(c, x, y);
    }
    cairo_close_path(c);
    set_light(c, s->paper, s->paper, s->paper * 0.985);
    cairo_fill_preserve(c);
    cairo_clip(c); /* ink beyond the sheet is on the table */
    cairo_set_tolerance(c, 0.05);
    cairo_set_operator(c, CAIRO_OPERATOR_MULTIPLY); /* inks let light through */
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++)
        draw_stroke(c, r, g, i);
}

/* A card on the glass, which hides what lies above it: a rectangle with round corners (ISO/IEC
 * 7810: radius 3.18 mm), with print that is two thirds as bright. */
static void draw_card(cairo_t *c, const Glass *g)
{
    enum { ARC = 12, SIDE = 40 };
    const double radius_mm = 3.18, printed = 2.0 / 3;
    const RigScan *s = g->s;
    const double turn = s->card_turn * (G_PI / 180), cosine = cos(turn), sine = sin(turn);
    for (int part = 0; part < 2; part++) {
        const double share = part == 0 ? 1 : 0.6, radius = part == 0 ? radius_mm : 0.01;
        const double a = s->card_size[0] / 2 * share - radius,
                     b = s->card_size[1] / 2 * share - radius;
        const double corner[4][2] = {{a, -b}, {a, b}, {-a, b}, {-a, -b}};
        for (int i = 0; i < 4; i++) {
            const double *k = corner[i], *next = corner[(i + 1) % 4];
            const double from = (i - 1) * (G_PI / 2);
            const double out[2] = {radius * cos(from + G_PI / 2), radius * sin(from + G_PI / 2)};
            for (int j = 0; j < ARC + SIDE; j++) {
                const double angle = from + G_PI / 2 * MIN(j, ARC) / ARC;
                const double t = (double)MAX(j - ARC, 0) / SIDE;
                const double u =
                    j <= ARC ? k[0] + radius * cos(angle) : k[0] + out[0] + t * (next[0] - k[0]);
                const double v =
                    j <= ARC ? k[1] + radius * sin(angle) : k[1] + out[1] + t * (next[1] - k[1]);
                double x, y;
                see_glass(g, s->card_at[0] + u * cosine - v * sine,
                          s->card_at[1] + u * sine + v * cosine, &x, &y);
                cairo_line_to(c, x, y);
            }
        }
        const double grey = s->card * (part == 0 ? 1 : printed);
        set_light(c, grey, grey, grey);
        cairo_fill(c);
    }
}

/* Paper, lens and sensor --------------------------------------------------------------------- */

/* One colour of the picture as linear light, 0 to 1. */
typedef struct {
    float *v;
    int w, h;
} Plane;

/* A line of random numbers, `step` apart, smoothed by three running means: close to a Gaussian
 * of the same deviation (Wells 1986). */
static void blur_line(float *line, int n, size_t step, int radius, double *scratch)
{
    double *from = scratch, *to = scratch + n;
    for (int i = 0; i < n; i++)
        from[i] = (double)line[(size_t)i * step];
    for (int pass = 0; pass < 3; pass++) {
        double sum = 0;
        for (int i = -radius; i <= radius; i++)
            sum += from[CLAMP(i, 0, n - 1)];
        for (int i = 0; i < n; i++) {
            to[i] = sum / (2 * radius + 1);
            sum += from[MIN(i + radius + 1, n - 1)] - from[MAX(i - radius, 0)];
        }
        double *swap = from;
        from = to;
        to = swap;
    }
    for (int i = 0; i < n; i++)
        line[(size_t)i * step] = (float)from[i];
}

static void blur(const Plane *p, double sigma_px)
{
    /* Three means of 2r+1 have a variance of r(r+1). */
    const int radius = (int)(sqrt(sigma_px * sigma_px + 0.25) - 0.5 + 0.5);
    if (radius < 1)
        return;
    g_autofree double *scratch = g_new(double, 2 * (size_t)MAX(p->w, p->h));
    for (int y = 0; y < p->h; y++)
        blur_line(p->v + (size_t)y * (size_t)p->w, p->w, 1, radius, scratch);
    for (int x = 0; x < p->w; x++)
        blur_line(p->v + (size_t)x, p->h, (size_t)p->w, radius, scratch);
}

/* Light passes the ink, spreads in the paper, and returns through the ink beside: paper * T * (T
 * spread), where ink alone reflects paper * T^2 (Yule, Howe and Altman 1967). With a spread far
 * below the width of a line this is the law of Murray 1936, far above it that of Yule and
 * Nielsen 1951 with n = 2. */
static void spread_light(const Plane *p, double paper, double sigma_px)
{
    const size_t n = (size_t)p->w * (size_t)p->h;
    for (size_t i = 0; i < n; i++)
        p->v[i] = (float)sqrt((double)p->v[i] / paper);
    Plane spread = {g_memdup2(p->v, n * sizeof *p->v), p->w, p->h};
    blur(&spread, sigma_px);
    for (size_t i = 0; i < n; i++)
        p->v[i] = (float)(paper * (double)p->v[i] * (double)spread.v[i]);
    g_free(spread.v);
}

static void see_light(cairo_surface_t *surface, const RigScan *s, double px)
{
    enum { FINE = 8192 };
    const int w = cairo_image_surface_get_width(surface);
    const int h = cairo_image_surface_get_height(surface);
    const size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    uint8_t *data = cairo_image_surface_get_data(surface);
    const double paper[3] = {s->paper * 0.985, s->paper,
                             s->paper}; /* blue first, as draw_sheet() has it */
    Plane p = {g_new(float, (size_t)w *(size_t)h), w, h};
    g_autofree uint8_t *coded = g_malloc(FINE + 1);
    for (int i = 0; i <= FINE; i++)
        coded[i] = (uint8_t)(coded_of((double)i / FINE) * 255 + 0.5);
    for (size_t k = 0; k < 3; k++) {
        for (int y = 0; y < h; y++)
            for (int x = 0; x < w; x++)
                p.v[(size_t)y * (size_t)w + (size_t)x] =
                    (float)data[(size_t)y * stride + (size_t)x * 4 + k] / 255;
        if (s->spread > 0)
            spread_light(&p, MAX(linear_of(paper[k]), 1e-3), s->spread * px);
        blur(&p, s->blur * px);
        for (int y = 0; y < h; y++)
            for (int x = 0; x < w; x++) {
                const double v = (double)p.v[(size_t)y * (size_t)w + (size_t)x];
                data[(size_t)y * stride + (size_t)x * 4 + k] =
                    coded[(int)(CLAMP(v, 0, 1) * FINE + 0.5)];
            }
    }
    g_free(p.v);
}

static void add_noise(cairo_surface_t *surface, double deviation, guint32 seed)
{
    const int w = cairo_image_surface_get_width(surface);
    const int h = cairo_image_surface_get_height(surface);
    const size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    uint8_t *data = cairo_image_surface_get_data(surface);
    guint64 state = seed * 2862933555777941757u + 3037000493u;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++)
            for (size_t k = 0; k < 3; k++) {
                state = state * 6364136223846793005u + 1442695040888963407u;
                /* The sum of four uniform numbers is close enough to normal here. */
                const double sum = (double)(state >> 48 & 0xffff) + (double)(state >> 32 & 0xffff) +
                                   (double)(state >> 16 & 0xffff) + (double)(state & 0xffff);
                const double z = (sum / 65535 - 2) * 1.7320508075688772;
                uint8_t *p = data + (size_t)y * stride + (size_t)x * 4 + k;
                *p = (uint8_t)CLAMP(*p + z * deviation + 0.5, 0, 255);
            }
}

/* Files -------------------------------------------------------------------------------------- */

typedef struct {
    struct jpeg_error_mgr manager;
    jmp_buf back;
} JpegError;

static void jpeg_failed(j_common_ptr c)
{
    longjmp(((JpegError *)(void *)c->err)->back, 1);
}

static gboolean write_jpeg(cairo_surface_t *surface, const RigScan *s, const char *path,
                           GError **error)
{
    const int w = cairo_image_surface_get_width(surface);
    const int h = cairo_image_surface_get_height(surface);
    const size_t stride = (size_t)cairo_image_surface_get_stride(surface);
    const uint8_t *data = cairo_image_surface_get_data(surface);
    struct jpeg_compress_struct c;
    JpegError e;
    unsigned char *bytes = NULL;
    unsigned long n = 0;
    g_autofree uint8_t *row = g_malloc((size_t)w * 3);
    c.err = jpeg_std_error(&e.manager);
    e.manager.error_exit = jpeg_failed;
    if (setjmp(e.back)) {
        jpeg_destroy_compress(&c);
        free(bytes);
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: the picture cannot be written", path);
        return FALSE;
    }
    jpeg_create_compress(&c);
    jpeg_mem_dest(&c, &bytes, &n);
    c.image_width = (JDIMENSION)w;
    c.image_height = (JDIMENSION)h;
    c.input_components = 3;
    c.in_color_space = JCS_RGB;
    jpeg_set_defaults(&c);
    jpeg_set_quality(&c, (int)s->quality, TRUE);
    c.density_unit = 1;
    c.X_density = c.Y_density = (UINT16)s->dpi;
    jpeg_start_compress(&c, TRUE);
    jpeg_write_marker(&c, JPEG_COM, (const JOCTET *)"drawtrue", 8); /* see dt_base_check_output() */
    for (int y = 0; y < h; y++) {
        for (int x = 0; x < w; x++)
            for (int k = 0; k < 3; k++)
                row[x * 3 + k] = data[(size_t)y * stride + (size_t)x * 4 + (size_t)(2 - k)];
        JSAMPROW rows[1] = {row};
        jpeg_write_scanlines(&c, rows, 1);
    }
    jpeg_finish_compress(&c);
    jpeg_destroy_compress(&c);
    const gboolean good = dt_base_write_file(path, (const char *)bytes, n, error);
    free(bytes);
    return good;
}

static cairo_status_t sink(void *user, const unsigned char *data, unsigned n)
{
    g_byte_array_append(user, data, n);
    return CAIRO_STATUS_SUCCESS;
}

static gboolean write_png(cairo_surface_t *surface, const char *path, GError **error)
{
    g_autoptr(GByteArray) bytes = g_byte_array_new();
    const cairo_status_t status = cairo_surface_write_to_png_stream(surface, sink, bytes);
    if (status == CAIRO_STATUS_SUCCESS)
        dt_base_sign_picture(bytes);
    if (status == CAIRO_STATUS_SUCCESS)
        return dt_base_write_file(path, (const char *)bytes->data, bytes->len, error);
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, cairo_status_to_string(status));
    return FALSE;
}

static gboolean is_jpeg(const char *path)
{
    g_autofree char *small = g_ascii_strdown(path, -1);
    return g_str_has_suffix(small, ".jpg") || g_str_has_suffix(small, ".jpeg");
}

gboolean dt_rig_check_scan_path(const char *path, GError **error)
{
    g_autofree char *small = g_ascii_strdown(path, -1);
    if (is_jpeg(path) || g_str_has_suffix(small, ".png"))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "%s: a scan is a .png or a .jpg", path);
    return FALSE;
}

gboolean dt_rig_scan(const DtRig *r, const char *path, GError **error)
{
    if (!dt_rig_check_scan_path(path, error))
        return FALSE;
    const RigScan *s = &r->truth.scan;
    const Glass g = make_glass(s);
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(g.w * g.px),
                                                          (int)ceil(g.h * g.px));
    cairo_t *c = cairo_create(surface);
    draw_sheet(c, r, &g);
    if (s->card >= 0) {
        cairo_reset_clip(c);
        cairo_set_operator(c, CAIRO_OPERATOR_OVER);
        draw_card(c, &g);
    }
    gboolean good = cairo_status(c) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(c);
    cairo_surface_flush(surface);
    if (good) {
        see_light(surface, s, g.px);
        if (s->noise > 0)
            add_noise(surface, s->noise, (guint32)s->seed);
        cairo_surface_mark_dirty(surface);
        good =
            is_jpeg(path) ? write_jpeg(surface, s, path, error) : write_png(surface, path, error);
    } else {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: a scan of %.0f by %.0f pixels is too large",
                    path, g.w * g.px, g.h * g.px);
    }
    cairo_surface_destroy(surface);
    return good;
}

gboolean dt_rig_set_scan(DtRig *r, const char *text, const char *name, GError **error)
{
    RigTruth t;
    const gboolean good = dt_rig_truth_read(&t, text, name, error);
    if (good)
        r->truth.scan = t.scan;
    dt_rig_truth_clear(&t);
    return good;
}
