/* update: what is written back into a profile: the one line, and all else as it was; and text with any
 * byte comes back as it went in. */
#include "machine/keys.h"
#include "support/folder.h"

#include <string.h>

static char *folder, *path;

static void put(const char *text)
{
    g_assert_true(g_file_set_contents(path, text, -1, NULL));
}

typedef struct {
    const char *before, *section, *key, *value, *remark, *after;
    guint line; /* of the key before; 0: it is not there */
} Case;

static const Case cases[] = {
    /* The key is there. */
    {"[lift]\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", NULL,
     "[lift]\ndrop_time = 0.3 s\n", 2},
    {"[lift]\n  drop_time=0.2 s\nlift_time = 0.1 s\n", "lift", "drop_time", "0.3 s", NULL,
     "[lift]\ndrop_time = 0.3 s\nlift_time = 0.1 s\n", 2},
    {"[lift]\n\tdrop_time\t= 0.2 s\n", "lift", "drop_time", "0.3 s", NULL,
     "[lift]\ndrop_time = 0.3 s\n", 2},
    {"# mine\n\n[ lift ]\n# slow\ndrop_time = 0.2 s\n\n\n[motion]\nspeed_x = 9 mm/s", "lift",
     "drop_time", "0.3 s", NULL,
     "# mine\n\n[ lift ]\n# slow\ndrop_time = 0.3 s\n\n\n[motion]\nspeed_x = 9 mm/s\n", 5},
    {"[motion]\nspeed_x = 9 mm/s\nspeed_y = 8 mm/s\n", "motion", "speed_y", "7 mm/s", NULL,
     "[motion]\nspeed_x = 9 mm/s\nspeed_y = 7 mm/s\n", 3},
    /* It is not: a comment, another section, a longer or a shorter name are not it. */
    {"[lift]\nlift_time = 0.1 s\n# drop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", NULL,
     "[lift]\nlift_time = 0.1 s\n# drop_time = 0.2 s\ndrop_time = 0.3 s\n", 0},
    {"[lift]\nlift_time = 0.1 s\n\n[motion]\nspeed_x = 9 mm/s\n", "lift", "drop_time", "0.3 s",
     NULL, "[lift]\nlift_time = 0.1 s\ndrop_time = 0.3 s\n\n[motion]\nspeed_x = 9 mm/s\n", 0},
    {"[motion]\nspeed_x = 9 mm/s\n\n[lift]\n", "lift", "drop_time", "0.3 s", NULL,
     "[motion]\nspeed_x = 9 mm/s\n\n[lift]\ndrop_time = 0.3 s\n", 0},
    {"[machine]\nname = a\n", "motion", "speed_x", "7 mm/s", NULL,
     "[machine]\nname = a\n\n[motion]\nspeed_x = 7 mm/s\n", 0},
    {"[machine]\nname = a\n\n", "motion", "speed_x", "7 mm/s", NULL,
     "[machine]\nname = a\n\n[motion]\nspeed_x = 7 mm/s\n", 0},
    {"[machine]\nname = a\n[motion]\n\n", "motion", "speed_x", "7 mm/s", NULL,
     "[machine]\nname = a\n[motion]\nspeed_x = 7 mm/s\n\n", 0},
    /* Remarks: one of the same kind is replaced, another one stays. */
    {"[lift]\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", "learnt today",
     "[lift]\n# learnt today\ndrop_time = 0.3 s\n", 2},
    {"[lift]\n# learnt yesterday\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s",
     "learnt today", "[lift]\n# learnt today\ndrop_time = 0.3 s\n", 3},
    {"[lift]\n# learnt\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", "learnt today",
     "[lift]\n# learnt today\ndrop_time = 0.3 s\n", 3},
    {"[lift]\n# learntly\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", "learnt today",
     "[lift]\n# learntly\n# learnt today\ndrop_time = 0.3 s\n", 3},
    {"[lift]\n# bought in May\ndrop_time = 0.2 s\n", "lift", "drop_time", "0.3 s", "learnt today",
     "[lift]\n# bought in May\n# learnt today\ndrop_time = 0.3 s\n", 3},
    {"[lift]\nlift_time = 0.1 s\n", "lift", "drop_time", "0.3 s", "learnt today",
     "[lift]\nlift_time = 0.1 s\n# learnt today\ndrop_time = 0.3 s\n", 0},
};

static void test_one_line_changes_and_no_other(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const Case *c = &cases[i];
        const DtProfileChange change = {c->section, c->key, c->value, c->remark};
        g_autoptr(GError) error = NULL;
        put(c->before);
        g_assert_cmpuint(dt_profile_line_of(path, c->section, c->key), ==, c->line);
        g_autofree char *text = dt_profile_changed_text(path, &change, 1, &error);
        g_assert_no_error(error);
        g_assert_cmpstr(text, ==, c->after);
        put(c->after); /* and again: all is as it is */
        g_autofree char *again = dt_profile_changed_text(path, &change, 1, &error);
        g_assert_cmpstr(again, ==, c->after);
    }
}

/* Lines that end in return and line feed stay so, but for the one that is written. */
static void test_other_line_ends_stay(void)
{
    const DtProfileChange change = {"lift", "drop_time", "0.3 s", NULL};
    g_autoptr(GError) error = NULL;
    put("[lift]\r\nlift_time = 0.1 s\r\n\r\n[motion]\r\nspeed_x = 9 mm/s\r\n");
    g_autofree char *text = dt_profile_changed_text(path, &change, 1, &error);
    g_assert_no_error(error);
    g_assert_cmpstr(text, ==,
                    "[lift]\r\nlift_time = 0.1 s\r\ndrop_time = 0.3 s\n\r\n[motion]\r\n"
                    "speed_x = 9 mm/s\r\n");
}

/* Neither a profile that is wrong nor one that would become so is written. */
static void test_no_wrong_profile_is_written(void)
{
    static const struct {
        const char *before, *value;
    } wrong[] = {{"[lift]\ndrop_time = 0.2 s\n", "soon"},
                 {"[lift]\ndrop_time = 0.2 s\nlift_time = soon\n", "0.3 s"}};
    for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
        const DtProfileChange change = {"lift", "drop_time", wrong[i].value, NULL};
        g_autoptr(GError) error = NULL;
        g_autofree char *still = NULL, *to = g_build_filename(folder, "to.ini", NULL);
        put(wrong[i].before);
        g_assert_false(dt_profile_update(path, NULL, &change, 1, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_false(dt_profile_update(path, to, &change, 1, NULL));
        g_assert_false(g_file_test(to, G_FILE_TEST_EXISTS));
        g_assert_true(g_file_get_contents(path, &still, NULL, NULL));
        g_assert_cmpstr(still, ==, wrong[i].before);
    }
    g_assert_cmpuint(dt_profile_line_of("/nowhere/at/all.ini", "lift", "drop_time"), ==, 0);
}

static void test_the_copy_is_written_and_the_profile_stays(void)
{
    static const char before[] = "[lift]\ndrop_time = 0.2 s\n";
    const DtProfileChange change = {"lift", "drop_time", "0.3 s", NULL};
    g_autofree char *to = g_build_filename(folder, "copy.ini", NULL), *at = NULL, *copy = NULL;
    put(before);
    g_assert_true(dt_profile_update(path, to, &change, 1, NULL));
    g_assert_true(g_file_get_contents(path, &at, NULL, NULL));
    g_assert_true(g_file_get_contents(to, &copy, NULL, NULL));
    g_assert_cmpstr(at, ==, before);
    g_assert_cmpstr(copy, ==, "[lift]\ndrop_time = 0.3 s\n");
}

/* Each byte but 0, alone, at either end and within: what is written is printable and begins and ends
 * with no blank, and is read as it was. */
static void test_any_bytes_are_written_and_read(void)
{
    static const char *const forms[] = {"%c", "%c.", ".%c", "a%cb", "%c%c"};
    for (int byte = 1; byte <= 255; byte++)
        for (gsize i = 0; i < G_N_ELEMENTS(forms); i++) {
            char text[8], *back = NULL, *why = NULL;
            g_snprintf(text, sizeof text, forms[i], byte, byte);
            g_autofree char *written = dt_profile_escape(text);
            for (const char *c = written; *c != '\0'; c++)
                g_assert_true(*c >= ' ' && *c <= '~');
            g_assert_true(written[0] != ' ' && written[strlen(written) - 1] != ' ');
            g_assert_true(dt_value_bytes(written, &back, &why));
            g_assert_cmpstr(back, ==, text);
            g_free(back);
        }
    g_autofree char *plain = dt_profile_escape("M3 S40 (down)"), *none = dt_profile_escape("");
    g_assert_cmpstr(plain, ==, "M3 S40 (down)"); /* as a person would write it */
    g_assert_cmpstr(none, ==, "");
}

/* The template: no comment is wider than a terminal, and what is said of a section or a key stands right
 * above it, with the range of what it takes. */
static void test_the_template_explains_itself(void)
{
    g_autofree char *text = dt_profile_template();
    g_assert_true(g_str_has_prefix(text, "# A machine's profile for drawtrue. Comments stand on "));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_autoptr(GString) said = g_string_new(NULL); /* by the comment above, in one line */
    for (char **l = lines; *l != NULL; l++) {
        if (g_str_has_prefix(*l, "# ")) {
            g_assert_cmpint(g_utf8_strlen(*l, -1), <=, 80);
            g_string_append(said, *l + 1);
            continue;
        }
        for (gsize i = 0; i < dt_n_key_sections; i++) {
            g_autofree char *section = g_strdup_printf("[%s]", dt_key_sections[i].name);
            if (g_str_equal(*l, section))
                g_assert_true(g_str_has_suffix(said->str, dt_key_sections[i].help));
        }
        for (gsize i = 0; i < dt_n_keys; i++) {
            const DtKey *k = &dt_keys[i];
            g_autofree char *set = g_strdup_printf("%s =", k->name);
            if (k->help == NULL || !g_str_has_prefix(*l + (**l == '#'), set) || said->len == 0)
                continue;
            g_autofree char *range = dt_key_range(k);
            g_autofree char *in_brackets = range ? g_strdup_printf("(%s)", range) : g_strdup("");
            if (strstr(said->str, k->help) != NULL) /* or a key of that name elsewhere */
                g_assert_true(g_str_has_suffix(said->str, in_brackets));
        }
        g_string_truncate(said, 0);
    }
    for (gsize i = 0; i < dt_n_keys; i++) {
        g_autofree char *set = g_strdup_printf("%s =", dt_keys[i].name);
        g_assert_nonnull(strstr(text, set));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-update-XXXXXX", NULL);
    path = g_build_filename(folder, "my.ini", NULL);
    g_test_add_func("/machine/update/one-line", test_one_line_changes_and_no_other);
    g_test_add_func("/machine/update/line-ends", test_other_line_ends_stay);
    g_test_add_func("/machine/update/wrong", test_no_wrong_profile_is_written);
    g_test_add_func("/machine/update/copy", test_the_copy_is_written_and_the_profile_stays);
    g_test_add_func("/machine/update/bytes", test_any_bytes_are_written_and_read);
    g_test_add_func("/machine/update/template", test_the_template_explains_itself);
    const int status = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(path);
    g_free(folder);
    return status;
}
