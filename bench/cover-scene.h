/* cover-scene: a drawing as the artist painted it and as planned ink shows it, pen by pen, and what is looked at in
 * both: parts of corpus-cover. */
#pragma once

#include "drawtrue/job.h"
#include "ink/paint/colour-difference.h"
#include "support/look.h"

#define COVER_PX_PER_MM 16 /* halved once it is painted */
#define COVER_TIP 0.4
/* A line is apart from its sides by so much in the artwork (CIEDE2000). */
#define COVER_APART_IN_ART 10.0
/* Paints nearer than this (CIEDE2000) are one. */
#define COVER_ONE_PAINT 2.3
enum { COVER_N_PENS = 3 };
/* Why a line is not seen. An order or a cut would save the first three. */
typedef enum {
    COVER_COVERED,
    COVER_ALIKE,
    COVER_NOT_DRAWN,
    COVER_NO_ROOM,
    COVER_BARE,
    COVER_SHORT
} CoverCause;
enum { COVER_N_SAVED = 3, COVER_N_CAUSES = 6 };

extern const unsigned cover_colours[COVER_N_PENS];

typedef struct {
    WitnessSheet sheet;
    DtAffine to_page; /* from the bed to the drawing, mm */
    double page_w, page_h;
    LookPicture art, opaque, clear;
    LookPicture own[COVER_N_PENS]; /* the lines of each pen alone, in black */
    LookPicture fields[COVER_N_PENS];
    unsigned *
        edge_of; /* of each pixel: the number of the shape whose edge was looked across there, plus one */
} CoverScene;

/* A strip beside a line, or on it: the mean over `along` mm each way and from..to mm aside. */
typedef struct {
    DtPoint at, way;
    double along, from, to;
} CoverStrip;

DtColour cover_colour(unsigned rgb);
/* Paints the artwork and the planned ink; FALSE where librsvg cannot. Free with cover_scene_clear(). */
gboolean cover_scene_make(const char *svg, const DtProfile *p, const DtJob *job, CoverScene *s,
                          GError **error);
void cover_scene_clear(CoverScene *s);
/* The pixel at a place on the bed (mm); FALSE outside of the picture. */
gboolean cover_pixel_at(const CoverScene *s, DtPoint p, size_t *i);
/* librsvg's picture goes on beyond the page, where nothing is drawn. */
gboolean cover_is_on_page(const CoverScene *s, DtPoint at);
/* The colour of the artwork there. */
gboolean cover_art_at(const CoverScene *s, DtPoint at, DtLab *lab);
/* A colour of the artwork as it is written, where librsvg mixes a line's paint with what is beside it: the mean
 * of a strip. */
gboolean cover_written(const CoverScene *s, CoverStrip t, double out[3]);
/* The least difference of a line from either of its sides. */
double cover_apart(const CoverScene *s, const LookPicture *p, const CoverStrip strip[3]);
/* Strips on a line and on either side of it; `half` is half its width, `inner` half of what is looked at on it. */
void cover_strips(DtPoint at, DtPoint way, double half, double inner, double along,
                  CoverStrip strip[3]);
/* Whether a paint is apart from what lies on either side. Along a white edge of a black field on white paper
 * it is not: what the picture shows there is pixels that both share. */
gboolean cover_paint_is_apart(const CoverScene *s, DtLab paint, const CoverStrip strip[3]);
/* How wide a line shows between its sides, mm: another shape may cover it but for one of its edges. */
double cover_width_shown(const CoverScene *s, const CoverStrip strip[3], double width,
                         DtColour paint);
/* Whether a band of a line's own colour, or bare as the line is, runs so near beside it that two lines of the tip's
 * width and a gap have no room from the line's middle to the band's far edge. */
gboolean cover_is_beside_its_like(const CoverScene *s, DtPoint at, DtPoint way, double width,
                                  DtLab paint);
/* Whether ink shows a line beside its own width, or in the very places where the artwork does: a line at a
 * corner of a field is apart from it only near by. */
gboolean cover_is_shown(const CoverScene *s, const LookPicture *p, const CoverStrip art[3],
                        const CoverStrip ink[3]);
/* Whether a line along the middle has other ink, or none, all along both of its edges: white edges of a black line in a
 * black field are seen, though they are too thin for the means above. */
gboolean cover_has_edges(const CoverScene *s, const LookPicture *p, DtPoint at, DtPoint way);
/* Why the ink does not show a line of a paint, a CoverCause. */
int cover_cause(const CoverScene *s, DtLab paint, const CoverStrip art[3],
                const CoverStrip strip[3]);
