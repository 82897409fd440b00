/* sample: what was measured on many machines, and its quantiles. */
#pragma once

#include <glib.h>
#include <math.h>

static inline int sample_compare(const void *a, const void *b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

/* The value at the nearest rank, `v` (of double) being sorted for it; NAN of none. */
static inline double sample_quantile(GArray *v, double q)
{
    if (v->len == 0)
        return NAN;
    g_array_sort(v, sample_compare);
    return g_array_index(v, double, (guint)(q * (v->len - 1) + 0.5));
}

static inline void sample_add(GArray *v, double x)
{
    g_array_append_val(v, x);
}
