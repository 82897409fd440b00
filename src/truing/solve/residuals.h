/* residuals: what a fit leaves, and what one more unknown would explain of it. Private to the room. */
#pragma once

#include "truing/solve/model.h"

typedef struct DtModelFit DtModelFit;

/* Classes of observations that share a standard deviation: marks by axis, direction and whether they are
 * sums over the scans, which hold what the pen did, or differences between them, which hold what each scan
 * did; then pieces of long lines by axis and that. */
enum { DT_CLASS_LINES = 8, DT_CLASSES = 12 };

static inline int dt_class_of(int axis, int way, gboolean line, gboolean difference)
{
    return line ? DT_CLASS_LINES + axis * 2 + difference
                : axis * 4 + (way < 0 ? 2 : 0) + difference;
}

/* The class of the sum of an item (j = 0) or of one of its differences. */
int dt_item_class(const DtItem *item, int j);

enum { DT_RESIDUAL_ROWS = DT_MOST_SCANS + 3 }; /* of n each, that dt_residuals_of() has to have */

/* The residuals of an item in all scans that show it, and their rows, as a sum and differences of equal variance
 * (Helmert's transformation). `rows` has room for DT_RESIDUAL_ROWS of them, into which `row` points. Returns how many
 * there are. */
int dt_residuals_of(const DtModel *m, const DtItem *item, double *rows, double *y, double **row);

/* Those of all items after a fit. */
typedef struct {
    const DtModel *m;
    const DtModelFit *fit;
    double *y, *weight,
        *rows;     /* of each; weight: 1 / variance; rows: how it depends on the unknowns */
    size_t *first; /* of each item, and one more */
} DtResiduals;

/* `fit` must outlive it. */
void dt_residuals_init(DtResiduals *r, const DtModel *m, const DtModelFit *fit);
void dt_residuals_clear(DtResiduals *r);

/* By how much 1 of each of n further unknowns moves what scan k shows of an item towards + of its axis: `by`, zeroed. */
typedef void (*DtEffect)(gconstpointer data, const DtModel *m, const DtItem *item, int k,
                         double *by);

/* n further unknowns as the least squares would have them together with all others, by what is left without them (Frisch
 * and Waugh 1933, from memory), and their covariance, n by n. `differences`: by what differs between the scans alone,
 * in which no error of the machine has a part. FALSE where the residuals do not tell them. */
gboolean dt_residuals_explain(const DtResiduals *r, int n, DtEffect effect, gconstpointer data,
                              gboolean differences, double *b, double *v);
