/* learn: boards with one odd behaviour each are learnt over a real pseudo-terminal, and then a program
 * made for what was learnt is drawn on a fresh board of the same kind. What is learnt is right, or the
 * learning ends with what is wrong; what is drawn is right, or the run stops and says why. */
#include "learn-cases.h"

#include "drawtrue/code.h"
#include "link/learn/learn.h"
#include "support/drawing.h"
#include "support/folder.h"

#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

/* Learning ---------------------------------------------------------------------------------- */

typedef struct {
    Board *board;
    int fd;
} Wire;

static gboolean wire_write(void *user, const char *bytes, gsize n, GError **error)
{
    (void)error;
    return write(((Wire *)user)->fd, bytes, n) == (gssize)n;
}

static gssize wire_read(void *user, char *to, gsize room, double wait_s, GError **error)
{
    struct pollfd p = {((Wire *)user)->fd, POLLIN, 0};
    (void)error;
    return poll(&p, 1, (int)(wait_s * 1000 / INVENTED_FASTER) + 1) > 0 ? read(p.fd, to, room) : 0;
}

static gboolean wire_reopen(void *user, GError **error)
{
    (void)error;
    invented_reset(((Wire *)user)->board);
    return TRUE;
}

static gint64 wire_now_us(void *user)
{
    (void)user;
    return INVENTED_FASTER * g_get_monotonic_time();
}

static int open_port(const char *path)
{
    const int fd = open(path, O_RDWR | O_NOCTTY);
    g_assert_cmpint(fd, >=, 0);
    return fd;
}

typedef struct {
    const Case *of;
    GString *told; /* what it says while it learns */
    DtLearnt learnt;
    GError *error;   /* of the learning */
    double seconds;  /* of the board's clock */
    unsigned starts; /* of the board */
    gboolean pen_down;
    GPtrArray *want, *got; /* ink */
    gboolean drawn;
    char *said; /* by the run that stopped */
} Play;

static void tell(const char *text, void *user)
{
    g_string_append_printf(((Play *)user)->told, "# %s: %s\n", ((Play *)user)->of->name, text);
}

static void learn(Play *t)
{
    Wire wire = {.board = invented_new(&t->of->kind)};
    wire.fd = open_port(invented_port(wire.board));
    g_autofree char *text = learn_case_profile(t->of);
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "my.ini", NULL);
    const DtLearnJob job = {.wire = {wire_write, wire_read, wire_reopen, wire_now_us, &wire},
                            .boot_s = 12,
                            .may_move = TRUE,
                            .tell = tell,
                            .user = t};
    const gint64 start = wire_now_us(NULL);
    dt_learn_controller(p, &job, &t->learnt, &t->error);
    t->seconds = (double)(wire_now_us(NULL) - start) / 1e6;
    invented_stop(wire.board);
    t->starts = invented_resets(wire.board);
    t->pen_down = invented_pen_is_down(wire.board);
    close(wire.fd);
    invented_free(wire.board);
}

/* Drawing ----------------------------------------------------------------------------------- */

static char *make_program(const DtProfile *p, const char *path, GError **error)
{
    static const DtPoint points[][3] = {{{10, 10}, {12, 10}, {12, 12}},
                                        {{14, 10}, {15.5, 11.25}, {15.5, 12}},
                                        {{10, 14}, {11, 15}, {12.125, 14}}};
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) moves = {0};
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        dt_sequence_begin(&s, 0, i);
        for (size_t k = 0; k < G_N_ELEMENTS(points[i]); k++)
            dt_sequence_point(&s, points[i][k]);
    }
    gsize len;
    char *text =
        dt_machine_moves(p, &s, &moves, error) ? dt_code_write(p, &moves, &len, error) : NULL;
    if (text != NULL)
        g_assert_true(g_file_set_contents(path, text, (gssize)len, NULL));
    return text;
}

/* A fresh board draws a program that was made with what is learnt. */
static gboolean draw(Play *t, const char *folder, GError **error)
{
    g_autofree char *path = g_build_filename(folder, "my.ini", NULL);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    g_autofree char *before = learn_case_profile(t->of);
    g_assert_true(g_file_set_contents(path, before, -1, NULL));
    g_autoptr(DtProfile) old = dt_profile_load(path, error);
    if (!dt_link_note_learnt(old, path, path, &t->learnt, "2026-05-03", error))
        return FALSE;
    g_autoptr(DtProfile) p = dt_profile_load(path, error);
    if (p == NULL || !dt_code_check_profile(p, error))
        return FALSE;
    g_autofree char *text = make_program(p, program, error);
    if (text == NULL)
        return FALSE;
    t->want = invented_ink_of(&t->of->kind, text);
    Board *b = invented_new(&t->of->kind);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE, .replug_s = 1};
    const gboolean good = drawing_program(p, invented_port(b), program, &o, NULL, NULL, error);
    g_usleep(100000); /* what it was told it does still */
    invented_stop(b);
    t->got = g_ptr_array_ref(invented_ink(b));
    invented_free(b);
    return good;
}

static gpointer play(gpointer data)
{
    Play *t = data;
    learn(t);
    if (t->error != NULL)
        return NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-learnt-XXXXXX", NULL);
    g_autoptr(GMainContext) context = g_main_context_new();
    g_main_context_push_thread_default(context);
    g_autoptr(GError) error = NULL;
    t->drawn = draw(t, folder, &error);
    t->said = error ? g_strdup(error->message) : NULL;
    g_main_context_pop_thread_default(context);
    g_assert_true(folder_remove(folder));
    return NULL;
}

/* Judging ----------------------------------------------------------------------------------- */

static gboolean holds_line(const GPtrArray *ink, const char *line)
{
    return g_ptr_array_find_with_equal_func((GPtrArray *)ink, line, g_str_equal, NULL);
}

static guint lines_missing(const GPtrArray *of, const GPtrArray *in)
{
    guint n = 0;
    for (guint i = 0; i < of->len; i++)
        n += !holds_line(in, of->pdata[i]);
    return n;
}

static void judge_drawing(const Play *t)
{
    const Want *w = &t->of->want;
    if (t->drawn)
        g_assert_cmpuint(t->got->len, >=, 6);
    if (t->got != NULL)
        g_assert_cmpuint(lines_missing(t->got, t->want), ==,
                         0); /* nothing where none was planned */
    if (t->drawn)
        g_assert_cmpuint(lines_missing(t->want, t->got), ==, 0);
    else
        g_assert_nonnull(t->said);
    if (!t->drawn && !w->run_may_stop)
        g_error("%s: the run stopped: %s", t->of->name, t->said);
}

static void judge_learning(const Play *t)
{
    g_assert_cmpfloat(t->seconds, <, 400);
    g_assert_false(t->pen_down);
    learn_case_judge(t->of, &t->learnt, t->error, t->told->str);
}

static Play *plays;
static GThread **threads;

static void judge(gconstpointer data)
{
    Play *t = (Play *)data;
    const size_t i = (size_t)(t - plays);
    if (threads[i] == NULL) {
        t->told = g_string_new(NULL);
        threads[i] = g_thread_new(t->of->name, play, t);
    }
    g_thread_join(threads[i]);
    if (g_test_verbose())
        g_print("%s# %s: learnt in %.1f s of its clock, %u starts%s%s; %s %s\n", t->told->str,
                t->of->name, t->seconds, t->starts, t->error ? ": " : "",
                t->error ? t->error->message : "",
                t->drawn ? "drawn" : "stopped:", t->said ? t->said : "");
    judge_learning(t);
    if (t->error == NULL)
        judge_drawing(t);
    dt_learnt_clear(&t->learnt);
    g_clear_error(&t->error);
    g_string_free(t->told, TRUE);
    g_clear_pointer(&t->want, g_ptr_array_unref);
    g_clear_pointer(&t->got, g_ptr_array_unref);
    g_free(t->said);
}

int main(int argc, char **argv)
{
    const gboolean all = argc == 1 || (argc == 2 && strcmp(argv[1], "--tap") == 0);
    g_test_init(&argc, &argv, NULL);
    plays = g_new0(Play, n_learn_cases);
    threads = g_new0(GThread *, n_learn_cases);
    for (size_t i = 0; i < n_learn_cases; i++) {
        g_autofree char *name = g_strdup_printf("/link/learn-boards/%s", learn_cases[i].name);
        plays[i] = (Play){.of = &learn_cases[i]};
        g_test_add_data_func(name, &plays[i], judge);
    }
    for (size_t i = 0; i < n_learn_cases && all; i++) { /* most of the time is waiting */
        plays[i].told = g_string_new(NULL);
        threads[i] = g_thread_new(learn_cases[i].name, play, &plays[i]);
    }
    const int status = g_test_run();
    g_free(plays);
    g_free(threads);
    return status;
}
