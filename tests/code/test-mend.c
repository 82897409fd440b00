/* code: mended programs draw on the virtual machine what they mean, and mending twice changes
 * nothing more. */
#include "collection.h"
#include "drawtrue/rig.h"
#include "machines.h"
#include "on-rig.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char *folder;

/* The machine of a program, from the list of expectations. */
static char *machine_of(const char *program)
{
    g_autofree char *list = g_build_filename(folder, "expected.txt", NULL), *text = NULL;
    g_assert_true(g_file_get_contents(list, &text, NULL, NULL));
    char *at = strstr(text, program);
    g_assert_nonnull(at);
    at += strlen(program) + 1;
    return g_strndup(at, strcspn(at, " \n"));
}

static char *mend(const DtProfile *p, const char *text, gsize len, const char *name, gsize *out)
{
    g_autoptr(GError) error = NULL;
    DtMending m;
    char *mended = dt_code_mend_text(p, text, len, name, NULL, out, &m, &error);
    if (mended == NULL && strstr(error->message, "--units") != NULL) { /* of no word for inches */
        g_clear_error(&error);
        dt_mending_clear(&m);
        mended =
            dt_code_mend_text(p, text, len, name, &(DtMendOptions){.units = "mm"}, out, &m, &error);
    }
    if (mended == NULL)
        g_test_fail_printf("%s", error->message);
    dt_mending_clear(&m);
    return mended;
}

/* Where the virtual machine does not lift or wait so, the judge tells where ink lands. */
static void judge_and_compare(const DtProfile *p, const char *program, gsize len, const char *meant)
{
    DtInspection i;
    g_assert_true(dt_code_inspect_text(p, program, len, &i, NULL));
    g_assert_cmpuint(i.refused_lines, ==, 0);
    g_auto(DtLines) have;
    dt_lines_init(&have);
    gboolean down = FALSE;
    DtPoint at = {0, 0};
    for (size_t k = 0; k < i.moves.n; k++) {
        const DtMove *m = &i.moves.m[k];
        const gboolean touches = m->kind == DT_MOVE_DRAW || m->kind == DT_MOVE_PEN_DOWN;
        if (touches && !down) { /* a dot, if nothing follows */
            dt_lines_begin(&have);
            dt_lines_point(&have, at);
        }
        if (m->kind == DT_MOVE_DRAW)
            dt_lines_point(&have, m->ink);
        down = touches;
        at = m->ink;
    }
    dt_inspection_clear(&i);
    on_rig_compare(&have, meant);
}

/* Before mending the machine refuses lines or draws nothing, where that is what is wrong. */
static void assert_unfit(const DtProfile *p, const char *text, gsize len)
{
    DtInspection i;
    g_assert_true(dt_code_judge_text(p, text, len, NULL, &i, NULL));
    gboolean refused = FALSE, excused = FALSE;
    for (size_t k = 0; k < i.n_findings; k++) {
        refused |= i.findings[k].rank == DT_FINDING_NO_INK;
        excused |= strcmp(i.findings[k].kind, "byte-order-mark") == 0 ||
                   strcmp(i.findings[k].kind, "line-long") == 0; /* it leaves the check out */
    }
    dt_inspection_clear(&i);
    if (!refused || excused)
        return;
    g_autoptr(DtRig) rig = on_rig_new(p);
    dt_rig_run_text(rig, text, len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    if (f.lines_refused == 0 && f.ink_mm > 0)
        g_test_fail_printf("drawn as it is, though judged unfit");
}

static void mend_and_compare(const char *machine, const char *text, gsize len, const char *name,
                             const char *meant)
{
    gsize once_len, twice_len;
    g_autoptr(DtProfile) p = machine_by_name(machine);
    g_autofree char *once = mend(p, text, len, name, &once_len);
    if (once == NULL)
        return;
    g_test_message("%s", once);
    g_autofree char *twice = mend(p, once, once_len, name, &twice_len);
    if (g_strcmp0(once, twice) != 0)
        g_test_fail_printf("mending twice changes more: %s", twice);
    g_assert_true(once_len != len || memcmp(once, text, len) != 0);
    if (p->dialect.pen_down[0] == 'G' || strstr(p->dialect.words, "M41") ||
        strstr(p->dialect.words, "dwell:ms")) {
        judge_and_compare(p, once, once_len, meant);
        return;
    }
    assert_unfit(p, text, len);
    on_rig_draws(p, once, once_len, meant);
}

static void mend_file(gconstpointer line)
{
    g_auto(GStrv) parts = g_strsplit(line, " ", 2);
    g_autofree char *path = g_build_filename(folder, parts[0], NULL), *text = NULL;
    gsize len;
    g_assert_true(g_file_get_contents(path, &text, &len, NULL));
    g_autofree char *machine = machine_of(parts[0]);
    mend_and_compare(machine, text, len, parts[0], parts[1]);
}

static void mend_program(gconstpointer data)
{
    const Program *p = data;
    mend_and_compare(p->machine, p->text, p->len, p->name, p->ink);
}

/* A program of which it cannot be told what it means is refused, and the place is named. */
static void refuse_program(gconstpointer data)
{
    const Program *program = data;
    g_autoptr(DtProfile) p = machine_by_name(program->machine);
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_autofree char *out =
        dt_code_mend_text(p, program->text, program->len, program->name, NULL, &len, &m, &error);
    dt_mending_clear(&m);
    if (out) {
        g_test_fail_printf("mended to\n%s", out);
        return;
    }
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_test_message("%s", error->message);
    g_assert_true(g_str_has_prefix(error->message, program->name));
}

/* A sound program comes back byte for byte. */
static void assert_stays(const char *machine, const char *text, gsize len, const char *name)
{
    g_autoptr(DtProfile) p = machine_by_name(machine);
    gsize out;
    g_autofree char *mended = mend(p, text, len, name, &out);
    if (mended == NULL || out != len || memcmp(mended, text, len) != 0)
        g_test_fail_printf("%s does not stay: %s", name, mended ? mended : "refused");
}

static void test_sound_programs_stay(void)
{
    g_autofree char *list = g_build_filename(folder, "expected.txt", NULL), *text = NULL;
    g_assert_true(g_file_get_contents(list, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **l = lines; *l; l++) {
        if (!g_str_has_prefix(*l, "sound/"))
            continue;
        g_auto(GStrv) fields = g_strsplit(g_strchomp(*l), " ", -1);
        g_autofree char *path = g_build_filename(folder, fields[0], NULL), *program = NULL;
        gsize len;
        g_assert_true(g_file_get_contents(path, &program, &len, NULL));
        assert_stays(fields[1], program, len, fields[0]);
    }
    g_autoptr(GPtrArray) more = collection_read(folder, "more-sound.txt");
    g_assert_cmpuint(more->len, >=, 100);
    for (guint i = 0; i < more->len; i++) {
        const Program *p = more->pdata[i];
        assert_stays(p->machine, p->text, p->len, p->name);
    }
}

static void test_what_cannot_be_told_is_refused_with_its_line(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    static const struct {
        const char *text, *message;
    } cases[] = {
        {"G21 G90\nM3 S40\nG4 P1\nG1 X1e1 F60\nM5\n", "a.nc:4:6: "},
        {"G21 G90\nM3 S40\nG4 P1\nG1 X--3 F60\nG1 Y. F60\nM5\n", "a.nc:5:5: "},
        {"G21 G90\nG1 X10 F60\nM2\n", "never says that its pen comes down"},
        {"G21 G90\nG28\nM3 S40\nG4 P1\nG1 X500 F60\nM5\n", "a.nc:5:1: X 500 mm"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_assert_null(dt_code_mend_text(p, cases[i].text, strlen(cases[i].text), "a.nc", NULL, &len,
                                        &m, &error));
        dt_mending_clear(&m);
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        if (strstr(error->message, cases[i].message) == NULL)
            g_error("'%s' lacks '%s'", error->message, cases[i].message);
    }
}

static void test_clipping_keeps_what_the_machine_reaches(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const char *text = "G21 G90\nM5\nG4P0.1\nG28\nG0X290Y100\nM3 S40\nG4P0.15\nG1X310Y110F600\n"
                       "X310Y120\nX290Y130\nM5\nG4P0.1\nG0X0Y0\nM2\n";
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "a.nc",
                                             &(DtMendOptions){.clip = TRUE}, &len, &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    on_rig_draws(p, out, len, "290,100 300,105 | 300,125 290,130");
}

static char *mended(const DtProfile *p, const char *text, gsize len, gsize *out_len)
{
    g_autoptr(GError) error = NULL;
    DtMending m;
    char *out = dt_code_mend_text(
        p, text, len, "a.nc", &(DtMendOptions){.clip = TRUE, .units = "mm"}, out_len, &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    return out;
}

static size_t count(const char *text, const char *part)
{
    size_t n = 0;
    for (const char *at = text; (at = strstr(at, part)); at += strlen(part))
        n++;
    return n;
}

/* Lengths that look like inches stay in doubt, so that a second mending looks at every line. */
static void test_a_pen_that_draws_nothing_stays_up(void)
{
#define DRAWN "M5\nG4P0.1\nG28\nG21G90\nG0X1Y1\nM3 S40\nG4P0.15\nG1X3F20\nY3\n"
    static const char *const ends[] = {
        "M5\nG4P0.1\nG0X2Y2\nM3 S40\n",                    /* before the end */
        "M5\nG4P0.1\nG0X2Y2\nM3 S40\nM2\n",                /* before the end that is said */
        "M5\nG4P0.1\nG0X2Y2\nM3 S40\nG4P0.15\nG0X0Y0\nM2", /* over a travel */
        "M5\nG4P0.1\nG0X2Y2\nM3 S40\nG4P0.15\nG28\nM2\n",  /* before homing */
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    for (size_t i = 0; i < G_N_ELEMENTS(ends); i++) {
        g_autofree char *text = g_strconcat(DRAWN, ends[i], NULL);
        gsize len, again_len;
        g_autofree char *out = mended(p, text, strlen(text), &len);
        g_autofree char *again = mended(p, out, len, &again_len);
        g_assert_cmpmem(again, again_len, out, len);
        g_assert_cmpuint(count(out, "M3"), ==, 1);
        on_rig_draws(p, out, len, "1,1 3,1 3,3");
    }
#undef DRAWN
}

static char *mend_as(const char *text, const DtMendOptions *o, char **why)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    char *out = dt_code_mend_text(p, text, strlen(text), "a.nc", o, &len, &m, &error);
    dt_mending_clear(&m);
    *why = error ? g_strdup(error->message) : NULL;
    return out;
}

/* Lengths up to 2 and feeds up to 30 are 50.8 mm or 2 mm: nobody can tell. */
static void test_units_in_doubt_are_said(void)
{
    static const char text[] = "N10 G0 X1 Y1\nM3 S40\nG1 X2 Y1 F30\nG1 X2 Y2\nM5\nG0 X0 Y0\nM2\n";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *why = NULL, *none = NULL, *wrong = NULL, *said = NULL;
    g_assert_null(mend_as(text, NULL, &why));
    g_assert_nonnull(strstr(why, "--units mm or --units in"));
    g_autofree char *mm = mend_as(text, &(DtMendOptions){.units = "mm"}, &none);
    on_rig_draws(p, mm, strlen(mm), "1,1 2,1 2,2");
    g_autofree char *inches = mend_as(text, &(DtMendOptions){.units = "in"}, &none);
    on_rig_draws(p, inches, strlen(inches), "25.4,25.4 50.8,25.4 50.8,50.8");
    g_assert_null(mend_as(text, &(DtMendOptions){.units = "ell"}, &wrong));
    g_assert_nonnull(strstr(wrong, "'ell'"));
    g_autofree char *says = g_strconcat("(in mm) G21\n", text, NULL);
    g_assert_null(mend_as(says, &(DtMendOptions){.units = "in"}, &said));
    g_assert_nonnull(strstr(said, "itself"));
}

/* Only where the user says so, and with its whole line; a longer number and a comment are others. */
static void test_words_of_no_standard_are_left_out_when_told(void)
{
    static const char text[] =
        "G21 G90\nG28\nG187 P1\nG0 X10 Y10 (G187)\nM3 S40\nG1 X20 Y10 F300\nM5\nM2\n";
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *why = NULL, *other = NULL, *none = NULL;
    g_assert_null(mend_as(text, NULL, &why));
    g_assert_nonnull(strstr(why, "a.nc:3:1: RS-274 has no G187"));
    g_assert_null(mend_as(text, &(DtMendOptions){.leave_out = "G18,G1870"}, &other));
    g_autofree char *out = mend_as(text, &(DtMendOptions){.leave_out = "G900, g187"}, &none);
    g_assert_nonnull(out);
    on_rig_draws(p, out, strlen(out), "10,10 20,10");
}

/* The first lift owes no dwell, but one that follows it is meant as those of the pen are. */
static void test_dwells_in_milliseconds(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const char *text = "G21 G90\nM5\nG4P100\nG28\nG0X10Y10\nM3S40\nG4P150\nG1X30F600\nM5\nG4P100\n"
                       "G0X0Y0\nM2\n";
    gsize len;
    g_autofree char *out = mended(p, text, strlen(text), &len);
    g_assert_cmpuint(count(out, "G4P0.1\n"), ==, 2);
    g_assert_cmpuint(count(out, "G4P0.15\n"), ==, 1);
}

/* A line that draws within the travel only from its middle on, with the pen down before it. */
static void test_a_clipped_line_is_at_rest(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const char *text = "G21\nG90\nG28\nG0 X-5 Y10\nM3 S40\nG4 P15\nG1 X2 Y2\n";
    gsize len, again_len;
    g_autofree char *out = mended(p, text, strlen(text), &len);
    g_autofree char *again = mended(p, out, len, &again_len);
    g_assert_cmpmem(again, again_len, out, len);
}

#define HEAD "G21 G90\nM5\nG28\n"
#define TAIL "M5\nG0 X0 Y0\nM2\n"

/* Forms that NISTIR 6556 does not have are understood, and the report says which. */
static void test_forms_of_other_controls(void)
{
    static const struct {
        const char *text, *ink, *says;
    } cases[] = {
        {HEAD "G0 X30 Y20\nM3 S40\nG3 I-10 F600\n" TAIL, "30,20 ccw:20,20:30,20", "full circle"},
        {HEAD "G0 X30 Y20\nM3 S40\nG2 J10 F600\n" TAIL, "30,20 cw:30,30:30,20", "full circle"},
        {"G70 G90\nM5\nG28\nG0 X1 Y1\nM3 S40\nG1 X2 F20\n" TAIL, "25.4,25.4 50.8,25.4", "G70"},
        {"G71 G90\nM5\nG28\nG0 X10 Y10\nM3 S40\nG1 X20 F600\n" TAIL, "10,10 20,10", "G71"},
        {HEAD "G0 X10 Y10*81\nM3 S40*1\nG1 X20 F600*7 (line)\n" TAIL, "10,10 20,10", "checksum"},
        {HEAD "N123456 G0 X10 Y10\nM3 S40\nG1 X20 F600\n" TAIL, "10,10 20,10", "99999"},
        {HEAD "G0 X10 Y10\nM3 S40\nG1 X20 F600\n" TAIL "thank you, G1 X9e9\n", "10,10 20,10",
         "after the end"},
        {HEAD "G0 X10 Y10\nM3 S40\n(70 or *5) G1 X20 F600*7\n" TAIL, "10,10 20,10", "checksum"},
        {HEAD "G0 X10 Y10\nM3 S40\nG1 (G70 here) X20 F600*7 (twice *8) (G71)\n" TAIL, "10,10 20,10",
         "checksum"},
        {"G21 G90\rM5\rG28\rG0 X10 Y10\rM3 S40\rG1 X20 F600\rM5\rG0 X0 Y0\rM2\r", "10,10 20,10",
         "carriage return"},
    };
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_autofree char *out = dt_code_mend_text(p, cases[i].text, strlen(cases[i].text), "a.nc",
                                                 NULL, &len, &m, &error);
        g_assert_no_error(error);
        gboolean told = FALSE;
        for (size_t k = 0; k < m.n_changes; k++)
            told |= strstr(m.changes[k].text, cases[i].says) != NULL;
        if (!told)
            g_test_fail_printf("case %zu does not say '%s'", i, cases[i].says);
        dt_mending_clear(&m);
        on_rig_draws(p, out, len, cases[i].ink);
    }
}

/* Stars and words within comments are no forms of other controls. */
static void test_comments_hold_no_forms(void)
{
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    static const char text[] =
        HEAD "G0 X10 Y10\n(G70 *5)\nM3 S40 (a *7)\nG1 X20 F600 ; G71 *9\n" TAIL;
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_autofree char *out = dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error);
    g_assert_no_error(error);
    for (size_t k = 0; k < m.n_changes; k++) {
        g_assert_null(strstr(m.changes[k].text, "checksum"));
        g_assert_null(strstr(m.changes[k].text, "G70"));
        g_assert_null(strstr(m.changes[k].text, "G71"));
    }
    dt_mending_clear(&m);
    on_rig_draws(p, out, len, "10,10 20,10");
}

/* A file of which one line is longer than any program's is refused with that line's number. */
static void test_an_overlong_line_is_named(void)
{
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    g_autofree char *path = NULL;
    g_autoptr(GString) text = g_string_new(HEAD "G0 X10 Y10\n(");
    size_t before = 0;
    for (const char *c = text->str; *c; c++)
        before += *c == '\n';
    for (int i = 0; i < 200000; i++)
        g_string_append_c(text, 'x');
    g_string_append(text, ")\n" TAIL);
    int file = g_file_open_tmp("drawtrue-mend-XXXXXX.nc", &path, NULL);
    g_assert_cmpint(file, >=, 0);
    close(file);
    g_assert_true(g_file_set_contents(path, text->str, (gssize)text->len, NULL));
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_autofree char *out = dt_code_mend(p, path, NULL, &len, &m, &error);
    g_assert_null(out);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *place = g_strdup_printf("%s:%zu:1: ", path, before + 1);
    g_assert_true(g_str_has_prefix(error->message, place));
    dt_mending_clear(&m);
    g_unlink(path);
}

/* What changes all that follows is never left out. */
static void test_words_that_change_geometry_are_refused(void)
{
    static const char *const lines[] = {"G41 D1", "G42 D2", "G68 X0 Y0 R45",
                                        "G68",    "G51 P2", "G16"};
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (size_t i = 0; i < G_N_ELEMENTS(lines); i++) {
        g_autoptr(GError) error = NULL;
        DtMending m;
        gsize len;
        g_autofree char *text =
            g_strdup_printf(HEAD "%s\nG0 X30 Y20\nM3 S40\nG4 P0.2\nG1 X40 F600\n" TAIL, lines[i]);
        g_autofree char *out =
            dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error);
        dt_mending_clear(&m);
        if (out != NULL || strstr(error->message, "a.nc:4:") == NULL)
            g_test_fail_printf("'%s': %s", lines[i], out ? out : error->message);
    }
}

/* A stroke that is clipped whole leaves nothing, not even a dot. */
static void test_a_clipped_stroke_leaves_no_dot(void)
{
    const char *text = HEAD "G0 X100 Y100\nM3 S40\nG1 X110 F600\nM5\nG0 X400 Y100\nM3 S40\n"
                            "G1 X410\nM5\n" TAIL;
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    gsize len;
    g_autofree char *out = mended(p, text, strlen(text), &len);
    DtInspection i;
    g_assert_true(dt_code_judge_text(p, out, len, NULL, &i, NULL));
    g_assert_cmpuint(i.lifts, ==, 1);
    dt_inspection_clear(&i);
    on_rig_draws(p, out, len, "100,100 110,100");
}

/* A doubt names both readings, and the option of each draws its ink. */
static void test_a_doubt_is_refused_with_both_readings(void)
{
    const char *text = "G21 G90\nM3 S100\nG0 X20 Y20\nS180\nG1 X60 Y20 F900\nS100\nG1 X60 Y60\n"
                       "S180\nG1 X20 Y60\nS100\nG1 X20 Y20\nS180\nG1 X40 Y90\nM5\nG0 X0 Y0\nM2\n";
    g_autoptr(DtProfile) p = machine_by_name("plain");
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_assert_null(dt_code_mend_text(p, text, strlen(text), "a.nc", NULL, &len, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpuint(m.in_doubt, ==, 2);
    g_assert_nonnull(strstr(error->message, "--pen-by 's-above:140'"));
    dt_mending_clear(&m);
    g_autofree char *out = dt_code_mend_text(
        p, text, strlen(text), "a.nc", &(DtMendOptions){.pen_by = "s-above:140"}, &len, &m, NULL);
    dt_mending_clear(&m);
    on_rig_draws(p, out, len, "20,20 60,20 | 60,60 20,60 | 20,20 40,90");
    g_clear_error(&error);
    g_assert_null(dt_code_mend_text(p, text, strlen(text), "a.nc",
                                    &(DtMendOptions){.pen_by = "z:2"}, &len, &m, &error));
    dt_mending_clear(&m);
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
}

/* Where the pen is changed and where it rests at the end are places too, though nothing is drawn there.
 * In inches, which this machine has no word for, so that all is rewritten. */
static void test_travel_without_ink_is_kept(void)
{
    static const char text[] = "G20 G90\nG28\nG0 X1 Y1\nM3 S40\nG1 X2 F20\nM5\nG0 X4 Y3\nM0\n"
                               "G0 X3 Y3\nM3 S40\nG1 X2 F20\nM5\nG0 X5 Y0.5\nM2\n";
    g_autoptr(DtProfile) p = machine_by_name("plain");
    gsize len;
    g_autofree char *out = mended(p, text, strlen(text), &len);
    g_assert_nonnull(out);
    const char *change = strstr(out, "X101.6Y76.2"), *end = strstr(out, "X127Y12.7");
    if (change == NULL || end == NULL || end < change)
        g_error("%s", out);
    on_rig_draws(p, out, len, "25.4,25.4 50.8,25.4 | 76.2,76.2 50.8,76.2");
}

/* Part of a move in which Z falls or rises would be drawn by a machine with a Z axis: that it is not is said behind all
 * changes, once. A rapid lifts over a travel, and a depth that changes below the paper is no lift. */
static void test_a_pen_that_moves_along_the_way_is_told(void)
{
    static const struct {
        const char *text, *ink, *says;
    } cases[] = {
        {"G0 Z5\nG0 X30 Y40\nG1 X70 Z-5 F500\nX100\nY60\nG1 X90 Z5\nG0 X0 Y0\nM2\n",
         "70,40 100,40 100,60",
         "left in doubt: moves in which the pen is lowered or lifted along "
         "the way are travelled, not drawn: 2, 50 mm in all"},
        {"G0 Z5\nG0 X30 Y40\nG1 Z-5 F500\nG1 X60 Z-4\nX100 Z-5\nG0 X90 Z5\nG0 X0 Y0\nM2\n",
         "30,40 60,40 100,40", NULL},
    };
    g_autoptr(DtProfile) p = machine_by_name("builtin");
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat("G21 G90\n", cases[i].text, NULL);
        DtMending m;
        gsize len;
        g_autofree char *out = dt_code_mend_text(
            p, text, strlen(text), "a.nc", &(DtMendOptions){.pen_by = "z-below:0"}, &len, &m, NULL);
        g_assert_nonnull(out);
        g_assert_cmpuint(m.n_doubts, ==, cases[i].says != NULL);
        if (cases[i].says != NULL)
            g_assert_cmpstr(m.changes[m.n_changes - 1].text, ==, cases[i].says);
        dt_mending_clear(&m);
        on_rig_draws(p, out, len, cases[i].ink);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = argv[1];
    g_auto(GStrv) lines = collection_lines(folder, "meant.txt");
    for (char **l = lines; *l; l++) {
        g_autofree char *name = g_strdup_printf("/code/mend/%.*s", (int)strcspn(*l, "."), *l);
        g_test_add_data_func(name, *l, mend_file);
    }
    g_autoptr(GPtrArray) faulty = collection_read(folder, "more-faulty.txt");
    for (guint i = 0; i < faulty->len; i++) {
        const Program *p = faulty->pdata[i];
        g_autofree char *name = g_strdup_printf("/code/mend-more/%s", p->name);
        if (p->ink)
            g_test_add_data_func(name, p, strcmp(p->ink, "-") ? mend_program : refuse_program);
    }
    g_test_add_func("/code/mend/units", test_units_in_doubt_are_said);
    g_test_add_func("/code/mend/leave-out", test_words_of_no_standard_are_left_out_when_told);
    g_test_add_func("/code/mend/no-ink-no-drop", test_a_pen_that_draws_nothing_stays_up);
    g_test_add_func("/code/mend/dwells-in-ms", test_dwells_in_milliseconds);
    g_test_add_func("/code/mend/clipped-rests", test_a_clipped_line_is_at_rest);
    g_test_add_func("/code/mend/sound-programs-stay", test_sound_programs_stay);
    g_test_add_func("/code/mend/refused", test_what_cannot_be_told_is_refused_with_its_line);
    g_test_add_func("/code/mend/clipped", test_clipping_keeps_what_the_machine_reaches);
    g_test_add_func("/code/mend/forms-of-other-controls", test_forms_of_other_controls);
    g_test_add_func("/code/mend/comments-hold-no-forms", test_comments_hold_no_forms);
    g_test_add_func("/code/mend/overlong-line", test_an_overlong_line_is_named);
    g_test_add_func("/code/mend/geometry-words-refused",
                    test_words_that_change_geometry_are_refused);
    g_test_add_func("/code/mend/clipped-leaves-no-dot", test_a_clipped_stroke_leaves_no_dot);
    g_test_add_func("/code/mend/travel", test_travel_without_ink_is_kept);
    g_test_add_func("/code/mend/slopes", test_a_pen_that_moves_along_the_way_is_told);
    g_test_add_func("/code/mend/doubt", test_a_doubt_is_refused_with_both_readings);
    return g_test_run();
}
