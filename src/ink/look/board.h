/* board (private to ink): all areas of a drawing while their inks are chosen. */
#pragma once

#include "ink/look/assign.h"

typedef struct {
    DtAppear *appear;
    DtLookArea *areas;
    size_t n;
    const GArray *borders;
    GArray **by_area;  /* guint: the borders of each area */
    gboolean *gap;     /* of each border */
    gboolean *settled; /* no other option is known */
    int *kin;          /* as of dt_look_find_kin() */
    double tip;
    int grey_pens[2]; /* that hatch greys beside those with grey ink, -1: none */
    double darkest;   /* ink, L* */
} DtBoard;

static inline gboolean dt_recipe_is_open(DtRecipe r)
{
    return r.pen[0] >= 0 && r.share[0] < 1;
}

/* Whether its lines have one direction, which can be another. */
static inline gboolean dt_recipe_is_one_way(DtRecipe r)
{
    return dt_recipe_is_open(r) && r.pen[0] != r.pen[1];
}

/* The second pen, if it is another. */
static inline int dt_recipe_other_pen(DtRecipe r)
{
    return r.pen[1] == r.pen[0] ? -1 : r.pen[1];
}

static inline gboolean dt_recipe_same_pens(DtRecipe r, DtRecipe s)
{
    return r.pen[0] == s.pen[0] && dt_recipe_other_pen(r) == dt_recipe_other_pen(s);
}

static inline gboolean dt_recipe_share_a_pen(DtRecipe r, DtRecipe s)
{
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 2; k++)
            if (r.pen[i] >= 0 && r.pen[i] == s.pen[k])
                return TRUE;
    return FALSE;
}

/* The borders of an area that another recipe would change. */
typedef struct {
    double solved;  /* mm told apart only then */
    double spoiled; /* the worth of those told apart only now, or the cost of gaps there */
} DtTurnout;

DtTurnout dt_board_turnout(const DtBoard *b, int area, DtRecipe recipe, int turn);

/* Turns the hatches among whose lines others of their pen would be lost, where their borders stay told apart. */
void dt_board_turn_off_lines(DtBoard *b);
