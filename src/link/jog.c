/* jog: motion by hand, one at a time. */
#include "link/session.h"

#include <gio/gio.h>
#include <math.h>

static gboolean home(DtSession *s)
{
    g_autoptr(GError) error = NULL;
    if (s->port == NULL && !dt_session_connect(s, &error)) {
        dt_session_trouble(s, TROUBLE_SILENT, "%s", error->message);
        g_free(s->trouble_text); /* completely, whatever the trouble was */
        s->trouble_text = g_strdup(error->message);
        return FALSE;
    }
    dt_session_enter(s, DT_STATE_HOMING, NULL);
    DtProgramState now = {.motion = -1, .unit = 1, .speed = -1, .side = {1, 1}, .lean = {1, 1}};
    if (s->homed) { /* the pen is lifted at its present place */
        now.at = s->sent.at;
        now.carriage = s->sent.carriage;
    }
    s->sent = now;
    return dt_session_move_pen(s, FALSE) && dt_session_home(s) &&
           dt_session_restate_modes(s, &s->sent) && dt_session_stand_still(s);
}

static gboolean travel(DtSession *s, const DtJog *jog)
{
    const DtProfile *p = s->profile;
    DtPoint to = jog->kind == DT_JOG_PARK ? p->park : dt_point(jog->x, jog->y);
    if (jog->kind == DT_JOG_BY)
        to = dt_point_add(s->sent.at, to);
    if (jog->kind == DT_JOG_PARK && s->sent.pen_down && !dt_session_move_pen(s, FALSE))
        return FALSE; /* nobody means a line to the park place */
    to = dt_point(CLAMP(to.x, 0, p->travel[0]), CLAMP(to.y, 0, p->travel[1]));
    return dt_session_go_to(s, to, jog->speed) && dt_session_stand_still(s);
}

static void end(DtSession *s)
{
    if (s->port != NULL && dt_port_fd(s->port) >= 0)
        dt_session_enter(s, DT_STATE_ENDING, NULL);
    dt_session_lift_at_last(s, FALSE);
    dt_session_close(s);
}

static gboolean do_jog(DtSession *s, const DtJog *jog)
{
    switch (jog->kind) {
    case DT_JOG_HOME:
        return home(s);
    case DT_JOG_PEN_UP:
    case DT_JOG_PEN_DOWN:
        return dt_session_move_pen(s, jog->kind == DT_JOG_PEN_DOWN);
    case DT_JOG_END:
        end(s);
        return TRUE;
    default:
        return travel(s, jog);
    }
}

static void jog_task(DtSession *s, gpointer data)
{
    g_autofree DtJog *jog = data;
    g_autofree char *text = NULL;
    s->trouble = TROUBLE_NONE;
    if (!do_jog(s, jog)) {
        text = g_strdup(s->trouble_text);
        end(s);
    }
    dt_session_finish(s, NULL, text);
}

static gboolean is_sound(const DtJog *jog)
{
    return isfinite(jog->x) && isfinite(jog->y) && jog->speed >= 0 && isfinite(jog->speed);
}

gboolean dt_session_jog(DtSession *s, const DtJog *jog, GError **error)
{
    DtSnapshot now;
    dt_session_snapshot(s, &now);
    const gboolean has_port = dt_session_has_port(s);
    if (!has_port || !is_sound(jog)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            has_port ? N_("a position that is not a number, or a negative speed")
                                     : N_("jogging needs a port"));
        return FALSE;
    }
    if (jog->kind != DT_JOG_HOME && jog->kind != DT_JOG_END && !now.homed) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the machine is not homed; it must be before it is moved");
        return FALSE;
    }
    DtJog *own = g_memdup2(jog, sizeof *jog);
    const DtState state = jog->kind != DT_JOG_HOME       ? DT_STATE_JOGGING
                          : now.state == DT_STATE_CLOSED ? DT_STATE_OPENING
                                                         : DT_STATE_HOMING;
    const gboolean begun = dt_session_begin(s, state, jog_task, own, error);
    if (!begun)
        g_free(own);
    return begun;
}
