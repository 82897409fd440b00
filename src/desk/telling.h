/* telling: figures of sheets in the form that the page shows. */
#pragma once

#include "drawtrue/truing.h"

#include <json-glib/json-glib.h>

#define DT_DESK_TWO_SIDED_95 1.96

/* What a figure describes: "title", "word", "axis" and "pen". */
void dt_desk_add_what(JsonBuilder *b, const DtProfile *p, DtErrorKind kind, int axis, int pen);
/* {"value", "interval", "unit"} as texts, to two figures of the 95 % interval (GUM 7.2.6). */
void dt_desk_add_value(JsonBuilder *b, const char *name, DtErrorKind kind, double value, double sd);
/* "causes": what probably needs repair, the largest ink errors first. */
void dt_desk_add_causes(JsonBuilder *b, const DtProfile *p, const DtFigures *f);
