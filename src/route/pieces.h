/* pieces: what is drawn without a lift or a choice in between, ordered as one open path from
 * where the pen comes from to where it goes. Private to route. */
#pragma once

#include "route/metric.h"

/* A stroke, or a part of one. */
typedef struct {
    const DtPoint *pts; /* not owned */
    size_t n;           /* at least 1 */
    size_t stroke;      /* the stroke it belongs to */
    size_t turn;        /* a loop: the vertex at which it starts and ends */
    uint8_t closed;     /* returns to its first point, which is not repeated */
    uint8_t backwards;  /* drawn from its last point to its first */
    uint32_t section;   /* its number, where pieces are sections */
} DtPiece;

static inline DtPoint dt_piece_start(const DtPiece *p)
{
    return p->pts[p->closed ? p->turn : p->backwards ? p->n - 1 : 0];
}

static inline DtPoint dt_piece_end(const DtPiece *p)
{
    return p->pts[p->closed ? p->turn : p->backwards ? 0 : p->n - 1];
}

/* The k-th point as drawn, 0 <= k < dt_piece_count(). */
static inline size_t dt_piece_count(const DtPiece *p)
{
    return p->n + (p->closed && p->n > 1);
}

static inline DtPoint dt_piece_at(const DtPiece *p, size_t k)
{
    if (p->closed)
        return p->pts[(p->turn + k) % p->n];
    return p->pts[p->backwards ? p->n - 1 - k : k];
}

typedef struct {
    DtPoint start, end;
    gboolean end_anywhere; /* `end` is not used */
    gboolean directed;     /* pieces may not be reversed */
    double budget_s;       /* processor time; 0: no limit */
    uint64_t kicks, seed;
    double from, to;       /* weight of this task in the progress of the whole ordering */
    struct DtLinks *links; /* between sections; NULL: only the metric counts */
    gboolean keep;         /* start from the order given */
} DtPiecesTask;

/* The ends of sections at which a piece begins and ends. */
static inline uint32_t dt_piece_first_end(const DtPiece *p)
{
    return 2 * p->section + (p->backwards && !p->closed && p->n > 1);
}

static inline uint32_t dt_piece_last_end(const DtPiece *p)
{
    return 2 * p->section + (!p->backwards && !p->closed && p->n > 1);
}

/* Cost of the pieces in the given order, microseconds, without drawing itself. */
int64_t dt_pieces_cost(const DtMetric *m, const DtPiece *pieces, size_t n,
                       const DtPiecesTask *task);

/* Reorders, reverses and chooses the starts of loops, in place; never to a higher cost. Returns
 * early, with the pieces intact, if the current work was cancelled. */
void dt_pieces_order(const DtMetric *m, DtPiece *pieces, size_t n, const DtPiecesTask *task);
