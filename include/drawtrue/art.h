/* art: what did the artist draw? Reads a vector drawing into shapes in millimetres on the page.
 * The page's origin is its upper left corner and y grows downwards, as in SVG, until the drawing is
 * placed on the bed (dt_art_place), after which x and y are bed coordinates and y grows away from
 * the maker. */
#pragma once

#include "drawtrue/colour.h"
#include "drawtrue/geom.h"

typedef enum {
    DT_PAINT_NONE,
    DT_PAINT_FLAT, /* colour */
    DT_PAINT_TONE, /* a colour that changes over position: gradient, raster image, or any paint
                    * seen through a mask of half tones */
} DtPaintKind;

typedef struct DtTone DtTone; /* owned by the drawing */
typedef struct DtSoft DtSoft; /* the half tones of a mask, owned by the drawing */

typedef struct {
    DtPaintKind kind;
    DtColour colour;    /* DT_PAINT_FLAT; for DT_PAINT_TONE a representative mean */
    const DtTone *tone; /* DT_PAINT_TONE; of others private */
} DtPaint;

typedef enum { DT_CAP_BUTT, DT_CAP_ROUND, DT_CAP_SQUARE } DtCap;
typedef enum { DT_JOIN_MITER, DT_JOIN_ROUND, DT_JOIN_BEVEL } DtJoin;

/* How a shape's outline is stroked. Width and dashes are in the shape's own user units;
 * `user_to_mm` takes them to the page, so that a stroke in a skewed group keeps its true (elliptic)
 * nib. */
typedef struct {
    DtPaint paint;
    double width;
    DtCap cap;
    DtJoin join;
    double miter_limit;
    const double *dash; /* n_dash lengths, owned by the drawing; n_dash 0: solid */
    size_t n_dash;
    double dash_offset;
    DtAffine user_to_mm;
} DtStrokeStyle;

/* One painted outline, in painting order in its drawing. */
typedef struct {
    DtLines outline; /* mm; closed polylines and open ones; a fill closes them all */
    DtFillRule rule;
    DtPaint fill;
    DtStrokeStyle stroke;
    gboolean stroke_first; /* paint-order: the stroke lies under the fill */
    int clip;              /* index into the drawing's clips, -1 for none */
    int group;             /* index into the drawing's groups; 0 is the root */
    const char *id;        /* owned by the drawing; NULL where absent */
    const char *classes;   /* as written: words separated by spaces; NULL where absent */
    int line;              /* 1-based line of the element in the source */
} DtShape;

/* A clip is the union of its regions, intersected with its parent clip. */
typedef struct {
    DtLines outline;
    DtFillRule rule;
    int clip; /* a further clip on this region alone, -1 for none */
} DtClipRegion;

typedef struct {
    DtClipRegion *regions;
    size_t n_regions;
    int parent; /* index of the enclosing clip, -1 for none */
} DtClip;

typedef struct {
    const char *id, *classes, *title; /* NULL where absent */
    int parent;                       /* -1 for the root */
    int line;
    /* Of the group painted as one; already part of its shapes' alpha and tones: */
    double opacity;
    const DtSoft *soft; /* how much a mask lets through where it is no clip; NULL for all */
} DtGroup;

/* Something in the file that could not be drawn as painted, or was drawn in another way. */
typedef struct {
    int line;
    char *text;
} DtArtNote;

typedef struct {
    char *path;           /* the source, for messages */
    double width, height; /* of the page, mm */
    DtBox view;           /* the page, in the coordinates of the shapes */
    DtShape *shapes;
    size_t n_shapes;
    DtClip *clips;
    size_t n_clips;
    DtGroup *groups;
    size_t n_groups;
    DtArtNote *notes;
    size_t n_notes;
    struct DtArtStore *store; /* private: what the pointers above point into */
} DtDrawing;

typedef struct {
    double tolerance;     /* flattening, mm, on a page whose longer side is 210 mm or more; finer in
                           * proportion on a smaller one, which is likely to be enlarged */
    double default_width; /* page size where the file gives none at all, mm */
    double default_height;
    gboolean single_line_text; /* letters from the single-line fonts instead of outlines */
    int page;                  /* of a PDF file, from 1 on */
} DtArtOptions;

#define DT_ART_OPTIONS_DEFAULT ((DtArtOptions){0.01, 210, 297, FALSE, 1})

/* Reads an SVG file (.svg, .svgz), a page of a PDF file, or a photograph (PNG, JPEG, WebP, TIFF, GIF,
 * BMP); "-" is standard input. A photograph is one shape whose fill is a tone of its colours, a pixel
 * being one CSS px. NULL with DT_ERROR_INPUT and "file:line: message" where it
 * cannot be understood; DT_ERROR_IO where it cannot be read. Never opens the network or any other
 * file but fonts. Free with dt_drawing_free().
 *
 * Limits, beyond which a drawing is refused with a message that names them: 256 MB of XML, after
 * unpacking; entities that expand to 16 MB; elements nested 1024 deep, references followed; 10000
 * attributes of one element; 2^20 elements reached through references; 400000
 * elements in the tiles of patterns; 2^26 comparisons of
 * selectors with elements; 2^26 points; 2^26 pixels of images, 2^28 of masks. With all of them used
 * up reading takes about 2.5 GB of memory and a minute; a coordinate beyond 10 km leaves its
 * element out with a note. */
DtDrawing *dt_art_read(const char *path, const DtArtOptions *options, GError **error);
/* The same from memory; `name` stands for the file in messages. */
DtDrawing *dt_art_read_data(const char *data, gsize len, const char *name,
                            const DtArtOptions *options, GError **error);
/* The brightness (ITU-R BT.601 luma, 0 to 255) of each pixel of a picture file (PNG, JPEG, WebP, TIFF, GIF,
 * BMP), row by row from above, turned as its EXIF orientation says; g_free. NULL, with *why for a message
 * (g_free), where it cannot be read; then *w is 0. Uses 4 bytes a pixel, and 2^26 pixels at most. */
uint8_t *dt_art_read_grey(const char *data, gsize len, int *w, int *h, char **why);
/* Whether a file is artwork rather than a program, by its name or by how it begins. So is one that
 * cannot be opened: its reader tells why. */
gboolean dt_art_is_artwork(const char *path);
void dt_drawing_free(DtDrawing *d);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtDrawing, dt_drawing_free)

/* Box of all painted outlines, half the stroke widths included, clips ignored; mm. */
DtBox dt_art_box(const DtDrawing *d);

/* Maps the whole drawing: outlines, clips, nibs, tones and view. */
void dt_art_place(DtDrawing *d, DtAffine m);

/* Mean width of a stroke on the page, mm: width times the square root of |det|. */
double dt_art_stroke_width_mm(const DtStrokeStyle *s);

/* The colour of a tone at a point in the drawing's coordinates; alpha 0 outside of it. */
DtColour dt_art_tone_at(const DtTone *tone, DtPoint p);
/* Whether a tone is a picture of pixels and not a gradient. */
gboolean dt_art_tone_is_picture(const DtTone *tone);

/* ASCII text in single-line letters (Hershey 1967) as polylines added to `out`, mm, y up, from (0, 0) at
 * the left end of the base line; capitals are `cap_height` high. What is not ASCII becomes '?'. `width`,
 * which may be NULL, gets its length. DT_ERROR_INPUT where the letters are not installed. */
gboolean dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                        GError **error);

/* Paints the drawing as it is, group opacity, clips and tones included, in its own coordinates: set
 * the context's matrix first. */
struct _cairo;
void dt_art_paint(const DtDrawing *d, struct _cairo *cr);
