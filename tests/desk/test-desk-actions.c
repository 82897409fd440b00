/* The desk without its server: what its actions refuse and do, and what it tells of itself, called as a page's requests call
 * them. No machine is connected. */
#include "place.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

/* Refusals -------------------------------------------------------------------------------------- */

static void test_what_cannot_be_done_is_said(void)
{
    static const struct {
        const char *action, *json;
        DtErrorCode code;
        const char *why;
    } cases[] = {
        {"paint", "{}", DT_ERROR_USAGE, "there is no such action"},
        {"open", "{}", DT_ERROR_USAGE, "'path' must be a text"},
        {"open", "{\"path\": \"no.svg\"}", DT_ERROR_INPUT, "no.svg: there is no such file"},
        {"open", "{\"path\": \"/etc/hosts\"}", DT_ERROR_INPUT, "there is no such file"},
        {"open", "{\"path\": \"../x.svg\"}", DT_ERROR_INPUT, "there is no such file"},
        {"open", "{\"path\": \".\"}", DT_ERROR_INPUT, "there is no such file"},
        {"open", "{\"path\": \"note.md\"}", DT_ERROR_INPUT, "neither a drawing"},
        {"open", "{\"path\": \"empty.svg\"}", DT_ERROR_INPUT, "empty.svg: the file is empty"},
        {"set-options", "{}", DT_ERROR_USAGE, "'values' must be an object"},
        {"choose-sheet", "{\"sheet\": 1}", DT_ERROR_USAGE, "'sheet' must be a whole number"},
        {"choose-sheet", "{\"sheet\": -1}", DT_ERROR_USAGE, "'sheet' must be a whole number"},
        {"begin-at", "{\"revision\": 99, \"skip\": 0}", DT_ERROR_INPUT, "the drawing has changed"},
        {"make-test-sheet", "{\"kind\": \"moon\"}", DT_ERROR_USAGE, "there is no such test sheet"},
        {"touch-corner", "{\"which\": \"left\", \"serial\": 4000000}", DT_ERROR_INPUT,
         "the machine's state has changed"},
        {"touch-corner", "{\"which\": \"left\", \"serial\": 0}", DT_ERROR_USAGE,
         "'serial' must be a whole number"},
        {"jog", "{\"kind\": \"home\", \"serial\": 4000000}", DT_ERROR_INPUT,
         "the machine's state has changed"},
        {"request", "{\"request\": \"dance\", \"serial\": 1}", DT_ERROR_USAGE,
         "there is no such request"},
        {"request", "{\"request\": \"pause-now\", \"serial\": 1}", DT_ERROR_INPUT,
         "that is not possible now"},
        {"request", "{\"request\": \"park\", \"serial\": 4000000}", DT_ERROR_INPUT,
         "the machine's state has changed"},
        {"start", "{\"revision\": 99, \"serial\": 1, \"despite\": false}", DT_ERROR_INPUT,
         "the drawing has changed"},
        {"resume", "{\"serial\": 4000000}", DT_ERROR_INPUT, "the machine's state has changed"},
        {"learn", "{\"serial\": 4000000, \"may_move\": false}", DT_ERROR_INPUT,
         "the machine's state has changed"},
        {"new-tip", "{\"pen\": \"pink\"}", DT_ERROR_INPUT, "this machine has no such pen"},
        {"choose-profile", "{\"path\": \"x.ini\"}", DT_ERROR_INPUT,
         "there is no such profile here"},
        {"choose-port", "{\"path\": \"/dev/null\"}", DT_ERROR_INPUT,
         "this computer has no such port"},
        {"set-keys", "{\"changes\": []}", DT_ERROR_INPUT, "this is the built-in profile"},
        {"new-profile", "{\"name\": \"\"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \"a/b\"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \".a\"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \" a\"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \"a \"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \"a[1]\"}", DT_ERROR_USAGE, "a name has up to 40 letters"},
        {"new-profile", "{\"name\": \"12345678901234567890123456789012345678901\"}", DT_ERROR_USAGE,
         "a name has up to 40 letters"},
        {"keep-reading", "{\"ask\": \"X1\", \"text\": \"6\", \"sheet\": 1, \"i\": 0}",
         DT_ERROR_INPUT, "no test sheet of"},
        {"write-corrections", "{\"digest\": \"x\", \"sheet\": 1}", DT_ERROR_INPUT,
         "no test sheet of"},
        {"undo-corrections", "{\"sheet\": 1}", DT_ERROR_INPUT, "there are newer corrections now"},
        {"forget-scans", "{\"sheet\": 1}", DT_ERROR_INPUT, "no test sheet of"},
    };
    Place p;
    place_init(&p);
    write_file(&p, "note.md", "seeds");
    write_file(&p, "empty.svg", "");
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        refused(&p, cases[i].action, cases[i].json, cases[i].code, cases[i].why);
    place_clear(&p);
}

/* What a page asks that has seen the present state, where no machine answers yet. */
static void test_what_the_idle_machine_cannot_do_is_said(void)
{
    static const struct {
        const char *action, *values;
        DtErrorCode code;
        const char *why;
    } cases[] = {
        {"jog", "\"kind\": \"dance\"", DT_ERROR_USAGE, "there is no such motion"},
        {"jog", "\"kind\": \"by\"", DT_ERROR_USAGE, "'x' must be a number"},
        {"jog", "\"kind\": \"to\", \"x\": 5", DT_ERROR_USAGE, "'y' must be a number"},
        {"jog", "\"x\": 5", DT_ERROR_USAGE, "'kind' must be a text"},
        {"touch-corner", "\"which\": \"left\"", DT_ERROR_INPUT,
         "home the machine and move the pen to the corner first"},
        {"resume", "\"run\": -1, \"back_strokes\": 0, \"from_place\": false", DT_ERROR_USAGE,
         "'run' must be a whole number"},
        {"resume", "\"run\": 1, \"back_strokes\": -1, \"from_place\": false", DT_ERROR_USAGE,
         "'back_strokes' must be a whole number"},
        {"resume", "\"run\": 1, \"back_strokes\": 0", DT_ERROR_USAGE,
         "'from_place' must be true or false"},
        {"resume", "\"run\": 1, \"back_strokes\": 0, \"from_place\": true, \"x\": 1",
         DT_ERROR_USAGE, "'y' must be a number"},
        {"resume", "\"run\": 1, \"back_strokes\": 0, \"from_place\": false", DT_ERROR_INPUT, ""},
        {"start", "\"despite\": 0", DT_ERROR_USAGE, "'despite' must be true or false"},
        {"learn", "\"may_move\": 1", DT_ERROR_USAGE, "'may_move' must be true or false"},
    };
    Place p;
    place_init(&p);
    DtSnapshot s;
    dt_session_snapshot(p.d->session, &s);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *json = g_strdup_printf("{\"serial\": %u, \"revision\": %u, %s}", s.serial,
                                                p.d->drawing.revision, cases[i].values);
        refused(&p, cases[i].action, json, cases[i].code, cases[i].why);
    }
    place_clear(&p);
}

/* Files ----------------------------------------------------------------------------------------- */

/* "name bytes" of files, "name/" of folders. */
static char *files_of(Place *p, const char *folder)
{
    g_autoptr(GError) error = NULL;
    GString *s = g_string_new(NULL);
    char *json = dt_desk_files_json(p->d, folder, &error);
    g_assert_no_error(error);
    JsonObject *o = read_json(json);
    g_assert_cmpstr(text_of(o, "folder"), ==, folder);
    JsonArray *entries = json_object_get_array_member(o, "entries");
    for (guint i = 0; i < json_array_get_length(entries); i++) {
        JsonObject *e = json_array_get_object_element(entries, i);
        g_string_append_printf(s, "%s%s", i ? " " : "", text_of(e, "name"));
        if (json_object_get_boolean_member(e, "folder"))
            g_string_append_c(s, '/');
        else
            g_string_append_printf(s, ":%d", (int)json_object_get_int_member(e, "bytes"));
    }
    json_object_unref(o);
    return g_string_free(s, FALSE);
}

/* What can be opened, in the order of its names, and nothing that leads elsewhere. */
static void test_files_below_the_folder(void)
{
    Place p;
    place_init(&p);
    g_autofree char *below = g_build_filename(p.folder, "beds", NULL),
                    *out = g_build_filename(p.folder, "out.svg", NULL),
                    *in = g_build_filename(p.folder, "in.svg", NULL);
    g_assert_cmpint(g_mkdir(below, 0700), ==, 0);
    write_file(&p, "beds/Map.PNG", "12345");
    write_file(&p, "beds/map.docx", "1");
    write_file(&p, "job.nc", "G21\n");
    write_file(&p, ".hidden.svg", drawing);
    g_assert_cmpint(symlink("/etc/hosts", out), ==, 0);
    g_assert_cmpint(symlink("label.svg", in), ==, 0);
    g_autofree char *top = files_of(&p, ""), *inside = files_of(&p, "beds");
    g_autofree char *wanted = g_strdup_printf("beds/ in.svg:%zu job.nc:4 label.svg:%zu",
                                              strlen(drawing), strlen(drawing));
    g_assert_cmpstr(top, ==, wanted);
    g_assert_cmpstr(inside, ==, "Map.PNG:5");
    static const char *const elsewhere[] = {"..", "/etc", "none", "beds/../..", "label.svg"};
    for (gsize i = 0; i < G_N_ELEMENTS(elsewhere); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_desk_files_json(p.d, elsewhere[i], &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
    refused(&p, "open", "{\"path\": \"out.svg\"}", DT_ERROR_INPUT, "there is no such file");
    done(&p, "open", "{\"path\": \"in.svg\"}");
    settle(&p);
    g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_READY);
    place_clear(&p);
}

static void test_endings(void)
{
    static const char *const known[] = {".svg", ".pdf"};
    g_assert_cmpstr(dt_desk_ending_of("a.b.SVG", known, 2), ==, ".svg");
    g_assert_cmpstr(dt_desk_ending_of("a.pdf", known, 2), ==, ".pdf");
    g_assert_null(dt_desk_ending_of("a.pdf", known, 1));
    g_assert_null(dt_desk_ending_of("svg", known, 2));
    g_assert_null(dt_desk_ending_of("a.svg.gz", known, 2));
    g_assert_null(dt_desk_ending_of("a.", known, 2));
}

/* The drawing ------------------------------------------------------------------------------------ */

static void test_a_drawing_from_opening_to_clearing(void)
{
    Place p;
    place_init(&p);
    JsonObject *none = told(&p, DT_PART_DRAWING, "drawing");
    g_assert_cmpstr(text_of(none, "state"), ==, "none");
    g_assert_null(text_of(none, "name"));
    g_assert_false(json_object_get_boolean_member(none, "has_program"));
    json_object_unref(none);
    const guint before = p.d->drawing.revision;
    done(&p, "open", "{\"path\": \"label.svg\"}");
    settle(&p);
    g_assert_cmpuint(p.d->drawing.revision, >, before);
    JsonObject *o = told(&p, DT_PART_DRAWING, "drawing");
    g_assert_cmpstr(text_of(o, "name"), ==, "label.svg");
    g_assert_cmpstr(text_of(o, "state"), ==, "ready");
    g_assert_null(text_of(o, "problem"));
    g_assert_null(text_of(o, "stage"));
    g_assert_false(json_object_get_boolean_member(o, "is_program"));
    g_assert_true(json_object_get_boolean_member(o, "has_program"));
    g_assert_cmpint(json_object_get_int_member(o, "revision"), ==, p.d->drawing.revision);
    g_assert_cmpint(json_object_get_int_member(o, "sheets"), ==, 1);
    g_assert_cmpint(json_object_get_int_member(o, "sheet"), ==, 0);
    g_assert_cmpint(json_object_get_int_member(o, "skip"), ==, 0);
    g_assert_null(text_of(o, "left"));
    g_assert_cmpstr(text_of(o, "paper_name"), ==, p.d->profile->paper_name);
    JsonArray *paper = json_object_get_array_member(o, "paper");
    const DtPoint corner = p.d->profile->paper_at;
    const double sides[] = {corner.x, corner.y, corner.x + p.d->profile->paper_w,
                            corner.y + p.d->profile->paper_h};
    for (guint i = 0; i < G_N_ELEMENTS(sides); i++)
        g_assert_cmpfloat(json_array_get_double_element(paper, i), ==, sides[i]);
    /* its ink is that of the program */
    DtInspection i;
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_code_inspect(p.d->profile, p.d->drawing.program, &i, &error));
    g_assert_no_error(error);
    g_assert_cmpint(json_object_get_int_member(o, "strokes"), ==, i.lifts);
    g_assert_cmpuint(p.d->drawing.summary.strokes, ==, i.lifts);
    g_assert_cmpfloat_with_epsilon(json_object_get_double_member(o, "home_s"), i.home_s, 0.01);
    g_assert_cmpfloat_with_epsilon(json_object_get_double_member(o, "total_s") +
                                       json_object_get_double_member(o, "home_s"),
                                   i.time_s, 0.02 * i.time_s);
    JsonObject *report = json_object_get_object_member(o, "report"),
               *own = json_object_get_object_member(o, "own");
    g_assert_cmpfloat_with_epsilon(json_object_get_double_member(report, "ink_mm"), i.ink_mm, 0.05);
    g_assert_cmpuint(json_array_get_length(json_object_get_array_member(own, "pens")), ==,
                     DT_OWN_PARTS);
    dt_inspection_clear(&i);
    json_object_unref(o);
    /* from the second stroke on; and no farther than there are strokes */
    g_autofree char *second =
                        g_strdup_printf("{\"revision\": %u, \"skip\": 1}", p.d->drawing.revision),
                    *beyond =
                        g_strdup_printf("{\"revision\": %u, \"skip\": 2}", p.d->drawing.revision);
    g_assert_cmpuint(p.d->drawing.summary.strokes, ==, 2);
    refused(&p, "begin-at", beyond, DT_ERROR_USAGE, "'skip' must be a whole number");
    done(&p, "begin-at", second);
    settle(&p);
    JsonObject *later = told(&p, DT_PART_DRAWING, "drawing");
    g_assert_cmpint(json_object_get_int_member(later, "skip"), ==, 1);
    json_object_unref(later);
    JsonObject *run = told(&p, DT_PART_RUN, "run");
    g_assert_cmpfloat_with_epsilon(json_object_get_double_member(run, "from_s"),
                                   dt_desk_ink_begin_s(p.d->drawing.ink, &p.d->drawing.summary, 1),
                                   0.01);
    g_assert_cmpstr(text_of(run, "phase"), ==, "none"); /* there is no port to draw on */
    json_object_unref(run);
    done(&p, "clear", "{}");
    settle(&p);
    g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_NONE);
    g_assert_null(p.d->drawing.name);
    g_assert_null(p.d->drawing.ink);
    place_clear(&p);
}

/* An option takes effect, a wrong one changes nothing; a drawing too large for a sheet goes over several. */
static void test_options_and_sheets(void)
{
    Place p;
    place_init(&p);
    done(&p, "open", "{\"path\": \"label.svg\"}");
    settle(&p);
    const guint revision = p.d->drawing.revision;
    refused(&p, "set-options", "{\"values\": {\"margin\": \"huge\"}}", DT_ERROR_USAGE, "margin");
    refused(&p, "set-options", "{\"values\": {\"no-such\": \"1\"}}", DT_ERROR_USAGE, "no-such");
    g_assert_cmpuint(p.d->drawing.revision, ==, revision);
    done(&p, "set-options", "{\"values\": {\"sheets\": \"2x1\"}}");
    settle(&p);
    g_assert_cmpint(p.d->drawing.state, ==, DT_DRAFT_READY);
    JsonObject *o = told(&p, DT_PART_DRAWING, "drawing");
    const gint64 sheets = json_object_get_int_member(o, "sheets");
    g_assert_cmpint(sheets, ==, 2);
    json_object_unref(o);
    g_autofree char *last = g_strdup_printf("{\"sheet\": %d}", (int)sheets - 1),
                    *beyond = g_strdup_printf("{\"sheet\": %d}", (int)sheets);
    refused(&p, "choose-sheet", beyond, DT_ERROR_USAGE, "'sheet' must be a whole number");
    done(&p, "choose-sheet", last);
    settle(&p);
    g_assert_cmpuint(p.d->drawing.sheet, ==, sheets - 1);
    place_clear(&p);
}

/* Whether it is for one sheet or for several: what cannot be drawn says why, and has no program. */
static void test_what_cannot_be_drawn(void)
{
    Place p;
    place_init(&p);
    write_file(&p, "broken.svg", "<svg");
    write_file(&p, "empty.svg", "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>");
    static const char *const sheets[] = {"1x1", "2x1"}, *const names[] = {"broken.svg",
                                                                          "empty.svg"};
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 2; k++) {
            g_autofree char *open = g_strdup_printf("{\"path\": \"%s\"}", names[k]);
            g_autofree char *several =
                g_strdup_printf("{\"values\": {\"sheets\": \"%s\"}}", sheets[i]);
            done(&p, "open", open);
            settle(&p);
            done(&p, "set-options", several);
            settle(&p);
            JsonObject *o = told(&p, DT_PART_DRAWING, "drawing");
            g_assert_cmpstr(text_of(o, "state"), ==, "failed");
            g_assert_true(g_str_has_prefix(text_of(o, "problem"), names[k]));
            g_assert_false(json_object_get_boolean_member(o, "has_program"));
            json_object_unref(o);
        }
    place_clear(&p);
}

/* A program from elsewhere is put on the bed as it is; what cannot be read says why. */
static void test_programs_and_what_cannot_be_read(void)
{
    Place p;
    place_init(&p);
    write_file(&p, "foreign.nc",
               "G21 G90\nM5\nG28\nG0 X10 Y10\nM3 S40\nG4 P1\nG1 X20 F600\nM5\nM2\n");
    write_file(&p, "broken.svg", "<svg");
    done(&p, "open", "{\"path\": \"foreign.nc\"}");
    settle(&p);
    g_assert_true(p.d->drawing.is_program);
    JsonObject *o = told(&p, DT_PART_DRAWING, "drawing");
    g_assert_true(json_object_get_boolean_member(o, "is_program"));
    json_object_unref(o);
    done(&p, "open", "{\"path\": \"broken.svg\"}");
    settle(&p);
    o = told(&p, DT_PART_DRAWING, "drawing");
    g_assert_cmpstr(text_of(o, "state"), ==, "failed");
    g_assert_true(g_str_has_prefix(text_of(o, "problem"), "broken.svg"));
    g_assert_false(json_object_get_boolean_member(o, "has_program"));
    json_object_unref(o);
    place_clear(&p);
}

/* The machine ------------------------------------------------------------------------------------ */

static void check_keys(Place *p)
{
    DtProfileKey k;
    JsonObject *o = read_json(dt_desk_keys_json(p->d));
    JsonArray *sections = json_object_get_array_member(o, "sections");
    size_t in_table = 0, listed = 0, pens = 0;
    for (size_t i = 0; dt_profile_key(i, &k); i++) {
        in_table += strcmp(k.section, "pen") == 0 ? p->d->profile->rack.n : 1;
        g_free(k.range);
    }
    for (guint s = 0; s < json_array_get_length(sections); s++) {
        JsonObject *section = json_array_get_object_element(sections, s);
        JsonArray *keys = json_object_get_array_member(section, "keys");
        const gboolean pen = g_str_has_prefix(text_of(section, "name"), "pen ");
        pens += pen;
        g_assert_nonnull(text_of(section, "help"));
        for (guint i = 0; i < json_array_get_length(keys); i++, listed++) {
            JsonObject *key = json_array_get_object_element(keys, i);
            gboolean found = FALSE;
            g_assert_cmpstr(text_of(key, "section"), ==, text_of(section, "name"));
            for (size_t j = 0; dt_profile_key(j, &k); j++) {
                if (strcmp(k.section, pen ? "pen" : text_of(section, "name")) == 0 &&
                    strcmp(k.name, text_of(key, "name")) == 0) {
                    found = TRUE;
                    g_assert_cmpstr(text_of(key, "type"), ==, k.type);
                    g_assert_cmpstr(text_of(key, "unit"), ==, k.unit);
                    g_assert_cmpstr(text_of(key, "help"), ==, k.help);
                    g_assert_cmpstr(text_of(key, "default"), ==, k.preset);
                    g_assert_cmpstr(text_of(key, "range"), ==, k.range);
                }
                g_free(k.range);
            }
            g_assert_true(found);
        }
    }
    g_assert_cmpuint(listed, ==, in_table);
    g_assert_cmpuint(pens, ==, p->d->profile->rack.n);
    json_object_unref(o);
}

static void test_a_profile_is_made_and_changed(void)
{
    Place p;
    place_init(&p);
    check_keys(&p);
    done(&p, "new-profile", "{\"name\": \"K\303\274chentisch\"}");
    settle(&p);
    g_assert_cmpstr(p.d->profile->name, ==, "K\303\274chentisch");
    g_autofree char *file = g_build_filename(p.folder, "K\303\274chentisch.ini", NULL);
    g_assert_cmpstr(p.d->profile->path, ==, file);
    refused(&p, "new-profile", "{\"name\": \"K\303\274chentisch\"}", DT_ERROR_INPUT,
            "already exists");
    check_keys(&p);
    static const struct {
        const char *changes;
        DtErrorCode code;
        const char *why;
    } wrong[] = {{"[3]", DT_ERROR_USAGE, "a change must be an object"},
                 {"[{\"section\": \"motion\", \"key\": \"speed_x\"}]", DT_ERROR_USAGE,
                  "'value' must be a text"},
                 {"[{\"section\": \"motion\", \"key\": \"speed_q\", \"value\": \"1\"}]",
                  DT_ERROR_USAGE, "motion speed_q: a profile has no such key"},
                 {"[{\"section\": \"pen \", \"key\": \"tip\", \"value\": \"1 mm\"}]",
                  DT_ERROR_USAGE, "a profile has no such key"},
                 {"[{\"section\": \"motion\", \"key\": \"speed_x\", \"value\": \"1\\n2\"}]",
                  DT_ERROR_USAGE, "the value has a control character"},
                 {"[{\"section\": \"motion\", \"key\": \"speed_x\", \"value\": \"fast\"}]",
                  DT_ERROR_INPUT, "speed_x"}};
    const double speed = p.d->profile->speed[0];
    for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autofree char *json = g_strdup_printf("{\"changes\": %s}", wrong[i].changes);
        refused(&p, "set-keys", json, wrong[i].code, wrong[i].why);
    }
    g_assert_cmpfloat(p.d->profile->speed[0], ==, speed);
    done(&p, "set-keys", "{\"changes\": []}");
    done(&p, "set-keys",
         "{\"changes\": [{\"section\": \"motion\", \"key\": \"speed_x\", \"value\": \"7.5 mm/s\"}, "
         "{\"section\": \"pen black\", \"key\": \"tip\", \"value\": \"0.7 mm\"}]}");
    settle(&p);
    g_assert_cmpfloat(p.d->profile->speed[0], ==, 7.5);
    g_assert_cmpfloat(p.d->profile->rack.pens[dt_rack_find(&p.d->profile->rack, "black")].tip, ==,
                      0.7);
    JsonObject *machine = told(&p, DT_PART_MACHINE, "machine");
    g_assert_cmpstr(text_of(machine, "path"), ==, file);
    g_assert_cmpstr(text_of(machine, "name"), ==, "K\303\274chentisch");
    g_assert_cmpfloat(
        json_array_get_double_element(json_object_get_array_member(machine, "speed"), 0), ==, 7.5);
    g_assert_cmpfloat(
        json_array_get_double_element(json_object_get_array_member(machine, "travel"), 1), ==,
        p.d->profile->travel[1]);
    JsonArray *profiles = json_object_get_array_member(machine, "profiles");
    g_assert_cmpuint(json_array_get_length(profiles), ==, 1);
    g_assert_true(
        json_object_get_boolean_member(json_array_get_object_element(profiles, 0), "current"));
    json_object_unref(machine);
    done(&p, "choose-profile", "{\"path\": \"\"}");
    settle(&p);
    g_assert_null(p.d->profile->path);
    g_autofree char *back = g_strdup_printf("{\"path\": \"%s\"}", file);
    done(&p, "choose-profile", back);
    settle(&p);
    g_assert_cmpstr(p.d->profile->path, ==, file);
    place_clear(&p);
}

static void test_an_idle_machine(void)
{
    Place p;
    place_init(&p);
    JsonObject *s = told(&p, DT_PART_SESSION, "session");
    g_assert_false(json_object_get_boolean_member(s, "homed"));
    g_assert_false(json_object_get_boolean_member(s, "placed"));
    g_assert_false(json_object_get_boolean_member(s, "pen_down"));
    g_assert_cmpuint(json_array_get_length(json_object_get_array_member(s, "may")), ==, 0);
    g_assert_false(json_object_has_member(s, "at"));
    json_object_unref(s);
    JsonObject *l = told(&p, DT_PART_LEARN, "learn");
    g_assert_false(json_object_get_boolean_member(l, "active"));
    g_assert_cmpuint(json_array_get_length(json_object_get_array_member(l, "found")), ==, 0);
    json_object_unref(l);
    JsonObject *log = told(&p, DT_PART_LOG, "log");
    g_assert_false(json_object_has_member(log, "unfinished"));
    const gint64 number = json_object_get_int_member(log, "number");
    json_object_unref(log);
    done(&p, "new-tip", "{\"pen\": \"black\"}");
    log = told(&p, DT_PART_LOG, "log");
    g_assert_cmpint(json_object_get_int_member(log, "number"), ==, number + 1);
    json_object_unref(log);
    g_auto(DtLog) kept = {0};
    g_assert_true(dt_log_read(p.journal, &kept, NULL));
    g_assert_cmpuint(kept.n_notes, ==, 1);
    g_assert_cmpstr(kept.notes[0].kind, ==, DT_DESK_NEW_TIP);
    g_assert_cmpstr(kept.notes[0].text, ==, "black");
    place_clear(&p);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-actions/refused", test_what_cannot_be_done_is_said);
    g_test_add_func("/desk-actions/idle-refused", test_what_the_idle_machine_cannot_do_is_said);
    g_test_add_func("/desk-actions/files", test_files_below_the_folder);
    g_test_add_func("/desk-actions/endings", test_endings);
    g_test_add_func("/desk-actions/drawing", test_a_drawing_from_opening_to_clearing);
    g_test_add_func("/desk-actions/options", test_options_and_sheets);
    g_test_add_func("/desk-actions/not-drawn", test_what_cannot_be_drawn);
    g_test_add_func("/desk-actions/programs", test_programs_and_what_cannot_be_read);
    g_test_add_func("/desk-actions/profile", test_a_profile_is_made_and_changed);
    g_test_add_func("/desk-actions/idle", test_an_idle_machine);
    return g_test_run();
}
