/* plane (private to ink): the arrangement of a drawing's edges in the plane.
 *
 * Areas are in layers, painted in order; open lines are at a height between layers. All points
 * are rounded to a grid of 1/1024 mm and all edges are split where they meet, by snap rounding
 * (Hobby 1999, "Practical segment intersection with finite precision output"): no crossing is
 * left, so that every later question (which layer is on top here? where is the edge?) has an
 * exact answer in integers. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

/* The domain of the one error that another method may avoid: edges that cross, or layers that
 * overlap, too often. Its code is DT_ERROR_INPUT. It does not leave this room. */
#define DT_PLANE_ERROR dt_plane_error_quark()
GQuark dt_plane_error_quark(void);
/* For the room's public calls, around their result: turns such an error into one of DT_ERROR. */
gboolean dt_plane_settle_error(gboolean good, GError **error);

#define DT_GRID_PER_MM 1024.0
/* Points farther than this (mm) from the origin are refused: products of differences stay in 64
 * bits. */
#define DT_PLANE_REACH 65000.0

/* When a place counts as inside a layer's outlines. */
typedef enum {
    DT_PLANE_NONZERO,
    DT_PLANE_EVENODD,
    DT_PLANE_POSITIVE, /* winding number of at least one */
    DT_PLANE_OUTSIDE,  /* nonzero, inverted: everywhere but inside */
} DtPlaneRule;

typedef struct {
    int32_t x, y; /* grid units */
} DtNode;

typedef struct {
    int label; /* the label of the layer's areas; 0 is where there is none */
    uint8_t rule;
    uint8_t translucent; /* translucent */
} DtPlaneLayer;

/* The label of an overlap of layers, from their labels from the top down: translucent ones, and
 * the first opaque one below them, if there is one. */
typedef int (*DtOverlapFunc)(const int *labels, size_t n, void *user);

/* The rule of artwork in these terms. */
static inline DtPlaneRule dt_plane_rule(DtFillRule rule)
{
    return rule == DT_FILL_EVENODD ? DT_PLANE_EVENODD : DT_PLANE_NONZERO;
}

typedef struct DtPlane DtPlane;

DtPlane *dt_plane_new(void);
void dt_plane_free(DtPlane *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtPlane, dt_plane_free)

/* Adds a layer above all earlier ones; returns its index. */
int dt_plane_add_layer(DtPlane *p, DtPlaneRule rule, int label);
/* The same for a translucent layer. */
int dt_plane_add_translucent_layer(DtPlane *p, DtPlaneRule rule, int label);
/* What gives labels to overlaps with translucent layers; without it, the label of the topmost
 * layer. */
void dt_plane_label_overlaps(DtPlane *p, DtOverlapFunc name, void *user);
/* Adds an outline, closed, to a layer. */
void dt_plane_add_ring(DtPlane *p, int layer, const DtPoint *pts, size_t n);
void dt_plane_add_rings(DtPlane *p, int layer, const DtLines *lines);
/* Adds an open line (or a closed one: `closed`) that is hidden by the layers of index >= height.
 * Returns its number, counted from 0. */
int dt_plane_add_line(DtPlane *p, int height, const DtPoint *pts, size_t n, gboolean closed);

/* Splits and labels. Fails with DT_ERROR_INPUT if points are not finite or out of range, or if
 * edges cross so often that the work would take too long. */
gboolean dt_plane_build(DtPlane *p, GError **error);

/* After the build: appends the outlines of all places of this label, each ring with the area on its
 * left (y up): simple rings, touching at most in points. */
void dt_plane_region(const DtPlane *p, int label, DtLines *out);
/* The same for all labels above 0 at once: `regions` holds a DtLines for each label, by index, and
 * grows as needed; it clears new elements (g_array_new's `clear`). */
void dt_plane_regions(const DtPlane *p, GArray *regions);

/* After the build: appends the visible parts of line number `line`. A part is visible if either
 * side of it is. A closed line that is visible all round stays closed. `overlays`, if not NULL,
 * receives for each part the label (int) of the translucent layers above it, 0 for none; parts
 * end where it changes. */
void dt_plane_visible(const DtPlane *p, int line, DtLines *out, GArray *overlays);

/* The labels on the two sides of a line, in no order. */
typedef struct {
    int left, right;
} DtPlaneSides;

/* After the build: appends the parts of line number `line` that no side hides; they end where either side changes.
 * `sides` receives for each part the labels (DtPlaneSides) of the translucent areas above it on its two sides,
 * 0 for none. */
void dt_plane_beside(const DtPlane *p, int line, DtLines *out, GArray *sides);

/* After the build: appends the whole of line number `line`, in parts that end where the number
 * of its sides (0 to 2) in places of a label above 0 changes; `sides` receives that number (int)
 * for each part. */
void dt_plane_sides(const DtPlane *p, int line, DtLines *out, GArray *sides);

/* After the build: the unique edges. */
size_t dt_plane_n_edges(const DtPlane *p);
void dt_plane_edge(const DtPlane *p, size_t i, DtNode *a, DtNode *b);
/* The labels at the left and at the right of an edge, seen from a to b. */
void dt_plane_edge_sides(const DtPlane *p, size_t i, int *left, int *right);
