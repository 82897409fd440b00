/* judge: what a program would do on one machine, as it is read: keeps where the carriage, the slack
 * and the pen are, the time, and the findings. Constant memory. Private. */
#pragma once

#include "code/judge/accept.h"
#include "code/judge/pen.h"
#include "drawtrue/clock.h"
#include "drawtrue/pace.h"

#define CHORD_MM 0.005 /* an arc is judged by chords within this */

/* What tells whether a program's lengths are inches though it does not say so. */
typedef struct {
    size_t said_line;    /* G20; 0 for none */
    size_t comment_line; /* a comment speaks of inches */
    int comment_column;
    double hit[4]; /* figures that are whole half millimetres as inches to four places */
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
    DtMoveListener listener;
    void *listener_user;
    DtMoves *collect; /* NULL: not kept */

    int first_column;
    double rounding;  /* mm that a coordinate may be off by for want of digits */
    gboolean refused; /* the block at hand */
    size_t line;
    DtPenState pen;
    gboolean pen_commanded; /* by the block at hand */
    double z;
    gboolean z_known;
    DtHeights heights;
    size_t spindle_line; /* first line that turns the spindle on */
    int spindle_column;
    gboolean lowered;   /* the pen was down at some time */
    DtPoint at, ink_at; /* commanded; ink */
    uint16_t pen_number;
    DtPoint tip;           /* of that pen, beside the first one's; mm */
    gboolean tries_limits; /* by a comment: feeds and waits beyond the profile's are meant */
    gboolean pen_named;    /* by comments; otherwise each pause is taken for the next pen */
    size_t polyline;

    /* settling: what the pen still needs before the next motion */
    double settle_need_s, settle_had_s;
    gboolean after_pen_word; /* nothing but dwells since */
    size_t settle_line;      /* of the pen word, then of the dwell */
    int settle_column;

    size_t draw_line; /* first line that draws, or would */
    int draw_column;
    gboolean drew, moved;
    DtPoint lifted_at;
    gboolean lifted_here;
    size_t dots;
    double down_ink_mm, down_dwell_s; /* in all, when the pen came down last */
    size_t idle_lifts, idle_line;     /* drops in the place of the last lift */
    size_t f_line;                    /* where the F in force was said */
    int f_column;
    double faulted_feed;       /* F that was reported to be too fast */
    double inch_reach;         /* mm; a drawing beyond it is not in inches */
    double largest, most_feed; /* of all targets, mm; of all F, as written */
    size_t feed_line, beyond_inch;
    DtInchSigns inches;
    double slow_s; /* lost by pen-up moves at feed */
    size_t slow_line, last_motion_line, last_words_line;
    gboolean end_reported, origin_reported;
    gboolean homed; /* or the machine has no line for it */
    DtInspection *out;
} DtJudge;

/* Takes a finding. */
void dt_judge_find(DtJudge *j, DtFindingKind kind, size_t line, int column, const char *format, ...)
    G_GNUC_PRINTF(5, 6);
#define FIND(j, kind, ...) dt_judge_find(j, kind, (j)->line, (j)->first_column, __VA_ARGS__)
/* A move of X, Y or Z. */
void dt_judge_motion(DtJudge *j, const DtAction *a);
void dt_judge_set_pen(DtJudge *j, DtPenState state);
/* Before a motion: whether the pen has had its time. */
void dt_judge_end_settling(DtJudge *j);
void dt_judge_tell_move(DtJudge *j, DtMoveKind kind, double feed);
/* The program is over, by its own word or because nothing follows. */
void dt_judge_end(DtJudge *j, size_t line, int column);
extern const DtListener dt_judge_listener;

void dt_judge_note_inch_words(DtJudge *j, const DtCodeBlock *b);
/* A coordinate that is said to be in mm. */
void dt_judge_note_figure(DtJudge *j, double mm);
/* What was gathered, as findings. */
void dt_judge_inches(DtJudge *j);

/* Ink where the tip stands. */
void dt_judge_add_dot(DtJudge *j);

/* The drives go to `to`; the tip follows. */
static inline void dt_judge_drive(DtJudge *j, DtPoint to)
{
    j->at = to;
    j->ink_at = dt_point_add(dt_carriage_drive(&j->carriage, to), j->tip);
}

/* Around the lines: `p` and `out` must outlive the judge. After dt_judge_finish() `out` holds all; clear
 * both. */
gboolean dt_judge_begin(DtJudge *j, const DtProfile *p, const DtJudgeOptions *o, DtInspection *out,
                        GError **error);
void dt_judge_finish(DtJudge *j, gboolean mark);
void dt_judge_clear(DtJudge *j);

/* The point of an arc at t from 0 to 1. */
void dt_arc_point(const DtAction *a, double t, double to[AXES]);
int dt_arc_chords(const DtAction *a);
