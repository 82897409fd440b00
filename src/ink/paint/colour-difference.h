/* colour (private to ink): paints laid over one another. */
#pragma once

#include "drawtrue/ink.h"

/* c over the opaque colour `below`, mixed in sRGB as SVG does. */
DtColour dt_colour_over(DtColour c, DtColour below);
