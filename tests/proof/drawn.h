/* What a picture is made of, taken down as it is drawn: this file stands between the room and cairo, and
 * everything is still drawn. All places are on the picture: in its units of a PNG, px. */
#pragma once

#include "drawtrue/proof.h"
#include "proof/private.h"

typedef struct {
    char *text;
    DtBox box;      /* of its letters */
    DtPoint at;     /* left end of the base line */
    double advance; /* to its right end */
    gboolean bold;
} Text;

/* A filled or stroked path in one colour. */
typedef struct {
    DtBox box;  /* of the path itself */
    DtBox clip; /* nothing is drawn outside */
    DtColour colour;
    double width; /* of a stroke */
} Shape;

extern GArray *texts;         /* of Text */
extern GArray *bands, *lines; /* of Shape: filled; stroked */
extern double picture_height;

void drawn_init(void);
void drawn_clear(void);
/* Forgets what was drawn so far. */
void drawn_begin(void);
/* Draws a proof of this width, px, into a folder, where no file of it stays. */
void drawn_page(const DtProofInput *in, const char *folder, int width);
const Text *drawn_text(const char *text);
/* The shape of the array that is the `nth` of this colour, counted from 0; NULL if there are fewer. */
const Shape *drawn_shape(const GArray *of, DtColour colour, guint nth);
gboolean is_colour(DtColour a, DtColour b);

/* These end the test where there is none. */
const Text *text_of(const char *text);
const Shape *shape_of(const GArray *of, DtColour c, guint nth);
const Text *text_at(guint i);
double end_of(const Text *t);
/* These texts are bold: headings, totals, the names of marks on the sheet; and nothing else. NULL ends them. */
void assert_bold(const char *const *bold);
void assert_near(double a, double b, double tolerance, const char *what);
