/* sheet: style sheets: rules nested in rules, at-rules, layers and scopes (CSS Syntax 3, Nesting 1,
 * Cascade 5 and 6). */
#include "art/style/media.h"
#include "art/style/selector.h"

#define MAX_DEPTH 16
#define MAX_NESTED ((gsize)1 << 18) /* bytes of selectors made by nesting */

struct ArtSheet {
    ArtReader *r;
    const ArtNode *style;  /* the element that is being read */
    GPtrArray *rules;      /* of ArtRule, weakest first */
    GPtrArray *texts;      /* of char *: what the bodies point into */
    GPtrArray *layers;     /* of char *: full names, "a.b", in the order of their appearance */
    GPtrArray *scopes;     /* of ArtScopeRule * */
    GHashTable *keyframes; /* name → the text of its block */
    gsize nested;
    ArtIndex *index;
    gboolean any_important;
};

/* Where rules stand. */
typedef struct {
    const char *parent; /* selectors of the rule around them; NULL for none */
    const char *layer;  /* full name; NULL outside of any */
    const ArtScopeRule *scope;
    int depth;
} Place;

static void read_rules(ArtSheet *sheet, const char *s, const char *end, const Place *at);

void dt_art_sheet_match(ArtSheet *s, const ArtNode *n, gboolean important, ArtDeclaration call,
                        void *user)
{
    if (important && !s->any_important)
        return;
    dt_art_index_find(s->index, n, important);
    for (guint i = 0; i < s->index->found->len; i++) {
        const ArtRule *r = s->index->found->pdata[i];
        s->index->work += r->body_len / 16;
        dt_art_css_declarations(r->body, r->body_len, call, user);
    }
}

gboolean dt_art_sheet_is_beyond(const ArtSheet *s)
{
    return s && s->index && s->index->work > ART_MAX_MATCHES;
}

const char *dt_art_sheet_keyframes(const ArtSheet *s, const char *name)
{
    return s ? g_hash_table_lookup(s->keyframes, name) : NULL;
}

static const char *keep(ArtSheet *sheet, char *text)
{
    g_ptr_array_add(sheet->texts, text);
    return text;
}

/* Layers --------------------------------------------------------------------------------------- */

static guint layer_number(ArtSheet *sheet, const char *name)
{
    for (guint i = 0; i < sheet->layers->len; i++)
        if (strcmp(sheet->layers->pdata[i], name) == 0)
            return i;
    g_ptr_array_add(sheet->layers, g_strdup(name));
    return sheet->layers->len - 1;
}

/* The full name of a layer within another; each layer around it is declared first. */
static const char *open_layer(ArtSheet *sheet, const char *outer, const char *from, const char *to)
{
    g_autofree char *own = g_strstrip(g_strndup(from, (gsize)(to - from)));
    char *full;
    if (*own == '\0') {
        g_free(own);
        own = g_strdup_printf("\1%u", sheet->layers->len);
    }
    full = outer ? g_strconcat(outer, ".", own, NULL) : g_strdup(own);
    for (char *dot = strchr(full, '.'); dot; dot = strchr(dot + 1, '.')) {
        *dot = '\0';
        layer_number(sheet, full);
        *dot = '.';
    }
    layer_number(sheet, full);
    return keep(sheet, full);
}

/* Layers in the order of their first mention; what is in a layer itself beats its inner layers. */
static int compare_layers(ArtSheet *sheet, const char *a, const char *b)
{
    g_auto(GStrv) p = g_strsplit(a, ".", -1);
    g_auto(GStrv) q = g_strsplit(b, ".", -1);
    g_autoptr(GString) path = g_string_new(NULL);
    for (int i = 0; p[i] || q[i]; i++) {
        if (!p[i] || !q[i])
            return p[i] ? -1 : 1;
        if (strcmp(p[i], q[i]) != 0) {
            g_autofree char *u = g_strconcat(path->str, p[i], NULL);
            g_autofree char *v = g_strconcat(path->str, q[i], NULL);
            return layer_number(sheet, u) < layer_number(sheet, v) ? -1 : 1;
        }
        g_string_append_printf(path, "%s.", p[i]);
    }
    return 0;
}

/* Gives each rule the rank of its layer; rules outside of layers are above them all. */
static void rank_layers(ArtSheet *sheet)
{
    guint n = sheet->layers->len;
    g_autofree unsigned *rank = g_new0(unsigned, n + 1);
    for (guint i = 0; i < n; i++)
        for (guint k = 0; k < n; k++)
            rank[i] += k != i &&
                       compare_layers(sheet, sheet->layers->pdata[k], sheet->layers->pdata[i]) < 0;
    for (guint i = 0; i < sheet->rules->len; i++) {
        ArtRule *r = sheet->rules->pdata[i];
        r->layer = r->layer == ART_NO_LAYER ? n : rank[r->layer];
    }
}

/* Style rules ---------------------------------------------------------------------------------- */

static void add_rules(ArtSheet *sheet, const char *selectors, const char *selectors_end,
                      const char *body, gsize body_len, const Place *at)
{
    if (dt_art_css_skip(body, body + body_len) == body + body_len)
        return;
    GPtrArray *list = dt_art_selector_list(selectors, selectors_end, FALSE, FALSE);
    if (!list) { /* one bad selector makes the whole list void: CSS Syntax 3 */
        if (!strstr(selectors, "::") || strstr(selectors, "::") >= selectors_end)
            dt_art_note(sheet->r, sheet->style,
                        "the selector %.*s is not understood: its rule is left out",
                        (int)MIN(selectors_end - selectors, 60), selectors);
        return;
    }
    for (guint i = 0; i < list->len; i++) {
        ArtRule *r = g_new0(ArtRule, 1);
        r->selector = list->pdata[i];
        const char *doubt = dt_art_selector_doubt(r->selector);
        if (doubt)
            dt_art_note(sheet->r, sheet->style, "the selector %.*s %s",
                        (int)MIN(selectors_end - selectors, 60), selectors, doubt);
        r->scope = at->scope;
        r->layer = at->layer ? layer_number(sheet, at->layer) : ART_NO_LAYER;
        r->order = sheet->rules->len;
        r->body = body;
        r->body_len = body_len;
        g_ptr_array_add(sheet->rules, r);
    }
    g_ptr_array_set_free_func(list, NULL);
    g_ptr_array_unref(list);
}

static gboolean has_room(const ArtSheet *sheet, const GString *out)
{
    return sheet->nested + out->len < MAX_NESTED;
}

static gboolean names_scope(const char *s, const char *end)
{
    return g_strstr_len(s, end - s, ":scope") != NULL;
}

/* A selector within a rule: "&" is the rule's own, before it where it has none (Nesting 1, 3). Within
 * @scope it is below the scope's root where it does not name it (Cascade 6, 2.5.3). */
static const char *nested_selectors(ArtSheet *sheet, const char *s, const char *end,
                                    const Place *at)
{
    g_autofree char *parent = at->parent ? g_strconcat(":is(", at->parent, ")", NULL)
                                         : g_strdup(at->scope ? ":where(:scope)" : ":scope");
    GString *out = g_string_new(NULL);
    while (s < end && has_room(sheet, out)) {
        const char *comma = dt_art_css_find(s, end, ",");
        const char *first = dt_art_css_skip(s, comma);
        gboolean has = memchr(first, '&', (gsize)(comma - first)) != NULL;
        if (out->len)
            g_string_append_c(out, ',');
        if (!has &&
            (at->parent || strchr(">+~", *first) || (at->scope && !names_scope(first, comma))))
            g_string_append_printf(out, "%s ", parent);
        for (const char *p = first; p < comma && has_room(sheet, out); p++)
            if (*p == '&')
                g_string_append(out, parent);
            else
                g_string_append_c(out, *p);
        s = comma < end ? comma + 1 : end;
    }
    if (!has_room(sheet, out)) {
        dt_art_note(sheet->r, sheet->style,
                    "rules within rules unfold to more than %u kB of selectors: the "
                    "rest is left out",
                    (unsigned)(MAX_NESTED >> 10));
        g_string_truncate(out, 0);
    }
    sheet->nested += out->len;
    return keep(sheet, g_string_free(out, FALSE));
}

/* The end of a block that opens before p: its closing bracket, or the end. */
static const char *block_end(const char *p, const char *end)
{
    for (int level = 1; p < end; p++) {
        p = dt_art_css_find(p, end, "{}");
        if (p == end)
            break;
        level += *p == '{' ? 1 : -1;
        if (level == 0)
            break;
    }
    return p;
}

static gboolean is_custom(const char *s, const char *end)
{
    return end - s > 2 && s[0] == '-' && s[1] == '-';
}

/* What stands in a rule: declarations, and rules within it. Those that follow one another make a
 * rule of their own. */
static void read_body(ArtSheet *sheet, const char *selectors, const char *s, const char *end,
                      const Place *at)
{
    Place inner = *at;
    inner.parent = selectors;
    const char *from = s, *selectors_end = selectors + strlen(selectors);
    if (++inner.depth > MAX_DEPTH)
        return;
    while ((s = dt_art_css_skip(s, end)) < end) {
        const char *stop = dt_art_css_find(s, end, "{;");
        if (stop == end || *stop == ';' || is_custom(s, end)) {
            if (stop < end && *stop == '{')
                stop = dt_art_css_find(block_end(stop + 1, end), end, ";");
            s = stop < end ? stop + 1 : end;
            continue;
        }
        const char *close = block_end(stop + 1, end);
        add_rules(sheet, selectors, selectors_end, from, (gsize)(s - from), at);
        read_rules(sheet, s, close < end ? close + 1 : end, &inner);
        s = from = close < end ? close + 1 : end;
    }
    add_rules(sheet, selectors, selectors_end, from, (gsize)(end - from), at);
}

static void style_rule(ArtSheet *sheet, const char *s, const char *open, const char *close,
                       const Place *at)
{
    gboolean plain = !at->parent && !at->scope && !memchr(s, '&', (gsize)(open - s));
    if (plain && !memchr(open + 1, '{', (gsize)(close - open - 1))) {
        add_rules(sheet, s, open, open + 1, (gsize)(close - open - 1), at);
        return;
    }
    const char *selectors =
        plain ? keep(sheet, g_strndup(s, (gsize)(open - s))) : nested_selectors(sheet, s, open, at);
    read_body(sheet, selectors, open + 1, close, at);
}

/* At-rules ------------------------------------------------------------------------------------- */

static gboolean is_named(const char *s, const char *open, const char *name)
{
    gsize n = strlen(name);
    return (gsize)(open - s) >= n && g_ascii_strncasecmp(s, name, n) == 0 &&
           ((gsize)(open - s) == n || !(g_ascii_isalnum(s[n]) || s[n] == '-'));
}

/* "(roots) to (limits)". */
static const ArtScopeRule *new_scope(ArtSheet *sheet, const char *s, const char *open,
                                     const Place *at)
{
    ArtScopeRule *scope = g_new0(ArtScopeRule, 1);
    scope->outer = at->scope;
    g_ptr_array_add(sheet->scopes, scope);
    s = dt_art_css_skip(s, open);
    if (s < open && *s == '(') {
        const char *close = dt_art_css_find(s + 1, open, ")");
        scope->roots = dt_art_selector_list(s + 1, close, TRUE, FALSE);
        s = dt_art_css_skip(close < open ? close + 1 : open, open);
    }
    if (open - s > 2 && g_ascii_strncasecmp(s, "to", 2) == 0) {
        s = dt_art_css_skip(s + 2, open);
        if (s < open && *s == '(')
            scope->limits =
                dt_art_selector_list(s + 1, dt_art_css_find(s + 1, open, ")"), TRUE, FALSE);
    }
    return scope;
}

typedef struct {
    const char *name, *value;
} Descriptor;

static void take_descriptor(const char *name, char *value, gboolean important, void *user)
{
    (void)important;
    for (Descriptor *d = user; d->name; d++)
        if (strcmp(d->name, name) == 0) {
            g_free((char *)d->value);
            d->value = g_strdup(value);
        }
}

/* @property --name { syntax, inherits, initial-value }: Properties and Values 1. */
static void register_property(ArtSheet *sheet, const char *s, const char *open, const char *close)
{
    Descriptor d[] = {{"syntax", NULL}, {"inherits", NULL}, {"initial-value", NULL}, {NULL, NULL}};
    g_autofree char *name = g_strstrip(g_strndup(s, (gsize)(open - s)));
    dt_art_css_declarations(open + 1, (gsize)(close - open - 1), take_descriptor, d);
    if (d[0].value && d[1].value && name[0] == '-' && name[1] == '-')
        dt_art_variable_register(&sheet->r->root, name, d[0].value,
                                 g_ascii_strcasecmp(d[1].value, "false") != 0, d[2].value);
    for (int i = 0; i < 3; i++)
        g_free((char *)d[i].value);
}

static void note_at_rule(ArtSheet *sheet, const char *s, const char *open, const char *why)
{
    dt_art_note(sheet->r, sheet->style, "%.*s %s", (int)MIN(open - s, 40), s, _(why));
}

/* An at-rule with a block. */
static void block_rule(ArtSheet *sheet, const char *s, const char *open, const char *close,
                       const Place *at)
{
    static const char *const without_effect[] = {
        "@page",          "@counter-style",   "@font-feature-values", "@font-palette-values",
        "@position-try",  "@view-transition", "@starting-style",      "@function",
        "@-moz-document", "@viewport",        "@-ms-viewport",        "@color-profile"};
    Place inner = *at;
    inner.depth++;
    gboolean taken = FALSE;
    if (is_named(s, open, "@media")) {
        taken = dt_art_media_applies(sheet->r, sheet->style, s + 6, open);
    } else if (is_named(s, open, "@supports")) {
        taken = dt_art_supports(sheet->r, s + 9, open);
    } else if (is_named(s, open, "@layer")) {
        inner.layer = open_layer(sheet, at->layer, s + 6, open);
        taken = TRUE;
    } else if (is_named(s, open, "@scope")) {
        inner.scope = new_scope(sheet, s + 6, open, at);
        taken = TRUE;
    } else if (is_named(s, open, "@property")) {
        register_property(sheet, s + 9, open, close);
    } else if (is_named(s, open, "@keyframes") || is_named(s, open, "@-webkit-keyframes")) {
        const char *name = dt_art_css_skip(strchr(s + 2, 's') + 1, open);
        char *key = g_strstrip(g_strndup(name, (gsize)(open - name)));
        g_hash_table_replace(sheet->keyframes, key, g_strndup(open + 1, (gsize)(close - open - 1)));
    } else if (is_named(s, open, "@font-face")) {
        note_at_rule(sheet, s, open, "is not read: its letters are drawn in another font");
    } else if (is_named(s, open, "@container")) {
        note_at_rule(sheet, s, open, "is taken as false: there is no container");
    } else {
        for (gsize i = 0; i < G_N_ELEMENTS(without_effect); i++)
            if (is_named(s, open, without_effect[i]))
                return;
        note_at_rule(sheet, s, open, "is not known: left out");
    }
    if (!taken || inner.depth > MAX_DEPTH)
        return;
    if (at->parent) /* within a rule: its declarations are the rule's */
        read_body(sheet, at->parent, open + 1, close,
                  &(Place){NULL, inner.layer, inner.scope, inner.depth});
    else
        read_rules(sheet, open + 1, close, &inner);
}

/* An at-rule that ends with its line. */
static void statement(ArtSheet *sheet, const char *s, const char *end, const Place *at)
{
    if (is_named(s, end, "@layer")) {
        for (const char *p = s + 6; p < end;) {
            const char *comma = dt_art_css_find(p, end, ",");
            open_layer(sheet, at->layer, p, comma);
            p = comma < end ? comma + 1 : end;
        }
    } else if (is_named(s, end, "@import")) {
        note_at_rule(sheet, s, end, "is not fetched: left out");
    } else if (is_named(s, end, "@namespace")) {
        const char *url = g_strstr_len(s, end - s, "http");
        const char *first = dt_art_css_skip(s + 10, end);
        if (strchr("u\"'", *first) && (!url || strncmp(url, "http://www.w3.org/2000/svg", 26) != 0))
            note_at_rule(sheet, s, end, "is ignored: every element counts as one of SVG");
    } else if (!is_named(s, end, "@charset")) {
        note_at_rule(sheet, s, end, "is not known: left out");
    }
}

static void read_rules(ArtSheet *sheet, const char *s, const char *end, const Place *at)
{
    while ((s = dt_art_css_skip(s, end)) < end) {
        if (end - s >= 4 && strncmp(s, "<!--", 4) == 0) {
            s += 4;
            continue;
        }
        if (end - s >= 3 && strncmp(s, "-->", 3) == 0) {
            s += 3;
            continue;
        }
        const char *open = dt_art_css_find(s, end, *s == '@' ? "{;" : "{");
        if (*s == '@' && (open == end || *open == ';')) {
            statement(sheet, s, open, at);
            s = open < end ? open + 1 : end;
            continue;
        }
        if (open == end)
            return;
        const char *close = block_end(open + 1, end);
        if (*s == '@')
            block_rule(sheet, s, open, close, at);
        else
            style_rule(sheet, s, open, close, at);
        s = close < end ? close + 1 : end;
    }
}

/* Sheets --------------------------------------------------------------------------------------- */

static int weaker_first(const void *a, const void *b)
{
    const ArtRule *p = *(ArtRule *const *)a, *q = *(ArtRule *const *)b;
    if (p->layer != q->layer)
        return p->layer < q->layer ? -1 : 1;
    if (p->selector->specificity != q->selector->specificity)
        return p->selector->specificity < q->selector->specificity ? -1 : 1;
    return p->order < q->order ? -1 : p->order > q->order;
}

static gboolean is_css(const char *type)
{
    return !type || !*type || g_ascii_strcasecmp(type, "text/css") == 0;
}

static void gather(ArtSheet *sheet, const ArtNode *style)
{
    const char *media = dt_art_attr(style, ART_AT_MEDIA);
    const Place outermost = {NULL, NULL, NULL, 0};
    sheet->style = style;
    if (!is_css(dt_art_attr(style, ART_AT_TYPE)) ||
        (media && !dt_art_media_applies(sheet->r, style, media, media + strlen(media))))
        return;
    GString *text = g_string_new(NULL);
    for (const ArtNode *c = style->first; c; c = c->next)
        if (c->tag == ART_TAG_WORDS)
            g_string_append(text, c->words);
    gsize len = text->len;
    const char *kept = keep(sheet, g_string_free(text, FALSE));
    sheet->any_important |= strstr(kept, "mportant") != NULL || strstr(kept, "MPORTANT") != NULL;
    read_rules(sheet, kept, kept + len, &outermost);
}

static void free_scope(gpointer p)
{
    ArtScopeRule *s = p;
    if (s->roots)
        g_ptr_array_unref(s->roots);
    if (s->limits)
        g_ptr_array_unref(s->limits);
    g_free(s);
}

ArtSheet *dt_art_sheet_new(ArtReader *r)
{
    ArtSheet *sheet = g_new0(ArtSheet, 1);
    sheet->r = r;
    sheet->rules = g_ptr_array_new_with_free_func(dt_art_rule_free);
    sheet->texts = g_ptr_array_new_with_free_func(g_free);
    sheet->layers = g_ptr_array_new_with_free_func(g_free);
    sheet->scopes = g_ptr_array_new_with_free_func(free_scope);
    sheet->keyframes = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    for (const ArtNode *n = r->doc->root; n; n = dt_art_next_node(n))
        if (n->tag == ART_TAG_STYLE)
            gather(sheet, n);
    if (sheet->rules->len == 0 && g_hash_table_size(sheet->keyframes) == 0) {
        dt_art_sheet_free(sheet);
        return NULL;
    }
    rank_layers(sheet);
    g_ptr_array_sort(sheet->rules, weaker_first);
    sheet->index = dt_art_index_new(sheet->rules, r->doc);
    sheet->index->reader_top = &r->used;
    return sheet;
}

void dt_art_sheet_free(ArtSheet *s)
{
    if (!s)
        return;
    dt_art_index_free(s->index);
    g_ptr_array_unref(s->rules);
    g_ptr_array_unref(s->texts);
    g_ptr_array_unref(s->layers);
    g_ptr_array_unref(s->scopes);
    g_hash_table_unref(s->keyframes);
    g_free(s);
}
