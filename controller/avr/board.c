/* board: the controller on an 8-bit chip at 16 MHz, with the core's interrupts in the same
 * translation unit, so that each is one function. Timer 1 runs freely at two counts a
 * microsecond: its compare A is the step interrupt; its compare B sets the edges of the servo
 * pulse in hardware, so that no other interrupt moves them. The watchdog resets a chip whose
 * main loop hangs. */
#include "inline.h"

#include <avr/sleep.h>
#include <avr/wdt.h>

#include "receive.c"
#include "step.c"

#define FRAME (uint16_t)40000 /* of the servo: ticks in 20 ms */

enum {
    TICKS = 2,   /* ticks of timer 1 in a microsecond */
    SOONEST = 8, /* ticks from now to a compare that is certain to happen */
    FRAMES_A_SECOND = 50,
    TX = 64,          /* bytes: a power of two */
    DIVISOR = 16,     /* 115200 baud at double speed is 117647: 2.1 % too fast, within the tolerance
                   * of 8N1 */
    MOST_EDGES = 250, /* per switch and servo frame: 20 ms */
};

DtController dt_board_controller; /* inline.h tells step.c its address */
static volatile uint16_t pulse = 1000 * TICKS;
static uint16_t rise; /* of the servo pulse under way */
static volatile uint8_t frames;
static uint8_t tx[TX];
static volatile uint8_t tx_head, tx_tail; /* free-running */

/* An event since the main loop last looked: in a register that one instruction sets. */
static inline void wake(void)
{
    GPIOR0 |= 1;
}

/* Read before anything else, and the watchdog is stopped: after a reset by it, it continues to
 * run. */
static uint8_t cause_bits __attribute__((section(".noinit")));

void note_cause(void) __attribute__((naked, used, section(".init3")));

void note_cause(void)
{
    cause_bits = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

SMALL uint8_t dt_board_room(void)
{
    return (uint8_t)(TX - (uint8_t)(tx_head - tx_tail));
}

/* The core asks for room first; before interrupts are on, the greeting fits. */
SMALL void dt_board_send(char byte)
{
    if (dt_board_room() == 0)
        return;
    tx[tx_head & (TX - 1)] = (uint8_t)byte;
    tx_head++;
    UCSR0B |= 1 << UDRIE0;
}

SMALL void dt_board_servo(uint16_t pulse_us)
{
    uint8_t flags = SREG;
    cli();
    pulse = (uint16_t)(pulse_us * TICKS);
    SREG = flags;
}

/* Edges of the switches ---------------------------------------------------------------------- */

volatile uint8_t dt_board_firm;                 /* forgotten at the next frame of the servo */
static uint8_t pressed_since_edge;              /* bit per axis: pressed_at is known */
static uint16_t pressed_at[DT_CONTROLLER_AXES]; /* ticks */
static volatile uint8_t edges;                  /* in this frame */

static inline bool is_long(uint8_t axis)
{
    return (uint16_t)(TCNT1 - pressed_at[axis]) >= dt_board_controller.settings.debounce_us * TICKS;
}

static inline void begin_contact(uint8_t axis)
{
    pressed_since_edge |= (uint8_t)(1u << axis);
    pressed_at[axis] = TCNT1;
}

/* A line with more edges than a contact's bounce has is ignored for the rest of the frame, so
 * that it cannot stall the main loop; the time at which its contact closed is then unknown. */
static inline void note_edge(uint8_t axis)
{
    uint8_t bit = (uint8_t)(1u << axis);
    if ((dt_board_switches() ^ dt_board_controller.step.opens) & bit) {
        begin_contact(axis);
    } else {
        if ((pressed_since_edge & bit) && is_long(axis))
            dt_board_firm |= bit;
        pressed_since_edge &= (uint8_t)~bit;
    }
    if (++edges >= MOST_EDGES)
        EIMSK = pressed_since_edge = 0;
}

ISR(DT_EDGE_X_vect)
{
    note_edge(DTC_X);
}

ISR(DT_EDGE_Y_vect)
{
    note_edge(DTC_Y);
}

static inline uint8_t look_at(uint8_t axis)
{
    uint8_t bit = (uint8_t)(1u << axis);
    if (pressed_since_edge & bit)
        return is_long(axis) ? bit : 0;
    begin_contact(axis); /* it was pressed before edges were recorded */
    return 0;
}

/* A contact that was broken since `pressed` was read must not count as closed from here: its end
 * has passed, and the next one, of a spike that is over before its interrupt, would end a long
 * one. So the pins are read again, and then the pending edges: one of those has broken the
 * contact, or has just closed it. */
SELDOM uint8_t dt_board_look(uint8_t pressed)
{
    cli();
    uint8_t made = pressed & (dt_board_switches() ^ dt_board_controller.step.opens);
    made &= (uint8_t) ~(EIFR >> DT_EDGE_X);
    uint8_t firm = dt_board_firm;
    if (made & 1)
        firm |= look_at(DTC_X);
    if (made & 2)
        firm |= look_at(DTC_Y);
    dt_board_firm = firm & pressed;
    sei();
    return firm;
}

SMALL static void set_up_edges(void)
{
    DT_EDGE_MODES = DT_EDGE_BOTH;
    EIMSK = 3 << DT_EDGE_X;
}

/* The chip has one register for the high bytes of all 16-bit ones: no interrupt may come
 * between. */
static void set_step_compare(uint16_t due)
{
    uint16_t soonest = (uint16_t)(TCNT1 + SOONEST);
    if ((int16_t)(due - soonest) < 0)
        due = soonest;
    OCR1A = due;
    TIFR1 = 1 << OCF1A;
}

static uint16_t step_due;

SMALL void dt_board_timer(uint16_t us)
{
    uint8_t flags = SREG;
    cli();
    if (us) {
        step_due = (uint16_t)(TCNT1 + us * TICKS);
        set_step_compare(step_due);
        TIMSK1 |= 1 << OCIE1A;
    } else {
        TIMSK1 &= (uint8_t) ~(1 << OCIE1A);
    }
    SREG = flags;
}

SMALL uint8_t dt_board_recall(uint8_t at)
{
    while (EECR & 1 << EEPE) {
    }
    EEAR = at;
    EECR |= 1 << EERE;
    return EEDR;
}

/* Within four cycles of EEMPE, or the chip does not start. */
SMALL uint8_t dt_board_keep(uint8_t at, uint8_t byte)
{
    if (EECR & 1 << EEPE)
        return 0;
    EECR = 0; /* erase and write in one */
    EEAR = at;
    EEDR = byte;
    uint8_t flags = SREG;
    cli();
    EECR |= 1 << EEMPE;
    EECR |= 1 << EEPE;
    SREG = flags;
    return 1;
}

SMALL uint8_t dt_board_cause(void)
{
    return (uint8_t)((cause_bits >> PORF & 1 ? DT_CAUSE_POWER : 0) |
                     (cause_bits >> EXTRF & 1 ? DT_CAUSE_PIN : 0) |
                     (cause_bits >> BORF & 1 ? DT_CAUSE_BROWN_OUT : 0) |
                     (cause_bits >> WDRF & 1 ? DT_CAUSE_WATCHDOG : 0));
}

/* Other interrupts may come in between; another step interrupt may not. */
ISR(TIMER1_COMPA_vect)
{
    TIMSK1 &= (uint8_t) ~(1 << OCIE1A);
    sei();
    wake();
    uint16_t us = interrupt(&dt_board_controller);
    cli();
    if (us == 0)
        return;
    step_due = (uint16_t)(step_due + us * TICKS);
    set_step_compare(step_due);
    TIMSK1 |= 1 << OCIE1A;
}

ISR(USART0_RX_vect)
{
    uint8_t status = UCSR0A, byte = UDR0;
    wake();
    if (status & 1 << DOR0)
        receive_fault(&dt_board_controller, DT_FAULT_OVERRUN);
    if (status & 1 << FE0)
        receive_fault(&dt_board_controller, DT_FAULT_FRAMING);
    else
        receive(&dt_board_controller, byte);
}

ISR(USART0_UDRE_vect)
{
    uint8_t tail = tx_tail;
    wake();
    if (tail == tx_head) {
        UCSR0B &= (uint8_t) ~(1 << UDRIE0);
        return;
    }
    UDR0 = tx[tail & (TX - 1)];
    tx_tail = (uint8_t)(tail + 1);
}

/* The hardware has just made the edge; this schedules the time and direction of the next one. */
ISR(TIMER1_COMPB_vect)
{
    if (TCCR1A & 1 << COM1B0) { /* it rose */
        rise = OCR1B;
        TCCR1A = 1 << COM1B1;
        OCR1B = (uint16_t)(rise + pulse);
    } else {
        TCCR1A = 1 << COM1B1 | 1 << COM1B0;
        OCR1B = (uint16_t)(rise + FRAME);
        frames++;
        wake();
        edges = dt_board_firm = 0;
        EIMSK = 3 << DT_EDGE_X;
    }
}

SMALL static void set_up_pins(void)
{
    DT_X_DDR |= 15 << DT_X_SHIFT;
    DT_Y_DDR |= 15 << DT_Y_SHIFT;
    DT_SERVO_DDR |= 1 << DT_SERVO_PIN;
    DT_SWITCH_PORT |= 1 << DT_SWITCH_X | 1 << DT_SWITCH_Y;
}

SMALL static void set_up_uart(void)
{
    UCSR0A = 1 << U2X0;
    UBRR0 = DIVISOR;
    UCSR0C = 1 << UCSZ01 | 1 << UCSZ00; /* 8N1 */
    UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
}

SMALL static void set_up_timer(void)
{
    OCR1B = FRAME;
    TCCR1A = 1 << COM1B1 | 1 << COM1B0;
    TCCR1B = 1 << CS11;
    TIMSK1 = 1 << OCIE1B;
}

SMALL static void count_seconds(void)
{
    if (frames < FRAMES_A_SECOND)
        return;
    frames = 0;
    dt_controller_second(&dt_board_controller);
}

/* The instruction after sei() is executed before any interrupt: none can come between the test
 * and the sleep. */
static inline void sleep_until_woken(void)
{
    cli();
    if (GPIOR0 == 0) {
        sei();
        sleep_cpu();
    }
    sei();
}

SMALL int main(void)
{
    set_up_pins();
    set_up_uart();
    set_up_timer();
    set_up_edges();
    dt_controller_reset(&dt_board_controller, NULL, NULL, &dt_settings_default);
    wdt_enable(WDTO_250MS);
    SMCR = 1 << SE; /* idle: everything but the processor runs */
    sei();
    for (;;) {
        wdt_reset();
        GPIOR0 = 0;
        bool busy = dt_controller_poll(&dt_board_controller) || dt_board_controller.kept;
        count_seconds();
        if (!busy)
            sleep_until_woken();
    }
}
