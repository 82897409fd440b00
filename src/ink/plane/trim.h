/* trim (private to ink): cuts off what lies far from any bed, so that a shape of any finite size
 * can be put on the plane. */
#pragma once

#include "drawtrue/geom.h"

/* The part of ab inside the box, as parameters; FALSE if there is none (Liang and Barsky 1984). */
gboolean dt_trim_segment(DtPoint a, DtPoint b, DtBox w, double *t0, double *t1);
/* Closed outlines inside the plane's range; inside it every winding number is preserved
 * (Sutherland and Hodgman 1974). */
void dt_trim_rings(DtLines *l);
/* The parts of lines inside the plane's range. */
void dt_trim_lines(DtLines *l);
