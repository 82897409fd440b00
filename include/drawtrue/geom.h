/* geom: points, boxes, affine maps, polylines and curves. All lengths in millimetres and all angles
 * in radians, unless a name says otherwise. */
#pragma once

#include <glib.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
    double x, y;
} DtPoint;

/* A box with x0 <= x1 and y0 <= y1; empty when x0 > x1. */
typedef struct {
    double x0, y0, x1, y1;
} DtBox;

/* x' = xx*x + xy*y + x0,  y' = yx*x + yy*y + y0. */
typedef struct {
    double xx, yx, xy, yy, x0, y0;
} DtAffine;

/* Points ------------------------------------------------------------------------------------- */

static inline DtPoint dt_point(double x, double y)
{
    return (DtPoint){x, y};
}
static inline DtPoint dt_point_add(DtPoint a, DtPoint b)
{
    return (DtPoint){a.x + b.x, a.y + b.y};
}
static inline DtPoint dt_point_sub(DtPoint a, DtPoint b)
{
    return (DtPoint){a.x - b.x, a.y - b.y};
}
static inline DtPoint dt_point_scale(DtPoint a, double k)
{
    return (DtPoint){a.x * k, a.y * k};
}
static inline DtPoint dt_point_lerp(DtPoint a, DtPoint b, double t)
{
    return (DtPoint){a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t};
}
static inline double dt_point_dot(DtPoint a, DtPoint b)
{
    return a.x * b.x + a.y * b.y;
}
static inline double dt_point_cross(DtPoint a, DtPoint b)
{
    return a.x * b.y - a.y * b.x;
}
double dt_point_distance(DtPoint a, DtPoint b);
/* Distance from p to the segment ab (a single point if a == b). */
double dt_point_segment_distance(DtPoint p, DtPoint a, DtPoint b);

/* Boxes -------------------------------------------------------------------------------------- */

#define DT_BOX_EMPTY ((DtBox){G_MAXDOUBLE, G_MAXDOUBLE, -G_MAXDOUBLE, -G_MAXDOUBLE})

gboolean dt_box_is_empty(DtBox b);
DtBox dt_box_add_point(DtBox b, DtPoint p);
DtBox dt_box_union(DtBox a, DtBox b);
DtBox dt_box_intersect(DtBox a, DtBox b);
DtBox dt_box_grow(DtBox b, double by);
gboolean dt_box_contains(DtBox b, DtPoint p);
static inline double dt_box_width(DtBox b)
{
    return b.x1 - b.x0;
}
static inline double dt_box_height(DtBox b)
{
    return b.y1 - b.y0;
}

/* Affine maps -------------------------------------------------------------------------------- */

#define DT_AFFINE_IDENTITY ((DtAffine){1, 0, 0, 1, 0, 0})

static inline DtPoint dt_affine_apply(DtAffine m, DtPoint p)
{
    return (DtPoint){m.xx * p.x + m.xy * p.y + m.x0, m.yx * p.x + m.yy * p.y + m.y0};
}
/* The map without its translation. */
static inline DtPoint dt_affine_apply_vector(DtAffine m, DtPoint v)
{
    return (DtPoint){m.xx * v.x + m.xy * v.y, m.yx * v.x + m.yy * v.y};
}
/* The map that applies `first`, then `then`. */
DtAffine dt_affine_then(DtAffine first, DtAffine then);
double dt_affine_determinant(DtAffine m);
/* FALSE, and *inverse untouched, if the map is singular or not finite. */
gboolean dt_affine_invert(DtAffine m, DtAffine *inverse);
DtAffine dt_affine_translate(double x, double y);
DtAffine dt_affine_scale(double x, double y);
DtAffine dt_affine_rotate(double angle);
/* The bounding box of the mapped box. */
DtBox dt_affine_apply_box(DtAffine m, DtBox b);
/* The largest factor by which the map stretches any length (spectral norm). */
double dt_affine_max_stretch(DtAffine m);

/* Lines: many polylines in two flat arrays ----------------------------------------------------- */

/* Polyline i is pts[first[i]] to pts[first[i+1]-1]; first has n+1 entries once n > 0. A closed
 * polyline does not repeat its first point at the end. */
typedef struct {
    DtPoint *pts;
    size_t n_pts, cap_pts;
    size_t *first;
    uint8_t *closed;
    size_t n, cap;
} DtLines;

void dt_lines_init(DtLines *l);
void dt_lines_clear(DtLines *l);            /* frees the contents; usable again */
void dt_lines_begin(DtLines *l);            /* starts a new open polyline */
void dt_lines_point(DtLines *l, DtPoint p); /* adds a point to the last polyline */
void dt_lines_close(DtLines *l);            /* marks the last polyline as closed */
void dt_lines_append(DtLines *l, const DtPoint *pts, size_t n, gboolean closed);
void dt_lines_append_lines(DtLines *l, const DtLines *other);
void dt_lines_copy(DtLines *to, const DtLines *from); /* initialises `to` */
void dt_lines_transform(DtLines *l, DtAffine m);
DtBox dt_lines_box(const DtLines *l);
static inline size_t dt_lines_count(const DtLines *l, size_t i)
{
    return l->first[i + 1] - l->first[i];
}
static inline DtPoint *dt_lines_at(const DtLines *l, size_t i)
{
    return l->pts + l->first[i];
}
/* Length of polyline i, the closing segment included. */
double dt_lines_length(const DtLines *l, size_t i);
double dt_lines_total_length(const DtLines *l);
/* Signed area of polyline i treated as closed: half the sum of cross products. */
double dt_lines_area(const DtLines *l, size_t i);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtLines, dt_lines_clear)

typedef enum { DT_FILL_NONZERO, DT_FILL_EVENODD } DtFillRule;

/* Whether p is inside the closed polylines by the rule. Crossings are half-open: a point on an
 * edge may go to either side, but of two regions that share an edge exactly one contains it. */
gboolean dt_lines_inside(const DtLines *l, DtFillRule rule, DtPoint p);

/* Paths: lines and cubics --------------------------------------------------------------------- */

typedef enum { DT_PATH_MOVE, DT_PATH_LINE, DT_PATH_CUBIC, DT_PATH_CLOSE } DtPathVerb;

/* Verbs with their points (1, 1, 3 and 0 of them), in any unit. */
typedef struct {
    uint8_t *verb;
    size_t n_verb, cap_verb;
    DtPoint *pts;
    size_t n_pts, cap_pts;
} DtPath;

void dt_path_init(DtPath *p);
void dt_path_clear(DtPath *p);
void dt_path_move(DtPath *p, DtPoint to);
void dt_path_line(DtPath *p, DtPoint to);
void dt_path_cubic(DtPath *p, DtPoint c1, DtPoint c2, DtPoint to);
void dt_path_quad(DtPath *p, DtPoint c, DtPoint to); /* raised to a cubic */
/* Appends an elliptical arc from the current point by its endpoint parameters (SVG 1.1
 * implementation notes F.6): radii, x-axis rotation in radians, flags. Stored as cubics of at
 * most a quarter turn. */
void dt_path_arc(DtPath *p, double rx, double ry, double rotation, gboolean large, gboolean sweep,
                 DtPoint to);
void dt_path_close(DtPath *p);
void dt_path_transform(DtPath *p, DtAffine m);
/* The smallest axis-parallel box around the path mapped by m, curves by their extremes; empty
 * for a path without points. A curve with coordinates beyond 1e100 counts by its end points
 * alone. */
DtBox dt_path_box(const DtPath *p, DtAffine m);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtPath, dt_path_clear)

/* Flattens the path, mapped by m, and appends it to `out`. Every point of a curve is within
 * `tolerance` (in mapped units, > 0), or within 1e-9 of the curve's size if that is more, of the
 * polyline that replaces it; of a curve with coordinates beyond 1e100 only the end point is
 * kept. A subpath of one point gives a polyline of one point. */
void dt_path_flatten(const DtPath *p, DtAffine m, double tolerance, DtLines *out);
/* The same, but gives up once `out` holds more than `most` points plus those of one curve:
 * FALSE, and `out` is incomplete. */
gboolean dt_path_flatten_at_most(const DtPath *p, DtAffine m, double tolerance, size_t most,
                                 DtLines *out);
