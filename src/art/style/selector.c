/* selector: parses selectors (Selectors 4). */
#include "art/style/selector.h"

#include <stdlib.h>

const char *dt_art_css_skip(const char *s, const char *end)
{
    while (s < end) {
        if (art_is_space(*s)) {
            s++;
        } else if (s + 1 < end && s[0] == '/' && s[1] == '*') {
            const char *close = NULL;
            for (const char *p = s + 2; p + 1 < end && !close; p++)
                if (p[0] == '*' && p[1] == '/')
                    close = p + 2;
            s = close ? close : end;
        } else {
            break;
        }
    }
    return s;
}

const char *dt_art_css_find(const char *s, const char *end, const char *stops)
{
    int depth = 0;
    while (s < end) {
        char c = *s;
        if (c == '"' || c == '\'') {
            for (s++; s < end && *s != c; s++)
                if (*s == '\\' && s + 1 < end)
                    s++;
        } else if (c == '/' && s + 1 < end && s[1] == '*') {
            s = dt_art_css_skip(s, end);
            continue;
        } else if (depth == 0 && strchr(stops, c) && c) {
            return s;
        } else if (c == '(' || c == '[') {
            depth++;
        } else if ((c == ')' || c == ']') && depth > 0) {
            depth--;
        } else if (c == '\\' && s + 1 < end) {
            s++;
        }
        if (s < end)
            s++;
    }
    return end;
}

/* Selectors ------------------------------------------------------------------------------------ */

static void part_clear(void *p);

static Compound *compound_new(char combinator)
{
    Compound *c = g_new0(Compound, 1);
    c->parts = g_array_new(FALSE, FALSE, sizeof(Part));
    g_array_set_clear_func(c->parts, part_clear);
    c->combinator = combinator;
    return c;
}

static void compound_free(void *p)
{
    Compound *c = p;
    if (!c)
        return;
    g_array_free(c->parts, TRUE);
    g_free(c);
}

static void part_clear(void *p)
{
    Part *part = p;
    g_free(part->name);
    g_free(part->value);
    if (part->list)
        g_ptr_array_unref(part->list);
}

static gboolean name_char(char c)
{
    return g_ascii_isalnum(c) || c == '-' || c == '_' || (guchar)c >= 0x80 || c == '\\';
}

/* An identifier at *s; NULL if there is none. */
static char *identifier(const char **s, const char *end)
{
    GString *out = g_string_new(NULL);
    const char *p = *s;
    while (p < end && name_char(*p)) {
        if (*p == '\\' && p + 1 < end) {
            p++;
            if (g_ascii_isxdigit(*p)) {
                gunichar u = 0;
                for (int i = 0; i < 6 && p < end && g_ascii_isxdigit(*p); i++)
                    u = u * 16 + (gunichar)g_ascii_xdigit_value(*p++);
                if (p < end && art_is_space(*p))
                    p++;
                if (u == 0 || u > 0x10ffff || (u >= 0xd800 && u < 0xe000))
                    u = 0xfffd;
                g_string_append_unichar(out, u);
                continue;
            }
        }
        g_string_append_c(out, *p++);
    }
    *s = p;
    if (out->len == 0)
        return g_string_free(out, TRUE), NULL;
    return g_string_free(out, FALSE);
}

static gboolean attribute_part(const char **s, const char *end, Part *part)
{
    const char *p = dt_art_css_skip(*s, end);
    if (p < end && (*p == '|' || (*p == '*' && p + 1 < end && p[1] == '|')))
        p += *p == '*' ? 2 : 1; /* attributes have no namespace here */
    part->name = identifier(&p, end);
    if (!part->name || (p < end && (*p == ':' || (*p == '|' && p + 1 < end && p[1] != '='))))
        return FALSE;
    p = dt_art_css_skip(p, end);
    part->kind = PART_HAS;
    if (p < end && *p != ']') {
        static const char marks[] = "~|^$*";
        static const PartKind kinds[] = {PART_INCLUDES, PART_DASH, PART_BEGINS, PART_ENDS,
                                         PART_CONTAINS};
        const char *mark = strchr(marks, *p);
        part->kind = mark ? kinds[mark - marks] : PART_EQUALS;
        if (mark)
            p++;
        if (p >= end || *p++ != '=')
            return FALSE;
        p = dt_art_css_skip(p, end);
        if (p < end && (*p == '"' || *p == '\'')) {
            const char *close = memchr(p + 1, *p, (gsize)(end - p - 1));
            if (!close)
                return FALSE;
            part->value = g_strndup(p + 1, (gsize)(close - p - 1));
            p = close + 1;
        } else {
            part->value = identifier(&p, end);
        }
        if (!part->value)
            return FALSE;
        p = dt_art_css_skip(p, end);
        if (p < end && strchr("iI", *p)) {
            part->any_case = TRUE;
            p = dt_art_css_skip(p + 1, end);
        }
    }
    if (p >= end || *p != ']')
        return FALSE;
    *s = p + 1;
    return TRUE;
}

/* "odd", "even", "b", "an+b". */
/* A number of An+B, within limits that allow adding and negating: no element has that many
 * siblings. */
static int place_number(const char *text, char **end)
{
    const long n = strtol(text, end, 10);
    return (int)CLAMP(n, -ART_MAX_SIBLINGS, ART_MAX_SIBLINGS);
}

static gboolean nth(const char *text, int *a, int *b)
{
    g_autofree char *t = g_strdup(text);
    gsize n = 0;
    for (const char *p = text; *p; p++)
        if (!art_is_space(*p))
            t[n++] = g_ascii_tolower(*p);
    t[n] = '\0';
    if (strcmp(t, "odd") == 0 || strcmp(t, "even") == 0) {
        *a = 2;
        *b = t[0] == 'o';
        return TRUE;
    }
    char *end;
    char *mark = strchr(t, 'n');
    *a = 0;
    if (mark) {
        *mark = '\0';
        *a = *t == '\0' || strcmp(t, "+") == 0 ? 1
             : strcmp(t, "-") == 0             ? -1
                                               : place_number(t, &end);
        *b = mark[1] ? place_number(mark + 1, &end) : 0;
        return !mark[1] || *end == '\0';
    }
    *b = place_number(t, &end);
    return n > 0 && *end == '\0';
}

static Compound *compound_at(const char **s, const char *end, char combinator, unsigned *weight);

/* The highest specificity in a list: Selectors 4, 17. */
static unsigned greatest(const GPtrArray *list)
{
    unsigned most = 0;
    for (guint i = 0; i < list->len; i++)
        most = MAX(most, ((const ArtSelector *)list->pdata[i])->specificity);
    return most;
}

/* "an+b" with or without "of" and a list. */
static gboolean nth_of(const char *argument, Part *part, unsigned *weight)
{
    const char *of = strstr(argument, " of ");
    g_autofree char *formula = g_strndup(argument, of ? (gsize)(of - argument) : strlen(argument));
    if (of) {
        part->list = dt_art_selector_list(of + 4, of + strlen(of), FALSE, FALSE);
        if (!part->list || part->of_type)
            return FALSE;
        *weight += greatest(part->list);
    }
    return nth(formula, &part->a, &part->b);
}

/* :is(), :where(), :not(), :has() and their older names. */
static gboolean list_part(const char *name, const char *from, const char *end, Part *part,
                          unsigned *weight)
{
    static const struct {
        const char *name;
        PartKind kind;
        gboolean forgiving, weightless;
    } kinds[] = {{"is", PART_IS, TRUE, FALSE},
                 {"where", PART_IS, TRUE, TRUE},
                 {"-webkit-any", PART_IS, TRUE, FALSE},
                 {"not", PART_NOT, FALSE, FALSE},
                 {"has", PART_WITH, FALSE, FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        if (g_ascii_strcasecmp(name, kinds[i].name) != 0)
            continue;
        part->kind = kinds[i].kind;
        part->list = dt_art_selector_list(from, end, kinds[i].forgiving, part->kind == PART_WITH);
        if (part->list && !kinds[i].weightless)
            *weight += greatest(part->list);
        return part->list != NULL;
    }
    return FALSE;
}

static gboolean pseudo_part(const char **s, const char *end, Part *part, unsigned *weight)
{
    if (*s < end && **s == ':')
        return FALSE; /* a pseudo-element paints nothing by itself here */
    g_autofree char *name = identifier(s, end);
    if (!name)
        return FALSE;
    g_autofree char *argument = NULL;
    const char *from = *s, *close = *s;
    if (*s < end && **s == '(') {
        from = *s + 1;
        close = dt_art_css_find(from, end, ")");
        if (close == end)
            return FALSE;
        argument = g_strndup(from, (gsize)(close - from));
        *s = close + 1;
    }
    static const struct {
        const char *name;
        PartKind kind;
        gboolean of_type, last;
        int b;
    } plain[] = {{"first-child", PART_NTH, FALSE, FALSE, 1},
                 {"last-child", PART_NTH, FALSE, TRUE, 1},
                 {"first-of-type", PART_NTH, TRUE, FALSE, 1},
                 {"last-of-type", PART_NTH, TRUE, TRUE, 1},
                 {"only-child", PART_ONLY_CHILD, FALSE, FALSE, 0},
                 {"only-of-type", PART_ONLY_OF_TYPE, FALSE, FALSE, 0},
                 {"root", PART_ROOT, FALSE, FALSE, 0},
                 {"empty", PART_EMPTY, FALSE, FALSE, 0},
                 {"link", PART_LINK, FALSE, FALSE, 0},
                 {"any-link", PART_LINK, FALSE, FALSE, 0},
                 {"scope", PART_SCOPE, FALSE, FALSE, 0},
                 {"defined", PART_ALWAYS, FALSE, FALSE, 0},
                 {"read-only", PART_ALWAYS, FALSE, FALSE, 0},
                 {"visited", PART_NEVER, FALSE, FALSE, 0}};
    static const char *const never[] = {"hover",
                                        "active",
                                        "focus",
                                        "focus-visible",
                                        "focus-within",
                                        "target",
                                        "checked",
                                        "disabled",
                                        "enabled",
                                        "indeterminate",
                                        "default",
                                        "valid",
                                        "invalid",
                                        "in-range",
                                        "out-of-range",
                                        "required",
                                        "optional",
                                        "read-write",
                                        "autofill",
                                        "fullscreen",
                                        "modal",
                                        "open",
                                        "popover-open",
                                        "playing",
                                        "paused",
                                        "muted",
                                        "user-valid",
                                        "user-invalid",
                                        "blank",
                                        "local-link",
                                        "target-within",
                                        "placeholder-shown",
                                        "picture-in-picture",
                                        "host",
                                        "future",
                                        "past",
                                        "current",
                                        "buffering",
                                        "seeking",
                                        "stalled",
                                        "volume-locked"};
    for (gsize i = 0; !argument && i < G_N_ELEMENTS(never); i++)
        if (g_ascii_strcasecmp(name, never[i]) == 0) {
            part->kind = PART_NEVER;
            *weight += 0x100;
            return TRUE;
        }
    for (gsize i = 0; !argument && i < G_N_ELEMENTS(plain); i++)
        if (g_ascii_strcasecmp(name, plain[i].name) == 0) {
            part->kind = plain[i].kind;
            part->of_type = plain[i].of_type;
            part->last = plain[i].last;
            part->b = plain[i].b;
            *weight += 0x100;
            return TRUE;
        }
    if (!argument)
        return FALSE;
    static const struct {
        const char *name;
        gboolean of_type, last;
    } counted[] = {{"nth-child", FALSE, FALSE},
                   {"nth-last-child", FALSE, TRUE},
                   {"nth-of-type", TRUE, FALSE},
                   {"nth-last-of-type", TRUE, TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(counted); i++)
        if (g_ascii_strcasecmp(name, counted[i].name) == 0) {
            part->kind = PART_NTH;
            part->of_type = counted[i].of_type;
            part->last = counted[i].last;
            *weight += 0x100;
            return nth_of(argument, part, weight);
        }
    if (g_ascii_strcasecmp(name, "lang") == 0) {
        part->kind = PART_LANG;
        part->value = g_strdup(g_strstrip(argument));
        *weight += 0x100;
        return TRUE;
    }
    if (g_ascii_strcasecmp(name, "dir") == 0) { /* SVG has no word that makes it other than ltr */
        g_strstrip(argument);
        gboolean rtl = g_ascii_strcasecmp(argument, "rtl") == 0;
        part->kind = rtl ? PART_NEVER : PART_ALWAYS;
        *weight += 0x100;
        return rtl || g_ascii_strcasecmp(argument, "ltr") == 0;
    }
    return list_part(name, from, close, part, weight);
}

static gboolean part_at(const char **s, const char *end, Part *part, unsigned *weight)
{
    char c = *(*s)++;
    switch (c) {
    case '.':
        part->kind = PART_CLASS;
        *weight += 0x100;
        return (part->value = identifier(s, end)) != NULL;
    case '#':
        part->kind = PART_ID;
        *weight += 0x10000;
        return (part->value = identifier(s, end)) != NULL;
    case '[':
        *weight += 0x100;
        return attribute_part(s, end, part);
    default:
        return pseudo_part(s, end, part, weight);
    }
}

static Compound *compound_at(const char **s, const char *end, char combinator, unsigned *weight)
{
    Compound *c = compound_new(combinator);
    gboolean any = FALSE;
    if (*s < end && **s == '*') {
        (*s)++;
        any = TRUE;
    } else if (*s < end && name_char(**s)) {
        Part part = {.kind = PART_TYPE, .value = identifier(s, end)};
        g_array_append_val(c->parts, part);
        *weight += 1;
        any = TRUE;
    }
    if (*s < end && **s == '|') { /* "ns|name" or "*|name" */
        (*s)++;
        for (guint i = 0; i < c->parts->len; i++)
            g_array_index(c->parts, Part, i).kind = PART_PREFIX;
        if (*s < end && **s == '*') {
            (*s)++;
        } else {
            Part part = {.kind = PART_TYPE, .value = identifier(s, end)};
            g_array_append_val(c->parts, part);
            if (!part.value) {
                compound_free(c);
                return NULL;
            }
        }
    }
    while (*s < end && strchr(".#[:", **s)) {
        Part part = {0};
        gboolean good = part_at(s, end, &part, weight);
        g_array_append_val(c->parts, part);
        any = TRUE;
        if (!good) {
            compound_free(c);
            return NULL;
        }
    }
    if (!any) {
        compound_free(c);
        return NULL;
    }
    return c;
}

static const char *doubt_of(const Part *p)
{
    switch (p->kind) {
    case PART_LINK:
        return _("matches links, as in an open page; browsers ignore it in pictures");
    case PART_LANG:
        return strchr(p->value, ',')
                   ? _("names several languages, as Selectors 4 has it; browsers that take "
                       "one only leave its rule out")
                   : NULL;
    default:
        return NULL;
    }
}

const char *dt_art_selector_doubt(const ArtSelector *s)
{
    for (guint i = 0; i < s->compounds->len; i++) {
        const Compound *c = s->compounds->pdata[i];
        for (guint k = 0; k < c->parts->len; k++) {
            const char *doubt = doubt_of(&g_array_index(c->parts, Part, k));
            if (doubt)
                return doubt;
        }
    }
    return NULL;
}

static const char *prefix_of(const Part *p, GHashTable *prefixes)
{
    if (p->kind == PART_PREFIX && !g_hash_table_contains(prefixes, p->value))
        return p->value;
    const char *found = NULL;
    for (guint i = 0; p->list && i < p->list->len && !found; i++)
        found = dt_art_selector_prefix(p->list->pdata[i], prefixes);
    return found;
}

const char *dt_art_selector_prefix(const ArtSelector *s, GHashTable *prefixes)
{
    const char *found = NULL;
    for (guint i = 0; i < s->compounds->len; i++) {
        const Compound *c = s->compounds->pdata[i];
        for (guint k = 0; k < c->parts->len && !found; k++)
            found = prefix_of(&g_array_index(c->parts, Part, k), prefixes);
    }
    return found;
}

void dt_art_selector_free(void *p)
{
    ArtSelector *s = p;
    if (!s)
        return;
    g_ptr_array_unref(s->compounds);
    g_free(s);
}

void dt_art_rule_free(void *p)
{
    ArtRule *r = p;
    dt_art_selector_free(r->selector);
    g_free(r);
}

/* The element to which :has() applies, as the first compound of a selector inside it. */
static void add_anchor(ArtSelector *x)
{
    Compound *c = compound_new(0);
    Part anchor = {.kind = PART_ANCHOR};
    g_array_append_val(c->parts, anchor);
    g_ptr_array_add(x->compounds, c);
}

ArtSelector *dt_art_selector_new(const char *s, const char *end, gboolean anchored)
{
    ArtSelector *x = g_new0(ArtSelector, 1);
    x->compounds = g_ptr_array_new_with_free_func(compound_free);
    char combinator = 0;
    s = dt_art_css_skip(s, end);
    if (anchored) {
        add_anchor(x);
        combinator = s < end && strchr(">+~", *s) ? *s : ' ';
        if (combinator != ' ')
            s = dt_art_css_skip(s + 1, end);
    }
    while (s < end) {
        Compound *c = compound_at(&s, end, combinator, &x->specificity);
        if (!c)
            break;
        g_ptr_array_add(x->compounds, c);
        const char *next = dt_art_css_skip(s, end);
        if (next == end)
            return x;
        combinator = strchr(">+~", *next) ? *next : ' ';
        if (combinator == ' ' && next == s)
            break; /* matches no selector */
        s = combinator == ' ' ? next : dt_art_css_skip(next + 1, end);
    }
    dt_art_selector_free(x);
    return NULL;
}

GPtrArray *dt_art_selector_list(const char *s, const char *end, gboolean forgiving,
                                gboolean anchored)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(dt_art_selector_free);
    while (s < end || list->len == 0) {
        const char *comma = dt_art_css_find(s, end, ",");
        ArtSelector *x = dt_art_selector_new(s, comma, anchored);
        if (x) {
            g_ptr_array_add(list, x);
        } else if (!forgiving) {
            g_ptr_array_unref(list);
            return NULL;
        }
        if (comma == end)
            break;
        s = comma + 1;
    }
    return list;
}
