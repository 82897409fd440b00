/* flow (private to ink): hatch lines that follow the shapes in a picture. */
#pragma once

#include "ink/picture/grid.h"

/* Appends lines along the edges in the picture, spaced as a pen of width `tip` mm needs for the
 * tone: the directions are those in which the share changes least, smoothed (the structure
 * tensor of Foerstner and Gulch 1987; Kang, Lee and Chui 2007 have the idea), the lines are
 * placed evenly by the method of Jobard and Lefer 1997 with a varying distance. `angle` is for
 * places without a direction, radians. The pen's centre stays where `g` has shares; `whole` is the
 * tone that they have to cover, which reaches half a tip farther. */
void dt_flow_lines(const DtShareGrid *g, const DtShareGrid *whole, double tip, double angle,
                   DtLines *out);
/* Appends lines around the picture's shapes and its edge, spaced by tone: level sets of the
 * potential that rises by one over tip / share mm (Zhao 2005, "A fast sweeping method for
 * eikonal equations"; marching squares after Lorensen and Cline 1987). */
void dt_contour_lines(const DtShareGrid *g, double tip, DtLines *out);
