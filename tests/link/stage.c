/* stage: see stage.h. */
#include "stage.h"

#include "support/folder.h"

#include <math.h>
#include <string.h>

void stage_hear(const DtEvent *e, void *user)
{
    Stage *s = user;
    static const char letters[] = "-w-crxPR-d";
    g_assert_cmpfloat(e->at.done, >=, 0);
    g_assert_cmpfloat(e->at.done, <=, 1);
    if (e->kind == DT_EVENT_ENDED && e->error == NULL) {
        g_assert_cmpint(e->at.state, ==, DT_STATE_DONE);
        g_assert_cmpfloat(e->at.done, ==, 1);
        g_assert_cmpfloat(e->at.left_s, ==, 0);
        g_assert_cmpfloat_with_epsilon(e->at.ink_mm, s->ink_mm, 0.01);
        g_assert_cmpfloat_with_epsilon(e->at.travel_mm, s->travel_mm, 0.01);
    }
    if (letters[e->kind] != '-' && e->error == NULL)
        g_string_append_c(s->events, letters[e->kind]);
    if (e->kind == DT_EVENT_PEN_CHANGE)
        s->changes++;
    if (e->at.waits == DT_WAITS_FOR_PERSON && e->kind != DT_EVENT_PROGRESS)
        dt_run_request(s->run, DT_REQUEST_GO_ON, e->at.serial);
}

/* Strokes of `segments` segments each, in the writer's own form. */
static char *write_program(const char *folder, unsigned strokes, unsigned segments)
{
    GString *g = g_string_new("(drawtrue 0 for plotter, profile x)\nG21\nG90\nM5\nG4P0.01\nG28\n");
    for (unsigned i = 0; i < strokes; i++) {
        if (i == 2)
            g_string_append(g, "G0X0Y50\n(pen red)\nM0\n");
        g_string_append_printf(g, "(stroke %u pen %s)\nG0X%uY5\nM3S40\nG4P0.01\n", i + 1,
                               i < 2 ? "black" : "red", 10 + i);
        for (unsigned k = 1; k <= segments; k++)
            g_string_append_printf(g, k == 1 ? "G1X%uY%.1fF600\n" : "X%uY%.1f\n", 10 + i,
                                   5 + k * 0.1);
        g_string_append(g, "M5\nG4P0.01\n");
    }
    g_string_append(g, "G0X0Y0\nM2\n");
    char *path = g_build_filename(folder, "job.nc", NULL);
    g_assert_true(g_file_set_contents(path, g->str, (gssize)g->len, NULL));
    g_string_free(g, TRUE);
    return path;
}

/* What a controller is to execute of the program: its lines without comments. */
GPtrArray *stage_expected_lines(const char *program)
{
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(program, &text, NULL, NULL));
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    g_auto(GStrv) raw = g_strsplit(text, "\n", -1);
    for (char **l = raw; *l != NULL; l++)
        if (**l != '\0' && **l != '(')
            g_ptr_array_add(lines, g_strdup(*l));
    return lines;
}

/* From home to each stroke's lower end, by way of the pen change, and back. */
static double travel_of(unsigned strokes, unsigned segments)
{
    DtPoint at = {0, 0};
    double sum = 0;
    for (unsigned i = 0; i < strokes; i++) {
        const DtPoint change = {0, 50}, from = {10 + i, 5};
        if (i == 2) {
            sum += dt_point_distance(at, change);
            at = change;
        }
        sum += dt_point_distance(at, from);
        at = dt_point(from.x, 5 + segments * 0.1);
    }
    return sum + hypot(at.x, at.y);
}

void stage_set(Stage *s, const FakeFaults *faults, unsigned strokes, unsigned segments)
{
    *s = (Stage){0};
    s->profile = dt_profile_new();
    s->profile->dialect.line_check = faults->check;
    s->profile->dialect.reply_timeout_s = 1.5;
    s->folder = g_dir_make_tmp("drawtrue-run-XXXXXX", NULL);
    s->program = write_program(s->folder, strokes, segments);
    s->ink_mm = strokes * segments * 0.1;
    s->travel_mm = travel_of(strokes, segments);
    s->journal = g_build_filename(s->folder, "journal.db", NULL);
    s->fake = fake_new(faults);
    s->events = g_string_new(NULL);
    s->port = fake_port(s->fake);
    s->hear = stage_hear;
    s->options =
        (DtRunOptions){.journal = s->journal, .pens_ready = TRUE, .doubts = TRUE, .replug_s = 3};
}

static void stage_leave(Stage *s)
{
    g_clear_pointer(&s->run, dt_run_unref);
    g_clear_pointer(&s->session, dt_session_unref);
}

void stage_clear(Stage *s)
{
    stage_leave(s);
    fake_free(s->fake);
    dt_profile_free(s->profile);
    g_string_free(s->events, TRUE);
    g_assert_true(folder_remove(s->folder));
    g_free(s->folder);
    g_free(s->program);
    g_free(s->journal);
}

static gboolean draw(Stage *s, GError **error)
{
    const gboolean good = s->run != NULL && drawing_run(s->run, s->hear, s, error);
    fake_stop(s->fake);
    return good;
}

gboolean stage_draw(Stage *s, GError **error)
{
    stage_leave(s);
    s->session = dt_session_new(s->profile, s->port);
    s->run = dt_run_new(s->session, s->program, &s->options, error);
    return draw(s, error);
}

void stage_restart(Stage *s)
{
    stage_leave(s);
    fake_free(s->fake);
    s->fake = fake_new(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    s->port = fake_port(s->fake);
}

gboolean stage_resume(Stage *s, const DtResume *from, GError **error)
{
    stage_leave(s);
    s->session = dt_session_new(s->profile, s->port);
    s->run = dt_run_resume(s->session, from, &s->options, error);
    return draw(s, error);
}

/* The program's lines stand at the end of what was executed; before them only our own pen-up. */
void stage_assert_executed_once(Stage *s)
{
    g_autoptr(GPtrArray) want = stage_expected_lines(s->program);
    GPtrArray *got = fake_executed(s->fake);
    g_assert_cmpuint(got->len, >=, want->len);
    const guint ours = got->len - want->len;
    g_assert_cmpuint(ours, <=, 2);
    for (guint i = 0; i < want->len; i++)
        g_assert_cmpstr(got->pdata[ours + i], ==, want->pdata[i]);
}

/* Strokes executed, by their pen-downs' places: "10 11 12". */
char *stage_strokes_of(GPtrArray *lines)
{
    GString *s = g_string_new(NULL);
    const char *place = "";
    for (guint i = 0; i < lines->len; i++) {
        const char *l = lines->pdata[i];
        if (strncmp(l, "G0X", 3) == 0)
            place = l + 3;
        else if (strcmp(l, "M3S40") == 0)
            g_string_append_printf(s, "%.2s ", place);
    }
    return g_string_free(s, FALSE);
}
