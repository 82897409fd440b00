/* truing: tone steps of a pen's hatch, by eye and by a scan, on a virtual machine whose paper scatters light. What is
 * expected is worked out here: shares of lines that lie evenly, the law of Murray 1936, that of Yule and Nielsen 1951,
 * and for light that spreads by a certain way the integral of Yule, Howe and Altman 1967. */
#include "with-pens.h"
#include "drawtrue/truing.h"
#include "support/eye-reader.h"
#include "support/truing-machine.h"

#include <math.h>
#include <string.h>

#define TIP 0.4

static const char pens[] = "[pen black]\ncolour = #1c1c1c\ntip = 0.4 mm\n"
                           "[pen green]\ncolour = #2e7d32\ntip = 0.4 mm\n";
static const char truth_pens[] = "[pens]\nblack = #1c1c1c 0.4\ngreen = #2e7d32 0.4\n";

static const DtFigure *find(const DtFigures *f, int pen)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == DT_ERROR_OF_DOT_GAIN && f->f[i].pen == pen)
            return &f->f[i];
    return NULL;
}

/* Luminance of #1c1c1c on the scale of IEC 61966-2-1: 28/255 = 0.1098 is 0.0116 of white. */
static const double black = 0.0116;

/* By eye ------------------------------------------------------------------------------------------ */

static void test_shares_follow_from_tip_and_pitch(void)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 5, 210, 148);
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_PENS, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    for (int i = 1; i <= 10; i++) /* to whole steps of the motors, 0.01 mm */
        g_assert_cmpfloat_with_epsilon(dt_sheet_tone_share(s, 0, i, TIP), 0.16 + 0.04 * (i - 1),
                                       0.005);
    g_assert_cmpfloat_with_epsilon(dt_sheet_tone_share(s, 1, 0, TIP), 0.5, 0.005);
    /* a line that is a tenth wider covers a tenth more of a step, and less of the bars' gaps */
    g_assert_cmpfloat_with_epsilon(dt_sheet_tone_share(s, 0, 5, 1.1 * TIP), 1.1 * 0.32, 0.006);
    g_assert_cmpfloat_with_epsilon(dt_sheet_tone_share(s, 0, 0, 1.1 * TIP), 0.5 + 0.04 / 3.2,
                                   0.006);
    g_assert_cmpfloat(dt_sheet_tone_share(s, 0, 11, TIP), ==, 0);
    g_assert_cmpfloat(dt_sheet_tone_share(s, 2, 1, TIP), ==, 0);
}

/* The step that is as dark as the bars, by the law of Yule and Nielsen: a share a with
 * (1 - a + a ink^(1/n))^n = 1 - (1 - ink) / 2. */
static double place_of(double n)
{
    const double root = pow(1 - (1 - black) / 2, 1 / n),
                 share = (1 - root) / (1 - pow(black, 1 / n));
    return 1 + (share - 0.16) / 0.04;
}

static void check_read(double n, double within, gboolean told)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 5, 210, 148);
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_PENS, "2026-03-14", 1, &error);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    g_autofree char *reading = g_strdup_printf("T1=%.2f", place_of(n));
    g_assert_true(dt_eye_readings_take(r, reading, &error));
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    const DtFigure *g = find(f, 0);
    g_assert_true(g && g->known);
    g_assert_cmpfloat_with_epsilon(g->value, n, within);
    g_assert_cmpfloat(g->sd, >, 0.05);
    g_assert_cmpint(g->proposed, ==, told);
    g_assert_null(find(f, 1));
    size_t count;
    DtProfileChange *c = dt_truing_changes(p, s, f, &count);
    g_assert_cmpuint(count, ==, told);
    if (told) {
        g_assert_cmpstr(c[0].section, ==, "pen black");
        g_assert_cmpstr(c[0].key, ==, "dot_gain");
        g_assert_cmpfloat_with_epsilon(g_ascii_strtod(c[0].value, NULL), n, within);
    }
    dt_truing_free_changes(c, count);
}

static void test_a_step_as_dark_as_the_bars_tells_the_gain(void)
{
    check_read(2, 0.05, TRUE);
    check_read(1.6, 0.05, TRUE);
    check_read(1.1, 0.05, FALSE); /* not told from none by a reading of half a step */
}

static void test_what_it_is_asked(void)
{
    TruthMachine m;
    truth_draw(&m, 5, 210, 148);
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_PENS, "2026-03-14", 1, NULL);
    size_t n, asked = 0;
    g_autofree DtAsk *asks = dt_eye_asks(s, &n);
    for (size_t i = 0; i < n; i++) {
        if (asks[i].kind != DT_ASK_TONE)
            continue;
        g_autofree char *name = g_strdup_printf("T%zu", ++asked);
        size_t lines;
        g_autofree DtEyeChoice *c = dt_eye_choices(s, &asks[i], &lines);
        g_assert_cmpstr(asks[i].name, ==, name);
        g_assert_cmpfloat(asks[i].least, ==, 1);
        g_assert_cmpfloat(asks[i].most, ==, 10);
        g_assert_cmpuint(lines, >=, 20);
        for (size_t k = 0; k < lines; k++) {
            g_assert_cmpint(c[k].place, >=, 1);
            g_assert_cmpint(c[k].place, <=, 10);
        }
    }
    g_assert_cmpuint(asked, ==, p->rack.n);
}

/* What a person sees of the ink that the virtual machine has drawn, slack and all. */
static void test_the_machine_draws_what_the_eye_reads(void)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 6, 210, 148);
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_PENS, "2026-03-14", 1, &error);
    g_autoptr(DtRig) rig = draw_with_pens(&m, truth_pens, s, p);
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    EyeReader e;
    eye_reader_init(&e, s, rig, 3);
    e.dot_gain = 1.8;
    for (size_t i = 0; i < r->n; i++)
        if (r->asks[i].kind == DT_ASK_TONE) {
            g_autofree char *text = eye_reader_answer(&e, &r->asks[i]);
            g_assert_true(dt_eye_readings_set(r, i, 0, text, &error));
        }
    eye_reader_clear(&e);
    g_autoptr(DtFigures) f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    const DtFigure *g = find(f, 0);
    g_assert_true(g && g->known && g->proposed);
    g_assert_cmpfloat_with_epsilon(g->value, 1.8, 2.5 * g->sd);
}

/* By a scan --------------------------------------------------------------------------------------- */

static DtScan *scan(const TruthMachine *m, DtRig *rig, const DtTestSheet *s, double spread)
{
    g_autofree char *key = g_strdup_printf("spread = %g\n", spread);
    return scan_of(m, rig, s, 0, 0.4, key);
}

/* What a scan shows of a step: of paper, as a share. */
static double light_of(const DtScan *k, int pen, int place)
{
    for (size_t i = 0; i < k->n_tones; i++)
        if (k->tones[i].pen == pen && k->tones[i].place == place)
            return k->tones[i].light;
    g_assert_not_reached();
}

/* The upright lines of a step. */
static int lines_of(const DtTestSheet *s, int pen, int place)
{
    int n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        n += m->kind == DT_MARK_TONE && m->row == pen && m->place == place && m->from.x == m->to.x;
    }
    return n;
}

/* The mean of T (T * G) over the pitches of `lines` lines with paper beside them, T being 1 on paper and t on lines, by
 * the rectangle rule; G a Gaussian. */
static double integral(int lines, double share, double t, double spread)
{
    enum { N = 400 }; /* for each line */
    const double pitch = TIP / share, h = pitch / N;
    double sum = 0;
    for (int i = 0; i < N * lines; i++) {
        const double x = (i + 0.5) * h, centre = pitch * (floor(x / pitch) + 0.5);
        double in = 0; /* of light that comes from lines */
        for (int k = 0; k < lines; k++) {
            const double a = (k + 0.5) * pitch - TIP / 2 - x, b = a + TIP;
            in += (erf(b / (spread * M_SQRT2)) - erf(a / (spread * M_SQRT2))) / 2;
        }
        sum += (fabs(x - centre) < TIP / 2 ? t : 1) * (1 - in * (1 - t)) / (N * lines);
    }
    return sum;
}

static void test_light_that_does_not_spread_is_murrays(void)
{
    TruthMachine m;
    g_autoptr(GError) error = NULL;
    truth_draw(&m, 8, 297, 210);
    for (int i = 0; i < 2; i++) { /* the pitch is then as it was commanded */
        m.scale[i] = 1;
        m.pulley[i] = m.twist[i].n = 0;
    }
    g_autoptr(DtProfile) p = profile_with_pens(&m, pens);
    g_autoptr(DtTestSheet) s =
        dt_sheet_new(p, DT_SHEET_SCAN | DT_SHEET_PENS, "2026-03-14", 9, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig = draw_with_pens(&m, truth_pens, s, p);
    g_autoptr(DtScan) dry = scan(&m, rig, s, 0), soft = scan(&m, rig, s, 0.2);
    const double shares[] = {0.25, 0.5, 0.75};
    for (int i = 0; i < 3; i++) {
        g_assert_cmpfloat_with_epsilon(light_of(dry, 0, i + 1), 1 - shares[i] * (1 - black), 0.02);
        g_assert_cmpfloat_with_epsilon(light_of(soft, 0, i + 1),
                                       integral(lines_of(s, 0, i + 1), shares[i], sqrt(black), 0.2),
                                       0.03);
    }
    g_assert_cmpfloat_with_epsilon(light_of(dry, 0, 0), black, 0.01);
    const DtScan *scans[2] = {dry, soft};
    double n[2];
    for (int k = 0; k < 2; k++) {
        const DtEvidence e = {.sheet = s, .scans = &scans[k], .n_scans = 1};
        g_autoptr(DtFigures) f = dt_truing_solve(p, &e, NULL, &error);
        g_assert_no_error(error);
        const DtFigure *g = find(f, 0);
        g_assert_true(g && g->known);
        g_assert_cmpfloat(g->sd, >, 0.01); /* nor where steps are lighter than n = 1 has them */
        g_assert_cmpint(g->proposed, ==, k == 1);
        g_assert_nonnull(find(f, 1));
        n[k] = g->value;
    }
    g_assert_cmpfloat(n[0], <, 1.1);
    /* 0.2 mm is no little and no large share of a pitch of 0.53 to 1.6 mm */
    g_assert_cmpfloat(n[1], >, 1.25);
    g_assert_cmpfloat(n[1], <, 1.9);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/tones/shares", test_shares_follow_from_tip_and_pitch);
    g_test_add_func("/tones/eye", test_a_step_as_dark_as_the_bars_tells_the_gain);
    g_test_add_func("/tones/asked", test_what_it_is_asked);
    g_test_add_func("/tones/drawn", test_the_machine_draws_what_the_eye_reads);
    g_test_add_func("/tones/scan", test_light_that_does_not_spread_is_murrays);
    return g_test_run();
}
