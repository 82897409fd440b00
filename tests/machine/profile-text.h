/* profile-text: profiles from a text, for tests of keys and values. */
#pragma once

#include "drawtrue/machine.h"

#include <string.h>

static inline DtProfile *read_text(const char *text, GError **error)
{
    return dt_profile_read_data(text, strlen(text), "my.ini", error);
}

static inline DtProfile *read_good(const char *text)
{
    g_autoptr(GError) error = NULL;
    DtProfile *p = read_text(text, &error);
    g_assert_no_error(error);
    g_assert_nonnull(p);
    return p;
}

/* Every piece of `wanted` (separated by |) is in the refusal. */
static inline void assert_refused(const char *text, const char *wanted)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = read_text(text, &error);
    g_assert_null(p);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_auto(GStrv) pieces = g_strsplit(wanted, "|", -1);
    for (char **piece = pieces; *piece; piece++)
        if (strstr(error->message, *piece) == NULL)
            g_error("'%s' is not in: %s", *piece, error->message);
}
