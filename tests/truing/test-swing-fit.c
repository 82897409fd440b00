/* swing: strokes in steps as they lie on paper where a mass on a spring and a damper follows the drive, integrated in short
 * steps of time; the fit has it in closed form. */
#include "truing/sheet/scan-part.h"
#include "truing/solve/swing.h"

#include <math.h>
#include <string.h>

static DtTestSheet *sheet_with_swings(DtProfile **p)
{
    static const char text[] = "[motion]\ntravel_x = 300 mm\ntravel_y = 300 mm\n"
                               "[paper]\nsize = 290x290\nat = 5, 5 mm\n";
    g_autoptr(GError) error = NULL;
    *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    DtTestSheet *s = dt_sheet_new_blank(*p, DT_SHEET_SCAN, "2026-03-14", 5);
    dt_sheet_add_swings(s, *p, (DtBox){20, 20, 280, 280});
    g_assert_cmpuint(s->n, >, 4 * 14);
    return s;
}

/* Of one axis: 0 Hz is stiff. */
typedef struct {
    double hz, damping, slack,
        noise; /* mm; the slack lets the stroke lie along itself by as much */
} Cord;

static double along_of(const DtMark *m, DtPoint p)
{
    return m->axis == 0 ? p.y : p.x;
}

static double across_of(const DtMark *m, DtPoint p)
{
    return m->axis == 0 ? p.x : p.y;
}

static void add(GArray *seen, const DtMark *m, double along, double across, const Cord *c, GRand *r)
{
    const double off = g_rand_double_range(r, -1, 1) * sqrt(3) * c->noise;
    const DtSwingSeen s = {m->axis, m->row, along + c->slack, across + off};
    g_array_append_val(seen, s);
}

/* Follows the stroke whose first mark is `from`, and has its ink looked at every 0.1 mm. */
static size_t follow(const DtTestSheet *s, size_t from, const Cord *c, GArray *seen, GRand *r)
{
    const double step_s = 2e-5, look_mm = 0.1, w = 2 * G_PI * c->hz;
    double x = across_of(&s->marks[from], s->marks[from].from), v = 0, looked = -1e9;
    size_t i = from;
    for (; i < s->n && s->marks[i].row == s->marks[from].row &&
           s->marks[i].axis == s->marks[from].axis;
         i++) {
        const DtMark *m = &s->marks[i];
        const double length = dt_point_distance(m->from, m->to), took = length / m->feed_mm_s;
        for (double t = 0; t < took; t += step_s) {
            const DtPoint drive = dt_point_lerp(m->from, m->to, t / took);
            const double at = across_of(m, drive),
                         speed = (across_of(m, m->to) - across_of(m, m->from)) / took;
            if (c->hz > 0) {
                v += step_s * (w * w * (at - x) + 2 * c->damping * w * (speed - v));
                x += step_s * v;
            } else {
                x = at;
            }
            if (along_of(m, drive) - looked < look_mm)
                continue;
            looked = along_of(m, drive);
            add(seen, m, looked, x, c, r);
        }
    }
    return i;
}

static void scan(const DtTestSheet *s, const Cord cords[2], DtScan *out, guint32 seed)
{
    GArray *seen = g_array_new(FALSE, FALSE, sizeof(DtSwingSeen));
    g_autoptr(GRand) r = g_rand_new_with_seed(seed);
    for (size_t i = 0; i < s->n;)
        i = follow(s, i, &cords[s->marks[i].axis], seen, r);
    out->n_swings = seen->len;
    out->swings = (DtSwingSeen *)(void *)g_array_free(seen, FALSE);
}

static void find(const Cord cords[2], DtSwing out[2])
{
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(DtTestSheet) s = sheet_with_swings(&p);
    DtScan one = {0}, two = {0};
    const DtScan *scans[] = {&one, &two};
    const DtEvidence e = {.sheet = s, .scans = scans, .n_scans = 2};
    scan(s, cords, &one, 1);
    scan(s, cords, &two, 2);
    for (int axis = 0; axis < 2; axis++) {
        const double jump = 0.95 * MIN(p->pull_in[axis], p->speed[axis]), hz = cords[axis].hz;
        dt_find_swing(&e, p, axis, &out[axis]);
        g_assert_true(out[axis].drawn);
        if (hz == 0) {
            g_assert_cmpfloat(out[axis].hz, ==, 0);
            g_assert_cmpfloat(out[axis].size, ==, 0);
            g_assert_cmpfloat(out[axis].sd, >, 1e-5);
            continue;
        }
        g_test_message("%g Hz: %g, %g +- %g", hz, out[axis].hz, out[axis].size, out[axis].sd);
        g_assert_cmpfloat(fabs(out[axis].hz / hz - 1), <, 0.05); /* the search's own steps */
        g_assert_cmpfloat_with_epsilon(out[axis].size, jump / (2 * G_PI * out[axis].hz), 1e-9);
        /* known no better than by 8 % */
        g_assert_cmpfloat(out[axis].sd / out[axis].size, >=, 0.08 - 1e-9);
        g_assert_cmpfloat(out[axis].sd / out[axis].size, <, 0.12);
    }
    g_free(one.swings);
    g_free(two.swings);
}

static void test_each_axis_swings_at_its_own_rate(void)
{
    static const Cord cords[][2] = {{{25, 0.1, 0.3, 0.003}, {42, 0.1, -0.2, 0.003}},
                                    {{33, 0.2, 0, 0.003}, {21, 0.05, 0.1, 0.003}},
                                    {{60, 0.1, 0, 0.001}, {30, 0.1, 0, 0.001}}};
    for (gsize i = 0; i < G_N_ELEMENTS(cords); i++) {
        DtSwing out[2];
        find(cords[i], out);
    }
}

static void test_what_is_stiff_or_hidden_in_noise_does_not_swing(void)
{
    static const Cord quiet[2] = {{0, 0, 0, 0.004}, {0, 0, 0, 0.004}},
                      noisy[2] = {{0, 0, 0.2, 0.02}, {0, 0, 0, 0.02}};
    DtSwing a[2], b[2];
    find(quiet, a);
    find(noisy, b);
    for (int axis = 0; axis < 2; axis++) { /* more is hidden by five times the noise */
        g_assert_cmpfloat(b[axis].sd, >, 1.5 * a[axis].sd);
        g_assert_cmpfloat(b[axis].sd, <, 8 * a[axis].sd);
        g_assert_cmpfloat(a[axis].sd, <, 0.006);
    }
}

/* Sixteen corners are the least; a sheet without such strokes has none. */
static void test_few_corners_tell_nothing(void)
{
    static const Cord cords[2] = {{25, 0.1, 0, 0.003}, {25, 0.1, 0, 0.003}};
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(DtTestSheet) s = sheet_with_swings(&p);
    DtScan all = {0};
    const DtScan *scans[] = {&all};
    const DtEvidence e = {.sheet = s, .scans = scans, .n_scans = 1};
    scan(s, cords, &all, 1);
    const DtMark *first = &s->marks[1];
    const double step = fabs(along_of(first, first->to) - along_of(first, first->from));
    for (int corners = 15; corners <= 16; corners++) {
        DtScan some = {.swings = g_new(DtSwingSeen, all.n_swings)};
        /* not from the first corner on */
        const double low = along_of(first, first->from) + 2 * step, high = low + corners * step;
        for (size_t i = 0; i < all.n_swings; i++)
            if (all.swings[i].axis == 0 && all.swings[i].row == 0 && all.swings[i].along >= low &&
                all.swings[i].along < high)
                some.swings[some.n_swings++] = all.swings[i];
        scans[0] = &some;
        DtSwing out;
        dt_find_swing(&e, p, 0, &out);
        g_assert_cmpint(out.drawn, ==, corners >= 16);
        g_free(some.swings);
    }
    g_free(all.swings);
    g_autoptr(DtTestSheet) blank = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-03-14", 5);
    const DtEvidence none = {.sheet = blank};
    DtSwing out;
    dt_find_swing(&none, p, 1, &out);
    g_assert_true(!out.drawn && out.hz == 0 && out.size == 0 && out.sd == 0);
}

/* The strokes: two for each axis, its steps as long as 0.08 s at full speed, slanted and straight in turns, slanted by what
 * 95 % of the pull-in rate makes; a run-up at either end on which the other axis reaches its full speed. */
static void test_strokes_are_steps_at_the_pull_in_rate(void)
{
    g_autoptr(DtProfile) p = NULL;
    g_autoptr(DtTestSheet) s = sheet_with_swings(&p);
    int strokes[2] = {0, 0};
    for (size_t i = 0; i < s->n;) {
        const int axis = s->marks[i].axis, other = 1 - axis;
        const double speed = p->speed[other], step = MAX(1, 0.08 * speed);
        const double jump = 0.95 * MIN(p->pull_in[axis], p->speed[axis]);
        const double run_up = speed * speed / (2 * p->acceleration[other]) + 0.5;
        int place = 0;
        g_assert_cmpint(s->marks[i].row, ==, strokes[axis]++);
        for (; i < s->n && s->marks[i].place == place; i++, place++) {
            const DtMark *m = &s->marks[i];
            const gboolean last = i + 1 == s->n || s->marks[i + 1].place == 0;
            const gboolean end = place == 0 || last, slanted = place % 2 == 1 && !last;
            g_assert_cmpint(m->kind, ==, DT_MARK_SWING);
            g_assert_cmpint(m->part, ==, DT_SHEET_SCAN);
            g_assert_cmpfloat_with_epsilon(along_of(m, m->to) - along_of(m, m->from),
                                           end ? run_up : step, 1e-9);
            g_assert_cmpfloat_with_epsilon(across_of(m, m->to) - across_of(m, m->from),
                                           slanted ? step * jump / speed : 0, 1e-9);
            g_assert_cmpfloat_with_epsilon(m->feed_mm_s, slanted ? hypot(speed, jump) : speed,
                                           1e-9);
            g_assert_cmpint(m->approach[0], ==, place == 0);
            g_assert_cmpint(m->approach[1], ==, place == 0);
            if (place > 0)
                g_assert_cmpfloat(dt_point_distance(m[-1].to, m->from), ==, 0);
        }
        g_assert_cmpint(place % 2, ==, 0);
        g_assert_cmpint(place, >=, 12 + 2);
        g_assert_cmpint(place, <=, 24 + 2);
    }
    g_assert_true(strokes[0] == 2 && strokes[1] == 2);
    const size_t n = s->n;
    dt_sheet_add_swings(s, p, (DtBox){20, 20, 36, 36}); /* no room: none */
    g_assert_cmpuint(s->n, ==, n);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/swing-fit/strokes", test_strokes_are_steps_at_the_pull_in_rate);
    g_test_add_func("/swing-fit/few", test_few_corners_tell_nothing);
    g_test_add_func("/swing-fit/stiff", test_what_is_stiff_or_hidden_in_noise_does_not_swing);
    g_test_add_func("/swing-fit/rates", test_each_axis_swings_at_its_own_rate);
    return g_test_run();
}
