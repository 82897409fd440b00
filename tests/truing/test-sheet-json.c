/* sheet-json: a sheet comes back from its record as it was; a record that is not sound is refused. */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

static DtTestSheet *random_sheet(guint32 seed)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GRand) r = g_rand_new_with_seed(seed);
    DtTestSheet *s = dt_sheet_new_blank(p, g_rand_int_range(r, 0, 128), "2026-03-14", seed + 1);
    for (int i = g_rand_int_range(r, 0, 60); i > 0; i--) {
        const DtMark m = {.kind = (DtMarkKind)g_rand_int_range(r, 0, DT_MARK_KINDS),
                          .part = (DtSheetKind)(1 << g_rand_int_range(r, 0, 7)),
                          .axis = g_rand_int_range(r, -1, 2),
                          .from = {g_rand_double_range(r, 0, 300), g_rand_double_range(r, 0, 200)},
                          .to = {g_rand_double_range(r, 0, 300), g_rand_double_range(r, 0, 200)},
                          .approach = {g_rand_int_range(r, -1, 2), g_rand_int_range(r, -1, 2)},
                          .row = g_rand_int_range(r, 0, 9),
                          .place = g_rand_int_range(r, -30, 30),
                          .pen = (uint16_t)g_rand_int_range(r, 0, 3),
                          .feed_mm_s = g_rand_double(r),
                          .lift_s = g_rand_double(r),
                          .drop_s = -1,
                          .needs_no_reversal = g_rand_boolean(r)};
        dt_sheet_add(s, &m);
    }
    return s;
}

static void test_comes_back(void)
{
    for (guint32 seed = 0; seed < 50; seed++) {
        g_autoptr(DtTestSheet) s = random_sheet(seed);
        g_autofree char *text = dt_sheet_to_json(s);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtTestSheet) t = dt_sheet_from_json(text, &error);
        g_assert_no_error(error);
        g_assert_cmpuint(t->kinds, ==, s->kinds);
        g_assert_cmpint(t->number, ==, s->number);
        g_assert_cmpstr(t->machine, ==, s->machine);
        g_assert_cmpstr(t->date, ==, s->date);
        g_assert_cmpfloat(t->paper_w, ==, s->paper_w);
        g_assert_cmpfloat(t->overrun, ==, s->overrun);
        g_assert_cmpuint(t->n, ==, s->n);
        for (size_t i = 0; i < s->n; i++) {
            const DtMark *a = &s->marks[i], *b = &t->marks[i];
            g_assert_true(a->kind == b->kind && a->part == b->part && a->axis == b->axis);
            g_assert_true(a->from.x == b->from.x && a->from.y == b->from.y);
            g_assert_true(a->to.x == b->to.x && a->to.y == b->to.y);
            g_assert_true(memcmp(a->approach, b->approach, sizeof a->approach) == 0);
            g_assert_true(a->row == b->row && a->place == b->place && a->pen == b->pen);
            g_assert_true(a->feed_mm_s == b->feed_mm_s && a->lift_s == b->lift_s &&
                          a->drop_s == b->drop_s && a->needs_no_reversal == b->needs_no_reversal);
        }
        g_autofree char *again = dt_sheet_to_json(t);
        g_assert_cmpstr(again, ==, text);
    }
}

static void assert_refused(const char *text)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_sheet_from_json(text, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void test_unsound_records(void)
{
    g_autoptr(DtTestSheet) s = random_sheet(3);
    g_autofree char *text = dt_sheet_to_json(s);
    assert_refused("");
    assert_refused("[]");
    assert_refused("{}");
    for (size_t cut = 1; cut < strlen(text); cut += 41) {
        g_autofree char *part = g_strndup(text, cut);
        assert_refused(part);
    }
    g_autoptr(GString) newer = g_string_new(text);
    g_string_replace(newer, "\"version\":1", "\"version\":2", 1);
    assert_refused(newer->str);
    g_autoptr(GString) wrong = g_string_new(text);
    g_string_replace(wrong, "\"paper_w\":", "\"paper_v\":", 1);
    assert_refused(wrong->str);
    g_autoptr(GString) mark = g_string_new(text);
    g_string_replace(mark, "\"marks\":[[", "\"marks\":[[99,", 1); /* a number too many */
    assert_refused(mark->str);
}

/* A record with one mark, of so many columns, whose column `at` holds `value`. */
static char *one_mark(int columns, int at, const char *value)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, 1, "2026-03-14", 1);
    g_autofree char *text = dt_sheet_to_json(s);
    g_autoptr(GString) mark = g_string_new("\"marks\":[[");
    for (int k = 0; k < columns; k++)
        g_string_append_printf(mark, "%s%s", k ? "," : "", k == at ? value : "0");
    g_string_append(mark, "]]");
    g_autoptr(GString) whole = g_string_new(text);
    g_assert_cmpuint(g_string_replace(whole, "\"marks\":[]", mark->str, 1), ==, 1);
    return g_string_free(g_steal_pointer(&whole), FALSE);
}

/* What each column of a mark may hold: its kind, part, axis, places, approaches, row and pen, and what came later. */
static void test_a_mark_is_of_what_there_is(void)
{
    g_autofree char *last_kind = g_strdup_printf("%d", DT_MARK_KINDS - 1);
    g_autofree char *no_kind = g_strdup_printf("%d", DT_MARK_KINDS);
    const struct {
        int column;
        const char *good[2], *bad[2];
    } cases[] = {{0, {"0", last_kind}, {"-1", no_kind}},
                 {1, {"0", "64"}, {"-1", "\"1\""}},
                 {2, {"-1", "1"}, {"-2", "2"}},
                 {3, {"-10000", "10000"}, {"-10000.5", "10000.5"}},
                 {6, {"-10000", "10000"}, {"-10000.5", "null"}},
                 {7, {"-1", "1"}, {"-2", "2"}},
                 {8, {"-1", "1"}, {"-2", "2"}},
                 {9, {"0", "9"}, {"-1", "10001"}},
                 {10, {"-30", "30"}, {"10001", "-10001"}},
                 {11, {"0", "2"}, {"-1", "[]"}},
                 {16, {"0", "1000000"}, {"1000000.5", "true"}},
                 {18, {"-1", "10001"}, {"-1000000.5", "{}"}}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        for (int k = 0; k < 2; k++) {
            g_autofree char *good = one_mark(19, cases[i].column, cases[i].good[k]);
            g_autofree char *bad = one_mark(19, cases[i].column, cases[i].bad[k]);
            g_autoptr(GError) error = NULL;
            g_autoptr(DtTestSheet) s = dt_sheet_from_json(good, &error);
            g_assert_no_error(error);
            g_assert_cmpuint(s->n, ==, 1);
            assert_refused(bad);
        }
    for (int columns = 15; columns <= 20; columns++) { /* sixteen in the first records */
        g_autofree char *text = one_mark(columns, 3, "7");
        g_autoptr(DtTestSheet) s = dt_sheet_from_json(text, NULL);
        g_assert_true((s != NULL) == (columns >= 16 && columns <= 19));
        if (s != NULL)
            g_assert_cmpfloat(s->marks[0].from.x, ==, 7);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/sheet-json/comes-back", test_comes_back);
    g_test_add_func("/sheet-json/unsound", test_unsound_records);
    g_test_add_func("/sheet-json/columns", test_a_mark_is_of_what_there_is);
    return g_test_run();
}
