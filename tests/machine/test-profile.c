/* profile: one table of keys loads, refuses with the line and the nearest right key, and documents.
 */
#include "profile-text.h"
#include "drawtrue/report.h"

#include <glib/gstdio.h>
#include <string.h>

static void test_values_carry_units(void)
{
    g_autoptr(DtProfile) p = read_good("[motion]\n"
                                       "speed_x = 900 mm/min\n"
                                       "speed_y=1.2 cm/s\n"
                                       "travel_x = 12 in\n"
                                       "[lift]\n"
                                       "drop_time = 150 ms\n"
                                       "change_at = 5, 7.5 mm\n"
                                       "park = 1 cm, 20 mm\n"
                                       "[corrections]\n"
                                       "square = 0.4 deg\n"
                                       "[supply]\n"
                                       "motor_current_x = 240 mA\n");
    g_assert_cmpfloat_with_epsilon(p->speed[0], 15, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->speed[1], 12, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->travel[0], 304.8, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->drop_s, 0.15, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->change_at.x, 5, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->change_at.y, 7.5, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->park.x, 10, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->square, 0.4 * G_PI / 180, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->motor_a[0], 0.24, 1e-12);
}

static void test_a_table_is_a_length_or_a_list(void)
{
    g_autoptr(DtProfile) p = read_good("[corrections]\n"
                                       "backlash_x = 0:0.12 150:0.20, 300 : 0.38 mm\n"
                                       "backlash_y = 0.45 mm\n");
    g_assert_cmpuint(p->backlash[0].n, ==, 3);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], -5), 0.12, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], 75), 0.16, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], 150), 0.20, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], 225), 0.29, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[0], 1000), 0.38, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->backlash[1], 17), 0.45, 1e-12);
    g_autoptr(DtProfile) loose = read_good("[corrections]\nbacklash_x = 0:1.5 100:2.25 mm\n");
    g_assert_cmpfloat_with_epsilon(dt_table_at(&loose->backlash[0], 0), 1.5, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&loose->backlash[0], 100), 2.25, 1e-12);
    dt_profile_drop_corrections(p);
    g_assert_cmpuint(p->backlash[0].n, ==, 0);
    g_assert_cmpfloat(dt_table_at(&p->backlash[1], 17), ==, 0);
}

static void test_pens_and_texts(void)
{
    g_autoptr(DtProfile) p = read_good("\357\273\277# a byte-order mark and both line ends\r\n"
                                       "[controller]\r\n"
                                       "ask_state = ?\\x05\\n\r\n"
                                       "greeting =\n"
                                       "line_check = no\n"
                                       "[pen leaf green]\n"
                                       "colour = #208040\n"
                                       "tip = 0.25 mm\n"
                                       "offset = 0.1, -0.2 mm\n"
                                       "classes = leaf stem\n"
                                       "[pen ink]\n");
    g_assert_cmpstr(p->dialect.ask_state, ==, "?\005\n");
    g_assert_cmpstr(p->dialect.greeting, ==, "");
    g_assert_false(p->dialect.line_check);
    g_assert_cmpuint(p->rack.n, ==, 2);
    g_assert_cmpstr(p->rack.pens[0].name, ==, "leaf green");
    g_assert_cmpfloat_with_epsilon(p->rack.pens[0].colour.g, 128 / 255.0, 1e-12);
    g_assert_cmpfloat_with_epsilon(p->rack.pens[0].offset.y, -0.2, 1e-12);
    g_assert_cmpstr(p->rack.pens[0].classes, ==, "leaf stem");
    g_assert_cmpfloat_with_epsilon(p->rack.pens[1].tip, 0.4, 1e-12);
    g_assert_cmpstr(p->notes, ==, "my.ini:11: pen ink has no colour here: it counts as #000000\n");
}

static void test_each_wrong_thing_is_named_with_its_line(void)
{
    assert_refused("[motion]\nspeedx = 15 mm/s\n", "my.ini:2:|speedx|'speed_x'");
    assert_refused("\n\n[mosion]\nspeed_x = 15 mm/s\n", "my.ini:3:|[mosion]|[motion]");
    assert_refused("[motion]\n\nspeed_x = 15 mm\n", "my.ini:3:|'mm'|mm/s, mm/min");
    assert_refused("[motion]\nspeed_x = 15\n", "my.ini:2:|lacks its unit|15 mm/s");
    assert_refused("[motion]\nspeed_x = -15 mm/s\n", "my.ini:2:|-15 mm/s|0.1 to 1000 mm/s");
    assert_refused("[motion]\nspeed_x = fast\n", "my.ini:2:|'fast' is not a number");
    assert_refused("[motion]\nspeed_x = nan mm/s\n", "my.ini:2:|is not a number");
    assert_refused("[motion]\nspeed_x = 0x10 mm/s\n", "my.ini:2:");
    assert_refused("[motion]\nspeed_x = 1e999 mm/s\n", "my.ini:2:");
    assert_refused("[motion]\nspeed_x = 15 mm/s # quick\n", "my.ini:2:|lines of their own");
    assert_refused("[motion]\nspeed_x = 15 mm/s\n\nspeed_x = 12 mm/s\n", "my.ini:4:|line 2");
    assert_refused("[motion]\ncolour = #000000\n", "my.ini:2:|does not belong|[pen NAME]");
    assert_refused("speed_x = 15 mm/s\n", "my.ini:1:|before the first section");
    assert_refused("[motion\n", "my.ini:1:|[name]");
    assert_refused("[motion]\nspeed\n", "my.ini:2:|neither");
    assert_refused("[pen]\ntip = 0.4 mm\n", "my.ini:1:|[pen black]");
    assert_refused("[pen a]\n[pen b]\n[pen a]\n", "my.ini:3:|line 1");
    assert_refused("[pen a]\ncolour = red\n", "my.ini:2:|#1f4e9c");
    assert_refused("[drive]\ngear_x = 25792/0\n", "my.ini:2:|25792/405");
    assert_refused("[corrections]\nbacklash_x = 0:0.1 0:0.2\n", "my.ini:2:|must rise");
    assert_refused("[corrections]\nbacklash_x = 0:0.1 1:0.9\n", "my.ini:2:|half of the way");
    assert_refused("[corrections]\nbacklash_x = -0.1 mm\n", "my.ini:2:|0 to 5 mm");
    assert_refused("[corrections]\nbacklash_x = 0:0.1 deg\n", "my.ini:2:|'deg'|another kind");
    assert_refused("[corrections]\nsquare = 12 deg\n", "my.ini:2:|-10 to 10 deg");
    assert_refused("[controller]\nhold = \\q\n", "my.ini:2:|backslash");
    assert_refused("[controller]\nline_check = maybe\n", "my.ini:2:|yes nor no");
    assert_refused("[controller]\nwindow = 12.5 bytes\n", "my.ini:2:|whole");
    assert_refused("[controller]\nwindow = 64 bytes\n", "my.ini:|longest_line|64");
    assert_refused("[paper]\nsize = C5\n", "my.ini:2:|'C5'");
    assert_refused("[paper]\nmargin = 80 mm\n", "my.ini:2:|leaves nothing");
    assert_refused("[lift]\npark = 400, 0 mm\n", "my.ini:2:|beyond the travel");
    assert_refused("[motion]\npull_in_x = 20 mm/s\n", "my.ini:2:|more than");
    assert_refused("[motion]\n\377\n", "my.ini:2:|UTF-8");
    assert_refused("[machine]\nname = a\033[2J\n", "my.ini:2:|control character");
}

static void test_all_problems_in_one_pass(void)
{
    assert_refused("[lift]\n"
                   "drop_time = 1 mm\n"
                   "lifttime = 1 s\n"
                   "nonsense\n"
                   "[papers]\n"
                   "[motion]\n"
                   "travel_y = 0 mm\n",
                   "my.ini:2: drop_time|\nmy.ini:3: |\nmy.ini:4: |\nmy.ini:5: |\nmy.ini:7: ");
    g_autoptr(GString) many = g_string_new("[motion]\n");
    for (int i = 0; i < 1000; i++)
        g_string_append_printf(many, "wrong%d = 1\n", i);
    assert_refused(many->str, "my.ini:2:|and 980 more");
}

static void test_text_that_is_no_profile_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_profile_read_data("[motion]\n\0x", 11, "my.ini", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    static const char *const places[] = {"x, 5 mm", "5 mm", "5, 5 volts", "-1e9, 5 mm"};
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
        g_autofree char *text = g_strdup_printf("[lift]\npark = %s\n", places[i]);
        g_assert_null(dt_profile_read_data(text, strlen(text), "my.ini", &error));
        g_assert_true(g_str_has_prefix(error->message, "my.ini:2: park: "));
        g_clear_error(&error);
    }
    g_assert_null(dt_profile_load("/no/such/profile", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* The defaults describe a machine that nobody has: a file that says nothing is none, and one that says
 * the least is. */
static void test_a_file_that_says_nothing_is_no_profile(void)
{
    static const char *const nothing[] = {"",
                                          "\n",
                                          " \t\r\n\n",
                                          "\357\273\277",
                                          "# travel_x = 300 mm\n",
                                          "[machine]\n",
                                          "[machine]\n# name = shed\n\n[motion]\n[lift]\n",
                                          "[controller]"};
    for (gsize i = 0; i < G_N_ELEMENTS(nothing); i++)
        assert_refused(nothing[i], "my.ini: this says nothing about a machine|--template");
    static const char *const least[] = {"[machine]\nname =\n", "[motion]\ntravel_x = 300 mm",
                                        "[pen black]\n", "\n[corrections]\nsquare = 0 deg\n"};
    for (gsize i = 0; i < G_N_ELEMENTS(least); i++)
        dt_profile_free(read_good(least[i]));
    assert_refused("[moton]\n", "my.ini:1: there is no section [moton]"); /* and nothing more */
}

static void assert_same_profile(const DtProfile *a, const DtProfile *b)
{
    g_autofree char *x = dt_report_machine(a, TRUE), *y = dt_report_machine(b, TRUE);
    g_assert_cmpstr(x, ==, y);
    g_assert_cmpmem(a->speed, sizeof a->speed, b->speed, sizeof b->speed);
    g_assert_cmpfloat(a->drop_s, ==, b->drop_s);
    g_assert_cmpstr(a->dialect.words, ==, b->dialect.words);
    g_assert_cmpstr(a->dialect.ask_state, ==, b->dialect.ask_state);
    g_assert_cmpint(a->dialect.window, ==, b->dialect.window);
    g_assert_cmpuint(a->rack.n, ==, b->rack.n);
    for (size_t i = 0; i < a->rack.n; i++) {
        g_assert_cmpstr(a->rack.pens[i].name, ==, b->rack.pens[i].name);
        g_assert_cmpfloat(a->rack.pens[i].colour.r, ==, b->rack.pens[i].colour.r);
    }
}

static void test_the_template_is_the_default_profile(void)
{
    g_autofree char *text = dt_profile_template();
    g_autoptr(DtProfile) from_text = read_good(text), built_in = dt_profile_new();
    assert_same_profile(from_text, built_in);
    g_assert_null(built_in->path);
    g_assert_cmpfloat_with_epsilon(built_in->steps_per_mm[0], 100, 1);
    g_assert_cmpfloat(built_in->scale[1], ==, 1);
    g_assert_cmpuint(built_in->backlash[0].n + built_in->backlash[1].n, ==, 0);
    /* every comment fits a terminal */
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **line = lines; *line; line++)
        if (**line == '#')
            g_assert_cmpuint(strlen(*line), <=, 80);
}

static void test_the_report_tells_what_follows(void)
{
    g_autoptr(DtProfile) p = read_good("[motion]\nsteps_per_mm_x = 80 /mm\n"
                                       "[supply]\ncurrent = 0.5 A\n");
    g_autofree char *text = dt_report_machine(p, FALSE);
    g_assert_nonnull(strstr(text, "x 80.0000, so the finest step is 0.0125 mm"));
    g_assert_nonnull(strstr(text, "the drive train would make 99.79"));
    g_assert_nonnull(strstr(text, "this supply is too small"));
    g_assert_nonnull(strstr(text, "a computer's port is not a supply"));
    g_autofree char *json = dt_report_machine(p, TRUE);
    for (size_t i = 0; i < p->rack.n; i++) {
        g_autofree char *pen = g_strdup_printf("\"name\" : \"%s\"", p->rack.pens[i].name);
        g_assert_nonnull(strstr(json, pen));
    }
    g_assert_nonnull(strstr(json, "\"supply_suffices\" : false"));
}

static void test_an_update_keeps_the_rest_of_the_file(void)
{
    static const char before[] = "# my plotter\n\n[motion]\n  speed_x = 900 mm/min\n# odd one\n"
                                 "travel_x=290 mm\n\n[pen a]\ntip = 0.3 mm";
    static const char wanted[] = "# my plotter\n\n[motion]\n  speed_x = 900 mm/min\n# odd one\n"
                                 "travel_x = 280 mm\npull_in_x = 2 mm/s\n\n[pen a]\n"
                                 "# measured today\ntip = 0.35 mm\n\n[corrections]\n"
                                 "# measured on 2 May\nsquare = 0.4 deg\n";
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "my.ini", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_write_file(path, before, strlen(before), &error));
    DtProfileChange changes[] = {
        {"motion", "travel_x", "280 mm", NULL},
        {"motion", "pull_in_x", "2 mm/s", NULL},
        {"pen a", "tip", "0.35 mm", "measured today"},
        {"corrections", "square", "0.3 deg", "measured on 1 May"},
    };
    g_assert_true(dt_profile_update(path, NULL, changes, G_N_ELEMENTS(changes), &error));
    changes[3] = (DtProfileChange){"corrections", "square", "0.4 deg", "measured on 2 May"};
    g_assert_true(dt_profile_update(path, NULL, &changes[3], 1, &error));
    g_assert_no_error(error);
    g_autofree char *text = dt_base_read_file(path, 1000, NULL, &error);
    g_assert_cmpstr(text, ==, wanted);
    /* a wrong value leaves the file alone */
    changes[0].value = "280 volts";
    g_assert_false(dt_profile_update(path, NULL, changes, 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *after = dt_base_read_file(path, 1000, NULL, NULL);
    g_assert_cmpstr(after, ==, wanted);
    g_clear_error(&error);
    g_unlink(path);
    g_assert_false(dt_profile_update(path, NULL, &changes[3], 1, &error)); /* there is none */
    g_assert_nonnull(error);
    g_rmdir(folder);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/profile/units", test_values_carry_units);
    g_test_add_func("/machine/profile/tables", test_a_table_is_a_length_or_a_list);
    g_test_add_func("/machine/profile/pens-and-texts", test_pens_and_texts);
    g_test_add_func("/machine/profile/wrong-lines", test_each_wrong_thing_is_named_with_its_line);
    g_test_add_func("/machine/profile/all-problems", test_all_problems_in_one_pass);
    g_test_add_func("/machine/profile/no-profile", test_text_that_is_no_profile_is_refused);
    g_test_add_func("/machine/profile/nothing", test_a_file_that_says_nothing_is_no_profile);
    g_test_add_func("/machine/profile/template", test_the_template_is_the_default_profile);
    g_test_add_func("/machine/profile/update", test_an_update_keeps_the_rest_of_the_file);
    g_test_add_func("/machine/profile/report", test_the_report_tells_what_follows);
    return g_test_run();
}
