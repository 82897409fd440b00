/* bench-ink: the parts of ./dev bench --ink; each prints its table. */
#pragma once

#include <glib.h>

/* Processor time of this process so far, s: what other processes do does not count. */
double bench_cpu_s(void);

void bench_hatch_against_geos(void);
void bench_hatch_growth(void);
/* The exit code: 0, or 1 where the drawings are not there. */
int bench_hiding(void);
