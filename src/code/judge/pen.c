/* pen: interprets the profile's pen lines. */
#include "code/judge/pen.h"

#include <math.h>
#include <string.h>

void dt_pen_read_line(DtCodeBlock *b, const char *line, const DtVocabulary *own, char **copy)
{
    static const DtParameters none;
    size_t len = line ? strcspn(line, "\r\n") : 0;
    *copy = g_strdup_printf("%.*s\n", (int)len, line ? line : "");
    dt_block_read(b, *copy, len, &none, own, NULL, NULL);
}

static gboolean has_spindle(const DtCodeBlock *b)
{
    return (b->m_groups & (1u << M_SPINDLE)) != 0;
}

static int turn_of(const DtCodeBlock *b)
{
    int code = b->m[M_SPINDLE];
    return code == 3 ? 1 : code == 4 ? -1 : 0;
}

void dt_pen_rule_init(DtPenRule *p, const DtDialect *d, const DtVocabulary *own)
{
    memset(p, 0, sizeof *p);
    dt_pen_read_line(&p->down, d->pen_down, own, &p->down_text);
    dt_pen_read_line(&p->up, d->pen_up, own, &p->up_text);
    p->down_speed = p->down.has & LETTER('S') ? block_value(&p->down, 'S') : -1;
    p->up_speed = p->up.has & LETTER('S') ? block_value(&p->up, 'S') : -1;
    if (has_spindle(&p->down) || has_spindle(&p->up)) {
        p->kind = LIFT_BY_SPINDLE;
        p->down_turn = has_spindle(&p->down) ? turn_of(&p->down) : 1;
        p->up_turn = has_spindle(&p->up) ? turn_of(&p->up) : 0;
    } else if ((p->down.has & p->up.has) & LETTER('Z')) {
        p->kind = LIFT_BY_Z;
        p->down_z = block_value(&p->down, 'Z');
        p->up_z = block_value(&p->up, 'Z');
    } else {
        p->kind = LIFT_BY_OWN_WORD;
    }
}

void dt_pen_rule_clear(DtPenRule *p)
{
    g_free(p->down_text);
    g_free(p->up_text);
}

gboolean dt_pen_comment(const DtCodeBlock *b, char name[DT_PEN_NAME])
{
    if (b->comment == NULL)
        return FALSE;
    g_autofree char *text = g_strndup(b->comment, MIN(b->comment_len, 200));
    const char *pen = g_strstrip(text);
    if (g_str_has_prefix(pen, "stroke ") && strstr(pen, " pen ") != NULL)
        pen = strstr(pen, " pen ") + 1;
    if (!g_str_has_prefix(pen, "pen "))
        return FALSE;
    g_strlcpy(name, pen + strlen("pen "), DT_PEN_NAME);
    return TRUE;
}

static gboolean begins_comment(const DtCodeBlock *b, const char *text)
{
    const gsize n = strlen(text);
    return b->comment != NULL && b->comment_len >= n && strncmp(b->comment, text, n) == 0;
}

gboolean dt_block_tries_limits(const DtCodeBlock *b)
{
    return begins_comment(b, DT_TRIES_LIMITS);
}

gboolean dt_block_turns_paper(const DtCodeBlock *b)
{
    return begins_comment(b, DT_TURNS_PAPER);
}

DtPenState dt_pen_after_spindle(const DtPenRule *p, int turn, double speed)
{
    if (turn == 0)
        return p->down_turn == 0 ? PEN_DOWN : PEN_UP;
    if (p->up_turn == p->down_turn)
        return fabs(speed - p->down_speed) < fabs(speed - p->up_speed) ? PEN_DOWN : PEN_UP;
    if (p->down_turn == 0)
        return PEN_UP;
    return p->down_speed > 0 && speed < p->down_speed / 2 ? PEN_UP : PEN_DOWN;
}

DtPenState dt_pen_at_z(const DtPenRule *p, double z)
{
    return fabs(z - p->down_z) < fabs(z - p->up_z) ? PEN_DOWN : PEN_UP;
}
