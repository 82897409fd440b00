/* residuals: see residuals.h. */
#include "truing/solve/residuals.h"

#include "truing/solve/least-squares.h"
#include "truing/solve/model-fit.h"

#include <math.h>
#include <string.h>

int dt_item_class(const DtItem *item, int j)
{
    return dt_class_of(item->axis, item->way[item->axis], item->line >= 0, j > 0);
}

/* Rows of n numbers: row j becomes the difference of the mean of those before it and itself; row 0 the sum. `sum` has
 * room for n. */
static void transform(int rows, int n, double *const *row, double *sum)
{
    memcpy(sum, row[0], (size_t)n * sizeof *sum);
    for (int j = 1; j < rows; j++) {
        const double by = 1 / sqrt(j * (j + 1.0));
        for (int i = 0; i < n; i++) {
            const double r = row[j][i];
            row[j][i] = (sum[i] - j * r) * by;
            sum[i] += r;
        }
    }
    for (int i = 0; i < n; i++)
        row[0][i] = sum[i] / sqrt(rows);
}

int dt_residuals_of(const DtModel *m, const DtItem *item, double *rows, double *y, double **row)
{
    const size_t n = (size_t)m->n;
    double *const each[DT_MOST_SCANS] = {y, y + 1, y + 2, y + 3}, sum;
    int seen = 0;
    for (int k = 0; k < m->n_scans; k++) {
        if (item->seen[k] == NULL)
            continue;
        row[seen] = rows + (size_t)seen * n;
        memset(row[seen], 0, n * sizeof **row);
        y[seen] = dt_model_residual(m, item, k, row[seen], rows + DT_MOST_SCANS * n);
        seen++;
    }
    transform(seen, m->n, row, rows + (DT_MOST_SCANS + 2) * n);
    transform(seen, 1, each, &sum);
    return seen;
}

void dt_residuals_init(DtResiduals *r, const DtModel *m, const DtModelFit *fit)
{
    const size_t n = (size_t)m->n;
    g_autofree double *rows = g_new(double, DT_RESIDUAL_ROWS *n);
    size_t room = 0, at = 0;
    for (size_t i = 0; i < m->n_items; i++)
        for (int k = 0; k < m->n_scans; k++)
            room += m->items[i].seen[k] ? 1 : 0;
    *r = (DtResiduals){m,
                       fit,
                       g_new(double, room + 1),
                       g_new(double, room + 1),
                       g_new(double, room *n + 1),
                       g_new(size_t, m->n_items + 1)};
    for (size_t i = 0; i < m->n_items; i++) {
        double *row[DT_MOST_SCANS];
        const DtItem *item = &m->items[i];
        const int seen = dt_residuals_of(m, item, rows, r->y + at, row);
        r->first[i] = at;
        for (int j = 0; j < seen; j++, at++) {
            const double sd = fit->sd_used[dt_item_class(item, j)];
            memcpy(r->rows + at * n, row[j], n * sizeof **row);
            r->weight[at] = item->weight / (sd * sd);
        }
    }
    r->first[m->n_items] = at;
}

void dt_residuals_clear(DtResiduals *r)
{
    g_free(r->y);
    g_free(r->weight);
    g_free(r->rows);
    g_free(r->first);
    *r = (DtResiduals){0};
}

/* What each of the further unknowns does to each residual: `columns`, n to a residual. */
static void find_columns(const DtResiduals *r, int n, DtEffect effect, gconstpointer data,
                         gboolean differences, double *columns)
{
    const DtModel *m = r->m;
    g_autofree double *sum = g_new(double, n);
    memset(columns, 0, r->first[m->n_items] * (size_t)n * sizeof *columns);
    for (size_t i = 0; i < m->n_items; i++) {
        double *row[DT_MOST_SCANS];
        int seen = 0;
        for (int k = 0; k < m->n_scans; k++)
            if (m->items[i].seen[k]) {
                row[seen] = columns + (r->first[i] + (size_t)seen) * (size_t)n;
                effect(data, m, &m->items[i], k, row[seen++]);
            }
        transform(seen, n, row, sum);
        if (differences)
            memset(row[0], 0, (size_t)n * sizeof **row);
    }
}

/* Normal equations of the further unknowns, and in `by_unknown` (n by those of the fit) what they share with it. */
static void add_up(const DtResiduals *r, int n, const double *columns, double *normal,
                   double *moment, double *by_unknown)
{
    const size_t all = (size_t)r->m->n;
    for (size_t k = 0; k < r->first[r->m->n_items]; k++)
        for (int i = 0; i < n; i++) {
            const double *column = columns + k * (size_t)n, w = r->weight[k] * column[i];
            double *shared = by_unknown + (size_t)i * all;
            if (w == 0)
                continue;
            moment[i] += w * r->y[k];
            for (int j = 0; j < n; j++)
                normal[i * n + j] += w * column[j];
            for (size_t u = 0; u < all; u++)
                shared[u] += w * r->rows[k * all + u];
        }
}

gboolean dt_residuals_explain(const DtResiduals *r, int n, DtEffect effect, gconstpointer data,
                              gboolean differences, double *b, double *v)
{
    const double least = 1e-6; /* of what they would tell were all else known */
    const size_t all = (size_t)r->m->n, count = (size_t)n;
    g_autofree double *columns = g_new(double, r->first[r->m->n_items] * count + 1),
                      *moment = g_new0(double, count), *shared = g_new0(double, count *all),
                      *taken = g_new(double, all);
    find_columns(r, n, effect, data, differences, columns);
    memset(v, 0, count * count * sizeof *v);
    add_up(r, n, columns, v, moment, shared);
    for (size_t i = 0; i < count; i++) {
        const double alone = v[i * count + i];
        for (size_t u = 0; u < all; u++) {
            taken[u] = 0;
            for (size_t w = 0; w < all; w++)
                taken[u] += r->fit->v[u * all + w] * shared[i * all + w];
        }
        for (size_t j = 0; j < count; j++)
            for (size_t u = 0; u < all; u++)
                v[i * count + j] -= shared[j * all + u] * taken[u];
        if (v[i * count + i] <= least * alone)
            return FALSE;
    }
    if (!dt_invert_positive(count, v, NULL))
        return FALSE;
    for (size_t i = 0; i < count; i++) {
        b[i] = 0;
        for (size_t j = 0; j < count; j++)
            b[i] += v[i * count + j] * moment[j];
    }
    return TRUE;
}
