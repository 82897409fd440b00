/* accept: what this controller would refuse in a block, whatever the block means. Private. */
#pragma once

#include "code/judge/findings.h"

enum { LINE_OVERHEAD = 14 }; /* "N12345 " and "(*1A2B)", where the sender adds them */

/* Tells each refusal; returns how many. `overhead` is what the sender adds to the line. */
typedef void (*DtRefusalFunc)(void *user, DtFindingKind kind, int column, const char *text);
int dt_accept_block(const DtVocabulary *v, const DtCodeBlock *b, int overhead, DtRefusalFunc tell,
                    void *user);
