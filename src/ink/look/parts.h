/* parts (private to ink): the visible areas, taken apart into connected areas of one paint, and
 * their adjacency. */
#pragma once

#include "ink/plane/region.h"

typedef struct {
    int label;     /* of the paint, the caller's number */
    DtLines rings; /* one clean piece, with its holes */
    double area;   /* mm^2 */
    double width;  /* mm: twice the area over the length of the edge, the width of a long strip;
                    * at least half of the width of the largest circle that fits */
} DtPart;

/* A stretch of edge between two parts; -1: the bare paper. */
typedef struct {
    DtPoint a, b;
    int left, right;
} DtPartEdge;

/* Parts a < b border on one another along `length` mm; a == -1: b and the bare paper. */
typedef struct {
    int a, b;
    double length;
} DtPartBorder;

/* Appends the connected pieces of a clean region; FALSE if there are so many, with so many
 * holes, that the region was appended as one. */
gboolean dt_parts_add(GArray *parts, int label, const DtLines *region);
/* Frees what a DtPart holds; for g_array_set_clear_func(). */
void dt_part_clear(gpointer part);

/* The places of a clean region into which a circle of some width, mm, fits, and hardly more: `out`, empty if it fits
 * nowhere. */
gboolean dt_parts_find_wide(const DtLines *region, double width, DtLines *out, GError **error);

/* All edges of the parts (DtPartEdge), and all borders (DtPartBorder), by a, then by b. Both arrays are
 * made by this call. Fails as dt_plane_build() does. */
gboolean dt_parts_borders(const GArray *parts, GArray **edges, GArray **borders, GError **error);
/* The same where all parts are pieces of one clean region, so that no two share an edge: the paper is on
 * the other side of each. */
void dt_parts_borders_apart(const GArray *parts, GArray **edges, GArray **borders);
/* Sums borders that are the same between groups of parts, of[i] being part i's; those inside a
 * group are dropped. The result is in the same order. */
GArray *dt_parts_group_borders(const GArray *borders, const int *of);
