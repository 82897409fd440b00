/* part-tones: steps of a pen's hatch from light to dark. Paper scatters light below the ink, so that a hatch looks
 * darker than the share of the paper that it covers (Yule and Nielsen 1951). Bars much wider than light scatters do
 * not: the step that is as dark as bars that cover half of the paper tells how much darker hatches look.
 *
 * All lines stand upright and are approached from the left, each from the one before it, so that slack displaces all
 * of them alike and their pitch is right. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { STEPS = 10, LEAST_LINES = 2, SCAN_STEPS = 3, DENSE_LINES = 8 };
static const double first_share = 0.16, step_share = 0.04;
static const double step_mm = 4.4;      /* a step's width at least */
static const double bar_mm = 1.5;       /* a bar's width at least */
static const double dense_pitch = 0.75; /* of the tip */
static const double number_mm = 1.6, above_mm = 0.7, name_mm = 5;
static const double scan_shares[SCAN_STEPS] = {0.25, 0.5, 0.75};
static const int scan_lines[SCAN_STEPS] = {3, 5, 6};
static const double patch_gap_mm = 1.5, patch_mm = 3.6;

typedef struct {
    DtTestSheet *s;
    size_t pen;
    double tip, y, height;
    double x;       /* of the next line */
    gboolean begun; /* the axis comes from the left already */
} Strip;

static Strip strip_of(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at, double height)
{
    const double tip = p->rack.pens[pen].tip;
    return (Strip){
        .s = s, .pen = pen, .tip = tip, .y = at.y, .height = height, .x = at.x + tip / 2};
}

static DtMark tone_mark(const Strip *t, int place, DtPoint from, DtPoint to)
{
    DtMark m = dt_sheet_mark(DT_MARK_TONE, DT_SHEET_PENS, -1, from, to);
    m.row = (int)t->pen;
    m.place = place;
    m.pen = (uint16_t)t->pen;
    return m;
}

/* To and fro, which saves the way back. The ends are round and reach beyond the line. */
static void add_line(Strip *t, int place, double x, gboolean up)
{
    const double low = t->y + t->tip / 2, high = t->y + t->height - t->tip / 2;
    DtMark m = tone_mark(t, place, dt_point(x, up ? low : high), dt_point(x, up ? high : low));
    m.approach[0] = 1;
    m.needs_no_reversal = t->begun;
    t->begun = TRUE;
    dt_sheet_add(t->s, &m);
}

static void add_lines(Strip *t, int place, double share, int n)
{
    for (int i = 0; i < n; i++, t->x += t->tip / share)
        add_line(t, place, t->x, i % 2 == 0);
}

/* A dense bar of `n` lines that join at their ends. */
static void add_bar(Strip *t, int place, int n)
{
    const double low = t->y + t->tip / 2, high = t->y + t->height - t->tip / 2;
    const double pitch = dense_pitch * t->tip;
    for (int i = 0; i < n; i++) {
        const double x = t->x + i * pitch, from = i % 2 ? high : low, to = i % 2 ? low : high;
        if (i == 0) {
            add_line(t, place, x, TRUE);
        } else {
            const DtMark across = tone_mark(t, place, dt_point(x - pitch, from), dt_point(x, from));
            const DtMark line = tone_mark(t, place, dt_point(x, from), dt_point(x, to));
            dt_sheet_add(t->s, &across);
            dt_sheet_add(t->s, &line);
        }
    }
    t->x += n * pitch;
}

/* Steps ------------------------------------------------------------------------------------------ */

static double share_of(int step)
{
    return first_share + step_share * (step - 1);
}

static int lines_of(double tip, double share)
{
    return MAX((int)ceil(step_mm * share / tip), LEAST_LINES);
}

static double step_width(double tip, int step)
{
    return lines_of(tip, share_of(step)) * tip / share_of(step);
}

static double strip_width(double tip)
{
    double w = 0;
    for (int i = 1; i <= STEPS; i++)
        w += step_width(tip, i);
    return w;
}

DtPoint dt_sheet_tones_size(const DtProfile *p, size_t pen, double strip_mm)
{
    return dt_point(strip_width(p->rack.pens[pen].tip) + name_mm,
                    2 * strip_mm + above_mm + number_mm);
}

/* Bars as wide as the gaps between them, all along the steps. */
static void add_bars(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at, double strip_mm)
{
    Strip t = strip_of(s, p, pen, at, strip_mm);
    const int n = MAX((int)ceil((bar_mm / t.tip - 1) / dense_pitch), 1) + 1;
    const double width = ((n - 1) * dense_pitch + 1) * t.tip;
    const int bars = MAX((int)round(strip_width(t.tip) / (2 * width)), 1);
    for (int i = 0; i < bars; i++) {
        t.x = at.x + width / 2 + t.tip / 2 + i * 2 * width;
        add_bar(&t, 0, n);
    }
}

gboolean dt_sheet_add_tones(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at,
                            double strip_mm, GError **error)
{
    const size_t first = s->n;
    Strip t = strip_of(s, p, pen, dt_point(at.x, at.y + strip_mm), strip_mm);
    const double up = at.y + 2 * strip_mm + above_mm;
    char text[8];
    add_bars(s, p, pen, at, strip_mm);
    for (int i = 1; i <= STEPS; i++) {
        const double share = share_of(i), w = step_width(t.tip, i), left = t.x - t.tip / 2;
        t.x = left + t.tip / share / 2; /* half a pitch from the edge */
        add_lines(&t, i, share, lines_of(t.tip, share));
        t.x = left + w + t.tip / 2;
        g_snprintf(text, sizeof text, "%d", i);
        if (i % 2 == 0 && !dt_sheet_add_text(s, DT_SHEET_PENS, text, dt_point(left + w / 2, up),
                                             number_mm, 0.5, error))
            return FALSE;
    }
    g_snprintf(text, sizeof text, "T%zu", pen + 1);
    if (!dt_sheet_add_text(s, DT_SHEET_PENS, text,
                           dt_point(at.x + strip_width(t.tip) + 2, at.y + strip_mm - number_mm / 2),
                           number_mm, 0, error))
        return FALSE;
    for (size_t i = first; i < s->n; i++)
        s->marks[i].pen = (uint16_t)pen;
    return TRUE;
}

/* For a scan -------------------------------------------------------------------------------------- */

static double scan_width(double tip, int step)
{
    return scan_lines[step] * tip / scan_shares[step];
}

DtPoint dt_sheet_scan_tones_size(const DtProfile *p, size_t pen)
{
    const double tip = p->rack.pens[pen].tip;
    double w = (DENSE_LINES - 1) * dense_pitch * tip + tip;
    for (int i = 0; i < SCAN_STEPS; i++)
        w += scan_width(tip, i) + patch_gap_mm;
    return dt_point(w, patch_mm);
}

void dt_sheet_add_scan_tones(DtTestSheet *s, const DtProfile *p, size_t pen, DtPoint at)
{
    Strip t = strip_of(s, p, pen, at, patch_mm);
    for (int i = 0; i < SCAN_STEPS; i++) {
        const double left = t.x - t.tip / 2;
        t.x = left + t.tip / scan_shares[i] / 2;
        add_lines(&t, i + 1, scan_shares[i], scan_lines[i]);
        t.x = left + scan_width(t.tip, i) + patch_gap_mm + t.tip / 2;
    }
    add_bar(&t, 0, DENSE_LINES);
}

/* What the lines cover ---------------------------------------------------------------------------- */

double dt_sheet_tone_share(const DtTestSheet *s, int pen, int place, double tip)
{
    double before = NAN, covered = 0, all = 0, widest = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_TONE || m->row != pen || m->place != place || m->from.x != m->to.x)
            continue;
        if (!isnan(before)) {
            const double gap = m->from.x - before;
            covered += MIN(gap, tip);
            all += gap;
            widest = MAX(widest, gap);
        }
        before = m->from.x;
    }
    /* behind the last line there is as much paper as between bars */
    return all > 0 ? (covered + MIN(widest, tip)) / (all + widest) : 0;
}
