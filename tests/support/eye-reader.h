/* eye-reader: a person who reads a test sheet that the virtual machine has drawn: which tick of a vernier
 * meets its neighbour, what a rule shows, at which dash a pen was in time. */
#pragma once

#include "drawtrue/rig.h"
#include "drawtrue/truing.h"

typedef struct {
    const DtTestSheet *sheet;
    const DtRig *rig;
    GRand *rand;
    double vernier_error; /* ticks: a reading is off by up to this much */
    double rule_error_mm;
    double seen_mm;     /* the shortest gap or hook that is seen */
    double writes_from; /* S from which on the rig's pen touches the paper */
    double dot_gain, tip_mm,
        ink; /* of hatches, Yule and Nielsen's n; width of a line; light of dense ink */
    /* how the paper was laid down after it was turned: off by so much */
    DtPoint moved;
    double turned;  /* radians beyond the quarter */
    DtPoint corner; /* of the paper, true bed mm */
    GArray *lines;  /* EyeLine, one for each mark */
} EyeReader;

/* The sheet was drawn from the rig's first stroke on; one stroke of ink belongs to each stroke of it. Of
 * dashes that were not drawn at all there is none. */
void eye_reader_init(EyeReader *e, const DtTestSheet *s, const DtRig *rig, guint32 seed);
void eye_reader_clear(EyeReader *e);
/* The answer as it would be given; "?" where nothing lines up. Freed by the caller. */
char *eye_reader_answer(EyeReader *e, const DtAsk *a);
/* Reads all that the sheet is asked. */
void eye_reader_read(EyeReader *e, DtEyeReadings *r);
