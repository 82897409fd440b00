/* style: the computed style of an element: the cascade, and lengths in user units. */
#include "art/style/known.h"

#include <math.h>

const char dt_art_no_family[] = "serif";

void dt_art_style_initial(ArtStyle *s)
{
    *s = (ArtStyle){
        .fill = {.kind = ART_PAINT_COLOUR, .colour = {0, 0, 0, 1}},
        .stroke = {.kind = ART_PAINT_NONE},
        .color = {.colour = {0, 0, 0, 1}},
        .stop_color = {.colour = {0, 0, 0, 1}},
        .fill_opacity = 1,
        .stroke_opacity = 1,
        .stop_opacity = 1,
        .opacity = 1,
        .stroke_width = {.value = 1, .unit = ART_UNIT_NUMBER},
        .miter_limit = 4,
        .paint_order = {'f', 's', 'm'},
        .display = TRUE,
        .transform = DT_AFFINE_IDENTITY,
        .font_size = 16,
        .font_family = dt_art_no_family,
        .font_weight = 400,
        .font_stretch = 4,
        .flood_color = {.colour = {0, 0, 0, 1}},
        .lighting_color = {.colour = {1, 1, 1, 1}},
        .flood_opacity = 1,
        .decoration_color = {.current = TRUE},
    };
}

int dt_art_geometry_slot(ArtName name)
{
    switch (name) {
    case ART_AT_X:
        return ART_GEOMETRY_X;
    case ART_AT_Y:
        return ART_GEOMETRY_Y;
    case ART_AT_WIDTH:
        return ART_GEOMETRY_WIDTH;
    case ART_AT_HEIGHT:
        return ART_GEOMETRY_HEIGHT;
    case ART_AT_CX:
        return ART_GEOMETRY_CX;
    case ART_AT_CY:
        return ART_GEOMETRY_CY;
    case ART_AT_R:
        return ART_GEOMETRY_R;
    case ART_AT_RX:
        return ART_GEOMETRY_RX;
    case ART_AT_RY:
        return ART_GEOMETRY_RY;
    default:
        return -1;
    }
}

static void reset_own(ArtStyle *s)
{
    s->geometry_set = 0;
    s->stop_color = (ArtColour){.colour = {0, 0, 0, 1}};
    s->stop_opacity = s->opacity = 1;
    s->fixed_stroke = s->mask_by_alpha = s->isolated = FALSE;
    s->blend = ART_BLEND_NORMAL;
    s->geometry_auto = 0;
    s->flood_color = (ArtColour){.colour = {0, 0, 0, 1}};
    s->lighting_color = (ArtColour){.colour = {1, 1, 1, 1}};
    s->flood_opacity = 1;
    s->background = s->moving = NULL;
    s->animation = s->animation_name = s->animation_fill = NULL;
    s->translate = s->rotate = s->scale = NULL;
    s->offset_path = s->offset_rotate = s->offset_anchor = s->offset_position = NULL;
    s->offset_distance = (ArtLength){.unit = ART_UNIT_NUMBER};
    s->decoration_style = ART_LINE_SOLID;
    s->decoration_color = (ArtColour){.current = TRUE};
    s->decoration_painted = FALSE;
    s->decoration_thickness.given = FALSE;
    s->display = TRUE;
    s->overflow = FALSE;
    s->clip_path = s->mask = s->filter = NULL;
    s->transform = DT_AFFINE_IDENTITY;
    s->origin.given = FALSE;
    s->transform_box = ART_BOX_VIEW;
    s->path_data = NULL;
    s->alignment = ART_BASELINE_AUTO;
    s->decoration = 0;
    s->baseline_shift = (ArtShift){ART_SHIFT_LENGTH, {.value = 0, .unit = ART_UNIT_NUMBER}};
    s->bidi = 0;
}

typedef struct {
    ArtSetting setting;
    int important; /* 0: the others, 1: these alone */
    gboolean any_important;
    gboolean variables; /* only these */
} Inline;

/* Names with the prefix -webkit- that browsers treat as the names without it. */
static gboolean is_alias(const char *name)
{
    static const char *const names[] = {"transform",
                                        "transform-origin",
                                        "clip-path",
                                        "mask",
                                        "mask-image",
                                        "filter",
                                        "opacity",
                                        "writing-mode",
                                        "font-feature-settings",
                                        "font-kerning",
                                        "font-variant-ligatures",
                                        "text-orientation",
                                        "text-decoration",
                                        "text-decoration-line",
                                        "text-decoration-color",
                                        "text-decoration-style"};
    for (gsize i = 0; i < G_N_ELEMENTS(names); i++)
        if (strcmp(names[i], name) == 0)
            return TRUE;
    return FALSE;
}

static void set(ArtSetting *s, ArtName id, const char *name, const char *value)
{
    if (!s->node) {
        dt_art_property_set(s, id, value);
        return;
    }
    if (!dt_art_property_set(s, id, value) && !strstr(value, "var("))
        dt_art_note(s->root->reader, s->node, "%s: %.60s is not understood: ignored", name,
                    *value ? value : "''");
    if (strstr(value, "revert-layer"))
        dt_art_note(s->root->reader, s->node, "%s: revert-layer is drawn as unset", name);
}

/* A property that is not drawn: noted if it has an effect. */
static void tell_undrawn(const ArtSetting *s, const char *name, const char *value)
{
    if (!s->node)
        return;
    switch (dt_art_known_property(name)) {
    case ART_KNOWN_NOTHING:
        break;
    case ART_KNOWN_BOX:
        if (!s->node->parent && !dt_art_is_no_request(value))
            dt_art_note(s->root->reader, s->node, "%s: of the outermost <svg> is not drawn", name);
        break;
    case ART_KNOWN_NOTED:
        if (!dt_art_is_no_request(value))
            dt_art_note(s->root->reader, s->node, "%s: %.60s is not drawn", name, value);
        break;
    case ART_KNOWN_NOT:
        dt_art_note(s->root->reader, s->node, "there is no property %s: ignored", name);
    }
}

static void apply_declaration(const char *name, char *value, gboolean important, void *user)
{
    Inline *in = user;
    in->any_important |= important;
    if (important != in->important)
        return;
    if (in->variables) {
        if (name[0] == '-' && name[1] == '-')
            dt_art_variable_set(&in->setting, name, value);
        return;
    }
    ArtName id = dt_art_name_of(name);
    if (id == ART_NAME_OTHER && g_str_has_prefix(name, "-webkit-") && is_alias(name + 8))
        id = dt_art_name_of(name + 8);
    if (dt_art_is_property(id))
        set(&in->setting, id, name, value);
    else
        tell_undrawn(&in->setting, name, value);
}

/* Properties that are not attributes: SVG 2, 6.6. */
static gboolean is_css_alone(ArtName name)
{
    switch (name) {
    case ART_P_MIX_BLEND_MODE:
    case ART_P_TRANSFORM_BOX:
    case ART_P_TEXT_TRANSFORM:
    case ART_P_ISOLATION:
    case ART_P_BACKGROUND:
    case ART_P_BACKGROUND_COLOR:
    case ART_P_COLOR_SCHEME:
    case ART_P_TRANSLATE:
    case ART_P_SCALE:
    case ART_P_ROTATE_PROPERTY:
    case ART_P_OFFSET_PATH:
    case ART_P_OFFSET_DISTANCE:
    case ART_P_OFFSET_ROTATE:
    case ART_P_OFFSET_ANCHOR:
    case ART_P_OFFSET_POSITION:
    case ART_P_TEXT_ORIENTATION:
    case ART_P_MASK_IMAGE:
    case ART_P_TEXT_DECORATION_LINE:
    case ART_P_TEXT_DECORATION_STYLE:
    case ART_P_TEXT_DECORATION_COLOR:
    case ART_P_TEXT_DECORATION_THICKNESS:
    case ART_P_TEXT_UNDERLINE_OFFSET:
    case ART_P_WHITE_SPACE_COLLAPSE:
    case ART_P_FONT_WIDTH:
    case ART_P_FONT_KERNING:
    case ART_P_FONT_FEATURE_SETTINGS:
    case ART_P_FONT_VARIATION_SETTINGS:
    case ART_P_FONT_VARIANT_CAPS:
    case ART_P_FONT_VARIANT_LIGATURES:
    case ART_P_FONT_VARIANT_NUMERIC:
    case ART_P_FONT_VARIANT_EAST_ASIAN:
    case ART_P_FONT_VARIANT_POSITION:
        return TRUE;
    default:
        return FALSE;
    }
}

static gboolean is_server(const ArtNode *n)
{
    return n->tag == ART_TAG_LINEAR_GRADIENT || n->tag == ART_TAG_RADIAL_GRADIENT ||
           n->tag == ART_TAG_PATTERN;
}

static void apply_attributes(ArtSetting *s, const ArtNode *n)
{
    for (unsigned i = 0; i < n->n_attrs; i++) {
        ArtName name = n->attrs[i].name;
        if (name == ART_P_XML_SPACE || name == ART_P_XML_LANG)
            dt_art_property_set(s, name, n->attrs[i].value);
        else if (name == ART_P_TRANSFORM && is_server(n))
            continue; /* they have another attribute for it */
        else if (name != ART_NAME_OTHER && name < ART_N_PROPERTIES && !is_css_alone(name))
            set(s, name, n->attrs[i].key, n->attrs[i].value);
    }
}

/* Iterates over the declarations that apply to the element, weakest first. */
static void cascade(const ArtSetting *setting, const ArtNode *n, ArtSheet *sheet,
                    gboolean variables)
{
    const char *text = dt_art_attr(n, ART_AT_STYLE);
    Inline in = {*setting, FALSE, FALSE, variables}, own;
    in.setting.css = TRUE;
    own = in;
    if (sheet)
        dt_art_sheet_match(sheet, n, FALSE, apply_declaration, &in);
    if (text)
        dt_art_css_declarations(text, strlen(text), apply_declaration, &own);
    if (sheet) {
        in.important = TRUE;
        dt_art_sheet_match(sheet, n, TRUE, apply_declaration, &in);
    }
    if (text && own.any_important) {
        own.important = TRUE;
        dt_art_css_declarations(text, strlen(text), apply_declaration, &own);
    }
}

/* The state in which a CSS animation ends. */
static void finish_animation(const ArtSetting *setting, const ArtNode *n, ArtSheet *sheet)
{
    const char *name = setting->style->animation_name;
    const char *what = name ? name : setting->style->animation;
    gsize len = 0;
    const char *end = dt_art_animation_end(setting->style, sheet, &len);
    Inline in = {*setting, FALSE, FALSE, FALSE};
    if (end)
        dt_art_css_declarations(end, len, apply_declaration, &in);
    if (strcmp(what, "none") != 0)
        dt_art_note(setting->root->reader, n,
                    "animation: %.60s is drawn as it is when it has ended", what);
}

/* A length relative to the element's font is inherited as computed: CSS Values 4, 5.1.1. */
static void settle(ArtLength *l, const ArtStyle *s, const ArtRoot *root)
{
    static const gboolean by_font[] = {
        [ART_UNIT_EM] = TRUE, [ART_UNIT_EX] = TRUE, [ART_UNIT_CH] = TRUE,   [ART_UNIT_CAP] = TRUE,
        [ART_UNIT_IC] = TRUE, [ART_UNIT_LH] = TRUE, [ART_UNIT_MATH] = FALSE};
    if (l->unit == ART_UNIT_MATH && strchr(l->math, '%'))
        l->value = l->value > 0 ? l->value : s->font_size;
    else if (by_font[l->unit] || l->unit == ART_UNIT_MATH)
        *l = (ArtLength){.value = dt_art_px_of(*l, s, 0, root), .unit = ART_UNIT_PX};
}

static void settle_lengths(ArtStyle *s, const ArtStyle *parent, ArtStore *store,
                           const ArtRoot *root)
{
    settle(&s->stroke_width, s, root);
    settle(&s->dash_offset, s, root);
    settle(&s->letter_spacing, s, root);
    settle(&s->word_spacing, s, root);
    if (s->dash.n == 0 || s->dash.lengths == parent->dash.lengths)
        return;
    ArtLength *lengths = dt_art_store_alloc(store, s->dash.n * sizeof *lengths);
    for (gsize i = 0; i < s->dash.n; i++) {
        lengths[i] = s->dash.lengths[i];
        settle(&lengths[i], s, root);
    }
    s->dash.lengths = lengths;
}

void dt_art_style_compute(ArtStyle *out, const ArtStyle *parent, const ArtNode *n, ArtSheet *sheet,
                          ArtStore *store, const ArtRoot *root)
{
    *out = *parent;
    reset_own(out);
    ArtSetting setting = {out, parent, store, root, n, FALSE};
    if (root->registered)
        dt_art_variables_inherit(&setting);
    if (root->variables) { /* wherever they are declared, they apply to the whole element */
        cascade(&setting, n, sheet, TRUE);
        dt_art_variables_compute(&setting);
    }
    apply_attributes(&setting, n);
    cascade(&setting, n, sheet, FALSE);
    if (out->animation || out->animation_name)
        finish_animation(&setting, n, sheet);
    settle_lengths(out, parent, store, root);
}

double dt_art_px_of(ArtLength l, const ArtStyle *s, double whole, const ArtRoot *root)
{
    ArtScope scope = {.vw = whole, .vh = whole};
    return dt_art_px(l, s, &scope, ART_ALONG_X, root);
}

double dt_art_px(ArtLength l, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                 const ArtRoot *root)
{
    switch (l.unit) {
    case ART_UNIT_NUMBER:
    case ART_UNIT_PX:
        return l.value;
    case ART_UNIT_PERCENT: {
        double whole = along == ART_ALONG_X   ? scope->vw
                       : along == ART_ALONG_Y ? scope->vh
                                              : hypot(scope->vw, scope->vh) / sqrt(2);
        return l.value / 100 * whole;
    }
    case ART_UNIT_EM:
        return l.value * s->font_size;
    case ART_UNIT_EX:
    case ART_UNIT_CH:
    case ART_UNIT_CAP:
    case ART_UNIT_IC:
        return l.value * dt_art_font_unit(s, l.unit, root);
    case ART_UNIT_LH:
        return l.value * dt_art_font_unit(s, l.unit, root);
    case ART_UNIT_RLH:
        return l.value * dt_art_font_unit(s, l.unit, root) * root->rem / MAX(s->font_size, 1e-9);
    case ART_UNIT_MATH: {
        if (!(l.value > 0) || l.value == s->font_size)
            return dt_art_math_px(l.math, s, scope, along, root);
        ArtStyle there = *s;
        there.font_size = l.value;
        return dt_art_math_px(l.math, &there, scope, along, root);
    }
    case ART_UNIT_REM:
        return l.value * root->rem;
    case ART_UNIT_PT:
        return l.value * 96 / 72;
    case ART_UNIT_PC:
        return l.value * 16;
    case ART_UNIT_MM:
        return l.value * 96 / 25.4;
    case ART_UNIT_CM:
        return l.value * 96 / 2.54;
    case ART_UNIT_Q:
        return l.value * 96 / 101.6;
    case ART_UNIT_IN:
        return l.value * 96;
    case ART_UNIT_VW:
        return l.value / 100 * root->vw;
    case ART_UNIT_VH:
        return l.value / 100 * root->vh;
    case ART_UNIT_VMIN:
        return l.value / 100 * MIN(root->vw, root->vh);
    case ART_UNIT_VMAX:
        return l.value / 100 * MAX(root->vw, root->vh);
    }
    return l.value;
}
