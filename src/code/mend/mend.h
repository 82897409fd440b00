/* mend: makes a program from elsewhere fit for one controller. Private. */
#pragma once

#include "code/judge/accept.h"
#include "code/write/emit.h"
#include "code/judge/judge.h"
#include "code/mend/hypotheses.h"

enum { MOST_PROBLEMS = 10, MOST_CHANGES = 1000, MOST_BYTES = 1 << 30 };

typedef struct {
    const DtProfile *profile;
    const char *name;   /* of the program, for messages */
    DtVocabulary words; /* what the controller accepts */
    DtVocabulary open;  /* the same, for reading what it does not accept */
    DtPenRule rule;
    DtCodeBlock home_line;
    char *home_text;
    DtReading reading;
    DtEmit emit;
    DtReader *reader;
    DtMendOptions options;

    /* the current line */
    size_t line;
    GArray *actions; /* DtAction */
    GString *reason; /* why it cannot stay as it is; "" as long as it can */
    GString *fault;  /* what is wrong with it according to the standard */
    DtFaultKind fault_kind;
    int fault_column;
    double feed_before; /* F that was in force */

    DtPenState meant;
    gboolean after_pen; /* the last action was a pen word */
    gboolean beyond;    /* the carriage is outside the travel according to the file */
    DtPoint meant_at;   /* where the carriage should be according to the file */
    double meant_mm;    /* ink within the travel that the file means to draw */
    size_t meant_pieces;
    unsigned stated; /* modal groups of G words that the file has set so far, a bit for each */
    gboolean feeds_lifted; /* it has moves at a feed with the pen up */
    gboolean moved, outside, end_told;
    struct {
        size_t line, n; /* the first one's line; how many */
        double mm;      /* their length along X and Y */
    } slopes;           /* moves at a feed in which Z crosses the height that tells up from down */
    GArray *changes;    /* DtChange */
    size_t more_changes;
    GString *problems;
    int n_problems;
} DtMend;

void dt_mend_change(DtMend *m, const char *format, ...) G_GNUC_PRINTF(2, 3);
void dt_mend_problem(DtMend *m, int column, const char *format, ...) G_GNUC_PRINTF(3, 4);
/* Finds how the file means its pen: m->reading. FALSE if the reading is in doubt, or none draws anything;
 * `mending` gets the reading and its rivals. */
gboolean dt_mend_choose_reading(DtMend *m, const char *text, gsize len, DtMending *mending,
                                GError **error);
/* Writes the reason why the line cannot stay as it is to m->reason. */
void dt_mend_find_reason(DtMend *m, const DtCodeBlock *b);
/* Inserts what must come before the line, or before an action of it that is rewritten. */
void dt_mend_prepare(DtMend *m, const DtAction *a);
/* Rewrites an action. */
void dt_mend_rewrite(DtMend *m, const DtAction *a);
/* Tracks an action of a line that stays. */
void dt_mend_follow(DtMend *m, const DtAction *a);
/* Replaces the comments of a line, however faulty, by blanks, and all of a deleted line. */
void dt_mend_blank_comments(char *line, size_t len);
/* Whether a dwell, after a pen word or not, was meant in milliseconds. */
gboolean dt_mend_is_in_ms(const DtMend *m, double seconds, gboolean after_pen);
gboolean dt_mend_is_motion(const DtAction *a);
gboolean dt_mend_moves_xy(const DtAction *a);
/* Whether the move draws, by the reading of the file, once the pen is where it is meant to be. */
gboolean dt_mend_draws(const DtMend *m, const DtAction *a);
/* Whether a point, or the whole circle of an arc, lies within the travel. */
gboolean dt_mend_is_within(const DtMend *m, DtPoint p);
gboolean dt_mend_is_arc_within(const DtMend *m, const DtAction *a);
/* F for a move, mm/min: at most what the axes reach, and never missing. */
double dt_mend_feed(const DtMend *m, const DtAction *a);
gboolean dt_mend_is_pen_word(const DtMend *m, const DtAction *a, DtPenState *state);
/* Whether the block has words of other controllers that are not those of the reading. */
gboolean dt_mend_is_strange(const DtMend *m, const DtCodeBlock *b);
/* Whether the line cannot be mended: m->fault and its column say why. An unclosed comment loses only itself; other faults
 * leave the meaning open. */
gboolean dt_mend_is_hopeless(DtMend *m, const DtCodeBlock *b);
void dt_mend_finish(DtMend *m);
