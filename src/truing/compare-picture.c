/* compare-picture: two sheets side by side: their verniers as read, and curves along each axis. */
#include "drawtrue/proof.h"
#include "truing/compare.h"
#include "truing/eye/eye.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <string.h>

static const DtColour ink = {0.11, 0.11, 0.11, 1}, faint = {0.78, 0.77, 0.74, 1},
                      first = {0.15, 0.39, 0.64, 1}, second = {0.77, 0.31, 0.14, 1};
static const double two_sided_95 = 1.96;

static void add_line(DtLines *l, DtPoint a, DtPoint b)
{
    dt_lines_begin(l);
    dt_lines_point(l, a);
    dt_lines_point(l, b);
}

static void add_text(DtLines *l, DtPoint at, double size, double align, const char *text)
{
    g_auto(DtLines) letters = {0};
    double width = 0;
    if (!dt_art_letters(text, size, &letters, &width, NULL))
        return; /* the curves are drawn without numbers */
    dt_lines_transform(&letters, dt_affine_translate(at.x - align * width, at.y));
    dt_lines_append_lines(l, &letters);
}

/* Verniers ---------------------------------------------------------------------------------------- */

/* The vernier in the middle of an axis, along the panel, its second comb displaced according to
 * the sheet's figures. */
static gboolean add_vernier(const DtTestSheet *s, const DtFigures *f, int axis, DtLines *out,
                            double *slack)
{
    size_t n;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    const DtAsk *middle = NULL;
    int in_axis = 0, count = 0;
    for (size_t i = 0; i < n; i++)
        count += asks[i].part == DT_SHEET_SLACK && asks[i].axis == axis;
    for (size_t i = 0; i < n && middle == NULL; i++)
        if (asks[i].part == DT_SHEET_SLACK && asks[i].axis == axis && in_axis++ == count / 2)
            middle = &asks[i];
    if (middle == NULL)
        return FALSE;
    DtPoint zero, vernier;
    if (!dt_eye_ticks(s, middle, 0, 0, &zero, &vernier))
        return FALSE;
    const double origin = axis == 0 ? zero.x : zero.y;
    if (dt_figures_find(f, DT_ERROR_OF_BACKLASH, axis) == NULL)
        return FALSE;
    *slack = dt_figures_value_at(f, DT_ERROR_OF_BACKLASH, axis, origin);
    for (int k = (int)middle->least; k <= (int)middle->most; k++) {
        DtPoint a, b;
        if (!dt_eye_ticks(s, middle, k, 0, &a, &b))
            continue;
        const double x = (axis == 0 ? a.x : a.y) - origin,
                     y = (axis == 0 ? b.x : b.y) - origin + *slack;
        const double length = k % 5 == 0 ? 3.8 : 2.6;
        add_line(out, dt_point(x, -length), dt_point(x, 0));
        add_line(out, dt_point(y, 0), dt_point(y, length));
        if (k % 10 == 0) {
            g_autofree char *number = g_strdup_printf("%d", k);
            add_text(out, dt_point(y, 4.6), 1.8, 0.5, number);
        }
    }
    return TRUE;
}

/* Curves ------------------------------------------------------------------------------------------ */

/* A curve panel: mm along the axis, and values magnified. */
typedef struct {
    double length, least, most, times;
} Scale;

static Scale scale_of(const DtCompared *c, int axis)
{
    Scale k = {.length = 50, .least = 0, .most = 0.05};
    for (int side = 0; side < 2; side++) {
        const DtTestSheet *s = c->sheet[side];
        k.length =
            MAX(k.length, axis == 0 ? s->paper_at.x + s->paper_w : s->paper_at.y + s->paper_h);
        for (size_t i = 0; i < c->figures[side]->n; i++) {
            const DtFigure *g = &c->figures[side]->f[i];
            if ((g->kind == DT_ERROR_OF_BACKLASH || g->kind == DT_ERROR_OF_POSITION) &&
                g->axis == axis && g->known) {
                k.least = MIN(k.least, g->value - two_sided_95 * g->sd);
                k.most = MAX(k.most, g->value + two_sided_95 * g->sd);
            }
        }
    }
    k.times = k.length / 2.2 / (k.most - k.least);
    return k;
}

static void add_grid(const Scale *k, DtLines *grid, DtLines *text)
{
    const double span = k->most - k->least, size = k->length / 45;
    const double step = span > 0.4 ? 0.1 : span > 0.15 ? 0.05 : 0.02;
    for (double v = ceil(k->least / step) * step; v <= k->most + 1e-9; v += step) {
        const double y = v * k->times;
        g_autofree char *number = g_strdup_printf("%.2f", fabs(v) < 1e-9 ? 0 : v);
        add_line(grid, dt_point(0, y), dt_point(k->length, y));
        add_text(text, dt_point(-size, y - size / 2), size, 1, number);
    }
    for (double at = 0; at <= k->length + 1e-9; at += 50) {
        g_autofree char *number = g_strdup_printf("%.0f", at);
        add_line(grid, dt_point(at, k->least * k->times), dt_point(at, k->most * k->times));
        add_text(text, dt_point(at, k->least * k->times - 2 * size), size, 0.5, number);
    }
}

/* Points in rising position with bars of their 95 % intervals; one figure for the whole axis is a level
 * line. */
static void add_curve(const DtFigures *f, DtErrorKind kind, int axis, const Scale *k,
                      gboolean dashed, DtLines *out)
{
    DtPoint before = {NAN, NAN};
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != kind || g->axis != axis || !g->known)
            continue;
        const double at = isnan(g->at) ? k->length / 2 : g->at,
                     bar = two_sided_95 * g->sd * k->times;
        const DtPoint here = dt_point(at, g->value * k->times);
        if (isnan(g->at))
            add_line(out, dt_point(0, here.y), dt_point(k->length, here.y));
        else if (!isnan(before.x))
            for (int part = 0; part < (dashed ? 8 : 1); part++)
                add_line(out, dt_point_lerp(before, here, dashed ? part / 8.0 : 0),
                         dt_point_lerp(before, here, dashed ? part / 8.0 + 0.07 : 1));
        add_line(out, dt_point(at, here.y - bar), dt_point(at, here.y + bar));
        before = here;
    }
}

/* ------------------------------------------------------------------------------------------------- */

enum { PANELS = 6, LAYERS = 4 };

typedef struct {
    DtLines lines[PANELS][LAYERS];
    DtProofLayer layers[PANELS][LAYERS];
    DtProofPanel panels[PANELS];
    char *titles[PANELS], *figures[PANELS];
    size_t n;
} Sheet;

static void put_vernier(Sheet *o, const DtCompared *c, int side, int axis)
{
    const size_t i = o->n;
    const DtTestSheet *s = c->sheet[side];
    double slack;
    if (!add_vernier(s, c->figures[side], axis, &o->lines[i][0], &slack))
        return;
    o->titles[i] =
        g_strdup_printf(_("sheet %" PRId64 ", %s: slack of %c"), s->number, s->date, "XY"[axis]);
    o->figures[i] = g_strdup_printf("%.2f mm", slack);
    o->layers[i][0] = (DtProofLayer){&o->lines[i][0], ink, 0.35};
    o->panels[i] = (DtProofPanel){.title = o->titles[i],
                                  .figures = o->figures[i],
                                  .view = dt_box_grow(dt_lines_box(&o->lines[i][0]), 1.5),
                                  .layers = o->layers[i],
                                  .n_layers = 1};
    o->n++;
}

static void put_curves(Sheet *o, const DtCompared *c, int axis)
{
    const size_t i = o->n++;
    const Scale k = scale_of(c, axis);
    DtLines *l = o->lines[i];
    add_grid(&k, &l[0], &l[1]);
    for (int side = 0; side < 2; side++) {
        add_curve(c->figures[side], DT_ERROR_OF_BACKLASH, axis, &k, FALSE, &l[2 + side]);
        add_curve(c->figures[side], DT_ERROR_OF_POSITION, axis, &k, TRUE, &l[2 + side]);
    }
    o->layers[i][0] = (DtProofLayer){&l[0], faint, 0};
    o->layers[i][1] = (DtProofLayer){&l[1], ink, k.length / 400};
    o->layers[i][2] = (DtProofLayer){&l[2], first, k.length / 250};
    o->layers[i][3] = (DtProofLayer){&l[3], second, k.length / 250};
    o->titles[i] =
        g_strdup_printf(_("%c: reversal value and mean deviation, mm over mm"), "XY"[axis]);
    o->figures[i] =
        g_strdup_printf(_("blue: sheet %" PRId64 ", red: sheet %" PRId64
                          "; dashed: mean bidirectional deviation\nbars: 95 %% intervals"),
                        c->sheet[0]->number, c->sheet[1]->number);
    const double room = k.length / 10;
    o->panels[i] = (DtProofPanel){.title = o->titles[i],
                                  .figures = o->figures[i],
                                  .view = {-1.6 * room, k.least * k.times - room,
                                           k.length + room / 2, k.most * k.times + room / 2},
                                  .layers = o->layers[i],
                                  .n_layers = LAYERS};
}

static gboolean has_curves(const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++)
        if ((f->f[i].kind == DT_ERROR_OF_BACKLASH || f->f[i].kind == DT_ERROR_OF_POSITION) &&
            f->f[i].known)
            return TRUE;
    return FALSE;
}

gboolean dt_truing_compare_picture(const DtCompared *c, const DtProfile *p, const char *path,
                                   int width_px, GError **error)
{
    if (!has_curves(c->figures[0]) && !has_curves(c->figures[1])) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "sheets %" PRId64 " and %" PRId64
                    " show neither slack nor positions along an axis: there is no picture of them",
                    c->sheet[0]->number, c->sheet[1]->number);
        return FALSE;
    }
    g_autofree Sheet *o = g_new0(Sheet, 1);
    g_autoptr(DtProfile) bare = dt_profile_copy(p);
    bare->paper_w = bare->paper_h = bare->travel[0] = bare->travel[1] =
        0; /* the panels do not show the bed */
    for (int axis = 0; axis < 2; axis++)
        for (int side = 0; side < 2; side++)
            put_vernier(o, c, side, axis);
    for (int axis = 0; axis < 2; axis++)
        put_curves(o, c, axis);
    g_autofree char *title = g_strdup_printf(_("%s: before and after"), c->sheet[0]->machine);
    const DtProofSheet sheet = {
        .title = title, .profile = bare, .panels = o->panels, .n_panels = o->n, .columns = 2};
    const gboolean good = dt_proof_write_sheet(&sheet, path, width_px, error);
    for (size_t i = 0; i < PANELS; i++) {
        for (int k = 0; k < LAYERS; k++)
            dt_lines_clear(&o->lines[i][k]);
        g_free(o->titles[i]);
        g_free(o->figures[i]);
    }
    return good;
}
