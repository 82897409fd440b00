/* link: streams a program to a controller over a serial port, keeps a journal of what has been
 * drawn, and recovers from interruptions. */
#pragma once

#include "drawtrue/learn.h"
#include "drawtrue/log.h"
#include "drawtrue/run.h"
#include "drawtrue/session.h"

typedef struct {
    size_t stroke; /* 1-based */
    double away_mm;
} DtStrokeAt;

/* The stroke of a program whose ink is nearest to a point on the bed, mm; the first of several
 * that are equally near. */
gboolean dt_link_stroke_at(const DtProfile *p, const char *program_path, DtPoint place,
                           DtStrokeAt *out, GError **error);
