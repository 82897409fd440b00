/* proof: a picture of what will be on the paper, at any stage: PNG, SVG or PDF by the ending of
 * the file name. */
#pragma once

#include "drawtrue/job.h"

/* A proof ----------------------------------------------------------------------------------- */

/* How much the ink differs from the artwork, over the area that the artwork paints. */
typedef struct {
    double near, far; /* mean CIEDE2000 as seen from 40 cm and from 2 m */
    double lightness; /* mean difference of L*, from 2 m */
} DtProofLook;

/* What a proof shows. `profile` is required; every other part may be NULL. The ink is taken from
 * `moves`, otherwise from `sequence`; with neither, only the artwork is painted. */
typedef struct {
    const DtProfile *profile;    /* bed, paper, pens */
    const DtDrawing *drawing;    /* the artwork, placed */
    const DtSequence *sequence;  /* pen lines in true widths and colours, with travel */
    const DtMoves *moves;        /* with `times`: when each move takes place */
    const DtTimes *times;        /* breakdown of the time; with at_s also each pen's time */
    const DtMoves *before_moves; /* the same drawing in its original order, for comparison */
    const DtTimes *before;
    const DtOneWay *one_way;   /* cost and gain of drawing fills in one direction, for comparison */
    gboolean order;            /* show the order: travel coloured from first to last, ink pale */
    const DtInkOptions *tones; /* how tones were hatched: adds a tone scale for each pen used */
    const DtProofLook *look;   /* difference between ink and artwork; the artwork is then shown
                                * small beside the sheet, but not with `order` */
    const char *title;
    const char *figures; /* one line below the picture; NULL: time, ink, lifts and travel */
} DtProofInput;

/* Paints the artwork and the ink, inks multiplying, blurs both as the eye does and compares
 * them. FALSE if there is no artwork, no ink, or nothing but white on the sheet. */
gboolean dt_proof_look(const DtProofInput *in, DtProofLook *out);

/* Writes the picture, `width_px` wide if it is a PNG. Fails with DT_ERROR_USAGE on an unknown
 * ending and DT_ERROR_IO if it cannot be written; then nothing is left behind. */
gboolean dt_proof_write(const DtProofInput *in, const char *path, int width_px, GError **error);

/* FALSE with DT_ERROR_USAGE if a picture cannot be written with this ending; to be called before
 * long work. */
gboolean dt_proof_check_path(const char *path, GError **error);

/* Totals of one pen. */
typedef struct {
    double ink_mm;
    double ink_s, slack_s, travel_s, lift_s; /* slack: the carriage stands still while it is
                                              * taken up, pen up or down; all 0 if the times are
                                              * not known */
    size_t strokes;                          /* pen-down runs */
    size_t
        turn; /* its place in drawing order among the pens that draw, from 1; 0: it draws nothing */
} DtProofPen;

/* Sums the moves by pen; `pens` has an entry for each pen of the rack. `times` must have at_s,
 * or may be NULL. */
void dt_proof_pens(const DtProfile *p, const DtMoves *m, const DtTimes *times, DtProofPen *pens);

/* The pens that draw, in drawing order: `order`, of `n` entries, receives their places in the rack. Returns
 * their number. */
size_t dt_proof_pen_order(const DtProofPen *pens, size_t n, size_t *order);

/* Several pictures on one sheet ------------------------------------------------------------- */

/* Lines of one kind in a panel. */
typedef struct {
    const DtLines *lines; /* bed mm */
    DtColour colour;
    double width; /* mm on the paper; 0: a thin line at any magnification */
} DtProofLayer;

/* One picture of a sheet. */
typedef struct {
    const char *title;          /* above it; may be NULL */
    const char *figures;        /* below it, lines separated by \n; may be NULL */
    DtBox view;                 /* the part of the bed that it shows, mm */
    const DtDrawing *drawing;   /* placed artwork, painted first; may be NULL */
    const DtSequence *sequence; /* pen lines of the sheet's profile next; may be NULL */
    const DtProofLayer *layers; /* then these, in order */
    size_t n_layers;
    const DtBox *marks; /* frames on top, for instance around what another panel magnifies, mm */
    size_t n_marks;
} DtProofPanel;

typedef struct {
    const char *title;
    const char *figures;      /* at the bottom, lines separated by \n; may be NULL */
    const DtProfile *profile; /* paper and pens */
    const DtProofPanel *panels;
    size_t n_panels;
    unsigned columns; /* panels side by side; 0: all in one row */
} DtProofSheet;

/* Writes the sheet of panels as dt_proof_write() writes a picture. All panels of a row have the
 * same height; their widths follow from the views. */
gboolean dt_proof_write_sheet(const DtProofSheet *s, const char *path, int width_px,
                              GError **error);
