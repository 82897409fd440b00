/* dialect: the controller's vocabulary, compiled from the profile's words for quick questions.
 * Private to the room; the grammar of the list is in drawtrue/dialect.h. */
#pragma once

#include "drawtrue/code.h"

enum { DT_LONGEST_BLOCK = 256 };               /* NISTIR 6556, 3.3.1 */
enum { DT_G_CODES = 1000, DT_M_CODES = 1000 }; /* codes in tenths: G38.2 is 382 */

/* What one letter, G code or M code asks for in addition. */
typedef struct {
    uint8_t taken;
    uint32_t needs; /* letters that must stand in the same block, bit 0 is A */
} DtWordRule;

typedef struct {
    DtWordRule g[DT_G_CODES], m[DT_M_CODES], letter[26];
    double low[26], high[26]; /* the letter's range, as written in a program */
    gboolean round_comments, semicolon_comments;
    gboolean gap_needed;   /* words must stand apart */
    gboolean block_delete; /* takes '/' at the start of a line */
    gboolean expressions;  /* takes parameters and expressions */
    gboolean open;       /* for reading programs from elsewhere: any M code and any letter but O is
                            * a word, N may be large, and a full circle needs no end */
    double dwell_unit_s; /* what G4 P1 waits */
    int decimals;
    int longest_line; /* bytes, whatever sets the limit; at most DT_LONGEST_BLOCK */
    int overhead;     /* bytes of it that the sender adds: "N12345 " and "(*1A2B)" */
} DtVocabulary;

/* FALSE with DT_ERROR_INPUT naming the token that is wrong; `name` stands for the profile. */
gboolean dt_vocabulary_compile(const DtDialect *d, const char *name, DtVocabulary *out,
                               GError **error);

static inline gboolean dt_vocabulary_takes_g(const DtVocabulary *v, int tenths)
{
    return tenths >= 0 && tenths < DT_G_CODES && v->g[tenths].taken;
}
static inline gboolean dt_vocabulary_takes_m(const DtVocabulary *v, int number)
{
    return number >= 0 && number < DT_M_CODES / 10 && v->m[number * 10].taken;
}
static inline gboolean dt_vocabulary_takes_letter(const DtVocabulary *v, char letter)
{
    return v->letter[letter - 'A'].taken;
}

/* The shortest decimal text of `value` rounded to `decimals` digits: no trailing zeros, no "-0".
 * Written NUL-terminated to `out` (at least 40 bytes); its length is returned. */
int dt_number_write(double value, int decimals, char *out);

/* Digits after the point so that rounding moves an axis by at most a quarter of a step, capped at
 * what the controller reads. */
int dt_number_decimals(double steps_per_mm, int most);
