/* inspect: runs the judge over a whole program, and adds what shows only at its end. */
#include "code/judge/judge.h"

#include <math.h>
#include <string.h>

/* A height that the program goes to only once, as at its start, is no lift. */
static gboolean lifts_by_z(const DtJudge *j)
{
    const DtHeights *h = &j->heights;
    return h->line && (h->several || (!j->lowered && h->changes > 1));
}

static void judge_lifts(DtJudge *j)
{
    if (j->rule.kind != LIFT_BY_Z && lifts_by_z(j))
        dt_judge_find(j, F_Z_LIFTS, j->heights.line, j->heights.column,
                      "lifts are written as Z moves; this machine lifts its pen with %s",
                      j->profile->dialect.pen_up);
    if (j->rule.kind == LIFT_BY_Z && j->spindle_line && !j->lowered)
        dt_judge_find(j, F_SPINDLE_LIFTS, j->spindle_line, j->spindle_column,
                      "lifts are written as spindle words; this machine lifts its pen with %s",
                      j->profile->dialect.pen_up);
}

static void judge_pen_use(DtJudge *j)
{
    if (!j->moved && j->out->refused_lines == 0) {
        dt_judge_find(j, F_EMPTY, 1, 1, "the program moves nothing");
        return;
    }
    judge_lifts(j);
    /* If nothing but dots was drawn, dots are what is meant; a single one among moves at feed may be a spindle
     * that is started and stopped. */
    const size_t fewest = j->draw_line == 0 ? 1 : 2;
    if (j->drew || (j->dots >= fewest && j->out->refused_lines == 0))
        return;
    size_t line = j->draw_line            ? j->draw_line
                  : j->out->first_refused ? j->out->first_refused
                                          : MAX(j->last_motion_line, 1);
    dt_judge_find(j, F_NEVER_DOWN, line, j->draw_line ? j->draw_column : 1,
                  "the pen never draws: no ink lands");
}

/* A few strokes that meet end to end are normal; a program full of them is not. */
static void judge_idle_lifts(DtJudge *j)
{
    enum { MANY = 5 };
    if (j->idle_lifts >= MANY && 4 * j->idle_lifts >= j->out->lifts)
        dt_judge_find(j, F_IDLE_LIFT, j->idle_line, 1,
                      "%zu of %zu times the pen drops where it was lifted, which could be drawn on",
                      j->idle_lifts, j->out->lifts);
}

static void judge_waste(DtJudge *j)
{
    judge_idle_lifts(j);
    gboolean lifts_known = j->rule.kind == LIFT_BY_Z || !lifts_by_z(j);
    if (lifts_known && j->drew && j->slow_s > 2 && j->slow_s > 0.02 * j->out->time_s)
        dt_judge_find(
            j, F_SLOW_TRAVEL, j->slow_line, 1,
            "moves with the pen up are written at drawing feed and take %.0f s longer than "
            "travels (G0)",
            j->slow_s);
}

void dt_judge_finish(DtJudge *j, gboolean mark)
{
    size_t last = j->last_words_line ? j->last_words_line : 1;
    j->line = last;
    dt_judge_end(j, last, 1);
    j->out->lines = j->reader->line;
    const double motors_s = j->out->time_s + j->clock.seconds;
    j->out->time_s = MAX(motors_s, j->out->home_s + dt_pace_finish(&j->pace));
    j->out->held_up_s = j->out->time_s - motors_s;
    j->out->starved = j->pace.starved;
    if (mark)
        dt_judge_find(j, F_MARK, 1, 1, "a byte order mark stands before the first word");
    dt_judge_inches(j);
    dt_judge_machine(j);
    judge_pen_use(j);
    judge_waste(j);
    j->out->findings = dt_finding_list_take(&j->findings, &j->out->n_findings, &j->out->omitted);
}

gboolean dt_judge_begin(DtJudge *j, const DtProfile *p, const DtJudgeOptions *o, DtInspection *out,
                        GError **error)
{
    memset(j, 0, sizeof *j);
    memset(out, 0, sizeof *out);
    out->ink_box = DT_BOX_EMPTY;
    dt_moves_init(&out->moves);
    if (!dt_vocabulary_compile(&p->dialect, p->path ? p->path : "profile", &j->words, error))
        return FALSE;
    j->profile = p;
    j->out = out;
    j->listener = o ? o->listener : NULL;
    j->listener_user = o ? o->user : NULL;
    j->collect = o && o->collect ? &out->moves : NULL;
    j->tries_limits = o && o->tries_limits;
    j->inch_reach = MIN(p->travel[0], p->travel[1]) / 25.4;
    j->homed = p->dialect.home == NULL || *p->dialect.home == '\0';
    j->faulted_feed = -1;
    j->rounding = 1.5 * pow(10, -CLAMP(p->dialect.decimals, 0, 9));
    dt_pen_rule_init(&j->rule, &p->dialect, &j->words);
    dt_pen_read_line(&j->home_line, p->dialect.home, &j->words, &j->home_text);
    dt_pen_read_line(&j->end_line, p->dialect.program_end, &j->words, &j->end_text);
    dt_finding_list_init(&j->findings);
    dt_clock_init(&j->clock, p);
    dt_pace_init(&j->pace, p);
    dt_carriage_init(&j->carriage, p);
    j->paper = (DtBox){p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                       p->paper_at.y + p->paper_h};
    j->paper_turn = p->paper_turn;
    if (p->rack.n > 0)
        j->tip = p->rack.pens[0].offset;
    dt_judge_drive(j, dt_point(0, 0));
    j->reader = dt_reader_new(&dt_judge_listener, &j->words, j);
    return TRUE;
}

void dt_judge_clear(DtJudge *j)
{
    dt_reader_free(j->reader);
    dt_pace_clear(&j->pace);
    dt_pen_rule_clear(&j->rule);
    dt_finding_list_clear(&j->findings);
    g_free(j->home_text);
    g_free(j->end_text);
}

static gboolean judge_lines(const DtProfile *p, DtLineSource *lines, const char *path,
                            const DtJudgeOptions *o, DtInspection *out, GError **error)
{
    DtJudge j;
    if (!dt_judge_begin(&j, p, o, out, error))
        return FALSE;
    gboolean good = dt_reader_read(j.reader, lines, path, error);
    if (good)
        dt_judge_finish(&j, lines->mark);
    dt_judge_clear(&j);
    if (!good)
        dt_inspection_clear(out);
    return good;
}

gboolean dt_code_judge(const DtProfile *p, const char *path, const DtJudgeOptions *o,
                       DtInspection *out, GError **error)
{
    DtLineSource lines;
    if (!dt_source_open(&lines, path, error))
        return FALSE;
    const gboolean good = judge_lines(p, &lines, path, o, out, error);
    dt_source_close(&lines);
    return good;
}

gboolean dt_code_judge_text(const DtProfile *p, const char *text, gsize len,
                            const DtJudgeOptions *o, DtInspection *out, GError **error)
{
    DtLineSource lines;
    dt_source_open_text(&lines, text, len);
    const gboolean good = judge_lines(p, &lines, "", o, out, error);
    dt_source_close(&lines);
    return good;
}

gboolean dt_code_inspect(const DtProfile *p, const char *path, DtInspection *out, GError **error)
{
    return dt_code_judge(p, path, &(DtJudgeOptions){.collect = TRUE}, out, error);
}

gboolean dt_code_inspect_text(const DtProfile *p, const char *text, gsize len, DtInspection *out,
                              GError **error)
{
    return dt_code_judge_text(p, text, len, &(DtJudgeOptions){.collect = TRUE}, out, error);
}

void dt_inspection_clear(DtInspection *i)
{
    for (size_t k = 0; k < i->n_findings; k++)
        g_free(i->findings[k].text);
    g_free(i->findings);
    dt_moves_clear(&i->moves);
    memset(i, 0, sizeof *i);
}
