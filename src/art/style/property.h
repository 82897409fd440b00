/* property, private: how the values of properties are read. */
#pragma once

#include "art/private.h"

/* The value as a keyword, without leading and trailing spaces. */
gboolean dt_art_word_is(const char *v, const char *word);

typedef struct {
    const char *word;
    int value;
} ArtWord;

/* The value of the keyword among `words`; FALSE if it is none of them. */
gboolean dt_art_pick(const char *v, const ArtWord *words, gsize n, void *out);

#define PICK_PARSER(name, ...)                                                                     \
    gboolean dt_art_parse_##name(const char *v, void *out, ArtSetting *s)                          \
    {                                                                                              \
        static const ArtWord words[] = {__VA_ARGS__};                                              \
        (void)s;                                                                                   \
        return dt_art_pick(v, words, G_N_ELEMENTS(words), out);                                    \
    }

/* One parser for each kind of value: parses all of `v` into the field at `out`; FALSE, with
 * nothing written, if it is malformed. */
#define X(id, text, inherits, field, parser)                                                       \
    gboolean dt_art_parse_##parser(const char *v, void *out, ArtSetting *s);
ART_PROPERTIES(X)
#undef X

/* The words of a value; what is in brackets or quotes stays together. g_strfreev. */
char **dt_art_value_words(const char *v);
