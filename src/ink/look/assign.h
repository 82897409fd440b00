/* assign (private to ink): pens and coverage for all areas of a drawing at once. What differs in the
 * artwork differs on paper. */
#pragma once

#include "ink/look/appear.h"
#include "ink/look/parts.h"

/* Hatches of one pen and share side by side are told apart by their directions: this many. */
#define DT_LOOK_TURNS 4

/* Areas of one paint that are drawn alike. */
typedef struct {
    DtLab lab;       /* of the paint, laid over the paper */
    int asked;       /* the pen that the maker asked for, -1: none */
    gboolean narrow; /* no pattern would show: dense, one line along the middle, or bare */
    double
        least;   /* share below which an open hatch would not show the shape; of a narrow one what a
                      * line along its middle covers */
    double area; /* mm^2 */
    gboolean fixed; /* decided elsewhere: `recipe` is given, and stays */
    /* The answer: */
    DtRecipe recipe;
    int turn;    /* 0 to DT_LOOK_TURNS - 1 */
    int outline; /* the pen of a line along its edge where nothing else shows it, -1: none */
} DtLookArea;

/* Chooses for all areas. `borders` (DtPartBorder) says which border on which, -1 being the bare paper;
 * `tip` is the width of a bare gap, mm. `gaps` gets those borders along which the paper is left bare. */
void dt_look_assign(DtAppear *appear, DtLookArea *areas, size_t n, const GArray *borders,
                    double tip, GArray *gaps);
