/* art, private: shared by the room's files. A drawing is read in two steps: xml.c makes a
 * compact tree of nodes in an arena; walk.c traverses it in painting order with the computed
 * style (style.c) and emits shapes (add-shape.c). Everything that the finished drawing points to
 * is in one store and is freed at once. */
#pragma once

#include "art/style/style.h"

/* Walk ----------------------------------------------------------------------------------------- */

typedef struct ArtContext ArtContext;

typedef struct {
    const ArtStyle *style; /* of the parent */
    DtAffine ctm;          /* user units to mm on the page */
    double vw, vh;         /* viewport, user units: the reference for percentages */
    int clip, group;
    double alpha;       /* product of the opacities so far */
    const DtSoft *soft; /* the half tones of the masks so far */
    int depth;
    const DtBox *object_box; /* of the whole text to which a letter belongs; otherwise NULL */
    ArtContext *context;     /* source of context-fill and context-stroke; otherwise NULL */
} ArtScope;

/* The shape of a marker, or a use, as a source of paint: SVG 2, 13.2. */
struct ArtContext {
    const ArtStyle *style;
    const ArtScope *scope;
    const DtPath *path; /* of the shape, in its user units; NULL for a use, */
    ArtNode *use;       /* which is this */
    gboolean has_box;   /* determined when a paint needs it */
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
    double tolerance;          /* mm */
    gboolean sized_by_content; /* the file gives no size */
    GError *error;             /* set once a limit is exceeded; everything then ends early */
    ArtMode mode;
    GArray *regions; /* of DtClipRegion */
    int region_clip;
    DtBox box;
    GArray *shapes, *clips, *groups, *notes; /* of the drawing */
    struct ArtNotes *noted;
    ArtNode *used; /* target of the innermost <use>; NULL outside of any */
    GHashTable *clip_cache;
    GHashTable *memo; /* text derived from elements and text of the tree, in the store */
    gsize pixels;     /* of all images so far */
    DtLines scratch;
    GPtrArray *spare_paths; /* of DtPath *: buffers for building outlines */
    gsize visits, points, levels, traced;
    guint backdrop; /* the first shape of the innermost group that is painted as one */
    double tiled;   /* elements drawn in tiles of patterns */
    ArtRoot root;
    double unit_mm; /* of one CSS px on the page */
    gboolean box_of_strokes,
        box_is_estimate;               /* the latter: of some stroke in it, by half its width */
    int boxes;                         /* being resolved, nested */
    struct ArtShaper *shaper;          /* of text; made on first use */
    struct ArtSingleLine *single_line; /* the same */
    GArray *clip_rects; /* of DtBox, one for each clip: what a rectangular clip lets through */
};

/* Notes are counted: one for each text, with the line of the first element and the total number.
 * A note without an element is for `line`. */
G_GNUC_PRINTF(3, 4) void dt_art_note(ArtReader *r, const ArtNode *n, const char *format, ...);
/* An attribute that is there and in error, so that it counts as absent. */
void dt_art_note_attr(ArtReader *r, const ArtNode *n, ArtName name);
/* The same if it is not a length, nor `auto`. */
void dt_art_note_length(ArtReader *r, const ArtNode *n, ArtName name);
G_GNUC_PRINTF(3, 4) void dt_art_note_line(ArtReader *r, int line, const char *format, ...);
struct ArtNotes *dt_art_notes_new(void);
/* Writes the counts into the notes and frees the counters. */
void dt_art_notes_finish(ArtReader *r);
G_GNUC_PRINTF(3, 4) void dt_art_fail(ArtReader *r, int line, const char *format, ...);

/* Sets what is animated to its final value, if it keeps one, and notes the rest. */
void dt_art_animations_freeze(ArtReader *r);
/* The declarations of the keyframe that a style keeps after the end; NULL if none. */
const char *dt_art_animation_end(const ArtStyle *s, const ArtSheet *sheet, gsize *len);
/* The size of the page from the attributes of the root alone, for media queries. */
void dt_art_page_hint(ArtReader *r);
void dt_art_walk_root(ArtReader *r);
void dt_art_walk_node(ArtReader *r, ArtNode *n, const ArtScope *scope);
void dt_art_walk_children(ArtReader *r, ArtNode *n, const ArtScope *scope);
/* Paints the element, whose own style, transform and clip are already in `scope`. */
void dt_art_walk_content(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope);
/* One more level down; FALSE, with the error set, beyond the limits. */
gboolean dt_art_go_deeper(ArtReader *r, const ArtNode *n, ArtScope *scope);
/* Computes the style of a node of a paint server, clip or marker in its place. */
void dt_art_style_in_place(ArtReader *r, const ArtNode *n, ArtStyle *out);
double dt_art_px(ArtLength l, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                 const ArtRoot *root);
/* The length that a math function gives in its place; px. */
double dt_art_math_px(const char *text, const ArtStyle *s, const ArtScope *scope, ArtAlong along,
                      const ArtRoot *root);
/* The same with percentages relative to `whole`. */
double dt_art_px_of(ArtLength l, const ArtStyle *s, double whole, const ArtRoot *root);
/* One unit of a font, px: ex, ch, cap or ic, by the font's own measures. */
double dt_art_font_unit(const ArtStyle *s, ArtUnit unit, const ArtRoot *root);
/* The length of an attribute, or of the property of that name; FALSE if there is neither. */
gboolean dt_art_attr_length(const ArtNode *n, ArtName name, const ArtStyle *s, ArtLength *out);
/* An attribute in user units, `missing` if it is absent or malformed. */
double dt_art_attr_px(ArtReader *r, const ArtNode *n, ArtName name, const ArtStyle *s,
                      const ArtScope *scope, ArtAlong along, ArtLength missing);

/* viewBox and preserveAspectRatio: the map from the box to a viewport of w by h at 0,0. FALSE if
 * the box is empty. */
gboolean dt_art_view_box(const char *text, DtBox *out);
DtAffine dt_art_aspect_map(const char *aspect, DtBox box, double w, double h);
gboolean dt_art_view_map(ArtReader *r, const ArtNode *n, double w, double h, DtAffine *map,
                         DtBox *box, gboolean *slice);

/* Size of the page in px: width and height, or the viewBox if one is missing or is a percentage of a
 * container that does not exist. FALSE if a side is the default of the options. */
gboolean dt_art_page_size(ArtReader *r, const ArtNode *root, const ArtStyle *s, double *w,
                          double *h);

/* Paths and shapes. FALSE if the node draws nothing. */
gboolean dt_art_path_data(const char *d, DtPath *out, gsize *error_at);
/* The same with each arc as one cubic that has the arc's slopes at its ends: for placing
 * markers. */
void dt_art_path_vertices(const char *d, DtPath *out);
gboolean dt_art_shape_path(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           DtPath *out);
/* User units per unit of the element's pathLength, for a path of this length; 1 if it has none,
 * infinite if it is 0. */
double dt_art_unit_along(const ArtNode *n, double length);
/* As dt_path_flatten(); FALSE, with nothing in `out`, if the drawing would have too many points,
 * which makes reading fail. */
gboolean dt_art_flatten(ArtReader *r, const ArtNode *n, const DtPath *path, DtAffine m,
                        double tolerance, DtLines *out);
/* Clockwise from the right end. */
void dt_art_ellipse_path(DtPath *out, double cx, double cy, double rx, double ry);
void dt_art_rect_path(DtPath *out, double x, double y, double w, double h, double rx, double ry);

/* Emits one outline in user units, according to the mode. `path` may be changed. */
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

/* A transform list of CSS, percentages relative to a box of w by h px. With `s` NULL it is only
 * parsed: *needs_box is set if it depends on its place. *in_depth is set if it has a
 * perspective, which is left out. */
typedef struct {
    gboolean needs_box, in_depth;
} ArtTransformRead;
gboolean dt_art_css_transform(const char *text, const ArtStyle *s, double w, double h,
                              const ArtRoot *root, DtAffine *out, ArtTransformRead *read);
/* translate, rotate and scale as separate properties. */
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
/* The reference box of an element's transform, clip or mask. */
DtBox dt_art_reference_box(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                           ArtBoxKind kind);

/* Basic shapes (CSS Shapes 1, 3), with or without a reference box. */
/* The shape as a path, in user units, relative to the boxes of the element. */
gboolean dt_art_basic_shape(ArtReader *r, ArtNode *n, const char *text, const ArtStyle *s,
                            const ArtScope *scope, DtPath *out, DtFillRule *rule);

/* What clip-path and mask let through of an element. */
typedef struct {
    int clip;
    double level;       /* of all that the clip lets through, 0 to 1 */
    const DtSoft *soft; /* the scope's own and the element's; NULL if the level is uniform */
} ArtCut;

/* From the element's clip-path and mask, or the scope's own if it has none. FALSE if nothing of
 * it can be visible. */
gboolean dt_art_clip_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut);
/* Adds the element's mask to the cut. FALSE if nothing of it can be visible. */
gboolean dt_art_mask_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut);
/* How much a mask and those around it let through at a point of the drawing, 0 to 1, apart from
 * the parts that are clips. */
double dt_art_mask_alpha_at(const DtSoft *soft, DtPoint p);
/* Whether that is uniform over the box; *level is its middle value. */
gboolean dt_art_mask_alpha_even(const DtSoft *soft, DtBox box, double *level);
/* Maps it, by the inverse of the map. */
void dt_art_mask_alpha_place(DtSoft *soft, DtAffine back);
/* The area of a shape's stroke within a box of the page, as a clip. FALSE if there is none. */
gboolean dt_art_stroke_clip(ArtReader *r, const DtShape *shape, DtBox box, int parent, int *clip);

/* Paints. */
typedef struct {
    DtPaint paint;
    ArtNode *pattern; /* instead of the paint */
} ArtFill;

ArtFill dt_art_paint_of(ArtReader *r, const ArtNode *n, const ArtPaint *paint, double opacity,
                        const ArtStyle *s, const ArtScope *scope, DtBox box);
/* Whether a pattern has a tile of any size; if not, the paint's fallback is used. */
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
    const DtSoft *soft; /* masks through which it is seen */
    ArtStop *stops;
    gsize n_stops;
    DtColour mean;         /* of the stops, over offsets 0 to 1 */
    DtPoint p0, p1;        /* linear: ends; radial: focus and centre */
    double r0, r1;         /* radial */
    const guint32 *pixels; /* image: ARGB32 premultiplied, native endian, w*h */
    int w, h;
    gboolean
        raster; /* image: of a raster picture, or of what contains one; else an effect on shapes */
};

DtTone *dt_art_tone_new(ArtReader *r, ArtToneKind kind, DtAffine tone_to_page);
/* The paint as seen through the masks of the scope, on a shape within the box of the page. */
void dt_art_soften(ArtReader *r, const ArtScope *scope, DtBox on_page, DtPaint *p);

void dt_art_markers(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                    const DtPath *path);
void dt_art_text(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s);
void dt_art_image(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s);
/* Memory for n more pixels of images, owned by the drawing; NULL, with an error, beyond the
 * limit. */
guint32 *dt_art_new_pixels(ArtReader *r, int line, gsize n);
/* Filters the shapes from number `from` on, which are the element's. */
void dt_art_filter(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint from);
/* Blends them with their backdrop, the shapes from number `beneath` on. */
void dt_art_blend(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, guint beneath,
                  guint from);
gboolean dt_art_conditions(const ArtNode *n); /* systemLanguage and the other conditional
                                               * attributes */
