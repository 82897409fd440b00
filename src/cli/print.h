/* print: all that a command prints goes through these calls. Names, comments, refusals and the like
 * come from files and boards; none of them reaches a terminal raw, see dt_base_show_text(). */
#pragma once

#include "drawtrue/base.h"

#include <stdio.h>

/* Columns of the terminal that `to` is; 0 where it is none. */
unsigned dt_cli_width(FILE *to);

/* On a terminal, lines are broken between words at its width. */
void dt_cli_print(FILE *to, const char *text);
void dt_cli_printf(FILE *to, const char *format, ...) G_GNUC_PRINTF(2, 3);

/* A report on the standard output; JSON is not broken. */
void dt_cli_print_report(const char *text, gboolean json);

/* In place of the line that the terminal's cursor is in, cut at its width; "" clears it. */
void dt_cli_show_line(FILE *to, const char *text);

/* DT_ERROR_IO where what was printed did not reach its file. A reader that has gone, such as a closed
 * pager or terminal, is no failure. */
gboolean dt_cli_close_output(GError **error);
