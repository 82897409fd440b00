/* link: is it really being drawn? Streams a program to a controller over a serial port, keeps a
 * journal of what is drawn, and goes on after whatever interrupts it. */
#pragma once

#include "drawtrue/learn.h"
#include "drawtrue/log.h"
#include "drawtrue/run.h"
#include "drawtrue/session.h"

typedef struct {
    size_t stroke; /* 1-based */
    double away_mm;
} DtStrokeAt;

/* The stroke of a program whose ink lies nearest to a place on the bed, mm; of several equally near
 * the first. */
gboolean dt_link_stroke_at(const DtProfile *p, const char *program_path, DtPoint place,
                           DtStrokeAt *out, GError **error);
