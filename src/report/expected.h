/* expected: the expected ink error, as part of a report. */
#pragma once

#include "drawtrue/json.h"
#include "drawtrue/report.h"

/* Adds it to `text` in lines or, if that is NULL, to `json` as the member "expected_ink_error".
 * Nothing if `t` is NULL. */
void dt_report_add_expected(GString *text, JsonBuilder *json, const DtReportTrueness *t,
                            const DtProfile *p, const DtSequence *q, const DtMoves *m);
