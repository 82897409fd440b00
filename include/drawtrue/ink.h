/* ink: what must the pen trace? Turns shapes into centre lines for the pens of a rack. */
#pragma once

#include "drawtrue/art.h"
#include "drawtrue/rack.h"

typedef enum {
    DT_INK_OUTLINE, /* along a stroked outline */
    DT_INK_FILL,    /* hatch or ring inside an area */
    DT_INK_CENTRE,  /* centre line of a part narrower than the pen */
    DT_INK_DOT,     /* a dot of a picture */
    DT_INK_TOUR, /* a point of a picture that one line is to pass through, as a dot; who knows the
                     * machine joins them (dt_job_join_tours()) */
} DtInkKind;

/* One pen-down line: pts[first] to pts[first+n-1] of its set. A closed one returns to its first
 * point, which is not repeated. */
typedef struct {
    size_t first, n;
    uint8_t closed;
    uint8_t kind; /* DtInkKind */
    uint16_t pen; /* index into the rack */
    int shape;    /* index into the drawing's shapes, -1 where there is none */
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
double dt_strokes_length(const DtStrokes *s, size_t i); /* the closing segment included */
DtBox dt_strokes_box(const DtStrokes *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtStrokes, dt_strokes_clear)

typedef enum {
    DT_HATCH_LINES,
    DT_HATCH_CROSSED,
    DT_HATCH_RINGS,
    DT_HATCH_SERPENTINE,
    DT_HATCH_FASTEST, /* field by field serpentine lines in the direction, or rings, that the machine
                       * draws soonest; open hatches and fills without an edge as serpentine */
} DtHatch;

/* The time, s, that a machine takes to draw these lines by a pen, whatever lies before and after. It knows
 * the machine; ink does not. May be called from the thread that traces only. */
typedef double (*DtInkSeconds)(const DtLines *lines, unsigned pen, void *user);

/* What the maker decided by hand. */
typedef struct {
    DtColour colour; /* paints that look like this one (CIEDE2000 below 3) are drawn ... */
    int pen;         /* ... by this pen */
} DtInkColourRule;

typedef struct {
    int from, to; /* what one pen would draw, another does */
} DtInkSwap;

#define DT_INK_MOST_RULES 16

/* Pictures, and gradients of many colours. */
typedef enum {
    DT_PICTURE_HATCH,   /* lines, each pen in a direction of its own */
    DT_PICTURE_CROSSED, /* lines in up to four directions, one after the other as it gets darker */
    DT_PICTURE_CONTOUR, /* lines of equal tone */
    DT_PICTURE_STIPPLE, /* dots */
    DT_PICTURE_TOUR,    /* one line through the dots */
    DT_PICTURE_FLOW,    /* lines that follow the shapes in the picture */
} DtPicture;

typedef struct {
    DtHatch hatch;
    double angle; /* of the hatch lines, radians */
    double pitch; /* mm between hatch lines for full black; 0: the pen's tip width */
    double
        spread; /* 1 or more: all hatches are this many times as open as they look best, to save time */
    gboolean hide;   /* opaque fills hide what lies beneath */
    gboolean dedupe; /* coincident lines of one pen are drawn once */
    gboolean fill;   /* FALSE: outlines only; a fill without stroke gives its edge */
    gboolean edge;   /* a dense fill has a line along its edge, half a tip inside; without it lines
                         * that stand apart leave slivers bare */
    gboolean tone;   /* TRUE: a paint's lightness sets the pitch (dt_ink_coverage); FALSE: every
                         * fill is dense */
    gboolean solid;  /* every fill is dense, in the nearest pen; FALSE: pens and coverage are chosen
                         * so that the whole drawing looks most like the artwork */
    double tolerance;     /* mm */
    DtColour paper;       /* what shows where no ink is */
    DtPicture picture;    /* how pictures are drawn where appearance decides */
    size_t points;        /* of stipple and tour, over the whole drawing; 0: by the pen's width */
    DtInkSeconds seconds; /* for DT_HATCH_FASTEST; NULL: that is DT_HATCH_SERPENTINE */
    void *seconds_user;
    DtInkColourRule rules[DT_INK_MOST_RULES];
    size_t n_rules;
    DtInkSwap swaps[DT_INK_MOST_RULES];
    size_t n_swaps;
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

/* What became of each artwork colour; of colours that look alike and have one pen the first stands
 * for all. */
typedef struct {
    DtColour colour;
    int pen;         /* index into the rack, -1: left to the paper */
    double distance; /* CIEDE2000 between the colour and what the ink gives on average */
    double area_mm2; /* painted in this colour; of lines their length times their width */
    int across;      /* a second pen, laid across the first; -1: none */
    double coverage,
        across_coverage; /* of either pen, 0 to 1; 1: dense; of a gradient on average */
    double before;       /* CIEDE2000 between the colour and the nearest pen, laid densely */
} DtInkMatch;

typedef struct {
    DtInkMatch *matches;
    size_t n;
    double lost_mm; /* of lines that the ink of other pens covers, in any order */
    gboolean
        judged_alone; /* areas crossed too often to be mixed: each paint was judged by itself */
    size_t dense_gradients, dense_pictures; /* paints drawn in one dense ink or not at all */
    size_t together; /* paints of so many parts that these are not judged one by one */
    gboolean
        unsearched; /* so much ink that lines thinner than their pen, lying free, were not looked for:
                          * a lighter pen would look nearer */
    size_t faint;   /* paints, or places where they are mixed, that hide too little to be drawn */
} DtInkReport;

/* What a maker must know of a report beyond its colours: one sentence each, in order, for i from 0
 * on; NULL after the last. Free with g_free(). */
char *dt_ink_report_note(const DtInkReport *r, size_t i);

void dt_ink_report_clear(DtInkReport *r);

/* Appends the strokes of a placed drawing to `out`, in painting order. `report` may be NULL. Fails
 * with DT_ERROR_INPUT on a rack without pens or options out of range.
 *
 * A stroke up to a tenth wider than the tip is one line, a wider one an area. Where areas hide what
 * lies beneath and are dense, a line is not drawn again on an area of its own pen, and what is painted
 * of one along the edge of such an area joins the area. An outline without
 * dashes of its own is dashed where a class of the shape or of its group names a line type of
 * ISO 128-20: dashed, dotted, dashed-spaced, long-dashed-dotted, dashed-double-dotted and so on.
 *
 * Where areas hide what lies beneath, translucent paints are mixed with it as a browser does, and what is
 * seen of all of them decides the pen and the tone. Where fills are dense a place is inked where what
 * is seen hides at least half of the paper and does not look like it. Gradients and images are judged
 * so place by place, on a grid of half the finest tip or more; what is seen through the same paints
 * has one pen, by its mean where it is drawn. A translucent line is drawn where it hides at least half.
 * Where areas hide nothing each paint is judged by itself. Where translucent areas cross so often that
 * mixing would not end they are judged by themselves too, and what hides half hides all. */
gboolean dt_ink_trace(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o, DtStrokes *out,
                      DtInkReport *report, GError **error);

/* Several sheets: large art, cut into windows. ---------------------------------------------------- */

typedef struct {
    DtStrokes ink;        /* in the window's coordinates: its lower left corner is (0, 0) */
    size_t n_art;         /* strokes of the art; those of the crosses follow */
    DtBox window;         /* of the art, mm */
    unsigned column, row; /* from the left, from below */
} DtSheet;

typedef struct {
    DtSheet *sheets;
    size_t n;
} DtSheets;

/* Cuts strokes into windows of w by h mm that overlap by `overlap` mm and cover `art`, centred. Both
 * sheets at a seam carry the same registration crosses, drawn by `cross_pen`, in the middle of their
 * overlap; lines that leave a window are cut at its edge. Fails with DT_ERROR_INPUT where sizes are
 * not positive, the overlap is not smaller than half a window, or there would be more than a thousand
 * sheets. Free with dt_sheets_clear(). */
gboolean dt_ink_sheets(const DtStrokes *all, DtBox art, double w, double h, double overlap,
                       unsigned cross_pen, DtSheets *out, GError **error);
void dt_sheets_clear(DtSheets *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtSheets, dt_sheets_clear)

/* The share of the paper, 0 to 1, that ink of the pen's colour must cover to look as light as a
 * colour: (Yp - Y) / (Yp - Ys) by luminance (Murray 1936, after Davies, in reflectances). */
double dt_ink_coverage(DtColour colour, DtColour pen, DtColour paper);

/* The light that a hatch reflects which covers the share a, 0 to 1, of paper, by Yule and Nielsen (1951):
 * R = ((1 - a) paper^(1/n) + a ink^(1/n))^n; `paper` and `ink`, 0 to 1, are what each reflects alone. */
double dt_ink_hatch_light(double share, double paper, double ink, double n);

/* The n, 1 to 10, by which measured steps of a pen's tone scale are nearest to that model by least squares: the
 * pen's dot_gain. Step i is covered by share[i]
 * and reflects seen[i] of the light, 0 to 1, as the bare paper does `paper` and dense ink `ink`. 0 where the
 * paper is no lighter than the ink or no step is covered in part. */
double dt_ink_fit_dot_gain(const double *share, const double *seen, size_t n_steps, double paper,
                           double ink);

/* Appends what one pen (of index `index`) draws to cover a share of a box, 0 to 1: a step of a tone
 * scale. Fails as dt_ink_trace() does. */
gboolean dt_ink_tone_patch(DtBox box, double coverage, const DtPen *pen, unsigned index,
                           const DtInkOptions *o, DtStrokes *out, GError **error);

/* Colour difference of two opaque sRGB colours: CIEDE2000 (CIE 142:2001; Sharma, Wu and Dalal
 * 2005), D65. */
double dt_ink_colour_distance(DtColour a, DtColour b);
