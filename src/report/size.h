/* size (private to report): the final size of a drawing, and cautions. */
#pragma once

#include "drawtrue/report.h"

#include <json-glib/json-glib.h>

/* From this difference on the ink does not look like the artwork's colour: "clearly another
 * colour" in units of CIEDE2000 (common practice, no source). */
#define DT_REPORT_FAR_COLOUR 20.0

/* The scale against the drawing's own size and the size on paper: a line to `s`, or members to `b`;
 * either may be NULL. `placed` is the map from the page to the bed. */
void dt_report_add_size(GString *s, JsonBuilder *b, const DtDrawing *d, const DtAffine *placed);

/* Cautions, one sentence each, for i from 0 on; NULL after the last. Free with g_free(). `colours` may
 * be NULL. */
char *dt_report_caution(const DtDrawing *d, const DtAffine *placed, const DtInkReport *colours,
                        size_t i);

/* What was given up to meet a time limit. */
void dt_report_add_budget(GString *s, JsonBuilder *b, const DtBudget *budget);
