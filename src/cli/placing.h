/* placing: where the sheet lies, from two corners. */
#pragma once

#include "cli/cli.h"

/* Four numbers "x,y,x,y": lower left and lower right corner, commanded mm. */
gboolean dt_cli_corners(const char *text, DtPoint corners[2], GError **error);
/* Lets the user jog the pen to both corners with the keys of the terminal. */
gboolean dt_cli_touch_corners(const DtProfile *p, DtPoint corners[2], GError **error);
