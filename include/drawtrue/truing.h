/* truing: how large a machine's errors are, and whether a repair helped. Test sheets whose
 * strokes are commanded one by one, readings of them by eye or from scans, and the corrections
 * that follow, each with its standard uncertainty. */
#pragma once

#include "drawtrue/machine.h"
#include "drawtrue/sheet-log.h"
#include "drawtrue/work.h"

/* Sheets ------------------------------------------------------------------------------------- */

/* The parts of a sheet. A sheet may have several. */
typedef enum {
    DT_SHEET_SCAN = 1 << 0,  /* rows of marks measured by a scan: everything that position shows */
    DT_SHEET_SLACK = 1 << 1, /* vernier combs, approached from both sides, along both axes */
    DT_SHEET_SCALE = 1 << 2, /* marks along each axis and a gauge line for a rule */
    DT_SHEET_SQUARE =
        1 << 3, /* one figure drawn twice, the paper turned by 90 degrees in between */
    DT_SHEET_SETTLE =
        1 << 4, /* dashes with shorter and shorter lift and drop times, and from other heights */
    DT_SHEET_SPEED = 1 << 5, /* out and back faster and faster, beside an undisturbed line */
    DT_SHEET_PENS = 1 << 6,  /* each pen's mark against the first pen's, tip widths, tone steps */
} DtSheetKind;

typedef enum {
    DT_MARK_POSITION, /* measured by a scan: position of the carriage along `axis` */
    DT_MARK_GAUGE,    /* a long line between two ticks, for a rule and for straightness */
    DT_MARK_FINDER,   /* by which a scan finds the sheet, its rotation and whether it is mirrored */
    DT_MARK_COMB,     /* main scale of a vernier */
    DT_MARK_VERNIER,  /* the scale that is read against the main one */
    DT_MARK_DASH,     /* settle test, tip widths */
    DT_MARK_LETTER,   /* a stroke of a number, a letter or an arrow; never measured */
    DT_MARK_HOME,     /* no stroke: the machine homes again, after going gently to `from` */
    DT_MARK_PAUSE,    /* no stroke: the machine stops until a person continues it */
    DT_MARK_RUN,   /* no stroke: pen up from `from` to `to`, with a ramp of its own at either end */
    DT_MARK_TONE,  /* a line of a hatched step of a pen's tone scale; `row`: the pen; `place`: the
                   * step, 0: the reference */
    DT_MARK_SWING, /* part of a stroke in steps: `axis` starts or stops at its beginning, the
                    * other continues; `row`: the stroke; `place`: 0 and after the last step:
                    * run-up and run-out */
    DT_MARK_KINDS,
} DtMarkKind;

/* One stroke as the axes are commanded to draw it: without any correction of the profile, so
 * that the ink shows the bare machine. */
typedef struct {
    DtMarkKind kind;
    DtSheetKind part; /* the part of the sheet it belongs to */
    int axis;         /* 0: it shows the position along X; 1: along Y; -1: neither */
    DtPoint from, to; /* commanded mm; drawn from `from` to `to` */
    int approach
        [2]; /* the direction in which each axis was last driven before the pen came down, by
              * more than its slack: +1, -1; 0: left as it was */
    gboolean
        needs_no_reversal; /* the mark before leaves the axis driven in the approach direction */
    int row, place;        /* which row or comb, and its number in it */
    uint16_t pen;
    double feed_mm_s;      /* 0: the profile's usual pace */
    double lift_s, drop_s; /* dwells after lifting and lowering the pen instead of the profile's;
                            * 0: the profile's; < 0: none */
    double acceleration_mm_s2,
        start_mm_s;   /* for a run: its ramps, and its change of speed at a reversal without a
                     * ramp; its top speed is feed_mm_s */
    double drop_word; /* S of the line that lowers the pen; 0: the profile's */
} DtMark;

typedef struct {
    guint kinds;          /* of DtSheetKind */
    gint64 number;        /* in the journal of this machine; 0: not yet numbered */
    char *machine, *date; /* date: ISO 8601, YYYY-MM-DD */
    DtPoint paper_at;     /* lower left corner of the paper on the bed, commanded mm */
    double paper_w, paper_h;
    double overrun; /* mm by which an axis goes back before it approaches a mark: more than its
                  * slack */
    DtMark *marks;  /* in the order in which they are drawn */
    size_t n, cap;
} DtTestSheet;

/* A sheet without marks on the profile's paper, and the same with all parts of `kinds`. */
DtTestSheet *dt_sheet_new_blank(const DtProfile *p, guint kinds, const char *date, gint64 number);
DtTestSheet *dt_sheet_new(const DtProfile *p, guint kinds, const char *date, gint64 number,
                          GError **error);
void dt_sheet_free(DtTestSheet *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtTestSheet, dt_sheet_free)
/* A mark with default values: of the first pen, with the profile's pace and dwells, without an
 * approach. */
DtMark dt_sheet_mark(DtMarkKind kind, DtSheetKind part, int axis, DtPoint from, DtPoint to);
void dt_sheet_add(DtTestSheet *s, const DtMark *m);
/* Whether it is drawn at all. */
gboolean dt_mark_is_stroke(const DtMark *m);

/* The moves that draw the sheet: homing, each mark approached as it says, nothing corrected. An
 * axis with an approach goes pen up to the mark, back by the overrun, and to the mark again, so
 * that each mark has a reversal of its own. A mark without an approach that begins where the
 * previous one of the same pen and part ends is drawn without lifting the pen. Fails with
 * DT_ERROR_INPUT if a move would leave the travel. */
gboolean dt_sheet_moves(const DtTestSheet *s, const DtProfile *p, DtMoves *out, GError **error);
/* The program of these moves in the words of the profile's controller; freed by the caller. */
char *dt_sheet_write(const DtTestSheet *s, const DtProfile *p, gsize *len, GError **error);

/* Appends the lines of the marks of one pen as they are on the paper in its first position,
 * commanded mm on the bed: what is drawn after the paper was turned is rotated back. */
void dt_sheet_lines(const DtTestSheet *s, uint16_t pen, DtLines *out);
/* The whole sheet as a picture; errors as for dt_proof_write(). */
gboolean dt_sheet_picture(const DtTestSheet *s, const DtProfile *p, const char *path, int width_px,
                          GError **error);

/* Parts by name: "slack"; 0 if there is none of this name. "all": the parts of a sheet that is
 * read by eye. */
guint dt_sheet_kinds(const char *name);
/* The name of a part, static. */
const char *dt_sheet_kind_name(DtSheetKind kind);
const char *dt_sheet_kind_help(DtSheetKind kind);

/* The sheet as JSON, as stored in the journal, and back. */
char *dt_sheet_to_json(const DtTestSheet *s);
DtTestSheet *dt_sheet_from_json(const char *text, GError **error);

/* Adds the marks of the part measured by a scan, in drawing order. */
gboolean dt_sheet_add_scan_part(DtTestSheet *s, const DtProfile *p, GError **error);

/* Measurements ------------------------------------------------------------------------------- */

/* The coverage of a tone step if its lines are `tip` mm wide, from their commanded places; 0 if
 * the sheet has no such step. For evenly spaced lines, or even bars. */
double dt_sheet_tone_share(const DtTestSheet *s, int pen, int place, double tip);

/* A mark as seen in a scan. */
typedef struct {
    size_t mark; /* index into the sheet */
    DtPoint at;  /* middle of its centre line, mm of the scan by its nominal resolution, y down */
    DtPoint normal; /* unit vector across the line, the direction in which `at` is accurate */
    double sd;      /* standard uncertainty of `at` along `normal`, mm */
    double width;   /* of the line, mm */
} DtSeen;

/* A step of a pen's tone scale as seen in a scan. */
typedef struct {
    int pen, place;
    double light,
        sd; /* mean reflectance relative to that of the paper beside it; its standard uncertainty */
} DtSeenTone;

/* A point of a stroke in steps as seen in a scan, commanded mm. */
typedef struct {
    int axis, row; /* of its mark */
    double along;  /* where along the stroke it was measured */
    double across; /* the centre of the ink along `axis` */
} DtSwingSeen;

typedef struct {
    char *path;
    double dpi;
    DtAffine rough;      /* from commanded mm on the bed to mm of the scan: the position of the
                          * sheet */
    int turn;            /* quarter turns of the sheet on the glass, counter-clockwise: 0 to 3 */
    gboolean photograph; /* not flat enough for scale and squareness */
    char *notes;         /* lines on doubts; NULL: none */
    DtSeen *seen;
    size_t n;
    DtPoint *strays; /* commanded mm, about: lines that were left out, since they are not like the
                      * others or lie far from where their neighbours have them */
    size_t n_strays;
    DtSeenTone *tones;
    size_t n_tones;
    DtSwingSeen *swings;
    size_t n_swings;
    gboolean has_card;      /* a card of the size ID-1 was measured in it: */
    double card_mm[2];      /* its length and width, mm of the scan by its nominal resolution, */
    DtPoint card_normal[2]; /* the unit vectors of their directions */
    double card_sd[2];      /* and the standard uncertainty of each, mm */
} DtScan;

/* Finds the sheet in a picture (PNG, JPEG, TIFF) at any rotation and measures its marks.
 * DT_ERROR_INPUT with the path and the reason if it is not a scan of this sheet. */
DtScan *dt_scan_read(const char *path, const DtTestSheet *s, DtWork *w, GError **error);
/* Finds a card of the size ID-1 (ISO/IEC 7810) that lies on the glass beside the drawing,
 * anywhere and at any rotation, and measures it: an absolute length. DT_ERROR_INPUT with the
 * path and the reason if there is none. */
gboolean dt_scan_measure_card(DtScan *s, const DtTestSheet *sheet, GError **error);
void dt_scan_free(DtScan *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtScan, dt_scan_free)

/* The kinds of questions about a sheet that is read by eye. */
typedef enum {
    DT_ASK_VERNIER, /* which number of the vernier lines up with its counterpart */
    DT_ASK_RULE,    /* a length, mm, by a rule; asked three times */
    DT_ASK_EDGE,    /* how far a line is from a straight edge, mm, upwards or to the right */
    DT_ASK_LADDER,  /* the first number of a row for which what `question` says is true */
    DT_ASK_TONE,    /* the number of the step that is as dark as the bars beside it */
} DtAskKind;

typedef struct {
    DtAskKind kind;
    DtSheetKind part;
    int row; /* as in its marks */
    int axis;
    char name[8];       /* as printed on the sheet, such as "X1" */
    double least, most; /* possible answers */
    double sd;          /* standard uncertainty of a plain answer, in its unit */
    size_t times;       /* how many answers are wanted */
    DtBox view;         /* area of its picture, commanded mm on the bed with the paper in its
                         * first position */
} DtAsk;

enum { DT_EYE_TIMES = 3 }; /* most answers to one question */

/* All questions about the sheet, slack first, in the recommended order; g_free. */
DtAsk *dt_eye_asks(const DtTestSheet *s, size_t *n);
/* The question in a sentence or two, freed by the caller. */
char *dt_eye_question(const DtAsk *a);
/* The meaning of one answer. */
typedef struct {
    double value,
        sd;    /* sd: half the range over the square root of 3, at least the question's own */
    int shift; /* for a vernier: ticks of the main comb beyond the one of the same rank */
} DtEyeReading;

/* "6", "6.5", "between 6 and 7" or "6 to 7"; for a vernier also "6 at 7", if it lines up with
 * tick 7 of the main comb. FALSE with DT_ERROR_INPUT if it is not a number or out of range. */
gboolean dt_eye_answer(const DtAsk *a, const char *text, DtEyeReading *out, GError **error);
/* A numbered tick or dash that can be the answer to a question, commanded mm on the bed with the
 * paper in its first position. */
typedef struct {
    int place;
    DtPoint from, to;
} DtEyeChoice;
/* Those of the question's row, in drawing order, several with one number if it has several
 * strokes; none for a length. g_free. */
DtEyeChoice *dt_eye_choices(const DtTestSheet *s, const DtAsk *a, size_t *n);
/* A magnified picture of exactly what is asked; errors as for dt_proof_write(). */
gboolean dt_eye_picture(const DtTestSheet *s, const DtProfile *p, const DtAsk *a, const char *path,
                        int width_px, GError **error);

/* Answers to one question. */
typedef struct {
    char *text[DT_EYE_TIMES]; /* as given; NULL: not answered */
    double value, sd;         /* mean of them */
    int shift;                /* of the first */
    size_t n;
} DtEyeAnswer;

/* The readings of a sheet: an answer for each question of dt_eye_asks(), in its order. */
typedef struct {
    DtAsk *asks;
    DtEyeAnswer *answers;
    size_t n;
} DtEyeReadings;

DtEyeReadings *dt_eye_readings_new(const DtTestSheet *s);
void dt_eye_readings_free(DtEyeReadings *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtEyeReadings, dt_eye_readings_free)
/* Sets one answer, replacing an earlier one; `i` counts the answers to a question that is asked
 * several times. `text` "?" or NULL: unknown. */
gboolean dt_eye_readings_set(DtEyeReadings *r, size_t ask, size_t i, const char *text,
                             GError **error);
/* "X1=6" or "LX=160.4,160.5,160.4". DT_ERROR_USAGE if the sheet has no such question. */
gboolean dt_eye_readings_take(DtEyeReadings *r, const char *argument, GError **error);
size_t dt_eye_readings_count(const DtEyeReadings *r);
/* Adds the rule readings of the gauge line of each axis, mm, to the first `n` of `rule`. */
void dt_eye_readings_rule(const DtEyeReadings *r, double rule[2][DT_EYE_TIMES], size_t n[2]);
/* As stored in the journal, and back; what does not belong to this sheet is left out. */
char *dt_eye_readings_to_json(const DtEyeReadings *r);
gboolean dt_eye_readings_from_json(DtEyeReadings *r, const char *text, GError **error);

/* Everything known about one sheet. */
typedef struct {
    const DtTestSheet *sheet;
    const DtScan *const *scans;
    size_t n_scans;
    const double *rule_mm[2]; /* rule readings of the gauge line of each axis, mm */
    size_t n_rule[2];
} DtEvidence;

/* Results ------------------------------------------------------------------------------------ */

typedef enum {
    DT_ERROR_OF_SCALE,
    DT_ERROR_OF_SQUARE,
    DT_ERROR_OF_BACKLASH, /* reversal value, ISO 230-2 */
    DT_ERROR_OF_POSITION, /* mean bidirectional deviation, beyond scale */
    DT_ERROR_OF_STRAIGHT,
    DT_ERROR_OF_PULLEY,  /* amplitude; phase in value_2 */
    DT_ERROR_OF_GEAR,    /* amplitude, 0 where none stands out; period in value_2 */
    DT_ERROR_OF_TWIST,   /* shift of the axis when the other axis reverses */
    DT_ERROR_OF_SCATTER, /* repeatability: standard deviation of the lost motion */
    DT_ERROR_OF_PEN_X,   /* position of a pen relative to the first */
    DT_ERROR_OF_PEN_Y,
    DT_ERROR_OF_LIFT_TIME,
    DT_ERROR_OF_DROP_TIME,
    DT_ERROR_OF_SPEED,
    DT_ERROR_OF_ACCELERATION,
    DT_ERROR_OF_PULL_IN,
    DT_ERROR_OF_RINGING, /* oscillation after a stop at the pull-in rate, mm, 0 if none is
                          * significant; value_2: Hz */
    DT_ERROR_OF_TIP_PLAY,
    DT_ERROR_OF_TIP_WIDTH,
    DT_ERROR_OF_MEAN_REVERSAL, /* mean reversal value of an axis over its places; only for
                                * comparison */
    DT_ERROR_OF_DOT_GAIN,      /* n of Yule and Nielsen for a pen's hatches */
    DT_ERROR_OF_DROP_WORD,     /* S of the line that lowers the pen */
} DtErrorKind;

/* One measured property of the machine. */
typedef struct {
    DtErrorKind kind;
    int axis;         /* 0: X, 1: Y; -1: of both */
    int pen;          /* -1: of no pen */
    double at;        /* position along the axis by its scale alone, mm, as in the profile's tables;
                * NAN: everywhere */
    gboolean known;   /* FALSE: this evidence cannot determine it; `value` and `sd` are
                       * meaningless */
    double value, sd; /* in the unit of the profile's key; standard uncertainty (GUM) */
    double sd_shared; /* the part of `sd` that other sheets may share: bias by smoothing */
    double value_2,
        sd_2; /* for a pulley's error its phase, radians; for a gear's its period, mm; for what
               * was read by eye sd_2 is that of the reading alone, without hidden effects; 0:
               * the same */
    double gain_mm; /* 95 % of the ink errors due to it alone are smaller; the gain from correcting
                  * it if nothing else remains */
    gboolean proposed; /* it is significant, and correcting it gains: for a figure or a curve as a
                   * whole, noise alone would give such a value, or such a difference d from what
                   * the profile has, in 1 of 100 cases (chi-squared test of d' covariance^-1 d) */
    gboolean outdated; /* it would be proposed, but the profile has it from a newer sheet */
} DtFigure;

typedef struct {
    DtFigure *f;
    size_t n, cap;
    double ink_before_mm, ink_after_mm; /* expected 95 % error of ink on this sheet, without
                                         * scale, squareness and curves that are unknown */
    char *notes; /* lines on what this evidence cannot determine, and what would */
} DtFigures;

/* The results of readings by eye, in the order in which they are independent: slack, scale, then
 * square corrected for the scales. DT_ERROR_INPUT if they contradict each other. */
DtFigures *dt_eye_solve(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        GError **error);

/* Solves for all errors at once. DT_ERROR_INPUT if the evidence contradicts itself. */
DtFigures *dt_truing_solve(const DtProfile *p, const DtEvidence *e, DtWork *w, GError **error);
/* Whether a scale or squareness is unknown, and so not counted in the expected error of ink. */
gboolean dt_figures_lack_shape(const DtFigures *f);
void dt_figures_free(DtFigures *f);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtFigures, dt_figures_free)

/* Combines figures with those of an earlier sheet of the same machine, kind by kind if they
 * agree: weighted means. Returns how many figures and curves were combined. */
guint dt_figures_pool(DtFigures *f, const DtFigures *older);
/* The same with every earlier sheet of the machine that was read since its drive train was
 * changed; a note says which. What the profile has from a later one is no longer proposed, and
 * outdated. `sheet` is the number of the sheet of `f`. FALSE if the journal cannot be read. */
gboolean dt_truing_pool(const char *journal, const DtProfile *p, gint64 sheet, DtFigures *f,
                        GError **error);
/* Whether any of them is. */
gboolean dt_figures_are_outdated(const DtFigures *f);

/* The proposed findings as values for the profile, with remarks "sheet N, DATE"; freed by the caller
 * with dt_truing_free_changes(). */
DtProfileChange *dt_truing_changes(const DtProfile *p, const DtTestSheet *s, const DtFigures *f,
                                   size_t *n);
void dt_truing_free_changes(DtProfileChange *c, size_t n);

/* Writes the changes to the profile at `path`, and stores its previous text in the journal.
 * Nothing is written if either fails or the profile would not be valid. */
gboolean dt_truing_write(const char *journal, const char *machine, const char *path, gint64 sheet,
                         const DtProfileChange *c, size_t n, GError **error);
/* Undoes the last of such changes to this profile; *sheet receives the number of their sheet.
 * DT_ERROR_INPUT if there is none, or if the profile was changed since then. */
gboolean dt_truing_undo(const char *journal, const char *path, gint64 *sheet, GError **error);

/* The share of a measured limit that the profile gets: supplies get warm, and whether an
 * oscillating motor keeps its steps is partly chance. 1 for anything else. */
double dt_truing_limit_share(DtErrorKind kind);

/* SHA-256 of what must not change between a sheet and its readings: travel, steps and drive
 * train. Freed by the caller. */
char *dt_truing_drive_sum(const DtProfile *p);
/* Enters a sheet in the journal (NULL: the default one), then writes its program to `path`: a
 * program whose sheet is not in the journal could not be read, while a sheet without a program
 * does no harm. */
gboolean dt_truing_keep_sheet(const char *journal, const DtProfile *p, const DtTestSheet *s,
                              const char *program, gsize len, const char *path, GError **error);
/* Whether the sheet describes the machine as it is in `p`: FALSE with DT_ERROR_INPUT if its run
 * was broken off, or the drive train was changed since then. */
gboolean dt_truing_check_record(const DtSheetRecord *r, const DtProfile *p, GError **error);

/* History ------------------------------------------------------------------------------------- */

/* "reversal value" (ISO 230-2), for people; "backlash", for programs. Static. */
const char *dt_error_title(DtErrorKind kind);
const char *dt_error_word(DtErrorKind kind);
/* The unit of its values for people, and the factor for converting to it. */
const char *dt_error_unit(DtErrorKind kind, double *factor);

char *dt_figures_to_json(const DtFigures *f);
DtFigures *dt_figures_from_json(const char *text, GError **error);

/* Deviations of one place along an axis over several approaches, mm: mean and standard
 * deviation, moving away from home (up) and back (down). */
typedef struct {
    double at, up, down, s_up, s_down;
} DtAxisPlace;

/* Figures of one axis by ISO 230-2. */
typedef struct {
    double reversal;           /* B: the largest |B_i|, B_i = up - down */
    double mean_reversal;      /* mean of the B_i */
    double mean_bidirectional; /* M: range of the means of up and down */
    double repeatability;      /* R: largest of max(2 s_up + 2 s_down + |B_i|, 4 s_up, 4 s_down) */
    double systematic;         /* E: range of all up and down */
    double accuracy; /* A: from the least of up - 2 s_up and down - 2 s_down to the largest of +
                      * 2 s */
} DtAxisFigures;

void dt_truing_iso_230_2(const DtAxisPlace *p, size_t n, DtAxisFigures *out);
/* The places of an axis covered by the figures of a sheet, relative to its scale; g_free. NULL
 * if there are none. */
DtAxisPlace *dt_truing_places(const DtFigures *f, int axis, size_t *n);

typedef enum { DT_VERDICT_SAME, DT_VERDICT_BETTER, DT_VERDICT_WORSE, DT_VERDICT_UNKNOWN } DtVerdict;

/* One figure of two sheets. */
typedef struct {
    DtErrorKind kind;
    int axis, pen;
    double a, a_sd, b, b_sd;
    DtVerdict verdict; /* SAME: no difference that this measurement can detect, two-sided, 5 % */
} DtComparison;

/* A sheet that was read, from the journal. */
typedef struct {
    DtSheetRecord record;
    DtTestSheet *sheet;
    DtFigures *figures;
} DtReadSheet;

void dt_read_sheet_clear(DtReadSheet *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtReadSheet, dt_read_sheet_clear)

/* DT_ERROR_INPUT if there is no such sheet, or it has not been read. `out` must be zeroed, and
 * is cleared by the caller after an error too. */
gboolean dt_truing_read_sheet(const char *journal, const char *machine, gint64 number,
                              DtReadSheet *out, GError **error);

/* Every figure known from either sheet; tables by their mean over the axis. g_free. */
DtComparison *dt_truing_compare(const DtFigures *a, const DtFigures *b, size_t *n);
/* Two sheets and what they showed. */
typedef struct {
    const DtTestSheet *sheet[2];
    const DtFigures *figures[2];
} DtCompared;

/* The slack verniers as read from each sheet, side by side, magnified; and reversal value and
 * mean bidirectional deviation of each axis over the position along it, with their 95 %
 * intervals. DT_ERROR_INPUT if the sheets show none of these, as sheets of pens or limits do. */
gboolean dt_truing_compare_picture(const DtCompared *c, const DtProfile *p, const char *path,
                                   int width_px, GError **error);

/* Causes -------------------------------------------------------------------------------------- */

/* What may be worn, loose or badly adjusted. */
typedef enum {
    DT_PART_GEAR_OR_TENSION, /* slack, the same everywhere */
    DT_PART_RAILS_APART,     /* slack that grows towards one end */
    DT_PART_PULLEY,
    DT_PART_GEAR_TEETH,
    DT_PART_CARRIAGE,
    DT_PART_FRICTION,
    DT_PART_TORQUE,
    DT_PART_SOFT_CORD,
    DT_PART_HOLDER,
    DT_PART_RAIL_BENT,
    DT_PART_CORD_UNEVEN,
    DT_PART_FRAME,
    DT_PART_DRIVE_NUMBERS,
    DT_PARTS,
} DtPart;

/* "pulley", for programs; symptom and part, for people; the remedy. Static. */
const char *dt_part_word(DtPart part);
const char *dt_part_title(DtPart part);
const char *dt_part_repair(DtPart part);
/* Whether the program corrects its effect on the ink, so that a repair is not necessary. */
gboolean dt_part_is_corrected(DtPart part);

typedef struct {
    DtPart part;
    int axis;           /* -1: of both */
    double ink_mm;      /* 95 % of the ink errors due to it are smaller */
    double sd_mm;       /* standard uncertainty of that, roughly */
    gboolean corrected; /* see dt_part_is_corrected() */
} DtSuspect;

/* The likely causes of what was measured, the largest ink errors first; g_free. Lost steps come
 * before everything else. Friction and gear teeth are left out up to one step of the motor, as which the rounding of
 * positions to whole steps shows. */
DtSuspect *dt_truing_diagnose(const DtProfile *p, const DtFigures *f, size_t *n);

/* How true will it be? ------------------------------------------------------------------------ */

typedef struct {
    double p95_mm;     /* 95 % of the ink is nearer to its line */
    double largest_mm; /* the largest error that one piece of some millimetres is likely to have */
    DtPoint worst_at;  /* where the ink is least accurate, bed mm */
} DtExpectation;

/* The expected ink error of these moves on a machine that was corrected by these figures: from
 * their uncertainties, scatter, the motors' steps, and the planned deviation from the lines of
 * `q`, from which the moves were made; NULL: without the latter. Tip play, ringing and lost
 * steps are not included. FALSE if the moves draw nothing. */
gboolean dt_truing_expect(const DtProfile *p, const DtFigures *f, const DtSequence *q,
                          const DtMoves *m, DtExpectation *out);

/* What the sheets of a machine have shown, from the journal, compared with its profile. */
typedef struct {
    gint64 sheet;       /* number of the newest sheet used; 0: the machine has not been measured */
    char *date;         /* of that sheet, YYYY-MM-DD */
    DtFigures *figures; /* for each kind and axis the newest result, without pens. `sd` includes the
                  * difference from the profile, if that is significant */
    GPtrArray *unknown; /* char *: errors that matter and that no sheet has measured */
    GPtrArray *different; /* char *: values of the profile that differ from the sheets */
} DtMeasured;

/* Sheets from before a change of the drive train do not count. `journal` NULL: at the default
 * place. NULL with an error if the journal cannot be read. */
DtMeasured *dt_truing_measured(const char *journal, const DtProfile *p, GError **error);
void dt_measured_free(DtMeasured *m);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtMeasured, dt_measured_free)
