/* foreign: rewrites forms that the standard does not have in its form. Private. */
#pragma once

#include <glib.h>

/* Reported once for each form, at its first line. */
typedef void (*DtFormFunc)(void *user, size_t line, const char *what);

/* A copy of the text, line for line and byte for byte except for: line ends that are a carriage
 * return alone, checksums at line ends, and the unit words of older controls (G70 inches, G71
 * mm). NUL-terminated; freed by the caller. */
char *dt_foreign_forms(const char *text, gsize len, DtFormFunc tell, void *user);
