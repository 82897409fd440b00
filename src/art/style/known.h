/* known, private: the meaning of names that are not drawn. Names that are drawn are in names.h;
 * no name is in both. */
#pragma once

#include "art/private.h"

typedef enum {
    ART_KNOWN_NOT,     /* no such name in SVG 2 or CSS: noted */
    ART_KNOWN_NOTHING, /* no effect on what a drawing shows */
    ART_KNOWN_BOX,     /* of boxes: affects only the outermost <svg>, noted there */
    ART_KNOWN_NOTED,   /* affects the drawing but is not drawn: noted */
} ArtKnown;

ArtKnown dt_art_known_property(const char *name);
ArtKnown dt_art_known_attribute(const char *name);
ArtKnown dt_art_known_element(const char *name);
/* Whether a value of a noted or box property has no effect: none, normal, auto, 0. */
gboolean dt_art_is_no_request(const char *value);
