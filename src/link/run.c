/* run: draws a program, stroke by stroke.
 *
 * The rule that makes a run safe: no pen goes down before the stroke drawn last is in the journal.
 * Whatever happens then, at most the stroke at hand is not recorded, and at most that one is drawn
 * again. */
#include "link/runner.h"

#include <gio/gio.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

/* Life -------------------------------------------------------------------------------------- */

void dt_run_free(DtRunner *r)
{
    if (r == NULL)
        return;
    dt_program_close(r->program);
    dt_journal_close(r->journal);
    dt_port_close(r->port);
    dt_traffic_free(r->traffic);
    if (r->wake >= 0)
        close(r->wake);
    g_clear_error(&r->failure);
    g_free(r->trouble_text);
    g_free(r->program_path);
    g_free(r->port_path);
    g_free(r);
}

/* "NAME, profile FILE": whether the machine is that of the profile. */
static gboolean is_machine(const char *made_for, const char *name)
{
    const gsize n = strlen(name);
    return n == 0 || *made_for == '\0' ||
           (strncmp(made_for, name, n) == 0 && (made_for[n] == ',' || made_for[n] == '\0'));
}

static char *misfit(const DtProfile *p, const char *made_for)
{
    const char *name = p->name ? p->name : "";
    const char *end = strstr(made_for, ", profile ");
    if (is_machine(made_for, name))
        return NULL;
    return g_strdup_printf(
        "made for the machine '%.*s'%s%s, and this is '%s', profile %s; its corrections, travel "
        "and speeds may be others%s",
        end ? (int)(end - made_for) : (int)strlen(made_for), made_for, end ? " with" : "",
        end ? end + 1 : "", name, p->path ? p->path : "built in",
        p->path ? "" : " (--machine FILE gives the right profile)");
}

char *dt_link_misfit(const DtProfile *p, const char *program_path, GError **error)
{
    g_autoptr(DtProgram) g = dt_program_open(p, program_path, error);
    DtProgramLine line;
    while (g != NULL && *dt_program_made_for(g) == '\0' && dt_program_next(g, &line, NULL) &&
           line.kind == DT_LINE_BLANK)
        ;
    return g != NULL ? misfit(p, dt_program_made_for(g)) : NULL;
}

static gboolean made_for_this(const DtRunner *r, GError **error)
{
    g_autofree char *text = misfit(r->profile, dt_program_made_for(r->program));
    if (text == NULL || r->options.other_machine)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", r->program_path, text);
    return FALSE;
}

static void learn_from_past(DtRunner *r)
{
    const char *name = r->profile->name ? r->profile->name : "";
    r->pace = dt_journal_pace(r->journal, name);
    r->home_s = dt_journal_home_s(r->journal, name);
    if (r->home_s < 0)
        r->home_s = dt_machine_home_s(r->profile);
}

/* Takes the journal over; NULL: it is opened once the program is known to be good. */
static DtRunner *new_runner(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                            DtJournal *journal, GError **error)
{
    g_autoptr(DtRunner) r = g_new0(DtRunner, 1);
    r->journal = journal;
    r->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    r->profile = p;
    r->options = *o;
    r->pace = 1;
    r->program_path = g_strdup(program_path);
    r->program = dt_program_open(p, program_path, error);
    if (r->program == NULL || !dt_program_check(r->program, o->doubts, &r->totals, error) ||
        !made_for_this(r, error))
        return NULL;
    r->traffic = dt_traffic_new(&p->dialect, &dt_runner_traffic_events, r);
    if (r->journal == NULL)
        r->journal = dt_journal_open(o->journal, error);
    if (r->journal == NULL)
        return NULL;
    learn_from_past(r);
    return g_steal_pointer(&r);
}

DtRunner *dt_run_new(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                     GError **error)
{
    if (o->port == NULL || *o->port == '\0') {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "a run needs a port");
        return NULL;
    }
    DtRunner *r = new_runner(p, program_path, o, NULL, error);
    if (r != NULL)
        r->port_path = g_strdup(o->port);
    return r;
}

static gboolean is_same_program(const DtRunner *r, const DtJournalRun *run, GError **error)
{
    if (strcmp(r->totals.sha256, run->sha256) == 0)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: the file is not the one that run %" G_GINT64_FORMAT
                " was drawing; it was changed since",
                run->program, run->id);
    return FALSE;
}

/* How far to go back before going on. */
typedef struct {
    size_t strokes;
    double mm;
    const DtPoint *place; /* on the bed, or NULL */
} Back;

static const double pointing_tolerance = 5; /* mm */

static gboolean strokes_behind(const DtProfile *p, const DtJournalRun *old, DtPoint place,
                               size_t *back, GError **error)
{
    DtStrokeAt at;
    if (!dt_link_stroke_at(p, old->program, place, &at, error))
        return FALSE;
    if (at.away_mm > pointing_tolerance)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "no ink lies within %g mm of that place; stroke %zu, %.1f mm away, is the "
                    "nearest",
                    pointing_tolerance, at.stroke, at.away_mm);
    else if (at.stroke > old->drawn)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "stroke %zu lies there, and only %zu are drawn; without a place the run goes "
                    "on with the next one",
                    at.stroke, old->drawn);
    else
        *back = old->drawn - (at.stroke - 1);
    return at.away_mm <= pointing_tolerance && at.stroke <= old->drawn;
}

static DtRunner *resume(const DtProfile *p, gint64 run, Back to, const DtRunOptions *o,
                        GError **error)
{
    g_autoptr(DtJournal) journal = dt_journal_open(o->journal, error);
    g_auto(DtJournalRun) old = {0};
    if (journal == NULL || !dt_journal_read(journal, run, &old, error))
        return NULL;
    g_autoptr(DtRunner) r = new_runner(p, old.program, o, g_steal_pointer(&journal), error);
    size_t back = to.strokes;
    if (r == NULL || !is_same_program(r, &old, error) ||
        (to.place != NULL && !strokes_behind(p, &old, *to.place, &back, error)))
        return NULL;
    if (to.mm > 0)
        back = MAX(back, dt_journal_strokes_in(r->journal, old.id, old.drawn, to.mm));
    r->id = old.id;
    r->resumed = TRUE;
    r->drawn = old.drawn - MIN(back, old.drawn);
    if (!dt_program_seek(r->program, r->drawn, error))
        return NULL;
    r->drawn_state = r->acked = *dt_program_state(r->program);
    r->earlier_s = old.time_s;
    r->port_path = g_strdup(o->port != NULL && *o->port != '\0' ? o->port : old.port);
    return g_steal_pointer(&r);
}

DtRunner *dt_run_resume(const DtProfile *p, gint64 run, size_t back_strokes, double back_mm,
                        const DtRunOptions *o, GError **error)
{
    return resume(p, run, (Back){back_strokes, back_mm, NULL}, o, error);
}

DtRunner *dt_run_resume_at(const DtProfile *p, gint64 run, DtPoint place, const DtRunOptions *o,
                           GError **error)
{
    return resume(p, run, (Back){.place = &place}, o, error);
}

gint64 dt_run_id(const DtRunner *r)
{
    return r->id;
}

const char *dt_run_program(const DtRunner *r)
{
    return r->program_path;
}

size_t dt_run_strokes(const DtRunner *r, size_t *drawn)
{
    *drawn = r->drawn;
    return r->totals.strokes;
}

double dt_run_journal_s(const DtRunner *r)
{
    return dt_journal_spent_s(r->journal);
}

/* Only what a signal handler may do. */
static void wish(DtRunner *r, int add, int drop)
{
    g_atomic_int_and((guint *)&r->wishes, (guint)~drop);
    g_atomic_int_or((guint *)&r->wishes, (guint)add);
    const uint64_t one = 1;
    if (write(r->wake, &one, sizeof one) < 0)
        return; /* it is full of wake-ups already */
}

void dt_run_go_on(DtRunner *r)
{
    wish(r, WISH_GO_ON, WISH_PAUSE_AT_LIFT | WISH_PAUSE_NOW | WISH_PARK);
}

void dt_run_pause_at_lift(DtRunner *r)
{
    wish(r, WISH_PAUSE_AT_LIFT, WISH_GO_ON);
}

void dt_run_pause_now(DtRunner *r)
{
    wish(r, *r->profile->dialect.hold != '\0' ? WISH_PAUSE_NOW : WISH_PAUSE_AT_LIFT, WISH_GO_ON);
}

void dt_run_pause_at_change(DtRunner *r)
{
    wish(r, WISH_PAUSE_AT_CHANGE, 0);
}

void dt_run_park(DtRunner *r)
{
    wish(r, WISH_PARK | WISH_PAUSE_AT_LIFT, WISH_GO_ON);
}

void dt_run_stop(DtRunner *r)
{
    wish(r, WISH_STOP, 0);
}

/* Sending ----------------------------------------------------------------------------------- */

static gboolean read_ahead(DtRunner *r)
{
    if (r->has_line)
        return TRUE;
    g_autoptr(GError) error = NULL;
    do {
        r->before = *dt_program_state(r->program);
        if (!dt_program_next(r->program, &r->line, &error)) {
            if (error != NULL)
                dt_runner_trouble(r, TROUBLE_PROGRAM, "%s", error->message);
            else
                r->at_end = TRUE;
            return FALSE;
        }
    } while (r->line.kind == DT_LINE_BLANK);
    r->has_line = TRUE;
    return TRUE;
}

static void push_line(DtRunner *r, const char *text)
{
    const DtProgramState *after = dt_program_state(r->program);
    DtSent s = {
        .number = r->line.number,
        .kind = r->line.kind,
        .settled = r->line.kind != DT_LINE_PEN_UP && !after->pen_down,
        .dwell_s = r->line.dwell_s,
        .seconds = r->line.work_s,
        .after = *after,
    };
    if (r->line.kind == DT_LINE_HOME)
        s.seconds = dt_runner_home_s(r);
    if (r->line.kind == DT_LINE_MOVE) {
        r->needs_motion = FALSE;
        r->needs_feed = r->needs_feed && after->motion == 0;
    }
    g_strlcpy(s.text, text, sizeof s.text);
    dt_traffic_push(r->traffic, &s, g_get_monotonic_time());
    r->told = *after;
    r->at_home = FALSE;
    r->has_line = FALSE;
}

static gboolean wants_pause(const DtRunner *r)
{
    return (g_atomic_int_get(&r->wishes) & WISH_PAUSE_AT_LIFT) && !r->before.pen_down &&
           r->line.kind != DT_LINE_DWELL;
}

/* A board that checks no lines is asked where it stands when a stroke is drawn: a garbled or lost
 * line shows there, and the stroke is drawn again. */
static void prove_stroke(DtRunner *r)
{
    if (!dt_runner_ask(r, 1)) {
        r->tells_nothing = r->trouble == TROUBLE_NONE;
        return;
    }
    const DtPoint to = r->before.at;
    if (!dt_runner_stands_at(r, to)) {
        dt_runner_trouble(r, TROUBLE_ABANDONED,
                          "stroke %zu ended at X %.3f Y %.3f mm and not at X %.3f Y %.3f mm",
                          r->before.drawn, r->state.x, r->state.y, to.x, to.y);
        return;
    }
    r->proved = r->before.drawn;
    dt_runner_journal_stroke(r, &r->before);
}

static gboolean wants_proof(const DtRunner *r)
{
    return r->before.drawn > r->proved && !r->before.pen_down && r->line.kind != DT_LINE_DWELL &&
           dt_runner_proves_strokes(r);
}

static gboolean is_move(const DtRunner *r)
{
    return r->line.kind == DT_LINE_MOVE;
}

/* Sends what may be sent now. */
static void fill(DtRunner *r)
{
    while (r->trouble == TROUBLE_NONE && read_ahead(r)) {
        const gboolean busy = dt_traffic_in_flight(r->traffic) > 0;
        if (wants_proof(r)) {
            if (busy)
                return;
            prove_stroke(r);
        } else if (wants_pause(r)) {
            if (busy)
                return;
            dt_runner_pause(r);
        } else if (r->line.kind == DT_LINE_STOP) {
            if (busy)
                return;
            dt_runner_change_pen(r);
        } else if (r->line.kind == DT_LINE_PEN_DOWN && r->before.drawn > r->drawn) {
            if (busy)
                return;
            dt_runner_journal_stroke(r, &r->before);
        } else {
            char text[DT_PROGRAM_LONGEST + 48];
            dt_program_restate(r->program, &r->line, r->needs_motion && is_move(r),
                               r->needs_feed && is_move(r), text, sizeof text);
            if (!dt_traffic_has_room(r->traffic, text))
                return;
            push_line(r, text);
        }
    }
}

static gboolean draw_all(DtRunner *r)
{
    for (;;) {
        if (g_atomic_int_get(&r->wishes) & WISH_PAUSE_NOW)
            dt_runner_hold(r);
        fill(r);
        if (r->at_end && dt_traffic_in_flight(r->traffic) == 0)
            break;
        if (!dt_runner_pump(r, G_MAXINT64))
            return FALSE;
    }
    if (r->trouble == TROUBLE_NONE && r->acked.drawn > r->drawn)
        dt_runner_journal_stroke(r, &r->acked);
    return dt_runner_stand_still(r) && r->trouble == TROUBLE_NONE;
}

/* Start and end ----------------------------------------------------------------------------- */

static gboolean enter_journal(DtRunner *r, GError **error)
{
    if (r->resumed)
        return dt_journal_reopen(r->journal, r->id, r->port_path, r->drawn, error);
    g_autofree char *path = g_canonicalize_filename(r->program_path, NULL);
    const DtProfile *p = r->profile;
    const DtJournalRun run = {
        .machine = p->name ? p->name : "",
        .profile = p->path ? p->path : "",
        .program = path,
        .sha256 = r->totals.sha256,
        .port = r->port_path,
        .strokes = r->totals.strokes,
        .estimate_s = r->totals.seconds,
        .told_s = r->totals.seconds * r->pace + r->home_s,
        .total_ink_mm = r->totals.ink_mm,
    };
    r->id = dt_journal_begin(r->journal, &run, error);
    return r->id != 0;
}

/* The pen that goes on after a resume; NULL where the program changes pens there anyway. */
static char *next_pen(DtRunner *r)
{
    char *name = NULL;
    DtProgramLine line;
    if (!dt_program_seek(r->program, r->drawn, NULL))
        return NULL;
    while (name == NULL && dt_program_next(r->program, &line, NULL) && line.kind != DT_LINE_STOP)
        if (line.kind == DT_LINE_PEN_DOWN)
            name = g_strdup(dt_program_state(r->program)->pen);
    return name;
}

static gboolean confirm_pen(DtRunner *r)
{
    g_autofree char *pen = next_pen(r);
    if (pen == NULL || *pen == '\0' || r->options.pens_ready)
        return TRUE;
    g_strlcpy(r->before.pen, pen, sizeof r->before.pen);
    dt_runner_take_wish(r, WISH_GO_ON);
    dt_runner_tell(r, DT_RUN_PEN_CHANGE, "make sure that it is in");
    return dt_runner_wait_for(r, WISH_GO_ON);
}

static const char *advice(const DtRunner *r)
{
    switch (r->trouble) {
    case TROUBLE_REFUSED:
        return "correct the program or the profile; 'drawtrue inspect' explains such a line";
    case TROUBLE_SWITCH:
        return "free the axis by hand, look whether its cord is sound, then 'drawtrue resume'";
    case TROUBLE_JOURNAL:
        return "make room or put the journal right, then 'drawtrue resume'";
    case TROUBLE_UNPLUGGED:
        return "plug the board in again, then 'drawtrue resume' homes and goes on with the next "
               "stroke; where the port has another name now, give it with --port";
    case TROUBLE_PROGRAM:
        return "put that right, then 'drawtrue resume'";
    default:
        return "'drawtrue resume' homes and goes on with the next stroke";
    }
}

static void set_report(const DtRunner *r, gboolean lifted, GError **error)
{
    g_autofree char *drawn = g_strdup_printf(
        "%zu of %zu strokes are drawn (%.3f m of ink)%s", r->drawn, r->totals.strokes,
        r->drawn_state.ink_mm / 1000,
        lifted ? "" : "; the board no longer answers: switch it off and lift the pen by hand");
    if (r->trouble == TROUBLE_STOPPED)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "%s: %s; %s", r->trouble_text, drawn,
                    advice(r));
    else
        g_set_error(error, DT_ERROR, r->trouble == TROUBLE_JOURNAL ? DT_ERROR_IO : DT_ERROR_INPUT,
                    "%s: %s; %s", r->trouble_text, drawn, advice(r));
}

static double elapsed_s(const DtRunner *r)
{
    return r->earlier_s + (double)(g_get_monotonic_time() - r->start_us) / 1e6;
}

static void end_in_trouble(DtRunner *r, GError **error)
{
    const Trouble trouble = r->trouble;
    if (trouble == TROUBLE_REFUSED)
        dt_runner_tell(r, DT_RUN_REFUSED, r->trouble_text);
    g_autofree char *text = g_strdup(r->trouble_text);
    const gboolean lifted = dt_runner_lift_at_last(r, trouble == TROUBLE_STOPPED);
    r->trouble = trouble;
    g_free(r->trouble_text);
    r->trouble_text = g_steal_pointer(&text);
    set_report(r, lifted, error);
    dt_journal_end(r->journal, r->id, trouble == TROUBLE_STOPPED ? "stopped" : "broken off",
                   r->trouble_text, elapsed_s(r), NULL);
}

/* The journal cannot be written while the machine stands with its pen up. */
static gboolean fail_journal(DtRunner *r, GError *problem, GError **error)
{
    dt_runner_trouble(r, TROUBLE_JOURNAL, "%s", problem->message);
    g_error_free(problem);
    set_report(r, TRUE, error);
    return FALSE;
}

gboolean dt_run_draw(DtRunner *r, GError **error)
{
    const size_t from = r->drawn;
    GError *problem = NULL;
    r->start_us = g_get_monotonic_time();
    if (!dt_runner_connect(r, error))
        return FALSE;
    if (!enter_journal(r, &problem))
        return fail_journal(r, problem, error);
    gboolean good = (!r->resumed || confirm_pen(r)) && dt_runner_bring_up(r, from);
    r->start_us = r->answered_us = g_get_monotonic_time();
    for (;;) {
        if (good && draw_all(r))
            break;
        good = dt_runner_recover(r);
        if (!good) {
            end_in_trouble(r, error);
            return FALSE;
        }
    }
    if (!dt_journal_end(r->journal, r->id, "done", "", elapsed_s(r), &problem))
        return fail_journal(r, problem, error);
    dt_runner_tell(r, DT_RUN_DONE, NULL);
    return TRUE;
}

gboolean dt_link_run(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                     GError **error)
{
    g_autoptr(DtRunner) r = dt_run_new(p, program_path, o, error);
    return r != NULL && dt_run_draw(r, error);
}
