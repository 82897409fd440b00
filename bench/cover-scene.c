/* cover-scene: planned ink painted pen by pen beside the artwork, and strips of both. */
#include "cover-scene.h"

#include <math.h>

/* A line is apart from its sides in ink by so much (CIEDE2000). */
#define APART_IN_INK 4.0
/* Where this share of both sides is other lines' ink there is no room for a gap. */
#define CROWDED 0.2
/* A gap of this width (mm) is seen. */
#define GAP 0.3
/* Paints whose L* differs by less than this are equally light. */
#define AS_LIGHT 3.0
/* Edges of a line are looked at so far (mm) from the ink's. */
static const double asides[] = {0.05, 0.125};
enum { N_ASIDE = G_N_ELEMENTS(asides) };

const unsigned cover_colours[COVER_N_PENS] = {0x1c1c1c, 0x2e7d32, 0xb5482f};

DtColour cover_colour(unsigned rgb)
{
    return (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1};
}

/* Pictures --------------------------------------------------------------------------------------- */

static gboolean is_line(const DtStroke *s)
{
    return s->kind == DT_INK_OUTLINE || s->kind == DT_INK_CENTRE;
}

/* The strokes of one pen that are lines, or fields, or both, painted in a colour. */
static void paint(const CoverScene *s, const DtStrokes *all, unsigned pen, gboolean lines,
                  gboolean fields, DtColour colour, LookPicture *out)
{
    g_auto(WitnessInk) ink = {0};
    const LookPen look = {{colour.r, colour.g, colour.b}, COVER_TIP};
    witness_ink_init(&ink);
    for (size_t i = 0; i < all->n; i++) {
        const DtStroke *k = &all->strokes[i];
        if (k->pen == pen && (is_line(k) ? lines : fields))
            witness_ink_add(&ink, all->pts + k->first, k->n, k->closed != 0, 0);
    }
    look_of_ink(&ink, &look, 1, &s->sheet, out);
}

static size_t n_pixels(const LookPicture *p)
{
    return (size_t)p->w * (size_t)p->h;
}

/* How much of a pixel a picture in black covers. */
static double cover(const LookPicture *p, size_t i)
{
    return 1 - p->rgb[i];
}

/* Pens from the lightest (L* 46.3, 45.2 and 10.3) to the darkest. */
static const unsigned light_first[COVER_N_PENS] = {1, 2, 0};

static void lay_pens(CoverScene *s)
{
    const size_t n = n_pixels(&s->art);
    LookPicture *both[2] = {&s->opaque, &s->clear};
    for (int k = 0; k < 2; k++) {
        *both[k] = (LookPicture){s->art.w, s->art.h, s->art.px_per_mm, g_new(float, 3 * n), NULL};
        for (size_t i = 0; i < 3 * n; i++)
            both[k]->rgb[i] = 1;
    }
    for (int p = 0; p < COVER_N_PENS; p++) {
        const unsigned pen = light_first[p];
        const DtColour c = cover_colour(cover_colours[pen]);
        const double light[3] = {dt_colour_linear(c.r), dt_colour_linear(c.g),
                                 dt_colour_linear(c.b)};
        for (size_t i = 0; i < n; i++) {
            const double a = MIN(cover(&s->own[pen], i) + cover(&s->fields[pen], i), 1);
            for (size_t k = 0; k < 3 && a > 0; k++) {
                float *o = &s->opaque.rgb[k * n + i], *t = &s->clear.rgb[k * n + i];
                *o = (float)(*o * (1 - a) + a * light[k]);
                *t = (float)(*t * (1 - a + a * light[k]));
            }
        }
    }
}

gboolean cover_scene_make(const char *svg, const DtProfile *p, const DtJob *job, CoverScene *s,
                          GError **error)
{
    const double px = 96 / 25.4;
    s->sheet = (WitnessSheet){
        job->drawing->width * px,
        job->drawing->height * px,
        dt_affine_then(dt_affine_scale(1 / px, 1 / px), job->placed),
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        COVER_PX_PER_MM};
    s->page_w = job->drawing->width;
    s->page_h = job->drawing->height;
    if (!dt_affine_invert(job->placed, &s->to_page) || !look_of_art(svg, &s->sheet, &s->art, error))
        return FALSE;
    const DtColour black = {0, 0, 0, 1};
    for (unsigned pen = 0; pen < COVER_N_PENS; pen++) {
        paint(s, &job->strokes, pen, TRUE, FALSE, black, &s->own[pen]);
        paint(s, &job->strokes, pen, FALSE, TRUE, black, &s->fields[pen]);
    }
    lay_pens(s);
    s->edge_of = g_new0(unsigned, n_pixels(&s->art));
    return TRUE;
}

void cover_scene_clear(CoverScene *s)
{
    g_free(s->edge_of);
    look_clear(&s->art);
    look_clear(&s->opaque);
    look_clear(&s->clear);
    for (int pen = 0; pen < COVER_N_PENS; pen++) {
        look_clear(&s->own[pen]);
        look_clear(&s->fields[pen]);
    }
}

/* Looking ---------------------------------------------------------------------------------------- */

gboolean cover_pixel_at(const CoverScene *s, DtPoint p, size_t *i)
{
    const int x = (int)floor((p.x - s->sheet.sheet.x0) * s->art.px_per_mm),
              y = (int)floor((s->sheet.sheet.y1 - p.y) * s->art.px_per_mm);
    if (x < 0 || y < 0 || x >= s->art.w || y >= s->art.h)
        return FALSE;
    *i = (size_t)y * (size_t)s->art.w + (size_t)x;
    return TRUE;
}

static gboolean mean_of(const CoverScene *s, const LookPicture *p, CoverStrip t, double *out,
                        int channels)
{
    const size_t n = n_pixels(p);
    double sum[3] = {0, 0, 0};
    int count = 0;
    for (double u = -t.along; u <= t.along + 1e-9; u += 0.1)
        for (double v = t.from; v <= t.to + 1e-9; v += 0.1) {
            size_t i;
            const DtPoint q = {t.at.x + t.way.x * u - t.way.y * v,
                               t.at.y + t.way.y * u + t.way.x * v};
            if (!cover_pixel_at(s, q, &i))
                return FALSE;
            for (int c = 0; c < channels; c++)
                sum[c] += p->rgb[(size_t)c * n + i];
            count++;
        }
    for (int c = 0; c < channels; c++)
        out[c] = sum[c] / count;
    return TRUE;
}

double cover_apart(const CoverScene *s, const LookPicture *p, const CoverStrip strip[3])
{
    DtLab lab[3];
    for (int k = 0; k < 3; k++) {
        double light[3];
        if (!mean_of(s, p, strip[k], light, 3))
            return 0;
        lab[k] = dt_colour_lab_linear(light[0], light[1], light[2]);
    }
    return MIN(dt_colour_difference(lab[0], lab[1]), dt_colour_difference(lab[0], lab[2]));
}

void cover_strips(DtPoint at, DtPoint way, double half, double inner, double along,
                  CoverStrip strip[3])
{
    strip[0] = (CoverStrip){at, way, 0.1, -inner, inner};
    strip[1] = (CoverStrip){at, way, along, half + 0.15, half + 0.45};
    strip[2] = (CoverStrip){at, way, along, -half - 0.45, -half - 0.15};
}

static gboolean is_nearest_to_paper(DtLab paint)
{
    const double apart = dt_colour_difference(paint, dt_colour_lab_linear(1, 1, 1));
    for (int pen = 0; pen < COVER_N_PENS; pen++)
        if (dt_colour_difference(paint, dt_colour_lab(cover_colour(cover_colours[pen]))) < apart)
            return FALSE;
    return TRUE;
}

/* Whether a line that is nearer to the paper than to any ink is bare, and as light as one of its sides or lighter. If
 * it is not apart from a side in ink, that is bare, too, or hatched so openly that no gap is seen: only another pen
 * would show it, and it would be darker than that side, where the artwork is not. */
static gboolean is_bare(const CoverScene *s, DtLab paint, const CoverStrip art[3],
                        const CoverStrip *ink)
{
    const DtLab paper = dt_colour_lab_linear(1, 1, 1);
    double light[3];
    gboolean as_light = FALSE;
    for (int k = 1; k < 3; k++)
        as_light |= mean_of(s, &s->art, art[k], light, 3) &&
                    dt_colour_lab_linear(light[0], light[1], light[2]).l < paint.l + AS_LIGHT;
    return as_light && is_nearest_to_paper(paint) && mean_of(s, &s->clear, *ink, light, 3) &&
           dt_colour_difference(dt_colour_lab_linear(light[0], light[1], light[2]), paper) <
               COVER_ONE_PAINT;
}

int cover_cause(const CoverScene *s, DtLab paint, const CoverStrip art[3],
                const CoverStrip strip[3])
{
    double own[COVER_N_PENS], beside[2] = {0, 0}, field;
    int line = -1;
    if (is_bare(s, paint, art, &strip[0]))
        return COVER_BARE;
    for (int pen = 0; pen < COVER_N_PENS; pen++) {
        if (!mean_of(s, &s->own[pen], strip[0], &own[pen], 1))
            return COVER_NO_ROOM;
        if (1 - own[pen] > 0.5)
            line = pen; /* the lightest */
        for (int k = 0; k < 2; k++) {
            double side = 1;
            if (mean_of(s, &s->own[pen], strip[k + 1], &side, 1))
                beside[k] += 1 - side;
        }
    }
    if (MAX(beside[0], beside[1]) > CROWDED)
        return COVER_NO_ROOM;
    if (line < 0)
        return COVER_NOT_DRAWN;
    for (int pen = 0; pen < line; pen++)
        if (mean_of(s, &s->fields[pen], strip[0], &field, 1) && 1 - field > 0.5)
            return COVER_COVERED;
    return COVER_ALIKE;
}

gboolean cover_has_edges(const CoverScene *s, const LookPicture *p, DtPoint at, DtPoint way)
{
    for (int k = 0; k < N_ASIDE; k++) {
        const double aside = COVER_TIP / 2 + asides[k];
        const CoverStrip strip[3] = {
            {at, way, 0.1, 0, 0}, {at, way, 0.1, aside, aside}, {at, way, 0.1, -aside, -aside}};
        if (cover_apart(s, p, strip) < APART_IN_INK)
            return FALSE;
    }
    return TRUE;
}

gboolean cover_is_shown(const CoverScene *s, const LookPicture *p, const CoverStrip art[3],
                        const CoverStrip ink[3])
{
    return cover_apart(s, p, ink) >= APART_IN_INK || cover_apart(s, p, art) >= APART_IN_INK;
}

gboolean cover_art_at(const CoverScene *s, DtPoint at, DtLab *lab)
{
    size_t i;
    if (!cover_pixel_at(s, at, &i))
        return FALSE;
    const size_t n = n_pixels(&s->art);
    *lab = dt_colour_lab_linear(s->art.rgb[i], s->art.rgb[n + i], s->art.rgb[2 * n + i]);
    return TRUE;
}

gboolean cover_paint_is_apart(const CoverScene *s, DtLab paint, const CoverStrip strip[3])
{
    for (int k = 1; k < 3; k++) {
        double light[3];
        if (!mean_of(s, &s->art, strip[k], light, 3) ||
            dt_colour_difference(paint, dt_colour_lab_linear(light[0], light[1], light[2])) <
                COVER_APART_IN_ART)
            return FALSE;
    }
    return TRUE;
}

gboolean cover_written(const CoverScene *s, CoverStrip t, double out[3])
{
    if (!mean_of(s, &s->art, t, out, 3))
        return FALSE;
    for (int c = 0; c < 3; c++)
        out[c] = out[c] <= 0.0031308 ? out[c] * 12.92 : 1.055 * pow(out[c], 1 / 2.4) - 0.055;
    return TRUE;
}

/* The share of a line's paint at a place, mixed with the colour of a side, by the component in which they
 * differ most. */
static double share_of_paint(const double at[3], DtColour paint, const double side[3])
{
    const double own[3] = {paint.r, paint.g, paint.b};
    int best = 0;
    for (int c = 1; c < 3; c++)
        if (fabs(own[c] - side[c]) > fabs(own[best] - side[best]))
            best = c;
    const double apart = own[best] - side[best];
    return apart == 0 ? 0 : CLAMP((at[best] - side[best]) / apart, 0, 1);
}

double cover_width_shown(const CoverScene *s, const CoverStrip strip[3], double width,
                         DtColour paint)
{
    const double reach = width / 2 + 3.0 / COVER_PX_PER_MM, step = 0.5 / COVER_PX_PER_MM;
    double side[2][3], own[3], sum = 0;
    if (!cover_written(s, strip[1], side[0]) || !cover_written(s, strip[2], side[1]))
        return 0;
    for (double v = -reach; v <= reach; v += step)
        if (cover_written(s, (CoverStrip){strip[0].at, strip[0].way, 0, v, v}, own))
            sum += step *
                   MIN(share_of_paint(own, paint, side[0]), share_of_paint(own, paint, side[1]));
    return sum;
}

gboolean cover_is_beside_its_like(const CoverScene *s, DtPoint at, DtPoint way, double width,
                                  DtLab paint)
{
    for (int side = -1; side <= 1; side += 2) {
        int bands = 0;
        gboolean last = TRUE;
        for (double v = width / 2; v < 1.5 * COVER_TIP + GAP; v += 0.5 / COVER_PX_PER_MM) {
            const DtPoint q = {at.x - way.y * v * side, at.y + way.x * v * side};
            DtLab lab;
            if (!cover_art_at(s, q, &lab))
                break;
            const gboolean like = dt_colour_difference(lab, paint) < COVER_APART_IN_ART ||
                                  (is_nearest_to_paper(lab) && is_nearest_to_paper(paint));
            bands += like && !last;
            if (!like && last && bands > 0)
                return TRUE;
            last = like;
        }
    }
    return FALSE;
}

gboolean cover_is_on_page(const CoverScene *s, DtPoint at)
{
    const DtPoint p = dt_affine_apply(s->to_page, at);
    return p.x >= 0 && p.y >= 0 && p.x <= s->page_w && p.y <= s->page_h;
}
