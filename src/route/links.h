/* links: how the pen gets from one end of a section to an end of another one, and what that takes: across
 * a join, back over drawn lines, or with a lift. Private to route. */
#pragma once

#include "route/sections.h"

typedef enum {
    DT_LINK_LIFT,
    DT_LINK_JOIN,
    DT_LINK_RETRACE,
} DtLinkKind;

typedef struct {
    DtLinkKind kind;
    int32_t cost;       /* microseconds */
    uint32_t path;      /* DT_LINK_RETRACE */
    gboolean backwards; /* along the path from its end */
} DtPassage;

/* An end of a section: number 2 * section, or one more for its last point. */
typedef struct {
    DtPoint at, dir; /* unit, into the section; 0 for a whole piece */
    double length;   /* of the section, mm */
    uint32_t node;   /* DT_NO_NODE for a whole piece */
    uint32_t
        place; /* nodes within the join of one another share one; DT_NO_NODE for a whole piece */
    gboolean
        is_odd; /* an odd number of ends meet at the place: a run must begin there, or a way back */
    int32_t stop; /* microseconds lost by coming to rest here */
} DtSectionEnd;

/* A way over sections, each 2 * section, or one more where it is gone along backwards. */
typedef struct {
    uint32_t first, n;
    double mm;
    gboolean is_banned;
} DtWayBack;

typedef struct {
    uint32_t to, path;
    int32_t cost;
    gboolean backwards;
} DtRetrace;

typedef struct {
    uint32_t a, b;
    int32_t cost;
} DtKnownCost;

typedef struct DtLinks {
    const DtSections *sections;
    DtCost cost;
    DtMetric metric;
    DtSectionEnd *end;  /* two for each section */
    size_t n;           /* ends */
    GArray *paths;      /* DtWayBack */
    GArray *steps;      /* uint32_t, of all paths */
    DtRetrace *retrace; /* DT_LINKS_MOST for each end, cheapest first */
    uint8_t *n_retrace; /* of each end */
    uint32_t *at_place; /* ends sorted by place */
    uint32_t *first_at; /* of each place, into at_place; one more at the end */
    uint32_t n_places;
    DtKnownCost *known; /* of pairs asked for lately */
    unsigned known_shift;
} DtLinks;

#define DT_LINKS_MOST 6

/* longest: ways back over lines, mm; 0: none. The sections must outlive the links. */
DtLinks *dt_links_new(const DtSections *s, const DtCost *cost, double join, double longest);
void dt_links_free(DtLinks *l);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtLinks, dt_links_free)

/* The cheapest way between two ends. */
DtPassage dt_links_between(const DtLinks *l, uint32_t a, uint32_t b);

/* What it costs, microseconds; soon found where it was asked for lately. */
int32_t dt_links_cost(DtLinks *l, uint32_t a, uint32_t b);
/* Something has changed that costs depend on. */
void dt_links_forget(DtLinks *l);

/* Microseconds that a link saves against a lift. */
double dt_links_saved(const DtLinks *l, const DtPassage *link, uint32_t a, uint32_t b);

/* Appends the points of a way back over lines, its two ends left out. */
void dt_links_points(const DtLinks *l, const DtPassage *link, GArray *points);

static inline const DtWayBack *dt_links_path(const DtLinks *l, uint32_t path)
{
    return &g_array_index(l->paths, DtWayBack, path);
}

/* Where a whole piece begins and ends has changed; dt_links_forget() is to follow. */
void dt_links_move(DtLinks *l, uint32_t end, DtPoint at);

/* Draws runs that end where they begin from others, or begins them elsewhere, where that is cheaper. */
void dt_links_place_rounds(DtLinks *l, DtPiece *pieces, size_t n, const DtPiecesTask *task);

/* Orders sections so that no section is gone over more than once again, and all ways back together are no
 * longer than `most_mm`. */
void dt_links_order(DtLinks *l, DtPiece *pieces, size_t n, DtPiecesTask *task, double most_mm);
