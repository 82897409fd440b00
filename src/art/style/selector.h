/* selector, private: selectors of style sheets (Selectors 4). */
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
    PART_NOT,  /* :not(list) */
    PART_IS,   /* :is(list) and :where(list) */
    PART_WITH, /* :has(list), each selector beginning at PART_ANCHOR */
    PART_ANCHOR,
    PART_SCOPE, /* :scope */
    PART_LTR,   /* :dir(ltr) */
    PART_RTL,
    PART_NEVER, /* :hover and the like: never in a drawing on paper */
    PART_ALWAYS,
} PartKind;

typedef struct {
    PartKind kind;
    char *name, *value;
    gboolean any_case;      /* of an attribute's value */
    int a, b;               /* PART_NTH */
    gboolean of_type, last; /* PART_NTH */
    GPtrArray *list;        /* of ArtSelector; of PART_NTH those that are counted; NULL for none */
} Part;

typedef struct {
    GArray *parts;   /* of Part */
    char combinator; /* how it stands to the compound before it: ' ' '>' '+' '~', 0 for the first */
} Compound;

typedef struct {
    GPtrArray *compounds; /* leftmost first */
    unsigned specificity;
} ArtSelector;

/* @scope (root) to (limit): CSS Cascade 6, 2.5. */
typedef struct ArtScopeRule {
    GPtrArray *roots, *limits; /* of ArtSelector; roots NULL: the outermost <svg> */
    const struct ArtScopeRule *outer;
} ArtScopeRule;

/* A selector with the declarations that it stands before. */
typedef struct {
    ArtSelector *selector;
    const ArtScopeRule *scope; /* NULL outside of any */
    unsigned layer;            /* first a number of its layer, then its rank among them */
    unsigned order;            /* in the sheets; later among all rules, weakest first */
    unsigned proximity;        /* of the element matched last to its scope's root */
    const char *body;
    gsize body_len;
} ArtRule;

#define ART_NO_LAYER 0xffffffffu

/* One selector of a list; NULL where it is malformed. `anchored`: of :has(), it may begin with a
 * combinator and is taken from PART_ANCHOR. */
ArtSelector *dt_art_selector_new(const char *s, const char *end, gboolean anchored);
/* All of a list; where it is `forgiving` those that are malformed are left out, else NULL where one
 * is. */
GPtrArray *dt_art_selector_list(const char *s, const char *end, gboolean forgiving,
                                gboolean anchored);
/* Why browsers may take the selector otherwise; NULL where they agree. */
const char *dt_art_selector_doubt(const ArtSelector *s);
void dt_art_selector_free(void *selector);
void dt_art_rule_free(void *rule);

/* Rules by what their last compound asks for, so that an element is held against few of them. */
typedef struct {
    GHashTable *by_id, *by_class, *by_type; /* name → GPtrArray of ArtRule */
    GPtrArray *others;
    GPtrArray *found;              /* by the last dt_art_index_find(), weakest first */
    gsize work;                    /* compounds held against elements so far */
    gboolean ranked;               /* some rules are in layers or scopes */
    const ArtNode *anchor, *scope; /* of :has() and :scope while one is matched */
    const ArtNode *top;            /* beyond which nothing is looked at; NULL for all of the tree */
    ArtNode *const *reader_top;    /* where the reader says so */
} ArtIndex;

/* `rules` is sorted, weakest first, and outlives the index. Where a rule asks for an element's
 * place among its siblings, the places are counted now. */
ArtIndex *dt_art_index_new(const GPtrArray *rules, ArtDoc *doc);
void dt_art_index_free(ArtIndex *x);
/* Finds the rules that match, in the order that their declarations hold in; none once the limit of
 * work is passed. Of those that are important, layers go the other way. */
void dt_art_index_find(ArtIndex *x, const ArtNode *n, gboolean important);
