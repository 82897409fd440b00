/* colour, private: colours in the spaces of CSS Color 4 and conversion between them. */
#pragma once

#include "art/private.h"

typedef enum {
    ART_SPACE_SRGB,
    ART_SPACE_SRGB_LINEAR,
    ART_SPACE_P3,
    ART_SPACE_A98,
    ART_SPACE_PROPHOTO,
    ART_SPACE_REC2020,
    ART_SPACE_XYZ_D50,
    ART_SPACE_XYZ, /* D65 */
    ART_SPACE_LAB,
    ART_SPACE_LCH,
    ART_SPACE_OKLAB,
    ART_SPACE_OKLCH,
    ART_SPACE_HSL, /* degrees; the others from 0 to 100 */
    ART_SPACE_HWB,
    ART_N_SPACES
} ArtSpace;

/* Components in the units of the space: 0 to 1 in RGB and XYZ, L from 0 to 100 in Lab and LCH,
 * from 0 to 1 in OKLab and OKLCH, hues in degrees. */
typedef struct {
    ArtSpace space;
    double c[3], alpha;
    unsigned missing; /* a bit for each component that is `none`; 8: alpha */
} ArtTint;

/* Which component is the hue; -1 if there is none. */
int dt_art_space_hue(ArtSpace space);
/* The space of a name such as "oklch" or "display-p3"; -1 for none. */
int dt_art_space_of(const char *name, gsize len);
ArtTint dt_art_tint_in(ArtTint t, ArtSpace space);
/* In sRGB, mapped into its gamut by CSS Color 4, 13.2. *mapped is set if it was outside. */
DtColour dt_art_tint_colour(ArtTint t, gboolean *mapped);

typedef enum { ART_HUE_SHORTER, ART_HUE_LONGER, ART_HUE_INCREASING, ART_HUE_DECREASING } ArtHueWay;

/* Mixes share (1 - t) of a with share t of b in a space: CSS Color 4, 12. */
ArtTint dt_art_tint_mix(ArtTint a, ArtTint b, double t, ArtSpace space, ArtHueWay way);
