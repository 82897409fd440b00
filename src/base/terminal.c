/* terminal: makes text from files and boards safe for a terminal. */
#include "drawtrue/base.h"

#include <string.h>

/* Characters that a terminal obeys instead of displaying: the C0 and C1 sets and DEL (ECMA-48,
 * 5.2 to 5.4), and those that change the direction of the text around them (Unicode 15, 23.2) or
 * end its line. */
static gboolean is_obeyed(gunichar c)
{
    return c < 0x20 || (c >= 0x7F && c <= 0x9F) || c == 0x061C || (c >= 0x200B && c <= 0x200F) ||
           (c >= 0x2028 && c <= 0x202E) || (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF ||
           (c >= 0xE0000 && c <= 0xE007F);
}

static const char *add_shown(GString *out, const char *at, const char *end)
{
    const gunichar c = g_utf8_get_char_validated(at, end - at);
    if (c == (gunichar)-1 || c == (gunichar)-2) {
        g_string_append_printf(out, "\\x%02x", (unsigned)(guchar)*at);
        return at + 1;
    }
    if (!is_obeyed(c))
        g_string_append_unichar(out, c);
    else if (c < 0x80)
        g_string_append_printf(out, "\\x%02x", (unsigned)c);
    else
        g_string_append_printf(out, c > 0xFFFF ? "\\U%08x" : "\\u%04x", (unsigned)c);
    return g_utf8_next_char(at);
}

char *dt_base_show_text(const char *text, gssize len)
{
    const char *end = text + (len < 0 ? strlen(text) : (gsize)len);
    GString *out = g_string_sized_new((gsize)(end - text));
    for (const char *at = text; at < end;)
        at = add_shown(out, at, end);
    return g_string_free(out, FALSE);
}

char *dt_base_comment_text(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text, -1);
    GString *out = g_string_new(NULL);
    for (const char *at = valid; *at != '\0'; at = g_utf8_next_char(at)) {
        g_autofree char *one = g_strndup(at, (gsize)(g_utf8_next_char(at) - at));
        g_autofree char *ascii =
            g_str_to_ascii(one, "de"); /* "ae" for a umlaut; independent of the locale */
        if (*at != '?' && strchr(ascii, '?') != NULL)
            g_string_append_printf(out, "U+%04X", (unsigned)g_utf8_get_char(at));
        else
            g_string_append(out, ascii);
    }
    for (char *c = out->str; *c != '\0'; c++)
        *c = *c == '(' ? '[' : *c == ')' ? ']' : *c == ';' ? ',' : *c < ' ' || *c > '~' ? ' ' : *c;
    return g_string_free(out, FALSE);
}

/* Lines --------------------------------------------------------------------------------------- */

static unsigned columns_of(const char *from, const char *to)
{
    unsigned n = 0;
    for (; from < to; from = g_utf8_next_char(from)) {
        const gunichar c = g_utf8_get_char(from);
        n += g_unichar_iszerowidth(c) ? 0u : g_unichar_iswide(c) ? 2u : 1u;
    }
    return n;
}

char *dt_base_column(const char *text, unsigned columns)
{
    const unsigned own = columns_of(text, text + strlen(text));
    return g_strdup_printf("%s%*s", text, (int)(columns - MIN(own, columns)), "");
}

/* Indent of a line's continuation: below its last column, which starts after two blanks or more
 * in its first half; otherwise two blanks more than the line's own indent. */
static unsigned hanging_indent(const char *line, const char *end, unsigned width)
{
    const char *at = line;
    while (at < end && *at == ' ')
        at++;
    const unsigned own = (unsigned)(at - line);
    unsigned found = own + 2;
    for (; at + 2 < end && columns_of(line, at) < width / 2; at = g_utf8_next_char(at))
        if (at[0] == ' ' && at[1] == ' ' && at[2] != ' ')
            found = columns_of(line, at + 2);
    return MIN(found, width / 2);
}

/* The last blank that ends a piece of at most `room` columns, or the first one after it if a
 * word is longer; `end` if everything fits. */
static const char *find_break(const char *from, const char *end, unsigned room)
{
    const char *found = NULL;
    unsigned n = 0;
    for (const char *at = from; at < end; at = g_utf8_next_char(at)) {
        if (*at == ' ' && at > from) {
            if (n <= room || found == NULL)
                found = at;
            if (n > room)
                return found;
        }
        n += columns_of(at, g_utf8_next_char(at));
    }
    return n <= room || found == NULL ? end : found;
}

static void add_wrapped(GString *out, const char *line, const char *end, unsigned width)
{
    const unsigned indent = hanging_indent(line, end, width);
    const char *first = line;
    while (first < end && *first == ' ') /* no break within the line's own indent */
        first++;
    const char *stop = find_break(first, end, width - MIN(width, (unsigned)(first - line)));
    g_string_append_len(out, line, stop - line);
    while (stop < end) {
        const char *from = stop;
        while (from < end && *from == ' ')
            from++;
        if (from == end)
            break;
        stop = find_break(from, end, width - indent);
        while (out->len > 0 && out->str[out->len - 1] == ' ')
            g_string_truncate(out, out->len - 1);
        g_string_append_printf(out, "\n%*s", (int)indent, "");
        g_string_append_len(out, from, stop - from);
    }
}

char *dt_base_lay_out(const char *text, unsigned width)
{
    GString *out = g_string_new(NULL);
    while (*text != '\0') {
        const char *end = text + strcspn(text, "\n");
        g_autofree char *line = dt_base_show_text(text, end - text);
        if (width == 0)
            g_string_append(out, line);
        else
            add_wrapped(out, line, line + strlen(line), MAX(width, 20));
        if (*end == '\n')
            g_string_append_c(out, '\n');
        text = *end == '\n' ? end + 1 : end;
    }
    return g_string_free(out, FALSE);
}
