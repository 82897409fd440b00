/* code: programs whose moves tell by a letter of their own what is fed: what draws follows from it, or is in doubt. */
#include "machines.h"
#include "on-rig.h"

#include <string.h>

static char *mended(const DtProfile *p, const char *text, gsize len, gsize *out_len)
{
    g_autoptr(GError) error = NULL;
    DtMending m;
    char *out = dt_code_mend_text(p, text, len, "a.nc", &(DtMendOptions){.units = "mm"}, out_len,
                                  &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    return out;
}

static char *fed_program(const char *drawn_back, const char *last)
{
    return g_strdup_printf("G21 G90\nG92 E0\nG1 X20 Y20 F3000\nG1 X60 Y20 E4 F900\nG1 X60 Y50 E7\n"
                           "G1 X55 Y50 %s\nG1 X80 Y60 F3000\nG1 E7\nG1 X120 Y60 E11 F900\n"
                           "G1 X120 Y90 %s\nG1 X0 Y0 F3000\nM2\n",
                           drawn_back, last);
}

static const char fed_ink[] = "20,20 60,20 60,50 | 80,60 120,60 120,90";

/* Moves that draw back what was fed bear its letter too, as others do that feed nothing. Where what is fed does not go
 * with the lengths, it is open whether the letter states the whole or what is fed in one move: both are rivals. */
static void test_what_is_drawn_back_on_the_way_leaves_a_doubt(void)
{
    static const char *const ways[] = {"E6.5", "E7"};
    g_autoptr(DtProfile) p = machine_by_name("plain");
    for (gsize i = 0; i < G_N_ELEMENTS(ways); i++) {
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_autofree char *text = fed_program(ways[i], "E30");
        g_assert_null(dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_cmpuint(m.in_doubt, >, 1);
        g_assert_nonnull(strstr(error->message, "--pen-by 'rising:E'"));
        g_assert_nonnull(strstr(error->message, "--pen-by 'letter:E'"));
        dt_mending_clear(&m);
        g_autofree char *out = dt_code_mend_text(
            p, text, strlen(text), "a.nc", &(DtMendOptions){.pen_by = "rising:E"}, &len, &m, NULL);
        g_assert_nonnull(out);
        dt_mending_clear(&m);
        on_rig_draws(p, out, len, fed_ink);
    }
}

/* What is fed goes with the lengths of the moves, so that the others draw it back; or no reading lets them draw. */
static void test_what_is_fed_goes_with_the_length(void)
{
    static const char *const ways[][2] = {{"E6.5", "E14"}, {"E7", "E14"}, {"E-1", "E30"}};
    g_autoptr(DtProfile) p = machine_by_name("plain");
    for (gsize i = 0; i < G_N_ELEMENTS(ways); i++) {
        gsize len;
        g_autofree char *text = fed_program(ways[i][0], ways[i][1]);
        g_autofree char *out = mended(p, text, strlen(text), &len);
        g_assert_nonnull(out);
        on_rig_draws(p, out, len, fed_ink);
    }
}

/* Why mending refuses a program. */
static char *refusal(const DtProfile *p, const GString *text)
{
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_assert_null(dt_code_mend_text(p, text->str, text->len, "a.nc", NULL, &len, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    dt_mending_clear(&m);
    return g_strdup(error->message);
}

/* A letter that states the same again and again, in some of the moves at feed, may be a speed: it does not decide which
 * moves draw, and is not left out. */
static void test_a_letter_that_may_be_a_speed_decides_nothing(void)
{
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GString) text = g_string_new("G21 G90\n");
    for (int k = 0; k < 6; k++)
        g_string_append_printf(text, "G0 X%d Y20\nG1 X%d Y%d%s F900\nG1 X%d Y%d\nG1 X%d Y20 V300\n",
                               20 + 20 * k, 28 + 20 * k, 25 + 7 * k, k % 2 ? " V300" : "",
                               24 + 20 * k, 60 - k, 20 + 20 * k);
    g_string_append(text, "G0 X0 Y0\nM2\n");
    g_autofree char *why = refusal(p, text);
    g_assert_nonnull(why);
}

/* Where a letter varies on its own, one use of it never wins over the other, however well it alternates with travel. */
static void test_both_uses_of_a_letter_stay_in_doubt(void)
{
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GString) text = g_string_new("G21 G90\n");
    for (int k = 0; k < 6; k++)
        g_string_append_printf(
            text, "G0 X%d Y20\nG1 X%d Y%d V300 F900\nG1 X%d Y%d V800\nG1 X%d Y20 V500\n",
            20 + 20 * k, 28 + 20 * k, 25 + 7 * k, 24 + 20 * k, 60 - k, 20 + 20 * k);
    g_string_append(text, "G0 X0 Y0\nM2\n");
    g_autofree char *why = refusal(p, text);
    g_assert_nonnull(strstr(why, "--pen-by 'letter:V'"));
    g_assert_nonnull(strstr(why, "--pen-by 'rising:V'"));
}

/* What is fed in one move goes with its length; that its first move after each travel without any rises by as much, and
 * so goes with the length too, does not make it the whole. */
static void test_what_is_fed_in_one_move(void)
{
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GString) text = g_string_new("G21 G90\n"), ink = g_string_new(NULL);
    for (int k = 0; k < 5; k++) {
        const int x = 20 + 25 * k;
        g_string_append_printf(text,
                               "G1 X%d Y20 E0 F3000\nG1 X%d Y20 E0.5 F900\nG1 X%d Y30 E0.5\n"
                               "G1 X%d Y30 E0.5\nG1 X%d Y20 E0.5\n",
                               x, x + 10, x + 10, x, x);
        g_string_append_printf(ink, "%s%d,20 %d,20 %d,30 %d,30 %d,20", k > 0 ? " | " : "", x,
                               x + 10, x + 10, x, x);
    }
    g_string_append(text, "G1 X0 Y0 F3000\nM2\n");
    gsize len;
    g_autofree char *out = mended(p, text->str, text->len, &len);
    g_assert_nonnull(out);
    on_rig_draws(p, out, len, ink->str);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend-fed/fed-by-length", test_what_is_fed_goes_with_the_length);
    g_test_add_func("/code/mend-fed/speed-letter",
                    test_a_letter_that_may_be_a_speed_decides_nothing);
    g_test_add_func("/code/mend-fed/letter-in-doubt", test_both_uses_of_a_letter_stay_in_doubt);
    g_test_add_func("/code/mend-fed/fed-by-move", test_what_is_fed_in_one_move);
    g_test_add_func("/code/mend-fed/drawn-back", test_what_is_drawn_back_on_the_way_leaves_a_doubt);
    return g_test_run();
}
