/* tone-gaps (private to ink): gaps in the ink of paints that change from place to place. */
#pragma once

#include "ink/look/compose.h"

typedef struct DtToneGaps DtToneGaps;

/* `c` and `place_of`, as of dt_compose_edges(), are kept. */
DtToneGaps *dt_tone_gaps_new(const DtCompose *c, const int *place_of);
void dt_tone_gaps_free(DtToneGaps *g);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtToneGaps, dt_tone_gaps_free)
/* Looks along an edge between two parts that have ink. */
void dt_tone_gaps_add(const DtToneGaps *g, const DtPartEdge *e);
/* Cuts the places, or single pens of theirs, back along what was found. */
gboolean dt_tone_gaps_cut(const DtToneGaps *g, GError **error);
