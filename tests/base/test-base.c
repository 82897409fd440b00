/* base: files whole or not at all, and word distance. */
#include "drawtrue/base.h"
#include "drawtrue/json.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static void test_written_file_reads_back(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "job.nc", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_write_file(path, "G0 X1\n", 6, &error));
    g_assert_no_error(error);
    gsize len = 0;
    g_autofree char *text = dt_base_read_file(path, 100, &len, &error);
    g_assert_cmpmem(text, len, "G0 X1\n", 6);
    g_unlink(path);
    g_assert_cmpint(g_rmdir(folder), ==, 0); /* no temporary file is left */
}

/* Where the disk takes only a part, what was there is still there, and nothing beside it. The limit of a file's size
 * (POSIX.1-2017, setrlimit) stands for a full disk. */
static void test_a_write_that_fails_changes_nothing(void)
{
    enum { LIMIT = 1000, LEN = 5000 };
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *more = g_strnfill(LEN, 'x');
    struct rlimit limit;
    g_assert_true(dt_base_write_file(path, "old", 3, NULL));
    g_assert_cmpint(getrlimit(RLIMIT_FSIZE, &limit), ==, 0);
    void (*before)(int) = signal(SIGXFSZ, SIG_IGN);
    g_assert_cmpint(
        setrlimit(RLIMIT_FSIZE, &(struct rlimit){.rlim_cur = LIMIT, .rlim_max = limit.rlim_max}),
        ==, 0);
    g_autoptr(GError) error = NULL;
    const gboolean written = dt_base_write_file(path, more, LEN, &error);
    g_assert_cmpint(setrlimit(RLIMIT_FSIZE, &limit), ==, 0);
    signal(SIGXFSZ, before);
    g_assert_false(written);
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_nonnull(strstr(error->message, g_strerror(EFBIG)));
    g_autofree char *text = dt_base_read_file(path, LEN, NULL, NULL);
    g_assert_cmpstr(text, ==, "old");
    g_unlink(path);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

/* What the next call of each fails with; 0: it does not fail. */
static int fsync_fails, close_fails;

int __real_fsync(int fd);
int __real_close(int fd);
int __wrap_fsync(int fd);
int __wrap_close(int fd);

static int fail_once(int result, int *code)
{
    if (*code == 0)
        return result;
    errno = *code;
    *code = 0;
    return -1;
}

int __wrap_fsync(int fd)
{
    return fail_once(__real_fsync(fd), &fsync_fails);
}

int __wrap_close(int fd)
{
    return fail_once(__real_close(fd), &close_fails);
}

/* A disk may tell only in the end that it has not kept what it took (POSIX.1-2017, close and fsync: EIO). */
static void test_a_file_that_is_not_kept_is_an_error(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "job.nc", NULL);
    g_assert_true(dt_base_write_file(path, "old", 3, NULL));
    int *const fails[] = {&fsync_fails, &close_fails};
    for (size_t i = 0; i < G_N_ELEMENTS(fails); i++) {
        g_autoptr(GError) error = NULL;
        *fails[i] = EIO;
        g_assert_false(dt_base_write_file(path, "new", 3, &error));
        g_assert_cmpint(*fails[i], ==, 0);
        g_assert_error(error, DT_ERROR, DT_ERROR_IO);
        g_assert_nonnull(strstr(error->message, g_strerror(EIO)));
        g_autofree char *text = dt_base_read_file(path, 100, NULL, NULL);
        g_assert_cmpstr(text, ==, "old");
    }
    g_autoptr(GError) error = NULL;
    close_fails = EIO; /* of a device */
    g_assert_false(dt_base_write_file("/dev/null", "new", 3, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_unlink(path);
    g_assert_cmpint(g_rmdir(folder), ==, 0); /* nothing else is left there */
}

/* Through links, so that a fault here harms no device. */
static void test_what_is_no_plain_file_is_not_replaced(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *file = g_build_filename(folder, "my.ini", NULL);
    g_autofree char *link = g_build_filename(folder, "link.ini", NULL);
    g_autofree char *full = g_build_filename(folder, "full", NULL);
    g_autoptr(GError) error = NULL;
    GStatBuf st;
    g_assert_true(dt_base_write_file(file, "a", 1, NULL));
    g_assert_cmpint(g_chmod(file, 0640), ==, 0);
    g_assert_cmpint(symlink("my.ini", link), ==, 0);
    g_assert_true(dt_base_write_file(link, "bc", 2, &error));
    g_autofree char *text = dt_base_read_file(file, 10, NULL, NULL);
    g_assert_cmpstr(text, ==, "bc");
    g_assert_true(g_file_test(link, G_FILE_TEST_IS_SYMLINK));
    g_assert_cmpint(g_stat(file, &st), ==, 0);
    g_assert_cmpint(st.st_mode & 0777, ==, 0640);
    g_assert_cmpint(symlink("/dev/full", full), ==, 0);
    g_assert_false(dt_base_write_file(full, "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_nonnull(strstr(error->message, g_strerror(ENOSPC)));
    g_assert_true(g_file_test(full, G_FILE_TEST_IS_SYMLINK));
    g_clear_error(&error);
    g_unlink(full);
    g_assert_cmpint(symlink("/dev/null", full), ==, 0);
    g_assert_true(dt_base_write_file(full, "a", 1, &error));
    g_assert_no_error(error);
    g_assert_true(g_file_test(full, G_FILE_TEST_IS_SYMLINK));
    g_assert_false(dt_base_write_file(folder, "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_unlink(file);
    g_unlink(link);
    g_unlink(full);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

/* A link whose target is not there yet leads to it, as for every other program; one that leads nowhere fails. */
static void test_a_link_stays_where_its_target_is_missing(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *file = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *link = g_build_filename(folder, "now.nc", NULL);
    g_autofree char *loop = g_build_filename(folder, "loop.nc", NULL);
    g_autofree char *lost = g_build_filename(folder, "lost.nc", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_cmpint(symlink("job.nc", link), ==, 0);
    g_assert_cmpint(symlink("loop.nc", loop), ==, 0);
    g_assert_cmpint(symlink("no/job.nc", lost), ==, 0);
    g_assert_true(dt_base_write_file(link, "bc", 2, &error));
    g_assert_true(g_file_test(link, G_FILE_TEST_IS_SYMLINK));
    g_autofree char *text = dt_base_read_file(file, 10, NULL, NULL);
    g_assert_cmpstr(text, ==, "bc");
    const char *const bad[] = {loop, lost, ""};
    for (gsize i = 0; i < G_N_ELEMENTS(bad); i++) {
        g_assert_false(dt_base_write_file(bad[i], "a", 1, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_IO);
        g_assert_true(i == 2 || g_file_test(bad[i], G_FILE_TEST_IS_SYMLINK));
        g_clear_error(&error);
    }
    const char *const made[] = {file, link, loop, lost};
    for (gsize i = 0; i < G_N_ELEMENTS(made); i++)
        g_assert_cmpint(g_unlink(made[i]), ==, 0);
    g_assert_cmpint(g_rmdir(folder), ==, 0); /* nothing else is left there */
}

static guint open_files(void)
{
    guint n = 0;
    GDir *d = g_dir_open("/proc/self/fd", 0, NULL);
    while (g_dir_read_name(d) != NULL)
        n++;
    g_dir_close(d);
    return n;
}

/* Whether or not it succeeds, nothing leaves a file open. */
static void test_no_file_stays_open(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *file = g_build_filename(folder, "a.nc", NULL);
    const char *const paths[] = {file, folder, "/no/such/file", "/dev/null", "/dev/full"};
    g_assert_true(dt_base_write_file(file, "G0 X1\n", 6, NULL));
    const guint before = open_files();
    for (gsize i = 0; i < G_N_ELEMENTS(paths); i++) {
        g_free(dt_base_read_file(paths[i], 3, NULL, NULL)); /* more than the limit */
        g_free(dt_base_read_file(paths[i], 100, NULL, NULL));
        dt_base_check_output(paths[i], DT_FILE_PROGRAM, NULL, FALSE, NULL);
        g_assert_cmpuint(open_files(), ==, before);
    }
    dt_base_write_file(file, "G0 X2\n", 6, NULL);
    dt_base_write_file(folder, "G0 X2\n", 6, NULL);
    dt_base_write_file("/dev/null", "G0 X2\n", 6, NULL);
    dt_base_write_file("/no/such/folder/a", "G0 X2\n", 6, NULL);
    g_assert_cmpuint(open_files(), ==, before);
    g_unlink(file);
    g_rmdir(folder);
}

static void test_missing_folder_and_large_files_are_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_base_write_file("/no/such/folder/x", "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/no/such/file", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/proc/self/exe", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void test_edit_distance_of_the_textbook(void)
{
    /* Wagner and Fischer 1974; the customary examples. */
    g_assert_cmpuint(dt_base_edit_distance("kitten", "sitting"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("Saturday", "Sunday"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("", "abc"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("abc", "abc"), ==, 0);
}

static void test_json_is_valid_whatever_the_text(void)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "name", "caf\xe9 \"x\"");
    dt_json_text(b, "none", NULL);
    dt_json_count(b, "count", 3);
    dt_json_number(b, "mm", 0.5);
    dt_json_flag(b, "good", TRUE);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, FALSE);
    g_assert_cmpstr(text, ==,
                    "{\"name\":\"caf\xef\xbf\xbd \\\"x\\\"\",\"none\":null,\"count\":3,"
                    "\"mm\":0.5,\"good\":true}");
}

/* Two blanks for each level, whether of objects or arrays; what is empty takes no line. */
static void test_json_is_laid_out_by_its_levels(void)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_begin_array(b, "rows");
    for (int i = 0; i < 2; i++) {
        json_builder_begin_array(b);
        json_builder_add_int_value(b, i);
        json_builder_begin_object(b);
        dt_json_count(b, "k", 7);
        json_builder_end_object(b);
        json_builder_end_array(b);
    }
    json_builder_end_array(b);
    dt_json_begin_array(b, "none");
    json_builder_end_array(b);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    g_assert_cmpstr(
        text, ==,
        "{\n  \"rows\" : [\n    [\n      0,\n      {\n        \"k\" : 7\n      }\n    ],\n"
        "    [\n      1,\n      {\n        \"k\" : 7\n      }\n    ]\n  ],\n  \"none\" : []\n}");
}

/* Delete and the controls C1, which JSON allows (RFC 8259, section 7), are escaped; what lies beside them is not. */
static void test_json_has_no_control(void)
{
    static const struct {
        const char *text, *json;
    } cases[] = {{"~", "[\"~\"]"},
                 {"\x7f", "[\"\\u007f\"]"},
                 {"\xc2\x80", "[\"\\u0080\"]"},
                 {"\xc2\x9f", "[\"\\u009f\"]"},
                 {"\xc2\xa0", "[\"\xc2\xa0\"]"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(JsonBuilder) b = json_builder_new();
        json_builder_begin_array(b);
        json_builder_add_string_value(b, cases[i].text);
        json_builder_end_array(b);
        g_autofree char *text = dt_json_write(b, FALSE);
        g_assert_cmpstr(text, ==, cases[i].json);
    }
}

/* The ends of the ranges that a terminal obeys, and what is beside them. */
static void test_where_obeyed_characters_begin_and_end(void)
{
    static const gunichar obeyed[] = {0x1F,   0x7F,   0x80,   0x9F,   0x061C, 0x200B,  0x200F,
                                      0x2028, 0x202E, 0x2060, 0x206F, 0xFEFF, 0xE0001, 0xE007F};
    static const gunichar plain[] = {0x20,   0x7E,   0xA0,   0x061B, 0x061E,
                                     0x200A, 0x2010, 0x2027, 0x202F, 0x2070};
    for (gsize i = 0; i < G_N_ELEMENTS(obeyed) + G_N_ELEMENTS(plain); i++) {
        const gboolean is_plain = i >= G_N_ELEMENTS(obeyed);
        char text[8] = {0};
        g_unichar_to_utf8(is_plain ? plain[i - G_N_ELEMENTS(obeyed)] : obeyed[i], text);
        g_autofree char *shown = dt_base_show_text(text, -1);
        g_assert_true((strcmp(shown, text) == 0) == is_plain);
    }
}

/* Every byte alone, and every character of Unicode: what comes out is UTF-8 without controls, and what
 * needs none is as it was. */
static void test_no_control_is_shown_raw(void)
{
    for (unsigned b = 1; b < 256; b++) {
        const char byte[] = {(char)b, '\0'};
        g_autofree char *shown = dt_base_show_text(byte, -1);
        if (b >= 0x20 && b < 0x7F)
            g_assert_cmpstr(shown, ==, byte);
        else
            g_assert_cmpint(strspn(shown, "\\x0123456789abcdef"), ==, strlen(shown));
    }
    g_autofree char *nul = dt_base_show_text("a\0b", 3);
    g_assert_cmpstr(nul, ==, "a\\x00b");
    for (gunichar c = 0x80; c <= 0x10FFFF; c++) {
        if (c >= 0xD800 && c <= 0xDFFF)
            continue;
        char text[8] = {0};
        g_unichar_to_utf8(c, text);
        g_autofree char *shown = dt_base_show_text(text, -1);
        const GUnicodeType type = g_unichar_type(c);
        const gboolean plain = strcmp(shown, text) == 0;
        g_assert_true(g_utf8_validate(shown, -1, NULL));
        if (type == G_UNICODE_CONTROL || c == 0x202E || c == 0x2067 || c == 0x2028)
            g_assert_false(plain);
        else if (g_unichar_isalnum(c) || g_unichar_ispunct(c))
            g_assert_true(plain || type == G_UNICODE_FORMAT);
    }
    g_autofree char *cut = dt_base_show_text("\xe2\x82 \xc0\xaf \xed\xa0\x80", -1);
    g_assert_cmpstr(cut, ==, "\\xe2\\x82 \\xc0\\xaf \\xed\\xa0\\x80");
}

/* No word is broken, none is lost, and no line is wider than was asked for but for a single word. */
static void test_lines_fit_the_width(void)
{
    g_autoptr(GRand) dice = g_rand_new_with_seed(7);
    for (int round = 0; round < 2000; round++) {
        const unsigned width = (unsigned)g_rand_int_range(dice, 20, 100);
        g_autoptr(GString) text = g_string_new(round % 3 ? "" : "    ");
        for (int n = g_rand_int_range(dice, 1, 40); n > 0; n--) {
            for (int k = g_rand_int_range(dice, 1, 15); k > 0; k--)
                g_string_append(text, round % 2 ? "\xc3\xbc" : "w");
            g_string_append(text, n % 7 == 0 ? "   " : n % 11 == 0 ? "\n" : n > 1 ? " " : "\n");
        }
        g_autofree char *out = dt_base_lay_out(text->str, width);
        g_auto(GStrv) before = g_strsplit_set(text->str, " \n", -1);
        g_auto(GStrv) after = g_strsplit_set(out, " \n", -1);
        g_auto(GStrv) lines = g_strsplit(out, "\n", -1);
        char **a = after;
        for (char **b = before; *b; b++) {
            if (**b == '\0')
                continue;
            while (*a && **a == '\0')
                a++;
            g_assert_cmpstr(*a++, ==, *b);
        }
        for (char **line = lines; *line; line++) {
            g_assert_true(g_utf8_strlen(*line, -1) <= width ||
                          strchr(g_strchug(*line), ' ') == NULL);
        }
    }
    g_autofree char *row = dt_base_lay_out("paused     with the pen up; Enter goes on\n", 30);
    g_assert_cmpstr(row, ==, "paused     with the pen up;\n           Enter goes on\n");
    g_autofree char *whole = dt_base_lay_out("a  b\x1b\nc", 0);
    g_assert_cmpstr(whole, ==, "a  b\\x1b\nc");
}

/* A line goes on below its last column, or else two blanks deeper than it begins, never beyond half of the width. */
static void test_where_lines_go_on(void)
{
    static const struct {
        const char *text;
        unsigned width;
        const char *laid_out;
    } cases[] = {
        {"seeds of beans and of many peas\n", 20, "seeds of beans and\n  of many peas\n"},
        {"  seeds of beans and of many peas\n", 20, "  seeds of beans and\n    of many peas\n"},
        {"      seeds of beans and of peas\n", 22, "      seeds of beans\n        and of peas\n"},
        {"            seeds of beans\n", 20, "            seeds of\n          beans\n"},
        {"row  seeds of beans and peas\n", 20, "row  seeds of beans\n     and peas\n"},
        {" row  seeds of beans and peas\n", 20, " row  seeds of beans\n      and peas\n"},
        {"a  b  seeds of beans and peas\n", 20, "a  b  seeds of beans\n      and peas\n"},
        {"a long first word  of seeds\n", 20, "a long first word\n  of seeds\n"},
        {"long seed  of beans and peas\n", 20, "long seed  of beans\n          and peas\n"},
        {"a long one  of beans and peas\n", 20, "a long one  of beans\n  and peas\n"},
        {"seeds\n", 3, "seeds\n"}, /* no terminal is narrower than 20 */
        {"seeds of beans and peas\n", 3, "seeds of beans and\n  peas\n"},
        {"seeds of\n\n  beans\n", 30, "seeds of\n\n  beans\n"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *have = dt_base_lay_out(cases[i].text, cases[i].width);
        g_assert_cmpstr(have, ==, cases[i].laid_out);
    }
}

static void test_comment_text_is_ascii_and_tells_names_apart(void)
{
    static const struct {
        const char *name, *spelled;
    } cases[] = {{"workshop", "workshop"},
                 {"K\xc3\xbc"
                  "chentisch",
                  "Kuechentisch"},
                 {"\xe6\x97\xa5", "U+65E5"},
                 {"a(b);c", "a[b],c"},
                 {"what?", "what?"},
                 {"a\x1b"
                  "b\nc",
                  "a b c"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *spelled = dt_base_comment_text(cases[i].name);
        g_assert_cmpstr(spelled, ==, cases[i].spelled);
        g_autofree char *again = dt_base_comment_text(spelled);
        g_assert_cmpstr(again, ==, spelled);
    }
}

/* A signed picture is known again, whatever stands in it, and an unsigned one is not. */
static void test_signed_pictures_are_ours(void)
{
    static const guint8 png[] =
        "\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55rest";
    static const char svg[] = "<?xml version=\"1.0\"?>\n<svg>drawtrue</svg>\n";
    const struct {
        const void *bytes;
        guint n;
    } pictures[] = {{png, sizeof png - 1}, {svg, sizeof svg - 1}};
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "p", NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(pictures); i++) {
        g_autoptr(GByteArray) b = g_byte_array_new();
        g_autoptr(GError) error = NULL;
        g_byte_array_append(b, pictures[i].bytes, pictures[i].n);
        g_assert_true(dt_base_write_file(path, (const char *)b->data, b->len, NULL));
        g_assert_false(dt_base_check_output(path, DT_FILE_PICTURE, NULL, FALSE, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_true(dt_base_check_output(path, DT_FILE_PICTURE, NULL, TRUE, NULL));
        dt_base_sign_picture(b);
        g_assert_true(dt_base_write_file(path, (const char *)b->data, b->len, NULL));
        g_assert_true(dt_base_check_output(path, DT_FILE_PICTURE, NULL, FALSE, NULL));
        g_assert_false(dt_base_check_output(path, DT_FILE_PROGRAM, NULL, FALSE, NULL));
        g_assert_false(dt_base_check_output(path, DT_FILE_PROFILE, NULL, FALSE, NULL));
        const char *const inputs[] = {"/no/such", path, NULL};
        g_assert_false(dt_base_check_output(path, DT_FILE_PICTURE, inputs, TRUE, NULL));
    }
    g_unlink(path);
    g_rmdir(folder);
}

/* A PDF's information (ISO 32000-1, 14.3.3) may stand at its end, behind many pages. */
static void test_a_signature_at_the_end_counts(void)
{
    enum { LONG = 50000 };
    static const char *const ends[] = {"(drawtrue)\n%%EOF\n", "(another)\n%%EOF\n"};
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "p.pdf", NULL);
    for (int i = 0; i < 2; i++) {
        g_autoptr(GString) pdf = g_string_new("%PDF-1.5\n");
        while (pdf->len < LONG)
            g_string_append(pdf, "0 0 m 10 10 l S\n");
        g_string_append(pdf, ends[i]);
        g_assert_true(dt_base_write_file(path, pdf->str, pdf->len, NULL));
        g_assert_true(dt_base_check_output(path, DT_FILE_PICTURE, NULL, FALSE, NULL) == (i == 0));
    }
    g_unlink(path);
    g_rmdir(folder);
}

static void test_duration(void)
{
    static const struct {
        double seconds;
        const char *text;
    } cases[] = {{0, "0.0 s"},          {59.94, "59.9 s"},       {59.96, "1 min 00 s"},
                 {200.4, "3 min 20 s"}, {3599.4, "59 min 59 s"}, {3599.6, "1 h 00 min"},
                 {3725, "1 h 02 min"},  {360000, "100 h 00 min"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = dt_base_duration(cases[i].seconds);
        g_assert_cmpstr(text, ==, cases[i].text);
    }
}

static void test_columns_count_letters_and_not_bytes(void)
{
    const struct {
        const char *text;
        unsigned columns;
        const char *filled;
    } cases[] = {{"l\303\244uft", 7, "l\303\244uft  "},
                 {"", 2, "  "},
                 {"abc", 3, "abc"},
                 {"abcd", 3, "abcd"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *filled = dt_base_column(cases[i].text, cases[i].columns);
        g_assert_cmpstr(filled, ==, cases[i].filled);
    }
}

/* The C library has this catalogue's head under the empty text. */
static void test_without_a_catalogue_texts_are_as_they_are(void)
{
    g_assert_cmpstr(dt_messages_find(""), ==, "");
    g_assert_cmpstr(dt_messages_find("pen"), ==, "pen");
    g_autofree char *lines = dt_messages_find_lines("one\n\ntwo\n");
    g_assert_cmpstr(lines, ==, "one\n\ntwo\n");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/base/written-file-reads-back", test_written_file_reads_back);
    g_test_add_func("/base/failed-write", test_a_write_that_fails_changes_nothing);
    g_test_add_func("/base/not-kept", test_a_file_that_is_not_kept_is_an_error);
    g_test_add_func("/base/no-plain-file", test_what_is_no_plain_file_is_not_replaced);
    g_test_add_func("/base/links/missing-target", test_a_link_stays_where_its_target_is_missing);
    g_test_add_func("/base/files-stay-closed", test_no_file_stays_open);
    g_test_add_func("/base/signed-at-the-end", test_a_signature_at_the_end_counts);
    g_test_add_func("/base/refusals", test_missing_folder_and_large_files_are_refused);
    g_test_add_func("/base/edit-distance", test_edit_distance_of_the_textbook);
    g_test_add_func("/base/json", test_json_is_valid_whatever_the_text);
    g_test_add_func("/base/no-control-raw", test_no_control_is_shown_raw);
    g_test_add_func("/base/obeyed", test_where_obeyed_characters_begin_and_end);
    g_test_add_func("/base/lines-fit", test_lines_fit_the_width);
    g_test_add_func("/base/hanging-indent", test_where_lines_go_on);
    g_test_add_func("/base/comment-text", test_comment_text_is_ascii_and_tells_names_apart);
    g_test_add_func("/base/signed-pictures", test_signed_pictures_are_ours);
    g_test_add_func("/base/json-levels", test_json_is_laid_out_by_its_levels);
    g_test_add_func("/base/json-controls", test_json_has_no_control);
    g_test_add_func("/base/columns", test_columns_count_letters_and_not_bytes);
    g_test_add_func("/base/messages", test_without_a_catalogue_texts_are_as_they_are);
    g_test_add_func("/base/duration", test_duration);
    return g_test_run();
}
