/* json: members of the object that a builder has open, and the text of what it built. Names are
 * ASCII literals; text need not be valid UTF-8 and is made so. */
#pragma once

#include <json-glib/json-glib.h>
#include <stddef.h>

void dt_json_number(JsonBuilder *b, const char *name, double value);
void dt_json_count(JsonBuilder *b, const char *name, size_t value);
void dt_json_flag(JsonBuilder *b, const char *name, gboolean value);
/* NULL becomes null. */
void dt_json_text(JsonBuilder *b, const char *name, const char *value);
/* The whole as text, on one line or indented; freed by the caller. */
char *dt_json_write(JsonBuilder *b, gboolean indented);
