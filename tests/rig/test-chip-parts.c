/* The EEPROM, the USART, the pins and the switch lines of the simulated chip, register by register, against
 * the ATmega328P data sheet (Microchip DS40002061, sections 8.4, 14 and 20; from memory). */
#include "bare-chip.h"

#include <glib/gstdio.h>
#include <simavr/avr_ioport.h>
#include <string.h>

static DtRig *make_with(const DtChipOptions *o)
{
    return bare_chip_new("", o);
}

static DtRig *make(void)
{
    return make_with(&(DtChipOptions){.seed = 1});
}

/* EEPROM ------------------------------------------------------------------------------------- */

enum { EERE = 1, EEPE = 2, EEMPE = 4, EERIE = 8 };

static void begin_write(Chip *c, unsigned mode, uint16_t at, uint8_t value)
{
    const uint8_t bits = (uint8_t)(mode << 4 | EEMPE);
    bare_put_pair(c, CHIP_EEARL, at);
    bare_put(c, CHIP_EEDR, value);
    bare_put(c, CHIP_EECR, bits);
    g_assert_true(bare_get(c, CHIP_EECR) & EEMPE);
    bare_put(c, CHIP_EECR, bits | EEPE);
}

static uint8_t read_cell(Chip *c, uint16_t at)
{
    bare_put_pair(c, CHIP_EEARL, at);
    bare_put(c, CHIP_EECR, EERE);
    return bare_get(c, CHIP_EEDR);
}

/* Table "EEPROM mode bits": 3.4 ms to erase and write a byte, 1.8 ms to do one of them; erased is 0xff, and
 * a write alone clears bits. */
static void cells_take_their_time(void)
{
    static const struct {
        unsigned mode;
        uint8_t before, value, after;
        uint64_t us;
    } cases[] = {{0, 0xff, 0x5a, 0x5a, 3400},
                 {0, 0x0f, 0xf3, 0xf3, 3400},
                 {1, 0x0f, 0x12, 0xff, 1800},
                 {2, 0x0f, 0xf3, 0x03, 1800}};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const uint16_t at = (uint16_t)(0x2a1 + i);
        DtChipFigures f;
        dt_rig_chip_eeprom(r)[at] = cases[i].before;
        const uint64_t from = c->avr->cycle;
        begin_write(c, cases[i].mode, at, cases[i].value);
        g_assert_cmpuint(c->avr->cycle, ==, from + 2); /* the processor halts */
        bare_pass(c, cases[i].us * CYCLES_PER_US - 4);
        g_assert_cmpuint(bare_get(c, CHIP_EECR), ==, cases[i].mode << 4 | EEPE);
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[at], ==, cases[i].before);
        dt_rig_chip_figures(r, &f);
        g_assert_true(f.eeprom_busy);
        bare_pass(c, 2);
        g_assert_cmpuint(bare_get(c, CHIP_EECR), ==, cases[i].mode << 4);
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[at], ==, cases[i].after);
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[at + 1], ==, 0xff);
        dt_rig_chip_figures(r, &f);
        g_assert_false(f.eeprom_busy);
        g_assert_cmpuint(f.eeprom_writes, ==, i + 1);
    }
}

static void cells_are_read_at_their_address(void)
{
    static const uint16_t places[] = {0, 1, 0xff, 0x100, 0x3ff};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (unsigned i = 0; i < CHIP_EEPROM; i++)
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[i], ==, 0xff);
    for (uint8_t i = 0; i < G_N_ELEMENTS(places); i++)
        dt_rig_chip_eeprom(r)[places[i]] = i;
    for (uint8_t i = 0; i < G_N_ELEMENTS(places); i++) {
        const uint64_t from = c->avr->cycle;
        g_assert_cmpuint(read_cell(c, places[i]), ==, i);
        g_assert_cmpuint(c->avr->cycle, ==, from + 4); /* the processor halts */
        g_assert_cmpuint(read_cell(c, (uint16_t)(places[i] + CHIP_EEPROM)), ==, i);
    }
    g_assert_cmpuint(bare_get(c, CHIP_EECR), ==, 0);
}

/* EEPE counts within four cycles of EEMPE alone, and nothing while a byte is being written. */
static void a_write_has_to_be_announced(void)
{
    static const unsigned waits[] = {0, 4, 6, 7, 8, 100};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    bare_put_pair(c, CHIP_EEARL, 7);
    bare_put(c, CHIP_EEDR, 1);
    bare_pass(c, 100);
    bare_put(c, CHIP_EECR, EEPE);
    g_assert_false(c->eeprom.busy);
    bare_put(c, CHIP_EECR, EEPE | EEMPE); /* both at once announce nothing */
    bare_put(c, CHIP_EECR, EEPE);
    g_assert_false(c->eeprom.busy);
    for (gsize i = 0; i < G_N_ELEMENTS(waits); i++) {
        bare_put(c, CHIP_EECR, EEMPE);
        c->avr->cycle += waits[i]; /* up to the write of an instruction of two cycles */
        g_assert_cmpint(bare_get(c, CHIP_EECR) != 0, ==, waits[i] <= 4 + 2);
        bare_put(c, CHIP_EECR, EEPE);
        g_assert_cmpint(c->eeprom.busy, ==, waits[i] <= 4 + 2);
        bare_pass(c, 3401 * CYCLES_PER_US);
    }
    begin_write(c, 0, 8, 2);
    bare_pass(c, 200);
    begin_write(c, 0, 9, 3);
    g_assert_cmpuint(read_cell(c, 7), ==, 3); /* EEDR as it is: nothing is read either */
    bare_pass(c, 3401 * CYCLES_PER_US);
    g_assert_cmpuint(read_cell(c, 7), ==, 1);
    g_assert_cmpuint(read_cell(c, 8), ==, 2);
    g_assert_cmpuint(read_cell(c, 9), ==, 0xff);
}

/* For as long as EERIE is set and nothing is written. */
static void ready_interrupt_holds(void)
{
    unsigned n = 0;
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    bare_count(c, CHIP_EE_READY, &n);
    begin_write(c, 0, 1, 1);
    bare_put(c, CHIP_EECR, EERIE);
    g_assert_false(bare_pending(c, CHIP_EE_READY));
    bare_pass(c, 3401 * CYCLES_PER_US);
    g_assert_true(bare_pending(c, CHIP_EE_READY));
    bare_put(c, CHIP_EECR, 0);
    g_assert_false(bare_pending(c, CHIP_EE_READY));
    begin_write(c, 0, 1, 1);
    bare_pass(c, 3401 * CYCLES_PER_US);
    g_assert_false(bare_pending(c, CHIP_EE_READY));
    bare_put(c, CHIP_EECR, EERIE);
    g_assert_true(bare_pending(c, CHIP_EE_READY));
    bare_serve(c, TRUE);
    bare_pass(c, 1000);
    g_assert_cmpuint(n, >, 10);
    bare_put(c, CHIP_EECR, 0);
    bare_pass(c, 100);
    n = 0;
    bare_pass(c, 1000);
    g_assert_cmpuint(n, ==, 0);
    bare_serve(c, FALSE);
}

/* A reset ends neither a write nor what is left of its time, but the announcement of one. */
static void a_write_goes_on_over_a_reset(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    const uint64_t from = c->avr->cycle;
    begin_write(c, 0, 5, 0x11);
    bare_pass(c, 1000 * CYCLES_PER_US);
    dt_rig_reset(r);
    bare_pass(c, from + 3400 * CYCLES_PER_US - 2 - c->avr->cycle);
    g_assert_cmpuint(dt_rig_chip_eeprom(r)[5], ==, 0xff);
    bare_pass(c, 2);
    g_assert_cmpuint(dt_rig_chip_eeprom(r)[5], ==, 0x11);
    g_assert_false(c->eeprom.busy);
    bare_put(c, CHIP_EECR, EEMPE);
    dt_rig_reset(r);
    g_assert_cmpuint(bare_get(c, CHIP_EECR), ==, 0);
    bare_put(c, CHIP_EECR, EEPE);
    g_assert_false(c->eeprom.busy);
    g_assert_cmpuint(c->eeprom.writes, ==, 1);
}

/* A byte that was being written when power went may be anything, and others are as they were. */
static void power_spoils_the_byte_alone(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    unsigned spoilt = 0;
    for (uint16_t at = 100; at < 120; at++) {
        begin_write(c, 0, at, 0x11);
        bare_pass(c, 100 * CYCLES_PER_US);
        dt_rig_chip_cut_power(r);
        g_assert_false(c->eeprom.busy);
        const uint8_t found = dt_rig_chip_eeprom(r)[at];
        spoilt += found != 0x11 && found != 0xff;
        bare_pass(c, 4000 * CYCLES_PER_US);
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[at], ==, found);
    }
    g_assert_cmpuint(spoilt, >, 15);
    g_assert_cmpuint(c->eeprom.writes, ==, 0);
    memset(dt_rig_chip_eeprom(r), 0x42, CHIP_EEPROM);
    dt_rig_chip_cut_power(r); /* while nothing is written */
    for (unsigned i = 0; i < CHIP_EEPROM; i++)
        g_assert_cmpuint(dt_rig_chip_eeprom(r)[i], ==, 0x42);
}

static void cells_are_kept_in_a_file(void)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", &error);
    g_autofree char *path = g_build_filename(folder, "eeprom", NULL), *bytes = NULL;
    gsize n;
    const DtChipOptions o = {.eeprom = path};
    DtRig *r = make_with(&o); /* there is no such file */
    g_assert_cmpuint(dt_rig_chip_eeprom(r)[0], ==, 0xff);
    dt_rig_chip_eeprom(r)[1] = 0x21;
    dt_rig_free(r);
    g_assert_true(g_file_get_contents(path, &bytes, &n, &error));
    g_assert_cmpuint(n, ==, CHIP_EEPROM);
    g_assert_cmpint(bytes[1], ==, 0x21);
    g_assert_true(g_file_set_contents(path, "short", 5, &error));
    r = make_with(&o);
    g_assert_cmpmem(dt_rig_chip_eeprom(r), 6, "short\377", 6);
    dt_rig_free(r);
    g_unlink(path);
    g_rmdir(folder);
}

/* USART -------------------------------------------------------------------------------------- */

enum { RXC = 0x80, TXC = 0x40, UDRE = 0x20, FE = 0x10, DOR = 8, U2X = 2 };
enum { RXCIE = 0x80, TXCIE = 0x40, UDRIE = 0x20, RXEN = 0x10, TXEN = 8 };

static void open_port(Chip *c, gboolean twice, uint16_t ubrr)
{
    bare_put(c, CHIP_UCSR0A, (uint8_t)(TXC | (twice ? U2X : 0)));
    bare_put_pair(c, CHIP_UBRR0L, ubrr);
    bare_put(c, CHIP_UCSR0B, RXEN | TXEN);
}

/* Table "examples of UBRRn settings" at 16 MHz: ten bits of 16 or 8 times (UBRR + 1) cycles. */
static void bytes_are_sent_at_the_rate_that_is_set(void)
{
    static const struct {
        gboolean twice;
        uint16_t ubrr;
        uint64_t cycles;
    } cases[] = {{TRUE, 16, 1360},    {FALSE, 8, 1440},    {TRUE, 207, 16640},
                 {FALSE, 103, 16640}, {FALSE, 416, 66720}, {TRUE, 0xf010, 1360}};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        open_port(c, cases[i].twice, cases[i].ubrr);
        g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, UDRE | (cases[i].twice ? U2X : 0));
        bare_put(c, CHIP_UDR0, 'a');
        g_assert_true(bare_get(c, CHIP_UCSR0A) & UDRE);
        bare_put(c, CHIP_UDR0, 'b');
        g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, cases[i].twice ? U2X : 0);
        bare_put(c, CHIP_UDR0, 'c'); /* there is no room */
        bare_pass(c, cases[i].cycles - 2);
        g_assert_false(bare_get(c, CHIP_UCSR0A) & UDRE);
        bare_pass(c, 2);
        g_assert_cmpint(bare_get(c, CHIP_UCSR0A) & (UDRE | TXC), ==, UDRE);
        g_assert_cmpint(r->now, ==, chip_now_us(c));
        g_assert_cmpuint(c->talked, ==, c->avr->cycle);
        bare_pass(c, cases[i].cycles - 2);
        g_assert_false(bare_get(c, CHIP_UCSR0A) & TXC);
        bare_pass(c, 2);
        g_assert_true(bare_get(c, CHIP_UCSR0A) & TXC);
        g_assert_cmpstr(r->answer->str, ==, "ab");
        bare_pass(c, 2 * cases[i].cycles);
        g_assert_cmpstr(r->answer->str, ==, "ab");
        g_string_truncate(r->answer, 0);
    }
    bare_put(c, CHIP_UCSR0A, 0); /* TXC is cleared by a one */
    g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, TXC | UDRE);
    bare_put(c, CHIP_UCSR0A, TXC);
    g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, UDRE);
    bare_put(c, CHIP_UCSR0B, RXEN);
    bare_put(c, CHIP_UDR0, 'x');
    bare_pass(c, 100000);
    g_assert_cmpuint(r->answer->len, ==, 0);
    bare_put(c, CHIP_UCSR0B, TXEN);
    bare_put(c, CHIP_UDR0, 'y');
    bare_pass(c, 100000);
    g_assert_cmpstr(r->answer->str, ==, "y");
}

/* Two bytes in the buffer and a third in the shift register, each with its frame error. */
static void three_bytes_wait_and_a_fourth_is_lost(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    open_port(c, TRUE, 16);
    for (unsigned bad = 0; bad < 8; bad++) {
        for (unsigned n = 1; n <= 4; n++) {
            c->figures.overruns = 0;
            g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, UDRE | U2X);
            g_assert_false(chip_uart_waits(c));
            for (unsigned i = 0; i < n; i++)
                g_assert_cmpint(chip_uart_receive(c, (uint8_t)('a' + i), !(bad >> i & 1)), ==,
                                i < 3);
            g_assert_cmpuint(c->figures.overruns, ==, n == 4);
            for (unsigned i = 0; i < MIN(n, 3); i++) {
                const unsigned state = bare_get(c, CHIP_UCSR0A);
                g_assert_true(chip_uart_waits(c));
                g_assert_true(state & RXC);
                g_assert_cmpint((state & FE) != 0, ==, bad >> i & 1);
                g_assert_cmpint((state & DOR) != 0, ==, n == 4 && i == 0);
                g_assert_cmpint(bare_get(c, CHIP_UDR0), ==, 'a' + i);
            }
        }
    }
    chip_uart_receive(c, 'a', TRUE); /* read between others */
    chip_uart_receive(c, 'b', TRUE);
    g_assert_cmpint(bare_get(c, CHIP_UDR0), ==, 'a');
    chip_uart_receive(c, 'c', FALSE);
    chip_uart_receive(c, 'd', TRUE);
    for (int i = 'b'; i <= 'd'; i++) {
        g_assert_cmpint((bare_get(c, CHIP_UCSR0A) & FE) != 0, ==, i == 'c');
        g_assert_cmpint(bare_get(c, CHIP_UDR0), ==, i);
    }
}

/* Section "asynchronous operational range": a sender that is 4.5 % off or more is misunderstood. */
static void another_rate_is_a_frame_error(void)
{
    static const struct {
        double off;
        gboolean good;
    } cases[] = {{0, TRUE}, {0.04, TRUE}, {-0.04, TRUE}, {0.05, FALSE}, {-0.05, FALSE}, {1, FALSE}};
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    open_port(c, TRUE, 16);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        r->truth.baud = 16e6 / 8 / 17 / (1 + cases[i].off);
        chip_uart_receive(c, 'a', TRUE);
        g_assert_cmpint((bare_get(c, CHIP_UCSR0A) & FE) == 0, ==, cases[i].good);
        bare_get(c, CHIP_UDR0);
    }
}

static void a_receiver_that_is_off_holds_nothing(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    open_port(c, TRUE, 16);
    for (int i = 0; i < 4; i++)
        chip_uart_receive(c, 'a', TRUE);
    g_assert_true(bare_get(c, CHIP_UCSR0A) & DOR);
    bare_put(c, CHIP_UCSR0B, RXEN); /* that it stays on loses nothing */
    g_assert_cmpuint(c->uart.n, ==, 3);
    bare_put(c, CHIP_UCSR0B, TXEN);
    g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, UDRE | U2X);
    g_assert_false(chip_uart_receive(c, 'b', TRUE));
    g_assert_cmpuint(c->figures.overruns, ==, 1);
    bare_put(c, CHIP_UCSR0B, RXEN);
    g_assert_false(chip_uart_waits(c));
    for (int i = 0; i < 3; i++)
        chip_uart_receive(c, 'c', TRUE);
    bare_put(c, CHIP_UDR0, 'd');
    dt_rig_reset(r);
    g_assert_cmpuint(bare_get(c, CHIP_UCSR0A), ==, UDRE);
    g_assert_false(chip_uart_waits(c));
    g_assert_false(chip_uart_receive(c, 'b', TRUE));
}

static void assert_asks(Chip *c, gboolean received, gboolean empty, gboolean sent)
{
    g_assert_cmpint(bare_pending(c, CHIP_USART_RX), ==, received);
    g_assert_cmpint(bare_pending(c, CHIP_USART_UDRE), ==, empty);
    g_assert_cmpint(bare_pending(c, CHIP_USART_TX), ==, sent);
}

/* Each while its flag holds and it is enabled. */
static void port_interrupts_follow_their_flags(void)
{
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    open_port(c, TRUE, 16);
    for (unsigned some = 0; some < 8; some++) {
        const gboolean rx = some & 1, udre = some >> 1 & 1, tx = some >> 2 & 1;
        const uint8_t on = RXEN | TXEN;
        const uint8_t bits =
            (uint8_t)(on | (rx ? RXCIE : 0) | (udre ? UDRIE : 0) | (tx ? TXCIE : 0));
        bare_put(c, CHIP_UCSR0A, U2X | TXC);
        bare_put(c, CHIP_UCSR0B, bits);
        assert_asks(c, FALSE, udre, FALSE);
        bare_put(c, CHIP_UDR0, 'a');
        bare_put(c, CHIP_UDR0, 'b');
        assert_asks(c, FALSE, FALSE, FALSE);
        chip_uart_receive(c, 'c', TRUE);
        assert_asks(c, rx, FALSE, FALSE);
        bare_pass(c, 1360);
        assert_asks(c, rx, udre, FALSE);
        bare_pass(c, 1360);
        assert_asks(c, rx, udre, tx);
        bare_put(c, CHIP_UCSR0B, on);
        assert_asks(c, FALSE, FALSE, FALSE);
        bare_put(c, CHIP_UCSR0B, bits);
        assert_asks(c, rx, udre, tx);
        bare_get(c, CHIP_UDR0);
        assert_asks(c, FALSE, udre, tx);
        bare_put(c, CHIP_UCSR0A, U2X | TXC);
        assert_asks(c, FALSE, udre, FALSE);
    }
}

/* Receiving and the empty register ask until they are attended to, the end of sending once. */
static void port_interrupts_are_served(void)
{
    unsigned rx = 0, udre = 0, tx = 0;
    g_autoptr(DtRig) r = make();
    Chip *c = bare_chip(r);
    open_port(c, TRUE, 16);
    bare_count(c, CHIP_USART_RX, &rx);
    bare_count(c, CHIP_USART_UDRE, &udre);
    bare_count(c, CHIP_USART_TX, &tx);
    bare_put(c, CHIP_UCSR0B, RXEN | TXEN | TXCIE | RXCIE);
    bare_serve(c, TRUE);
    bare_put(c, CHIP_UDR0, 'a');
    bare_pass(c, 3000);
    g_assert_cmpuint(tx, ==, 1);
    g_assert_false(bare_get(c, CHIP_UCSR0A) & TXC);
    g_assert_cmpuint(rx, ==, 0);
    bare_put(c, CHIP_UCSR0B, RXEN | TXEN | RXCIE);
    bare_put(c, CHIP_UDR0, 'a');
    bare_pass(c, 3000);
    chip_uart_receive(c, 'b', TRUE);
    bare_pass(c, 1000);
    g_assert_cmpuint(rx, >, 10);
    g_assert_true(bare_get(c, CHIP_UCSR0A) & TXC); /* clears its own flag alone */
    bare_get(c, CHIP_UDR0);
    bare_pass(c, 100);
    rx = 0;
    bare_pass(c, 1000);
    g_assert_cmpuint(rx, ==, 0);
    bare_put(c, CHIP_UCSR0B, RXEN | TXEN | UDRIE);
    bare_pass(c, 1000);
    g_assert_cmpuint(udre, >, 10);
    g_assert_cmpuint(tx, ==, 1);
    bare_serve(c, FALSE);
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
    g_test_add_func("/chip-eeprom/times", cells_take_their_time);
    g_test_add_func("/chip-eeprom/addresses", cells_are_read_at_their_address);
    g_test_add_func("/chip-eeprom/announced", a_write_has_to_be_announced);
    g_test_add_func("/chip-eeprom/ready", ready_interrupt_holds);
    g_test_add_func("/chip-eeprom/reset", a_write_goes_on_over_a_reset);
    g_test_add_func("/chip-eeprom/power", power_spoils_the_byte_alone);
    g_test_add_func("/chip-eeprom/file", cells_are_kept_in_a_file);
    g_test_add_func("/chip-uart/rates", bytes_are_sent_at_the_rate_that_is_set);
    g_test_add_func("/chip-uart/three-bytes", three_bytes_wait_and_a_fourth_is_lost);
    g_test_add_func("/chip-uart/another-rate", another_rate_is_a_frame_error);
    g_test_add_func("/chip-uart/off", a_receiver_that_is_off_holds_nothing);
    g_test_add_func("/chip-uart/interrupts", port_interrupts_follow_their_flags);
    g_test_add_func("/chip-uart/served", port_interrupts_are_served);
    return g_test_run();
}
