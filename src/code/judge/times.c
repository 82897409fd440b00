/* times: the times of moves as they are in the program written from them, whose coordinates and
 * feeds are rounded and whose dwells are its own. */
#include "drawtrue/code.h"

static double ratio(double of, double to)
{
    return to > 0 ? of / to : 1;
}

void dt_inspection_fit_times(const DtInspection *i, const DtMoves *m, DtTimes *t)
{
    const double motion_s = i->time_s - i->home_s - i->dwell_s;
    const double moved = ratio(motion_s, t->ink_s + t->travel_s);
    const double waited = ratio(i->dwell_s, t->lift_s);
    double before = 0, now = 0; /* at the end of the move before; as fitted */
    for (size_t k = 0; k < m->n && t->at_s != NULL; k++) {
        const DtMoveKind kind = m->m[k].kind;
        const double took = t->at_s[k] - before;
        before = t->at_s[k];
        now += kind == DT_MOVE_HOME                                 ? took
               : kind == DT_MOVE_PEN_UP || kind == DT_MOVE_PEN_DOWN ? took * waited
                                                                    : took * moved;
        t->at_s[k] = now;
    }
    t->ink_s *= moved;
    t->travel_s *= moved;
    t->slack_s *= moved;
    t->slack_up_s *= moved;
    t->lift_s = i->dwell_s;
    t->home_s = i->home_s;
    t->total_s = i->time_s;
    t->held_up_s = i->held_up_s;
    t->starved = i->starved;
}

void dt_code_times(const DtProfile *p, const DtMoves *m, gboolean each, DtTimes *out)
{
    gsize len;
    DtInspection i;
    char *text = dt_code_write(p, m, &len, NULL);
    const gboolean known = text != NULL && dt_code_judge_text(p, text, len, NULL, &i, NULL);
    g_free(text); /* a large array would exist beside the times of the moves */
    dt_machine_time(p, m, each, out);
    if (!known)
        return; /* this controller's words cannot express them */
    dt_inspection_fit_times(&i, m, out);
    dt_inspection_clear(&i);
}
