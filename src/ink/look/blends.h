/* blends (private to ink): many narrow adjacent parts whose paints change little from one to the
 * next, such as a gradient that a drawing program split up, are drawn as a few larger ones. */
#pragma once

#include "ink/look/parts.h"
#include "ink/paint/colour-difference.h"

/* The group of each part (g_free()), numbered from 0 in order of their first parts; *n_groups of
 * them. A part narrower than `narrow` mm joins the neighbour with the most similar paint, as
 * long as the groups' mean paints look alike. paint[i] is part i's; parts with fixed[i] set stay
 * alone. mean[g] receives each group's paint, weighted by area; it has room for as many as there
 * are parts. */
int *dt_blend_parts(const GArray *parts, const GArray *borders, const DtLab *paint,
                    const gboolean *fixed, double narrow, DtLab *mean, int *n_groups);
