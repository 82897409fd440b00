/* near: the nearest of many points, by a k-d tree in plain arrays (Bentley 1975). Handles
 * clustered and coincident points. Private to route. */
#pragma once

#include "drawtrue/geom.h"

#define DT_NEAR_MAX 24

typedef struct {
    DtPoint *at;    /* in tree order */
    uint32_t *item; /* the caller's index of each */
    uint8_t *axis;  /* of the split at each inner node */
    uint32_t n;
} DtNear;

/* Accepts or refuses a candidate; `item` is the caller's index. */
typedef gboolean (*DtNearFilter)(uint32_t item, const void *user);

typedef struct {
    DtPoint at;
    unsigned k;          /* at most DT_NEAR_MAX */
    int quadrant;        /* -1: all around; 0 to 3: only there (bit 0: left, bit 1: below) */
    DtNearFilter accept; /* may be NULL */
    const void *user;
    unsigned patience; /* give up after this many leaves; 0: never. An empty quadrant may border
                        * on very many points */
    unsigned found;    /* results: how many, nearest first */
    uint32_t item[DT_NEAR_MAX];
    double d2[DT_NEAR_MAX];
} DtNearQuery;

/* Builds the tree over at[items[0..n-1]], or over at[0..n-1] if items is NULL. */
void dt_near_init(DtNear *t, const DtPoint *at, const uint32_t *items, uint32_t n);
void dt_near_clear(DtNear *t);
void dt_near_find(const DtNear *t, DtNearQuery *q);

/* Indices of the points in order along a Hilbert curve (Hilbert 1891) over their box; coincident
 * points keep their order. */
void dt_near_curve(const DtPoint *at, uint32_t n, uint32_t *order);
