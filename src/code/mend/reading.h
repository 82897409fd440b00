/* reading: one way in which a program from elsewhere may mean its pen. Private. */
#pragma once

#include "code/judge/pen.h"

enum { DT_LINE_KEY = 64 }; /* bytes, the NUL counted */

typedef enum {
    READ_MACHINE, /* by this machine's own pen lines */
    READ_SPINDLE, /* spindle on, off, or its direction */
    READ_SPEED,   /* S on one side of a threshold */
    READ_HEIGHT,  /* an axis on one side of a height */
    READ_LINE,    /* by two words of another controller */
    READ_LETTER,  /* moves with a letter that the standard does not have draw, others travel */
    READ_RISING,  /* the same for moves in which its value rises */
    READ_ABOVE_0, /* and for moves in which it is above 0 */
    READ_MOVES,   /* feed draws, rapids travel */
} DtReadingKind;

typedef struct {
    DtReadingKind kind;
    gboolean rapids_draw;     /* G0 draws while the pen is down; otherwise it always travels */
    gboolean down_is_high;    /* SPEED, HEIGHT */
    gboolean turns;           /* SPEED: the file starts its spindle, and spindle off means up */
    double threshold;         /* SPEED: S; HEIGHT: mm or degrees */
    int axis;                 /* HEIGHT: 2 is Z */
    char letter;              /* LETTER, RISING, ABOVE_0: 'A' to 'Z' */
    gboolean down_of_turn[3]; /* SPINDLE: M4, M5, M3 */
    char down[DT_LINE_KEY], up[DT_LINE_KEY]; /* LINE */
} DtReading;

/* The first word of the block that neither the standard nor this controller has; NULL if there
 * is none. */
const DtCodeWord *dt_reading_foreign_word(const DtVocabulary *v, const DtCodeBlock *b);
/* The words of a block that may control its pen by themselves, "M8" or "M71 P1", in normalised
 * spelling; FALSE if it has none. */
gboolean dt_reading_line_key(const DtCodeBlock *b, char key[DT_LINE_KEY]);
/* What a block says about the pen before its actions; PEN_UNKNOWN if nothing. */
DtPenState dt_reading_block(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b);
/* The same for an action. A move of READ_HEIGHT gives the state of the pen after it. */
DtPenState dt_reading_action(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b,
                             const DtAction *a);
/* Whether it goes by a letter that the standard does not have. */
gboolean dt_reading_goes_by_letter(const DtReading *r);
/* Whether the reading depends on heights of Z. */
gboolean dt_reading_goes_by_z(const DtReading *r, const DtPenRule *rule);
/* As accepted by --pen-by, and in words; freed by the caller. */
char *dt_reading_option(const DtReading *r);
char *dt_reading_words(const DtReading *r);
/* The reading that an option stands for, as dt_reading_option() writes it. FALSE with
 * DT_ERROR_USAGE. */
gboolean dt_reading_parse(const char *option, DtReading *out, GError **error);
