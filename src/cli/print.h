/* print: everything that a command prints goes through these calls. Names, comments, refusals
 * and the like come from files and boards; none of them reaches a terminal raw, see
 * dt_base_show_text(). */
#pragma once

#include "drawtrue/base.h"

#include <stdio.h>

/* Width of the terminal that `to` is, in columns; 0 if it is not a terminal. */
unsigned dt_cli_width(FILE *to);

/* On a terminal, lines are broken between words at its width. */
void dt_cli_print(FILE *to, const char *text);
void dt_cli_printf(FILE *to, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* A report on standard output; JSON is not wrapped. */
void dt_cli_print_report(const char *text, gboolean json);

/* Replaces the terminal's current line, cut to its width; "" clears it. */
void dt_cli_show_line(FILE *to, const char *text);

/* DT_ERROR_IO if printed text did not reach its file. A reader that has gone, such as a closed
 * pager or terminal, is not a failure. */
gboolean dt_cli_close_output(GError **error);
