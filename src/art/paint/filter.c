/* filter: filters that only change colours, applied to the paints of the filtered shapes.
 *
 * feColorMatrix (SVG 1.1, 15.10) maps each pixel's colour by itself. If it leaves alpha alone,
 * its map is affine in the colour and commutes with painting one shape over another: changing
 * each paint gives the same result as changing the finished picture. */
#include "art/paint/effect.h"
#include "art/style/property.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define MAX_STEPS 16

typedef struct {
    double m[3][4];     /* rows r, g, b; columns r, g, b and a constant */
    gboolean linear;    /* works in linearRGB rather than sRGB */
    int from;           /* the step whose result it uses; -1 for the source */
    const char *result; /* its name; NULL if it has none */
} Step;

typedef struct {
    Step steps[MAX_STEPS];
    int n;
} Filter;

static const char *attr_by_key(const ArtNode *n, const char *key)
{
    for (unsigned i = 0; i < n->n_attrs; i++)
        if (strcmp(n->attrs[i].key, key) == 0)
            return n->attrs[i].value;
    return NULL;
}

/* Matrices ------------------------------------------------------------------------------------- */

/* luminance + k (identity - luminance), the `saturate` of 15.10. */
static void saturate(double k, Step *s)
{
    static const double luminance[3] = {0.213, 0.715, 0.072};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            s->m[i][j] = luminance[j] + k * ((i == j) - luminance[j]);
}

/* The `hueRotate` of 15.10; the angle in radians. */
static void hue_rotate(double angle, Step *s)
{
    static const double by_cos[3][3] = {
        {0.787, -0.715, -0.072}, {-0.213, 0.285, -0.072}, {-0.213, -0.715, 0.928}};
    static const double by_sin[3][3] = {
        {-0.213, -0.715, 0.928}, {0.143, 0.140, -0.283}, {-0.787, 0.715, 0.072}};
    saturate(0, s);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            s->m[i][j] += cos(angle) * by_cos[i][j] + sin(angle) * by_sin[i][j];
}

/* The same three values on the diagonal and as a constant. */
static void level(double slope, double constant, Step *s)
{
    for (int i = 0; i < 3; i++) {
        s->m[i][i] = slope;
        s->m[i][3] = constant;
    }
}

/* The matrix of sepia() in Filter Effects 1, 13.4. */
static void sepia(double amount, Step *s)
{
    static const double full[3][3] = {
        {0.393, 0.769, 0.189}, {0.349, 0.686, 0.168}, {0.272, 0.534, 0.131}};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            s->m[i][j] = full[i][j] * amount + (i == j) * (1 - amount);
}

gboolean dt_art_colour_map(const char *name, double value, double m[20])
{
    Step s = {.from = -1};
    if (strcmp(name, "saturate") == 0)
        saturate(value, &s);
    else if (strcmp(name, "hueRotate") == 0 || strcmp(name, "hue-rotate") == 0)
        hue_rotate(value * G_PI / 180, &s);
    else if (strcmp(name, "grayscale") == 0)
        saturate(1 - MIN(value, 1), &s);
    else if (strcmp(name, "sepia") == 0)
        sepia(MIN(value, 1), &s);
    else if (strcmp(name, "invert") == 0)
        level(1 - 2 * MIN(value, 1), MIN(value, 1), &s);
    else if (strcmp(name, "brightness") == 0)
        level(value, 0, &s);
    else if (strcmp(name, "contrast") == 0)
        level(value, 0.5 - 0.5 * value, &s);
    else
        return FALSE;
    memset(m, 0, 20 * sizeof *m);
    for (int i = 0; i < 3; i++) {
        memcpy(m + 5 * i, s.m[i], 3 * sizeof *m);
        m[5 * i + 4] = s.m[i][3];
    }
    m[18] = 1;
    return TRUE;
}

/* Exactly n numbers; FALSE for anything else. */
static gboolean numbers(const char *text, double *out, int n)
{
    const char *p = art_skip_space(text);
    for (int i = 0; i < n; i++) {
        if (!art_number(&p, &out[i]) || !isfinite(out[i]))
            return FALSE;
        p = art_skip_comma(p);
    }
    return *p == '\0';
}

/* Twenty numbers, none of which may mix alpha into a colour or change it. */
static gboolean take_matrix(const char *values, Step *s)
{
    double v[20];
    if (!values) {
        saturate(1, s); /* the identity */
        return TRUE;
    }
    if (!numbers(values, v, 20))
        return FALSE;
    for (int i = 0; i < 3; i++) {
        if (v[5 * i + 3] != 0)
            return FALSE;
        memcpy(s->m[i], v + 5 * i, 3 * sizeof *v);
        s->m[i][3] = v[5 * i + 4];
    }
    return v[15] == 0 && v[16] == 0 && v[17] == 0 && v[18] == 1 && v[19] == 0;
}

static gboolean take_map(const ArtNode *n, Step *s)
{
    const char *type = dt_art_attr(n, ART_AT_TYPE), *values = attr_by_key(n, "values");
    double value;
    if (!type || strcmp(type, "matrix") == 0)
        return take_matrix(values, s);
    if (strcmp(type, "saturate") == 0) {
        value = 1;
        if (values && !numbers(values, &value, 1))
            return FALSE;
        saturate(value, s);
        return TRUE;
    }
    if (strcmp(type, "hueRotate") == 0) {
        value = 0;
        if (values && !numbers(values, &value, 1))
            return FALSE;
        hue_rotate(value * G_PI / 180, s);
        return TRUE;
    }
    return FALSE;
}

/* Filters -------------------------------------------------------------------------------------- */

static void take_space(const char *name, char *value, gboolean important, void *user)
{
    (void)important;
    if (g_ascii_strcasecmp(name, "color-interpolation-filters") == 0)
        *(gboolean *)user = g_ascii_strcasecmp(value, "sRGB") != 0;
}

/* color-interpolation-filters (11.7.1) is inherited; its initial value is linearRGB. */
static gboolean is_linear(const ArtNode *n)
{
    for (; n; n = n->parent) {
        int linear = -1;
        const char *attr = attr_by_key(n, "color-interpolation-filters");
        const char *style = dt_art_attr(n, ART_AT_STYLE);
        if (attr)
            linear = g_ascii_strcasecmp(attr, "sRGB") != 0;
        if (style)
            dt_art_css_declarations(style, strlen(style), take_space, &linear);
        if (linear >= 0)
            return linear;
    }
    return TRUE;
}

/* The step whose result `in` names: 15.7.2. FALSE if it is not a colour result. */
static gboolean take_source(const Filter *f, const char *in, Step *s)
{
    s->from = f->n - 1;
    if (!in || *in == '\0')
        return TRUE;
    for (int i = f->n - 1; i >= 0; i--)
        if (f->steps[i].result && strcmp(f->steps[i].result, in) == 0) {
            s->from = i;
            return TRUE;
        }
    static const char *const others[] = {"SourceAlpha", "BackgroundImage", "BackgroundAlpha",
                                         "FillPaint", "StrokePaint"};
    for (gsize i = 0; i < G_N_ELEMENTS(others); i++)
        if (strcmp(in, others[i]) == 0)
            return FALSE;
    if (strcmp(in, "SourceGraphic") == 0)
        s->from = -1;
    return TRUE;
}

static gboolean take_filter(const ArtNode *filter, Filter *f)
{
    f->n = 0;
    for (const ArtNode *n = filter->first; n; n = n->next) {
        if (!n->local || strncmp(n->local, "fe", 2) != 0)
            continue;
        Step *s = &f->steps[f->n];
        if (f->n == MAX_STEPS || strcmp(n->local, "feColorMatrix") != 0)
            return FALSE;
        *s = (Step){.linear = is_linear(n), .result = attr_by_key(n, "result")};
        if (!take_source(f, attr_by_key(n, "in"), s) || !take_map(n, s))
            return FALSE;
        f->n++;
    }
    return f->n > 0;
}

/* Colours -------------------------------------------------------------------------------------- */

static DtColour through(const Filter *f, int step, DtColour c)
{
    if (step < 0)
        return c;
    const Step *s = &f->steps[step];
    c = through(f, s->from, c);
    double v[3] = {c.r, c.g, c.b}, out[3];
    for (int i = 0; s->linear && i < 3; i++)
        v[i] = dt_art_linear(v[i]);
    for (int i = 0; i < 3; i++) {
        double sum = s->m[i][0] * v[0] + s->m[i][1] * v[1] + s->m[i][2] * v[2] + s->m[i][3];
        out[i] = CLAMP(sum, 0, 1);
        if (s->linear)
            out[i] = dt_art_unlinear(out[i]);
    }
    return (DtColour){out[0], out[1], out[2], c.alpha};
}

static guint32 pixel_through(const Filter *f, guint32 v)
{
    double alpha = v >> 24;
    if (!(alpha > 0))
        return v;
    DtColour c = {MIN((v >> 16 & 255) / alpha, 1), MIN((v >> 8 & 255) / alpha, 1),
                  MIN((v & 255) / alpha, 1), 1};
    c = through(f, f->n - 1, c);
    return (v & 0xff000000u) | (guint32)(c.r * alpha + 0.5) << 16 |
           (guint32)(c.g * alpha + 0.5) << 8 | (guint32)(c.b * alpha + 0.5);
}

/* Paints --------------------------------------------------------------------------------------- */

/* The tone with other colours, as a new tone: images are shared. NULL if it cannot be made. */
static const DtTone *tone_through(ArtReader *r, const Filter *f, const DtTone *tone, int line)
{
    DtTone *t = dt_art_store_alloc(r->store, sizeof *t);
    *t = *tone;
    t->mean = through(f, f->n - 1, tone->mean);
    if (tone->n_stops > 0)
        t->stops = dt_art_store_alloc(r->store, tone->n_stops * sizeof *t->stops);
    for (gsize i = 0; i < tone->n_stops; i++) {
        t->stops[i] = tone->stops[i];
        t->stops[i].colour = through(f, f->n - 1, tone->stops[i].colour);
    }
    if (tone->kind == ART_TONE_IMAGE) {
        gsize n = (gsize)tone->w * (gsize)tone->h;
        guint32 *pixels = dt_art_new_pixels(r, line, n);
        if (!pixels)
            return NULL;
        for (gsize i = 0; i < n; i++)
            pixels[i] = i > 0 && tone->pixels[i] == tone->pixels[i - 1]
                            ? pixels[i - 1]
                            : pixel_through(f, tone->pixels[i]);
        t->pixels = pixels;
    }
    g_ptr_array_add(r->store->tones, t);
    return t;
}

static void paint_through(ArtReader *r, const Filter *f, DtPaint *p, int line)
{
    if (p->kind == DT_PAINT_NONE)
        return;
    p->colour = through(f, f->n - 1, p->colour);
    if (p->tone) {
        const DtTone *t = tone_through(r, f, p->tone, line);
        if (t)
            p->tone = t;
    }
}

/* FALSE, with nothing done, if it does more than change colours. */
static gboolean recolour_shapes(ArtReader *r, const ArtNode *filter, guint from)
{
    Filter f;
    if (!take_filter(filter, &f))
        return FALSE;
    for (guint i = from; i < r->shapes->len && !r->error; i++) {
        DtShape *s = &g_array_index(r->shapes, DtShape, i);
        paint_through(r, &f, &s->fill, s->line);
        paint_through(r, &f, &s->stroke.paint, s->line);
    }
    return TRUE;
}

/* Functions ------------------------------------------------------------------------------------ */

static const char *kept(ArtReader *r, const char *format, ...) G_GNUC_PRINTF(2, 3);

static const char *kept(ArtReader *r, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    g_autofree char *text = g_strdup_vprintf(format, args);
    va_end(args);
    return dt_art_store_text(r->store, text, strlen(text));
}

static ArtNode *new_child(ArtReader *r, ArtNode *parent, const char *name, unsigned n_attrs)
{
    ArtNode *n = dt_art_store_zero(r->store, sizeof *n);
    n->local = name;
    n->parent = parent;
    n->line = parent ? parent->line : 0;
    n->attrs = dt_art_store_zero(r->store, (n_attrs + 1) * sizeof *n->attrs);
    n->attrs[0] = (ArtAttr){ART_AT_STYLE, "style", "color-interpolation-filters:sRGB"};
    n->n_attrs = 1;
    if (parent && parent->last)
        parent->last->next = n;
    else if (parent)
        parent->first = n;
    if (parent)
        parent->last = n;
    return n;
}

static void add(ArtNode *n, const char *key, const char *value)
{
    n->attrs[n->n_attrs++] = (ArtAttr){dt_art_name_of(key), key, value};
}

static const char *decimal(ArtReader *r, double v)
{
    char room[G_ASCII_DTOSTR_BUF_SIZE];
    return kept(r, "%s", g_ascii_formatd(room, sizeof room, "%.9g", v));
}

/* drop-shadow(x y [blur] [colour]), colour and lengths in any order. */
static gboolean add_shadow(ArtReader *r, ArtNode *filter, const char *arguments, const ArtStyle *s)
{
    g_auto(GStrv) words = dt_art_value_words(arguments);
    double v[3] = {0, 0, 0};
    const char *colour = "currentColor";
    int n = 0;
    for (char **w = words; *w; w++) {
        ArtLength l;
        if (n < 3 && dt_art_length(*w, &l))
            v[n++] = dt_art_px_of(l, s, 0, &r->root);
        else
            colour = kept(r, "%s", *w);
    }
    if (n < 2)
        return FALSE;
    ArtNode *fe = new_child(r, filter, "feDropShadow", 4);
    fe->attrs[0].value = kept(r, "color-interpolation-filters:sRGB;flood-color:%s", colour);
    add(fe, "dx", decimal(r, v[0]));
    add(fe, "dy", decimal(r, v[1]));
    add(fe, "stdDeviation", decimal(r, v[2]));
    return TRUE;
}

/* A filter function as the element it abbreviates: Filter Effects 1, 13. */
static gboolean add_function(ArtReader *r, ArtNode *filter, const char *word, const ArtStyle *s)
{
    gsize n = strcspn(word, "(");
    g_autofree char *name = g_ascii_strdown(word, (gssize)n);
    if (word[n] != '(' || word[strlen(word) - 1] != ')')
        return FALSE;
    g_autofree char *inside = g_strndup(word + n + 1, strlen(word) - n - 2);
    const char *p = art_skip_space(inside);
    double value = strcmp(name, "hue-rotate") == 0 || strcmp(name, "blur") == 0 ? 0 : 1, m[20];
    if (strcmp(name, "drop-shadow") == 0)
        return add_shadow(r, filter, inside, s);
    if (strcmp(name, "blur") == 0) {
        ArtLength l = {.unit = ART_UNIT_PX};
        if (*p && !dt_art_length(p, &l))
            return FALSE;
        ArtNode *fe = new_child(r, filter, "feGaussianBlur", 2);
        add(fe, "stdDeviation", decimal(r, dt_art_px_of(l, s, 0, &r->root)));
        return TRUE;
    }
    if (*p && strcmp(name, "hue-rotate") == 0 && !dt_art_angle_at(&p, &value))
        return FALSE;
    if (*p && strcmp(name, "hue-rotate") != 0 && !dt_art_number_at(&p, &value))
        return FALSE;
    if (*p == '%')
        value /= 100;
    if (strcmp(name, "opacity") == 0) {
        ArtNode *fe = new_child(r, filter, "feComponentTransfer", 1);
        ArtNode *alpha = new_child(r, fe, "feFuncA", 3);
        add(alpha, "type", "linear");
        add(alpha, "slope", decimal(r, CLAMP(value, 0, 1)));
        return TRUE;
    }
    if (!dt_art_colour_map(name, value, m))
        return FALSE;
    GString *text = g_string_new(NULL);
    for (int i = 0; i < 20; i++)
        g_string_append_printf(text, "%s ", decimal(r, m[i]));
    ArtNode *fe = new_child(r, filter, "feColorMatrix", 2);
    add(fe, "values", kept(r, "%s", text->str));
    g_string_free(text, TRUE);
    return TRUE;
}

/* A list of functions as the <filter> it abbreviates; NULL if one of them cannot be drawn. */
static const ArtNode *filter_of(ArtReader *r, const ArtNode *n, const ArtStyle *s)
{
    g_auto(GStrv) words = dt_art_value_words(s->filter);
    if (g_ascii_strncasecmp(words[0], "url(", 4) == 0) {
        const char *from = words[0] + 4 + strspn(words[0] + 4, " \"'");
        g_autofree char *id = g_strndup(from, strcspn(from, " \"')"));
        const ArtNode *found = words[1] ? NULL : dt_art_target(r->doc, id);
        return found && found->tag == ART_TAG_FILTER ? found : NULL;
    }
    ArtNode *filter = new_child(r, NULL, "filter", 5);
    filter->tag = ART_TAG_FILTER;
    filter->line = n->line;
    add(filter, "x", "-1");
    add(filter, "y", "-1");
    add(filter, "width", "3");
    add(filter, "height", "3");
    for (char **w = words; *w; w++)
        if (!add_function(r, filter, *w, s))
            return NULL;
    return filter;
}

void dt_art_filter(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint from)
{
    const ArtNode *filter = filter_of(r, n, s);
    const gboolean empty = r->shapes->len == from;
    if (empty && (!filter || g_strcmp0(attr_by_key(filter, "filterUnits"), "userSpaceOnUse") != 0))
        return; /* a percentage without a box has no meaning (Filter Effects 1, 8.2) */
    if (filter &&
        (recolour_shapes(r, filter, from) || dt_art_effect_filter(r, n, filter, s, scope, from)))
        return;
    dt_art_note(r, n,
                filter ? N_("a filter is not drawn: the element is drawn without it")
                       : N_("a filter is not in this file: the element is drawn without it"));
}
