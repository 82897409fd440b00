/* trim (private to ink): cuts off what lies far from any bed, so that a shape of any finite size
 * can be laid on the plane. */
#pragma once

#include "drawtrue/geom.h"

/* The part of ab inside the box, as parameters; FALSE where there is none (Liang and Barsky 1984).
 */
gboolean dt_trim_segment(DtPoint a, DtPoint b, DtBox w, double *t0, double *t1);
/* Closed outlines within the plane's reach; inside it every winding number stays (Sutherland and
 * Hodgman 1974). */
void dt_trim_rings(DtLines *l);
/* The parts of lines within the plane's reach. */
void dt_trim_lines(DtLines *l);
