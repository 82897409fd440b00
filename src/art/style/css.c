/* css: declarations and style sheets (CSS Syntax 3). */
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
                name[n++] = custom ? *p : g_ascii_tolower(*p);
                p++;
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

/* Sheets --------------------------------------------------------------------------------------- */

struct ArtSheet {
    GPtrArray *rules; /* of ArtRule, weakest first */
    GPtrArray *texts; /* of char *: what the bodies point into */
    ArtIndex *index;
    gboolean any_important;
    gboolean imports; /* a sheet of another file */
};

void dt_art_sheet_match(ArtSheet *s, const ArtNode *n, gboolean important, ArtDeclaration call,
                     void *user)
{
    if (important && !s->any_important)
        return;
    dt_art_index_find(s->index, n);
    for (guint i = 0; i < s->index->found->len; i++) {
        const ArtRule *r = s->index->found->pdata[i];
        s->index->work += r->body_len / 16;
        dt_art_css_declarations(r->body, r->body_len, call, user);
    }
}

gboolean dt_art_sheet_is_beyond(const ArtSheet *s)
{
    return s && s->index->work > ART_MAX_MATCHES;
}

static void add_rules(ArtSheet *sheet, const char *selectors, const char *selectors_end,
                      const char *body, gsize body_len)
{
    guint before = sheet->rules->len;
    for (const char *s = selectors; s < selectors_end;) {
        const char *comma = dt_art_css_find(s, selectors_end, ",");
        ArtRule *r = dt_art_rule_new(s, comma);
        if (!r) { /* one bad selector makes the whole list void: CSS Syntax 3 */
            g_ptr_array_set_size(sheet->rules, (gint)before);
            return;
        }
        r->order = sheet->rules->len;
        r->body = body;
        r->body_len = body_len;
        g_ptr_array_add(sheet->rules, r);
        s = comma < selectors_end ? comma + 1 : selectors_end;
    }
}

static gboolean media_applies(const char *s, const char *end)
{
    g_autofree char *text = g_strndup(s, (gsize)(end - s));
    g_autofree char *lower = g_ascii_strdown(g_strstrip(text), -1);
    static const char *const others[] = {"dark", "forced-colors", "prefers-contrast", "monochrome"};
    if (g_str_has_prefix(lower, "not"))
        return strstr(lower, "print") != NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(others); i++) /* as on a screen of the usual kind */
        if (strstr(lower, others[i]))
            return FALSE;
    return *lower == '\0' || strstr(lower, "all") || strstr(lower, "screen") || *lower == '(';
}

/* Whether the rules in the block of an at-rule are in force. */
static gboolean is_taken(const char *s, const char *open)
{
    if (open - s > 6 && g_ascii_strncasecmp(s, "@media", 6) == 0)
        return media_applies(s + 6, open);
    if (open - s > 9 && g_ascii_strncasecmp(s, "@supports", 9) == 0)
        return g_ascii_strncasecmp(dt_art_css_skip(s + 9, open), "not", 3) != 0;
    return open - s > 6 && g_ascii_strncasecmp(s, "@layer", 6) == 0;
}

static void parse_rules(ArtSheet *sheet, const char *s, const char *end, int depth)
{
    while ((s = dt_art_css_skip(s, end)) < end) {
        if (strncmp(s, "<!--", MIN(4, (gsize)(end - s))) == 0 && end - s >= 4) {
            s += 4;
            continue;
        }
        if (end - s >= 3 && strncmp(s, "-->", 3) == 0) {
            s += 3;
            continue;
        }
        const char *open = dt_art_css_find(s, end, *s == '@' ? "{;" : "{");
        if (open == end)
            return;
        if (*open == ';') { /* @import and the like: nothing is fetched */
            sheet->imports |= end - s > 7 && g_ascii_strncasecmp(s, "@import", 7) == 0;
            s = open + 1;
            continue;
        }
        const char *close = open + 1;
        for (int level = 1; close < end; close++) {
            close = dt_art_css_find(close, end, "{}");
            if (close == end)
                break;
            level += *close == '{' ? 1 : -1;
            if (level == 0)
                break;
        }
        if (*s != '@')
            add_rules(sheet, s, open, open + 1, (gsize)(close - open - 1));
        else if (depth < 8 && is_taken(s, open))
            parse_rules(sheet, open + 1, close, depth + 1);
        s = close < end ? close + 1 : end;
    }
}

static int weaker_first(const void *a, const void *b)
{
    const ArtRule *p = *(ArtRule *const *)a, *q = *(ArtRule *const *)b;
    if (p->specificity != q->specificity)
        return p->specificity < q->specificity ? -1 : 1;
    return p->order < q->order ? -1 : p->order > q->order;
}

static void gather(ArtSheet *sheet, ArtDoc *doc, const ArtNode *style)
{
    const char *type = dt_art_attr(style, ART_AT_TYPE), *media = dt_art_attr(style, ART_AT_MEDIA);
    if (type && *type && g_ascii_strcasecmp(type, "text/css") != 0)
        return;
    if (media && !media_applies(media, media + strlen(media)))
        return;
    GString *text = g_string_new(NULL);
    for (const ArtNode *c = style->first; c; c = c->next)
        if (c->tag == ART_TAG_WORDS)
            g_string_append(text, c->words);
    gsize len = text->len;
    char *kept = g_string_free(text, FALSE);
    g_ptr_array_add(sheet->texts, kept);
    sheet->any_important |= strstr(kept, "mportant") != NULL || strstr(kept, "MPORTANT") != NULL;
    parse_rules(sheet, kept, kept + len, 0);
    if (sheet->imports)
        doc->outside_sheet = style->line;
}

ArtSheet *dt_art_sheet_new(ArtDoc *doc)
{
    ArtSheet *sheet = g_new0(ArtSheet, 1);
    sheet->rules = g_ptr_array_new_with_free_func(dt_art_rule_free);
    sheet->texts = g_ptr_array_new_with_free_func(g_free);
    for (const ArtNode *n = doc->root; n; n = dt_art_next_node(n))
        if (n->tag == ART_TAG_STYLE)
            gather(sheet, doc, n);
    if (sheet->rules->len == 0) {
        dt_art_sheet_free(sheet);
        return NULL;
    }
    g_ptr_array_sort(sheet->rules, weaker_first);
    sheet->index = dt_art_index_new(sheet->rules, doc);
    return sheet;
}

void dt_art_sheet_free(ArtSheet *s)
{
    if (!s)
        return;
    dt_art_index_free(s->index);
    g_ptr_array_unref(s->rules);
    g_ptr_array_unref(s->texts);
    g_free(s);
}
