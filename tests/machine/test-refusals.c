/* refusals: what the machine cannot draw is refused with the numbers, and nothing is moved. */
#include "drawtrue/machine.h"

#include <math.h>
#include <string.h>

static void add_line(DtSequence *s, unsigned pen, DtPoint a, DtPoint b)
{
    dt_sequence_begin(s, pen, s->n);
    dt_sequence_point(s, a);
    dt_sequence_point(s, b);
}

static void assert_refused(const DtProfile *p, const DtSequence *s, const char *wanted)
{
    g_auto(DtMoves) m = {0};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_machine_moves(p, s, &m, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpuint(m.n, ==, 0);
    if (strstr(error->message, wanted) == NULL)
        g_error("'%s' is not in: %s", wanted, error->message);
}

static void assert_moves(const DtProfile *p, const DtSequence *s)
{
    g_auto(DtMoves) m = {0};
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_machine_moves(p, s, &m, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(m.n, >, 0);
}

static void test_a_pen_that_is_not_in_the_rack(void)
{
    g_autoptr(DtProfile) p = dt_profile_new(); /* three pens */
    g_auto(DtSequence) s = {0};
    add_line(&s, 2, dt_point(20, 20), dt_point(40, 20));
    assert_moves(p, &s);
    add_line(&s, 3, dt_point(20, 30), dt_point(40, 30));
    assert_refused(p, &s, "stroke 2 wants pen 4 of a rack of 3");
}

static void test_a_point_that_is_no_place(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int i = 0; i < 2; i++) {
        g_auto(DtSequence) s = {0};
        add_line(&s, 0, dt_point(20, 20), dt_point(40, 20));
        add_line(&s, 0, dt_point(20, 30), i ? dt_point(NAN, 30) : dt_point(30, INFINITY));
        assert_refused(p, &s, "stroke 2 has a point that is not finite");
    }
}

static void test_beyond_the_travel(void)
{
    g_autoptr(DtProfile) p = dt_profile_new(); /* 300 by 220 mm */
    g_auto(DtSequence) s = {0};
    add_line(&s, 0, dt_point(0, 0), dt_point(300, 220)); /* its corners belong to it */
    assert_moves(p, &s);
    add_line(&s, 0, dt_point(20, 30), dt_point(301.25, 30));
    assert_refused(p, &s,
                   "the drawing needs x from 0.000 to 301.250 mm where the machine travels from 0 "
                   "to 300 mm (first at stroke 2)");
    add_line(&s, 0, dt_point(20, -0.5), dt_point(40, 230));
    assert_refused(p, &s,
                   "x from 0.000 to 301.250 mm where the machine travels from 0 to 300 mm, and y "
                   "from -0.500 to 230.000 mm where the machine travels from 0 to 220 mm (first at "
                   "stroke 2)");
}

/* The drive must run ahead by the slack to draw towards -, so that a stroke which lies within the travel
 * may still need more of it. */
static void test_the_slack_needs_travel_too(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    double at = 0, lost = 0.5;
    p->backlash[0] = (DtTable){g_memdup2(&at, sizeof at), g_memdup2(&lost, sizeof lost), 1};
    g_auto(DtSequence) s = {0};
    add_line(&s, 0, dt_point(40, 20), dt_point(0.2, 20));
    assert_refused(p, &s, "x from -0.300 to ");
    g_auto(DtSequence) towards = {0};
    add_line(&towards, 0, dt_point(0.2, 20), dt_point(40, 20));
    add_line(&towards, 0, dt_point(40, 30), dt_point(0.6, 30));
    assert_moves(p, &towards);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/refusals/pen", test_a_pen_that_is_not_in_the_rack);
    g_test_add_func("/machine/refusals/not-finite", test_a_point_that_is_no_place);
    g_test_add_func("/machine/refusals/travel", test_beyond_the_travel);
    g_test_add_func("/machine/refusals/slack", test_the_slack_needs_travel_too);
    return g_test_run();
}
