/* placing: jogs the pen to two corners of the sheet. */
#include "cli/placing.h"

#include "cli/jogging.h"
#include "cli/print.h"
#include "cli/running.h"

#include <unistd.h>

gboolean dt_cli_corners(const char *text, DtPoint corners[2], GError **error)
{
    g_auto(GStrv) parts = g_strsplit(text, ",", -1);
    gboolean good = g_strv_length(parts) == 4;
    for (int i = 0; good && i < 2; i++) {
        g_autofree char *place = g_strdup_printf("%s,%s", parts[2 * i], parts[2 * i + 1]);
        good = dt_cli_read_place(place, &corners[i].x, &corners[i].y);
    }
    if (!good)
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "corners are four numbers, x,y of the lower left and x,y of the lower right, "
                    "not '%s'",
                    text);
    return good;
}

gboolean dt_cli_touch_corners(const DtProfile *p, DtPoint corners[2], GError **error)
{
    static const char *const names[] = {N_("lower left"), N_("lower right")};
    if (!isatty(STDIN_FILENO)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--place needs a terminal; --corners takes the places as numbers");
        return FALSE;
    }
    g_autoptr(DtSession) s = dt_session_new(p, dt_cli_running_port());
    dt_cli_print(stdout, "Bring the pen to the corner that is named; Enter takes the place.\n");
    if (!dt_cli_jog_by_keys(s, 0, names, corners, 2, error))
        return FALSE;
    for (int i = 0; i < 2; i++) /* whichever pen touched them and however the carriage leans */
        corners[i] = dt_machine_command(p, corners[i]);
    return TRUE;
}
