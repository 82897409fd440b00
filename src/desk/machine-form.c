/* machine-form: the profile as a form, made from the table of keys, and the choice of profile
 * and port. */
#include "desk/private.h"

#include "desk/request.h"
#include "drawtrue/json.h"

#include <glib/gstdio.h>
#include <string.h>

enum { MOST_PROFILES = 40, MOST_CHANGES = 200, LONGEST_VALUE = 2000, MOST_BYTES = 1 << 20 };

gboolean dt_desk_may_change_profile(DtDesk *d, GError **error)
{
    DtSnapshot s;
    dt_session_snapshot(d->session, &s);
    if (!dt_desk_is_drawing(d) && (s.state == DT_STATE_CLOSED || s.state == DT_STATE_READY))
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                        "the machine is busy; wait or stop it first");
    return FALSE;
}

/* The form ---------------------------------------------------------------------------------- */

static void add_key(JsonBuilder *b, const DtProfileKey *k, GKeyFile *file, const char *section)
{
    g_autofree char *value = file ? g_key_file_get_value(file, section, k->name, NULL) : NULL;
    json_builder_begin_object(b);
    dt_json_text(b, "section", section);
    dt_json_text(b, "name", k->name);
    dt_json_text(b, "type", k->type);
    dt_json_text(b, "unit", k->unit);
    dt_json_text(b, "default", k->preset);
    dt_json_text(b, "help", k->help);
    dt_json_text(b, "range", k->range);
    dt_json_text(b, "value", value);
    json_builder_end_object(b);
}

static void add_section(JsonBuilder *b, const char *section, const char *title, GKeyFile *file)
{
    DtProfileKey k;
    json_builder_begin_object(b);
    dt_json_text(b, "name", title);
    dt_json_text(b, "help", dt_profile_section_help(section));
    dt_json_begin_array(b, "keys");
    for (size_t i = 0; dt_profile_key(i, &k); i++) {
        if (strcmp(k.section, section) == 0)
            add_key(b, &k, file, title);
        g_free(k.range);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
}

static void add_sections(JsonBuilder *b, const DtDesk *d, GKeyFile *file)
{
    DtProfileKey k;
    const char *last = "";
    for (size_t i = 0; dt_profile_key(i, &k); i++) {
        g_free(k.range);
        if (strcmp(k.section, last) == 0)
            continue;
        last = k.section;
        if (strcmp(last, "pen") != 0) {
            add_section(b, last, last, file);
            continue;
        }
        for (size_t j = 0; j < d->profile->rack.n; j++) {
            g_autofree char *title = g_strdup_printf("pen %s", d->profile->rack.pens[j].name);
            add_section(b, "pen", title, file);
        }
    }
}

GKeyFile *dt_desk_read_keys(const DtDesk *d)
{
    GKeyFile *file = g_key_file_new();
    gsize n;
    g_autofree char *text = d->profile->path
                                ? dt_base_read_file(d->profile->path, MOST_BYTES, &n, NULL)
                                : dt_profile_template();
    if (text != NULL)
        g_key_file_load_from_data(file, text, strlen(text), G_KEY_FILE_NONE, NULL);
    return file;
}

char *dt_desk_keys_json(DtDesk *d)
{
    g_autoptr(GKeyFile) file = dt_desk_read_keys(d);
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "path", d->profile->path);
    dt_json_begin_array(b, "sections");
    add_sections(b, d, file);
    json_builder_end_array(b);
    return dt_json_end(b);
}

/* Changes ----------------------------------------------------------------------------------- */

static gboolean is_name(const char *text)
{
    const gsize n = strlen(text);
    return n > 0 && n <= 40 && g_utf8_validate(text, -1, NULL) &&
           strpbrk(text, "[]\r\n\\/") == NULL && *text != ' ' && text[n - 1] != ' ';
}

static gboolean is_key(const char *section, const char *key)
{
    DtProfileKey k;
    const gboolean pen = g_str_has_prefix(section, "pen ") && is_name(section + 4);
    gboolean known = FALSE;
    for (size_t i = 0; dt_profile_key(i, &k); i++) {
        g_free(k.range);
        known |= strcmp(k.section, pen ? "pen" : section) == 0 && strcmp(k.name, key) == 0;
    }
    return known;
}

static gboolean read_change(JsonNode *node, DtProfileChange *out, GError **error)
{
    JsonObject *o = JSON_NODE_HOLDS_OBJECT(node) ? json_node_get_object(node) : NULL;
    *out = (DtProfileChange){0};
    if (o == NULL || !dt_request_text(o, "section", 60, &out->section, error) ||
        !dt_request_text(o, "key", 60, &out->key, error) ||
        !dt_request_text(o, "value", LONGEST_VALUE, &out->value, error)) {
        if (o == NULL)
            g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "a change must be an object");
        return FALSE;
    }
    gboolean clean = TRUE;
    for (const char *c = out->value; *c != '\0'; c++)
        clean = clean && !g_ascii_iscntrl(*c);
    if (clean && is_key(out->section, out->key))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "%s %s: %s", out->section, out->key,
                clean ? _("a profile has no such key") : _("the value has a control character"));
    return FALSE;
}

gboolean dt_desk_write_keys(DtDesk *d, JsonObject *in, GError **error)
{
    JsonArray *list;
    if (!dt_request_array(in, "changes", MOST_CHANGES, &list, error) ||
        !dt_desk_may_change_profile(d, error))
        return FALSE;
    if (d->profile->path == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "this is the built-in profile; make one of your own first");
        return FALSE;
    }
    const guint n = json_array_get_length(list);
    g_autofree DtProfileChange *changes = g_new0(DtProfileChange, n + 1);
    for (guint i = 0; i < n; i++)
        if (!read_change(json_array_get_element(list, i), &changes[i], error))
            return FALSE;
    if (n == 0 || !dt_profile_update(d->profile->path, NULL, changes, n, error))
        return n == 0;
    dt_desk_reload_profile(d, d->profile->path);
    return TRUE;
}

gboolean dt_desk_new_profile(DtDesk *d, const char *name, GError **error)
{
    if (!dt_desk_may_change_profile(d, error))
        return FALSE;
    if (!is_name(name) || *name == '.') {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "a name has up to 40 letters, without slashes");
        return FALSE;
    }
    g_autofree char *file = g_strdup_printf("%s.ini", name);
    g_autofree char *path = g_build_filename(d->folder, file, NULL);
    if (g_file_test(path, G_FILE_TEST_EXISTS | G_FILE_TEST_IS_SYMLINK)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s already exists", path);
        return FALSE;
    }
    g_autofree char *text = dt_profile_template();
    const DtProfileChange named = {"machine", "name", name, NULL};
    if (!dt_base_write_file(path, text, strlen(text), error) ||
        !dt_profile_update(path, NULL, &named, 1, error))
        return FALSE;
    dt_desk_reload_profile(d, path);
    return TRUE;
}

/* Choices ----------------------------------------------------------------------------------- */

static gboolean is_profile(const char *path)
{
    g_autoptr(DtProfile) p = dt_profile_load(path, NULL);
    return p != NULL;
}

char **dt_desk_profiles(DtDesk *d)
{
    g_autoptr(GPtrArray) paths = g_ptr_array_new();
    g_autoptr(GDir) dir = g_dir_open(d->folder, 0, NULL);
    if (d->profile->path != NULL)
        g_ptr_array_add(paths, g_strdup(d->profile->path));
    for (const char *name;
         dir && (name = g_dir_read_name(dir)) != NULL && paths->len < MOST_PROFILES;) {
        g_autofree char *path = g_build_filename(d->folder, name, NULL);
        g_autofree char *own =
            d->profile->path ? g_canonicalize_filename(d->profile->path, NULL) : NULL;
        if (g_str_has_suffix(name, ".ini") && g_strcmp0(path, own) != 0 && is_profile(path))
            g_ptr_array_add(paths, g_steal_pointer(&path));
    }
    g_ptr_array_add(paths, NULL);
    return (char **)g_ptr_array_free(g_steal_pointer(&paths), FALSE);
}

gboolean dt_desk_choose_profile(DtDesk *d, const char *path, GError **error)
{
    if (!dt_desk_may_change_profile(d, error))
        return FALSE;
    if (*path == '\0') {
        dt_desk_reload_profile(d, NULL);
        return TRUE;
    }
    g_auto(GStrv) known = dt_desk_profiles(d);
    if (!g_strv_contains((const char *const *)known, path)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "there is no such profile here");
        return FALSE;
    }
    dt_desk_reload_profile(d, path);
    return TRUE;
}

static gboolean is_port(const DtDesk *d, const char *path)
{
    size_t n;
    DtLinkPort *ports = dt_link_ports(&n);
    gboolean known = g_strcmp0(path, d->given_port) == 0;
    for (size_t i = 0; i < n; i++)
        known |= strcmp(ports[i].path, path) == 0;
    dt_link_ports_free(ports, n);
    return known;
}

gboolean dt_desk_choose_port(DtDesk *d, const char *path, GError **error)
{
    if (!dt_desk_may_change_profile(d, error))
        return FALSE;
    if (!is_port(d, path)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "this computer has no such port");
        return FALSE;
    }
    g_autofree char *own = g_strdup(path);
    g_free(d->port_path);
    d->port_path = g_steal_pointer(&own);
    dt_desk_reload_profile(d, d->profile->path);
    return TRUE;
}
