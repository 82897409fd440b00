/* ink/fill: how much is tried for the fastest way, and areas of very many points. */
#include "ink/fill/fastest.h"
#include "ink/fill/fill.h"

#include <math.h>

enum { PIECES = 100, LONG = 15000 };

typedef struct {
    size_t timed; /* points of lines */
    unsigned asked;
} Clock;

/* A long line whatever the piece, which costs nothing to make. */
static gboolean draw_long(const DtLines *piece, const DtFillStyle *f, unsigned rings,
                          DtFillShared *shared, DtLines *out, GError **error)
{
    (void)f, (void)rings, (void)shared, (void)error;
    const DtBox b = dt_lines_box(piece);
    dt_lines_begin(out);
    for (int i = 0; i < LONG; i++)
        dt_lines_point(out, dt_point(b.x0 + i % 2, b.y0));
    return TRUE;
}

/* No way wins on most pieces, so that each is tried. */
static double count_points(const DtLines *lines, unsigned pen, void *user)
{
    Clock *c = user;
    (void)pen;
    c->timed += lines->n_pts;
    return 1 + c->asked++ * 7 % 11;
}

/* A field of many pieces is drawn whole, but only the first of them are drawn in several ways. */
static void test_tries_end(void)
{
    Clock c = {0, 0};
    DtFillStyle f = {.hatch = DT_HATCH_FASTEST,
                     .pitch = 0.4,
                     .tip = 0.4,
                     .edge = TRUE,
                     .coverage = 1,
                     .seconds = count_points,
                     .seconds_user = &c,
                     .tries = dt_fill_tries_new()};
    g_auto(DtLines) field, out;
    dt_lines_init(&field);
    dt_lines_init(&out);
    for (int i = 0; i < PIECES; i++) {
        const double x = 30 * (i % 10), y = 30 * (i / 10), w = 5 + 0.2 * i;
        const DtPoint box[4] = {{x, y}, {x + w, y}, {x + w, y + 8}, {x, y + 8}};
        dt_lines_append(&field, box, 4, TRUE);
    }
    g_assert_true(dt_fill_fastest(&field, &f, draw_long, &out, NULL));
    g_assert_cmpuint(out.n, ==, PIECES);
    g_assert_cmpuint(c.timed, >, 180000);
    g_assert_cmpuint(c.timed, <=, 200000 + 8 * LONG);
    dt_fill_tries_free(f.tries);
}

static double off_lines(const DtStrokes *s, DtPoint at)
{
    double least = G_MAXDOUBLE;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *l = &s->strokes[i];
        const DtPoint *p = s->pts + l->first;
        for (size_t k = 1; k < l->n + l->closed; k++)
            least = MIN(least, dt_point_segment_distance(at, p[k - 1], p[k % l->n]));
    }
    return least;
}

/* The lines of rings have points that reach into sharp corners, so that no spot is left; but no farther than half a tip
 * from the edge, also where the corner's own tip is missing, as at the narrow end of a wedge. */
static void test_rings_stay_inside(void)
{
    const double tip = 0.4;
    const DtFillStyle f = {
        .hatch = DT_HATCH_RINGS, .pitch = tip, .tip = tip, .edge = TRUE, .coverage = 1};
    for (int i = 0; i < 10; i++) {
        const double narrow = 0.3 + 0.08 * i, wide = 2 + 0.3 * (i % 9);
        const DtPoint wedge[4] = {{0, -wide}, {30, -narrow}, {30, narrow}, {0, wide}};
        g_auto(DtLines) region;
        g_auto(DtStrokes) s = {0};
        dt_lines_init(&region);
        dt_lines_append(&region, wedge, 4, TRUE);
        g_assert_true(dt_fill_area(&region, &f, &s, NULL));
        g_assert_cmpuint(s.n, >, 1);
        for (size_t k = 0; k < s.n_pts; k++) {
            g_assert_true(dt_lines_inside(&region, DT_FILL_NONZERO, s.pts[k]));
            for (int e = 0; e < 4; e++)
                g_assert_cmpfloat(dt_point_segment_distance(s.pts[k], wedge[e], wedge[(e + 1) % 4]),
                                  >, tip / 2 - 0.02);
        }
        for (int k = 0; k < 1200; k++) {
            const double x = 0.3 + 29.4 * k / 1200, across = (k * 7 % 13 - 6) / 6.0;
            const DtPoint at = {x, across * (wide + (narrow - wide) * x / 30 - 0.1)};
            g_assert_cmpfloat(off_lines(&s, at), <, tip / 2 + 0.03);
        }
    }
}

static double ink_of(const DtLines *region)
{
    const DtFillStyle f = {
        .hatch = DT_HATCH_SERPENTINE, .pitch = 0.4, .tip = 0.4, .edge = TRUE, .coverage = 1};
    DtStrokes s = {0};
    double sum = 0;
    g_assert_true(dt_fill_area(region, &f, &s, NULL));
    for (size_t i = 0; i < s.n; i++)
        for (size_t k = 1; k < s.strokes[i].n; k++)
            sum +=
                dt_point_distance(s.pts[s.strokes[i].first + k - 1], s.pts[s.strokes[i].first + k]);
    dt_strokes_clear(&s);
    return sum;
}

/* Pieces that have too many points together are filled a few at a time, each as it is by itself. */
static void test_each_of_many_points_is_filled(void)
{
    enum { DISCS = 30, SIDES = 2000 };
    g_auto(DtLines) all, one;
    dt_lines_init(&all);
    dt_lines_init(&one);
    double sum = 0;
    for (int i = 0; i < DISCS; i++) {
        DtPoint disc[SIDES];
        for (int k = 0; k < SIDES; k++)
            disc[k] = dt_point(8 * i + (1 + 0.1 * i) * cos(2 * G_PI * k / SIDES),
                               (1 + 0.1 * i) * sin(2 * G_PI * k / SIDES));
        dt_lines_clear(&one);
        dt_lines_append(&one, disc, SIDES, TRUE);
        dt_lines_append(&all, disc, SIDES, TRUE);
        sum += ink_of(&one);
    }
    g_assert_cmpfloat_with_epsilon(ink_of(&all), sum, 1e-3 * sum);
}

/* A lobed outline with a hole. */
static void add_blob(GRand *rand, DtLines *region)
{
    g_auto(DtLines) raw;
    dt_lines_init(&raw);
    const double phase = g_rand_double_range(rand, 0, 6), lobes = g_rand_int_range(rand, 2, 6);
    const double flat = g_rand_double_range(rand, 0.3, 1);
    for (int ring = 0; ring < 2; ring++) {
        dt_lines_begin(&raw);
        for (int i = 0; i < 90; i++) {
            const double a = (ring ? -i : i) * G_PI / 45;
            const double r = ring ? 0.9 : 3.5 + 1.2 * sin(lobes * a + phase);
            dt_lines_point(&raw, dt_point(20 + r * cos(a), 20 + flat * r * sin(a)));
        }
        dt_lines_close(&raw);
    }
    g_assert_true(dt_region_clean(&raw, DT_PLANE_NONZERO, region, NULL));
}

/* Centre lines of what rings leave are as far as this from the middle, mm. */
#define OFF_CENTRE 0.02

/* Whichever way is taken, no place of a field is farther than half a tip from the ink. */
static void test_fields_are_inked(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    for (int i = 0; i < 40; i++) {
        Clock c = {0, (unsigned)i};
        DtFillStyle f = {.hatch = DT_HATCH_FASTEST,
                         .angle = 0.7,
                         .pitch = 0.4,
                         .tip = 0.4,
                         .edge = TRUE,
                         .coverage = 1,
                         .seconds = count_points,
                         .seconds_user = &c};
        g_auto(DtLines) region, inset;
        g_auto(DtStrokes) s;
        dt_lines_init(&region);
        dt_lines_init(&inset);
        dt_strokes_init(&s);
        add_blob(rand, &region);
        g_assert_true(dt_region_inset(&region, 0.2, &inset, NULL));
        g_assert_true(dt_fill_area(&region, &f, &s, NULL));
        for (double x = 14; x < 26; x += 0.1)
            for (double y = 14; y < 26; y += 0.1) {
                const DtPoint p = {x, y};
                if (dt_lines_inside(&inset, DT_FILL_NONZERO, p))
                    g_assert_cmpfloat(off_lines(&s, p), <, 0.2 + OFF_CENTRE);
            }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/fastest/tries", test_tries_end);
    g_test_add_func("/ink/fastest/inked", test_fields_are_inked);
    g_test_add_func("/ink/fill/rings-inside", test_rings_stay_inside);
    g_test_add_func("/ink/fill/many-points", test_each_of_many_points_is_filled);
    return g_test_run();
}
