/* findings: everything that can be wrong with a program on a machine, in one table of kinds.
 * Private. */
#pragma once

#include "code/read/rs274.h"

typedef enum {
    F_STRAY_BYTE,
    F_BAD_LETTER,
    F_BAD_NUMBER,
    F_BAD_EXPRESSION,
    F_BAD_PARAMETER,
    F_PARAMETER_UNSET,
    F_BAD_COMMENT,
    F_MODAL_CLASH,
    F_UNKNOWN_CODE,
    F_BAD_COMBINATION,
    F_NO_FEED,
    F_BAD_ARC,
    F_ARC_ENDS,
    F_BAD_VALUE,
    F_LINE_LONG,
    F_WORD_REFUSED,
    F_VALUE_REFUSED,
    F_COMMENT_REFUSED,
    F_GAP_NEEDED,
    F_MARK,
    F_Z_LIFTS,
    F_SPINDLE_LIFTS,
    F_NEVER_DOWN,
    F_EMPTY,
    F_BEYOND_AIR,
    F_BEYOND_PAPER,
    F_DOWN_AT_PAUSE,
    F_DOWN_AT_END,
    F_DOWN_AT_HOME,
    F_DOWN_UNHOMED,
    F_FEED_HIGH,
    F_DOWN_ON_TRAVEL,
    F_PEN_DEPTH,
    F_DWELL_SHORT,
    F_INCHES,
    F_OTHER_MACHINE,
    F_MODE_ASSUMED,
    F_NOT_AT_ORIGIN,
    F_AFTER_END,
    F_DWELL_LONG,
    F_SLOW_TRAVEL,
    F_IDLE_LIFT,
    FINDING_KINDS,
} DtFindingKind;

typedef struct {
    DtFindingRank rank;
    const char *kind; /* for programs */
} DtFindingRule;

extern const DtFindingRule dt_finding_rules[FINDING_KINDS];
extern const DtFindingKind dt_fault_findings[FAULT_LINE_LONG + 1]; /* by DtFaultKind */

enum { MOST_OF_A_KIND = 1000 };

/* The findings being collected. */
typedef struct {
    GArray *list; /* DtFinding */
    size_t count[FINDING_KINDS];
} DtFindingList;

void dt_finding_list_init(DtFindingList *l);
/* Whether one more of this kind would not be kept; it is then counted. */
gboolean dt_finding_list_is_full(DtFindingList *l, DtFindingKind kind);
/* Takes ownership of `text`. Beyond MOST_OF_A_KIND a finding is only counted. */
void dt_finding_list_add(DtFindingList *l, DtFindingKind kind, size_t line, int column, char *text);
/* The text of the last one kept, "" if there is none. */
const char *dt_finding_list_last(const DtFindingList *l);
/* Sorted by rank, then by line; `omitted` counts those that were not kept. Leaves the list
 * empty. */
DtFinding *dt_finding_list_take(DtFindingList *l, size_t *n, size_t *omitted);
void dt_finding_list_clear(DtFindingList *l);
