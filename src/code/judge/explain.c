/* explain: each line of a program in words. */
#include "code/judge/accept.h"
#include "code/judge/pen.h"

#include <math.h>
#include <string.h>

typedef struct {
    DtVocabulary words;
    DtPenRule rule;
    DtCodeBlock home_line;
    char *home_text;
    DtReader *reader;
    DtPenState pen;
    GString *text;
    DtExplainFunc tell;
    void *user;
} Explain;

static void say(Explain *e, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void say(Explain *e, const char *format, ...)
{
    if (e->text->len > 0)
        g_string_append(e->text, "; ");
    va_list args;
    va_start(args, format);
    g_string_append_vprintf(e->text, format, args);
    va_end(args);
}

static void say_point(Explain *e, const DtAction *a)
{
    static const char *const names[AXES] = {"X", "Y", "Z", "A", "B", "C"};
    const char *join = _(" to ");
    for (int axis = 0; axis < AXES; axis++) {
        if (axis >= 2 && a->to[axis] == a->from[axis])
            continue;
        g_string_append_printf(e->text, "%s%s %.6g", join, names[axis], a->to[axis]);
        join = ", ";
    }
    g_string_append(e->text, " mm");
}

static const char *pen_words(const Explain *e)
{
    return e->pen == PEN_DOWN ? _("draw")
           : e->pen == PEN_UP ? _("move with the pen up")
                              : _("move");
}

static void say_move(Explain *e, const DtAction *a, const char *how)
{
    gboolean still = a->to[0] == a->from[0] && a->to[1] == a->from[1];
    say(e, "%s", still && a->to[2] == a->from[2] ? _("stay: it is there already") : how);
    if (still && a->to[2] == a->from[2])
        return;
    say_point(e, a);
    if (a->kind != ACT_TRAVERSE && a->feed > 0)
        g_string_append_printf(e->text, _(" at %.4g mm/s"), a->feed);
    if (still && e->rule.kind == LIFT_BY_Z)
        e->pen = dt_pen_at_z(&e->rule, a->to[2]);
}

static void say_arc(Explain *e, const DtAction *a)
{
    g_autofree char *how = g_strdup_printf(
        _("%s %s along an arc of %.4g degrees, radius %.6g mm,"), pen_words(e),
        a->sweep > 0 ? _("anticlockwise") : _("clockwise"), fabs(a->sweep) * 180 / G_PI, a->radius);
    say(e, "%s", how);
    say_point(e, a);
}

static void say_spindle(Explain *e, const DtAction *a)
{
    if (e->rule.kind != LIFT_BY_SPINDLE) {
        say(e, a->turn ? _("spindle on, which is not this machine's pen")
                       : _("spindle off, which is not this machine's pen"));
        return;
    }
    DtPenState before = e->pen;
    e->pen = dt_pen_after_spindle(&e->rule, a->turn, a->speed);
    say(e, "%s",
        e->pen == before     ? e->pen == PEN_DOWN ? _("pen stays down") : _("pen stays up")
            : e->pen == PEN_DOWN ? _("pen down")
                             : _("pen up"));
    if (a->turn)
        g_string_append_printf(e->text, " (S%g)", a->speed);
}

static void on_action(void *user, const DtAction *a)
{
    Explain *e = user;
    switch (a->kind) {
    case ACT_TRAVERSE:
        say_move(e, a, e->pen == PEN_DOWN ? _("travel with the pen down") : _("travel"));
        break;
    case ACT_FEED:
        say_move(e, a, e->pen == PEN_DOWN ? _("draw a line") : pen_words(e));
        break;
    case ACT_ARC:
        say_arc(e, a);
        break;
    case ACT_DWELL:
        say(e, _("wait %g s"), a->seconds * e->words.dwell_unit_s);
        break;
    case ACT_SPINDLE:
        say_spindle(e, a);
        break;
    case ACT_HOME:
        say(e, _("home both axes: X 0, Y 0"));
        break;
    case ACT_PAUSE:
        say(e, _("wait until the operator goes on, as for a pen change"));
        break;
    case ACT_MAY_PAUSE:
        say(e, _("wait for the operator, if the optional stop is on"));
        break;
    case ACT_TOOL:
        say(e, _("change to tool %d"), a->tool);
        break;
    case ACT_END:
        say(e, _("end of the program"));
        break;
    case ACT_PEN: /* of mend alone */
        break;
    }
}

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    (void)kind;
    say(user, _("column %d: %s"), column, text);
}

/* What a block states in addition to its actions: modes, and words without an action. */
static void on_block(void *user, const DtCodeBlock *b)
{
    Explain *e = user;
    if (b->deleted)
        say(e, _("left out, for the '/'"));
    if (b->percent)
        say(e, _("beginning or end of the tape"));
    for (int i = 0; i < b->n_settings; i++)
        say(e, _("parameter #%d becomes %g"), b->setting[i].index, b->setting[i].value);
    if (b->deleted || b->faults)
        return;
    for (int group = G_PLANE; group < MODAL_GROUPS; group++)
        if (b->g_groups & (1u << group))
            say(e, "%s", dt_messages_find(dt_g_codes[b->g[group]].says));
    for (int group = M_COOLANT; group <= M_OVERRIDE; group++)
        if (b->m_groups & (1u << group))
            say(e, "%s", dt_messages_find(dt_m_codes[b->m[group]].says));
    if ((b->g_groups & 1u) && !(b->g[G_NON_MODAL] == 40 || b->g[G_NON_MODAL] == 280))
        say(e, "%s", dt_messages_find(dt_g_codes[b->g[G_NON_MODAL]].says));
    if (b->has & LETTER('F'))
        say(e, _("feed %g a minute"), block_value(b, 'F'));
    if (b->has & LETTER('T'))
        say(e, _("select tool %g"), block_value(b, 'T'));
}

static void say_own(Explain *e, const DtCodeBlock *b)
{
    if (e->rule.kind == LIFT_BY_OWN_WORD && dt_block_matches(b, &e->rule.down)) {
        e->pen = PEN_DOWN;
        say(e, _("pen down"));
    } else if (e->rule.kind == LIFT_BY_OWN_WORD && dt_block_matches(b, &e->rule.up)) {
        e->pen = PEN_UP;
        say(e, _("pen up"));
    } else if (dt_block_matches(b, &e->home_line)) {
        say(e, _("home both axes"));
    } else {
        say(e, _("a word of this controller's own"));
    }
}

static void on_refusal(void *user, DtFindingKind kind, int column, const char *text)
{
    (void)kind;
    say(user, _("refused at column %d: %s"), column, text);
}

static void on_end_of_block(void *user, const DtCodeBlock *b)
{
    Explain *e = user;
    if (e->text->len == 0 && (b->has & LETTER('S')))
        say(e, _("spindle speed %g"), block_value(b, 'S'));
    dt_accept_block(&e->words, b, on_refusal, e);
    if (b->own_code && b->faults == 0)
        say_own(e, b);
    if (b->comment) {
        g_autofree char *comment = g_strndup(b->comment, MIN(b->comment_len, 200));
        say(e, _("comment: %s"), g_strstrip(comment));
    }
    e->tell(b->line, b->text, b->len, e->text->str, e->user);
    g_string_truncate(e->text, 0);
}

static gboolean begin(Explain *e, const DtProfile *p, DtExplainFunc tell, void *user,
                      GError **error)
{
    static const DtListener listener = {on_fault, on_block, on_action, on_end_of_block};
    *e = (Explain){.tell = tell, .user = user};
    if (!dt_vocabulary_compile(&p->dialect, p->path ? p->path : "profile", &e->words, error))
        return FALSE;
    dt_pen_rule_init(&e->rule, &p->dialect, &e->words);
    dt_pen_read_line(&e->home_line, p->dialect.home, &e->words, &e->home_text);
    e->text = g_string_new(NULL);
    e->reader = dt_reader_new(&listener, &e->words, e);
    return TRUE;
}

static void end(Explain *e)
{
    dt_reader_free(e->reader);
    g_string_free(e->text, TRUE);
    dt_pen_rule_clear(&e->rule);
    g_free(e->home_text);
}

gboolean dt_code_explain(const DtProfile *p, const char *path, DtExplainFunc tell, void *user,
                         GError **error)
{
    Explain e;
    DtLineSource lines;
    if (!dt_source_open(&lines, path, error))
        return FALSE;
    gboolean good = begin(&e, p, tell, user, error);
    if (good) {
        good = dt_reader_read(e.reader, &lines, path, error);
        end(&e);
    }
    dt_source_close(&lines);
    return good;
}

gboolean dt_code_explain_text(const DtProfile *p, const char *text, gsize len, DtExplainFunc tell,
                              void *user, GError **error)
{
    Explain e;
    if (!begin(&e, p, tell, user, error))
        return FALSE;
    dt_reader_read_text(e.reader, text, len);
    end(&e);
    return TRUE;
}
