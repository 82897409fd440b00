/* known, private: what a name that is not drawn stands for. Names that are drawn are in names.h; no
 * name is in both. */
#pragma once

#include "art/private.h"

typedef enum {
    ART_KNOWN_NOT,     /* no such name in SVG 2 or CSS: a note */
    ART_KNOWN_NOTHING, /* without effect on what a drawing shows */
    ART_KNOWN_BOX,     /* of boxes: with effect on the outermost <svg> alone, noted there */
    ART_KNOWN_NOTED,   /* with effect, which is not drawn: a note */
} ArtKnown;

ArtKnown dt_art_known_property(const char *name);
ArtKnown dt_art_known_attribute(const char *name);
ArtKnown dt_art_known_element(const char *name);
/* Whether a value of a noted or box property asks for nothing: none, normal, auto, 0. */
gboolean dt_art_is_no_request(const char *value);
