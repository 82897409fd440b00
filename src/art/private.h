/* art, private: what the room's files share. A drawing is read in two steps: xml.c makes a
 * compact tree of nodes in an arena, walk.c goes through it in painting order with the computed
 * style (style.c) and emits shapes (add-shape.c). Everything that the finished drawing points at
 * lives in one store and is freed at once. */
#pragma once

#include "drawtrue/art.h"
#include "art/style/names.h"
#include "drawtrue/base.h"

#include <string.h>

/* Limits, so that no input can take more than its share. */
#define ART_MAX_BYTES ((gsize)256 << 20)       /* of XML, after decompression */
#define ART_MAX_ENTITY_BYTES ((gsize)16 << 20) /* all entity references together, expanded */
#define ART_MAX_DEPTH 1024                     /* nested elements, references followed */
#define ART_MAX_VISITS ((gsize)1 << 20)        /* elements reached through references */
#define ART_MAX_POINTS ((gsize)16 << 20)       /* points in all outlines */
#define ART_MAX_LETTERS (1 << 18)              /* of one text */
#define ART_MAX_TRACED ((gsize)1 << 28)        /* pixels of all that is traced: masks, strokes */
#define ART_MAX_LEVELS ((gsize)64 << 20)       /* pixels of masks of half tones */
#define ART_MAX_TILES 20000                    /* of one pattern fill */
#define ART_MAX_TILED 400000                   /* elements in all tiles of all patterns */
#define ART_MAX_ATTRIBUTES 10000               /* of one element of more than 64 kB */
#define ART_MAX_BOXES 5 /* found within one another */
#define ART_MAX_VARIABLES ((gsize)64 << 20)    /* bytes of custom properties */
#define ART_MAX_MATCHES ((gsize)1 << 26)       /* selectors held against elements */
#define ART_MAX_SIBLINGS (1 << 30)             /* that a selector counts */
#define ART_MAX_COORDINATE 1e7                 /* mm: ten kilometres; farther is not a drawing */
#define ART_MM_PER_PX (25.4 / 96)              /* CSS Values and Units 3, 6.2 */

/* Store ---------------------------------------------------------------------------------------- */

typedef struct DtArtStore ArtStore;

struct DtArtStore {
    struct ArtChunk *chunks;
    char *at, *end;
    GPtrArray *tones;  /* of DtTone *, in the arena; for dt_art_place() */
    GPtrArray *softs;  /* of DtSoft *, the same */
    GPtrArray *blocks; /* pixels and long outlines, g_free */
    gsize variables;   /* bytes of custom properties */
    char *source;      /* the XML, NUL-terminated: values of attributes may lie in it */
};

ArtStore *dt_art_store_new(void);
void dt_art_store_free(ArtStore *s);
void *dt_art_store_alloc(ArtStore *s, gsize size); /* 16-byte aligned, not cleared */
void *dt_art_store_zero(ArtStore *s, gsize size);
char *dt_art_store_text(ArtStore *s, const char *text, gsize len); /* NUL-terminated copy */
/* Asks for large pages in a block that will be filled: most of the time that a large drawing takes
 * in the kernel goes into one page after the other. */
void dt_art_expect_use(void *room, gsize size);

/* Tree ----------------------------------------------------------------------------------------- */

typedef struct {
    ArtName name;
    const char *key;   /* as written, without prefix unless it is xml: or xlink: */
    const char *value; /* entities replaced; NUL-terminated */
} ArtAttr;

typedef struct ArtReader ArtReader;
typedef struct ArtNode ArtNode;
struct ArtNode {
    ArtTag tag;
    int line;
    unsigned n_attrs;
    unsigned busy; /* being walked through a reference: guards against cycles */
    ArtAttr *attrs;
    ArtNode *parent, *first, *last, *next, *before;
    struct ArtPlace *place; /* among its siblings, where a style sheet asks for that; else NULL */
    const char *id, *classes;
    const char *local; /* element name as written */
    const char *words; /* ART_TAG_WORDS */
};

/* A name that means nothing here; `why` is a format of one string. */
typedef struct {
    const ArtNode *node;
    const char *name, *why;
} ArtUndrawn;

typedef struct {
    ArtStore *store;
    ArtNode *root;
    GPtrArray *undrawn;  /* of ArtUndrawn, in the store */
    gboolean namespaced; /* the outermost element is in SVG's namespace */
    GHashTable *by_id;   /* id → ArtNode *, the first of that id; NULL until asked */
    gsize n_nodes;
    const char *name; /* of the file, for messages */
    gboolean has_sheets, has_variables;
    int outside_sheet; /* line that asks for a style sheet of another file; 0 for none */
} ArtDoc;

/* Reads the store's source, `len` bytes and a NUL, and ends values of attributes in it. */
gboolean dt_art_xml_parse(ArtDoc *doc, gsize len, GError **error);
void dt_art_doc_clear(ArtDoc *doc);
ArtNode *dt_art_next_node(const ArtNode *n);             /* in the order of the document */
const char *dt_art_attr(const ArtNode *n, ArtName name); /* NULL where absent */
/* What href or xlink:href points at within the file; NULL where absent, elsewhere or missing. */
const char *dt_art_href(const ArtNode *n);
ArtNode *dt_art_target(ArtDoc *doc, const char *reference); /* "#id" */

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
    ART_UNIT_MATH, /* a math function of units that depend on where it stands */
} ArtUnit;

typedef struct {
    double value; /* ART_UNIT_MATH: the font size in px where it was declared; 0: where it is used */
    ArtUnit unit;
    const char *math; /* ART_UNIT_MATH: the function as written, up to its closing bracket */
} ArtLength;

typedef enum { ART_ALONG_X, ART_ALONG_Y, ART_ALONG_BOTH } ArtAlong; /* what 100% is taken from */

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
/* Reads a number by the SVG grammar at *s and moves on; FALSE and unmoved where there is none. Here
 * is the short way for what nearly all numbers are: at most 18 digits and no exponent. */
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
    if (whole + fraction - 1 >= 18 || (*p | 0x20) == 'e') /* none at all wraps around */
        return dt_art_any_number(s, out);
    double value = (double)(gint64)mantissa; /* below 10^18 */
    if (fraction > 0)
        value /= dt_art_powers[fraction];
    *out = minus ? -value : value;
    *s = p;
    return TRUE;
}
gboolean dt_art_length_at(const char **s, ArtLength *out);
/* A list of strings and of names of one or more identifiers: CSS Fonts 3, 3.1. A name that holds
 * anything else, such as a number, makes the whole declaration void. */
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
    gboolean percent;  /* has percentages: kind is of what they are taken from */
    gboolean relative; /* depends on where it stands */
} ArtMath;
/* The function at *s; FALSE and unmoved where there is none, or it is of mixed kinds. */
gboolean dt_art_math_at(const char **s, ArtMath *out);
/* Whether a text has any. */
gboolean dt_art_has_math(const char *text);
/* Lengths or numbers separated by spaces and commas; NULL where malformed or empty. g_free. */
ArtLength *dt_art_length_list(const char *s, gsize *n);
/* A transform attribute: SVG 2, 8.5. */
gboolean dt_art_transform(const char *s, DtAffine *out);
double dt_art_linear(double v); /* from sRGB, 0 to 1: IEC 61966-2-1 */
double dt_art_unlinear(double v);

/* What colours of a style depend on. */
typedef struct {
    const DtColour *current; /* currentColor; NULL where it is not known yet */
    gboolean dark;           /* the scheme of light-dark() */
} ArtColourScene;

typedef struct {
    DtColour colour;
    gboolean current;       /* it is currentColor */
    gboolean mixes_current; /* it is made from currentColor */
    gboolean mapped;        /* it lay outside of sRGB */
    gboolean system;        /* it is for the system to choose */
    gboolean modern;        /* of a kind that CSS had not before Color 4: browsers blend it in OKLab */
} ArtColourRead;

/* A colour of CSS Color 4 and 5 at *s; FALSE and unmoved where there is none. `scene` may be NULL. */
gboolean dt_art_colour_at(const char **s, const ArtColourScene *scene, ArtColourRead *out);

/* Style ---------------------------------------------------------------------------------------- */

typedef enum {
    ART_PAINT_NONE,
    ART_PAINT_COLOUR,
    ART_PAINT_CURRENT,
    ART_PAINT_SERVER,
    ART_PAINT_CONTEXT_FILL, /* of the shape that a marker stands on, or of the use */
    ART_PAINT_CONTEXT_STROKE,
} ArtPaintKind;

typedef struct {
    ArtPaintKind kind;
    ArtPaintKind fallback; /* of a server that is missing */
    DtColour colour;       /* of ART_PAINT_COLOUR, or of the fallback */
    const char *mix;    /* ART_PAINT_CURRENT: the colour made from currentColor; NULL for itself */
    const char *server; /* "#id" */
    gboolean has_fallback; /* one is written */
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

/* Attributes of shapes that a style may give as well. */
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
    char paint_order[3];   /* 'f', 's', 'm' in the order of painting */
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
    const char *moving; /* a transform list that depends on the box; NULL: `transform` is all */
    ArtOrigin origin;
    int transform_box;                      /* ArtBoxKind */
    const char *translate, *rotate, *scale; /* CSS Transforms 2, 5; NULL for none */
    const char *offset_path, *offset_rotate, *offset_anchor, *offset_position; /* NULL: initial */
    ArtLength offset_distance;
    const char *path_data; /* the property d */
    const struct ArtVariable *variables;
    ArtLength geometry[ART_N_GEOMETRY]; /* where a style gives it (SVG 2, 7.5) */
    unsigned geometry_set;              /* a bit for each of them */
    unsigned geometry_auto;             /* a bit for each that a style sets back to `auto` */
    /* text */
    double font_size;        /* px */
    const char *font_family; /* dt_art_no_family where none is named */
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

/* What lengths all over the drawing are taken from, px: the font size of the root and the page. */
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
/* The place of the first of `stops` outside quotes, brackets and comments, or the end. */
const char *dt_art_css_find(const char *s, const char *end, const char *stops);
/* The font-family of text that names none: a family by itself, told from others by its address. */
extern const char dt_art_no_family[];
/* A colour of the style, currentColor resolved. */
DtColour dt_art_colour_of(const ArtColour *c, const ArtStyle *s);

typedef struct {
    ArtStyle *style;
    const ArtStyle *parent;
    ArtStore *store;
    const ArtRoot *root;
    const ArtNode *node; /* for notes; NULL where none are wanted */
    gboolean css;        /* a declaration, not an attribute */
} ArtSetting;

/* Sets one property from its text. FALSE where the value is malformed or of no meaning here: the
 * property is as before. */
gboolean dt_art_property_set(ArtSetting *s, ArtName name, const char *value);

/* Whether a name is a property that is drawn, shorthands and geometry included. */
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
/* Takes those that are not inherited out of what an element has from its parent. */
void dt_art_variables_inherit(ArtSetting *s);
void dt_art_variable_set(ArtSetting *s, const char *name, const char *value);
/* Replaces the variables in the values of those that were set on the element itself. */
void dt_art_variables_compute(ArtSetting *s);
/* Whether var() or env() stands in a text. */
gboolean dt_art_has_variables(const char *text, gsize len);
/* The value with each var() replaced, "unset" where that cannot be; g_free. */
char *dt_art_variables_in(const ArtStyle *s, const ArtRoot *root, const char *value);

/* The slot of a geometry property among ArtStyle.geometry; -1 for any other name. */
int dt_art_geometry_slot(ArtName name);
/* Goes through "name: value; ..." declarations. `value` is NUL-terminated for the call. */
typedef void (*ArtDeclaration)(const char *name, char *value, gboolean important, void *user);
void dt_art_css_declarations(const char *text, gsize len, ArtDeclaration call, void *user);

ArtSheet *dt_art_sheet_new(ArtReader *r); /* NULL where there are no rules */
/* The block of @keyframes of that name; NULL for none. */
const char *dt_art_sheet_keyframes(const ArtSheet *s, const char *name);
void dt_art_sheet_free(ArtSheet *s);
/* Calls back for each declaration that matches, weakest first. */
void dt_art_sheet_match(ArtSheet *s, const ArtNode *n, gboolean important, ArtDeclaration call,
                        void *user);
/* Whether the limit of work was passed, so that rules were left out. */
gboolean dt_art_sheet_is_beyond(const ArtSheet *s);

static inline gboolean art_same_map(DtAffine a, DtAffine b)
{
    return a.xx == b.xx && a.yx == b.yx && a.xy == b.xy && a.yy == b.yy && a.x0 == b.x0 &&
           a.y0 == b.y0;
}

/* Walk ----------------------------------------------------------------------------------------- */

typedef struct ArtContext ArtContext;

typedef struct {
    const ArtStyle *style; /* of the parent */
    DtAffine ctm;          /* user units to mm on the page */
    double vw, vh;         /* viewport, user units: what percentages are taken from */
    int clip, group;
    double alpha;       /* product of the opacities so far */
    const DtSoft *soft; /* the half tones of the masks so far */
    int depth;
    const DtBox *object_box; /* of the whole text that a letter belongs to; else NULL */
    ArtContext *context;     /* whose paints context-fill and context-stroke are; else NULL */
} ArtScope;

/* The shape of a marker, or a use, as a source of paint: SVG 2, 13.2. */
struct ArtContext {
    const ArtStyle *style;
    const ArtScope *scope;
    const DtPath *path; /* of the shape, in its user units; NULL for a use, */
    ArtNode *use;       /* which is this */
    gboolean has_box;   /* found once a paint asks for it */
    DtBox box;
};

typedef enum {
    ART_MODE_PAINT, /* shapes into the drawing */
    ART_MODE_CLIP,  /* clip regions into `regions` */
    ART_MODE_BOX,   /* the box of the geometry into `box` */
} ArtMode;

struct ArtReader {
    DtDrawing *d;
    ArtStore *store;
    ArtDoc *doc;
    ArtSheet *sheet;
    DtArtOptions o;
    double tolerance; /* mm */
    GError *error;    /* set once the limits are passed; everything then winds up */
    ArtMode mode;
    GArray *regions; /* of DtClipRegion */
    int region_clip;
    DtBox box;
    GArray *shapes, *clips, *groups, *notes; /* of the drawing */
    struct ArtNotes *noted;
    ArtNode *used; /* what the innermost <use> refers to; NULL outside of any */
    GHashTable *clip_cache;
    GHashTable *memo; /* what was made of an element or text of the tree, in the store */
    gsize pixels;     /* of all images so far */
    DtLines scratch;
    GPtrArray *spare_paths; /* of DtPath *: room to build outlines in */
    gsize visits, points, levels, traced;
    guint backdrop; /* the first shape of the innermost group that is painted by itself */
    double tiled;   /* elements drawn in tiles of patterns */
    ArtRoot root;
    double unit_mm;                    /* of one CSS px on the page */
    double box_tolerance;              /* user units, in ART_MODE_BOX */
    int boxes; /* that are being found, one within the other */
    struct ArtShaper *shaper;          /* of text; made on first use */
    struct ArtSingleLine *single_line; /* the same */
    GArray *clip_rects; /* of DtBox, one for each clip: what a rectangular clip lets through */
};

/* Notes are counted: one for each text, with the line of the first element and the number of all. A
 * note without an element is of `line`. */
G_GNUC_PRINTF(3, 4) void dt_art_note(ArtReader *r, const ArtNode *n, const char *format, ...);
G_GNUC_PRINTF(3, 4) void dt_art_note_line(ArtReader *r, int line, const char *format, ...);
struct ArtNotes *dt_art_notes_new(void);
/* Writes the counts into the notes and frees what counted. */
void dt_art_notes_finish(ArtReader *r);
G_GNUC_PRINTF(3, 4) void dt_art_fail(ArtReader *r, int line, const char *format, ...);

/* Gives what is animated its last value, where it keeps one, and notes the rest. */
void dt_art_animations_freeze(ArtReader *r);
/* The declarations of the keyframe that a style keeps when it has ended; NULL for none. */
const char *dt_art_animation_end(const ArtStyle *s, const ArtSheet *sheet, gsize *len);
/* The size of the page by the attributes of the root alone, for media queries. */
void dt_art_page_hint(ArtReader *r);
void dt_art_walk_root(ArtReader *r);
void dt_art_walk_node(ArtReader *r, ArtNode *n, const ArtScope *scope);
void dt_art_walk_children(ArtReader *r, ArtNode *n, const ArtScope *scope);
/* What the element paints, its own style, transform and clip already in `scope`. */
void dt_art_walk_content(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope);
/* One more level down; FALSE, with the error set, beyond the limits. */
gboolean dt_art_go_deeper(ArtReader *r, const ArtNode *n, ArtScope *scope);
/* Computes the style that a node of a paint server, clip or marker has where it stands. */
void dt_art_style_in_place(ArtReader *r, const ArtNode *n, ArtStyle *out);
double dt_art_px(ArtLength l, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                 const ArtRoot *root);
/* A function that gives a length, where it stands; px. */
double dt_art_math_px(const char *text, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                      const ArtRoot *root);
/* The same where percentages are taken from `whole`. */
double dt_art_px_of(ArtLength l, const ArtStyle *s, double whole, const ArtRoot *root);
/* One unit of a font, px: ex, ch, cap or ic, by the font's own measures. */
double dt_art_font_unit(const ArtStyle *s, ArtUnit unit, const ArtRoot *root);
/* The length of an attribute, or of the property of its name; FALSE where there is none. */
gboolean dt_art_attr_length(const ArtNode *n, ArtName name, const ArtStyle *s, ArtLength *out);
/* Attribute as user units, `missing` where absent or malformed. */
double dt_art_attr_px(const ArtReader *r, const ArtNode *n, ArtName name, const ArtStyle *s,
                      const ArtScope *scope, ArtAlong along, ArtLength missing);

/* viewBox and preserveAspectRatio: the map from the box to a viewport of w by h at 0,0. FALSE where
 * the box is empty. */
gboolean dt_art_view_box(const char *text, DtBox *out);
DtAffine dt_art_aspect_map(const char *aspect, DtBox box, double w, double h);
gboolean dt_art_view_map(const ArtNode *n, double w, double h, DtAffine *map, DtBox *box,
                         gboolean *slice);

/* Paths and shapes. FALSE where the node draws nothing. */
gboolean dt_art_path_data(const char *d, DtPath *out, gsize *error_at);
/* The same with each arc as one cubic with the arc's slopes at its ends: for the places of markers. */
void dt_art_path_vertices(const char *d, DtPath *out);
gboolean dt_art_shape_path(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           DtPath *out);
/* User units of one unit of the element's pathLength, its path being so long; 1 where it has none,
 * infinite where that is 0. */
double dt_art_unit_along(const ArtNode *n, double length);
/* Its box, in its own units. */
DtBox dt_art_path_box(ArtReader *r, const ArtNode *n, const DtPath *path, const ArtScope *scope);
/* As dt_path_flatten(); FALSE, with nothing in `out`, where the drawing then has too many points,
 * which fails the reading. */
gboolean dt_art_flatten(ArtReader *r, const ArtNode *n, const DtPath *path, DtAffine m,
                        double tolerance, DtLines *out);
/* Clockwise from the right end. */
void dt_art_ellipse_path(DtPath *out, double cx, double cy, double rx, double ry);
void dt_art_rect_path(DtPath *out, double x, double y, double w, double h, double rx, double ry);

/* Emits one outline in user units, as the mode says. `path` may be changed. */
void dt_art_emit_path(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                      DtPath *path);
/* Emits an outline in user units filled with a paint and nothing else. */
void dt_art_emit_tone(ArtReader *r, const ArtNode *n, const ArtScope *scope, const DtPath *path,
                      DtPaint paint);
/* Copies lines into the store. */
void dt_art_store_lines(ArtReader *r, const DtLines *from, DtLines *to);
int dt_art_add_shape(ArtReader *r, const DtShape *shape);
int dt_art_add_group(ArtReader *r, const ArtNode *n, const ArtScope *scope, double opacity,
                     const DtSoft *soft);
int dt_art_add_clip(ArtReader *r, DtClipRegion *regions, gsize n, int parent);
int dt_art_add_rect_clip(ArtReader *r, DtBox box, DtAffine m, int parent);

/* The box of what a node draws, in its own user units. */
DtBox dt_art_node_box(ArtReader *r, ArtNode *n, const ArtScope *scope);

/* A transform list of CSS, percentages of a box of w by h px. With `s` NULL it is only read:
 * *needs_box tells whether it depends on where it stands. *in_depth tells whether it has a perspective,
 * which is left out. */
typedef struct {
    gboolean needs_box, in_depth;
} ArtTransformRead;
gboolean dt_art_css_transform(const char *text, const ArtStyle *s, double w, double h,
                              const ArtRoot *root, DtAffine *out, ArtTransformRead *read);
/* translate, rotate and scale as properties of their own. */
typedef enum { ART_MOVE_TRANSLATE, ART_MOVE_ROTATE, ART_MOVE_SCALE } ArtMove;
gboolean dt_art_css_move(ArtMove kind, const char *text, const ArtStyle *s, double w, double h,
                         const ArtRoot *root, DtAffine *out, ArtTransformRead *read);
/* The two lengths of a position such as "left 20px" (CSS Values 4, 8.3). */
gboolean dt_art_position(const char *text, ArtOrigin *out);
/* The element's transform, about its origin: CSS Transforms 1, 8 and 11; 2, 5 to 9. */
DtAffine dt_art_own_map(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope);
/* The transform of a gradient or a pattern and those it refers to, nearest first. */
DtAffine dt_art_server_map(ArtReader *r, const ArtNode *const *chain, int n, ArtName attribute,
                           const ArtScope *scope);
/* The box that an element's transform, clip or mask is taken from. */
DtBox dt_art_reference_box(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           ArtBoxKind kind);

/* Basic shapes (CSS Shapes 1, 3), with or without a box beside them. */
/* The shape as a path, in user units, relative to the boxes of the element. */
gboolean dt_art_basic_shape(ArtReader *r, ArtNode *n, const char *text, const ArtStyle *s,
                            const ArtScope *scope, DtPath *out, DtFillRule *rule);

/* What clip-path and mask let through of an element. */
typedef struct {
    int clip;
    double level;       /* of all that the clip lets through, 0 to 1 */
    const DtSoft *soft; /* the scope's own and the element's; NULL where all is even */
} ArtCut;

/* By the element's clip-path and mask; the scope's own where there is none. FALSE where nothing of
 * it can show. */
gboolean dt_art_clip_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut);
/* Adds the element's mask to the cut. FALSE where nothing of it can show. */
gboolean dt_art_mask_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut);
/* How much a mask and those around it let through at a point of the drawing, 0 to 1, as far as they
 * are not clips. */
double dt_art_mask_alpha_at(const DtSoft *soft, DtPoint p);
/* Whether that is the same all over the box; *level is the middle of it. */
gboolean dt_art_mask_alpha_even(const DtSoft *soft, DtBox box, double *level);
/* Maps it, by the inverse of the map. */
void dt_art_mask_alpha_place(DtSoft *soft, DtAffine back);
/* The area of a shape's stroke within a box of the page as a clip. FALSE where there is none. */
gboolean dt_art_stroke_clip(ArtReader *r, const DtShape *shape, DtBox box, int parent, int *clip);

/* Paints. */
typedef struct {
    DtPaint paint;
    ArtNode *pattern; /* instead of the paint */
} ArtFill;

ArtFill dt_art_paint_of(ArtReader *r, const ArtNode *n, const ArtPaint *paint, double opacity,
                        const ArtStyle *s, const ArtScope *scope, DtBox box);
/* Whether a pattern has a tile of any size; where it has none, the paint's fallback is used. */
gboolean dt_art_pattern_paints(ArtReader *r, ArtNode *pattern, const ArtScope *scope,
                               const ArtStyle *s, DtBox box);
/* Fills a clip with the pattern's tiles as shapes. */
void dt_art_pattern_fill(ArtReader *r, const ArtNode *n, ArtNode *pattern, const ArtScope *scope,
                         const ArtStyle *s, DtBox box, int clip, double opacity);

typedef enum { ART_TONE_LINEAR, ART_TONE_RADIAL, ART_TONE_IMAGE, ART_TONE_FLAT } ArtToneKind;
typedef enum { ART_SPREAD_PAD, ART_SPREAD_REFLECT, ART_SPREAD_REPEAT } ArtSpread;

typedef struct {
    double offset;
    DtColour colour;
} ArtStop;

struct DtTone {
    ArtToneKind kind;
    DtAffine to_tone; /* from the drawing's coordinates to the tone's own */
    ArtSpread spread;
    double alpha;       /* of the whole tone */
    const DtSoft *soft; /* masks that it is seen through */
    ArtStop *stops;
    gsize n_stops;
    DtColour mean;         /* of the stops, over offsets 0 to 1 */
    DtPoint p0, p1;        /* linear: ends; radial: focus and centre */
    double r0, r1;         /* radial */
    const guint32 *pixels; /* image: ARGB32 premultiplied, native endian, w*h */
    int w, h;
};

DtTone *dt_art_tone_new(ArtReader *r, ArtToneKind kind, DtAffine tone_to_page);
/* The paint as it is seen through the masks of the scope, on a shape within the box of the page. */
void dt_art_soften(ArtReader *r, const ArtScope *scope, DtBox on_page, DtPaint *p);

void dt_art_markers(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                    const DtPath *path);
void dt_art_text(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s);
void dt_art_image(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s);
/* Room for n more pixels of images, owned by the drawing; NULL, with an error, beyond the limit. */
guint32 *dt_art_new_pixels(ArtReader *r, int line, gsize n);
/* Filters the shapes from number `from` on, which are the element's. */
void dt_art_filter(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint from);
/* Blends them with what lies beneath them, from number `beneath` on. */
void dt_art_blend(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint beneath,
                  guint from);
gboolean dt_art_conditions(const ArtNode *n); /* systemLanguage and its kin */
