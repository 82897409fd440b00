/* parse-transform: values of properties that transform what is painted. */
#include "art/style/property.h"

/* One word of a transform-origin, and the only axis that it can belong to; 0 if either. */
typedef struct {
    ArtLength length;
    char axis;
} Place;

static gboolean read_place(const char *from, const char *to, Place *out)
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
        if (strlen(sides[i].word) == (gsize)(to - from) &&
            g_ascii_strncasecmp(from, sides[i].word, (gsize)(to - from)) == 0) {
            *out = (Place){{.value = sides[i].percent, .unit = ART_UNIT_PERCENT}, sides[i].axis};
            return TRUE;
        }
    return dt_art_length_at(&from, &out->length) && from == to;
}

/* "left 20px", "top", "50% 10%"; a third word, along z, has no effect. */
gboolean dt_art_position(const char *text, ArtOrigin *out)
{
    const Place middle = {{.value = 50, .unit = ART_UNIT_PERCENT}, 0};
    Place at[3] = {middle, middle, middle};
    const char *end = text + strlen(text);
    int n = 0;
    for (const char *p = art_skip_space(text); *p; n++) {
        const char *to = dt_art_css_find(p, end, " \t\r\n\f");
        if (n == 3 || !read_place(p, to, &at[n]))
            return FALSE;
        p = art_skip_space(to);
    }
    if (n == 0)
        return FALSE;
    gboolean swapped = at[0].axis == 'y' || at[1].axis == 'x';
    *out = (ArtOrigin){at[swapped].length, at[!swapped].length, TRUE};
    return TRUE;
}

gboolean dt_art_parse_transform_origin(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    return dt_art_position(v, out);
}

PICK_PARSER(transform_box, {"view-box", ART_BOX_VIEW}, {"fill-box", ART_BOX_FILL},
            {"content-box", ART_BOX_FILL}, {"stroke-box", ART_BOX_STROKE},
            {"border-box", ART_BOX_STROKE})

static void tell_depth(const ArtSetting *s, const ArtTransformRead *read)
{
    if (read->in_depth && s->node)
        dt_art_note(s->root->reader, s->node, "a perspective is drawn flat");
}

gboolean dt_art_parse_transform(const char *v, void *out, ArtSetting *s)
{
    if (!s->css)
        return dt_art_transform(v, out);
    ArtTransformRead read;
    DtAffine m;
    if (!dt_art_css_transform(v, NULL, 0, 0, s->root, &m, &read))
        return FALSE;
    tell_depth(s, &read);
    s->style->moving = read.needs_box ? dt_art_store_text(s->store, v, strlen(v)) : NULL;
    *(DtAffine *)out = m;
    return TRUE;
}

static gboolean parse_move(ArtMove kind, const char *v, const char **out, ArtSetting *s)
{
    ArtTransformRead read;
    DtAffine m;
    if (!dt_art_css_move(kind, v, NULL, 0, 0, s->root, &m, &read))
        return FALSE;
    *out = dt_art_word_is(v, "none") ? NULL : dt_art_store_text(s->store, v, strlen(v));
    return TRUE;
}

gboolean dt_art_parse_translate(const char *v, void *out, ArtSetting *s)
{
    return parse_move(ART_MOVE_TRANSLATE, v, out, s);
}

gboolean dt_art_parse_rotate(const char *v, void *out, ArtSetting *s)
{
    return parse_move(ART_MOVE_ROTATE, v, out, s);
}

gboolean dt_art_parse_scale(const char *v, void *out, ArtSetting *s)
{
    return parse_move(ART_MOVE_SCALE, v, out, s);
}

/* path(), ray() or a basic shape; browsers do not move along the target of url(). */
gboolean dt_art_parse_offset_path(const char *v, void *out, ArtSetting *s)
{
    v = art_skip_space(v);
    if (!dt_art_word_is(v, "none") && g_ascii_strncasecmp(v, "ray(", 4) != 0 &&
        g_ascii_strncasecmp(v, "url(", 4) != 0 && !dt_art_shape_is_valid(v))
        return FALSE;
    if (g_ascii_strncasecmp(v, "url(", 4) == 0 && s->node)
        dt_art_note(s->root->reader, s->node, "offset-path: %.60s is not followed", v);
    *(const char **)out = dt_art_word_is(v, "none") || g_ascii_strncasecmp(v, "url(", 4) == 0
                              ? NULL
                              : dt_art_store_text(s->store, v, strlen(v));
    return TRUE;
}

/* [auto | reverse] || angle. */
gboolean dt_art_parse_offset_rotate(const char *v, void *out, ArtSetting *s)
{
    g_auto(GStrv) words = dt_art_value_words(v);
    int n = 0;
    for (char **w = words; *w; w++, n++) {
        const char *p = *w;
        double angle;
        if (!dt_art_word_is(p, "auto") && !dt_art_word_is(p, "reverse") &&
            (!dt_art_angle_at(&p, &angle) || *p || g_ascii_isdigit(p[-1])))
            return FALSE;
    }
    *(const char **)out = dt_art_store_text(s->store, v, strlen(v));
    return n == 1 || n == 2;
}

gboolean dt_art_parse_offset_place(const char *v, void *out, ArtSetting *s)
{
    ArtOrigin at;
    if (dt_art_word_is(v, "auto") || dt_art_word_is(v, "normal")) {
        *(const char **)out = NULL;
        return TRUE;
    }
    if (!dt_art_position(v, &at))
        return FALSE;
    *(const char **)out = dt_art_store_text(s->store, v, strlen(v));
    return TRUE;
}
