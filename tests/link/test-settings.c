/* settings: what our board is set to, read and written over its port, on the virtual machine. */
#include "fake.h"

#include "drawtrue/base.h"
#include "drawtrue/rig.h"
#include "drawtrue/settings.h"
#include "support/drawing.h"
#include "support/folder.h"

#include <math.h>
#include <pty.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

typedef struct {
    DtRig *rig;
    GThread *thread;
    char *port;
    volatile int stop;
} Bench;

static gpointer serve(gpointer user)
{
    Bench *b = user;
    g_autoptr(GError) error = NULL;
    dt_rig_serve(b->rig, FALSE, FALSE, &b->stop, &error);
    g_assert_no_error(error);
    return NULL;
}

static void start(Bench *b)
{
    static const char text[] =
        "[controller]\nsteps_per_mm_x=101\nsteps_per_mm_y=102\nspeed_x=15\nspeed_y=12\n"
        "acceleration_x=150\nacceleration_y=100\npull_in_x=4\npull_in_y=3\ntravel_x=300\n"
        "travel_y=220\nhome_speed=8\npull_off=2\npen_up_us=1000\npen_us_per_s=10\n";
    g_autoptr(GError) error = NULL;
    *b = (Bench){.rig = dt_rig_new_from_text(text, "rig", &error)};
    g_assert_no_error(error);
    b->port = g_strdup(dt_rig_open_port(b->rig, &error));
    g_assert_no_error(error);
    b->thread = g_thread_new("rig", serve, b);
}

static void end(Bench *b)
{
    b->stop = TRUE;
    g_thread_join(b->thread);
    dt_rig_free(b->rig);
    g_free(b->port);
}

static const DtBoardSetting *find(const GArray *all, unsigned parameter)
{
    for (guint i = 0; i < all->len; i++)
        if (g_array_index(all, DtBoardSetting, i).parameter == parameter)
            return &g_array_index(all, DtBoardSetting, i);
    g_error("no parameter %u", parameter);
}

static GArray *settings(const DtProfile *p, const Bench *b, gboolean send)
{
    g_autoptr(GError) error = NULL;
    GArray *all = dt_link_settings(p, b->port, send, &error);
    g_assert_no_error(error);
    return all;
}

static DtProfile *like_the_board(void)
{
    DtProfile *p = dt_profile_new();
    static const double of[2][5] = {{101, 15, 150, 4, 300}, {102, 12, 100, 3, 220}};
    for (int i = 0; i < 2; i++) {
        p->steps_per_mm[i] = of[i][0];
        p->speed[i] = of[i][1];
        p->acceleration[i] = of[i][2];
        p->pull_in[i] = of[i][3];
        p->travel[i] = of[i][4];
    }
    p->home_speed = 8;
    p->home_pull_off = 2;
    return p;
}

/* By the numbers of docs/board.md. */
static void test_each_setting_is_read(void)
{
    static const struct {
        unsigned parameter;
        const char *name;
        double board;
    } wanted[] = {
        {411, "steps_per_mm_x", 101}, {412, "speed_x", 15},         {413, "acceleration_x", 150},
        {414, "pull_in_x", 4},        {415, "travel_x", 300},       {416, "switch_opens_x", 0},
        {417, "motor_reversed_x", 0}, {421, "steps_per_mm_y", 102}, {422, "speed_y", 12},
        {423, "acceleration_y", 100}, {424, "pull_in_y", 3},        {425, "travel_y", 220},
        {426, "switch_opens_y", 0},   {427, "motor_reversed_y", 0}, {431, "home_speed", 8},
        {432, "home_pull_off", 2},    {441, "pen_up_pulse", 1000},  {442, "pen_pulse_per_s", 10}};
    Bench b;
    start(&b);
    g_autoptr(DtProfile) p = like_the_board();
    p->speed[1] = 12.5;
    p->switch_opens[0] = TRUE;
    p->switch_s = 0.003;
    p->pen_up_pulse_s = 0.0012;
    p->pen_pulse_per_s = 11e-6;
    p->pen_fall_s = 0.25;
    p->motor_rest_s = 90;
    g_autoptr(GArray) all = settings(p, &b, FALSE);
    for (size_t i = 0; i < G_N_ELEMENTS(wanted); i++) {
        const DtBoardSetting *s = find(all, wanted[i].parameter);
        g_assert_cmpstr(s->name, ==, wanted[i].name);
        g_assert_cmpfloat_with_epsilon(s->board, wanted[i].board, 1e-4);
        g_assert_false(s->written);
        g_assert_true(s->differs == (fabs(s->profile - s->board) > 1e-4));
    }
    g_assert_true(find(all, 422)->differs && find(all, 416)->differs);
    static const struct {
        unsigned parameter;
        const char *unit;
        double profile;
    } in_units[] = {
        {433, "us", 3000}, {441, "us", 1200}, {442, "us", 11}, {446, "ms", 250}, {452, "s", 90}};
    for (size_t i = 0; i < G_N_ELEMENTS(in_units); i++) {
        g_assert_cmpfloat(find(all, in_units[i].parameter)->profile, ==, in_units[i].profile);
        g_assert_cmpstr(find(all, in_units[i].parameter)->unit, ==, in_units[i].unit);
    }
    for (unsigned axis = 411; axis <= 421; axis += 10) /* all others are alike */
        for (unsigned k = 0; k < 5; k++)
            g_assert_true(find(all, axis + k)->differs == (axis + k == 422));
    end(&b);
}

/* What differs is written and read back, nothing else; the next time nothing differs. */
static void test_what_differs_is_written(void)
{
    Bench b;
    start(&b);
    g_autoptr(DtProfile) p = like_the_board();
    p->speed[0] = 14.25;
    p->travel[1] = 201;
    p->home_speed = 7.5;
    p->motor_reversed[1] = TRUE;
    g_autoptr(GArray) before = settings(p, &b, FALSE);
    g_autoptr(GArray) all = settings(p, &b, TRUE);
    g_autoptr(GArray) after = settings(p, &b, FALSE);
    g_assert_cmpuint(all->len, ==, before->len);
    for (guint i = 0; i < all->len; i++) {
        const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        g_assert_true(s->written == find(before, s->parameter)->differs);
        g_assert_false(find(after, s->parameter)->differs);
    }
    static const unsigned changed[] = {412, 425, 431, 427};
    for (size_t i = 0; i < G_N_ELEMENTS(changed); i++)
        g_assert_true(find(all, changed[i])->written);
    g_assert_false(find(all, 411)->written);
    end(&b);
}

/* A board counts in single precision: a millionth of a value is none of its business. */
static void test_what_a_board_cannot_tell_is_alike(void)
{
    static const struct {
        double x;
        gboolean differs;
    } cases[] = {
        {300, FALSE}, {300.0003, FALSE}, {299.9997, FALSE}, {300.0005, TRUE}, {299.9995, TRUE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b;
        start(&b);
        g_autoptr(DtProfile) p = like_the_board();
        p->travel[0] = cases[i].x;
        g_autoptr(GArray) all = settings(p, &b, FALSE);
        g_assert_true(find(all, 415)->differs == cases[i].differs);
        end(&b);
    }
}

static void test_what_cannot_be_is_an_error(void)
{
    Bench b;
    start(&b);
    g_autoptr(DtProfile) p = like_the_board();
    g_autoptr(GError) error = NULL;
    p->travel[0] = 1e6;
    g_assert_null(dt_link_settings(p, b.port, TRUE, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "the board refuses #415=1000000.0000: refused"));
    g_clear_error(&error);
    g_assert_null(dt_link_settings(p, "/no/such/port", FALSE, &error));
    g_assert_nonnull(error);
    g_clear_error(&error);
    g_free(p->dialect.ask_state);
    p->dialect.ask_state = g_strdup("");
    g_assert_null(dt_link_settings(p, b.port, FALSE, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "answer that our own board would give"));
    end(&b);
}

/* A board of another kind is told nothing more, and one that moves is left alone. */
static void test_another_board_is_not_set(void)
{
    static const struct {
        FakeFaults faults;
        const char *says;
        gboolean answers; /* the question for its state, of which alone it is asked otherwise */
    } cases[] = {
        {{.deaf_to_ask = TRUE}, "not an answer that our own board would give", FALSE},
        {{.silent_from = 1}, "not an answer that our own board would give", TRUE},
        {{.greeting = "hello"},
         "not an answer that our own board would give",
         TRUE}, /* accepts, and tells nothing */
        {{.refuse_at = 1}, "the board refuses #411=#411: refused", TRUE},
        {{.held = TRUE}, "the machine is moving; let it finish, or abandon what it does", FALSE},
    };
    g_autoptr(DtProfile) p = like_the_board();
    p->dialect.reply_timeout_s = 0.3;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        Fake *f = fake_new(&cases[i].faults);
        g_assert_null(dt_link_settings(p, fake_port(f), TRUE, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        if (strstr(error->message, cases[i].says) == NULL)
            g_test_fail_printf("%zu: %s", i, error->message);
        fake_stop(f);
        g_assert_cmpuint(fake_executed(f)->len, <=, cases[i].answers ? 1 : 0);
        fake_free(f);
    }
}

/* Our board as it might be: it refuses one parameter, keeps its own value of another, does not answer when a
 * third is written, and stores the rest. */
typedef struct {
    int fd;
    double value[500];
    unsigned refuses, keeps, ignores, writes[500], answered;
} Stubborn;

enum { MOST_WRITES = 9 }; /* of one parameter, after which it falls silent */

static void answer_line(Stubborn *b, const char *text)
{
    unsigned number, other;
    double value;
    if (sscanf(text, "#%u=#%u", &number, &other) != 2) {
        g_assert_cmpint(sscanf(text, "#%u=%lf", &number, &value), ==, 2);
        if (++b->writes[number] > MOST_WRITES || number == b->ignores)
            return;
        if (number == b->refuses) {
            dprintf(b->fd, "refused %u out of range\n", ++b->answered);
            return;
        }
        if (number != b->keeps)
            b->value[number] = value;
    }
    dprintf(b->fd, "parameter %u %.4f\ntaken %u\n", number, b->value[number], ++b->answered);
}

static gpointer play_stubborn(gpointer user)
{
    Stubborn *b = user;
    g_autoptr(GString) line = g_string_new(NULL);
    char c;
    while (read(b->fd, &c, 1) == 1) {
        if (c == '\005')
            dprintf(b->fd, "state still x 0.000 y 0.000 pen up line 0 switch --\n");
        else if (c != '\n')
            g_string_append_c(line, c);
        else {
            answer_line(b, line->str);
            g_string_truncate(line, 0);
        }
    }
    return NULL;
}

static GArray *send_to(Stubborn *b, const DtProfile *p, GError **error)
{
    char path[64];
    int own;
    g_assert_cmpint(openpty(&b->fd, &own, path, NULL, NULL), ==, 0);
    GThread *thread = g_thread_new("board", play_stubborn, b);
    GArray *all = dt_link_settings(p, path, TRUE, error);
    close(own);
    g_thread_join(thread);
    close(b->fd);
    return all;
}

/* All others are written, once. What is refused is tried again for as long as others are still accepted, since
 * it may depend on them, and is told in the end; what is not kept differs still. */
static void test_what_is_refused_or_not_kept_ends(void)
{
    enum { OTHER = 414 };
    static const struct {
        unsigned refuses, keeps, times;
    } cases[] = {{411, 412, 2}, {452, 412, 2}, {411, 0, 2}, {0, 412, 1}, {0, 0, 0}};
    g_autoptr(DtProfile) p = like_the_board();
    p->dialect.reply_timeout_s = 1;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        Stubborn b = {.refuses = cases[i].refuses, .keeps = cases[i].keeps};
        g_autoptr(GArray) all = send_to(&b, p, &error);
        g_assert_cmpuint(b.writes[OTHER], ==, 1);
        g_assert_cmpfloat(b.value[OTHER], ==, p->pull_in[0]);
        g_assert_cmpuint(b.writes[b.refuses], ==, b.refuses ? 2 : 0);
        g_assert_cmpuint(b.writes[b.keeps], ==, b.keeps ? cases[i].times : 0);
        g_assert_true((all == NULL) == (b.refuses != 0));
        if (b.refuses != 0) {
            g_autofree char *says = g_strdup_printf("the board refuses #%u=", b.refuses);
            g_assert_nonnull(strstr(error->message, says));
            continue;
        }
        for (guint k = 0; k < all->len; k++) {
            const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, k);
            g_assert_true(s->written == (s->differs && s->parameter != b.keeps));
        }
    }
}

/* Nobody knows what a board has taken that does not answer: it is sent nothing more. */
static void test_a_board_that_falls_silent_is_sent_nothing_more(void)
{
    g_autoptr(DtProfile) p = like_the_board();
    g_autoptr(GError) error = NULL;
    Stubborn b = {.ignores = 413};
    p->dialect.reply_timeout_s = 0.3;
    g_assert_null(send_to(&b, p, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "not an answer that our own board would give"));
    for (unsigned k = 0; k < G_N_ELEMENTS(b.writes); k++)
        g_assert_cmpuint(b.writes[k], ==, k >= 411 && k <= 413);
}

/* Before a run -------------------------------------------------------------------------------- */

static void hear(const DtEvent *e, void *user)
{
    if (e->kind == DT_EVENT_FOUND)
        g_string_append_printf(user, "%s\n", e->text);
}

/* What the session finds before it draws a stroke on this board. */
static char *found_by_a_run(const DtProfile *p, const Bench *b)
{
    static const char text[] = "G21\nG90\nM5\nG28\nG0X10Y10\nM3S40\nG1X12F600\nM5\nM2\n";
    g_autoptr(GError) error = NULL;
    GString *found = g_string_new(NULL);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *program = g_build_filename(folder, "job.nc", NULL),
                    *journal = g_build_filename(folder, "journal.db", NULL);
    g_assert_true(g_file_set_contents(program, text, -1, NULL));
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE};
    drawing_program(p, b->port, program, &o, hear, found, &error);
    g_assert_no_error(error);
    g_assert_true(folder_remove(folder));
    return g_string_free(found, FALSE);
}

/* Each setting that differs by its name, with what it is and what it should be; the run goes on all the same. */
static void test_a_run_tells_what_differs(void)
{
    static const char differ[] =
        "the board's settings differ from the profile: speed_x is 15 and not 14.25, "
        "motor_reversed_y is 0 and not 1; 'drawtrue machine --send' writes them\n";
    Bench b;
    start(&b);
    g_autoptr(DtProfile) p = like_the_board();
    p->dialect.settings = TRUE;
    g_autoptr(GArray) all = settings(p, &b, TRUE); /* those too that are not named here */
    g_autofree char *alike = found_by_a_run(p, &b);
    g_assert_cmpstr(alike, ==, "");
    p->speed[0] = 14.25;
    p->motor_reversed[1] = TRUE;
    g_autofree char *apart = found_by_a_run(p, &b);
    g_assert_cmpstr(apart, ==, differ);
    p->dialect.settings = FALSE;
    g_autofree char *unasked = found_by_a_run(p, &b);
    g_assert_cmpstr(unasked, ==, "");
    end(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/settings/read", test_each_setting_is_read);
    g_test_add_func("/link/settings/written", test_what_differs_is_written);
    g_test_add_func("/link/settings/alike", test_what_a_board_cannot_tell_is_alike);
    g_test_add_func("/link/settings/refused", test_what_cannot_be_is_an_error);
    g_test_add_func("/link/settings/another", test_another_board_is_not_set);
    g_test_add_func("/link/settings/not-kept", test_what_is_refused_or_not_kept_ends);
    g_test_add_func("/link/settings/silent", test_a_board_that_falls_silent_is_sent_nothing_more);
    g_test_add_func("/link/settings/run", test_a_run_tells_what_differs);
    return g_test_run();
}
