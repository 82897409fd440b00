/* as-said: what the user states about a program. Private. */
#pragma once

#include "drawtrue/code.h"

#include "code/mend/foreign.h"

/* A copy of the text, line for line, in the unit given in `o` and without the lines of the words
 * to be left out; freed by the caller. Fails with DT_ERROR_USAGE for an unknown unit, and with
 * DT_ERROR_INPUT if the program itself states inches or mm. */
char *dt_mend_as_said(const char *text, gsize len, const DtMendOptions *o, const char *name,
                      DtFormFunc tell, void *user, GError **error);
