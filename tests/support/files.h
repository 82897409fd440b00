/* files: which drawings a corpus run takes. */
#pragma once

#include <glib.h>

/* N drawings (char *, owned) evenly spaced over the sorted .svg files under a folder, or over those
 * of the Debian package openclipart-svg. argv[1], where it is a number, is N, otherwise `n` holds;
 * what follows is the folder. The i-th of N out of M is number floor(i*M/N). NULL with
 * DT_ERROR_USAGE or DT_ERROR_INPUT. */
GPtrArray *files_for_corpus(int argc, char **argv, long n, GError **error);
