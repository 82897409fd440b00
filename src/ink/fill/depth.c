/* depth: the inner depth of a region. Its box is divided into squares; a square that cannot
 * contain a point deep enough, by the depth of its centre, is dropped, any other is quartered
 * (branch and bound, Land and Doig 1960). */
#include "ink/fill/depth.h"

#include <math.h>

/* Number of edge tests beyond which an inset is faster. */
#define MOST_LOOKS 2000000
/* Squares smaller than this half side, mm, are not quartered: at most sqrt(2) as much is missed. */
#define LEAST_HALF (DT_DEPTH_SLACK / 3)

typedef struct {
    DtPoint middle;
    double half;
} Square;

/* The squared distance of a point from a segment. */
static double squared_from(DtPoint p, DtPoint a, DtPoint b)
{
    const double dx = b.x - a.x, dy = b.y - a.y, px = p.x - a.x, py = p.y - a.y;
    const double length2 = dx * dx + dy * dy, along = px * dx + py * dy;
    const double f = length2 > 0 ? CLAMP(along / length2, 0, 1) : 0;
    const double x = px - f * dx, y = py - f * dy;
    return x * x + y * y;
}

/* Depth of a point inside; negative outside. */
static double depth_at(const DtLines *region, DtPoint at)
{
    double least = G_MAXDOUBLE;
    int winding = 0;
    for (size_t i = 0; i < region->n; i++) {
        const DtPoint *p = dt_lines_at(region, i);
        const size_t n = dt_lines_count(region, i);
        for (size_t k = 0; k < n; k++) {
            const DtPoint a = p[k], b = p[k + 1 < n ? k + 1 : 0];
            least = MIN(least, squared_from(at, a, b));
            if ((a.y <= at.y) != (b.y <= at.y)) {
                const double side = (b.x - a.x) * (at.y - a.y) - (b.y - a.y) * (at.x - a.x);
                if ((side > 0) == (b.y > a.y))
                    winding += b.y > a.y ? 1 : -1;
            }
        }
    }
    return winding != 0 ? sqrt(least) : -sqrt(least);
}

static void add_quarters(GArray *squares, Square s)
{
    for (int k = 0; k < 4; k++) {
        const double half = s.half / 2;
        const Square q = {
            {s.middle.x + (k & 1 ? half : -half), s.middle.y + (k & 2 ? half : -half)}, half};
        g_array_append_val(squares, q);
    }
}

static GArray *cover_box(DtBox b)
{
    GArray *squares = g_array_new(FALSE, FALSE, sizeof(Square));
    const double w = dt_box_width(b), h = dt_box_height(b), side = MAX(MIN(w, h), MAX(w, h) / 64);
    for (double x = b.x0 + side / 2; side > 0 && x < b.x1 + side / 2; x += side)
        for (double y = b.y0 + side / 2; y < b.y1 + side / 2; y += side) {
            const Square s = {{x, y}, side / 2};
            g_array_append_val(squares, s);
        }
    return squares;
}

DtDepth dt_depth_exceeds(const DtLines *region, double depth)
{
    const DtBox b = dt_lines_box(region);
    if (region->n_pts == 0 || MIN(dt_box_width(b), dt_box_height(b)) <= 2 * depth)
        return DT_DEPTH_LESS;
    g_autoptr(GArray) squares = cover_box(b);
    for (size_t looks = 0; squares->len > 0; looks += region->n_pts) {
        const Square s = g_array_index(squares, Square, squares->len - 1);
        const double deep = depth_at(region, s.middle);
        g_array_set_size(squares, squares->len - 1);
        if (deep > depth + DT_DEPTH_SLACK / 2)
            return DT_DEPTH_MORE;
        if (looks > MOST_LOOKS)
            return DT_DEPTH_UNKNOWN;
        if (deep + s.half * G_SQRT2 > depth + DT_DEPTH_SLACK / 2 && s.half > LEAST_HALF)
            add_quarters(squares, s);
    }
    return DT_DEPTH_LESS;
}
