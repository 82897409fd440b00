/* request: the JSON body of a request, bounded in depth and checked member by member. */
#pragma once

#include "drawtrue/geom.h"

#include <json-glib/json-glib.h>

/* The object, freed with json_object_unref(). NULL with DT_ERROR_USAGE if the text is not an
 * object, is not UTF-8, or is nested more than 8 deep. */
JsonObject *dt_request_read(const char *text, gsize len, GError **error);

/* Members; FALSE with DT_ERROR_USAGE if one is missing or has another type. Text belongs to the
 * object and has at most `most` bytes. */
gboolean dt_request_text(JsonObject *o, const char *name, gsize most, const char **out,
                         GError **error);
gboolean dt_request_number(JsonObject *o, const char *name, double *out, GError **error);
gboolean dt_request_whole(JsonObject *o, const char *name, gint64 least, gint64 most, gint64 *out,
                          GError **error);
gboolean dt_request_flag(JsonObject *o, const char *name, gboolean *out, GError **error);
gboolean dt_request_object(JsonObject *o, const char *name, JsonObject **out, GError **error);
gboolean dt_request_array(JsonObject *o, const char *name, guint most, JsonArray **out,
                          GError **error);
