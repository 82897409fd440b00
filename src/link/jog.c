/* jog: moves by hand before a run, to find where the paper lies. */
#include "link/runner.h"

#include <gio/gio.h>

static gboolean report(DtRunner *r, GError **error)
{
    if (r->trouble == TROUBLE_STOPPED)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "%s", r->trouble_text);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", r->trouble_text);
    return FALSE;
}

gboolean dt_run_jog_begin(DtRunner *r, GError **error)
{
    r->before.unit = 1;
    r->jogged[0] = r->jogged[1] = 0;
    if (!dt_runner_connect(r, error))
        return FALSE;
    return (dt_runner_lift(r) && dt_runner_home(r)) || report(r, error);
}

gboolean dt_run_jog(DtRunner *r, DtPoint by, GError **error)
{
    const DtProfile *p = r->profile;
    const DtPoint to = dt_point(CLAMP(r->told.at.x + by.x, 0, p->travel[0]),
                                CLAMP(r->told.at.y + by.y, 0, p->travel[1]));
    r->jogged[0] = dt_machine_follow(p, 0, r->jogged[0], to.x);
    r->jogged[1] = dt_machine_follow(p, 1, r->jogged[1], to.y);
    return dt_runner_go_to(r, to) || report(r, error);
}

gboolean dt_run_jog_pen(DtRunner *r, gboolean down, GError **error)
{
    const DtDialect *d = &r->profile->dialect;
    return dt_runner_command(r, down ? d->pen_down : d->pen_up,
                             down ? DT_LINE_PEN_DOWN : DT_LINE_PEN_UP) ||
           report(r, error);
}

DtPoint dt_run_jog_at(const DtRunner *r)
{
    return dt_point(r->jogged[0], r->jogged[1]);
}

void dt_run_jog_end(DtRunner *r)
{
    dt_runner_lift_at_last(r, FALSE);
    dt_port_close(r->port);
    r->port = NULL;
}
