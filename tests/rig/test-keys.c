/* The keys of a rig file, as its template lists them: each takes what the template says, and nothing else. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include <string.h>

/* NULL if a file with this one key is read, else what is said. */
static char *refusal_of(const char *section, const char *key, const char *value)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strdup_printf("[%s]\n%s = %s\n", section, key, value);
    g_autoptr(DtRig) r = dt_rig_new_from_text(text, "rig.ini", &error);
    g_assert_true((r == NULL) == (error != NULL));
    if (error == NULL)
        return NULL;
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, "rig.ini:2: "));
    return g_strdup(error->message);
}

static void assert_taken(const char *section, const char *key, const char *value)
{
    g_autofree char *refusal = refusal_of(section, key, value);
    if (refusal != NULL)
        g_error("%s = %s: %s", key, value, refusal);
}

static void assert_refused(const char *section, const char *key, const char *value,
                           const char *says)
{
    g_autofree char *refusal = refusal_of(section, key, value);
    if (refusal == NULL || strstr(refusal, says) == NULL)
        g_error("%s = %s: %s", key, value, refusal ? refusal : "is taken");
}

static void assert_range(const char *section, const char *key, const char *least, const char *most)
{
    const double low = g_ascii_strtod(least, NULL), high = g_ascii_strtod(most, NULL);
    g_autofree char *below = g_strdup_printf("%.10g", low - 0.001 * (high - low));
    g_autofree char *above = g_strdup_printf("%.10g", high + 0.001 * (high - low));
    g_assert_cmpfloat(low, <, high);
    assert_taken(section, key, least);
    assert_taken(section, key, most);
    assert_refused(section, key, below, " is not from ");
    assert_refused(section, key, above, " is not from ");
    assert_refused(section, key, "five", "not a number");
    assert_refused(section, key, "5mm", "not a number");
}

static gboolean is_number(const char *text)
{
    char *end;
    g_ascii_strtod(text, &end);
    return end != text && (*end == '\0' || *end == ':'); /* a table has pairs */
}

/* Numbers have a range, and others have none. */
static void test_the_template_tells_what_each_key_takes(void)
{
    g_autofree char *template = dt_rig_template(), *section = NULL, *least = NULL, *most = NULL;
    g_auto(GStrv) lines = g_strsplit(template, "\n", -1);
    g_autoptr(GRegex) range = g_regex_new(" \\(([-0-9.e+]+) to ([-0-9.e+]+)\\)$", 0, 0, NULL);
    unsigned ranges = 0, answers = 0, texts = 0;
    for (char **l = lines; *l != NULL; l++) {
        g_autoptr(GMatchInfo) match = NULL;
        char *equals = strstr(*l, " = ");
        if (**l == '[') {
            g_free(section);
            section = g_strndup(*l + 1, strlen(*l) - 2);
        } else if (**l == '#') { /* of all keys up to the next comment */
            g_clear_pointer(&least, g_free);
            g_clear_pointer(&most, g_free);
            if (!g_regex_match(range, *l, 0, &match))
                continue;
            least = g_match_info_fetch(match, 1);
            most = g_match_info_fetch(match, 2);
        } else if (equals != NULL) {
            const char *value = equals + strlen(" = ");
            *equals = '\0';
            if (*value != '\0' && (least != NULL) != is_number(value)) /* a table may be empty */
                g_error("%s = %s", *l, value);
            assert_taken(section, *l, value);
            if (least != NULL) {
                assert_range(section, *l, least, most);
                ranges++;
            } else if (strcmp(value, "yes") == 0 || strcmp(value, "no") == 0) {
                assert_taken(section, *l, "yes");
                assert_taken(section, *l, "no");
                assert_refused(section, *l, "perhaps", "yes");
                answers++;
            } else {
                texts++;
            }
        }
    }
    g_assert_cmpuint(ranges, >, 60);
    g_assert_cmpuint(answers, >, 5);
    g_assert_cmpuint(texts, >, 5);
}

/* Up to sixteen pairs, by rising positions. */
static void test_tables_are_pairs_that_rise(void)
{
    g_autoptr(GString) pairs = g_string_new(NULL);
    for (int i = 0; i < 16; i++)
        g_string_append_printf(pairs, "%s%d:0.%02d", i ? " " : "", 10 * i, i);
    assert_taken("truth", "backlash_x", pairs->str);
    g_string_append(pairs, " 160:0.1");
    assert_refused("truth", "backlash_x", pairs->str, "up to 16 pairs in rising position");
    assert_taken("truth", "backlash_x", "\t10:0.1  20:0.2 ");
    assert_refused("truth", "backlash_x", "10:0.1 10:0.2", "in rising position");
    assert_refused("truth", "backlash_x", "10:0.1 5:0.2", "in rising position");
    assert_refused("truth", "backlash_x", "0.1 0.2", "in rising position");
    assert_refused("truth", "backlash_x", "10:0.1 20:11", "11 is not from 0 to 10 mm");
    assert_refused("truth", "backlash_x", "10:", "not a number");
    assert_refused("truth", "backlash_x", ":0.1", "not a number");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/keys/template", test_the_template_tells_what_each_key_takes);
    g_test_add_func("/keys/tables", test_tables_are_pairs_that_rise);
    return g_test_run();
}
