/* run: draws a program, stroke by stroke.
 *
 * The rule that makes a run safe: the pen is not lowered before the previous stroke is in the
 * journal. Whatever happens then, at most the current stroke is not recorded, and at most that
 * one is drawn again. */
#include "link/run.h"

#include <gio/gio.h>
#include <string.h>

/* What is known of it ----------------------------------------------------------------------- */

void dt_run_describe(const DtRun *r, DtSnapshot *out)
{
    const double all = MAX(r->totals.seconds, 1e-9);
    const gboolean done = out->state == DT_STATE_DONE;
    out->done = done ? 1 : MIN(1, r->acked.seconds / all);
    out->left_s =
        done ? 0 : MAX(0, all - r->acked.seconds) * r->pace + (r->acked.homed ? 0 : r->home_s);
    out->ink_mm = r->acked.ink_mm;
    out->travel_mm = r->acked.travel_mm;
    out->line = r->acked_line;
    out->stroke = r->drawn;
    out->strokes = r->totals.strokes;
    g_strlcpy(out->pen_name, r->next_pen ? r->next_pen : r->acked.pen, sizeof out->pen_name);
}

static double elapsed_s(const DtRun *r)
{
    return r->earlier_s +
           (double)(g_get_monotonic_time() - r->start_us - r->session->person_us) / 1e6;
}

void dt_run_journal_stroke(DtRun *r, const DtProgramState *t)
{
    const DtJournalStroke stroke = {
        .stroke = t->drawn,
        .line = r->acked_line,
        .pen = t->pen,
        .ink_mm = t->ink_mm - r->drawn_state.ink_mm,
        .travel_mm = t->travel_mm - r->drawn_state.travel_mm,
        .time_s = elapsed_s(r),
    };
    g_autoptr(GError) error = NULL;
    if (!dt_journal_stroke(r->journal, r->id, &stroke, &error)) {
        dt_session_trouble(r->session, TROUBLE_JOURNAL, "%s", error->message);
        return;
    }
    r->drawn = t->drawn;
    r->drawn_state = *t;
    r->recoveries = 0;
}

/* Whether a board answers the line that homes only after homing. */
static void journal_homing(DtRun *r)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(text, sizeof text, "%.2f",
                    (double)(g_get_monotonic_time() - r->session->answered_us) / 1e6);
    dt_journal_event(r->journal, r->id, "homed", text, NULL);
}

/* Whether the ends of strokes are verified by the board's position: it checks no lines, but can
 * report it. */
static gboolean proves_strokes(const DtRun *r)
{
    return !r->session->profile->dialect.line_check && dt_session_can_ask(r->session);
}

void dt_run_taken(DtRun *r, const DtSent *line)
{
    r->acked = line->after;
    r->acked_line = line->number;
    if (line->settled && line->after.drawn > r->drawn && !proves_strokes(r))
        dt_run_journal_stroke(r, &line->after);
    if (line->kind != DT_LINE_HOME)
        return;
    journal_homing(r);
    r->unasked = dt_traffic_unasked(r->session->traffic);
    if (r->session->snapshot.state == DT_STATE_HOMING)
        dt_session_enter(r->session, DT_STATE_DRAWING, NULL);
}

/* Sending ----------------------------------------------------------------------------------- */

static gboolean read_ahead(DtRun *r)
{
    if (r->has_line)
        return TRUE;
    g_autoptr(GError) error = NULL;
    do {
        r->before = *dt_program_state(r->program);
        if (!dt_program_next(r->program, &r->line, &error)) {
            if (error != NULL)
                dt_session_trouble(r->session, TROUBLE_PROGRAM, "%s", error->message);
            else
                r->at_end = TRUE;
            return FALSE;
        }
    } while (r->line.kind == DT_LINE_BLANK);
    r->has_line = TRUE;
    return TRUE;
}

static void push_line(DtRun *r, const char *text)
{
    DtSession *s = r->session;
    const DtProgramState *after = dt_program_state(r->program);
    DtSent line = {
        .number = r->line.number,
        .kind = r->line.kind,
        .settled = r->line.kind != DT_LINE_PEN_UP && !after->pen_down,
        .dwell_s = r->line.dwell_s,
        .seconds = r->line.work_s,
        .after = *after,
    };
    if (r->line.kind == DT_LINE_HOME)
        line.seconds = dt_session_home_limit_s(s->profile);
    if (r->line.kind == DT_LINE_MOVE) {
        r->needs_motion = FALSE;
        r->needs_feed = r->needs_feed && after->motion == 0;
    }
    g_strlcpy(line.text, text, sizeof line.text);
    dt_traffic_push(s->traffic, &line, g_get_monotonic_time());
    s->sent = *after;
    s->at_home = FALSE;
    r->has_line = FALSE;
}

static gboolean wants_pause(const DtRun *r)
{
    return !r->before.pen_down && r->line.kind != DT_LINE_DWELL &&
           dt_session_wants(r->session, WANTS(PAUSE_AT_LIFT));
}

/* A board that checks no lines is asked for its position after each stroke: a garbled or lost
 * line shows there, and the stroke is drawn again. */
static void prove_stroke(DtRun *r)
{
    DtSession *s = r->session;
    if (!dt_session_ask(s, 1)) {
        s->reports_no_position = s->trouble == TROUBLE_NONE;
        return;
    }
    const DtPoint to = r->before.at;
    if (!dt_session_stands_at(s, to)) {
        dt_session_trouble(s, TROUBLE_ABANDONED,
                           "stroke %zu ended at X %.3f Y %.3f mm and not at X %.3f Y %.3f mm",
                           r->before.drawn, s->state.x, s->state.y, to.x, to.y);
        return;
    }
    r->proved = r->before.drawn;
    dt_run_journal_stroke(r, &r->before);
}

static gboolean wants_proof(const DtRun *r)
{
    return r->before.drawn > r->proved && !r->before.pen_down && r->line.kind != DT_LINE_DWELL &&
           proves_strokes(r);
}

/* Sends what can be sent now. */
static void fill(DtRun *r)
{
    while (r->session->trouble == TROUBLE_NONE && read_ahead(r)) {
        const gboolean busy = dt_traffic_in_flight(r->session->traffic) > 0;
        if (wants_proof(r)) {
            if (busy)
                return;
            prove_stroke(r);
        } else if (wants_pause(r)) {
            if (busy)
                return;
            dt_run_pause(r);
        } else if (r->line.kind == DT_LINE_STOP) {
            if (busy)
                return;
            dt_run_change_pen(r);
        } else if (r->line.kind == DT_LINE_PEN_DOWN && r->before.drawn > r->drawn) {
            if (busy)
                return;
            dt_run_journal_stroke(r, &r->before);
        } else {
            char text[DT_PROGRAM_LONGEST + 48];
            const gboolean moves = r->line.kind == DT_LINE_MOVE;
            dt_program_restate(r->program, &r->line, r->needs_motion && moves,
                               r->needs_feed && moves, text, sizeof text);
            if (!dt_traffic_has_room(r->session->traffic, text))
                return;
            push_line(r, text);
        }
    }
}

/* A board whose answers have no number may have answered a line twice, which then counts for the
 * next line: with one answer too many, it is uncertain whether the last line was accepted. */
static void check_answers(DtRun *r)
{
    DtSession *s = r->session;
    if (!s->profile->dialect.line_check && dt_traffic_unasked(s->traffic) > r->unasked)
        dt_session_trouble(s, TROUBLE_EXCESS,
                           "the controller has answered more lines than it was sent, so it is not "
                           "certain that it took each of them; look at the sheet");
}

static gboolean draw_all(DtRun *r)
{
    DtSession *s = r->session;
    for (;;) {
        if (dt_session_wants(s, WANTS(PAUSE_NOW)))
            dt_run_hold(r);
        fill(r);
        if (r->at_end && dt_traffic_in_flight(s->traffic) == 0)
            break;
        if (!dt_session_pump(s, G_MAXINT64))
            return FALSE;
    }
    if (s->trouble == TROUBLE_NONE && r->acked.drawn > r->drawn)
        dt_run_journal_stroke(r, &r->acked);
    if (!dt_session_stand_still(s))
        return FALSE;
    check_answers(r);
    return s->trouble == TROUBLE_NONE;
}

/* Start and end ----------------------------------------------------------------------------- */

static void set_id(DtRun *r, gint64 id)
{
    g_mutex_lock(&r->lock);
    r->id = id;
    g_mutex_unlock(&r->lock);
}

static gboolean enter_journal(DtRun *r, GError **error)
{
    const DtProfile *p = r->session->profile;
    if (r->resumed)
        return dt_journal_reopen(r->journal, r->id, r->session->port_path, r->drawn, error);
    g_autofree char *path = g_canonicalize_filename(r->program_path, NULL);
    const DtJournalRun run = {
        .machine = p->name ? p->name : "",
        .profile = p->path ? p->path : "",
        .program = path,
        .sha256 = r->totals.sha256,
        .port = r->session->port_path,
        .strokes = r->totals.strokes,
        .estimate_s = r->totals.seconds,
        .predicted_s = r->totals.seconds * r->pace + r->home_s,
        .total_ink_mm = r->totals.ink_mm,
    };
    set_id(r, dt_journal_begin(r->journal, &run, error));
    return r->id != 0;
}

/* The pen of the next stroke; NULL if the program changes pens before it anyway. */
char *dt_run_next_pen(DtRun *r)
{
    char *name = NULL;
    DtProgramLine line;
    if (!dt_program_seek(r->program, r->drawn, NULL))
        return NULL;
    while (name == NULL && dt_program_next(r->program, &line, NULL) && line.kind != DT_LINE_STOP)
        if (line.kind == DT_LINE_PEN_DOWN)
            name = g_strdup(dt_program_state(r->program)->pen);
    dt_program_seek(r->program, r->drawn, NULL);
    return name;
}

static gboolean confirm_pen(DtRun *r)
{
    DtSession *s = r->session;
    g_autofree char *pen = dt_run_next_pen(r);
    if (pen == NULL || *pen == '\0' || r->options.pens_ready)
        return TRUE;
    r->next_pen = pen;
    dt_session_enter(s, DT_STATE_PEN_CHANGE, NULL);
    const gboolean good = dt_session_wait_for(s, WANTS(GO_ON));
    r->next_pen = NULL;
    return good;
}

/* The comment that named it is before the place at which the run continues. */
static gboolean name_next_pen(DtRun *r)
{
    g_autofree char *pen = dt_run_next_pen(r);
    return pen == NULL || dt_run_name_pen(r, pen);
}

static const char *advice(const DtRun *r)
{
    if (r->id == 0) /* nothing can be resumed */
        return r->session->trouble == TROUBLE_JOURNAL
                   ? _("free disk space or repair the journal, then run it again")
                   : _("correct that, then run it again");
    switch (r->session->trouble) {
    case TROUBLE_REFUSED:
        return _("correct the program or the profile; 'drawtrue inspect' explains such a line");
    case TROUBLE_SWITCH:
        return _("free the axis by hand, check its cord, then 'drawtrue resume'");
    case TROUBLE_JOURNAL:
        return _("free disk space or repair the journal, then 'drawtrue resume'");
    case TROUBLE_UNPLUGGED:
        return _("plug the board in again, then 'drawtrue resume' homes and goes on with the next "
                 "stroke; where the port has another name now, give it with --port");
    case TROUBLE_PROGRAM:
        return _("correct that, then 'drawtrue resume'");
    default:
        return _("'drawtrue resume' homes and goes on with the next stroke");
    }
}

static void set_report(const DtRun *r, gboolean lifted, GError **error)
{
    g_autofree char *drawn = g_strdup_printf(
        _("%zu of %zu strokes are drawn (%.3f m of ink)%s"), r->drawn, r->totals.strokes,
        r->drawn_state.ink_mm / 1000,
        lifted ? "" : _("; the board no longer answers: switch it off and lift the pen by hand"));
    if (r->session->trouble == TROUBLE_STOPPED)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "%s: %s; %s", r->session->trouble_text,
                    drawn, advice(r));
    else
        g_set_error(error, DT_ERROR,
                    r->session->trouble == TROUBLE_JOURNAL ? DT_ERROR_IO : DT_ERROR_INPUT,
                    "%s: %s; %s", r->session->trouble_text, drawn, advice(r));
}

/* Leaves the machine as safe as can be reached. */
static GError *end_in_trouble(DtRun *r)
{
    DtSession *s = r->session;
    const Trouble trouble = s->trouble;
    GError *error = NULL;
    if (trouble == TROUBLE_REFUSED)
        dt_session_tell(s, DT_EVENT_REFUSED, s->trouble_text);
    g_autofree char *text = g_strdup(s->trouble_text), *note = g_strdup(s->trouble_journal);
    dt_session_enter(s, DT_STATE_ENDING, text);
    s->trouble = trouble;
    const gboolean lifted = dt_session_lift_at_last(s, trouble == TROUBLE_STOPPED);
    s->trouble = trouble;
    g_mutex_lock(&s->lock);
    s->snapshot.silent = !lifted;
    g_mutex_unlock(&s->lock);
    g_free(s->trouble_text);
    s->trouble_text = g_steal_pointer(&text);
    set_report(r, lifted, &error);
    dt_journal_end(r->journal, r->id, trouble == TROUBLE_STOPPED ? "stopped" : "broken off", note,
                   elapsed_s(r), NULL);
    return error;
}

/* The journal cannot be written; the machine stands still with its pen up. */
static GError *fail_journal(DtRun *r, GError *problem)
{
    GError *error = NULL;
    dt_session_trouble(r->session, TROUBLE_JOURNAL, "%s", problem->message);
    g_error_free(problem);
    set_report(r, TRUE, &error);
    return error;
}

/* NULL where all is drawn. */
static GError *draw(DtRun *r)
{
    DtSession *s = r->session;
    const size_t from = r->drawn;
    GError *problem = NULL;
    s->trouble = TROUBLE_NONE;
    s->person_us = 0;
    r->start_us = g_get_monotonic_time();
    if (s->port == NULL && !dt_session_connect(s, &problem)) {
        dt_session_close(s);
        return problem;
    }
    if (!enter_journal(r, &problem))
        return fail_journal(r, problem);
    const gboolean from_start = !r->resumed && from == 0;
    gboolean good = (!s->profile->dialect.settings || dt_session_compare_settings(s)) &&
                    (from_start || confirm_pen(r)) && dt_run_bring_up(r, from) &&
                    ((from_start && !r->options.names_pens) || name_next_pen(r));
    if (good && s->homed)
        dt_session_enter(s, DT_STATE_DRAWING, NULL);
    r->start_us = s->answered_us = g_get_monotonic_time();
    s->person_us = 0;
    for (;;) {
        if (good && draw_all(r))
            break;
        good = dt_run_recover(r);
        if (!good)
            return end_in_trouble(r);
    }
    if (!dt_journal_end(r->journal, r->id, "done", "", elapsed_s(r), &problem))
        return fail_journal(r, problem);
    s->homed = FALSE; /* its last line switches the motors off */
    return NULL;
}

static DtState end_state(const GError *error)
{
    return error == NULL                                              ? DT_STATE_DONE
           : g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED) ? DT_STATE_STOPPED
                                                                      : DT_STATE_FAILED;
}

static void note_end(const DtSnapshot *last, gpointer data)
{
    DtRun *r = data;
    g_mutex_lock(&r->lock);
    r->last = *last;
    r->ended = TRUE;
    g_cond_broadcast(&r->ended_cond);
    g_mutex_unlock(&r->lock);
}

static void draw_task(DtSession *s, gpointer data)
{
    DtRun *r = data;
    g_mutex_lock(&s->lock);
    s->run = r;
    g_mutex_unlock(&s->lock);
    r->result = draw(r);
    if (r->result != NULL)
        dt_session_close(s);
    const DtTaskEnd end = {.state = end_state(r->result),
                           .error = r->result,
                           .cause = r->result != NULL ? s->trouble_text : NULL,
                           .ended = note_end,
                           .data = r};
    dt_session_finish(s, &end, NULL);
}

/* The first objection that has not been accepted; NULL if there is none. */
static const DtConcern *objection(const DtRun *r, guint accepted)
{
    for (guint i = 0; i < r->concerns->len; i++) {
        const DtConcern *c = &g_array_index(r->concerns, DtConcern, i);
        if (c->rank == DT_CONCERN_OBJECTION && !(accepted & 1u << c->kind))
            return c;
    }
    return NULL;
}

gboolean dt_run_start(DtRun *r, guint accepted, GError **error)
{
    const DtConcern *c = objection(r, accepted);
    if (c != NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the program was made for another machine, which was not accepted",
                    c->program);
        return FALSE;
    }
    if (r->started) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "the run was started before");
        return FALSE;
    }
    r->started = dt_session_begin(r->session, DT_STATE_OPENING, draw_task, r, error);
    return r->started;
}

gboolean dt_run_wait(DtRun *r, GError **error)
{
    g_mutex_lock(&r->lock);
    while (!r->ended)
        g_cond_wait(&r->ended_cond, &r->lock);
    GError *result = r->result ? g_error_copy(r->result) : NULL;
    g_mutex_unlock(&r->lock);
    if (result == NULL)
        return TRUE;
    g_propagate_error(error, result);
    return FALSE;
}

void dt_run_snapshot(DtRun *r, DtSnapshot *out)
{
    dt_session_snapshot(r->session, out);
    g_mutex_lock(&r->lock);
    if (r->ended)
        *out = r->last;
    g_mutex_unlock(&r->lock);
}

gboolean dt_run_request(DtRun *r, DtRequest request, guint serial)
{
    g_mutex_lock(&r->lock);
    const gboolean ended = r->ended;
    g_mutex_unlock(&r->lock);
    return r->started && !ended && dt_session_request(r->session, request, serial);
}

DtSession *dt_run_session(const DtRun *r)
{
    return r->session;
}

gint64 dt_run_id(DtRun *r)
{
    g_mutex_lock(&r->lock);
    const gint64 id = r->id;
    g_mutex_unlock(&r->lock);
    return id;
}

const char *dt_run_program(const DtRun *r)
{
    return r->program_path;
}

double dt_run_journal_s(const DtRun *r)
{
    return dt_journal_spent_s(r->journal);
}
