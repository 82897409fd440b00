/* Scans at the desk, without its server: read and solved beside the page, told, refused, kept for the next start
 * and dropped. The sheet lies on the glass as the virtual machine has drawn it. */
#include "sheet.h"
#include "support/font-leaks.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static const char truth[] =
    "[truth]\nscale_x = 1.006\nscale_y = 0.997\nsquare = 0.2\nbacklash_x = 0.30\n"
    "backlash_y = 0.15\nwave = 0\n[pen]\nmerge = 0.0005\n";
/* The least paper that has room for the marks. */
static const char glass[] = "[scan]\nsheet_w = 110\nsheet_h = 110\nsheet_x = 5\nsheet_y = 5\n"
                            "border = 4\nuneven = 0\n";

static void init_scanned(Place *p, Sheet *s)
{
    init_own(p);
    done(p, "set-keys",
         "{\"changes\": [{\"section\": \"paper\", \"key\": \"size\", \"value\": \"110x110\"},"
         "{\"section\": \"paper\", \"key\": \"at\", \"value\": \"5, 5 mm\"},"
         "{\"section\": \"paper\", \"key\": \"margin\", \"value\": \"5 mm\"}]}");
    settle(p);
    make_sheet(p, "scan", truth, s);
}

/* What a scanner sees with these further keys of the glass, with the file's ending. */
static GBytes *scan_of(const Sheet *s, const char *more, const char *ending)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *name = g_strconcat("scan", ending, NULL),
                    *path = g_build_filename(folder, name, NULL),
                    *keys = g_strconcat(glass, more, NULL);
    char *bytes;
    gsize n;
    g_assert_true(dt_rig_set_scan(s->rig, keys, "scan", &error));
    g_assert_true(dt_rig_scan(s->rig, path, &error));
    g_assert_no_error(error);
    g_assert_true(g_file_get_contents(path, &bytes, &n, NULL));
    g_unlink(path);
    g_rmdir(folder);
    return g_bytes_new_take(bytes, n);
}

static void give_scan_of(Place *p, int sheet, const char *name, gboolean card, GBytes *bytes)
{
    g_autoptr(GError) error = NULL;
    const guint before = p->d->measure_number;
    g_assert_true(dt_desk_take_scan(p->d, name, sheet, card, bytes, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(p->d->measure_number, >, before);
}

static void give_scan(Place *p, const char *name, gboolean card, GBytes *bytes)
{
    give_scan_of(p, 1, name, card, bytes);
}

static void wait_until_read(Place *p)
{
    const guint before = p->d->measure_number;
    while (p->d->scanning != NULL)
        g_main_context_iteration(NULL, TRUE);
    g_assert_cmpuint(p->d->measure_number, >, before);
}

/* "name card turn", "-" for what is not read yet, of each scan told of. */
static char *scans_told(JsonObject *sheet)
{
    GString *out = g_string_new(NULL);
    JsonArray *scans = json_object_get_array_member(sheet, "scans");
    for (guint i = 0; i < json_array_get_length(scans); i++) {
        JsonObject *s = json_array_get_object_element(scans, i);
        g_assert_false(json_object_get_boolean_member(s, "photograph"));
        g_string_append_printf(out, "%s %s", text_of(s, "name"),
                               json_object_get_boolean_member(s, "card") ? "card " : "");
        if (json_object_get_boolean_member(s, "read"))
            g_string_append_printf(out, "%d;", (int)json_object_get_int_member(s, "turn"));
        else
            g_string_append(out, "-;");
    }
    return g_string_free(out, FALSE);
}

/* What is told of the sheet: its scans, what is wrong with one (NULL: nothing), whether they are being read, and
 * why there is no result (NULL: there is one). Pieces of texts. */
static void check_told(Place *p, const char *scans, const char *problem, gboolean busy,
                       const char *unsolved)
{
    JsonObject *all = measure(p), *sheet = object_of(all, "sheet");
    g_autofree char *told = scans_told(sheet);
    g_assert_true(json_object_get_boolean_member(sheet, "scan"));
    if (strcmp(told, scans) != 0)
        g_error("%s and not %s: %s", told, scans, text_of(sheet, "scan_problem"));
    if (problem != NULL)
        g_assert_nonnull(strstr(text_of(sheet, "scan_problem"), problem));
    else
        g_assert_null(text_of(sheet, "scan_problem"));
    g_assert_cmpint(json_object_get_boolean_member(sheet, "scanning"), ==, busy);
    g_assert_cmpstr(text_of(sheet, "unsolved"), ==, unsolved);
    g_assert_cmpint(json_object_has_member(sheet, "result"), ==, unsolved == NULL);
    json_object_unref(all);
}

/* The value told for a figure of an axis; NAN where it is unknown. */
static double found(Place *p, const char *word, const char *axis)
{
    JsonObject *all = measure(p);
    JsonObject *result = object_of(object_of(all, "sheet"), "result");
    JsonArray *figures = json_object_get_array_member(result, "figures");
    double value = NAN;
    for (guint i = 0; i < json_array_get_length(figures); i++) {
        JsonObject *f = json_array_get_object_element(figures, i);
        const char *text = text_of(object_of(f, "found"), "value");
        if (strcmp(text_of(f, "word"), word) == 0 && g_strcmp0(text_of(f, "axis"), axis) == 0 &&
            text != NULL)
            value = g_ascii_strtod(text, NULL);
    }
    json_object_unref(all);
    return value;
}

/* Files of scans in the work folder. */
static int scans_kept(const Place *p)
{
    int n = 0;
    g_autoptr(GDir) dir = g_dir_open(p->work, 0, NULL);
    for (const char *name; (name = g_dir_read_name(dir)) != NULL;)
        n += g_str_has_prefix(name, "scan-");
    return n;
}

static const char not_yet[] = "no scan of it has been read yet",
                  reading[] = "the scans are being read";

/* The slack is seen in one scan; lengths need a rule, read on the page. */
static void test_a_scan_and_a_rule_show_the_machine(void)
{
    Place p;
    Sheet s;
    init_scanned(&p, &s);
    check_told(&p, "", NULL, FALSE, not_yet);
    for (size_t k = 0; k < s.readings->n; k++) {
        g_autofree char *text = eye_reader_answer(&s.eye, &s.readings->asks[k]);
        give_answer(&p, &s, k, 0, text);
    }
    g_autoptr(GBytes) one = scan_of(&s, "dpi = 150\nnoise = 1\n", ".png");
    give_scan(&p, "../my/First.PNG", FALSE, one);
    check_told(&p, "First.PNG -;", NULL, TRUE, reading);
    wait_until_read(&p);
    check_told(&p, "First.PNG 0;", NULL, FALSE, NULL);
    g_assert_cmpfloat_with_epsilon(found(&p, "mean-reversal", "X"), 0.30, 0.03);
    g_assert_cmpfloat_with_epsilon(found(&p, "mean-reversal", "Y"), 0.15, 0.03);
    g_autoptr(GBytes) other = scan_of(&s, "dpi = 150\nnoise = 1\nturn = 1\n", ".jpg");
    give_scan(&p, "second.jpg", FALSE, other);
    wait_until_read(&p);
    JsonObject *all = measure(&p);
    g_autofree char *both = scans_told(object_of(all, "sheet"));
    g_assert_true(g_str_has_prefix(both, "First.PNG 0;second.jpg "));
    g_assert_false(g_str_has_suffix(both, " 0;"));
    json_object_unref(all);
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_desk_take_scan(p.d, "third.png", 1, FALSE, one, &error));
    g_assert_nonnull(strstr(error->message, "two scans are all that can be used"));
    g_assert_cmpfloat_with_epsilon(found(&p, "scale", "X"), 1.006, 0.001);
    g_assert_cmpfloat_with_epsilon(found(&p, "scale", "Y"), 0.997, 0.001);
    g_assert_cmpint(scans_kept(&p), ==, 2);
    done(&p, "forget-scans", "{\"sheet\": 1}");
    check_told(&p, "", NULL, FALSE, not_yet);
    g_assert_cmpint(scans_kept(&p), ==, 0);
    sheet_clear(&s);
    place_clear(&p);
}

/* The same picture as in a mirror: of a square sheet only the finders tell. */
static GBytes *mirrored(const Place *p, GBytes *bytes)
{
    g_autofree char *path = g_build_filename(p->folder, "mirrored.png", NULL);
    gsize n;
    const void *data = g_bytes_get_data(bytes, &n);
    g_assert_true(g_file_set_contents(path, data, (gssize)n, NULL));
    cairo_surface_t *from = cairo_image_surface_create_from_png(path);
    const int w = cairo_image_surface_get_width(from), h = cairo_image_surface_get_height(from);
    cairo_surface_t *to = cairo_image_surface_create(CAIRO_FORMAT_RGB24, w, h);
    cairo_t *cr = cairo_create(to);
    cairo_translate(cr, w, 0);
    cairo_scale(cr, -1, 1);
    cairo_set_source_surface(cr, from, 0, 0);
    cairo_paint(cr);
    cairo_destroy(cr);
    g_assert_cmpint(cairo_surface_write_to_png(to, path), ==, CAIRO_STATUS_SUCCESS);
    cairo_surface_destroy(from);
    cairo_surface_destroy(to);
    char *flipped;
    g_assert_true(g_file_get_contents(path, &flipped, &n, NULL));
    return g_bytes_new_take(flipped, n);
}

/* A picture of something else, or of another sheet, is dropped, by the name that its giver knows, and what there
 * was stays. */
static void test_a_picture_of_something_else_is_dropped(void)
{
    Place p;
    Sheet s;
    init_scanned(&p, &s);
    g_autoptr(GBytes) none = scan_of(&s, "dpi = 100\nsheet_x = 200\n", ".png"),
                      no_picture = g_bytes_new_static("seeds", 5);
    give_scan(&p, "beans.png", FALSE, none);
    wait_until_read(&p);
    check_told(&p, "", "beans.png", FALSE, not_yet);
    JsonObject *all = measure(&p);
    g_assert_null(strstr(text_of(object_of(all, "sheet"), "scan_problem"), p.work));
    json_object_unref(all);
    give_scan(&p, "peas.jpg", FALSE, no_picture);
    check_told(&p, "peas.jpg -;", NULL, TRUE, reading);
    wait_until_read(&p);
    check_told(&p, "", "peas.jpg", FALSE, not_yet);
    g_assert_cmpint(scans_kept(&p), ==, 0);
    g_autoptr(GBytes) good = scan_of(&s, "dpi = 150\nnoise = 1\n", ".png");
    give_scan(&p, "good.png", FALSE, good);
    wait_until_read(&p);
    check_told(&p, "good.png 0;", NULL, FALSE, NULL);
    g_autoptr(GBytes) flipped = mirrored(&p, good);
    give_scan(&p, "flipped.png", FALSE, flipped);
    wait_until_read(&p);
    check_told(&p, "good.png 0;", "flipped.png: it shows the sheet mirrored", FALSE, NULL);
    g_assert_cmpint(scans_kept(&p), ==, 1);
    Sheet next;
    make_sheet(&p, "scan", truth, &next);
    give_scan_of(&p, 2, "old.png", FALSE, good);
    wait_until_read(&p);
    check_told(&p, "", "old.png: it shows sheet 1 where sheet 2 was expected", FALSE, not_yet);
    sheet_clear(&next);
    sheet_clear(&s);
    place_clear(&p);
}

/* A card beside the sheet is looked for where its giver says that there is one; a desk that is started again finds
 * scans and card by their files, and forgets them while it reads them. */
static void test_a_card_and_another_start(void)
{
    Place p;
    Sheet s;
    init_scanned(&p, &s);
    g_autoptr(GBytes) bare = scan_of(&s, "dpi = 150\nnoise = 1\n", ".png");
    g_autoptr(GBytes) card = scan_of(
        &s, "dpi = 150\nnoise = 1\nborder = 60\ncard = 0.4\ncard_x = 60\ncard_y = 29\n", ".png");
    give_scan(&p, "bare.png", TRUE, bare);
    wait_until_read(&p);
    check_told(&p, "", "bare.png", FALSE, not_yet);
    give_scan(&p, "card.png", TRUE, card);
    wait_until_read(&p);
    check_told(&p, "card.png card 0;", NULL, FALSE, NULL);
    g_assert_cmpfloat_with_epsilon(found(&p, "scale", "X"), 1.006, 0.002);
    dt_desk_free(p.d);
    g_autoptr(GError) error = NULL;
    g_autofree char *own = g_build_filename(p.folder, "bench.ini", NULL);
    const DtDeskOptions o = {
        .journal = p.journal, .folder = p.folder, .work = p.work, .machine = own};
    p.d = dt_desk_new(&o, &error);
    g_assert_no_error(error);
    check_told(&p, "scan 1 card -;", NULL, FALSE, NULL);
    give_answer(&p, &s, 0, 0, "?"); /* reads them again */
    check_told(&p, "scan 1 card -;", NULL, TRUE, reading);
    done(&p, "forget-scans", "{\"sheet\": 1}");
    while (g_main_context_iteration(NULL, FALSE)) /* what was read comes too late */
        ;
    check_told(&p, "", NULL, FALSE, not_yet);
    g_assert_cmpint(scans_kept(&p), ==, 0);
    sheet_clear(&s);
    place_clear(&p);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-scans/rule", test_a_scan_and_a_rule_show_the_machine);
    g_test_add_func("/desk-scans/other", test_a_picture_of_something_else_is_dropped);
    g_test_add_func("/desk-scans/card", test_a_card_and_another_start);
    return g_test_run();
}
