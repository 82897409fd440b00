/* art: reads a vector drawing into shapes in millimetres on the page. The page's origin is its
 * upper left corner and y grows downwards, as in SVG, until the drawing is placed on the bed
 * (dt_art_place); after that x and y are bed coordinates and y grows away from the operator. */
#pragma once

#include "drawtrue/colour.h"
#include "drawtrue/geom.h"

typedef enum {
    DT_PAINT_NONE,
    DT_PAINT_FLAT, /* colour */
    DT_PAINT_TONE, /* a colour that changes with position: gradient, raster image, or any paint
                    * seen through a mask with half tones */
} DtPaintKind;

typedef struct DtTone DtTone; /* owned by the drawing */
typedef struct DtSoft DtSoft; /* the half tones of a mask, owned by the drawing */

typedef struct {
    DtPaintKind kind;
    DtColour colour;    /* DT_PAINT_FLAT; for DT_PAINT_TONE the mean colour */
    const DtTone *tone; /* DT_PAINT_TONE; private otherwise */
} DtPaint;

typedef enum { DT_CAP_BUTT, DT_CAP_ROUND, DT_CAP_SQUARE } DtCap;
typedef enum { DT_JOIN_MITER, DT_JOIN_ROUND, DT_JOIN_BEVEL } DtJoin;

/* How a shape's outline is stroked. Width and dashes are in the shape's own user units;
 * `user_to_mm` maps them to the page, so that a stroke in a skewed group keeps its true
 * (elliptical) nib. */
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
    DtLines outline; /* mm; open and closed polylines; a fill treats all of them as closed */
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
    /* of the group, which is painted as one; already included in the alpha and tones of its
     * shapes */
    double opacity;
    const DtSoft *soft; /* how much a mask lets through, unless it acts as a clip; NULL:
                         * everything */
} DtGroup;

/* Something in the file that could not be drawn, or was drawn differently from how it is
 * painted. */
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
    struct DtArtStore *store; /* private: owns what the pointers above point to */
    gboolean is_forgotten;    /* dt_drawing_forget_shapes() was called, */
    DtBox forgotten_box;      /* and dt_art_box() was this */
} DtDrawing;

typedef struct {
    double tolerance;     /* flattening tolerance, mm, on a page whose longer side is 210 mm or
                           * more; proportionally finer on a smaller page, which is likely to be
                           * enlarged */
    double default_width; /* page size if the file gives none, mm */
    double default_height;
    gboolean single_line_text; /* letters from the single-line fonts instead of outlines */
    int page;                  /* page of a PDF file, from 1 */
} DtArtOptions;

#define DT_ART_OPTIONS_DEFAULT ((DtArtOptions){0.01, 210, 297, FALSE, 1})

/* Reads an SVG file (.svg, .svgz), a page of a PDF file, or a photograph (PNG, JPEG, WebP, TIFF,
 * GIF, BMP); "-" is standard input. A photograph becomes one shape whose fill is a tone of its
 * colours; one pixel is one CSS px. Returns NULL with DT_ERROR_INPUT and "file:line: message" if
 * the file cannot be understood, with DT_ERROR_IO if it cannot be read. Never opens the network,
 * or any other file but fonts. Free with dt_drawing_free().
 *
 * Limits, beyond which a drawing is refused with a message that names the limit: 256 MB of XML
 * after unpacking; entities that expand to 16 MB; elements nested 1024 deep, references
 * followed; 10000 attributes of one element; 2^20 elements reached through references; 400000
 * elements in the tiles of patterns; 2^26 comparisons of selectors with elements; 2^26 points;
 * 2^26 pixels of images, 2^28 of masks. A drawing that uses all of them takes about 2.5 GB of
 * memory and a minute to read. An element with a coordinate beyond 10 km is left out, with a
 * note. */
DtDrawing *dt_art_read(const char *path, const DtArtOptions *options, GError **error);
/* The same from memory; `name` stands for the file in messages. */
DtDrawing *dt_art_read_data(const char *data, gsize len, const char *name,
                            const DtArtOptions *options, GError **error);
/* The brightness (ITU-R BT.601 luma, 0 to 255) of each pixel of a picture file (PNG, JPEG, WebP,
 * TIFF, GIF, BMP), row by row from the top, rotated as its EXIF orientation says; free with
 * g_free(). *dpi, which may be NULL: dots per inch as the file says; 0 if it does not. If the file
 * cannot be read: NULL, *w = 0 and *why set to a message (g_free). Uses 4 bytes a pixel, 2^26 pixels
 * at most. */
uint8_t *dt_art_read_grey(const char *data, gsize len, int *w, int *h, double *dpi, char **why);
/* Whether a file is artwork rather than a program, judged by its name or by how it begins. TRUE
 * too for a file that cannot be opened, since the reader of artwork then says why. */
gboolean dt_art_is_artwork(const char *path);
/* Frees shapes, clips and groups, most of its memory, once nobody looks at them any more; size, box
 * and notes stay. It must not be placed again. */
void dt_drawing_forget_shapes(DtDrawing *d);
void dt_drawing_free(DtDrawing *d);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtDrawing, dt_drawing_free)

/* Bounding box of all painted outlines including half the stroke widths, clips ignored; mm. */
DtBox dt_art_box(const DtDrawing *d);

/* Transforms the whole drawing: outlines, clips, nibs, tones and view. */
void dt_art_place(DtDrawing *d, DtAffine m);

/* Mean width of a stroke on the page, mm: width times the square root of |det|. */
double dt_art_stroke_width_mm(const DtStrokeStyle *s);

/* The colour of a tone at a point in the drawing's coordinates; alpha is 0 outside the tone. */
DtColour dt_art_tone_at(const DtTone *tone, DtPoint p);
/* Whether a tone is a raster picture, or an effect on one, rather than a gradient or an effect on shapes. */
gboolean dt_art_tone_is_picture(const DtTone *tone);

/* Appends ASCII text in single-line letters (Hershey 1967) to `out` as polylines, mm, y up,
 * starting at (0, 0) on the base line; capitals are `cap_height` high. A byte that is not ASCII
 * becomes '?'. `width`, which may be NULL, receives the length. DT_ERROR_INPUT if the letters
 * are not installed. */
gboolean dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                        GError **error);

/* Paints the drawing as it is, including group opacity, clips and tones, in its own coordinates:
 * set the context's matrix first. */
struct _cairo;
void dt_art_paint(const DtDrawing *d, struct _cairo *cr);
