/* pose: finds the sheet in a picture of a fraction of the pixels. Any two figures that look like finders
 * may be any two of the sheet's; each such guess is followed up by looking for the other finders and then
 * for the marks of the rows where they should be, from the middle outwards as the guess gets better. The
 * guess that finds most marks and finders is right, the mirrored ones included. */
#include "truing/scan/pose.h"

#include "truing/solve/least-squares.h"

#include <math.h>
#include <string.h>

enum { SMALL_PX = 1800 }; /* pixels along the longer side of the picture that is searched */
enum { MOST_CANDIDATES = 48, LEAST_PAIRS = 4 };

static const double around_share =
    0.012;                             /* of the longer side: how far what surrounds a pixel goes */
static const double least_found = 0.4; /* of the marks that should be in the picture */

/* Warp ----------------------------------------------------------------------------------------- */

static void terms_at(const DtScanWarp *w, DtPoint c, double t[10])
{
    const double u = (c.x - w->middle.x) / w->size, v = (c.y - w->middle.y) / w->size;
    const double all[10] = {1,     u,         v,         u * u,     u * v,
                            v * v, u * u * u, u * u * v, u * v * v, v * v * v};
    memcpy(t, all, sizeof all);
}

DtPoint dt_scan_warp(const DtScanWarp *w, DtPoint c)
{
    double t[10];
    DtPoint at = {0, 0};
    terms_at(w, c, t);
    for (int i = 0; i < w->terms; i++) {
        at.x += w->x[i] * t[i];
        at.y += w->y[i] * t[i];
    }
    return at;
}

DtAffine dt_scan_warp_slope(const DtScanWarp *w, DtPoint c)
{
    const double d = 1;
    const DtPoint at = dt_scan_warp(w, c);
    const DtPoint x1 = dt_scan_warp(w, dt_point(c.x + d, c.y)),
                  x0 = dt_scan_warp(w, dt_point(c.x - d, c.y));
    const DtPoint y1 = dt_scan_warp(w, dt_point(c.x, c.y + d)),
                  y0 = dt_scan_warp(w, dt_point(c.x, c.y - d));
    return (DtAffine){(x1.x - x0.x) / (2 * d),
                      (x1.y - x0.y) / (2 * d),
                      (y1.x - y0.x) / (2 * d),
                      (y1.y - y0.y) / (2 * d),
                      at.x,
                      at.y};
}

typedef struct {
    DtPoint c, px;
} Pair;

/* Keeps the old map where the places do not lie so that they determine a new one. */
static void fit_warp(DtScanWarp *w, int terms, const GArray *pairs)
{
    const gsize m = pairs->len, n = (gsize)terms;
    g_autofree double *a = g_new(double, m *n), *x = g_new(double, m), *y = g_new(double, m);
    for (gsize i = 0; i < m; i++) {
        const Pair *p = &g_array_index(pairs, Pair, i);
        double t[10];
        terms_at(w, p->c, t);
        memcpy(a + i * n, t, n * sizeof *t);
        x[i] = p->px.x;
        y[i] = p->px.y;
    }
    DtScanWarp fitted = *w;
    fitted.terms = terms;
    memset(fitted.x, 0, sizeof fitted.x);
    memset(fitted.y, 0, sizeof fitted.y);
    if (dt_least_squares(m, n, a, x, fitted.x, NULL, NULL) &&
        dt_least_squares(m, n, a, y, fitted.y, NULL, NULL))
        *w = fitted;
}

/* The similarity, or its mirror image, that takes two points to two others. */
static void fit_two(DtScanWarp *w, const Pair *p, const Pair *q, gboolean mirrored)
{
    const double flip = mirrored ? 1 : -1; /* bed y goes up, the picture's goes down */
    const double cx = (q->c.x - p->c.x) / w->size, cy = flip * (q->c.y - p->c.y) / w->size;
    const double dx = q->px.x - p->px.x, dy = q->px.y - p->px.y, n = cx * cx + cy * cy;
    const double re = (dx * cx + dy * cy) / n, im = (dy * cx - dx * cy) / n;
    w->terms = 3;
    w->x[1] = re;
    w->y[1] = im;
    w->x[2] = -im * flip;
    w->y[2] = re * flip;
    w->x[0] = w->y[0] = 0;
    const DtPoint at = dt_scan_warp(w, p->c);
    w->x[0] = p->px.x - at.x;
    w->y[0] = p->px.y - at.y;
}

/* Pixels a mm, on average. */
static double scale_of(const DtScanWarp *w)
{
    return sqrt(fabs(w->x[1] * w->y[2] - w->x[2] * w->y[1])) / w->size;
}

/* Search --------------------------------------------------------------------------------------- */

typedef struct {
    const DtTestSheet *sheet;
    DtPoint finders[DT_SHEET_FINDERS];
    GArray *candidates; /* DtScanFigure: may be finders */
    GArray *figures;    /* all */
    GArray *lines;      /* those that may be marks, by y */
    guint n_marks;
    double w, h; /* of the picture */
} Search;

static DtPoint mark_middle(const DtMark *m)
{
    return dt_point_lerp(m->from, m->to, 0.5);
}

static void load_finders(Search *s)
{
    int n[DT_SHEET_FINDERS] = {0};
    memset(s->finders, 0, sizeof s->finders);
    s->n_marks = 0;
    for (size_t i = 0; i < s->sheet->n; i++) {
        const DtMark *m = &s->sheet->marks[i];
        s->n_marks += m->part == DT_SHEET_SCAN && m->kind == DT_MARK_POSITION;
        if (m->kind != DT_MARK_FINDER || m->row != DT_SHEET_ROW_FINDERS || m->place < 0 ||
            m->place >= DT_SHEET_FINDERS)
            continue;
        const int k = m->place;
        s->finders[k] = dt_point_lerp(s->finders[k], mark_middle(m), 1.0 / ++n[k]);
    }
}

static int larger_first(gconstpointer a, gconstpointer b)
{
    return ((const DtScanFigure *)b)->n - ((const DtScanFigure *)a)->n;
}

/* The same in all directions, and as far out as two strokes each way reach: the root mean square of
 * the pixels' distances is then 0.64 of the largest. */
static gboolean looks_like_finder(const DtScanFigure *f)
{
    const double share = hypot(f->along, f->across) / f->radius;
    return f->across > 0.82 * f->along && share > 0.56 && share < 0.70 && f->radius > 8;
}

static void load_candidates(Search *s)
{
    s->candidates = g_array_new(FALSE, FALSE, sizeof(DtScanFigure));
    for (guint i = 0; i < s->figures->len; i++)
        if (looks_like_finder(&g_array_index(s->figures, DtScanFigure, i)))
            g_array_append_vals(s->candidates, &g_array_index(s->figures, DtScanFigure, i), 1);
    g_array_sort(s->candidates, larger_first);
    if (s->candidates->len > MOST_CANDIDATES)
        g_array_set_size(s->candidates, MOST_CANDIDATES);
}

static gboolean is_long(const DtScanFigure *f)
{
    return f->across < 0.35 * f->along;
}

static int upper_first(gconstpointer a, gconstpointer b)
{
    const double p = ((const DtScanFigure *)a)->middle.y, q = ((const DtScanFigure *)b)->middle.y;
    return (p > q) - (p < q);
}

static void load_lines(Search *s)
{
    s->lines = g_array_new(FALSE, FALSE, sizeof(DtScanFigure));
    for (guint i = 0; i < s->figures->len; i++)
        if (is_long(&g_array_index(s->figures, DtScanFigure, i)))
            g_array_append_vals(s->lines, &g_array_index(s->figures, DtScanFigure, i), 1);
    g_array_sort(s->lines, upper_first);
}

/* The first of the lines at y or below it. */
static guint first_line_from(const Search *s, double y)
{
    guint low = 0, high = s->lines->len;
    while (low < high) {
        const guint middle = low + (high - low) / 2;
        if (g_array_index(s->lines, DtScanFigure, middle).middle.y < y)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static const double finder_radius_mm = 4.45; /* of its ink, a middling tip's width included */

static const DtScanFigure *candidate(const Search *s, guint i)
{
    return &g_array_index(s->candidates, DtScanFigure, i);
}

static gboolean is_size_right(const DtScanFigure *f, double px_mm)
{
    const double r = f->radius / px_mm;
    return r > 0.8 * finder_radius_mm && r < 1.25 * finder_radius_mm;
}

/* The finders that the guess finds, as pairs. */
static void match_finders(const Search *s, const DtScanWarp *w, GArray *pairs)
{
    const double px_mm = scale_of(w), within = 7 * px_mm;
    g_array_set_size(pairs, 0);
    for (int k = 0; k < DT_SHEET_FINDERS; k++) {
        const DtPoint at = dt_scan_warp(w, s->finders[k]);
        const DtScanFigure *best = NULL;
        for (guint i = 0; i < s->candidates->len; i++) {
            const DtScanFigure *f = candidate(s, i);
            if (is_size_right(f, px_mm) && dt_point_distance(f->middle, at) < within &&
                (!best || dt_point_distance(f->middle, at) < dt_point_distance(best->middle, at)))
                best = f;
        }
        const Pair p = {s->finders[k], best ? best->middle : at};
        if (best)
            g_array_append_val(pairs, p);
    }
}

static double angle_between_lines(double a, double b)
{
    const double d = fmod(fabs(a - b), G_PI);
    return MIN(d, G_PI - d);
}

/* The figure that is the mark, by its place, length and direction; NULL where there is none. */
static const DtScanFigure *find_mark(const Search *s, const DtScanWarp *w, const DtMark *m,
                                     double within)
{
    const DtPoint at = dt_scan_warp(w, mark_middle(m));
    const DtPoint from = dt_scan_warp(w, m->from), to = dt_scan_warp(w, m->to);
    const double length = dt_point_distance(from, to), angle = atan2(to.y - from.y, to.x - from.x);
    const DtScanFigure *best = NULL;
    double nearest = within;
    for (guint i = first_line_from(s, at.y - within); i < s->lines->len; i++) {
        const DtScanFigure *f = &g_array_index(s->lines, DtScanFigure, i);
        const double d = dt_point_distance(f->middle, at), span = f->along * sqrt(12);
        if (f->middle.y > at.y + within)
            break;
        if (d < nearest && span > 0.7 * length && span < 1.4 * length &&
            angle_between_lines(f->angle, angle) < 0.15) {
            nearest = d;
            best = f;
        }
    }
    return best;
}

static gboolean is_inside(const Search *s, DtPoint px)
{
    return px.x > 0 && px.y > 0 && px.x < s->w && px.y < s->h;
}

/* Pairs of all the marks found; how many should be in the picture. */
static guint match_marks(const Search *s, const DtScanWarp *w, double within_mm, GArray *pairs)
{
    guint expected = 0;
    g_array_set_size(pairs, 0);
    for (size_t i = 0; i < s->sheet->n; i++) {
        const DtMark *m = &s->sheet->marks[i];
        if (m->kind != DT_MARK_POSITION || m->part != DT_SHEET_SCAN ||
            !is_inside(s, dt_scan_warp(w, mark_middle(m))))
            continue;
        expected++;
        const DtScanFigure *f = find_mark(s, w, m, within_mm * scale_of(w));
        const Pair p = {mark_middle(m), f ? f->middle : (DtPoint){0, 0}};
        if (f)
            g_array_append_val(pairs, p);
    }
    return expected;
}

/* From a guess that is right near the finders to a map that is right everywhere. */
static void follow_up(const Search *s, DtScanPose *pose, GArray *pairs)
{
    static const struct {
        double within;
        int terms, least;
    } rounds[] = {{1.6, 3, 12}, {1.4, 3, 20},  {1.2, 6, 40},
                  {1.0, 6, 40}, {0.9, 10, 60}, {0.8, 10, 60}};
    for (gsize i = 0; i < G_N_ELEMENTS(rounds); i++) {
        pose->expected = match_marks(s, &pose->warp, rounds[i].within, pairs);
        pose->found = pairs->len;
        if (pairs->len < 12)
            return;
        const int terms = pairs->len >= (guint)rounds[i].least ? rounds[i].terms : 3;
        fit_warp(&pose->warp, terms, pairs);
    }
    pose->outside = 1 - (double)pose->expected / MAX(s->n_marks, 1);
}

/* With the strokes of the finders. The rows of a square sheet are the same when it is seen mirrored about its
 * diagonal, and only the finders tell. */
static guint marks_found(const DtScanPose *pose)
{
    return pose->found + 4 * pose->finders;
}

static void try_guess(const Search *s, const DtScanWarp *guess, gboolean mirrored, DtScanPose *best)
{
    g_autoptr(GArray) pairs = g_array_new(FALSE, FALSE, sizeof(Pair));
    DtScanPose pose = {.warp = *guess, .mirrored = mirrored};
    match_finders(s, guess, pairs);
    if (pairs->len < 2)
        return;
    if (pairs->len >= 3)
        fit_warp(&pose.warp, 3, pairs);
    follow_up(s, &pose, pairs);
    match_finders(s, &pose.warp, pairs);
    pose.finders = pairs->len;
    if (marks_found(&pose) > marks_found(best))
        *best = pose;
}

/* Two of the sheet's finders may be any two of the candidates, whose own size must fit the distance. */
static void try_pair(const Search *s, DtScanWarp w, int i, int j, guint a, guint b,
                     DtScanPose *best)
{
    const Pair p = {s->finders[i], candidate(s, a)->middle},
               q = {s->finders[j], candidate(s, b)->middle};
    const double px_mm = dt_point_distance(p.px, q.px) / MAX(dt_point_distance(p.c, q.c), 1);
    if (!is_size_right(candidate(s, a), px_mm) || !is_size_right(candidate(s, b), px_mm))
        return;
    for (int mirrored = 0; mirrored < 2; mirrored++) {
        fit_two(&w, &p, &q, mirrored);
        try_guess(s, &w, mirrored, best);
    }
}

static DtScanWarp blank_warp(const DtTestSheet *s)
{
    return (DtScanWarp){.middle = {s->paper_at.x + s->paper_w / 2, s->paper_at.y + s->paper_h / 2},
                        .size = MAX(s->paper_w, s->paper_h) / 2};
}

static gboolean is_certain(const Search *s, const DtScanPose *pose)
{
    return pose->finders == DT_SHEET_FINDERS && pose->found >= 0.9 * s->n_marks;
}

static void search(const Search *s, DtScanPose *best)
{
    for (int i = 0; i < DT_SHEET_FINDERS; i++)
        for (int j = i + 1; j < DT_SHEET_FINDERS; j++)
            for (guint a = 0; a < s->candidates->len; a++)
                for (guint b = 0; b < s->candidates->len; b++)
                    if (a != b && !is_certain(s, best))
                        try_pair(s, blank_warp(s->sheet), i, j, a, b, best);
}

/* By how much the picture bends the sheet, mm: the largest of what is not affine in the map. */
static double bend_of(const DtScanWarp *w, const DtTestSheet *s)
{
    DtScanWarp bent = *w;
    double most = 0;
    memset(bent.x, 0, 3 * sizeof *bent.x);
    memset(bent.y, 0, 3 * sizeof *bent.y);
    for (int i = 0; i < 9; i++) {
        const DtPoint c = {s->paper_at.x + s->paper_w * (0.08 + 0.42 * (i % 3)),
                           s->paper_at.y + s->paper_h * (0.08 + 0.42 * (i / 3))};
        const DtPoint d = dt_scan_warp(&bent, c);
        most = MAX(most, hypot(d.x, d.y) / scale_of(w));
    }
    return most;
}

/* From the small picture's pixels to the whole one's. */
static void enlarge(DtScanWarp *w, int by)
{
    for (int i = 0; i < 10; i++) {
        w->x[i] *= by;
        w->y[i] *= by;
    }
}

static gboolean judge(const Search *s, const DtScanPose *best, char **why)
{
    if (s->figures->len < 8)
        *why = g_strdup(_("it is blank, or nothing on it is darker than the paper"));
    else if (s->candidates->len < 2)
        *why = g_strdup(
            _("fewer than two of the sheet's four corner figures (two strokes crossing two) are in "
              "it; scan the whole sheet, at 150 dpi or more"));
    else if (best->found < least_found * MAX(best->expected, 1) || best->found < 0.25 * s->n_marks)
        *why = g_strdup_printf(
            _("it does not show this sheet: of %u marks only %u are where they should be"),
            s->n_marks, best->found);
    else if (best->mirrored)
        *why = g_strdup(
            _("it shows the sheet mirrored; scan it again without mirroring. If the letters on "
              "the paper are mirrored too, swap the machine's axes X and Y"));
    return *why == NULL;
}

gboolean dt_scan_find_pose(const DtScanPicture *p, const DtTestSheet *sheet, DtScanPose *out,
                           char **why)
{
    const double most_bend_mm = 2.5; /* no rail and no scanner bends a sheet as much */
    const int by = MAX((MAX(p->w, p->h) + SMALL_PX / 2) / SMALL_PX, 1);
    g_auto(DtScanPicture) small = {0};
    Search s = {.sheet = sheet};
    *why = NULL;
    *out = (DtScanPose){0};
    dt_scan_picture_shrink(p, by, &small);
    s.w = small.w;
    s.h = small.h;
    s.figures = dt_scan_figures(&small, (int)ceil(around_share * MAX(small.w, small.h)), 6);
    load_finders(&s);
    load_candidates(&s);
    load_lines(&s);
    search(&s, out);
    const gboolean good = judge(&s, out, why);
    if (good) {
        out->bend_mm = bend_of(&out->warp, sheet);
        out->photograph = out->bend_mm > most_bend_mm;
        enlarge(&out->warp, by);
    }
    g_array_unref(s.figures);
    g_array_unref(s.candidates);
    g_array_unref(s.lines);
    return good;
}
