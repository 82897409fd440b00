/* solve: figures as they are gathered. Private to the room. */
#pragma once

#include "truing/solve/model-fit.h"

/* Whether two scans show the sheet turned by a quarter or not much less, so that the scanner's squareness and the ratio
 * of its axes can be told from the machine's. With less, every change from scan to scan would look like one of them. */
gboolean dt_scans_are_turned(const DtEvidence *e);
/* DT_ERROR_INPUT if one scan is a copy of another. */
gboolean dt_check_scans_differ(const DtEvidence *e, GError **error);
/* Whether unknowns `first` to `first + n - 1` differ from the values `from` by more than noise does in 1 of 100 cases;
 * NULL: from 0. */
gboolean dt_stand_out(const DtModel *m, const DtModelFit *fit, int first, int n,
                      const double *from);
void dt_figures_add(DtFigures *f, const DtFigure *figure);
/* Adds a line to the notes. */
void dt_figures_note(DtFigures *f, const char *text);
/* Places and line widths of the pens, from the marks of each that were seen. */
void dt_tell_pens(const DtModel *m, DtFigures *out);
/* Dot gain of the pens' hatches, from their tone steps that scans show; after their line widths. */
void dt_tell_tones(const DtModel *m, DtFigures *out);
/* The same of one pen by eye: step `place` of its tone scale is as dark as the bars, `sd` in steps. */
void dt_tell_tone_seen(const DtProfile *p, const DtTestSheet *s, int pen, double place, double sd,
                       DtFigures *out);
/* The first of a kind, of an axis unless `axis` < 0; NULL: none. */
const DtFigure *dt_figures_find(const DtFigures *f, DtErrorKind kind, int axis);
