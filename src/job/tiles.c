/* tiles: lays large artwork over all sheets at once, traces it, and cuts it into windows. */
#include "job/private.h"

#include <math.h>

/* Space for a registration cross including its arms. */
#define LEAST_OVERLAP 6.0
#define MOST_TILES 100

typedef struct {
    const DtProfile *p;
    const DtJobOptions *o;
    const DtJobTiling *tiling;
    DtBox window; /* the usable part of one sheet, bed mm */
    DtBox art; /* the page, or the painted part of it, in the coordinates of all sheets together */
} Tiles;

static gboolean fail(GError **error, const char *text)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, text);
    return FALSE;
}

static gboolean find_window(Tiles *t, GError **error)
{
    const DtProfile *p = t->p;
    DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                   p->paper_at.y + p->paper_h};
    t->window = dt_box_intersect(dt_box_grow(sheet, -p->margin), dt_machine_reach(p));
    const DtJobTiling *g = t->tiling;
    if (dt_box_is_empty(t->window))
        return fail(error, _("no part of the paper within its margins can be reached"));
    if (g->columns > MOST_TILES || g->rows > MOST_TILES || (g->columns == 0) != (g->rows == 0))
        return fail(error, _("the number of sheets is from 1 to 100 in each direction"));
    if (!(g->overlap >= LEAST_OVERLAP) ||
        !(2 * g->overlap < MIN(dt_box_width(t->window), dt_box_height(t->window)))) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "sheets of %g by %g mm inside their margins cannot overlap by %g mm: %g mm to less "
            "than half a side are needed",
            dt_box_width(t->window), dt_box_height(t->window), g->overlap, LEAST_OVERLAP);
        return FALSE;
    }
    return TRUE;
}

static double span(unsigned n, double size, double overlap)
{
    return n * size - (n - 1) * overlap;
}

/* Moves the page's lower left corner to (0, 0), and scales it to fill the sheets unless its size
 * is kept. */
static DtAffine lay_page(const Tiles *t, DtBox page)
{
    double w = dt_box_width(page), h = dt_box_height(page), k = 1;
    gboolean turned = FALSE;
    if (t->tiling->columns > 0) {
        double all_w = span(t->tiling->columns, dt_box_width(t->window), t->tiling->overlap);
        double all_h = span(t->tiling->rows, dt_box_height(t->window), t->tiling->overlap);
        double upright = MIN(all_w / w, all_h / h), other = MIN(all_w / h, all_h / w);
        turned = t->o->placement.turn && other > upright * (1 + 1e-9);
        k = turned ? other : upright;
    }
    if (turned) /* a quarter turn counterclockwise, after the flip of y */
        return (DtAffine){0, k, k, 0, -k * page.y0, -k * page.x0};
    return (DtAffine){k, 0, 0, -k, -k * page.x0, k * page.y1};
}

static void place(Tiles *t, DtDrawing *d)
{
    DtBox page = d->view, painted = dt_box_intersect(dt_art_box(d), page);
    DtAffine m = lay_page(t, page);
    gboolean whole = t->tiling->columns > 0 || dt_box_is_empty(painted);
    t->art = dt_affine_apply_box(m, whole ? page : painted);
    dt_art_place(d, m);
}

/* The pen that draws most: crosses in its ink need no pen change. */
static unsigned busiest_pen(const DtStrokes *s, size_t n_pens)
{
    g_autofree size_t *n = g_new0(size_t, n_pens + 1);
    unsigned best = 0;
    for (size_t i = 0; i < s->n; i++)
        n[s->strokes[i].pen]++;
    for (unsigned i = 1; i < n_pens; i++)
        if (n[i] > n[best])
            best = i;
    return best;
}

static void take_sheet(const Tiles *t, DtSheet *from, DtJobSheets *out)
{
    DtJobSheet *to = &out->sheets[out->n++];
    dt_job_init(&to->job);
    to->column = from->column + 1;
    to->row = out->rows - from->row;
    to->job.strokes = from->ink;
    dt_strokes_init(&from->ink);
    for (size_t i = 0; i < to->job.strokes.n_pts; i++)
        to->job.strokes.pts[i] =
            dt_point_add(to->job.strokes.pts[i], dt_point(t->window.x0, t->window.y0));
}

static gboolean cut(const Tiles *t, const DtStrokes *all, DtJobSheets *out, GError **error)
{
    g_auto(DtSheets) sheets = {0};
    if (!dt_ink_sheets(all, t->art, dt_box_width(t->window), dt_box_height(t->window),
                       t->tiling->overlap, busiest_pen(all, t->p->rack.n), &sheets, error))
        return FALSE;
    for (size_t i = 0; i < sheets.n; i++) {
        out->columns = MAX(out->columns, sheets.sheets[i].column + 1);
        out->rows = MAX(out->rows, sheets.sheets[i].row + 1);
    }
    out->sheets = g_new0(DtJobSheet, sheets.n);
    for (unsigned row = out->rows; row-- > 0;)
        for (unsigned column = 0; column < out->columns; column++) {
            DtSheet *s = &sheets.sheets[row * out->columns + column];
            if (s->n_art > 0)
                take_sheet(t, s, out);
        }
    return TRUE;
}

/* Each stage is completed for all sheets before the next, so that progress never goes back. */
static gboolean plan_each(const Tiles *t, DtJobSheets *out, DtStage stage, GError **error)
{
    dt_work_begin(stage);
    for (size_t i = 0; i < out->n; i++) {
        DtJob *job = &out->sheets[i].job;
        dt_work_set_range((double)i / (double)out->n, (double)(i + 1) / (double)out->n);
        if (!(stage == DT_STAGE_ORDER ? dt_job_order(t->p, t->o, job, error)
                                      : dt_job_move(t->p, job, error)))
            return FALSE;
    }
    return TRUE;
}

static gboolean plan(Tiles *t, const char *path, DtJobSheets *out, GError **error)
{
    dt_work_begin(DT_STAGE_READ);
    out->drawing = dt_art_read(path, &t->o->art, error);
    if (!out->drawing || !find_window(t, error))
        return FALSE;
    place(t, out->drawing);
    g_auto(DtStrokes) all;
    dt_strokes_init(&all);
    const DtInkOptions ink = dt_job_ink_options(t->p, t->o);
    dt_work_begin(DT_STAGE_INK);
    if (!dt_ink_trace(out->drawing, &t->p->rack, &ink, &all, &out->colours, error) ||
        !cut(t, &all, out, error))
        return FALSE;
    if (out->n == 0)
        return dt_job_refuse_bare(out->drawing, &out->colours, path, error);
    if (t->o->program_only)
        dt_drawing_forget_shapes(out->drawing);
    dt_strokes_clear(&all); /* the sheets have copies */
    return plan_each(t, out, DT_STAGE_ORDER, error) && plan_each(t, out, DT_STAGE_MOVES, error);
}

gboolean dt_job_plan_sheets(const DtProfile *profile, const char *art_path, const DtJobOptions *o,
                            const DtJobTiling *tiling, DtJobSheets *out, DtWork *work,
                            GError **error)
{
    g_autoptr(DtProfile) own = NULL;
    DtWork *before = dt_work_enter(work);
    *out = (DtJobSheets){0};
    Tiles t = {.p = dt_job_profile(profile, o, &own), .o = o, .tiling = tiling};
    const gboolean good = plan(&t, art_path, out, error);
    if (!good)
        dt_job_sheets_clear(out);
    dt_work_leave(before);
    return good;
}

void dt_job_sheets_clear(DtJobSheets *s)
{
    for (size_t i = 0; i < s->n; i++)
        dt_job_clear(&s->sheets[i].job);
    g_free(s->sheets);
    g_clear_pointer(&s->drawing, dt_drawing_free);
    dt_ink_report_clear(&s->colours);
    *s = (DtJobSheets){0};
}
