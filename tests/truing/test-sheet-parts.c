/* sheet-parts: where each line of a vernier, of a tone scale and of the axes on a sheet for scans stands, by hand. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>
#include <string.h>

static DtProfile *profile(double tip)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text =
        g_strdup_printf("[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n[pen black]\ntip = %g mm\n"
                        "[pen green]\ntip = 0.6 mm\n",
                        tip);
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static DtTestSheet *blank(const DtProfile *p)
{
    return dt_sheet_new_blank(p, DT_SHEET_PENS, "2026-03-14", 7);
}

#define NEAR(a, b) g_assert_cmpfloat_with_epsilon(a, b, 1e-9)

/* Verniers ---------------------------------------------------------------------------------------- */

static double along(int axis, DtPoint p)
{
    return axis == 0 ? p.x : p.y;
}

static double across(int axis, DtPoint p)
{
    return axis == 0 ? p.y : p.x;
}

/* One comb: its ticks follow one another the way the axis comes, each fifth one is longer. The main comb hangs below the
 * line, or stands above it; the other one reaches 0.4 mm across it. */
static void check_comb(const DtTestSheet *s, const DtVernier *v, gboolean main_comb, int from)
{
    const int n = v->last - v->first + 1;
    g_assert_cmpuint(s->n, ==, n);
    for (int i = 0; i < n; i++) {
        const DtMark *m = &s->marks[i];
        const int k = m->place;
        const double length = k % 5 == 0 ? 2.5 : 1.5;
        const double low = !main_comb      ? -0.4
                           : v->main_above ? 0
                                           : -length,
                     high = main_comb && !v->main_above ? 0 : length;
        const double at = main_comb ? k * v->pitch : v->shift + k * (v->pitch - v->least);
        g_assert_cmpint(m->kind, ==, main_comb ? DT_MARK_COMB : DT_MARK_VERNIER);
        g_assert_cmpint(m->part, ==, v->part);
        g_assert_cmpint(m->axis, ==, v->axis);
        g_assert_cmpint(m->row, ==, v->row);
        NEAR(along(v->axis, m->from), along(v->axis, v->at) + at);
        NEAR(along(v->axis, m->to), along(v->axis, v->at) + at);
        const double a = across(v->axis, m->from) - across(v->axis, v->at),
                     b = across(v->axis, m->to) - across(v->axis, v->at);
        NEAR(MIN(a, b), low);
        NEAR(MAX(a, b), high);
        g_assert_cmpint(b > a, ==, !v->one_way && k % 2 != 0); /* downwards, or to and fro */
        g_assert_cmpint(m->approach[v->axis], ==, from);
        g_assert_cmpint(m->approach[1 - v->axis], ==, 0);
        g_assert_cmpint(m->needs_no_reversal, ==, i > 0);
        if (i > 0) /* never back */
            g_assert_cmpfloat(from * (along(v->axis, m->from) - along(v->axis, m[-1].from)), >, 0);
    }
}

static void test_combs(void)
{
    g_autoptr(DtProfile) p = profile(0.4);
    for (int kind = 0; kind < 32; kind++) {
        const DtVernier v = {.part = DT_SHEET_SLACK,
                             .axis = kind & 1,
                             .row = 3,
                             .at = {50, 60},
                             .pitch = kind & 2 ? -2 : 2,
                             .least = kind & 2 ? -0.1 : 0.1,
                             .shift = 0.35,
                             .first = -3,
                             .last = 12,
                             .one_way = (kind & 4) != 0,
                             .main_above = (kind & 8) != 0,
                             .main_from = kind & 16 ? 1 : -1,
                             .vernier_from = kind & 16 ? -1 : 1,
                             .name = "X1"};
        g_autoptr(DtTestSheet) a = blank(p), b = blank(p);
        dt_vernier_add_main(a, &v);
        check_comb(a, &v, TRUE, v.main_from);
        dt_vernier_add_vernier(b, &v);
        check_comb(b, &v, FALSE, v.vernier_from);
    }
}

static DtBox box_of(const DtTestSheet *s, size_t from)
{
    DtBox box = DT_BOX_EMPTY;
    for (size_t i = from; i < s->n; i++)
        box = dt_box_add_point(dt_box_add_point(box, s->marks[i].from), s->marks[i].to);
    return box;
}

/* Each fifth number of a short comb, each tenth of a long one, above its tick; in letters of 1.6 mm. */
static void test_numbers_stand_at_their_ticks(void)
{
    static const struct {
        int last, every;
    } cases[] = {{9, 5}, {10, 10}, {25, 10}};
    g_autoptr(DtProfile) p = profile(0.4);
    for (gsize c = 0; c < G_N_ELEMENTS(cases); c++)
        for (int axis = 0; axis < 2; axis++) {
            g_autoptr(GError) error = NULL;
            const DtVernier v = {.part = DT_SHEET_SLACK,
                                 .axis = axis,
                                 .at = {50, 60},
                                 .pitch = 3,
                                 .least = 0.1,
                                 .first = 0,
                                 .last = cases[c].last};
            g_autoptr(DtTestSheet) s = blank(p), all = blank(p);
            g_assert_true(dt_vernier_add_letters(s, &v, &error));
            for (int k = 0; k <= v.last; k += cases[c].every) {
                const size_t before = all->n;
                g_autofree char *text = g_strdup_printf("%d", k);
                const double tick = k * 2.9;
                const DtPoint at =
                    axis == 0 ? dt_point(50 + tick, 60 + 3.3) : dt_point(50 + 3.3, 60 + tick - 0.8);
                g_assert_true(dt_sheet_add_text(all, DT_SHEET_SLACK, text, at, 1.6,
                                                axis == 0 ? 0.5 : 0, &error));
                const DtBox box = box_of(all, before);
                NEAR(axis == 0 ? box.y0 : (box.y0 + box.y1) / 2, axis == 0 ? 63.3 : 60 + tick);
            }
            g_assert_cmpuint(s->n, ==, all->n);
            for (size_t i = 0; i < s->n; i++) {
                g_assert_cmpint(s->marks[i].kind, ==, DT_MARK_LETTER);
                NEAR(s->marks[i].from.x, all->marks[i].from.x);
                NEAR(s->marks[i].from.y, all->marks[i].from.y);
            }
        }
}

/* An arrow is a line of 3.2 mm with a head of 1 mm at its end, where the axis goes. */
static void test_arrows_and_names_stand_beside_the_end(void)
{
    g_autoptr(DtProfile) p = profile(0.4);
    for (int kind = 0; kind < 8; kind++) {
        g_autoptr(GError) error = NULL;
        const int axis = kind & 1;
        const DtVernier v = {.part = DT_SHEET_SLACK,
                             .axis = axis,
                             .at = {50, 60},
                             .pitch = 2,
                             .last = 10,
                             .main_from = kind & 2 ? 1 : -1,
                             .vernier_from = kind & 4 ? 1 : -1,
                             .name = "Y2"};
        const double across_mm[] = {0.8, 2.7};
        const int from[] = {v.main_from, v.vernier_from};
        g_autoptr(DtTestSheet) s = blank(p);
        dt_vernier_add_arrows(s, &v);
        g_assert_cmpuint(s->n, ==, 2 * 5);
        for (int i = 0; i < 2; i++) {
            const double low = along(axis, v.at) + 20 + 1.5, high = low + 3.2;
            const DtPoint tail = s->marks[5 * i].from, head = s->marks[5 * i + 2].to;
            NEAR(along(axis, tail), from[i] > 0 ? low : high);
            NEAR(along(axis, head), from[i] > 0 ? high : low);
            NEAR(across(axis, tail), across(axis, v.at) + across_mm[i]);
            NEAR(across(axis, head), across(axis, v.at) + across_mm[i]);
            NEAR(fabs(along(axis, s->marks[5 * i + 1].to) - along(axis, head)), 1);
            NEAR(fabs(across(axis, s->marks[5 * i + 1].to) - across(axis, head)), 0.5);
        }
        const size_t before = s->n;
        g_assert_true(dt_vernier_add_name(s, &v, &error));
        const DtBox box = box_of(s, before);
        g_assert_cmpfloat(axis == 0 ? box.x0 : box.y0, >=, along(axis, v.at) + 21.5 - 1e-9);
        g_assert_cmpfloat(axis == 0 ? box.y1 : box.x1, <, across(axis, v.at));
    }
}

/* Tones ------------------------------------------------------------------------------------------- */

/* The upright lines of a step from left to right; g_free. */
static double *lines_of(const DtTestSheet *s, int place, size_t *n)
{
    double *x = g_new(double, s->n + 1);
    *n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind == DT_MARK_TONE && m->place == place && m->from.x == m->to.x)
            x[(*n)++] = m->from.x;
    }
    for (size_t i = 1; i < *n; i++)
        g_assert_cmpfloat(x[i], >, x[i - 1]);
    return x;
}

/* Lines of one share: a pitch of tip / share, half of it at either end. Returns where the step ends. */
static double check_step(const DtTestSheet *s, int place, double left, double share, size_t lines,
                         double tip)
{
    size_t n;
    g_autofree double *x = lines_of(s, place, &n);
    g_assert_cmpuint(n, ==, lines);
    for (size_t i = 0; i < n; i++)
        NEAR(x[i], left + (i + 0.5) * tip / share);
    NEAR(dt_sheet_tone_share(s, 0, place, tip), share);
    NEAR(dt_sheet_tone_share(s, 0, place, tip * 1.1), MIN(share * 1.1, 1));
    return left + lines * tip / share;
}

/* Lines that overlap by a quarter. */
static void check_bar(const double *x, size_t n, double tip)
{
    for (size_t i = 1; i < n; i++)
        NEAR(x[i] - x[i - 1], 0.75 * tip);
}

static void test_ten_steps_and_bars_by_eye(void)
{
    static const double tips[] = {0.3, 0.5, 1.2};
    for (gsize k = 0; k < G_N_ELEMENTS(tips); k++) {
        g_autoptr(GError) error = NULL;
        const double tip = tips[k], strip = 5;
        g_autoptr(DtProfile) p = profile(tip);
        g_autoptr(DtTestSheet) s = blank(p);
        double left = 30;
        g_assert_true(dt_sheet_add_tones(s, p, 0, dt_point(30, 40), strip, &error));
        for (int i = 1; i <= 10; i++) {
            const double share = 0.16 + 0.04 * (i - 1);
            const size_t n = MAX((size_t)ceil(4.4 * share / tip), 2);
            left = check_step(s, i, left, share, n, tip);
        }
        const DtPoint size = dt_sheet_tones_size(p, 0, strip);
        NEAR(size.x, left - 30 + 5);
        NEAR(size.y, 2 * strip + 0.7 + 1.6);
        size_t n, in_bar = 1;
        g_autofree double *x = lines_of(s, 0, &n);
        while (in_bar < n && x[in_bar] - x[in_bar - 1] < 0.76 * tip)
            in_bar++;
        g_assert_cmpuint(n % in_bar, ==, 0);
        const double width = ((double)(in_bar - 1) * 0.75 + 1) * tip;
        g_assert_cmpfloat(width, >=, 1.5 - 1e-9);
        g_assert_cmpuint(in_bar, >=, 2);
        if (in_bar > 2)
            g_assert_cmpfloat(width - 0.75 * tip, <, 1.5);
        for (size_t i = 0; i < n; i += in_bar) {
            check_bar(x + i, in_bar, tip);
            NEAR(x[i], 30 + width / 2 + tip / 2 + (double)(i / in_bar) * 2 * width);
        }
        g_assert_cmpuint(n / in_bar, ==, MAX((size_t)lround((left - 30) / (2 * width)), 1));
        NEAR(dt_sheet_tone_share(s, 0, 0, tip), 0.5); /* as wide as the gaps between them */
        gboolean begun[2] = {FALSE, FALSE};
        for (size_t i = 0; i < s->n; i++) {
            const DtMark *m = &s->marks[i];
            g_assert_cmpuint(m->pen, ==, 0);
            if (m->kind != DT_MARK_TONE || m->from.x != m->to.x)
                continue;
            const double low = 40 + (m->place > 0 ? strip : 0) + tip / 2;
            NEAR(MIN(m->from.y, m->to.y), low);
            NEAR(MAX(m->from.y, m->to.y), low + strip - tip);
            if (m->approach[0] == 0)
                continue; /* joined to the line before */
            g_assert_cmpint(m->approach[0], ==, 1);
            g_assert_cmpint(m->needs_no_reversal, ==, begun[m->place > 0]);
            begun[m->place > 0] = TRUE;
        }
    }
}

static void test_three_steps_and_a_dense_one_for_a_scan(void)
{
    static const double shares[] = {0.25, 0.5, 0.75};
    static const size_t lines[] = {3, 5, 6};
    for (double tip = 0.3; tip < 1.1; tip += 0.35) {
        g_autoptr(DtProfile) p = profile(tip);
        g_autoptr(DtTestSheet) s = blank(p);
        double left = 30;
        dt_sheet_add_scan_tones(s, p, 0, dt_point(30, 40));
        for (int i = 0; i < 3; i++)
            left = check_step(s, i + 1, left, shares[i], lines[i], tip) + 1.5;
        size_t n;
        g_autofree double *x = lines_of(s, 0, &n);
        g_assert_cmpuint(n, ==, 8);
        NEAR(x[0], left + tip / 2);
        check_bar(x, n, tip);
        const DtPoint size = dt_sheet_scan_tones_size(p, 0);
        NEAR(size.x, x[7] + tip / 2 - 30);
        NEAR(size.y, 3.6);
        const DtBox box = box_of(s, 0);
        NEAR(box.y0, 40 + tip / 2);
        NEAR(box.y1, 43.6 - tip / 2);
    }
    g_autoptr(DtProfile) p = profile(0.4);
    g_autoptr(DtTestSheet) s = blank(p);
    g_assert_cmpfloat(dt_sheet_tone_share(s, 0, 1, 0.4), ==, 0);
}

/* Axes -------------------------------------------------------------------------------------------- */

/* Two arrows of 6 mm from one place, to the right and up, in the lower left quarter of the paper. */
static void test_a_sheet_for_scans_shows_its_axes(void)
{
    static const char text[] = "[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n"
                               "[paper]\nsize = A5 landscape\nat = 20, 20 mm\n";
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SCAN, "2026-03-14", 7, &error);
    int found[2] = {0, 0};
    g_assert_no_error(error);
    const DtPoint at = {20 + 210 / 2.0 - 16, 20 + 0.36 * 148 - 4.5};
    for (size_t i = 0; i < s->n; i++) { /* drawn from either end */
        const DtMark *m = &s->marks[i];
        const DtPoint a = dt_point_sub(m->from, at), b = dt_point_sub(m->to, at);
        if (m->kind != DT_MARK_LETTER)
            continue;
        for (int axis = 0; axis < 2; axis++)
            found[axis] += fabs(across(axis, a)) < 0.02 && fabs(across(axis, b)) < 0.02 &&
                           fabs(MIN(along(axis, a), along(axis, b))) < 0.02 &&
                           fabs(MAX(along(axis, a), along(axis, b)) - 5) < 0.02;
    }
    g_assert_cmpint(found[0], ==, 1);
    g_assert_cmpint(found[1], ==, 1);
}

/* Questions --------------------------------------------------------------------------------------- */

static DtProfile *with_paper(const char *size)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strdup_printf(
        "[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n[paper]\nsize = %s\nat = 20, 20 mm\n"
        "[pen black]\ntip = 0.4 mm\n[pen green]\ntip = 0.6 mm\n",
        size);
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

/* What may be the answer to a question: the marks of its row whose numbers are in its range, one for one in the order in
 * which they are drawn; none for a length. */
static void test_what_may_be_the_answer(void)
{
    static const char *const kinds[] = {"all", "speed", "pens"};
    g_autoptr(DtProfile) p = with_paper("A5 landscape");
    size_t seen[DT_ASK_TONE + 1] = {0};
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(DtTestSheet) s =
            dt_sheet_new(p, dt_sheet_kinds(kinds[k]), "2026-03-14", 7, &error);
        g_assert_no_error(error);
        size_t n_asks, n;
        g_autofree DtAsk *asks = dt_eye_asks(s, &n_asks);
        g_assert_cmpuint(n_asks, >, 0);
        for (size_t i = 0; i < n_asks; i++) {
            const DtAsk *a = &asks[i];
            const DtMarkKind kind = a->kind == DT_ASK_TONE ? DT_MARK_TONE
                                    : a->kind == DT_ASK_LADDER && a->part != DT_SHEET_SPEED
                                        ? DT_MARK_DASH
                                        : DT_MARK_VERNIER;
            g_autofree DtEyeChoice *c = dt_eye_choices(s, a, &n);
            const gboolean by_mm = a->kind == DT_ASK_RULE || a->kind == DT_ASK_EDGE;
            size_t found = 0;
            gboolean turned = FALSE;
            for (size_t j = 0; !by_mm && j < s->n; j++) {
                const DtMark *m = &s->marks[j];
                turned |= m->kind == DT_MARK_PAUSE;
                if (m->kind != kind || m->part != a->part || m->row != a->row ||
                    m->place < a->least || m->place > a->most)
                    continue;
                g_assert_cmpuint(found, <, n);
                g_assert_cmpint(c[found].place, ==, m->place);
                if (!turned) {
                    NEAR(c[found].from.x, m->from.x);
                    NEAR(c[found].to.y, m->to.y);
                }
                found++;
            }
            g_assert_cmpuint(found, ==, n);
            g_assert_cmpint(n > 0, ==, !by_mm);
            seen[a->kind]++;
        }
    }
    for (gsize i = 0; i < G_N_ELEMENTS(seen); i++)
        g_assert_cmpuint(seen[i], >, 0);
}

/* Each part says so where the paper has no room for it, and by name. */
static void test_small_paper_is_refused(void)
{
    static const char *const kinds[] = {"slack", "scale", "square", "settle",
                                        "speed", "pens",  "scan"};
    g_autoptr(DtProfile) p = with_paper("40x40");
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_sheet_new(p, dt_sheet_kinds(kinds[k]), "2026-03-14", 7, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, kinds[k]));
    }
}

/* What goes wrong while a sheet is made: the letters cannot be read, or no order for them is found. */
static guint calls, fails_at;

gboolean __real_dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                               GError **error);
gboolean __real_dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                               const DtRouteOptions *options, DtSequence *out, GError **error);
gboolean __wrap_dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                               GError **error);
gboolean __wrap_dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                               const DtRouteOptions *options, DtSequence *out, GError **error);

static gboolean fails_now(GError **error)
{
    if (++calls != fails_at)
        return FALSE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, "on purpose");
    return TRUE;
}

gboolean __wrap_dt_art_letters(const char *text, double cap_height, DtLines *out, double *width,
                               GError **error)
{
    return !fails_now(error) && __real_dt_art_letters(text, cap_height, out, width, error);
}

gboolean __wrap_dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                               const DtRouteOptions *options, DtSequence *out, GError **error)
{
    DtRouteOptions quick = *options;
    quick.iterations = fails_at > 0 ? 0 : options->iterations;
    return !fails_now(error) && __real_dt_route_order(strokes, cost, rack, &quick, out, error);
}

/* Whatever it lacks, a sheet that lacks something is not drawn. */
static void test_a_sheet_is_whole_or_refused(void)
{
    static const char *const kinds[] = {"all", "speed", "pens", "scan"};
    g_autoptr(DtProfile) p = with_paper("A5 landscape");
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
        guint most;
        calls = fails_at = 0;
        g_autoptr(DtTestSheet) whole =
            dt_sheet_new(p, dt_sheet_kinds(kinds[k]), "2026-03-14", 7, NULL);
        g_assert_nonnull(whole);
        most = calls;
        g_assert_cmpuint(most, >, 2);
        for (fails_at = 1; fails_at <= most; fails_at++) {
            g_autoptr(GError) error = NULL;
            calls = 0;
            g_assert_null(dt_sheet_new(p, dt_sheet_kinds(kinds[k]), "2026-03-14", 7, &error));
            g_assert_error(error, DT_ERROR, DT_ERROR_IO);
            g_assert_cmpstr(error->message, ==, "on purpose");
        }
    }
    fails_at = 0;
}

/* On paper of any size a part is refused or lies on it, whatever the machine is called. */
static void assert_fits(const char *kind, const char *name, int w, int h, gboolean *made)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *size = g_strdup_printf("%dx%d", w, h);
    g_autoptr(DtProfile) p = with_paper(size);
    p->margin = 2;
    g_free(p->name);
    p->name = g_strdup(name);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, dt_sheet_kinds(kind), "2026-03-14", 7, &error);
    *made = s != NULL;
    if (s == NULL) {
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        return;
    }
    gboolean turned = FALSE;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        turned |= m->kind == DT_MARK_PAUSE; /* from then on the paper lies otherwise */
        for (int end = 0; dt_mark_is_stroke(m) && !turned && end < 2; end++) {
            const DtPoint at = dt_point_sub(end ? m->to : m->from, s->paper_at);
            if (at.x < 0 || at.y < 0 || at.x > w || at.y > h)
                g_error("%s on %s: a stroke of kind %d at %g, %g", kind, size, m->kind, at.x, at.y);
        }
    }
}

static void test_every_part_is_on_the_paper_or_refused(void)
{
    static const char *const kinds[] = {"all",    "slack", "scale", "square",
                                        "settle", "speed", "pens",  "scan"};
    g_autofree char *name = g_strnfill(120, 'w');
    fails_at = G_MAXUINT; /* never, but the letters are ordered quickly */
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
        guint made = 0, refused = 0;
        for (int size = 26; size <= 190; size += 20)
            for (int tall = 0; tall < 2; tall++) {
                gboolean good;
                assert_fits(kinds[k], tall ? name : "lime", tall ? 190 : size, tall ? size : 190,
                            &good);
                made += good;
                refused += !good;
            }
        g_assert_cmpuint(made, >, 0);
        g_assert_cmpuint(refused, >, 0);
    }
    fails_at = 0;
}

/* Dashes whose waits could not differ would show nothing; the other parts need no certain wait. */
static void test_waits_need_a_dwell(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_new();
    g_free(p->dialect.words);
    p->dialect.words = g_strdup("G0 G1 G21 G28 G90 M0 M2 M3 M5 F S X Y");
    g_autoptr(DtTestSheet) slack = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 88, &error);
    g_assert_no_error(error);
    g_assert_null(dt_sheet_new(p, dt_sheet_kinds("all"), "2026-03-14", 88, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "lack a dwell (G4)"));
}

static void test_parts_by_name(void)
{
    static const struct {
        const char *name;
        guint kinds;
    } cases[] = {{"slack", DT_SHEET_SLACK},
                 {"scale", DT_SHEET_SCALE},
                 {"square", DT_SHEET_SQUARE},
                 {"settle", DT_SHEET_SETTLE},
                 {"speed", DT_SHEET_SPEED},
                 {"pens", DT_SHEET_PENS},
                 {"scan", DT_SHEET_SCAN},
                 {"moon", 0},
                 {"", 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_assert_cmpuint(dt_sheet_kinds(cases[i].name), ==, cases[i].kinds);
        if (cases[i].kinds == 0)
            continue;
        g_assert_cmpstr(dt_sheet_kind_name((DtSheetKind)cases[i].kinds), ==, cases[i].name);
        g_assert_cmpuint(strlen(dt_sheet_kind_help((DtSheetKind)cases[i].kinds)), >, 20);
    }
    g_assert_cmpuint(dt_sheet_kinds("all"), ==,
                     DT_SHEET_SLACK | DT_SHEET_SCALE | DT_SHEET_SQUARE | DT_SHEET_SETTLE);
    g_assert_cmpstr(dt_sheet_kind_name((DtSheetKind)4096), ==, "");
    g_assert_cmpstr(dt_sheet_kind_help((DtSheetKind)4096), ==, "");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/sheet-parts/combs", test_combs);
    g_test_add_func("/sheet-parts/numbers", test_numbers_stand_at_their_ticks);
    g_test_add_func("/sheet-parts/arrows", test_arrows_and_names_stand_beside_the_end);
    g_test_add_func("/sheet-parts/tones", test_ten_steps_and_bars_by_eye);
    g_test_add_func("/sheet-parts/scan-tones", test_three_steps_and_a_dense_one_for_a_scan);
    g_test_add_func("/sheet-parts/axes", test_a_sheet_for_scans_shows_its_axes);
    g_test_add_func("/sheet-parts/answers", test_what_may_be_the_answer);
    g_test_add_func("/sheet-parts/small", test_small_paper_is_refused);
    g_test_add_func("/sheet-parts/whole", test_a_sheet_is_whole_or_refused);
    g_test_add_func("/sheet-parts/on-paper", test_every_part_is_on_the_paper_or_refused);
    g_test_add_func("/sheet-parts/dwell", test_waits_need_a_dwell);
    g_test_add_func("/sheet-parts/names", test_parts_by_name);
    return g_test_run();
}
