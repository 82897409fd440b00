/* accept: what this controller would refuse in a block, regardless of its meaning. Private. */
#pragma once

#include "code/judge/findings.h"

/* Reports each refusal; returns their number. */
typedef void (*DtRefusalFunc)(void *user, DtFindingKind kind, int column, const char *text);
int dt_accept_block(const DtVocabulary *v, const DtCodeBlock *b, DtRefusalFunc tell, void *user);
