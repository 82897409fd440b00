/* code: writes moves as RS-274 text in the words that one controller accepts, and reads, judges
 * and mends RS-274 text from anywhere. The reader follows NISTIR 6556 (Kramer, Proctor and
 * Messina 2000). */
#pragma once

#include "drawtrue/machine.h"

/* Writes the moves as program text in the words of the profile's dialect; freed by the caller. A
 * comment before each run names its stroke and pen, for people and for resuming:
 *     (stroke 12 pen black)
 * and the head of the program names the machine and the profile it was made for. Strokes are
 * counted from 1. Everything modal is repeated after such a comment, so that a run may start
 * there (with the pen up, after G21 G90). Coordinates have enough digits for a quarter of a
 * step, but no more than the dialect's. A controller that accepts no comments gets none; one
 * without G4 is assumed to wait for its servo by itself. Fails with DT_ERROR_INPUT if the
 * dialect lacks a word that the job needs, or if a line would be longer than the controller
 * accepts (including its check and N word). */
char *dt_code_write(const DtProfile *p, const DtMoves *m, gsize *len, GError **error);
/* Whether a profile is consistent: its list of words contains only words, and includes those
 * that its own lines for the pen, homing and the end use. DT_ERROR_INPUT names both lines of the
 * file. */
gboolean dt_code_check_profile(const DtProfile *p, GError **error);
/* The same head for a mended program, which marks it as ours and names its machine. "" for a
 * controller without comments. Freed by the caller. */
char *dt_code_mended_head(const DtProfile *p, GError **error);

typedef struct {
    double arc_tolerance;  /* mm; curves become arcs (G2, G3) that stay within this distance of
                           * the moves, if the dialect accepts them with I and J. 0: no arcs */
    gboolean tries_limits; /* a test exceeds the profile's feeds and waits on purpose: the program
                       * says so in a comment, and the judge does not object */
    gboolean lacks_corrections; /* planned without them: the head says so */
} DtWriteOptions;

/* The same with options; `o` may be NULL. */
char *dt_code_write_as(const DtProfile *p, const DtMoves *m, const DtWriteOptions *o, gsize *len,
                       GError **error);

/* The S word of the profile's line that lowers the pen, and the range in which it can be varied.
 * FALSE if that line has none, or the pen is not a servo driven by the spindle words. */
gboolean dt_code_drop_word(const DtProfile *p, double *s, double *least, double *most);
/* The same line with another S; freed by the caller. */
char *dt_code_drop_line(const char *line, double s);

/* Whether this controller needs blanks between words (gap:needed). */
gboolean dt_dialect_needs_gaps(const DtDialect *d);

/* CRC-16 of ITU-T V.41 (polynomial x^16+x^12+x^5+1, initial value 0, most significant bit first). */
uint16_t dt_code_crc16(const char *bytes, gsize n);
/* The line with its check as a comment, "G1 X2 (*1A2B)": the CRC covers the bytes before the '('
 * of the check. Freed by the caller. */
char *dt_code_add_check(const char *line, gsize len);

/* Whether the controller accepts a word such as "G4", "M0" or "X", or a comment for "(" (in round
 * brackets) or ";". The second: how many seconds one unit of P in its dwell is. */
gboolean dt_code_takes(const DtProfile *p, const char *word);
/* Whether no program can wait for the pen: it takes time, and the controller accepts no dwell (G4). */
gboolean dt_code_cannot_wait(const DtProfile *p);
double dt_code_dwell_unit_s(const DtProfile *p);

/* What the head of a program says of this machine's corrections. Of several heads, as in programs that were joined, the
 * greatest counts, wherever it stands. */
typedef enum {
    DT_HEAD_NONE,   /* it comes from elsewhere, or was written for a controller without comments */
    DT_HEAD_MENDED, /* it came from elsewhere and has none */
    DT_HEAD_UNCORRECTED, /* planned without them */
    DT_HEAD_CORRECTED,
} DtHead;

/* The paper that a program of ours was planned for, stated in a comment after its head if it is not
 * that of the profile. */
typedef struct {
    gboolean stated;
    double w, h;
    DtPoint at;  /* lower left corner, bed mm */
    double turn; /* radians, about that corner */
    char name[64];
} DtStatedPaper;

/* Replaces the paper of the profile by the stated one, if there is one. */
void dt_code_take_paper(const DtStatedPaper *paper, DtProfile *p);

typedef enum {
    DT_FINDING_NO_INK, /* will not draw */
    DT_FINDING_HARM,   /* will harm the machine, the pen or the paper */
    DT_FINDING_WRONG,  /* will look wrong */
    DT_FINDING_WASTE,  /* takes longer than necessary */
} DtFindingRank;

typedef struct {
    DtFindingRank rank;
    const char *kind; /* a static identifier for programs, from one table */
    int line, column; /* 1-based */
    char *text;       /* for people */
} DtFinding;

/* What a program would do on the machine of a profile. */
typedef struct {
    DtFinding *findings; /* ranked; lines in order within a rank */
    size_t n_findings;
    size_t omitted; /* findings beyond the 1000 that are kept of each kind */
    DtMoves moves;  /* what would be executed, if it is collected; `ink` is where the tip is
                     * according to the profile's corrections, `run` counts strokes from 0 */
    size_t lines, refused_lines, lifts;
    size_t deleted_lines; /* begin with a slash, and are not sent */
    size_t first_refused; /* line number; 0: none */
    double ink_mm, travel_mm;
    double time_s;       /* including homing, without pen changes */
    double home_s;       /* part of time_s: homing, as far as it is known */
    double dwell_s;      /* part of time_s: dwells */
    double held_up_s;    /* part of time_s: what the motors wait because lines, or blocks planned
                    * ahead, are missing */
    size_t starved;      /* stops with the pen down because the next line has not arrived yet */
    double off_paper_mm; /* ink beside the paper, the program's or else the profile's */
    DtStatedPaper paper;
    DtBox ink_box;      /* bed mm */
    char made_for[128]; /* "MACHINE, profile FILE" by the head of a program of ours, possibly cut
                          * off; "" if it has none */
    DtHead head;
} DtInspection;

/* Called for each move in turn. */
typedef void (*DtMoveListener)(const DtMove *m, size_t line, void *user);

typedef struct {
    gboolean collect; /* keep all moves in DtInspection.moves */
    gboolean
        tries_limits; /* feeds and waits beyond the profile's are intended, though no comment says so */
    DtMoveListener listener; /* may be NULL */
    void *user;
} DtJudgeOptions;

/* Reads and judges a whole program in constant memory (apart from the moves, if they are
 * collected). A line that the controller would refuse is judged by its meaning but moves
 * nothing. Only I/O failures and invalid words in the profile are errors; everything wrong with
 * the program is a finding. `o` may be NULL. */
gboolean dt_code_judge(const DtProfile *p, const char *path, const DtJudgeOptions *o,
                       DtInspection *out, GError **error);
gboolean dt_code_judge_text(const DtProfile *p, const char *text, gsize len,
                            const DtJudgeOptions *o, DtInspection *out, GError **error);

/* The same with the moves collected. */
gboolean dt_code_inspect(const DtProfile *p, const char *path, DtInspection *out, GError **error);
gboolean dt_code_inspect_text(const DtProfile *p, const char *text, gsize len, DtInspection *out,
                              GError **error);
void dt_inspection_clear(DtInspection *i);
/* The DtInspection.head of a program's text, without judging it. */
DtHead dt_code_head(const char *text);
/* Whether programs for this controller have a head: not if it accepts no comments. */
gboolean dt_code_has_heads(const DtProfile *p);
/* Whether a program with this in its head (DtInspection.made_for) is for the machine of the profile;
 * TRUE where either has no name. */
gboolean dt_code_is_made_for(const char *made_for, const DtProfile *p);
/* Whether it was made with a profile of this file name; TRUE where either says nothing of it. */
gboolean dt_code_is_made_with(const char *made_for, const DtProfile *p);

/* The times of moves (dt_machine_time()) as the program written from them takes them, so that
 * predictions before and after writing agree; the times of dt_machine_time() itself if the words
 * of this controller cannot express the moves. */
void dt_code_times(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out);
/* Fills into `t`, the times of the moves of an inspected program, the time that its own words
 * take. */
void dt_inspection_fit_times(const DtInspection *i, const DtMoves *m, DtTimes *t);

/* Explains one line of a program in words; `source` is not NUL-terminated. */
typedef void (*DtExplainFunc)(size_t line, const char *source, gsize len, const char *words,
                              void *user);
/* Calls `tell` with an explanation of every line, in order. Fails if dt_code_judge() would. */
gboolean dt_code_explain(const DtProfile *p, const char *path, DtExplainFunc tell, void *user,
                         GError **error);
gboolean dt_code_explain_text(const DtProfile *p, const char *text, gsize len, DtExplainFunc tell,
                              void *user, GError **error);

/* A change made by mending; `line` is a line of the input. */
typedef struct {
    int line;
    char *text;
} DtChange;

/* One possible meaning of a program's pen words. */
typedef struct {
    char *option; /* in the form that DtMendOptions.pen_by accepts */
    char *text;   /* for people */
    double score; /* score; a reading less than 1.5 points behind the best is equally likely */
    double ink_mm;
    size_t strokes; /* including dots */
} DtPenReading;

typedef struct {
    DtChange *changes;
    size_t n_changes;
    size_t omitted;  /* changes beyond the first 1000, which are not kept */
    size_t n_doubts; /* of the changes, the last ones: not changes but doubts that are left */
    DtPenReading *readings; /* the reading used, then those that draw other ink, likeliest first;
                             * none if the program was fit already or the pen's meaning was given */
    size_t n_readings;
    size_t in_doubt; /* how many of them are as likely as the first; 0 if one is clear */
} DtMending;

typedef struct {
    gboolean clip;         /* leave out what lies beyond the travel instead of failing */
    const char *pen_by;    /* what moves the pen in the program: "spindle:on", "s-above:60",
                         * "z-below:1", "line:M71 P1=down,M72 P1=up", "moves", "machine"; NULL:
                         * decided by evidence */
    const char *units;     /* "mm" or "in": the units of a program that does not state them; NULL:
                         * mm, and an error if its lengths look like inches */
    const char *leave_out; /* words outside RS-274 whose lines are left out, separated by commas:
                     * "G187,G900"; NULL: none */
} DtMendOptions;

/* Makes the program fit for the controller and machine of the profile: it draws the same ink
 * within 0.01 mm. The result is freed by the caller. A fit program is returned byte for byte, so
 * mending twice changes nothing more. Fails with DT_ERROR_INPUT and a line "file:line:column:
 * message" for each place whose meaning is unclear or cannot be drawn. If the meaning of the pen
 * words is in doubt it fails too, with the likely readings in `mending`. `o` may be NULL; clear
 * `mending` with dt_mending_clear() in any case. */
char *dt_code_mend(const DtProfile *p, const char *path, const DtMendOptions *o, gsize *len,
                   DtMending *mending, GError **error);
char *dt_code_mend_text(const DtProfile *p, const char *text, gsize len, const char *name,
                        const DtMendOptions *o, gsize *out_len, DtMending *mending, GError **error);
void dt_mending_clear(DtMending *m);
