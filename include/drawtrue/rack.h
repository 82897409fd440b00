/* rack: the pens of a machine. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/colour.h"
#include "drawtrue/geom.h"

#include <string.h>

/* A pen of the rack. `offset` is the position of its tip in the holder relative to the first
 * pen's, mm in bed coordinates. `classes` and `groups` are words (separated by spaces, may be
 * NULL): artwork classes and group ids that this pen draws whatever their colour. */
typedef struct {
    char *name;
    DtColour colour;
    double tip;      /* width of its line, mm */
    double tip_life; /* mm of ink until the tip is worn; 0: not known */
    DtPoint offset;
    char *classes;
    char *groups;
    double dot_gain; /* n of Yule and Nielsen 1951, 1 or more; 1: no dot gain. Measured: an area
                   * half covered by lines looks as dark as (0.5 paper^(1/n) + 0.5 ink^(1/n))^n,
                   * in linear light */
    char *over;      /* "green #5a3a20, red #802020": measured colours of this ink over that of
                   * other pens; may be NULL. Inks multiply if no colour is given. */
} DtPen;

typedef struct {
    DtPen *pens;
    size_t n;
} DtRack;

/* The index of the pen of this name, -1 if the rack has none. */
static inline int dt_rack_find(const DtRack *rack, const char *name)
{
    for (size_t i = 0; i < rack->n; i++)
        if (rack->pens[i].name != NULL && strcmp(rack->pens[i].name, name) == 0)
            return (int)i;
    return -1;
}

/* The same for a name from a program's comment, see dt_base_comment_text(). */
static inline int dt_rack_find_spelled(const DtRack *rack, const char *name)
{
    for (size_t i = 0; i < rack->n; i++) {
        g_autofree char *spelled =
            dt_base_comment_text(rack->pens[i].name ? rack->pens[i].name : "");
        if (strcmp(g_strstrip(spelled), name) == 0)
            return (int)i;
    }
    return -1;
}

/* The measured colour of two pens' inks on top of one another; FALSE if neither pen states it. */
gboolean dt_rack_overprint(const DtRack *rack, size_t pen, size_t other, DtColour *out);
/* What is wrong with a pen's `over`, for a message; NULL if it is correct. Free with g_free(). */
char *dt_rack_overprint_problem(const DtRack *rack, size_t pen);
