/* variable: custom properties and var() (CSS Custom Properties 1). */
#include "art/private.h"

#define MAX_DEPTH 16             /* of variables within variables; cycles end there */
#define MAX_REPLACED 1000        /* in one value, all told */
#define MAX_VALUE ((gsize)65536) /* bytes of a value with its variables in it */

static const char *value_of(const ArtStyle *s, const char *name, gsize len)
{
    for (const ArtVariable *v = s->variables; v; v = v->next)
        if (strncmp(v->name, name, len) == 0 && v->name[len] == '\0')
            return v->value[0] == '\1' ? NULL : v->value;
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

/* Whether a value is of the syntax, as far as it asks for one of these alone; others are taken. */
static gboolean is_of_syntax(const Registered *r, const char *value)
{
    const char *p = art_skip_space(value);
    ArtColourRead colour;
    ArtLength l;
    double v;
    gboolean good = TRUE;
    if (strstr(r->syntax, "|") || strstr(value, "var("))
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

void dt_art_variable_set(ArtSetting *s, const char *name, const char *value)
{
    static const char *const unset[] = {"initial", "inherit", "unset", "revert", "revert-layer"};
    const Registered *r = registration(s->root, name);
    gsize name_len = strlen(name);
    for (gsize i = 0; value && i < G_N_ELEMENTS(unset); i++)
        if (g_ascii_strcasecmp(art_skip_space(value), unset[i]) == 0) {
            if (i > 0 && !(r && !r->inherited))
                value = value_of(s->parent, name, name_len);
            else
                value = NULL;
            break;
        }
    if (value && r && !is_of_syntax(r, value))
        value = NULL;
    if (!value) /* a name that no value follows: it has none from here on */
        value = "\1";
    gsize value_len = strlen(value);
    const char *before = value_of(s->style, name, name_len);
    if (!before && value[0] == '\1')
        return;
    gsize bytes = sizeof(ArtVariable) + name_len + value_len;
    if ((before && strcmp(before, value) == 0) || s->store->variables + bytes > ART_MAX_VARIABLES)
        return;
    s->store->variables += bytes;
    ArtVariable *v = dt_art_store_alloc(s->store, sizeof *v);
    *v = (ArtVariable){s->style->variables, dt_art_store_text(s->store, name, name_len),
                       dt_art_store_text(s->store, value, value_len)};
    s->style->variables = v;
}

/* The end of what stands from p on within brackets: the closing one, or the end of the text; the
 * first comma outside of inner ones goes to *comma. */
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
    int depth, replaced;
} Expansion;

/* Appends the value with its variables replaced; FALSE where one has no value. */
static gboolean expand(Expansion *x, const char *value, const char *end)
{
    while (value < end) {
        gboolean environment = end - value >= 4 && g_ascii_strncasecmp(value, "env(", 4) == 0;
        if (end - value < 4 || (!environment && g_ascii_strncasecmp(value, "var(", 4) != 0)) {
            g_string_append_c(x->out, *value++);
            continue;
        }
        if (++x->replaced > MAX_REPLACED || x->depth >= MAX_DEPTH || x->out->len > MAX_VALUE)
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
        gsize before = x->out->len;
        x->depth++;
        gboolean good = known && expand(x, known, known + strlen(known));
        if (!good) {
            g_string_truncate(x->out, before);
            good = comma && expand(x, comma + 1, close);
        }
        x->depth--;
        if (!good)
            return FALSE;
        value = close < end ? close + 1 : end;
    }
    return x->out->len <= MAX_VALUE;
}

char *dt_art_variables_in(const ArtStyle *s, const ArtRoot *root, const char *value)
{
    Expansion x = {s, root, g_string_new(NULL), 0, 0};
    if (expand(&x, value, value + strlen(value)))
        return g_string_free(x.out, FALSE);
    g_string_free(x.out, TRUE);
    return g_strdup("unset"); /* 3.1: invalid at computed-value time */
}
