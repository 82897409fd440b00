/* corpus-ink: fills, shape by shape. */
#include "corpus-ink-fills.h"

#include "support/geos-region.h"
#include "support/shapes.h"
#include "ink/fill/fit.h"
#include "ink/plane/region.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define ANGLE (G_PI / 4)
#define CLOSE 0.005     /* length times pitch to the area */
#define EVERY_LINE 5    /* of the hatch is held against GEOS */
#define POINTS 40       /* tried in each shape */
#define ARC 64          /* chords of GEOS in a quarter turn */
#define REACH_PITCHES 8 /* as in the product */

void fill_totals_init(FillTotals *t)
{
    memset(t, 0, sizeof *t);
    t->apart = g_array_new(FALSE, FALSE, sizeof(double));
}

void fill_totals_clear(FillTotals *t)
{
    g_array_free(t->apart, TRUE);
}

/* Length of one hatch line inside, by GEOS. */
static double geos_line(GEOSContextHandle_t g, const GEOSGeometry *area, int32_t line,
                        DtHatchGrid grid)
{
    double v = grid.shift + line * grid.pitch, c = cos(ANGLE), s = sin(ANGLE), length = 0;
    GEOSCoordSequence *q = GEOSCoordSeq_create_r(g, 2, 2);
    GEOSCoordSeq_setXY_r(g, q, 0, -v * s - 1000 * c, v * c - 1000 * s);
    GEOSCoordSeq_setXY_r(g, q, 1, -v * s + 1000 * c, v * c + 1000 * s);
    GEOSGeometry *one = GEOSGeom_createLineString_r(g, q);
    GEOSGeometry *cut = GEOSIntersection_r(g, one, area);
    if (cut) {
        GEOSLength_r(g, cut, &length);
        GEOSGeom_destroy_r(g, cut);
    }
    GEOSGeom_destroy_r(g, one);
    return length;
}

static void judge_lines(GEOSContextHandle_t g, const DtHatching *h, const DtLines *inset,
                        FillTotals *t)
{
    GEOSGeometry *area = geos_from_rings(g, inset);
    for (size_t i = 0; i < h->n;) {
        int32_t line = h->c[2 * i].line;
        double ours = 0;
        for (; i < h->n && h->c[2 * i].line == line; i++)
            ours += h->c[2 * i + 1].u - h->c[2 * i].u;
        if (line % EVERY_LINE)
            continue;
        t->lines++;
        t->wrong_lines += !(fabs(ours - geos_line(g, area, line, h->grid)) < 1e-6);
    }
    GEOSGeom_destroy_r(g, area);
}

static void judge_points(const DtLines *inset, const DtLines *hatch, double tip, double pitch,
                         FillTotals *t)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(1);
    DtBox b = dt_lines_box(inset);
    for (int i = 0; i < POINTS; i++) {
        DtPoint p = {b.x0 + g_rand_double(rand) * dt_box_width(b),
                     b.y0 + g_rand_double(rand) * dt_box_height(b)};
        if (!dt_lines_inside(inset, DT_FILL_NONZERO, p))
            continue;
        t->points++;
        if (MIN(distance_to_edges(hatch, p), distance_to_edges(inset, p)) > pitch / 2 + tip / 2)
            t->bare_points++;
    }
    for (size_t i = 0; i + 1 < hatch->n_pts; i++) {
        DtPoint p = dt_point_lerp(hatch->pts[i], hatch->pts[i + 1], 0.5);
        gboolean joined = dt_point_distance(hatch->pts[i], hatch->pts[i + 1]) < 4 * pitch;
        if (joined && distance_to_edges(hatch, p) < 1e-9 &&
            !dt_lines_inside(inset, DT_FILL_NONZERO, p) && distance_to_edges(inset, p) > 0.01)
            t->joins_outside++;
    }
}

static void judge_area(GEOSContextHandle_t g, const DtLines *clean, double by, double length_mm2,
                       FillTotals *t)
{
    GEOSGeometry *whole = geos_from_rings(g, clean), *inset = GEOSBuffer_r(g, whole, -by, ARC);
    double area = inset ? geos_area(g, inset) : 0;
    if (area > 0) {
        double apart = fabs(length_mm2 - area) / area;
        g_array_append_val(t->apart, apart);
        t->length_mm2 += length_mm2;
        t->area_mm2 += area;
        if (apart > CLOSE)
            printf(
                "length times pitch %.4f mm2 is %.2f %% off the inset's %.4f mm2 (shape of %.2f x "
                "%.2f mm)\n",
                length_mm2, 100 * apart, area, dt_box_width(dt_lines_box(clean)),
                dt_box_height(dt_lines_box(clean)));
    }
    if (inset)
        GEOSGeom_destroy_r(g, inset);
    GEOSGeom_destroy_r(g, whole);
}

/* A shape's hatch, as the product lays it, with GEOS beside it. */
typedef struct {
    GEOSContextHandle_t g;
    FillTotals *t;
    DtLines joined;
    double length_mm2; /* length times the pitch of each piece */
    size_t intervals;
} Hatched;

static void judge_piece(const DtHatching *h, const DtLines *piece, void *user)
{
    Hatched *to = user;
    judge_lines(to->g, h, piece, to->t);
    dt_hatch_serpentine(h, piece, REACH_PITCHES * h->grid.pitch, &to->joined);
    to->length_mm2 += dt_hatch_length(h) * h->grid.pitch;
    to->intervals += h->n;
}

static void judge_inset(Hatched *to, const DtLines *clean, const DtLines *inset, double tip)
{
    DtHatchGrid sheet = {ANGLE, tip, 0};
    if (!dt_hatch_pieces(inset, sheet, DT_HATCH_SINGLE, DT_FIT_PITCH, judge_piece, to, NULL) ||
        to->intervals == 0)
        return;
    judge_points(inset, &to->joined, tip, tip, to->t);
    DtBox b = dt_lines_box(clean);
    if (MIN(dt_box_width(b), dt_box_height(b)) < 5 * tip)
        return;
    to->t->shapes++;
    to->t->intervals += to->intervals;
    to->t->lifts += to->joined.n;
    judge_area(to->g, clean, tip / 2, to->length_mm2, to->t);
}

static void judge_shape(GEOSContextHandle_t g, const DtShape *s, double tip, FillTotals *t)
{
    g_auto(DtLines) clean, inset;
    dt_lines_init(&clean);
    dt_lines_init(&inset);
    DtPlaneRule rule = s->rule == DT_FILL_EVENODD ? DT_PLANE_EVENODD : DT_PLANE_NONZERO;
    Hatched to = {.g = g, .t = t};
    dt_lines_init(&to.joined);
    if (dt_region_clean(&s->outline, rule, &clean, NULL) &&
        dt_region_inset(&clean, tip / 2, &inset, NULL))
        judge_inset(&to, &clean, &inset, tip);
    dt_lines_clear(&to.joined);
}

void judge_fills(const DtDrawing *d, double tip, FillTotals *t)
{
    GEOSContextHandle_t g = GEOS_init_r();
    for (size_t i = 0; i < d->n_shapes; i++)
        if (d->shapes[i].fill.kind != DT_PAINT_NONE && d->shapes[i].outline.n_pts < 4000)
            judge_shape(g, &d->shapes[i], tip, t);
    GEOS_finish_r(g);
}

static int by_value(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

void print_fill_totals(FillTotals *t)
{
    g_array_sort(t->apart, by_value);
    guint n = t->apart->len, within = 0;
    while (within < n && g_array_index(t->apart, double, within) <= CLOSE)
        within++;
    printf(
        "fills larger than 5 pens: %zu; length times pitch is %.4f %% off the inset area in all,\n",
        t->shapes, t->area_mm2 > 0 ? 100 * (t->length_mm2 / t->area_mm2 - 1) : 0);
    printf("  within 0.5 %% for %u of %u shapes, median %.4f %%\n", within, n,
           n ? 100 * g_array_index(t->apart, double, n / 2) : 0);
    printf("hatch lines held against GEOS: %zu, off by more than 1e-6 mm: %zu\n", t->lines,
           t->wrong_lines);
    printf("points inside insets: %zu, without ink near enough: %zu\n", t->points, t->bare_points);
    printf("pen lifts: plain %zu, joined %zu (1 in %.1f); joins that leave the inset: %zu\n",
           t->intervals, t->lifts, t->lifts ? (double)t->intervals / (double)t->lifts : 0,
           t->joins_outside);
}
