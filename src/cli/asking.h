/* asking: asks for the readings of a sheet, one after the other. */
#pragma once

#include "drawtrue/truing.h"

typedef struct {
    const DtTestSheet *sheet;
    const DtProfile *profile;
    const char *journal;  /* stores each answer as it is given; may be NULL for the default place */
    const char *pictures; /* the folder for a picture of each question */
    gboolean all;         /* ask all questions; FALSE: those that had no answer before */
} DtAsking;

/* Asks on standard error and reads lines from standard input: a reading, "?" if it cannot be
 * told, "back", or an empty line to keep the earlier answer. FALSE with *error if the input ends
 * before the last question; the answers so far have been stored by then. */
gboolean dt_cli_ask_readings(const DtAsking *a, DtEyeReadings *r, GError **error);
