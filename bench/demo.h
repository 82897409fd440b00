/* demo: what the demo's report and its picture share. */
#pragma once

#include "support/verdict.h"

typedef struct {
    WitnessInk landed;
    Verdict verdict;
    int lifts;
} DemoRun;

/* Writes the picture: artwork, ink without corrections and ink with them side by side, and below
 * each the magnified part `detail` (bed mm) with the planned lines over it. */
gboolean demo_picture(const DtProfile *p, const DtJob *job, const DemoRun *trued,
                      const DemoRun *plain, DtBox detail, const char *path, int width_px,
                      GError **error);
