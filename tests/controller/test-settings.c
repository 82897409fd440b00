/* controller: each parameter by itself: its range, what it does to the place and to the memory, and
 * that settings beyond it are not believed when the board starts. */
#include "support/board.h"

#include <math.h>
#include <stddef.h>

#define AT(field) offsetof(DtSettings, field)

/* In the units of docs/board.md. */
static const struct Parameter {
    unsigned number;
    size_t at;     /* in DtSettings */
    gboolean real; /* or a whole number */
    double least, most;
    gboolean moves_the_place; /* a change makes the position worthless */
} parameters[] = {
    {411, AT(steps_per_mm[0]), TRUE, 0.5, 3800, TRUE},
    {421, AT(steps_per_mm[1]), TRUE, 0.5, 3800, TRUE},
    {412, AT(speed[0]), TRUE, 0.1, 1000, FALSE},
    {422, AT(speed[1]), TRUE, 0.1, 1000, FALSE},
    {413, AT(acceleration[0]), TRUE, 1, 100000, FALSE},
    {423, AT(acceleration[1]), TRUE, 1, 100000, FALSE},
    {414, AT(pull_in[0]), TRUE, 0, 1000, FALSE},
    {424, AT(pull_in[1]), TRUE, 0, 1000, FALSE},
    {415, AT(travel[0]), TRUE, 1, 10000, FALSE},
    {425, AT(travel[1]), TRUE, 1, 10000, FALSE},
    {431, AT(home_speed), TRUE, 0.1, 1000, FALSE},
    {432, AT(pull_off), TRUE, 0.1, 50, TRUE},
    {451, AT(chord), TRUE, 0.0001, 1, FALSE},
    {433, AT(debounce_us), FALSE, 0, 20000, FALSE},
    {441, AT(pen_up_us), FALSE, 100, 3000, FALSE},
    {442, AT(pen_us_per_s), FALSE, 0, 100, FALSE},
    {443, AT(s_max), FALSE, 1, 1000, FALSE},
    {444, AT(pen_wait_ms), FALSE, 0, 10000, FALSE},
    {445, AT(settle_ms), FALSE, 0, 10000, FALSE},
    {446, AT(drop_ms), FALSE, 0, 10000, FALSE},
    {452, AT(rest_s), FALSE, 0, 60000, FALSE},
};

/* Settings that leave each parameter its whole range. */
static DtSettings roomy(void)
{
    DtSettings set = dt_settings_default;
    set.steps_per_mm[0] = set.steps_per_mm[1] = 100;
    set.travel[0] = set.travel[1] = 200;
    set.speed[0] = set.speed[1] = 10;
    set.pen_up_us = 1000;
    set.pen_us_per_s = 1;
    set.s_max = 10;
    return set;
}

static double value_of(const DtSettings *s, const struct Parameter *p)
{
    const char *field = (const char *)s + p->at;
    return p->real ? (double)*(const float *)(const void *)field
                   : (double)*(const uint16_t *)(const void *)field;
}

static void set_value(DtSettings *s, const struct Parameter *p, double value)
{
    char *field = (char *)s + p->at;
    if (p->real)
        *(float *)(void *)field = (float)value;
    else
        *(uint16_t *)(void *)field = (uint16_t)value;
}

/* The answer to the parameter's line on a board that is homed; the board's state after it. */
static char *set_on_fresh_board(const struct Parameter *p, double value, Board *b)
{
    const DtSettings set = roomy();
    g_autofree char *line = g_strdup_printf("#%u=%.5f", p->number, value);
    board_init(b, &set);
    board_home(b);
    return g_strdup(board_line(b, line));
}

static void test_each_parameter_has_its_range(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(parameters); i++) {
        const struct Parameter *p = &parameters[i];
        const double beyond = p->real ? 1e-4 * p->most : 1;
        const struct {
            double value;
            gboolean good;
        } cases[] = {{p->least, TRUE},
                     {p->least - (p->real ? MAX(0.01 * p->least, 1e-4) : 1), FALSE},
                     {p->most, TRUE},
                     {p->most + beyond, FALSE},
                     {-p->most, FALSE}};
        for (gsize k = 0; k < G_N_ELEMENTS(cases); k++) {
            Board b;
            g_autofree char *answer = set_on_fresh_board(p, cases[k].value, &b);
            g_autofree char *told =
                g_strdup_printf("parameter %u %.4f\ntaken 2\n", p->number, cases[k].value);
            g_autofree char *refused =
                g_strdup_printf("refused 2 parameter %u out of range\n", p->number);
            /* the servo's longest pulse is a limit of its own */
            const gboolean too_long = p->number == 441 && cases[k].value > 2990;
            if (too_long)
                g_assert_nonnull(strstr(answer, "out of range\n"));
            else
                g_assert_cmpstr(answer, ==, cases[k].good ? told : refused);
            const DtSettings before = roomy();
            const double wanted =
                cases[k].good && !too_long ? cases[k].value : value_of(&before, p);
            g_assert_cmpfloat_with_epsilon(value_of(&b.core.settings, p), wanted, 1e-6 * p->most);
            g_assert_cmpint(
                b.core.homed, ==,
                !(cases[k].good && p->moves_the_place && fabs(wanted - value_of(&before, p)) > 0));
            board_clear(&b);
        }
    }
}

static void test_switches_and_directions_are_bits(void)
{
    static const struct {
        unsigned number;
        size_t at;
        uint8_t bit;
    } bits[] = {
        {416, AT(opens), 1}, {426, AT(opens), 2}, {417, AT(reverse), 1}, {427, AT(reverse), 2}};
    for (gsize i = 0; i < G_N_ELEMENTS(bits); i++)
        for (uint8_t other = 0; other <= 3; other++) {
            Board b;
            board_init(&b, NULL);
            board_home(&b);
            uint8_t *field = (uint8_t *)&b.core.settings + bits[i].at;
            *field = (uint8_t)(other & ~bits[i].bit);
            const uint8_t rest = *field;
            g_autofree char *on = g_strdup_printf("#%u=1", bits[i].number);
            g_autofree char *off = g_strdup_printf("#%u=0", bits[i].number);
            board_line(&b, off); /* as it was */
            g_assert_cmpuint(*field, ==, rest);
            g_assert_true(b.core.homed);
            board_line(&b, on);
            g_assert_cmpuint(*field, ==, rest | bits[i].bit);
            g_assert_false(b.core.homed);
            board_line(&b, off);
            g_assert_cmpuint(*field, ==, rest);
            board_clear(&b);
        }
}

/* The value that is there already wears no memory and leaves the place as it is. */
static void test_no_change_is_none(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(parameters); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        const unsigned writes = b.writes;
        g_autofree char *line =
            g_strdup_printf("#%u=#%u", parameters[i].number, parameters[i].number);
        g_assert_nonnull(strstr(board_line(&b, line), "taken 2\n"));
        board_run(&b, 1000);
        g_assert_cmpuint(b.writes, ==, writes);
        g_assert_true(b.core.homed);
        board_clear(&b);
    }
}

/* A memory whose check holds, but which says what no line would have been allowed to. */
static void test_kept_settings_out_of_range_are_not_believed(void)
{
    unsigned tried = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(parameters); i++) {
        const struct Parameter *p = &parameters[i];
        const double values[] = {p->most, p->most + (p->real ? 1e-4 * p->most : 1),
                                 p->least - (p->real ? MAX(0.01 * p->least, 1e-4) : 1)};
        for (gsize k = 0; k < G_N_ELEMENTS(values); k++) {
            if (values[k] < 0 && !p->real)
                continue;
            Board b;
            const DtSettings set = roomy();
            board_init(&b, &set);
            set_value(&b.core.settings, p, values[k]);
            const char *another = p->number == 445 ? "#446=7" : "#445=7"; /* all are kept with it */
            const gboolean kept = strstr(board_line(&b, another), "taken") != NULL;
            board_run(&b, 1000);
            board_restart(&b);
            const gboolean good = k == 0;
            if (kept) {
                g_assert_cmpstr(b.said->str, ==,
                                good ? "drawtrue controller 1 ready\n"
                                     : "drawtrue controller 1 ready, settings lost\n");
                g_assert_cmpfloat_with_epsilon(value_of(&b.core.settings, p),
                                               good ? values[k] : value_of(&set, p),
                                               1e-6 * p->most);
                tried++;
            }
            board_clear(&b);
        }
    }
    g_assert_cmpuint(tried, >, 40);
}

#define ADD(name, test) g_test_add_func("/controller/settings/" name, test)

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    ADD("ranges", test_each_parameter_has_its_range);
    ADD("bits", test_switches_and_directions_are_bits);
    ADD("no-change", test_no_change_is_none);
    ADD("kept-out-of-range", test_kept_settings_out_of_range_are_not_believed);
    return g_test_run();
}
