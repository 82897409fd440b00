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

/* What the reference reader prints for all programs at once, into *out, freed by the caller. */
static void run_reference(GPtrArray *paths, char **out)
{
    g_autoptr(GPtrArray) argv = g_ptr_array_new();
    g_ptr_array_add(argv, (gpointer) "python3");
    g_ptr_array_add(argv, (gpointer)script);
    for (guint i = 0; i < paths->len; i++)
        g_ptr_array_add(argv, paths->pdata[i]);
    g_ptr_array_add(argv, NULL);
    int status = 0;
    g_autoptr(GError) error = NULL;
    g_spawn_sync(NULL, (char **)argv->pdata, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, out, NULL,
                 &status, &error);
    g_assert_no_error(error);
    g_assert_true(g_spawn_check_wait_status(status, NULL));
}

/* The points of one program: its lines up to the next "# ". */
static GArray *read_points(const char *text)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    add_point(points, 0, 0);
    while (*text && *text != '#') {
        char *y, *end;
        double x = g_ascii_strtod(text, &y);
        add_point(points, x, g_ascii_strtod(y, &end));
        text = end + strspn(end, "\n");
    }
    return points;
}

static void compare_one(const char *path, const char *printed)
{
    g_autoptr(GArray) ours = read_ours(path), reference = read_points(printed);
    if (ours->len != reference->len)
        g_error("%s: %u points here, %u there", path, ours->len, reference->len);
    for (guint i = 0; i < ours->len; i++) {
        DtPoint a = g_array_index(ours, DtPoint, i), b = g_array_index(reference, DtPoint, i);
        if (!(fabs(a.x - b.x) <= 1e-6 && fabs(a.y - b.y) <= 1e-6))
            g_error("%s: point %u is %g %g here, %g %g there", path, i, a.x, a.y, b.x, b.y);
    }
}

/* The sound programs of the plain controller. */
static GPtrArray *list_programs(void)
{
    GPtrArray *paths = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *list = g_build_filename(folder, "expected.txt", NULL), *text = NULL;
    g_assert_true(g_file_get_contents(list, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **l = lines; *l; l++) {
        g_auto(GStrv) fields = g_strsplit(*l, " ", -1);
        if (g_str_has_prefix(*l, "sound/") && strcmp(fields[1], "plain") == 0)
            g_ptr_array_add(paths, g_build_filename(folder, fields[0], NULL));
    }
    return paths;
}

static void test_both_readers_land_on_the_same_points(void)
{
    g_autoptr(GPtrArray) paths = list_programs();
    g_assert_cmpuint(paths->len, >=, 30);
    g_autofree char *printed = NULL;
    run_reference(paths, &printed);
    for (guint i = 0; i < paths->len; i++) {
        g_autofree char *head = g_strdup_printf("# %s\n", (char *)paths->pdata[i]);
        const char *at = strstr(printed, head);
        g_assert_nonnull(at);
        compare_one(paths->pdata[i], at + strlen(head));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    script = argv[1];
    folder = argv[2];
    g_test_add_func("/outside/code/reference-reader", test_both_readers_land_on_the_same_points);
    return g_test_run();
}
