/* telling: figures of sheets as the page shows them. */
#pragma once

#include "drawtrue/truing.h"

#include <json-glib/json-glib.h>

#define DT_DESK_TWO_SIDED_95 1.96

/* What a figure is of: "title", "word", "axis" and "pen". */
void dt_desk_add_what(JsonBuilder *b, const DtProfile *p, DtErrorKind kind, int axis, int pen);
/* {"value", "interval", "unit"} as texts, to two figures of the 95 % interval (GUM 7.2.6). */
void dt_desk_add_value(JsonBuilder *b, const char *name, DtErrorKind kind, double value, double sd);
/* "causes": what is likely to need repair, those that cost most ink error first. */
void dt_desk_add_causes(JsonBuilder *b, const DtProfile *p, const DtFigures *f);
