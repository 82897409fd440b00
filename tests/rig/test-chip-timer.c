/* Timer 1 of the simulated chip, register by register, against its definition in the ATmega328P data sheet
 * (Microchip DS40002061, section 16; from memory). */
#include "bare-chip.h"

enum { CLOCKS = 8, ROUND = 65536 };
enum { TOV = 1, OCFA = 2, OCFB = 4 }; /* of TIFR1 and TIMSK1 */

static const unsigned prescales[CLOCKS] = {0,   1,    8, 64,
                                           256, 1024, 0, 0}; /* by CS12:10; 6, 7: a pin */
static const uint16_t compare[2] = {CHIP_OCR1AL, CHIP_OCR1BL};
static const uint8_t match_flag[2] = {OCFA, OCFB};
static const uint8_t vectors[3] = {CHIP_TIMER1_OVF, CHIP_TIMER1_COMPA, CHIP_TIMER1_COMPB};

static DtRig *make(void)
{
    return bare_chip_new("", &(DtChipOptions){.seed = 1});
}

/* Stopped, without flags and far from every match. */
static void prepare(Chip *c, uint16_t count)
{
    bare_put(c, CHIP_TCCR1B, 0);
    bare_put_pair(c, CHIP_TCNT1L, count);
    for (int i = 0; i < 2; i++)
        bare_put_pair(c, compare[i], (uint16_t)(count + ROUND / 2));
    bare_put(c, CHIP_TIFR1, TOV | OCFA | OCFB);
}

/* The prescaler runs on its own: the first tick comes when it does. */
static void counts_at_the_rate_of_its_clock(void)
{
    static const uint64_t waits[] = {2, 4, 6, 8, 62, 64, 66, 254, 258, 1022, 1024, 1030, 20000};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (unsigned clock = 0; clock < CLOCKS; clock++)
        for (unsigned phase = 0; phase < 1024; phase += 502)
            for (gsize i = 0; i < G_N_ELEMENTS(waits); i++) {
                const unsigned d = prescales[clock];
                prepare(c, 65000);
                bare_align(c, phase);
                bare_put(c, CHIP_TCCR1B, (uint8_t)clock);
                bare_pass(c, waits[i]);
                const uint64_t ticks = d ? (phase + waits[i]) / d - phase / d : 0;
                g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, (uint16_t)(65000 + ticks));
            }
}

static void goes_on_from_where_it_was_when_its_clock_changes(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    prepare(c, 100);
    bare_align(c, 0);
    bare_put(c, CHIP_TCCR1B, 2);
    bare_pass(c, 8 * 10);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 44);
    bare_put(c, CHIP_TCCR1B, 0);
    bare_pass(c, 5000);
    g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 154);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 6);
    g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 160);
    g_assert_cmpuint(bare_get(c, CHIP_TCCR1B), ==, 1);
    g_assert_false(c->figures.crashed);
}

/* Waits for a flag that comes after so many cycles and clears it; no other comes before. */
static void assert_flag(Chip *c, uint8_t flag, uint64_t cycles)
{
    bare_pass(c, cycles - 2);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, 0);
    bare_pass(c, 2);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, flag);
    bare_put(c, CHIP_TIFR1, (uint8_t)~flag); /* a zero clears nothing */
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, flag);
    bare_put(c, CHIP_TIFR1, flag);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, 0);
}

/* Figure "setting of OCF1x": with the tick that ends the count, and again after a whole round of it. */
static void matches_when_the_count_ends(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (unsigned clock = 1; clock <= 5; clock++)
        for (int i = 0; i < 2; i++) {
            const unsigned d = prescales[clock];
            prepare(c, 20000);
            bare_put_pair(c, compare[i], 20003);
            bare_align(c, 0);
            bare_put(c, CHIP_TCCR1B, (uint8_t)clock);
            assert_flag(c, match_flag[i], 4 * d);
            bare_put_pair(c, compare[i], 20009);
            bare_pass(c, 2 * d);
            bare_put_pair(c, compare[i], 20013); /* replaces the other */
            assert_flag(c, match_flag[i], 8 * d);
            bare_put_pair(c, compare[i], 20014); /* what the count is now */
            if (d > 1)
                assert_flag(c, match_flag[i], d);
        }
}

static void overflows_when_the_count_is_full(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (unsigned clock = 1; clock <= 5; clock++) {
        const unsigned d = prescales[clock];
        prepare(c, 65532);
        bare_align(c, 0);
        bare_put(c, CHIP_TCCR1B, (uint8_t)clock);
        assert_flag(c, TOV, 4 * d);
        g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 0);
        bare_put_pair(c, CHIP_TCNT1L, 65526);
        bare_pass(c, 2 * d);
        bare_put_pair(c, CHIP_TCNT1L, 65516); /* puts it off */
        assert_flag(c, TOV, 20 * d);
    }
}

static void every_round_has_its_flags(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (unsigned clock = 1; clock <= 2; clock++) {
        const unsigned d = prescales[clock];
        prepare(c, 65530);
        bare_put_pair(c, CHIP_OCR1AL, 999);
        bare_put_pair(c, CHIP_OCR1BL, 29999);
        bare_align(c, 0);
        bare_put(c, CHIP_TCCR1B, (uint8_t)clock);
        assert_flag(c, TOV, 6 * d);
        for (int i = 0; i < 2; i++) {
            assert_flag(c, OCFA, 1000 * d);
            assert_flag(c, OCFB, 29000 * d);
            assert_flag(c, TOV, (ROUND - 30000) * d);
        }
    }
}

static void flags_that_are_not_cleared_stay(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    prepare(c, 65530);
    bare_put_pair(c, CHIP_OCR1AL, 65532);
    bare_put_pair(c, CHIP_OCR1BL, 3);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 100);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, TOV | OCFA | OCFB);
    bare_put(c, CHIP_TIFR1, OCFA);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, TOV | OCFB);
    bare_put(c, CHIP_TIFR1, OCFB);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, TOV);
}

/* One byte for the high halves of all of these registers; a compare register is read without it. */
static void halves_of_registers_go_through_one_byte(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    bare_put_pair(c, CHIP_OCR1AL, 0x1234);
    bare_put_pair(c, CHIP_OCR1BL, 0x5678);
    bare_put(c, CHIP_TCNT1H, 0x9a);
    bare_put(c, CHIP_OCR1AH, 0xbc);
    bare_put(c, CHIP_TCNT1L, 0xde);
    g_assert_cmpuint(bare_get(c, CHIP_OCR1AH), ==, 0x12);
    g_assert_cmpuint(bare_get(c, CHIP_OCR1AL), ==, 0x34);
    g_assert_cmpuint(bare_get(c, CHIP_OCR1BH), ==, 0x56);
    g_assert_cmpuint(bare_get(c, CHIP_OCR1BL), ==, 0x78);
    g_assert_cmpuint(bare_get(c, CHIP_TCNT1L), ==, 0xde);
    bare_put_pair(c, CHIP_OCR1BL, 0x3344); /* an interrupt between the halves */
    g_assert_cmpuint(bare_get(c, CHIP_TCNT1H), ==, 0x33);
    g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 0xbcde);
    bare_put(c, CHIP_OCR1BH, 0x55);
    bare_put(c, CHIP_OCR1AL, 0x66);
    g_assert_cmpuint(bare_get_pair(c, CHIP_OCR1AL), ==, 0x5566);
}

static gboolean level_of(const Chip *c, int output)
{
    return c->timer.output >> output & 1;
}

/* Table "compare output mode": 0 leaves the pin to its port, 1 toggles, 2 clears, 3 sets it; at a match, or
 * at once by FOC1x, which sets no flag and is read as zero. */
static void outputs_do_what_their_mode_says(void)
{
    static const gboolean after[4][2] = {
        {0, 1}, {1, 0}, {0, 0}, {1, 1}}; /* by mode and level before */
    static const uint8_t force[2] = {0x80, 0x40};
    static const int shift[2] = {6, 4};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (int output = 0; output < 2; output++)
        for (unsigned mode = 0; mode < 4; mode++)
            for (unsigned before = 0; before < 2; before++)
                for (int forced = 0; forced < 2; forced++) {
                    gboolean servo;
                    prepare(c, 0);
                    bare_put(c, CHIP_TCCR1A, before ? 0xf0 : 0xa0);
                    bare_put(c, CHIP_TCCR1C, 0xc0);
                    g_assert_cmpuint(c->timer.output, ==, before ? 3 : 0);
                    bare_put(c, CHIP_TCCR1A, (uint8_t)(mode << shift[output]));
                    g_assert_cmpuint(chip_timer_drives_servo(c, &servo), ==,
                                     output == 1 && mode != 0);
                    bare_put_pair(c, compare[output], 10);
                    if (forced)
                        bare_put(c, CHIP_TCCR1C, force[output]);
                    else
                        bare_put(c, CHIP_TCCR1B, 1);
                    bare_pass(c, 20);
                    g_assert_cmpuint(bare_get(c, CHIP_TCCR1C), ==, 0);
                    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, forced ? 0 : match_flag[output]);
                    g_assert_cmpint(level_of(c, output), ==, after[mode][before]);
                    g_assert_cmpint(level_of(c, !output), ==, before);
                    chip_timer_drives_servo(c, &servo);
                    g_assert_cmpint(servo, ==, level_of(c, 1));
                }
}

/* OC1B is the servo's pin, if it is an output. */
static void an_output_moves_the_servo(void)
{
    enum { SET_B = 0x30, CLEAR_B = 0x20, PIN_B2 = 4 };
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    DtChipFigures f;
    prepare(c, 0);
    bare_put(c, CHIP_PINB + 1, PIN_B2);
    bare_put(c, CHIP_TCCR1A, SET_B);
    bare_put_pair(c, CHIP_OCR1BL, 10);
    bare_align(c, 0);
    bare_put(c, CHIP_TCCR1B, 2);
    bare_pass(c, 8 * 11 - 2);
    g_assert_false(c->servo_pin);
    bare_pass(c, 2);
    g_assert_true(c->servo_pin);
    bare_put(c, CHIP_TCCR1A, CLEAR_B);
    bare_put_pair(c, CHIP_OCR1BL, 10 + 2 * 1234);
    g_assert_true(c->servo_pin);
    bare_pass(c, 8 * 2 * 1240);
    g_assert_false(c->servo_pin);
    dt_rig_chip_figures(r, &f);
    g_assert_cmpfloat(f.pulse_us, ==, 1234);
    bare_put(c, CHIP_TCCR1A, SET_B);
    bare_put(c, CHIP_TCCR1C, 0x40);
    g_assert_true(c->servo_pin);
    bare_put(c, CHIP_TCCR1A, 0); /* the port has it, and is low */
    g_assert_false(c->servo_pin);
}

static void assert_pending(Chip *c, unsigned expected)
{
    for (int i = 0; i < 3; i++)
        g_assert_cmpint(bare_pending(c, vectors[i]), ==, expected >> i & 1);
}

/* Whether they are enabled before or after their flags are set, for as long as both hold. */
static void enabled_flags_ask_for_interrupts(void)
{
    enum { ALL = TOV | OCFA | OCFB };
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (uint8_t some = 0; some <= ALL; some++) {
        prepare(c, 65530);
        bare_put_pair(c, CHIP_OCR1AL, 100);
        bare_put_pair(c, CHIP_OCR1BL, 200);
        bare_put(c, CHIP_TIMSK1, some);
        bare_put(c, CHIP_TCCR1B, 1);
        bare_pass(c, 50);
        assert_pending(c, some & TOV);
        bare_pass(c, 100);
        assert_pending(c, some & (TOV | OCFA));
        bare_pass(c, 100);
        assert_pending(c, some);
        bare_put(c, CHIP_TIMSK1, 0);
        assert_pending(c, 0);
        bare_put(c, CHIP_TIMSK1, 0xff);
        assert_pending(c, ALL);
        bare_put(c, CHIP_TIMSK1, some);
        assert_pending(c, some);
        bare_put(c, CHIP_TIMSK1, ALL);
        bare_put(c, CHIP_TIFR1, some | 0xf8);
        assert_pending(c, ALL & ~some);
        g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, ALL & ~some);
    }
}

static void what_is_stopped_sets_no_flag(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    prepare(c, 65530);
    bare_put_pair(c, CHIP_OCR1AL, 65533);
    bare_put_pair(c, CHIP_OCR1BL, 65534);
    bare_align(c, 0);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 2);
    bare_put(c, CHIP_TCCR1B, 0);
    bare_pass(c, 100);
    g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 65532);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, 0);
}

/* Each once for each match, and entering it clears its own flag. */
static void interrupts_are_served(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    unsigned n[3] = {0};
    for (int i = 0; i < 3; i++)
        bare_count(c, vectors[i], &n[i]);
    prepare(c, 65530);
    bare_put_pair(c, CHIP_OCR1AL, 1000);
    bare_put_pair(c, CHIP_OCR1BL, 30000);
    bare_put(c, CHIP_TIMSK1, TOV | OCFB);
    bare_serve(c, TRUE);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 2 * ROUND - 100);
    g_assert_cmpuint(n[0], ==, 2);
    g_assert_cmpuint(n[1], ==, 0);
    g_assert_cmpuint(n[2], ==, 2);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, OCFA);
    bare_put(c, CHIP_TIMSK1, OCFA);
    bare_pass(c, 100);
    g_assert_cmpuint(n[1], ==, 1);
    bare_serve(c, FALSE);
}

static void a_reset_stops_it(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    prepare(c, 65530);
    bare_put(c, CHIP_TCCR1A, 0xf0);
    bare_put(c, CHIP_TCCR1C, 0xc0);
    bare_put(c, CHIP_TCCR1B, 1);
    bare_pass(c, 20);
    dt_rig_reset(r);
    gboolean level;
    g_assert_false(chip_timer_drives_servo(c, &level));
    g_assert_false(level);
    g_assert_cmpuint(c->timer.output, ==, 0);
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, 0);
    g_assert_cmpuint(bare_get(c, CHIP_TCNT1H), ==, 0);
    for (int i = 0; i < 2; i++) {
        g_assert_cmpuint(bare_get_pair(c, CHIP_TCNT1L), ==, 0);
        g_assert_cmpuint(bare_get_pair(c, compare[i]), ==, 0);
        bare_pass(c, 2000);
    }
    g_assert_cmpuint(bare_get(c, CHIP_TIFR1), ==, 0);
}

/* WGM13:10 of any other mode: what would be wrong is not simulated. */
static void other_modes_are_refused(void)
{
    static const struct {
        uint16_t address;
        uint8_t value;
        gboolean refused;
    } cases[] = {{CHIP_TCCR1A, 1, TRUE},     {CHIP_TCCR1A, 2, TRUE},     {CHIP_TCCR1B, 0x08, TRUE},
                 {CHIP_TCCR1B, 0x11, TRUE},  {CHIP_TCCR1A, 0xf0, FALSE}, {CHIP_TCCR1B, 7, FALSE},
                 {CHIP_TCCR1B, 0xc1, FALSE}, {CHIP_TCCR1B, 0x0a, TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtRig) r = make();
        bare_put(bare_chip(r), cases[i].address, cases[i].value);
        g_assert_cmpint(bare_chip(r)->figures.crashed, ==, cases[i].refused);
    }
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
    g_test_add_func("/chip-timer/counts", counts_at_the_rate_of_its_clock);
    g_test_add_func("/chip-timer/clock-changes", goes_on_from_where_it_was_when_its_clock_changes);
    g_test_add_func("/chip-timer/matches", matches_when_the_count_ends);
    g_test_add_func("/chip-timer/overflows", overflows_when_the_count_is_full);
    g_test_add_func("/chip-timer/every-round", every_round_has_its_flags);
    g_test_add_func("/chip-timer/flags-stay", flags_that_are_not_cleared_stay);
    g_test_add_func("/chip-timer/halves", halves_of_registers_go_through_one_byte);
    g_test_add_func("/chip-timer/outputs", outputs_do_what_their_mode_says);
    g_test_add_func("/chip-timer/servo", an_output_moves_the_servo);
    g_test_add_func("/chip-timer/enabled", enabled_flags_ask_for_interrupts);
    g_test_add_func("/chip-timer/stopped", what_is_stopped_sets_no_flag);
    g_test_add_func("/chip-timer/served", interrupts_are_served);
    g_test_add_func("/chip-timer/reset", a_reset_stops_it);
    g_test_add_func("/chip-timer/other-modes", other_modes_are_refused);
    return g_test_run();
}
