/* media, private: media queries and @supports. */
#pragma once

#include "art/private.h"

/* Whether a list of media queries (Media Queries 5) is true of a page of paper, which is seen as
 * browsers show pictures: a screen of sRGB that nothing points at. What is not known is noted. */
gboolean dt_art_media_applies(ArtReader *r, const ArtNode *n, const char *s, const char *end);
/* Whether a condition of @supports (CSS Conditional 3 and 4) is true of what is drawn here. */
gboolean dt_art_supports(ArtReader *r, const char *s, const char *end);
