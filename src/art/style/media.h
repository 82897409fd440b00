/* media, private: media queries and @supports. */
#pragma once

#include "art/private.h"

/* Whether a list of media queries (Media Queries 5) is true for a page of paper, treated as
 * browsers show pictures: an sRGB screen without a pointing device. Unknown features are noted. */
gboolean dt_art_media_applies(ArtReader *r, const ArtNode *n, const char *s, const char *end);
/* Whether a condition of @supports (CSS Conditional 3 and 4) is true for what is drawn here. */
gboolean dt_art_supports(ArtReader *r, const char *s, const char *end);
