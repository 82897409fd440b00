/* A planned job for the tests of report. */
#pragma once

#include "drawtrue/report.h"

/* Two lines in black and one in red, planned from an SVG that is written to `path`; its times are made up, each
 * different from every other. */
void job_make(const DtProfile *p, const char *path, DtJob *job);
