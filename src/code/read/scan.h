/* scan: a line being read from left to right; shared by block.c and expr.c. Private. */
#pragma once

#include "code/read/rs274.h"

#include <math.h>

typedef struct {
    const char *at;
    DtCodeBlock *block;
    const DtParameters *parameters;
    const DtVocabulary *own;
    DtFaultFunc fault;
    void *user;
    int depth;
    int open; /* brackets still open when a fault was found */
} Scan;

static inline int column_of(const Scan *s, const char *at)
{
    return (int)(at - s->block->text) + 1;
}

#define FAULT_AT(s, kind, where, ...)                                                              \
    dt_block_fault((s)->block, (s)->fault, (s)->user, kind, column_of(s, where), __VA_ARGS__)

static inline gboolean is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static inline void skip_blanks(Scan *s)
{
    while (is_blank(*s->at))
        s->at++;
}

static inline char next_letter(const Scan *s)
{
    return (char)(*s->at & ~0x20); /* of letters alone */
}

/* Digits, with at most one point, and blanks between them. Up to 19 digits are collected in one
 * integer that is divided by a power of ten once, which rounds correctly for all numbers of a
 * program. */
static inline gboolean scan_number(Scan *s, double *out)
{
    static const double powers[] = {1,    1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9, 1e10,
                                    1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20};
    const char *start = s->at, *at = start;
    gboolean minus = *at == '-', point = FALSE;
    if (minus || *at == '+')
        at++;
    uint64_t digits = 0;
    int fraction = 0;
    double beyond = 1;
    gboolean any = FALSE;
    for (;; at++) {
        unsigned digit = (unsigned)(uint8_t)*at - '0';
        if (G_LIKELY(digit < 10)) {
            any = TRUE;
            if (G_LIKELY(digits < 100000000000000000u)) {
                digits = digits * 10 + digit;
                fraction += point;
            } else if (!point) {
                beyond *= 10;
            }
        } else if (*at == '.' && !point) {
            point = TRUE;
        } else if (!is_blank(*at)) {
            break;
        }
    }
    s->at = at;
    if (!any) {
        FAULT_AT(s, FAULT_NUMBER, start, "a number needs a digit");
        return FALSE;
    }
    double value = (double)digits * beyond;
    if (fraction > 0)
        value = G_LIKELY(fraction < (int)G_N_ELEMENTS(powers)) ? value / powers[fraction]
                                                               : value * pow(10, -fraction);
    *out = minus ? -value : value;
    return TRUE;
}

/* Reads a number, parameter, expression or function; FALSE, with a fault reported, if there is
 * none. */
gboolean dt_scan_value(Scan *s, double *out);
