/* steps (private to ink): slow changes of tone as even hatches side by side. */
#pragma once

#include "ink/fill/fill.h"

/* Whether the tone of a hatch changes so slowly over an area that steps of it are wider than their lines'
 * pitch. */
gboolean dt_fill_is_slow_tone(const DtLines *inset, const DtFillStyle *f, double angle);

/* Hatches an area whose tone changes slowly: dark tones in even hatches of a few shares, each where the tone is
 * nearest to its own, and lighter ones by dt_tone_thin(). Fails as dt_hatch_pieces() does. */
gboolean dt_fill_tone_steps(const DtLines *inset, const DtFillStyle *f, double angle, DtLines *out,
                            GError **error);
