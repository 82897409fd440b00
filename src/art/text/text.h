/* text, private: letters with their positions, and shaping. */
#pragma once

#include "art/private.h"

enum { ART_HAS_X = 1, ART_HAS_Y = 2, ART_HAS_DX = 4, ART_HAS_DY = 8, ART_HAS_ROTATE = 16 };

/* One character of a text element after collapsing spaces. */
typedef struct {
    gunichar c;
    guint span;
    unsigned has;
    double x, y, dx, dy, rotate; /* user units; degrees */
} ArtLetter;

/* An element that requests lines under, over or through its text, inside others that do: CSS
 * Text Decoration 3, 2. */
typedef struct ArtDecorator {
    const ArtStyle *style;
    const struct ArtDecorator *outer;
} ArtDecorator;

/* One element's share of a text: its style and position. */
typedef struct {
    const ArtNode *node;
    const ArtNode *path; /* the textPath that contains it; NULL otherwise */
    ArtStyle style;
    double shift; /* of the baseline, upwards */
    const ArtDecorator *decorator;
} ArtSpan;

/* A glyph of a shaped piece of text, relative to the start of the piece on the baseline. */
typedef struct {
    const DtPath *outline; /* in em, y down; NULL for a space */
    double x, y, advance;  /* user units */
} ArtGlyph;

typedef struct {
    GArray *glyphs; /* of ArtGlyph, left to right */
    double width;
    double size;                      /* of the letters: the font's size, adjusted */
    const char *family;               /* of the first letter's font; static, or NULL */
    double ascent, descent, x_height; /* user units */
    gboolean single_line;             /* outlines are strokes, not areas */
    double underline_at, strike_at, line_thickness; /* user units, y down */
} ArtPiece;

typedef struct ArtShaper ArtShaper;

/* Letters as outlines, from Pango and its fonts; one per reader, made on first use. */
ArtShaper *dt_art_shaper_of(ArtReader *r);
void dt_art_shaper_free(ArtShaper *s);
/* Shapes n letters of one style; *out is initialised and holds glyphs until
 * dt_art_piece_clear(). `forced`: all in the direction of the style, whatever theirs is. */
void dt_art_shape_text(ArtReader *r, const ArtLetter *letters, gsize n, const ArtSpan *span,
                       gboolean forced, ArtPiece *out);
/* The same with the single-line letters of the Hershey fonts. FALSE if they are not installed. */
gboolean dt_art_shape_single_line(ArtReader *r, const ArtLetter *letters, gsize n,
                                  const ArtSpan *span, gboolean forced, ArtPiece *out);
typedef struct ArtSingleLine ArtSingleLine;
void dt_art_single_line_free(ArtSingleLine *f);
void dt_art_piece_clear(ArtPiece *p);

/* A path that carries text, and points along it. */
typedef struct {
    DtLines lines;
    double length;
    double unit; /* user units per unit along it, from its pathLength */
} ArtTrack;

gboolean dt_art_text_path_of(ArtReader *r, const ArtNode *text_path, const ArtScope *scope,
                             ArtTrack *out);
/* The point and direction at a distance along the track. FALSE beyond its ends. */
gboolean dt_art_text_path_at(const ArtTrack *t, double s, DtPoint *at, double *angle);
void dt_art_text_path_clear(ArtTrack *t);

/* Gathering ------------------------------------------------------------------------------------ */

/* A character that sets the direction of those behind it, and no letter: UAX 9, 2. */
typedef struct {
    guint before; /* number of the letter */
    gunichar c;
} ArtControl;

typedef struct {
    ArtReader *r;
    GArray *letters;  /* of ArtLetter */
    GArray *controls; /* of ArtControl, in order */
    guint8 *levels;   /* of each letter by UAX 9; NULL where all have the text's own direction */
    GPtrArray *spans; /* of ArtSpan * */
    gboolean space_before; /* the last letter is a space that may be dropped */
    double stretch;        /* of letters along the line */
    gboolean fitted;       /* to a textLength */
    const ArtDecorator *decorator;
    gboolean rtl; /* pieces follow each other from right to left */
} ArtText;

/* Adds the characters of an element and its descendants to t->letters, with their positions and
 * spans. */
void dt_art_text_gather(ArtText *t, ArtNode *n, const ArtStyle *s, const ArtScope *outer,
                        const ArtNode *path, double shift);
/* Drops the last character if it is a space that collapses. */
void dt_art_text_drop_space(ArtText *t);
/* The element itself draws the lines along text of a style. */
const ArtDecorator *dt_art_text_decorator(ArtReader *r, const ArtStyle *style,
                                          const ArtDecorator *outer);
/* How far the element's baseline is above that of `outer`, user units. */
double dt_art_text_shift(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope);

/* Setting -------------------------------------------------------------------------------------- */

/* Letters that are shaped together: of one span, only the first of them positioned by itself. */
typedef struct {
    guint first, n;
    ArtSpan *span;
    ArtPiece piece;
    gboolean upright; /* one letter of vertical text */
    double across;    /* its width; piece.width is its extent downwards */
    int level;        /* of embedding, odd from right to left; -1: not looked at */
    DtPoint at;       /* of its start, user units */
} ArtRun;

const ArtLetter *dt_art_text_letter(const ArtText *t, guint i);
/* How far the requested baseline lies above the alphabetic one. */
double dt_art_text_baseline(const ArtStyle *s, const ArtPiece *p);
/* The map from the run's own space (its start at 0,0 on the baseline) to user units. */
DtAffine dt_art_text_run_map(const ArtText *t, const ArtRun *run);
/* Adds a rectangle: from 0,y on, in the space that `m` maps. */
void dt_art_text_bar(DtPath *to, DtAffine m, double y, double width, double thickness);
/* Emits the lines of these kinds (ART_UNDERLINE and so on) along a run, in the paints of the elements that request
 * them. */
void dt_art_text_lines(ArtText *t, const ArtRun *run, const ArtScope *scope, int kinds);
/* Single-line letters are drawn, not filled: the text's fill becomes the stroke. */
void dt_art_single_line_style(ArtStyle *s, const ArtScope *scope);

/* Order ---------------------------------------------------------------------------------------- */

/* What the unicode-bidi of an element puts before and behind its letters. */
void dt_art_text_enter(ArtText *t, const ArtStyle *s);
void dt_art_text_leave(ArtText *t, const ArtStyle *s);
/* Fills in t->levels. */
void dt_art_text_find_levels(ArtText *t);
/* Moves the runs of a line, placed one after the other from `start` on (to the left with `rtl`), to where they are
 * seen; a shift of their own (dx) stays. */
void dt_art_text_reorder(ArtRun *runs, guint n, double start, gboolean rtl);
