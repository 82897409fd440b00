/* asking: the readings of a sheet, asked one after the other. */
#pragma once

#include "drawtrue/truing.h"

typedef struct {
    const DtTestSheet *sheet;
    const DtProfile *profile;
    const char *journal;  /* keeps each answer as it is given; may be NULL for the default place */
    const char *pictures; /* the folder for a picture of each question */
    gboolean all;         /* from the first question on; FALSE: from the first without an answer */
} DtAsking;

/* Asks on the standard error, and reads lines of the standard input: a reading,
 * "?" where it cannot be told, "back", or nothing to leave it as it was. FALSE with *error where nothing
 * more can be read before the last question; what was answered is kept by then. */
gboolean dt_cli_ask_readings(const DtAsking *a, DtEyeReadings *r, GError **error);
