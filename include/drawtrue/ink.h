/* ink: turns shapes into centre lines for the pens of a rack. */
#pragma once

#include "drawtrue/art.h"
#include "drawtrue/rack.h"

typedef enum {
    DT_INK_OUTLINE, /* along a stroked outline */
    DT_INK_FILL,    /* hatch or ring inside an area */
    DT_INK_CENTRE,  /* centre line of an area narrower than the pen */
    DT_INK_DOT,     /* a dot of a stippled picture */
    DT_INK_TOUR,    /* a point of a picture that a single line is to pass through, stored as a dot;
                  * the caller, who knows the machine, joins them (dt_job_join_tours()) */
} DtInkKind;

/* One line drawn with the pen down: pts[first] to pts[first+n-1] of its set. A closed one
 * returns to its first point, which is not repeated. */
typedef struct {
    size_t first, n;
    uint8_t closed;
    uint8_t kind; /* DtInkKind */
    uint16_t pen; /* index into the rack */
    int shape;    /* index into the drawing's shapes, -1 if there is none */
} DtStroke;

typedef struct {
    DtPoint *pts; /* mm, bed coordinates */
    size_t n_pts, cap_pts;
    DtStroke *strokes;
    size_t n, cap;
} DtStrokes;

void dt_strokes_init(DtStrokes *s);
void dt_strokes_clear(DtStrokes *s);
void dt_strokes_append(DtStrokes *s, const DtPoint *pts, size_t n, gboolean closed, DtInkKind kind,
                       unsigned pen, int shape);
double dt_strokes_length(const DtStrokes *s, size_t i); /* including the closing segment */
DtBox dt_strokes_box(const DtStrokes *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtStrokes, dt_strokes_clear)

typedef enum {
    DT_HATCH_LINES,
    DT_HATCH_CROSSED,
    DT_HATCH_RINGS,
    DT_HATCH_SERPENTINE,
    DT_HATCH_FASTEST, /* for each field serpentine lines in the given direction, or rings,
                       * whichever the machine draws sooner; fills without an edge as serpentine.
                       * Lines with gaps of up to a tip's width are joined too, set back so that
                       * the joins add no ink */
} DtHatch;

/* The time, s, that a machine takes to draw these lines with a pen, regardless of what comes
 * before and after. Supplied by the caller, since ink does not know the machine. Called only
 * from the thread that traces. */
typedef double (*DtInkSeconds)(const DtLines *lines, unsigned pen, void *user);

/* Decisions made by the user. */
typedef struct {
    DtColour colour; /* paints that look like this colour (CIEDE2000 below 3) are drawn ... */
    int pen;         /* ... with this pen */
} DtInkColourRule;

typedef struct {
    int from, to; /* what one pen would draw, another one draws */
} DtInkSwap;

#define DT_INK_MOST_RULES 16

/* How pictures, and gradients of many colours, are drawn. */
typedef enum {
    DT_PICTURE_HATCH,   /* lines, each pen in a direction of its own */
    DT_PICTURE_CROSSED, /* lines in up to four directions, added one after the other as it gets
                         * darker */
    DT_PICTURE_CONTOUR, /* lines around the shapes, spaced by tone */
    DT_PICTURE_STIPPLE, /* dots */
    DT_PICTURE_TOUR,    /* one line through the dots */
    DT_PICTURE_FLOW,    /* lines that follow the shapes in the picture */
} DtPicture;

typedef struct {
    DtHatch hatch;
    double angle;      /* direction of the hatch lines, radians */
    double pitch;      /* mm between hatch lines for full black; 0: the tip width of the pen */
    double spread;     /* 1 or more: all hatches are opened by this factor to save time */
    gboolean hide;     /* opaque fills hide what lies beneath */
    gboolean dedupe;   /* coincident lines of one pen are drawn once */
    gboolean fill;     /* FALSE: outlines only; a fill without a stroke is drawn as its edge */
    gboolean edge;     /* a dense fill gets a line along its edge, half a tip inside; without it,
                      * lines at a distance from the edge leave slivers bare */
    gboolean tone;     /* TRUE: the pitch depends on a paint's lightness (dt_ink_coverage); FALSE:
                      * every fill is dense */
    gboolean solid;    /* every fill is dense, in the nearest pen; FALSE: pens and coverage are
                      * chosen so that the whole drawing looks as much like the artwork as
                      * possible */
    double tolerance;  /* mm */
    DtColour paper;    /* colour where no ink is */
    DtPicture picture; /* how pictures are drawn if pens are chosen by appearance */
    size_t points;     /* number of points for stipple and tour in the whole drawing; 0: by
                           * the tip width */
    DtInkSeconds seconds; /* for DT_HATCH_FASTEST; NULL: same as DT_HATCH_SERPENTINE */
    void *seconds_user;
    DtInkColourRule rules[DT_INK_MOST_RULES];
    size_t n_rules;
    DtInkSwap swaps[DT_INK_MOST_RULES];
    size_t n_swaps;
    gboolean thin_out; /* lines thinner than their pen are thinned out where they crowd */
} DtInkOptions;

#define DT_INK_OPTIONS_DEFAULT                                                                     \
    ((DtInkOptions){.hatch = DT_HATCH_FASTEST,                                                     \
                    .angle = 0.78539816339744831,                                                  \
                    .spread = 1,                                                                   \
                    .hide = TRUE,                                                                  \
                    .dedupe = TRUE,                                                                \
                    .fill = TRUE,                                                                  \
                    .edge = TRUE,                                                                  \
                    .tolerance = 0.01,                                                             \
                    .paper = {1, 1, 1, 1},                                                         \
                    .picture = DT_PICTURE_CROSSED})

/* What became of each colour of the artwork; the first of several colours that look alike and
 * share a pen stands for all of them. A line of a grey, or a part too narrow for a pattern, is
 * compared with the line of grey ink as the eye sees both, blurred with the paper beside them. */
typedef struct {
    DtColour colour;
    int pen;         /* index into the rack, -1: left as bare paper */
    double distance; /* CIEDE2000 between the colour and the average look of the ink */
    double area_mm2; /* painted in this colour; for lines, length times width */
    int across;      /* a second pen, laid across the first; -1: none */
    double coverage, across_coverage; /* of each pen, 0 to 1; 1: dense; averages over the area */
    double before; /* CIEDE2000 between the colour and the nearest pen used densely */
} DtInkMatch;

typedef struct {
    DtInkMatch *matches;
    size_t n;
    double lost_mm;        /* length of lines that the ink of other pens covers in any order */
    double unseen_mm;      /* length of narrow parts, such as thin lines and letters, that differ
                            * from what is beside them in the artwork, but not in ink; 0 if areas are
                            * not filled or nothing hides, NAN if there are too many to look at */
    DtPoint unseen_at;     /* in the longest of them, where the placed drawing is, mm */
    gboolean judged_alone; /* areas cross too often to be mixed: each paint was judged by itself */
    size_t dense_gradients, dense_pictures; /* paints drawn either in one dense ink or not at all */
    size_t together;     /* paints of so many parts that the parts are not judged one by one */
    gboolean unsearched; /* so much ink that free-standing lines thinner than their pen were not
                     * checked, for which a lighter pen would look nearer */
    size_t faint;        /* paints, or places where they mix, that hide too little to be drawn */
    double crowded_mm;   /* length of lines left out where they crowd; without `thin_out` about how
                          * much is too many there: see dt_ink_trace() */
    double texture_mm2;  /* area of parts finer than the pen whose mean colours are drawn instead */
    gboolean thinned_out; /* they are left out */
    double beside; /* share of all ink, 0 to 1, by which it exceeds the dense areas it draws */
    size_t points,
        points_wanted; /* of pictures in points: how many were allowed, and how many their
                                   * tones take; 0: no fewer were allowed */
} DtInkReport;

/* What a user must know from a report apart from its colours: one sentence each, in order, for i
 * from 0; NULL after the last. Free with g_free(). */
char *dt_ink_report_note(const DtInkReport *r, size_t i);

void dt_ink_report_clear(DtInkReport *r);

/* Appends the strokes of a placed drawing to `out`, in painting order. `report` may be NULL.
 * Fails with DT_ERROR_INPUT on a rack without pens or on options out of range.
 *
 * A stroke up to a tenth wider than the tip is drawn as one line, a wider one as an area. If
 * areas hide what lies beneath and are dense, a line on an area of its own pen is not drawn
 * again, and what is painted of a line along the edge of such an area is merged into the area.
 * Where lines up to 0.6 tips wide crowd and their ink would cover far more than they do in the artwork, they are thinned
 * out if `thin_out` is set. If pens are chosen by appearance, the report tells without it, too, about how much is
 * too many.
 *
 * An outline without dashes of its own is dashed if a class of its shape or group names a line
 * type of ISO 128-20: dashed, dotted, dashed-spaced, long-dashed-dotted, dashed-double-dotted
 * and so on.
 *
 * If areas hide what lies beneath, translucent paints are mixed with it as in a browser, and the
 * visible result decides pen and tone. With dense fills a place is inked if the visible paint
 * hides at least half of the paper and does not look like paper. Gradients and images are judged
 * place by place, on a grid of half the finest tip or more; what is seen through the same paints
 * gets one pen, chosen by its mean over the drawn part. A translucent line is drawn if it hides
 * at least half. If areas hide nothing, or if translucent areas cross so often that mixing would
 * take too long, each paint is judged by itself; in the latter case a paint that hides half
 * hides everything. */
gboolean dt_ink_trace(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o, DtStrokes *out,
                      DtInkReport *report, GError **error);

/* Several sheets: large art, cut into windows. ---------------------------------------------------- */

typedef struct {
    DtStrokes ink;        /* in coordinates of the window, whose lower left corner is (0, 0) */
    size_t n_art;         /* strokes of the artwork, followed by those of the crosses */
    DtBox window;         /* extent of the artwork, mm */
    unsigned column, row; /* from the left, from the bottom */
} DtSheet;

typedef struct {
    DtSheet *sheets;
    size_t n;
} DtSheets;

/* Cuts strokes into windows of w by h mm that overlap by `overlap` mm and cover `art`, centred.
 * The two sheets at a seam carry the same registration crosses, drawn by `cross_pen`, in the
 * middle of their overlap; lines that leave a window are cut at its edge. Fails with
 * DT_ERROR_INPUT if sizes are not positive, if the overlap is not smaller than half a window, or
 * if there would be more than a thousand sheets. Free with dt_sheets_clear(). */
gboolean dt_ink_sheets(const DtStrokes *all, DtBox art, double w, double h, double overlap,
                       unsigned cross_pen, DtSheets *out, GError **error);
void dt_sheets_clear(DtSheets *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtSheets, dt_sheets_clear)

/* The share of the paper, 0 to 1, that ink of the pen's colour must cover to look as light as a
 * colour: (Yp - Y) / (Yp - Ys) by luminance (Murray 1936, after Davies, in reflectances). */
double dt_ink_coverage(DtColour colour, DtColour pen, DtColour paper);

/* The reflectance of a hatch that covers the share a, 0 to 1, of the paper (Yule and Nielsen
 * 1951): R = ((1 - a) paper^(1/n) + a ink^(1/n))^n; `paper` and `ink`, 0 to 1, are the
 * reflectances of each alone. */
double dt_ink_hatch_light(double share, double paper, double ink, double n);

/* The n, 1 to 10, with which that model fits the measured steps of a pen's tone scale best by
 * least squares: the pen's dot_gain. Step i is covered by share[i] and reflects seen[i] of the
 * light, 0 to 1; bare paper reflects `paper` and dense ink `ink`. 0 if the paper is no lighter
 * than the ink or no step is partly covered. */
double dt_ink_fit_dot_gain(const double *share, const double *seen, size_t n_steps, double paper,
                           double ink);

/* Appends what one pen (index `index`) draws to cover a share, 0 to 1, of a box: a step of a
 * tone scale. Fails as dt_ink_trace() does. */
gboolean dt_ink_tone_patch(DtBox box, double coverage, const DtPen *pen, unsigned index,
                           const DtInkOptions *o, DtStrokes *out, GError **error);

/* Colour difference of two opaque sRGB colours: CIEDE2000 (CIE 142:2001; Sharma, Wu and Dalal
 * 2005), D65. */
double dt_ink_colour_distance(DtColour a, DtColour b);
