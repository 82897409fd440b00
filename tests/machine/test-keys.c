/* keys: what single values may be, and what a form, an update and a shorter rack make of them. */
#include "profile-text.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static void test_values_out_of_form(void)
{
    assert_refused("[motion]\nspeed_x = 1,5 mm/s\n",
                   "my.ini:2: speed_x: '1,5' has a comma|: '1.5'");
    assert_refused("[corrections]\nscale_x = -1,002\n", "my.ini:2: scale_x: '-1,002'|'-1.002'");
    assert_refused("[corrections]\nscale_x = 1.01 mm\n",
                   "my.ini:2: scale_x: 'mm' follows the number");
    assert_refused("[corrections]\nbacklash_x = 0.3\n", "'0.3' lacks its unit; write '0.3 mm'");
    assert_refused("[corrections]\nbacklash_x = 0:0.1 0.3 mm\n", "neither one length nor a list");
    assert_refused("[corrections]\nbacklash_x = 0.3 mm 10:0.2\n", "neither one length nor a list");
    assert_refused("[corrections]\nbacklash_x = 0:x\n", "'x' is not a number");
    assert_refused("[motion]\nspeed x = 1\n", "my.ini:2: 'speed x' is not a key");
    assert_refused("[drive]\ngear_x = 63.68 / 1 x\n", "is not a ratio like");
    assert_refused("[drive]\ngear_x = 0.0001\n", "my.ini:2: |gear_x");
    assert_refused("[controller]\nblocks = 3 bytes\n",
                   "my.ini:2: blocks: 'bytes' follows the number");
    assert_refused("[controller]\nblocks = 0\n", "my.ini:2: |out of range: 1 to 512");
    assert_refused("[controller]\nblocks = 513\n", "my.ini:2: |out of range: 1 to 512");
    assert_refused("[pen a]\ncolour = #12345g\n", "my.ini:2: |#12345g");
    assert_refused("[pen a]\ncolour = #1234567\n", "my.ini:2: |#1234567");
    assert_refused("[pen a]\ncolour = 0123456\n", "my.ini:2: |0123456");
    assert_refused("[controller]\npen_up =\n", "my.ini:2: pen_up: it must not be empty");
    assert_refused("[controller]\nhold = \\x00\n", "my.ini:2: hold: |backslash");
    assert_refused("[controller]\nhold = a\\\n", "my.ini:2: hold: |backslash");
    assert_refused("[lift]\nchange_at = 0, 221 mm\n", "my.ini:2: change_at: 0, 221 mm lies beyond");
    assert_refused("[lift]\nchange_at = 301, 0 mm\n", "my.ini:2: change_at: 301, 0 mm lies beyond");
    assert_refused("[motion]\npull_in_y = 13 mm/s\n", "my.ini:2: pull_in_y: 13 mm/s is more than");
    assert_refused("[corrections]\npulley_error_y = 4 mm\n", "my.ini:2: pulley_error_y: 4 mm");
    assert_refused("[controller]\nwindow = 80 bytes\n", "longest_line: a line of 80 bytes");
}

/* Both ends of a range belong to it. */
static void test_limits_are_allowed(void)
{
    g_autoptr(DtProfile) p = read_good("[controller]\nblocks = 512\nwindow = 81 bytes\n"
                                       "[motion]\nspeed_x = 1000 mm/s\npull_in_y = 12 mm/s\n"
                                       "[lift]\nchange_at = 300, 220 mm\n");
    g_assert_cmpint(p->dialect.blocks, ==, 512);
    g_assert_cmpint(p->dialect.window, ==, 81);
    g_autoptr(DtProfile) least = read_good("[controller]\nblocks = 1\nwindow = 0 bytes\n");
    g_assert_cmpint(least->dialect.blocks, ==, 1);
    g_autoptr(GString) text = g_string_new("[machine]\nname = ");
    for (int i = 0; i < 80; i++)
        g_string_append_c(text, 'n');
    g_autoptr(DtProfile) longest = read_good(text->str);
    g_assert_cmpuint(strlen(longest->name), ==, 80);
    g_string_append_c(text, 'n');
    assert_refused(text->str, "my.ini:2: name: it is longer than 80 bytes");
}

/* The unit behind the second number of a place is meant for both; that behind the first for itself. */
static void test_a_place_takes_one_unit_or_two(void)
{
    static const struct {
        const char *text;
        double x, y;
    } places[] = {{"10, 20 mm", 10, 20},       {"1, 2 cm", 10, 20}, {"1 cm, 20 mm", 10, 20},
                  {"0.5 in , 1 cm", 12.7, 10}, {"0, 0", 0, 0},      {"15, 12", 15, 12},
                  {"+3.5 , .5 cm", 35, 5},     {"1 cm, 2", 10, 2}};
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
        g_autofree char *text = g_strdup_printf("[lift]\npark = %s\n", places[i].text);
        g_autoptr(DtProfile) p = read_good(text);
        g_assert_cmpfloat_with_epsilon(p->park.x, places[i].x, 1e-9);
        g_assert_cmpfloat_with_epsilon(p->park.y, places[i].y, 1e-9);
    }
}

/* The inch is 25.4 mm (ISO 80000-3); a ratio is what its division gives. */
static void test_ratios_and_units(void)
{
    g_autoptr(DtProfile) p = read_good("[drive]\ngear_x = 25792 / 405\ngear_y = 63.68\n"
                                       "[motion]\nspeed_x = 30 in/min\nacceleration_x = 0.1 m/s2\n"
                                       "[corrections]\nsquare = -5 mrad\nbacklash_y = 0\n"
                                       "[pen a]\ncolour = #0a80FF\n");
    g_assert_cmpfloat_with_epsilon(p->gear[0], 63.683950617, 1e-8);
    g_assert_cmpfloat_with_epsilon(p->gear[1], 63.68, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->speed[0], 12.7, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->acceleration[0], 100, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->square, -0.005, 1e-12);
    g_assert_cmpuint(p->backlash[1].n, ==, 0);
    g_assert_cmpfloat_with_epsilon(p->rack.pens[0].colour.r, 10 / 255.0, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->rack.pens[0].colour.g, 128 / 255.0, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->rack.pens[0].colour.b, 1, 1e-12);
    /* by the circumference at the cord's middle line */
    g_assert_cmpfloat_with_epsilon(dt_machine_drive_steps(p, 0),
                                   p->motor_steps[0] * p->gear[0] /
                                       (G_PI * (p->pulley_diameter[0] + p->cord_diameter[0])),
                                   1e-9);
}

/* A key that was called otherwise in an earlier edition is still understood. */
static void test_earlier_names_of_keys(void)
{
    g_autoptr(DtProfile) p = read_good("[motion]\nfastest_x = 9 mm/s\nfastest_y = 8 mm/s\n");
    g_assert_cmpfloat(p->speed[0], ==, 9);
    g_assert_cmpfloat(p->speed[1], ==, 8);
    assert_refused("[paper]\nfastest_x = 9 mm/s\n", "my.ini:2:|fastest_x");
}

/* Bytes as they are written, and back. */
static void test_bytes_are_escaped_so_that_they_come_back(void)
{
    static const char *const bytes[] = {" a b ",   "\\n\n\r\t", "\001\177\200\377",
                                        "plain!~", " ",         "a"};
    for (gsize i = 0; i < G_N_ELEMENTS(bytes); i++) {
        g_autofree char *escaped = dt_profile_escape(bytes[i]);
        for (const char *c = escaped; *c; c++)
            g_assert_true(*c >= ' ' && *c <= '~');
        g_autofree char *text = g_strdup_printf("[controller]\nhold = %s\n", escaped);
        g_autoptr(DtProfile) p = read_good(text);
        g_assert_cmpstr(p->dialect.hold, ==, bytes[i]);
    }
    g_autofree char *kept = dt_profile_escape("a b~\\ ");
    g_assert_cmpstr(kept, ==, "a b~\\\\\\s");
}

static void test_the_line_of_a_key(void)
{
    static const char text[] =
        "# mine\n[motion]\nspeed_x = 9 mm/s\nspeed = 2\n\n[pen a]\ntip=0.3 mm\n";
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "my.ini", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_write_file(path, text, strlen(text), &error));
    g_assert_cmpuint(dt_profile_line_of(path, "motion", "speed_x"), ==, 3);
    g_assert_cmpuint(dt_profile_line_of(path, "motion", "speed"), ==, 4);
    g_assert_cmpuint(dt_profile_line_of(path, "pen a", "tip"), ==, 7);
    g_assert_cmpuint(dt_profile_line_of(path, "pen a", "speed_x"), ==, 0);
    g_assert_cmpuint(dt_profile_line_of(path, "lift", "tip"), ==, 0);
    g_unlink(path);
    g_assert_cmpuint(dt_profile_line_of(path, "motion", "speed_x"), ==, 0);
    g_rmdir(folder);
}

/* The form's table: each key of the file is in it with its section, unit and default. */
static void test_the_table_of_keys(void)
{
    g_autofree char *template = dt_profile_template();
    DtProfileKey k;
    size_t n = 0;
    gboolean seen_gear = FALSE, seen_words = FALSE;
    for (; dt_profile_key(n, &k); n++) {
        g_assert_nonnull(strstr(template, k.name));
        g_assert_nonnull(dt_profile_section_help(k.section));
        if (strcmp(k.name, "gear_x") == 0) {
            seen_gear = TRUE;
            g_assert_cmpstr(k.section, ==, "drive");
            g_assert_cmpstr(k.type, ==, "ratio");
            g_assert_cmpstr(k.unit, ==, "");
        }
        if (strcmp(k.name, "travel_x") == 0) {
            seen_words = TRUE;
            g_assert_cmpstr(k.type, ==, "number");
            g_assert_cmpstr(k.unit, ==, "mm");
            g_assert_cmpstr(k.preset, ==, "300 mm");
            g_assert_cmpstr(k.range, ==, "10 to 5000 mm");
            g_assert_nonnull(k.help);
        }
        if (strcmp(k.name, "travel_y") == 0)
            g_assert_null(k.help); /* as of the key before it */
        g_free(k.range);
    }
    g_assert_true(seen_gear && seen_words);
    g_assert_cmpuint(n, >, 80);
    g_assert_false(dt_profile_key(n + 1, &k));
    g_assert_null(dt_profile_section_help("nothing"));
    g_assert_cmpstr(dt_profile_section_help("paper"), ==, "The sheet and where it lies.");
}

static void test_a_shorter_rack(void)
{
    g_autoptr(DtProfile) p =
        read_good("[pen a]\nclasses = x\n[pen b]\ntip = 0.7 mm\n[pen c]\n[pen d]\nclasses = y\n");
    const gboolean keep[] = {FALSE, TRUE, FALSE, TRUE};
    dt_profile_keep_pens(p, keep);
    g_assert_cmpuint(p->rack.n, ==, 2);
    g_assert_cmpstr(p->rack.pens[0].name, ==, "b");
    g_assert_cmpfloat(p->rack.pens[0].tip, ==, 0.7);
    g_assert_cmpstr(p->rack.pens[1].name, ==, "d");
    g_assert_cmpstr(p->rack.pens[1].classes, ==, "y");
}

/* Letter, Legal and Tabloid as ASME Y14.1 has them, in whole inches and halves; ISO 216 rounds each
 * halving down. */
static void test_sheets_by_name(void)
{
    static const struct {
        const char *name;
        double w, h;
    } sheets[] = {
        {"Letter", 215.9, 279.4}, {"legal", 215.9, 355.6}, {"TABLOID landscape", 431.8, 279.4},
        {"A0", 841, 1189},        {"A3", 297, 420},        {"A4 Landscape", 297, 210},
        {"A10", 26, 37},          {"b0", 1000, 1414},      {"B5", 176, 250},
        {"B10", 31, 44},          {"5x5", 5, 5},           {"5000 X 5000mm", 5000, 5000},
        {"21x14.8 cm", 210, 148}};
    for (gsize i = 0; i < G_N_ELEMENTS(sheets); i++) {
        double w, h;
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_machine_paper(sheets[i].name, &w, &h, &error));
        g_assert_cmpfloat_with_epsilon(w, sheets[i].w, 1e-9);
        g_assert_cmpfloat_with_epsilon(h, sheets[i].h, 1e-9);
    }
    static const char *const wrong[] = {"Letters", "C10",   "A5x",      "B11", "4.9x10",
                                        "10x5001", "10 10", "10x10mmm", "10x"};
    for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
        double w, h;
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_machine_paper(wrong[i], &w, &h, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, wrong[i]));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/keys/out-of-form", test_values_out_of_form);
    g_test_add_func("/machine/keys/limits", test_limits_are_allowed);
    g_test_add_func("/machine/keys/place", test_a_place_takes_one_unit_or_two);
    g_test_add_func("/machine/keys/units", test_ratios_and_units);
    g_test_add_func("/machine/keys/earlier-names", test_earlier_names_of_keys);
    g_test_add_func("/machine/keys/bytes", test_bytes_are_escaped_so_that_they_come_back);
    g_test_add_func("/machine/keys/line", test_the_line_of_a_key);
    g_test_add_func("/machine/keys/table", test_the_table_of_keys);
    g_test_add_func("/machine/keys/rack", test_a_shorter_rack);
    g_test_add_func("/machine/keys/sheets", test_sheets_by_name);
    return g_test_run();
}
