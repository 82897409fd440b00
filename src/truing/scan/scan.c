/* scan: a picture to the places of the sheet's marks in it. */
#include "truing/scan/measure.h"
#include "truing/scan/pose.h"
#include "truing/scan/seen-swings.h"
#include "truing/scan/scan-tones.h"
#include "truing/solve/least-squares.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

static const double mm_per_inch = 25.4;
static const double reach_mm = 0.95; /* across a line: the next one is 2 mm away */
static const double pen_reach_mm =
    1.6; /* a pen may sit 1 mm off in its holder; its strokes are 3.4 mm apart */
static const double half_mark_mm = 1.35;             /* of a mark's length, its ends left out */
static const double half_piece_mm = 2, piece_mm = 5; /* of a long line */
static const double beside_mm =
    1.5; /* a piece of a long line as near to another mark is left out */
static const double stray_mm =
    0.8; /* from the neighbours in its row: a pulley off centre, and more */
static const double retry_mm = 0.5; /* slack may shift a mark as far from where the pose has it */
static const double least_dpi = 90;

typedef struct {
    const DtScanPicture *picture;
    const DtTestSheet *sheet;
    DtScanPose pose;
    DtScan *out;
    GArray *seen;    /* DtSeen */
    GArray *tones;   /* DtSeenTone */
    GArray *swings;  /* DtSwingSeen */
    GArray *offsets; /* double: of each, from where the pose has it, mm */
    double px_mm, mm_px;
    guint looked_for, outside;
} Reading;

/* As the file says unless that is far off, else the nearest that scanners have; others are taken as they come. By the
 * sheet alone 96 dpi and 100 are not always to be told apart: the machine's scale is not known yet. */
static double nominal_dpi(double measured, double stated)
{
    const double near = 0.04;
    static const double usual[] = {72, 75, 96, 100, 150, 200, 240, 300, 400, 600, 720, 800, 1200};
    double best = measured, off = near;
    if (stated > 0 && fabs(measured / stated - 1) < near)
        return stated;
    for (gsize i = 0; i < G_N_ELEMENTS(usual); i++)
        if (fabs(measured / usual[i] - 1) < off) {
            best = usual[i];
            off = fabs(measured / best - 1);
        }
    return best;
}

static double measured_dpi(const DtScanPose *pose)
{
    const DtAffine a = dt_scan_warp_slope(&pose->warp, pose->warp.middle);
    return sqrt(fabs(dt_affine_determinant(a))) * mm_per_inch;
}

/* Lines -------------------------------------------------------------------------------------- */

static gboolean is_in_picture(const Reading *r, DtPoint px)
{
    const double edge = 2 * r->px_mm;
    return px.x > edge && px.y > edge && px.x < r->picture->w - edge && px.y < r->picture->h - edge;
}

/* A line within `reach` of `at`, or of a little to either side of it. */
static gboolean find_line(const Reading *r, DtPoint at, DtPoint along, double half_mm, double reach,
                          DtScanLine *line)
{
    static const double tries[] = {0, 1, -1};
    const DtPoint normal = {-along.y, along.x};
    for (gsize i = 0; i < G_N_ELEMENTS(tries); i++) {
        const double shift = tries[i] * retry_mm * r->px_mm;
        const DtPoint from = dt_point_add(at, dt_point_scale(normal, shift));
        if (dt_scan_measure_line(r->picture, from, along, half_mm * r->px_mm, reach * r->px_mm,
                                 line)) {
            line->offset += shift;
            return TRUE;
        }
    }
    return FALSE;
}

static void look_at(Reading *r, size_t mark, DtPoint c, DtPoint way, double half_mm)
{
    const DtPoint at = dt_scan_warp(&r->pose.warp, c);
    const DtPoint d = dt_affine_apply_vector(dt_scan_warp_slope(&r->pose.warp, c), way);
    const DtPoint along = dt_point_scale(d, 1 / hypot(d.x, d.y)), normal = {-along.y, along.x};
    DtScanLine line;
    const double reach = r->sheet->marks[mark].part == DT_SHEET_PENS ? pen_reach_mm : reach_mm;
    r->looked_for++;
    r->outside += !is_in_picture(r, at);
    if (!is_in_picture(r, at) || !find_line(r, at, along, half_mm, reach, &line))
        return;
    const double offset = line.offset * r->mm_px;
    const DtSeen seen = {mark,
                         dt_point_add(dt_point_scale(at, r->mm_px), dt_point_scale(normal, offset)),
                         normal, line.sd * r->mm_px, line.width * r->mm_px};
    g_array_append_val(r->seen, seen);
    g_array_append_val(r->offsets, offset);
}

static double to_box(DtBox b, DtPoint p)
{
    const double dx = MAX(MAX(b.x0 - p.x, p.x - b.x1), 0), dy = MAX(MAX(b.y0 - p.y, p.y - b.y1), 0);
    return hypot(dx, dy);
}

/* Whether another mark is so near to a piece of a mark that it would be measured with it. */
static gboolean is_disturbed(const DtTestSheet *s, size_t mark, DtPoint a, DtPoint b)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (i == mark || !dt_mark_is_stroke(m))
            continue;
        const DtBox box = dt_box_add_point(dt_box_add_point(DT_BOX_EMPTY, m->from), m->to);
        for (int k = 0; k <= 4; k++)
            if (to_box(box, dt_point_lerp(a, b, k / 4.0)) < beside_mm)
                return TRUE;
    }
    return FALSE;
}

static void look_at_line(Reading *r, size_t mark)
{
    const DtMark *m = &r->sheet->marks[mark];
    const double length = dt_point_distance(m->from, m->to);
    const DtPoint way = dt_point_scale(dt_point_sub(m->to, m->from), 1 / length);
    const int n = (int)(length / piece_mm);
    for (int i = 0; i < n; i++) {
        const DtPoint c = dt_point_lerp(m->from, m->to, (i + 0.5) / n),
                      half = dt_point_scale(way, half_piece_mm);
        if (!is_disturbed(r->sheet, mark, dt_point_sub(c, half), dt_point_add(c, half)))
            look_at(r, mark, c, way, half_piece_mm);
    }
}

static void look_at_all(Reading *r)
{
    for (size_t i = 0; i < r->sheet->n && !dt_work_stopped(); i++) {
        const DtMark *m = &r->sheet->marks[i];
        const gboolean of_pen = m->part == DT_SHEET_PENS && m->kind == DT_MARK_DASH && m->axis >= 0;
        if (m->part != DT_SHEET_SCAN && !of_pen)
            continue;
        const DtPoint way =
            dt_point_scale(dt_point_sub(m->to, m->from), 1 / dt_point_distance(m->from, m->to));
        if (m->kind == DT_MARK_POSITION || of_pen)
            look_at(r, i, dt_point_lerp(m->from, m->to, 0.5), way, half_mark_mm);
        else if (m->kind == DT_MARK_GAUGE && m->place == 0)
            look_at_line(r, i);
    }
}

/* What is no mark -------------------------------------------------------------------------------- */

static gboolean are_alike(const DtMark *a, const DtMark *b)
{
    return a->kind == b->kind && a->axis == b->axis && a->row == b->row &&
           a->approach[a->axis] == b->approach[b->axis];
}

/* The median offset of the neighbours in the same row that were approached alike. */
static double usual_offset(const Reading *r, guint i)
{
    enum { NEIGHBOURS = 5 };
    double found[2 * NEIGHBOURS];
    size_t n = 0;
    const DtSeen *seen = (const DtSeen *)(const void *)r->seen->data;
    const DtMark *m = &r->sheet->marks[seen[i].mark];
    for (int way = -1; way <= 1; way += 2) {
        size_t side = 0;
        for (gint64 k = (gint64)i + way; k >= 0 && k < r->seen->len && side < NEIGHBOURS; k += way)
            if (are_alike(m, &r->sheet->marks[seen[k].mark])) {
                found[n++] = g_array_index(r->offsets, double, (guint)k);
                side++;
            }
    }
    return n > 0 ? dt_median(found, n) : g_array_index(r->offsets, double, i);
}

/* Lines of another width than the others, or far from their neighbours, are something else. */
static void drop_strays(Reading *r)
{
    const DtSeen *seen = (const DtSeen *)(const void *)r->seen->data;
    g_autofree double *widths = g_new(double, r->seen->len + 1);
    g_autofree gboolean *bad = g_new0(gboolean, r->seen->len + 1);
    for (guint i = 0; i < r->seen->len; i++)
        widths[i] = seen[i].width;
    const double usual = dt_median(widths, r->seen->len);
    for (guint i = 0; i < r->seen->len; i++)
        bad[i] = (fabs(seen[i].width - usual) > 0.4 * usual &&
                  r->sheet->marks[seen[i].mark].part == DT_SHEET_SCAN) ||
                 seen[i].sd > 0.05 ||
                 fabs(g_array_index(r->offsets, double, i) - usual_offset(r, i)) > stray_mm;
    DtAffine back = DT_AFFINE_IDENTITY;
    dt_affine_invert(r->out->rough, &back);
    guint kept = 0;
    r->out->strays = g_new(DtPoint, r->seen->len + 1);
    for (guint i = 0; i < r->seen->len; i++)
        if (bad[i])
            r->out->strays[r->out->n_strays++] = dt_affine_apply(back, seen[i].at);
        else
            g_array_index(r->seen, DtSeen, kept++) = seen[i];
    g_array_set_size(r->seen, kept);
}

/* Tone steps -------------------------------------------------------------------------------------- */

/* Where a pen's strokes lie on average against where the pose has them. FALSE: it has none across both axes. */
static gboolean shift_of(const Reading *r, int pen, DtScanPenShift *out)
{
    double n[2] = {0, 0}, width = 0;
    DtPoint sum[2] = {{0, 0}, {0, 0}};
    for (guint i = 0; i < r->seen->len; i++) {
        const DtSeen *s = &g_array_index(r->seen, DtSeen, i);
        const DtMark *m = &r->sheet->marks[s->mark];
        if (m->part != DT_SHEET_PENS || m->pen != pen || m->axis < 0)
            continue;
        const DtPoint c = dt_point_lerp(m->from, m->to, 0.5),
                      off = dt_point_sub(dt_point_scale(s->at, r->px_mm),
                                         dt_scan_warp(&r->pose.warp, c));
        sum[m->axis] =
            dt_point_add(sum[m->axis], dt_point_scale(s->normal, dt_point_dot(off, s->normal)));
        width += s->width;
        n[m->axis]++;
    }
    if (n[0] == 0 || n[1] == 0)
        return FALSE;
    *out = (DtScanPenShift){
        pen, dt_point_add(dt_point_scale(sum[0], 1 / n[0]), dt_point_scale(sum[1], 1 / n[1])),
        width / (n[0] + n[1])};
    return TRUE;
}

static void look_at_tones(Reading *r)
{
    enum { MOST_PENS = 64 };
    DtScanPenShift shifts[MOST_PENS];
    size_t n = 0;
    for (int pen = 0; pen < MOST_PENS; pen++)
        n += shift_of(r, pen, &shifts[n]) ? 1 : 0;
    dt_scan_measure_tones(r->picture, &r->pose, r->sheet, shifts, n, r->tones);
}

/* The sheet's number ----------------------------------------------------------------------------- */

static double contrast_at(const Reading *r, DtPoint c)
{
    const DtPoint at = dt_scan_warp(&r->pose.warp, c);
    const DtPoint d = dt_affine_apply_vector(dt_scan_warp_slope(&r->pose.warp, c), dt_point(0, 1));
    const DtPoint along = dt_point_scale(d, 1 / hypot(d.x, d.y));
    DtScanLine line;
    if (!is_in_picture(r, at) ||
        !dt_scan_measure_line(r->picture, at, along, 0.7 * r->px_mm, 1.0 * r->px_mm, &line))
        return 0;
    return line.contrast;
}

/* The number in the picture, as far as its strokes can be seen: those of `known`. */
static guint read_number(const Reading *r, guint *known)
{
    guint number = 0;
    *known = 0;
    for (size_t i = 0; i < r->sheet->n; i++) {
        const DtMark *m = &r->sheet->marks[i];
        if (m->kind != DT_MARK_FINDER || m->row != DT_SHEET_ROW_NUMBER)
            continue;
        const int up = m->to.y > m->from.y ? 1 : -1;
        const double middle = m->from.y - up * DT_SHEET_BIT_GAP_MM;
        const double out = DT_SHEET_BIT_GAP_MM + DT_SHEET_BIT_MM / 2;
        const double above = contrast_at(r, dt_point(m->from.x, middle + out));
        const double below = contrast_at(r, dt_point(m->from.x, middle - out));
        if (MAX(above, below) < 3 * MIN(above, below) || MAX(above, below) == 0)
            continue;
        *known |= 1u << m->place;
        number |= (above > below ? 1u : 0u) << m->place;
    }
    return number;
}

static gboolean check_number(const Reading *r, const char *path, GError **error)
{
    guint known;
    const guint shown = read_number(r, &known);
    const guint wanted = (guint)r->sheet->number & ((1u << DT_SHEET_NUMBER_BITS) - 1);
    if (((shown ^ wanted) & known) && r->pose.photograph) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the number of its sheet cannot be read, or is not %u: it bends the sheet "
                    "by %.0f mm, as a camera does that is held at a slant; scan the sheet, or hold "
                    "the camera straight above it",
                    path, wanted, r->pose.bend_mm);
        return FALSE;
    }
    if ((shown ^ wanted) & known) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: it shows sheet %u where sheet %u was expected", path, shown, wanted);
        return FALSE;
    }
    return TRUE;
}

/* -------------------------------------------------------------------------------------------- */

static void note(DtScan *s, const char *text)
{
    char *joined = s->notes ? g_strconcat(s->notes, "\n", text, NULL) : g_strdup(text);
    g_free(s->notes);
    s->notes = joined;
}

static void note_doubts(Reading *r)
{
    const guint missing = r->looked_for - r->seen->len;
    if (r->pose.photograph) {
        g_autofree char *text =
            g_strdup_printf(_("it bends the sheet by %.1f mm, as a photograph does and a scanner "
                              "never: only slack and other "
                              "differences between neighbouring marks are taken from it"),
                            r->pose.bend_mm);
        note(r->out, text);
    }
    if (missing > r->looked_for / 10) {
        g_autofree char *text =
            g_strdup_printf(_("%u of %u lines could not be measured (%u beyond the picture's edge, "
                              "%u not clear); what they "
                              "would have told is less certain"),
                            missing, r->looked_for, r->outside, missing - r->outside);
        note(r->out, text);
    }
    if (r->out->n_strays > r->looked_for / 20)
        note(r->out, _("many lines are out of place: a fold, a stain or a sheet that moved"));
    if (r->out->dpi < 140)
        note(r->out, _("it has few pixels; 300 dpi measures lines three times as well as 100"));
}

/* How the sheet lies: an affine map of the middle, in mm of the scan. */
static void tell_pose(Reading *r)
{
    DtAffine a = dt_scan_warp_slope(&r->pose.warp, r->pose.warp.middle);
    const DtPoint m = r->pose.warp.middle;
    a.x0 -= a.xx * m.x + a.xy * m.y;
    a.y0 -= a.yx * m.x + a.yy * m.y;
    r->out->rough = dt_affine_then(a, dt_affine_scale(r->mm_px, r->mm_px));
    const double angle = atan2(-a.yx, a.xx);
    r->out->turn = ((int)lround(angle / (G_PI / 2)) + 4) % 4;
    r->out->photograph = r->pose.photograph;
}

static gboolean measure(Reading *r, const char *path, GError **error)
{
    const double dpi = measured_dpi(&r->pose);
    r->out->dpi = nominal_dpi(dpi, r->picture->dpi);
    r->px_mm = r->out->dpi / mm_per_inch;
    r->mm_px = 1 / r->px_mm;
    if (dpi < least_dpi) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: it has %.0f dots per inch; lines cannot be measured below %.0f", path, dpi,
                    least_dpi);
        return FALSE;
    }
    tell_pose(r);
    if (!check_number(r, path, error))
        return FALSE;
    look_at_all(r);
    drop_strays(r);
    if (r->seen->len < r->looked_for / 2) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: of %u lines of the sheet only %u can be measured (%u lie beyond the "
                    "picture's edge)",
                    path, r->looked_for, r->seen->len, r->outside);
        return FALSE;
    }
    if (r->sheet->kinds & DT_SHEET_PENS)
        look_at_tones(r);
    dt_scan_measure_swings(r->picture, &r->pose, r->sheet, r->mm_px, r->swings);
    note_doubts(r);
    return TRUE;
}

static gboolean read_picture(Reading *r, const char *path, GError **error)
{
    g_autofree char *why = NULL;
    if (!dt_scan_find_pose(r->picture, r->sheet, &r->pose, &why)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", path, why);
        return FALSE;
    }
    return measure(r, path, error) && dt_work_check(error);
}

static gboolean is_for_scans(const DtTestSheet *s, GError **error)
{
    if (s->kinds & DT_SHEET_SCAN)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "sheet %" PRId64
                " is read by eye, without --scan; the sheet for a scanner is drawn by "
                "'drawtrue sheet scan'",
                s->number);
    return FALSE;
}

DtScan *dt_scan_read(const char *path, const DtTestSheet *s, DtWork *w, GError **error)
{
    g_auto(DtScanPicture) picture = {0};
    if (!is_for_scans(s, error) || !dt_scan_picture_load(path, &picture, error))
        return NULL;
    DtWork *before = dt_work_enter(w);
    DtScan *out = g_new0(DtScan, 1);
    Reading r = {.picture = &picture,
                 .sheet = s,
                 .out = out,
                 .seen = g_array_new(FALSE, FALSE, sizeof(DtSeen)),
                 .tones = g_array_new(FALSE, FALSE, sizeof(DtSeenTone)),
                 .swings = g_array_new(FALSE, FALSE, sizeof(DtSwingSeen)),
                 .offsets = g_array_new(FALSE, FALSE, sizeof(double))};
    out->path = g_strdup(path);
    const gboolean good = read_picture(&r, path, error);
    out->n = r.seen->len;
    out->seen = (DtSeen *)(void *)g_array_free(r.seen, FALSE);
    out->n_tones = r.tones->len;
    out->tones = (DtSeenTone *)(void *)g_array_free(r.tones, FALSE);
    out->n_swings = r.swings->len;
    out->swings = (DtSwingSeen *)(void *)g_array_free(r.swings, FALSE);
    g_array_unref(r.offsets);
    dt_work_leave(before);
    if (good)
        return out;
    dt_scan_free(out);
    return NULL;
}

void dt_scan_free(DtScan *s)
{
    if (s == NULL)
        return;
    g_free(s->path);
    g_free(s->notes);
    g_free(s->seen);
    g_free(s->strays);
    g_free(s->tones);
    g_free(s->swings);
    g_free(s);
}
