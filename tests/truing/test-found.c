/* found: evidence of found.txt, and what it tells: figures, changes of the profile, suspected parts, how two readings
 * compare, and the picture of that; or why it is refused. */
#include "held-figures.h"
#include "seen.h"

#include "drawtrue/proof.h"
#include "support/held.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Evidence -------------------------------------------------------------------------------------- */

/* Answers such as "X1=5_to_6", blanks for underscores. */
static DtFigures *read_by_eye(const DtProfile *p, const DtTestSheet *s, const char *answers,
                              GError **error)
{
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    g_auto(GStrv) words = g_strsplit_set(answers, " \n", -1);
    for (char **word = words; *word; word++)
        if (**word && !dt_eye_readings_take(r, g_strdelimit(*word, "_", ' '), error))
            return NULL;
    return dt_eye_solve(p, s, r, error);
}

/* Half of them zero. */
static double any(GRand *r, double most)
{
    const double v = g_rand_double_range(r, -most, most);
    return g_rand_boolean(r) ? v : 0;
}

static SeenTruth any_truth(GRand *r)
{
    SeenTruth t = {.square = any(r, 0.006), .skew = any(r, 0.002)};
    for (int axis = 0; axis < 2; axis++) {
        t.scale[axis] = any(r, 0.006);
        t.pulley[axis][0] = any(r, 0.06);
        t.pulley[axis][1] = any(r, 0.06);
        t.slack[axis] = fabs(any(r, 0.6));
        t.slack_slope[axis] = any(r, 0.001);
        t.position[axis] = any(r, 0.04);
        t.straight[axis] = any(r, 0.04);
        t.twist[axis] = any(r, 0.06);
        t.glass_scale[axis] = any(r, 0.002);
        t.wave[axis] = any(r, 0.01);
    }
    t.pen_sd = g_rand_double_range(r, 0.002, 0.012);
    t.slack_sd = fabs(any(r, 0.02));
    t.scan_sd = g_rand_double_range(r, 0.002, 0.006);
    return t;
}

/* Some marks lie where others have them not, and in some places a line was left out. */
static void displace(SeenModel *f, GRand *r)
{
    enum { N_STRAYS = 3 };
    for (size_t k = 0; k < f->n_scans; k++) {
        DtScan *scan = f->scans[k];
        for (size_t i = 0; i < scan->n; i++)
            if (g_rand_double(r) < 0.02)
                scan->seen[i].at = dt_point_add(
                    scan->seen[i].at,
                    dt_point_scale(scan->seen[i].normal, g_rand_double_range(r, -0.5, 0.5)));
        scan->strays = g_new(DtPoint, N_STRAYS);
        for (; scan->n_strays < N_STRAYS; scan->n_strays++)
            scan->strays[scan->n_strays] =
                dt_point(g_rand_double_range(r, 10, 40), g_rand_double_range(r, 10, 40));
    }
}

/* "SEED SCANS", and of "rule", "photograph", "one-photograph" and "displaced" what is so. */
static void make_scans(SeenModel *f, const char *given)
{
    g_auto(GStrv) words = g_strsplit_set(given, " \n", -1);
    const char *const *so = (const char *const *)words;
    g_autoptr(GRand) r = g_rand_new_with_seed((guint32)g_ascii_strtoull(words[0], NULL, 10));
    const SeenTruth t = any_truth(r);
    seen_model_init(f, &t, seen_quarters, (size_t)g_ascii_strtoull(words[1], NULL, 10));
    for (size_t k = 0; k < f->n_scans; k++)
        f->scans[k]->photograph =
            g_strv_contains(so, "photograph") || (k == 0 && g_strv_contains(so, "one-photograph"));
    if (g_strv_contains(so, "rule"))
        seen_model_lay_rule(f, &t);
    if (g_strv_contains(so, "displaced"))
        displace(f, r);
}

/* Comparisons ----------------------------------------------------------------------------------- */

static GString *panels; /* where the picture below is told instead of painted */

gboolean __wrap_dt_proof_write_sheet(const DtProofSheet *s, const char *path, int width_px,
                                     GError **error);

gboolean __wrap_dt_proof_write_sheet(const DtProofSheet *s, const char *path, int width_px,
                                     GError **error)
{
    (void)path, (void)error;
    g_string_append_printf(panels, "  picture of %d: %s, %u columns\n", width_px, s->title,
                           s->columns);
    for (size_t i = 0; i < s->n_panels; i++) {
        const DtProofPanel *p = &s->panels[i];
        g_autofree char *figures = g_strdelimit(g_strdup(p->figures), "\n", '/');
        g_string_append_printf(panels, "  %s: %.2f %.2f %.2f %.2f; %s\n", p->title, p->view.x0,
                               p->view.y0, p->view.x1, p->view.y1, figures);
        for (size_t k = 0; k < p->n_layers; k++) {
            const DtLines *l = p->layers[k].lines;
            double x = 0, y = 0;
            for (size_t m = 0; m < l->n_pts; m++) {
                x += l->pts[m].x / (double)l->n_pts;
                y += l->pts[m].y / (double)l->n_pts;
            }
            g_string_append_printf(panels, "    %zu lines of %.2f about %.3f %.3f, %.3f wide\n",
                                   l->n, dt_lines_total_length(l), x, y, p->layers[k].width);
        }
    }
    return TRUE;
}

static void say_comparison(GString *out, const DtProfile *p, const DtTestSheet *s,
                           const DtFigures *a, DtFigures *b)
{
    static const char *const verdicts[] = {"same", "better", "worse", "unknown"};
    g_autoptr(GError) error = NULL;
    size_t n;
    g_autofree DtComparison *c = dt_truing_compare(a, b, &n);
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(out, "  %s %d pen %d: %.4f (%.4f), then %.4f (%.4f): %s\n",
                               dt_error_word(c[i].kind), c[i].axis, c[i].pen, c[i].a, c[i].a_sd,
                               c[i].b, c[i].b_sd, verdicts[c[i].verdict]);
    panels = out;
    if (!dt_truing_compare_picture(&(DtCompared){{s, s}, {a, b}}, p, "compare.png", 1200, &error)) {
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_string_append_printf(out, "  %s\n", error->message);
    }
    g_string_append_printf(out, "  %u pooled:\n", dt_figures_pool(b, a));
    held_say_figures(out, b);
}

/* What is found --------------------------------------------------------------------------------- */

/* How true the sheet's own ink would be with these corrections. */
static void say_expected(GString *out, const DtProfile *p, const DtTestSheet *s, const DtFigures *f)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtMoves) m = {0};
    DtExpectation e;
    dt_sheet_moves(s, p, &m, &error);
    g_assert_no_error(error);
    if (dt_truing_expect(p, f, NULL, &m, &e))
        g_string_append_printf(out, "  expected: %.4f, %.4f mm at most, worst at %.1f %.1f\n",
                               e.p95_mm, e.largest_mm, e.worst_at.x, e.worst_at.y);
}

static gboolean say_found(GString *out, const DtProfile *p, const DtTestSheet *s,
                          const DtFigures *f, const GError *error)
{
    if (f == NULL) {
        g_string_append_printf(out, "  refused: %s\n", error->message);
        return FALSE;
    }
    held_say_figures(out, f);
    held_say_changes(out, p, s, f);
    say_expected(out, p, s, f);
    for (int axis = 0; axis < 2; axis++) {
        size_t n;
        DtAxisFigures iso;
        g_autofree DtAxisPlace *places = dt_truing_places(f, axis, &n);
        if (places == NULL)
            continue;
        dt_truing_iso_230_2(places, n, &iso);
        g_string_append_printf(out, "  axis %d, %zu places: %.4f %.4f %.4f %.4f %.4f %.4f\n", axis,
                               n, iso.reversal, iso.mean_reversal, iso.mean_bidirectional,
                               iso.repeatability, iso.systematic, iso.accuracy);
    }
    return TRUE;
}

/* Each reading, and how it compares with the one before it. */
static void find_by_eye(const HeldCase *c, char **readings, GString *out)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *own = held_given(c, "machine"), *kind = held_given(c, "sheet"),
                    *profile = g_strconcat("[machine]\nname = bench\n", own, NULL);
    g_autoptr(DtProfile) p = dt_profile_read_data(profile, strlen(profile), "machine", &error);
    g_assert_no_error(error);
    guint kinds = 0;
    g_auto(GStrv) words = g_strsplit(g_strstrip(kind), " ", -1);
    for (char **word = words; *word; word++)
        kinds |= dt_sheet_kinds(*word);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds, "2026-03-14", 12, &error);
    g_assert_no_error(error);
    g_autoptr(DtFigures) before = NULL;
    for (char **reading = readings; *reading && **reading; reading++) {
        DtFigures *f = read_by_eye(p, s, *reading, &error);
        if (say_found(out, p, s, f, error) && before)
            say_comparison(out, p, s, before, f);
        g_clear_error(&error);
        g_clear_pointer(&before, dt_figures_free);
        before = f;
    }
}

static void find_in_scans(char **seen, GString *out)
{
    g_autoptr(DtFigures) before = NULL;
    for (char **given = seen; *given && **given; given++) {
        g_autoptr(GError) error = NULL;
        SeenModel m;
        make_scans(&m, *given);
        DtFigures *f = dt_truing_solve(m.p, &m.e, NULL, &error);
        if (say_found(out, m.p, m.s, f, error) && before)
            say_comparison(out, m.p, m.s, before, f);
        seen_model_clear(&m);
        g_clear_pointer(&before, dt_figures_free);
        before = f;
    }
}

static char *figures_of(const HeldCase *c)
{
    GString *out = g_string_new(NULL);
    g_autofree char *reading = held_given(c, "reading"), *seen = held_given(c, "seen");
    g_auto(GStrv) readings = g_strsplit(reading, "\n", -1), scans = g_strsplit(seen, "\n", -1);
    if (*reading)
        find_by_eye(c, readings, out);
    find_in_scans(scans, out);
    return g_string_free(out, FALSE);
}

int main(int argc, char **argv)
{
    return held_main(argc, argv, "found.txt", "/truing/found", figures_of);
}
