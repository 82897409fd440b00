/* chip-uart: USART 0 (data sheet, section 20): two received bytes and a third in the shift
 * register, each with its frame error; a fourth is lost and reported by DOR. Sending is double
 * buffered. A byte has arrived at the end of its stop bit. */
#include "chip-inside.h"

#include <math.h>

enum {
    RXC = 0x80,
    TXC = 0x40,
    UDRE = 0x20,
    FE = 0x10,
    DOR = 0x08,
    U2X = 0x02,
    MPCM = 0x01,
    RXCIE = 0x80,
    TXCIE = 0x40,
    UDRIE = 0x20,
    RXEN = 0x10,
    TXEN = 0x08,
};

static const double baud_tolerance = 0.045; /* 8N1, section 20.8.3, rounded */

/* Receive complete and register empty interrupt as long as they hold. */
static void ask_interrupts(Chip *c)
{
    const ChipUart *u = &c->uart;
    const uint8_t b = c->avr->data[CHIP_UCSR0B];
    chip_ask(c, CHIP_USART_RX, b & RXCIE && u->n > 0);
    chip_ask(c, CHIP_USART_UDRE, b & UDRIE && !u->full);
    chip_ask(c, CHIP_USART_TX, b & TXCIE && u->sent);
}

static double baud(const Chip *c)
{
    const uint8_t *data = c->avr->data;
    const unsigned ubrr = data[CHIP_UBRR0L] | (data[CHIP_UBRR0H] & 15u) << 8;
    return (double)CHIP_CLOCK / ((data[CHIP_UCSR0A] & U2X ? 8 : 16) * (ubrr + 1.0));
}

/* Sending ------------------------------------------------------------------------------------ */

static avr_cycle_count_t on_sent(avr_t *avr, avr_cycle_count_t when, void *user);

static void shift_out(Chip *c, uint8_t byte)
{
    c->uart.sending = byte;
    c->uart.busy = TRUE;
    avr_cycle_timer_register(c->avr, (uint64_t)(10 * CHIP_CLOCK / baud(c)), on_sent, c);
}

static avr_cycle_count_t on_sent(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    Chip *c = user;
    ChipUart *u = &c->uart;
    const uint8_t byte = u->sending;
    u->busy = FALSE;
    if (u->full) {
        u->full = FALSE;
        shift_out(c, u->next);
    } else {
        u->sent = TRUE;
    }
    ask_interrupts(c);
    c->rig->now = MAX(c->rig->now, chip_now_us(c));
    c->talked = c->avr->cycle;
    dt_rig_hear(c->rig, (char)byte);
    return 0;
}

static void write_data(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    (void)at;
    Chip *c = user;
    ChipUart *u = &c->uart;
    if (!(avr->data[CHIP_UCSR0B] & TXEN) || u->full)
        return; /* section 20.6.1: it is ignored */
    if (u->busy) {
        u->full = TRUE;
        u->next = value;
    } else {
        shift_out(c, value);
    }
    ask_interrupts(c);
}

/* Receiving ---------------------------------------------------------------------------------- */

gboolean chip_uart_receive(Chip *c, uint8_t byte, gboolean framed)
{
    ChipUart *u = &c->uart;
    if (!(c->avr->data[CHIP_UCSR0B] & RXEN))
        return FALSE;
    const double off = fabs(baud(c) / c->rig->truth.baud - 1);
    const uint16_t taken = (uint16_t)(byte | (framed && off <= baud_tolerance ? 0 : CHIP_FRAME));
    if (u->n == CHIP_FIFO) {
        u->overrun = TRUE;
        c->figures.overruns++;
        return FALSE;
    }
    u->fifo[u->n++] = taken;
    ask_interrupts(c);
    return TRUE;
}

gboolean chip_uart_waits(const Chip *c)
{
    return c->uart.n > 0;
}

static uint8_t read_data(avr_t *avr, avr_io_addr_t at, void *user)
{
    (void)avr;
    (void)at;
    Chip *c = user;
    ChipUart *u = &c->uart;
    const uint8_t byte = (uint8_t)u->fifo[0];
    if (u->n > 0) {
        u->fifo[0] = u->fifo[1];
        u->fifo[1] = u->fifo[2];
        u->n--;
    }
    u->overrun = FALSE;
    ask_interrupts(c);
    return byte;
}

static uint8_t read_status(avr_t *avr, avr_io_addr_t at, void *user)
{
    const ChipUart *u = &((Chip *)user)->uart;
    return (uint8_t)((u->n > 0 ? RXC : 0) | (u->sent ? TXC : 0) | (u->full ? 0 : UDRE) |
                     (u->n > 0 && u->fifo[0] & CHIP_FRAME ? FE : 0) | (u->overrun ? DOR : 0) |
                     (avr->data[at] & (U2X | MPCM)));
}

static void write_status(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    Chip *c = user;
    if (value & TXC)
        c->uart.sent = FALSE;
    avr->data[at] = value & (U2X | MPCM);
    ask_interrupts(c);
}

static void write_control(avr_t *avr, avr_io_addr_t at, uint8_t value, void *user)
{
    Chip *c = user;
    avr->data[at] = value;
    if (!(value & RXEN)) {
        c->uart.n = 0; /* section 20.7.5: the buffer is emptied */
        c->uart.overrun = FALSE;
    }
    ask_interrupts(c);
}

static void on_interrupt(struct avr_irq_t *irq, uint32_t value, void *user)
{
    Chip *c = user;
    if (value && irq == chip_vector(c, CHIP_USART_TX)->irq + AVR_INT_IRQ_RUNNING)
        c->uart.sent = FALSE;
    if (!value)
        ask_interrupts(c);
}

void chip_uart_reset(Chip *c)
{
    c->uart = (ChipUart){0};
}

void chip_uart_init(Chip *c)
{
    chip_hook(c, CHIP_UDR0, read_data, write_data);
    chip_hook(c, CHIP_UCSR0A, read_status, write_status);
    chip_hook(c, CHIP_UCSR0B, NULL, write_control);
    chip_on_interrupt(c, CHIP_USART_RX, on_interrupt);
    chip_on_interrupt(c, CHIP_USART_UDRE, on_interrupt);
    chip_on_interrupt(c, CHIP_USART_TX, on_interrupt);
}
