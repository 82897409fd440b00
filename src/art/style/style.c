/* style: the computed style of an element: the cascade, and lengths in user units. */
#include "art/private.h"

#include <math.h>

void dt_art_style_initial(ArtStyle *s)
{
    *s = (ArtStyle){
        .fill = {.kind = ART_PAINT_COLOUR, .colour = {0, 0, 0, 1}},
        .stroke = {.kind = ART_PAINT_NONE},
        .color = {{0, 0, 0, 1}, FALSE},
        .stop_color = {{0, 0, 0, 1}, FALSE},
        .fill_opacity = 1,
        .stroke_opacity = 1,
        .stop_opacity = 1,
        .opacity = 1,
        .stroke_width = {1, ART_UNIT_NUMBER},
        .miter_limit = 4,
        .paint_order = {'f', 's', 'm'},
        .display = TRUE,
        .transform = DT_AFFINE_IDENTITY,
        .font_size = 16,
        .font_family = "serif",
        .font_weight = 400,
        .font_stretch = 4,
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
    s->stop_color = (ArtColour){{0, 0, 0, 1}, FALSE};
    s->stop_opacity = s->opacity = 1;
    s->fixed_stroke = s->blended = s->mask_by_alpha = FALSE;
    s->display = TRUE;
    s->overflow = FALSE;
    s->clip_path = s->mask = s->filter = NULL;
    s->transform = DT_AFFINE_IDENTITY;
    s->origin.given = s->own_box = FALSE;
    s->path_data = NULL;
    s->alignment = ART_BASELINE_AUTO;
    s->decoration = 0;
    s->baseline_shift = (ArtShift){ART_SHIFT_LENGTH, {0, ART_UNIT_NUMBER}};
    s->bidi = 0;
}

typedef struct {
    ArtSetting setting;
    int important; /* 0: the others, 1: these alone */
    gboolean any_important;
    gboolean variables; /* these alone */
} Inline;

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
    if (id != ART_P_XML_SPACE && id != ART_P_XML_LANG)
        dt_art_property_set(&in->setting, id, value);
}

/* Properties that others are computed from come first: the attributes are gone through twice. */
static void apply_attributes(ArtSetting *s, const ArtNode *n)
{
    for (unsigned i = 0; i < n->n_attrs; i++) {
        ArtName name = n->attrs[i].name;
        if (name != ART_NAME_OTHER && name < ART_N_PROPERTIES)
            dt_art_property_set(s, name, n->attrs[i].value);
    }
}

/* Goes through the declarations that hold for the element, weakest first. */
static void cascade(const ArtSetting *setting, const ArtNode *n, ArtSheet *sheet,
                    gboolean variables)
{
    const char *text = dt_art_attr(n, ART_AT_STYLE);
    Inline in = {*setting, FALSE, FALSE, variables}, own = in;
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

void dt_art_style_compute(ArtStyle *out, const ArtStyle *parent, const ArtNode *n, ArtSheet *sheet,
                       ArtStore *store, const ArtRoot *root)
{
    *out = *parent;
    reset_own(out);
    ArtSetting setting = {out, parent, store, root};
    if (root->variables) /* wherever they are set, they hold for all of the element */
        cascade(&setting, n, sheet, TRUE);
    apply_attributes(&setting, n);
    cascade(&setting, n, sheet, FALSE);
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
        return l.value * s->font_size / 2;
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
