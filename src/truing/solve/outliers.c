/* outliers: see outliers.h. */
#include "truing/solve/outliers.h"

#include "drawtrue/base.h"
#include "truing/solve/least-squares.h"
#include "truing/solve/solve.h"

#include <math.h>

static const double near_mm = 14; /* a stain or a fold that displaces several marks is as large */

gboolean dt_item_is_outlier(const DtItem *item)
{
    const double little = 0.5;
    return item->weight < little;
}

/* How far towards + of its axis an item lies beyond where the model has it, mm: the mean over the scans. */
static double off_of(const DtModel *m, const DtItem *item)
{
    double sum = 0, seen = 0;
    for (int k = 0; k < m->n_scans; k++)
        if (item->seen[k]) {
            sum += dt_model_residual(m, item, k, NULL, NULL);
            seen++;
        }
    return sum / seen;
}

/* Where lines were left out before the fit, in one of the scans or in several. g_free. */
static DtPoint *strays_of(const DtModel *m, size_t *n)
{
    const double same_mm = 1;
    size_t room = 1;
    for (int k = 0; k < m->n_scans; k++)
        room += m->e->scans[k]->n_strays;
    DtPoint *out = g_new(DtPoint, room);
    *n = 0;
    for (int k = 0; k < m->n_scans; k++)
        for (size_t i = 0; i < m->e->scans[k]->n_strays; i++) {
            const DtPoint at = m->e->scans[k]->strays[i];
            size_t j = 0;
            while (j < *n && dt_point_distance(out[j], at) >= same_mm)
                j++;
            if (j == *n)
                out[(*n)++] = at;
        }
    return out;
}

gboolean dt_find_surrounded(DtModel *m)
{
    size_t n_strays;
    gboolean found = FALSE;
    g_autofree DtPoint *strays = strays_of(m, &n_strays);
    for (size_t i = 0; i < m->n_items; i++) {
        DtItem *item = &m->items[i];
        size_t bad = 0, good = 0;
        for (size_t k = 0; k < m->n_items; k++)
            if (k != i && dt_point_distance(m->items[k].middle, item->middle) < near_mm) {
                if (m->items[k].surrounded || dt_item_is_outlier(&m->items[k]))
                    bad++;
                else
                    good++;
            }
        for (size_t k = 0; k < n_strays; k++)
            bad += dt_point_distance(strays[k], item->middle) < near_mm ? 1 : 0;
        if (item->surrounded || bad < 2 || bad <= good)
            continue;
        item->surrounded = TRUE;
        found |= !dt_item_is_outlier(item);
    }
    return found;
}

/* Rules ------------------------------------------------------------------------------------------ */

static gboolean check_shares(const DtModel *m, GError **error)
{
    const double most = 0.2;
    size_t all[2] = {0, 0}, bad[2] = {0, 0}, n_strays;
    g_autofree DtPoint *strays = strays_of(m, &n_strays);
    for (size_t i = 0; i < m->n_items; i++) {
        const int line = m->items[i].line >= 0;
        all[line]++;
        bad[line] += dt_item_is_outlier(&m->items[i]) ? 1 : 0;
    }
    /* most of them are marks: of a line little is so far off in one piece */
    all[0] += n_strays;
    bad[0] += n_strays;
    if ((double)bad[0] <= most * (double)all[0] && (double)bad[1] <= most * (double)all[1])
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "the marks contradict each other: %zu of %zu marks and %zu of %zu pieces of long "
                "lines are not where the others have them; was the sheet folded, or did it move "
                "while it was drawn or scanned?",
                bad[0], all[0], bad[1], all[1]);
    return FALSE;
}

/* Where it stands along the other axis, commanded mm. */
static double place_of_row(const DtModel *m, int axis, int row)
{
    for (size_t i = 0; i < m->n_items; i++)
        if (dt_model_in_row(m, &m->items[i], axis, row))
            return axis == 0 ? m->items[i].middle.y : m->items[i].middle.x;
    return NAN;
}

/* A row of which most was left out was displaced as a whole: the sheet slipped, or steps were lost. Which of the rows is
 * right then is anybody's guess. */
static gboolean check_row(const DtModel *m, int axis, int row, GError **error)
{
    g_autofree double *off = g_new(double, m->n_items + 1);
    size_t n = 0, all = 0;
    for (size_t i = 0; i < m->n_items; i++) {
        const DtItem *item = &m->items[i];
        if (!dt_model_in_row(m, item, axis, row))
            continue;
        all++;
        if (dt_item_is_outlier(item))
            off[n++] = off_of(m, item);
    }
    if (2 * n <= all)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "of the row of marks along %s at %s %.0f mm %zu of %zu are displaced, by %.2f mm "
                "or so: the sheet slipped, or steps were lost while it was drawn",
                axis == 0 ? "X" : "Y", axis == 0 ? "Y" : "X", place_of_row(m, axis, row), n, all,
                dt_median(off, n));
    return FALSE;
}

/* The largest step of a curve from one knot to the next, mm, and where it is. */
static double largest_jump(const DtModel *m, int id, double *at)
{
    const DtCurve *c = &m->curves[id];
    double largest = 0;
    for (int i = 0; i + 1 < c->n; i++) {
        const double jump = m->b[c->first + i + 1] - m->b[c->first + i];
        if (fabs(jump) <= fabs(largest))
            continue;
        largest = jump;
        *at = c->from + (i + 0.5) * c->step;
    }
    return largest;
}

/* No rail and no cord jumps by so much from one knot to the next; a fold does, and paper that slips. */
static gboolean check_jumps(const DtModel *m, GError **error)
{
    const double most_mm = 0.2;
    for (int id = DT_CURVE_POSITION; id < DT_CURVE_SLACK; id++) {
        double at = 0;
        const double jump = largest_jump(m, id, &at);
        if (fabs(jump) < most_mm)
            continue;
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "at %c %.0f mm the marks jump by %.2f mm: the sheet was folded, or it "
                    "slipped while it was drawn",
                    "XY"[id % 2], at, jump);
        return FALSE;
    }
    return TRUE;
}

gboolean dt_check_outliers(const DtModel *m, GError **error)
{
    for (int axis = 0; axis < 2; axis++)
        for (int row = 0; row < DT_ROWS; row++)
            if (!check_row(m, axis, row, error))
                return FALSE;
    return check_shares(m, error) && check_jumps(m, error);
}

/* Notes ------------------------------------------------------------------------------------------ */

static void add_place(GString *s, size_t *n, DtPoint at)
{
    enum { MOST = 20 };
    if (++*n <= MOST)
        g_string_append_printf(s, "%s(%.0f, %.0f)", *n > 1 ? ", " : "", at.x, at.y);
    else if (*n == MOST + 1)
        g_string_append(s, ", ...");
}

static gboolean is_flat(const DtModel *m)
{
    gboolean flat = FALSE;
    for (int k = 0; k < m->n_scans; k++)
        flat |= !m->pose[k].photograph;
    return flat;
}

typedef struct {
    int axis, row;
} Row;

static void move_row(gconstpointer data, const DtModel *m, const DtItem *item, int k, double *by)
{
    const Row *row = data;
    (void)k;
    by[0] = dt_model_in_row(m, item, row->axis, row->row);
}

/* How far the marks of a row together lie towards + of their axis, were that an unknown too. The rails' curves follow a
 * row that is off, all but where long lines cross it; what is left of it in the residuals tells the whole. FALSE where
 * nothing tells, as with one scan: what the scanner's carriage does over the width of a row is as much. */
static gboolean find_row_offset(const DtModelFit *fit, Row row, double *off, double *sd)
{
    double variance;
    if (!fit->wave_known ||
        !dt_residuals_explain(&fit->left_over, 1, move_row, &row, FALSE, off, &variance))
        return FALSE;
    *sd = sqrt(variance);
    return TRUE;
}

int dt_find_displaced_row(const DtModel *m, const DtModelFit *fit, int *row, double *off)
{
    const double least_mm = 0.05, least_sds = 3.5;
    double worst = least_sds;
    int axis = -1;
    for (int i = 0; i < 2 * DT_ROWS && is_flat(m); i++) { /* photographs bend more */
        const Row r = {i / DT_ROWS, i % DT_ROWS};
        double found, sd;
        if (!find_row_offset(fit, r, &found, &sd) || fabs(found) < least_mm ||
            fabs(found) / sd < worst)
            continue;
        worst = fabs(found) / sd;
        axis = r.axis;
        *row = r.row;
        *off = found;
    }
    return axis;
}

static gboolean note_row(const DtModel *m, const DtModelFit *fit, DtFigures *out)
{
    int row;
    double off;
    const int axis = dt_find_displaced_row(m, fit, &row, &off);
    if (axis < 0)
        return FALSE;
    g_autofree char *text = g_strdup_printf(
        _("the marks of the row along %c at %c %.0f mm are all displaced by about %.2f mm, by the "
          "long lines there: the sheet slipped while they were drawn, or steps were lost; the "
          "straightness of rail %c is not corrected by this sheet: draw another one"),
        "XY"[axis], "YX"[axis], place_of_row(m, axis, row), fabs(off), "YX"[axis]);
    dt_figures_note(out, text);
    return TRUE;
}

/* A row that slipped by little looks like a rail with a step: rails bend, by 0.03 mm over as much at most. */
static void note_steps(const DtModel *m, DtFigures *out)
{
    const double most_mm = 0.05;
    for (int axis = 0; axis < 2; axis++) {
        double at = 0;
        const double step = largest_jump(m, DT_CURVE_STRAIGHT + axis, &at);
        if (fabs(step) < most_mm)
            continue;
        g_autofree char *text = g_strdup_printf(
            _("at %c %.0f mm the rail seems to step aside by %.2f mm: if it does not, the sheet "
              "slipped there, or steps were lost: draw another one to see"),
            "XY"[axis], at, fabs(step));
        dt_figures_note(out, text);
    }
}

void dt_note_outliers(const DtModel *m, const DtModelFit *fit, DtFigures *out)
{
    g_autoptr(GString) places = g_string_new(NULL);
    size_t n = 0, n_strays;
    g_autofree DtPoint *strays = strays_of(m, &n_strays);
    for (size_t i = 0; i < m->n_items; i++)
        if (dt_item_is_outlier(&m->items[i]))
            add_place(places, &n, m->items[i].middle);
    for (size_t i = 0; i < n_strays; i++)
        add_place(places, &n, strays[i]);
    if (!note_row(m, fit, out) && is_flat(m))
        note_steps(m, out);
    if (n == 0)
        return;
    g_autofree char *text = g_strdup_printf(
        P_("%zu of %zu marks was left out, since it is not where the others have it, or stands "
           "among such (a smudge, a hair, a fold?): it is at (X, Y) = %s mm",
           "%zu of %zu marks were left out, since they are not where the others have them, or "
           "stand "
           "among such (smudges, a hair, a fold?): they are at (X, Y) = %s mm",
           n),
        n, m->n_items + n_strays, places->str);
    dt_figures_note(out, text);
}
