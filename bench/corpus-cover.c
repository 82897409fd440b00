/* corpus-cover: whether lines of real drawings can still be seen once all pens have drawn: ./dev corpus
 * --cover [N] [DIR].
 *
 * Each drawing is planned with black, green and terracotta. The planned ink is painted pen by pen twice: by
 * opaque inks, lighter ones first, and by transparent ones. Along each stroke of the artwork up to three tips wide,
 * across each part as narrow of its flat fills, such as letters, and across what is as narrow in the picture beside any
 * edge of a shape, where librsvg's picture shows a line apart from both of its sides, the ink must show one, too: beside
 * its width, or by other ink along both of its edges. What it does not show is counted in mm by its cause. Three causes
 * are no loss that an order or a cut could save: no room for a gap; a bare line beside paper or among the gaps of an
 * open hatch, from which no ink can be taken away, unless both of its sides are lighter; and stretches shorter than the
 * tip is
 * wide, since ink has round ends of that width. COVER_SOLID plans densely, where no field gives way: then there must be
 * lines that are lost, or the witness is blind. COVER_PICTURES names a folder for pictures of drawings that lose a line,
 * by this witness or by the plan's own count; with COVER_PLACES each place that the ink does not show is written to
 * standard error: the drawing's number, the cause, mm on the bed, the width and the paint. */
#include "drawtrue/job.h"
#include "ink/paint/colour-difference.h"
#include "own-process.h"
#include "support/files.h"
#include "support/look.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define PROFILE "examples/workshop.ini"
#define PX_PER_MM 16 /* halved once it is painted */
#define TIP 0.4
#define LIMIT_S 60
#define STEP 0.2
/* Wider parts (mm) can have a pattern. */
#define WIDEST (3 * TIP)
/* Filled shapes of more points are not searched for narrow parts. */
#define MOST_POINTS 4000
/* Thinner lines hardly show in a picture of these pixels. */
#define THINNEST 0.12
/* So do those of which so little is left (mm); half of the above is what its picture's pixels round to. */
#define LEAST_SHOWN 0.08
/* A line is apart from its sides by so much in the artwork (CIEDE2000), and by so much in ink. */
#define APART_IN_ART 10.0
#define APART_IN_INK 4.0
/* Where this share of both sides is other lines' ink there is no room for a gap. */
#define CROWDED 0.2
/* A gap of this width (mm) is seen. */
#define GAP 0.3
/* Paints nearer than this (CIEDE2000) are one. */
#define ONE_PAINT 2.3
/* Paints whose L* differs by less than this are equally light. */
#define AS_LIGHT 3.0
/* A picture's pixels round widths to so much (mm). */
#define MOST_ROUNDED 0.2
enum { N_PENS = 3, N_SAVED = 3, N_CAUSES = 6 }; /* an order or a cut would save the first three */
/* Edges of a line are looked at so far (mm) from the ink's. */
static const double asides[] = {0.05, 0.125};
enum { N_ASIDE = G_N_ELEMENTS(asides) };
enum { COVERED, ALIKE, NOT_DRAWN, NO_ROOM, BARE, SHORT };

static const char *const causes[N_CAUSES] = {
    "under a darker pen", "no gap beside it",       "not drawn",
    "no room for a gap",  "bare beside bare paper", "less than a tip long"};
static const unsigned colours[N_PENS] = {0x1c1c1c, 0x2e7d32, 0xb5482f};

typedef struct {
    int good;
    double shown, lost[N_CAUSES], counted; /* mm; `counted` by the plan itself */
    double at[2];                          /* the last place lost by cover, mm on the bed */
} Result;

typedef struct {
    WitnessSheet sheet;
    DtAffine to_page; /* from the bed to the drawing, mm */
    double page_w, page_h;
    LookPicture art, opaque, clear;
    LookPicture own[N_PENS]; /* the lines of each pen alone, in black */
    LookPicture fields[N_PENS];
    unsigned *
        edge_of; /* of each pixel: the number of the shape whose edge was looked across there, plus one */
} Scene;

static DtColour colour_of(unsigned rgb)
{
    return (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1};
}

/* Pictures --------------------------------------------------------------------------------------- */

static gboolean is_line(const DtStroke *s)
{
    return s->kind == DT_INK_OUTLINE || s->kind == DT_INK_CENTRE;
}

/* The strokes of one pen that are lines, or fields, or both, painted in a colour. */
static void paint(const Scene *s, const DtStrokes *all, unsigned pen, gboolean lines,
                  gboolean fields, DtColour colour, LookPicture *out)
{
    g_auto(WitnessInk) ink = {0};
    const LookPen look = {{colour.r, colour.g, colour.b}, TIP};
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
static const unsigned light_first[N_PENS] = {1, 2, 0};

static void lay_pens(Scene *s)
{
    const size_t n = n_pixels(&s->art);
    LookPicture *both[2] = {&s->opaque, &s->clear};
    for (int k = 0; k < 2; k++) {
        *both[k] = (LookPicture){s->art.w, s->art.h, s->art.px_per_mm, g_new(float, 3 * n), NULL};
        for (size_t i = 0; i < 3 * n; i++)
            both[k]->rgb[i] = 1;
    }
    for (int p = 0; p < N_PENS; p++) {
        const unsigned pen = light_first[p];
        const DtColour c = colour_of(colours[pen]);
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

static gboolean make_scene(const char *svg, const DtProfile *p, const DtJob *job, Scene *s,
                           GError **error)
{
    const double px = 96 / 25.4;
    s->sheet = (WitnessSheet){
        job->drawing->width * px,
        job->drawing->height * px,
        dt_affine_then(dt_affine_scale(1 / px, 1 / px), job->placed),
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        PX_PER_MM};
    s->page_w = job->drawing->width;
    s->page_h = job->drawing->height;
    if (!dt_affine_invert(job->placed, &s->to_page) || !look_of_art(svg, &s->sheet, &s->art, error))
        return FALSE;
    const DtColour black = {0, 0, 0, 1};
    for (unsigned pen = 0; pen < N_PENS; pen++) {
        paint(s, &job->strokes, pen, TRUE, FALSE, black, &s->own[pen]);
        paint(s, &job->strokes, pen, FALSE, TRUE, black, &s->fields[pen]);
    }
    lay_pens(s);
    s->edge_of = g_new0(unsigned, n_pixels(&s->art));
    return TRUE;
}

static void clear_scene(Scene *s)
{
    g_free(s->edge_of);
    look_clear(&s->art);
    look_clear(&s->opaque);
    look_clear(&s->clear);
    for (int pen = 0; pen < N_PENS; pen++) {
        look_clear(&s->own[pen]);
        look_clear(&s->fields[pen]);
    }
}

static double lost_mm(const Result *r)
{
    double sum = 0;
    for (int k = 0; k < N_SAVED; k++)
        sum += r->lost[k];
    return sum;
}

/* Looking ---------------------------------------------------------------------------------------- */

static gboolean pixel_at(const Scene *s, DtPoint p, size_t *i)
{
    const int x = (int)floor((p.x - s->sheet.sheet.x0) * s->art.px_per_mm),
              y = (int)floor((s->sheet.sheet.y1 - p.y) * s->art.px_per_mm);
    if (x < 0 || y < 0 || x >= s->art.w || y >= s->art.h)
        return FALSE;
    *i = (size_t)y * (size_t)s->art.w + (size_t)x;
    return TRUE;
}

/* A strip beside a line, or on it: the mean over `along` mm each way and from..to mm aside. */
typedef struct {
    DtPoint at, way;
    double along, from, to;
} Strip;

static gboolean mean_of(const Scene *s, const LookPicture *p, Strip t, double *out, int channels)
{
    const size_t n = n_pixels(p);
    double sum[3] = {0, 0, 0};
    int count = 0;
    for (double u = -t.along; u <= t.along + 1e-9; u += 0.1)
        for (double v = t.from; v <= t.to + 1e-9; v += 0.1) {
            size_t i;
            const DtPoint q = {t.at.x + t.way.x * u - t.way.y * v,
                               t.at.y + t.way.y * u + t.way.x * v};
            if (!pixel_at(s, q, &i))
                return FALSE;
            for (int c = 0; c < channels; c++)
                sum[c] += p->rgb[(size_t)c * n + i];
            count++;
        }
    for (int c = 0; c < channels; c++)
        out[c] = sum[c] / count;
    return TRUE;
}

/* The least difference of a line from either of its sides. */
static double apart(const Scene *s, const LookPicture *p, const Strip strip[3])
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

/* Strips on a line and on either side of it; `half` is half its width, `inner` half of what is looked at on it. */
static void make_strips(DtPoint at, DtPoint way, double half, double inner, double along,
                        Strip strip[3])
{
    strip[0] = (Strip){at, way, 0.1, -inner, inner};
    strip[1] = (Strip){at, way, along, half + 0.15, half + 0.45};
    strip[2] = (Strip){at, way, along, -half - 0.45, -half - 0.15};
}

static gboolean is_nearest_to_paper(DtLab paint)
{
    const double apart = dt_colour_difference(paint, dt_colour_lab_linear(1, 1, 1));
    for (int pen = 0; pen < N_PENS; pen++)
        if (dt_colour_difference(paint, dt_colour_lab(colour_of(colours[pen]))) < apart)
            return FALSE;
    return TRUE;
}

/* Whether a line that is nearer to the paper than to any ink is bare, and as light as one of its sides or lighter. If
 * it is not apart from a side in ink, that is bare, too, or hatched so openly that no gap is seen: only another pen
 * would show it, and it would be darker than that side, where the artwork is not. */
static gboolean is_bare(const Scene *s, DtLab paint, const Strip art[3], const Strip *ink)
{
    const DtLab paper = dt_colour_lab_linear(1, 1, 1);
    double light[3];
    gboolean as_light = FALSE;
    for (int k = 1; k < 3; k++)
        as_light |= mean_of(s, &s->art, art[k], light, 3) &&
                    dt_colour_lab_linear(light[0], light[1], light[2]).l < paint.l + AS_LIGHT;
    return as_light && is_nearest_to_paper(paint) && mean_of(s, &s->clear, *ink, light, 3) &&
           dt_colour_difference(dt_colour_lab_linear(light[0], light[1], light[2]), paper) <
               ONE_PAINT;
}

static int cause_of(const Scene *s, DtLab paint, const Strip art[3], const Strip strip[3])
{
    double own[N_PENS], beside[2] = {0, 0}, field;
    int line = -1;
    if (is_bare(s, paint, art, &strip[0]))
        return BARE;
    for (int pen = 0; pen < N_PENS; pen++) {
        if (!mean_of(s, &s->own[pen], strip[0], &own[pen], 1))
            return NO_ROOM;
        if (1 - own[pen] > 0.5)
            line = pen; /* the lightest */
        for (int k = 0; k < 2; k++) {
            double side = 1;
            if (mean_of(s, &s->own[pen], strip[k + 1], &side, 1))
                beside[k] += 1 - side;
        }
    }
    if (MAX(beside[0], beside[1]) > CROWDED)
        return NO_ROOM;
    if (line < 0)
        return NOT_DRAWN;
    for (int pen = 0; pen < line; pen++)
        if (mean_of(s, &s->fields[pen], strip[0], &field, 1) && 1 - field > 0.5)
            return COVERED;
    return ALIKE;
}

/* Whether a line along the middle has other ink, or none, all along both of its edges: white edges of a black line in a
 * black field are seen, though they are too thin for the means above. */
static gboolean has_edges(const Scene *s, const LookPicture *p, DtPoint at, DtPoint way)
{
    for (int k = 0; k < N_ASIDE; k++) {
        const double aside = TIP / 2 + asides[k];
        const Strip strip[3] = {
            {at, way, 0.1, 0, 0}, {at, way, 0.1, aside, aside}, {at, way, 0.1, -aside, -aside}};
        if (apart(s, p, strip) < APART_IN_INK)
            return FALSE;
    }
    return TRUE;
}

/* Whether ink shows a line beside its own width, or in the very places where the artwork does: a line at a
 * corner of a field is apart from it only near by. */
static gboolean is_shown(const Scene *s, const LookPicture *p, const Strip art[3],
                         const Strip ink[3])
{
    return apart(s, p, ink) >= APART_IN_INK || apart(s, p, art) >= APART_IN_INK;
}

static gboolean art_at(const Scene *s, DtPoint at, DtLab *lab)
{
    size_t i;
    if (!pixel_at(s, at, &i))
        return FALSE;
    const size_t n = n_pixels(&s->art);
    *lab = dt_colour_lab_linear(s->art.rgb[i], s->art.rgb[n + i], s->art.rgb[2 * n + i]);
    return TRUE;
}

/* Whether a paint is apart from what lies on either side. Along a white edge of a black field on white paper
 * it is not: what the picture shows there is pixels that both share. */
static gboolean paint_is_apart(const Scene *s, DtLab paint, const Strip strip[3])
{
    for (int k = 1; k < 3; k++) {
        double light[3];
        if (!mean_of(s, &s->art, strip[k], light, 3) ||
            dt_colour_difference(paint, dt_colour_lab_linear(light[0], light[1], light[2])) <
                APART_IN_ART)
            return FALSE;
    }
    return TRUE;
}

/* A colour of the artwork as it is written, where librsvg mixes a line's paint with what is beside it: the mean
 * of a strip. */
static gboolean written(const Scene *s, Strip t, double out[3])
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

/* How wide a line shows between its sides, mm: another shape may cover it but for one of its edges. */
static double width_shown(const Scene *s, const Strip strip[3], double width, DtColour paint)
{
    const double reach = width / 2 + 3.0 / PX_PER_MM, step = 0.5 / PX_PER_MM;
    double side[2][3], own[3], sum = 0;
    if (!written(s, strip[1], side[0]) || !written(s, strip[2], side[1]))
        return 0;
    for (double v = -reach; v <= reach; v += step)
        if (written(s, (Strip){strip[0].at, strip[0].way, 0, v, v}, own))
            sum += step *
                   MIN(share_of_paint(own, paint, side[0]), share_of_paint(own, paint, side[1]));
    return sum;
}

/* Whether a band of a line's own colour, or bare as the line is, runs so near beside it that two lines of the tip's
 * width and a gap have no room from the line's middle to the band's far edge. */
static gboolean is_beside_its_like(const Scene *s, DtPoint at, DtPoint way, double width,
                                   DtLab paint)
{
    for (int side = -1; side <= 1; side += 2) {
        int bands = 0;
        gboolean last = TRUE;
        for (double v = width / 2; v < 1.5 * TIP + GAP; v += 0.5 / PX_PER_MM) {
            const DtPoint q = {at.x - way.y * v * side, at.y + way.x * v * side};
            DtLab lab;
            if (!art_at(s, q, &lab))
                break;
            const gboolean like = dt_colour_difference(lab, paint) < APART_IN_ART ||
                                  (is_nearest_to_paper(lab) && is_nearest_to_paper(paint));
            bands += like && !last;
            if (!like && last && bands > 0)
                return TRUE;
            last = like;
        }
    }
    return FALSE;
}

/* librsvg's picture goes on beyond the page, where nothing is drawn. */
static gboolean is_on_page(const Scene *s, DtPoint at)
{
    const DtPoint p = dt_affine_apply(s->to_page, at);
    return p.x >= 0 && p.y >= 0 && p.x <= s->page_w && p.y <= s->page_h;
}

/* A stretch of a line that the ink does not show. */
typedef struct {
    double lost[N_CAUSES]; /* mm */
    DtPoint at;            /* the last place that an order or a cut would save */
} Stretch;

static void end_stretch(Stretch *t, double least, Result *r)
{
    double saved = 0;
    for (int k = 0; k < N_SAVED; k++)
        saved += t->lost[k];
    const gboolean is_short = saved < least;
    for (int k = 0; k < N_CAUSES; k++)
        r->lost[is_short && k < N_SAVED ? SHORT : k] += t->lost[k];
    if (!is_short) {
        r->at[0] = t->at.x;
        r->at[1] = t->at.y;
    }
    *t = (Stretch){.lost = {0}};
}

/* A line, or a narrow part of a fill. */
typedef struct {
    double width; /* mm */
    DtColour colour;
    unsigned number;
} Line;

/* Whether the ink shows a place of a line, across its width or along its middle. */
static gboolean is_seen_in_ink(const Scene *s, DtPoint at, DtPoint way, double width)
{
    const double inner[2] = {MAX(width - TIP, 0) / 2, 0};
    Strip art[3], ink[3];
    for (int k = 0; k < (inner[0] > 0 ? 2 : 1); k++) {
        make_strips(at, way, width / 2, inner[k], 0.2, art);
        make_strips(at, way, MAX(width, TIP) / 2, inner[k], 1, ink);
        if (is_shown(s, &s->opaque, art, ink) && is_shown(s, &s->clear, art, ink))
            return TRUE;
    }
    return has_edges(s, &s->opaque, at, way) && has_edges(s, &s->clear, at, way);
}

/* Looks at a place for `mm` of a line; stretches of less than `mm_least` are short. */
static void look_at(const Scene *s, DtPoint at, DtPoint way, const Line *l, double mm,
                    double mm_least, Stretch *t, Result *r)
{
    const DtLab paint = dt_colour_lab(l->colour);
    Strip art[3], ink[3];
    make_strips(at, way, l->width / 2, 0, 0.2, art);
    if (!is_on_page(s, at) || apart(s, &s->art, art) < APART_IN_ART ||
        !paint_is_apart(s, paint, art) || width_shown(s, art, l->width, l->colour) < LEAST_SHOWN)
        return;
    r->shown += mm;
    if (is_seen_in_ink(s, at, way, l->width)) {
        end_stretch(t, mm_least, r);
        return;
    }
    make_strips(at, way, MAX(l->width, TIP) / 2, 0, 1, ink);
    const int cause =
        is_beside_its_like(s, at, way, l->width, paint) ? NO_ROOM : cause_of(s, paint, art, ink);
    if (g_getenv("COVER_PLACES"))
        fprintf(stderr, "%u %s at %.1f, %.1f: %.2f wide #%02x%02x%02x\n", l->number, causes[cause],
                at.x, at.y, l->width, (unsigned)lround(l->colour.r * 255),
                (unsigned)lround(l->colour.g * 255), (unsigned)lround(l->colour.b * 255));
    t->lost[cause] += mm;
    if (cause < N_SAVED)
        t->at = at;
}

static void look_along(const Scene *s, DtPoint a, DtPoint b, const Line *l, Stretch *t, Result *r)
{
    const double length = dt_point_distance(a, b);
    const int n = MAX(1, (int)(length / STEP));
    if (!(length > 0))
        return;
    const DtPoint way = dt_point_scale(dt_point_sub(b, a), 1 / length);
    for (int i = 0; i < n; i++)
        look_at(s, dt_point_lerp(a, b, (i + 0.5) / n), way, l, length / n, TIP, t, r);
}

/* How far from a point, in a direction of unit length, an outline is crossed, if nearer than `most`. */
static double distance_along(const DtLines *outline, DtPoint from, DtPoint way, double most)
{
    for (size_t i = 0; i < outline->n; i++) {
        const DtPoint *p = dt_lines_at(outline, i);
        const size_t n = dt_lines_count(outline, i);
        for (size_t k = 0; k < n; k++) {
            const DtPoint ab = dt_point_sub(p[(k + 1) % n], p[k]), to = dt_point_sub(p[k], from);
            const double turn = way.x * ab.y - way.y * ab.x;
            if (turn == 0)
                continue;
            const double along = (to.x * ab.y - to.y * ab.x) / turn,
                         share = (to.x * way.y - to.y * way.x) / turn;
            if (share >= 0 && share <= 1 && along > 1e-6)
                most = MIN(most, along);
        }
    }
    return most;
}

/* A place on the edge of a shape, and the way into what is looked across from there. */
typedef struct {
    DtPoint at, way, inward;
    double mm;
    unsigned number; /* of the shape */
} EdgePlace;

/* Whether no other shape's edge was looked across here: that of a neighbour may be the same. */
static gboolean is_first(const Scene *s, const EdgePlace *e)
{
    const DtPoint inside = {e->at.x + e->inward.x / PX_PER_MM, e->at.y + e->inward.y / PX_PER_MM};
    size_t i;
    if (!pixel_at(s, inside, &i) || (s->edge_of[i] > 0 && s->edge_of[i] != e->number + 1))
        return FALSE;
    s->edge_of[i] = e->number + 1;
    return TRUE;
}

/* What the artwork's picture shows on one side of an edge up to where its colour changes: shapes that lie over one
 * another leave narrow parts that are no shape's own. FALSE if that is not narrow, or of no one colour. */
static gboolean find_visible(const Scene *s, const EdgePlace *e, Line *l)
{
    const double step = 0.5 / PX_PER_MM;
    DtLab lab[2], own = {0};
    double core = -1;
    for (double v = step; v < WIDEST + 4 * step; v += step) {
        const DtPoint q[2] = {
            {e->at.x + e->inward.x * v, e->at.y + e->inward.y * v},
            {e->at.x + e->inward.x * (v + 3 * step), e->at.y + e->inward.y * (v + 3 * step)}};
        if (!art_at(s, q[0], &lab[0]) || !art_at(s, q[1], &lab[1]))
            return FALSE;
        if (core < 0 && dt_colour_difference(lab[0], lab[1]) < ONE_PAINT) {
            if (v > 5 * step)
                return FALSE;
            core = v;
            own = lab[0];
            double light[3], *rgb[3] = {&l->colour.r, &l->colour.g, &l->colour.b};
            if (!written(s, (Strip){q[0], e->way, 0, 0, 0}, light))
                return FALSE;
            for (int c = 0; c < 3; c++)
                *rgb[c] = light[c];
            l->colour.alpha = 1;
        } else if (core >= 0 && dt_colour_difference(lab[0], own) >= APART_IN_ART / 2) {
            l->width = v;
            l->number = e->number;
            return v < WIDEST;
        }
    }
    return FALSE;
}

static void look_at_middle(const Scene *s, const EdgePlace *e, const Line *l, Stretch *t, Result *r)
{
    const DtPoint middle = {e->at.x + e->inward.x * l->width / 2,
                            e->at.y + e->inward.y * l->width / 2};
    look_at(s, middle, e->way, l, e->mm / 2, TIP / 2, t, r); /* it is met from both edges */
}

/* Looks across what is on one side of an edge: part of the shape itself, or what is visible there. */
static void look_across(const Scene *s, const DtShape *shape, const EdgePlace *e, Stretch *t,
                        Result *r)
{
    const Line own = {distance_along(&shape->outline, e->at, e->inward, WIDEST), shape->fill.colour,
                      e->number};
    Line seen;
    if (!is_first(s, e))
        return;
    if (find_visible(s, e, &seen) && fabs(seen.width - own.width) > MOST_ROUNDED)
        look_at_middle(s, e, &seen, t, r);
    else if (own.width >= THINNEST && own.width < WIDEST)
        look_at_middle(s, e, &own, t, r);
}

static void look_at_fill(const Scene *s, const DtShape *shape, unsigned number, Result *r)
{
    if (shape->fill.kind != DT_PAINT_FLAT || shape->fill.colour.alpha < 0.99 ||
        shape->outline.n_pts > MOST_POINTS)
        return;
    for (size_t i = 0; i < shape->outline.n; i++) {
        const DtPoint *p = dt_lines_at(&shape->outline, i);
        const size_t n = dt_lines_count(&shape->outline, i);
        Stretch t[2] = {{.lost = {0}}, {.lost = {0}}};
        for (size_t k = 0; k < n; k++) {
            const DtPoint a = p[k], b = p[(k + 1) % n];
            const double length = dt_point_distance(a, b);
            const int steps = MAX(1, (int)(length / STEP));
            if (!(length > 0))
                continue;
            const DtPoint way = dt_point_scale(dt_point_sub(b, a), 1 / length);
            for (int j = 0; j < 2 * steps; j++) {
                const double side = j % 2 ? 1 : -1;
                const EdgePlace e = {dt_point_lerp(a, b, (j / 2 + 0.5) / steps),
                                     way,
                                     {-way.y * side, way.x * side},
                                     length / steps,
                                     number};
                look_across(s, shape, &e, &t[j % 2], r);
            }
        }
        end_stretch(&t[0], TIP / 2, r);
        end_stretch(&t[1], TIP / 2, r);
    }
}

/* A stroke of its fill's own paint is the fill's edge, and no line. */
static gboolean is_edge_of_fill(const DtShape *shape)
{
    return shape->fill.kind == DT_PAINT_FLAT && shape->fill.colour.alpha > 0.99 &&
           dt_ink_colour_distance(shape->fill.colour, shape->stroke.paint.colour) < ONE_PAINT;
}

static void look_at_stroke(const Scene *s, const DtShape *shape, unsigned number, Result *r)
{
    const Line l = {dt_art_stroke_width_mm(&shape->stroke), shape->stroke.paint.colour, number};
    if (is_edge_of_fill(shape) || shape->stroke.paint.kind != DT_PAINT_FLAT ||
        l.colour.alpha < 0.99 || l.width < THINNEST || l.width >= WIDEST)
        return;
    for (size_t i = 0; i < shape->outline.n; i++) {
        const DtPoint *p = dt_lines_at(&shape->outline, i);
        const size_t n = dt_lines_count(&shape->outline, i);
        Stretch t = {.lost = {0}};
        for (size_t k = 0; k + (shape->outline.closed[i] ? 0 : 1) < n; k++)
            look_along(s, p[k], p[(k + 1) % n], &l, &t, r);
        end_stretch(&t, TIP, r);
    }
}

/* Looks across what borders on a stroke, and across what is visible of a wide one. */
static void look_beside_stroke(const Scene *s, const DtShape *shape, unsigned number, Result *r)
{
    const double width = dt_art_stroke_width_mm(&shape->stroke);
    if (shape->stroke.paint.kind == DT_PAINT_NONE || width < THINNEST ||
        shape->outline.n_pts > MOST_POINTS)
        return;
    for (size_t i = 0; i < shape->outline.n; i++) {
        const DtPoint *p = dt_lines_at(&shape->outline, i);
        const size_t n = dt_lines_count(&shape->outline, i);
        Stretch t[4] = {{.lost = {0}}, {.lost = {0}}, {.lost = {0}}, {.lost = {0}}};
        for (size_t k = 0; k + (shape->outline.closed[i] ? 0 : 1) < n; k++) {
            const DtPoint a = p[k], b = p[(k + 1) % n];
            const double length = dt_point_distance(a, b);
            const int steps = MAX(1, (int)(length / STEP));
            if (!(length > 0))
                continue;
            const DtPoint way = dt_point_scale(dt_point_sub(b, a), 1 / length);
            for (int j = 0; j < 4 * steps; j++) {
                const double edge = j & 1 ? 1 : -1, side = j & 2 ? edge : -edge;
                const DtPoint at = dt_point_lerp(a, b, (j / 4 + 0.5) / steps);
                const EdgePlace e = {
                    {at.x - way.y * edge * width / 2, at.y + way.x * edge * width / 2},
                    way,
                    {-way.y * side, way.x * side},
                    length / steps,
                    number};
                Line seen;
                if ((side == edge || width >= WIDEST) && is_first(s, &e) &&
                    find_visible(s, &e, &seen))
                    look_at_middle(s, &e, &seen, &t[j % 4], r);
            }
        }
        for (int k = 0; k < 4; k++)
            end_stretch(&t[k], TIP / 2, r);
    }
}

static void try_drawing(const char *svg, unsigned number, void *filled)
{
    Result *r = filled;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    static const char *const names[N_PENS] = {"black", "green", "terracotta"};
    DtPen pens[N_PENS];
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    Scene s = {.art = {0}};
    if (!p)
        return;
    for (int i = 0; i < N_PENS; i++)
        pens[i] = (DtPen){.name = (char *)(gsize)names[i],
                          .colour = colour_of(colours[i]),
                          .tip = TIP,
                          .dot_gain = 1};
    const DtRack own = p->rack;
    p->rack = (DtRack){pens, N_PENS};
    o.route.iterations = 0;
    o.ink.solid = g_getenv("COVER_SOLID") != NULL;
    r->good = dt_job_plan(p, svg, &o, &job, NULL, &error) && make_scene(svg, p, &job, &s, &error);
    p->rack = own;
    if (!r->good) {
        fprintf(stderr, "%s: %s\n", svg, error->message);
        return;
    }
    r->counted = job.colours.lost_mm + job.colours.unseen_mm;
    for (size_t i = 0; i < job.drawing->n_shapes; i++) {
        look_at_stroke(&s, &job.drawing->shapes[i], number, r);
        look_at_fill(&s, &job.drawing->shapes[i], number, r);
        look_beside_stroke(&s, &job.drawing->shapes[i], number, r);
    }
    const char *folder = g_getenv("COVER_PICTURES");
    if (folder && (lost_mm(r) > 0 || r->lost[BARE] >= 1 || r->counted >= 1)) {
        const LookPicture *both[2] = {&s.art, &s.clear};
        g_autofree char *path = g_strdup_printf("%s/%04u.png", folder, number);
        look_write_png(both, 2, path);
    }
    clear_scene(&s);
}

static void try_apart(const char *svg, unsigned number, Result *result)
{
    if (!drawing_in_own_process(svg, number, try_drawing, result, sizeof *result, LIMIT_S))
        result->good = FALSE;
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 800, &error);
    Result sum = {0}, r;
    unsigned good = 0, with_lines = 0, losing = 0;
    if (!files) {
        fprintf(stderr, "corpus-cover: %s\n", error->message);
        return error->code;
    }
    for (guint i = 0; i < files->len; i++) {
        try_apart(files->pdata[i], i, &r);
        if (!r.good) {
            fprintf(stderr, "%s: not planned\n", (char *)files->pdata[i]);
            continue;
        }
        good++;
        with_lines += r.shown > 0;
        sum.shown += r.shown;
        sum.counted += r.counted;
        for (int k = 0; k < N_CAUSES; k++)
            sum.lost[k] += r.lost[k];
        const double lost = lost_mm(&r);
        losing += lost > 0;
        if (lost > 0 || r.counted >= 1) {
            g_autofree char *name = g_path_get_basename(files->pdata[i]);
            printf("%4u %-32.32s shown %8.1f mm, lost", i, name, r.shown);
            for (int k = 0; k < N_CAUSES; k++)
                printf(" %7.1f", r.lost[k]);
            printf(" (last at %.1f, %.1f); the plan counts %.1f\n", r.at[0], r.at[1], r.counted);
            fflush(stdout);
        }
    }
    printf("%u of %u drawings planned, %u with lines of up to three tips' width: %.0f mm that the "
           "artwork shows\n",
           good, files->len, with_lines, sum.shown);
    for (int k = 0; k < N_CAUSES; k++)
        printf("%-20s %10.1f mm  %.3f %%\n", causes[k], sum.lost[k],
               sum.shown > 0 ? 100 * sum.lost[k] / sum.shown : 0);
    printf("drawings that lose any that an order or a cut could save: %u; the plans count %.1f mm "
           "themselves\n",
           losing, sum.counted);
    return 0;
}
