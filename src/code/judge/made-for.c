/* made-for: the machine that a program of ours was written for, which its head names. */
#include "code/judge/judge.h"

#include "drawtrue/base.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define BEFORE_PROFILE ", profile "

#define PROGRAM "drawtrue "
#define BEFORE_MACHINE " for "

/* drawtrue VERSION for MACHINE, profile FILE; or VERSION mended for, or VERSION uncorrected for. `n`: the comment's length;
 * *machine is not terminated. */
static DtHead read_head(const char *comment, gsize n, const char **machine)
{
    const char *before = g_strstr_len(comment, (gssize)n, BEFORE_MACHINE);
    if (before == NULL || !g_str_has_prefix(comment, PROGRAM))
        return DT_HEAD_NONE;
    *machine = before + strlen(BEFORE_MACHINE);
    g_autofree char *kind = g_strndup(comment, (gsize)(before - comment));
    return g_str_has_suffix(kind, " mended")        ? DT_HEAD_MENDED
           : g_str_has_suffix(kind, " uncorrected") ? DT_HEAD_UNCORRECTED
                                                    : DT_HEAD_CORRECTED;
}

void dt_judge_note_machine(DtJudge *j, const DtCodeBlock *b)
{
    const char *machine;
    const DtHead head = b->comment ? read_head(b->comment, b->comment_len, &machine) : DT_HEAD_NONE;
    if (head <= j->out->head)
        return;
    const gsize n = b->comment_len - (gsize)(machine - b->comment);
    j->out->head = head;
    g_strlcpy(j->out->made_for, machine, MIN(n + 1, sizeof j->out->made_for));
    g_strchomp(j->out->made_for);
}

void dt_judge_note_paper(DtJudge *j, const DtCodeBlock *b)
{
    if (j->drew || j->out->head == DT_HEAD_NONE || b->comment == NULL ||
        !g_str_has_prefix(b->comment, DT_PAPER_SAID))
        return;
    g_autofree char *text = g_strndup(b->comment, b->comment_len);
    DtStatedPaper s = {.stated = TRUE};
    double degrees = 0;
    if (sscanf(text, DT_PAPER_SAID "%lf x %lf mm at %lf,%lf turned %lf", &s.w, &s.h, &s.at.x,
               &s.at.y, &degrees) < 4 ||
        !(s.w > 0 && s.h > 0 && isfinite(s.w + s.h + s.at.x + s.at.y + degrees)))
        return;
    const char *name = strstr(text, ": ");
    s.turn = degrees * G_PI / 180;
    g_strlcpy(s.name, name ? name + strlen(": ") : "", sizeof s.name);
    j->paper = (DtBox){s.at.x, s.at.y, s.at.x + s.w, s.at.y + s.h};
    j->paper_turn = s.turn;
    j->out->paper = s;
}

void dt_code_take_paper(const DtStatedPaper *paper, DtProfile *p)
{
    if (!paper->stated)
        return;
    p->paper_w = paper->w;
    p->paper_h = paper->h;
    p->paper_at = paper->at;
    p->paper_turn = paper->turn;
    p->paper_is_job_s = TRUE;
    g_free(p->paper_name);
    p->paper_name = g_strdup(*paper->name ? paper->name : "sheet");
}

DtHead dt_code_head(const char *text)
{
    DtHead head = DT_HEAD_NONE;
    for (const char *at = text; (at = strstr(at, PROGRAM)) != NULL; at++) {
        const char *begin = at, *machine;
        while (begin > text && begin[-1] == ' ')
            begin--;
        if (begin > text && (begin[-1] == '(' || begin[-1] == ';'))
            head = MAX(head, read_head(at, strcspn(at, "\r\n"), &machine));
    }
    return head;
}

gboolean dt_code_has_heads(const DtProfile *p)
{
    return dt_code_takes(p, "(") || dt_code_takes(p, ";");
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
    if (j->out->head == DT_HEAD_CORRECTED && !dt_code_is_made_for(made_for, j->profile))
        dt_judge_find(j, F_OTHER_MACHINE, 1, 1,
                      "it was written for the machine '%.*s': that machine's corrections are in "
                      "it, and make errors on this one; plan the drawing for this machine",
                      n, made_for);
}
