/* proof: what will be on the paper? Any stage as a picture: PNG, SVG or PDF by the file's ending. */
#pragma once

#include "drawtrue/code.h"

/* What a picture shows; every part may be NULL or empty. */
typedef struct {
    const DtProfile *profile;     /* bed and paper */
    const DtDrawing *drawing;     /* the artwork itself, placed */
    const DtSequence *sequence;   /* pen lines in true widths and colours, with travel */
    const DtTimes *times;
    const char *title;
    const char *figures;          /* one line below the picture */
} DtProofInput;

/* Writes the picture, `width_px` wide where it is a PNG. Fails with DT_ERROR_USAGE on an unknown
 * ending and DT_ERROR_IO where it cannot be written; then nothing is left behind. */
gboolean dt_proof_write(const DtProofInput *in, const char *path, int width_px, GError **error);
