/* style, private: values of attributes and properties, and the computed style of an element. */
#pragma once

#include "art/tree.h"

/* Values --------------------------------------------------------------------------------------- */

typedef enum {
    ART_UNIT_NUMBER,
    ART_UNIT_PX,
    ART_UNIT_PERCENT,
    ART_UNIT_EM,
    ART_UNIT_EX,
    ART_UNIT_CH,
    ART_UNIT_REM,
    ART_UNIT_PT,
    ART_UNIT_PC,
    ART_UNIT_MM,
    ART_UNIT_CM,
    ART_UNIT_Q,
    ART_UNIT_IN,
    ART_UNIT_VW,
    ART_UNIT_VH,
    ART_UNIT_VMIN,
    ART_UNIT_VMAX,
    ART_UNIT_CAP,
    ART_UNIT_IC,
    ART_UNIT_LH,
    ART_UNIT_RLH,
    ART_UNIT_MATH, /* a math function with units that depend on the place */
} ArtUnit;

typedef struct {
    double
        value; /* ART_UNIT_MATH: the font size in px where it was declared; 0: where it is used */
    ArtUnit unit;
    const char *math; /* ART_UNIT_MATH: the function as written, up to its closing bracket */
} ArtLength;

typedef enum { ART_ALONG_X, ART_ALONG_Y, ART_ALONG_BOTH } ArtAlong; /* the reference of 100% */

static inline gboolean art_is_space(char c)
{
    return c <= ' ' && (c == ' ' || c == '\n' || c == '\t' || c == '\r' || c == '\f');
}
static inline const char *art_skip_space(const char *s)
{
    while (art_is_space(*s))
        s++;
    return s;
}
/* Spaces with at most one comma. */
static inline const char *art_skip_comma(const char *s)
{
    s = art_skip_space(s);
    return *s == ',' ? art_skip_space(s + 1) : s;
}
static inline gboolean art_is_digit(char c)
{
    return (unsigned char)(c - '0') < 10;
}
extern const double dt_art_powers[]; /* of ten, from 0 to 22 */
gboolean dt_art_any_number(const char **s, double *out);
/* Reads a number by the SVG grammar at *s and advances; FALSE and unmoved if there is none. This
 * is the fast path for nearly all numbers: at most 18 digits and no exponent. */
static inline gboolean art_number(const char **s, double *out)
{
    const char *p = *s;
    gboolean minus = *p == '-';
    p += minus;
    guint64 mantissa = 0;
    const char *start = p;
    for (; art_is_digit(*p); p++)
        mantissa = mantissa * 10 + (guint64)(*p - '0');
    gsize whole = (gsize)(p - start), fraction = 0;
    if (*p == '.') {
        const char *point = ++p;
        for (; art_is_digit(*p); p++)
            mantissa = mantissa * 10 + (guint64)(*p - '0');
        fraction = (gsize)(p - point);
        if (fraction == 0)
            return dt_art_any_number(s, out);
    }
    if (whole + fraction - 1 >= 18 || (*p | 0x20) == 'e') /* wraps around if there are none */
        return dt_art_any_number(s, out);
    double value = (double)(gint64)mantissa; /* below 10^18 */
    if (fraction > 0)
        value /= dt_art_powers[fraction];
    *out = minus ? -value : value;
    *s = p;
    return TRUE;
}
gboolean dt_art_length_at(const char **s, ArtLength *out);
/* A list of strings and of names of one or more identifiers: CSS Fonts 3, 3.1. A name that
 * contains anything else, such as a number, invalidates the whole declaration. */
gboolean dt_art_is_family_list(const char *text);
gboolean dt_art_length(const char *s, ArtLength *out); /* the whole text */
/* A number, or a math function of numbers. */
gboolean dt_art_number_at(const char **s, double *out);
/* An angle in degrees; a bare number counts as degrees. */
gboolean dt_art_angle_at(const char **s, double *degrees);

/* Math functions (CSS Values 4, 10). */
typedef enum { ART_MATH_NUMBER, ART_MATH_LENGTH, ART_MATH_ANGLE } ArtMathKind;
typedef struct {
    double value; /* a length in px, an angle in degrees */
    ArtMathKind kind;
    gboolean percent;  /* has percentages: kind is that of their reference */
    gboolean relative; /* depends on the place */
} ArtMath;
/* The function at *s; FALSE and unmoved if there is none, or its kinds are mixed. */
gboolean dt_art_math_at(const char **s, ArtMath *out);
/* Whether a text contains any. */
gboolean dt_art_has_math(const char *text);
/* Lengths or numbers separated by spaces and commas; NULL if malformed or empty. g_free. */
ArtLength *dt_art_length_list(const char *s, gsize *n);
/* A transform attribute: SVG 2, 8.5. */
gboolean dt_art_transform(const char *s, DtAffine *out);
double dt_art_linear(double v); /* from sRGB, 0 to 1: IEC 61966-2-1 */
double dt_art_unlinear(double v);

/* The context of a style's colours. */
typedef struct {
    const DtColour *current; /* currentColor; NULL where it is not known yet */
    gboolean dark;           /* the scheme of light-dark() */
} ArtColourScene;

typedef struct {
    DtColour colour;
    gboolean current;       /* it is currentColor */
    gboolean mixes_current; /* it is made from currentColor */
    gboolean mapped;        /* it was outside sRGB */
    gboolean system;        /* it is left to the system */
    gboolean modern;        /* of a kind introduced by Color 4: browsers blend it in OKLab */
} ArtColourRead;

/* A colour of CSS Color 4 and 5 at *s; FALSE and unmoved where there is none. `scene` may be NULL. */
gboolean dt_art_colour_at(const char **s, const ArtColourScene *scene, ArtColourRead *out);

/* Style ---------------------------------------------------------------------------------------- */

typedef enum {
    ART_PAINT_NONE,
    ART_PAINT_COLOUR,
    ART_PAINT_CURRENT,
    ART_PAINT_SERVER,
    ART_PAINT_CONTEXT_FILL, /* of the shape with the marker, or of the use */
    ART_PAINT_CONTEXT_STROKE,
} ArtPaintKind;

typedef struct {
    ArtPaintKind kind;
    ArtPaintKind fallback; /* the server does not exist */
    DtColour colour;       /* of ART_PAINT_COLOUR, or of the fallback */
    const char *mix;    /* ART_PAINT_CURRENT: the colour made from currentColor; NULL for itself */
    const char *server; /* "#id" */
    gboolean has_fallback; /* a fallback is written */
} ArtPaint;

typedef struct {
    const ArtLength *lengths;
    gsize n;
} ArtDash;

typedef struct {
    DtColour colour;
    gboolean current, modern; /* as in ArtColourRead */
    const char *mix;          /* as in ArtPaint */
} ArtColour;

typedef enum { ART_ANCHOR_START, ART_ANCHOR_MIDDLE, ART_ANCHOR_END } ArtAnchor;

typedef enum {
    ART_BASELINE_AUTO,
    ART_BASELINE_ALPHABETIC,
    ART_BASELINE_MIDDLE,
    ART_BASELINE_CENTRAL,
    ART_BASELINE_HANGING,
    ART_BASELINE_BEFORE, /* before-edge, text-top */
    ART_BASELINE_AFTER,  /* after-edge, text-bottom, ideographic */
    ART_BASELINE_MATHEMATICAL,
} ArtBaseline;

enum {
    ART_CASE_AS_IS,
    ART_CASE_UPPER,
    ART_CASE_LOWER,
    ART_CASE_CAPITAL,
    ART_CASE_FULL_WIDTH
}; /* text-transform */

/* transform-origin: CSS Transforms 1, 8. */
typedef struct {
    ArtLength x, y;
    gboolean given;
} ArtOrigin;

typedef struct {
    ArtLength length;
    gboolean given; /* not auto */
} ArtAutoLength;

/* Features of fonts that properties ask for: CSS Fonts 4, 6. */
enum {
    ART_FEATURE_NO_LIGATURES = 1,
    ART_FEATURE_NO_COMMON = 2,
    ART_FEATURE_DISCRETIONARY = 4,
    ART_FEATURE_HISTORICAL = 8,
    ART_FEATURE_NO_CONTEXTUAL = 16,
    ART_FEATURE_LINING = 1,
    ART_FEATURE_OLD_STYLE = 2,
    ART_FEATURE_PROPORTIONAL = 4,
    ART_FEATURE_TABULAR = 8,
    ART_FEATURE_FRACTIONS = 16,
    ART_FEATURE_STACKED = 32,
    ART_FEATURE_ORDINAL = 64,
    ART_FEATURE_SLASHED_ZERO = 128,
    ART_FEATURE_JIS78 = 1,
    ART_FEATURE_JIS83 = 2,
    ART_FEATURE_JIS90 = 4,
    ART_FEATURE_JIS04 = 8,
    ART_FEATURE_SIMPLIFIED = 16,
    ART_FEATURE_TRADITIONAL = 32,
    ART_FEATURE_FULL_WIDTH = 64,
    ART_FEATURE_NARROW = 128,
    ART_FEATURE_RUBY = 256,
    ART_FEATURE_SUBS = 1,
    ART_FEATURE_SUPS = 2,
};

typedef enum { ART_BOX_VIEW, ART_BOX_FILL, ART_BOX_STROKE } ArtBoxKind;
typedef enum {
    ART_WRITING_ACROSS,
    ART_WRITING_DOWN,
    ART_WRITING_SIDEWAYS_RL,
    ART_WRITING_SIDEWAYS_LR
} ArtWriting;
typedef enum {
    ART_ORIENTATION_MIXED,
    ART_ORIENTATION_UPRIGHT,
    ART_ORIENTATION_SIDEWAYS
} ArtOrientation;
typedef enum {
    ART_LINE_SOLID,
    ART_LINE_DOUBLE,
    ART_LINE_DOTTED,
    ART_LINE_DASHED,
    ART_LINE_WAVY
} ArtLineStyle;
typedef enum {
    ART_BLEND_NORMAL,
    ART_BLEND_MULTIPLY,
    ART_BLEND_SCREEN,
    ART_BLEND_OVERLAY,
    ART_BLEND_DARKEN,
    ART_BLEND_LIGHTEN,
    ART_BLEND_DODGE,
    ART_BLEND_BURN,
    ART_BLEND_HARD_LIGHT,
    ART_BLEND_SOFT_LIGHT,
    ART_BLEND_DIFFERENCE,
    ART_BLEND_EXCLUSION,
    ART_BLEND_HUE,
    ART_BLEND_SATURATION,
    ART_BLEND_COLOR,
    ART_BLEND_LUMINOSITY,
    ART_BLEND_PLUS_LIGHTER,
} ArtBlend;

enum { ART_UNDERLINE = 1, ART_OVERLINE = 2, ART_LINE_THROUGH = 4, ART_MISSPELT = 8 };
enum { ART_SHIFT_LENGTH, ART_SHIFT_SUB, ART_SHIFT_SUPER };

typedef struct {
    int kind;
    ArtLength length;
} ArtShift;

/* Attributes of shapes that a style may set as well. */
enum {
    ART_GEOMETRY_X,
    ART_GEOMETRY_Y,
    ART_GEOMETRY_WIDTH,
    ART_GEOMETRY_HEIGHT,
    ART_GEOMETRY_CX,
    ART_GEOMETRY_CY,
    ART_GEOMETRY_R,
    ART_GEOMETRY_RX,
    ART_GEOMETRY_RY,
    ART_N_GEOMETRY
};

typedef struct {
    ArtPaint fill, stroke;
    ArtColour color, stop_color;
    double fill_opacity, stroke_opacity, stop_opacity, opacity;
    int fill_rule, clip_rule; /* DtFillRule */
    ArtLength stroke_width, dash_offset;
    ArtDash dash;
    int cap, join; /* DtCap, DtJoin */
    double miter_limit;
    gboolean fixed_stroke; /* vector-effect: non-scaling-stroke */
    char paint_order[3];   /* 'f', 's', 'm' in painting order */
    gboolean display, hidden, overflow /* visible */;
    int blend;               /* mix-blend-mode: ArtBlend */
    gboolean isolated, dark; /* isolation; color-scheme */
    gboolean filter_in_srgb; /* color-interpolation-filters */
    ArtColour flood_color, lighting_color;
    double flood_opacity;
    const char *background;                                  /* of the outermost <svg> */
    const char *animation, *animation_name, *animation_fill; /* NULL where not set */
    gboolean mask_by_alpha;                                  /* mask-type: alpha */
    gboolean linear_colours;                                 /* color-interpolation: linearRGB */
    const char *clip_path, *mask; /* "#id", or a basic shape or picture; NULL */
    const char *filter;           /* a list of functions and url("#id"); NULL */
    const char *marker_start, *marker_mid, *marker_end;
    DtAffine transform;
    const char *moving; /* a transform list that depends on the box; NULL: `transform` is
                         * complete */
    ArtOrigin origin;
    int transform_box;                      /* ArtBoxKind */
    const char *translate, *rotate, *scale; /* CSS Transforms 2, 5; NULL for none */
    const char *offset_path, *offset_rotate, *offset_anchor, *offset_position; /* NULL: initial */
    ArtLength offset_distance;
    const char *path_data; /* the property d */
    const struct ArtVariable *variables;
    ArtLength geometry[ART_N_GEOMETRY]; /* if set by a style (SVG 2, 7.5) */
    unsigned geometry_set;              /* a bit for each of them */
    unsigned geometry_auto;             /* a bit for each that a style resets to `auto` */
    /* text */
    double font_size; /* px */
    gboolean
        size_is_said; /* as a length, here or by an ancestor; else it goes by the usual size of text */
    const char *font_family; /* dt_art_no_family if none is named */
    const char *lang;
    int font_style, font_weight, font_stretch, small_caps; /* 0 normal; Pango's values */
    ArtLength letter_spacing, word_spacing;
    int anchor, baseline, alignment, decoration;
    ArtShift baseline_shift;
    gboolean rtl, keep_space;
    int vertical; /* ArtWriting */
    int bidi, letter_case;
    int orientation; /* ArtOrientation */
    gboolean no_kerning;
    int ligatures, numerals, east_asian, glyph_position; /* bits of ArtFeature */
    const char *features, *variations;                   /* NULL where none */
    double size_adjust;                                  /* font-size-adjust; 0 for none */
    int decoration_style;                                /* ArtLineStyle */
    ArtColour decoration_color;
    gboolean decoration_painted; /* in decoration_color */
    ArtAutoLength decoration_thickness, underline_offset;
} ArtStyle;

/* Reference sizes of the whole drawing, px: the font size of the root and the page. */
typedef struct {
    double rem, vw, vh;
    gboolean variables; /* var() is somewhere in the file */
    ArtReader *reader;
    GHashTable *registered; /* custom properties of @property; NULL for none */
} ArtRoot;

typedef struct ArtSheet ArtSheet; /* all rules of the drawing's style sheets */

void dt_art_style_initial(ArtStyle *s);
/* The style of `n` from its parent's computed style, its attributes and the sheets. */
void dt_art_style_compute(ArtStyle *out, const ArtStyle *parent, const ArtNode *n, ArtSheet *sheet,
                          ArtStore *store, const ArtRoot *root);
gboolean dt_art_shape_is_valid(const char *text); /* as clip-path */
/* Skips spaces and comments. */
const char *dt_art_css_skip(const char *s, const char *end);
/* The position of the first of `stops` outside quotes, brackets and comments, or the end. */
const char *dt_art_css_find(const char *s, const char *end, const char *stops);
/* The font-family of text that names none: a separate family, distinguished by its address. */
extern const char dt_art_no_family[];
/* A colour of the style, currentColor resolved. */
DtColour dt_art_colour_of(const ArtColour *c, const ArtStyle *s);

typedef struct {
    ArtStyle *style;
    const ArtStyle *parent;
    ArtStore *store;
    const ArtRoot *root;
    const ArtNode *node; /* for notes; NULL if none are wanted */
    gboolean css;        /* a declaration, not an attribute */
} ArtSetting;

/* Sets one property from its text. FALSE, with the property unchanged, if the value is malformed
 * or has no meaning here. */
gboolean dt_art_property_set(ArtSetting *s, ArtName name, const char *value);

/* Whether a name is a property that is drawn, including shorthands and geometry. */
gboolean dt_art_is_property(ArtName name);

/* Custom properties, those set last first. */
typedef struct ArtVariable {
    const struct ArtVariable *next;
    const char *name, *value;
} ArtVariable;

/* @property: its syntax, whether it is inherited, and its initial value or NULL. */
void dt_art_variable_register(ArtRoot *root, const char *name, const char *syntax,
                              gboolean inherited, const char *initial);
void dt_art_variables_free(ArtRoot *root);
/* Removes those that are not inherited from what an element has from its parent. */
void dt_art_variables_inherit(ArtSetting *s);
void dt_art_variable_set(ArtSetting *s, const char *name, const char *value);
/* Replaces the variables in the values that were set on the element itself. */
void dt_art_variables_compute(ArtSetting *s);
/* Whether a text contains var() or env(). */
gboolean dt_art_has_variables(const char *text, gsize len);
/* The value with each var() replaced, "unset" if that is impossible; g_free. */
char *dt_art_variables_in(const ArtStyle *s, const ArtRoot *root, const char *value);

/* The index of a geometry property in ArtStyle.geometry; -1 for any other name. */
int dt_art_geometry_slot(ArtName name);
/* Iterates over "name: value; ..." declarations. `value` is NUL-terminated during the call. */
typedef void (*ArtDeclaration)(const char *name, char *value, gboolean important, void *user);
void dt_art_css_declarations(const char *text, gsize len, ArtDeclaration call, void *user);

ArtSheet *dt_art_sheet_new(ArtReader *r); /* NULL where there are no rules */
/* The block of @keyframes with that name; NULL if there is none. */
const char *dt_art_sheet_keyframes(const ArtSheet *s, const char *name);
void dt_art_sheet_free(ArtSheet *s);
/* Calls back for each declaration that matches, weakest first. */
void dt_art_sheet_match(ArtSheet *s, const ArtNode *n, gboolean important, ArtDeclaration call,
                        void *user);
/* Whether the limit of work was exceeded, so that rules were left out. */
gboolean dt_art_sheet_is_beyond(const ArtSheet *s);

static inline gboolean art_same_map(DtAffine a, DtAffine b)
{
    return a.xx == b.xx && a.yx == b.yx && a.xy == b.xy && a.yy == b.yy && a.x0 == b.x0 &&
           a.y0 == b.y0;
}
