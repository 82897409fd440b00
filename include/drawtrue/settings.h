/* settings: what the profile says of the axes against what our own board is set to. */
#pragma once

#include "drawtrue/machine.h"

typedef struct {
    unsigned parameter; /* its number on the board, RS-274 */
    const char *name;   /* its key in the profile */
    const char *unit;
    double profile, board; /* the board's as it was found */
    gboolean differs;      /* by more than the board can tell */
    gboolean written;      /* and is the profile's now, read back */
} DtBoardSetting;

/* Asks the board on `port` for the settings that the profile has keys for and, with `send`, writes those
 * that differ and reads them back. Opening the port resets many boards. The machine must stand: a board
 * that moves, is held or waits at a stop is left alone. DtBoardSetting elements, g_array_unref(); NULL with
 * an error where the board cannot be asked, or refuses a value. */
GArray *dt_link_settings(const DtProfile *p, const char *port, gboolean send, GError **error);
