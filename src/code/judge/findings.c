/* findings: the table of kinds, and the list being collected. */
#include "code/judge/findings.h"

const DtFindingRule dt_finding_rules[FINDING_KINDS] = {
    [F_STRAY_BYTE] = {DT_FINDING_NO_INK, "stray-byte"},
    [F_BAD_LETTER] = {DT_FINDING_NO_INK, "bad-letter"},
    [F_BAD_NUMBER] = {DT_FINDING_NO_INK, "bad-number"},
    [F_BAD_EXPRESSION] = {DT_FINDING_NO_INK, "bad-expression"},
    [F_BAD_PARAMETER] = {DT_FINDING_NO_INK, "bad-parameter"},
    [F_PARAMETER_UNSET] = {DT_FINDING_NO_INK, "parameter-unset"},
    [F_BAD_COMMENT] = {DT_FINDING_NO_INK, "bad-comment"},
    [F_MODAL_CLASH] = {DT_FINDING_NO_INK, "modal-clash"},
    [F_UNKNOWN_CODE] = {DT_FINDING_NO_INK, "unknown-code"},
    [F_BAD_COMBINATION] = {DT_FINDING_NO_INK, "bad-combination"},
    [F_NO_FEED] = {DT_FINDING_NO_INK, "no-feed"},
    [F_BAD_ARC] = {DT_FINDING_NO_INK, "bad-arc"},
    [F_ARC_ENDS] = {DT_FINDING_NO_INK, "arc-ends"},
    [F_BAD_VALUE] = {DT_FINDING_NO_INK, "bad-value"},
    [F_LINE_LONG] = {DT_FINDING_NO_INK, "line-long"},
    [F_WORD_REFUSED] = {DT_FINDING_NO_INK, "word-refused"},
    [F_VALUE_REFUSED] = {DT_FINDING_NO_INK, "value-refused"},
    [F_COMMENT_REFUSED] = {DT_FINDING_NO_INK, "comment-refused"},
    [F_GAP_NEEDED] = {DT_FINDING_NO_INK, "gap-needed"},
    [F_MARK] = {DT_FINDING_NO_INK, "byte-order-mark"},
    [F_Z_LIFTS] = {DT_FINDING_NO_INK, "z-lifts"},
    [F_SPINDLE_LIFTS] = {DT_FINDING_NO_INK, "spindle-lifts"},
    [F_NEVER_DOWN] = {DT_FINDING_NO_INK, "never-down"},
    [F_EMPTY] = {DT_FINDING_NO_INK, "empty"},
    [F_BEYOND_AIR] = {DT_FINDING_HARM, "beyond-travel-in-air"},
    [F_BEYOND_PAPER] = {DT_FINDING_HARM, "beyond-travel-on-paper"},
    [F_DOWN_AT_PAUSE] = {DT_FINDING_HARM, "pen-down-at-pause"},
    [F_DOWN_AT_END] = {DT_FINDING_HARM, "pen-down-at-end"},
    [F_DOWN_AT_HOME] = {DT_FINDING_HARM, "pen-down-at-home"},
    [F_DOWN_UNHOMED] = {DT_FINDING_HARM, "pen-down-before-homing"},
    [F_FEED_HIGH] = {DT_FINDING_HARM, "feed-too-fast"},
    [F_DOWN_ON_TRAVEL] = {DT_FINDING_WRONG, "pen-down-on-travel"},
    [F_PEN_DEPTH] = {DT_FINDING_WRONG, "pen-depth"},
    [F_DWELL_SHORT] = {DT_FINDING_WRONG, "dwell-short"},
    [F_INCHES] = {DT_FINDING_WRONG, "inches"},
    [F_OTHER_MACHINE] = {DT_FINDING_WRONG, "other-machine"},
    [F_MODE_ASSUMED] = {DT_FINDING_WRONG, "mode-assumed"},
    [F_NOT_AT_ORIGIN] = {DT_FINDING_WRONG, "not-at-origin"},
    [F_AFTER_END] = {DT_FINDING_WRONG, "after-end"},
    [F_DWELL_LONG] = {DT_FINDING_WRONG, "dwell-long"},
    [F_SLOW_TRAVEL] = {DT_FINDING_WASTE, "slow-travel"},
    [F_IDLE_LIFT] = {DT_FINDING_WASTE, "idle-lift"},
};

const DtFindingKind dt_fault_findings[FAULT_LINE_LONG + 1] = {
    [FAULT_BYTE] = F_STRAY_BYTE,
    [FAULT_LETTER] = F_BAD_LETTER,
    [FAULT_NUMBER] = F_BAD_NUMBER,
    [FAULT_EXPRESSION] = F_BAD_EXPRESSION,
    [FAULT_PARAMETER] = F_BAD_PARAMETER,
    [FAULT_UNSET] = F_PARAMETER_UNSET,
    [FAULT_COMMENT] = F_BAD_COMMENT,
    [FAULT_TWICE] = F_MODAL_CLASH,
    [FAULT_CODE] = F_UNKNOWN_CODE,
    [FAULT_COMBINATION] = F_BAD_COMBINATION,
    [FAULT_FEED] = F_NO_FEED,
    [FAULT_ARC] = F_BAD_ARC,
    [FAULT_ARC_ENDS] = F_ARC_ENDS,
    [FAULT_VALUE] = F_BAD_VALUE,
    [FAULT_LINE_LONG] = F_LINE_LONG,
};

static void clear_finding(gpointer finding)
{
    g_free(((DtFinding *)finding)->text);
}

void dt_finding_list_init(DtFindingList *l)
{
    *l = (DtFindingList){.list = g_array_new(FALSE, FALSE, sizeof(DtFinding))};
    g_array_set_clear_func(l->list, clear_finding);
}

gboolean dt_finding_list_is_full(DtFindingList *l, DtFindingKind kind)
{
    if (l->count[kind] < MOST_OF_A_KIND)
        return FALSE;
    l->count[kind]++;
    return TRUE;
}

void dt_finding_list_add(DtFindingList *l, DtFindingKind kind, size_t line, int column, char *text)
{
    if (++l->count[kind] > MOST_OF_A_KIND) {
        g_free(text);
        return;
    }
    const DtFindingRule *rule = &dt_finding_rules[kind];
    DtFinding f = {rule->rank, rule->kind, (int)MIN(line, G_MAXINT), column, text};
    g_array_append_val(l->list, f);
}

const char *dt_finding_list_last(const DtFindingList *l)
{
    return l->list->len > 0 ? g_array_index(l->list, DtFinding, l->list->len - 1).text : "";
}

static gint by_rank(gconstpointer a, gconstpointer b)
{
    const DtFinding *f = a, *g = b;
    if (f->rank != g->rank)
        return f->rank < g->rank ? -1 : 1;
    if (f->line != g->line)
        return f->line < g->line ? -1 : 1;
    return (f->column > g->column) - (f->column < g->column);
}

DtFinding *dt_finding_list_take(DtFindingList *l, size_t *n, size_t *omitted)
{
    g_array_sort(l->list, by_rank); /* keeps equal findings in order */
    *omitted = 0;
    for (int i = 0; i < FINDING_KINDS; i++)
        *omitted += l->count[i] > MOST_OF_A_KIND ? l->count[i] - MOST_OF_A_KIND : 0;
    gsize len;
    DtFinding *list = g_array_steal(l->list, &len);
    *n = len;
    return list;
}

void dt_finding_list_clear(DtFindingList *l)
{
    g_array_unref(l->list);
}
