/* check: judges a whole program before anything moves. */
#include "code/program/program.h"

#include <string.h>

static gboolean objects(const DtFinding *f, gboolean doubts)
{
    return f->rank <= (doubts ? DT_FINDING_HARM : DT_FINDING_WRONG);
}

/* The sender homes a program that does not, and objects itself to one of another machine. */
static gboolean is_seen_to(const DtFinding *f, gboolean homes)
{
    return (!homes && strcmp(f->kind, "pen-down-before-homing") == 0) ||
           strcmp(f->kind, "other-machine") == 0;
}

/* The most serious finding; those about the whole program come after those about a line. */
static gboolean pass(const DtProgram *g, gboolean doubts, gboolean homes, GError **error)
{
    const DtFinding *first = NULL;
    size_t n = 0;
    for (size_t i = 0; i < g->found.n_findings; i++) {
        const DtFinding *f = &g->found.findings[i];
        if (!objects(f, doubts) || is_seen_to(f, homes))
            continue;
        n++;
        if (first == NULL || strcmp(first->kind, "never-down") == 0)
            first = f;
    }
    if (n == 0)
        return TRUE;
    g_autofree char *more =
        n > 1 ? g_strdup_printf(_(" and %zu more findings;"), n - 1) : g_strdup("");
    return dt_program_fail(g, error, (size_t)first->line,
                           "%s;%s 'drawtrue inspect' lists them all, 'drawtrue mend' makes "
                           "a program fit",
                           first->text, more);
}

static void count_line(DtProgramTotals *out, const DtProgramLine *line, const DtProgramState *s)
{
    if (line->kind == DT_LINE_STOP)
        out->changes++;
    if (line->kind == DT_LINE_HOME && s->ink_mm + s->travel_mm <= 0)
        out->homes = TRUE;
}

/* Continues over lines that are refused: the judge reports what is wrong with all of them. */
static gboolean read_all(DtProgram *g, DtProgramTotals *out, GError **error)
{
    DtProgramLine line;
    for (;;) {
        g_autoptr(GError) problem = NULL;
        if (dt_program_next(g, &line, &problem)) {
            count_line(out, &line, &g->state);
        } else if (problem == NULL) {
            dt_judge_finish(&g->judge, g->lines.mark);
            return TRUE;
        } else if (!g->refused) {
            g_propagate_error(error, g_steal_pointer(&problem));
            return FALSE;
        }
    }
}

gboolean dt_program_check(DtProgram *g, gboolean doubts, DtProgramTotals *out, GError **error)
{
    *out = (DtProgramTotals){0};
    if (!dt_program_remember_file(g, error) || !dt_program_rewind(g, error) ||
        !read_all(g, out, error) || !pass(g, doubts, out->homes, error))
        return FALSE;
    g_strlcpy(g->made_for, g->found.made_for, sizeof g->made_for);
    g_strlcpy(out->sha256, g->sha256, sizeof out->sha256);
    out->head = g->found.head;
    out->lines = g->found.lines;
    out->strokes = g->state.begun;
    out->seconds = g->found.time_s - g->found.home_s;
    out->held_up_s = g->found.held_up_s;
    out->starved = g->found.starved;
    out->ink_mm = g->found.ink_mm;
    out->off_paper_mm = g->found.off_paper_mm;
    out->paper = g->found.paper;
    out->travel_mm = g->found.travel_mm;
    return dt_program_rewind(g, error);
}
