/* scan-tones: how light the hatched steps of a pen's tone scale are in a scan, over whole pitches of their lines, as a share
 * of the paper above and below. A scanner's pixels are taken to be on the scale of IEC 61966-2-1, as image files are
 * that say nothing else. */
#include "truing/scan/scan-tones.h"

#include "drawtrue/colour.h"

#include <math.h>

enum { BANDS = 4 };
static const double sample_mm = 0.04;
static const double inset_mm = 0.8;   /* from the lines' ends */
static const double paper_mm = 0.9;   /* beyond them: bare paper */
static const double paper_sd = 0.004; /* how evenly paper and lamp are */

typedef struct {
    const DtScanPicture *p;
    const DtScanPose *pose;
    DtPoint shift; /* of this pen's ink, pixels */
    double linear[256];
} Meter;

/* The mean light over a box of commanded places. */
static double light_of(const Meter *m, DtBox b)
{
    const int nx = MAX((int)(dt_box_width(b) / sample_mm), 1),
              ny = MAX((int)(dt_box_height(b) / sample_mm), 1);
    double sum = 0;
    for (int j = 0; j < ny; j++)
        for (int i = 0; i < nx; i++) {
            const DtPoint c = {b.x0 + (i + 0.5) / nx * dt_box_width(b),
                               b.y0 + (j + 0.5) / ny * dt_box_height(b)};
            const DtPoint at = dt_point_add(dt_scan_warp(&m->pose->warp, c), m->shift);
            /* of the nearest pixel: what lies between pixels of the coded scale is no mean of light */
            const int x = CLAMP((int)at.x, 0, m->p->w - 1), y = CLAMP((int)at.y, 0, m->p->h - 1);
            sum += m->linear[m->p->grey[(gsize)y * (gsize)m->p->w + (gsize)x]];
        }
    return sum / (nx * ny);
}

/* The lines of one step: what they span along X in whole pitches, and their height. FALSE: there is no such step. */
static gboolean span_of(const DtTestSheet *s, int pen, int place, double tip, DtBox *out)
{
    double first = NAN, last = NAN, gap = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_TONE || m->row != pen || m->place != place || m->from.x != m->to.x)
            continue;
        gap = isnan(first) ? 0 : m->from.x - last;
        first = isnan(first) ? m->from.x : first;
        last = m->from.x;
        out->y0 = MIN(m->from.y, m->to.y);
        out->y1 = MAX(m->from.y, m->to.y);
    }
    const double beyond = place == 0 ? -tip / 2 : gap / 2; /* a dense step: well within */
    out->x0 = first - beyond;
    out->x1 = last + beyond;
    return gap > 0 && out->x1 > out->x0 && out->y1 - out->y0 > 2 * inset_mm;
}

static DtSeenTone measure(const Meter *m, DtBox b, int pen, int place, double tip)
{
    double sum = 0, squares = 0;
    const double above = b.y1 + tip / 2 + paper_mm, below = b.y0 - tip / 2 - paper_mm, half = 0.2,
                 low = b.y0 + inset_mm, high = b.y1 - inset_mm;
    const double paper = (light_of(m, (DtBox){b.x0, above - half, b.x1, above + half}) +
                          light_of(m, (DtBox){b.x0, below - half, b.x1, below + half})) /
                         2;
    for (int i = 0; i < BANDS; i++) {
        const DtBox band = {b.x0, low + (high - low) * i / BANDS, b.x1,
                            low + (high - low) * (i + 1) / BANDS};
        const double light = light_of(m, band) / MAX(paper, 1e-3);
        sum += light;
        squares += light * light;
    }
    const double mean = sum / BANDS, v = MAX(squares / BANDS - mean * mean, 0) / (BANDS - 1);
    return (DtSeenTone){pen, place, mean, hypot(sqrt(v), paper_sd)};
}

void dt_scan_measure_tones(const DtScanPicture *p, const DtScanPose *pose, const DtTestSheet *s,
                           const DtScanPenShift *shifts, size_t n_shifts, GArray *out)
{
    enum { MOST_STEPS = 16 };
    Meter m = {.p = p, .pose = pose};
    for (int i = 0; i < 256; i++)
        m.linear[i] = dt_colour_linear(i / 255.0);
    for (size_t k = 0; k < n_shifts; k++)
        for (int place = 0; place < MOST_STEPS; place++) {
            DtBox span = {0};
            m.shift = shifts[k].px;
            if (!span_of(s, shifts[k].pen, place, shifts[k].tip, &span))
                continue;
            const DtPoint a = dt_scan_warp(&pose->warp, dt_point(span.x0, span.y0)),
                          b = dt_scan_warp(&pose->warp, dt_point(span.x1, span.y1));
            if (MIN(MIN(a.x, b.x), MIN(a.y, b.y)) < 0 || MAX(a.x, b.x) > p->w ||
                MAX(a.y, b.y) > p->h)
                continue;
            const DtSeenTone t = measure(&m, span, shifts[k].pen, place, shifts[k].tip);
            g_array_append_val(out, t);
        }
}
