/* groups (private to ink): the pieces of a region, those close to one another together.
 *
 * A line over a field cuts it into pieces a few tips apart, which must look like one field; shapes farther apart are
 * seen by themselves. */
#pragma once

#include "ink/plane/region.h"

typedef struct DtGroups DtGroups;

/* The groups of a clean region: pieces whose edges are no farther than about `reach` > 0 mm apart, directly or from
 * piece to piece, are one group. */
DtGroups *dt_groups_new(const DtLines *region, double reach);
void dt_groups_free(DtGroups *g);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtGroups, dt_groups_free)

size_t dt_groups_n(const DtGroups *g);
/* The clean region that a group is, owned by `g`. */
const DtLines *dt_groups_region(const DtGroups *g, size_t group);
/* The group with the nearest edge, for a place up to `reach` mm from one; 0 if there is none so near. */
size_t dt_groups_at(const DtGroups *g, DtPoint at);
