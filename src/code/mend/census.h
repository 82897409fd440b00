/* census: which words of a program may control its pen. Private. */
#pragma once

#include "code/mend/reading.h"

enum { DT_LEVELS = 64, DT_LINE_KEYS = 32 };

typedef struct {
    double at[DT_LEVELS];
    double moved[DT_LEVELS]; /* mm along X and Y in it, or number of times it was stated */
    int n;
} DtLevels;

/* Amounts over the lengths of the moves that they are stated with. */
typedef struct {
    size_t n;
    double least, most; /* a mm */
} DtShare;

/* A letter that the standard does not have, in moves along X or Y. */
typedef struct {
    size_t moves, rapids; /* with it */
    DtShare value, rise;  /* of its positive values, and of what it rose by */
} DtLetterUse;

typedef struct {
    DtLevels height[AXES], speed;
    char key[DT_LINE_KEYS][DT_LINE_KEY];
    size_t key_count[DT_LINE_KEYS];
    int n_keys;
    DtLetterUse letter[26];
    size_t moves;                      /* along X or Y */
    gboolean turned[3];                /* M4, M5, M3 */
    gboolean machine_down, machine_up; /* its own words, as it writes them */
    gboolean other_speeds;             /* than its own, while the spindle turns already */
    gboolean turns;                    /* at this point */
    double rapid_mm, feed_mm, arc_mm;
    gboolean ended;
    const DtCodeBlock *block;
    const DtPenRule *rule;
} DtCensus;

/* Reads the whole text. */
void dt_census_take(DtCensus *c, const DtVocabulary *open, const DtPenRule *rule, const char *text,
                    gsize len);

/* Along X and Y, mm; arcs of the plane by their sweep. */
double dt_action_length(const DtAction *a);
gboolean dt_action_is_motion(const DtAction *a);
