/* accept: blocks against the vocabulary. */
#include "accept.h"

#include <math.h>

typedef struct {
    const DtVocabulary *v;
    const DtCodeBlock *b;
    DtRefusalFunc tell;
    void *user;
    int refusals;
} Check;

static void refuse(Check *c, DtFindingKind kind, int column, char *text)
{
    c->refusals++;
    c->tell(c->user, kind, column, text);
}

static void check_needs(Check *c, const DtCodeWord *w, const DtWordRule *rule)
{
    uint32_t missing = rule->needs & ~c->b->has;
    for (char letter = 'A'; letter <= 'Z'; letter++)
        if (missing & LETTER(letter))
            refuse(c, F_WORD_REFUSED, w->column,
                   w->letter == 'G' || w->letter == 'M'
                       ? g_strdup_printf("this controller takes %c%g only with %c in the same line",
                                         w->letter, w->value, letter)
                       : g_strdup_printf("this controller takes %c only with %c in the same line",
                                         w->letter, letter));
}

/* M0 and M1 are the sender's: it waits there itself. */
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
    long tenths = lround(w->value * 10);
    const DtWordRule *rule =
        tenths >= 0 && tenths < DT_G_CODES ? &(w->letter == 'G' ? c->v->g : c->v->m)[tenths] : NULL;
    if (rule && rule->taken)
        check_needs(c, w, rule);
    else if (rule && !is_senders(w) && is_standard(w, tenths)) /* others were told by the reader */
        refuse(c, F_WORD_REFUSED, w->column,
               g_strdup_printf("this controller does not take %c%g", w->letter, w->value));
}

static void check_letter(Check *c, const DtCodeWord *w)
{
    int i = w->letter - 'A';
    const DtWordRule *rule = &c->v->letter[i];
    if (!rule->taken)
        refuse(c, F_WORD_REFUSED, w->column,
               g_strdup_printf("this controller does not take the letter %c", w->letter));
    else if (!(w->value >= c->v->low[i] && w->value <= c->v->high[i]))
        refuse(c, F_VALUE_REFUSED, w->column,
               g_strdup_printf("this controller takes %c from %g to %g, not %g", w->letter,
                               c->v->low[i], c->v->high[i], w->value));
    else if (rule->needs)
        check_needs(c, w, rule);
}

static void check_comment(Check *c)
{
    const DtCodeBlock *b = c->b;
    if (b->comment == NULL || (b->semicolon ? c->v->semicolon_comments : c->v->round_comments))
        return;
    refuse(c, F_COMMENT_REFUSED, b->comment_column,
           g_strdup(b->semicolon ? "this controller does not take comments after ';'"
                                 : "this controller does not take comments in brackets"));
}

static void check_form(Check *c, int overhead)
{
    const DtCodeBlock *b = c->b;
    int longest = c->v->longest_line > 0 ? c->v->longest_line - overhead : 0;
    if (longest > 0 && b->len > (size_t)longest)
        refuse(c, F_LINE_LONG, longest + 1,
               overhead > 0 ? g_strdup_printf("the line is %" G_GSIZE_FORMAT
                                              " bytes long; this controller takes %d, of which "
                                              "its number and check need %d",
                                              b->len, c->v->longest_line, overhead)
                            : g_strdup_printf("the line is %" G_GSIZE_FORMAT
                                              " bytes long; this controller takes %d",
                                              b->len, c->v->longest_line));
    if (c->v->gap_needed && !b->plain_gap)
        refuse(c, F_GAP_NEEDED, 1, g_strdup("this controller needs a space between words"));
    if (b->deleted && !c->v->block_delete)
        refuse(c, F_WORD_REFUSED, 1, g_strdup("this controller does not take '/'"));
    if (b->computed && !c->v->expressions)
        refuse(c, F_WORD_REFUSED, b->n_words ? b->words[0].column : 1,
               g_strdup("this controller does not take parameters or expressions"));
    check_comment(c);
}

int dt_accept_block(const DtVocabulary *v, const DtCodeBlock *b, int overhead, DtRefusalFunc tell,
                    void *user)
{
    Check c = {v, b, tell, user, 0};
    for (int i = 0; i < b->n_words && !b->deleted; i++) {
        const DtCodeWord *w = &b->words[i];
        if (w->letter == 'G' || w->letter == 'M')
            check_code(&c, w);
        else
            check_letter(&c, w);
    }
    check_form(&c, overhead);
    return c.refusals;
}
