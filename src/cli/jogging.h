/* jogging: moving the machine by hand, from the keys of the terminal or by a list of motions. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/session.h"

/* Homes, then lets the maker move the pen by the keys of the terminal, until q. With `n` names it
 * asks for one place after the other and gives where the tip is at each (bed mm); then q is an error.
 * Ends with the pen up, the motors off and the port closed. `speed` mm/s, 0: as fast as the machine
 * goes. */
gboolean dt_cli_jog_by_keys(DtSession *s, double speed, const char *const *names, DtPoint *places,
                            size_t n, GError **error);
/* Homes, does the motions and ends likewise. */
gboolean dt_cli_jog_by_list(DtSession *s, const DtJog *list, size_t n, gboolean json,
                            GError **error);
/* "X,Y"; FALSE where it is not two numbers. */
gboolean dt_cli_read_place(const char *text, double *x, double *y);
