/* bench-chip: what the files of the chip's benchmark share. */
#pragma once

#include "chip.h"
#include "drawtrue/machine.h"

extern const char *bench_image;

/* What came of one drawing. */
typedef struct {
    DtRig *rig;
    DtRigFigures figures;
    DtChipFigures chip; /* zero without one */
    double processor_s;
} Drawn;

/* Draws the program file over a pseudo-terminal, through the chip or (NULL) through the rig's core. */
gboolean bench_draw(const DtProfile *p, const char *program, const char *rig_file,
                    const DtChipOptions *chip, const char *folder, Drawn *out, GError **error);
void bench_clear(Drawn *d);

/* A row of the table that ./dev bench --controller makes: what was measured, and the bar. Returns `good`. */
gboolean bench_row(const char *what, const char *bar, gboolean good, const char *format, ...)
    G_GNUC_PRINTF(4, 5);

int bench_drawings(unsigned n, double longest_s);
int bench_power(unsigned n, guint32 seed);
int bench_switches(double hours, guint32 seed);
int bench_bytes(unsigned n, guint32 seed);
int bench_steps(void);
