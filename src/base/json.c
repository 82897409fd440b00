/* json: members and text of a JSON document (RFC 8259), by json-glib; numbers are written here, in
 * the fewest digits that stand for them. */
#include "drawtrue/json.h"

#include <math.h>
#include <string.h>

static double rounded(const char *name, double value)
{
    const gboolean length_or_time = g_str_has_suffix(name, "_mm") || g_str_has_suffix(name, "_s");
    const double unit = length_or_time && strstr(name, "_per_") == NULL ? 1e3 : 1e4;
    const double r = fabs(value) < 1e11 ? round(value * unit) / unit : value;
    return r == 0 ? 0 : r; /* no negative zero */
}

static void add_number(JsonBuilder *b, const char *name, double value)
{
    if (isfinite(value))
        json_builder_add_double_value(b, rounded(name, value));
    else
        json_builder_add_null_value(b);
}

void dt_json_number(JsonBuilder *b, const char *name, double value)
{
    json_builder_set_member_name(b, name);
    add_number(b, name, value);
}

void dt_json_begin_array(JsonBuilder *b, const char *name)
{
    json_builder_set_member_name(b, name);
    json_builder_begin_array(b);
}

void dt_json_numbers(JsonBuilder *b, const char *name, const double *values, size_t n)
{
    dt_json_begin_array(b, name);
    for (size_t i = 0; i < n; i++)
        add_number(b, name, values[i]);
    json_builder_end_array(b);
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

/* Writing ------------------------------------------------------------------------------------ */

static void write_node(JsonNode *node, int depth, gboolean indented, GString *out);

static void new_line(int depth, gboolean indented, GString *out)
{
    if (indented)
        g_string_append_printf(out, "\n%*s", 2 * depth, "");
}

static void write_array(JsonArray *a, int depth, gboolean indented, GString *out)
{
    const guint n = json_array_get_length(a);
    g_string_append_c(out, '[');
    for (guint i = 0; i < n; i++) {
        if (i > 0)
            g_string_append_c(out, ',');
        new_line(depth + 1, indented, out);
        write_node(json_array_get_element(a, i), depth + 1, indented, out);
    }
    if (n > 0)
        new_line(depth, indented, out);
    g_string_append_c(out, ']');
}

static void write_text(const char *text, GString *out)
{
    g_autoptr(JsonNode) node = json_node_init_string(json_node_alloc(), text);
    g_autofree char *quoted = json_to_string(node, FALSE);
    for (const char *at = quoted; *at != '\0'; at = g_utf8_next_char(at)) {
        const gunichar c = g_utf8_get_char(at);
        if (c >= 0x7F && c <= 0x9F) /* valid in JSON, but a terminal would obey them */
            g_string_append_printf(out, "\\u%04x", (unsigned)c);
        else
            g_string_append_unichar(out, c);
    }
}

static void write_object(JsonObject *o, int depth, gboolean indented, GString *out)
{
    g_autoptr(GList) names = json_object_get_members(o);
    g_string_append_c(out, '{');
    for (const GList *l = names; l != NULL; l = l->next) {
        if (l != names)
            g_string_append_c(out, ',');
        new_line(depth + 1, indented, out);
        write_text(l->data, out);
        g_string_append(out, indented ? " : " : ":");
        write_node(json_object_get_member(o, l->data), depth + 1, indented, out);
    }
    if (names != NULL)
        new_line(depth, indented, out);
    g_string_append_c(out, '}');
}

/* The fewest digits that read back as the same number. */
static void write_number(double v, GString *out)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    for (int digits = 15; digits <= 17; digits++) {
        char format[8];
        g_snprintf(format, sizeof format, "%%.%dg", digits);
        g_ascii_formatd(text, sizeof text, format, v);
        if (g_ascii_strtod(text, NULL) == v)
            break;
    }
    g_string_append(out, text);
    if (strpbrk(text, ".e") == NULL)
        g_string_append(out, ".0");
}

static void write_node(JsonNode *node, int depth, gboolean indented, GString *out)
{
    if (JSON_NODE_HOLDS_ARRAY(node)) {
        write_array(json_node_get_array(node), depth, indented, out);
    } else if (JSON_NODE_HOLDS_OBJECT(node)) {
        write_object(json_node_get_object(node), depth, indented, out);
    } else if (JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_DOUBLE) {
        write_number(json_node_get_double(node), out);
    } else if (JSON_NODE_HOLDS_VALUE(node) && json_node_get_value_type(node) == G_TYPE_STRING) {
        write_text(json_node_get_string(node), out);
    } else {
        g_autofree char *text = json_to_string(node, FALSE);
        g_string_append(out, text);
    }
}

char *dt_json_write(JsonBuilder *b, gboolean indented)
{
    g_autoptr(JsonNode) root = json_builder_get_root(b);
    GString *out = g_string_new(NULL);
    write_node(root, 0, indented, out);
    return g_string_free(out, FALSE);
}

JsonBuilder *dt_json_begin(void)
{
    JsonBuilder *b = json_builder_new();
    json_builder_begin_object(b);
    return b;
}

char *dt_json_end(JsonBuilder *b)
{
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    g_object_unref(b);
    return g_strconcat(text, "\n", NULL);
}
