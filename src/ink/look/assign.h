/* assign (private to ink): pens and coverage for all areas of a drawing at once. What differs in the
 * artwork differs on paper. */
#pragma once

#include "ink/look/appear.h"
#include "ink/look/parts.h"

/* Hatches of one pen and coverage side by side are told apart by this many directions. */
#define DT_LOOK_TURNS 4
/* Two looks that differ by this much (CIEDE2000) are told apart, if the paints differ as much. */
#define DT_LOOK_TOLD_APART 4.0
/* A bare gap that tells two inks apart is so many tips wide: the ink of both sides spreads, and the machine is not exact
 * (0.3 mm with a tip of 0.4 mm; common practice, no source). */
#define DT_LOOK_GAP_TIPS 0.75

/* Areas of one paint that are drawn alike. */
typedef struct {
    DtLab lab;        /* of the paint, laid over the paper */
    int asked;        /* the pen chosen by the user, -1: none */
    gboolean narrow;  /* too narrow for a pattern: dense, one line along the centre, or bare */
    double least;     /* coverage below which an open hatch would not show the shape; for a narrow
                       * area, the coverage of a line along its centre */
    double area;      /* mm^2 */
    gboolean sliver;  /* too little of it to be seen */
    gboolean fixed;   /* decided elsewhere: `recipe` is given, and stays */
    gboolean on_dark; /* narrow, on darker areas, hardly along the edge of one: bare it shows, and
                       * where it is on lighter ones it can be drawn */
    double *along; /* mm of the lines over it of each pen that run nearly along each of the hatch's
                       * directions, DT_LOOK_TURNS for each pen; NULL: none; owned */
    /* The result: */
    DtRecipe recipe;
    int turn;    /* 0 to DT_LOOK_TURNS - 1 */
    int outline; /* the pen of a line along its edge, of a narrow area along its middle, if nothing
                  * else shows it, -1: none */
} DtLookArea;

/* Chooses for all areas. `borders` (DtPartBorder) gives the adjacent areas, -1 being the bare
 * paper; `tip` is the pens', mm. `gaps` receives those borders along which the
 * paper is left bare. */
void dt_look_assign(DtAppear *appear, DtLookArea *areas, size_t n, const GArray *borders,
                    double tip, GArray *gaps);

/* The narrow areas of each paint, as circles: of each area the next one, of a wide one itself (g_free()). */
int *dt_look_find_kin(DtLookArea *areas, size_t n);

/* Whether the difference between the paints of a field and of what is beside it is worth a bare gap, for a tip in mm, in
 * the field's ink, if that is dense: the same price as in dt_look_assign(). */
gboolean dt_look_is_worth_a_gap(const DtAppear *appear, DtLab field, DtLab beside, double tip);

/* Whether an area that is a line, if perhaps with wider places where it meets others, would be lost with a recipe in what
 * its pen has of the ink beside it: as one of the hatch's lines, in dense ink that is not much wider than those, or by
 * gaps that are too fine. `tip` in mm. */
gboolean dt_look_is_line_lost(const DtLookArea *a, DtRecipe r, DtRecipe beside, double tip);
