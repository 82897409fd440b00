/* point-hash (private to ink): points of the grid as keys of a GHashTable. */
#pragma once

#include "ink/plane/plane.h"

#include <glib.h>

static inline guint dt_point_hash(gconstpointer key)
{
    const DtPoint *p = key;
    return (guint)(int)(p->x * DT_GRID_PER_MM) * 2654435761u +
           (guint)(int)(p->y * DT_GRID_PER_MM) * 40503u;
}

static inline gboolean dt_point_equal(gconstpointer a, gconstpointer b)
{
    const DtPoint *p = a, *q = b;
    return p->x == q->x && p->y == q->y;
}
