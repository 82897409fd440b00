/* centre (private to ink): single lines along parts that an inset leaves out. */
#pragma once

#include "ink/plane/region.h"

/* Appends centre lines of those parts of `region` that are farther than `by` from its inset (by
 * `by` mm): the parts narrower than twice `by`. */
gboolean dt_centre_lines(const DtLines *region, const DtLines *inset, double by, DtLines *out,
                         GError **error);
