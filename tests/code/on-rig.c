/* on-rig: what a program draws on a virtual machine without faults, against what it means. */
#include "on-rig.h"

#include <math.h>
#include <string.h>

/* The profile's words as the rig file wants them; and M0, at which its sender goes on. */
static char *rig_words(const char *words)
{
    g_autoptr(GString) out = g_string_new("M0");
    g_auto(GStrv) tokens = g_strsplit(words, " ", -1);
    for (char **t = tokens; *t; t++) {
        gboolean code = **t == 'G' || **t == 'M';
        gboolean known = code || strchr("NXYIJRFSP", **t) != NULL;
        if (strchr(*t, ':') == NULL && strcmp(*t, "M0") != 0 && known)
            g_string_append_printf(out, " %.*s", code ? (int)strlen(*t) : 1, *t);
    }
    /* A controller whose profile has more than the virtual one is played by all that it has. */
    return strstr(words, "G10") || strstr(words, "M41") || strstr(words, "M6") ? g_strdup("")
                                                                               : g_strdup(out->str);
}

DtRig *on_rig_new(const DtProfile *p)
{
    const char *words = p->dialect.words;
    gboolean spaces = strstr(words, "gap:needed") != NULL;
    gboolean comments = strstr(words, "comment:none") == NULL;
    g_autofree char *taken = rig_words(words);
    g_autofree char *text = g_strdup_printf(
        "[controller]\nsteps_per_mm_x = 200\nsteps_per_mm_y = 200\nspeed_x = 100\n"
        "speed_y = 100\nchord = 0.002\n"
        "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0\nbacklash_y = 0\nwave = 0\n"
        "start_x = 1\nstart_y = 1\n"
        "[pen]\ndrop_s = 0\nlift_s = 0\nmerge = 0.0005\n"
        "[vocabulary]\nwords = %s\nspaces = %s\ncomments = %s\nlongest_line = %d\n",
        taken, spaces ? "yes" : "no", comments ? "yes" : "no", p->dialect.longest_line);
    g_autoptr(GError) error = NULL;
    DtRig *rig = dt_rig_new_from_text(text, "rig", &error);
    g_assert_no_error(error);
    return rig;
}

static const double near =
    0.006; /* mm, beyond rounding to steps; no need to look for what is nearer */

/* From `p` to the lines, looked for from segment `*hint` on, where the one before it was found. */
static double distance_to(DtPoint p, const DtLines *lines, size_t *line, size_t *point)
{
    double least = G_MAXDOUBLE;
    for (size_t n = 0, first = *line; n < lines->n; n++) {
        const size_t i = (first + n) % lines->n, count = dt_lines_count(lines, i);
        const DtPoint *at = dt_lines_at((DtLines *)lines, i);
        const size_t from = n == 0 && *point < count ? *point : 1;
        if (count == 1) /* a dot */
            least = MIN(least, dt_point_distance(p, at[0]));
        for (size_t j = 1; j < count; j++) {
            const size_t k = 1 + (from - 1 + j - 1) % (count - 1);
            const double far = dt_point_segment_distance(p, at[k - 1], at[k]);
            if (far < least) {
                least = far;
                *line = i;
                *point = k;
            }
            if (least < near)
                return least;
        }
    }
    return least;
}

/* The farthest that any point of `a`, taken every 0.1 mm, is from `b`. */
double on_rig_farthest(const DtLines *a, const DtLines *b)
{
    double most = 0;
    size_t line = 0, point = 1;
    for (size_t i = 0; i < a->n; i++) {
        const DtPoint *at = dt_lines_at((DtLines *)a, i);
        if (dt_lines_count(a, i) == 1)
            most = MAX(most, distance_to(at[0], b, &line, &point));
        for (size_t k = 1; k < dt_lines_count(a, i); k++) {
            int n = (int)ceil(dt_point_distance(at[k - 1], at[k]) / 0.1);
            for (int j = 0; j <= n; j++)
                most = MAX(most, distance_to(dt_point_lerp(at[k - 1], at[k], n ? (double)j / n : 0),
                                             b, &line, &point));
        }
    }
    return most;
}

/* "cw:cx,cy:x,y": chords of half a degree to x,y about the centre. */
static void read_arc(const char *text, DtLines *out)
{
    double v[4];
    const char *at = strchr(text, ':') + 1;
    for (int i = 0; i < 4; i++) {
        char *end;
        v[i] = g_ascii_strtod(at, &end);
        at = end + 1;
    }
    DtPoint from = out->pts[out->n_pts - 1], centre = {v[0], v[1]}, to = {v[2], v[3]};
    double radius = dt_point_distance(from, centre);
    double start = atan2(from.y - centre.y, from.x - centre.x);
    double sweep = atan2(to.y - centre.y, to.x - centre.x) - start;
    gboolean clockwise = g_str_has_prefix(text, "cw");
    if (clockwise && sweep > -1e-9)
        sweep -= 2 * G_PI;
    else if (!clockwise && sweep < 1e-9)
        sweep += 2 * G_PI;
    int n = (int)ceil(fabs(sweep) * 360 / G_PI);
    for (int i = 1; i <= n; i++) {
        double angle = start + sweep * i / n;
        dt_lines_point(out,
                       dt_point(centre.x + radius * cos(angle), centre.y + radius * sin(angle)));
    }
}

void on_rig_meant(const char *text, DtLines *out)
{
    dt_lines_init(out);
    g_auto(GStrv) strokes = g_strsplit_set(text, "|;", -1);
    for (char **s = strokes; *s; s++) {
        dt_lines_begin(out);
        g_auto(GStrv) points = g_strsplit(g_strstrip(*s), " ", -1);
        for (char **p = points; *p; p++) {
            char *y = strchr(*p, ',');
            if (**p == 'c')
                read_arc(*p, out);
            else
                dt_lines_point(out,
                               dt_point(g_ascii_strtod(*p, NULL), g_ascii_strtod(y + 1, NULL)));
        }
    }
}

void on_rig_ink(const DtRig *rig, DtLines *out)
{
    dt_lines_init(out);
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++) {
        DtRigStroke s = dt_rig_stroke(rig, i);
        dt_lines_begin(out);
        for (size_t k = 0; k < s.n; k++)
            dt_lines_point(out, dt_point(s.xy[2 * k], s.xy[2 * k + 1]));
    }
}

void on_rig_compare(const DtLines *have, const char *meant)
{
    g_auto(DtLines) want;
    on_rig_meant(meant, &want);
    double stray = on_rig_farthest(have, &want), missing = on_rig_farthest(&want, have);
    if (!(stray <= 0.01 && missing <= 0.01))
        g_test_fail_printf("ink strays by %g mm and is missing by %g mm", stray, missing);
}

static void on_talk(const char *line, const char *answer, void *user)
{
    (void)user;
    if (g_str_has_prefix(answer, "refused"))
        g_test_fail_printf("'%s' is answered '%s'", line, answer);
}

/* The sender itself waits at M1, which the virtual machine does not take. */
static char *without_optional_pauses(const char *text, gsize len)
{
    g_autofree char *copy = g_strndup(text, len);
    g_auto(GStrv) parts = g_strsplit(copy, "\nM1\n", -1);
    return g_strjoinv("\n", parts);
}

void on_rig_draws(const DtProfile *p, const char *program, gsize len, const char *meant)
{
    g_autoptr(DtRig) rig = on_rig_new(p);
    g_autofree char *text = without_optional_pauses(program, len);
    dt_rig_listen(rig, on_talk, NULL);
    dt_rig_run_text(rig, text, strlen(text));
    DtRigFigures figures;
    dt_rig_figures(rig, &figures);
    if (figures.endstop_hits > 0 || !figures.pen_up_at_end)
        g_test_fail_printf("%u end-stop hits, pen %s", figures.endstop_hits,
                           figures.pen_up_at_end ? "up" : "down");
    g_auto(DtLines) have;
    on_rig_ink(rig, &have);
    on_rig_compare(&have, meant);
}
