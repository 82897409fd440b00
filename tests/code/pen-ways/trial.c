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

/* The virtual machine has no words of its own for a pen: a box between it and the sender has them. */
static char *translate_own_words(const char *text, gsize len)
{
    GString *out = g_string_new_len(text, (gssize)len);
    g_string_replace(out, "M41", "M3 S40", 0);
    g_string_replace(out, "M42", "M5", 0);
    return g_string_free(out, FALSE);
}

/* What is wrong with what a mended program draws; NULL for nothing. */
static char *find_wrong(const DtProfile *p, const char *text, gsize len, const char *meant)
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
    g_auto(DtLines) have, want;
    on_rig_ink(rig, &have);
    on_rig_meant(meant, &want);
    const double stray = on_rig_farthest(&have, &want), missing = on_rig_farthest(&want, &have);
    if (stray <= 0.01 && missing <= 0.01)
        return NULL;
    return g_strdup_printf("ink strays by %.3g mm and is missing by %.3g mm", stray, missing);
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
        wrong = find_wrong(p, out, len, w->ink);
        if (wrong == NULL)
            return TRUE;
    }
    return FALSE;
}

TrialResult trial_run(const DtProfile *p, const WayProgram *program, char **why)
{
    DtMending m;
    gsize len;
    TrialResult result;
    g_autofree char *out = mend(p, program, NULL, &len, &m, why);
    if (out != NULL) {
        *why = find_wrong(p, out, len, program->ink);
        result = *why == NULL ? TRIAL_RIGHT : TRIAL_WRONG;
    } else if (m.in_doubt > 0) {
        result = has_right(p, program, &m) ? TRIAL_DOUBT : TRIAL_WRONG;
    } else {
        result = TRIAL_REFUSED;
    }
    dt_mending_clear(&m);
    return result;
}
