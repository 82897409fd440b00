/* sections: the pieces of one pen, cut where they touch or cross. Private to route. */
#pragma once

#include "route/splice.h"

#define DT_NO_NODE G_MAXUINT32

typedef struct {
    DtPieces set;           /* sections; dots, and loops that touch nothing, stay whole */
    uint32_t (*node)[2];    /* of each of them: where it starts and ends; DT_NO_NODE: whole */
    DtPoint *at;            /* of each node */
    uint32_t (*contact)[2]; /* nodes within the join of each other */
    uint32_t n_nodes, n_contacts;
    GPtrArray *owned; /* points of sections; frees them */
} DtSections;

/* Cuts open pieces and loops where an end of a piece comes within `join` mm of them and where
 * they cross, including self-crossings. No cuts are closer to each other than a quarter of the
 * join. FALSE, with nothing to clear, if there are too many edges. The pieces' points must
 * outlive the sections. */
gboolean dt_sections_cut(const DtPieces *set, double join, DtSections *out);
void dt_sections_clear(DtSections *s);
