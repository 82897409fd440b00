/* proof: what will be on the paper? Any stage as a picture: PNG, SVG or PDF by the file's ending.
 */
#pragma once

#include "drawtrue/job.h"

/* A proof ----------------------------------------------------------------------------------- */

/* How far the ink looks from the artwork, over what the artwork paints. */
typedef struct {
    double near, far; /* mean CIEDE2000 as seen from 40 cm and from 2 m */
    double lightness; /* mean difference of L*, from 2 m */
} DtProofLook;

/* What a proof shows. `profile` is needed; every other part may be NULL. The ink is taken from
 * `moves`, else from `sequence`, else the artwork alone is painted. */
typedef struct {
    const DtProfile *profile;    /* bed, paper, pens */
    const DtDrawing *drawing;    /* the artwork, placed */
    const DtSequence *sequence;  /* pen lines in true widths and colours, with travel */
    const DtMoves *moves;        /* with `times`: when each move happens */
    const DtTimes *times;        /* where the time goes; with at_s also each pen's time */
    const DtMoves *before_moves; /* the same drawing in its own order, for comparison */
    const DtTimes *before;
    const DtOneWay *one_way;   /* what drawing fills one way costs and gains, for comparison */
    gboolean order;            /* show the order: travel coloured from the first second to the last,
                                * ink pale */
    const DtInkOptions *tones; /* how tones were hatched: a tone scale of each pen used is shown */
    const DtProofLook *look;   /* how far ink and artwork are apart; the artwork is then shown small
                                * beside the sheet, but not with `order` */
    const char *title;
    const char *figures; /* one line below the picture; NULL: time, ink, lifts and travel */
} DtProofInput;

/* Paints the artwork and the ink, inks multiplying, blurs both as the eye does and compares them. FALSE
 * where there is no artwork, no ink, or nothing but white is painted on the sheet. */
gboolean dt_proof_look(const DtProofInput *in, DtProofLook *out);

/* Writes the picture, `width_px` wide where it is a PNG. Fails with DT_ERROR_USAGE on an unknown
 * ending and DT_ERROR_IO where it cannot be written; then nothing is left behind. */
gboolean dt_proof_write(const DtProofInput *in, const char *path, int width_px, GError **error);

/* FALSE with DT_ERROR_USAGE where the path's ending is none that can be written; to ask before long
 * work. */
gboolean dt_proof_check_path(const char *path, GError **error);

/* What one pen does. */
typedef struct {
    double ink_mm;
    double ink_s, slack_s, travel_s, lift_s; /* slack: the carriage stands while it is taken up, pen
                                              * up or down; all 0 where the times are not known */
    size_t strokes;                          /* pen-down runs */
} DtProofPen;

/* Adds up the moves pen by pen; `pens` has an entry for each pen of the rack. `times` must have
 * at_s, or may be NULL. */
void dt_proof_pens(const DtProfile *p, const DtMoves *m, const DtTimes *times, DtProofPen *pens);

/* Several pictures on one sheet ------------------------------------------------------------- */

/* Lines of one kind in a panel. */
typedef struct {
    const DtLines *lines; /* bed mm */
    DtColour colour;
    double width; /* mm on the paper; 0: a thin line whatever the magnification */
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
    const DtBox *marks; /* frames on top, such as what another panel magnifies, mm */
    size_t n_marks;
} DtProofPanel;

typedef struct {
    const char *title;
    const char *figures;      /* below all, lines separated by \n; may be NULL */
    const DtProfile *profile; /* paper and pens */
    const DtProofPanel *panels;
    size_t n_panels;
    unsigned columns; /* panels side by side; 0: all in one row */
} DtProofSheet;

/* Writes the sheet of panels like dt_proof_write(). Every panel of a row gets the same height;
 * widths follow the views. */
gboolean dt_proof_write_sheet(const DtProofSheet *s, const char *path, int width_px,
                              GError **error);
