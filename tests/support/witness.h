/* witness: how far is the ink that landed from the ink that was planned? It shares no code with the
 * rooms that it judges, only their plain points. All lengths in mm on the bed. */
#pragma once

#include "drawtrue/geom.h"

/* Pen lines: what was planned, or what landed. */
typedef struct {
    size_t first, n; /* points of the line; a closed line repeats its first point at its end */
    unsigned pen;
} WitnessLine;

typedef struct {
    GArray *pts;   /* DtPoint */
    GArray *lines; /* WitnessLine */
} WitnessInk;

void witness_ink_init(WitnessInk *ink);
void witness_ink_clear(WitnessInk *ink);
/* Copies the points. A closed line need not repeat its first point here. */
void witness_ink_add(WitnessInk *ink, const DtPoint *pts, size_t n, gboolean closed, unsigned pen);
double witness_ink_length(const WitnessInk *ink);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(WitnessInk, witness_ink_clear)

/* Where errors end: a sample with nothing of its pen nearer than this is counted as so far away. */
#define WITNESS_FARTHEST 10.0

typedef struct {
    double step;   /* mm between samples along a line */
    double absent; /* a sample with no ink of its pen within this is missing, or stray */
} WitnessOptions;

/* 0.1 mm between samples. Ink farther off than 0.3 mm is absent, not displaced: that is above the
 * largest error that a trued machine may show (0.25 mm) and below the pitch of any hatch, so a lost
 * hatch line is not excused by its neighbour. */
#define WITNESS_OPTIONS_DEFAULT ((WitnessOptions){0.1, 0.3})

typedef struct {
    double p95, max, mean;  /* of the distances both ways, sample to nearest line of the same pen */
    double missing;         /* mm of planned line that has no ink */
    double stray;           /* mm of ink where no line was planned */
    double planned, landed; /* mm, all lines */
    size_t n_samples;
    DtPoint worst; /* where the largest distance was found */
} WitnessError;

/* Distances both ways between planned and landed lines, pen by pen, sampled along both. A dot
 * counts as one sample that is `step` long. Both empty: all zero. */
void witness_compare(const WitnessInk *planned, const WitnessInk *landed, const WitnessOptions *o,
                     WitnessError *out);

/* Where a drawing lies: its page (mm, y down) mapped to the bed (y up), and the sheet on the bed.
 */
typedef struct {
    double page_w, page_h;
    DtAffine page_to_bed;
    DtBox sheet;
    double px_per_mm;
} WitnessSheet;

typedef struct {
    double iou;     /* area of both over area of either; 1 where both are empty */
    double art_mm2; /* painted by librsvg */
    double ink_mm2; /* covered by landed ink */
    double both_mm2;
    double excused_mm2; /* ink beside the art that no pen could avoid; see below */
} WitnessCoverage;

/* Compares the area that landed ink covers, each line drawn by cairo at its pen's tip width with
 * round ends, with what librsvg paints of the same SVG on the same sheet. A pixel is painted where
 * its alpha is at least one half and its colour on white paper is not white (every channel above
 * 250 of 255). `tips` has a width for each pen. `picture`, a PNG to write, shows both in black, art
 * alone in red and ink alone in blue; NULL for none. Fails with DT_ERROR_INPUT or DT_ERROR_IO. */
gboolean witness_coverage(const char *svg, const WitnessSheet *sheet, const WitnessInk *landed,
                          const double *tips, size_t n_tips, const char *picture,
                          WitnessCoverage *out, GError **error);

/* The same, where ink beside the art counts neither way if it lies within half of `pen` (mm) of a
 * part of the art that is narrower than the pen: whoever draws that part makes it. */
gboolean witness_coverage_by_pen(const char *svg, const WitnessSheet *sheet,
                                 const WitnessInk *landed, const double *tips, size_t n_tips,
                                 double pen, const char *picture, WitnessCoverage *out,
                                 GError **error);

/* The mask of what librsvg paints on the sheet, by the same rule: *w times *h pixels, rows from the
 * top, 1 where painted. Free with g_free(). NULL as witness_coverage() fails. */
uint8_t *witness_painted(const char *svg, const WitnessSheet *sheet, int *w, int *h,
                         GError **error);

/* What pictures of either are made of: the SVG as librsvg paints it where the sheet lies, a pen's lines
 * at its tip's width, mm, with round ends, and the rule for what is painted (premultiplied ARGB). The
 * context's matrix takes bed mm to pixels. */
struct _cairo;
gboolean witness_paint_svg(const char *svg, const WitnessSheet *sheet, struct _cairo *cr,
                           GError **error);
void witness_stroke_pen(struct _cairo *cr, const WitnessInk *ink, unsigned pen, double tip);
gboolean witness_pixel_is_painted(uint32_t argb);
