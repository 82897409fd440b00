/* thin-lines: places along the strokes that are drawn as lines where they differ from what they lie on, and the
 * directions in which they run. */
#include "ink/look/compose.h"

#include "drawtrue/work.h"

#include <math.h>

/* Of more edges and points of lines than this nothing is looked at. */
#define MOST_EDGES 200000
/* A line that deviates by no more than this from the direction of a hatch runs along its lines. */
#define ALONG (G_PI / 18)

/* All parts, and below them all lines, so that each part of a line is labelled by what it lies on. */
static DtPlane *arrange(const DtCompose *c, const DtLines *lines)
{
    DtPlane *plane = dt_plane_new();
    for (guint i = 0; i < c->parts->len; i++) {
        const int layer = dt_plane_add_translucent_layer(plane, DT_PLANE_NONZERO, (int)i + 1);
        dt_plane_add_rings(plane, layer, &dt_compose_part(c, i)->rings);
    }
    for (size_t i = 0; i < lines->n; i++)
        dt_plane_add_line(plane, 0, dt_lines_at(lines, i), dt_lines_count(lines, i),
                          lines->closed[i] != 0);
    if (dt_plane_build(plane, NULL))
        return plane;
    dt_plane_free(plane);
    return NULL;
}

/* A line's visible part, what is over it, and the parts under its two sides. */
typedef struct {
    const DtCompose *c;
    DtColour paint; /* over the paper */
    double width;
    int pen;
    int overlay;  /* label of translucent layers over it, 0: none */
    int under[2]; /* -1: the paper */
    int number;
} Line;

/* The direction of the hatches that a line runs along, -1: none. */
static int turn_along(const DtTrace *t, DtPoint way)
{
    const double turns = (atan2(way.y, way.x) - t->o->angle) / DT_LOOK_TURN_ANGLE;
    const int nearest = (int)lround(turns);
    if (fabs(turns - nearest) * DT_LOOK_TURN_ANGLE > ALONG)
        return -1;
    return (nearest % DT_LOOK_TURNS + DT_LOOK_TURNS) % DT_LOOK_TURNS;
}

/* Adds a step of a line to what runs along a direction in the area under it. */
static void add_along(const Line *l, DtPoint way, double mm)
{
    const int turn = turn_along(l->c->t, way);
    if (l->under[0] < 0 || l->under[0] != l->under[1] || turn < 0)
        return;
    DtLookArea *a = dt_compose_area(l->c, l->c->area_of[l->under[0]]);
    if (!a->along)
        a->along = g_new0(double, DT_LOOK_TURNS * l->c->t->rack->n);
    a->along[l->pen * DT_LOOK_TURNS + turn] += mm;
}

/* From what is on either side, by the colours in the artwork or by those that inks are chosen for. */
static gboolean is_apart(const Line *l, DtLab paint, DtPoint at,
                         DtLab (*colour_at)(const DtCompose *c, int part, DtPoint at))
{
    for (int k = 0; k < 2; k++)
        if (dt_colour_difference(paint, colour_at(l->c, l->under[k], at)) < DT_LOOK_APART_IN_ART)
            return FALSE;
    return TRUE;
}

static void look_at(const Line *l, DtPoint a, DtPoint b)
{
    const DtTrace *t = l->c->t;
    const DtPoint at = dt_point_lerp(a, b, 0.5);
    DtColour seen = l->paint;
    if (l->overlay > 0)
        seen = dt_colour_over(dt_paint_layers_seen_at(t->layers, l->overlay, at).colour, seen);
    const double length = dt_point_distance(a, b);
    const DtThinPlace place = {.at = at,
                               .way = dt_point_scale(dt_point_sub(b, a), 1 / length),
                               .width = l->width,
                               .mm = length,
                               .part = (int)l->c->parts->len + l->number,
                               .line = TRUE};
    if (is_apart(l, dt_colour_lab(seen), at, dt_compose_art_at))
        g_array_append_val(t->thin, place);
    if (is_apart(l, dt_colour_lab(seen), at, dt_compose_paint_at))
        add_along(l, place.way, length);
}

static void look_along(const Line *l, const DtLines *parts, size_t i)
{
    const DtPoint *p = dt_lines_at(parts, i);
    const size_t n = dt_lines_count(parts, i);
    for (size_t k = 0; k + (parts->closed[i] ? 0 : 1) < n; k++) {
        const DtPoint a = p[k], b = p[(k + 1) % n];
        const double length = dt_point_distance(a, b);
        const int steps = (int)MIN(ceil(length / DT_LOOK_THIN_STEP), 1e6);
        for (int j = 0; j < steps; j++)
            look_at(l, dt_point_lerp(a, b, (double)j / steps),
                    dt_point_lerp(a, b, (j + 1.0) / steps));
    }
}

void dt_compose_find_thin_lines(const DtCompose *c)
{
    const int *owner, *overlay;
    const DtLines *lines = dt_stack_lines(c->t->stack, &owner, &overlay);
    if (lines->n == 0 || isnan(c->t->unseen_mm))
        return;
    g_autoptr(DtPlane) plane = lines->n_pts + c->edges->len > MOST_EDGES ? NULL : arrange(c, lines);
    if (!plane) {
        c->t->unseen_mm = NAN;
        return;
    }
    g_autoptr(GArray) under = g_array_new(FALSE, FALSE, sizeof(DtPlaneSides));
    for (size_t i = 0; i < lines->n && !dt_work_stopped(); i++) {
        const DtStrokeStyle *st = &c->t->d->shapes[owner[i] / (int)c->t->rack->n].stroke;
        g_auto(DtLines) parts;
        dt_lines_init(&parts);
        g_array_set_size(under, 0);
        dt_plane_beside(plane, (int)i, &parts, under);
        for (size_t k = 0; k < parts.n; k++) {
            const DtPlaneSides *sides = &g_array_index(under, DtPlaneSides, k);
            const Line l = {c,
                            dt_colour_over(st->paint.colour, c->t->o->paper),
                            dt_art_stroke_width_mm(st),
                            owner[i] % (int)c->t->rack->n,
                            overlay[i],
                            {sides->left - 1, sides->right - 1},
                            (int)i};
            look_along(&l, &parts, k);
        }
    }
}
