/* pen-places: where each pen sits against the first one, and how wide its line is, from a scan: what the fitted model,
 * which is that of the first pen, leaves of each pen's strokes. */
#include "truing/solve/solve.h"

#include <math.h>

enum { MOST_STROKES = 64 };
static const double least_sd_mm =
    0.004; /* of a mean: what the model leaves between neighbouring places */
static const double width_sd_mm = 0.02; /* how paper takes ink, and where a line's edge is */

typedef struct {
    double off, sd, width;
    int n;
} Strokes;

/* Means over a pen's strokes across one axis, each of which several scans may show. */
static Strokes strokes_of(const DtModel *m, uint16_t pen, int axis)
{
    double off[MOST_STROKES] = {0}, width = 0, squares = 0;
    int seen[MOST_STROKES] = {0}, all = 0;
    Strokes out = {0};
    for (int k = 0; k < m->n_scans; k++)
        for (size_t i = 0; i < m->e->scans[k]->n; i++) {
            const DtSeen *s = &m->e->scans[k]->seen[i];
            const DtMark *mark = &m->e->sheet->marks[s->mark];
            if (mark->part != DT_SHEET_PENS || mark->pen != pen || mark->axis != axis ||
                mark->place >= MOST_STROKES)
                continue;
            DtItem item = dt_model_item(m->e->sheet, s->mark);
            item.seen[k] = s;
            off[mark->place] += dt_model_residual(m, &item, k, NULL, NULL);
            seen[mark->place]++;
            width += s->width;
            all++;
        }
    for (int i = 0; i < MOST_STROKES; i++)
        if (seen[i] > 0) {
            off[i] /= seen[i];
            out.off += off[i];
            out.n++;
        }
    if (out.n == 0)
        return out;
    out.off /= out.n;
    out.width = width / all;
    for (int i = 0; i < MOST_STROKES; i++)
        squares += seen[i] > 0 ? (off[i] - out.off) * (off[i] - out.off) : 0;
    out.sd = hypot(sqrt(squares / MAX(out.n - 1, 1) / out.n), least_sd_mm);
    return out;
}

static void tell_place(const DtModel *m, int axis, int pen, const Strokes *first,
                       const Strokes *own, DtFigures *out)
{
    const double two_sided_95 = 1.96;
    const DtPoint offset = m->p->rack.pens[pen].offset;
    const double has = axis == 0 ? offset.x : offset.y;
    DtFigure f = {.kind = axis == 0 ? DT_ERROR_OF_PEN_X : DT_ERROR_OF_PEN_Y,
                  .axis = axis,
                  .pen = pen,
                  .at = NAN,
                  .known = first->n >= 2 && own->n >= 2,
                  .value = own->off - first->off,
                  .sd = hypot(first->sd, own->sd)};
    f.gain_mm = fabs(f.value - has);
    f.proposed = f.known && f.gain_mm > two_sided_95 * f.sd;
    dt_figures_add(out, &f);
}

void dt_tell_pens(const DtModel *m, DtFigures *out)
{
    const double worth_mm = 0.08; /* of a tip's width, as for readings by eye */
    Strokes first[2];
    for (int axis = 0; axis < 2; axis++)
        first[axis] = strokes_of(m, 0, axis);
    for (int pen = 0; pen < (int)m->p->rack.n; pen++) {
        const Strokes own[2] = {strokes_of(m, (uint16_t)pen, 0), strokes_of(m, (uint16_t)pen, 1)};
        if (own[0].n + own[1].n == 0)
            continue;
        for (int axis = 0; axis < 2 && pen > 0; axis++)
            tell_place(m, axis, pen, &first[axis], &own[axis], out);
        DtFigure f = {.kind = DT_ERROR_OF_TIP_WIDTH,
                      .axis = -1,
                      .pen = pen,
                      .at = NAN,
                      .known = TRUE,
                      .value = (own[0].width * own[0].n + own[1].width * own[1].n) /
                               (own[0].n + own[1].n),
                      .sd = width_sd_mm};
        f.proposed = fabs(f.value - m->p->rack.pens[pen].tip) > worth_mm;
        dt_figures_add(out, &f);
    }
}
