/* The desk's test sheets, from making one to the corrections and their undoing, without its server: a virtual
 * machine draws the sheet, somebody reads it, and what pages are told agrees with what truing finds. */
#include "sheet.h"
#include "support/font-leaks.h"

#include <math.h>
#include <string.h>

static const char worn[] =
    "[truth]\nscale_x = 1.008\nscale_y = 0.994\nsquare = 0.4\nbacklash_x = 0.30\n"
    "backlash_y = 0.45\nwave = 0\n[pen]\nmerge = 0.0005\n";
static const char repaired[] =
    "[truth]\nscale_x = 1.008\nscale_y = 0.994\nsquare = 0.4\nbacklash_x = 0.05\n"
    "backlash_y = 0.45\nwave = 0\n[pen]\nmerge = 0.0005\n";

static void read_all(Place *p, Sheet *s)
{
    for (size_t k = 0; k < s->readings->n; k++)
        for (size_t i = 0; i < s->readings->asks[k].times; i++) {
            g_autofree char *text = eye_reader_answer(&s->eye, &s->readings->asks[k]);
            give_answer(p, s, k, i, text);
        }
}

static void assert_number(JsonObject *o, const char *name, double wanted)
{
    const double is = number_of(o, name);
    if (!(fabs(is - wanted) <= 0.5001e-3) && !(isnan(is) && isnan(wanted)))
        g_error("%s is %g and not %g", name, is, wanted);
}

/* What is asked --------------------------------------------------------------------------------- */

static void check_asks(JsonObject *sheet, const DtEyeReadings *r)
{
    static const char *const kinds[] = {[DT_ASK_VERNIER] = "vernier",
                                        [DT_ASK_RULE] = "rule",
                                        [DT_ASK_EDGE] = "edge",
                                        [DT_ASK_LADDER] = "ladder",
                                        [DT_ASK_TONE] = "tone"};
    JsonArray *asks = json_object_get_array_member(sheet, "asks");
    g_assert_cmpuint(json_array_get_length(asks), ==, r->n);
    for (guint k = 0; k < r->n; k++) {
        const DtAsk *a = &r->asks[k];
        JsonObject *o = json_array_get_object_element(asks, k);
        JsonArray *answers = json_object_get_array_member(o, "answers");
        g_autofree char *question = dt_eye_question(a);
        g_assert_cmpstr(text_of(o, "name"), ==, a->name);
        g_assert_cmpstr(text_of(o, "kind"), ==, kinds[a->kind]);
        g_assert_cmpstr(text_of(o, "question"), ==, question);
        assert_number(o, "least", a->least);
        assert_number(o, "most", a->most);
        g_assert_cmpuint(json_array_get_length(answers), ==, a->times);
        for (guint i = 0; i < a->times; i++) {
            const char *text = r->answers[k].text[i];
            g_assert_cmpstr(json_array_get_string_element(answers, i), ==, text ? text : "");
        }
    }
}

static gboolean touches(DtBox view, const DtPoint *pts, size_t n)
{
    double x0 = pts[0].x, x1 = x0, y0 = pts[0].y, y1 = y0;
    for (size_t i = 1; i < n; i++) {
        x0 = fmin(x0, pts[i].x);
        x1 = fmax(x1, pts[i].x);
        y0 = fmin(y0, pts[i].y);
        y1 = fmax(y1, pts[i].y);
    }
    return x1 >= view.x0 && x0 <= view.x1 && y1 >= view.y0 && y0 <= view.y1;
}

/* Every line of the sheet that touches the view, whole, and no other. */
static void check_lines(JsonObject *pen, const DtTestSheet *s, uint16_t index, DtBox view)
{
    DtLines all = {0};
    guint at = 0;
    JsonArray *lines = json_object_get_array_member(pen, "lines");
    dt_sheet_lines(s, index, &all);
    for (size_t i = 0; i < all.n; i++) {
        const DtPoint *pts = dt_lines_at(&all, i);
        const size_t n = dt_lines_count(&all, i);
        if (!touches(view, pts, n))
            continue;
        g_assert_cmpuint(at, <, json_array_get_length(lines));
        JsonArray *line = json_array_get_array_element(lines, at++);
        g_assert_cmpuint(json_array_get_length(line), ==, 2 * n);
        for (guint k = 0; k < n; k++) {
            g_assert_cmpfloat(json_array_get_double_element(line, 2 * k), ==, pts[k].x);
            g_assert_cmpfloat(json_array_get_double_element(line, 2 * k + 1), ==, pts[k].y);
        }
    }
    g_assert_cmpuint(at, ==, json_array_get_length(lines));
    dt_lines_clear(&all);
}

static void check_choices(JsonObject *o, const DtTestSheet *s, const DtAsk *a)
{
    size_t n;
    g_autofree DtEyeChoice *c = dt_eye_choices(s, a, &n);
    JsonArray *choices = json_object_get_array_member(o, "choices");
    g_assert_cmpuint(json_array_get_length(choices), ==, n);
    for (guint i = 0; i < n; i++) {
        JsonObject *one = json_array_get_object_element(choices, i);
        JsonArray *line = json_object_get_array_member(one, "line");
        const double ends[] = {c[i].from.x, c[i].from.y, c[i].to.x, c[i].to.y};
        assert_number(one, "place", c[i].place);
        g_assert_cmpuint(json_array_get_length(line), ==, 4);
        for (guint k = 0; k < 4; k++)
            g_assert_cmpfloat_with_epsilon(json_array_get_double_element(line, k), ends[k], 1e-4);
    }
}

/* A question is shown with all that is drawn around it, on the paper. */
static void check_views(Place *p, const Sheet *s)
{
    g_autoptr(GError) error = NULL;
    const DtTestSheet *t = s->sheet;
    size_t n_lines = 0;
    for (size_t k = 0; k < s->readings->n; k++) {
        const DtAsk *a = &s->readings->asks[k];
        JsonObject *o = read_json(dt_desk_comb_json(p->d, a->name, &error));
        JsonArray *view = json_object_get_array_member(o, "view"),
                  *pens = json_object_get_array_member(o, "pens");
        const DtBox box = {fmax(a->view.x0, t->paper_at.x), fmax(a->view.y0, t->paper_at.y),
                           fmin(a->view.x1, t->paper_at.x + t->paper_w),
                           fmin(a->view.y1, t->paper_at.y + t->paper_h)};
        const double sides[] = {box.x0, box.y0, box.x1, box.y1};
        g_assert_cmpuint(json_array_get_length(view), ==, G_N_ELEMENTS(sides));
        for (guint i = 0; i < 4; i++)
            g_assert_cmpfloat_with_epsilon(json_array_get_double_element(view, i), sides[i], 1e-4);
        g_assert_cmpuint(json_array_get_length(pens), ==, p->d->profile->rack.n);
        for (guint i = 0; i < json_array_get_length(pens); i++) {
            JsonObject *pen = json_array_get_object_element(pens, i);
            check_lines(pen, t, (uint16_t)i, box);
            n_lines += json_array_get_length(json_object_get_array_member(pen, "lines"));
        }
        check_choices(o, t, a);
        json_object_unref(o);
    }
    g_assert_cmpuint(n_lines, >, s->readings->n);
    g_assert_null(dt_desk_comb_json(p->d, "no such", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "no such question"));
}

/* What follows ---------------------------------------------------------------------------------- */

static void check_what(JsonObject *o, const DtProfile *p, DtErrorKind kind, int axis, int pen)
{
    static const char *const axes[] = {"X", "Y"};
    g_assert_cmpstr(text_of(o, "title"), ==, dt_error_title(kind));
    g_assert_cmpstr(text_of(o, "word"), ==, dt_error_word(kind));
    g_assert_cmpstr(text_of(o, "axis"), ==, pen < 0 && axis >= 0 ? axes[axis] : NULL);
    g_assert_cmpstr(text_of(o, "pen"), ==, pen >= 0 ? p->rack.pens[pen].name : NULL);
}

/* "1.0080" and its 95 % interval, in the unit in which the kind is written. */
static void check_value(JsonObject *o, const char *name, DtErrorKind kind, double value, double sd)
{
    JsonObject *v = object_of(o, name);
    double factor;
    g_assert_cmpstr(text_of(v, "unit"), ==, dt_error_unit(kind, &factor));
    if (isnan(value)) {
        g_assert_null(text_of(v, "value"));
        return;
    }
    const double interval = 1.96 * sd * factor;
    g_assert_cmpfloat(fabs(g_ascii_strtod(text_of(v, "value"), NULL) - value * factor), <=,
                      fmax(interval / 10, 0.5e-3));
    if (interval > 0)
        g_assert_cmpfloat(fabs(g_ascii_strtod(text_of(v, "interval"), NULL) - interval), <=,
                          interval / 10);
    else
        g_assert_null(text_of(v, "interval"));
}

static void check_figures(JsonObject *result, const DtProfile *p, const DtFigures *f)
{
    JsonArray *figures = json_object_get_array_member(result, "figures");
    g_assert_cmpuint(json_array_get_length(figures), ==, f->n);
    for (guint i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        JsonObject *o = json_array_get_object_element(figures, i);
        check_what(o, p, g->kind, g->axis, g->pen);
        assert_number(o, "at_mm", g->at);
        check_value(o, "found", g->kind, g->known ? g->value : NAN, g->sd);
        assert_number(o, "gain_mm", g->known ? g->gain_mm : NAN);
        g_assert_cmpint(json_object_get_boolean_member(o, "proposed"), ==, g->known && g->proposed);
    }
    assert_number(result, "ink_before_mm", f->ink_before_mm);
    assert_number(result, "ink_after_mm", f->ink_after_mm);
}

/* The value that a change gives a key of the corrections. */
static double change_to(JsonObject *result, const char *key)
{
    JsonArray *changes = json_object_get_array_member(result, "changes");
    for (guint i = 0; i < json_array_get_length(changes); i++) {
        JsonObject *c = json_array_get_object_element(changes, i);
        if (strcmp(text_of(c, "section"), "corrections") == 0 &&
            strcmp(text_of(c, "key"), key) == 0)
            return g_ascii_strtod(text_of(c, "value"), NULL);
    }
    g_error("%s is not changed", key);
}

static guint n_changes(Place *p)
{
    JsonObject *all = measure(p);
    JsonObject *result = object_of(object_of(all, "sheet"), "result");
    const guint n = json_array_get_length(json_object_get_array_member(result, "changes"));
    json_object_unref(all);
    return n;
}

static char *profile_text(const Place *p)
{
    char *text = NULL;
    g_assert_true(g_file_get_contents(p->d->profile->path, &text, NULL, NULL));
    return text;
}

/* Each change is told with what the profile's file has now. */
static void check_changes(Place *p, JsonObject *result)
{
    g_autoptr(GKeyFile) keys = g_key_file_new();
    g_assert_true(g_key_file_load_from_file(keys, p->d->profile->path, G_KEY_FILE_NONE, NULL));
    JsonArray *changes = json_object_get_array_member(result, "changes");
    g_assert_cmpuint(json_array_get_length(changes), >=, 2);
    for (guint i = 0; i < json_array_get_length(changes); i++) {
        JsonObject *c = json_array_get_object_element(changes, i);
        g_autofree char *now =
            g_key_file_get_value(keys, text_of(c, "section"), text_of(c, "key"), NULL);
        g_assert_cmpstr(text_of(c, "now"), ==, now);
        g_assert_cmpstr(text_of(c, "value"), !=, now);
    }
}

/* What is told agrees with the solver, and two corrections with the truth. */
static void check_result(Place *p, const Sheet *s, const char *x, const char *y, double is_x,
                         double is_y)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) f = dt_eye_solve(p->d->profile, s->sheet, s->readings, &error);
    g_assert_no_error(error);
    JsonObject *all = measure(p), *sheet = object_of(all, "sheet"),
               *result = object_of(sheet, "result");
    g_assert_null(text_of(sheet, "unsolved"));
    g_assert_cmpint(json_object_get_int_member(sheet, "read"), ==,
                    dt_eye_readings_count(s->readings));
    check_asks(sheet, s->readings);
    check_figures(result, p->d->profile, f);
    check_changes(p, result);
    g_assert_cmpfloat_with_epsilon(change_to(result, x), is_x, 0.02);
    g_assert_cmpfloat_with_epsilon(change_to(result, y), is_y, 0.02);
    json_object_unref(all);
}

/* "sheet": N, and the digest of what the page has seen. */
static char *seen_json(Place *p, int sheet)
{
    JsonObject *all = measure(p);
    char *json = g_strdup_printf("{\"sheet\": %d, \"digest\": \"%s\"}", sheet,
                                 text_of(object_of(object_of(all, "sheet"), "result"), "digest"));
    json_object_unref(all);
    return json;
}

static void check_fresh(Place *p, const Sheet *s)
{
    JsonObject *all = measure(p), *sheet = object_of(all, "sheet");
    g_assert_cmpstr(text_of(all, "profile"), ==, "bench.ini");
    g_assert_cmpint(json_object_get_int_member(all, "undo"), ==, 0);
    g_assert_cmpint(json_object_get_int_member(sheet, "number"), ==, 1);
    g_assert_cmpstr(text_of(sheet, "date"), ==, s->sheet->date);
    g_assert_false(json_object_get_boolean_member(sheet, "drawn"));
    g_assert_false(json_object_get_boolean_member(sheet, "scan"));
    g_assert_null(text_of(sheet, "problem"));
    g_assert_cmpint(json_object_get_int_member(sheet, "read"), ==, 0);
    g_assert_cmpstr(text_of(sheet, "unsolved"), ==, "nothing has been read yet");
    g_assert_false(json_object_has_member(sheet, "result"));
    check_asks(sheet, s->readings);
    json_object_unref(all);
}

static void check_refused_answers(Place *p, const Sheet *s)
{
    g_autofree char *wrong = answer_json(s, 0, 0, "seven"), *again = answer_json(s, 0, 3, "6");
    refused(p, "keep-reading", wrong, DT_ERROR_INPUT, s->readings->asks[0].name);
    refused(p, "keep-reading", again, DT_ERROR_USAGE, "'i' must be a whole number");
    refused(p, "keep-reading", "{\"ask\": \"no\", \"text\": \"6\", \"sheet\": 1, \"i\": 0}",
            DT_ERROR_INPUT, "no such question");
    refused(p, "keep-reading", "{\"ask\": \"X1\", \"text\": \"6\", \"sheet\": 2, \"i\": 0}",
            DT_ERROR_INPUT, "there is a newer sheet now");
    refused(p, "write-corrections", "{\"digest\": \"\", \"sheet\": 1}", DT_ERROR_INPUT,
            "nothing has been read yet");
}

/* An answer that is taken back, or is blank, is none. */
static void check_taken_back(Place *p, Sheet *s)
{
    give_answer(p, s, 0, 0, "6");
    JsonObject *all = measure(p);
    g_assert_cmpint(json_object_get_int_member(object_of(all, "sheet"), "read"), ==, 1);
    json_object_unref(all);
    g_autofree char *blank = answer_json(s, 0, 0, "  ");
    done(p, "keep-reading", blank);
    all = measure(p);
    g_assert_cmpint(json_object_get_int_member(object_of(all, "sheet"), "read"), ==, 0);
    json_object_unref(all);
    g_assert_true(dt_eye_readings_set(s->readings, 0, 0, NULL, NULL));
}

static void check_written_and_undone(Place *p, Sheet *s)
{
    g_autofree char *before = profile_text(p), *old = seen_json(p, 1), *other = seen_json(p, 2);
    refused(p, "write-corrections", other, DT_ERROR_INPUT, "there is a newer sheet now");
    g_autofree char *text = g_strdup(s->readings->answers[0].text[0]);
    g_autofree char *more = g_strdup_printf("%g", g_ascii_strtod(text, NULL) + 2);
    give_answer(p, s, 0, 0, more);
    refused(p, "write-corrections", old, DT_ERROR_INPUT, "readings or profile have changed since");
    give_answer(p, s, 0, 0, text);
    g_autofree char *seen = seen_json(p, 1);
    g_assert_cmpstr(seen, ==, old); /* as it was read before */
    done(p, "write-corrections", seen);
    settle(p);
    g_assert_cmpfloat_with_epsilon(dt_table_at(&p->d->profile->backlash[1], 100), 0.45, 0.02);
    g_assert_cmpuint(n_changes(p), ==, 0);
    g_autofree char *none = seen_json(p, 1);
    refused(p, "write-corrections", none, DT_ERROR_INPUT, "already agrees with this sheet");
    JsonObject *all = measure(p);
    g_assert_cmpint(json_object_get_int_member(all, "undo"), ==, 1);
    json_object_unref(all);
    refused(p, "undo-corrections", "{\"sheet\": 2}", DT_ERROR_INPUT, "there are newer corrections");
    done(p, "undo-corrections", "{\"sheet\": 1}");
    settle(p);
    g_autofree char *undone = profile_text(p);
    g_assert_cmpstr(undone, ==, before);
    g_assert_cmpfloat(dt_table_at(&p->d->profile->backlash[1], 100), ==, 0);
    refused(p, "undo-corrections", "{\"sheet\": 1}", DT_ERROR_INPUT, "there are newer corrections");
}

/* Two sheets ------------------------------------------------------------------------------------ */

static void check_comparison(Place *p, const DtFigures *a, const DtFigures *b)
{
    static const char *const verdicts[] = {[DT_VERDICT_SAME] = "same",
                                           [DT_VERDICT_BETTER] = "better",
                                           [DT_VERDICT_WORSE] = "worse",
                                           [DT_VERDICT_UNKNOWN] = "unknown"};
    g_autoptr(GError) error = NULL;
    size_t n;
    g_autofree DtComparison *c = dt_truing_compare(a, b, &n);
    JsonObject *o = read_json(dt_desk_compare_json(p->d, 1, 2, &error));
    g_assert_no_error(error);
    for (int i = 1; i <= 2; i++) {
        JsonObject *side = object_of(o, i == 1 ? "first" : "second");
        g_assert_cmpint(json_object_get_int_member(side, "number"), ==, i);
        g_assert_nonnull(json_object_get_array_member(side, "causes"));
    }
    JsonArray *figures = json_object_get_array_member(o, "figures");
    g_assert_cmpuint(json_array_get_length(figures), ==, n);
    gboolean better = FALSE;
    for (guint i = 0; i < n; i++) {
        JsonObject *one = json_array_get_object_element(figures, i);
        check_what(one, p->d->profile, c[i].kind, c[i].axis, c[i].pen);
        check_value(one, "before", c[i].kind, c[i].a, c[i].a_sd);
        check_value(one, "after", c[i].kind, c[i].b, c[i].b_sd);
        g_assert_cmpstr(text_of(one, "verdict"), ==, verdicts[c[i].verdict]);
        better |= c[i].kind == DT_ERROR_OF_MEAN_REVERSAL && c[i].axis == 0 &&
                  c[i].verdict == DT_VERDICT_BETTER;
    }
    g_assert_true(better);
    json_object_unref(o);
}

/* A picture, 1600 pixels wide; nothing stays in the work folder. PNG: ISO/IEC 15948, 11.2.2. */
static void check_picture(Place *p)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) picture = dt_desk_compare_picture(p->d, 1, 2, &error);
    g_assert_no_error(error);
    gsize n;
    const guint8 *b = g_bytes_get_data(picture, &n);
    g_assert_cmpuint(n, >, 1000);
    g_assert_cmpmem(b, 8, "\x89PNG\r\n\x1a\n", 8);
    g_assert_cmpint(b[16] << 24 | b[17] << 16 | b[18] << 8 | b[19], ==, 1600);
    g_autofree char *left = g_build_filename(p->work, "compare.png", NULL);
    g_assert_false(g_file_test(left, G_FILE_TEST_EXISTS));
    g_assert_null(dt_desk_compare_picture(p->d, 1, 3, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_null(dt_desk_compare_json(p->d, 3, 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* Both sheets as read, and a third that was not. */
static void check_months(Place *p, const DtFigures *second)
{
    g_autoptr(GError) error = NULL;
    size_t n;
    g_autofree DtComparison *mean = dt_truing_compare(second, second, &n);
    JsonObject *o = read_json(dt_desk_sheets_json(p->d, &error));
    JsonArray *sheets = json_object_get_array_member(o, "sheets");
    g_assert_cmpstr(text_of(o, "machine"), ==, p->d->profile->name);
    g_assert_cmpuint(json_array_get_length(sheets), ==, 3);
    for (guint i = 0; i < 3; i++) {
        JsonObject *s = json_array_get_object_element(sheets, i);
        JsonArray *figures = json_object_get_array_member(s, "figures");
        g_assert_cmpint(json_object_get_int_member(s, "number"), ==, i + 1);
        g_assert_cmpint(json_object_get_boolean_member(s, "read"), ==, i < 2);
        g_assert_false(json_object_get_boolean_member(s, "drawn"));
        g_assert_cmpint(json_object_get_boolean_member(s, "scan"), ==, i == 2);
        g_assert_cmpfloat(number_of(s, "at"), >, 1.6e9); /* s since 1970 */
        if (i != 1)
            continue;
        assert_number(s, "ink_mm", second->ink_before_mm);
        assert_number(s, "corrected_mm", second->ink_after_mm);
        g_assert_cmpuint(json_array_get_length(figures), ==, n);
        for (guint k = 0; k < n; k++) {
            double factor;
            JsonObject *one = json_array_get_object_element(figures, k);
            dt_error_unit(mean[k].kind, &factor);
            check_what(one, p->d->profile, mean[k].kind, mean[k].axis, mean[k].pen);
            check_value(one, "text", mean[k].kind, mean[k].a, mean[k].a_sd);
            assert_number(one, "value", mean[k].a * factor);
            g_assert_cmpfloat_with_epsilon(number_of(one, "interval"), 1.96 * mean[k].a_sd * factor,
                                           0.001 * mean[k].a_sd * factor + 0.5001e-3);
        }
    }
    json_object_unref(o);
}

static DtFigures *kept_figures(Place *p, gint64 number)
{
    g_auto(DtSheetRecord) record = {0};
    g_assert_true(dt_sheet_log_read(p->d->journal, p->d->profile->name, number, &record, NULL));
    DtFigures *f = dt_figures_from_json(record.figures, NULL);
    g_assert_nonnull(f);
    return f;
}

static void test_from_a_sheet_to_the_corrections_and_back(void)
{
    Place p;
    Sheet s, again, third;
    init_own(&p);
    JsonObject *none = measure(&p);
    g_assert_false(json_object_has_member(none, "sheet"));
    json_object_unref(none);
    make_sheet(&p, "slack", worn, &s);
    check_fresh(&p, &s);
    check_views(&p, &s);
    check_refused_answers(&p, &s);
    check_taken_back(&p, &s);
    read_all(&p, &s);
    check_result(&p, &s, "backlash_x", "backlash_y", 0.30, 0.45);
    check_written_and_undone(&p, &s);
    make_sheet(&p, "slack", repaired, &again);
    g_assert_cmpint(again.sheet->number, ==, 2);
    read_all(&p, &again);
    make_sheet(&p, "scan", worn, &third);
    g_autoptr(DtFigures) first = kept_figures(&p, 1);
    g_autoptr(DtFigures) second = kept_figures(&p, 2);
    check_comparison(&p, first, second);
    check_picture(&p);
    check_months(&p, second);
    sheet_clear(&s);
    sheet_clear(&again);
    sheet_clear(&third);
    place_clear(&p);
}

/* What is written is the mean of two sheets that agree; what is kept of the second one is its own. */
static void test_figures_are_kept_as_the_sheet_shows_them(void)
{
    Place p;
    Sheet s[2];
    init_own(&p);
    for (int i = 0; i < 2; i++) {
        make_sheet(&p, "slack", worn, &s[i]);
        read_all(&p, &s[i]);
    }
    g_autoptr(DtFigures) before = kept_figures(&p, 2);
    g_autofree char *seen = seen_json(&p, 2);
    done(&p, "write-corrections", seen);
    settle(&p);
    g_autoptr(DtFigures) after = kept_figures(&p, 2);
    g_autofree char *own = dt_figures_to_json(before), *kept = dt_figures_to_json(after);
    g_assert_cmpstr(kept, ==, own);
    for (int i = 0; i < 2; i++)
        sheet_clear(&s[i]);
    place_clear(&p);
}

/* The built-in profile has no file to write to, and a sheet tells nothing of a machine that was changed since. */
static void test_where_nothing_can_be_written(void)
{
    Place p;
    Sheet s;
    place_init(&p);
    make_sheet(&p, "scale", worn, &s);
    read_all(&p, &s);
    g_autofree char *seen = seen_json(&p, 1);
    refused(&p, "write-corrections", seen, DT_ERROR_INPUT, "this is the built-in profile");
    JsonObject *all = measure(&p);
    g_assert_null(text_of(all, "profile"));
    g_assert_cmpint(json_object_get_int_member(all, "undo"), ==, 0);
    json_object_unref(all);
    g_autoptr(GBytes) bytes = g_bytes_new_static("picture", 7);
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_desk_take_scan(p.d, "a.png", 1, FALSE, bytes, &error));
    g_assert_nonnull(strstr(error->message, "this sheet is read by eye"));
    sheet_clear(&s);
    place_clear(&p);
}

static void test_a_machine_changed_since(void)
{
    Place p;
    Sheet s;
    init_own(&p);
    make_sheet(&p, "scale", worn, &s);
    done(
        &p, "set-keys",
        "{\"changes\": [{\"section\": \"motion\", \"key\": \"travel_x\", \"value\": \"333 mm\"}]}");
    settle(&p);
    JsonObject *all = measure(&p), *sheet = object_of(all, "sheet");
    g_assert_nonnull(strstr(text_of(sheet, "problem"), "were changed since sheet 1 was drawn"));
    g_assert_false(json_object_has_member(sheet, "result"));
    json_object_unref(all);
    g_autofree char *answer = answer_json(&s, 0, 0, "6");
    refused(&p, "keep-reading", answer, DT_ERROR_INPUT, "were changed since sheet 1 was drawn");
    sheet_clear(&s);
    place_clear(&p);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-measure/eye", test_from_a_sheet_to_the_corrections_and_back);
    g_test_add_func("/desk-measure/kept", test_figures_are_kept_as_the_sheet_shows_them);
    g_test_add_func("/desk-measure/nowhere", test_where_nothing_can_be_written);
    g_test_add_func("/desk-measure/changed", test_a_machine_changed_since);
    return g_test_run();
}
