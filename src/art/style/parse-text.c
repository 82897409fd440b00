/* parse-text: values of properties about text and fonts. */
#include "art/style/property.h"

PICK_PARSER(direction, {"ltr", FALSE}, {"rtl", TRUE})
PICK_PARSER(space, {"default", FALSE}, {"preserve", TRUE})
PICK_PARSER(white_space, {"normal", FALSE}, {"nowrap", FALSE}, {"pre-line", FALSE}, {"pre", TRUE},
            {"pre-wrap", TRUE}, {"break-spaces", TRUE})
PICK_PARSER(anchor, {"start", ART_ANCHOR_START}, {"middle", ART_ANCHOR_MIDDLE},
            {"end", ART_ANCHOR_END})
PICK_PARSER(bidi, {"normal", 0}, {"embed", 1}, {"bidi-override", 2}, {"isolate", 3},
            {"isolate-override", 4}, {"plaintext", 5})
PICK_PARSER(writing_mode, {"lr", 0}, {"lr-tb", 0}, {"rl", 0}, {"rl-tb", 0}, {"horizontal-tb", 0},
            {"tb", ART_WRITING_DOWN}, {"tb-rl", ART_WRITING_DOWN},
            {"vertical-rl", ART_WRITING_DOWN}, {"vertical-lr", ART_WRITING_DOWN},
            {"sideways-rl", ART_WRITING_SIDEWAYS_RL}, {"sideways-lr", ART_WRITING_SIDEWAYS_LR})

gboolean dt_art_parse_font_style(const char *v, void *out, ArtSetting *s)
{
    static const ArtWord words[] = {{"normal", 0}, {"oblique", 1}, {"italic", 2}};
    double angle;
    if (dt_art_pick(v, words, G_N_ELEMENTS(words), out))
        return TRUE;
    v = art_skip_space(v);
    if (g_ascii_strncasecmp(v, "oblique", 7) != 0)
        return FALSE;
    v = art_skip_space(v + 7);
    if (!dt_art_angle_at(&v, &angle) || *art_skip_space(v))
        return FALSE;
    if (s->node && angle != 0)
        dt_art_note(s->root->reader, s->node,
                    "font-style: oblique is drawn at the font's own angle, not at %g degrees",
                    angle);
    *(int *)out = angle != 0;
    return TRUE;
}

/* Pango's variants of capitals. */
PICK_PARSER(font_variant, {"normal", 0}, {"none", 0}, {"small-caps", 1}, {"all-small-caps", 2},
            {"petite-caps", 3}, {"all-petite-caps", 4}, {"unicase", 5}, {"titling-caps", 6})
PICK_PARSER(orientation, {"mixed", ART_ORIENTATION_MIXED}, {"upright", ART_ORIENTATION_UPRIGHT},
            {"sideways", ART_ORIENTATION_SIDEWAYS}, {"sideways-right", ART_ORIENTATION_SIDEWAYS})
PICK_PARSER(font_kerning, {"auto", FALSE}, {"normal", FALSE}, {"none", TRUE})
PICK_PARSER(white_space_collapse, {"collapse", FALSE}, {"preserve-breaks", FALSE},
            {"preserve", TRUE}, {"preserve-spaces", TRUE}, {"break-spaces", TRUE})
PICK_PARSER(decoration_style, {"solid", ART_LINE_SOLID}, {"double", ART_LINE_DOUBLE},
            {"dotted", ART_LINE_DOTTED}, {"dashed", ART_LINE_DASHED}, {"wavy", ART_LINE_WAVY})
PICK_PARSER(glyph_position, {"normal", 0}, {"sub", ART_FEATURE_SUBS}, {"super", ART_FEATURE_SUPS})

/* Pango's values; CSS Fonts 4, 2.3 gives the percentages of the words. */
gboolean dt_art_parse_font_stretch(const char *v, void *out, ArtSetting *s)
{
    static const ArtWord words[] = {
        {"ultra-condensed", 0}, {"extra-condensed", 1}, {"condensed", 2},
        {"semi-condensed", 3},  {"normal", 4},          {"semi-expanded", 5},
        {"expanded", 6},        {"extra-expanded", 7},  {"ultra-expanded", 8}};
    static const double percents[] = {50, 62.5, 75, 87.5, 100, 112.5, 125, 150, 200};
    double percent;
    (void)s;
    if (dt_art_pick(v, words, G_N_ELEMENTS(words), out))
        return TRUE;
    v = art_skip_space(v);
    if (!art_number(&v, &percent) || *v != '%' || percent < 0 || *art_skip_space(v + 1))
        return FALSE;
    int nearest = 0;
    for (int i = 1; i < (int)G_N_ELEMENTS(percents); i++)
        if (ABS(percents[i] - percent) < ABS(percents[nearest] - percent))
            nearest = i;
    *(int *)out = nearest;
    return TRUE;
}

PICK_PARSER(baseline, {"use-script", ART_BASELINE_AUTO}, {"no-change", ART_BASELINE_AUTO},
            {"reset-size", ART_BASELINE_AUTO}, {"text-bottom", ART_BASELINE_AFTER},
            {"auto", ART_BASELINE_AUTO}, {"baseline", ART_BASELINE_AUTO},
            {"alphabetic", ART_BASELINE_ALPHABETIC}, {"middle", ART_BASELINE_MIDDLE},
            {"central", ART_BASELINE_CENTRAL}, {"hanging", ART_BASELINE_HANGING},
            {"before-edge", ART_BASELINE_BEFORE}, {"text-before-edge", ART_BASELINE_BEFORE},
            {"text-top", ART_BASELINE_BEFORE}, {"after-edge", ART_BASELINE_AFTER},
            {"text-after-edge", ART_BASELINE_AFTER}, {"ideographic", ART_BASELINE_AFTER},
            {"mathematical", ART_BASELINE_MATHEMATICAL})
PICK_PARSER(text_transform, {"full-width", ART_CASE_FULL_WIDTH}, {"full-size-kana", ART_CASE_AS_IS},
            {"math-auto", ART_CASE_AS_IS}, {"none", ART_CASE_AS_IS}, {"uppercase", ART_CASE_UPPER},
            {"lowercase", ART_CASE_LOWER}, {"capitalize", ART_CASE_CAPITAL})

gboolean dt_art_parse_text(const char *v, void *out, ArtSetting *s)
{
    v = art_skip_space(v);
    gsize n = strlen(v);
    *(const char **)out = dt_art_store_text(s->store, v, n);
    return TRUE;
}

gboolean dt_art_parse_family(const char *v, void *out, ArtSetting *s)
{
    return dt_art_is_family_list(v) && dt_art_parse_text(v, out, s);
}

/* The bit of one word of text-decoration-line; 0 if it is none, which adds nothing. */
static gboolean line_of(const char *word, int *lines)
{
    static const ArtWord words[] = {{"underline", ART_UNDERLINE},
                                    {"overline", ART_OVERLINE},
                                    {"line-through", ART_LINE_THROUGH},
                                    {"blink", 0},
                                    {"none", 0},
                                    {"spelling-error", ART_MISSPELT},
                                    {"grammar-error", ART_MISSPELT}};
    int bit;
    if (!dt_art_pick(word, words, G_N_ELEMENTS(words), &bit))
        return FALSE;
    *lines |= bit;
    return TRUE;
}

gboolean dt_art_parse_decoration_line(const char *v, void *out, ArtSetting *s)
{
    g_auto(GStrv) words = dt_art_value_words(v);
    int lines = 0;
    (void)s;
    for (char **w = words; *w; w++)
        if (!line_of(*w, &lines))
            return FALSE;
    *(int *)out = lines;
    return words[0] != NULL;
}

/* The shorthand: lines, style, colour and thickness in any order (CSS Text Decoration 4, 2.4). */
gboolean dt_art_parse_decoration(const char *v, void *out, ArtSetting *s)
{
    g_auto(GStrv) words = dt_art_value_words(v);
    int lines = 0, style = ART_LINE_SOLID;
    ArtColour colour = {.current = TRUE};
    ArtAutoLength thickness = {.given = FALSE};
    gboolean coloured = FALSE;
    for (char **w = words; *w; w++) {
        const char *kept = dt_art_has_math(*w) ? dt_art_store_text(s->store, *w, strlen(*w)) : *w;
        if (line_of(*w, &lines) || dt_art_parse_decoration_style(*w, &style, s) ||
            dt_art_parse_auto_length(kept, &thickness, s))
            continue;
        coloured = dt_art_parse_color(*w, &colour, s);
        if (!coloured)
            return FALSE;
    }
    *(int *)out = lines;
    s->style->decoration_style = style;
    s->style->decoration_color = colour;
    s->style->decoration_painted = coloured;
    s->style->decoration_thickness = thickness;
    return words[0] != NULL;
}

/* Words of a font-variant property, as bits. */
static gboolean feature_bits(const char *v, const ArtWord *known, gsize n, void *out)
{
    g_auto(GStrv) words = dt_art_value_words(v);
    int bits = 0, bit;
    for (char **w = words; *w; w++) {
        if (!dt_art_pick(*w, known, n, &bit))
            return FALSE;
        bits |= bit;
    }
    *(int *)out = bits;
    return words[0] != NULL;
}

#define BITS_PARSER(name, ...)                                                                     \
    gboolean dt_art_parse_##name(const char *v, void *out, ArtSetting *s)                          \
    {                                                                                              \
        static const ArtWord words[] = {__VA_ARGS__};                                              \
        (void)s;                                                                                   \
        return feature_bits(v, words, G_N_ELEMENTS(words), out);                                   \
    }

BITS_PARSER(ligatures, {"normal", 0}, {"none", ART_FEATURE_NO_LIGATURES},
            {"no-common-ligatures", ART_FEATURE_NO_COMMON}, {"common-ligatures", 0},
            {"discretionary-ligatures", ART_FEATURE_DISCRETIONARY},
            {"no-discretionary-ligatures", 0}, {"historical-ligatures", ART_FEATURE_HISTORICAL},
            {"no-historical-ligatures", 0}, {"contextual", 0},
            {"no-contextual", ART_FEATURE_NO_CONTEXTUAL})
BITS_PARSER(numerals, {"normal", 0}, {"lining-nums", ART_FEATURE_LINING},
            {"oldstyle-nums", ART_FEATURE_OLD_STYLE},
            {"proportional-nums", ART_FEATURE_PROPORTIONAL}, {"tabular-nums", ART_FEATURE_TABULAR},
            {"diagonal-fractions", ART_FEATURE_FRACTIONS},
            {"stacked-fractions", ART_FEATURE_STACKED}, {"ordinal", ART_FEATURE_ORDINAL},
            {"slashed-zero", ART_FEATURE_SLASHED_ZERO})
BITS_PARSER(east_asian, {"normal", 0}, {"jis78", ART_FEATURE_JIS78}, {"jis83", ART_FEATURE_JIS83},
            {"jis90", ART_FEATURE_JIS90}, {"jis04", ART_FEATURE_JIS04},
            {"simplified", ART_FEATURE_SIMPLIFIED}, {"traditional", ART_FEATURE_TRADITIONAL},
            {"full-width", ART_FEATURE_FULL_WIDTH}, {"proportional-width", ART_FEATURE_NARROW},
            {"ruby", ART_FEATURE_RUBY})

/* "'liga' 0, 'smcp'" or "'wght' 700": kept for the shaper, which accepts the same syntax. */
static gboolean tagged(const char *v, const char **out, ArtSetting *s)
{
    const char *p = v;
    if (dt_art_word_is(v, "normal")) {
        *out = NULL;
        return TRUE;
    }
    for (;; p++) {
        p = art_skip_space(p);
        char quote = *p;
        if ((quote != '"' && quote != '\'') || strlen(p) < 6 || p[5] != quote)
            return FALSE;
        p = art_skip_space(p + 6);
        p += strcspn(p, ",");
        if (*p != ',')
            break;
    }
    *out = dt_art_store_text(s->store, v, strlen(v));
    return TRUE;
}

gboolean dt_art_parse_feature_settings(const char *v, void *out, ArtSetting *s)
{
    return tagged(v, out, s);
}

gboolean dt_art_parse_variations(const char *v, void *out, ArtSetting *s)
{
    return tagged(v, out, s);
}

/* font-size-adjust (CSS Fonts 5, 2): by the x-height alone. */
gboolean dt_art_parse_size_adjust(const char *v, void *out, ArtSetting *s)
{
    const char *p = art_skip_space(v);
    double adjust = 0;
    (void)s;
    if (dt_art_word_is(v, "none") || dt_art_word_is(v, "from-font") ||
        dt_art_word_is(v, "ex-height from-font")) {
        *(double *)out = 0; /* the font's own: no change */
        return TRUE;
    }
    if (g_ascii_strncasecmp(p, "ex-height", 9) == 0)
        p = art_skip_space(p + 9);
    if (!dt_art_number_at(&p, &adjust) || adjust < 0 || *art_skip_space(p))
        return FALSE;
    *(double *)out = adjust > 0 ? adjust : 1e-6;
    return TRUE;
}

gboolean dt_art_parse_baseline_shift(const char *v, void *out, ArtSetting *s)
{
    (void)s;
    ArtShift shift = {ART_SHIFT_LENGTH, {.value = 0, .unit = ART_UNIT_NUMBER}};
    if (dt_art_word_is(v, "sub"))
        shift.kind = ART_SHIFT_SUB;
    else if (dt_art_word_is(v, "super"))
        shift.kind = ART_SHIFT_SUPER;
    else if (!dt_art_word_is(v, "baseline") && !dt_art_length(v, &shift.length))
        return FALSE;
    *(ArtShift *)out = shift;
    return TRUE;
}

gboolean dt_art_parse_font_weight(const char *v, void *out, ArtSetting *s)
{
    static const ArtWord words[] = {{"normal", 400}, {"bold", 700}};
    if (dt_art_pick(v, words, G_N_ELEMENTS(words), out))
        return TRUE;
    int parent = s->parent->font_weight;
    if (dt_art_word_is(v, "bolder")) { /* CSS Fonts 4, 2.2.1 */
        *(int *)out = parent < 350 ? 400 : parent < 550 ? 700 : 900;
        return TRUE;
    }
    if (dt_art_word_is(v, "lighter")) {
        *(int *)out = parent < 550 ? 100 : parent < 750 ? 400 : 700;
        return TRUE;
    }
    double w;
    v = art_skip_space(v);
    if (!dt_art_number_at(&v, &w) || w < 1 || w > 1000 || *art_skip_space(v))
        return FALSE;
    *(int *)out = (int)w;
    return TRUE;
}

gboolean dt_art_parse_font_size(const char *v, void *out, ArtSetting *s)
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
        if (dt_art_word_is(v, sizes[i].word)) {
            *(double *)out = sizes[i].px;
            s->style->size_is_said = FALSE;
            return TRUE;
        }
    if (dt_art_word_is(v, "larger") || dt_art_word_is(v, "smaller")) {
        *(double *)out = dt_art_word_is(v, "larger") ? parent * 1.2 : parent / 1.2;
        return TRUE;
    }
    ArtLength l;
    if (!dt_art_length(v, &l) || l.value < 0)
        return FALSE;
    /* CSS Values 4, 6: only zero may lack a unit; older editors omit it all the same. */
    if (s->css && s->node && l.unit == ART_UNIT_NUMBER && l.value > 0)
        dt_art_note(s->root->reader, s->node,
                    "font-size: %.20s has no unit: drawn as px, where a browser ignores it", v);
    px = dt_art_px_of(l, s->parent, parent, s->root);
    s->style->size_is_said =
        s->parent->size_is_said || !(l.unit == ART_UNIT_PERCENT || l.unit == ART_UNIT_EM ||
                                     l.unit == ART_UNIT_EX || l.unit == ART_UNIT_CH);
    *(double *)out = MAX(px, 0);
    return TRUE;
}
