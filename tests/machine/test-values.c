/* values: how the values of a profile are read, by tables: what is right gives its number, what is not
 * its reason word by word, and leaves what was there. Conversion factors: NIST SP 811 (2008), B.8; the
 * inch is 25.4 mm exactly. */
#include "machine/key-value.h"

#include <math.h>
#include <string.h>

static void check_why(const char *text, char *why, const char *wanted)
{
    g_test_message("%s", text);
    g_assert_cmpstr(why, ==, wanted);
    g_free(why);
}

typedef struct {
    const char *text;
    DtUnit unit;
    double value;
    const char *why; /* NULL: it is right */
} Number;

static const Number numbers[] = {
    {"0", DT_UNIT_LENGTH, 0, NULL},
    {"0.0", DT_UNIT_SPEED, 0, NULL},
    {"12", DT_UNIT_NONE, 12, NULL},
    {"-.5", DT_UNIT_NONE, -0.5, NULL},
    {"+3.", DT_UNIT_NONE, 3, NULL},
    {"1e3", DT_UNIT_NONE, 1000, NULL},
    {"7  ", DT_UNIT_NONE, 7, NULL},
    {"1 mm", DT_UNIT_LENGTH, 1, NULL},
    {"1mm", DT_UNIT_LENGTH, 1, NULL},
    {"1\t mm", DT_UNIT_LENGTH, 1, NULL},
    {"2 cm", DT_UNIT_LENGTH, 20, NULL},
    {"2 m", DT_UNIT_LENGTH, 2000, NULL},
    {"250 um", DT_UNIT_LENGTH, 0.25, NULL},
    {"2 in", DT_UNIT_LENGTH, 50.8, NULL},
    {"3 mm/s", DT_UNIT_SPEED, 3, NULL},
    {"90 mm/min", DT_UNIT_SPEED, 1.5, NULL},
    {"3 cm/s", DT_UNIT_SPEED, 30, NULL},
    {"3 m/min", DT_UNIT_SPEED, 50, NULL},
    {"2 in/s", DT_UNIT_SPEED, 50.8, NULL},
    {"60 in/min", DT_UNIT_SPEED, 25.4, NULL},
    {"5 mm/s2", DT_UNIT_ACCELERATION, 5, NULL},
    {"5 mm/s^2", DT_UNIT_ACCELERATION, 5, NULL},
    {"5 mm/s\302\262", DT_UNIT_ACCELERATION, 5, NULL},
    {"5 cm/s2", DT_UNIT_ACCELERATION, 50, NULL},
    {"5 m/s2", DT_UNIT_ACCELERATION, 5000, NULL},
    {"5 in/s2", DT_UNIT_ACCELERATION, 127, NULL},
    {"2 s", DT_UNIT_TIME, 2, NULL},
    {"250 ms", DT_UNIT_TIME, 0.25, NULL},
    {"2 min", DT_UNIT_TIME, 120, NULL},
    {"180 deg", DT_UNIT_ANGLE, G_PI, NULL},
    {"90\302\260", DT_UNIT_ANGLE, G_PI / 2, NULL},
    {"1.5 rad", DT_UNIT_ANGLE, 1.5, NULL},
    {"2 mrad", DT_UNIT_ANGLE, 0.002, NULL},
    {"12 V", DT_UNIT_VOLTAGE, 12, NULL},
    {"500 mV", DT_UNIT_VOLTAGE, 0.5, NULL},
    {"2 A", DT_UNIT_CURRENT, 2, NULL},
    {"400 mA", DT_UNIT_CURRENT, 0.4, NULL},
    {"64 /mm", DT_UNIT_PER_LENGTH, 64, NULL},
    {"64 steps/mm", DT_UNIT_PER_LENGTH, 64, NULL},
    {"640 /cm", DT_UNIT_PER_LENGTH, 64, NULL},
    {"2540 /in", DT_UNIT_PER_LENGTH, 100, NULL},
    {"64 bytes", DT_UNIT_BYTES, 64, NULL},
    {"9600 bit/s", DT_UNIT_BIT_RATE, 9600, NULL},
    {"9600 baud", DT_UNIT_BIT_RATE, 9600, NULL},
    {"", DT_UNIT_NONE, 0, "'' is not a number"},
    {"fast", DT_UNIT_NONE, 0, "'fast' is not a number"},
    {"-", DT_UNIT_NONE, 0, "'-' is not a number"},
    {".", DT_UNIT_NONE, 0, "'.' is not a number"},
    {"+-1", DT_UNIT_NONE, 0, "'+-1' is not a number"},
    {"0x10", DT_UNIT_NONE, 0, "'0x10' is not a number"},
    {"0X10", DT_UNIT_NONE, 0, "'0X10' is not a number"},
    {"-0x10", DT_UNIT_NONE, 0, "'-0x10' is not a number"},
    {"inf", DT_UNIT_NONE, 0, "'inf' is not a number"},
    {"nan", DT_UNIT_NONE, 0, "'nan' is not a number"},
    {"1e999", DT_UNIT_NONE, 0, "'1e999' is not a number"},
    {"0,5 mm", DT_UNIT_LENGTH, 0, "'0,5' has a comma; use a point: '0.5'"},
    {"-12,25", DT_UNIT_NONE, 0, "'-12,25' has a comma; use a point: '-12.25'"},
    {"1,2,3", DT_UNIT_NONE, 0, "',2,3' follows the number, which has no unit here"},
    {"5", DT_UNIT_LENGTH, 0, "'5' lacks its unit; write '5 mm'"},
    {"5", DT_UNIT_ANGLE, 0, "'5' lacks its unit; write '5 deg'"},
    {"5", DT_UNIT_BIT_RATE, 0, "'5' lacks its unit; write '5 bit/s'"},
    {"5 mm", DT_UNIT_NONE, 0, "'mm' follows the number, which has no unit here"},
    {"5 mm", DT_UNIT_TIME, 0, "'mm' is a unit of another kind; this one takes s, ms, min"},
    {"5 ell", DT_UNIT_TIME, 0, "'ell' is not a unit of it; it takes s, ms, min"},
    {"5 MM", DT_UNIT_LENGTH, 0, "'MM' is not a unit of it; it takes mm, cm, m, um, in"},
    {"5 mm mm", DT_UNIT_LENGTH, 0, "'mm mm' is not a unit of it; it takes mm, cm, m, um, in"},
    {"5 s # slow", DT_UNIT_TIME, 0,
     "'s # slow' is not a unit; comments stand on lines of their own"},
    {"5 s ; slow", DT_UNIT_TIME, 0,
     "'s ; slow' is not a unit; comments stand on lines of their own"},
};

static void test_numbers_and_units(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(numbers); i++) {
        const Number *n = &numbers[i];
        double value = 77;
        char *why = NULL;
        g_assert_cmpint(dt_value_number(n->text, n->unit, &value, &why), ==, n->why == NULL);
        check_why(n->text, why, n->why);
        if (n->why == NULL)
            g_assert_cmpfloat_with_epsilon(value, n->value, 1e-12 * MAX(1, fabs(n->value)));
        else
            g_assert_cmpfloat(value, ==, 77);
    }
}

/* What a message calls a unit can be written, and is one of its kind. */
static void test_units_have_names(void)
{
    g_assert_cmpstr(dt_value_unit_name(DT_UNIT_NONE), ==, "");
    for (int unit = DT_UNIT_LENGTH; unit <= DT_UNIT_BIT_RATE; unit++) {
        g_autofree char *text = g_strdup_printf("1 %s", dt_value_unit_name((DtUnit)unit));
        double value = 0;
        char *why = NULL;
        g_assert_true(dt_value_number(text, (DtUnit)unit, &value, &why));
        g_assert_cmpfloat_with_epsilon(value, dt_value_unit_size((DtUnit)unit), 1e-15);
    }
    g_assert_cmpfloat_with_epsilon(dt_value_unit_size(DT_UNIT_ANGLE), 0.017453292519943295, 1e-15);
}

static void test_whole_numbers_and_ratios(void)
{
    static const Number whole[] = {
        {"128 bytes", DT_UNIT_BYTES, 128, NULL},
        {"-3", DT_UNIT_NONE, -3, NULL},
        {"1000000000", DT_UNIT_NONE, 1e9, NULL},
        {"1000000001", DT_UNIT_NONE, 0, "'1000000001' is not a whole number"},
        {"-1000000001", DT_UNIT_NONE, 0, "'-1000000001' is not a whole number"},
        {"2.5 bytes", DT_UNIT_BYTES, 0, "'2.5 bytes' is not a whole number"},
        {"two", DT_UNIT_NONE, 0, "'two' is not a number"},
    };
    static const Number ratios[] = {
        {"63.68", DT_UNIT_NONE, 63.68, NULL},
        {"25792/405", DT_UNIT_NONE, 25792.0 / 405, NULL},
        {" 1", DT_UNIT_NONE, 0, "' 1' is not a ratio like 63.68 or 25792/405"},
        {"3 / 4 ", DT_UNIT_NONE, 0.75, NULL},
        {"-3/4", DT_UNIT_NONE, -0.75, NULL},
        {"0/4", DT_UNIT_NONE, 0, NULL},
        {"3/0", DT_UNIT_NONE, 0, "'3/0' is not a ratio like 63.68 or 25792/405"},
        {"3/", DT_UNIT_NONE, 0, "'3/' is not a ratio like 63.68 or 25792/405"},
        {"/3", DT_UNIT_NONE, 0, "'/3' is not a ratio like 63.68 or 25792/405"},
        {"3/4/5", DT_UNIT_NONE, 0, "'3/4/5' is not a ratio like 63.68 or 25792/405"},
        {"3 4", DT_UNIT_NONE, 0, "'3 4' is not a ratio like 63.68 or 25792/405"},
        {"3,5", DT_UNIT_NONE, 0, "'3,5' has a comma; use a point: '3.5'"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(whole); i++) {
        int value = 77;
        char *why = NULL;
        g_assert_cmpint(dt_value_whole(whole[i].text, whole[i].unit, &value, &why), ==,
                        whole[i].why == NULL);
        check_why(whole[i].text, why, whole[i].why);
        g_assert_cmpint(value, ==, whole[i].why ? 77 : (int)whole[i].value);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(ratios); i++) {
        double value = 77;
        char *why = NULL;
        g_assert_cmpint(dt_value_ratio(ratios[i].text, &value, &why), ==, ratios[i].why == NULL);
        check_why(ratios[i].text, why, ratios[i].why);
        g_assert_cmpfloat_with_epsilon(value, ratios[i].why ? 77 : ratios[i].value, 1e-12);
    }
}

static void test_flags_and_colours(void)
{
    static const struct {
        const char *text, *why;
        gboolean value;
    } flags[] = {{"yes", NULL, TRUE},
                 {"No", NULL, FALSE},
                 {"YES", NULL, TRUE},
                 {"1", "'1' is neither yes nor no", FALSE},
                 {"yes ", "'yes ' is neither yes nor no", FALSE},
                 {"", "'' is neither yes nor no", FALSE}};
    static const struct {
        const char *text;
        int rgb; /* -1: it is none */
    } colours[] = {{"#000000", 0},        {"#1f4e9c", 0x1f4e9c},
                   {"#FFffFF", 0xffffff}, {"#a0B1c2", 0xa0b1c2},
                   {"1f4e9c", -1},        {"#1f4e9", -1},
                   {"#1f4e9c0", -1},      {"#1f4e9g", -1},
                   {"red", -1},           {"", -1}};
    for (gsize i = 0; i < G_N_ELEMENTS(flags); i++) {
        gboolean value = 77;
        char *why = NULL;
        g_assert_cmpint(dt_value_flag(flags[i].text, &value, &why), ==, flags[i].why == NULL);
        check_why(flags[i].text, why, flags[i].why);
        g_assert_cmpint(value, ==, flags[i].why ? 77 : flags[i].value);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(colours); i++) {
        DtColour c = {9, 9, 9, 9};
        char *why = NULL;
        const int rgb = colours[i].rgb;
        g_autofree char *no = g_strdup_printf("'%s' is not a colour like #1f4e9c", colours[i].text);
        g_assert_cmpint(dt_value_colour(colours[i].text, &c, &why), ==, rgb >= 0);
        check_why(colours[i].text, why, rgb >= 0 ? NULL : no);
        g_assert_cmpfloat_with_epsilon(c.r, rgb < 0 ? 9 : (rgb >> 16) / 255.0, 1e-12);
        g_assert_cmpfloat_with_epsilon(c.g, rgb < 0 ? 9 : (rgb >> 8 & 255) / 255.0, 1e-12);
        g_assert_cmpfloat_with_epsilon(c.b, rgb < 0 ? 9 : (rgb & 255) / 255.0, 1e-12);
        g_assert_cmpfloat(c.alpha, ==, rgb < 0 ? 9 : 1);
    }
}

static void test_places(void)
{
    static const struct {
        const char *text, *why;
        DtPoint at;
    } cases[] = {
        {"10, 20 mm", NULL, {10, 20}},
        {"10,20", NULL, {10, 20}},
        {"1.5 , -2 cm", NULL, {15, -20}}, /* the unit at the end is that of both */
        {"10 mm, 2 cm", NULL, {10, 20}},
        {"1 in, 20", NULL, {25.4, 20}},
        {"0, 0", NULL, {0, 0}},
        {"10 mm,20 mm ", NULL, {10, 20}},
        {"10", "'10' is not a place like '10, 20 mm'", {0, 0}},
        {"10 20", "'10 20' is not a place like '10, 20 mm'", {0, 0}},
        {"10, 20, 30", "'10, 20, 30' is not a place like '10, 20 mm'", {0, 0}},
        {"10, ", "'10, ' is not a place like '10, 20 mm'", {0, 0}},
        {"10, x", "'10, x' is not a place like '10, 20 mm'", {0, 0}},
        {"10, 20 s", "'10, 20 s' is not a place like '10, 20 mm'", {0, 0}},
        {"left, 20", "'left' is not a number", {0, 0}},
        {",20", "',' is not a number", {0, 0}},
        {"10 s, 20", "'s' is a unit of another kind; this one takes mm, cm, m, um, in", {0, 0}},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtPoint at = {77, 78};
        char *why = NULL;
        g_assert_cmpint(dt_value_point(cases[i].text, &at, &why), ==, cases[i].why == NULL);
        check_why(cases[i].text, why, cases[i].why);
        g_assert_cmpfloat_with_epsilon(at.x, cases[i].why ? 77 : cases[i].at.x, 1e-9);
        g_assert_cmpfloat_with_epsilon(at.y, cases[i].why ? 78 : cases[i].at.y, 1e-9);
    }
}

static void test_tables(void)
{
    static const struct {
        const char *text, *why;
        size_t n;
        double at[3], value[3];
    } cases[] = {
        {"", NULL, 0, {0}, {0}},
        {"0", NULL, 0, {0}, {0}},
        {"0 mm", NULL, 0, {0}, {0}},
        {"0.45 mm", NULL, 1, {0}, {0.45}},
        {"-1 mm", NULL, 1, {0}, {-1}},
        {"0:0.12 150:0.20 300:0.38", NULL, 3, {0, 150, 300}, {0.12, 0.2, 0.38}},
        {"0:0.12, 150 : 0.2,\t300:0.38 mm", NULL, 3, {0, 150, 300}, {0.12, 0.2, 0.38}},
        {"1 cm:0.1 cm 2 in:0.5", NULL, 2, {10, 50.8}, {1, 0.5}},
        {"-5:1 5:2", NULL, 2, {-5, 5}, {1, 2}},
        {"40:0", NULL, 0, {0}, {0}},
        {"0:0 40:0", NULL, 2, {0, 40}, {0, 0}},
        {"0.45", "'0.45' lacks its unit; write '0.45 mm'", 0, {0}, {0}},
        {"0.4 mm 0.5 mm",
         "'0.4 mm 0.5 mm' is neither one length nor a list of position:value",
         0,
         {0},
         {0}},
        {"0.4 mm 10:0.5",
         "'0.4 mm 10:0.5' is neither one length nor a list of position:value",
         0,
         {0},
         {0}},
        {"10:0.4 0.5",
         "'10:0.4 0.5' is neither one length nor a list of position:value",
         0,
         {0},
         {0}},
        {"10:1 10:2", "the positions must rise, but 10 mm does not lie beyond 10 mm", 0, {0}, {0}},
        {"10:1 9.5:2",
         "the positions must rise, but 9.5 mm does not lie beyond 10 mm",
         0,
         {0},
         {0}},
        {"10:", "'' is not a number", 0, {0}, {0}},
        {"10:much 20:2", "'much' is not a number", 0, {0}, {0}},
        {":2", "':' is not a number", 0, {0}, {0}},
        {"1 s", "'s' is a unit of another kind; this one takes mm, cm, m, um, in", 0, {0}, {0}},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtTable t = {NULL, NULL, 77};
        char *why = NULL;
        g_assert_cmpint(dt_value_table(cases[i].text, &t, &why), ==, cases[i].why == NULL);
        check_why(cases[i].text, why, cases[i].why);
        g_assert_cmpuint(t.n, ==, cases[i].why ? 77 : cases[i].n);
        for (size_t k = 0; k < cases[i].n; k++) {
            g_assert_cmpfloat_with_epsilon(t.at[k], cases[i].at[k], 1e-9);
            g_assert_cmpfloat_with_epsilon(t.value[k], cases[i].value[k], 1e-9);
        }
        g_free(t.at);
        g_free(t.value);
    }
}

static void test_bytes(void)
{
    static const struct {
        const char *text, *bytes; /* NULL: it is refused */
    } cases[] = {{"", ""},
                 {"done", "done"},
                 {"a\\nb\\r\\tc\\sd\\\\e", "a\nb\r\tc d\\e"},
                 {"\\x05\\xfF\\x10", "\x05\xff\x10"},
                 {"\\x00", NULL},
                 {"\\x5", NULL},
                 {"\\xg1", NULL},
                 {"\\x1g", NULL},
                 {"\\q", NULL},
                 {"ends\\", NULL},
                 {"\\x0a1", "\n"
                            "1"},
                 {"M3 S40", "M3 S40"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        char *out = NULL, *why = NULL;
        g_autofree char *no = g_strdup_printf("'%s' holds a backslash that begins none of "
                                              "\\x01 to \\xff, \\n, \\r, \\t, \\s and \\\\",
                                              cases[i].text);
        g_assert_cmpint(dt_value_bytes(cases[i].text, &out, &why), ==, cases[i].bytes != NULL);
        check_why(cases[i].text, why, cases[i].bytes ? NULL : no);
        g_assert_cmpstr(out, ==, cases[i].bytes);
        g_free(out);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/values/numbers", test_numbers_and_units);
    g_test_add_func("/machine/values/units", test_units_have_names);
    g_test_add_func("/machine/values/whole-and-ratio", test_whole_numbers_and_ratios);
    g_test_add_func("/machine/values/flags-and-colours", test_flags_and_colours);
    g_test_add_func("/machine/values/places", test_places);
    g_test_add_func("/machine/values/tables", test_tables);
    g_test_add_func("/machine/values/bytes", test_bytes);
    return g_test_run();
}
