/* art, private: the store of a drawing, the tree of its nodes, and the limits of both. */
#pragma once

#include "drawtrue/art.h"
#include "art/style/names.h"
#include "drawtrue/base.h"

#include <string.h>

/* Limits that bound the cost of any input. */
#define ART_MAX_BYTES ((gsize)256 << 20)       /* of XML, after decompression */
#define ART_MAX_ENTITY_BYTES ((gsize)16 << 20) /* all entity references together, expanded */
#define ART_MAX_DEPTH 1024                     /* nested elements, references followed */
#define ART_MAX_VISITS ((gsize)1 << 20)        /* elements reached through references */
#define ART_MAX_POINTS ((gsize)16 << 20)       /* points in all outlines */
#define ART_MAX_LETTERS (1 << 18)              /* of one text */
#define ART_MAX_TRACED ((gsize)1 << 28)        /* pixels traced in all: masks, strokes */
#define ART_MAX_LEVELS ((gsize)64 << 20)       /* pixels of masks of half tones */
#define ART_MAX_TILES 20000                    /* of one pattern fill */
#define ART_MAX_TILED 400000                   /* elements in all tiles of all patterns */
#define ART_MAX_ATTRIBUTES 10000               /* of one element of more than 64 kB */
#define ART_MAX_BOXES 5                        /* found within one another */
#define ART_MAX_VARIABLES ((gsize)64 << 20)    /* bytes of custom properties */
#define ART_MAX_REPLACED ((gsize)5000000)      /* var() in all values */
#define ART_MAX_MATCHES ((gsize)1 << 26)       /* selectors held against elements */
#define ART_MAX_SIBLINGS (1 << 30)             /* that a selector counts */
#define ART_MAX_COORDINATE 1e7    /* mm: anything beyond ten kilometres is not a drawing */
#define ART_MM_PER_PX (25.4 / 96) /* CSS Values and Units 3, 6.2 */

/* Store ---------------------------------------------------------------------------------------- */

typedef struct DtArtStore ArtStore;

struct DtArtStore {
    struct ArtChunk *chunks;
    char *at, *end;
    GPtrArray *tones;  /* of DtTone *, in the arena; for dt_art_place() */
    GPtrArray *softs;  /* of DtSoft *, the same */
    GPtrArray *blocks; /* pixels and long outlines, g_free */
    gsize replaced;    /* var() in all values */
    gsize variables;   /* bytes of custom properties */
};

ArtStore *dt_art_store_new(void);
void dt_art_store_free(ArtStore *s);
void *dt_art_store_alloc(ArtStore *s, gsize size); /* 8-byte aligned, not cleared */
void *dt_art_store_zero(ArtStore *s, gsize size);
char *dt_art_store_text(ArtStore *s, const char *text, gsize len); /* NUL-terminated copy */
/* Requests large pages for a block that will be filled: page faults are most of the kernel time
 * of reading a large drawing. */
void dt_art_expect_use(void *room, gsize size);

/* Tree ----------------------------------------------------------------------------------------- */

typedef struct {
    ArtName name;
    const char *key;   /* as written, without prefix unless it is xml: or xlink: */
    const char *value; /* entities replaced; NUL-terminated */
} ArtAttr;

typedef struct ArtReader ArtReader;
typedef struct ArtNode ArtNode;
struct ArtNode {
    ArtTag tag;
    int line;
    unsigned n_attrs;
    unsigned busy; /* being visited through a reference: guards against cycles */
    ArtAttr *attrs;
    ArtNode *parent, *first, *last, *next, *before;
    struct ArtPlace *place; /* among its siblings, if a style sheet needs it; otherwise NULL */
    const char *id, *classes;
    const char *local; /* element name as written */
    const char *words; /* ART_TAG_WORDS */
};

/* A name without meaning here; `why` is a format with one string. */
typedef struct {
    const ArtNode *node;
    const char *name, *why;
} ArtUndrawn;

typedef struct {
    ArtStore *store; /* of the drawing */
    ArtStore *tree; /* of the nodes and their attributes, which the finished drawing does without */
    char *source;   /* the XML, NUL-terminated: attribute values may lie inside it */
    ArtNode *root;
    GPtrArray *undrawn;  /* of ArtUndrawn, in the tree's store */
    gboolean namespaced; /* whether the outermost element is in SVG's namespace */
    GHashTable *by_id;   /* id to ArtNode *, the first of that id; NULL until needed */
    gsize n_nodes;
    const char *name; /* of the file, for messages */
    gboolean has_sheets, has_variables;
    int outside_sheet; /* line of a reference to an external style sheet; 0 if there is none */
} ArtDoc;

/* Parses the source, `len` bytes and a NUL, and terminates attribute values inside it. */
gboolean dt_art_xml_parse(ArtDoc *doc, gsize len, GError **error);
void dt_art_doc_clear(ArtDoc *doc);                      /* all but the drawing's store */
ArtNode *dt_art_next_node(const ArtNode *n);             /* in document order */
const char *dt_art_attr(const ArtNode *n, ArtName name); /* NULL where absent */
/* The target of href or xlink:href inside the file; NULL if it is absent, elsewhere or missing. */
const char *dt_art_href(const ArtNode *n);
ArtNode *dt_art_target(ArtDoc *doc, const char *reference); /* "#id" */
