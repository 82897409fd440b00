/* art-selector, private: selectors of style sheets (Selectors 3). */
#pragma once

#include "art-private.h"

/* A selector with the declarations that it stands before. */
typedef struct {
    GPtrArray *compounds; /* leftmost first */
    unsigned specificity;
    unsigned order;
    const char *body;
    gsize body_len;
} ArtRule;

/* One selector of a list; NULL where it is malformed. */
ArtRule *art_rule_new(const char *s, const char *end);
void art_rule_free(void *rule);
gboolean art_rule_matches(const ArtRule *rule, const ArtNode *n);

/* Skips spaces and comments. */
const char *art_css_skip(const char *s, const char *end);
/* The place of the first of `stops` outside quotes, brackets and comments, or the end. */
const char *art_css_find(const char *s, const char *end, const char *stops);
