/* tell: the desk's state as JSON, part by part. */
#include "desk/private.h"

#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <math.h>
#include <string.h>

static void add_point(JsonBuilder *b, const char *name, DtPoint p)
{
    dt_json_numbers(b, name, (double[]){p.x, p.y}, 2);
}

static void add_box(JsonBuilder *b, const char *name, DtBox box)
{
    dt_json_numbers(b, name, (double[]){box.x0, box.y0, box.x1, box.y1}, 4);
}

/* JSON made by a report, as a member. */
static void add_report(JsonBuilder *b, const char *name, const char *json)
{
    g_autoptr(JsonNode) node = json ? json_from_string(json, NULL) : NULL;
    json_builder_set_member_name(b, name);
    if (node != NULL)
        json_builder_add_value(b, g_steal_pointer(&node));
    else
        json_builder_add_null_value(b);
}

static void begin(JsonBuilder *b, const char *name)
{
    json_builder_set_member_name(b, name);
    json_builder_begin_object(b);
}

/* Machine ----------------------------------------------------------------------------------- */

static void add_pens(JsonBuilder *b, const DtRack *rack)
{
    dt_json_begin_array(b, "pens");
    for (size_t i = 0; i < rack->n; i++) {
        const DtPen *pen = &rack->pens[i];
        g_autofree char *colour =
            g_strdup_printf("#%02lx%02lx%02lx", lround(pen->colour.r * 255),
                            lround(pen->colour.g * 255), lround(pen->colour.b * 255));
        json_builder_begin_object(b);
        dt_json_text(b, "name", pen->name);
        dt_json_text(b, "colour", colour);
        dt_json_number(b, "tip_mm", pen->tip);
        dt_json_number(b, "life_mm", pen->tip_life);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_ports(JsonBuilder *b, const DtDesk *d)
{
    size_t n;
    DtLinkPort *ports = dt_link_ports(&n);
    dt_json_begin_array(b, "ports");
    if (d->given_port != NULL) {
        json_builder_begin_object(b);
        dt_json_text(b, "path", d->given_port);
        dt_json_text(b, "text", d->is_rig ? _("the virtual machine") : _("given at the start"));
        json_builder_end_object(b);
    }
    for (size_t i = 0; i < n; i++) {
        if (g_strcmp0(ports[i].path, d->given_port) == 0)
            continue;
        json_builder_begin_object(b);
        dt_json_text(b, "path", ports[i].path);
        dt_json_text(b, "text", ports[i].text);
        json_builder_end_object(b);
    }
    dt_link_ports_free(ports, n);
    json_builder_end_array(b);
}

static void add_profiles(JsonBuilder *b, DtDesk *d)
{
    g_auto(GStrv) paths = dt_desk_profiles(d);
    dt_json_begin_array(b, "profiles");
    for (char **p = paths; *p != NULL; p++) {
        g_autofree char *name = g_path_get_basename(*p);
        json_builder_begin_object(b);
        dt_json_text(b, "path", *p);
        dt_json_text(b, "name", name);
        dt_json_flag(b, "current", g_strcmp0(*p, d->profile->path) == 0);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_machine(JsonBuilder *b, DtDesk *d)
{
    const DtProfile *p = d->profile;
    g_autofree char *follows = dt_report_machine(p, FALSE), *facts = dt_report_machine(p, TRUE);
    begin(b, "machine");
    dt_json_text(b, "name", p->name);
    dt_json_text(b, "path", p->path);
    dt_json_flag(b, "rig", d->is_rig);
    dt_json_numbers(b, "travel", p->travel, 2);
    dt_json_numbers(b, "steps_per_mm", p->steps_per_mm, 2);
    dt_json_numbers(b, "speed", p->speed, 2);
    add_box(b, "reach", dt_machine_reach(p));
    add_point(b, "park", p->park);
    add_point(b, "change_at", p->change_at);
    dt_json_number(b, "change_s", p->change_s);
    add_pens(b, &p->rack);
    dt_json_text(b, "port", d->port_path);
    add_ports(b, d);
    add_profiles(b, d);
    dt_json_text(b, "follows", follows);
    add_report(b, "facts", facts);
    json_builder_end_object(b);
}

/* Session ----------------------------------------------------------------------------------- */

static void add_requests(JsonBuilder *b, guint may)
{
    static const char *const names[DT_N_REQUESTS] = {
        "go-on", "pause-at-lift", "pause-now", "pause-at-change", "park", "stop"};
    dt_json_begin_array(b, "may");
    for (guint i = 0; i < DT_N_REQUESTS; i++)
        if (may & 1u << i)
            json_builder_add_string_value(b, names[i]);
    json_builder_end_array(b);
}

static void add_session(JsonBuilder *b, DtDesk *d)
{
    DtSnapshot s;
    dt_session_snapshot(d->session, &s);
    begin(b, "session");
    dt_json_text(b, "state", dt_report_state_name(s.state));
    dt_json_count(b, "serial", s.serial);
    add_requests(b, s.may);
    dt_json_flag(b, "homed", s.homed);
    dt_json_flag(b, "placed", s.position_known);
    if (s.position_known) {
        add_point(b, "at", s.at);
        add_point(b, "tip", s.tip);
    }
    dt_json_flag(b, "pen_down", s.pen_down);
    json_builder_set_member_name(b, "pen");
    json_builder_add_int_value(b, s.pen);
    dt_json_text(b, "pen_name", s.pen_name);
    json_builder_set_member_name(b, "done");
    json_builder_add_double_value(b, isfinite(s.done) ? s.done : 0);
    dt_json_number(b, "left_s", s.left_s);
    dt_json_number(b, "ink_mm", s.ink_mm);
    dt_json_number(b, "travel_mm", s.travel_mm);
    dt_json_count(b, "line", s.line);
    dt_json_count(b, "stroke", s.stroke);
    dt_json_count(b, "strokes", s.strokes);
    json_builder_set_member_name(b, "event_ms");
    json_builder_add_double_value(b, (double)d->event_us / 1000);
    json_builder_end_object(b);
}

/* Drawing ----------------------------------------------------------------------------------- */

static const char *draft_state_name(DtDraftState s)
{
    static const char *const names[] = {
        [DT_DRAFT_NONE] = "none",   [DT_DRAFT_WORKING] = "working", [DT_DRAFT_SEEN] = "seen",
        [DT_DRAFT_READY] = "ready", [DT_DRAFT_FAILED] = "failed",
    };
    return names[s];
}

static void add_own(JsonBuilder *b, const DtOwnOrder *own)
{
    json_builder_set_member_name(b, "own");
    if (!own->known) {
        json_builder_add_null_value(b);
        return;
    }
    json_builder_begin_object(b);
    dt_json_number(b, "total_s", own->total_s);
    dt_json_count(b, "changes", own->changes);
    dt_json_begin_array(b, "pens");
    for (int i = 0; i < DT_OWN_PARTS; i++)
        json_builder_add_int_value(b, own->pen[i] == 255 ? -1 : own->pen[i]);
    json_builder_end_array(b);
    json_builder_end_object(b);
}

static void add_corner(JsonBuilder *b, const char *name, gboolean has, DtPoint at)
{
    if (has)
        add_point(b, name, at);
    else
        dt_json_text(b, name, NULL);
}

static void add_drawing(JsonBuilder *b, DtDesk *d)
{
    const DtDeskDrawing *w = &d->drawing;
    begin(b, "drawing");
    dt_json_count(b, "revision", w->revision);
    dt_json_text(b, "name", w->name);
    dt_json_flag(b, "is_program", w->is_program);
    dt_json_text(b, "state", draft_state_name(w->state));
    dt_json_text(b, "stage", w->state == DT_DRAFT_WORKING ? dt_stage_title(w->work.stage) : NULL);
    dt_json_number(b, "stage_done", w->work.done);
    dt_json_text(b, "problem", w->problem);
    dt_json_flag(b, "has_program", w->program != NULL);
    dt_json_count(b, "ink", w->ink_number);
    dt_json_count(b, "picture", w->picture ? w->picture_number : 0);
    dt_json_count(b, "strokes", w->summary.strokes);
    dt_json_number(b, "total_s", w->summary.total_s);
    dt_json_number(b, "home_s", w->summary.home_s);
    add_box(b, "paper", w->paper);
    add_box(b, "ink_paper", w->ink_paper);
    dt_json_number(b, "margin", w->margin);
    dt_json_text(b, "paper_name", w->paper_name);
    dt_json_count(b, "skip", w->skip);
    dt_json_count(b, "sheet", w->sheet);
    dt_json_count(b, "sheets", w->sheets);
    add_corner(b, "left", w->has_left, w->left);
    add_corner(b, "right", w->has_right, w->right);
    begin(b, "options");
    dt_options_add_json(w->options, b);
    json_builder_end_object(b);
    add_report(b, "report", w->report);
    add_own(b, &w->own);
    json_builder_end_object(b);
}

/* Run --------------------------------------------------------------------------------------- */

static void add_concerns(JsonBuilder *b, const DtDesk *d)
{
    static const char *const ranks[] = {"note", "doubt", "objection"};
    static const char *const kinds[] = {
        [DT_CONCERN_OTHER_MACHINE] = "other-machine",
        [DT_CONCERN_PROFILE_CHANGED] = "profile-changed",
        [DT_CONCERN_FIRST_RUN] = "first-run",
        [DT_CONCERN_SHEET] = "sheet",
        [DT_CONCERN_PEN] = "pen",
        [DT_CONCERN_HOMES] = "homes",
        [DT_CONCERN_RESUMES] = "resumes",
        [DT_CONCERN_OFF_PAPER] = "off-paper",
        [DT_CONCERN_UNWAITED] = "unwaited",
        [DT_CONCERN_WIRE] = "wire",
    };
    size_t n = 0;
    const DtConcern *c = d->run ? dt_run_concerns(d->run, &n) : NULL;
    dt_json_begin_array(b, "concerns");
    for (size_t i = 0; i < n; i++) {
        g_autofree char *text = dt_report_concern_text(&c[i], d->profile);
        json_builder_begin_object(b);
        dt_json_text(b, "kind", kinds[c[i].kind]);
        dt_json_text(b, "rank", ranks[c[i].rank]);
        dt_json_text(b, "text", text);
        dt_json_text(b, "pen", c[i].kind == DT_CONCERN_PEN ? c[i].pen_name : NULL);
        if (c[i].kind == DT_CONCERN_RESUMES) { /* from 1 */
            dt_json_count(b, "stroke", c[i].stroke);
            dt_json_count(b, "strokes", c[i].strokes);
        }
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_happened(JsonBuilder *b, const DtDesk *d)
{
    static const char *const kinds[] = {
        [DT_EVENT_STATE] = "state",       [DT_EVENT_WAITING] = "waiting",
        [DT_EVENT_PROGRESS] = "progress", [DT_EVENT_PEN_CHANGE] = "pen-change",
        [DT_EVENT_REPEATED] = "repeated", [DT_EVENT_REFUSED] = "refused",
        [DT_EVENT_PAUSED] = "paused",     [DT_EVENT_RECOVERED] = "recovered",
        [DT_EVENT_FOUND] = "found",       [DT_EVENT_ENDED] = "ended",
    };
    dt_json_begin_array(b, "happened");
    for (guint i = 0; i < d->happened->len; i++) {
        const DtHappened *h = d->happened->pdata[i];
        json_builder_begin_object(b);
        dt_json_text(b, "kind", kinds[h->kind]);
        dt_json_number(b, "done", h->done);
        dt_json_number(b, "at", (double)h->at);
        dt_json_text(b, "text", h->text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

/* The stroke at which a run that is ready will start, from 0. */
static size_t first_stroke(const DtDesk *d)
{
    size_t n = 0;
    const DtConcern *c = d->run ? dt_run_concerns(d->run, &n) : NULL;
    for (size_t i = 0; i < n; i++)
        if (c[i].kind == DT_CONCERN_RESUMES && c[i].stroke > 0)
            return c[i].stroke - 1;
    return d->drawing.skip;
}

static void add_progress(JsonBuilder *b, DtDesk *d)
{
    DtSnapshot s = {0};
    const gboolean begun = d->phase == DT_DESK_RUN_ACTIVE || d->phase == DT_DESK_RUN_ENDED;
    if (d->run != NULL && begun)
        dt_run_snapshot(d->run, &s);
    json_builder_set_member_name(b, "done");
    json_builder_add_double_value(b, isfinite(s.done) ? s.done : 0);
    dt_json_count(b, "stroke", s.stroke);
    dt_json_count(b, "strokes", s.strokes);
    dt_json_number(b, "ink_mm", s.ink_mm);
    const size_t first = first_stroke(d);
    dt_json_number(b, "from_s",
                   first > 0 ? dt_desk_ink_begin_s(d->drawing.ink, &d->drawing.summary, first) : 0);
}

static void add_run(JsonBuilder *b, DtDesk *d)
{
    static const char *const phases[] = {"none", "ready", "active", "ended"};
    begin(b, "run");
    dt_json_text(b, "phase", phases[d->phase]);
    dt_json_count(b, "id", d->run ? (size_t)dt_run_id(d->run) : 0);
    dt_json_count(b, "resumes", (size_t)d->drawing.resumes);
    dt_json_text(b, "ended",
                 d->phase == DT_DESK_RUN_ENDED ? dt_report_state_name(d->ended_state) : NULL);
    dt_json_text(b, "text", d->ended_text);
    dt_json_text(b, "cause", d->ended_cause);
    dt_json_flag(b, "silent", d->ended_silent);
    add_progress(b, d);
    add_concerns(b, d);
    add_happened(b, d);
    json_builder_end_object(b);
}

/* ---------------------------------------------------------------------------------------------- */

static void add_learn(JsonBuilder *b, const DtDesk *d)
{
    begin(b, "learn");
    dt_json_flag(b, "active", d->learning);
    dt_json_text(b, "text", d->learn_text);
    dt_json_begin_array(b, "found");
    for (guint i = 0; i < d->found->len; i++) {
        g_autofree char *valid = g_utf8_make_valid(d->found->pdata[i], -1);
        json_builder_add_string_value(b, valid);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
}

/* The last unfinished run of this machine. */
static void add_log(JsonBuilder *b, const DtDesk *d)
{
    g_auto(DtLog) log = {0};
    const DtLogRun *open = NULL;
    begin(b, "log");
    dt_json_count(b, "number", d->log_number);
    if (dt_log_read(d->journal, &log, NULL) && log.n_runs > 0)
        open = &log.runs[log.n_runs - 1];
    if (open != NULL && strcmp(open->status, "done") != 0) {
        g_autofree char *name = g_path_get_basename(open->program);
        begin(b, "unfinished");
        dt_json_count(b, "run", (size_t)open->id);
        dt_json_text(b, "state", open->status);
        dt_json_text(b, "note", dt_messages_find(open->note)); /* in the journal it is in English */
        dt_json_text(b, "program", name);
        dt_json_text(b, "machine", open->machine);
        dt_json_count(b, "drawn", open->drawn);
        dt_json_count(b, "strokes", open->strokes);
        dt_json_number(b, "started", open->started);
        json_builder_end_object(b);
    }
    json_builder_end_object(b);
}

static void add_measure(JsonBuilder *b, const DtDesk *d)
{
    begin(b, "measure");
    dt_json_count(b, "number", d->measure_number);
    json_builder_end_object(b);
}

char *dt_desk_tell(DtDesk *d, guint parts, guint n)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_count(b, "n", n);
    if (parts & DT_PART_MACHINE)
        add_machine(b, d);
    if (parts & DT_PART_SESSION)
        add_session(b, d);
    if (parts & DT_PART_DRAWING)
        add_drawing(b, d);
    if (parts & DT_PART_RUN)
        add_run(b, d);
    if (parts & DT_PART_LEARN)
        add_learn(b, d);
    if (parts & DT_PART_LOG)
        add_log(b, d);
    if (parts & DT_PART_MEASURE)
        add_measure(b, d);
    json_builder_end_object(b);
    return dt_json_write(b, FALSE);
}
