/* match: which rules of style sheets an element matches (Selectors 3). */
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

/* An element's places among its siblings, from 1. */
struct ArtPlace {
    int first, last;           /* counted from the first and from the last */
    int type_first, type_last; /* among those of its type alone */
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
    doc->root->place = dt_art_store_zero(doc->store, sizeof *doc->root->place);
    *doc->root->place = (struct ArtPlace){1, 1, 1, 1};
    for (ArtNode *n = doc->root; n; n = dt_art_next_node(n))
        if (n->first)
            count_children(doc->store, n);
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

/* :lang(a, b): whether the element's language is one of them or a kind of one. */
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

static gboolean compound_matches(const Compound *c, const ArtNode *n);

static gboolean attribute_matches(const Part *p, const ArtNode *n)
{
    const char *v = attribute_named(n, p->name);
    if (!v)
        return FALSE;
    if (p->kind == PART_HAS)
        return TRUE;
    gsize len = strlen(p->value), v_len = strlen(v);
    switch (p->kind) {
    case PART_EQUALS:
        return strcmp(v, p->value) == 0;
    case PART_INCLUDES:
        return has_word(v, p->value);
    case PART_DASH:
        return strncmp(v, p->value, len) == 0 && (v[len] == '\0' || v[len] == '-');
    case PART_BEGINS:
        return len > 0 && strncmp(v, p->value, len) == 0;
    case PART_ENDS:
        return len > 0 && v_len >= len && strcmp(v + v_len - len, p->value) == 0;
    default:
        return len > 0 && strstr(v, p->value) != NULL;
    }
}

static gboolean part_matches(const Part *p, const ArtNode *n)
{
    switch (p->kind) {
    case PART_TYPE:
        return strcmp(n->local, p->value) == 0;
    case PART_CLASS:
        return n->classes && has_word(n->classes, p->value);
    case PART_ID:
        return n->id && strcmp(n->id, p->value) == 0;
    case PART_NTH: {
        int at = place(n, p->of_type, p->last) - p->b;
        return p->a == 0 ? at == 0 : at % p->a == 0 && at / p->a >= 0;
    }
    case PART_ROOT:
        return n->parent == NULL;
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
        return !compound_matches(p->not, n);
    case PART_NEVER:
        return FALSE;
    default:
        return attribute_matches(p, n);
    }
}

static gboolean compound_matches(const Compound *c, const ArtNode *n)
{
    for (guint i = 0; i < c->parts->len; i++)
        if (!part_matches(&g_array_index(c->parts, Part, i), n))
            return FALSE;
    return TRUE;
}

/* How a failure to match ends the search: nowhere else can help, no sibling can, or only this
 * element does not. Without the difference a chain of descendants would be tried in every
 * combination. */
typedef enum { MATCHES, FAILS_HERE, FAILS_ALL_SIBLINGS, FAILS_ALL } Outcome;

/* Whether compounds 0 to `last` match with the last one at n. */
static Outcome chain_matches(ArtIndex *x, const GPtrArray *compounds, guint last, const ArtNode *n)
{
    const Compound *c = compounds->pdata[last];
    Outcome o;
    x->work++;
    if (!compound_matches(c, n))
        return FAILS_HERE;
    if (last == 0)
        return MATCHES;
    switch (c->combinator) {
    case '>':
        o = n->parent ? chain_matches(x, compounds, last - 1, n->parent) : FAILS_ALL;
        return o == MATCHES || o == FAILS_ALL ? o : FAILS_ALL_SIBLINGS;
    case '+':
        n = sibling_before(n);
        return n ? chain_matches(x, compounds, last - 1, n) : FAILS_ALL_SIBLINGS;
    case '~':
        while ((n = sibling_before(n))) {
            o = chain_matches(x, compounds, last - 1, n);
            if (o != FAILS_HERE)
                return o;
        }
        return FAILS_ALL_SIBLINGS;
    default:
        while ((n = n->parent)) {
            o = chain_matches(x, compounds, last - 1, n);
            if (o == MATCHES || o == FAILS_ALL)
                return o;
        }
        return FAILS_ALL;
    }
}

/* Index ---------------------------------------------------------------------------------------- */

static gboolean asks_for_place(const Compound *c)
{
    for (guint i = 0; i < c->parts->len; i++) {
        const Part *p = &g_array_index(c->parts, Part, i);
        if (p->kind == PART_NTH || p->kind == PART_ONLY_CHILD || p->kind == PART_ONLY_OF_TYPE ||
            (p->kind == PART_NOT && asks_for_place(p->not )))
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
    const Compound *c = r->compounds->pdata[r->compounds->len - 1];
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
        for (guint k = 0; k < r->compounds->len; k++)
            places = places || asks_for_place(r->compounds->pdata[k]);
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
    for (guint i = 0; rules && i < rules->len && x->work <= ART_MAX_MATCHES && !dt_work_stopped(); i++) {
        ArtRule *r = rules->pdata[i];
        if (chain_matches(x, r->compounds, r->compounds->len - 1, n) == MATCHES)
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

void dt_art_index_find(ArtIndex *x, const ArtNode *n)
{
    g_ptr_array_set_size(x->found, 0);
    if (n->id)
        try_rules(x, g_hash_table_lookup(x->by_id, n->id), n);
    if (n->classes && g_hash_table_size(x->by_class) > 0)
        try_classes(x, n);
    try_rules(x, g_hash_table_lookup(x->by_type, n->local), n);
    try_rules(x, x->others, n);
    if (x->found->len > 1)
        g_ptr_array_sort(x->found, by_order);
}
