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
    READ_MOVES,   /* feed draws, rapids travel */
} DtReadingKind;

typedef struct {
    DtReadingKind kind;
    gboolean rapids_draw;     /* G0 draws where the pen is down; otherwise it always travels */
    gboolean down_is_high;    /* SPEED, HEIGHT */
    gboolean turns;           /* SPEED: the file turns its spindle, and off is up */
    double threshold;         /* SPEED: S; HEIGHT: mm or degrees */
    int axis;                 /* HEIGHT: 2 is Z */
    gboolean down_of_turn[3]; /* SPINDLE: M4, M5, M3 */
    char down[DT_LINE_KEY], up[DT_LINE_KEY]; /* LINE */
} DtReading;

/* The first word of the block that neither the standard nor this controller has; NULL for none. */
const DtCodeWord *dt_reading_foreign_word(const DtVocabulary *v, const DtCodeBlock *b);
/* The words of a block that may tell its pen by themselves, "M8" or "M71 P1", in one spelling; FALSE
 * where it has none. */
gboolean dt_reading_line_key(const DtCodeBlock *b, char key[DT_LINE_KEY]);
/* What a block says of the pen before its actions; PEN_UNKNOWN where it says nothing. */
DtPenState dt_reading_block(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b);
/* The same of an action. A move of READ_HEIGHT says where the pen is after it. */
DtPenState dt_reading_action(const DtReading *r, const DtPenRule *rule, const DtCodeBlock *b,
                             const DtAction *a);
/* Whether heights of Z are what it goes by. */
gboolean dt_reading_goes_by_z(const DtReading *r, const DtPenRule *rule);
/* As --pen-by takes it, and in words; freed by the caller. */
char *dt_reading_option(const DtReading *r);
char *dt_reading_words(const DtReading *r);
/* The reading that an option means, as dt_reading_option() writes it. FALSE with DT_ERROR_USAGE. */
gboolean dt_reading_parse(const char *option, DtReading *out, GError **error);
