/* property: the properties of a style, one table row each, and how their values are read. */
#include "art/private.h"

#include <math.h>
#include <stddef.h>

typedef gboolean (*Parser)(const char *v, void *out, ArtSetting *s);

/* The value up to trailing spaces, without leading ones, as a keyword. */
static gboolean word_is(const char *v, const char *word)
{
    v = art_skip_space(v);
    gsize n = strlen(word);
    return g_ascii_strncasecmp(v, word, n) == 0 && *art_skip_space(v + n) == '\0';
}

typedef struct {
    const char *word;
    int value;
} Word;

static gboolean pick(const char *v, const Word *words, gsize n, void *out)
{
    for (gsize i = 0; i < n; i++)
        if (word_is(v, words[i].word)) {
            *(int *)out = words[i].value;
            return TRUE;
        }
    return FALSE;
}

#define PICK_PARSER(name, ...)                                                                     \
    static gboolean parse_##name(const char *v, void *out, ArtSetting *s)                          \
    {                                                                                              \
        static const Word words[] = {__VA_ARGS__};                                                 \
        (void)s;                                                                                   \
        return pick(v, words, G_N_ELEMENTS(words), out);                                           \
    }

PICK_PARSER(rule, {"nonzero", DT_FILL_NONZERO}, {"evenodd", DT_FILL_EVENODD})
PICK_PARSER(cap, {"butt", DT_CAP_BUTT}, {"round", DT_CAP_ROUND}, {"square", DT_CAP_SQUARE})
PICK_PARSER(join, {"miter", DT_JOIN_MITER}, {"round", DT_JOIN_ROUND}, {"bevel", DT_JOIN_BEVEL},
            {"miter-clip", DT_JOIN_MITER}, {"arcs", DT_JOIN_MITER})
PICK_PARSER(direction, {"ltr", FALSE}, {"rtl", TRUE})
PICK_PARSER(visibility, {"visible", FALSE}, {"hidden", TRUE}, {"collapse", TRUE})
PICK_PARSER(overflow, {"visible", TRUE}, {"auto", TRUE}, {"hidden", FALSE}, {"scroll", FALSE})
PICK_PARSER(vector_effect, {"none", FALSE}, {"non-scaling-stroke", TRUE})
PICK_PARSER(space, {"default", FALSE}, {"preserve", TRUE})
PICK_PARSER(white_space, {"normal", FALSE}, {"nowrap", FALSE}, {"pre-line", FALSE}, {"pre", TRUE},
            {"pre-wrap", TRUE}, {"break-spaces", TRUE})
PICK_PARSER(anchor, {"start", ART_ANCHOR_START}, {"middle", ART_ANCHOR_MIDDLE},
            {"end", ART_ANCHOR_END})
PICK_PARSER(bidi, {"normal", 0}, {"embed", 1}, {"bidi-override", 2}, {"isolate", 1},
            {"isolate-override", 2})
PICK_PARSER(writing_mode, {"lr", FALSE}, {"lr-tb", FALSE}, {"rl", FALSE}, {"rl-tb", FALSE},
            {"horizontal-tb", FALSE}, {"tb", TRUE}, {"tb-rl", TRUE}, {"vertical-rl", TRUE},
            {"vertical-lr", TRUE})
PICK_PARSER(font_style, {"normal", 0}, {"oblique", 1}, {"italic", 2})
PICK_PARSER(font_variant, {"normal", 0}, {"small-caps", 1})
PICK_PARSER(font_stretch, {"ultra-condensed", 0}, {"extra-condensed", 1}, {"condensed", 2},
            {"semi-condensed", 3}, {"normal", 4}, {"semi-expanded", 5}, {"expanded", 6},
            {"extra-expanded", 7}, {"ultra-expanded", 8})
PICK_PARSER(baseline, {"auto", ART_BASELINE_AUTO}, {"baseline", ART_BASELINE_AUTO},
            {"alphabetic", ART_BASELINE_ALPHABETIC}, {"middle", ART_BASELINE_MIDDLE},
            {"central", ART_BASELINE_CENTRAL}, {"hanging", ART_BASELINE_HANGING},
            {"before-edge", ART_BASELINE_BEFORE}, {"text-before-edge", ART_BASELINE_BEFORE},
            {"text-top", ART_BASELINE_BEFORE}, {"after-edge", ART_BASELINE_AFTER},
            {"text-after-edge", ART_BASELINE_AFTER}, {"text-bottom", ART_BASELINE_AFTER},
            {"ideographic", ART_BASELINE_AFTER}, {"mathematical", ART_BASELINE_MATHEMATICAL})

static gboolean parse_display(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    *(gboolean *)out = !word_is(v, "none");
    return TRUE;
}

PICK_PARSER(interpolation, {"auto", FALSE}, {"sRGB", FALSE}, {"linearRGB", TRUE})
PICK_PARSER(mask_type, {"luminance", FALSE}, {"alpha", TRUE})

static gboolean parse_blend_mode(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    *(gboolean *)out = !word_is(v, "normal");
    return TRUE;
}

static gboolean parse_opacity(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    v = art_skip_space(v);
    double o;
    if (!art_number(&v, &o))
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

static gboolean parse_color(const char *v, void *out, ArtSetting *s)
{
    ArtColour c = {{0, 0, 0, 1}, FALSE};
    if (!dt_art_colour_at(&v, &c.colour, &c.current))
        return FALSE;
    if (c.current && out == &s->style->color)
        c = s->parent->color; /* CSS Color 4, 9.2: as `inherit` */
    *(ArtColour *)out = c;
    return TRUE;
}

/* "url(#id)" at *v: the "#id"; NULL and unmoved where there is none. */
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

static gboolean parse_paint(const char *v, void *out, ArtSetting *s)
{
    ArtPaint p = {.kind = ART_PAINT_NONE, .fallback = ART_PAINT_NONE};
    p.server = url_at(&v, s->store);
    v = art_skip_space(v);
    ArtPaintKind kind = ART_PAINT_NONE;
    if (!p.server && (word_is(v, "context-fill") || word_is(v, "context-stroke"))) {
        kind = word_is(v, "context-fill") ? ART_PAINT_CONTEXT_FILL : ART_PAINT_CONTEXT_STROKE;
    } else if (*v && !word_is(v, "none")) {
        gboolean current;
        if (!dt_art_colour_at(&v, &p.colour, &current))
            return FALSE;
        kind = current ? ART_PAINT_CURRENT : ART_PAINT_COLOUR;
    } else if (!*v && !p.server) {
        return FALSE;
    }
    p.kind = p.server ? ART_PAINT_SERVER : kind;
    p.fallback = kind;
    *(ArtPaint *)out = p;
    return TRUE;
}

static gboolean parse_url(const char *v, void *out, ArtSetting *s)
{
    const char *url = NULL;
    if (!word_is(v, "none")) {
        url = url_at(&v, s->store);
        if (!url)
            return FALSE;
    }
    *(const char **)out = url;
    return TRUE;
}

/* Basic shapes (CSS Shapes 1, 3) and filter functions (Filter Effects 1, 5) are kept as they stand:
 * they lead nowhere in the file, and a note says so where they would be used. */
static gboolean parse_url_or_function(const char *v, void *out, ArtSetting *s)
{
    static const char *const functions[] = {
        "circle(",    "ellipse(",    "inset(",      "polygon(",  "path(",    "rect(",
        "xywh(",      "blur(",       "brightness(", "contrast(", "sepia(",   "drop-shadow(",
        "grayscale(", "hue-rotate(", "invert(",     "opacity(",  "saturate("};
    v = art_skip_space(v);
    for (gsize i = 0; i < G_N_ELEMENTS(functions); i++)
        if (g_ascii_strncasecmp(v, functions[i], strlen(functions[i])) == 0) {
            *(const char **)out = dt_art_store_text(s->store, v, strlen(v));
            return TRUE;
        }
    return parse_url(v, out, s);
}

static gboolean parse_text(const char *v, void *out, ArtSetting *s)
{
    v = art_skip_space(v);
    gsize n = strlen(v);
    *(const char **)out = dt_art_store_text(s->store, v, n);
    return TRUE;
}

static gboolean parse_family(const char *v, void *out, ArtSetting *s)
{
    return dt_art_is_family_list(v) && parse_text(v, out, s);
}

static gboolean parse_length(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    return dt_art_length(v, out);
}

static gboolean parse_width(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    ArtLength l;
    if (!dt_art_length(v, &l) || l.value < 0)
        return FALSE;
    *(ArtLength *)out = l;
    return TRUE;
}

static gboolean parse_spacing(const char *v, void *out, ArtSetting *s)
{
    if (word_is(v, "normal")) {
        *(ArtLength *)out = (ArtLength){0, ART_UNIT_NUMBER};
        return TRUE;
    }
    return parse_length(v, out, s);
}

static gboolean parse_miter_limit(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    double m;
    v = art_skip_space(v);
    if (!art_number(&v, &m) || m < 1)
        return FALSE;
    *(double *)out = m;
    return TRUE;
}

static gboolean parse_dash(const char *v, void *out, ArtSetting *s)
{
    if (word_is(v, "none")) {
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

static gboolean parse_paint_order(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    char order[3];
    int n = 0;
    if (!word_is(v, "normal")) {
        g_auto(GStrv) words = g_strsplit_set(v, " \t\r\n", -1);
        for (char **w = words; *w; w++) {
            char c = **w;
            if (!c)
                continue;
            if (strcmp(*w, "fill") != 0 && strcmp(*w, "stroke") != 0 && strcmp(*w, "markers") != 0)
                return FALSE;
            if (n == 3 || memchr(order, c, (gsize)n))
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

static gboolean parse_transform(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    return dt_art_transform(v, out);
}

PICK_PARSER(transform_box, {"view-box", FALSE}, {"fill-box", TRUE}, {"stroke-box", TRUE},
            {"content-box", TRUE}, {"border-box", TRUE})
PICK_PARSER(text_transform, {"none", ART_CASE_AS_IS}, {"uppercase", ART_CASE_UPPER},
            {"lowercase", ART_CASE_LOWER}, {"capitalize", ART_CASE_CAPITAL})

/* One word of a transform-origin, and the axis that it alone can be of: 0 where either. */
typedef struct {
    ArtLength length;
    char axis;
} Place;

static gboolean read_place(const char *word, Place *out)
{
    static const struct {
        const char *word;
        char axis;
        double percent;
    } sides[] = {{"left", 'x', 0},
                 {"right", 'x', 100},
                 {"top", 'y', 0},
                 {"bottom", 'y', 100},
                 {"center", 0, 50}};
    out->axis = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(sides); i++)
        if (word_is(word, sides[i].word)) {
            *out = (Place){{sides[i].percent, ART_UNIT_PERCENT}, sides[i].axis};
            return TRUE;
        }
    return dt_art_length(word, &out->length);
}

/* "left 20px", "top", "50% 10%"; a third word, the place along z, changes nothing. */
static gboolean parse_transform_origin(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    const Place middle = {{50, ART_UNIT_PERCENT}, 0};
    Place at[2] = {middle, middle};
    g_auto(GStrv) words = g_strsplit_set(v, " \t\r\n", -1);
    int n = 0;
    for (char **w = words; *w && n < 2; w++)
        if (**w && !read_place(*w, &at[n++]))
            return FALSE;
    if (n == 0)
        return FALSE;
    gboolean swapped = at[0].axis == 'y' || at[1].axis == 'x';
    *(ArtOrigin *)out = (ArtOrigin){at[swapped].length, at[!swapped].length, TRUE};
    return TRUE;
}

static gboolean parse_decoration(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    int d = 0;
    if (strstr(v, "underline"))
        d |= ART_UNDERLINE;
    if (strstr(v, "overline"))
        d |= ART_OVERLINE;
    if (strstr(v, "line-through"))
        d |= ART_LINE_THROUGH;
    *(int *)out = d;
    return TRUE;
}

static gboolean parse_baseline_shift(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    ArtShift shift = {ART_SHIFT_LENGTH, {0, ART_UNIT_NUMBER}};
    if (word_is(v, "sub"))
        shift.kind = ART_SHIFT_SUB;
    else if (word_is(v, "super"))
        shift.kind = ART_SHIFT_SUPER;
    else if (!word_is(v, "baseline") && !dt_art_length(v, &shift.length))
        return FALSE;
    *(ArtShift *)out = shift;
    return TRUE;
}

static gboolean parse_font_weight(const char *v, void *out, ArtSetting *s)
{
    static const Word words[] = {{"normal", 400}, {"bold", 700}};
    if (pick(v, words, G_N_ELEMENTS(words), out))
        return TRUE;
    int parent = s->parent->font_weight;
    if (word_is(v, "bolder")) { /* CSS Fonts 4, 2.2.1 */
        *(int *)out = parent < 350 ? 400 : parent < 550 ? 700 : 900;
        return TRUE;
    }
    if (word_is(v, "lighter")) {
        *(int *)out = parent < 550 ? 100 : parent < 750 ? 400 : 700;
        return TRUE;
    }
    double w;
    v = art_skip_space(v);
    if (!art_number(&v, &w) || w < 1 || w > 1000 || *art_skip_space(v))
        return FALSE;
    *(int *)out = (int)w;
    return TRUE;
}

static gboolean parse_font_size(const char *v, void *out, ArtSetting *s)
{
    /* CSS Fonts 4, 2.5.1: factors of the medium size, which is 16px in all browsers. */
    static const struct {
        const char *word;
        double px;
    } sizes[] = {{"xx-small", 16 * 3.0 / 5}, {"x-small", 16 * 3.0 / 4},
                 {"small", 16 * 8.0 / 9},    {"medium", 16},
                 {"large", 16 * 6.0 / 5},    {"x-large", 16 * 3.0 / 2},
                 {"xx-large", 16 * 2},       {"xxx-large", 16 * 3}};
    double parent = s->parent->font_size, px;
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++)
        if (word_is(v, sizes[i].word)) {
            *(double *)out = sizes[i].px;
            return TRUE;
        }
    if (word_is(v, "larger") || word_is(v, "smaller")) {
        *(double *)out = word_is(v, "larger") ? parent * 1.2 : parent / 1.2;
        return TRUE;
    }
    ArtLength l;
    if (!dt_art_length(v, &l) || l.value < 0)
        return FALSE;
    ArtStyle reference = *s->parent;
    ArtScope nowhere = {.vw = 0, .vh = 0};
    px = l.unit == ART_UNIT_PERCENT ? l.value / 100 * parent
                                    : dt_art_px(l, &reference, &nowhere, ART_ALONG_X, s->root);
    *(double *)out = px;
    return TRUE;
}

typedef struct {
    const char *name;
    gboolean inherited;
    gsize offset, size;
    Parser parse;
} Property;

static const Property properties[ART_N_PROPERTIES] = {
#define X(id, text, inherits, field, parser)                                                       \
    [ART_P_##id] = {text, inherits, offsetof(ArtStyle, field), sizeof(((ArtStyle *)NULL)->field),  \
                    parse_##parser},
    ART_PROPERTIES(X)
#undef X
};

/* The shorthand: [style variant weight stretch]* size[/line-height] family. */
static void set_font(const ArtSetting *whole, const char *value)
{
    static const ArtName parts[] = {ART_P_FONT_STYLE, ART_P_FONT_VARIANT, ART_P_FONT_WEIGHT,
                                    ART_P_FONT_STRETCH};
    ArtStyle trial = *whole->style;
    ArtSetting setting = *whole;
    setting.style = &trial;
    trial.font_style = trial.small_caps = 0;
    trial.font_weight = 400;
    trial.font_stretch = 4;
    g_auto(GStrv) words = g_strsplit_set(value, " \t\r\n", -1);
    char **w = words;
    for (; *w; w++) {
        if (!**w)
            continue;
        gboolean taken = word_is(*w, "normal");
        for (gsize i = 0; !taken && i < G_N_ELEMENTS(parts); i++) {
            const Property *p = &properties[parts[i]];
            double number;
            const char *digits = *w;
            if (parts[i] == ART_P_FONT_WEIGHT && art_number(&digits, &number) && *digits)
                continue; /* a size, not a weight */
            taken = p->parse(*w, (char *)&trial + p->offset, &setting);
        }
        if (!taken)
            break;
    }
    if (!*w)
        return;
    char *slash = strchr(*w, '/');
    if (slash)
        *slash = '\0';
    if (!parse_font_size(*w, &trial.font_size, &setting) || !w[1])
        return;
    g_autofree char *family = g_strjoinv(" ", w + 1);
    if (parse_family(family, &trial.font_family, &setting))
        *whole->style = trial;
}

/* The keywords that every property takes: CSS Cascade 4, 7.3. There is no sheet but the author's to
 * go back to, so that `revert` is `unset`. */
static gboolean set_by_keyword(ArtStyle *s, const ArtStyle *parent, const Property *p,
                               const char *value)
{
    if (!strchr("iIuUrR", value[0]) || value[0] == '\0')
        return FALSE;
    gboolean unset =
        word_is(value, "unset") || word_is(value, "revert") || word_is(value, "revert-layer");
    if (word_is(value, "inherit") || (unset && p->inherited)) {
        memcpy((char *)s + p->offset, (const char *)parent + p->offset, p->size);
        return TRUE;
    }
    if (!unset && !word_is(value, "initial"))
        return FALSE;
    ArtStyle initial;
    dt_art_style_initial(&initial);
    memcpy((char *)s + p->offset, (const char *)&initial + p->offset, p->size);
    return TRUE;
}

/* d: path("M0 0"), of SVG 2, 9.3.2; any other value is none. */
static void set_path_data(ArtSetting *s, const char *value)
{
    const char *p = art_skip_space(value);
    if (word_is(p, "none"))
        s->style->path_data = "";
    if (g_ascii_strncasecmp(p, "path(", 5) != 0)
        return;
    p = art_skip_space(p + 5);
    const char *end = *p == '"' || *p == '\'' ? strchr(p + 1, *p) : NULL;
    if (end)
        s->style->path_data = dt_art_store_text(s->store, p + 1, (gsize)(end - p - 1));
}

void dt_art_property_set(ArtSetting *s, ArtName name, const char *value)
{
    g_autofree char *replaced = NULL;
    if (s->root->variables && strstr(value, "var("))
        replaced = dt_art_variables_in(s->style, value);
    if (replaced)
        value = replaced;
    if (name == ART_AT_FONT) {
        set_font(s, value);
    } else if (name == ART_AT_MARKER_ALL) {
        dt_art_property_set(s, ART_P_MARKER_START, value);
        dt_art_property_set(s, ART_P_MARKER_MID, value);
        dt_art_property_set(s, ART_P_MARKER_END, value);
    } else if (name > ART_NAME_OTHER && name < ART_N_PROPERTIES) {
        const Property *p = &properties[name];
        if (!set_by_keyword(s->style, s->parent, p, value))
            p->parse(value, (char *)s->style + p->offset, s);
    } else {
        int slot = dt_art_geometry_slot(name);
        if (name == ART_AT_D)
            set_path_data(s, value);
        if (slot >= 0 && dt_art_length(value, &s->style->geometry[slot]))
            s->style->geometry_set |= 1u << slot;
    }
}
