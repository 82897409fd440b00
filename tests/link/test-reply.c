/* reply: what a line from a controller answers, and what of it is echo, prompt or talk. */
#include "link/reply.h"

static void test_prefixes(void)
{
    static const struct {
        const char *accept, *refuse, *text;
        DtReply reply;
    } cases[] = {
        {"done", "wrong", "done", DT_REPLY_ACCEPT},
        {"done", "wrong", "done 7", DT_REPLY_ACCEPT},
        {"done", "wrong", "donee", DT_REPLY_OTHER},
        {"done", "wrong", "wrong: no", DT_REPLY_REFUSE},
        {"done", "done not", "done not", DT_REPLY_REFUSE},
        {"+", "-", "+12", DT_REPLY_ACCEPT},
        {"", "wrong", "done", DT_REPLY_OTHER},
        {NULL, NULL, "done", DT_REPLY_OTHER},
        {"done", "", "", DT_REPLY_OTHER},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        g_assert_cmpint(dt_reply_of(cases[i].accept, cases[i].refuse, cases[i].text), ==,
                        cases[i].reply);
}

static void test_notices(void)
{
    g_assert_true(dt_reply_is_notice("busy, heat", "heat 21"));
    g_assert_true(dt_reply_is_notice("busy,heat", "busy"));
    g_assert_false(dt_reply_is_notice("busy, heat", "heating"));
    g_assert_false(dt_reply_is_notice("busy, heat", "done"));
    g_assert_false(dt_reply_is_notice("", "done"));
    g_assert_false(dt_reply_is_notice(NULL, "done"));
    g_assert_false(dt_reply_is_notice(",", "done"));
}

static void test_echo(void)
{
    static const struct {
        const char *text, *line, *rest;
    } cases[] = {
        {"G1X2", "G1X2\n", ""},          {"G1X2 done", "G1X2\n", "done"},
        {"> G1X2", "G1X2", ""},          {"G1X23", "G1X2", "G1X23"},
        {"done", "G1X2", "done"},        {"> ", "G1X2", ""},
        {"  M5 done", "  M5\n", "done"}, {"G1X2", "", "G1X2"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        g_assert_cmpstr(dt_reply_past_echo(cases[i].text, cases[i].line), ==, cases[i].rest);
}

static void test_numbers(void)
{
    unsigned n = 0;
    const char *rest = "";
    g_assert_true(dt_reply_number("taken 17", 5, 99999, &n, &rest));
    g_assert_cmpuint(n, ==, 17);
    g_assert_cmpstr(rest, ==, "");
    g_assert_true(dt_reply_number("refused 9 order 7", 7, 99999, &n, &rest));
    g_assert_cmpstr(rest, ==, "order 7");
    g_assert_false(dt_reply_number("taken 100000", 5, 99999, &n, &rest));
    g_assert_false(dt_reply_number("taken 17x", 5, 99999, &n, &rest));
    g_assert_false(dt_reply_number("taken", 5, 99999, &n, &rest));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/reply/prefixes", test_prefixes);
    g_test_add_func("/link/reply/notices", test_notices);
    g_test_add_func("/link/reply/echo", test_echo);
    g_test_add_func("/link/reply/numbers", test_numbers);
    return g_test_run();
}
