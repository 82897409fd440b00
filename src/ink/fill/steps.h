/* steps (private to ink): slow changes of tone as even hatches that go on into one another. */
#pragma once

#include "ink/fill/fill.h"

/* How the tone of a hatch changes over an area. */
typedef struct {
    double change;    /* mean, per mm */
    double along;     /* direction in which it does not change, radians, from 0 to pi, ... */
    double coherence; /* ... and how much that is the same everywhere, 0 to 1 */
} DtToneChange;

/* FALSE if there is nothing to be hatched. */
gboolean dt_fill_tone_change(const DtLines *inset, const DtFillStyle *f, double angle,
                             DtToneChange *out);

/* Whether the tone changes so slowly that steps of it are wider than their lines' pitch. */
static inline gboolean dt_fill_is_slow_tone(const DtToneChange *c)
{
    return c->change <= 0.05; /* steps of 0.1 are then 2 mm wide */
}

/* Hatches an area whose tone changes slowly, in even hatches of a few shares, each where the tone is nearest to its own;
 * very light tones by dt_tone_thin(). Fails as dt_hatch_pieces() does. */
gboolean dt_fill_tone_steps(const DtLines *inset, const DtFillStyle *f, double angle,
                            const DtToneChange *change, DtLines *out, GError **error);

/* Whether the tone changes across the lines only, or would if they were turned a little, in an area that is not too
 * intricate for that. */
gboolean dt_fill_changes_across(const DtLines *inset, const DtFillStyle *f, double angle,
                                const DtToneChange *c);
/* Hatches such an area in those lines, the spaces between which change as the tone does. */
gboolean dt_fill_tone_across(const DtLines *inset, const DtFillStyle *f, const DtToneChange *change,
                             DtLines *out, GError **error);
