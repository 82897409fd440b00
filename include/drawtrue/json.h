/* json: members of the object that a builder has open, and the text of what it built (RFC 8259).
 * Names are ASCII literals; text need not be valid UTF-8 and is made so. */
#pragma once

#include <json-glib/json-glib.h>
#include <stddef.h>

/* Rounded to a thousandth where the name ends in _mm or _s, else to a ten-thousandth: finer than
 * anything that is measured or drawn. Not finite: null. */
void dt_json_number(JsonBuilder *b, const char *name, double value);
/* An array of such numbers. */
void dt_json_numbers(JsonBuilder *b, const char *name, const double *values, size_t n);
void dt_json_count(JsonBuilder *b, const char *name, size_t value);
void dt_json_flag(JsonBuilder *b, const char *name, gboolean value);
/* NULL becomes null. */
void dt_json_text(JsonBuilder *b, const char *name, const char *value);
/* Opens an array under a name. */
void dt_json_begin_array(JsonBuilder *b, const char *name);

/* A builder with an object open. */
JsonBuilder *dt_json_begin(void);
/* Closes that object; its text, indented, with a line end. Frees the builder; freed by the caller. */
char *dt_json_end(JsonBuilder *b);
/* The whole as text, on one line or indented; freed by the caller. */
char *dt_json_write(JsonBuilder *b, gboolean indented);
