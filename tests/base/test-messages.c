/* messages: which language is spoken, by the environment (POSIX.1-2017, 8.2: LC_ALL before LC_MESSAGES before LANG,
 * and what is empty is not set). */
#include "drawtrue/messages.h"

#include <glib.h>
#include <string.h>

static void set(const char *name, const char *value)
{
    if (value != NULL)
        g_setenv(name, value, TRUE);
    else
        g_unsetenv(name);
}

static void test_the_environment_names_the_language(void)
{
    static const struct {
        const char *all, *messages, *lang, *first;
    } cases[] = {{NULL, NULL, NULL, "en"},
                 {"C", NULL, NULL, "en"},
                 {"POSIX", NULL, NULL, "en"},
                 {"C", "de_DE.UTF-8", "de_DE.UTF-8", "en"},
                 {"", "", "", "en"},
                 {"de_DE.UTF-8", "C", "C", "de_DE.UTF-8:"},
                 {NULL, "fr_FR", "de_DE", "fr_FR:"},
                 {"", "fr_FR", "de_DE", "fr_FR:"},
                 {NULL, NULL, "de_DE", "de_DE:"},
                 {NULL, "", "de", "de:"},
                 {NULL, "POSIX", "de", "en"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        set("LC_ALL", cases[i].all);
        set("LC_MESSAGES", cases[i].messages);
        set("LANG", cases[i].lang);
        set("LANGUAGE", NULL);
        dt_messages_begin();
        const char *chosen = g_getenv("LANGUAGE");
        g_assert_nonnull(chosen);
        if (g_str_has_suffix(cases[i].first, ":"))
            g_assert_true(g_str_has_prefix(chosen, cases[i].first));
        else
            g_assert_cmpstr(chosen, ==, cases[i].first);
    }
}

static void test_a_language_is_chosen_at_any_time(void)
{
    dt_messages_choose("de");
    g_assert_cmpstr(g_getenv("LANGUAGE"), ==, "de");
    dt_messages_choose("en");
    g_assert_cmpstr(g_getenv("LANGUAGE"), ==, "en");
    g_assert_cmpstr(dt_messages_find(""), ==, "");
    g_assert_cmpstr(dt_messages_find("no such text"), ==, "no such text");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/base/messages/environment", test_the_environment_names_the_language);
    g_test_add_func("/base/messages/chosen", test_a_language_is_chosen_at_any_time);
    return g_test_run();
}
