/* json: members and text of a JSON document (RFC 8259), by json-glib. */
#include "drawtrue/json.h"

void dt_json_number(JsonBuilder *b, const char *name, double value)
{
    json_builder_set_member_name(b, name);
    json_builder_add_double_value(b, value);
}

void dt_json_count(JsonBuilder *b, const char *name, size_t value)
{
    json_builder_set_member_name(b, name);
    json_builder_add_int_value(b, (gint64)value);
}

void dt_json_flag(JsonBuilder *b, const char *name, gboolean value)
{
    json_builder_set_member_name(b, name);
    json_builder_add_boolean_value(b, value);
}

void dt_json_text(JsonBuilder *b, const char *name, const char *value)
{
    json_builder_set_member_name(b, name);
    if (value == NULL) {
        json_builder_add_null_value(b);
        return;
    }
    g_autofree char *valid = g_utf8_make_valid(value, -1);
    json_builder_add_string_value(b, valid);
}

char *dt_json_write(JsonBuilder *b, gboolean indented)
{
    g_autoptr(JsonNode) root = json_builder_get_root(b);
    return json_to_string(root, indented);
}
