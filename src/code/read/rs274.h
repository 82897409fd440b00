/* rs274: the reader after NISTIR 6556, in four parts that each know one thing:
 *
 *     words.c    what the letters, G codes and M codes are: one table each
 *     block.c    a line of text as a block of words with their values
 *     reader.c   blocks to canonical actions, in the published order of execution; arcs in
 *                reader-arc.c
 *     cycles.c   the canned cycles as plain moves
 *
 * The listener above them (judge.c, mend.c, explain.c) never sees text. Positions are absolute
 * machine coordinates in mm (rotary axes in degrees). Private to the room. */
#pragma once

#include "code/dialect.h"
#include "code/read/lines.h"

#define LETTER(c) (1u << ((c) - 'A'))
#define AXIS_LETTERS                                                                               \
    (LETTER('X') | LETTER('Y') | LETTER('Z') | LETTER('A') | LETTER('B') | LETTER('C'))

/* Modal groups (NISTIR 6556 table 4), G groups and M groups numbered as published; group 0 is the
 * non-modal G codes. */
enum {
    G_NON_MODAL = 0,
    G_MOTION = 1,
    G_PLANE = 2,
    G_DISTANCE = 3,
    G_FEED_MODE = 5,
    G_UNITS = 6,
    G_RADIUS = 7,
    G_LENGTH = 8,
    G_RETRACT = 10,
    G_SYSTEM = 12,
    G_PATH = 13,
    M_STOP = 4,
    M_TOOL = 6,
    M_SPINDLE = 7,
    M_COOLANT = 8,
    M_OVERRIDE = 9,
    MODAL_GROUPS = 16,
};

typedef struct {
    uint8_t known;
    uint8_t group;
    uint8_t axes;     /* a non-modal code that uses the axis words itself */
    const char *says; /* description; NULL if unknown */
} DtCodeRule;

enum { G_TENTHS = 1000, M_NUMBERS = 100 };
extern const DtCodeRule dt_g_codes[G_TENTHS]; /* by tenths: G38.2 is 382 */
extern const DtCodeRule dt_m_codes[M_NUMBERS];
extern const char *const dt_letters[26]; /* meaning of a letter; NULL if RS-274 has none */

enum { MOST_WORDS = 64, MOST_SETTINGS = 50, MOST_M = 4, DEEPEST_BRACKETS = 64 };
enum { PARAMETERS = 5400, FAULT_TEXT = 400 };

typedef struct {
    char letter;
    int column; /* 1-based */
    double value;
} DtCodeWord;

/* One line of a program. Columns count from 1; the words of one letter other than G and M are also
 * at value[letter - 'A']. */
typedef struct {
    uint32_t has; /* letters other than G and M, as LETTER() */
    uint32_t
        rises; /* of them, those that the standard does not have, with a value above the one before */
    uint32_t g_groups; /* bit = modal group that a code is in; code in g[group] */
    uint32_t m_groups;
    double value[26];
    double
        before[26]; /* of letters that the standard does not have: the value before, 0 for none */
    short g[MODAL_GROUPS], m[MODAL_GROUPS];                              /* tenths; numbers */
    uint8_t g_word[MODAL_GROUPS], m_word[MODAL_GROUPS], letter_word[26]; /* index into words */
    DtCodeWord words[MOST_WORDS];
    int n_words, n_m;
    struct {
        int index, column;
        double value;
    } setting[MOST_SETTINGS];
    int n_settings;
    const char *comment; /* text of the last one; NULL if there is none */
    size_t comment_len;
    int comment_column;
    int round_column, semicolon_column; /* of the last comment of each form; 0 for none */
    gboolean semicolon;                 /* it is a ';' comment */
    gboolean message;                   /* it begins with MSG, */
    gboolean deleted;                   /* begins with '/' */
    gboolean percent;                   /* a '%' alone */
    gboolean closes;                    /* the second '%' of a text that begins with one: its end */
    gboolean computed;                  /* some value came from a parameter or an expression */
    gboolean plain_gap;                 /* blanks separate all words */
    gboolean own_code;                  /* contains a code that only this controller has */
    int faults;                         /* number of faults reported for this line */
    const char *text;
    size_t len;  /* without the line end */
    size_t line; /* 1-based */
} DtCodeBlock;

/* Whether the block has the letter, one that the standard does not have, with a value above the one before. */
static inline gboolean block_rises(const DtCodeBlock *b, char letter)
{
    return (b->has & LETTER(letter)) != 0 && b->value[letter - 'A'] > b->before[letter - 'A'];
}

static inline double block_value(const DtCodeBlock *b, char letter)
{
    return b->value[letter - 'A'];
}
static inline int block_column(const DtCodeBlock *b, char letter)
{
    return b->words[b->letter_word[letter - 'A']].column;
}

typedef struct {
    double value[PARAMETERS];
    uint8_t set[PARAMETERS];
} DtParameters;

/* Everything that can be wrong with a line by the standard alone. */
typedef enum {
    FAULT_BYTE,   /* a byte that no program may contain */
    FAULT_LETTER, /* a letter that does not start a word */
    FAULT_NUMBER,
    FAULT_EXPRESSION,
    FAULT_PARAMETER, /* index out of range */
    FAULT_UNSET,     /* used before it was set */
    FAULT_COMMENT,   /* not closed, nested */
    FAULT_TWICE,     /* a letter, or two codes of one modal group */
    FAULT_CODE,      /* a G or M code that the standard does not have */
    FAULT_COMBINATION,
    FAULT_FEED, /* missing or zero */
    FAULT_ARC,
    FAULT_ARC_ENDS, /* its ends do not meet the radius */
    FAULT_VALUE,    /* negative or out of range */
    FAULT_LINE_LONG,
} DtFaultKind;

typedef void (*DtFaultFunc)(void *user, DtFaultKind kind, int column, const char *text);

/* Reads one line. text[len] must be the line end, "\n" or "\r\n". Faults are reported as they
 * are found; a faulty word is left out and the rest of the line is read. Codes and letters that
 * only `own` has are words too; it may be NULL. */
void dt_block_read(DtCodeBlock *b, const char *text, size_t len, const DtParameters *parameters,
                   const DtVocabulary *own, DtFaultFunc fault, void *user);
/* Whether every word of the pattern is in the block with the same value. A pattern without words
 * never matches. */
gboolean dt_block_matches(const DtCodeBlock *b, const DtCodeBlock *pattern);
/* Reports a fault of this block, printf style. */
void dt_block_fault(DtCodeBlock *b, DtFaultFunc fault, void *user, DtFaultKind kind, int column,
                    const char *format, ...) G_GNUC_PRINTF(6, 7);

typedef enum {
    ACT_TRAVERSE,
    ACT_FEED,
    ACT_ARC,
    ACT_DWELL,
    ACT_SPINDLE,
    ACT_HOME,
    ACT_PAUSE,     /* M0, M60 */
    ACT_MAY_PAUSE, /* M1 */
    ACT_TOOL,      /* M6 */
    ACT_END,
    ACT_PEN, /* of mend alone: a line of another controller; `turn` 1 lowers the pen, 0 lifts it */
} DtActionKind;

enum { AXES = 6 }; /* X Y Z A B C */
extern const char dt_axis_letters[AXES];

typedef struct {
    DtActionKind kind;
    double from[AXES], to[AXES];
    double feed;         /* FEED, ARC: mm/s along the path, 0 if none is set */
    double seconds;      /* DWELL: its P word as written, in the unit of the dialect */
    int turn;            /* SPINDLE: 1 M3, -1 M4, 0 M5 */
    double speed;        /* SPINDLE: S */
    gboolean speed_said; /* the file has stated an S */
    int tool;
    /* ARC: in the plane of axes first and second */
    int first, second;
    double centre[2], radius, end_radius, start_angle, sweep; /* sweep > 0: anticlockwise */
    gboolean machine;                                         /* by G53 */
} DtAction;

typedef struct DtReader DtReader;

/* The listener's functions, each of which may be NULL. A block is reported before its actions. */
typedef struct {
    DtFaultFunc fault;
    void (*block)(void *user, const DtCodeBlock *b);
    void (*action)(void *user, const DtAction *a);
    void (*end_of_block)(void *user, const DtCodeBlock *b);
} DtListener;

struct DtReader {
    DtListener listener;
    void *user;
    const DtVocabulary *own; /* for codes that the standard does not have; may be NULL */
    /* modal state; codes in tenths, -1 if the program has not set one */
    short modal[MODAL_GROUPS]; /* by G group */
    uint32_t said;             /* G groups that the program has set, bit by group */
    uint32_t relied;           /* G groups that it used before setting them, at their defaults */
    double unit;               /* mm per program unit */
    double feed_word;          /* F as written; < 0 if there was none */
    double feed_unit;          /* mm per program unit when it was written */
    double spindle_speed;
    gboolean speed_said;
    int spindle_turn, tool;
    double at[AXES];
    double offset[AXES]; /* program zero in machine coordinates: origin and axis offset */
    double origin[9][AXES], axis_offset[AXES], saved_offset[AXES];
    double last_value[26];  /* of letters that the standard does not have */
    uint32_t origins_set;   /* coordinate systems whose origin the program set, bit by system */
    gboolean origin_relied; /* a system other than the first was used whose origin the program
                             * did not set */
    double home[2][AXES];   /* G28, G30 */
    struct {
        double r, z, q, p; /* last value given in a cycle */
        uint8_t has_r, has_z, has_q, has_p;
    } cycle;
    gboolean ended;
    gboolean worded;            /* a word was read */
    gboolean begun, demarcated; /* a line that is not blank was read; the first of them was a '%' */
    size_t line;
    DtCodeBlock block;
    DtParameters parameters;
};

/* A reader at the standard's defaults: mm, absolute, XY plane, units per minute, system 1. */
DtReader *dt_reader_new(const DtListener *listener, const DtVocabulary *own, void *user);
void dt_reader_free(DtReader *r);
/* One line of the program, in the form that dt_block_read() requires. */
void dt_reader_line(DtReader *r, const char *text, size_t len);
/* A line too long to hold, which is only counted. */
void dt_reader_skip_line(DtReader *r, size_t len);

/* Shared by the parts of the reader. */
void dt_reader_fault(DtReader *r, DtFaultKind kind, int column, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
void dt_reader_move(DtReader *r, DtActionKind kind, const double to[AXES], double feed);
double dt_reader_feed(DtReader *r, double length);
void dt_reader_cycle(DtReader *r, const double to[AXES]);
void dt_reader_arc(DtReader *r, const double to[AXES]);

/* Uses a modal group: if the program has not set it, its default is relied upon. */
static inline short reader_use(DtReader *r, int group)
{
    if (!(r->said & (1u << group)))
        r->relied |= 1u << group;
    return r->modal[group];
}

/* Reads all lines; FALSE if the file cannot be read any further. Lines longer than
 * DT_LONGEST_LINE are skipped with FAULT_LINE_LONG. */
gboolean dt_reader_read(DtReader *r, DtLineSource *lines, const char *path, GError **error);
/* The same for a text; returns whether it began with a byte order mark. */
gboolean dt_reader_read_text(DtReader *r, const char *text, gsize len);
