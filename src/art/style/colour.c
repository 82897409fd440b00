/* colour: colours as CSS Color 4 and 5 write them. */
#include "art/style/colour.h"
#include "art/style/colour-names.h"

#include <math.h>
#include <stdlib.h>

#define MAX_DEPTH 8 /* depth of nested colours */

typedef struct {
    const ArtColourScene *scene;
    ArtColourRead *read; /* what must be noted in addition to the colour */
    int depth;
} Reading;

static gboolean tint_at(Reading *x, const char **s, ArtTint *out);

static ArtTint tint_of(DtColour c)
{
    return (ArtTint){.space = ART_SPACE_SRGB, .c = {c.r, c.g, c.b}, .alpha = c.alpha};
}

static int compare_name(const void *key, const void *entry)
{
    return strcmp(key, *(const char *const *)entry);
}

static gboolean hex_colour(const char **s, ArtTint *out)
{
    const char *p = *s + 1;
    unsigned d[8];
    int n = 0;
    while (n < 8 && g_ascii_isxdigit(p[n])) {
        d[n] = (unsigned)g_ascii_xdigit_value(p[n]);
        n++;
    }
    if (g_ascii_isxdigit(p[n]))
        return FALSE;
    double v[4] = {0, 0, 0, 1};
    if (n == 3 || n == 4) {
        for (int i = 0; i < n; i++)
            v[i] = d[i] / 15.0;
    } else if (n == 6 || n == 8) {
        for (int i = 0; i < n / 2; i++)
            v[i] = (d[2 * i] * 16 + d[2 * i + 1]) / 255.0;
    } else {
        return FALSE;
    }
    *out = tint_of((DtColour){v[0], v[1], v[2], v[3]});
    *s = p + n;
    return TRUE;
}

/* Components ----------------------------------------------------------------------------------- */

/* How a function writes its components. */
typedef struct {
    const char *name;
    ArtSpace space;
    double percent[3]; /* the value of 100% */
    double unit[3];    /* divides a number */
    const char *channels[3];
} Form;

static const Form forms[] = {
    {"rgb", ART_SPACE_SRGB, {255, 255, 255}, {255, 255, 255}, {"r", "g", "b"}},
    {"rgba", ART_SPACE_SRGB, {255, 255, 255}, {255, 255, 255}, {"r", "g", "b"}},
    {"hsl", ART_SPACE_HSL, {0, 100, 100}, {1, 1, 1}, {"h", "s", "l"}},
    {"hsla", ART_SPACE_HSL, {0, 100, 100}, {1, 1, 1}, {"h", "s", "l"}},
    {"hwb", ART_SPACE_HWB, {0, 100, 100}, {1, 1, 1}, {"h", "w", "b"}},
    {"lab", ART_SPACE_LAB, {100, 125, 125}, {1, 1, 1}, {"l", "a", "b"}},
    {"lch", ART_SPACE_LCH, {100, 150, 0}, {1, 1, 1}, {"l", "c", "h"}},
    {"oklab", ART_SPACE_OKLAB, {1, 0.4, 0.4}, {1, 1, 1}, {"l", "a", "b"}},
    {"oklch", ART_SPACE_OKLCH, {1, 0.4, 0}, {1, 1, 1}, {"l", "c", "h"}},
};
static const Form color_rgb = {"color", ART_SPACE_SRGB, {1, 1, 1}, {1, 1, 1}, {"r", "g", "b"}};
static const Form color_xyz = {"color", ART_SPACE_XYZ, {1, 1, 1}, {1, 1, 1}, {"x", "y", "z"}};

static gboolean is_word(const char *p, const char *word)
{
    gsize n = strlen(word);
    return g_ascii_strncasecmp(p, word, n) == 0 && !g_ascii_isalnum(p[n]) && p[n] != '-';
}

/* One component, in the units of its space; *percent where it is a percentage. */
static gboolean component(const char **s, double whole, gboolean hue, double *out, gboolean *none,
                          gboolean *percent)
{
    const char *p = *s;
    *none = *percent = FALSE;
    if (is_word(p, "none")) {
        *none = TRUE;
        *out = 0;
        *s = p + 4;
        return TRUE;
    }
    if (hue && !g_ascii_isalpha(*p)) {
        if (!dt_art_angle_at(&p, out))
            return FALSE;
    } else if (g_ascii_isalpha(*p)) {
        ArtMath m;
        if (!dt_art_math_at(&p, &m) || (m.kind == ART_MATH_LENGTH && !m.percent) ||
            (m.kind == ART_MATH_ANGLE && !hue))
            return FALSE;
        *out = isnan(m.value) ? 0 : CLAMP(m.value, -1e9, 1e9);
        *percent = m.percent;
    } else {
        if (!art_number(&p, out))
            return FALSE;
        *percent = *p == '%';
        p += *percent;
    }
    if (*percent && hue)
        return FALSE;
    if (*percent)
        *out *= whole / 100;
    *s = p;
    return TRUE;
}

static gboolean alpha_part(const char **s, ArtTint *out)
{
    gboolean none, percent;
    *s = art_skip_space(*s);
    if (!component(s, 1, FALSE, &out->alpha, &none, &percent))
        return FALSE;
    out->alpha = CLAMP(out->alpha, 0, 1);
    out->missing |= none ? 8 : 0;
    return TRUE;
}

/* Three components and an alpha up to the closing bracket; commas only in the old syntax. */
static gboolean components(const char **s, const Form *f, ArtTint *out)
{
    const char *p = art_skip_space(*s);
    gboolean commas = FALSE, percents[3] = {FALSE, FALSE, FALSE}, any_none = FALSE;
    *out = (ArtTint){.space = f->space, .alpha = 1};
    gboolean old = f->space == ART_SPACE_SRGB || f->space == ART_SPACE_HSL;
    for (int i = 0; i < 3; i++) {
        gboolean none;
        if (!component(&p, f->percent[i], i == dt_art_space_hue(f->space), &out->c[i], &none,
                       &percents[i]))
            return FALSE;
        out->c[i] /= f->unit[i];
        out->missing |= none ? 1u << i : 0;
        any_none |= none;
        p = art_skip_space(p);
        if (i == 2)
            break;
        if (i == 0)
            commas = *p == ',';
        if ((*p == ',') != commas || (commas && (!old || f->unit[0] == 0)))
            return FALSE;
        if (commas)
            p = art_skip_space(p + 1);
    }
    if (*p == (commas ? ',' : '/')) {
        p++;
        if (!alpha_part(&p, out))
            return FALSE;
        p = art_skip_space(p);
    }
    if (*p != ')')
        return FALSE;
    /* The old syntax has either numbers or percentages: 5.1; and no `none`. */
    if (commas && (any_none || percents[1] != percents[2] ||
                   (f->space == ART_SPACE_SRGB && percents[0] != percents[1]) ||
                   (f->space == ART_SPACE_HSL && !percents[1])))
        return FALSE;
    *s = p + 1;
    return TRUE;
}

/* Clamps what the function's own rules require. */
static void clamp_parsed(ArtTint *t, gboolean relative)
{
    int lightness = t->space == ART_SPACE_LAB || t->space == ART_SPACE_LCH       ? 100
                    : t->space == ART_SPACE_OKLAB || t->space == ART_SPACE_OKLCH ? 1
                                                                                 : 0;
    if (lightness)
        t->c[0] = CLAMP(t->c[0], 0, lightness);
    if (t->space == ART_SPACE_LCH || t->space == ART_SPACE_OKLCH)
        t->c[1] = MAX(t->c[1], 0);
    if (t->space == ART_SPACE_HSL)
        t->c[1] = MAX(t->c[1], 0);
    if (relative)
        return;
    if (t->space == ART_SPACE_SRGB)
        for (int i = 0; i < 3; i++)
            t->c[i] = CLAMP(t->c[i], 0, 1);
    if (t->space == ART_SPACE_HSL)
        for (int i = 1; i < 3; i++)
            t->c[i] = CLAMP(t->c[i], 0, 100);
}

/* Relative colours (CSS Color 5, 4): replaces the channels' names by their numbers. */
static char *with_channels(const char *from, const char *to, const Form *f, const ArtTint *origin)
{
    GString *out = g_string_new(NULL);
    for (const char *p = from; p < to;) {
        int which = -1;
        if (g_ascii_isalpha(*p) && (p == from || !(g_ascii_isalnum(p[-1]) || p[-1] == '-'))) {
            for (int i = 0; i < 3; i++)
                if (is_word(p, f->channels[i]) && p[1] != '(')
                    which = i;
            if (is_word(p, "alpha"))
                which = 3;
        }
        if (which < 0) {
            g_string_append_c(out, *p++);
            continue;
        }
        char number[G_ASCII_DTOSTR_BUF_SIZE];
        double v = which == 3 ? origin->alpha : origin->c[which] * f->unit[which];
        g_string_append(out, g_ascii_formatd(number, sizeof number, "%.12f", v));
        p += which == 3 ? 5 : 1;
    }
    g_string_append_c(out, ')');
    return g_string_free(out, FALSE);
}

/* The bracket that closes what is open before p; NULL if there is none. */
static const char *closing(const char *p)
{
    for (int depth = 0; *p; p++) {
        if (*p == '(')
            depth++;
        else if (*p == ')' && depth-- == 0)
            return p;
    }
    return NULL;
}

static gboolean relative_tint(Reading *x, const char **s, const Form *f, gboolean color,
                              ArtTint *out)
{
    const char *p = art_skip_space(*s + 4);
    ArtTint origin;
    if (!tint_at(x, &p, &origin))
        return FALSE;
    Form named = *f;
    p = art_skip_space(p);
    if (color) { /* color(from C space r g b) */
        gsize n = strspn(p, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-");
        int space = dt_art_space_of(p, n);
        if (space < 0 || space >= ART_SPACE_LAB)
            return FALSE;
        named = space >= ART_SPACE_XYZ_D50 ? color_xyz : color_rgb;
        named.space = (ArtSpace)space;
        p += n;
    }
    const char *end = closing(p);
    if (!end)
        return FALSE;
    ArtTint in = dt_art_tint_in(origin, named.space);
    g_autofree char *text = with_channels(p, end, &named, &in);
    const char *t = text;
    if (!components(&t, &named, out))
        return FALSE;
    if (!strchr(text, '/')) {
        out->alpha = origin.alpha;
        out->missing |= origin.missing & 8;
    }
    clamp_parsed(out, TRUE);
    *s = end + 1;
    return TRUE;
}

static gboolean color_function(Reading *x, const char **s, ArtTint *out)
{
    const char *p = art_skip_space(*s);
    if (is_word(p, "from")) {
        *s = p;
        return relative_tint(x, s, &color_rgb, TRUE, out);
    }
    gsize n = strspn(p, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-");
    int space = dt_art_space_of(p, n);
    if (space < 0 || space >= ART_SPACE_LAB)
        return FALSE;
    Form f = color_rgb;
    f.space = (ArtSpace)space;
    f.unit[0] = 1;
    p += n;
    const char *comma = strchr(p, ','), *end = closing(p);
    if (!end || (comma && comma < end) || !components(&p, &f, out))
        return FALSE;
    *s = p;
    return TRUE;
}

/* color-mix(in space [way hue], colour [percent], colour [percent]): CSS Color 5, 3. */
static gboolean mix_part(Reading *x, const char **s, ArtTint *out, double *percent)
{
    const char *p = art_skip_space(*s);
    *percent = NAN;
    for (int i = 0; i < 2; i++) { /* before the colour, or after it */
        const char *q = p;
        double v;
        if (isnan(*percent) && dt_art_number_at(&q, &v) && *q == '%') {
            *percent = v;
            p = art_skip_space(q + 1);
        }
        if (i == 0 && !tint_at(x, &p, out))
            return FALSE;
        p = art_skip_space(p);
    }
    *s = p;
    return isnan(*percent) || (*percent >= 0 && *percent <= 100);
}

static gboolean mix_method(const char **s, ArtSpace *space, ArtHueWay *way)
{
    static const char *const ways[] = {"shorter", "longer", "increasing", "decreasing"};
    const char *p = art_skip_space(*s);
    *way = ART_HUE_SHORTER;
    if (!is_word(p, "in"))
        return FALSE;
    p = art_skip_space(p + 2);
    gsize n = strspn(p, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-");
    int found = dt_art_space_of(p, n);
    if (found < 0)
        return FALSE;
    *space = (ArtSpace)found;
    p = art_skip_space(p + n);
    for (gsize i = 0; i < G_N_ELEMENTS(ways); i++)
        if (is_word(p, ways[i])) {
            *way = (ArtHueWay)i;
            p = art_skip_space(p + strlen(ways[i]));
            if (!is_word(p, "hue") || dt_art_space_hue(*space) < 0)
                return FALSE;
            p = art_skip_space(p + 3);
        }
    if (*p != ',')
        return FALSE;
    *s = p + 1;
    return TRUE;
}

static gboolean mix(Reading *x, const char **s, ArtTint *out)
{
    ArtSpace space = ART_SPACE_OKLAB;
    ArtHueWay way = ART_HUE_SHORTER;
    ArtTint a, b;
    double p = NAN, q = NAN;
    const char *at = *s;
    if (is_word(art_skip_space(at), "in") && !mix_method(&at, &space, &way))
        return FALSE;
    if (!mix_part(x, &at, &a, &p) || *at++ != ',' || !mix_part(x, &at, &b, &q) || *at != ')')
        return FALSE;
    if (isnan(p))
        p = isnan(q) ? 50 : 100 - q;
    if (isnan(q))
        q = 100 - p;
    if (!(p + q > 0))
        return FALSE;
    *out = dt_art_tint_mix(a, b, q / (p + q), space, way);
    if (p + q < 100)
        out->alpha *= (p + q) / 100;
    *s = at + 1;
    return TRUE;
}

static gboolean light_dark(Reading *x, const char **s, ArtTint *out)
{
    ArtTint pair[2];
    const char *p = *s;
    for (int i = 0; i < 2; i++) {
        p = art_skip_space(p);
        if (!tint_at(x, &p, &pair[i]))
            return FALSE;
        p = art_skip_space(p);
        if (*p++ != ",)"[i])
            return FALSE;
    }
    *out = pair[x->scene->dark];
    *s = p;
    return TRUE;
}

/* Names ---------------------------------------------------------------------------------------- */

/* System colours (CSS Color 4, 6.2) as browsers have them on a light page. */
static gboolean system_colour(Reading *x, const char *word, ArtTint *out)
{
    static const struct {
        const char *name;
        guint32 rgb;
        gboolean fixed; /* by all browsers */
    } names[] = {{"canvas", 0xffffff, TRUE},
                 {"canvastext", 0x000000, TRUE},
                 {"linktext", 0x0000ee, TRUE},
                 {"visitedtext", 0x551a8b, TRUE},
                 {"activetext", 0xff0000, TRUE},
                 {"buttonface", 0xefefef, FALSE},
                 {"buttontext", 0x000000, TRUE},
                 {"buttonborder", 0x000000, FALSE},
                 {"field", 0xffffff, TRUE},
                 {"fieldtext", 0x000000, TRUE},
                 {"highlight", 0xb5d5ff, FALSE},
                 {"highlighttext", 0x000000, FALSE},
                 {"selecteditem", 0x1a73e8, FALSE},
                 {"selecteditemtext", 0xffffff, FALSE},
                 {"mark", 0xffff00, TRUE},
                 {"marktext", 0x000000, TRUE},
                 {"graytext", 0x808080, TRUE},
                 {"accentcolor", 0x0075ff, FALSE},
                 {"accentcolortext", 0xffffff, FALSE},
                 {"activeborder", 0x000000, FALSE},
                 {"activecaption", 0xffffff, FALSE},
                 {"appworkspace", 0xffffff, FALSE},
                 {"background", 0xffffff, FALSE},
                 {"buttonhighlight", 0xefefef, FALSE},
                 {"buttonshadow", 0xefefef, FALSE},
                 {"captiontext", 0x000000, FALSE},
                 {"inactiveborder", 0x000000, FALSE},
                 {"inactivecaption", 0xffffff, FALSE},
                 {"inactivecaptiontext", 0x808080, FALSE},
                 {"infobackground", 0xffffff, FALSE},
                 {"infotext", 0x000000, FALSE},
                 {"menu", 0xffffff, FALSE},
                 {"menutext", 0x000000, FALSE},
                 {"scrollbar", 0xffffff, FALSE},
                 {"threeddarkshadow", 0x000000, FALSE},
                 {"threedface", 0xefefef, FALSE},
                 {"threedhighlight", 0x000000, FALSE},
                 {"threedlightshadow", 0x000000, FALSE},
                 {"threedshadow", 0x000000, FALSE},
                 {"window", 0xffffff, FALSE},
                 {"windowframe", 0x000000, FALSE},
                 {"windowtext", 0x000000, TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strcmp(word, names[i].name) == 0) {
            guint32 rgb = names[i].rgb;
            x->read->system |= !names[i].fixed;
            *out = tint_of(
                (DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1});
            return TRUE;
        }
    return FALSE;
}

static gboolean named(Reading *x, const char *word, ArtTint *out)
{
    if (strcmp(word, "currentcolor") == 0) {
        static const DtColour black = {0, 0, 0, 1};
        x->read->mixes_current = TRUE;
        *out = tint_of(x->scene->current ? *x->scene->current : black);
        return TRUE;
    }
    if (strcmp(word, "transparent") == 0) {
        *out = tint_of((DtColour){0, 0, 0, 0});
        return TRUE;
    }
    const void *found = bsearch(word, colour_names, G_N_ELEMENTS(colour_names),
                                sizeof colour_names[0], compare_name);
    if (!found)
        return system_colour(x, word, out);
    guint32 rgb = colour_names[((const char *)found - (const char *)colour_names) /
                               (gssize)sizeof colour_names[0]]
                      .rgb;
    *out =
        tint_of((DtColour){(rgb >> 16) / 255.0, (rgb >> 8 & 255) / 255.0, (rgb & 255) / 255.0, 1});
    return TRUE;
}

static gboolean function_tint(Reading *x, const char *word, const char **s, ArtTint *out)
{
    gboolean before = x->read->modern;
    x->read->modern = TRUE;
    if (strcmp(word, "color") == 0)
        return color_function(x, s, out);
    if (strcmp(word, "color-mix") == 0)
        return mix(x, s, out);
    if (strcmp(word, "light-dark") == 0)
        return light_dark(x, s, out);
    for (gsize i = 0; i < G_N_ELEMENTS(forms); i++)
        if (strcmp(word, forms[i].name) == 0) {
            const char *p = art_skip_space(*s);
            if (is_word(p, "from")) {
                *s = p;
                return relative_tint(x, s, &forms[i], FALSE, out);
            }
            if (forms[i].space == ART_SPACE_SRGB || forms[i].space == ART_SPACE_HSL ||
                forms[i].space == ART_SPACE_HWB)
                x->read->modern = before;
            if (!components(s, &forms[i], out))
                return FALSE;
            clamp_parsed(out, FALSE);
            return TRUE;
        }
    return FALSE;
}

static gboolean tint_at(Reading *x, const char **s, ArtTint *out)
{
    const char *p = art_skip_space(*s);
    if (*p == '#') {
        if (!hex_colour(&p, out))
            return FALSE;
        *s = p;
        return TRUE;
    }
    char word[24];
    gsize n = 0;
    while (n < sizeof word - 1 && (g_ascii_isalpha(p[n]) || p[n] == '-')) {
        word[n] = g_ascii_tolower(p[n]);
        n++;
    }
    word[n] = '\0';
    if (n == 0 || g_ascii_isalnum(p[n]) || ++x->depth > MAX_DEPTH)
        return FALSE;
    p += n;
    gboolean good;
    if (*p == '(') {
        p++;
        good = function_tint(x, word, &p, out);
    } else {
        good = named(x, word, out);
    }
    x->depth--;
    if (good)
        *s = p;
    return good;
}

gboolean dt_art_colour_at(const char **s, const ArtColourScene *scene, ArtColourRead *out)
{
    static const ArtColourScene plain = {NULL, FALSE};
    const char *p = art_skip_space(*s);
    ArtTint t;
    *out = (ArtColourRead){.mapped = FALSE};
    Reading x = {scene ? scene : &plain, out, 0};
    if (is_word(p, "currentcolor")) {
        out->current = TRUE;
        out->colour = x.scene->current ? *x.scene->current : (DtColour){0, 0, 0, 1};
        *s = p + strlen("currentcolor");
        return TRUE;
    }
    if (!tint_at(&x, &p, &t))
        return FALSE;
    out->colour = dt_art_tint_colour(t, &out->mapped);
    *s = p;
    return TRUE;
}

double dt_art_linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

double dt_art_unlinear(double v)
{
    return v <= 0.0031308 ? v * 12.92 : 1.055 * pow(v, 1 / 2.4) - 0.055;
}
