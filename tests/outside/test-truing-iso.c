/* truing against ISO 230-2 and 230-1: figures of an axis, straightness and squareness worked by hand; and the
 * vernier principle. */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

/* Three places. By hand, mm:
 *   place 1: up 0.010, down 0.030, s 0.002 and 0.003: B -0.020, mean 0.020, R max(0.030, 0.008, 0.012)
 *   place 2: up 0.000, down 0.024, s 0.001 and 0.001: B -0.024, mean 0.012, R max(0.028, 0.004)
 *   place 3: up -0.012, down -0.004, s 0.006 and 0.001: B -0.008, mean -0.008, R max(0.022, 0.024)
 * Axis: B 0.024, mean of B -0.0173, M 0.028, R 0.030, E 0.030 - -0.012, A 0.036 - -0.024. */
static void test_axis_figures_worked_by_hand(void)
{
    const DtAxisPlace p[] = {{0, 0.010, 0.030, 0.002, 0.003},
                             {100, 0.000, 0.024, 0.001, 0.001},
                             {200, -0.012, -0.004, 0.006, 0.001}};
    DtAxisFigures f;
    dt_truing_iso_230_2(p, G_N_ELEMENTS(p), &f);
    g_assert_cmpfloat_with_epsilon(f.reversal, 0.024, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.mean_reversal, -0.052 / 3, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.mean_bidirectional, 0.028, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.repeatability, 0.030, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.systematic, 0.042, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.accuracy, 0.060, 1e-12);
}

/* A machine with nothing but lost motion of 0.2 mm: all figures are that. */
static void test_lost_motion_alone(void)
{
    const DtAxisPlace p[] = {{0, 0, 0.2, 0, 0}, {50, 0, 0.2, 0, 0}};
    DtAxisFigures f;
    dt_truing_iso_230_2(p, G_N_ELEMENTS(p), &f);
    g_assert_cmpfloat(f.reversal, ==, 0.2);
    g_assert_cmpfloat(f.mean_bidirectional, ==, 0);
    g_assert_cmpfloat(f.repeatability, ==, 0.2);
    g_assert_cmpfloat(f.accuracy, ==, 0.2);
}

/* The vernier principle: with a least count c, the k-th tick meets its neighbour where the combs are k c
 * apart (common practice, no source). Every tick of every vernier of the slack part. */
static void test_vernier_principle(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    p->steps_per_mm[0] = p->steps_per_mm[1] =
        100; /* ticks stand on whole steps, and so does this count */
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    const double least_mm = 0.04, twist_least_mm = 0.08;
    unsigned pairs = 0;
    for (size_t i = 0; i < s->n; i++)
        for (size_t j = 0; j < s->n; j++) {
            const DtMark *a = &s->marks[i], *b = &s->marks[j];
            if (a->kind != DT_MARK_COMB || b->kind != DT_MARK_VERNIER || a->row != b->row ||
                a->place != b->place)
                continue;
            const double apart = a->axis == 0 ? a->from.x - b->from.x : a->from.y - b->from.y;
            const gboolean twist = a->approach[a->axis] == b->approach[b->axis];
            g_assert_cmpfloat_with_epsilon(apart, a->place * (twist ? twist_least_mm : least_mm),
                                           1e-9);
            g_assert_cmpint(a->approach[a->axis], ==, 1);
            if (!twist)
                g_assert_cmpint(b->approach[b->axis], ==, -1);
            pairs++;
        }
    g_assert_cmpuint(pairs, >, 60);
}

/* Two scans, a quarter turn apart, of ink that lies where a function of the command says. */
typedef DtPoint (*InkAt)(DtPoint c);

static DtScan *scan_of(const DtTestSheet *s, InkAt ink_at, int turn)
{
    enum { PIECE_MM = 5 };
    DtScan *scan = g_new0(DtScan, 1);
    GArray *seen = g_array_new(FALSE, FALSE, sizeof(DtSeen));
    const double c = cos(0.01), d = sin(0.01); /* nobody lays a sheet down exactly straight */
    const DtAffine lies =
        turn == 0 ? (DtAffine){1, 0, 0, -1, 0, 200} : (DtAffine){-d, c, c, d, 0, 0};
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        const gboolean line = m->kind == DT_MARK_GAUGE && m->place == 0;
        if (m->part != DT_SHEET_SCAN || (m->kind != DT_MARK_POSITION && !line))
            continue;
        const double length = dt_point_distance(m->from, m->to);
        const int n = line ? (int)(length / PIECE_MM) : 1;
        const DtPoint way = dt_affine_apply_vector(lies, dt_point_sub(m->to, m->from));
        for (int k = 0; k < n; k++) {
            const DtPoint at = ink_at(dt_point_lerp(m->from, m->to, (k + 0.5) / n));
            const DtSeen one = {.mark = i,
                                .at = dt_affine_apply(lies, at),
                                .normal = dt_point_scale(dt_point(-way.y, way.x), 1 / length),
                                .sd = 0.001,
                                .width = 0.4};
            g_array_append_val(seen, one);
        }
    }
    scan->path = g_strdup("worked by hand");
    scan->dpi = 300;
    scan->rough = lies;
    scan->turn = turn;
    scan->n = seen->len;
    scan->seen = (DtSeen *)(void *)g_array_free(seen, FALSE);
    return scan;
}

/* X's rail bows by 0.12 mm over 0 to 210 mm, and Y's leans by 0.9 mm a metre towards +X. */
static const double bow_mm = 0.12, bow_length_mm = 210, lean = 0.9e-3;

static DtPoint bowed_and_leaning(DtPoint c)
{
    const double t = c.x / bow_length_mm;
    return dt_point(c.x + lean * c.y, c.y + 4 * bow_mm * t * (1 - t));
}

static const DtFigure *find(const DtFigures *f, DtErrorKind kind)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind)
            return &f->f[i];
    g_assert_not_reached();
}

/* ISO 230-1:2012 (from memory): a straightness deviation is the range of the deviations from a reference straight
 * line, here that of least squares, and squareness the difference between the inclinations of the reference
 * straight lines of two trajectories, less a right angle. By hand: over the part a to b of the rail that the
 * sheet covers, the deviations of the parabola from its line of least squares, which is its chord's parallel,
 * range over bow ((b - a) / length)^2; that line is inclined by 4 bow (length - a - b) / length^2; the other
 * rail is straight, and leans by 0.9 mm a metre. */
static void test_straightness_and_squareness(void)
{
    static const char paper[] = "[motion]\ntravel_x = 220 mm\ntravel_y = 158 mm\n"
                                "steps_per_mm_x = 100 /mm\nsteps_per_mm_y = 100 /mm\n"
                                "[paper]\nsize = 210x148\nat = 5, 5 mm\n";
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_read_data(paper, strlen(paper), "paper", &error);
    g_assert_no_error(error);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SCAN, "2026-03-14", 1, &error);
    g_autoptr(DtScan) a = scan_of(s, bowed_and_leaning, 0);
    g_autoptr(DtScan) b = scan_of(s, bowed_and_leaning, 1);
    const DtScan *const scans[] = {a, b};
    const DtEvidence e = {.sheet = s, .scans = scans, .n_scans = 2};
    g_autoptr(DtFigures) f = dt_truing_solve(p, &e, NULL, &error);
    g_assert_no_error(error);
    double low[2] = {1, 1}, high[2] = {-1, -1}, from = G_MAXDOUBLE, to = 0;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != DT_ERROR_OF_STRAIGHT)
            continue;
        low[g->axis] = MIN(low[g->axis], g->value);
        high[g->axis] = MAX(high[g->axis], g->value);
        from = g->axis == 0 ? MIN(from, g->at) : from;
        to = g->axis == 0 ? MAX(to, g->at) : to;
    }
    const double share = (to - from) / bow_length_mm;
    g_assert_cmpfloat_with_epsilon(high[0] - low[0], bow_mm * share * share, 0.002);
    g_assert_cmpfloat_with_epsilon(high[1] - low[1], 0, 0.002);
    const DtFigure *square = find(f, DT_ERROR_OF_SQUARE);
    const double inclined =
        4 * bow_mm * (bow_length_mm - from - to) / (bow_length_mm * bow_length_mm);
    g_assert_true(square->known);
    g_assert_cmpfloat_with_epsilon(square->value, lean + inclined, 2e-5); /* 0.001 degrees */
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/truing/iso-230-2", test_axis_figures_worked_by_hand);
    g_test_add_func("/outside/truing/lost-motion", test_lost_motion_alone);
    g_test_add_func("/outside/truing/vernier", test_vernier_principle);
    g_test_add_func("/outside/truing/iso-230-1", test_straightness_and_squareness);
    return g_test_run();
}
