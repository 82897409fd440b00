/* verdict: what stops a program before a run is what 'inspect' says of it, and what a run sends is the
 * same program. On every program of the collection, on every machine, and on sound ones with lines put
 * in that are wrong, odd or rare. */
#include "collection.h"
#include "machines.h"

#include "drawtrue/program.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static const char *folder;

static const char *const all_machines[] = {"plain",   "arcs",      "full",    "z",        "own",
                                           "laconic", "semicolon", "builtin", "bothways", "ranged"};

/* Lines that were judged one way by a run and another by 'inspect', and others of their kind. */
static const char *const odd_lines[] = {
    "M1",
    "M0",
    "M60",
    "/G1 X500",
    "/M3 S40",
    "X1 0 Y1 2.5",
    "G1 X[30+10] F600",
    "#1=20",
    "#1=20\nG0 X#1",
    "G0 X#2",
    "S500",
    "G1 X20 F-5",
    "F-5",
    "G4 P500",
    "G4 P-1",
    "G4",
    "G92 X0 Y0",
    "G92 X0\nG0 X-50",
    "G10 L2 P1 X5",
    "G10 L2 P1 X-50\nG0 X10",
    "G53 G0 X5",
    "G53 G0 X-5",
    "G54",
    "G55\nG0 X10",
    "G59",
    "G91\nG0 X-900\nG90",
    "G20\nG0 X20\nG21",
    "M6 T1",
    "M2",
    "M30\nG0 X5",
    "G81 X10 Y10 Z-1 R2",
    "G2 X20 Y20 I5",
    "G3 X20 Y20 R1",
    "G18",
    "G93",
    "(open",
    "X(here)5",
    "%",
    "N99 G0 X5",
    "N999999 G0 X5",
    "G0 X5 N3",
    "G0X5Y5",
    "G0X5 Y5 ; a remark",
    "G1 X1e2",
    "G0 X",
    "hello",
    "M3",
    "M3 S40",
    "M5",
    "M4 S40",
    "G28",
    "G0 X10 M0",
    "M3 S40 G1 X40 F600",
    "\xc3\xa9",
    "G1 X10 X20",
    "G0 G1 X5",
    "G38.2 X5",
    "G4 P0.1 M5",
};

static char *write_file(const char *text, gsize len)
{
    char *path;
    const int fd = g_file_open_tmp("drawtrue-XXXXXX.nc", &path, NULL);
    g_assert_cmpint(fd, >=, 0);
    g_close(fd, NULL);
    g_assert_true(g_file_set_contents(path, text, (gssize)len, NULL));
    return path;
}

/* What 'inspect' ends with 0 for. */
static gboolean inspect_passes(const DtProfile *p, const char *text, gsize len, DtInspection *i)
{
    g_assert_true(dt_code_judge_text(p, text, len, NULL, i, NULL));
    gboolean good = TRUE;
    for (size_t k = 0; k < i->n_findings; k++)
        good &= i->findings[k].rank == DT_FINDING_WASTE;
    return good;
}

/* Everything that a run would send, as a program. */
static GString *wire_of(DtProgram *g)
{
    GString *wire = g_string_new(NULL);
    DtProgramLine line;
    g_autoptr(GError) error = NULL;
    while (dt_program_next(g, &line, &error)) {
        g_assert_cmpuint(strlen(line.text), ==, line.len);
        g_assert_true(line.kind == DT_LINE_BLANK || line.len > 0);
        if (line.kind != DT_LINE_BLANK)
            g_string_append_printf(wire, "%s\n", line.text);
    }
    g_assert_no_error(error);
    return wire;
}

static void assert_sends_the_same(const DtProfile *p, DtProgram *g, const DtInspection *meant)
{
    DtInspection sent;
    g_autoptr(GString) wire = wire_of(g);
    dt_code_judge_text(p, wire->str, wire->len, NULL, &sent, NULL);
    if (sent.refused_lines > 0)
        g_error("refused: %s\nin\n%s", sent.findings[0].text, wire->str);
    g_assert_cmpfloat_with_epsilon(sent.ink_mm, meant->ink_mm, 1e-9 * (1 + meant->ink_mm));
    g_assert_cmpfloat_with_epsilon(sent.travel_mm, meant->travel_mm, 1e-9 * (1 + meant->travel_mm));
    g_assert_cmpfloat_with_epsilon(sent.time_s, meant->time_s, 1e-3 + 1e-4 * meant->time_s);
    g_assert_cmpuint(sent.lifts, ==, meant->lifts);
    dt_inspection_clear(&sent);
}

static size_t compared, passed;

static void compare(const DtProfile *p, const char *text, gsize len)
{
    DtInspection meant;
    DtProgramTotals totals;
    g_autoptr(GError) error = NULL;
    g_autofree char *path = write_file(text, len);
    g_autoptr(DtProgram) g = dt_program_open(p, path, &error);
    g_assert_no_error(error);
    const gboolean passes = inspect_passes(p, text, len, &meant);
    const gboolean runs = dt_program_check(g, FALSE, &totals, &error);
    if (passes != runs)
        g_error("inspect %s, the check before a run %s (%s):\n%s", passes ? "passes" : "refuses",
                runs ? "passes" : "refuses", error ? error->message : "", text);
    if (runs) {
        g_assert_cmpfloat_with_epsilon(totals.seconds, meant.time_s - meant.home_s, 0.1);
        g_assert_cmpuint(totals.strokes, ==, meant.lifts);
        assert_sends_the_same(p, g, &meant);
    }
    compared++;
    passed += runs;
    dt_inspection_clear(&meant);
    g_unlink(path);
}

static void compare_collection(const char *file)
{
    g_autoptr(GPtrArray) programs = collection_read(folder, file);
    for (guint i = 0; i < programs->len; i++) {
        const Program *program = programs->pdata[i];
        g_autoptr(DtProfile) own = machine_by_name(program->machine);
        compare(own, program->text, program->len);
        g_autoptr(DtProfile) other = machine_by_name(all_machines[i % G_N_ELEMENTS(all_machines)]);
        compare(other, program->text, program->len);
    }
}

static void test_the_collection(void)
{
    compare_collection("more-faulty.txt");
    compare_collection("more-sound.txt");
}

static const char *const sound = "G21 G90\nM5\nG4 P0.15\nG28\nG0 X10 Y10\nM3 S40\nG4 P0.15\n"
                                 "G1 X30 Y10 F600\nX30 Y30\nX10 Y10\nM5\nG4 P0.15\nG0 X50 Y20\n"
                                 "M3 S40\nG4 P0.15\nG1 X60 Y40 F600\nM5\nG4 P0.15\nG0 X0 Y0\nM2\n";

/* Each odd line at each place of a sound program, on a machine that takes much and one that takes
 * little. */
static void test_odd_lines_anywhere(void)
{
    static const char *const two[] = {"full", "builtin"};
    g_auto(GStrv) lines = g_strsplit(sound, "\n", -1);
    const guint n = g_strv_length(lines) - 1;
    for (size_t odd = 0; odd < G_N_ELEMENTS(odd_lines); odd++)
        for (guint at = 0; at <= n; at += 1 + odd % 3) {
            g_autoptr(GString) text = g_string_new(NULL);
            for (guint i = 0; i <= n; i++) {
                if (i == at)
                    g_string_append_printf(text, "%s\n", odd_lines[odd]);
                if (i < n)
                    g_string_append_printf(text, "%s\n", lines[i]);
            }
            g_autoptr(DtProfile) p = machine_by_name(two[(odd + at) % 2]);
            compare(p, text->str, text->len);
        }
}

/* Lines about as long as the standard and the machine allow, blanks and comments counted. */
static void test_long_lines(void)
{
    for (int limit = 0; limit <= 300; limit += 75)
        for (int length = 70; length <= 310; length++) {
            g_autoptr(DtProfile) p = machine_by_name("builtin");
            p->dialect.longest_line = limit;
            p->dialect.window = 0;
            p->dialect.line_check = limit == 75;
            g_autofree char *line = g_strdup_printf("G0 X20%*sY20\n", length - 9, "");
            g_autofree char *text =
                g_strconcat("G21 G90\nM5\nG4 P0.15\nG28\n", line, strstr(sound, "G0 X10"), NULL);
            compare(p, text, strlen(text));
        }
}

static void test_enough_were_compared(void)
{
    g_test_message("%zu compared, %zu pass", compared, passed);
    g_assert_cmpuint(compared, >=, 500);
    g_assert_cmpuint(passed, >=, 100);
    g_assert_cmpuint(compared - passed, >=, 100);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = argv[1];
    g_test_add_func("/code/verdict/collection", test_the_collection);
    g_test_add_func("/code/verdict/odd-lines", test_odd_lines_anywhere);
    g_test_add_func("/code/verdict/long-lines", test_long_lines);
    g_test_add_func("/code/verdict/zcount", test_enough_were_compared);
    return g_test_run();
}
