/* variable: custom properties and var() (CSS Custom Properties 1). A property's variables are
 * replaced where it is declared, so that inherited values contain no var(): 2.3 and 3. */
#include "art/private.h"

#define MAX_DEPTH 16             /* of nested variables; cycles end there */
#define MAX_REPLACED 1000        /* in one value, in all */
#define MAX_VALUE ((gsize)65536) /* bytes of a value after its variables are replaced */
#define NO_VALUE "\1"            /* marks a name that has no value from here on */

static const char *value_of(const ArtStyle *s, const char *name, gsize len)
{
    for (const ArtVariable *v = s->variables; v; v = v->next)
        if (strncmp(v->name, name, len) == 0 && v->name[len] == '\0')
            return strcmp(v->value, NO_VALUE) == 0 ? NULL : v->value;
    return NULL;
}

/* @property ------------------------------------------------------------------------------------ */

typedef struct {
    char *syntax, *initial;
    gboolean inherited;
} Registered;

static void registered_free(gpointer p)
{
    Registered *r = p;
    g_free(r->syntax);
    g_free(r->initial);
    g_free(r);
}

void dt_art_variable_register(ArtRoot *root, const char *name, const char *syntax,
                              gboolean inherited, const char *initial)
{
    if (!root->registered)
        root->registered = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, registered_free);
    Registered *r = g_new(Registered, 1);
    *r = (Registered){g_strdup(syntax), g_strdup(initial), inherited};
    g_hash_table_replace(root->registered, g_strdup(name), r);
}

void dt_art_variables_free(ArtRoot *root)
{
    if (root->registered)
        g_hash_table_unref(root->registered);
    root->registered = NULL;
}

static const Registered *registration(const ArtRoot *root, const char *name)
{
    return root->registered ? g_hash_table_lookup(root->registered, name) : NULL;
}

/* Whether a value matches the syntax, if that is a single one of these; other syntaxes accept
 * anything. */
static gboolean is_of_syntax(const Registered *r, const char *value)
{
    const char *p = art_skip_space(value);
    ArtColourRead colour;
    ArtLength l;
    double v;
    gboolean good = TRUE;
    if (strstr(r->syntax, "|") || dt_art_has_variables(value, strlen(value)))
        return TRUE;
    if (strstr(r->syntax, "<color>"))
        good = dt_art_colour_at(&p, NULL, &colour);
    else if (strstr(r->syntax, "<number>") || strstr(r->syntax, "<integer>"))
        good = dt_art_number_at(&p, &v) && *p != '%' && !g_ascii_isalpha(*p);
    else if (strstr(r->syntax, "<angle>"))
        good = dt_art_angle_at(&p, &v);
    else if (strstr(r->syntax, "<length>") || strstr(r->syntax, "<length-percentage>") ||
             strstr(r->syntax, "<percentage>"))
        good = dt_art_length_at(&p, &l);
    else
        return TRUE;
    return good && *art_skip_space(p) == '\0';
}

void dt_art_variables_inherit(ArtSetting *s)
{
    GHashTableIter i;
    gpointer name, p;
    g_hash_table_iter_init(&i, s->root->registered);
    while (g_hash_table_iter_next(&i, &name, &p)) {
        const Registered *r = p;
        if (!r->inherited && value_of(s->style, name, strlen(name)))
            dt_art_variable_set(s, name, NULL);
    }
}

static void store_value(ArtSetting *s, const char *name, const char *value)
{
    gsize name_len = strlen(name), value_len = strlen(value);
    const char *before = value_of(s->style, name, name_len);
    gsize bytes = sizeof(ArtVariable) + name_len + value_len;
    if (before && strcmp(before, value) == 0)
        return;
    if (s->store->variables + bytes > ART_MAX_VARIABLES) {
        dt_art_note(s->root->reader, s->node,
                    "custom properties of more than %u MB altogether: the rest is left out",
                    (unsigned)(ART_MAX_VARIABLES >> 20));
        return;
    }
    s->store->variables += bytes;
    ArtVariable *v = dt_art_store_alloc(s->store, sizeof *v);
    *v = (ArtVariable){s->style->variables, dt_art_store_text(s->store, name, name_len),
                       dt_art_store_text(s->store, value, value_len)};
    s->style->variables = v;
}

void dt_art_variable_set(ArtSetting *s, const char *name, const char *value)
{
    static const char *const unset[] = {"initial", "inherit", "unset", "revert", "revert-layer"};
    const Registered *r = registration(s->root, name);
    gsize name_len = strlen(name);
    for (gsize i = 0; value && i < G_N_ELEMENTS(unset); i++)
        if (g_ascii_strcasecmp(art_skip_space(value), unset[i]) == 0) {
            if (i == 1 || (i > 1 && !(r && !r->inherited)))
                value = value_of(s->parent, name, name_len);
            else
                value = NULL;
            break;
        }
    if (value && r && !is_of_syntax(r, value))
        value = NULL;
    if (value || value_of(s->style, name, name_len))
        store_value(s, name, value ? value : NO_VALUE);
}

/* The first var() or env() of a text; NULL if there is none. */
static const char *find_variable(const char *text, const char *end)
{
    for (const char *p = text; (p = memchr(p, '(', (gsize)(end - p))); p++)
        if (p - text >= 3 && (g_ascii_strncasecmp(p - 3, "var", 3) == 0 ||
                              g_ascii_strncasecmp(p - 3, "env", 3) == 0))
            return p - 3;
    return NULL;
}

gboolean dt_art_has_variables(const char *text, gsize len)
{
    return find_variable(text, text + len) != NULL;
}

/* The end of what begins at p inside brackets: the closing bracket, or the end of the text;
 * *comma receives the first comma outside inner brackets. */
static const char *closing(const char *p, const char **comma)
{
    int depth = 0;
    *comma = NULL;
    for (; *p; p++) {
        if (*p == '(')
            depth++;
        else if (*p == ')' && depth-- == 0)
            break;
        else if (*p == ',' && depth == 0 && !*comma)
            *comma = p;
    }
    return p;
}

typedef struct {
    const ArtStyle *style;
    const ArtRoot *root;
    GString *out;
    const char *open[MAX_DEPTH]; /* variables being replaced, outermost first */
    int depth, replaced;
    int cycle; /* the outermost of those that depend on themselves; -1: none */
} Expansion;

static gboolean expand(Expansion *x, const char *value, const char *end);

/* Whether the variable is being replaced already: then it depends on itself and has no value:
 * 2.3. */
static gboolean is_open(Expansion *x, const char *name)
{
    for (int i = 0; i < x->depth; i++)
        if (strcmp(x->open[i], name) == 0) {
            x->cycle = x->cycle < 0 ? i : MIN(x->cycle, i);
            return TRUE;
        }
    return FALSE;
}

/* Appends the value of one var() or env(), or its fallback if it has none. */
static gboolean replace_one(Expansion *x, const char *name, const char *known, const char *comma,
                            const char *close)
{
    gsize before = x->out->len;
    gboolean good = FALSE;
    if (known && x->depth < MAX_DEPTH && !is_open(x, name)) {
        x->open[x->depth++] = name;
        good = expand(x, known, known + strlen(known));
        x->depth--;
    }
    if (x->cycle == x->depth)
        x->cycle = -1;
    if (!good) {
        g_string_truncate(x->out, before);
        good = comma && x->cycle < 0 && expand(x, comma + 1, close);
    }
    return good;
}

/* Appends the value with its variables replaced; FALSE if one has no value. */
static gboolean expand(Expansion *x, const char *value, const char *end)
{
    while (value < end) {
        const char *next = find_variable(value, end);
        g_string_append_len(x->out, value, next ? next - value : end - value);
        if (!next)
            break;
        value = next;
        gboolean environment = g_ascii_tolower(*value) == 'e';
        if (++x->replaced > MAX_REPLACED || x->out->len > MAX_VALUE)
            return FALSE;
        const char *name = art_skip_space(value + 4), *comma, *close = closing(value + 4, &comma);
        const char *name_end = name;
        while (name_end < close && *name_end != ',' && !art_is_space(*name_end))
            name_end++;
        g_autofree char *key = g_strndup(name, (gsize)(name_end - name));
        const char *known = environment ? NULL : value_of(x->style, key, strlen(key));
        const Registered *r = known || environment ? NULL : registration(x->root, key);
        if (r && r->initial)
            known = r->initial;
        if (!replace_one(x, key, known, comma, close))
            return FALSE;
        value = close < end ? close + 1 : end;
    }
    return x->out->len <= MAX_VALUE;
}

/* NULL if there is no value; `own` is the variable whose value it is, or NULL. */
static char *expanded(const ArtStyle *s, const ArtRoot *root, const char *own, const char *value)
{
    Expansion x = {.style = s, .root = root, .out = g_string_new(NULL), .cycle = -1};
    gsize uncounted = 0, *replaced = root->reader ? &root->reader->doc->tree->replaced : &uncounted;
    if (own)
        x.open[x.depth++] = own;
    gboolean good = *replaced < ART_MAX_REPLACED && expand(&x, value, value + strlen(value));
    *replaced += (gsize)x.replaced;
    return g_string_free(x.out, !good);
}

char *dt_art_variables_in(const ArtStyle *s, const ArtRoot *root, const char *value)
{
    char *text = expanded(s, root, NULL, value);
    return text ? text : g_strdup("unset"); /* 3.1: invalid at computed-value time */
}

void dt_art_variables_compute(ArtSetting *s)
{
    if (s->store->replaced >= ART_MAX_REPLACED)
        dt_art_note(s->root->reader, s->node,
                    "more than %u uses of custom properties: what uses them is left out",
                    (unsigned)ART_MAX_REPLACED);
    g_autoptr(GPtrArray) names = g_ptr_array_new(), values = g_ptr_array_new_with_free_func(g_free);
    for (const ArtVariable *v = s->style->variables; v && v != s->parent->variables; v = v->next) {
        if (!dt_art_has_variables(v->value, strlen(v->value)) ||
            value_of(s->style, v->name, strlen(v->name)) != v->value)
            continue;
        g_ptr_array_add(names, (gpointer)v->name);
        g_ptr_array_add(values, expanded(s->style, s->root, v->name, v->value));
    }
    for (guint i = 0; i < names->len; i++) {
        const Registered *r = registration(s->root, names->pdata[i]);
        const char *value = values->pdata[i];
        if (value && r && !is_of_syntax(r, value))
            value = NULL;
        store_value(s, names->pdata[i], value ? value : NO_VALUE);
    }
}
