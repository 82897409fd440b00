/* The desk's files: what is handed to it, what it keeps in its work folder and for how long, and what it cannot do yet. */
#include "place.h"

#include "drawtrue/json.h"

#include <glib/gstdio.h>
#include <sqlite3.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <utime.h>

static gboolean take(Place *p, const char *name, const char *text, GError **error)
{
    g_autoptr(GBytes) bytes = g_bytes_new(text, strlen(text));
    return dt_desk_take_upload(p->d, name, bytes, error);
}

/* By its own name and nowhere but in the work folder, for nobody else to read. */
static void test_what_is_dropped_is_kept_privately(void)
{
    static const struct {
        const char *name, *kept;
    } cases[] = {{"label.svg", "label.svg"},
                 {"../../etc/a b.SVG", "a b.SVG"},
                 {"K\303\274chenkr\344uter.svg", "K\303\274chenkr\357\277\275uter.svg"}};
    Place p;
    g_autoptr(GError) error = NULL;
    place_init(&p);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_assert_true(take(&p, cases[i].name, drawing, &error));
        g_assert_no_error(error);
        settle(&p);
        g_assert_cmpstr(p.d->drawing.name, ==, cases[i].kept);
        g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_READY);
        g_autofree char *folder = g_path_get_dirname(p.d->drawing.source);
        g_assert_cmpstr(folder, ==, p.d->work);
        struct stat st;
        g_assert_cmpint(stat(p.d->drawing.source, &st), ==, 0);
        g_assert_cmpint(st.st_mode & 0777, ==, 0600);
        g_assert_cmpint(st.st_size, ==, strlen(drawing));
        g_assert_cmpint(stat(p.d->work, &st), ==, 0);
        g_assert_cmpint(st.st_mode & 0777, ==, 0700);
    }
    g_autofree char *longest = g_strnfill(200, 'a'), *named = g_strconcat(longest, ".svg", NULL);
    g_assert_true(take(&p, named, drawing, &error));
    settle(&p);
    g_assert_cmpuint(strlen(p.d->drawing.name), ==, 120);
    static const char *const none[][2] = {{"a.svg", ""}, {"a.docx", "1"}, {"svg", "1"}, {"", "1"}};
    for (gsize i = 0; i < G_N_ELEMENTS(none); i++) {
        g_assert_false(take(&p, none[i][0], none[i][1], &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_clear_error(&error);
    }
    place_clear(&p);
}

/* Programs are named after the drawing, so that the log can be read; the folder is made again where somebody has
 * deleted it. */
static void test_programs_are_named_after_the_drawing(void)
{
    static const struct {
        const char *name, *stem;
    } cases[] = {{"Beet 4 (S\303\274d).svg", "Beet-4--S--d-"},
                 {".svg.svg", "drawing"},
                 {"abcdefghijklmnopqrstuvwxyz-0123456789_ABCDEFG.x.svg",
                  "abcdefghijklmnopqrstuvwxyz-0123456789_AB"}};
    Place p;
    g_autoptr(GError) error = NULL;
    place_init(&p);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_assert_true(take(&p, cases[i].name, drawing, &error));
        settle(&p);
        g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_READY);
        g_autofree char *base = g_path_get_basename(p.d->drawing.program);
        g_autofree char *pattern =
            g_strdup_printf("^\\Q%s\\E-\\d{8}-\\d{6}-\\d+\\.nc$", cases[i].stem);
        if (!g_regex_match_simple(pattern, base, 0, 0))
            g_error("'%s' is not of '%s'", base, pattern);
    }
    place_clear(&p);
}

typedef struct {
    const char *name;
    int days;
    gboolean stays;
} Kept;

static void make_old(const Place *p, const Kept *k)
{
    g_autofree char *path = g_build_filename(p->work, k->name, NULL);
    g_assert_true(g_file_set_contents(path, "seeds", -1, NULL));
    const time_t then = time(NULL) - k->days * 24 * 3600;
    g_assert_cmpint(utime(path, &(struct utimbuf){then, then}), ==, 0);
}

static void log_run(const Place *p, const char *program, const char *status)
{
    sqlite3 *db;
    g_autofree char *path = g_build_filename(p->work, program, NULL);
    g_assert_cmpint(sqlite3_open(p->journal, &db), ==, SQLITE_OK);
    char *sql = sqlite3_mprintf(
        "INSERT INTO runs (started, machine, profile, program, sha256, port, status, strokes, "
        "estimate_s, told_s, total_ink_mm) VALUES (1, 'm', '', %Q, 'x', 'p', %Q, 9, 1, 1, 1)",
        path, status);
    g_assert_cmpint(sqlite3_exec(db, sql, NULL, NULL, NULL), ==, SQLITE_OK);
    sqlite3_free(sql);
    sqlite3_close(db);
}

/* After 30 days what the desk made itself goes, but for programs of which the log may still resume a run. */
static void test_what_is_old_goes_and_what_is_needed_stays(void)
{
    static const Kept files[] = {
        {"art-1.svg", 40, FALSE}, {"art-2.svg", 20, TRUE},   {"scan-1.png", 40, FALSE},
        {"scan-2.png", 20, TRUE}, {"old.nc", 40, FALSE},     {"new.nc", 20, TRUE},
        {"stopped.nc", 40, TRUE}, {"running.nc", 40, TRUE},  {"done.nc", 40, FALSE},
        {"notes.txt", 40, TRUE},  {"my-art-3.svg", 40, TRUE}};
    Place p;
    place_init(&p);
    done(&p, "new-tip", "{\"pen\": \"black\"}"); /* makes the journal */
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++)
        make_old(&p, &files[i]);
    log_run(&p, "stopped.nc", "stopped");
    log_run(&p, "running.nc", "running");
    log_run(&p, "done.nc", "done");
    g_autofree char *folder = g_build_filename(p.work, "art-folder", NULL);
    g_assert_cmpint(g_mkdir(folder, 0700), ==, 0);
    g_assert_cmpint(utime(folder, &(struct utimbuf){1, 1}), ==, 0);
    dt_desk_tidy_work(p.d);
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autofree char *path = g_build_filename(p.work, files[i].name, NULL);
        if (g_file_test(path, G_FILE_TEST_EXISTS) != files[i].stays)
            g_test_fail_printf("%s, %d days old", files[i].name, files[i].days);
    }
    g_assert_true(g_file_test(folder, G_FILE_TEST_IS_DIR));
    place_clear(&p);
}

/* A desk that has nowhere to stand says where it looked. */
static void test_a_desk_needs_its_folders(void)
{
    Place p;
    g_autoptr(GError) error = NULL;
    place_init(&p);
    g_autofree char *none = g_build_filename(p.folder, "none", NULL),
                    *in_file = g_build_filename(p.folder, "label.svg", "work", NULL),
                    *wrong = g_build_filename(p.folder, "wrong.ini", NULL);
    DtDeskOptions o = {.journal = p.journal, .folder = none, .work = p.work};
    g_assert_null(dt_desk_new(&o, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, none));
    g_clear_error(&error);
    o = (DtDeskOptions){.journal = p.journal, .folder = p.folder, .work = in_file};
    g_assert_null(dt_desk_new(&o, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_true(g_str_has_prefix(error->message, in_file));
    g_clear_error(&error);
    write_file(&p, "wrong.ini", "[controller]\nhome = G38\n");
    o = (DtDeskOptions){.journal = p.journal, .folder = p.folder, .work = p.work, .machine = wrong};
    g_assert_null(dt_desk_new(&o, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "home = G38 contradicts the words"));
    place_clear(&p);
}

/* Whose folder is the root of all files, as whose is any other. */
static void test_a_desk_of_all_files(void)
{
    Place p;
    g_autoptr(GError) error = NULL;
    place_init(&p);
    const DtDeskOptions o = {.journal = p.journal, .folder = "/", .work = p.work};
    DtDesk *own = p.d;
    p.d = dt_desk_new(&o, &error);
    g_assert_no_error(error);
    g_autofree char *json = g_strdup_printf("{\"path\": \"%s/label.svg\"}", p.folder + 1);
    done(&p, "open", json);
    settle(&p);
    g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_READY);
    dt_desk_free(own);
    place_clear(&p);
}

/* A profile that contradicts itself is not taken, and the page is told why. */
static void test_a_profile_that_contradicts_itself_is_not_taken(void)
{
    Place p;
    place_init(&p);
    write_file(&p, "wrong.ini", "[machine]\nname = wrong\n[controller]\nhome = G38\n");
    g_autofree char *json = g_strdup_printf("{\"path\": \"%s/wrong.ini\"}", p.folder);
    done(&p, "choose-profile", json);
    settle(&p);
    g_assert_null(p.d->profile->path);
    JsonObject *run = told(&p, DT_PART_RUN, "run");
    JsonArray *happened = json_object_get_array_member(run, "happened");
    g_assert_cmpuint(json_array_get_length(happened), ==, 1);
    g_assert_nonnull(strstr(text_of(json_array_get_object_element(happened, 0), "text"),
                            "home = G38 contradicts the words"));
    json_object_unref(run);
    place_clear(&p);
}

static void test_what_comes_too_early_is_said(void)
{
    Place p;
    place_init(&p);
    refused(&p, "mend", "{}", DT_ERROR_INPUT, "there is no program to fix");
    done(&p, "open", "{\"path\": \"label.svg\"}");
    settle(&p);
    refused(&p, "mend", "{}", DT_ERROR_INPUT, "there is no program to fix");
    DtSnapshot s;
    dt_session_snapshot(p.d->session, &s);
    g_autofree char *start =
                        g_strdup_printf("{\"serial\": %u, \"revision\": %u, \"despite\": true}",
                                        s.serial, p.d->drawing.revision),
                    *learn = g_strdup_printf("{\"serial\": %u, \"may_move\": false}", s.serial);
    refused(&p, "start", start, DT_ERROR_INPUT, "nothing is ready to be drawn");
    refused(&p, "learn", learn, DT_ERROR_INPUT,
            "what is learnt goes into a profile of your own; make one first");
    place_clear(&p);
}

/* "NAME " for each scan of a sheet, as pages are told. */
static char *scans_of(Place *p, gint64 sheet)
{
    JsonBuilder *b = dt_json_begin();
    dt_desk_add_scans(b, p->d, sheet);
    JsonObject *o = read_json(dt_json_end(b));
    JsonArray *scans = json_object_get_array_member(o, "scans");
    GString *names = g_string_new(NULL);
    for (guint i = 0; i < json_array_get_length(scans); i++)
        g_string_append_printf(names, "%s ",
                               text_of(json_array_get_object_element(scans, i), "name"));
    json_object_unref(o);
    return g_string_free(names, FALSE);
}

static gboolean keep_scan(Place *p, gint64 sheet, const char *name, GError **error)
{
    const DtTestSheet s = {.number = sheet};
    g_autoptr(GBytes) bytes = g_bytes_new_static("not read yet", 12);
    return dt_desk_keep_scan(p->d, &s, name, FALSE, bytes, error);
}

/* Under their own names, of which the first 80 letters are shown; two of a sheet, until they are dropped. */
static void test_scans_are_kept_by_sheet(void)
{
    Place p;
    g_autoptr(GError) error = NULL;
    place_init(&p);
    g_autofree char *forty = g_strnfill(40, 'n'),
                    *long_name = g_strconcat("\303\251", forty, forty, ".png", NULL),
                    *shown = g_strdup_printf("\303\251%.39s%s ", forty, forty);
    g_assert_true(keep_scan(&p, 7, "a.png", &error));
    g_autofree char *one = scans_of(&p, 7);
    g_assert_cmpstr(one, ==, "a.png ");
    dt_desk_drop_scans(p.d, 7);
    g_assert_true(keep_scan(&p, 7, long_name, &error));
    g_autofree char *by_long_name = scans_of(&p, 7);
    g_assert_cmpstr(by_long_name, ==, shown);
    g_assert_true(keep_scan(&p, 7, "b.jpg", &error));
    g_assert_false(keep_scan(&p, 7, "c.png", &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "two scans are all that can be used"));
    g_clear_error(&error);
    g_assert_false(keep_scan(&p, 8, "c.txt", &error));
    g_assert_nonnull(strstr(error->message, "a scan is a PNG, JPEG or TIFF file"));
    g_clear_error(&error);
    g_assert_true(keep_scan(&p, 8, "d.png", &error));
    dt_desk_drop_scans(p.d, 7);
    g_autofree char *none = scans_of(&p, 7), *other = scans_of(&p, 8);
    g_assert_cmpstr(none, ==, "");
    g_assert_cmpstr(other, !=, "");
    place_clear(&p);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-files/dropped", test_what_is_dropped_is_kept_privately);
    g_test_add_func("/desk-files/programs", test_programs_are_named_after_the_drawing);
    g_test_add_func("/desk-files/tidy", test_what_is_old_goes_and_what_is_needed_stays);
    g_test_add_func("/desk-files/folders", test_a_desk_needs_its_folders);
    g_test_add_func("/desk-files/root", test_a_desk_of_all_files);
    g_test_add_func("/desk-files/contradicts", test_a_profile_that_contradicts_itself_is_not_taken);
    g_test_add_func("/desk-files/early", test_what_comes_too_early_is_said);
    g_test_add_func("/desk-files/scans", test_scans_are_kept_by_sheet);
    return g_test_run();
}
