/* variable: custom properties and var() (CSS Custom Properties 1). */
#include "art/private.h"

#define MAX_DEPTH 16             /* of variables within variables; cycles end there */
#define MAX_REPLACED 1000        /* in one value, all told */
#define MAX_VALUE ((gsize)65536) /* bytes of a value with its variables in it */

static const char *value_of(const ArtStyle *s, const char *name, gsize len)
{
    for (const ArtVariable *v = s->variables; v; v = v->next)
        if (strncmp(v->name, name, len) == 0 && v->name[len] == '\0')
            return v->value;
    return NULL;
}

void dt_art_variable_set(ArtSetting *s, const char *name, const char *value)
{
    gsize name_len = strlen(name), value_len = strlen(value);
    const char *before = value_of(s->style, name, name_len);
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
    GString *out;
    int depth, replaced;
} Expansion;

/* Appends the value with its variables replaced; FALSE where one has no value. */
static gboolean expand(Expansion *x, const char *value, const char *end)
{
    while (value < end) {
        if (end - value < 4 || g_ascii_strncasecmp(value, "var(", 4) != 0) {
            g_string_append_c(x->out, *value++);
            continue;
        }
        if (++x->replaced > MAX_REPLACED || x->depth >= MAX_DEPTH || x->out->len > MAX_VALUE)
            return FALSE;
        const char *name = art_skip_space(value + 4), *comma, *close = closing(value + 4, &comma);
        const char *name_end = name;
        while (name_end < close && *name_end != ',' && !art_is_space(*name_end))
            name_end++;
        const char *known = value_of(x->style, name, (gsize)(name_end - name));
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

char *dt_art_variables_in(const ArtStyle *s, const char *value)
{
    Expansion x = {s, g_string_new(NULL), 0, 0};
    if (expand(&x, value, value + strlen(value)))
        return g_string_free(x.out, FALSE);
    g_string_free(x.out, TRUE);
    return g_strdup("unset"); /* 3.1: invalid at computed-value time */
}
