/* crowded-lines (private to ink): lines thinner than their pen that lie closer together than it can tell apart. */
#pragma once

#include "ink/trace.h"

/* Thins them out: where lines crowd and their ink would cover far more than they do in the artwork, some are left out,
 * so that about as much is covered as there; each direction in proportion, longer lines first. A line that lies free is
 * always kept. `all` are the visible lines of each pen; what is left out is added to t->crowded_mm. Unless
 * t->o->thin_out is set nothing is left out, and t->crowded_mm grows by about how much is too many. */
gboolean dt_look_thin_out(DtTrace *t, DtPenLines *all, GError **error);
