/* simulate: runs the controller's firmware on the simulated 8-bit chip and sends it a program: how
 * deep the stack goes, how long the step interrupt takes, how fast lines are taken, and whether
 * every step is there.
 *
 *     simulate FIRMWARE.elf BYTES-OF-STATIC-RAM */
#include <glib.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { RAM = 2048, CLOCK = 16000000 };

typedef struct {
    avr_t *avr;
    GString *heard;
    unsigned answered, refused;
    gboolean greeted;
    avr_irq_t *receive, *switch_pin[2];
    uint8_t coils[2];
    int position[2];
    uint64_t entered, interrupt_cycles, longest, interrupts;
    unsigned deepest; /* lowest stack pointer */
} Chip;

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    Chip *c = user;
    g_string_append_c(c->heard, (char)value);
    if (value != '\n')
        return;
    c->greeted = TRUE;
    c->answered +=
        g_str_has_prefix(c->heard->str, "taken") || g_str_has_prefix(c->heard->str, "refused");
    c->refused += g_str_has_prefix(c->heard->str, "refused");
    if (g_str_has_prefix(c->heard->str, "refused"))
        printf("  %s", c->heard->str);
    g_string_truncate(c->heard, 0);
}

static void turn(Chip *c, int axis, uint8_t bits)
{
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    int was = 0, is = 0;
    if (bits == 0)
        return; /* let go: the gear holds it */
    for (int i = 0; i < 8; i++) {
        was = order[i] == c->coils[axis] ? i : was;
        is = order[i] == bits ? i : is;
    }
    int change = (is - was + 8) % 8;
    c->coils[axis] = bits;
    c->position[axis] += change == 1 ? 1 : change == 7 ? -1 : 0;
    avr_raise_irq(c->switch_pin[axis], c->position[axis] > -300);
}

static void on_port_d(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    turn(user, 0, (uint8_t)(value >> 4 & 15));
}

static void on_port_c(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    turn(user, 1, (uint8_t)(value & 15));
}

static void on_interrupt(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    Chip *c = user;
    if (value) {
        c->entered = c->avr->cycle;
        return;
    }
    uint64_t cycles = c->avr->cycle - c->entered;
    c->interrupt_cycles += cycles;
    c->longest = MAX(c->longest, cycles);
    c->interrupts++;
}

static void look_at_stack(Chip *c)
{
    unsigned sp = c->avr->data[R_SPL] | (unsigned)c->avr->data[R_SPH] << 8;
    if (sp > 0x100)
        c->deepest = MIN(c->deepest, sp);
}

static gboolean wait_for_greeting(Chip *c)
{
    while (!c->greeted && c->avr->cycle < CLOCK)
        avr_run(c->avr);
    return c->greeted;
}

/* Sends the program with up to 127 bytes unanswered, at the UART's rate; FALSE where the chip died
 * or took too long. */
static gboolean send_program(Chip *c, const char *program, double limit_s)
{
    g_auto(GStrv) lines = g_strsplit(program, "\n", -1);
    unsigned n = g_strv_length(lines) - 1, sent = 0, in_flight = 0, done = c->answered;
    unsigned first = c->answered;
    gsize at = 0;
    uint64_t next_byte = c->avr->cycle, limit = c->avr->cycle + (uint64_t)(limit_s * CLOCK);
    while (c->answered - first < n) {
        int state = avr_run(c->avr);
        if (state == cpu_Done || state == cpu_Crashed || c->avr->cycle > limit)
            return FALSE;
        look_at_stack(c);
        for (; done < c->answered; done++)
            in_flight -= (unsigned)strlen(lines[done - first]) + 1;
        if (sent == n || c->avr->cycle < next_byte)
            continue;
        gsize length = strlen(lines[sent]) + 1;
        if (at == 0 && in_flight + length > 127)
            continue;
        avr_raise_irq(c->receive, at + 1 == length ? '\n' : (uint8_t)lines[sent][at]);
        next_byte = c->avr->cycle + CLOCK / 11520;
        if (++at == length) {
            at = 0;
            sent++;
            in_flight += (unsigned)length;
        }
    }
    return TRUE;
}

static gboolean start_chip(Chip *c, const char *elf)
{
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(elf, &firmware) != 0)
        return FALSE;
    c->avr = avr_make_mcu_by_name("atmega328p");
    avr_init(c->avr);
    avr_load_firmware(c->avr, &firmware);
    c->avr->frequency = CLOCK;
    c->avr->log = LOG_ERROR;
    c->heard = g_string_new(NULL);
    c->deepest = 0x8ff;
    c->coils[0] = c->coils[1] = 1;
    uint32_t uart_flags = 0;
    avr_ioctl(c->avr, AVR_IOCTL_UART_GET_FLAGS('0'), &uart_flags);
    uart_flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(c->avr, AVR_IOCTL_UART_SET_FLAGS('0'), &uart_flags);
    c->receive = avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            on_sent, c);
    for (unsigned i = 0; i < 2; i++) {
        c->switch_pin[i] = avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), (int)i + 2);
        avr_raise_irq(c->switch_pin[i], 1);
    }
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), IOPORT_IRQ_PIN_ALL),
                            on_port_d, c);
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('C'), IOPORT_IRQ_PIN_ALL),
                            on_port_c, c);
    const int timer1_compare_a =
        11; /* vector number of the ATmega328P, its data sheet, table 12-6 */
    avr_irq_register_notify(avr_get_interrupt_irq(c->avr, timer1_compare_a) + AVR_INT_IRQ_RUNNING,
                            on_interrupt, c);
    return TRUE;
}

static char *fine_curve(unsigned segments)
{
    GString *s = g_string_new("");
    double x = 40, y = 20;
    for (unsigned i = 0; i < segments; i++) {
        x += 0.08;
        y += i / 40 % 2 ? 0.06 : -0.06;
        g_string_append_printf(s, "G1 X%.2f Y%.2f\n", x, y);
    }
    g_string_append(s, "M5\n");
    return g_string_free(s, FALSE);
}

static gboolean leg(Chip *c, const char *what, const char *program, double limit_s)
{
    uint64_t start = c->avr->cycle, busy = c->interrupt_cycles, count = c->interrupts;
    unsigned answered = c->answered;
    c->longest = 0;
    if (!send_program(c, program, limit_s)) {
        printf("%-34s FAILED\n", what);
        return FALSE;
    }
    double cycles = (double)(c->avr->cycle - start);
    count = MAX(c->interrupts - count, 1);
    printf("%-34s %6.2f s %8.0f steps/s %8.1f us mean %8.1f us longest %5.1f %% of time "
           "%6.1f lines/s\n",
           what, cycles / CLOCK, (double)count / (cycles / CLOCK),
           (double)(c->interrupt_cycles - busy) / (double)count / (CLOCK / 1e6),
           (double)c->longest / (CLOCK / 1e6), 100 * (double)(c->interrupt_cycles - busy) / cycles,
           (c->answered - answered) / (cycles / CLOCK));
    return TRUE;
}

static gboolean run_chip(const char *elf, unsigned data)
{
    Chip c = {0};
    if (!start_chip(&c, elf))
        return FALSE;
    g_autofree char *fine = fine_curve(1200);
    gboolean good = wait_for_greeting(&c) && leg(&c, "homing", "G28\n", 60);
    int home[2] = {c.position[0], c.position[1]};
    good = good && leg(&c, "long diagonal, axes at full speed", "G0 X56.25 Y45\nM5\n", 30);
    good = good && leg(&c, "arc", "G1 X56 F900\nG2 X56 Y45 I5 J0\nM5\n", 30);
    good = good && leg(&c, "to the start", "G0 X40 Y20\nG1 X40.01 F900\nM5\n", 30);
    good = good && leg(&c, "0.1 mm segments at full speed", fine, 60);
    int x = c.position[0] - home[0], y = c.position[1] - home[1];
    unsigned stack = 0x8ff - c.deepest;
    gboolean exact = x == 13600 && y == 2000;
    printf("%-34s %d %d half steps: %s; %u lines refused\n", "end", x, y,
           exact ? "exact" : "STEPS LOST", c.refused);
    printf("%-34s %6u of %5u bytes  %5.1f %%\n", "RAM, static and deepest stack", data + stack, RAM,
           100.0 * (data + stack) / RAM);
    good = good && data + stack < RAM && exact && c.refused == 0;
    g_string_free(c.heard, TRUE);
    return good;
}

int main(int argc, char **argv)
{
    if (argc != 3)
        return 2;
    return run_chip(argv[1], (unsigned)atoi(argv[2])) ? 0 : 1;
}
