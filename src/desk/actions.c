/* actions: the requests of a page, one row each. A request that moves the machine carries the
 * number of the state that the page has seen, and is refused if the state has changed since. */
#include "desk/private.h"

#include "desk/request.h"
#include "drawtrue/report.h"

#include <string.h>

typedef gboolean (*Act)(DtDesk *d, JsonObject *in, GError **error);

static gboolean refuse(GError **error, const char *why)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, why);
    return FALSE;
}

static gboolean is_free(const DtDesk *d, GError **error)
{
    return !dt_desk_is_drawing(d) ||
           refuse(error, _("the machine is drawing; wait or stop it first"));
}

/* Whether the state that the page has seen is still that of the machine. */
static gboolean is_current(const DtDesk *d, JsonObject *in, GError **error)
{
    DtSnapshot s;
    gint64 serial;
    if (!dt_request_whole(in, "serial", 1, G_MAXUINT32, &serial, error))
        return FALSE;
    dt_session_snapshot(d->session, &s);
    return serial == s.serial ||
           refuse(error, _("the machine's state has changed; look again before it moves"));
}

static gboolean is_revision(const DtDesk *d, JsonObject *in, GError **error)
{
    gint64 revision;
    if (!dt_request_whole(in, "revision", 0, G_MAXUINT32, &revision, error))
        return FALSE;
    return revision == d->drawing.revision ||
           refuse(error, _("the drawing has changed; look again before it is drawn"));
}

/* Drawing ----------------------------------------------------------------------------------- */

static gboolean open_file(DtDesk *d, JsonObject *in, GError **error)
{
    const char *path;
    return dt_request_text(in, "path", 2000, &path, error) && dt_desk_take_file(d, path, error);
}

static gboolean clear(DtDesk *d, JsonObject *in, GError **error)
{
    (void)in;
    if (!is_free(d, error))
        return FALSE;
    dt_desk_set_source(d, NULL, NULL, 0);
    return TRUE;
}

static gboolean set_options(DtDesk *d, JsonObject *in, GError **error)
{
    JsonObject *values;
    if (!is_free(d, error) || !dt_request_object(in, "values", &values, error) ||
        !dt_options_read_json(d->drawing.options, values, error))
        return FALSE;
    d->drawing.sheet = d->drawing.skip = 0;
    dt_desk_draft(d);
    return TRUE;
}

static gboolean choose_sheet(DtDesk *d, JsonObject *in, GError **error)
{
    gint64 sheet;
    if (!is_free(d, error) ||
        !dt_request_whole(in, "sheet", 0, (gint64)d->drawing.sheets - 1, &sheet, error))
        return FALSE;
    d->drawing.sheet = (size_t)sheet;
    d->drawing.skip = 0;
    dt_desk_draft(d);
    return TRUE;
}

/* From a stroke that was pointed at, instead of the first one. */
static gboolean begin_at(DtDesk *d, JsonObject *in, GError **error)
{
    gint64 skip;
    if (!is_free(d, error) || !is_revision(d, in, error) ||
        !dt_request_whole(in, "skip", 0, MAX(0, (gint64)d->drawing.summary.strokes - 1), &skip,
                          error))
        return FALSE;
    if (d->drawing.source == NULL || d->drawing.resumes != 0)
        return refuse(error, _("a run that is resumed goes on from a place instead"));
    d->drawing.skip = (size_t)skip;
    dt_desk_draft(d);
    return TRUE;
}

static gboolean look_for_ports(DtDesk *d, JsonObject *in, GError **error)
{
    (void)in;
    (void)error;
    dt_desk_changed(d, DT_PART_MACHINE);
    return TRUE;
}

static gboolean mend(DtDesk *d, JsonObject *in, GError **error)
{
    (void)in;
    return is_free(d, error) && dt_desk_mend(d, error);
}

static gboolean make_test_sheet(DtDesk *d, JsonObject *in, GError **error)
{
    const char *kind;
    return is_free(d, error) && dt_request_text(in, "kind", 20, &kind, error) &&
           dt_desk_make_test_sheet(d, kind, error);
}

/* A corner of the sheet is where the pen is now. */
static gboolean touch_corner(DtDesk *d, JsonObject *in, GError **error)
{
    const char *which;
    DtSnapshot s;
    if (!is_free(d, error) || !dt_request_text(in, "which", 10, &which, error) ||
        !is_current(d, in, error))
        return FALSE;
    dt_session_snapshot(d->session, &s);
    if (s.state != DT_STATE_READY || !s.position_known)
        return refuse(error, _("home the machine and move the pen to the corner first"));
    DtDeskDrawing *w = &d->drawing;
    /* the place to send a first pen to, whichever pen touched it and however the carriage leans */
    const DtPoint at = dt_machine_command(d->profile, s.tip);
    if (strcmp(which, "left") == 0) {
        w->left = at;
        w->has_left = TRUE;
    } else if (strcmp(which, "right") == 0) {
        w->right = at;
        w->has_right = TRUE;
    } else {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "'which' must be left or right");
        return FALSE;
    }
    if (w->has_left && w->has_right)
        dt_desk_draft(d);
    dt_desk_changed(d, DT_PART_DRAWING);
    return TRUE;
}

static gboolean forget_corners(DtDesk *d, JsonObject *in, GError **error)
{
    (void)in;
    if (!is_free(d, error))
        return FALSE;
    const gboolean laid = d->drawing.has_left && d->drawing.has_right;
    d->drawing.has_left = d->drawing.has_right = FALSE;
    if (laid)
        dt_desk_draft(d);
    dt_desk_changed(d, DT_PART_DRAWING);
    return TRUE;
}

/* Machine ----------------------------------------------------------------------------------- */

static gboolean jog(DtDesk *d, JsonObject *in, GError **error)
{
    static const struct {
        const char *name;
        DtJogKind kind;
        gboolean goes;
    } kinds[] = {{"home", DT_JOG_HOME, FALSE},     {"by", DT_JOG_BY, TRUE},
                 {"to", DT_JOG_TO, TRUE},          {"park", DT_JOG_PARK, FALSE},
                 {"pen-up", DT_JOG_PEN_UP, FALSE}, {"pen-down", DT_JOG_PEN_DOWN, FALSE},
                 {"end", DT_JOG_END, FALSE}};
    const char *name;
    if (!dt_request_text(in, "kind", 20, &name, error) || !is_free(d, error) ||
        !is_current(d, in, error))
        return FALSE;
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        if (strcmp(kinds[i].name, name) != 0)
            continue;
        DtJog j = {.kind = kinds[i].kind};
        if (kinds[i].goes &&
            (!dt_request_number(in, "x", &j.x, error) || !dt_request_number(in, "y", &j.y, error)))
            return FALSE;
        return dt_session_jog(d->session, &j, error);
    }
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "there is no such motion");
    return FALSE;
}

static gboolean request(DtDesk *d, JsonObject *in, GError **error)
{
    static const char *const names[DT_N_REQUESTS] = {
        "go-on", "pause-at-lift", "pause-now", "pause-at-change", "park", "stop"};
    const char *name;
    gint64 serial;
    if (!dt_request_text(in, "request", 20, &name, error) ||
        !dt_request_whole(in, "serial", 0, G_MAXUINT32, &serial, error))
        return FALSE;
    for (guint i = 0; i < DT_N_REQUESTS; i++) {
        if (strcmp(names[i], name) != 0)
            continue;
        const gboolean moves = i == DT_REQUEST_GO_ON || i == DT_REQUEST_PARK;
        if (moves && !is_current(d, in, error))
            return FALSE;
        return dt_session_request(d->session, (DtRequest)i, (guint)serial) ||
               refuse(error, _("that is not possible now"));
    }
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "there is no such request");
    return FALSE;
}

static gboolean start(DtDesk *d, JsonObject *in, GError **error)
{
    gboolean despite;
    if (!is_revision(d, in, error) || !is_current(d, in, error) ||
        !dt_request_flag(in, "despite", &despite, error))
        return FALSE;
    return dt_desk_start_run(d, despite ? ~0u : 0, error);
}

static gboolean again(DtDesk *d, JsonObject *in, GError **error)
{
    (void)in;
    if (!is_free(d, error))
        return FALSE;
    if (d->drawing.resumes != 0) {
        g_autofree char *path = g_strdup(d->drawing.source), *name = g_strdup(d->drawing.name);
        dt_desk_set_source(d, path, name, 0);
    } else {
        dt_desk_draft(d);
    }
    return TRUE;
}

static gboolean resume(DtDesk *d, JsonObject *in, GError **error)
{
    DtResume from = {0};
    gint64 back;
    if (!is_free(d, error) || !is_current(d, in, error) ||
        !dt_request_whole(in, "run", 0, G_MAXINT64, &from.run, error) ||
        !dt_request_whole(in, "back_strokes", 0, 100000000, &back, error) ||
        !dt_request_flag(in, "from_place", &from.from_place, error))
        return FALSE;
    from.back_strokes = (size_t)back;
    if (from.from_place && (!dt_request_number(in, "x", &from.place.x, error) ||
                            !dt_request_number(in, "y", &from.place.y, error)))
        return FALSE;
    return dt_desk_resume(d, &from, error);
}

/* From now on the log counts this pen's ink from zero. */
static gboolean note_new_tip(DtDesk *d, JsonObject *in, GError **error)
{
    const char *pen;
    if (!dt_request_text(in, "pen", 60, &pen, error))
        return FALSE;
    if (dt_rack_find(&d->profile->rack, pen) < 0)
        return refuse(error, _("this machine has no such pen"));
    if (!dt_log_note(d->journal, d->profile->name, DT_DESK_NEW_TIP, pen, error))
        return FALSE;
    d->log_number++;
    dt_desk_changed(d, DT_PART_LOG);
    return TRUE;
}

static gboolean learn(DtDesk *d, JsonObject *in, GError **error)
{
    gboolean may_move;
    return is_free(d, error) && is_current(d, in, error) &&
           dt_request_flag(in, "may_move", &may_move, error) && dt_desk_learn(d, may_move, error);
}

static gboolean choose_profile(DtDesk *d, JsonObject *in, GError **error)
{
    const char *path;
    return dt_request_text(in, "path", 4000, &path, error) &&
           dt_desk_choose_profile(d, path, error);
}

static gboolean new_profile(DtDesk *d, JsonObject *in, GError **error)
{
    const char *name;
    return dt_request_text(in, "name", 100, &name, error) && dt_desk_new_profile(d, name, error);
}

static gboolean choose_port(DtDesk *d, JsonObject *in, GError **error)
{
    const char *path;
    return dt_request_text(in, "path", 4000, &path, error) && dt_desk_choose_port(d, path, error);
}

/* ---------------------------------------------------------------------------------------------- */

static const struct {
    const char *name;
    Act act;
} actions[] = {
    {"open", open_file},
    {"clear", clear},
    {"set-options", set_options},
    {"choose-sheet", choose_sheet},
    {"begin-at", begin_at},
    {"mend", mend},
    {"make-test-sheet", make_test_sheet},
    {"touch-corner", touch_corner},
    {"forget-corners", forget_corners},
    {"jog", jog},
    {"request", request},
    {"start", start},
    {"again", again},
    {"resume", resume},
    {"learn", learn},
    {"new-tip", note_new_tip},
    {"choose-profile", choose_profile},
    {"new-profile", new_profile},
    {"look-for-ports", look_for_ports},
    {"choose-port", choose_port},
    {"set-keys", dt_desk_write_keys},
    {"keep-reading", dt_desk_keep_reading},
    {"forget-scans", dt_desk_forget_scans},
    {"write-corrections", dt_desk_write_corrections},
    {"undo-corrections", dt_desk_undo_corrections},
};

gboolean dt_desk_act(DtDesk *d, const char *action, JsonObject *in, GError **error)
{
    for (gsize i = 0; i < G_N_ELEMENTS(actions); i++)
        if (strcmp(actions[i].name, action) == 0)
            return actions[i].act(d, in, error);
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "there is no such action");
    return FALSE;
}
