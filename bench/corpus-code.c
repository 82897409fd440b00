/* corpus-code: programs of real drawings, read back by three readers, and their size.
 *     ./dev corpus --code [N] [DIR]
 * Each drawing is planned on A5 and written, with arcs and without. Our reader, the controller core
 * and the reference reader in Python (tests/outside/rs274_reference.py, from the published report)
 * must land on the points that were written, within 1e-6 mm. */
#include "drawtrue/job.h"
#include "drawtrue/rig.h"
#include "support/files.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ARC_TOLERANCE 0.01
#define UART_BYTES_PER_S 11520.0 /* 115200 baud, 10 bits a byte */

typedef struct {
    size_t drawings, refused, lines, points, bad;
    double bytes[2], ink_mm, worst_ours, worst_core, worst_python, worst_others;
    double most_lines_s[2], most_bytes_s[2];
} Totals;

static void add_point(GArray *points, double x, double y)
{
    DtPoint p = {x, y};
    DtPoint *last = points->len ? &g_array_index(points, DtPoint, points->len - 1) : NULL;
    if (last == NULL || fabs(last->x - x) > 1e-7 || fabs(last->y - y) > 1e-7)
        g_array_append_val(points, p);
}

static void on_move(const DtMove *m, size_t line, void *user)
{
    (void)line;
    if (m->kind == DT_MOVE_TRAVEL || m->kind == DT_MOVE_DRAW)
        add_point(user, m->to.x, m->to.y);
}

static void on_target(const int64_t nm[2], void *user)
{
    add_point(user, (double)nm[0] / 1e6, (double)nm[1] / 1e6);
}

/* Homing has targets of its own; what counts begins after it. */
static void on_talk(const char *line, const char *answer, void *user)
{
    (void)answer;
    if (strncmp(line, "G28", 3) == 0) {
        g_array_set_size(user, 0);
        add_point(user, 0, 0);
    }
}

static GArray *read_ours(const DtProfile *p, const char *text, gsize len, Totals *t)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    add_point(points, 0, 0);
    DtInspection i;
    DtJudgeOptions o = {.listener = on_move, .user = points};
    if (dt_code_judge_text(p, text, len, &o, &i, NULL)) {
        t->lines += i.lines;
        for (size_t k = 0; k < i.n_findings; k++)
            if (i.findings[k].rank != DT_FINDING_WASTE && t->bad++ < 20)
                printf("  finding on line %d: %s\n", i.findings[k].line, i.findings[k].text);
        dt_inspection_clear(&i);
    }
    return points;
}

/* The core alone is of interest: coarse steps and fast axes make the physics quick. */
static const char rig_text[] =
    "[controller]\nsteps_per_mm_x = 2\nsteps_per_mm_y = 2\nspeed_x = 900\nspeed_y = 900\n"
    "acceleration_x = 90000\nacceleration_y = 90000\npull_in_x = 90\npull_in_y = 90\n"
    "[truth]\nbacklash_x = 0\nbacklash_y = 0\nover_low = 50\nstart_x = 1\nstart_y = 1\n";

static GArray *read_core(const char *text, gsize len, Totals *t)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    add_point(points, 0, 0);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(rig_text, "rig", NULL);
    if (rig == NULL)
        exit(3);
    dt_rig_watch(rig, on_target, points);
    dt_rig_listen(rig, on_talk, points);
    dt_rig_run_text(rig, text, len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    t->refused += f.lines_refused;
    return points;
}

static GArray *read_python(const char *path)
{
    GArray *points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    add_point(points, 0, 0);
    g_autofree char *command =
        g_strdup_printf("python3 tests/outside/rs274_reference.py '%s'", path);
    FILE *out = popen(command, "r");
    char line[128];
    while (out && fgets(line, sizeof line, out)) {
        char *y;
        double x = g_ascii_strtod(line, &y);
        add_point(points, x, g_ascii_strtod(y, NULL));
    }
    if (out == NULL || pclose(out) != 0)
        g_printerr("corpus-code: the reference reader failed on %s\n", path);
    return points;
}

/* The farthest that two readings are apart; infinite where one has more points. */
static double apart(const GArray *a, const GArray *b)
{
    double most = a->len == b->len ? 0 : INFINITY;
    for (guint i = 0; i < MIN(a->len, b->len); i++) {
        DtPoint p = g_array_index(a, DtPoint, i), q = g_array_index(b, DtPoint, i);
        most = MAX(most, MAX(fabs(p.x - q.x), fabs(p.y - q.y)));
    }
    return most;
}

/* Lines and bytes that a second of drawing takes at full feed, at its densest: over 32 lines. */
static void note_density(const DtProfile *p, const char *text, int kind, Totals *t)
{
    enum { SPAN = 32 };
    double lengths[SPAN] = {0}, bytes[SPAN] = {0}, length = 0, sum = 0, x = 0, y = 0;
    size_t n = 0;
    gboolean drawing = FALSE;
    double speed = MIN(p->speed[0], p->speed[1]);
    for (const char *l = text; *l; l = strchr(l, '\n') + 1) {
        size_t len = strcspn(l, "\n") + 1;
        if (*l == 'G')
            drawing = l[1] != '0' && l[1] != '4' && l[2] != '8' && l[2] != '1' && l[2] != '0';
        if (!drawing || *l == 'F' || *l == '(' || *l == 'M') {
            if (*l == 'M')
                drawing = FALSE;
            const char *px = memchr(l, 'X', len), *py = memchr(l, 'Y', len);
            x = px ? g_ascii_strtod(px + 1, NULL) : x;
            y = py ? g_ascii_strtod(py + 1, NULL) : y;
            continue;
        }
        const char *px = memchr(l, 'X', len), *py = memchr(l, 'Y', len);
        double to_x = px ? g_ascii_strtod(px + 1, NULL) : x;
        double to_y = py ? g_ascii_strtod(py + 1, NULL) : y;
        size_t at = n++ % SPAN;
        length += hypot(to_x - x, to_y - y) - lengths[at];
        sum += (double)len - bytes[at];
        lengths[at] = hypot(to_x - x, to_y - y);
        bytes[at] = (double)len;
        x = to_x;
        y = to_y;
        if (n >= SPAN && length > 0) {
            t->most_lines_s[kind] = MAX(t->most_lines_s[kind], SPAN / (length / speed));
            t->most_bytes_s[kind] = MAX(t->most_bytes_s[kind], sum / (length / speed));
        }
    }
}

static void compare(const DtProfile *p, const char *text, gsize len, const char *file, Totals *t)
{
    g_autoptr(GArray) ours = read_ours(p, text, len, t), core = read_core(text, len, t);
    g_autoptr(GArray) python = read_python(file);
    double off_core = apart(ours, core), off_python = apart(ours, python);
    t->worst_others = MAX(t->worst_others, apart(core, python));
    if (!(off_core <= 1e-6) || !(off_python <= 1e-6))
        printf("  readers differ: core by %g mm, reference by %g mm (%u, %u and %u points)\n",
               off_core, off_python, ours->len, core->len, python->len);
    t->worst_core = MAX(t->worst_core, off_core);
    t->worst_python = MAX(t->worst_python, off_python);
    t->points += ours->len;
}

/* Where the moves themselves were to go, against what our reader makes of their text. */
static void compare_moves(const DtMoves *m, const DtProfile *p, const char *text, gsize len,
                          Totals *t)
{
    g_autoptr(GArray) ours = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    DtInspection i;
    if (!dt_code_inspect_text(p, text, len, &i, NULL))
        return;
    size_t k = 0;
    DtPoint at = {0, 0};
    for (size_t j = 0; j < m->n; j++) {
        if (m->m[j].kind != DT_MOVE_TRAVEL && m->m[j].kind != DT_MOVE_DRAW &&
            m->m[j].kind != DT_MOVE_SLACK)
            continue;
        while (k < i.moves.n && dt_point_distance(at, m->m[j].to) > 0.0008) {
            DtMoveKind kind = i.moves.m[k].kind;
            if (kind == DT_MOVE_TRAVEL || kind == DT_MOVE_DRAW || kind == DT_MOVE_HOME)
                at = i.moves.m[k].to;
            k++;
        }
        t->worst_ours = MAX(t->worst_ours, dt_point_distance(at, m->m[j].to));
    }
    dt_inspection_clear(&i);
}

static gboolean do_drawing(DtProfile *p, const char *path, const char *file, Totals *t,
                           GError **error)
{
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 1000;
    if (!dt_job_plan(p, path, &o, &job, NULL, error))
        return FALSE;
    for (int arcs = 0; arcs < 2; arcs++) {
        gsize len;
        DtWriteOptions options = {.arc_tolerance = arcs ? ARC_TOLERANCE : 0};
        g_autofree char *text = dt_code_write_as(p, &job.moves, &options, &len, error);
        if (text == NULL)
            return FALSE;
        t->bytes[arcs] += (double)len;
        note_density(p, text, arcs, t);
        if (arcs)
            continue;
        if (!dt_base_write_file(file, text, len, error))
            return FALSE;
        compare(p, text, len, file, t);
        compare_moves(&job.moves, p, text, len, t);
    }
    t->ink_mm += job.times.ink_mm;
    t->drawings++;
    return TRUE;
}

static void print_totals(const Totals *t)
{
    printf("%zu drawings, %zu lines, %zu points; %zu lines refused by the core, %zu findings\n",
           t->drawings, t->lines, t->points, t->refused, t->bad);
    const struct {
        const char *pair;
        double mm;
    } pairs[] = {{"our reader and the controller core", t->worst_core},
                 {"our reader and the reference reader", t->worst_python},
                 {"the controller core and the reference reader", t->worst_others},
                 {"our reader and the moves, which the text rounds", t->worst_ours}};
    printf("%-50s %s\n", "", "farthest apart");
    for (size_t i = 0; i < G_N_ELEMENTS(pairs); i++)
        printf("%-50s %.1e mm\n", pairs[i].pair, pairs[i].mm);
    printf("%-14s %14s %16s %16s %14s\n", "", "bytes per mm", "lines/s at most", "bytes/s at most",
           "of 115200 baud");
    for (int arcs = 0; arcs < 2; arcs++)
        printf("%-14s %14.3f %16.0f %16.0f %13.0f%%\n", arcs ? "with arcs" : "without arcs",
               t->bytes[arcs] / t->ink_mm, t->most_lines_s[arcs], t->most_bytes_s[arcs],
               100 * t->most_bytes_s[arcs] / UART_BYTES_PER_S);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 300, &error);
    if (files == NULL) {
        fprintf(stderr, "corpus-code: %s\n", error->message);
        return error->code;
    }
    g_autoptr(DtProfile) p = dt_profile_new();
    g_free(p->dialect.words);
    p->dialect.words = g_strdup("G0 G1 G2 G3 G4 G21 G28 G90 M2 M3 M5 F I J N P S X Y");
    g_autofree char *folder = g_dir_make_tmp("drawtrue-corpus-XXXXXX", NULL);
    g_autofree char *file = g_build_filename(folder, "job.nc", NULL);
    Totals t = {0};
    for (guint i = 0; i < files->len; i++) {
        g_autoptr(GError) problem = NULL;
        if (!do_drawing(p, files->pdata[i], file, &t, &problem))
            printf("%s\n", problem->message);
        if ((i + 1) % 20 == 0)
            fprintf(stderr, "%u of %u\n", i + 1, files->len);
    }
    print_totals(&t);
    g_unlink(file);
    g_rmdir(folder);
    return t.worst_core <= 1e-6 && t.worst_python <= 1e-6 && t.worst_others <= 1e-6 &&
                   t.refused == 0
               ? 0
               : 1;
}
