/* accept: what this controller would refuse in a block, whatever the block means. Private. */
#pragma once

#include "code/judge/findings.h"

/* Tells each refusal; returns how many. */
typedef void (*DtRefusalFunc)(void *user, DtFindingKind kind, int column, const char *text);
int dt_accept_block(const DtVocabulary *v, const DtCodeBlock *b, DtRefusalFunc tell, void *user);
