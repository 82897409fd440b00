/* ways: each row of the table says how one kind of program writes its head, its lifts, its travels
 * and its lines; drawings are positions. Nothing here is read from a program. */
#include "pen-ways/ways.h"

#include <math.h>
#include <string.h>

enum { MOST_SHAPES = 40, MOST_POINTS = 16 };

typedef struct {
    double x, y;
    int turn; /* an arc to here: 1 anticlockwise, -1 clockwise, about cx, cy */
    double cx, cy;
} Spot;

typedef struct {
    Spot at[MOST_POINTS];
    int n;
} Shape;

typedef struct {
    Shape shape[MOST_SHAPES];
    int n;
} Drawing;

/* Drawings ------------------------------------------------------------------------------------ */

static Shape *begin(Drawing *d)
{
    Shape *s = &d->shape[d->n++];
    s->n = 0;
    return s;
}

static void to(Shape *s, double x, double y)
{
    s->at[s->n++] = (Spot){x, y, 0, 0, 0};
}

static void polygon(Drawing *d, double cx, double cy, double radius, int sides, double turn)
{
    Shape *s = begin(d);
    for (int i = 0; i <= sides; i++) {
        const double a = turn + 2 * G_PI * (i % sides) / sides;
        to(s, cx + radius * cos(a), cy + radius * sin(a));
    }
}

static void draw_square(Drawing *d, GRand *r)
{
    polygon(d, g_rand_double_range(r, 30, 60), g_rand_double_range(r, 30, 60), 20, 4, 0.3);
}

static void draw_polygons(Drawing *d, GRand *r)
{
    for (int i = 0; i < 5; i++)
        polygon(d, 20 + 32 * i, g_rand_double_range(r, 30, 90), 12, 3 + i,
                g_rand_double_range(r, 0, 1));
}

static void draw_letters(Drawing *d, GRand *r)
{
    for (int i = 0; i < 6; i++) {
        Shape *s = begin(d);
        const double x = 20 + 14 * i, y = 50 + g_rand_double_range(r, -5, 5);
        const int n = g_rand_int_range(r, 3, 7);
        for (int k = 0; k < n; k++)
            to(s, x + 8 * (k % 2) + 0.5 * k, y + 4 * k);
    }
}

static void draw_hatch(Drawing *d, GRand *r)
{
    const double pitch = g_rand_double_range(r, 1, 2.5);
    for (int i = 0; i < 14; i++) {
        Shape *s = begin(d);
        to(s, i % 2 ? 70 : 25, 20 + pitch * i);
        to(s, i % 2 ? 25 : 70, 20 + pitch * i);
    }
}

static void draw_rings(Drawing *d, GRand *r)
{
    const double turn = g_rand_double_range(r, 0, 1);
    for (int i = 0; i < 4; i++)
        polygon(d, 60, 60, 8 + 6 * i, 6, turn);
}

static void arc_to(Shape *s, double cx, double cy, double angle, int turn)
{
    const Spot *from = &s->at[s->n - 1];
    const double radius = hypot(from->x - cx, from->y - cy);
    s->at[s->n++] = (Spot){cx + radius * cos(angle), cy + radius * sin(angle), turn, cx, cy};
}

static void draw_arcs(Drawing *d, GRand *r)
{
    for (int i = 0; i < 3; i++) {
        Shape *s = begin(d);
        const double x = 30 + 40 * i, y = g_rand_double_range(r, 40, 70);
        to(s, x + 12, y);
        arc_to(s, x, y, G_PI, 1);
        arc_to(s, x, y, 0, 1);
    }
    Shape *s = begin(d);
    to(s, 30, 100);
    to(s, 60, 100);
    arc_to(s, 60, 105, G_PI / 2, 1);
    to(s, 30, 110);
}

static void draw_stars(Drawing *d, GRand *r)
{
    for (int i = 0; i < 12; i++) {
        Shape *s = begin(d);
        const double x = 25 + 25 * (i % 4), y = 25 + 25 * (i / 4);
        const double turn = g_rand_double_range(r, 0, 1);
        for (int k = 0; k <= 10; k++) {
            const double a = turn + G_PI * (k % 10) / 5, radius = k % 2 ? 4 : 9;
            to(s, x + radius * cos(a), y + radius * sin(a));
        }
    }
}

static void draw_dashes(Drawing *d, GRand *r)
{
    for (int row = 0; row < 3; row++)
        for (int i = 0; i < 8; i++) {
            Shape *s = begin(d);
            const double x = 20 + 6 * i + g_rand_double_range(r, 0, 2);
            to(s, x, 40 + 3 * row);
            to(s, x + 3, 40 + 3 * row);
        }
}

/* The pen comes down at a place, and is lifted again. */
static void draw_dots(Drawing *d, GRand *r)
{
    const int n = g_rand_int_range(r, 4, 20);
    for (int i = 0; i < n; i++)
        to(begin(d), 20 + 14 * (i % 5) + g_rand_double_range(r, 0, 9), 25 + 17 * (i / 5));
}

static void draw_dotted_polygons(Drawing *d, GRand *r)
{
    draw_polygons(d, r);
    draw_dots(d, r);
}

static void (*const drawings[])(Drawing *, GRand *) = {
    draw_square, draw_polygons, draw_letters, draw_hatch, draw_rings,
    draw_arcs,   draw_stars,    draw_dashes,  draw_dots,  draw_dotted_polygons,
};

int ways_drawings(void)
{
    return (int)G_N_ELEMENTS(drawings);
}

/* Ways ---------------------------------------------------------------------------------------- */

enum {
    NUMBERED = 1,
    LARGE_NUMBERS = 2,
    CHECKSUMS = 4,
    RETURNS = 8, /* carriage returns alone */
    LOWER = 16,
    TIGHT = 32,
    INCHES = 64,
    RELATIVE = 128,
    TWICE = 256, /* every shape is drawn again from its end to its start, deeper: `again` */
    UNCLEAR = 512,
    HOLES = 1024, /* the travel makes the dot */
};

#define XY "$X $Y"
#define G0 "G0 " XY
#define G1 "G1 " XY " F900"
#define END "M5\nG0 X0 Y0\nM2"

/* $X and $Y are the words of a position, $S a speed and $D a depth that differ by shape, $W a speed, $V a depth and $H a
 * height about nought that differ from line to line, $E material that was fed up to
 * the end of a move, $F up to its start, $B 2 mm less than that, and $P what is fed in one move. An arc takes the place of "G1 $X $Y". */
static const struct {
    const char *name, *head, *travel, *down, *draw, *up, *tail, *again;
    unsigned flags;
} ways[] = {
    {"spindle", "G21 G90\nM5", G0, "M3 S1000", G1, "M5", END, NULL, 0},
    {"spindle all at feed", "G21 G90\nM5", G1, "M3 S1000", G1, "M5", "M5\nG1 X0 Y0\nM2", NULL, 0},
    {"spindle by M4", "G21 G90\nM5", G0, "M4 S300", G1, "M5", END, NULL, 0},
    {"spindle off is down", "G21 G90\nM3 S500", G0, "M5", G1, "M3 S500", "M3\nG0 X0 Y0\nM2", NULL,
     0},
    {"spindle off is down, all at feed", "G21 G90\nM3 S500", G1, "M5", G1, "M3 S500",
     "M3\nG1 X0 Y0\nM2", NULL, UNCLEAR},
    {"spindle directions", "G21 G90\nM4 S100", G0, "M3 S100", G1, "M4 S100", "G0 X0 Y0\nM2", NULL,
     0},
    {"M3 for two heights", "G21 G90\nM3 S30", G0, "M3 S90\nG4 P0.2", G1, "M3 S30\nG4 P0.2", END,
     NULL, 0},
    {"M3 for two heights, all at feed", "G21 G90\nM3 S30", G1, "M3 S90\nG4 P0.2", G1,
     "M3 S30\nG4 P0.2", "M3 S30\nG1 X0 Y0\nM5\nM2", NULL, 0},
    {"low S is down", "G21 G90\nM3 S70", G0, "M3 S20", G1, "M3 S70", END, NULL, 0},
    {"low S is down, all at feed", "G21 G90\nM3 S70", G1, "M3 S20", G1, "M3 S70",
     "M3 S70\nG1 X0 Y0\nM2", NULL, UNCLEAR},
    {"power on lines of their own", "G21 G90\nM3 S0", G0, "S255", G1, "S0", END, NULL, 0},
    {"power in the moves", "G21 G90\nM3 S0", "G1 " XY " F3000 S0", "", "G1 " XY " F900 S255", "",
     "M5\nG1 X0 Y0 S0\nM2", NULL, 0},
    {"power that rapids cut off", "G21 G90\nM4 S0", G0, "S200", G1, "", END, NULL, 0},
    {"power on throughout", "G21 G90\nM3 S500", G0, "", G1, "", END, NULL, 0},
    {"power that varies along the line", "G21 G90\nM4 S0", G0, "", G1 " S$W", "",
     "M5\nG0 X0 Y0\nM2", NULL, 0},
    {"M3 in steps", "G21 G90\nM3 S30", G0,
     "M3 S40\nG4 P0.1\nM3 S60\nG4 P0.1\nM3 S80\nG4 P0.1\nM3 S90", G1,
     "M3 S80\nG4 P0.1\nM3 S60\nG4 P0.1\nM3 S40\nG4 P0.1\nM3 S30", END, NULL, 0},
    {"power by shape", "G21 G90\nM3 S0", "G0 " XY " S0", "", "G1 " XY " F900 S$S", "", END, NULL,
     0},
    {"power by shape, off between", "G21 G90\nM5", G0, "M3 S$S", G1, "M5", END, NULL, 0},
    {"power by shape, rapids between", "G21 G90\nM4", G0, "S$S", G1, "", END, NULL, 0},
    {"Z, tool turning", "G21 G90 G17\nM3 S12000\nG0 Z5", G0, "G1 Z-1 F200", G1, "G0 Z5",
     "G0 Z5\nM5\nG0 X0 Y0\nM30", NULL, 0},
    {"Z in the travel", "G21 G90\nG0 Z5", "G0 " XY " Z5", "G1 Z-1 F200", G1, "",
     "G0 Z5\nG0 X0 Y0\nM2", NULL, 0},
    {"Z all at feed", "G21 G90\nG1 Z4 F500", G1, "G1 Z0 F500", G1, "G1 Z4 F500",
     "G1 Z4\nG1 X0 Y0\nM2", NULL, 0},
    {"Z of three heights", "G21 G90\nG0 Z10", G0, "G0 Z2\nG1 Z-0.5 F200", G1, "G0 Z10",
     "G0 X0 Y0\nM2", NULL, 0},
    {"Z of three heights, low travels", "G21 G90\nG0 Z20", G0, "G1 Z-0.5 F200", G1, "G0 Z2",
     "G0 Z20\nG0 X0 Y0\nM2", NULL, 0},
    {"Z of four heights, all at feed", "G21 G90\nG1 Z20 F600", G1, "G1 Z1 F300\nG1 Z-0.5", G1,
     "G1 Z3 F600", "G1 Z20\nG1 X0 Y0\nM2", NULL, 0},
    {"relative Z", "G21 G90\nG91\nG0 Z5\nG90", G0, "G91\nG1 Z-5 F200\nG90", G1, "G91\nG0 Z5\nG90",
     "G0 X0 Y0\nM2", NULL, 0},
    {"all relative", "G21 G91\nG0 Z5", G0, "G1 Z-6 F200", G1, "G0 Z6", "M2", NULL, RELATIVE},
    {"inches with Z", "G20 G90\nG0 Z0.2", "G0 " XY, "G1 Z-0.02 F10", "G1 " XY " F30", "G0 Z0.2",
     "G0 X0 Y0\nM2", NULL, INCHES},
    {"older unit words", "G70 G90\nG0 Z0.2", "G0 " XY, "G1 Z-0.02 F10", "G1 " XY " F30", "G0 Z0.2",
     "G0 X0 Y0\nM2", NULL, INCHES},
    {"Z follows a surface", "G21 G90\nG0 Z5", G0 " Z5", "G1 Z$H F200", G1 " Z$H", "G0 Z5",
     "G0 X0 Y0\nM2", NULL, 0},
    {"Z gives the width of the line", "G21 G90\nG0 Z4", G0, "G1 Z$V F200", G1 " Z$V", "G0 Z4",
     "G0 X0 Y0\nM2", NULL, 0},
    {"Z nought draws", "G21 G90\nG0 Z5", G0, "G1 Z0 F300", G1, "G0 Z5", "G0 X0 Y0\nM2", NULL, 0},
    {"two passes", "G21 G90\nG0 Z5", G0, "G1 Z-1 F200", G1, "G0 Z5", "G0 X0 Y0\nM2", "G1 Z-2 F200",
     TWICE},
    {"deep and shallow", "G21 G90\nG0 Z5", G0, "G1 Z-$D F200", G1, "G0 Z5", "G0 X0 Y0\nM2", NULL,
     0},
    {"deep and shallow, all at feed", "G21 G90\nG1 Z5 F800", G1, "G1 Z-$D F200", G1, "G1 Z5",
     "G1 X0 Y0\nM2", NULL, 0},
    {"holes by a cycle", "G21 G90\nG0 Z5", "G99 G81 " XY " Z-1 R1 F300", "", "", "",
     "G80\nG0 Z5\nG0 X0 Y0\nM2", NULL, HOLES},
    {"holes by a cycle, up to the start", "G21 G90\nG0 Z12", "G98 G82 " XY " Z-2 R1 P0.1 F300", "",
     "", "", "G80\nG0 X0 Y0\nM2", NULL, HOLES},
    {"holes by pecks", "G21 G90\nG0 Z8", "G83 " XY " Z-3 R1 Q1.5 F200", "", "", "",
     "G80\nM5\nG0 X0 Y0\nM2", NULL, HOLES},
    {"holes from a lower height", "G21 G90\nM3 S9000\nG0 Z15", G0 "\nG0 Z2\nG1 Z-1 F200\nG0 Z2", "",
     "", "", "G0 Z15\nM5\nG0 X0 Y0\nM2", NULL, HOLES},
    {"high is down", "G21 G90\nG0 Z1", G0, "G1 Z6 F300", G1, "G0 Z1", "G0 X0 Y0\nM2", NULL, 0},
    {"high is down, all at feed", "G21 G90\nG1 Z1 F300", G1, "G1 Z6 F300", G1, "G1 Z1",
     "G1 X0 Y0\nM2", NULL, UNCLEAR},
    {"a rotary axis lifts", "G21 G90\nG0 A0", G0, "G0 A45", G1, "G0 A0", "G0 X0 Y0\nM2", NULL, 0},
    {"moves alone", "G21 G90", G0, "", G1, "", "G0 X0 Y0\nM2", NULL, 0},
    {"moves with a tool's head",
     "%\nO1000 (SEED LABELS)\n(TOOL 1: PEN 0.5)\nG21 G90 G17 G40 G49 G80\n"
     "T1 M6\nM3 S8000",
     G0, "", G1, "", "M5\nG0 X0 Y0\nM30\n%", NULL, NUMBERED},
    {"coolant", "G21 G90\nM9", G0, "M8", G1, "M9", "G0 X0 Y0\nM2", NULL, 0},
    {"coolant, all at feed", "G21 G90\nM9", G1, "M8", G1, "M9", "G1 X0 Y0\nM2", NULL, 0},
    {"an output", "G21 G90\nM72 P1", G0, "M71 P1", G1, "M72 P1", "G0 X0 Y0\nM2", NULL, 0},
    {"an output, all at feed", "G21 G90\nM77 P0", G1, "M76 P0", G1, "M77 P0", "G1 X0 Y0\nM2", NULL,
     0},
    {"a word with S, all at feed", "G21 G90\nM207", G1, "M206 S255", G1, "M207", "G1 X0 Y0\nM2",
     NULL, 0},
    {"a servo's word", "G21 G90\nM380 P0 S40", G0, "M380 P0 S90\nG4 P0.2", G1,
     "M380 P0 S40\nG4 P0.2", "G0 X0 Y0\nM2", NULL, 0},
    {"a servo's word, all at feed", "G21 G90\nM380 P0 S40", G1, "M380 P0 S90\nG4 P0.2", G1,
     "M380 P0 S40\nG4 P0.2", "G1 X0 Y0\nM2", NULL, 0},
    {"an unknown letter", "G21 G90\nE0", G0, "E1", G1, "E0", "G0 X0 Y0\nM2", NULL, 0},
    {"an unknown letter, all at feed", "G21 G90\nE0", G1, "E1", G1, "E0", "G1 X0 Y0\nM2", NULL, 0},
    {"unknown codes", "G21 G90\nM11", G0, "M10", G1, "M11", "G0 X0 Y0\nM2", NULL, 0},
    {"material, from the start", "G21 G90\nG92 E0", G0, "", "G1 " XY " E$E F900", "",
     "G0 X0 Y0\nM2", NULL, 0},
    {"material, all at feed, drawn back between", "G21 G90\nG92 E0", "G1 " XY " F3000",
     "G1 E$E F1800", "G1 " XY " E$E F900", "G1 E$B F1800", "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"material, move by move", "G21 G90", "G1 " XY " F3000", "", "G1 " XY " E$P F900", "",
     "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"material, travels draw back", "G21 G90\nG92 E0", "G1 " XY " E$B F3000", "G1 E$E F1800",
     "G1 " XY " E$E F900", "", "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"material said in every move", "G21 G90\nG92 E0", "G1 " XY " E$F F3000", "",
     "G1 " XY " E$E F900", "", "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"material, move by move, travels draw back", "G21 G90", "G1 " XY " E-2 F3000", "G1 E2 F1800",
     "G1 " XY " E$P F900", "", "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"material, move by move, none in travels", "G21 G90", "G1 " XY " E0 F3000", "",
     "G1 " XY " E$P F900", "", "G1 X0 Y0 F3000\nM2", NULL, 0},
    {"rapids draw", "G21 G90\nM5", G0, "M3 S100", "G0 " XY, "M5", END, NULL, 0},
    {"no last lift", "G21 G90\nG0 Z5", "G0 Z5\n" G0, "G1 Z-1 F200", G1, "", "M2", NULL, 0},
    {"no last lift, by spindle", "G21 G90\nM5", "M5\n" G0, "M3 S90", G1, "", "M2", NULL, 0},
    {"checksums", "G21 G90\nM5", G0, "M3 S60", G1, "M5", END, NULL, NUMBERED | CHECKSUMS},
    {"large numbers", "G21 G90\nG0 Z3", G0, "G1 Z-1 F200", G1, "G0 Z3", "G0 X0 Y0\nM2", NULL,
     LARGE_NUMBERS},
    {"carriage returns", "G21 G90\nM5", G0, "M3 S60", G1, "M5", END, NULL, RETURNS},
    {"lower case, tight", "G21 G90\nG0 Z3", G0, "G1 Z-1 F200", G1, "G0 Z3", "G0 X0 Y0\nM2", NULL,
     LOWER | TIGHT},
    {"text after the end", "(made for the seed library)\nG21 G90\nM5", G0, "M3 S60", G1, "M5",
     "M5\nG0 X0 Y0\nM30\nthat was all: 12 labels", NULL, 0},
    {"homes after a lift word", "G21 G90\nM3 S60\nM5\nG28", G0, "M3 S60", G1, "M5", END, NULL, 0},
    {"pen and move in one line", "G21 G90\nM5", G0, "", "G1 " XY " F900 M3 S80", "M5", END, NULL,
     0},
};

int ways_count(void)
{
    return (int)G_N_ELEMENTS(ways);
}

const char *ways_name(int way)
{
    return ways[way].name;
}

typedef struct {
    GString *out;
    int way, shape, line;
    double x, y; /* where the carriage is */
    double fed;  /* material, mm */
} Writer;

static void put_number(GString *s, double v, int digits)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE], format[8];
    g_snprintf(format, sizeof format, "%%.%df", digits);
    g_string_append(s, g_ascii_formatd(text, sizeof text, format, v));
}

static void put_word(Writer *w, GString *line, char letter, double mm, double from)
{
    const unsigned flags = ways[w->way].flags;
    const double v = flags & RELATIVE ? mm - from : mm;
    g_string_append_c(line, letter);
    put_number(line, flags & INCHES ? v / 25.4 : v, flags & INCHES ? 6 : 4);
}

static void put_line(Writer *w, GString *line)
{
    const unsigned flags = ways[w->way].flags;
    g_autoptr(GString) all = g_string_new(NULL);
    w->line += 10;
    if (flags & (NUMBERED | LARGE_NUMBERS) && g_ascii_isalpha(line->str[0]) && line->str[0] != 'O')
        g_string_append_printf(all, "N%d ", w->line + (flags & LARGE_NUMBERS ? 100000 : 0));
    g_string_append(all, line->str);
    if (flags & LOWER)
        g_string_ascii_down(all);
    if (flags & TIGHT)
        g_string_replace(all, " ", "", 0);
    if (flags & CHECKSUMS) {
        unsigned sum = 0;
        for (gsize i = 0; i < all->len; i++)
            sum ^= (guchar)all->str[i];
        g_string_append_printf(all, "*%u", sum);
    }
    g_string_append(w->out, all->str);
    g_string_append_c(w->out, flags & RETURNS ? '\r' : '\n');
}

static void put_amount(GString *line, const char *name, double mm)
{
    g_autoptr(GString) text = g_string_new(NULL);
    put_number(text, mm, 5);
    g_string_replace(line, name, text->str, 0);
}

static void put_material(Writer *w, GString *line, const Spot *to)
{
    put_amount(line, "$F", w->fed);
    const double amount = to == NULL ? 0.1 : 0.05 * hypot(to->x - w->x, to->y - w->y);
    if (strstr(line->str, "$E") != NULL && strstr(line->str, "$X") == NULL && w->fed > 0)
        put_amount(line, "$E", w->fed); /* fed again what was drawn back */
    if (strstr(line->str, "$E") != NULL)
        put_amount(line, "$E", w->fed += amount);
    put_amount(line, "$B", w->fed - 2);
    put_amount(line, "$P", amount);
}

/* A template with the words of a position; an arc stands for "G1 $X $Y". */
static void put(Writer *w, const char *template, const Spot *to)
{
    static const char *const speed[] = {"100", "180", "250"}, *const depth[] = {"0.5", "2", "1"};
    static const char *const power[] = {"220", "255", "190", "240", "205"};
    static const char *const width[] = {"-0.4", "-1.3", "-0.15", "-0.8", "-1.1", "-0.6", "-0.2"};
    static const char *const surface[] = {"-0.12", "-0.05", "-0.17", "0.02",
                                          "-0.09", "-0.2",  "-0.03"};
    if (*template == '\0')
        return;
    g_auto(GStrv) lines = g_strsplit(template, "\n", -1);
    for (char **l = lines; *l; l++) {
        g_autoptr(GString) line = g_string_new(*l), x = g_string_new(NULL), y = g_string_new(NULL);
        if (to != NULL) {
            put_word(w, x, 'X', to->x, w->x);
            put_word(w, y, 'Y', to->y, w->y);
            if (to->turn != 0 && template == ways[w->way].draw) {
                g_string_overwrite(line, 0, to->turn > 0 ? "G3" : "G2");
                Spot centre = {to->cx, to->cy, 0, 0, 0};
                const double from_x = w->x, from_y = w->y;
                const double scale = ways[w->way].flags & INCHES ? 25.4 : 1;
                g_string_append(y, " I");
                put_number(y, (centre.x - from_x) / scale, 6);
                g_string_append(y, " J");
                put_number(y, (centre.y - from_y) / scale, 6);
            }
        }
        put_material(w, line, to);
        g_string_replace(line, "$X", x->str, 0);
        g_string_replace(line, "$Y", y->str, 0);
        g_string_replace(line, "$S", speed[w->shape % 3], 0);
        g_string_replace(line, "$D", depth[w->shape % 3], 0);
        const size_t n = (size_t)w->line / 10;
        g_string_replace(line, "$W", power[n % G_N_ELEMENTS(power)], 0);
        g_string_replace(line, "$V", width[n % G_N_ELEMENTS(width)], 0);
        g_string_replace(line, "$H", surface[n % G_N_ELEMENTS(surface)], 0);
        put_line(w, line);
    }
    if (to != NULL) {
        w->x = to->x;
        w->y = to->y;
    }
}

static void put_shape(Writer *w, const Shape *s)
{
    Spot start = s->at[0];
    put(w, ways[w->way].travel, &start);
    put(w, ways[w->way].down, NULL);
    for (int i = 1; i < s->n; i++)
        put(w, ways[w->way].draw, &s->at[i]);
    if (ways[w->way].flags & TWICE) {
        put(w, ways[w->way].again, NULL);
        for (int i = s->n - 1; i > 0; i--) {
            Spot back = s->at[i - 1];
            back.turn = -s->at[i].turn;
            back.cx = s->at[i].cx;
            back.cy = s->at[i].cy;
            put(w, ways[w->way].draw, &back);
        }
    }
    put(w, ways[w->way].up, NULL);
}

static char *write_ink(const Drawing *d)
{
    GString *ink = g_string_new(NULL);
    for (int i = 0; i < d->n; i++)
        for (int k = 0; k < d->shape[i].n; k++) {
            const Spot *s = &d->shape[i].at[k];
            g_string_append(ink, k > 0 ? " " : i > 0 ? " | " : "");
            if (s->turn != 0) {
                g_string_append(ink, s->turn > 0 ? "ccw:" : "cw:");
                put_number(ink, s->cx, 6);
                g_string_append_c(ink, ',');
                put_number(ink, s->cy, 6);
                g_string_append_c(ink, ':');
            }
            put_number(ink, s->x, 6);
            g_string_append_c(ink, ',');
            put_number(ink, s->y, 6);
        }
    return g_string_free(ink, FALSE);
}

/* Dots need words that lower the pen and words that lift it, which what is fed at rest is not; cycles make
 * dots alone. */
static gboolean can_write(int way, const Drawing *d)
{
    const gboolean lifts =
        *ways[way].down != '\0' && *ways[way].up != '\0' && strstr(ways[way].down, "$E") == NULL;
    for (int i = 0; i < d->n; i++)
        if (d->shape[i].n == 1 ? !lifts && !(ways[way].flags & HOLES) : ways[way].flags & HOLES)
            return FALSE;
    return TRUE;
}

gboolean ways_write(int way, int drawing, guint32 seed, WayProgram *out)
{
    Drawing d = {.n = 0};
    g_autoptr(GRand) r = g_rand_new_with_seed(seed);
    drawings[drawing](&d, r);
    if (!can_write(way, &d))
        return FALSE;
    Writer w = {g_string_new(NULL), way, 0, 0, 0, 0, 0};
    put(&w, ways[way].head, NULL);
    for (w.shape = 0; w.shape < d.n; w.shape++)
        put_shape(&w, &d.shape[w.shape]);
    put(&w, ways[way].tail, NULL);
    *out = (WayProgram){.name = g_strdup_printf("%s, drawing %d", ways[way].name, drawing),
                        .len = w.out->len,
                        .ink = write_ink(&d),
                        .unclear = (ways[way].flags & UNCLEAR) != 0};
    out->text = g_string_free(w.out, FALSE);
    return TRUE;
}

void ways_clear(WayProgram *p)
{
    g_free(p->name);
    g_free(p->text);
    g_free(p->ink);
}
