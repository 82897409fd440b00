/* jogging: moving the machine by hand, from the keys of the terminal or by a list of motions. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/session.h"

/* Homes, then lets the user move the pen with the keys of the terminal, until q. With `n` names
 * it asks for one place after the other and returns where the tip is at each (bed mm); q is then
 * an error. Ends with the pen up, the motors off and the port closed. `speed` mm/s, 0: as fast
 * as the machine can. */
gboolean dt_cli_jog_by_keys(DtSession *s, double speed, const char *const *names, DtPoint *places,
                            size_t n, GError **error);
/* Homes, carries out the motions and ends in the same way. */
gboolean dt_cli_jog_by_list(DtSession *s, const DtJog *list, size_t n, gboolean json,
                            GError **error);
/* "X,Y"; FALSE if it is not two numbers. */
gboolean dt_cli_read_place(const char *text, double *x, double *y);
