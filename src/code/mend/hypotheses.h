/* hypotheses: which meaning of its pen words the whole program supports. Private. */
#pragma once

#include "code/mend/reading.h"

enum { DT_MOST_HYPOTHESES = 60, DT_MOST_RIVALS = 4 };

/* If the next reading that draws other ink is within this distance, the program is in doubt. */
#define DT_CLEAR_BY 1.5

/* One reading and how well the program supports it. */
typedef struct {
    DtReading reading;
    double score;
    double ink_mm;
    size_t strokes, dots;
    gboolean is_machine; /* this machine's own words draw the same */
} DtRatedReading;

typedef struct {
    DtRatedReading best;                   /* n > 0 */
    DtRatedReading rivals[DT_MOST_RIVALS]; /* readings that draw other ink, the likeliest first */
    int n, n_rivals;                       /* readings that draw anything; rivals */
    gboolean in_doubt;
    gboolean turns; /* the file starts its spindle */
} DtPenVerdict;

/* Reads the text twice: for its words, and for the effect of each hypothesis. */
void dt_hypotheses_judge(const DtVocabulary *open, const DtPenRule *rule, const char *text,
                         gsize len, DtPenVerdict *out);
