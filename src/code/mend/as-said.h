/* as-said: what the user says of a program that it does not say itself. Private. */
#pragma once

#include "drawtrue/code.h"

#include "code/mend/foreign.h"

/* A copy of the text, line for line, in the unit that `o` says and without the lines of the words that it
 * leaves out; freed by the caller. Fails with DT_ERROR_USAGE for a unit that is none, and with
 * DT_ERROR_INPUT where the program says inches or mm itself. */
char *dt_mend_as_said(const char *text, gsize len, const DtMendOptions *o, const char *name,
                      DtFormFunc tell, void *user, GError **error);
