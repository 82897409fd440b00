/* accept: checks blocks against the vocabulary. */
#include "code/judge/accept.h"

#include <glib/gprintf.h>

typedef struct {
    const DtVocabulary *v;
    const DtCodeBlock *b;
    DtRefusalFunc tell;
    void *user;
    int refusals;
} Check;

static void refuse(Check *c, DtFindingKind kind, int column, const char *format, ...)
    G_GNUC_PRINTF(4, 5);

static void refuse(Check *c, DtFindingKind kind, int column, const char *format, ...)
{
    char text[FAULT_TEXT];
    va_list args;
    va_start(args, format);
    g_vsnprintf(text, sizeof text, format, args);
    va_end(args);
    c->refusals++;
    c->tell(c->user, kind, column, text);
}

static void refuse_alone(Check *c, const DtCodeWord *w, char letter)
{
    if (w->letter == 'G' || w->letter == 'M')
        refuse(c, F_WORD_REFUSED, w->column,
               _("this controller accepts %c%g only with %c in the same line"), w->letter, w->value,
               letter);
    else
        refuse(c, F_WORD_REFUSED, w->column,
               _("this controller accepts %c only with %c in the same line"), w->letter, letter);
}

static void check_needs(Check *c, const DtCodeWord *w, const DtWordRule *rule)
{
    uint32_t missing = rule->needs & ~c->b->has;
    if (missing == 0)
        return;
    for (char letter = 'A'; letter <= 'Z'; letter++)
        if (missing & LETTER(letter))
            refuse_alone(c, w, letter);
}

/* M0 and M1 are for the sender, which waits by itself. */
static gboolean is_senders(const DtCodeWord *w)
{
    return w->letter == 'M' && (w->value == 0 || w->value == 1);
}

static gboolean is_standard(const DtCodeWord *w, long tenths)
{
    return w->letter == 'G' ? dt_g_codes[tenths].known
                            : tenths / 10 < M_NUMBERS && dt_m_codes[tenths / 10].known;
}

static void check_code(Check *c, const DtCodeWord *w)
{
    double scaled = w->value * 10;
    long tenths = scaled > -1e6 && scaled < 1e6 ? (long)(scaled + (scaled < 0 ? -0.5 : 0.5)) : -1;
    const DtWordRule *rule =
        tenths >= 0 && tenths < DT_G_CODES ? &(w->letter == 'G' ? c->v->g : c->v->m)[tenths] : NULL;
    if (rule && rule->taken)
        check_needs(c, w, rule);
    else if (rule && !is_senders(w) && is_standard(w, tenths)) /* the reader has reported the
                                                                * others */
        refuse(c, F_WORD_REFUSED, w->column, _("this controller does not accept %c%g"), w->letter,
               w->value);
}

static void check_letter(Check *c, const DtCodeWord *w)
{
    int i = w->letter - 'A';
    const DtWordRule *rule = &c->v->letter[i];
    if (!rule->taken)
        refuse(c, F_WORD_REFUSED, w->column, _("this controller does not accept the letter %c"),
               w->letter);
    else if (!(w->value >= c->v->low[i] && w->value <= c->v->high[i]))
        refuse(c, F_VALUE_REFUSED, w->column, _("this controller accepts %c from %g to %g, not %g"),
               w->letter, c->v->low[i], c->v->high[i], w->value);
    else if (rule->needs)
        check_needs(c, w, rule);
}

static void check_comments(Check *c)
{
    const DtCodeBlock *b = c->b;
    if (b->round_column && !c->v->round_comments)
        refuse(c, F_COMMENT_REFUSED, b->round_column,
               _("this controller does not accept comments in brackets"));
    if (b->semicolon_column && !c->v->semicolon_comments)
        refuse(c, F_COMMENT_REFUSED, b->semicolon_column,
               _("this controller does not accept comments after ';'"));
}

static void check_length(Check *c)
{
    const int overhead = c->v->overhead, longest = c->v->longest_line - overhead;
    if ((int64_t)c->b->len <= longest)
        return;
    if (overhead > 0)
        refuse(c, F_LINE_LONG, MAX(longest, 0) + 1,
               _("the line is %zu bytes long; this controller accepts %d, of which its "
                 "number and check need %d"),
               c->b->len, c->v->longest_line, overhead);
    else
        refuse(c, F_LINE_LONG, MAX(longest, 0) + 1,
               _("the line is %zu bytes long; this controller accepts %d"), c->b->len,
               c->v->longest_line);
}

static void check_form(Check *c)
{
    const DtCodeBlock *b = c->b;
    check_length(c);
    if (c->v->gap_needed && !b->plain_gap)
        refuse(c, F_GAP_NEEDED, 1, _("this controller needs a space between words"));
    if (b->deleted && !c->v->block_delete)
        refuse(c, F_WORD_REFUSED, 1, _("this controller does not accept '/'"));
    if (b->computed && !c->v->expressions)
        refuse(c, F_WORD_REFUSED, b->n_words ? b->words[0].column : 1,
               _("this controller does not accept parameters or expressions"));
    check_comments(c);
}

int dt_accept_block(const DtVocabulary *v, const DtCodeBlock *b, DtRefusalFunc tell, void *user)
{
    Check c = {v, b, tell, user, 0};
    for (int i = 0; i < b->n_words && !b->deleted; i++) {
        const DtCodeWord *w = &b->words[i];
        if (w->letter == 'G' || w->letter == 'M')
            check_code(&c, w);
        else
            check_letter(&c, w);
    }
    check_form(&c);
    return c.refusals;
}
