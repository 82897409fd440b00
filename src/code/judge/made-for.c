/* made-for: the machine that a program of ours was written for, which its head names. */
#include "code/judge/judge.h"

#include "drawtrue/base.h"

#include <string.h>

#define BEFORE_PROFILE ", profile "

/* drawtrue VERSION for MACHINE, profile FILE; or VERSION mended for MACHINE ... */
void dt_judge_note_machine(DtJudge *j, const DtCodeBlock *b)
{
    char *made_for = j->out->made_for;
    if (b->comment == NULL || *made_for != '\0')
        return;
    g_autofree char *text = g_strndup(b->comment, MIN(b->comment_len, sizeof j->out->made_for - 1));
    const char *name = strstr(text, " for ");
    if (!g_str_has_prefix(text, "drawtrue ") || name == NULL)
        return;
    const char *mended = strstr(text, " mended for ");
    j->has_corrections = mended == NULL || mended > name;
    g_strlcpy(made_for, g_strchomp((char *)name) + strlen(" for "), sizeof j->out->made_for);
}

gboolean dt_code_is_made_for(const char *made_for, const DtProfile *p)
{
    g_autofree char *name = g_strstrip(dt_base_comment_text(p->name ? p->name : ""));
    const gsize n = strlen(name), n_made = strlen(made_for);
    if (n == 0 || n_made == 0)
        return TRUE;
    if (strstr(made_for, BEFORE_PROFILE) == NULL && n_made < n)
        return strncmp(made_for, name, n_made) == 0;
    return strncmp(made_for, name, n) == 0 && (made_for[n] == ',' || made_for[n] == '\0');
}

gboolean dt_code_is_made_with(const char *made_for, const DtProfile *p)
{
    const char *profile = strstr(made_for, BEFORE_PROFILE);
    if (profile == NULL || p->path == NULL)
        return TRUE;
    profile += strlen(BEFORE_PROFILE);
    g_autofree char *file = g_path_get_basename(p->path);
    g_autofree char *own = dt_base_comment_text(file);
    return strncmp(own, profile, strlen(profile)) == 0; /* which may be cut off */
}

void dt_judge_machine(DtJudge *j)
{
    const char *made_for = j->out->made_for, *profile = strstr(made_for, BEFORE_PROFILE);
    const int n = profile ? (int)(profile - made_for) : (int)strlen(made_for);
    if (j->has_corrections && !dt_code_is_made_for(made_for, j->profile))
        dt_judge_find(j, F_OTHER_MACHINE, 1, 1,
                      "it was written for the machine '%.*s': that machine's corrections are in "
                      "it, and make errors on this one; plan the drawing for this machine",
                      n, made_for);
}
