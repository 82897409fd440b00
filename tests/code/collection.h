/* collection: many small programs in one text file, each under a line
 *     === name | machine | kind:line kind:line | x,y x,y; x,y x,y
 * The findings are all that judging must give, the points what the program means to draw: strokes
 * divided by semicolons, "cw:cx,cy:x,y" and "ccw:cx,cy:x,y" for an arc about a centre, "-" where it
 * cannot be mended. A backslash escapes as in C; "\c" at the end of a program takes its last
 * newline. */
#pragma once

#include <glib.h>

typedef struct {
    char *name, *machine, *findings, *ink; /* ink: NULL where nothing is said of it */
    char *text;
    gsize len;
} Program;

/* Of one file, freed with g_ptr_array_unref(). */
GPtrArray *collection_read(const char *folder, const char *file);

/* The lines of a file, without empty ones and those that begin with #; g_strfreev. */
char **collection_lines(const char *folder, const char *file);
