/* tiles: large artwork over several sheets. */
#include "drawtrue/base.h"
#include "drawtrue/ink.h"
#include "ink/plane/trim.h"

#include <math.h>
#include <string.h>

#define MOST_SHEETS 1000.0
/* Half the length of a registration cross's arms, and its distance from a window's corner, mm. */
#define ARM 3.0
#define FROM_CORNER 12.0

typedef struct {
    unsigned n;
    double from, step, size; /* window i begins at from + i * step */
} Row;

static Row make_row(double from, double to, double size, double overlap)
{
    double length = to - from, step = size - overlap;
    double n = length <= size ? 1 : ceil((length - size) / step - 1e-9) + 1;
    double all = size + (n - 1) * step;
    return (Row){n <= MOST_SHEETS ? (unsigned)n : G_MAXUINT, from - (all - length) / 2, step, size};
}

static void flush(GArray *run, const DtStroke *like, gboolean closed, DtStrokes *out)
{
    if (run->len > 1)
        dt_strokes_append(out, (const DtPoint *)(const void *)run->data, run->len, closed,
                          (DtInkKind)like->kind, like->pen, like->shape);
    g_array_set_size(run, 0);
}

static gboolean is_inside(DtBox b, const DtPoint *p, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!dt_box_contains(b, p[i]))
            return FALSE;
    return TRUE;
}

static void clip_stroke(const DtPoint *p, const DtStroke *st, DtBox w, GArray *run, DtStrokes *out)
{
    if (is_inside(w, p, st->n)) {
        dt_strokes_append(out, p, st->n, st->closed != 0, (DtInkKind)st->kind, st->pen, st->shape);
        return;
    }
    for (size_t i = 0; i + (st->closed ? 0 : 1) < st->n; i++) {
        DtPoint a = p[i], b = p[(i + 1) % st->n];
        double t0, t1;
        if (!dt_trim_segment(a, b, w, &t0, &t1)) {
            flush(run, st, FALSE, out);
            continue;
        }
        DtPoint from = dt_point_lerp(a, b, t0), to = dt_point_lerp(a, b, t1);
        if (t0 > 0)
            flush(run, st, FALSE, out);
        if (run->len == 0)
            g_array_append_val(run, from);
        if (t1 > t0)
            g_array_append_val(run, to);
        if (t1 < 1)
            flush(run, st, FALSE, out);
    }
    flush(run, st, FALSE, out);
}

static void add_cross(DtPoint at, unsigned pen, DtBox w, DtStrokes *out)
{
    DtPoint level[2] = {{at.x - ARM, at.y}, {at.x + ARM, at.y}};
    DtPoint upright[2] = {{at.x, at.y - ARM}, {at.x, at.y + ARM}};
    if (!is_inside(w, level, 2) || !is_inside(w, upright, 2))
        return;
    dt_strokes_append(out, level, 2, FALSE, DT_INK_OUTLINE, pen, -1);
    dt_strokes_append(out, upright, 2, FALSE, DT_INK_OUTLINE, pen, -1);
}

/* Crosses on the seams of `along`, two for each window of `across`. */
static void add_crosses(const Row *along, const Row *across, gboolean swap, unsigned pen, DtBox w,
                        DtStrokes *out)
{
    for (unsigned i = 1; i < along->n; i++) {
        double seam = along->from + i * along->step + (along->size - along->step) / 2;
        for (unsigned k = 0; k < across->n; k++)
            for (int end = 0; end < 2; end++) {
                double at = across->from + k * across->step +
                            (end ? across->size - FROM_CORNER : FROM_CORNER);
                add_cross(swap ? dt_point(at, seam) : dt_point(seam, at), pen, w, out);
            }
    }
}

static void fill_sheet(const DtStrokes *all, const Row *columns, const Row *rows, unsigned pen,
                       DtSheet *s)
{
    g_autoptr(GArray) run = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < all->n; i++)
        clip_stroke(all->pts + all->strokes[i].first, &all->strokes[i], s->window, run, &s->ink);
    s->n_art = s->ink.n;
    add_crosses(columns, rows, FALSE, pen, s->window, &s->ink);
    add_crosses(rows, columns, TRUE, pen, s->window, &s->ink);
    for (size_t i = 0; i < s->ink.n_pts; i++) {
        s->ink.pts[i].x -= s->window.x0;
        s->ink.pts[i].y -= s->window.y0;
    }
}

gboolean dt_ink_sheets(const DtStrokes *all, DtBox art, double w, double h, double overlap,
                       unsigned cross_pen, DtSheets *out, GError **error)
{
    *out = (DtSheets){NULL, 0};
    if (!(w > 0 && h > 0 && overlap >= 0 && 2 * overlap < MIN(w, h)) || !isfinite(w) ||
        !isfinite(h) || dt_box_is_empty(art)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "sheets of %g by %g mm with an overlap of %g mm cannot be laid side by side", w,
                    h, overlap);
        return FALSE;
    }
    Row columns = make_row(art.x0, art.x1, w, overlap), rows = make_row(art.y0, art.y1, h, overlap);
    if ((double)columns.n * (double)rows.n > MOST_SHEETS) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "art of %g by %g mm would take more than %g sheets of %g by %g mm",
                    dt_box_width(art), dt_box_height(art), MOST_SHEETS, w, h);
        return FALSE;
    }
    out->n = (size_t)columns.n * rows.n;
    out->sheets = g_new0(DtSheet, out->n);
    for (unsigned i = 0; i < out->n; i++) {
        DtSheet *s = &out->sheets[i];
        s->column = i % columns.n;
        s->row = i / columns.n;
        double x = columns.from + s->column * columns.step, y = rows.from + s->row * rows.step;
        s->window = (DtBox){x, y, x + w, y + h};
        fill_sheet(all, &columns, &rows, cross_pen, s);
    }
    return TRUE;
}

void dt_sheets_clear(DtSheets *s)
{
    for (size_t i = 0; i < s->n; i++)
        dt_strokes_clear(&s->sheets[i].ink);
    g_free(s->sheets);
    *s = (DtSheets){NULL, 0};
}
