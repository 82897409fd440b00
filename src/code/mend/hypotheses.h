/* hypotheses: which reading of its pen a whole program bears out. Private. */
#pragma once

#include "code/mend/reading.h"

enum { DT_MOST_HYPOTHESES = 60, DT_MOST_RIVALS = 4 };

/* Where the next reading that draws other ink comes this near, the program is in doubt. */
#define DT_CLEAR_BY 1.5

/* One reading with what the program bears out of it. */
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
    gboolean turns; /* the file turns its spindle */
} DtPenVerdict;

/* Reads the text twice: for the words that it has, and for what each hypothesis makes of them. */
void dt_hypotheses_judge(const DtVocabulary *open, const DtPenRule *rule, const char *text,
                         gsize len, DtPenVerdict *out);
