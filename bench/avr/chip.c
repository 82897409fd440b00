/* chip: see chip.h. */
#include "chip.h"

#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>
#include <string.h>

enum {
    STEP_VECTOR = 11,
    VECTORS = 26,
    SLEEP = 0x9588 /* the instruction */
};                 /* ATmega328P data sheet, table of interrupt vectors, from memory */

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    Chip *c = user;
    g_string_append_c(c->heard, (char)value);
    if (value != '\n')
        return;
    const gboolean taken = g_str_has_prefix(c->heard->str, "taken");
    const gboolean refused = g_str_has_prefix(c->heard->str, "refused");
    c->greeted = TRUE;
    c->answered += taken || refused;
    c->refused += refused;
    g_string_append(c->said, c->heard->str);
    g_string_truncate(c->heard, 0);
}

static void turn(Chip *c, int axis, uint8_t bits)
{
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    int was = 0, is = 0;
    if (bits == 0 || bits == c->coils[axis])
        return; /* let go: the gear holds it */
    for (int i = 0; i < 8; i++) {
        was = order[i] == c->coils[axis] ? i : was;
        is = order[i] == bits ? i : is;
    }
    const int change = (is - was + 8) % 8;
    c->coils[axis] = bits;
    c->position[axis] += change == 1 ? 1 : change == 7 ? -1 : 0;
    const ChipStep step = {c->avr->cycle, axis};
    g_array_append_val(c->steps, step);
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

typedef struct {
    Chip *c;
    int vector;
} Watched;

static void on_interrupt(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    const Watched *w = user;
    Chip *c = w->c;
    if (value && c->depth < CHIP_NESTED) {
        c->nested[c->depth++] = (ChipInterrupt){c->avr->cycle, 0, w->vector};
        return;
    }
    if (value || c->depth == 0)
        return;
    const ChipInterrupt i = c->nested[--c->depth];
    const uint64_t wall = c->avr->cycle - i.entered;
    if (c->depth > 0)
        c->nested[c->depth - 1].within += wall;
    else
        c->in_interrupts += wall;
    if (i.vector != STEP_VECTOR)
        return;
    c->interrupts++;
    c->steps_us += wall - i.within;
    c->longest = MAX(c->longest, wall - i.within);
    c->longest_wall = MAX(c->longest_wall, wall);
}

void chip_forget(Chip *c)
{
    g_array_set_size(c->steps, 0);
    g_string_truncate(c->said, 0);
    c->longest = c->longest_wall = c->longest_off = c->in_interrupts = c->idle = c->steps_us = 0;
    c->bytes = c->interrupts = 0;
    c->poll_began = 0;
}

/* Sleep takes no time here. */
static void sleep_on(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

gboolean chip_start(Chip *c, const char *elf, uint32_t poll)
{
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(elf, &firmware) != 0)
        return FALSE;
    c->poll = poll;
    c->avr = avr_make_mcu_by_name("atmega328p");
    avr_init(c->avr);
    avr_load_firmware(c->avr, &firmware);
    c->avr->frequency = CHIP_CLOCK;
    c->avr->log = LOG_ERROR;
    c->avr->sleep = sleep_on;
    c->heard = g_string_new(NULL);
    c->said = g_string_new(NULL);
    c->steps = g_array_new(FALSE, FALSE, sizeof(ChipStep));
    c->deepest = CHIP_RAM_END;
    c->coils[0] = c->coils[1] = 1;
    uint32_t flags = 0;
    avr_ioctl(c->avr, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(c->avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    c->receive = avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            on_sent, c);
    for (int i = 0; i < 2; i++) {
        c->switch_pin[i] = avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), 2 + i);
        avr_raise_irq(c->switch_pin[i], 1);
    }
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('D'), IOPORT_IRQ_PIN_ALL),
                            on_port_d, c);
    avr_irq_register_notify(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ('C'), IOPORT_IRQ_PIN_ALL),
                            on_port_c, c);
    static Watched watched[VECTORS];
    for (int v = 1; v < VECTORS; v++) {
        watched[v] = (Watched){c, v};
        avr_irq_t *irq = avr_get_interrupt_irq(c->avr, (uint8_t)v);
        if (irq != NULL)
            avr_irq_register_notify(irq + AVR_INT_IRQ_RUNNING, on_interrupt, &watched[v]);
    }
    return TRUE;
}

void chip_stop(Chip *c)
{
    g_string_free(c->heard, TRUE);
    g_string_free(c->said, TRUE);
    g_array_unref(c->steps);
}

static void look_at_stack(Chip *c)
{
    const unsigned sp = c->avr->data[R_SPL] | (unsigned)c->avr->data[R_SPH] << 8;
    if (sp > 0x100)
        c->deepest = MIN(c->deepest, sp);
}

/* A call of the main loop's function that returns 0 had nothing to do. The sleep that follows is counted apart. */
static void look_at_main_loop(Chip *c)
{
    const avr_t *avr = c->avr;
    if (avr->pc == c->poll && c->depth == 0) {
        const unsigned sp = avr->data[R_SPL] | (unsigned)avr->data[R_SPH] << 8;
        c->poll_back = (uint32_t)(avr->data[sp + 1] << 8 | avr->data[sp + 2]) * 2;
        c->poll_began = avr->cycle;
        c->poll_interrupts = c->in_interrupts;
    } else if (avr->pc == c->poll_back && c->depth == 0 && c->poll_began > 0) {
        if (avr->data[24] == 0)
            c->idle += avr->cycle - c->poll_began - (c->in_interrupts - c->poll_interrupts);
        c->poll_began = 0;
    }
}

static void look_at_flag(Chip *c)
{
    const gboolean off = !c->avr->sreg[S_I];
    if (off && !c->off)
        c->off_since = c->avr->cycle;
    else if (!off && c->off)
        c->longest_off = MAX(c->longest_off, c->avr->cycle - c->off_since);
    c->off = off;
}

static gboolean run(Chip *c)
{
    const uint64_t before = c->avr->cycle;
    const uint8_t *at = c->avr->flash + c->avr->pc;
    const gboolean sleeps = c->avr->state == cpu_Sleeping || (at[0] | at[1] << 8) == SLEEP;
    const int state = avr_run(c->avr);
    if (sleeps)
        c->idle += c->avr->cycle - before;
    look_at_stack(c);
    look_at_main_loop(c);
    look_at_flag(c);
    return state != cpu_Done && state != cpu_Crashed;
}

gboolean chip_wait_for_greeting(Chip *c)
{
    while (!c->greeted && c->avr->cycle < CHIP_CLOCK)
        if (!run(c))
            return FALSE;
    return c->greeted;
}

static gboolean is_urgent(const char *line)
{
    return line[0] != '\0' && line[0] < ' ' && line[1] == '\0';
}

gboolean chip_send(Chip *c, const char *program, double limit_s)
{
    g_auto(GStrv) lines = g_strsplit(program, "\n", -1);
    const unsigned n = g_strv_length(lines) - 1, first = c->answered;
    unsigned sent = 0, in_flight = 0, urgent = 0;
    g_autoptr(GQueue) lengths = g_queue_new();
    unsigned done = first;
    gsize at = 0;
    uint64_t next_byte = c->avr->cycle;
    const uint64_t limit = c->avr->cycle + (uint64_t)(limit_s * CHIP_CLOCK);
    while (c->answered - first + urgent < n || sent < n) {
        if (!run(c) || c->avr->cycle > limit)
            return FALSE;
        for (; done < c->answered; done++)
            in_flight -= GPOINTER_TO_UINT(g_queue_pop_head(lengths));
        if (sent == n || c->avr->cycle < next_byte)
            continue;
        const gboolean at_once = is_urgent(lines[sent]);
        const gsize length = at_once ? 1 : strlen(lines[sent]) + 1;
        if (at == 0 && !at_once && in_flight + length > 127)
            continue;
        avr_raise_irq(c->receive, !at_once && at + 1 == length ? '\n' : (uint8_t)lines[sent][at]);
        next_byte = c->avr->cycle + CHIP_CLOCK / 11520;
        c->bytes++;
        if (++at < length)
            continue;
        at = 0;
        sent++;
        if (at_once) {
            urgent++;
        } else {
            in_flight += (unsigned)length;
            g_queue_push_tail(lengths, GUINT_TO_POINTER((unsigned)length));
        }
    }
    return TRUE;
}
