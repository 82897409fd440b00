/* drop-line: the profile's line that lowers the pen, with another S: how far a servo lowers it. */
#include "code/dialect.h"
#include "code/judge/pen.h"

#include <string.h>

gboolean dt_code_drop_word(const DtProfile *p, double *s, double *least, double *most)
{
    const double share = 0.5; /* with less, the reader of a program may regard the pen as up */
    DtVocabulary v;
    DtPenRule rule;
    if (!dt_vocabulary_compile(&p->dialect, "profile", &v, NULL) ||
        !dt_vocabulary_takes_letter(&v, 'S'))
        return FALSE;
    dt_pen_rule_init(&rule, &p->dialect, &v);
    const gboolean varies = rule.kind == LIFT_BY_SPINDLE && rule.down_turn != 0 &&
                            rule.up_turn == 0 && rule.down_speed > 0;
    *s = rule.down_speed;
    *least = MAX(v.low['S' - 'A'], share * *s);
    *most = v.high['S' - 'A'];
    dt_pen_rule_clear(&rule);
    return varies;
}

/* Where the number of the S word begins and ends; FALSE if the line has none outside its
 * comments. */
static gboolean find_number(const char *line, gsize *from, gsize *to)
{
    gboolean comment = FALSE;
    for (gsize i = 0; line[i] && line[i] != '\r' && line[i] != '\n' && line[i] != ';'; i++) {
        comment = line[i] == '(' || (comment && line[i] != ')');
        if (comment || (line[i] != 'S' && line[i] != 's'))
            continue;
        *from = i + 1 + strspn(line + i + 1, " \t");
        *to = *from + strspn(line + *from, "+-.0123456789");
        return *to > *from;
    }
    return FALSE;
}

char *dt_code_drop_line(const char *line, double s)
{
    gsize from, to;
    char number[40];
    if (!find_number(line, &from, &to))
        return g_strdup(line);
    dt_number_write(s, 1, number);
    return g_strdup_printf("%.*s%s%s", (int)from, line, number, line + to);
}
