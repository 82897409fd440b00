/* The simulated chip as the rig's board: what the rig knows of it from what it says, and how long it is run. */
#include "bare-chip.h"

#include <math.h>
#include <string.h>

static DtRig *make(void)
{
    return bare_chip_new("", &(DtChipOptions){.seed = 1});
}

static void say(DtRig *r, const char *line)
{
    for (; *line; line++)
        dt_rig_hear(r, *line);
    dt_rig_hear(r, '\n');
}

static void keep_answer(const char *text, void *user)
{
    g_string_assign(user, text);
}

/* What is known before, what it says to the line that waits, and what is known then. */
static void the_state_is_what_it_says(void)
{
    enum { HOMED = 1, ABANDONS = 2, HIT = 4 };
    static const struct {
        unsigned before;
        const char *line, *says;
        unsigned after;
        DtState state;
        gboolean answers;
    } cases[] = {
        {0, "G28", "taken 1", HOMED, DT_STATE_STILL, TRUE},
        {0, "G0X1", "taken 1", 0, DT_STATE_STILL, TRUE},
        {HOMED, "G0X1", "taken 1", HOMED, DT_STATE_STILL, TRUE},
        {HOMED, "G0X1", "refused 1 word", HOMED, DT_STATE_STILL, TRUE},
        {HOMED, "G28", "refused 1 switch not found", 0, DT_STATE_STILL, TRUE},
        {HOMED, "G0X1", "refused 1 switch hit", HIT, DT_STATE_STILL, TRUE},
        {0, "G0X1", "refused 1 switch hit", 0, DT_STATE_STILL, TRUE},
        {HOMED, "M0", "state stopped x 1", HOMED, DT_STATE_STOPPED, FALSE},
        {HOMED, "G0X1", "state moving x 1", HOMED, DT_STATE_STILL, FALSE},
        {HOMED, "G0X1", "state unhomed x 1", HIT, DT_STATE_STILL, FALSE},
        {HOMED | ABANDONS, "G0X1", "state unhomed x 1", 0, DT_STATE_STILL, FALSE},
        {HOMED | ABANDONS, "G0X1", "state still x 1", HOMED, DT_STATE_STILL, FALSE},
        {0, "G0X1", "state unhomed x 1", 0, DT_STATE_STILL, FALSE},
        {HOMED, "G0X1", "drawtrue controller 1 ready", 0, DT_STATE_STILL, FALSE},
    };
    g_autoptr(DtRig) r = make();
    g_autoptr(GString) heard = g_string_new(NULL);
    Chip *c = bare_chip(r);
    dt_rig_chip_on_answer(r, keep_answer, heard);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_queue_clear_full(r->lines, g_free);
        g_queue_push_tail(r->lines, g_strdup(cases[i].line));
        c->homed = cases[i].before & HOMED;
        c->abandons = (cases[i].before & ABANDONS) != 0;
        c->state = DT_STATE_HELD;
        c->answered = 0;
        c->stop = FALSE;
        r->machine.figures.stopped_on_switch = FALSE;
        say(r, cases[i].says);
        g_assert_cmpstr(heard->str, ==, cases[i].says);
        g_assert_cmpint(r->board->homed(r), ==, cases[i].after & HOMED);
        g_assert_cmpint(r->board->abandons(r), ==, (cases[i].after & ABANDONS) != 0);
        g_assert_cmpint(r->machine.figures.stopped_on_switch, ==, (cases[i].after & HIT) != 0);
        g_assert_cmpint(c->state, ==, cases[i].state);
        g_assert_cmpuint(c->answered, ==, cases[i].answers ? c->avr->cycle : 0);
        g_assert_true(c->stop); /* the rig is to see it at once */
        g_assert_true(r->board->poll(r));
        g_assert_false(r->board->poll(r));
    }
    dt_rig_chip_on_answer(r, NULL, NULL);
}

static void a_line_that_homes_is_homing(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    g_assert_cmpint(r->board->state(r), ==, DT_STATE_STILL);
    g_queue_push_tail(r->lines, g_strdup("G0X1"));
    g_queue_push_tail(r->lines, g_strdup("N2 G28 "));
    g_assert_cmpint(r->board->state(r), ==, DT_STATE_STILL);
    say(r, "taken 1");
    g_assert_cmpint(r->board->state(r), ==, DT_STATE_HOMING);
    c->state = DT_STATE_STOPPED;
    g_assert_cmpint(r->board->state(r), ==, DT_STATE_STOPPED);
}

static void lost_bytes_are_as_its_state_says(void)
{
    g_autoptr(DtRig) r = make();
    DtChipFigures f;
    say(r, "state still x 0.000 y 0.000 pen up line 0 switch -- lost 17");
    dt_rig_chip_figures(r, &f);
    g_assert_cmpuint(f.no_room, ==, 17);
    say(r, "state still x 0.000 y 0.000 pen up line 0 switch --");
    dt_rig_chip_figures(r, &f);
    g_assert_cmpuint(f.no_room, ==, 0);
}

static void set_quiet_us(Chip *c, uint64_t moved_us, uint64_t talked_us)
{
    c->moved = c->avr->cycle - moved_us * CYCLES_PER_US;
    c->talked = c->avr->cycle - talked_us * CYCLES_PER_US;
}

/* Nothing has moved or talked for 60 ms, or for 20 s while a line waits that is no stop. */
static void it_rests_when_it_is_quiet(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    c->avr->cycle += 30ull * CHIP_CLOCK;
    static const struct {
        uint64_t moved_us, talked_us;
        gboolean line, stopped, rests;
    } cases[] = {{60000, 60000, FALSE, FALSE, FALSE},      {60001, 70000, FALSE, FALSE, TRUE},
                 {70000, 60001, FALSE, FALSE, TRUE},       {10, 70000, FALSE, FALSE, FALSE},
                 {70000, 10, FALSE, FALSE, FALSE},         {60001, 60001, TRUE, FALSE, FALSE},
                 {20000000, 20000000, TRUE, FALSE, FALSE}, {20000001, 20000001, TRUE, FALSE, TRUE},
                 {60001, 60001, TRUE, TRUE, TRUE}};
    for (int where = 0; where < 3; where++)
        for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
            g_queue_clear_full(r->lines, g_free);
            g_string_truncate(r->line, 0);
            c->uart.n = 0;
            if (cases[i].line && where == 0)
                g_queue_push_tail(r->lines, g_strdup("G0X1"));
            else if (cases[i].line && where == 1)
                g_string_append_c(r->line, 'G');
            else if (cases[i].line)
                c->uart.n = 1;
            c->state = cases[i].stopped ? DT_STATE_STOPPED : DT_STATE_STILL;
            set_quiet_us(c, cases[i].moved_us, cases[i].talked_us);
            g_assert_cmpint(r->board->rests(r), ==, cases[i].rests);
        }
    c->figures.crashed = TRUE;
    set_quiet_us(c, 0, 0);
    g_assert_true(r->board->rests(r));
}

/* By a millisecond, or five where it rests, but not beyond; a clock that was set on has the chip asleep. */
static void it_runs_from_event_to_event(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    static const struct {
        gboolean quiet;
        gint64 beyond, goes_on;
        gboolean event;
    } cases[] = {{FALSE, -1, 1000, TRUE},  {TRUE, -1, 5000, FALSE},  {FALSE, 300, 300, TRUE},
                 {TRUE, 300, 300, TRUE},   {TRUE, 4000, 1000, TRUE}, {FALSE, 0, 0, FALSE},
                 {FALSE, 1000, 1000, TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const gint64 from = r->now + 250000;
        r->now = from;
        const uint64_t cycle = c->avr->cycle;
        set_quiet_us(c, cases[i].quiet ? 70000 : 0, 70000);
        const gint64 to = cases[i].beyond < 0 ? -1 : from + cases[i].beyond;
        g_assert_cmpint(r->board->advance(r, to), ==, cases[i].event);
        g_assert_cmpint(r->now, ==, from + cases[i].goes_on);
        g_assert_cmpint(chip_now_us(c), ==, r->now);
        g_assert_cmpuint((c->avr->cycle - cycle) / CYCLES_PER_US, ==, cases[i].goes_on);
    }
    c->figures.crashed = TRUE; /* halted, and time passes */
    const gint64 from = r->now;
    g_assert_true(r->board->advance(r, from + 700));
    g_assert_cmpint(r->now, ==, from + 700);
}

/* CAN twice in a row abandons, if the board holds; DC1 twice ends a stop. */
static void bytes_that_come_twice_act(void)
{
    static const struct {
        guint8 bytes[4];
        gboolean hold, abandons, goes_on;
    } cases[] = {
        {{DT_BYTE_ABANDON, DT_BYTE_ABANDON}, TRUE, TRUE, FALSE},
        {{DT_BYTE_ABANDON}, TRUE, FALSE, FALSE},
        {{DT_BYTE_ABANDON, 'x', DT_BYTE_ABANDON}, TRUE, FALSE, FALSE},
        {{DT_BYTE_ABANDON, DT_BYTE_ABANDON}, FALSE, FALSE, FALSE},
        {{DT_BYTE_GO_ON, DT_BYTE_GO_ON}, TRUE, FALSE, TRUE},
        {{DT_BYTE_GO_ON, DT_BYTE_ASK, DT_BYTE_GO_ON}, TRUE, FALSE, FALSE},
        {{'x', 'x'}, TRUE, FALSE, FALSE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtRig) r = make();
        Chip *c = bare_chip(r);
        r->truth.hold = cases[i].hold;
        c->state = DT_STATE_STOPPED;
        c->talked = 0;
        bare_put(c, CHIP_UCSR0B, 0x10); /* RXEN */
        for (int k = 0; cases[i].bytes[k]; k++)
            g_assert_true(r->board->receive(r, cases[i].bytes[k]));
        g_assert_cmpint(r->board->abandons(r), ==, cases[i].abandons);
        g_assert_cmpint(c->state == DT_STATE_STILL, ==, cases[i].goes_on);
        g_assert_cmpuint(c->talked, ==, c->avr->cycle);
        dt_rig_reset(r);
        g_assert_false(r->board->abandons(r));
        g_assert_cmpint(c->state, ==, DT_STATE_STILL);
    }
}

/* From its last motion or answer to the first byte of the next line, where that is more than 60 ms. */
static void waiting_for_lines_is_summed(void)
{
    static const struct {
        uint64_t moved_ms, answered_ms;
        guint8 byte;
        double waited_s;
    } cases[] = {{500, 300, 'G', 0.3}, {200, 300, 'G', 0.2},       {59, 300, 'G', 0},
                 {300, 59, 'G', 0},    {300, 300, DT_BYTE_ASK, 0}, {300, 300, DT_BYTE_GO_ON, 0}};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    c->avr->cycle += CHIP_CLOCK;
    r->board->receive(r, 'G'); /* nothing was answered yet */
    g_assert_cmpfloat(c->figures.waited_s, ==, 0);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        c->figures.waited_s = 1;
        c->moved = c->avr->cycle - cases[i].moved_ms * 1000 * CYCLES_PER_US;
        c->answered = c->avr->cycle - cases[i].answered_ms * 1000 * CYCLES_PER_US;
        r->board->receive(r, cases[i].byte);
        g_assert_cmpfloat_with_epsilon(c->figures.waited_s, 1 + cases[i].waited_s, 1e-6);
    }
    c->figures.waited_s = 0;
    c->moved = c->answered = 1;
    g_string_append_c(r->line, 'G'); /* in the middle of a line */
    r->board->receive(r, '0');
    g_assert_cmpfloat(c->figures.waited_s, ==, 0);
}

/* Without a line, or where its sender has less than half as much in flight as it ever had. */
static void it_is_ready_before_its_buffer_runs_low(void)
{
    g_autoptr(DtRig) r = make();
    r->in_bytes = 1100;
    r->acked_bytes = 1000;
    r->most_bytes = 10;
    g_assert_true(r->board->ready(r));
    g_queue_push_tail(r->lines, g_strdup("G0X1"));
    g_assert_false(r->board->ready(r));
    r->most_bytes = 200;
    g_assert_false(r->board->ready(r));
    r->most_bytes = 201;
    g_assert_true(r->board->ready(r));
}

/* A reset that nobody asked for is the watchdog's: what was on its way is lost. */
static void an_unasked_reset_is_counted(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (int asked = 0; asked < 2; asked++) {
        g_queue_push_tail(r->lines, g_strdup("G0X1"));
        g_string_append_c(r->line, 'G');
        g_string_append_c(r->answer, 't');
        c->homed = c->abandons = TRUE;
        c->state = DT_STATE_STOPPED;
        if (asked)
            dt_rig_reset(r);
        else
            avr_reset(c->avr);
        g_assert_cmpuint(c->figures.resets, ==, 1);
        g_assert_cmpuint(g_queue_get_length(r->lines) + r->line->len + r->answer->len, ==, 0);
        g_assert_true(!c->homed && !c->abandons && c->state == DT_STATE_STILL);
    }
}

/* Three seconds of its time, after which it is said which line it was. */
static void a_chip_that_takes_no_settings_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r =
        bare_rig_new("[controller]\nspeed_y = 9\n", &(DtChipOptions){.seed = 1}, &error);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpstr(error->message, ==, "the chip does not support #422=9.000000");
    g_assert_cmpfloat_with_epsilon(dt_rig_clock_s(r), 0.1 + 3, 0.01);
}

/* The simulator frees little of what it allocates. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libsimavr\n";
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/chip-board/says", the_state_is_what_it_says);
    g_test_add_func("/chip-board/homing", a_line_that_homes_is_homing);
    g_test_add_func("/chip-board/lost", lost_bytes_are_as_its_state_says);
    g_test_add_func("/chip-board/rests", it_rests_when_it_is_quiet);
    g_test_add_func("/chip-board/runs", it_runs_from_event_to_event);
    g_test_add_func("/chip-board/twice", bytes_that_come_twice_act);
    g_test_add_func("/chip-board/waits", waiting_for_lines_is_summed);
    g_test_add_func("/chip-board/ready", it_is_ready_before_its_buffer_runs_low);
    g_test_add_func("/chip-board/reset", an_unasked_reset_is_counted);
    g_test_add_func("/chip-board/settings", a_chip_that_takes_no_settings_is_refused);
    return g_test_run();
}
