/* media: conditions in style sheets. */
#include "art/style/media.h"
#include "art/style/known.h"
#include "art/style/selector.h"

#include <math.h>

#define MAX_DEPTH 16

typedef enum { NO, YES, UNKNOWN } Truth; /* Media Queries 4, 3.1 */

typedef struct {
    ArtReader *r;
    const ArtNode *n;
    const char *p, *end;
    int depth;
    gboolean supports; /* not media */
    gboolean malformed;
} Reading;

static void skip(Reading *x)
{
    x->p = dt_art_css_skip(x->p, x->end);
}

static gboolean take_word(Reading *x, const char *word)
{
    gsize n = strlen(word);
    skip(x);
    if ((gsize)(x->end - x->p) < n || g_ascii_strncasecmp(x->p, word, n) != 0)
        return FALSE;
    const char *after = x->p + n;
    if (after < x->end && (g_ascii_isalnum(*after) || *after == '-' || *after == '('))
        return FALSE;
    x->p = after;
    return TRUE;
}

/* Features ------------------------------------------------------------------------------------- */

typedef enum { LENGTH, NUMBER, RATIO, RESOLUTION, WORD } Kind;

typedef struct {
    const char *name;
    Kind kind;
    double value;       /* of a WORD: whether it is true without a value */
    const char *word;   /* its value */
    const char *others; /* the other possible values */
} Feature;

static const Feature features[] = {
    {"width", LENGTH, 0, NULL, NULL},
    {"height", LENGTH, 1, NULL, NULL},
    {"device-width", LENGTH, 0, NULL, NULL},
    {"device-height", LENGTH, 1, NULL, NULL},
    {"inline-size", LENGTH, 0, NULL, NULL},
    {"block-size", LENGTH, 1, NULL, NULL},
    {"aspect-ratio", RATIO, 0, NULL, NULL},
    {"device-aspect-ratio", RATIO, 0, NULL, NULL},
    {"color", NUMBER, 8, NULL, NULL},
    {"color-index", NUMBER, 0, NULL, NULL},
    {"monochrome", NUMBER, 0, NULL, NULL},
    {"grid", NUMBER, 0, NULL, NULL},
    {"resolution", RESOLUTION, 1, NULL, NULL},
    {"-webkit-device-pixel-ratio", NUMBER, 1, NULL, NULL},
    {"-webkit-transform-3d", NUMBER, 1, NULL, NULL},
    {"orientation", WORD, 1, "", "portrait landscape"},
    {"hover", WORD, 0, "none", "hover"},
    {"any-hover", WORD, 0, "none", "hover"},
    {"pointer", WORD, 0, "none", "coarse fine"},
    {"any-pointer", WORD, 0, "none", "coarse fine"},
    {"update", WORD, 1, "fast", "none slow"},
    {"scan", WORD, 0, "", "interlace progressive"},
    {"scripting", WORD, 0, "none", "initial-only enabled"},
    {"overflow-block", WORD, 1, "scroll", "none optional-paged paged"},
    {"overflow-inline", WORD, 1, "scroll", "none"},
    {"color-gamut", WORD, 1, "srgb", "p3 rec2020"},
    {"dynamic-range", WORD, 1, "standard", "high"},
    {"video-dynamic-range", WORD, 1, "standard", "high"},
    {"inverted-colors", WORD, 0, "none", "inverted"},
    {"forced-colors", WORD, 0, "none", "active"},
    {"prefers-color-scheme", WORD, 1, "light", "dark"},
    {"prefers-reduced-motion", WORD, 1, "reduce", "no-preference"}, /* ink does not move */
    {"prefers-reduced-transparency", WORD, 0, "no-preference", "reduce"},
    {"prefers-reduced-data", WORD, 0, "no-preference", "reduce"},
    {"prefers-contrast", WORD, 0, "no-preference", "more less custom"},
    {"display-mode", WORD, 1, "browser", "fullscreen standalone minimal-ui picture-in-picture"},
};

static const Feature *feature_of(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(features); i++)
        if (g_ascii_strcasecmp(features[i].name, name) == 0)
            return &features[i];
    return NULL;
}

static double actual(const Reading *x, const Feature *f)
{
    const ArtRoot *root = &x->r->root;
    if (f->kind == LENGTH)
        return f->value > 0 ? root->vh : root->vw;
    if (f->kind == RATIO)
        return root->vw / root->vh;
    return f->value;
}

/* The value that a feature is compared with. */
static gboolean wanted(const Reading *x, const Feature *f, const char *text, double *out)
{
    const char *p = art_skip_space(text);
    ArtLength l;
    ArtStyle initial;
    switch (f->kind) {
    case LENGTH:
        dt_art_style_initial(&initial);
        if (!dt_art_length(p, &l) || (l.unit == ART_UNIT_NUMBER && l.value != 0) ||
            l.unit == ART_UNIT_PERCENT)
            return FALSE;
        *out = dt_art_px_of(l, &initial, 0, &x->r->root);
        return TRUE;
    case RATIO: {
        double below = 1;
        if (!dt_art_number_at(&p, out))
            return FALSE;
        p = art_skip_space(p);
        if (*p == '/') {
            p = art_skip_space(p + 1);
            if (!dt_art_number_at(&p, &below))
                return FALSE;
        }
        *out /= below;
        return *art_skip_space(p) == '\0';
    }
    case RESOLUTION: {
        static const struct {
            const char *unit;
            double dppx;
        } units[] = {{"dppx", 1}, {"x", 1}, {"dpi", 1.0 / 96}, {"dpcm", 2.54 / 96}};
        if (!art_number(&p, out))
            return FALSE;
        for (gsize i = 0; i < G_N_ELEMENTS(units); i++)
            if (g_ascii_strcasecmp(p, units[i].unit) == 0) {
                *out *= units[i].dppx;
                return TRUE;
            }
        return FALSE;
    }
    default:
        return dt_art_number_at(&p, out) && *art_skip_space(p) == '\0';
    }
}

static gboolean has_word(const char *list, const char *word)
{
    g_auto(GStrv) words = g_strsplit(list, " ", -1);
    for (char **w = words; *w; w++)
        if (**w && g_ascii_strcasecmp(*w, word) == 0)
            return TRUE;
    return FALSE;
}

static Truth word_feature(const Reading *x, const Feature *f, const char *value)
{
    if (strcmp(f->name, "orientation") == 0) {
        const char *is = x->r->root.vh >= x->r->root.vw ? "portrait" : "landscape";
        return g_ascii_strcasecmp(value, is) == 0 ? YES : has_word(f->others, value) ? NO : UNKNOWN;
    }
    if (g_ascii_strcasecmp(value, f->word) == 0)
        return YES;
    return has_word(f->others, value) ? NO : UNKNOWN;
}

static Truth compared(double a, const char *how, double b)
{
    gboolean less = a<b - 1e-9, more = a> b + 1e-9;
    switch (how[0]) {
    case '<':
        return (how[1] == '=' ? !more : less) ? YES : NO;
    case '>':
        return (how[1] == '=' ? !less : more) ? YES : NO;
    default:
        return !less && !more;
    }
}

/* "name: value", with or without min- and max- before the name. */
static Truth plain_feature(const Reading *x, char *name, const char *value)
{
    const char *how = "=";
    g_strstrip(name);
    if (g_ascii_strncasecmp(name, "min-", 4) == 0 || g_ascii_strncasecmp(name, "max-", 4) == 0) {
        how = (name[1] | 0x20) == 'i' ? ">=" : "<=";
        name += 4;
    }
    const Feature *f = feature_of(name);
    double b;
    if (!f)
        return UNKNOWN;
    g_autofree char *text = g_strstrip(g_strdup(value));
    if (f->kind == WORD)
        return *how == '=' ? word_feature(x, f, text) : UNKNOWN;
    return wanted(x, f, text, &b) ? compared(actual(x, f), how, b) : UNKNOWN;
}

/* Two values stand on both sides of the name, and both relations go the same way: 2.4.3. */
static gboolean is_between(int n, int at, char how[2][3])
{
    return n == 3 && at == 1 && how[0][0] == how[1][0] && how[0][0] != '=';
}

/* "10px < width <= 20px": one or two comparisons with the name between. */
static Truth range_feature(const Reading *x, const char *text)
{
    char *parts[3] = {NULL, NULL, NULL}, how[2][3] = {"", ""};
    int n = 0, at = -1;
    gboolean whole = FALSE;
    const char *from = text;
    for (const char *p = text;; p++) {
        if (*p && !strchr("<>=", *p))
            continue;
        parts[n] = g_strstrip(g_strndup(from, (gsize)(p - from)));
        if (feature_of(parts[n]))
            at = n;
        n++;
        whole = !*p;
        if (whole || n == 3)
            break;
        how[n - 1][0] = *p;
        if (p[1] == '=' && *p != '=')
            how[n - 1][1] = *++p;
        from = p + 1;
    }
    Truth t = UNKNOWN;
    double b;
    const Feature *f = at >= 0 ? feature_of(parts[at]) : NULL;
    if (f && f->kind != WORD && whole && (n == 2 || is_between(n, at, how))) {
        t = YES;
        for (int i = 0; i < n && t != UNKNOWN; i++) {
            if (i == at)
                continue;
            const char *relation = how[MIN(i, at)];
            if (!wanted(x, f, parts[i], &b))
                t = UNKNOWN;
            else if (t == YES)
                t = i < at ? compared(b, relation, actual(x, f))
                           : compared(actual(x, f), relation, b);
        }
    }
    for (int i = 0; i < 3; i++)
        g_free(parts[i]);
    return t;
}

static Truth feature(const Reading *x, const char *from, const char *to)
{
    g_autofree char *text = g_strstrip(g_strndup(from, (gsize)(to - from)));
    char *colon = strchr(text, ':');
    if (colon) {
        *colon = '\0';
        return plain_feature(x, text, colon + 1);
    }
    if (strpbrk(text, "<>="))
        return range_feature(x, text);
    const Feature *f = feature_of(text);
    if (!f)
        return UNKNOWN;
    return f->kind == WORD ? f->value > 0 : actual(x, f) != 0;
}

/* "(property: value)" of @supports. */
static Truth declaration(const Reading *x, const char *from, const char *to)
{
    g_autofree char *text = g_strstrip(g_strndup(from, (gsize)(to - from)));
    char *colon = strchr(text, ':');
    if (!colon)
        return UNKNOWN;
    *colon = '\0';
    g_autofree char *name = g_ascii_strdown(g_strstrip(text), -1);
    const char *value = art_skip_space(colon + 1);
    ArtName id = dt_art_name_of(name);
    if (name[0] == '-' && name[1] == '-')
        return YES;
    if (!dt_art_is_property(id))
        return dt_art_known_property(name) == ART_KNOWN_NOT ? NO : YES;
    ArtStyle initial, trial;
    dt_art_style_initial(&initial);
    trial = initial;
    ArtSetting s = {&trial, &initial, x->r->doc->tree, &x->r->root, NULL, TRUE};
    return dt_art_property_set(&s, id, value) ? YES : NO;
}

/* Conditions ----------------------------------------------------------------------------------- */

static Truth condition(Reading *x);

static Truth negated(Truth t)
{
    return t == UNKNOWN ? UNKNOWN : t == YES ? NO : YES;
}

static Truth function(Reading *x, const char *open, const char *close)
{
    const char *name = x->p;
    x->p = close + 1;
    if (!x->supports || open - name != 8 || g_ascii_strncasecmp(name, "selector", 8) != 0)
        return UNKNOWN;
    ArtSelector *s = dt_art_selector_new(open + 1, close, FALSE);
    Truth t = s ? YES : NO;
    dt_art_selector_free(s);
    return t;
}

static gboolean mentions_depth(const char *from, const char *to)
{
    const char *at = g_strstr_len(from, to - from, "color");
    return at && at + 5 <= to && at[5] != '-' && (at == from || at[-1] == '-' || at[-1] == ' ');
}

/* A condition in brackets, or a feature. */
static Truth in_brackets(Reading *x)
{
    skip(x);
    const char *open = x->p;
    while (open < x->end && (g_ascii_isalnum(*open) || *open == '-'))
        open++;
    if (open == x->end || *open != '(') {
        x->malformed = TRUE;
        return UNKNOWN;
    }
    const char *close = dt_art_css_find(open + 1, x->end, ")");
    if (close == x->end) {
        x->malformed = TRUE;
        return UNKNOWN;
    }
    if (open != x->p)
        return function(x, open, close);
    Reading inner = *x;
    inner.p = open + 1;
    inner.end = close;
    skip(&inner);
    const char *first = inner.p;
    Truth t;
    if (++inner.depth > MAX_DEPTH)
        t = UNKNOWN;
    else if (*first == '(' || take_word(&inner, "not")) {
        inner.p = first;
        t = condition(&inner);
        skip(&inner);
        x->malformed |= inner.malformed || inner.p != close;
    } else
        t = x->supports ? declaration(x, first, close) : feature(x, first, close);
    if (t != UNKNOWN && x->n && !x->supports && mentions_depth(first, close))
        dt_art_note(x->r, x->n, "the media feature (%.*s) is answered as for a screen of 8 bits",
                    (int)MIN(close - first, 60), first);
    if (t != UNKNOWN && x->n && !x->supports &&
        g_strstr_len(first, close - first, "prefers-reduced-motion") != NULL)
        dt_art_note(x->r, x->n, "the media feature (%.*s) is answered as for paper: nothing moves",
                    (int)MIN(close - first, 60), first);
    if (t == UNKNOWN && x->n && !x->supports)
        dt_art_note(x->r, x->n, "the media feature (%.*s) is not known: taken as false",
                    (int)MIN(close - first, 60), first);
    x->p = close + 1;
    return t;
}

static Truth both(Truth t, Truth u)
{
    return t == NO || u == NO ? NO : t == UNKNOWN || u == UNKNOWN ? UNKNOWN : YES;
}

static Truth all_of(Reading *x, Truth t)
{
    while (take_word(x, "and"))
        t = both(t, in_brackets(x));
    return t;
}

static Truth condition_without_or(Reading *x)
{
    if (take_word(x, "not"))
        return negated(in_brackets(x));
    return all_of(x, in_brackets(x));
}

/* "and" and "or" do not mix without brackets (Media Queries 5, 3). */
static Truth condition(Reading *x)
{
    if (take_word(x, "not"))
        return negated(in_brackets(x));
    Truth t = in_brackets(x);
    if (!take_word(x, "or"))
        return all_of(x, t);
    do
        t = negated(both(negated(t), negated(in_brackets(x))));
    while (take_word(x, "or"));
    return t;
}

/* One query: [not | only] type [and condition], or a condition. */
static gboolean query(Reading *x)
{
    gboolean inverted = FALSE, is_type = TRUE;
    Truth t = NO;
    skip(x);
    const char *start = x->p;
    if (take_word(x, "not"))
        inverted = TRUE;
    else
        take_word(x, "only");
    if (take_word(x, "all") || take_word(x, "screen")) {
        t = YES;
    } else {
        skip(x);
        const char *word = x->p;
        while (x->p < x->end && (g_ascii_isalnum(*x->p) || *x->p == '-'))
            x->p++;
        is_type = x->p > word && (x->p == x->end || *x->p != '(');
    }
    if (!is_type) {
        x->p = start;
        t = condition(x);
        inverted = FALSE;
    } else if (take_word(x, "and")) {
        t = both(t, condition_without_or(x));
    }
    skip(x);
    if (x->malformed || x->p != x->end)
        return FALSE; /* "not all" */
    return (inverted ? negated(t) : t) == YES;
}

gboolean dt_art_media_applies(ArtReader *r, const ArtNode *n, const char *s, const char *end)
{
    if (dt_art_css_skip(s, end) == end)
        return TRUE;
    for (;;) {
        const char *comma = dt_art_css_find(s, end, ",");
        Reading x = {.r = r, .n = n, .p = s, .end = comma};
        if (query(&x))
            return TRUE;
        if (comma == end)
            return FALSE;
        s = comma + 1;
    }
}

gboolean dt_art_supports(ArtReader *r, const char *s, const char *end)
{
    Reading x = {.r = r, .p = s, .end = end, .supports = TRUE};
    Truth t = condition(&x);
    skip(&x);
    return t == YES && !x.malformed && x.p == x.end;
}
