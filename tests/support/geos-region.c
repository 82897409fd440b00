/* geos-region: to and from GEOS. */
#include "support/geos-region.h"

static GEOSCoordSequence *sequence(GEOSContextHandle_t g, const DtPoint *p, size_t n)
{
    GEOSCoordSequence *s = GEOSCoordSeq_create_r(g, (unsigned)n + 1, 2);
    for (size_t i = 0; i <= n; i++)
        GEOSCoordSeq_setXY_r(g, s, (unsigned)i, p[i % n].x, p[i % n].y);
    return s;
}

static GEOSGeometry *ring_of(GEOSContextHandle_t g, const DtLines *l, size_t i)
{
    return GEOSGeom_createLinearRing_r(g, sequence(g, dt_lines_at(l, i), dt_lines_count(l, i)));
}

static gboolean holds(const DtLines *l, size_t outer, DtPoint p)
{
    DtLines one = {0};
    size_t first[2] = {0, dt_lines_count(l, outer)};
    uint8_t closed = 1;
    one.pts = dt_lines_at(l, outer);
    one.n_pts = first[1];
    one.first = first;
    one.closed = &closed;
    one.n = 1;
    return dt_lines_inside(&one, DT_FILL_NONZERO, p);
}

/* The smallest outer ring about a hole. A hole's edge may touch other rings in points alone, so the
 * middle of an edge tells. */
static size_t owner_of(const DtLines *l, size_t hole)
{
    const DtPoint *p = dt_lines_at(l, hole);
    DtPoint middle = dt_point_lerp(p[0], p[1], 0.5);
    size_t best = l->n;
    for (size_t i = 0; i < l->n; i++)
        if (dt_lines_area(l, i) > 0 && holds(l, i, middle) &&
            (best == l->n || dt_lines_area(l, i) < dt_lines_area(l, best)))
            best = i;
    return best;
}

GEOSGeometry *geos_from_rings(GEOSContextHandle_t g, const DtLines *rings)
{
    g_autofree size_t *owner = g_new0(size_t, rings->n + 1);
    for (size_t i = 0; i < rings->n; i++)
        owner[i] = dt_lines_area(rings, i) > 0 ? i : owner_of(rings, i);
    GEOSGeometry **polygon = g_new(GEOSGeometry *, rings->n + 1);
    GEOSGeometry **holes = g_new(GEOSGeometry *, rings->n + 1);
    unsigned n = 0;
    for (size_t i = 0; i < rings->n; i++) {
        unsigned n_holes = 0;
        if (dt_lines_area(rings, i) <= 0)
            continue;
        for (size_t k = 0; k < rings->n; k++)
            if (owner[k] == i && k != i)
                holes[n_holes++] = ring_of(g, rings, k);
        polygon[n++] = GEOSGeom_createPolygon_r(g, ring_of(g, rings, i), holes, n_holes);
    }
    GEOSGeometry *all = GEOSGeom_createCollection_r(g, GEOS_MULTIPOLYGON, polygon, n);
    g_free(polygon);
    g_free(holes);
    return all;
}

static void add_ring(GEOSContextHandle_t g, const GEOSGeometry *ring, DtLines *out)
{
    const GEOSCoordSequence *s = GEOSGeom_getCoordSeq_r(g, ring);
    unsigned n = 0;
    GEOSCoordSeq_getSize_r(g, s, &n);
    if (n < 4)
        return;
    dt_lines_begin(out);
    for (unsigned i = 0; i + 1 < n; i++) {
        DtPoint p;
        GEOSCoordSeq_getXY_r(g, s, i, &p.x, &p.y);
        dt_lines_point(out, p);
    }
    dt_lines_close(out);
}

void geos_to_rings(GEOSContextHandle_t g, const GEOSGeometry *a, DtLines *out)
{
    int n = GEOSGetNumGeometries_r(g, a);
    for (int i = 0; i < n; i++) {
        const GEOSGeometry *part = GEOSGetGeometryN_r(g, a, i);
        if (GEOSGeomTypeId_r(g, part) != GEOS_POLYGON || GEOSisEmpty_r(g, part))
            continue;
        add_ring(g, GEOSGetExteriorRing_r(g, part), out);
        int holes = GEOSGetNumInteriorRings_r(g, part);
        for (int k = 0; k < holes; k++)
            add_ring(g, GEOSGetInteriorRingN_r(g, part, k), out);
    }
}

double geos_area(GEOSContextHandle_t g, const GEOSGeometry *a)
{
    double area = 0;
    GEOSArea_r(g, a, &area);
    return area;
}

double geos_mean_gap(GEOSContextHandle_t g, const GEOSGeometry *a, const GEOSGeometry *b)
{
    GEOSGeometry *d = GEOSSymDifference_r(g, a, b);
    double length = 0, area = d ? geos_area(g, d) : G_MAXDOUBLE;
    GEOSLength_r(g, b, &length);
    if (d)
        GEOSGeom_destroy_r(g, d);
    return length > 0 ? area / length : area;
}

gboolean geos_same_within(GEOSContextHandle_t g, const GEOSGeometry *a, const GEOSGeometry *b,
                          double by)
{
    GEOSGeometry *d = GEOSSymDifference_r(g, a, b);
    GEOSGeometry *deep = d ? GEOSBuffer_r(g, d, -by / 2, 4) : NULL;
    gboolean same = deep && GEOSisEmpty_r(g, deep);
    if (deep)
        GEOSGeom_destroy_r(g, deep);
    if (d)
        GEOSGeom_destroy_r(g, d);
    return same;
}
