/* match: which rules of style sheets an element matches (Selectors 4). */
#include "art/style/selector.h"

#include "drawtrue/work.h"

static gboolean is_element(const ArtNode *n)
{
    return n->tag != ART_TAG_WORDS;
}

static const ArtNode *sibling_before(const ArtNode *n)
{
    do
        n = n->before;
    while (n && !is_element(n));
    return n;
}

/* The positions of an element among its siblings, from 1. */
struct ArtPlace {
    int first, last;           /* counted from the first and from the last */
    int type_first, type_last; /* among those of its own type */
};

static int type_count(GHashTable *counts, const char *type)
{
    int n = GPOINTER_TO_INT(g_hash_table_lookup(counts, type)) + 1;
    g_hash_table_insert(counts, (void *)type, GINT_TO_POINTER(n));
    return n;
}

static void count_children(ArtStore *store, ArtNode *parent)
{
    g_autoptr(GHashTable) counts = g_hash_table_new(g_str_hash, g_str_equal);
    int at = 0;
    for (ArtNode *c = parent->first; c; c = c->next)
        if (is_element(c)) {
            struct ArtPlace *p = dt_art_store_zero(store, sizeof *p);
            p->first = ++at;
            p->type_first = type_count(counts, c->local);
            c->place = p;
        }
    g_hash_table_remove_all(counts);
    at = 0;
    for (ArtNode *c = parent->last; c; c = c->before)
        if (is_element(c)) {
            c->place->last = ++at;
            c->place->type_last = type_count(counts, c->local);
        }
}

static void count_places(ArtDoc *doc)
{
    doc->root->place = dt_art_store_zero(doc->tree, sizeof *doc->root->place);
    *doc->root->place = (struct ArtPlace){1, 1, 1, 1};
    for (ArtNode *n = doc->root; n; n = dt_art_next_node(n))
        if (n->first)
            count_children(doc->tree, n);
}

static int place(const ArtNode *n, gboolean of_type, gboolean last)
{
    if (of_type)
        return last ? n->place->type_last : n->place->type_first;
    return last ? n->place->last : n->place->first;
}

static const char *attribute_named(const ArtNode *n, const char *key)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0)
            return n->attrs[i].value;
    return NULL;
}

static gboolean has_word(const char *list, const char *word)
{
    gsize n = strlen(word);
    for (const char *p = list; n > 0 && (p = strstr(p, word)); p++)
        if ((p == list || art_is_space(p[-1])) && (p[n] == '\0' || art_is_space(p[n])))
            return TRUE;
    return FALSE;
}

/* :lang(a, b): whether the element's language matches one of them. */
static gboolean language_is(const ArtNode *n, const char *wanted)
{
    const char *lang = NULL;
    for (; n && !lang; n = n->parent) {
        lang = dt_art_attr(n, ART_P_XML_LANG);
        if (!lang)
            lang = dt_art_attr(n, ART_AT_LANG);
    }
    for (const char *w = wanted; lang && *w;) {
        gsize len = strcspn(w, ", \t");
        if (len > 0 && g_ascii_strncasecmp(lang, w, len) == 0 &&
            (lang[len] == '\0' || lang[len] == '-'))
            return TRUE;
        w += len;
        w += strspn(w, ", \t");
    }
    return FALSE;
}

static gboolean same_text(const char *a, const char *b, gsize n, gboolean any_case)
{
    return any_case ? g_ascii_strncasecmp(a, b, n) == 0 : strncmp(a, b, n) == 0;
}

static gboolean contains(const char *text, const char *wanted, gboolean any_case)
{
    gsize n = strlen(wanted);
    for (const char *p = text; n > 0 && strlen(p) >= n; p++)
        if (same_text(p, wanted, n, any_case))
            return TRUE;
    return FALSE;
}

static gboolean attribute_matches(const Part *p, const ArtNode *n)
{
    const char *v = attribute_named(n, p->name);
    if (!v)
        return FALSE;
    if (p->kind == PART_HAS)
        return TRUE;
    gsize len = strlen(p->value), v_len = strlen(v);
    gboolean any = p->any_case;
    switch (p->kind) {
    case PART_EQUALS:
        return len == v_len && same_text(v, p->value, len, any);
    case PART_INCLUDES: {
        g_autofree char *low = any ? g_ascii_strdown(v, -1) : NULL;
        g_autofree char *word = any ? g_ascii_strdown(p->value, -1) : NULL;
        return has_word(any ? low : v, any ? word : p->value);
    }
    case PART_DASH:
        return same_text(v, p->value, len, any) && (v[len] == '\0' || v[len] == '-');
    case PART_BEGINS:
        return len > 0 && same_text(v, p->value, len, any);
    case PART_ENDS:
        return len > 0 && v_len >= len && same_text(v + v_len - len, p->value, len, any);
    default:
        return contains(v, p->value, any);
    }
}

static gboolean selector_matches(ArtIndex *x, const ArtSelector *s, const ArtNode *n);

static gboolean any_matches(ArtIndex *x, const GPtrArray *list, const ArtNode *n)
{
    for (guint i = 0; i < list->len && x->work <= ART_MAX_MATCHES; i++)
        if (selector_matches(x, list->pdata[i], n))
            return TRUE;
    return FALSE;
}

/* :nth-child(an+b of list): its position among the siblings that match. */
static gboolean nth_of_matches(ArtIndex *x, const Part *p, const ArtNode *n)
{
    if (!any_matches(x, p->list, n))
        return FALSE;
    int at = 1 - p->b;
    for (const ArtNode *k = p->last ? n->next : n->before; k; k = p->last ? k->next : k->before)
        if (is_element(k) && any_matches(x, p->list, k))
            at++;
    return p->a == 0 ? at == 0 : at % p->a == 0 && at / p->a >= 0;
}

/* Whether anything below the node, or the node itself, matches. */
static gboolean tree_matches(ArtIndex *x, const ArtSelector *s, const ArtNode *top)
{
    for (const ArtNode *k = top; k && x->work <= ART_MAX_MATCHES;) {
        if (is_element(k) && selector_matches(x, s, k))
            return TRUE;
        const ArtNode *next = k->first;
        while (!next && k != top) {
            next = k->next;
            if (!next)
                k = k->parent;
            else
                break;
        }
        if (!next && k == top)
            break;
        k = next;
    }
    return FALSE;
}

/* :has(): searches from an element, below it or among its following siblings. */
static gboolean has_matches(ArtIndex *x, const Part *p, const ArtNode *n)
{
    const ArtNode *outer = x->anchor;
    gboolean found = FALSE;
    x->anchor = n;
    for (guint i = 0; i < p->list->len && !found; i++) {
        const ArtSelector *s = p->list->pdata[i];
        char combinator = ((const Compound *)s->compounds->pdata[1])->combinator;
        gboolean beside = combinator == '+' || combinator == '~';
        for (const ArtNode *k = beside ? n->next : n->first; k && !found; k = k->next)
            found = tree_matches(x, s, k);
    }
    x->anchor = outer;
    return found;
}

static gboolean part_matches(ArtIndex *x, const Part *p, const ArtNode *n)
{
    switch (p->kind) {
    case PART_TYPE:
        return strcmp(n->local, p->value) == 0;
    case PART_CLASS:
        return n->classes && has_word(n->classes, p->value);
    case PART_ID:
        return n->id && strcmp(n->id, p->value) == 0;
    case PART_NTH: {
        if (p->list)
            return nth_of_matches(x, p, n);
        int at = place(n, p->of_type, p->last) - p->b;
        return p->a == 0 ? at == 0 : at % p->a == 0 && at / p->a >= 0;
    }
    case PART_ROOT:
        return n->parent == NULL;
    case PART_SCOPE:
        return x->scope ? n == x->scope : n->parent == NULL;
    case PART_EMPTY:
        return n->first == NULL;
    case PART_ONLY_CHILD:
    case PART_ONLY_OF_TYPE: {
        gboolean of_type = p->kind == PART_ONLY_OF_TYPE;
        return place(n, of_type, FALSE) == 1 && place(n, of_type, TRUE) == 1;
    }
    case PART_LANG:
        return language_is(n, p->value);
    case PART_LINK:
        return n->tag == ART_TAG_A && dt_art_href(n) != NULL;
    case PART_NOT:
        return !any_matches(x, p->list, n);
    case PART_IS:
        return any_matches(x, p->list, n);
    case PART_WITH:
        return has_matches(x, p, n);
    case PART_ANCHOR:
        return n == x->anchor;
    case PART_NEVER:
        return FALSE;
    case PART_ALWAYS:
    case PART_PREFIX:
        return TRUE;
    default:
        return attribute_matches(p, n);
    }
}

static gboolean compound_matches(ArtIndex *x, const Compound *c, const ArtNode *n)
{
    for (guint i = 0; i < c->parts->len; i++)
        if (!part_matches(x, &g_array_index(c->parts, Part, i), n))
            return FALSE;
    return TRUE;
}

/* How a failure to match ends the search: no other element can match, no sibling can, or only
 * this one does not. Without the distinction a chain of descendant combinators would be tried in
 * every combination. */
typedef enum { MATCHES, FAILS_HERE, FAILS_ALL_SIBLINGS, FAILS_ALL } Outcome;

/* The target of a <use> has no ancestors: SVG 2, 5.6.3. */
static const ArtNode *parent_of(const ArtIndex *x, const ArtNode *n)
{
    return n == x->top ? NULL : n->parent;
}

/* Whether compounds 0 to `last` match with the last one at n. */
static Outcome chain_matches(ArtIndex *x, const GPtrArray *compounds, guint last, const ArtNode *n)
{
    const Compound *c = compounds->pdata[last];
    Outcome o;
    x->work++;
    if (!compound_matches(x, c, n))
        return FAILS_HERE;
    if (last == 0)
        return MATCHES;
    switch (c->combinator) {
    case '>':
        n = parent_of(x, n);
        o = n ? chain_matches(x, compounds, last - 1, n) : FAILS_ALL;
        return o == MATCHES || o == FAILS_ALL ? o : FAILS_ALL_SIBLINGS;
    case '+':
        n = n == x->top ? NULL : sibling_before(n);
        return n ? chain_matches(x, compounds, last - 1, n) : FAILS_ALL_SIBLINGS;
    case '~':
        while ((n = n == x->top ? NULL : sibling_before(n))) {
            o = chain_matches(x, compounds, last - 1, n);
            if (o != FAILS_HERE)
                return o;
        }
        return FAILS_ALL_SIBLINGS;
    default:
        while ((n = parent_of(x, n))) {
            o = chain_matches(x, compounds, last - 1, n);
            if (o == MATCHES || o == FAILS_ALL)
                return o;
        }
        return FAILS_ALL;
    }
}

static gboolean selector_matches(ArtIndex *x, const ArtSelector *s, const ArtNode *n)
{
    return x->work <= ART_MAX_MATCHES &&
           chain_matches(x, s->compounds, s->compounds->len - 1, n) == MATCHES;
}

/* Whether the element is in a scope, and how far below the scope's root it matches. */
static gboolean in_scope(ArtIndex *x, const ArtRule *rule, const ArtNode *n, unsigned *proximity)
{
    const ArtScopeRule *s = rule->scope;
    const ArtNode *before = x->scope;
    gboolean found = FALSE;
    *proximity = 0;
    for (const ArtNode *root = n; root && !found; root = root->parent, ++*proximity) {
        x->scope = root;
        if (s->roots ? any_matches(x, s->roots, root) : root->parent == NULL) {
            gboolean beyond = FALSE;
            for (const ArtNode *k = n; s->limits && k && k != root && !beyond; k = k->parent)
                beyond = any_matches(x, s->limits, k);
            found = !beyond && selector_matches(x, rule->selector, n);
            if (found)
                break;
        }
    }
    x->scope = before;
    return found;
}

/* Index ---------------------------------------------------------------------------------------- */

static gboolean list_asks_for_place(const GPtrArray *list);

static gboolean asks_for_place(const Compound *c)
{
    for (guint i = 0; i < c->parts->len; i++) {
        const Part *p = &g_array_index(c->parts, Part, i);
        if (p->kind == PART_NTH || p->kind == PART_ONLY_CHILD || p->kind == PART_ONLY_OF_TYPE ||
            (p->list && list_asks_for_place(p->list)))
            return TRUE;
    }
    return FALSE;
}

static gboolean list_asks_for_place(const GPtrArray *list)
{
    for (guint i = 0; i < list->len; i++) {
        const ArtSelector *s = list->pdata[i];
        for (guint k = 0; k < s->compounds->len; k++)
            if (asks_for_place(s->compounds->pdata[k]))
                return TRUE;
    }
    return FALSE;
}

static void add_to(GHashTable *table, const char *name, ArtRule *r)
{
    GPtrArray *list = g_hash_table_lookup(table, name);
    if (!list) {
        list = g_ptr_array_new();
        g_hash_table_insert(table, (void *)name, list);
    }
    g_ptr_array_add(list, r);
}

static void index_rule(ArtIndex *x, ArtRule *r)
{
    const GPtrArray *compounds = r->selector->compounds;
    const Compound *c = compounds->pdata[compounds->len - 1];
    const Part *best = NULL;
    for (guint i = 0; i < c->parts->len; i++) {
        const Part *p = &g_array_index(c->parts, Part, i);
        if (p->kind <= PART_ID && (!best || p->kind > best->kind))
            best = p;
    }
    if (!best)
        g_ptr_array_add(x->others, r);
    else
        add_to(best->kind == PART_ID      ? x->by_id
               : best->kind == PART_CLASS ? x->by_class
                                          : x->by_type,
               best->value, r);
}

static GHashTable *table_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, NULL, (GDestroyNotify)g_ptr_array_unref);
}

ArtIndex *dt_art_index_new(const GPtrArray *rules, ArtDoc *doc)
{
    ArtIndex *x = g_new0(ArtIndex, 1);
    *x = (ArtIndex){.by_id = table_new(),
                    .by_class = table_new(),
                    .by_type = table_new(),
                    .others = g_ptr_array_new(),
                    .found = g_ptr_array_new()};
    gboolean places = FALSE;
    for (guint i = 0; i < rules->len; i++) {
        ArtRule *r = rules->pdata[i];
        r->order = i;
        index_rule(x, r);
        x->ranked |= r->scope != NULL || r->layer != 0;
        for (guint k = 0; k < r->selector->compounds->len; k++)
            places = places || asks_for_place(r->selector->compounds->pdata[k]);
        if (r->scope) {
            places = places || (r->scope->roots && list_asks_for_place(r->scope->roots)) ||
                     (r->scope->limits && list_asks_for_place(r->scope->limits));
        }
    }
    if (places)
        count_places(doc);
    return x;
}

void dt_art_index_free(ArtIndex *x)
{
    if (!x)
        return;
    g_hash_table_unref(x->by_id);
    g_hash_table_unref(x->by_class);
    g_hash_table_unref(x->by_type);
    g_ptr_array_unref(x->others);
    g_ptr_array_unref(x->found);
    g_free(x);
}

static void try_rules(ArtIndex *x, const GPtrArray *rules, const ArtNode *n)
{
    for (guint i = 0; rules && i < rules->len && x->work <= ART_MAX_MATCHES && !dt_work_stopped();
         i++) {
        ArtRule *r = rules->pdata[i];
        gboolean matches;
        r->proximity = G_MAXUINT;
        if (r->scope)
            matches = in_scope(x, r, n, &r->proximity);
        else
            matches = selector_matches(x, r->selector, n);
        if (matches)
            g_ptr_array_add(x->found, r);
    }
}

static void try_classes(ArtIndex *x, const ArtNode *n)
{
    g_autofree char *words = g_strdup(n->classes);
    for (char *p = words; *p;) {
        char *end = p;
        while (*end && !art_is_space(*end))
            end++;
        char *next = *end ? end + 1 : end;
        *end = '\0';
        if (*p)
            try_rules(x, g_hash_table_lookup(x->by_class, p), n);
        p = next;
    }
}

static int by_order(const void *a, const void *b)
{
    const ArtRule *p = *(ArtRule *const *)a, *q = *(ArtRule *const *)b;
    return p->order < q->order ? -1 : p->order > q->order;
}

/* CSS Cascade 5, 6.1: layer, specificity, proximity to the scope's root, order. */
static int compare_strength(const ArtRule *p, const ArtRule *q, gboolean layers_reversed)
{
    if (p->layer != q->layer)
        return (p->layer < q->layer) != layers_reversed ? -1 : 1;
    if (p->selector->specificity != q->selector->specificity)
        return p->selector->specificity < q->selector->specificity ? -1 : 1;
    if (p->proximity != q->proximity)
        return p->proximity > q->proximity ? -1 : 1;
    return p->order < q->order ? -1 : p->order > q->order;
}

static int by_strength(const void *a, const void *b)
{
    return compare_strength(*(ArtRule *const *)a, *(ArtRule *const *)b, FALSE);
}

static int by_important_strength(const void *a, const void *b)
{
    return compare_strength(*(ArtRule *const *)a, *(ArtRule *const *)b, TRUE);
}

void dt_art_index_find(ArtIndex *x, const ArtNode *n, gboolean important)
{
    x->top = x->reader_top ? *x->reader_top : NULL;
    g_ptr_array_set_size(x->found, 0);
    if (n->id)
        try_rules(x, g_hash_table_lookup(x->by_id, n->id), n);
    if (n->classes && g_hash_table_size(x->by_class) > 0)
        try_classes(x, n);
    try_rules(x, g_hash_table_lookup(x->by_type, n->local), n);
    try_rules(x, x->others, n);
    if (x->found->len > 1)
        g_ptr_array_sort(x->found, !x->ranked  ? by_order
                                   : important ? by_important_strength
                                               : by_strength);
}
