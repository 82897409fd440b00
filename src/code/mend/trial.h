/* trial: the hypotheses about a program's pen, and what the program does under each. Private. */
#pragma once

#include "code/mend/census.h"
#include "code/mend/hypotheses.h"

enum { DT_MASKS = 1024 };

/* One bit for each hypothesis. */
typedef uint64_t DtMask;

typedef struct {
    DtReading reading;
    double prior;
    /* what the program does under it */
    double ink, rapid_ink, feed_travel, rapid_travel, arc_travel;
    size_t drops;                      /* the words lower the pen */
    size_t strokes;                    /* runs that draw */
    size_t dots;                       /* lowered and lifted in one place */
    size_t early_dots;                 /* of them: before the first move, where it is kept up */
    size_t slight_drops, slight_lifts; /* by a slight change of height or speed in a move's line */
    size_t plunges,
        plunges_met; /* feeds along its axis alone towards down; of them: they lower the pen */
    size_t feed_travels,
        long_feed_travels;  /* of runs that travel at feed: of three moves or more */
    size_t feed_then_rapid; /* of them: a rapid follows in the same run */
    size_t ink_loops, ink_runs, travel_loops, travel_runs; /* of three moves and more: closed */
    size_t rapid_runs, long_rapid_runs; /* runs of rapids that draw: of two or more */
    gboolean first_drawn, last_drawn, ends_down;
    size_t run_begun, run_feeds; /* moves before the current run */
    DtPoint run_from;
    size_t dropped_at; /* moves before the last drop */
    double score;
} DtHypothesis;

typedef struct {
    DtMask mask;
    double rapid, feed, arc;
    gboolean used;
} DtMaskUse;

typedef struct {
    DtHypothesis h[DT_MOST_HYPOTHESES];
    int n;
    const DtCensus *census;
    const DtPenRule *rule;
    DtMask words_down; /* by the words alone */
    DtMask rapids;     /* those that draw with rapids */
    DtMask drawing;    /* of the last move */
    size_t moves, feeds, rapids_in_row;
    double speed;       /* S of the last spindle action */
    size_t last_change; /* moves before the last rapid that followed a move at feed */
    gboolean was_feed;
    DtPoint at;
    DtMaskUse uses[DT_MASKS];
    size_t n_uses;
    gboolean too_many, any_move, ended, by_letter;
    const DtCodeBlock *block;
} DtTrial;

/* Fills h and n, and the masks that follow from the readings alone, by the census. */
void dt_trial_suppose(DtTrial *t);
