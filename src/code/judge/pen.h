/* pen: whether the words of a program mean pen up or pen down. Private. */
#pragma once

#include "code/read/rs274.h"

typedef enum { LIFT_BY_SPINDLE, LIFT_BY_Z, LIFT_BY_OWN_WORD } DtLiftKind;
typedef enum { PEN_UNKNOWN, PEN_UP, PEN_DOWN } DtPenState;

/* The profile's two pen lines, interpreted. */
typedef struct {
    DtLiftKind kind;
    DtCodeBlock down, up;
    char *down_text, *up_text;   /* text that the blocks point into */
    int down_turn, up_turn;      /* LIFT_BY_SPINDLE */
    double down_speed, up_speed; /* S; -1 where the line has none */
    double down_z, up_z;         /* LIFT_BY_Z */
} DtPenRule;

void dt_pen_rule_init(DtPenRule *p, const DtDialect *d, const DtVocabulary *own);
void dt_pen_rule_clear(DtPenRule *p);

/* A line of the profile as a block, which points into *copy. */
void dt_pen_read_line(DtCodeBlock *b, const char *line, const DtVocabulary *own, char **copy);

enum { DT_PEN_NAME = 64 }; /* bytes including the NUL; longer names are truncated */

/* The name of the pen in the holder, from a comment "(pen red)" or "(stroke 7 pen red)"; FALSE
 * if the block has no such comment. */
gboolean dt_pen_comment(const DtCodeBlock *b, char name[DT_PEN_NAME]);

/* Beginning of the comment by which a test declares that it exceeds the profile's feeds and
 * waits. */
#define DT_TRIES_LIMITS "feeds and waits beyond the profile are meant"
gboolean dt_block_tries_limits(const DtCodeBlock *b);
/* What a person has to do at the following stop. */
#define DT_PAPER_SAID "paper " /* and its size, place and name */
#define DT_TURNS_PAPER "turn the paper a quarter turn counter-clockwise"
gboolean dt_block_turns_paper(const DtCodeBlock *b);

/* The state of the pen for this direction of the spindle, by these rules. */
DtPenState dt_pen_after_spindle(const DtPenRule *p, int turn, double speed);
/* The same for a Z height. */
DtPenState dt_pen_at_z(const DtPenRule *p, double z);
