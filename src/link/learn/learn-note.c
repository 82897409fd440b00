/* learn-note: what was learnt, into the text of a profile. Only the lines concerned are touched, so
 * that everything a user has written and laid out stays. */
#include "drawtrue/session.h"

#include <string.h>

static const char section[] = "[controller]";

/* The section's lines: from the one after its head to the one before the next head. */
static guint find_section(GPtrArray *lines, guint *end)
{
    guint start = 0;
    for (guint i = 0; i < lines->len && start == 0; i++)
        if (g_str_has_prefix(lines->pdata[i], section))
            start = i + 1;
    if (start == 0) {
        if (lines->len > 0 && *(char *)lines->pdata[lines->len - 1] != '\0')
            g_ptr_array_add(lines, g_strdup(""));
        g_ptr_array_add(lines, g_strdup(section));
        start = lines->len;
    }
    *end = start;
    while (*end < lines->len && *(char *)lines->pdata[*end] != '[')
        (*end)++;
    return start;
}

static gboolean is_key(const char *line, const char *key)
{
    line += strspn(line, " \t");
    size_t n = strlen(key);
    return strncmp(line, key, n) == 0 && line[n + strspn(line + n, " \t")] == '=';
}

/* The line of the key; a new one at the section's end, before the blank lines there, if it has
 * none. */
static guint find_key(GPtrArray *lines, const char *key)
{
    guint end, start = find_section(lines, &end);
    for (guint i = start; i < end; i++)
        if (is_key(lines->pdata[i], key))
            return i;
    while (end > start && *(char *)lines->pdata[end - 1] == '\0')
        end--;
    g_ptr_array_insert(lines, (gint)end, g_strdup(""));
    return end;
}

static void set_value(GPtrArray *lines, const char *key, const char *value)
{
    guint at = find_key(lines, key);
    char *line = lines->pdata[at], *equals = strchr(line, '=');
    if (equals) {
        size_t keep = (size_t)(equals - line) + 1;
        keep += strspn(line + keep, " \t");
        lines->pdata[at] = g_strdup_printf("%.*s%s", (int)keep, line, value);
    } else {
        lines->pdata[at] = g_strdup_printf("%s = %s", key, value);
    }
    g_free(line);
}

static void set_text(GPtrArray *lines, const char *key, const char *value)
{
    g_autofree char *escaped = g_strescape(value, NULL);
    set_value(lines, key, escaped);
}

static void set_bytes(GPtrArray *lines, const char *key, int value)
{
    g_autofree char *text = g_strdup_printf("%d bytes", value);
    set_value(lines, key, text);
}

/* The date stands right above the words and replaces an older one. */
static void note_date(GPtrArray *lines, const char *date, double latency_s)
{
    static const char mark[] = "# learnt on ";
    guint at = find_key(lines, "words");
    if (at > 0 && g_str_has_prefix(lines->pdata[at - 1], mark))
        g_ptr_array_remove_index(lines, --at);
    g_autofree char *latency =
        latency_s > 0 ? g_strdup_printf("; it answers in %.2g s", latency_s) : g_strdup("");
    g_ptr_array_insert(lines, (gint)at, g_strconcat(mark, date, latency, NULL));
}

static void note_all(GPtrArray *lines, const DtLearnt *l, const char *date)
{
    set_text(lines, "greeting", l->greeting);
    set_text(lines, "accept", l->accept);
    set_text(lines, "refuse", l->refuse);
    set_value(lines, "words", l->words);
    set_bytes(lines, "window", l->window);
    if (l->longest_line > 0)
        set_bytes(lines, "longest_line", l->longest_line);
    set_value(lines, "line_check", l->line_check ? "yes" : "no");
    set_value(lines, "ask_state", l->asks ? "\\x05" : "");
    set_value(lines, "hold", l->holds ? "\\x13" : "");
    set_value(lines, "go_on", l->holds ? "\\x11" : "");
    if (!l->holds)
        set_value(lines, "abandon", "");
    note_date(lines, date, l->latency_s);
}

char *dt_code_note_learnt(const char *profile, gsize len, const DtLearnt *l, const char *date,
                          gsize *out_len)
{
    g_autofree char *text = g_strndup(profile, len);
    g_auto(GStrv) parts = g_strsplit(text, "\n", -1);
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    for (char **part = parts; *part; part++)
        g_ptr_array_add(lines, g_strdup(*part));
    if (lines->len > 0 && *(char *)lines->pdata[lines->len - 1] == '\0')
        g_ptr_array_remove_index(lines, lines->len - 1); /* what follows the last newline */
    note_all(lines, l, date);
    g_autoptr(GString) out = g_string_new(NULL);
    for (guint i = 0; i < lines->len; i++)
        g_string_append_printf(out, "%s\n", (char *)lines->pdata[i]);
    *out_len = out->len;
    return g_strdup(out->str);
}
