/* texts: every text of a proof and where it stands, and the bands of its bars, as they are drawn. */
#include "drawn.h"
#include "job.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

enum { WIDTH = 1200, COLUMN = 268 };

static char *folder;

/* Draws a proof and takes down what stands on it. */
static void draw(const DtProofInput *in)
{
    drawn_page(in, folder, WIDTH);
}

static void assert_stands(const char *text)
{
    if (drawn_text(text) != NULL)
        return;
    for (guint i = 0; i < texts->len; i++)
        g_printerr("  %s\n", g_array_index(texts, Text, i).text);
    g_error("'%s' is not on the picture", text);
}

static void assert_lacks(const char *text)
{
    if (drawn_text(text) != NULL)
        g_error("'%s' is on the picture", text);
}

/* Everything is on the page, and nothing is written over anything else. */
static void assert_clear(void)
{
    for (guint i = 0; i < texts->len; i++) {
        const Text *a = &g_array_index(texts, Text, i);
        if (!(a->box.x0 >= 0 && a->box.y0 >= 0 && a->box.x1 <= WIDTH &&
              a->box.y1 <= picture_height - 4))
            g_error("'%s' leaves the page: %g %g %g %g", a->text, a->box.x0, a->box.y0, a->box.x1,
                    a->box.y1);
        for (guint k = 0; k < i; k++) {
            const Text *b = &g_array_index(texts, Text, k);
            const DtBox both = dt_box_intersect(a->box, b->box);
            if (!dt_box_is_empty(both) && dt_box_width(both) > 0.5 && dt_box_height(both) > 0.5)
                g_error("'%s' and '%s' stand on each other", a->text, b->text);
        }
    }
}

/* Width of the bands of a colour and a height, px. */
static double bands_of(double r, double g, double b, double high)
{
    double sum = 0;
    for (guint i = 0; i < bands->len; i++) {
        const Shape *v = &g_array_index(bands, Shape, i);
        if (is_colour(v->colour, (DtColour){r, g, b, 1}) &&
            fabs(dt_box_height(v->box) - high) < 0.1)
            sum += dt_box_width(v->box);
    }
    return sum;
}

static void add_line(DtSequence *s, unsigned pen, double x0, double y0, double x1, double y1)
{
    dt_sequence_begin(s, pen, s->n);
    dt_sequence_point(s, dt_point(x0, y0));
    dt_sequence_point(s, dt_point(x1, y1));
}

static void make_job(Job *j)
{
    *j = (Job){.p = dt_profile_new()};
    double at = 0, lost = 0.4;
    j->p->backlash[0] = (DtTable){g_memdup2(&at, sizeof at), g_memdup2(&lost, sizeof lost), 1};
    j->p->ink_tolerance = 0;
    j->p->rack.pens[1].tip = 0.7;
    for (int i = 0; i < 6; i++)
        add_line(&j->s, 0, 40, 40 + 3 * i, 140, 40 + 3 * i);
    add_line(&j->s, 2, 30, 100, 80, 100);
    dt_sequence_point(&j->s, dt_point(30, 110)); /* turns round: slack is taken up */
    g_assert_true(dt_machine_moves(j->p, &j->s, &j->m, NULL));
    dt_machine_time(j->p, &j->m, TRUE, &j->t);
}

static char *share(double part, double whole)
{
    return g_strdup_printf("%.0f %%", 100 * part / whole);
}

/* Ink, slack, travel, lifts and homing of all pens, s. */
static void split(const Job *j, double part[5])
{
    DtProofPen pens[3];
    dt_proof_pens(j->p, &j->m, &j->t, pens);
    memset(part, 0, 5 * sizeof *part);
    for (int i = 0; i < 3; i++) {
        part[0] += pens[i].ink_s;
        part[1] += pens[i].slack_s;
        part[2] += pens[i].travel_s;
        part[3] += pens[i].lift_s;
    }
    part[4] = j->t.home_s;
}

static const double colours[5][3] = {{0.20, 0.19, 0.17},
                                     {0.72, 0.30, 0.24},
                                     {0.30, 0.55, 0.76},
                                     {0.93, 0.62, 0.18},
                                     {0.66, 0.64, 0.60}};
static const char *const names[5] = {"ink", "slack", "travel", "lifts", "homing"};

static void test_what_a_proof_says(void)
{
    Job j;
    make_job(&j);
    DtProofInput in = {.profile = j.p, .moves = &j.m, .times = &j.t, .title = "A title"};
    draw(&in);
    assert_clear();
    assert_stands("A title");
    assert_stands("A5 landscape on plotter");
    assert_stands("bed 300 \303\227 220 mm, sheet 210 \303\227 148 mm");
    assert_stands("Pens, in drawing order");
    assert_stands("black  0.4 mm");
    assert_stands("blue  0.4 mm");
    assert_lacks("red  0.7 mm"); /* draws nothing */
    DtProofPen pens[3];
    dt_proof_pens(j.p, &j.m, &j.t, pens);
    for (int i = 0; i < 3; i += 2) {
        g_autofree char *time =
            dt_base_duration(pens[i].ink_s + pens[i].slack_s + pens[i].travel_s + pens[i].lift_s);
        g_autofree char *text =
            g_strdup_printf("%.2f m, %zu stroke%s, %s", pens[i].ink_mm / 1000, pens[i].strokes,
                            pens[i].strokes > 1 ? "s" : "", time);
        assert_stands(text);
    }
    assert_stands("Where the time goes");
    double part[5], sum = 0;
    split(&j, part);
    for (int i = 0; i < 5; i++) {
        g_autofree char *time = dt_base_duration(part[i]), *percent = share(part[i], j.t.total_s);
        assert_stands(names[i]);
        assert_stands(time);
        assert_stands(percent);
        g_assert_cmpfloat_with_epsilon(bands_of(colours[i][0], colours[i][1], colours[i][2], 14),
                                       COLUMN * part[i] / j.t.total_s, 0.1);
        sum += part[i];
    }
    g_assert_cmpfloat_with_epsilon(sum, j.t.total_s, 1e-6);
    g_autofree char *total = dt_base_duration(j.t.total_s),
                    *change = dt_base_duration(j.t.change_s);
    assert_stands("drawing");
    assert_stands(total);
    assert_bold((const char *[]){"A title", "Pens, in drawing order", "Where the time goes",
                                 "drawing", total, "start", "end", "home", NULL});
    g_autofree char *changes = g_strdup_printf("and 1 pen change by hand, about %s", change);
    assert_stands(changes);
    g_autofree char *figures = g_strdup_printf(
        "time %s    ink %.2f m (black %.2f, blue %.2f)    lifts %zu    travel %.2f m", total,
        (pens[0].ink_mm + pens[2].ink_mm) / 1000, pens[0].ink_mm / 1000, pens[2].ink_mm / 1000,
        j.t.lifts, j.t.travel_mm / 1000);
    assert_stands(figures);
    in.figures = "own figures";
    draw(&in);
    assert_stands("own figures");
    assert_lacks(figures);
    job_clear(&j);
}

/* A sequence has no times; one pen is not told apart. */
static void test_a_proof_without_times(void)
{
    Job j;
    make_job(&j);
    g_auto(DtSequence) s = {0};
    add_line(&s, 1, 10, 0, 50, 0);
    add_line(&s, 1, 50, 30, 50, 70);
    DtProofInput in = {.profile = j.p, .sequence = &s, .title = "A title"};
    draw(&in);
    assert_clear();
    assert_stands("red  0.7 mm");
    assert_stands("0.08 m, 2 strokes");
    assert_stands("ink 0.08 m    lifts 2    travel 0.13 m"); /* 10 + 30 + 86 mm */
    assert_lacks("Where the time goes");
    in.sequence = NULL;
    draw(&in);
    assert_lacks("Pens, in drawing order");
    job_clear(&j);
}

static void test_the_order_and_what_it_saves(void)
{
    Job j;
    make_job(&j);
    DtTimes before = j.t;
    before.total_s = 2 * j.t.total_s;
    before.travel_s = before.total_s - before.ink_s - before.lift_s - before.home_s;
    before.at_s = NULL;
    DtProofInput in = {.profile = j.p,
                       .moves = &j.m,
                       .times = &j.t,
                       .before = &before,
                       .before_moves = &j.m,
                       .order = TRUE,
                       .title = "A title"};
    draw(&in);
    assert_clear();
    assert_stands("Order of the travel");
    assert_stands("first");
    assert_stands("last");
    assert_stands("Time of each pen, min:s");
    DtProofPen pens[3];
    dt_proof_pens(j.p, &j.m, &j.t, pens);
    assert_bold((const char *[]){"A title", "Pens, in drawing order", "Order of the travel",
                                 "Time of each pen, min:s", "Where the time goes", "drawing",
                                 drawn_text("drawing")[1].text, "start", "end", "home", NULL});
    const double s[] = {pens[0].ink_s, pens[0].travel_s,
                        pens[0].ink_s + pens[0].slack_s + pens[0].travel_s + pens[0].lift_s};
    for (gsize i = 0; i < G_N_ELEMENTS(s); i++) {
        g_autofree char *text = g_strdup_printf("%ld:%02ld", lround(s[i]) / 60, lround(s[i]) % 60);
        assert_stands(text);
    }
    g_autofree char *was = dt_base_duration(before.total_s);
    g_autofree char *text = g_strdup_printf("in the drawing's own order: %s", was);
    assert_stands(text);
    /* the longer bar takes the whole width, the other half of it */
    double part[5];
    split(&j, part);
    for (int i = 0; i < 5; i++)
        g_assert_cmpfloat_with_epsilon(bands_of(colours[i][0], colours[i][1], colours[i][2], 14),
                                       COLUMN * part[i] / before.total_s, 0.1);
    const double was_part[5] = {before.ink_s, 0, before.travel_s, before.lift_s, before.home_s};
    for (int i = 0; i < 5; i++)
        g_assert_cmpfloat_with_epsilon(bands_of(colours[i][0], colours[i][1], colours[i][2], 8),
                                       COLUMN * was_part[i] / before.total_s, 0.1);
    job_clear(&j);
}

/* Where the times of the moves are known a travel has the colour of its time, else that of its number. */
static void test_travel_has_the_colour_of_its_time(void)
{
    Job j;
    make_job(&j);
    DtProofTrace t;
    DtProofInput in = {
        .profile = j.p, .moves = &j.m, .times = &j.t, .order = TRUE, .title = "A title"};
    dt_proof_trace(&t, &in);
    const guint n = t.travels->len;
    draw(&in);
    for (guint i = 0; i < n; i++) {
        const DtProofTravel *v = &g_array_index(t.travels, DtProofTravel, i);
        g_assert_nonnull(drawn_shape(lines, dt_proof_when((v->t0 + v->t1) / 2 / j.t.total_s), 0));
    }
    DtTimes whole = j.t;
    whole.at_s = NULL;
    in.times = &whole;
    for (int known = 1; known >= 0; known--) {
        draw(&in);
        for (guint i = 0; i < n; i++)
            g_assert_nonnull(drawn_shape(lines, dt_proof_when((i + 0.5) / n), 0));
        in.times = NULL;
    }
    dt_proof_trace_clear(&t);
    job_clear(&j);
}

static void test_tones_one_way_and_notes(void)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='50mm' height='20mm' viewBox='0 0 50 20'>"
        "<rect width='9' height='9'/><image href='no-such.png' width='10' height='10'/></svg>";
    Job j;
    make_job(&j);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(d->n_notes, ==, 1);
    const DtInkOptions tones = DT_INK_OPTIONS_DEFAULT;
    const DtOneWay w = {{100, 200}, {0.25, 0.1}, 1, 0.45}, unknown = {{100, 200}, {0, 0}, 0, 0};
    const DtProofLook look = {4.25, 2.75, 1.5};
    DtProofInput in = {.profile = j.p,
                       .drawing = d,
                       .moves = &j.m,
                       .times = &j.t,
                       .one_way = &w,
                       .tones = &tones,
                       .look = &look,
                       .title = "A title"};
    draw(&in);
    assert_clear();
    assert_stands("Tones, % of the paper covered");
    assert_stands("0");
    assert_stands("50");
    assert_stands("100");
    assert_stands("Fills one way along Y");
    assert_stands("both ways");
    assert_stands("one way");
    assert_stands("1 min 40 s");
    assert_stands("3 min 20 s");
    assert_stands("their mean error along Y, left uncorrected");
    assert_stands("0.250 mm");
    assert_stands("0.100 mm");
    assert_stands("1 note on the artwork in the report");
    assert_stands("The artwork");
    assert_stands("ink differs by 4.2 at 40 cm, 2.8 at 2 m");
    assert_stands("in CIEDE2000; L* differs by 1.5 at 2 m");
    /* of both pairs: 120 px are the longer one */
    g_assert_cmpfloat_with_epsilon(bands_of(0.66, 0.64, 0.60, 8), 60 + 120, 0.1);
    g_assert_cmpfloat_with_epsilon(bands_of(0.30, 0.55, 0.76, 8), 120 + 48, 0.1);
    in.one_way = &unknown;
    in.order = TRUE; /* leaves no room for the artwork */
    draw(&in);
    assert_clear();
    assert_stands("Fills one way along X");
    assert_stands("no lost motion of X is known: gain unknown");
    assert_lacks("The artwork");
    job_clear(&j);
}

/* Long names are cut, and the page is not left by any. */
static void test_long_names(void)
{
    Job j;
    make_job(&j);
    g_free(j.p->rack.pens[0].name);
    j.p->rack.pens[0].name = g_strnfill(300, 'w');
    g_autofree char *title = g_strnfill(400, 'T');
    DtProofInput in = {.profile = j.p, .moves = &j.m, .times = &j.t, .title = title, .order = TRUE};
    draw(&in);
    assert_clear();
    guint cut = 0;
    for (guint i = 0; i < texts->len; i++)
        cut += g_str_has_suffix(g_array_index(texts, Text, i).text, "\342\200\246");
    g_assert_cmpuint(cut, >=, 3); /* the title and the name in two places */
    job_clear(&j);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    drawn_init();
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_test_add_func("/proof/texts/said", test_what_a_proof_says);
    g_test_add_func("/proof/texts/no-times", test_a_proof_without_times);
    g_test_add_func("/proof/texts/order", test_the_order_and_what_it_saves);
    g_test_add_func("/proof/texts/time", test_travel_has_the_colour_of_its_time);
    g_test_add_func("/proof/texts/all", test_tones_one_way_and_notes);
    g_test_add_func("/proof/texts/long", test_long_names);
    const int result = g_test_run();
    drawn_clear();
    g_rmdir(folder);
    g_free(folder);
    return result;
}
