/* selector, private: selectors of style sheets (Selectors 3). */
#pragma once

#include "art/private.h"

typedef enum {
    PART_TYPE,
    PART_CLASS,
    PART_ID,
    PART_HAS,      /* [a] */
    PART_EQUALS,   /* [a=v] */
    PART_INCLUDES, /* [a~=v] */
    PART_DASH,     /* [a|=v] */
    PART_BEGINS,   /* [a^=v] */
    PART_ENDS,     /* [a$=v] */
    PART_CONTAINS, /* [a*=v] */
    PART_NTH,      /* :nth-child(an+b) and its kin */
    PART_ROOT,
    PART_EMPTY,
    PART_ONLY_CHILD,
    PART_ONLY_OF_TYPE,
    PART_LANG,
    PART_LINK,
    PART_NOT,
    PART_NEVER, /* :hover and the like: never in a drawing on paper */
} PartKind;

typedef struct Compound Compound;

typedef struct {
    PartKind kind;
    char *name, *value;
    int a, b;               /* PART_NTH */
    gboolean of_type, last; /* PART_NTH */
    Compound * not ;        /* PART_NOT */
} Part;

struct Compound {
    GArray *parts;   /* of Part */
    char combinator; /* how it stands to the compound before it: ' ' '>' '+' '~', 0 for the first */
};

/* A selector with the declarations that it stands before. */
typedef struct {
    GPtrArray *compounds; /* leftmost first */
    unsigned specificity;
    unsigned order; /* in the sheets; later among all rules, weakest first */
    const char *body;
    gsize body_len;
} ArtRule;

/* One selector of a list; NULL where it is malformed. */
ArtRule *dt_art_rule_new(const char *s, const char *end);
void dt_art_rule_free(void *rule);

/* Rules by what their last compound asks for, so that an element is held against few of them. */
typedef struct {
    GHashTable *by_id, *by_class, *by_type; /* name → GPtrArray of ArtRule */
    GPtrArray *others;
    GPtrArray *found; /* by the last dt_art_index_find(), weakest first */
    gsize work;       /* compounds held against elements so far */
} ArtIndex;

/* `rules` is sorted, weakest first, and outlives the index. Where a rule asks for an element's
 * place among its siblings, the places are counted now. */
ArtIndex *dt_art_index_new(const GPtrArray *rules, ArtDoc *doc);
void dt_art_index_free(ArtIndex *x);
/* Finds the rules that match; none once the limit of work is passed. */
void dt_art_index_find(ArtIndex *x, const ArtNode *n);
