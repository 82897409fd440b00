/* link: is it really being drawn? Streams a program to a controller over a serial port, keeps a
 * journal of what is drawn, and goes on after whatever interrupts it. */
#pragma once

#include "drawtrue/log.h"
#include "drawtrue/run.h"
#include "drawtrue/session.h"

/* Sheets ------------------------------------------------------------------------------------ */

/* The map from where the profile's sheet lies to where it really lies: its lower left and lower
 * right corners were touched by the pen with the axes at `left` and `right` (commanded mm). Fails
 * with DT_ERROR_INPUT where the two are not the sheet's width apart. */
gboolean dt_link_sheet(const DtProfile *p, DtPoint left, DtPoint right, DtAffine *out,
                       GError **error);

/* Writes the program anew for a sheet whose corners were touched there: the same ink, moved and
 * turned, with the corrections for its new place and directions. Fails as dt_run_new() does, and
 * where the drawing would leave the travel. */
gboolean dt_link_lay(const DtProfile *p, const char *program_path, DtPoint left, DtPoint right,
                     const char *out_path, GError **error);

typedef struct {
    size_t stroke; /* 1-based */
    double away_mm;
} DtStrokeAt;

/* The stroke of a program whose ink lies nearest to a place on the bed, mm; of several equally near
 * the first. */
gboolean dt_link_stroke_at(const DtProfile *p, const char *program_path, DtPoint place,
                           DtStrokeAt *out, GError **error);
