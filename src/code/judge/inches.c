/* inches: signs that a program's lengths are not in the unit that it states. */
#include "code/judge/judge.h"

#include <math.h>
#include <string.h>

/* `word` is in lower case. */
static gboolean holds_word(const char *text, size_t len, const char *word)
{
    size_t n = strlen(word);
    for (size_t i = 0; i + n <= len; i++)
        if ((text[i] | 0x20) == word[0] && (text[i + 1] | 0x20) == word[1] &&
            g_ascii_strncasecmp(text + i, word, n) == 0 &&
            (i == 0 || !g_ascii_isalpha(text[i - 1])) &&
            (i + n == len || !g_ascii_isalpha(text[i + n])))
            return TRUE;
    return FALSE;
}

void dt_judge_note_inch_words(DtJudge *j, const DtCodeBlock *b)
{
    if (!holds_word(b->comment, b->comment_len, "inches") &&
        !holds_word(b->comment, b->comment_len, "inch"))
        return;
    if (holds_word(b->comment, b->comment_len, "mm"))
        return;
    j->inches.comment_line = b->line;
    j->inches.comment_column = b->comment_column;
}

/* A drawing on a grid of half millimetres that was converted to inches shows it in its figures:
 * with four decimals they are off by 0.00005 inch at most. */
void dt_judge_note_figure(DtJudge *j, double mm)
{
    DtInchSigns *s = &j->inches;
    double halves = 2 * mm, as_inches = 2 * 25.4 * mm;
    if (fabs(halves - round(halves)) < 1e-6)
        return;
    s->figures++;
    if (fabs(as_inches - round(as_inches)) > 2 * 25.4 * 0.000051)
        return;
    s->hit_figures++;
    s->hit_line = s->hit_line ? s->hit_line : j->line;
    for (size_t i = 0; i < s->n_hits; i++)
        if (fabs(s->hit[i] - mm) < 1e-9)
            return;
    if (s->n_hits < G_N_ELEMENTS(s->hit))
        s->hit[s->n_hits++] = mm;
}

static gboolean has_inch_figures(const DtJudge *j)
{
    const DtInchSigns *s = &j->inches;
    return s->n_hits == G_N_ELEMENTS(s->hit) && 10 * s->hit_figures >= 8 * s->figures;
}

void dt_judge_inches(DtJudge *j)
{
    const DtInchSigns *s = &j->inches;
    if (s->said_line && !dt_vocabulary_takes_g(&j->words, 200))
        dt_judge_find(
            j, F_INCHES, s->said_line, 1,
            "lengths are in inches, and this controller reads them as mm: all would be 25.4 "
            "times too small");
    else if (s->said_line && j->beyond_inch > 0)
        dt_judge_find(j, F_INCHES, s->said_line, 1,
                      "the program says inches, but its lengths fit this machine only as mm");
    if (s->said_line || !j->drew || j->largest > j->inch_reach)
        return;
    if (s->comment_line)
        dt_judge_find(j, F_INCHES, s->comment_line, s->comment_column,
                      "the comment speaks of inches, and lengths up to %.4g are taken as mm",
                      j->largest);
    else if (has_inch_figures(j))
        dt_judge_find(j, F_INCHES, s->hit_line, 1,
                      "lengths such as %.4f look like inches taken for mm: %.4g mm", s->hit[0],
                      s->hit[0] * 25.4);
    else if (j->most_feed > 0 && j->most_feed <= 60)
        dt_judge_find(j, F_INCHES, j->feed_line, 1,
                      "lengths up to %.4g and feeds up to %g look like inches taken for mm",
                      j->largest, j->most_feed);
}
