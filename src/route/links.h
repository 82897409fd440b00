/* links: how the pen gets from one end of a section to an end of another one, and its cost:
 * across a join, by retracing, or with a lift. Private to route. */
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
    gboolean backwards; /* direction of the path away from its end */
} DtPassage;

/* An end of a section: number 2 * section, or one more for its last point. */
typedef struct {
    DtPoint at, dir; /* unit, into the section; 0 for a whole piece */
    double length;   /* of the section, mm */
    uint32_t node;   /* DT_NO_NODE for a whole piece */
    uint32_t place;  /* nodes within the join of one another share a place; DT_NO_NODE for a whole
                * piece */
    gboolean
        is_odd; /* an odd number of ends meet at the place: a run, or a retrace, must begin there */
    int32_t stop; /* microseconds lost by coming to rest here */
} DtSectionEnd;

/* A path over sections, each 2 * section, or one more if it is traversed backwards. */
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
    GArray *steps;      /* uint32_t, for all paths */
    DtRetrace *retrace; /* DT_LINKS_MOST for each end, cheapest first */
    uint8_t *n_retrace; /* of each end */
    uint32_t *at_place; /* ends sorted by place */
    uint32_t *first_at; /* for each place, into at_place; one more at the end */
    uint32_t n_places;
    DtKnownCost *known; /* cost of recently requested pairs */
    unsigned known_shift;
} DtLinks;

#define DT_LINKS_MOST 6

/* A lift costs this much more than its time: it wears pen and servo, and leaves a dot at either
 * end. */
#define DT_LINKS_LIFT_MORE_S 0.05

/* longest: mm of a retrace; 0: none. The sections must outlive the links. */
DtLinks *dt_links_new(const DtSections *s, const DtCost *cost, double join, double longest);
void dt_links_free(DtLinks *l);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtLinks, dt_links_free)

/* The cheapest link between two ends. */
DtPassage dt_links_between(const DtLinks *l, uint32_t a, uint32_t b);

/* Its cost, microseconds; cached if it was requested recently. */
int32_t dt_links_cost(DtLinks *l, uint32_t a, uint32_t b);
/* To be called when something has changed on which costs depend. */
void dt_links_forget(DtLinks *l);

/* Microseconds that a link saves compared with a lift. */
double dt_links_saved(const DtLinks *l, const DtPassage *link, uint32_t a, uint32_t b);

/* Appends the points of a retrace, without its two ends. */
void dt_links_points(const DtLinks *l, const DtPassage *link, GArray *points);

static inline const DtWayBack *dt_links_path(const DtLinks *l, uint32_t path)
{
    return &g_array_index(l->paths, DtWayBack, path);
}

/* The ends of a whole piece have changed; dt_links_forget() must follow. */
void dt_links_move(DtLinks *l, uint32_t end, DtPoint at);

/* Joins runs that end where they begin to others, or starts them elsewhere, if that is cheaper. */
void dt_links_place_rounds(DtLinks *l, DtPiece *pieces, size_t n, const DtPiecesTask *task);

/* Orders sections so that no section is retraced more than once, and all retraces together are
 * no longer than `most_mm`. */
void dt_links_order(DtLinks *l, DtPiece *pieces, size_t n, DtPiecesTask *task, double most_mm);
