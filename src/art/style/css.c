/* css: declarations (CSS Syntax 3). */
#include "art/style/selector.h"

/* Copies without comments, trailing spaces and "!important". */
static gsize clean_value(char *out, gsize cap, const char *s, const char *end, gboolean *important)
{
    gsize n = 0;
    while (s < end && n + 1 < cap) {
        if (s + 1 < end && s[0] == '/' && s[1] == '*') {
            s = dt_art_css_skip(s, end);
            out[n++] = ' ';
        } else {
            out[n++] = *s++;
        }
    }
    while (n > 0 && art_is_space(out[n - 1]))
        n--;
    *important = FALSE;
    if (n >= 10 && g_ascii_strncasecmp(out + n - 9, "important", 9) == 0) {
        gsize k = n - 9;
        while (k > 0 && art_is_space(out[k - 1]))
            k--;
        if (k > 0 && out[k - 1] == '!') {
            *important = TRUE;
            n = k - 1;
            while (n > 0 && art_is_space(out[n - 1]))
                n--;
        }
    }
    out[n] = '\0';
    return n;
}

/* The character that a backslash before p escapes; 0x7f for anything outside ASCII, which no
 * name contains. */
static char escaped(const char **p, const char *end)
{
    gunichar u = 0;
    int n = 0;
    for (; n < 6 && *p < end && g_ascii_isxdigit(**p); n++)
        u = u * 16 + (gunichar)g_ascii_xdigit_value(*(*p)++);
    if (n == 0)
        return *(*p)++;
    if (*p < end && art_is_space(**p))
        (*p)++;
    return u > 0 && u < 0x7f ? (char)u : 0x7f;
}

void dt_art_css_declarations(const char *text, gsize len, ArtDeclaration call, void *user)
{
    const char *s = text, *end = text + len;
    char small[512];
    while ((s = dt_art_css_skip(s, end)) < end) {
        if (*s == ';') {
            s++;
            continue;
        }
        const char *stop = dt_art_css_find(s, end, ";");
        const char *colon = memchr(s, ':', (gsize)(stop - s));
        if (colon) {
            char name[64];
            gsize n = 0;
            const char *p = s;
            gboolean custom = stop - s > 2 && s[0] == '-' && s[1] == '-'; /* case matters */
            while (p < colon && n + 1 < sizeof name && !art_is_space(*p) && *p != '/') {
                char c = *p++;
                if (c == '\\' && p < colon)
                    c = escaped(&p, colon);
                name[n++] = custom ? c : g_ascii_tolower(c);
            }
            name[n] = '\0';
            const char *value = dt_art_css_skip(colon + 1, stop);
            gsize cap = (gsize)(stop - value) + 2;
            char *room = cap <= sizeof small ? small : g_malloc(cap);
            gboolean important;
            clean_value(room, cap, value, stop, &important);
            if (dt_art_css_skip(p, colon) == colon && n > 0)
                call(name, room, important, user);
            if (room != small)
                g_free(room);
        }
        s = stop < end ? stop + 1 : end;
    }
}
