/* request: see request.h. */
#include "desk/request.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

enum { DEEPEST = 8 };

/* The parser recurses for each level, and truncates text at an escaped zero. */
static gboolean is_parsable(const char *text, gsize len)
{
    int depth = 0;
    gboolean quoted = FALSE;
    for (gsize i = 0; i < len; i++) {
        const char c = text[i];
        if (quoted && c == '\\' && len - i >= 6 && memcmp(text + i, "\\u0000", 6) == 0)
            return FALSE;
        else if (quoted && c == '\\')
            i++;
        else if (c == '"')
            quoted = !quoted;
        else if (!quoted && (c == '[' || c == '{') && ++depth > DEEPEST)
            return FALSE;
        else if (!quoted && (c == ']' || c == '}'))
            depth--;
    }
    return TRUE;
}

JsonObject *dt_request_read(const char *text, gsize len, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    JsonNode *root = NULL;
    if (len > 0 && memchr(text, '\0', len) == NULL && g_utf8_validate(text, (gssize)len, NULL) &&
        is_parsable(text, len) && json_parser_load_from_data(parser, text, (gssize)len, NULL))
        root = json_parser_get_root(parser);
    if (root == NULL || !JSON_NODE_HOLDS_OBJECT(root)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "the request is not a JSON object");
        return NULL;
    }
    return json_object_ref(json_node_get_object(root));
}

static JsonNode *value_of(JsonObject *o, const char *name, GType type)
{
    JsonNode *node = json_object_get_member(o, name);
    if (node == NULL || !JSON_NODE_HOLDS_VALUE(node))
        return NULL;
    const GType own = json_node_get_value_type(node);
    return own == type || (type == G_TYPE_DOUBLE && own == G_TYPE_INT64) ? node : NULL;
}

static gboolean refuse(const char *name, const char *form, GError **error)
{
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "'%s' must be %s", name, form);
    return FALSE;
}

gboolean dt_request_text(JsonObject *o, const char *name, gsize most, const char **out,
                         GError **error)
{
    JsonNode *node = value_of(o, name, G_TYPE_STRING);
    if (node == NULL || strlen(json_node_get_string(node)) > most)
        return refuse(name, _("a text"), error);
    *out = json_node_get_string(node);
    return TRUE;
}

gboolean dt_request_number(JsonObject *o, const char *name, double *out, GError **error)
{
    JsonNode *node = value_of(o, name, G_TYPE_DOUBLE);
    const double v = node != NULL ? json_node_get_double(node) : NAN;
    if (!isfinite(v))
        return refuse(name, _("a number"), error);
    *out = v;
    return TRUE;
}

gboolean dt_request_whole(JsonObject *o, const char *name, gint64 least, gint64 most, gint64 *out,
                          GError **error)
{
    JsonNode *node = value_of(o, name, G_TYPE_INT64);
    if (node == NULL || json_node_get_int(node) < least || json_node_get_int(node) > most)
        return refuse(name, _("a whole number"), error);
    *out = json_node_get_int(node);
    return TRUE;
}

gboolean dt_request_flag(JsonObject *o, const char *name, gboolean *out, GError **error)
{
    JsonNode *node = value_of(o, name, G_TYPE_BOOLEAN);
    if (node == NULL)
        return refuse(name, _("true or false"), error);
    *out = json_node_get_boolean(node);
    return TRUE;
}

gboolean dt_request_object(JsonObject *o, const char *name, JsonObject **out, GError **error)
{
    JsonNode *node = json_object_get_member(o, name);
    if (node == NULL || !JSON_NODE_HOLDS_OBJECT(node))
        return refuse(name, _("an object"), error);
    *out = json_node_get_object(node);
    return TRUE;
}

gboolean dt_request_array(JsonObject *o, const char *name, guint most, JsonArray **out,
                          GError **error)
{
    JsonNode *node = json_object_get_member(o, name);
    if (node == NULL || !JSON_NODE_HOLDS_ARRAY(node) ||
        json_array_get_length(json_node_get_array(node)) > most)
        return refuse(name, _("a list"), error);
    *out = json_node_get_array(node);
    return TRUE;
}
