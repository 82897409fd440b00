/* marks: what the text of a drawing speaks of, told without reading it as a drawing. */
#pragma once

#include <glib.h>

/* The file's text, unpacked where it is .svgz; NULL where it cannot be read. g_free. */
char *marks_read(const char *path);
/* The rule for the W3C suite: a drawing that has a filter, an animation or a script is not a static
 * drawing of shapes. */
gboolean marks_dynamic(const char *text);
/* What the drawing has that may explain a miss, joined by +. g_free. */
char *marks_features(const char *text);
/* Whether it filters anything. */
gboolean marks_filtered(const char *text);
/* Whether nothing in it can paint but flat colours. */
gboolean marks_flat(const char *text);
