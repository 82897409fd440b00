/* test-sheet: a list of marks on a paper, in the order in which they are drawn. */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

/* Back by this much, or by the largest slack known and this much beyond it. */
static const double least_overrun_mm = 1.5, beyond_slack_mm = 1;

static double largest_slack(const DtProfile *p)
{
    double mm = 0;
    for (int axis = 0; axis < 2; axis++)
        for (size_t i = 0; i < p->backlash[axis].n; i++)
            mm = MAX(mm, p->backlash[axis].value[i] / p->scale[axis]);
    return mm;
}

DtTestSheet *dt_sheet_new_blank(const DtProfile *p, guint kinds, const char *date, gint64 number)
{
    DtTestSheet *s = g_new(DtTestSheet, 1);
    *s = (DtTestSheet){.kinds = kinds,
                       .number = number,
                       .machine = g_strdup(p->name ? p->name : ""),
                       .date = g_strdup(date),
                       .paper_at = p->paper_at,
                       .paper_w = p->paper_w,
                       .paper_h = p->paper_h,
                       .overrun = MAX(least_overrun_mm, largest_slack(p) + beyond_slack_mm)};
    return s;
}

void dt_sheet_free(DtTestSheet *s)
{
    if (s == NULL)
        return;
    g_free(s->machine);
    g_free(s->date);
    g_free(s->marks);
    g_free(s);
}

DtMark dt_sheet_mark(DtMarkKind kind, DtSheetKind part, int axis, DtPoint from, DtPoint to)
{
    return (DtMark){.kind = kind, .part = part, .axis = axis, .from = from, .to = to};
}

void dt_sheet_add(DtTestSheet *s, const DtMark *m)
{
    if (s->n == s->cap) {
        s->cap = s->cap ? s->cap * 2 : 256;
        s->marks = g_renew(DtMark, s->marks, s->cap);
    }
    s->marks[s->n++] = *m;
}

gboolean dt_mark_is_stroke(const DtMark *m)
{
    return m->kind != DT_MARK_HOME && m->kind != DT_MARK_PAUSE && m->kind != DT_MARK_RUN;
}
