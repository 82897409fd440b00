/* event: the events of a session, and what a person should know before a run, in words and as
 * JSON. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <math.h>
#include <string.h>

const char *dt_report_state_name(DtState state)
{
    static const char *const names[] = {
        [DT_STATE_CLOSED] = "closed",
        [DT_STATE_OPENING] = "opening",
        [DT_STATE_READY] = "ready",
        [DT_STATE_HOMING] = "homing",
        [DT_STATE_JOGGING] = "jogging",
        [DT_STATE_LEARNING] = "learning",
        [DT_STATE_DRAWING] = "drawing",
        [DT_STATE_PEN_CHANGE] = "pen-change",
        [DT_STATE_PAUSED] = "paused",
        [DT_STATE_HELD] = "held",
        [DT_STATE_PARKED] = "parked",
        [DT_STATE_UNPLUGGED] = "unplugged",
        [DT_STATE_RECOVERING] = "recovering",
        [DT_STATE_ENDING] = "ending",
        [DT_STATE_DONE] = "done",
        [DT_STATE_STOPPED] = "stopped",
        [DT_STATE_FAILED] = "failed",
    };
    return names[state];
}

static const char *event_name(const DtEvent *e)
{
    static const char *const names[] = {
        [DT_EVENT_STATE] = "state",       [DT_EVENT_WAITING] = "waiting",
        [DT_EVENT_PROGRESS] = "progress", [DT_EVENT_PEN_CHANGE] = "pen-change",
        [DT_EVENT_REPEATED] = "repeated", [DT_EVENT_REFUSED] = "refused",
        [DT_EVENT_PAUSED] = "paused",     [DT_EVENT_RECOVERED] = "recovered",
        [DT_EVENT_FOUND] = "found",
    };
    return e->kind == DT_EVENT_ENDED ? dt_report_state_name(e->at.state) : names[e->kind];
}

char *dt_report_event_json(const DtEvent *e)
{
    static const char *const waits[] = {"nothing", "board", "port", "person"};
    const DtSnapshot *s = &e->at;
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "event", event_name(e));
    dt_json_text(b, "state", dt_report_state_name(s->state));
    dt_json_count(b, "serial", s->serial);
    dt_json_text(b, "waits_for", waits[s->waits]);
    dt_json_number(b, "done", s->done);
    dt_json_number(b, "left_s", s->left_s);
    dt_json_number(b, "ink_mm", s->ink_mm);
    dt_json_number(b, "travel_mm", s->travel_mm);
    dt_json_text(b, "pen", s->pen_name);
    dt_json_count(b, "line", s->line);
    dt_json_count(b, "stroke", s->stroke);
    dt_json_count(b, "strokes", s->strokes);
    if (s->position_known) {
        dt_json_number(b, "x", s->tip.x);
        dt_json_number(b, "y", s->tip.y);
        dt_json_flag(b, "pen_down", s->pen_down);
    }
    if (e->kind == DT_EVENT_REPEATED)
        dt_json_count(b, "from_line", e->line);
    if (e->text != NULL || e->error != NULL)
        dt_json_text(b, "text", e->error ? e->error->message : e->text);
    json_builder_end_object(b);
    return dt_json_write(b, FALSE);
}

/* In words ---------------------------------------------------------------------------------- */

static char *pen_text(const DtProfile *p, int index, const char *name)
{
    if (index < 0)
        return g_strdup(name);
    const DtPen *pen = &p->rack.pens[index];
    return g_strdup_printf(
        _("%s: colour #%02x%02x%02x, tip %g mm"), name, (unsigned)lround(pen->colour.r * 255),
        (unsigned)lround(pen->colour.g * 255), (unsigned)lround(pen->colour.b * 255), pen->tip);
}

static char *pen_change_text(const DtEvent *e, const DtProfile *p)
{
    const DtSnapshot *s = &e->at;
    const gboolean waits = s->state == DT_STATE_PEN_CHANGE;
    g_autofree char *pen = pen_text(p, s->pen, s->pen_name);
    if (waits && e->text != NULL)
        return g_strdup_printf(_("paper      %s"), e->text);
    if (*pen == '\0')
        return g_strdup(_("stop       the program waits for the operator"));
    return g_strdup_printf(_("pen        %s%s"), pen,
                           !waits         ? ""
                           : s->line == 0 ? _("; make sure that it is in")
                                          : _("; put it in"));
}

static char *waiting_text(const DtEvent *e)
{
    if (e->at.state == DT_STATE_UNPLUGGED)
        return g_strdup(_("board      the port is gone; plug the board in again"));
    if (e->at.state == DT_STATE_OPENING)
        return g_strdup_printf(_("board      waiting for the controller at %s"), e->text);
    return g_strdup_printf(_("board      %s"), e->text);
}

static char *state_text(const DtEvent *e)
{
    if (e->at.state == DT_STATE_HOMING)
        return g_strdup(_("homing     keep clear of the axes"));
    if (e->at.state == DT_STATE_ENDING)
        return g_strdup(_("ending     the pen is lifted and the motors let go"));
    return NULL;
}

char *dt_report_event_text(const DtEvent *e, const DtProfile *p)
{
    const DtSnapshot *s = &e->at;
    switch (e->kind) {
    case DT_EVENT_STATE:
        return state_text(e);
    case DT_EVENT_WAITING:
        return waiting_text(e);
    case DT_EVENT_PEN_CHANGE:
        return pen_change_text(e, p);
    case DT_EVENT_PAUSED:
        return g_strdup_printf(_("paused     %s"),
                               s->state == DT_STATE_HELD ? _("held where it is, the pen lifted")
                               : s->state == DT_STATE_PARKED
                                   ? _("parked with the pen up; it will return to the same point")
                                   : _("with the pen up"));
    case DT_EVENT_RECOVERED:
        return g_strdup_printf(_("goes on    homed again at stroke %zu of %zu"), s->stroke + 1,
                               s->strokes);
    case DT_EVENT_FOUND:
        return g_strdup_printf(s->state == DT_STATE_LEARNING ? "  %s" : _("settings   %s"),
                               e->text);
    case DT_EVENT_ENDED:
        return e->error != NULL
                   ? NULL
                   : g_strdup_printf(P_("done       %zu stroke, %.2f m of ink, %.2f m of travel",
                                        "done       %zu strokes, %.2f m of ink, %.2f m of travel",
                                        s->stroke),
                                     s->stroke, s->ink_mm / 1000, s->travel_mm / 1000);
    default:
        return NULL; /* progress is shown elsewhere; a repeated line needs no message */
    }
}

/* Concerns ---------------------------------------------------------------------------------- */

static char *other_machine_text(const DtConcern *c)
{
    static const char before_profile[] = ", profile "; /* in the form of the program's first
                                                        * comment */
    const char *end = strstr(c->made_for, before_profile);
    const char *own = c->profile ? c->profile : _("built in");
    const char *advice = c->profile ? "" : _(" (--machine FILE gives the right profile)");
    if (end == NULL)
        return g_strdup_printf(_("made for the machine '%s', and this is '%s', profile %s; its "
                                 "corrections, travel and speeds may be others%s"),
                               c->made_for, c->machine, own, advice);
    return g_strdup_printf(
        _("made for the machine '%.*s' with profile %s, and this is '%s', profile %s; its "
          "corrections, travel and speeds may be others%s"),
        (int)(end - c->made_for), c->made_for, end + strlen(before_profile), c->machine, own,
        advice);
}

static char *time_text(gint64 seconds)
{
    g_autoptr(GDateTime) at = g_date_time_new_from_unix_local(seconds);
    return g_date_time_format(at, "%Y-%m-%d %H:%M");
}

static char *profile_changed_text(const DtConcern *c)
{
    g_autofree char *made = time_text(c->program_time), *changed = time_text(c->profile_time);
    return g_strdup_printf(_("made at %s, and %s was changed at %s; corrections measured since are "
                             "not in it"),
                           made, c->profile, changed);
}

static char *sheet_text(const DtConcern *c)
{
    const double degrees = c->sheet_turn * 180 / G_PI;
    if (degrees != 0)
        return g_strdup_printf(
            _("paper      %s, %g x %g mm, its lower left corner %.1f mm right of "
              "and %.1f mm behind the origin, turned by %.1f degrees"),
            c->sheet, c->sheet_w, c->sheet_h, c->sheet_at.x, c->sheet_at.y, degrees);
    return g_strdup_printf(_("paper      %s, %g x %g mm, its lower left corner %g mm right of "
                             "and %g mm behind the origin"),
                           c->sheet, c->sheet_w, c->sheet_h, c->sheet_at.x, c->sheet_at.y);
}

char *dt_report_concern_text(const DtConcern *c, const DtProfile *p)
{
    g_autofree char *name = g_path_get_basename(c->program);
    g_autofree char *pen = c->pen_name ? pen_text(p, c->pen, c->pen_name) : NULL;
    switch (c->kind) {
    case DT_CONCERN_OTHER_MACHINE:
        return other_machine_text(c);
    case DT_CONCERN_PROFILE_CHANGED:
        return profile_changed_text(c);
    case DT_CONCERN_FIRST_RUN:
        return g_strdup(
            _("First run on this machine. Keep fingers, hair and cables away from what moves, stay "
              "with\nit while it runs, and know how to cut its supply. Motors and drivers get hot, "
              "and no more\ncurrent may be drawn than the supply is made for. Where a laser is "
              "fitted: eyes protected\nfor its wavelength, an enclosure, fumes led away, something "
              "at hand against fire. Local\nrules and trained people come first."));
    case DT_CONCERN_SHEET:
        return sheet_text(c);
    case DT_CONCERN_OFF_PAPER:
        return g_strdup_printf(
            _("%.0f of %.0f mm of the ink lie beside the paper, %s at %g, %g mm"), c->off_paper_mm,
            c->ink_mm, c->sheet, c->sheet_at.x, c->sheet_at.y);
    case DT_CONCERN_PEN:
        return g_strdup_printf(_("pen        %s; it must be in the holder"), pen);
    case DT_CONCERN_RESUMES:
        return g_strdup_printf(_("resumes    run %" PRId64 ", %s: homes, then stroke %zu of %zu"),
                               c->run, name, c->stroke, c->strokes);
    case DT_CONCERN_UNWAITED:
        return dt_report_unwaited(p);
    case DT_CONCERN_WIRE:
        return dt_report_wire(p, c->held_up_s, c->starved, c->total_s);
    default:
        return NULL; /* homing is reported when it begins */
    }
}
