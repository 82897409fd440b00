/* bench-faults-stage: a program, a profile and a virtual machine for each run of the campaign. */
#include "bench-faults.h"

#include "drawtrue/code.h"
#ifdef DT_CHIP
#include "chip.h"
#endif

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

/* A job ------------------------------------------------------------------------------------- */

/* The rig's own truth as a maker would have measured it, so that slack moves are in play. */
static const char profile_text[] = "[corrections]\nbacklash_x = 0:0.1 300:0.4\nbacklash_y = 0.45 "
                                   "mm\n[controller]\nreply_timeout = 3 s\n";

DtProfile *faults_make_profile(void)
{
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(profile_text, strlen(profile_text), "bench", &error);
    if (p == NULL)
        g_error("%s", error->message);
    return p;
}

static const DtBox bed = {20, 20, 270, 190}; /* what strokes keep to, mm */

/* Every other stroke begins as near to the end of the one before as hatch lines do, so that the
 * slack of the drives matters: a hop within it leaves the carriage where it was. */
static DtPoint start_of_stroke(const DtSequence *s, GRand *rand, DtBox starts)
{
    if (s->n_pts > 0 && g_rand_boolean(rand)) {
        const DtPoint hop = {g_rand_double_range(rand, -0.5, 0.5),
                             g_rand_double_range(rand, -0.5, 0.5)};
        return dt_point_add(s->pts[s->n_pts - 1], hop);
    }
    return dt_point(g_rand_double_range(rand, starts.x0, starts.x1),
                    g_rand_double_range(rand, starts.y0, starts.y1));
}

static void add_stroke(DtSequence *s, GRand *rand, DtBox starts, unsigned pen, size_t i)
{
    DtPoint at = start_of_stroke(s, rand, starts);
    dt_sequence_begin(s, pen, i);
    dt_sequence_point(s, at);
    double heading = g_rand_double_range(rand, 0, 2 * G_PI);
    const double bend = g_rand_double_range(rand, -0.3, 0.3);
    const double step = g_rand_double_range(rand, 0.3, 2);
    const int n = g_rand_int_range(rand, 1, 25);
    for (int k = 0; k < n; k++, heading += bend) {
        const DtPoint to = dt_point_add(at, dt_point(step * cos(heading), step * sin(heading)));
        if (!dt_box_contains(bed, to))
            heading += G_PI; /* back the way it came */
        at = dt_point_add(at, dt_point(step * cos(heading), step * sin(heading)));
        dt_sequence_point(s, at);
    }
}

char *faults_make_program(const DtProfile *p, GRand *rand, gboolean small, gsize *len)
{
    const DtBox starts = small ? (DtBox){45, 45, 75, 70} : (DtBox){60, 60, 220, 150};
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) moves = {0};
    g_autoptr(GError) error = NULL;
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    const int n = g_rand_int_range(rand, 8, 16);
    for (int i = 0; i < n; i++)
        add_stroke(&s, rand, starts, i * 2 >= n, (size_t)i);
    char *text = NULL;
    if (dt_machine_moves(p, &s, &moves, &error))
        text = dt_code_write(p, &moves, len, &error);
    if (text == NULL)
        g_error("%s", error->message);
    return text;
}

/* A run ------------------------------------------------------------------------------------- */

static void note_answer(const char *line, const char *answer, void *user)
{
    (void)line;
    (void)answer;
    g_atomic_int_inc(&((Stage *)user)->answered);
}

static gpointer serve(gpointer data)
{
    Stage *s = data;
    dt_rig_serve(s->rig, s->real_time, FALSE, &s->stop, NULL);
    return NULL;
}

void faults_serve_on(Stage *s)
{
    s->stop = 0;
    s->thread = g_thread_new("rig", serve, s);
}

static gboolean use_image(DtRig *r, const char *image, GError **error)
{
#ifdef DT_CHIP
    const DtChipOptions o = {.image = image, .seed = 1};
    return dt_rig_use_chip(r, &o, error);
#else
    (void)r;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "%s: built without the chip's simulator", image);
    return FALSE;
#endif
}

void faults_start_rig(Stage *s, const char *text, const char *image)
{
    g_autoptr(GError) error = NULL;
    /* A simulated chip's time is dear: the way home is short. */
    g_autofree char *whole =
        g_strconcat(text, image ? "[truth]\nstart_x = 4\nstart_y = 4\n" : "", NULL);
    s->rig = dt_rig_new_from_text(whole, "bench", &error);
    if (s->rig == NULL || (image && !use_image(s->rig, image, &error)) ||
        dt_rig_open_port(s->rig, &error) == NULL || !dt_rig_link_port(s->rig, s->link, &error))
        g_error("%s", error->message);
    s->answered = 0;
    dt_rig_listen(s->rig, note_answer, s);
    faults_serve_on(s);
}

/* What has come of it so far; the rig no longer serves. */
void faults_look_at_rig(Stage *s, Ink *ink, DtRigFigures *figures)
{
    g_usleep(150000); /* what it was told it does still */
    s->stop = 1;
    g_thread_join(s->thread);
    faults_take_ink(s->rig, ink);
    dt_rig_figures(s->rig, figures);
}

void faults_stop_rig(Stage *s, Ink *ink, DtRigFigures *figures)
{
    faults_look_at_rig(s, ink, figures);
    g_clear_pointer(&s->rig, dt_rig_free);
}

void faults_make_stage(Stage *s, const char *text, gsize len)
{
    s->folder = g_dir_make_tmp("drawtrue-faults-XXXXXX", NULL);
    s->link = g_build_filename(s->folder, "port", NULL);
    s->program = g_build_filename(s->folder, "job.nc", NULL);
    s->journal = g_build_filename(s->folder, "journal.db", NULL);
    s->profile = g_build_filename(s->folder, "my.ini", NULL);
    g_assert_true(g_file_set_contents(s->profile, profile_text, -1, NULL));
    g_assert_true(g_file_set_contents(s->program, text, (gssize)len, NULL));
}

void faults_clear_stage(Stage *s)
{
    g_autoptr(GDir) dir = g_dir_open(s->folder, 0, NULL);
    for (const char *name; dir != NULL && (name = g_dir_read_name(dir)) != NULL;) {
        g_autofree char *path = g_build_filename(s->folder, name, NULL);
        g_unlink(path);
    }
    g_rmdir(s->folder);
    g_free(s->folder);
    g_free(s->link);
    g_free(s->program);
    g_free(s->journal);
    g_free(s->profile);
}
