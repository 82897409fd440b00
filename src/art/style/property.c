/* property: the properties of a style, one table row each. */
#include "art/style/property.h"

#include <stddef.h>

/* The value as a keyword, without leading and trailing spaces. */
gboolean dt_art_word_is(const char *v, const char *word)
{
    v = art_skip_space(v);
    gsize n = strlen(word);
    return g_ascii_strncasecmp(v, word, n) == 0 && *art_skip_space(v + n) == '\0';
}

gboolean dt_art_pick(const char *v, const ArtWord *words, gsize n, void *out)
{
    for (gsize i = 0; i < n; i++)
        if (dt_art_word_is(v, words[i].word)) {
            *(int *)out = words[i].value;
            return TRUE;
        }
    return FALSE;
}

typedef struct {
    const char *name;
    gboolean inherited;
    gsize offset, size;
    gboolean (*parse)(const char *v, void *out, ArtSetting *s);
} Property;

static const Property properties[ART_N_PROPERTIES] = {
#define X(id, text, inherits, field, parser)                                                       \
    [ART_P_##id] = {text, inherits, offsetof(ArtStyle, field), sizeof(((ArtStyle *)NULL)->field),  \
                    dt_art_parse_##parser},
    ART_PROPERTIES(X)
#undef X
};

/* The keywords that every property accepts: CSS Cascade 4, 7.3. Only the author's sheet exists,
 * so that `revert` equals `unset`. */
static gboolean set_by_keyword(ArtStyle *s, const ArtStyle *parent, const Property *p,
                               const char *value)
{
    if (!strchr("iIuUrR", value[0]) || value[0] == '\0')
        return FALSE;
    gboolean unset = dt_art_word_is(value, "unset") || dt_art_word_is(value, "revert") ||
                     dt_art_word_is(value, "revert-layer");
    if (dt_art_word_is(value, "inherit") || (unset && p->inherited)) {
        memcpy((char *)s + p->offset, (const char *)parent + p->offset, p->size);
        return TRUE;
    }
    if (!unset && !dt_art_word_is(value, "initial"))
        return FALSE;
    ArtStyle initial;
    dt_art_style_initial(&initial);
    memcpy((char *)s + p->offset, (const char *)&initial + p->offset, p->size);
    return TRUE;
}

static gboolean is_keyword(const char *v)
{
    static const char *const words[] = {"inherit", "initial", "unset", "revert", "revert-layer"};
    for (gsize i = 0; i < G_N_ELEMENTS(words); i++)
        if (dt_art_word_is(v, words[i]))
            return TRUE;
    return FALSE;
}

/* The shorthand: [style variant weight stretch]* size[/line-height] family. */
static gboolean set_font(const ArtSetting *whole, const char *value)
{
    static const ArtName parts[] = {ART_P_FONT_STYLE, ART_P_FONT_VARIANT, ART_P_FONT_WEIGHT,
                                    ART_P_FONT_STRETCH};
    ArtStyle trial = *whole->style;
    ArtSetting setting = *whole;
    setting.style = &trial;
    if (is_keyword(value)) {
        static const ArtName all[] = {ART_P_FONT_STYLE,   ART_P_FONT_VARIANT, ART_P_FONT_WEIGHT,
                                      ART_P_FONT_STRETCH, ART_P_FONT_SIZE,    ART_P_FONT_FAMILY};
        for (gsize i = 0; i < G_N_ELEMENTS(all); i++)
            set_by_keyword(whole->style, whole->parent, &properties[all[i]], value);
        return TRUE;
    }
    trial.font_style = trial.small_caps = 0;
    trial.font_weight = 400;
    trial.font_stretch = 4;
    g_auto(GStrv) words = g_strsplit_set(value, " \t\r\n", -1);
    char **w = words;
    for (; *w; w++) {
        if (!**w)
            continue;
        gboolean taken = dt_art_word_is(*w, "normal");
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
        return FALSE;
    char *slash = strchr(*w, '/');
    if (slash)
        *slash = '\0';
    if (!dt_art_parse_font_size(*w, &trial.font_size, &setting) || !w[1])
        return FALSE;
    g_autofree char *family = g_strjoinv(" ", w + 1);
    if (!dt_art_parse_family(family, &trial.font_family, &setting))
        return FALSE;
    *whole->style = trial;
    return TRUE;
}

/* The words of a value; brackets and quotes stay together. */
char **dt_art_value_words(const char *v)
{
    GPtrArray *words = g_ptr_array_new();
    const char *end = v + strlen(v);
    for (const char *p = art_skip_space(v); *p;) {
        const char *to = dt_art_css_find(p, end, " \t\r\n\f");
        g_ptr_array_add(words, g_strndup(p, (gsize)(to - p)));
        p = art_skip_space(to);
    }
    g_ptr_array_add(words, NULL);
    return (char **)g_ptr_array_free(words, FALSE);
}

/* d: path("M0 0"), of SVG 2, 9.3.2. */
static gboolean set_path_data(ArtSetting *s, const char *value)
{
    const char *p = art_skip_space(value);
    if (dt_art_word_is(p, "none")) {
        s->style->path_data = "";
        return TRUE;
    }
    if (g_ascii_strncasecmp(p, "path(", 5) != 0)
        return FALSE;
    p = art_skip_space(p + 5);
    const char *end = *p == '"' || *p == '\'' ? strchr(p + 1, *p) : NULL;
    if (!end)
        return FALSE;
    s->style->path_data = dt_art_store_text(s->store, p + 1, (gsize)(end - p - 1));
    return TRUE;
}

/* offset: [position] path [distance || rotate] [/ anchor] (Motion Path 1, 5). */
static gboolean set_offset(ArtSetting *s, const char *value)
{
    ArtStyle trial = *s->style;
    ArtSetting setting = *s;
    setting.style = &trial;
    trial.offset_path = trial.offset_rotate = trial.offset_anchor = trial.offset_position = NULL;
    trial.offset_distance = (ArtLength){.unit = ART_UNIT_NUMBER};
    g_auto(GStrv) halves = g_strsplit(value, "/", 2);
    g_auto(GStrv) words = dt_art_value_words(halves[0] ? halves[0] : "");
    GString *turn = g_string_new(NULL);
    gboolean good = words[0] != NULL;
    for (char **w = words; *w && good; w++) {
        if (!trial.offset_path && dt_art_parse_offset_path(*w, &trial.offset_path, &setting))
            continue;
        const char *kept = dt_art_store_text(s->store, *w, strlen(*w));
        if (dt_art_parse_length(kept, &trial.offset_distance, &setting))
            continue;
        g_string_append_printf(turn, "%s%s", turn->len ? " " : "", *w);
    }
    if (turn->len > 0)
        good = good && dt_art_parse_offset_rotate(turn->str, &trial.offset_rotate, &setting);
    g_string_free(turn, TRUE);
    if (good && halves[0] && halves[1])
        good = dt_art_parse_offset_place(halves[1], &trial.offset_anchor, &setting);
    if (good)
        *s->style = trial;
    return good;
}

/* `all` (CSS Cascade 4, 3.2): every property except direction, unicode-bidi and custom
 * properties. */
static gboolean set_all(ArtSetting *s, const char *value)
{
    ArtStyle trial = *s->style;
    for (int i = 1; i < ART_N_PROPERTIES; i++)
        if (i != ART_P_DIRECTION && i != ART_P_UNICODE_BIDI && i != ART_P_XML_LANG &&
            !set_by_keyword(&trial, s->parent, &properties[i], value))
            return FALSE;
    trial.moving = NULL;
    trial.path_data = "";
    trial.geometry_set = (1u << ART_N_GEOMETRY) - 1;
    for (int i = 0; i < ART_N_GEOMETRY; i++)
        trial.geometry[i] = (ArtLength){.unit = ART_UNIT_NUMBER};
    *s->style = trial;
    return TRUE;
}

static gboolean set_geometry(ArtSetting *s, int slot, const char *value)
{
    ArtLength l = {.unit = ART_UNIT_NUMBER};
    if (dt_art_word_is(value, "auto") || is_keyword(value)) {
        s->style->geometry_set &= ~(1u << slot);
        s->style->geometry_auto |= 1u << slot;
        return TRUE;
    }
    if (!dt_art_length(value, &l) ||
        (slot >= ART_GEOMETRY_WIDTH && slot != ART_GEOMETRY_CX && slot != ART_GEOMETRY_CY &&
         l.unit != ART_UNIT_MATH && l.value < 0))
        return FALSE;
    s->style->geometry[slot] = l;
    s->style->geometry_set |= 1u << slot;
    s->style->geometry_auto &= ~(1u << slot);
    return TRUE;
}

static gboolean set_named(ArtSetting *s, ArtName name, const char *value)
{
    switch (name) {
    case ART_AT_FONT:
        return set_font(s, value);
    case ART_AT_MARKER_ALL: {
        gboolean good = dt_art_property_set(s, ART_P_MARKER_START, value);
        dt_art_property_set(s, ART_P_MARKER_MID, value);
        dt_art_property_set(s, ART_P_MARKER_END, value);
        return good;
    }
    case ART_AT_ALL:
        return set_all(s, value);
    case ART_AT_OFFSET:
        return set_offset(s, value);
    case ART_AT_ROTATE:
        return dt_art_property_set(s, ART_P_ROTATE_PROPERTY, value);
    case ART_AT_D:
        return is_keyword(value) || set_path_data(s, value);
    default: {
        int slot = dt_art_geometry_slot(name);
        return slot >= 0 && set_geometry(s, slot, value);
    }
    }
}

gboolean dt_art_is_property(ArtName name)
{
    return (name > ART_NAME_OTHER && name < ART_N_PROPERTIES && name != ART_P_XML_SPACE &&
            name != ART_P_XML_LANG) ||
           name == ART_AT_FONT || name == ART_AT_MARKER_ALL || name == ART_AT_ALL ||
           name == ART_AT_OFFSET || name == ART_AT_ROTATE || name == ART_AT_D ||
           dt_art_geometry_slot(name) >= 0;
}

gboolean dt_art_property_set(ArtSetting *s, ArtName name, const char *value)
{
    g_autofree char *replaced = NULL;
    if (s->root->variables && dt_art_has_variables(value, strlen(value)))
        replaced = dt_art_variables_in(s->style, s->root, value);
    if (replaced)
        value = replaced;
    if (strchr(value, '(') && dt_art_has_math(value)) /* may be evaluated later */
        value = dt_art_store_text(s->store, value, strlen(value));
    if (name <= ART_NAME_OTHER || name >= ART_N_PROPERTIES)
        return set_named(s, name, value);
    const Property *p = &properties[name];
    if (name == ART_P_TRANSFORM)
        s->style->moving = NULL;
    return set_by_keyword(s->style, s->parent, p, value) ||
           p->parse(value, (char *)s->style + p->offset, s) ||
           /* CSS Custom Properties 1, 3.1: validity is known only after its variables are
            * replaced */
           (replaced && set_by_keyword(s->style, s->parent, p, "unset"));
}
