/* begin: a run before it starts: checks the program, opens the journal, and lists what a person
 * should know. */
#include "link/run.h"

#include "drawtrue/code.h"
#include "drawtrue/link.h"
#include "drawtrue/sheet-log.h"

#include <glib/gstdio.h>
#include <string.h>

/* Concerns ---------------------------------------------------------------------------------- */

void dt_concern_clear(DtConcern *c)
{
    g_free(c->program);
    g_free(c->made_for);
    g_free(c->machine);
    g_free(c->profile);
    g_free(c->sheet);
    g_free(c->pen_name);
}

/* Appends a new one, with the fields that all have. */
static DtConcern *add(DtRun *r, DtConcernKind kind, DtConcernRank rank)
{
    const DtProfile *p = r->session->profile;
    const DtConcern c = {
        .kind = kind,
        .rank = rank,
        .program = g_strdup(r->program_path),
        .machine = g_strdup(p->name ? p->name : ""),
        .profile = g_strdup(p->path),
        .pen = -1,
        .strokes = r->totals.strokes,
    };
    g_array_append_val(r->concerns, c);
    return &g_array_index(r->concerns, DtConcern, r->concerns->len - 1);
}

static void compare_machine(DtRun *r)
{
    const char *made_for = dt_program_made_for(r->program);
    const DtProfile *p = r->session->profile;
    const gboolean own = dt_code_is_made_for(made_for, p);
    if (!own || !dt_code_is_made_with(made_for, p))
        add(r, DT_CONCERN_OTHER_MACHINE, own ? DT_CONCERN_DOUBT : DT_CONCERN_OBJECTION)->made_for =
            g_strdup(made_for);
}

/* A program contains the corrections of the profile that it was made with. */
static void compare_times(DtRun *r)
{
    const char *profile = r->session->profile->path;
    GStatBuf made, changed;
    if (profile == NULL || g_stat(profile, &changed) != 0 || g_stat(r->program_path, &made) != 0 ||
        changed.st_mtime <= made.st_mtime)
        return;
    DtConcern *c = add(r, DT_CONCERN_PROFILE_CHANGED, DT_CONCERN_DOUBT);
    c->program_time = made.st_mtime;
    c->profile_time = changed.st_mtime;
}

static const double least_off_paper = 0.5; /* mm of ink */

static DtConcern *add_sheet(DtRun *r, DtConcernKind kind, DtConcernRank rank)
{
    const DtProfile *p = r->session->profile;
    const DtStatedPaper *own = &r->totals.paper;
    const char *name = own->stated ? own->name : p->paper_name;
    DtConcern *c = add(r, kind, rank);
    c->sheet = g_strdup(name && *name ? name : "sheet");
    c->sheet_w = own->stated ? own->w : p->paper_w;
    c->sheet_h = own->stated ? own->h : p->paper_h;
    c->sheet_at = own->stated ? own->at : p->paper_at;
    c->sheet_turn = own->stated ? own->turn : p->paper_turn;
    return c;
}

static void note_off_paper(DtRun *r)
{
    if (r->totals.off_paper_mm < least_off_paper)
        return;
    /* a program without comments cannot state its own paper, so that its ink may well be where it belongs */
    const gboolean certain = dt_code_has_heads(r->session->profile);
    DtConcern *c = add_sheet(r, DT_CONCERN_OFF_PAPER, certain ? DT_CONCERN_DOUBT : DT_CONCERN_NOTE);
    c->off_paper_mm = r->totals.off_paper_mm;
    c->ink_mm = r->totals.ink_mm;
}

static void note_pen(DtRun *r)
{
    g_autofree char *name = dt_run_next_pen(r);
    if (name == NULL || *name == '\0')
        return;
    const DtRack *rack = &r->session->profile->rack;
    DtConcern *c = add(r, DT_CONCERN_PEN, DT_CONCERN_NOTE);
    c->pen = dt_rack_find_spelled(rack, name);
    c->pen_name = c->pen >= 0 ? g_strdup(rack->pens[c->pen].name) : g_steal_pointer(&name);
}

/* If it costs at least a hundredth of the time, or a stop in mid-stroke. */
static void note_wire(DtRun *r)
{
    const DtProgramTotals *t = &r->totals;
    if (t->starved == 0 && t->held_up_s <= 0.01 * t->seconds)
        return;
    DtConcern *c = add(r, DT_CONCERN_WIRE, DT_CONCERN_NOTE);
    c->held_up_s = t->held_up_s;
    c->starved = t->starved;
    c->total_s = t->seconds;
}

static gboolean is_known(const DtRun *r)
{
    g_auto(DtLog) log = {0};
    if (!dt_log_read(r->journal_path, &log, NULL))
        return TRUE; /* it cannot be known */
    for (size_t i = 0; i < log.n_runs; i++)
        if (g_strcmp0(log.runs[i].machine, r->session->profile->name) == 0)
            return TRUE;
    return FALSE;
}

void dt_run_find_concerns(DtRun *r)
{
    DtSnapshot now;
    dt_session_snapshot(r->session, &now);
    compare_machine(r);
    if (!r->resumed)
        compare_times(r);
    if (!is_known(r))
        add(r, DT_CONCERN_FIRST_RUN, DT_CONCERN_NOTE);
    if (!r->resumed)
        add_sheet(r, DT_CONCERN_SHEET, DT_CONCERN_NOTE);
    if (!r->resumed)
        note_off_paper(r);
    if (!r->resumed)
        note_pen(r); /* a resume waits for it */
    note_wire(r);
    if (r->totals.strokes > 0 && dt_code_cannot_wait(r->session->profile))
        add(r, DT_CONCERN_UNWAITED, DT_CONCERN_NOTE);
    if (!now.homed)
        add(r, DT_CONCERN_HOMES, DT_CONCERN_NOTE);
    if (r->resumed) {
        DtConcern *c = add(r, DT_CONCERN_RESUMES, DT_CONCERN_NOTE);
        c->run = r->id;
        c->stroke = MIN(r->drawn + 1, r->totals.strokes);
    }
}

const DtConcern *dt_run_concerns(const DtRun *r, size_t *n)
{
    *n = r->concerns->len;
    return (const DtConcern *)r->concerns->data;
}

/* Life -------------------------------------------------------------------------------------- */

DtRun *dt_run_ref(DtRun *r)
{
    g_atomic_ref_count_inc(&r->refs);
    return r;
}

void dt_run_unref(DtRun *r)
{
    if (r == NULL || !g_atomic_ref_count_dec(&r->refs))
        return;
    if (r->started) {
        dt_run_request(r, DT_REQUEST_STOP, 0);
        dt_run_wait(r, NULL);
    }
    dt_program_close(r->program);
    dt_journal_close(r->journal);
    if (r->concerns != NULL)
        g_array_unref(r->concerns);
    g_clear_error(&r->result);
    g_mutex_clear(&r->lock);
    g_cond_clear(&r->ended_cond);
    g_free(r->journal_path);
    g_free(r->program_path);
    dt_session_unref(r->session);
    g_free(r);
}

static void predict_from_past(DtRun *r)
{
    const DtProfile *p = r->session->profile;
    const char *name = p->name ? p->name : "";
    r->pace = dt_journal_pace(r->journal, name);
    r->home_s = dt_journal_home_s(r->journal, name);
    if (r->home_s < 0)
        r->home_s = dt_machine_home_s(p);
}

/* Takes ownership of the journal; NULL: it is opened once the program is known to be good. */
static DtRun *new_run(DtSession *s, const char *program_path, const DtRunOptions *o,
                      DtJournal *journal, GError **error)
{
    g_autoptr(DtRun) r = g_new0(DtRun, 1);
    g_atomic_ref_count_init(&r->refs);
    g_mutex_init(&r->lock);
    g_cond_init(&r->ended_cond);
    r->session = dt_session_ref(s);
    r->journal = journal;
    r->options = *o;
    r->journal_path = g_strdup(o->journal);
    r->options.journal = r->journal_path;
    r->program_path = g_strdup(program_path);
    r->concerns = g_array_new(FALSE, TRUE, sizeof(DtConcern));
    g_array_set_clear_func(r->concerns, (GDestroyNotify)dt_concern_clear);
    r->program = dt_program_open(s->profile, program_path, error);
    if (r->program == NULL)
        return NULL;
    if (dt_sheet_log_is_sheet(r->journal_path, s->profile, program_path))
        dt_program_let_try_limits(r->program);
    if (!dt_program_check(r->program, o->doubts, &r->totals, error))
        return NULL;
    if (r->journal == NULL)
        r->journal = dt_journal_open(o->journal, error);
    if (r->journal == NULL)
        return NULL;
    predict_from_past(r);
    return g_steal_pointer(&r);
}

DtRun *dt_run_new(DtSession *s, const char *program_path, const DtRunOptions *o, GError **error)
{
    if (!dt_session_has_port(s)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "a run needs a port");
        return NULL;
    }
    g_autoptr(DtRun) r = new_run(s, program_path, o, NULL, error);
    if (r == NULL)
        return NULL;
    if (o->skip_strokes > 0) {
        r->drawn = MIN(o->skip_strokes, r->totals.strokes);
        if (!dt_program_seek(r->program, r->drawn, error))
            return NULL;
        r->drawn_state = r->acked = *dt_program_state(r->program);
    }
    dt_run_find_concerns(r);
    return g_steal_pointer(&r);
}

static gboolean is_same_program(const DtRun *r, const DtJournalRun *run, GError **error)
{
    if (strcmp(r->totals.sha256, run->sha256) == 0)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: the file is not the one that run %" PRId64
                " was drawing; it was changed since",
                run->program, run->id);
    return FALSE;
}

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

/* Of a place given from the lower left corner of the sheet. */
static DtPoint place_on_bed(const DtRun *r, DtPoint on_sheet)
{
    g_autoptr(DtProfile) p = dt_profile_copy(r->session->profile);
    dt_code_take_paper(&r->totals.paper, p);
    const DtPoint turned = dt_affine_apply(dt_affine_rotate(p->paper_turn), on_sheet);
    return dt_point_add(p->paper_at, turned);
}

DtRun *dt_run_resume(DtSession *s, const DtResume *from, const DtRunOptions *o, GError **error)
{
    const DtProfile *p = s->profile;
    g_autoptr(DtJournal) journal = dt_journal_open(o->journal, error);
    g_auto(DtJournalRun) old = {0};
    if (journal == NULL || !dt_journal_read(journal, from->run, &old, error))
        return NULL;
    if (g_strcmp0(old.status, "done") == 0 && from->back_strokes == 0 && !(from->back_mm > 0) &&
        !from->from_place) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "run %" PRId64 " is finished; 'drawtrue run %s' draws it again, --back its "
                    "last strokes",
                    old.id, old.program);
        return NULL;
    }
    g_autoptr(DtRun) r = new_run(s, old.program, o, g_steal_pointer(&journal), error);
    size_t back = from->back_strokes;
    if (r == NULL || !is_same_program(r, &old, error))
        return NULL;
    const DtPoint place = from->on_sheet ? place_on_bed(r, from->place) : from->place;
    if (from->from_place && !strokes_behind(p, &old, place, &back, error))
        return NULL;
    if (from->back_mm > 0)
        back = MAX(back, dt_journal_strokes_in(r->journal, old.id, old.drawn, from->back_mm));
    r->id = old.id;
    r->resumed = TRUE;
    r->drawn = old.drawn - MIN(back, old.drawn);
    if (!dt_program_seek(r->program, r->drawn, error))
        return NULL;
    r->drawn_state = r->acked = *dt_program_state(r->program);
    r->earlier_s = old.time_s;
    if (!dt_session_has_port(s))
        dt_session_set_port(s, old.port);
    dt_run_find_concerns(r);
    return g_steal_pointer(&r);
}
