/* check-profile: whether a profile's own lines consist of its own words, and agree about how the pen is moved. */
#include "code/judge/accept.h"
#include "code/judge/pen.h"

#include <string.h>

typedef struct {
    char *text; /* the first problem; owned */
} Wrong;

static void note(Wrong *w, const char *text)
{
    if (w->text == NULL)
        w->text = g_strdup(text);
}

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    (void)column;
    /* A fault that depends on earlier lines is not one of this line. */
    if (kind != FAULT_FEED && kind != FAULT_ARC && kind != FAULT_ARC_ENDS && kind != FAULT_UNSET)
        note(user, text);
}

static void on_refusal(void *user, DtFindingKind kind, int column, const char *text)
{
    (void)kind;
    (void)column;
    note(user, text);
}

/* What is wrong with a line under these words; NULL if nothing. Freed by the caller. */
static char *find_wrong(const DtVocabulary *v, const char *line)
{
    Wrong wrong = {0};
    DtCodeBlock block;
    DtParameters parameters;
    memset(&block, 0, sizeof block);
    memset(&parameters, 0, sizeof parameters);
    g_autofree char *ended = g_strconcat(line, "\n", NULL);
    dt_block_read(&block, ended, strlen(line), &parameters, v, on_fault, &wrong);
    dt_accept_block(v, &block, on_refusal, &wrong);
    return wrong.text;
}

static char *place_of(const DtProfile *p, const char *key)
{
    const guint line = p->path ? dt_profile_line_of(p->path, "controller", key) : 0;
    return line ? g_strdup_printf("%s:%u", p->path, line)
                : g_strdup_printf("%s, default", p->path ? p->path : "profile");
}

/* Advice if a word of the line is marked as untried; "" if none is. */
static const char *advice(const DtDialect *d, const char *line)
{
    static const char mark[] = "untried:";
    g_auto(GStrv) tokens = g_strsplit_set(d->words ? d->words : "", " \t,", -1);
    for (char **t = tokens; *t != NULL; t++) {
        const char *word = g_str_has_prefix(*t, mark) ? *t + strlen(mark) : NULL;
        const char *there = word && *word ? strstr(line, word) : NULL;
        if (there != NULL && (word[1] == '\0' || !g_ascii_isdigit(there[strlen(word)])))
            return _("; 'learn' has not tried it: run 'drawtrue learn --may-move', or remove the "
                     "mark 'untried:' if you know that the controller has it");
    }
    return "";
}

static gboolean check_line(const DtProfile *p, const DtVocabulary *v, const char *key,
                           const char *text, GError **error)
{
    g_auto(GStrv) lines = g_strsplit_set(text ? text : "", "\r\n", -1);
    for (char **line = lines; *line != NULL; line++) {
        g_autofree char *wrong = **line ? find_wrong(v, *line) : NULL;
        if (wrong == NULL)
            continue;
        g_autofree char *own = place_of(p, key), *words = place_of(p, "words");
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %s = %s contradicts the words at %s: %s%s", own, key, *line, words, wrong,
                    advice(&p->dialect, *line));
        return FALSE;
    }
    return TRUE;
}

/* Whether a pen's line moves it by a height alone. */
static gboolean is_height(const DtVocabulary *v, const char *line)
{
    DtCodeBlock b = {0};
    g_autofree char *text = NULL;
    dt_pen_read_line(&b, line, v, &text);
    return (b.has & LETTER('Z')) != 0 && (b.m_groups & (1u << M_SPINDLE)) == 0;
}

/* A program does not show where the pen is if a word drops it and a height lifts it. */
static gboolean check_pen(const DtProfile *p, const DtVocabulary *v, GError **error)
{
    const DtDialect *d = &p->dialect;
    const gboolean is_said = d->pen_down && *d->pen_down && d->pen_up && *d->pen_up;
    if (!is_said || is_height(v, d->pen_down) == is_height(v, d->pen_up))
        return TRUE;
    g_autofree char *down = place_of(p, "pen_down"), *up = place_of(p, "pen_up");
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: pen_down = %s and pen_up = %s (%s) do not belong together: both must be "
                "heights (Z), or neither",
                down, d->pen_down, d->pen_up, up);
    return FALSE;
}

gboolean dt_code_check_profile(const DtProfile *p, GError **error)
{
    const DtDialect *d = &p->dialect;
    DtVocabulary v;
    g_autofree char *words = place_of(p, "words");
    return dt_vocabulary_compile(d, words, &v, error) &&
           check_line(p, &v, "pen_down", d->pen_down, error) &&
           check_line(p, &v, "pen_up", d->pen_up, error) &&
           check_line(p, &v, "home", d->home, error) &&
           check_line(p, &v, "program_end", d->program_end, error) && check_pen(p, &v, error);
}
