/* learn-cases: boards with one odd behaviour each, and what learning finds out about them. */
#pragma once

#include "drawtrue/learn.h"
#include "invented.h"

/* What is NULL or 0 is as with the plain board. */
typedef struct {
    const char *error; /* in the message that learning ends with; NULL: it learns */
    const char *words, *accept, *refuse, *greeting, *notices, *untried, *end, *refused,
        *told; /* among what it says */
    int window, longest;
    int decimals; /* 0: as many as were tried */
    gboolean check, asks, holds, abandons;
    gboolean run_may_stop; /* a run on it cannot be right each time */
    gboolean less;         /* it cannot all be found: what is found is right */
} Want;

typedef struct {
    const char *name;
    Invented kind;
    Want want;
} Case;

extern const Case learn_cases[];
extern const size_t n_learn_cases;

/* The profile that a board is learnt into. */
char *learn_case_profile(const Case *c);
/* Whether what was learnt is what is wanted, or a part of it where not all can be found; `error` is
 * what the learning ended with, `told` all that it said. */
void learn_case_judge(const Case *c, const DtLearnt *l, const GError *error, const char *told);
