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
    PART_NTH,      /* :nth-child(an+b) and its variants */
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
    PART_NEVER, /* :hover and the like: never true for a drawing on paper */
    PART_ALWAYS,
    PART_PREFIX, /* "svg|" before a name: dt_art_selector_prefix() finds those not declared */
} PartKind;

typedef struct {
    PartKind kind;
    char *name, *value;
    gboolean any_case;      /* of an attribute's value */
    int a, b;               /* PART_NTH */
    gboolean of_type, last; /* PART_NTH */
    GPtrArray *list;        /* of ArtSelector; of PART_NTH those that are counted; NULL if there
                             * are none */
} Part;

typedef struct {
    GArray *parts;   /* of Part */
    char combinator; /* relation to the compound before it: ' ' '>' '+' '~', 0 for the first */
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

/* A selector with its declarations. */
typedef struct {
    ArtSelector *selector;
    const ArtScopeRule *scope; /* NULL outside of any */
    unsigned layer;            /* first the number of its layer, then the rank of the layer */
    unsigned order;            /* position in the sheets; later, among all rules, weakest first */
    unsigned proximity;        /* distance from the element matched last to its scope's root */
    const char *body;
    gsize body_len;
} ArtRule;

#define ART_NO_LAYER 0xffffffffu

/* One selector of a list; NULL if it is malformed. `anchored`: inside :has(), it may begin with
 * a combinator and starts at PART_ANCHOR. */
ArtSelector *dt_art_selector_new(const char *s, const char *end, gboolean anchored);
/* All selectors of a list; malformed ones are left out if it is `forgiving`, otherwise one of
 * them makes it NULL. */
GPtrArray *dt_art_selector_list(const char *s, const char *end, gboolean forgiving,
                                gboolean anchored);
/* Why browsers may treat the selector differently; NULL if they agree. */
const char *dt_art_selector_doubt(const ArtSelector *s);
/* The first namespace prefix in it that is not in the set `prefixes`; NULL if there is none. */
const char *dt_art_selector_prefix(const ArtSelector *s, GHashTable *prefixes);
void dt_art_selector_free(void *selector);
void dt_art_rule_free(void *rule);

/* Rules indexed by the key of their last compound, so that an element is compared with few of
 * them. */
typedef struct {
    GHashTable *by_id, *by_class, *by_type; /* name → GPtrArray of ArtRule */
    GPtrArray *others;
    GPtrArray *found;              /* from the last dt_art_index_find(), weakest first */
    gsize work;                    /* number of compounds compared with elements so far */
    gboolean ranked;               /* some rules are in layers or scopes */
    const ArtNode *anchor, *scope; /* of :has() and :scope while one is matched */
    const ArtNode *top;            /* limit of the search; NULL for the whole tree */
    ArtNode *const *reader_top;    /* at the place of the reader */
} ArtIndex;

/* `rules` is sorted, weakest first, and outlives the index. If a rule refers to an element's
 * position among its siblings, the positions are counted now. */
ArtIndex *dt_art_index_new(const GPtrArray *rules, ArtDoc *doc);
void dt_art_index_free(ArtIndex *x);
/* Finds the rules that match, in the order in which their declarations apply; none once the
 * limit of work is exceeded. For important ones the order of layers is reversed. */
void dt_art_index_find(ArtIndex *x, const ArtNode *n, gboolean important);
