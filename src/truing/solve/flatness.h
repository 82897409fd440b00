/* flatness: whether scans show the sheet lying flat before a scanner. Private to the room. */
#pragma once

#include "truing/solve/model-fit.h"

/* Evidence of which some scans are taken for photographs, because they bend the sheet as only a camera does. */
typedef struct {
    DtEvidence e;
    DtScan scans[DT_MOST_SCANS]; /* shallow copies */
    const DtScan *list[DT_MOST_SCANS];
    double lens_mm[DT_MOST_SCANS], tilt_mm[DT_MOST_SCANS]; /* at the sheet's corners; 0: not told */
} DtBentEvidence;

/* Finds them by what the fit leaves. FALSE where there are none. */
gboolean dt_find_bent(const DtModel *m, const DtModelFit *fit, DtBentEvidence *out);
/* Notes by how much each is bent. */
void dt_note_bent(const DtBentEvidence *b, DtFigures *out);

/* DT_ERROR_INPUT if the marks beyond some line across the sheet are displaced in one of the scans: it was folded there,
 * or moved. Scans that differ show that wherever the line runs; one alone hides a line along a row behind the machine's
 * own errors. */
gboolean dt_check_steps(const DtModel *m, const DtModelFit *fit, GError **error);
