/* mend: line by line; a line that is fit stays as it is. */
#include "code/mend/mend.h"

#include "code/mend/as-said.h"
#include "code/mend/foreign.h"

#include <math.h>
#include <string.h>

void dt_mend_change(DtMend *m, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    char *text = g_strdup_vprintf(_(format), args);
    va_end(args);
    if (m->changes->len >= MOST_CHANGES) {
        m->more_changes++;
        g_free(text);
        return;
    }
    DtChange change = {(int)MIN(m->line, G_MAXINT), text};
    g_array_append_val(m->changes, change);
}

void dt_mend_problem(DtMend *m, int column, const char *format, ...)
{
    if (m->n_problems++ >= MOST_PROBLEMS)
        return;
    if (m->problems->len > 0)
        g_string_append_c(m->problems, '\n');
    g_string_append_printf(m->problems, "%s:%zu:%d: ", m->name, MAX(m->line, 1), MAX(column, 1));
    va_list args;
    va_start(args, format);
    g_string_append_vprintf(m->problems, _(format), args);
    va_end(args);
}

/* The second pass --------------------------------------------------------------------------- */

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    DtMend *m = user;
    if (m->fault->len > 0)
        return;
    g_string_assign(m->fault, text);
    m->fault_kind = kind;
    m->fault_column = column;
}

static void on_block(void *user, const DtCodeBlock *b)
{
    DtMend *m = user;
    m->line = b->line;
    m->feed_before = m->reader->feed_word;
    g_array_set_size(m->actions, 0);
    const DtPenState state = b->deleted ? PEN_UNKNOWN : dt_reading_block(&m->reading, &m->rule, b);
    if (state != PEN_UNKNOWN) {
        DtAction pen = {.kind = ACT_PEN, .turn = state == PEN_DOWN};
        g_array_append_val(m->actions, pen);
    }
}

static void on_action(void *user, const DtAction *a)
{
    DtMend *m = user;
    g_array_append_val(m->actions, *a);
}

static void copy_line(DtMend *m, const DtCodeBlock *b)
{
    gboolean return_too = b->text[b->len] == '\r';
    dt_emit_text(&m->emit, b->text, b->len + (return_too ? 1 : 0));
}

static void follow_own_code(DtMend *m, const DtCodeBlock *b)
{
    if (dt_block_matches(b, &m->home_line))
        m->emit.homed = TRUE;
}

/* Whether a line that stays contains only a pen word and dwells. */
static gboolean moves_nothing(const DtMend *m, const DtCodeBlock *b)
{
    const uint32_t modal_g = b->g_groups & ~1u, other_m = b->m_groups & ~(1u << M_SPINDLE);
    for (guint i = 0; i < m->actions->len; i++) {
        DtActionKind kind = g_array_index(m->actions, DtAction, i).kind;
        if (kind != ACT_DWELL && kind != ACT_SPINDLE && kind != ACT_PEN)
            return FALSE;
    }
    return b->n_words > 0 && modal_g == 0 && other_m == 0 && b->comment == NULL &&
           !(b->has & (AXIS_LETTERS | LETTER('F')));
}

static void keep(DtMend *m, const DtCodeBlock *b)
{
    for (guint i = 0; i < m->actions->len; i++) {
        const DtAction *a = &g_array_index(m->actions, DtAction, i);
        if (i == 0 || a->kind != ACT_END) /* the line itself comes to rest before its end */
            dt_mend_prepare(m, a);
    }
    DtDrop before = dt_emit_before_drop(&m->emit), drop = m->emit.drop;
    copy_line(m, b);
    if (b->own_code)
        follow_own_code(m, b);
    for (guint i = 0; i < m->actions->len; i++)
        dt_mend_follow(m, &g_array_index(m->actions, DtAction, i));
    if (moves_nothing(m, b))
        dt_emit_note_still(&m->emit, before, drop);
    if (m->moved && !m->beyond && m->emit.pen == PEN_UP)
        m->emit.drop.fresh = FALSE; /* the program itself lifts it: a dot is meant */
    dt_emit_follow_modes(&m->emit, b);
}

static void write_anew(DtMend *m, const DtCodeBlock *b)
{
    gsize before = m->emit.out->len;
    if (b->comment && !b->message)
        dt_emit_comment(&m->emit, b->comment, b->comment_len);
    gsize after_comment = m->emit.out->len;
    for (guint i = 0; i < m->actions->len; i++) {
        const DtAction *a = &g_array_index(m->actions, DtAction, i);
        dt_mend_prepare(m, a);
        dt_mend_rewrite(m, a);
    }
    gboolean dropped = m->emit.out->len == after_comment;
    const gboolean nothing_else = b->n_words == 0 && !b->computed && m->fault->len == 0;
    if (nothing_else && b->comment)
        dt_mend_change(m, "%s: the comment is %s", m->reason->str,
                       m->emit.out->len > before ? _("rewritten") : _("left out"));
    else
        dt_mend_change(m, "%s: %s", dropped ? _("left out") : _("rewritten"), m->reason->str);
}

/* Reads a line again without its faulty comment, so that its words are still carried out. */
static void read_without_comment(DtMend *m, const DtCodeBlock *b)
{
    size_t len = b->len;
    g_autofree char *rest = g_memdup2(b->text, len + 1);
    dt_mend_blank_comments(rest, len);
    rest[len] = '\n';
    dt_mend_change(m, "the broken comment is left out");
    m->reader->line--; /* it is the same line */
    g_string_truncate(m->fault, 0);
    dt_reader_line(m->reader, rest, len);
}

static void on_end_of_block(void *user, const DtCodeBlock *b)
{
    DtMend *m = user;
    if (m->fault->len > 0 && m->fault_kind == FAULT_COMMENT) {
        read_without_comment(m, b);
        return;
    }
    if (m->end_told && (b->n_words > 0 || m->fault->len > 0)) {
        dt_mend_change(m, "left out: it stands after the end");
    } else if (dt_mend_is_hopeless(m, b)) {
        dt_mend_problem(m, m->fault_column, "%s", m->fault->str);
    } else if (b->percent || b->deleted) {
        dt_mend_change(m, "left out: %s",
                       b->percent ? _("a percent sign") : _("it is marked for leaving out"));
        if (b->closes)
            dt_mend_finish(m);
    } else {
        m->stated |= b->g_groups;
        dt_mend_find_reason(m, b);
        if (m->reason->len == 0)
            keep(m, b);
        else
            write_anew(m, b);
    }
    g_string_truncate(m->fault, 0);
}

static gboolean begin(DtMend *m, const DtProfile *p, const char *name, const DtMendOptions *o,
                      GError **error)
{
    memset(m, 0, sizeof *m);
    if (!dt_vocabulary_compile(&p->dialect, p->path ? p->path : "profile", &m->words, error))
        return FALSE;
    m->open = m->words;
    m->open.open = TRUE;
    m->profile = p;
    m->name = name;
    if (o)
        m->options = *o;
    dt_pen_rule_init(&m->rule, &p->dialect, &m->words);
    dt_pen_read_line(&m->home_line, p->dialect.home, &m->words, &m->home_text);
    dt_emit_init(&m->emit, p, &m->words, &m->rule);
    m->actions = g_array_new(FALSE, FALSE, sizeof(DtAction));
    m->changes = g_array_new(FALSE, FALSE, sizeof(DtChange));
    m->reason = g_string_new(NULL);
    m->fault = g_string_new(NULL);
    m->problems = g_string_new(NULL);
    return TRUE;
}

static void end(DtMend *m)
{
    dt_pen_rule_clear(&m->rule);
    dt_emit_clear(&m->emit);
    g_free(m->home_text);
    g_array_unref(m->actions);
    g_string_free(m->reason, TRUE);
    g_string_free(m->fault, TRUE);
    g_string_free(m->problems, TRUE);
}

static void rewrite_program(DtMend *m, const char *text, gsize len)
{
    static const DtListener listener = {on_fault, on_block, on_action, on_end_of_block};
    m->reader = dt_reader_new(&listener, &m->open, m);
    if (dt_reader_read_text(m->reader, text, len))
        dt_mend_change(m, "the byte order mark is left out");
    dt_mend_finish(m);
    if (m->emit.too_long)
        dt_mend_problem(m, 1, "a move does not fit into the %d bytes that a line may have",
                        m->words.longest_line);
    dt_reader_free(m->reader);
}

/* Whether the program is fit already: then nothing in it is changed. */
static gboolean is_fit(const DtProfile *p, const char *text, gsize len)
{
    DtInspection i;
    gboolean fit = TRUE;
    if (!dt_code_judge_text(p, text, len, NULL, &i, NULL))
        return FALSE; /* which mending will report */
    for (size_t k = 0; k < i.n_findings && fit; k++)
        fit = i.findings[k].rank == DT_FINDING_WASTE;
    dt_inspection_clear(&i);
    return fit;
}

typedef struct {
    DtPoint at;
    double drawn; /* commanded mm */
    size_t drops; /* of the pen */
} Drawn;

static void on_move(const DtMove *move, size_t line, void *user)
{
    Drawn *d = user;
    (void)line;
    if (move->kind == DT_MOVE_DRAW)
        d->drawn += dt_point_distance(d->at, move->to);
    d->drops += move->kind == DT_MOVE_PEN_DOWN;
    d->at = move->to;
}

/* Chords are shorter than their arcs, and every end point is rounded. */
static gboolean draws_what_is_meant(const DtMend *m, double drawn)
{
    return fabs(drawn - m->meant_mm) <= 0.02 + 0.01 * m->meant_mm + 0.002 * (double)m->meant_pieces;
}

static gboolean is_of_units(const DtFinding *f)
{
    return strcmp(f->kind, "inches") == 0;
}

/* Whether a round's result is one to go on with; what is merely doubtful in it may be. */
static gboolean judge_result(DtMend *m, GError **error)
{
    Drawn d = {{0, 0}, 0, 0};
    DtJudgeOptions o = {.listener = on_move, .user = &d};
    DtInspection i;
    gboolean good = TRUE;
    if (!dt_code_judge_text(m->profile, m->emit.out->str, m->emit.out->len, &o, &i, error))
        return FALSE;
    for (size_t k = 0; k < i.n_findings && good; k++) {
        const DtFinding *f = &i.findings[k];
        good = f->rank >= DT_FINDING_WRONG;
        if (!good)
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "%s: cannot be mended: line %d of the result: %s", m->name, f->line,
                        f->text);
        if (is_of_units(f) && m->options.units == NULL) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_INPUT,
                "%s: it is not clear whether its lengths are mm or inches: %s; --units mm or "
                "--units in decides it",
                m->name, f->text);
            good = FALSE;
        }
    }
    dt_inspection_clear(&i);
    if (good && m->feeds_lifted && m->meant_mm <= 0 && d.drops < 2) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: cannot be mended: the pen never draws, though there are moves at feed",
                    m->name);
        good = FALSE;
    }
    if (good && !draws_what_is_meant(m, d.drawn)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: cannot be mended: the result would draw %.4g mm of the %.4g mm that are "
                    "meant",
                    m->name, d.drawn, m->meant_mm);
        good = FALSE;
    }
    return good;
}

static void hand_over(DtMend *m, DtMending *out)
{
    if (m->slopes.n > 0) {
        DtChange doubt = {
            (int)MIN(m->slopes.line, G_MAXINT),
            g_strdup_printf(
                _("left in doubt: moves in which the pen is lowered or lifted along the way "
                  "are travelled, not drawn: %zu, %.4g mm in all"),
                m->slopes.n, m->slopes.mm)};
        g_array_append_val(m->changes, doubt);
        out->n_doubts = 1;
    }
    out->omitted = m->more_changes;
    gsize n;
    out->changes = g_array_steal(m->changes, &n);
    out->n_changes = n;
    g_array_unref(m->changes);
}

/* One round of mending. NULL if it fails. */
static char *mend_once(const DtProfile *p, const char *text, gsize len, const char *name,
                       const DtMendOptions *o, gsize *out_len, DtMending *mending, GError **error)
{
    memset(mending, 0, sizeof *mending);
    DtMend m;
    if (!begin(&m, p, name, o, error))
        return NULL;
    const gboolean read = dt_mend_choose_reading(&m, text, len, mending, error);
    if (read)
        rewrite_program(&m, text, len);
    if (m.n_problems > MOST_PROBLEMS)
        g_string_append_printf(m.problems, _("\nand %d more"), m.n_problems - MOST_PROBLEMS);
    if (m.n_problems > 0)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", m.problems->str);
    gboolean good = read && m.n_problems == 0 &&
                    dt_emit_check(&m.emit, p->path ? p->path : "profile", error) &&
                    judge_result(&m, error);
    hand_over(&m, mending);
    char *result = NULL;
    if (good) {
        *out_len = m.emit.out->len;
        result = g_string_free(m.emit.out, FALSE);
        m.emit.out = NULL;
    }
    end(&m);
    return result;
}

/* Behind the other changes; doubts stand last. */
static void add_change(DtMending *all, int line, char *text)
{
    all->changes = g_renew(DtChange, all->changes, all->n_changes + 1);
    DtChange *at = &all->changes[all->n_changes++ - all->n_doubts];
    memmove(at + 1, at, all->n_doubts * sizeof *at);
    *at = (DtChange){line, text};
}

static void add_doubt(DtMending *all, int line, char *text)
{
    all->changes = g_renew(DtChange, all->changes, all->n_changes + 1);
    all->changes[all->n_changes++] = (DtChange){line, text};
    all->n_doubts++;
}

/* The changes of a further round, which name lines of the previous result. */
static void add_round(DtMending *all, DtMending *round)
{
    const size_t kept = MIN(round->n_changes, MOST_CHANGES - MIN(MOST_CHANGES, all->n_changes));
    for (size_t i = 0; i < kept; i++)
        add_change(all, round->changes[i].line,
                   g_strdup_printf(_("mended again: %s"), round->changes[i].text));
    all->omitted += round->omitted + round->n_changes - kept;
    dt_mending_clear(round);
}

/* Doubts that no further round removes, however many changes there are; the units are not among them, as
 * the user gave them. */
static void add_doubts(DtMending *all, const DtProfile *p, const char *text, gsize len)
{
    DtInspection i;
    if (!dt_code_judge_text(p, text, len, NULL, &i, NULL))
        return; /* the last round judged the same text */
    for (size_t k = 0; k < i.n_findings; k++) {
        const DtFinding *f = &i.findings[k];
        if (f->rank != DT_FINDING_WRONG || is_of_units(f))
            continue;
        add_doubt(all, f->line,
                  g_strdup_printf(_("left in doubt, in the result's line: %s"), f->text));
    }
    dt_inspection_clear(&i);
}

/* Remaining doubt makes a second mending examine all lines once more; they come to rest. */
static char *mend_to_rest(const DtProfile *p, char *text, gsize *len, const char *name,
                          const DtMendOptions *o, DtMending *mending, GError **error)
{
    enum { MOST_ROUNDS = 5 };
    g_autofree char *before = text;
    DtMendOptions own = o ? *o : (DtMendOptions){0};
    own.pen_by = "machine"; /* the result uses this machine's words */
    own.units = own.units ? "mm" : NULL;
    for (int round = 0; round < MOST_ROUNDS && !is_fit(p, before, *len); round++) {
        DtMending m;
        gsize n;
        char *after = mend_once(p, before, *len, name, &own, &n, &m, error);
        if (after == NULL) {
            dt_mending_clear(&m);
            return NULL;
        }
        gboolean rests = n == *len && memcmp(before, after, n) == 0;
        if (rests)
            dt_mending_clear(&m);
        else
            add_round(mending, &m);
        g_free(before);
        before = after;
        *len = n;
        if (rests) {
            add_doubts(mending, p, before, *len);
            return g_steal_pointer(&before);
        }
    }
    if (is_fit(p, before, *len))
        return g_steal_pointer(&before);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: cannot be mended: each mending calls for another one", name);
    return NULL;
}

/* Whether the reading that the program supports draws what this machine would draw. */
static gboolean means_this_machine(const DtProfile *p, const char *text, gsize len)
{
    DtMend m;
    DtPenVerdict v;
    if (!begin(&m, p, "", NULL, NULL))
        return TRUE;
    dt_hypotheses_judge(&m.open, &m.rule, text, len, &v);
    DtMending nothing = {0};
    hand_over(&m, &nothing);
    dt_mending_clear(&nothing);
    end(&m);
    return v.n == 0 || (!v.in_doubt && v.best.is_machine);
}

static void add_form(void *user, size_t line, const char *what)
{
    DtChange change = {(int)MIN(line, G_MAXINT), g_strdup(what)};
    g_array_append_val((GArray *)user, change);
}

/* The forms that were rewritten, listed before all other changes. */
static void put_first(DtMending *m, const GArray *forms)
{
    if (forms->len == 0)
        return;
    m->changes = g_renew(DtChange, m->changes, m->n_changes + forms->len);
    if (m->n_changes > 0)
        memmove(m->changes + forms->len, m->changes, m->n_changes * sizeof *m->changes);
    for (guint i = 0; i < forms->len; i++)
        m->changes[i] = g_array_index(forms, DtChange, i);
    m->n_changes += forms->len;
}

char *dt_code_mend_text(const DtProfile *p, const char *text, gsize len, const char *name,
                        const DtMendOptions *o, gsize *out_len, DtMending *mending, GError **error)
{
    memset(mending, 0, sizeof *mending);
    *out_len = len;
    if (is_fit(p, text, len) && (o == NULL || o->pen_by == NULL) &&
        means_this_machine(p, text, len))
        return g_string_free(g_string_new_len(text, (gssize)len), FALSE);
    g_autoptr(GArray) forms = g_array_new(FALSE, FALSE, sizeof(DtChange));
    const gboolean says = o != NULL && (o->units != NULL || o->leave_out != NULL);
    g_autofree char *said =
        says ? dt_mend_as_said(text, len, o, name, add_form, forms, error) : NULL;
    if (says && said == NULL)
        return NULL;
    g_autofree char *plain =
        dt_foreign_forms(says ? said : text, says ? strlen(said) : len, add_form, forms);
    len = says ? strlen(said) : len;
    char *once = mend_once(p, plain, len, name, o, out_len, mending, error);
    put_first(mending, forms);
    if (once == NULL)
        return NULL;
    return mend_to_rest(p, once, out_len, name, o, mending, error);
}

static gboolean has_usable_lines(const char *path, GError **error)
{
    DtLineSource lines;
    const char *text = "";
    size_t len, line = 0;
    if (!dt_source_open(&lines, path, error))
        return FALSE;
    while (text != NULL && dt_source_next(&lines, &text, &len))
        line++;
    dt_source_close(&lines);
    if (text == NULL)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:%zu:1: the line is %zu bytes long", path,
                    line, len);
    return text != NULL;
}

char *dt_code_mend(const DtProfile *p, const char *path, const DtMendOptions *o, gsize *len,
                   DtMending *mending, GError **error)
{
    memset(mending, 0, sizeof *mending);
    if (!has_usable_lines(path, error)) /* checked before all of it is held in memory */
        return NULL;
    gsize in_len;
    g_autofree char *text = dt_base_read_file(path, MOST_BYTES, &in_len, error);
    if (text == NULL)
        return NULL;
    return dt_code_mend_text(p, text, in_len, path, o, len, mending, error);
}

void dt_mending_clear(DtMending *m)
{
    for (size_t i = 0; i < m->n_changes; i++)
        g_free(m->changes[i].text);
    g_free(m->changes);
    for (size_t i = 0; i < m->n_readings; i++) {
        g_free(m->readings[i].option);
        g_free(m->readings[i].text);
    }
    g_free(m->readings);
    memset(m, 0, sizeof *m);
}
