/* trial: one program of a way, mended for one machine and drawn on the virtual one. */
#include "pen-ways/trial.h"

#include "on-rig.h"

#include <string.h>

static void on_talk(const char *line, const char *answer, void *user)
{
    char **refused = user;
    if (*refused == NULL && g_str_has_prefix(answer, "refused"))
        *refused = g_strdup_printf("'%s' is answered '%s'", line, answer);
}

/* The virtual machine has no words of its own for a pen, and no canned cycles that could be ended: a box between it
 * and the sender has them. */
static char *translate_own_words(const char *text, gsize len)
{
    GString *out = g_string_new_len(text, (gssize)len);
    g_string_replace(out, "M41", "M3 S40", 0);
    g_string_replace(out, "M42", "M5", 0);
    g_string_replace(out, "G80", "", 0);
    return g_string_free(out, FALSE);
}

static char *compare(const DtLines *have, const char *meant)
{
    g_auto(DtLines) want;
    on_rig_meant(meant, &want);
    const double stray = on_rig_farthest(have, &want), missing = on_rig_farthest(&want, have);
    if (stray <= 0.01 && missing <= 0.01)
        return NULL;
    return g_strdup_printf("ink strays by %.3g mm and is missing by %.3g mm", stray, missing);
}

/* The ink that the judge finds. A pen that comes down anywhere leaves a dot. */
static void judge_ink(const DtInspection *i, DtLines *out)
{
    DtPoint at = {0, 0};
    dt_lines_init(out);
    for (size_t k = 0; k < i->moves.n; k++) {
        const DtMove *m = &i->moves.m[k];
        if (m->kind == DT_MOVE_PEN_DOWN) {
            dt_lines_begin(out);
            dt_lines_point(out, at);
            dt_lines_point(out, at);
        } else if (m->kind == DT_MOVE_DRAW) {
            dt_lines_point(out, m->ink);
        }
        at = m->ink;
    }
}

static char *find_wrong_by_judge(const DtProfile *p, const char *text, gsize len, const char *meant)
{
    DtInspection i;
    if (!dt_code_inspect_text(p, text, len, &i, NULL))
        return g_strdup("it cannot be judged");
    char *wrong = i.refused_lines > 0 ? g_strdup("lines are refused") : NULL;
    g_auto(DtLines) have;
    judge_ink(&i, &have);
    dt_inspection_clear(&i);
    return wrong != NULL ? wrong : compare(&have, meant);
}

/* What is wrong with what a mended program draws; NULL for nothing. */
static char *find_wrong_on_rig(const DtProfile *p, const char *text, gsize len, const char *meant)
{
    char *refused = NULL;
    g_autoptr(DtRig) rig = on_rig_new(p);
    dt_rig_listen(rig, on_talk, &refused);
    g_autofree char *sent = translate_own_words(text, len);
    dt_rig_run_text(rig, sent, strlen(sent));
    if (refused != NULL)
        return refused;
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    if (f.endstop_hits > 0 || !f.pen_up_at_end)
        return g_strdup("the end stop is hit, or the pen stays down");
    g_auto(DtLines) have;
    on_rig_ink(rig, &have);
    return compare(&have, meant);
}

static char *find_wrong(const DtProfile *p, gboolean on_rig, const char *text, gsize len,
                        const char *meant)
{
    return (on_rig ? find_wrong_on_rig : find_wrong_by_judge)(p, text, len, meant);
}

static char *mend(const DtProfile *p, const WayProgram *w, const char *pen_by, gsize *len,
                  DtMending *m, char **error_text)
{
    g_autoptr(GError) error = NULL;
    char *out = dt_code_mend_text(p, w->text, w->len, "way.nc", &(DtMendOptions){.pen_by = pen_by},
                                  len, m, &error);
    *error_text = error != NULL ? g_strdup(error->message) : NULL;
    return out;
}

/* Whether one of the readings that are named draws what is meant. */
static gboolean has_right(const DtProfile *p, const WayProgram *w, const DtMending *m)
{
    for (size_t i = 0; i < m->in_doubt; i++) {
        DtMending once;
        gsize len;
        g_autofree char *error = NULL, *out = NULL, *wrong = NULL;
        out = mend(p, w, m->readings[i].option, &len, &once, &error);
        dt_mending_clear(&once);
        if (out == NULL)
            continue;
        wrong = find_wrong(p, FALSE, out, len, w->ink);
        if (wrong == NULL)
            return TRUE;
    }
    return FALSE;
}

TrialResult trial_run(const DtProfile *p, const WayProgram *program, gboolean on_rig, char **why)
{
    DtMending m;
    gsize len;
    TrialResult result;
    g_autofree char *out = mend(p, program, NULL, &len, &m, why);
    if (out != NULL) {
        *why = find_wrong(p, on_rig, out, len, program->ink);
        result = *why == NULL ? TRIAL_RIGHT : TRIAL_WRONG;
    } else if (m.in_doubt > 0) {
        result = has_right(p, program, &m) ? TRIAL_DOUBT : TRIAL_WRONG;
    } else {
        result = TRIAL_REFUSED;
    }
    dt_mending_clear(&m);
    return result;
}
