/* Our reader against the small reference reader in Python, which was written from the published
 * report alone: both land on the same points for every sound program of the plain controller. */
#include "drawtrue/code.h"

#include <math.h>
#include <string.h>

static const char *script, *folder;

static void add_point(GArray *points, double x, double y)
{
    DtPoint p = {x, y};
    DtPoint *last = points->len ? &g_array_index(points, DtPoint, points->len - 1) : NULL;
    if (last == NULL || last->x != x || last->y != y)
        g_array_append_val(points, p);
}

static void on_move(const DtMove *m, size_t line, void *user)
{
    (void)line;
    if (m->kind == DT_MOVE_TRAVEL || m->kind == DT_MOVE_DRAW || m->kind == DT_MOVE_HOME)
        add_point(user, m->to.x, m->to.y);
}

static GArray *read_ours(const char *path)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_autoptr(DtProfile) p = dt_profile_new();
    DtInspection i;
    DtJudgeOptions o = {.listener = on_move, .user = points};
    add_point(points, 0, 0);
    g_assert_true(dt_code_judge(p, path, &o, &i, NULL));
    dt_inspection_clear(&i);
    return points;
}

static GArray *read_reference(const char *path)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    const char *argv[] = {"python3", script, path, NULL};
    g_autofree char *out = NULL;
    int status = 0;
    g_autoptr(GError) error = NULL;
    g_spawn_sync(NULL, (char **)argv, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, &out, NULL, &status,
                 &error);
    g_assert_no_error(error);
    g_assert_true(g_spawn_check_wait_status(status, NULL));
    add_point(points, 0, 0);
    g_auto(GStrv) lines = g_strsplit(out, "\n", -1);
    for (char **l = lines; **l; l++) {
        char *y;
        double x = g_ascii_strtod(*l, &y);
        add_point(points, x, g_ascii_strtod(y, NULL));
    }
    return points;
}

static void compare_one(const char *program)
{
    g_autofree char *path = g_build_filename(folder, program, NULL);
    g_autoptr(GArray) ours = read_ours(path), reference = read_reference(path);
    g_assert_cmpuint(ours->len, ==, reference->len);
    for (guint i = 0; i < ours->len; i++) {
        DtPoint a = g_array_index(ours, DtPoint, i), b = g_array_index(reference, DtPoint, i);
        if (!(fabs(a.x - b.x) <= 1e-6 && fabs(a.y - b.y) <= 1e-6))
            g_error("%s: point %u is %g %g here, %g %g there", program, i, a.x, a.y, b.x, b.y);
    }
}

static void test_both_readers_land_on_the_same_points(void)
{
    g_autofree char *list = g_build_filename(folder, "expected.txt", NULL), *text = NULL;
    g_assert_true(g_file_get_contents(list, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    int n = 0;
    for (char **l = lines; *l; l++) {
        g_auto(GStrv) fields = g_strsplit(*l, " ", -1);
        if (g_str_has_prefix(*l, "sound/") && strcmp(fields[1], "plain") == 0) {
            compare_one(fields[0]);
            n++;
        }
    }
    g_assert_cmpint(n, >=, 30);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    script = argv[1];
    folder = argv[2];
    g_test_add_func("/outside/code/reference-reader", test_both_readers_land_on_the_same_points);
    return g_test_run();
}
