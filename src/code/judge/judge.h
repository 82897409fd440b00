/* judge: what a program would do on one machine, as it is read: tracks the carriage, the slack,
 * the pen and the time, and collects the findings. Constant memory. Private. */
#pragma once

#include "code/judge/accept.h"
#include "code/judge/pen.h"
#include "drawtrue/clock.h"
#include "drawtrue/pace.h"

#define CHORD_MM 0.005 /* an arc is judged by chords within this */

/* Evidence that a program's lengths are inches although it does not say so. */
typedef struct {
    size_t said_line;    /* G20; 0 for none */
    size_t comment_line; /* a comment mentions inches */
    int comment_column;
    double hit[4]; /* coordinates that are whole half millimetres as inches with four decimals */
    size_t n_hits, figures, hit_figures, hit_line;
} DtInchSigns;

/* The heights of Z at which a program moves. */
typedef struct {
    size_t line; /* first line that moves Z; 0 for none */
    int column;
    size_t changes;
    double first; /* at which X and Y first move */
    gboolean any, several;
} DtHeights;

typedef struct {
    const DtProfile *profile;
    DtVocabulary words;
    DtPenRule rule;
    DtCodeBlock home_line, end_line;
    char *home_text, *end_text;
    DtReader *reader;
    DtFindingList findings;
    DtClock clock; /* of the motors alone */
    DtPace pace;   /* with the wire */
    DtCarriage carriage;
    DtBox paper;
    double paper_turn; /* radians, about its lower left corner */
    DtMoveListener listener;
    void *listener_user;
    DtMoves *collect; /* NULL: not kept */

    int first_column;
    double rounding;  /* mm by which a coordinate may be off for lack of digits */
    gboolean refused; /* of the current block */
    size_t line;
    DtPenState pen;
    gboolean pen_commanded; /* by the current block */
    DtHeights heights;
    size_t spindle_line; /* first line that starts the spindle */
    int spindle_column;
    gboolean lowered;   /* the pen has been down at some time */
    DtPoint at, ink_at; /* commanded; ink */
    uint16_t pen_number;
    DtPoint tip;           /* offset of that pen from the first one; mm */
    gboolean tries_limits; /* by a comment: feeds and waits beyond the profile's are intended */
    gboolean pen_named;    /* from comments; otherwise each pause counts as a change to the next
                            * pen */
    size_t polyline;

    /* settling: what the pen still needs before the next motion */
    double settle_need_s, settle_had_s;
    gboolean after_pen_word; /* nothing but dwells since then */
    size_t settle_line;      /* of the pen word, then of the dwell */
    int settle_column;

    size_t draw_line; /* first line that draws, or would draw */
    int draw_column;
    gboolean drew, moved;
    DtPoint lifted_at;
    gboolean lifted_here;
    size_t dots;
    double down_ink_mm, down_dwell_s; /* total ink when the pen was last lowered */
    size_t idle_lifts, idle_line;     /* pen lowered again at the place where it was lifted */
    size_t f_line;                    /* where the F in force was said */
    int f_column;
    double faulted_feed;       /* F values reported as too fast */
    double inch_reach;         /* mm; a drawing larger than this is not in inches */
    double largest, most_feed; /* of all targets, mm; of all F words, as written */
    size_t feed_line, beyond_inch;
    DtInchSigns inches;
    double slow_s; /* time lost by pen-up moves at a feed */
    size_t slow_line, last_motion_line, last_words_line;
    gboolean end_reported, origin_reported;
    gboolean homed; /* or the machine has no line for it */
    DtInspection *out;
} DtJudge;

/* Records a finding. */
void dt_judge_find(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *format, ...)
    G_GNUC_PRINTF(5, 6);
#define FIND(j, kind, ...) dt_judge_find(j, kind, (j)->line, (j)->first_column, __VA_ARGS__)
/* A move of X, Y or Z. */
void dt_judge_motion(DtJudge *j, const DtAction *a);
void dt_judge_set_pen(DtJudge *j, DtPenState state);
/* Before a motion: checks that the pen has had time to settle. */
void dt_judge_end_settling(DtJudge *j);
void dt_judge_tell_move(DtJudge *j, DtMoveKind kind, double feed);
/* The program has ended, by its own word or because nothing follows. */
void dt_judge_end(DtJudge *j, size_t line, int column);
extern const DtListener dt_judge_listener;

void dt_judge_note_inch_words(DtJudge *j, const DtCodeBlock *b);
/* A coordinate that is meant in mm. */
void dt_judge_note_figure(DtJudge *j, double mm);
/* The evidence, as findings. */
void dt_judge_inches(DtJudge *j);
/* Notes the machine that the head of a program of ours names: j->out->made_for. */
void dt_judge_note_machine(DtJudge *j, const DtCodeBlock *b);
/* Takes the paper that a comment of a program of ours states in place of the profile's. */
void dt_judge_note_paper(DtJudge *j, const DtCodeBlock *b);
/* Finds that it is another machine than that of the profile. */
void dt_judge_machine(DtJudge *j);

/* Ink at the position of the tip. */
void dt_judge_add_dot(DtJudge *j);

/* Moves the drives to `to`; the tip follows. */
static inline void dt_judge_drive(DtJudge *j, DtPoint to)
{
    j->at = to;
    j->ink_at = dt_point_add(dt_carriage_drive(&j->carriage, to), j->tip);
}

/* To be called before and after the lines: `p` and `out` must outlive the judge. After
 * dt_judge_finish() `out` has everything; clear both. */
gboolean dt_judge_begin(DtJudge *j, const DtProfile *p, const DtJudgeOptions *o, DtInspection *out,
                        GError **error);
void dt_judge_finish(DtJudge *j, gboolean mark);
void dt_judge_clear(DtJudge *j);

/* The point of an arc at t from 0 to 1. */
void dt_arc_point(const DtAction *a, double t, double to[AXES]);
int dt_arc_chords(const DtAction *a);
