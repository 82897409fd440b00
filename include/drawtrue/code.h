/* code: what words does this controller understand? Writes moves as RS-274 text, reads RS-274 text
 * from anywhere, judges it and mends it. NISTIR 6556 (Kramer, Proctor and Messina 2000) is the
 * standard that the reader follows. */
#pragma once

#include "drawtrue/machine.h"

/* Program text of the moves in the words of the profile's dialect, freed by the caller. A comment
 * before each run names its stroke and pen, for people and for the resume:
 *     (stroke 12 pen black)
 * and the head of the program names the machine and the profile it was made for. Strokes are counted
 * from 1, and everything modal is repeated after such a comment, so that a run may begin there (with
 * the pen up, after G21 G90). Coordinates carry the digits that keep a quarter of a step, and no
 * more than the dialect's. A controller that takes no comments gets none; one without G4 is taken to
 * wait for its servo by itself. Fails with DT_ERROR_INPUT where the dialect lacks a word that the
 * job needs, or where a line would be longer than it takes (its check and N word included). */
char *dt_code_write(const DtProfile *p, const DtMoves *m, gsize *len, GError **error);
/* Whether a profile agrees with itself: its list of words holds only words, and among them are those of
 * its own lines for the pen, homing and the end. DT_ERROR_INPUT names both lines of the file. */
gboolean dt_code_check_profile(const DtProfile *p, GError **error);
/* Such a head for a mended program: by it, it is known as ours and for which machine it is. "" for a
 * controller without comments. Freed by the caller. */
char *dt_code_mended_head(const DtProfile *p, GError **error);

typedef struct {
    double arc_tolerance; /* mm; curves become arcs (G2, G3) of which no point is farther than this
                           * from the moves, where the dialect takes them with I and J. 0: none */
    gboolean
        tries_limits; /* a test goes beyond the profile's feeds and waits on purpose: the program
                            * says so in a comment, and the judge does not object to them */
} DtWriteOptions;

/* The same with options; `o` may be NULL. */
char *dt_code_write_as(const DtProfile *p, const DtMoves *m, const DtWriteOptions *o, gsize *len,
                       GError **error);

/* The S of the profile's line that drops the pen, and the range in which it can be varied. FALSE where that line has
 * none, or the pen is no servo on the spindle's words. */
gboolean dt_code_drop_word(const DtProfile *p, double *s, double *least, double *most);
/* Such a line with another S; freed by the caller. */
char *dt_code_drop_line(const char *line, double s);

/* Whether words must stand apart on this controller (gap:needed). */
gboolean dt_dialect_needs_gaps(const DtDialect *d);

/* CRC-16 of ITU-T V.41 (polynomial x^16+x^12+x^5+1, initial value 0, most significant bit first). */
uint16_t dt_code_crc16(const char *bytes, gsize n);
/* The line with its check as a comment, "G1 X2 (*1A2B)": the CRC is over the bytes before the '('
 * of the check. Freed by the caller. */
char *dt_code_add_check(const char *line, gsize len);

/* Whether the controller takes a word such as "G4", "M0" or "X", or by "(" a comment in round brackets;
 * what the P of its dwell counts, s. */
gboolean dt_code_takes(const DtProfile *p, const char *word);
double dt_code_dwell_unit_s(const DtProfile *p);

typedef enum {
    DT_FINDING_NO_INK, /* will not draw */
    DT_FINDING_HARM,   /* will harm the machine, the pen or the paper */
    DT_FINDING_WRONG,  /* will look wrong */
    DT_FINDING_WASTE,  /* takes longer than necessary */
} DtFindingRank;

typedef struct {
    DtFindingRank rank;
    const char *kind; /* a static word for programs, from one table */
    int line, column; /* 1-based */
    char *text;       /* for people */
} DtFinding;

/* What a program does on the machine of a profile. */
typedef struct {
    DtFinding *findings; /* ranked; lines in order within a rank */
    size_t n_findings;
    size_t omitted; /* findings beyond the 1000 that are kept of each kind */
    DtMoves moves;  /* what would be executed, where they are collected; `ink` is where the tip
                          * is by the profile's corrections, `run` counts strokes from 0 */
    size_t lines, refused_lines, lifts;
    size_t first_refused; /* line; 0 for none */
    double ink_mm, travel_mm;
    double time_s;  /* homing counted, pen changes not */
    double home_s;  /* of time_s: homing, as far as it can be known */
    double dwell_s; /* of time_s: dwells */
    double
        held_up_s; /* of time_s: more than the motors need, for want of lines or of blocks planned ahead */
    size_t
        starved; /* stops with the pen down because the next line has not come over the wire yet */
    double off_paper_mm; /* of the ink, where no paper of the profile lies */
    DtBox ink_box;       /* bed mm */
} DtInspection;

/* Called for each move as it is judged. */
typedef void (*DtMoveListener)(const DtMove *m, size_t line, void *user);

typedef struct {
    gboolean collect;        /* keep all moves in DtInspection.moves */
    DtMoveListener listener; /* may be NULL */
    void *user;
} DtJudgeOptions;

/* Reads and judges a whole program in constant memory (the moves apart, if they are collected). A
 * line that the controller would refuse is judged by what it means, but moves nothing. Only I/O
 * failures, and words in the profile that are none, are errors; everything wrong with the program is a
 * finding. `o` may be NULL. */
gboolean dt_code_judge(const DtProfile *p, const char *path, const DtJudgeOptions *o,
                       DtInspection *out, GError **error);
gboolean dt_code_judge_text(const DtProfile *p, const char *text, gsize len,
                            const DtJudgeOptions *o, DtInspection *out, GError **error);

/* The same with the moves collected. */
gboolean dt_code_inspect(const DtProfile *p, const char *path, DtInspection *out, GError **error);
gboolean dt_code_inspect_text(const DtProfile *p, const char *text, gsize len, DtInspection *out,
                              GError **error);
void dt_inspection_clear(DtInspection *i);

/* The times of moves (dt_machine_time()) as the program written of them takes them, so that what is
 * predicted before and after writing is the same; those of dt_machine_time() itself where this
 * controller's words do not make a program of them. */
void dt_code_times(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out);
/* Puts into `t`, the times of the moves of an inspected program, what its own words take. */
void dt_inspection_fit_times(const DtInspection *i, const DtMoves *m, DtTimes *t);

/* One line of a program in words; `source` is not NUL-terminated. */
typedef void (*DtExplainFunc)(size_t line, const char *source, gsize len, const char *words,
                              void *user);
/* Explains every line to `tell`, in order. Fails where dt_code_judge() would. */
gboolean dt_code_explain(const DtProfile *p, const char *path, DtExplainFunc tell, void *user,
                         GError **error);
gboolean dt_code_explain_text(const DtProfile *p, const char *text, gsize len, DtExplainFunc tell,
                              void *user, GError **error);

/* Something that mending changed; `line` is of the input. */
typedef struct {
    int line;
    char *text;
} DtChange;

/* One way in which a program may mean its pen. */
typedef struct {
    char *option; /* as DtMendOptions.pen_by takes it */
    char *text;   /* for people */
    double score; /* points; a reading less than 1.5 behind the best is as likely */
    double ink_mm;
    size_t strokes; /* dots counted */
} DtPenReading;

typedef struct {
    DtChange *changes;
    size_t n_changes;
    size_t omitted;         /* changes beyond the 1000 that are kept */
    DtPenReading *readings; /* the one taken, then those that draw other ink, the likeliest first;
                             * none where the program was fit or the pen was said */
    size_t n_readings;
    size_t in_doubt; /* how many of them are as likely as the first; 0 where one is clear */
} DtMending;

typedef struct {
    gboolean clip;      /* leave out what lies beyond the travel instead of failing */
    const char *pen_by; /* how the program means its pen: "spindle:on", "s-above:60", "z-below:1",
                         * "line:M71 P1=down,M72 P1=up", "moves", "machine"; NULL: by evidence */
    const char *units;  /* "mm" or "in": what a program that does not say so means; NULL: mm, and an
                         * error where its lengths look like inches */
    const char
        *leave_out; /* words that RS-274 does not have and whose lines are left out, separated by
                            * commas: "G187,G900"; NULL: none */
} DtMendOptions;

/* The program made fit for the controller and machine of the profile, drawing the same ink within
 * 0.01 mm; freed by the caller. A fit program comes back byte for byte, so mending twice changes
 * nothing more. Fails with DT_ERROR_INPUT and a line "file:line:column: message" for each place
 * where it cannot be told what is meant, or what is meant cannot be drawn. Where it is in doubt how
 * the program means its pen it fails so too, with the likely readings in `mending`. `o` may be NULL;
 * clear `mending` with dt_mending_clear() in any case. */
char *dt_code_mend(const DtProfile *p, const char *path, const DtMendOptions *o, gsize *len,
                   DtMending *mending, GError **error);
char *dt_code_mend_text(const DtProfile *p, const char *text, gsize len, const char *name,
                        const DtMendOptions *o, gsize *out_len, DtMending *mending, GError **error);
void dt_mending_clear(DtMending *m);
