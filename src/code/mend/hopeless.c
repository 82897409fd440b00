/* hopeless: lines whose meaning cannot be known. */
#include "code/mend/mend.h"

#include <string.h>

/* "O1000", with or without a comment, and nothing else. */
static gboolean is_program_number(const DtCodeBlock *b)
{
    size_t end = b->comment ? (size_t)b->comment_column - 1 : b->len;
    g_autofree char *text = g_strndup(b->text, end);
    g_strstrip(text);
    return g_ascii_toupper(*text) == 'O' && text[1] &&
           text[1 + strspn(text + 1, "0123456789 \t")] == '\0';
}

/* Whether a word that the standard has no use for there may change the path of a move in other controls: a corner that
 * is rounded or cut off, the number of turns of an arc, or repetitions. */
static gboolean may_change_the_path(const DtMend *m, const DtCodeBlock *b)
{
    for (guint i = 0; i < m->actions->len; i++) {
        const DtActionKind kind = g_array_index(m->actions, DtAction, i).kind;
        const gboolean is_arc = kind == ACT_ARC;
        if (kind != ACT_TRAVERSE && kind != ACT_FEED && !is_arc)
            continue;
        for (const char *l = is_arc ? "PL" : "RIJKL"; *l; l++)
            if ((b->has & LETTER(*l)) && block_value(b, *l) != 0 &&
                !(strchr("PL", *l) && block_value(b, *l) == 1))
                return TRUE;
    }
    return FALSE;
}

gboolean dt_mend_is_hopeless(DtMend *m, const DtCodeBlock *b)
{
    const gboolean switches = (b->g_groups & (1u << G_RADIUS)) && b->g[G_RADIUS] != 400;
    if (m->fault->len == 0 && switches) {
        m->fault_column = b->words[b->g_word[G_RADIUS]].column;
        g_string_printf(m->fault,
                        _("G%d moves the path aside by the radius of a tool: which radius, "
                          "the program does not say"),
                        b->g[G_RADIUS] / 10);
        return TRUE;
    }
    if (dt_mend_is_strange(m, b) && (b->has & ~(LETTER('N') | LETTER('S'))) != 0) {
        const DtCodeWord *foreign = dt_reading_foreign_word(&m->words, b);
        m->fault_column = foreign->column;
        if (foreign->letter == 'M')
            g_string_printf(m->fault,
                            _("RS-274 has no M%g, and with other words beside it it may do "
                              "anything"),
                            foreign->value);
        else
            g_string_printf(m->fault, _("RS-274 has no letter %c"), foreign->letter);
        return TRUE;
    }
    if (m->fault->len == 0)
        return FALSE;
    gboolean dwell = (b->g_groups & 1u) && b->g[G_NON_MODAL] == 40;
    switch (m->fault_kind) {
    case FAULT_CODE: /* it may rotate, scale or mirror everything that follows */
        return TRUE;
    case FAULT_BYTE:
        return b->n_words > 0;
    case FAULT_LETTER:
        return !is_program_number(b);
    case FAULT_COMMENT:
        return FALSE;
    case FAULT_FEED:
    case FAULT_ARC_ENDS:
        return m->actions->len == 0;
    case FAULT_VALUE:
        return !((b->has & LETTER('F')) && block_value(b, 'F') < 0) &&
               !(dwell && block_value(b, 'P') < 0);
    case FAULT_COMBINATION:
        if ((dwell && (b->has & AXIS_LETTERS)) || may_change_the_path(m, b))
            return TRUE;
        return b->n_words > MOST_M && m->actions->len == 0;
    default:
        return TRUE;
    }
}
