/* parse-paint: values of properties about paint, strokes, clips and filters. */
#include "art/style/property.h"

#include <math.h>

PICK_PARSER(rule, {"nonzero", DT_FILL_NONZERO}, {"evenodd", DT_FILL_EVENODD})
PICK_PARSER(cap, {"butt", DT_CAP_BUTT}, {"round", DT_CAP_ROUND}, {"square", DT_CAP_SQUARE})
PICK_PARSER(join, {"miter", DT_JOIN_MITER}, {"round", DT_JOIN_ROUND}, {"bevel", DT_JOIN_BEVEL},
            {"miter-clip", DT_JOIN_MITER}, {"arcs", DT_JOIN_MITER})
PICK_PARSER(visibility, {"visible", FALSE}, {"hidden", TRUE}, {"collapse", TRUE})
PICK_PARSER(overflow, {"visible", TRUE}, {"auto", TRUE}, {"hidden", FALSE}, {"scroll", FALSE},
            {"clip", FALSE}, {"visible hidden", TRUE}, {"hidden visible", TRUE},
            {"visible clip", FALSE}, {"clip visible", FALSE}, {"visible visible", TRUE},
            {"hidden hidden", FALSE})
PICK_PARSER(isolation, {"auto", FALSE}, {"isolate", TRUE})
PICK_PARSER(filter_interpolation, {"auto", FALSE}, {"linearRGB", FALSE}, {"sRGB", TRUE})
PICK_PARSER(blend_mode, {"normal", ART_BLEND_NORMAL}, {"multiply", ART_BLEND_MULTIPLY},
            {"screen", ART_BLEND_SCREEN}, {"overlay", ART_BLEND_OVERLAY},
            {"darken", ART_BLEND_DARKEN}, {"lighten", ART_BLEND_LIGHTEN},
            {"color-dodge", ART_BLEND_DODGE}, {"color-burn", ART_BLEND_BURN},
            {"hard-light", ART_BLEND_HARD_LIGHT}, {"soft-light", ART_BLEND_SOFT_LIGHT},
            {"difference", ART_BLEND_DIFFERENCE}, {"exclusion", ART_BLEND_EXCLUSION},
            {"hue", ART_BLEND_HUE}, {"saturation", ART_BLEND_SATURATION},
            {"color", ART_BLEND_COLOR}, {"luminosity", ART_BLEND_LUMINOSITY},
            {"plus-lighter", ART_BLEND_PLUS_LIGHTER})
PICK_PARSER(vector_effect, {"none", FALSE}, {"non-scaling-stroke", TRUE})
PICK_PARSER(interpolation, {"auto", FALSE}, {"sRGB", FALSE}, {"linearRGB", TRUE})
PICK_PARSER(mask_type, {"luminance", FALSE}, {"alpha", TRUE})
/* CSS Display 3: everything except `none` paints, and `contents` paints only its children. */
gboolean dt_art_parse_display(const char *v, void *out, ArtSetting *s)
{
    static const char *const words[] = {"inline",
                                        "block",
                                        "list-item",
                                        "inline-block",
                                        "table",
                                        "flex",
                                        "grid",
                                        "inline-flex",
                                        "inline-grid",
                                        "inline-table",
                                        "flow-root",
                                        "ruby",
                                        "table-row",
                                        "table-cell",
                                        "table-caption",
                                        "table-column",
                                        "table-row-group",
                                        "table-header-group",
                                        "table-footer-group",
                                        "table-column-group",
                                        "run-in",
                                        "compact",
                                        "marker",
                                        "math",
                                        "contents"};
    if (dt_art_word_is(v, "none")) {
        *(gboolean *)out = FALSE;
        return TRUE;
    }
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
        if (dt_art_word_is(v, words[i])) {
            if (dt_art_word_is(v, "contents") && s->node)
                dt_art_note(s->root->reader, s->node,
                            "display: contents is drawn as any other display");
            *(gboolean *)out = TRUE;
            return TRUE;
        }
    return FALSE;
}

gboolean dt_art_parse_opacity(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    v = art_skip_space(v);
    double o;
    if (!dt_art_number_at(&v, &o))
        return FALSE;
    if (*v == '%') {
        o /= 100;
        v++;
    }
    if (*art_skip_space(v) != '\0')
        return FALSE;
    *(double *)out = CLAMP(o, 0, 1);
    return TRUE;
}

static ArtColourScene scene_of(const ArtSetting *s)
{
    return (ArtColourScene){NULL, s->style->dark};
}

/* A colour at *v; notes how it is drawn if that differs. */
static gboolean colour_at(const char **v, ArtSetting *s, ArtColour *out)
{
    const char *from = *v;
    ArtColourRead read;
    ArtColourScene scene = scene_of(s);
    if (!dt_art_colour_at(v, &scene, &read))
        return FALSE;
    *out = (ArtColour){.colour = read.colour,
                       .current = read.current || read.mixes_current,
                       .modern = read.modern};
    if (read.mixes_current)
        out->mix = dt_art_store_text(s->store, from, (gsize)(*v - from));
    if (read.mapped && s->node)
        dt_art_note(s->root->reader, s->node,
                    "the colour %.60s is outside of sRGB: the nearest within it is drawn", from);
    if (read.system && s->node)
        dt_art_note(s->root->reader, s->node,
                    "%.60s is for each system to choose: a usual colour is drawn", from);
    return TRUE;
}

DtColour dt_art_colour_of(const ArtColour *c, const ArtStyle *s)
{
    if (!c->current)
        return c->colour;
    const char *mix = c->mix;
    ArtColourScene scene = {&s->color.colour, s->dark};
    ArtColourRead read;
    return mix && dt_art_colour_at(&mix, &scene, &read) ? read.colour : s->color.colour;
}

gboolean dt_art_parse_color(const char *v, void *out, ArtSetting *s)
{
    ArtColour c;
    if (!colour_at(&v, s, &c) || *art_skip_space(v))
        return FALSE;
    if (c.current && out == &s->style->color) { /* CSS Color 4, 9.2: as `inherit` */
        c.colour = dt_art_colour_of(&c, s->parent);
        c.current = FALSE;
        c.modern |= s->parent->color.modern;
        c.mix = NULL;
    }
    *(ArtColour *)out = c;
    return TRUE;
}

/* color-scheme (CSS Color Adjust 1, 2.2): a page that may be light is light. */
gboolean dt_art_parse_color_scheme(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    *(gboolean *)out = dt_art_word_is(v, "dark") || dt_art_word_is(v, "only dark") ||
                       dt_art_word_is(v, "dark only");
    return TRUE;
}

/* "url(#id)" at *v: the "#id"; NULL and unmoved if there is none. */
static const char *url_at(const char **v, ArtStore *store)
{
    const char *p = art_skip_space(*v);
    if (g_ascii_strncasecmp(p, "url(", 4) != 0)
        return NULL;
    p = art_skip_space(p + 4);
    char quote = *p == '"' || *p == '\'' ? *p++ : ')';
    const char *end = strchr(p, quote);
    if (!end)
        return NULL;
    const char *close = strchr(end, ')');
    if (!close)
        return NULL;
    while (end > p && art_is_space(end[-1]))
        end--;
    *v = close + 1;
    return dt_art_store_text(store, p, (gsize)(end - p));
}

gboolean dt_art_parse_paint(const char *v, void *out, ArtSetting *s)
{
    ArtPaint p = {.kind = ART_PAINT_NONE, .fallback = ART_PAINT_NONE};
    ArtColour c = {.current = FALSE};
    p.server = url_at(&v, s->store);
    v = art_skip_space(v);
    ArtPaintKind kind = ART_PAINT_NONE;
    if (!p.server && (dt_art_word_is(v, "context-fill") || dt_art_word_is(v, "context-stroke"))) {
        kind =
            dt_art_word_is(v, "context-fill") ? ART_PAINT_CONTEXT_FILL : ART_PAINT_CONTEXT_STROKE;
    } else if (*v && !dt_art_word_is(v, "none")) {
        if (!colour_at(&v, s, &c) || *art_skip_space(v))
            return FALSE;
        kind = c.current ? ART_PAINT_CURRENT : ART_PAINT_COLOUR;
    } else if (!*v && !p.server) {
        return FALSE;
    }
    p.has_fallback = *v != '\0' || c.current || kind == ART_PAINT_COLOUR;
    p.kind = p.server ? ART_PAINT_SERVER : kind;
    p.fallback = kind;
    p.colour = c.colour;
    p.mix = c.mix;
    *(ArtPaint *)out = p;
    return TRUE;
}

gboolean dt_art_parse_url(const char *v, void *out, ArtSetting *s)
{
    const char *url = NULL;
    if (!dt_art_word_is(v, "none")) {
        url = url_at(&v, s->store);
        if (!url || *art_skip_space(v))
            return FALSE;
    }
    *(const char **)out = url;
    return TRUE;
}

gboolean dt_art_parse_length(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    return dt_art_length(v, out);
}

gboolean dt_art_parse_auto_length(const char *v, void *out, ArtSetting *s)
{
    ArtAutoLength l = {.given = FALSE};
    if (!dt_art_word_is(v, "auto") && !dt_art_word_is(v, "from-font")) {
        l.given = TRUE;
        if (!dt_art_parse_length(v, &l.length, s))
            return FALSE;
    }
    *(ArtAutoLength *)out = l;
    return TRUE;
}

gboolean dt_art_parse_width(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    ArtLength l;
    if (!dt_art_length(v, &l) || l.value < 0)
        return FALSE;
    *(ArtLength *)out = l;
    return TRUE;
}

gboolean dt_art_parse_spacing(const char *v, void *out, ArtSetting *s)
{
    if (dt_art_word_is(v, "normal")) {
        *(ArtLength *)out = (ArtLength){.value = 0, .unit = ART_UNIT_NUMBER};
        return TRUE;
    }
    return dt_art_parse_length(v, out, s);
}

gboolean dt_art_parse_miter_limit(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    double m;
    v = art_skip_space(v);
    if (!dt_art_number_at(&v, &m) || m < 0 || *art_skip_space(v))
        return FALSE;
    *(double *)out = m;
    return TRUE;
}

gboolean dt_art_parse_dash(const char *v, void *out, ArtSetting *s)
{
    if (dt_art_word_is(v, "none")) {
        *(ArtDash *)out = (ArtDash){NULL, 0};
        return TRUE;
    }
    gsize n;
    g_autofree ArtLength *list = dt_art_length_list(v, &n);
    if (!list)
        return FALSE;
    for (gsize i = 0; i < n; i++)
        if (list[i].value < 0)
            return FALSE;
    ArtLength *kept = dt_art_store_alloc(s->store, n * sizeof *list);
    memcpy(kept, list, n * sizeof *list);
    *(ArtDash *)out = (ArtDash){kept, n};
    return TRUE;
}

gboolean dt_art_parse_paint_order(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    char order[3];
    int n = 0;
    if (!dt_art_word_is(v, "normal")) {
        g_auto(GStrv) words = dt_art_value_words(v);
        for (char **w = words; *w; w++) {
            char c = g_ascii_tolower(**w);
            if (!dt_art_word_is(*w, "fill") && !dt_art_word_is(*w, "stroke") &&
                !dt_art_word_is(*w, "markers"))
                return FALSE;
            if (memchr(order, c, (gsize)n))
                return FALSE;
            order[n++] = c;
        }
    }
    for (const char *c = "fsm"; *c; c++)
        if (!memchr(order, *c, (gsize)n) && n < 3)
            order[n++] = *c;
    memcpy(out, order, 3);
    return TRUE;
}

/* The value as written, to be evaluated when the element's box is known. */
static gboolean keep(const char *v, const char **out, ArtSetting *s)
{
    v = art_skip_space(v);
    *out = dt_art_word_is(v, "none") ? NULL : dt_art_store_text(s->store, v, strlen(v));
    return TRUE;
}

/* url(#id), a basic shape (CSS Shapes 1, 3) with or without a reference box, or a box alone. */
gboolean dt_art_parse_clip_path(const char *v, void *out, ArtSetting *s)
{
    const char *p = v, *url = url_at(&p, s->store);
    if (url && !*art_skip_space(p)) {
        *(const char **)out = url;
        return TRUE;
    }
    if (!dt_art_word_is(v, "none") && !dt_art_shape_is_valid(v))
        return FALSE;
    return keep(v, out, s);
}

/* Everything that may be a mask or filter is kept: the first word decides. */
static gboolean starts_with_any(const char *v, const char *const *words, gsize n)
{
    v = art_skip_space(v);
    for (gsize i = 0; i < n; i++)
        if (g_ascii_strncasecmp(v, words[i], strlen(words[i])) == 0)
            return TRUE;
    return FALSE;
}

gboolean dt_art_parse_mask(const char *v, void *out, ArtSetting *s)
{
    static const char *const pictures[] = {"linear-gradient(",
                                           "radial-gradient(",
                                           "conic-gradient(",
                                           "repeating-linear-gradient(",
                                           "repeating-radial-gradient(",
                                           "repeating-conic-gradient(",
                                           "url(",
                                           "image(",
                                           "image-set(",
                                           "cross-fade(",
                                           "element("};
    const char *p = v, *url = url_at(&p, s->store);
    if (url && !*art_skip_space(p)) {
        *(const char **)out = url;
        return TRUE;
    }
    if (!dt_art_word_is(v, "none") && !starts_with_any(v, pictures, G_N_ELEMENTS(pictures)))
        return FALSE;
    return keep(v, out, s);
}

gboolean dt_art_parse_filter_list(const char *v, void *out, ArtSetting *s)
{
    static const char *const functions[] = {
        "blur(",   "brightness(", "contrast(", "drop-shadow(", "grayscale(", "hue-rotate(",
        "invert(", "opacity(",    "saturate(", "sepia(",       "url("};
    g_auto(GStrv) words = dt_art_value_words(v);
    if (!words[0])
        return FALSE;
    for (char **w = words; *w && !dt_art_word_is(v, "none"); w++)
        if (!starts_with_any(*w, functions, G_N_ELEMENTS(functions)))
            return FALSE;
    return keep(v, out, s);
}
