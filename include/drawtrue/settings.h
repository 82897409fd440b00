/* settings: compares and sends the settings of our own board, taken from the profile. */
#pragma once

#include "drawtrue/machine.h"

typedef struct {
    unsigned parameter; /* its parameter number on the board (RS-274) */
    const char *name;   /* its key in the profile */
    const char *unit;
    double profile, board; /* the board's value as it was found */
    gboolean differs;      /* by more than the resolution of the board */
    gboolean written;      /* and is now as in the profile, read back */
} DtBoardSetting;

/* Reads from the board on `port` the settings that the profile has keys for and, with `send`,
 * writes those that differ and reads them back. Opening the port resets many boards. The machine
 * must stand still: a board that moves, is held or waits at a stop is left alone. DtBoardSetting
 * elements, g_array_unref(); NULL with an error if the board cannot be read, or refuses a value. */
GArray *dt_link_settings(const DtProfile *p, const char *port, gboolean send, GError **error);
