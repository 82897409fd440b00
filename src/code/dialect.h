/* dialect: the controller's vocabulary, compiled from the profile's words for fast lookup.
 * Private to the room; the grammar of the list is in drawtrue/dialect.h. */
#pragma once

#include "drawtrue/code.h"

enum { DT_LONGEST_BLOCK = 256 };               /* NISTIR 6556, 3.3.1 */
enum { DT_G_CODES = 1000, DT_M_CODES = 1000 }; /* codes in tenths: G38.2 is 382 */

/* What one letter, G code or M code requires in addition. */
typedef struct {
    uint8_t taken;
    uint32_t needs; /* letters that must be in the same block, bit 0 is A */
} DtWordRule;

typedef struct {
    DtWordRule g[DT_G_CODES], m[DT_M_CODES], letter[26];
    double low[26], high[26]; /* the letter's range, as written in a program */
    gboolean round_comments, semicolon_comments;
    gboolean gap_needed;   /* words need blanks between them */
    gboolean block_delete; /* accepts '/' at the start of a line */
    gboolean expressions;  /* accepts parameters and expressions */
    gboolean open;         /* for reading programs from elsewhere: every M code and every letter
                          * except O is accepted, N may be large, and a full circle needs no end
                          * point */
    double dwell_unit_s;   /* seconds of G4 P1 */
    int decimals;
    int longest_line; /* bytes, whatever the limit comes from; at most DT_LONGEST_BLOCK */
    int overhead;     /* of these, bytes that the sender adds: "N12345 " and "(*1A2B)" */
} DtVocabulary;

/* FALSE with DT_ERROR_INPUT, which names the wrong token; `name` stands for the profile. */
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
