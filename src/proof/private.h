/* private: shared by the files of the room. */
#pragma once

#include "drawtrue/proof.h"
#include <cairo.h>

/* Colours of the picture's frame. */
extern const DtColour dt_proof_ground, dt_proof_text, dt_proof_faint, dt_proof_bed,
    dt_proof_bed_edge, dt_proof_paper, dt_proof_travel, dt_proof_start, dt_proof_end, dt_proof_mark;

static inline void dt_proof_colour(cairo_t *cr, DtColour c)
{
    cairo_set_source_rgba(cr, c.r, c.g, c.b, c.alpha);
}

/* From the first second (0) to the last (1). */
DtColour dt_proof_when(double fraction);

/* Surfaces ---------------------------------------------------------------------------------- */

typedef void (*DtProofDraw)(cairo_t *cr, gpointer user);

/* Calls `draw` on a picture of the given size and writes it whole or not at all. The size is in
 * pixels of a PNG and in units of 1/96 inch of an SVG or PDF. */
gboolean dt_proof_emit(const char *path, double width, double height, DtProofDraw draw,
                       gpointer user, GError **error);

/* Lettering ------------------------------------------------------------------------------------ */

typedef struct {
    double size;
    gboolean bold;
    double align; /* 0: x is the left end, 0.5 the middle, 1 the right end */
    DtColour colour;
    double width; /* truncated with an ellipsis beyond it; 0: not limited */
} DtProofType;

/* Draws text with its base line at y. */
void dt_proof_letters(cairo_t *cr, double x, double y, const DtProofType *t, const char *text);
double dt_proof_letters_width(cairo_t *cr, const DtProofType *t, const char *text);
/* With a halo, for text on top of a drawing. */
void dt_proof_label(cairo_t *cr, double x, double y, const DtProofType *t, const char *text);

/* Bed to picture ------------------------------------------------------------------------------- */

/* A part of the bed on the picture: `view` in mm to a rectangle at (x, y), `scale` px per mm. */
typedef struct {
    DtBox view;
    double x, y, scale;
} DtProofFrame;

static inline double dt_proof_frame_width(const DtProofFrame *f)
{
    return dt_box_width(f->view) * f->scale;
}
static inline double dt_proof_frame_height(const DtProofFrame *f)
{
    return dt_box_height(f->view) * f->scale;
}
DtPoint dt_proof_frame_at(const DtProofFrame *f, DtPoint bed);
/* Clips to the frame and sets the user space to bed mm; undone by cairo_restore(). */
void dt_proof_frame_enter(cairo_t *cr, const DtProofFrame *f);
/* The bed and the sheet of a profile within the frame; picture coordinates. */
void dt_proof_frame_bed(cairo_t *cr, const DtProofFrame *f, const DtProfile *p);
/* The longest of 1, 2 and 5 with any power of ten that is at most `most`. */
double dt_proof_round_length(double most);
/* A bar that is `length` mm long, with its label; picture coordinates, from (x, y). */
void dt_proof_scale_bar(cairo_t *cr, const DtProofFrame *f, double x, double y, double length,
                        double size);

/* Lines; user space is bed mm ------------------------------------------------------------------ */

/* A polyline as a cairo path; closed ones are closed. */
void dt_proof_path(cairo_t *cr, const DtLines *l, size_t i);
/* Strokes the polylines with round caps and joins. */
void dt_proof_stroke(cairo_t *cr, const DtLines *l, DtColour colour, double width);

/* Eleven steps from bare paper to solid ink, as the pen draws them, in a box of the picture;
 * `scale` px per mm. */
void dt_proof_tones(cairo_t *cr, const DtPen *pen, const DtInkOptions *o, DtBox where,
                    double scale);

/* The way of the pen's tip --------------------------------------------------------------------- */

typedef struct {
    DtPoint from, to;
    double t0, t1; /* s; 0 if the times are not known */
} DtProofTravel;

typedef struct {
    DtLines ink;     /* lines drawn with the pen down, in drawing order */
    GArray *pen;     /* of uint16_t, one for each of them */
    GArray *travels; /* of DtProofTravel: travel, pen up */
    DtBox box;       /* of the ink's centre lines */
} DtProofTrace;

/* From the moves if there are any, otherwise from the sequence. */
void dt_proof_trace(DtProofTrace *t, const DtProofInput *in);
void dt_proof_trace_clear(DtProofTrace *t);

/* Marks ------------------------------------------------------------------------------------- */

/* A place of size w by h for the name of a mark, in picture coordinates: of those around it the
 * one within the frame that avoids everything `taken` (of DtBox) and hides the least ink. `k` is
 * the scale of the page. */
DtBox dt_proof_clear_place(const DtProofFrame *f, const DtProofTrace *t, gboolean order, DtPoint at,
                           double w, double h, double k, const GArray *taken);
/* Start and end of the ink, and home if it is in view. */
void dt_proof_draw_marks(cairo_t *cr, const DtProofFrame *f, const DtProofTrace *t,
                         const DtProfile *p, gboolean order, double k);
