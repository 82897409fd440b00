/* json: adds members to the open object of a builder, and turns the result into text (RFC 8259).
 * Names are ASCII literals; text need not be valid UTF-8 and is made valid. */
#pragma once

#include <json-glib/json-glib.h>
#include <stddef.h>

/* Rounded to a thousandth if the name ends in _mm or _s, else to a ten-thousandth, which is
 * finer than anything measured or drawn. Not finite: null. */
void dt_json_number(JsonBuilder *b, const char *name, double value);
/* An array of such numbers. */
void dt_json_numbers(JsonBuilder *b, const char *name, const double *values, size_t n);
void dt_json_count(JsonBuilder *b, const char *name, size_t value);
void dt_json_flag(JsonBuilder *b, const char *name, gboolean value);
/* NULL is written as null. */
void dt_json_text(JsonBuilder *b, const char *name, const char *value);
/* Opens an array under this name. */
void dt_json_begin_array(JsonBuilder *b, const char *name);

/* A builder with an open object. */
JsonBuilder *dt_json_begin(void);
/* Closes the object and returns its text, indented, with a line end. Frees the builder; the text
 * is freed by the caller. */
char *dt_json_end(JsonBuilder *b);
/* The whole as text, on one line or indented; freed by the caller. */
char *dt_json_write(JsonBuilder *b, gboolean indented);
