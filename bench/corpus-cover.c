/* corpus-cover: whether lines of real drawings can still be seen once all pens have drawn: ./dev corpus
 * --cover [N] [DIR].
 *
 * Each drawing is planned with black, green and terracotta. The planned ink is painted pen by pen twice: by opaque
 * inks, lighter ones first, and by transparent ones. Along each stroke of the artwork up to three tips wide, across
 * each part as narrow of its flat fills, such as letters, and across what is as narrow in the picture beside any edge
 * of a shape, where librsvg's picture shows a line apart from both of its sides, the ink must show one, too: beside
 * its width, or by other ink along both of its edges. What it does not show is counted in mm by its cause. Three
 * causes are no loss that an order or a cut could save: no room for a gap; a bare line beside paper or among the gaps
 * of an open hatch, from which no ink can be taken away, unless both of its sides are lighter; and stretches shorter
 * than the tip is wide, since ink has round ends of that width. COVER_SOLID plans densely, where no field gives way:
 * then there must be lines that are lost, or the witness is blind. COVER_PICTURES names a folder for pictures of
 * drawings that lose a line, by this witness or by the plan's own count; with COVER_PLACES each place that the ink
 * does not show is written to standard error: the drawing's number, the cause, mm on the bed, the width and the paint. */
#include "cover-scene.h"
#include "own-process.h"
#include "support/files.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define PROFILE "examples/workshop.ini"
#define LIMIT_S 60
#define STEP 0.2
/* Wider parts (mm) can have a pattern. */
#define WIDEST (3 * COVER_TIP)
/* Filled shapes of more points are not searched for narrow parts. */
#define MOST_POINTS 4000
/* Thinner lines hardly show in a picture of these pixels. */
#define THINNEST 0.12
/* So do those of which so little is left (mm); half of the above is what its picture's pixels round to. */
#define LEAST_SHOWN 0.08
/* A picture's pixels round widths to so much (mm). */
#define MOST_ROUNDED 0.2

static const char *const causes[COVER_N_CAUSES] = {
    "under a darker pen", "no gap beside it",       "not drawn",
    "no room for a gap",  "bare beside bare paper", "less than a tip long"};

typedef struct {
    int good;
    double shown, lost[COVER_N_CAUSES], counted; /* mm; `counted` by the plan itself */
    double at[2];                                /* the last place lost by cover, mm on the bed */
} Result;

static double lost_mm(const Result *r)
{
    double sum = 0;
    for (int k = 0; k < COVER_N_SAVED; k++)
        sum += r->lost[k];
    return sum;
}

/* A stretch of a line that the ink does not show. */
typedef struct {
    double lost[COVER_N_CAUSES]; /* mm */
    DtPoint at;                  /* the last place that an order or a cut would save */
} Stretch;

static void end_stretch(Stretch *t, double least, Result *r)
{
    double saved = 0;
    for (int k = 0; k < COVER_N_SAVED; k++)
        saved += t->lost[k];
    const gboolean is_short = saved < least;
    for (int k = 0; k < COVER_N_CAUSES; k++)
        r->lost[is_short && k < COVER_N_SAVED ? COVER_SHORT : k] += t->lost[k];
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
static gboolean is_seen_in_ink(const CoverScene *s, DtPoint at, DtPoint way, double width)
{
    const double inner[2] = {MAX(width - COVER_TIP, 0) / 2, 0};
    CoverStrip art[3], ink[3];
    for (int k = 0; k < (inner[0] > 0 ? 2 : 1); k++) {
        cover_strips(at, way, width / 2, inner[k], 0.2, art);
        cover_strips(at, way, MAX(width, COVER_TIP) / 2, inner[k], 1, ink);
        if (cover_is_shown(s, &s->opaque, art, ink) && cover_is_shown(s, &s->clear, art, ink))
            return TRUE;
    }
    return cover_has_edges(s, &s->opaque, at, way) && cover_has_edges(s, &s->clear, at, way);
}

/* Looks at a place for `mm` of a line; stretches of less than `mm_least` are short. */
static void look_at(const CoverScene *s, DtPoint at, DtPoint way, const Line *l, double mm,
                    double mm_least, Stretch *t, Result *r)
{
    const DtLab paint = dt_colour_lab(l->colour);
    CoverStrip art[3], ink[3];
    cover_strips(at, way, l->width / 2, 0, 0.2, art);
    if (!cover_is_on_page(s, at) || cover_apart(s, &s->art, art) < COVER_APART_IN_ART ||
        !cover_paint_is_apart(s, paint, art) ||
        cover_width_shown(s, art, l->width, l->colour) < LEAST_SHOWN)
        return;
    r->shown += mm;
    if (is_seen_in_ink(s, at, way, l->width)) {
        end_stretch(t, mm_least, r);
        return;
    }
    cover_strips(at, way, MAX(l->width, COVER_TIP) / 2, 0, 1, ink);
    const int cause = cover_is_beside_its_like(s, at, way, l->width, paint)
                          ? COVER_NO_ROOM
                          : cover_cause(s, paint, art, ink);
    if (g_getenv("COVER_PLACES"))
        fprintf(stderr, "%u %s at %.1f, %.1f: %.2f wide #%02x%02x%02x\n", l->number, causes[cause],
                at.x, at.y, l->width, (unsigned)lround(l->colour.r * 255),
                (unsigned)lround(l->colour.g * 255), (unsigned)lround(l->colour.b * 255));
    t->lost[cause] += mm;
    if (cause < COVER_N_SAVED)
        t->at = at;
}

static void look_along(const CoverScene *s, DtPoint a, DtPoint b, const Line *l, Stretch *t,
                       Result *r)
{
    const double length = dt_point_distance(a, b);
    const int n = MAX(1, (int)(length / STEP));
    if (!(length > 0))
        return;
    const DtPoint way = dt_point_scale(dt_point_sub(b, a), 1 / length);
    for (int i = 0; i < n; i++)
        look_at(s, dt_point_lerp(a, b, (i + 0.5) / n), way, l, length / n, COVER_TIP, t, r);
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
static gboolean is_first(const CoverScene *s, const EdgePlace *e)
{
    const DtPoint inside = {e->at.x + e->inward.x / COVER_PX_PER_MM,
                            e->at.y + e->inward.y / COVER_PX_PER_MM};
    size_t i;
    if (!cover_pixel_at(s, inside, &i) || (s->edge_of[i] > 0 && s->edge_of[i] != e->number + 1))
        return FALSE;
    s->edge_of[i] = e->number + 1;
    return TRUE;
}

/* Bands of the picture that are thinner than this (mm) may be a row of pixels that an edge crosses, up to their
 * diagonal. */
#define ONE_PIXEL (2 * M_SQRT2 / COVER_PX_PER_MM)
/* Components of colours that differ by less (0 to 1) are the same. */
#define SAME_COMPONENT 0.04
/* Shares of a side's colour in a mixture, by one component and by another, differ by no more than this. */
#define SAME_SHARE 0.25

/* Whether a colour is a mixture of two others, as that of pixels on their edge is. */
static gboolean is_mixture(const double own[3], const double a[3], const double b[3])
{
    double least = 1, most = 0;
    for (int c = 0; c < 3; c++) {
        const double apart = b[c] - a[c];
        if (own[c] < MIN(a[c], b[c]) - SAME_COMPONENT || own[c] > MAX(a[c], b[c]) + SAME_COMPONENT)
            return FALSE;
        if (fabs(apart) < 2 * SAME_COMPONENT)
            continue;
        least = MIN(least, (own[c] - a[c]) / apart);
        most = MAX(most, (own[c] - a[c]) / apart);
    }
    return most - least <= SAME_SHARE;
}

/* The colour at a distance from an edge. */
static gboolean written_inward(const CoverScene *s, const EdgePlace *e, double v, double out[3])
{
    const DtPoint at = {e->at.x + e->inward.x * v, e->at.y + e->inward.y * v};
    return cover_written(s, (CoverStrip){at, e->way, 0, 0, 0}, out);
}

/* Whether a band of the picture, between two distances from an edge, is no more than the pixels on an edge between what
 * is on either side of it. */
static gboolean is_edge_in_picture(const CoverScene *s, const EdgePlace *e, double from, double to)
{
    const double aside = 3.0 / COVER_PX_PER_MM;
    double own[3], near[3], far[3];
    return to - from < ONE_PIXEL && written_inward(s, e, (from + to) / 2, own) &&
           written_inward(s, e, from - aside, near) && written_inward(s, e, to + aside, far) &&
           is_mixture(own, near, far);
}

/* What the artwork's picture shows on one side of an edge up to where its colour changes: shapes that lie over one
 * another leave narrow parts that are no shape's own. FALSE if that is not narrow, or of no one colour. */
static gboolean find_visible(const CoverScene *s, const EdgePlace *e, Line *l)
{
    const double step = 0.5 / COVER_PX_PER_MM;
    DtLab lab[2], own = {0};
    double core = -1;
    for (double v = step; v < WIDEST + 4 * step; v += step) {
        const DtPoint q[2] = {
            {e->at.x + e->inward.x * v, e->at.y + e->inward.y * v},
            {e->at.x + e->inward.x * (v + 3 * step), e->at.y + e->inward.y * (v + 3 * step)}};
        if (!cover_art_at(s, q[0], &lab[0]) || !cover_art_at(s, q[1], &lab[1]))
            return FALSE;
        if (core < 0 && dt_colour_difference(lab[0], lab[1]) < COVER_ONE_PAINT) {
            if (v > 5 * step)
                return FALSE;
            core = v;
            own = lab[0];
            double light[3], *rgb[3] = {&l->colour.r, &l->colour.g, &l->colour.b};
            if (!cover_written(s, (CoverStrip){q[0], e->way, 0, 0, 0}, light))
                return FALSE;
            for (int c = 0; c < 3; c++)
                *rgb[c] = light[c];
            l->colour.alpha = 1;
        } else if (core >= 0 && dt_colour_difference(lab[0], own) >= COVER_APART_IN_ART / 2) {
            l->width = v;
            l->number = e->number;
            return v < WIDEST && !is_edge_in_picture(s, e, core, v);
        }
    }
    return FALSE;
}

static void look_at_middle(const CoverScene *s, const EdgePlace *e, const Line *l, Stretch *t,
                           Result *r)
{
    const DtPoint middle = {e->at.x + e->inward.x * l->width / 2,
                            e->at.y + e->inward.y * l->width / 2};
    look_at(s, middle, e->way, l, e->mm / 2, COVER_TIP / 2, t, r); /* it is met from both edges */
}

/* Looks across what is on one side of an edge: part of the shape itself, or what is visible there. */
static void look_across(const CoverScene *s, const DtShape *shape, const EdgePlace *e, Stretch *t,
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

static void look_at_fill(const CoverScene *s, const DtShape *shape, unsigned number, Result *r)
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
        end_stretch(&t[0], COVER_TIP / 2, r);
        end_stretch(&t[1], COVER_TIP / 2, r);
    }
}

/* A stroke of its fill's own paint is the fill's edge, and no line. */
static gboolean is_edge_of_fill(const DtShape *shape)
{
    return shape->fill.kind == DT_PAINT_FLAT && shape->fill.colour.alpha > 0.99 &&
           dt_ink_colour_distance(shape->fill.colour, shape->stroke.paint.colour) < COVER_ONE_PAINT;
}

static void look_at_stroke(const CoverScene *s, const DtShape *shape, unsigned number, Result *r)
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
        end_stretch(&t, COVER_TIP, r);
    }
}

/* Looks across what borders on a stroke, and across what is visible of a wide one. */
static void look_beside_stroke(const CoverScene *s, const DtShape *shape, unsigned number,
                               Result *r)
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
            end_stretch(&t[k], COVER_TIP / 2, r);
    }
}

static void try_drawing(const char *svg, unsigned number, void *filled)
{
    Result *r = filled;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    static const char *const names[COVER_N_PENS] = {"black", "green", "terracotta"};
    DtPen pens[COVER_N_PENS];
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    CoverScene s = {.art = {0}};
    if (!p)
        return;
    for (int i = 0; i < COVER_N_PENS; i++)
        pens[i] = (DtPen){.name = (char *)(gsize)names[i],
                          .colour = cover_colour(cover_colours[i]),
                          .tip = COVER_TIP,
                          .dot_gain = 1};
    const DtRack own = p->rack;
    p->rack = (DtRack){pens, COVER_N_PENS};
    o.route.iterations = 0;
    o.ink.solid = g_getenv("COVER_SOLID") != NULL;
    r->good =
        dt_job_plan(p, svg, &o, &job, NULL, &error) && cover_scene_make(svg, p, &job, &s, &error);
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
    if (folder && (lost_mm(r) > 0 || r->lost[COVER_BARE] >= 1 || r->counted >= 1)) {
        const LookPicture *both[2] = {&s.art, &s.clear};
        g_autofree char *path = g_strdup_printf("%s/%04u.png", folder, number);
        look_write_png(both, 2, path);
    }
    cover_scene_clear(&s);
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
        for (int k = 0; k < COVER_N_CAUSES; k++)
            sum.lost[k] += r.lost[k];
        const double lost = lost_mm(&r);
        losing += lost > 0;
        if (lost > 0 || r.counted >= 1) {
            g_autofree char *name = g_path_get_basename(files->pdata[i]);
            printf("%4u %-32.32s shown %8.1f mm, lost", i, name, r.shown);
            for (int k = 0; k < COVER_N_CAUSES; k++)
                printf(" %7.1f", r.lost[k]);
            printf(" (last at %.1f, %.1f); the plan counts %.1f\n", r.at[0], r.at[1], r.counted);
            fflush(stdout);
        }
    }
    printf("%u of %u drawings planned, %u with lines of up to three tips' width: %.0f mm that the "
           "artwork shows\n",
           good, files->len, with_lines, sum.shown);
    for (int k = 0; k < COVER_N_CAUSES; k++)
        printf("%-20s %10.1f mm  %.3f %%\n", causes[k], sum.lost[k],
               sum.shown > 0 ? 100 * sum.lost[k] / sum.shown : 0);
    printf("drawings that lose any that an order or a cut could save: %u; the plans count %.1f mm "
           "themselves\n",
           losing, sum.counted);
    return 0;
}
