/* card: a card of the size ID-1, 85.60 x 53.98 mm (ISO/IEC 7810), that lies on the glass beside the drawing.
 *
 * Roughly: in a small picture, what is neither as bright as the paper within the sheet nor as what lies around
 * it outside; lines are opened away, and what is left must fill a rectangle of that size. Finely: along the
 * middle of each side the place where the brightness is half of that on both sides, and a straight line
 * through these by least squares with the weights of Huber (1964). */
#include "truing/scan/scan-picture.h"

#include "drawtrue/base.h"
#include "drawtrue/truing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double long_mm = 85.60, short_mm = 53.98;
/* The card as it is seen. */
typedef struct {
    double size[2];    /* between its short sides and between its long ones, pixels */
    DtPoint normal[2]; /* unit vectors in which these were measured */
    double sd[2];      /* standard uncertainty of each, pixels */
} Card;

static const double coarse_mm = 0.6;    /* a pixel of the small picture */
static const double band_mm = 5;        /* how well it is known where the sheet's edge is */
static const double unlike = 0.08;      /* share of brightness by which a card differs */
static const double rough_share = 0.04; /* of the size, roughly found */
static const double fine_share = 0.025; /* and measured: no scanner is farther off */
static const double along_share = 0.7;  /* of a side: its corners are round */
static const double reach_mm = 2.4, plateau_mm = 1;
static const double edge_sd_mm = 0.03; /* the card's thickness and a round edge cast a shadow */

/* Brightness ------------------------------------------------------------------------------------ */

static int rising(const void *a, const void *b)
{
    return *(const guint8 *)a - *(const guint8 *)b;
}

static gboolean is_within(const DtPoint sheet[4], DtPoint p, double by)
{
    const double way =
        dt_point_cross(dt_point_sub(sheet[1], sheet[0]), dt_point_sub(sheet[2], sheet[1]));
    for (int i = 0; i < 4; i++) {
        const DtPoint d = dt_point_sub(sheet[(i + 1) % 4], sheet[i]);
        const double off = dt_point_cross(d, dt_point_sub(p, sheet[i])) / hypot(d.x, d.y);
        if ((way > 0 ? off : -off) < by)
            return FALSE;
    }
    return TRUE;
}

/* The most usual brightness on the sheet or around it; FALSE where too little of it is in the picture. */
static gboolean find_usual(const DtScanPicture *p, const DtPoint sheet[4], gboolean on_sheet,
                           double *grey)
{
    const double margin = band_mm / coarse_mm;
    g_autofree guint8 *v = g_malloc((gsize)p->w * (gsize)p->h);
    gsize n = 0, held = 0;
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++) {
            const DtPoint at = {x + 0.5, y + 0.5};
            if (on_sheet ? is_within(sheet, at, margin) : !is_within(sheet, at, -margin))
                v[n++] = p->grey[(gsize)y * (gsize)p->w + (gsize)x];
        }
    if (n < 50)
        return FALSE;
    qsort(v, n, sizeof *v, rising);
    /* the shortest interval with a third of all: a card may cover more of the rest than is free */
    const gsize third = n / 3;
    double least = G_MAXDOUBLE;
    for (held = 0; held + third < n; held++)
        if (v[held + third] - v[held] < least) {
            least = v[held + third] - v[held];
            *grey = v[held + third / 2];
        }
    return TRUE;
}

static guint8 *find_unlike(const DtScanPicture *p, const DtPoint sheet[4])
{
    const double beside =
        band_mm / coarse_mm; /* near the sheet's edge either brightness is usual */
    double paper = 255, around = 0;
    guint8 *mask = g_malloc0((gsize)p->w * (gsize)p->h);
    find_usual(p, sheet, TRUE, &paper);
    const gboolean has_around = find_usual(p, sheet, FALSE, &around);
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++) {
            const DtPoint at = {x + 0.5, y + 0.5};
            const gsize i = (gsize)y * (gsize)p->w + (gsize)x;
            const gboolean inside = is_within(sheet, at, -beside),
                           outside = !is_within(sheet, at, beside);
            const gboolean like_paper = fabs(p->grey[i] - paper) < unlike * paper,
                           like_around = has_around && fabs(p->grey[i] - around) < unlike * paper;
            mask[i] = !((inside && like_paper) || (outside && like_around));
        }
    return mask;
}

/* Erodes or dilates by one pixel each way. */
static void spread(const DtScanPicture *p, guint8 *mask, gboolean grow)
{
    g_autofree guint8 *old = g_memdup2(mask, (gsize)p->w * (gsize)p->h);
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++) {
            gboolean any = FALSE;
            for (int v = MAX(y - 1, 0); v <= MIN(y + 1, p->h - 1); v++)
                for (int u = MAX(x - 1, 0); u <= MIN(x + 1, p->w - 1); u++)
                    any |= old[(gsize)v * (gsize)p->w + (gsize)u] == grow;
            if (any)
                mask[(gsize)y * (gsize)p->w + (gsize)x] = (guint8)grow;
        }
}

/* The rectangle ----------------------------------------------------------------------------------- */

typedef struct {
    DtPoint middle, along; /* along: its long side */
    double w, h;           /* pixels */
    double filled;         /* share of it */
} Box;

/* The smallest rectangle around the pixels. */
static Box box_of(const GArray *pixels, int w)
{
    enum { ANGLES = 180 };
    Box best = {.filled = 0};
    double area = G_MAXDOUBLE;
    for (int k = 0; k < ANGLES; k++) {
        const double angle = G_PI / 2 * k / ANGLES;
        const DtPoint u = {cos(angle), sin(angle)}, v = {-u.y, u.x};
        double lo[2] = {G_MAXDOUBLE, G_MAXDOUBLE}, hi[2] = {-G_MAXDOUBLE, -G_MAXDOUBLE};
        for (guint i = 0; i < pixels->len; i++) {
            const guint32 at = g_array_index(pixels, guint32, i);
            const DtPoint c = {at % (guint32)w + 0.5, at / (guint32)w + 0.5};
            const double s[2] = {dt_point_dot(c, u), dt_point_dot(c, v)};
            for (int j = 0; j < 2; j++) {
                lo[j] = MIN(lo[j], s[j]);
                hi[j] = MAX(hi[j], s[j]);
            }
        }
        const double size[2] = {hi[0] - lo[0] + 1, hi[1] - lo[1] + 1};
        if (size[0] * size[1] >= area)
            continue;
        area = size[0] * size[1];
        const DtPoint middle = dt_point_add(dt_point_scale(u, (lo[0] + hi[0]) / 2),
                                            dt_point_scale(v, (lo[1] + hi[1]) / 2));
        best = (Box){middle, size[0] >= size[1] ? u : v, MAX(size[0], size[1]),
                     MIN(size[0], size[1]), pixels->len / area};
    }
    return best;
}

static void gather(const DtScanPicture *p, guint8 *mask, guint32 start, GArray *pixels)
{
    g_array_set_size(pixels, 0);
    g_array_append_val(pixels, start);
    mask[start] = 0;
    for (guint i = 0; i < pixels->len; i++) {
        const guint32 at = g_array_index(pixels, guint32, i);
        const int x = (int)(at % (guint32)p->w), y = (int)(at / (guint32)p->w);
        for (int v = MAX(y - 1, 0); v <= MIN(y + 1, p->h - 1); v++)
            for (int u = MAX(x - 1, 0); u <= MIN(x + 1, p->w - 1); u++) {
                const guint32 next = (guint32)v * (guint32)p->w + (guint32)u;
                if (mask[next]) {
                    mask[next] = 0;
                    g_array_append_val(pixels, next);
                }
            }
    }
}

/* In the small picture of `mm` a pixel; *near gets what comes nearest to a card. */
static gboolean find_box(const DtScanPicture *p, const DtPoint sheet[4], double mm, Box *out,
                         Box *near)
{
    const double least_filled = 0.6;
    g_autofree guint8 *mask = find_unlike(p, sheet);
    g_autoptr(GArray) pixels = g_array_new(FALSE, FALSE, sizeof(guint32));
    double best = G_MAXDOUBLE;
    spread(p, mask, FALSE);
    spread(p, mask, TRUE);
    for (guint32 at = 0; at < (guint32)p->w * (guint32)p->h; at++) {
        if (!mask[at])
            continue;
        gather(p, mask, at, pixels);
        if (pixels->len * mm * mm < 0.2 * long_mm * short_mm)
            continue;
        const Box b = box_of(pixels, p->w);
        const double off = MAX(fabs(b.w * mm / long_mm - 1), fabs(b.h * mm / short_mm - 1));
        if (off < best) {
            best = off;
            *near = b;
        }
        if (off < rough_share && b.filled > least_filled) {
            *out = b;
            return TRUE;
        }
    }
    return FALSE;
}

/* Sides ------------------------------------------------------------------------------------------- */

enum { PLACES = 90 };

/* One side of the card: places along it and how far off it the edge is, pixels. */
typedef struct {
    DtPoint at, along, out; /* its middle; out of the card */
    double x[PLACES], t[PLACES];
    int n;
    double offset, slope, sd; /* of the line through them */
} Side;

/* Where the brightness is half of that on both sides. */
static gboolean find_edge(const DtScanPicture *p, const Side *s, double x, double px_mm,
                          double least, double *t)
{
    const double step = 0.25, reach = reach_mm * px_mm, plateau = plateau_mm * px_mm;
    const DtPoint at = dt_point_add(s->at, dt_point_scale(s->along, x));
    double in = 0, out = 0, before = 0;
    int n_in = 0, n_out = 0, crossings = 0;
    for (double u = -reach; u <= reach; u += step) {
        const double v = dt_scan_grey_at(p, at.x + u * s->out.x, at.y + u * s->out.y);
        in += u < -reach + plateau ? v : 0;
        n_in += u < -reach + plateau;
        out += u > reach - plateau ? v : 0;
        n_out += u > reach - plateau;
    }
    in /= n_in;
    out /= n_out;
    if (fabs(out - in) < least)
        return FALSE;
    for (double u = -reach; u <= reach; u += step) {
        const double v =
            dt_scan_grey_at(p, at.x + u * s->out.x, at.y + u * s->out.y) - (in + out) / 2;
        if (u > -reach && (v > 0) != (before > 0)) {
            *t = u - step * v / (v - before);
            crossings++;
        }
        before = v;
    }
    return crossings == 1;
}

static void fit_side(Side *s)
{
    double w[PLACES], left = 0;
    for (int i = 0; i < s->n; i++)
        w[i] = 1;
    for (int round = 0; round < 10; round++) {
        double n = 0, x = 0, t = 0, xx = 0, xt = 0, size = 0;
        for (int i = 0; i < s->n; i++) {
            n += w[i];
            x += w[i] * s->x[i];
            t += w[i] * s->t[i];
        }
        x /= n;
        t /= n;
        for (int i = 0; i < s->n; i++) {
            xx += w[i] * (s->x[i] - x) * (s->x[i] - x);
            xt += w[i] * (s->x[i] - x) * (s->t[i] - t);
        }
        s->slope = xt / xx;
        s->offset = t - s->slope * x;
        for (int i = 0; i < s->n; i++)
            size += MIN(fabs(s->t[i] - s->offset - s->slope * s->x[i]), 2) / s->n;
        const double limit =
            MAX(1.5 * 1.25 * size, 1e-3); /* 1.25 mean deviations: a standard one */
        left = 0;
        for (int i = 0; i < s->n; i++) {
            const double r = fabs(s->t[i] - s->offset - s->slope * s->x[i]);
            w[i] = r <= limit ? 1 : limit / r;
            left += w[i] * r * r;
        }
    }
    s->sd = sqrt(left / s->n / MAX(s->n - 2, 1));
}

static gboolean measure_side(const DtScanPicture *p, double px_mm, double length, Side *s)
{
    const double least = unlike * 200;
    s->n = 0;
    for (int i = 0; i < PLACES; i++) {
        const double x = along_share * length * ((i + 0.5) / PLACES - 0.5);
        s->x[s->n] = x;
        s->n += find_edge(p, s, x, px_mm, least, &s->t[s->n]);
    }
    if (s->n < PLACES * 6 / 10)
        return FALSE;
    fit_side(s);
    return TRUE;
}

/* Between two sides that lie against each other, at the card's middle. */
static void measure_between(const Side *a, const Side *b, double px_mm, Card *out, int i)
{
    const double slope = (a->slope + b->slope) / 2;
    const DtPoint normal = dt_point_sub(a->out, dt_point_scale(a->along, slope));
    const double size = hypot(normal.x, normal.y);
    const DtPoint pa = dt_point_add(a->at, dt_point_scale(a->out, a->offset)),
                  pb = dt_point_add(b->at, dt_point_scale(b->out, b->offset));
    out->normal[i] = dt_point_scale(normal, 1 / size);
    out->size[i] = dt_point_dot(out->normal[i], dt_point_sub(pa, pb));
    out->sd[i] = hypot(hypot(a->sd, b->sd), edge_sd_mm * px_mm);
}

/* A turned rectangle has one slope on all sides. */
static gboolean is_rectangle(const Side s[4])
{
    const double most = 0.012;
    for (int i = 0; i < 2; i++)
        if (fabs(s[i].slope - s[i + 2].slope) > most)
            return FALSE;
    return fabs(s[0].slope - s[1].slope) < 2 * most;
}

static gboolean measure_card(const DtScanPicture *p, const Box *b, double px_mm, Card *out,
                             char **why)
{
    Side s[4];
    const DtPoint ways[4] = {
        b->along, {-b->along.y, b->along.x}, {-b->along.x, -b->along.y}, {b->along.y, -b->along.x}};
    for (int i = 0; i < 4; i++) {
        const double half = (i % 2 == 0 ? b->w : b->h) / 2, length = i % 2 == 0 ? b->h : b->w;
        s[i].out = ways[i];
        s[i].along = (DtPoint){-ways[i].y, ways[i].x};
        s[i].at = dt_point_add(b->middle, dt_point_scale(ways[i], half));
        if (!measure_side(p, px_mm, length, &s[i])) {
            *why = g_strdup(
                _("one side of the card is not clear: it must lie flat, clear of ink and of the "
                  "picture's edge, and be darker than the paper"));
            return FALSE;
        }
    }
    if (!is_rectangle(s)) {
        *why = g_strdup(_("what looks like a card is not a rectangle"));
        return FALSE;
    }
    measure_between(&s[0], &s[2], px_mm, out, 0);
    measure_between(&s[1], &s[3], px_mm, out, 1);
    if (fabs(out->size[0] / px_mm / long_mm - 1) < fine_share &&
        fabs(out->size[1] / px_mm / short_mm - 1) < fine_share)
        return TRUE;
    *why = g_strdup_printf(
        _("what looks like a card measures %.1f x %.1f mm, and one of the size ID-1 has "
          "%.2f x %.2f mm"),
        out->size[0] / px_mm, out->size[1] / px_mm, long_mm, short_mm);
    return FALSE;
}

static gboolean find_card(const DtScanPicture *p, const DtPoint sheet[4], double px_mm, Card *out,
                          char **why)
{
    DtScanPicture small;
    const int by = MAX((int)(coarse_mm * px_mm + 0.5), 1);
    DtPoint corners[4];
    Box found, near = {.w = 0};
    for (int i = 0; i < 4; i++)
        corners[i] = dt_point_scale(sheet[i], 1.0 / by);
    dt_scan_picture_shrink(p, by, &small);
    const double mm = by / px_mm;
    const gboolean is_there = find_box(&small, corners, mm, &found, &near);
    dt_scan_picture_clear(&small);
    if (!is_there) {
        *why = near.w > 0
                   ? g_strdup_printf(
                         _("no card of the size ID-1 (%.2f x %.2f mm) was found; what comes "
                           "nearest is about %.0f x %.0f mm"),
                         long_mm, short_mm, near.w * mm, near.h * mm)
                   : g_strdup_printf(
                         _("no card of the size ID-1 (%.2f x %.2f mm) was found, or it is as "
                           "bright as what lies around it"),
                         long_mm, short_mm);
        return FALSE;
    }
    found.middle = dt_point_scale(found.middle, by);
    found.w *= by;
    found.h *= by;
    return measure_card(p, &found, px_mm, out, why);
}

/* The paper's corners, as far as the marks tell: in true mm around where its middle is seen. */
static void find_corners(const DtScan *s, const DtTestSheet *sheet, double px_mm,
                         DtPoint corners[4])
{
    const DtPoint c =
        dt_point(sheet->paper_at.x + sheet->paper_w / 2, sheet->paper_at.y + sheet->paper_h / 2);
    const DtPoint at = dt_affine_apply(s->rough, c),
                  x = dt_affine_apply_vector(s->rough, dt_point(1, 0));
    const DtPoint u = dt_point_scale(x, 1 / hypot(x.x, x.y)), v = {-u.y, u.x};
    static const double ways[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    for (int i = 0; i < 4; i++) {
        const DtPoint p =
            dt_point_add(at, dt_point_add(dt_point_scale(u, ways[i][0] * sheet->paper_w / 2),
                                          dt_point_scale(v, ways[i][1] * sheet->paper_h / 2)));
        corners[i] = dt_point_scale(p, px_mm);
    }
}

gboolean dt_scan_measure_card(DtScan *s, const DtTestSheet *sheet, GError **error)
{
    g_auto(DtScanPicture) picture = {0};
    g_autofree char *why = NULL;
    const double px_mm = s->dpi / 25.4;
    DtPoint corners[4];
    if (s->photograph) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: a photograph bends a card as it does the sheet; scan both", s->path);
        return FALSE;
    }
    if (!dt_scan_picture_load(s->path, &picture, error))
        return FALSE;
    Card card;
    find_corners(s, sheet, px_mm, corners);
    s->has_card = find_card(&picture, corners, px_mm, &card, &why);
    for (int i = 0; s->has_card && i < 2; i++) {
        s->card_mm[i] = card.size[i] / px_mm;
        s->card_sd[i] = card.sd[i] / px_mm;
        s->card_normal[i] = card.normal[i];
    }
    if (!s->has_card)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", s->path, why);
    return s->has_card;
}
