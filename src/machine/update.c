/* update: writes single values back into a profile, line by line, so that the rest of the file
 * stays as it was written. */
#include "drawtrue/machine.h"

#include <string.h>

enum { LONGEST_PROFILE = 1 << 20 };

/* The name of the section that the line opens; NULL if it opens none. Freed by the caller. */
static char *section_of(const char *line)
{
    g_autofree char *s = g_strstrip(g_strdup(line));
    gsize n = strlen(s);
    if (n < 2 || s[0] != '[' || s[n - 1] != ']')
        return NULL;
    s[n - 1] = '\0';
    return g_strdup(g_strstrip(s + 1));
}

static gboolean sets_key(const char *line, const char *key)
{
    line += strspn(line, " \t");
    gsize n = strlen(key);
    if (strncmp(line, key, n) != 0)
        return FALSE;
    line += n;
    return line[strspn(line, " \t")] == '=';
}

/* Where a key is, or would be inserted: `at` is its line, or the one after the last of its
 * section. */
typedef struct {
    guint at;
    gboolean section, key;
} Spot;

static Spot find_spot(const GPtrArray *lines, const DtProfileChange *c)
{
    Spot spot = {lines->len, FALSE, FALSE};
    gboolean inside = FALSE;
    for (guint i = 0; i < lines->len; i++) {
        const char *line = lines->pdata[i];
        g_autofree char *section = section_of(line);
        if (section) {
            inside = strcmp(section, c->section) == 0;
            spot.section |= inside;
        }
        if (inside && sets_key(line, c->key))
            return (Spot){i, TRUE, TRUE};
        if (inside && *line && strcmp(line, "\r") != 0)
            spot.at = i + 1;
    }
    return spot;
}

/* A remark that begins with the same word comes from an earlier update and is replaced. */
static gboolean is_same_remark(const char *line, const char *remark)
{
    gsize word = strcspn(remark, " ");
    return g_str_has_prefix(line, "# ") && strncmp(line + 2, remark, word) == 0 &&
           (line[2 + word] == ' ' || line[2 + word] == '\0');
}

static void set_remark(GPtrArray *lines, guint at, const char *remark)
{
    char *text = g_strdup_printf("# %s", remark);
    if (at && is_same_remark(lines->pdata[at - 1], remark)) {
        g_free(lines->pdata[at - 1]);
        lines->pdata[at - 1] = text;
    } else {
        g_ptr_array_insert(lines, (gint)at, text);
    }
}

static void apply_change(GPtrArray *lines, const DtProfileChange *c)
{
    Spot spot = find_spot(lines, c);
    char *text = g_strdup_printf("%s = %s", c->key, c->value);
    if (spot.key) {
        g_free(lines->pdata[spot.at]);
        lines->pdata[spot.at] = text;
    } else {
        if (!spot.section) {
            if (lines->len && *(char *)lines->pdata[lines->len - 1])
                g_ptr_array_add(lines, g_strdup(""));
            g_ptr_array_add(lines, g_strdup_printf("[%s]", c->section));
            spot.at = lines->len;
        }
        g_ptr_array_insert(lines, (gint)spot.at, text);
    }
    if (c->remark)
        set_remark(lines, spot.at, c->remark);
}

static GPtrArray *split_lines(const char *text)
{
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    g_auto(GStrv) parts = g_strsplit(text, "\n", -1);
    for (char **part = parts; *part; part++)
        if (part[1] || **part) /* there is no line after the last line end */
            g_ptr_array_add(lines, g_strdup(*part));
    return lines;
}

guint dt_profile_line_of(const char *path, const char *section, const char *key)
{
    g_autofree char *text = dt_base_read_file(path, LONGEST_PROFILE, NULL, NULL);
    g_autoptr(GPtrArray) lines = text ? split_lines(text) : g_ptr_array_new();
    const Spot spot = find_spot(lines, &(DtProfileChange){.section = section, .key = key});
    return spot.key ? spot.at + 1 : 0;
}

char *dt_profile_escape(const char *bytes)
{
    GString *s = g_string_new(NULL);
    for (const char *c = bytes; *c; c++) {
        const gboolean edge = c == bytes || c[1] == '\0'; /* where blanks would be stripped */
        if (*c == '\\')
            g_string_append(s, "\\\\");
        else if (*c == ' ' && edge)
            g_string_append(s, "\\s");
        else if (*c < ' ' || *c > '~')
            g_string_append_printf(s, "\\x%02x", (unsigned)(guchar)*c);
        else
            g_string_append_c(s, *c);
    }
    return g_string_free(s, FALSE);
}

char *dt_profile_changed_text(const char *path, const DtProfileChange *changes, size_t n,
                              GError **error)
{
    gsize len;
    g_autofree char *text = dt_base_read_file(path, LONGEST_PROFILE, &len, error);
    if (text == NULL)
        return NULL;
    g_autoptr(DtProfile) before = dt_profile_read_data(text, len, path, error);
    if (before == NULL)
        return NULL;
    g_autoptr(GPtrArray) lines = split_lines(text);
    for (size_t i = 0; i < n; i++)
        apply_change(lines, &changes[i]);
    g_autoptr(GString) out = g_string_new(NULL);
    for (guint i = 0; i < lines->len; i++)
        g_string_append_printf(out, "%s\n", (char *)lines->pdata[i]);
    g_autoptr(DtProfile) after = dt_profile_read_data(out->str, out->len, path, error);
    return after ? g_strndup(out->str, out->len) : NULL;
}

gboolean dt_profile_update(const char *path, const char *to, const DtProfileChange *changes,
                           size_t n, GError **error)
{
    g_autofree char *text = dt_profile_changed_text(path, changes, n, error);
    return text && dt_base_write_file(to ? to : path, text, strlen(text), error);
}
