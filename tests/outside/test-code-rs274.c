/* The RS-274 reader and the line check against what was published:
 *   NISTIR 6556: T. Kramer, F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3",
 *     NIST, 2000 (sections and tables are named beside the checks);
 *   ISO 6983-1 (1982/2009): the word address format;
 *   ITU-T V.41 (1988): the cyclic check. Values are from memory of these texts. */
#include "drawtrue/code.h"

#include "code/read/rs274.h"

#include <math.h>
#include <string.h>

typedef struct {
    GString *log; /* one letter an action */
    DtAction last;
    double x[64], y[64], z[64];
    char kind[64];
    int n, faults;
    DtFaultKind fault;
    int column;
} Log;

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    Log *l = user;
    (void)text;
    if (l->faults++ == 0) {
        l->fault = kind;
        l->column = column;
    }
}

static void on_action(void *user, const DtAction *a)
{
    static const char letters[] = {
        [ACT_TRAVERSE] = 'T', [ACT_FEED] = 'F', [ACT_ARC] = 'A',   [ACT_DWELL] = 'D',
        [ACT_SPINDLE] = 'S',  [ACT_HOME] = 'H', [ACT_PAUSE] = 'P', [ACT_MAY_PAUSE] = 'O',
        [ACT_TOOL] = 'C',     [ACT_END] = 'E'};
    Log *l = user;
    g_string_append_c(l->log, letters[a->kind]);
    l->last = *a;
    if (l->n < 64 && (a->kind == ACT_TRAVERSE || a->kind == ACT_FEED || a->kind == ACT_ARC)) {
        l->kind[l->n] = letters[a->kind];
        l->x[l->n] = a->to[0];
        l->y[l->n] = a->to[1];
        l->z[l->n++] = a->to[2];
    }
}

static DtReader *read_all(const char *text, Log *l)
{
    static const DtListener listener = {on_fault, NULL, on_action, NULL};
    memset(l, 0, sizeof *l);
    l->log = g_string_new(NULL);
    DtReader *r = dt_reader_new(&listener, NULL, l);
    dt_reader_read_text(r, text, strlen(text));
    return r;
}

static void close_log(Log *l, DtReader *r)
{
    g_string_free(l->log, TRUE);
    dt_reader_free(r);
}

static void assert_faults(const char *text, DtFaultKind kind, int column)
{
    Log l;
    DtReader *r = read_all(text, &l);
    if (l.faults == 0 || l.fault != kind || l.column != column)
        g_error("'%s': %d faults, first of kind %d at column %d", text, l.faults, (int)l.fault,
                l.column);
    close_log(&l, r);
}

static void assert_point(const char *text, double x, double y)
{
    Log l;
    DtReader *r = read_all(text, &l);
    if (l.faults || fabs(r->at[0] - x) > 1e-9 || fabs(r->at[1] - y) > 1e-9)
        g_error("'%s' ends at %.9g %.9g with %d faults", text, r->at[0], r->at[1], l.faults);
    close_log(&l, r);
}

static double value_of(const char *expression)
{
    g_autofree char *text = g_strdup_printf("G0 X%s", expression);
    Log l;
    DtReader *r = read_all(text, &l);
    double v = l.faults ? NAN : r->at[0];
    close_log(&l, r);
    return v;
}

/* Table 4: modal groups. Two of one group cannot share a line, two of different groups can. */
static void test_modal_groups(void)
{
    static const char *const groups[] = {
        "G0 G1 G2 G3 G38.2 G80 G81 G82 G83 G84 G85 G86 G87 G88 G89",
        "G17 G18 G19",
        "G90 G91",
        "G93 G94",
        "G20 G21",
        "G40 G41 G42",
        "G43 G49",
        "G98 G99",
        "G54 G55 G56 G57 G58 G59 G59.1 G59.2 G59.3",
        "G61 G61.1 G64",
        "G4 G10 G28 G30 G53 G92 G92.1 G92.2 G92.3",
        "M0 M1 M2 M30 M60",
        "M6",
        "M3 M4 M5",
        "M48 M49"};
    for (size_t g = 0; g < G_N_ELEMENTS(groups); g++) {
        g_auto(GStrv) codes = g_strsplit(groups[g], " ", -1);
        for (char **a = codes; *a; a++)
            for (size_t h = 0; h < G_N_ELEMENTS(groups); h++) {
                g_auto(GStrv) others = g_strsplit(groups[h], " ", -1);
                for (char **b = others; *b; b++) {
                    DtCodeBlock block;
                    static const DtParameters none;
                    g_autofree char *text = g_strdup_printf("%s %s\n", *a, *b);
                    dt_block_read(&block, text, strlen(text) - 1, &none, NULL, NULL, NULL);
                    if ((block.faults > 0) != (g == h))
                        g_error("'%s': %d faults", text, block.faults);
                }
            }
    }
    /* "M7 and M8 may both be on at once", 3.6.4 and the note to table 4. */
    DtCodeBlock block;
    static const DtParameters none;
    dt_block_read(&block, "M7 M8\n", 5, &none, NULL, NULL, NULL);
    g_assert_cmpint(block.faults, ==, 0);
    dt_block_read(&block, "M8 M9\n", 5, &none, NULL, NULL, NULL);
    g_assert_cmpint(block.faults, ==, 1);
}

/* Tables 5 and 7: every published code is known, and no other. */
static void test_code_tables(void)
{
    static const int g[] = {0,   10,  20,  30,  40,  100, 170, 180, 190, 200, 210, 280, 300,
                            382, 400, 410, 420, 430, 490, 530, 540, 550, 560, 570, 580, 590,
                            591, 592, 593, 610, 611, 640, 800, 810, 820, 830, 840, 850, 860,
                            870, 880, 890, 900, 910, 920, 921, 922, 923, 930, 940, 980, 990};
    static const int m[] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 30, 48, 49, 60};
    size_t known = 0;
    for (int i = 0; i < G_TENTHS; i++)
        known += dt_g_codes[i].known;
    g_assert_cmpuint(known, ==, G_N_ELEMENTS(g));
    for (size_t i = 0; i < G_N_ELEMENTS(g); i++)
        g_assert_true(dt_g_codes[g[i]].known);
    known = 0;
    for (int i = 0; i < M_NUMBERS; i++)
        known += dt_m_codes[i].known;
    g_assert_cmpuint(known, ==, G_N_ELEMENTS(m));
    for (size_t i = 0; i < G_N_ELEMENTS(m); i++)
        g_assert_true(dt_m_codes[m[i]].known);
    /* Table 3: the letters E, O, U, V and W begin no word. */
    for (char c = 'A'; c <= 'Z'; c++)
        g_assert_true((dt_letters[c - 'A'] == NULL) == (strchr("EOUVW", c) != NULL));
}

/* Table 8: whatever the order of the words, the actions come in this order. */
static void test_order_of_execution(void)
{
    Log l;
    DtReader *r = read_all("G21 G90 G0 X0 Y0\nX5 M2 G1 F60 G4 P1 M3 S100 T2 M6", &l);
    g_assert_cmpint(l.faults, ==, 0);
    g_assert_cmpstr(l.log->str, ==, "TCSDFE");
    close_log(&l, r);
    /* Units (12) and distance mode (17) come before the motion (20). */
    assert_point("G21 G0 X10 Y10\nX1 G91 G20", 35.4, 10);
    /* The feed mode (2) and feed (3) come before the motion. */
    r = read_all("G21 G90 G1 X60 G93 F2", &l);
    g_assert_cmpfloat(fabs(l.last.feed - 2), <, 1e-12); /* 60 mm in half a minute */
    close_log(&l, r);
    /* The feed (3) is set before the units (12): it counts in those that were in force, and stays
     * the same feed when the units change. */
    r = read_all("G21 G90 G1 X60 F600\nG20 X3 F30", &l);
    g_assert_cmpfloat(fabs(l.last.feed - 0.5), <, 1e-12);
    close_log(&l, r);
    r = read_all("G20 G90 G0 X0\nG21 G1 X60 F30", &l);
    g_assert_cmpfloat(fabs(l.last.feed - 12.7), <, 1e-12);
    close_log(&l, r);
    r = read_all("G20 G90 G0 X0\nG1 X1 F30\nG21 X60", &l);
    g_assert_cmpfloat(fabs(l.last.feed - 12.7), <, 1e-12);
    close_log(&l, r);
    /* The spindle (7) turns before the dwell (10), and stops before the motion (20). */
    r = read_all("G21 G90 F60 S9\nG1 X5 M5 G4 P1", &l);
    g_assert_cmpstr(l.log->str, ==, "SDF");
    close_log(&l, r);
    /* Parameters are set after all values are found: "#3=15" in "... #3=6 G1 X#3" (3.3.2.2). */
    assert_point("#3=10\nG0 X#3 #3=15\nY#3", 10, 15);
}

/* 3.3.2.1 to 3.3.2.4: numbers, parameters, expressions, with the report's worked examples. */
static void test_numbers_and_expressions(void)
{
    assert_point("g0x +0. 12 34y 7", 0.1234, 7); /* "equivalent to g0 x+0.1234 y7", 3.3.1 */
    g_assert_cmpfloat(fabs(value_of("[1 + acos[0] - [#5220 ** [4.0/2]]]") - 90), <, 1e-9);
    g_assert_cmpfloat(fabs(value_of("[2.0 / 3 * 1.5 - 5.5 / 11.0]") - 0.5), <, 1e-12);
    /* "Real numbers have ... any number of digits", 3.3.2.1, from memory. */
    g_assert_cmpfloat(
        fabs(value_of("[0.0000000000000000000000000000000000000000625 * 1]") / 6.25e-41 - 1), <,
        1e-14);
    g_assert_cmpfloat(value_of("[2 + 3 * 4]"), ==, 14);
    g_assert_cmpfloat(value_of("[2 * 3 ** 2]"), ==, 18);
    g_assert_cmpfloat(value_of("[0.25 ** 0.5]"), ==, 0.5);
    g_assert_cmpfloat(value_of("[-2 ** 3]"), ==, -8);
    g_assert_cmpfloat(value_of("[2 ** 3 ** 2]"), ==, 64); /* left to right within a group */
    g_assert_cmpfloat(value_of("[10 - 4 - 3]"), ==, 3);
    g_assert_cmpfloat(value_of("[7 mod 4]"), ==, 3);
    g_assert_cmpfloat(value_of("[-7 mod 4]"), ==, 1);
    g_assert_cmpfloat(value_of("[1 and 0]"), ==, 0);
    g_assert_cmpfloat(value_of("[1 or 0]"), ==, 1);
    g_assert_cmpfloat(value_of("[5 xor 2]"), ==, 0);
    g_assert_cmpfloat(value_of("fix[2.8]"), ==, 2);
    g_assert_cmpfloat(value_of("fix[-2.8]"), ==, -3);
    g_assert_cmpfloat(value_of("fup[2.8]"), ==, 3);
    g_assert_cmpfloat(value_of("fup[-2.8]"), ==, -2);
    g_assert_cmpfloat(value_of("round[2.5]"), ==, 3);
    g_assert_cmpfloat(value_of("abs[-4]"), ==, 4);
    g_assert_cmpfloat(fabs(value_of("sin[30]") - 0.5), <, 1e-12); /* degrees */
    g_assert_cmpfloat(fabs(value_of("cos[60]") - 0.5), <, 1e-12);
    g_assert_cmpfloat(fabs(value_of("tan[45]") - 1), <, 1e-12);
    g_assert_cmpfloat(fabs(value_of("asin[1]") - 90), <, 1e-12);
    g_assert_cmpfloat(fabs(value_of("atan[1]/[-1]") - 135), <, 1e-12);
    g_assert_cmpfloat(fabs(value_of("ln[exp[1]]") - 1), <, 1e-12);
    g_assert_cmpfloat(value_of("sqrt[9]"), ==, 3);
    g_assert_cmpfloat(value_of("+.5"), ==, 0.5); /* ISO 6983-1: leading zeros may be left out */
    g_assert_cmpfloat(value_of("-05."), ==, -5);
    assert_point("#2=7 #7=9\nG0 X##2 Y#[1+1]", 9, 7);
}

/* 3.3.1 and chapter 3.8: what is an error. */
static void test_errors(void)
{
    assert_faults("G0 X1 X2", FAULT_TWICE, 7);
    assert_faults("G1 G2 X1", FAULT_TWICE, 4);
    assert_faults("G0 X1e5", FAULT_LETTER, 6);
    assert_faults("G0 X--3", FAULT_NUMBER, 5);
    assert_faults("G0 X.", FAULT_NUMBER, 5);
    assert_faults("G0 X[1/0]", FAULT_EXPRESSION, 7);
    assert_faults("G0 X[sqrt[-1]]", FAULT_EXPRESSION, 6);
    assert_faults("G0 X[1+2", FAULT_EXPRESSION, 9);
    assert_faults("G0 X#7", FAULT_UNSET, 5);
    assert_faults("G0 X#0", FAULT_PARAMETER, 5);
    assert_faults("#5400=1", FAULT_PARAMETER, 1);
    assert_faults("G0 X1 (a (b) c)", FAULT_COMMENT, 10);
    assert_faults("G0 X1 (never closed", FAULT_COMMENT, 7);
    assert_faults("G5 X1", FAULT_CODE, 1);
    assert_faults("M99", FAULT_CODE, 1);
    assert_faults("G1 X1", FAULT_FEED, 1); /* no feed rate set, 3.5.2 */
    assert_faults("G1 X1 F0", FAULT_FEED, 7);
    assert_faults("G93 G1 X1 F2\nX2", FAULT_FEED, 1); /* an F word in each line, 3.5.19 */
    assert_faults("G0", FAULT_COMBINATION, 1);        /* all axis words omitted, 3.5.1 */
    assert_faults("G4", FAULT_COMBINATION, 1);
    assert_faults("G4 P-1", FAULT_VALUE, 4);
    assert_faults("G0 X1 P1", FAULT_COMBINATION, 7);
    assert_faults("G80 X1", FAULT_COMBINATION, 1);
    assert_faults("G28 G1 X1 F60", FAULT_COMBINATION, 5);
    assert_faults("G92", FAULT_COMBINATION, 1);
    /* A line is '/', a line number, and then all else, 3.3. */
    assert_faults("(a) N1 G0 X1", FAULT_VALUE, 5);
    assert_faults("(a) / G0 X1", FAULT_NUMBER, 5);
    assert_faults("N100000 G0 X1", FAULT_VALUE, 1);          /* at most five digits, 3.3.1.2 */
    assert_faults("M3 M7 M48 M6 M0", FAULT_COMBINATION, 14); /* at most four M words, 3.3.1 */
}

/* 3.5.3: arcs. */
static void test_arcs(void)
{
    Log l;
    /* The report's centre format example: from (7, 7), centre (10, 11), radius 5; the end point
     * (10, 16) lies on it. */
    DtReader *r = read_all("G21 G90 G17 G0 X7 Y7\nG2 x 10 y 16 i 3 j 4 F60", &l);
    g_assert_cmpint(l.faults, ==, 0);
    g_assert_cmpfloat(l.last.centre[0], ==, 10);
    g_assert_cmpfloat(l.last.centre[1], ==, 11);
    g_assert_cmpfloat(l.last.radius, ==, 5);
    g_assert_cmpfloat(l.last.sweep, <, 0);
    close_log(&l, r);
    /* Radius format: R > 0 is the shorter way, R < 0 the longer. */
    r = read_all("G21 G90 G17 G0 X0 Y0\nG3 X10 Y0 R5.5 F60", &l);
    g_assert_cmpfloat(l.last.sweep, >, 0);
    g_assert_cmpfloat(l.last.sweep, <, G_PI);
    g_assert_cmpfloat(l.last.centre[1], >, 0);
    close_log(&l, r);
    r = read_all("G21 G90 G17 G0 X0 Y0\nG3 X10 Y0 R-5.5 F60", &l);
    g_assert_cmpfloat(l.last.sweep, >, G_PI);
    g_assert_cmpfloat(l.last.centre[1], <, 0);
    close_log(&l, r);
    r = read_all("G21 G90 G17 G0 X0 Y0\nG2 X10 Y0 R5.5 F60", &l);
    g_assert_cmpfloat(l.last.centre[1], <, 0);
    close_log(&l, r);
    /* A full circle in centre format. */
    r = read_all("G21 G90 G17 G0 X0 Y0\nG2 X0 Y0 I5 F60", &l);
    g_assert_cmpfloat(fabs(l.last.sweep + 2 * G_PI), <, 1e-12);
    close_log(&l, r);
    /* XZ plane: clockwise seen from +Y, so Z turns to X. */
    r = read_all("G21 G90 G18 G0 X0 Z0\nG3 X5 Z5 I5 K0 F60", &l);
    g_assert_cmpint(l.last.first, ==, 2);
    g_assert_cmpint(l.last.second, ==, 0);
    close_log(&l, r);
    /* Within 0.002 mm, or 0.0002 inch, the ends meet the radius; beyond it is an error. */
    assert_faults("G21 G90 G0 X0 Y0\nG2 X10.0021 Y0 I5 F60\n", FAULT_ARC_ENDS, 16);
    r = read_all("G21 G90 G0 X0 Y0\nG2 X10.0019 Y0 I5 F60", &l);
    g_assert_cmpint(l.faults, ==, 0);
    close_log(&l, r);
    assert_faults("G21 G90 G0 X0 Y0\nG2 X0 Y0 R5 F60", FAULT_ARC, 10);
    assert_faults("G21 G90 G0 X0 Y0\nG2 X20 Y0 R5 F60", FAULT_ARC_ENDS, 11);
    assert_faults("G21 G90 G0 X0 Y0\nG2 I5 F60", FAULT_COMBINATION, 1);
    assert_faults("G21 G90 G0 X0 Y0\nG2 X5 F60", FAULT_ARC, 1);
    assert_faults("G21 G90 G0 X0 Y0\nG2 X5 Y5 R5 I5 F60", FAULT_ARC, 13);
    assert_faults("G21 G90 G17 G0 X0 Y0\nG2 X5 Y5 I5 K0 F60", FAULT_ARC, 13);
    /* "It is an error if both of the axis words for the axes of the selected plane are omitted." */
    assert_faults("G21 G90 G17 G0 X0 Y0\nG2 Z5 I5 F60", FAULT_ARC, 1);
    assert_faults("G21 G90 G18 G0 X0 Z0\nG3 Y5 I5 K0 F60", FAULT_ARC, 1);
    assert_faults("G21 G90 G19 G0 Y0 Z0\nG3 X5 J5 K0 F60", FAULT_ARC, 1);
    assert_faults("G21 G90 G17 G0 X0 Y0\nG2 Z5 R5 F60", FAULT_ARC, 1);
}

/* 3.2.2, 3.5.13 and 3.5.18: coordinate systems and offsets. */
static void test_coordinate_systems(void)
{
    assert_point("G21 G90 G10 L2 P2 X100 Y50\nG55 G0 X1 Y2\n", 101, 52);
    assert_point("G21 G90 G10 L2 P2 X100 Y50\nG55 G0 X1 Y2\nG53 G0 X3 Y4", 3, 4);
    /* The report's example: at X=4, "G92 X7" sets the offset to -3. */
    assert_point("G21 G90 G0 X4\nG92 X7\nG0 X8", 5, 0);
    assert_point("G21 G90 G0 X4\nG92 X7\nG92.2\nG0 X8", 8, 0);
    assert_point("G21 G90 G0 X4\nG92 X7\nG92.2\nG92.3\nG0 X8", 5, 0);
    assert_point("G21 G90 G0 X4\nG92 X7\nG92.1\nG92.3\nG0 X8", 8, 0);
    assert_point("G21 G90 G0 X9 Y9\nG28 X20 Y20", 0, 0);
    assert_point("G20 G90 G0 X1 Y2", 25.4, 50.8);
    assert_point("G21 G91 G0 X1 Y2\nX1 Y2", 2, 4);
}

/* 3.5.16: canned cycles. The report's examples of G81. */
static void test_canned_cycles(void)
{
    Log l;
    /* From (1, 2, 3): "G90 G81 G98 X4 Y5 Z1.5 R2.8". */
    DtReader *r = read_all("G21 G90 F60 G0 X1 Y2 Z3\nG90 G81 G98 X4 Y5 Z1.5 R2.8", &l);
    g_assert_cmpstr(l.log->str, ==, "TTTFT"); /* to XY, to R, feed to Z, back */
    g_assert_cmpfloat(r->at[0], ==, 4);
    g_assert_cmpfloat(r->at[1], ==, 5);
    g_assert_cmpfloat(r->at[2], ==, 3);
    close_log(&l, r);
    /* The same incremental, three times: "G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3". */
    r = read_all("G21 G90 F60 G0 X1 Y2 Z3\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3", &l);
    g_assert_cmpfloat(r->at[0], ==, 13);
    g_assert_cmpfloat(r->at[1], ==, 17);
    g_assert_cmpfloat(fabs(r->at[2] - 4.8), <, 1e-12);
    close_log(&l, r);
}

/* The motions of a program from (1, 2, 3) on: "T4,5,2.8" for a traverse, "F" for a feed. */
static void assert_motions(const char *text, const char *motions)
{
    Log l;
    g_autofree char *whole = g_strconcat("G21 G90 F60 G0 X1 Y2 Z3\n", text, NULL);
    g_autoptr(GString) have = g_string_new(NULL);
    DtReader *r = read_all(whole, &l);
    g_assert_cmpint(l.faults, ==, 0);
    for (int i = 1; i < l.n; i++) {
        if (l.x[i] == l.x[i - 1] && l.y[i] == l.y[i - 1] && l.z[i] == l.z[i - 1])
            continue; /* it stands there already */
        g_string_append_printf(have, "%s%c%g,%g,%g", have->len ? " " : "", l.kind[i], l.x[i],
                               l.y[i], round(l.z[i] * 1e6) / 1e6);
    }
    g_assert_cmpstr(have->str, ==, motions);
    close_log(&l, r);
}

/* 3.5.16.1 to 3.5.16.9: what each cycle does at a hole, in words, put down as motions by hand. */
static void test_motions_of_cycles(void)
{
    /* Drilling; G98 goes back to where Z was, G99 to R. */
    assert_motions("G81 G98 X4 Y5 Z1.5 R2.8", "T4,5,3 T4,5,2.8 F4,5,1.5 T4,5,3");
    assert_motions("G81 G99 X4 Y5 Z1.5 R2.8\nX6", "T4,5,3 T4,5,2.8 F4,5,1.5 T4,5,2.8 T6,5,2.8 "
                                                  "F6,5,1.5 T6,5,2.8");
    /* Z below R: to R first, once; back to R, which is above where Z was. */
    assert_motions("G81 G98 X4 Y5 Z1 R4", "T1,2,4 T4,5,4 F4,5,1 T4,5,4");
    /* Pecks of Q: out to R, and back to a little above the last depth; the last one stops at Z. */
    assert_motions("G83 G98 X4 Y5 Z0.3 R2.8 Q1",
                   "T4,5,3 T4,5,2.8 F4,5,1.8 T4,5,2.8 T4,5,2.054 F4,5,0.8 T4,5,2.8 T4,5,1.054 "
                   "F4,5,0.3 T4,5,3");
    /* The same upwards, where Z lies above R. */
    assert_motions("G83 G98 X4 Y5 Z4.5 R2.8 Q1",
                   "T4,5,3 T4,5,2.8 F4,5,3.8 T4,5,2.8 T4,5,3.546 F4,5,4.5 T4,5,3");
    /* Reaming and boring feed out; boring with a stopped spindle traverses. */
    assert_motions("G85 G98 X4 Y5 Z1.5 R2.8", "T4,5,3 T4,5,2.8 F4,5,1.5 F4,5,2.8 T4,5,3");
    assert_motions("G89 G98 X4 Y5 Z1.5 R2.8 P0.5", "T4,5,3 T4,5,2.8 F4,5,1.5 F4,5,2.8 T4,5,3");
    assert_motions("G82 G98 X4 Y5 Z1.5 R2.8 P0.5", "T4,5,3 T4,5,2.8 F4,5,1.5 T4,5,3");
    /* The other planes drill along Y and X. */
    assert_motions("G18 G81 G98 X4 Z5 Y1 R1.5", "T4,2,5 T4,1.5,5 F4,1,5 T4,2,5");
    assert_motions("G19 G81 G98 Y4 Z5 X0.2 R0.5", "T1,4,5 T0.5,4,5 F0.2,4,5 T1,4,5");
    /* Repeats move on by the same steps. */
    assert_motions("G91 G81 G99 X4 Y5 Z-0.6 R-0.2 L2",
                   "T5,7,3 T5,7,2.8 F5,7,2.2 T5,7,2.8 T9,12,2.8 F9,12,2.2 T9,12,2.8");
}

/* 3.3.1: spaces and tabs may stand anywhere on a line and change nothing. */
static void test_white_space(void)
{
    static const char *const lines[] = {"g0 x+0.1234 y7",
                                        "G1 X[1+[2*3-4/5]**2] Y[7 MOD 4] F60",
                                        "G0 X[ATAN[3]/[4]] Y[ACOS[0.5]-ASIN[0.5]]",
                                        "G0 X[#5220+1] Y#5220 #2=3",
                                        "G0 X[1 AND 0] Y[[1 OR 0]+[1 XOR 0]]",
                                        "N12 G0 X[ROUND[2.6]] Y[FUP[1.2]-FIX[1.8]]"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        Log l;
        g_autoptr(GString) spaced = g_string_new(NULL);
        for (const char *c = lines[i]; *c != '\0'; c++)
            g_string_append_printf(spaced, "%c%s", *c, c - lines[i] > 1 ? " \t" : "");
        DtReader *r = read_all(lines[i], &l);
        g_assert_cmpint(l.faults, ==, 0);
        assert_point(spaced->str, r->at[0], r->at[1]);
        close_log(&l, r);
    }
}

/* Table 2: the parameters that have a use are set from the beginning: home places, offsets and the nine coordinate systems
 * to 0, the system in use to 1. */
static void test_parameters_that_have_a_use(void)
{
    for (int n = 1; n <= 5400; n++) {
        const int of_system = (n - 5221) % 20;
        const gboolean axes = (n >= 5161 && n <= 5166) || (n >= 5181 && n <= 5186) ||
                              (n >= 5211 && n <= 5216) || (n >= 5221 && n <= 5386 && of_system < 6);
        g_autofree char *text = g_strdup_printf("G0 X#%d", n);
        Log l;
        DtReader *r = read_all(text, &l);
        g_assert_cmpint(l.faults, ==, axes || n == 5220 ? 0 : 1);
        if (l.faults == 0)
            g_assert_cmpfloat(r->at[0], ==, n == 5220 ? 1 : 0);
        else
            g_assert_cmpint(l.fault, ==, n < 5400 ? FAULT_UNSET : FAULT_PARAMETER);
        close_log(&l, r);
    }
}

/* 3.6.1: what the end of a program sets back, by M2 and by M30 alike. */
static void test_the_end_sets_modes_back(void)
{
    static const char *const ends[] = {"M2", "M30"};
    for (gsize i = 0; i < G_N_ELEMENTS(ends); i++) {
        Log l;
        g_autofree char *text = g_strconcat(
            "G21 G90 F60 G0 X1 Y2\nG92 X50 Y60\nG55 G18 G91 G93 M3 S100\n", ends[i], NULL);
        DtReader *r = read_all(text, &l);
        g_assert_cmpint(l.faults, ==, 0);
        g_assert_cmpint(r->modal[G_SYSTEM], ==, 540);
        g_assert_cmpint(r->modal[G_PLANE], ==, 170);
        g_assert_cmpint(r->modal[G_DISTANCE], ==, 900);
        g_assert_cmpint(r->modal[G_FEED_MODE], ==, 940);
        g_assert_cmpint(r->modal[G_MOTION], ==, 10);
        g_assert_cmpint(r->spindle_turn, ==, 0);
        for (int axis = 0; axis < AXES; axis++) {
            g_assert_cmpfloat(r->axis_offset[axis], ==, 0);
            g_assert_cmpfloat(r->offset[axis], ==, 0);
        }
        g_assert_cmpint(r->modal[G_UNITS], ==, 210); /* which it does not name */
        close_log(&l, r);
    }
}

/* 3.3: a text may begin with a line of a percent sign alone; it then ends with the second one, and what follows is no
 * part of it. */
static void test_percent_signs(void)
{
    static const struct {
        const char *text;
        gboolean ended;
    } cases[] = {
        {"%\n%\nG0 X1\n", FALSE},        {"%\n%\nG0 X1\n%\n", TRUE},
        {"%\nG0 X1\n%\n", TRUE},         {" \n%\nG0 X1\n % \nG0 X2\n", TRUE},
        {"%\nG0 X1\n", FALSE},           {"G0 X1\n%\nG0 X2\n%\n", FALSE},
        {"(top)\n%\nG0 X1\n%\n", FALSE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Log l;
        DtReader *r = read_all(cases[i].text, &l);
        g_assert_cmpint(l.faults, ==, 0);
        g_assert_cmpint(r->ended, ==, cases[i].ended);
        close_log(&l, r);
    }
}

/* ITU-T V.41: generator x^16+x^12+x^5+1; the customary check value of its zero-preset form. */
static void test_line_check(void)
{
    g_assert_cmphex(dt_code_crc16("123456789", 9), ==, 0x31C3);
    g_assert_cmphex(dt_code_crc16("", 0), ==, 0);
    /* x^16 divided by the generator leaves x^12+x^5+1. */
    g_assert_cmphex(dt_code_crc16("\x01", 1), ==, 0x1021);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/code/modal-groups", test_modal_groups);
    g_test_add_func("/outside/code/code-tables", test_code_tables);
    g_test_add_func("/outside/code/motions-of-cycles", test_motions_of_cycles);
    g_test_add_func("/outside/code/order-of-execution", test_order_of_execution);
    g_test_add_func("/outside/code/numbers-and-expressions", test_numbers_and_expressions);
    g_test_add_func("/outside/code/errors", test_errors);
    g_test_add_func("/outside/code/arcs", test_arcs);
    g_test_add_func("/outside/code/coordinate-systems", test_coordinate_systems);
    g_test_add_func("/outside/code/canned-cycles", test_canned_cycles);
    g_test_add_func("/outside/code/white-space", test_white_space);
    g_test_add_func("/outside/code/parameters", test_parameters_that_have_a_use);
    g_test_add_func("/outside/code/end", test_the_end_sets_modes_back);
    g_test_add_func("/outside/code/percent-signs", test_percent_signs);
    g_test_add_func("/outside/code/line-check", test_line_check);
    return g_test_run();
}
