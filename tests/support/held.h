/* held: tables of cases with the figures that each gives, and the tests made of them. The figures are a record and
 * no standard: after a change that is meant to move them, see that the new ones are right (by a picture, say), and
 * let the test's program write them into its table: "test-NAME record".
 *
 * "= NAME" begins a case; then come lines of "WORD: TEXT", what it is given, and figures, two columns in. Numbers
 * with a decimal point agree if they differ by three of the last place at most, since another processor may round
 * otherwise; all else must be the same. */
#pragma once

#include <glib.h>

typedef struct {
    char *name;
    GString *given, *figures;
} HeldCase;

/* The texts of the lines of this word, each ended by a line feed; freed by the caller. */
char *held_given(const HeldCase *c, const char *word);

/* The figures of a case, each line two columns in and ended by a line feed; freed by the caller. */
typedef char *(*HeldFigures)(const HeldCase *c);

/* The main program of a test: `table` lies beside it (G_TEST_SRCDIR), `path` is that of its cases. */
int held_main(int argc, char **argv, const char *table, const char *path, HeldFigures figures);
