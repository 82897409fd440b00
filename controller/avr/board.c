/* board: the controller on an 8-bit chip at 16 MHz. Timer 1 runs freely at two counts a microsecond: its
 * compare A is the step interrupt, its compare B sets the edges of the servo pulse by hardware. */
#include "controller.h"
#include "pins.h"

#include <avr/interrupt.h>
#include <avr/io.h>

static DtController controller;
static volatile uint8_t going; /* the last interrupt's time counts for the next one */
static volatile uint16_t due;
static volatile uint32_t left; /* timer ticks still to count beyond the coming compare */
static volatile uint16_t pulse_ticks = 2000;
static volatile uint16_t rise;

enum { LONGEST = 16384, FRAME = 40000 };

static void send(void *board, char byte)
{
    (void)board;
    while (!(UCSR0A & 1 << UDRE0)) {
    }
    UDR0 = (uint8_t)byte;
}

static void coils(void *board, uint8_t axis, uint8_t bits)
{
    (void)board;
    if (axis == 0)
        DT_X_PORT = (uint8_t)((DT_X_PORT & ~(15 << DT_X_SHIFT)) | bits << DT_X_SHIFT);
    else
        DT_Y_PORT = (uint8_t)((DT_Y_PORT & ~(15 << DT_Y_SHIFT)) | bits << DT_Y_SHIFT);
}

static void servo(void *board, uint16_t pulse_us)
{
    (void)board;
    pulse_ticks = (uint16_t)(pulse_us * 2);
}

static uint8_t switches(void *board)
{
    (void)board;
    uint8_t pins = (uint8_t)~DT_SWITCH_PINS;
    return (uint8_t)((pins >> DT_SWITCH_X & 1) | (pins >> DT_SWITCH_Y & 1) << 1);
}

static void count_on(void)
{
    uint16_t now = left > LONGEST ? LONGEST : (uint16_t)left;
    left -= now;
    due += now;
    uint16_t soonest = TCNT1 + 8;
    OCR1A = (int16_t)(due - soonest) < 0 ? soonest : due;
    TIFR1 = 1 << OCF1A;
}

static void timer(void *board, uint32_t us)
{
    (void)board;
    if (us == 0) {
        TIMSK1 &= (uint8_t) ~(1 << OCIE1A);
        going = 0;
        return;
    }
    if (!going)
        due = TCNT1;
    going = 1;
    left = us * 2;
    count_on();
    TIMSK1 |= 1 << OCIE1A;
}

static volatile uint8_t depth, flags;

static void lock(void *board)
{
    (void)board;
    uint8_t now = SREG;
    cli();
    if (depth++ == 0)
        flags = now;
}

static void unlock(void *board)
{
    (void)board;
    if (--depth == 0)
        SREG = flags;
}

static const DtHardware hardware = {send, coils, servo, switches, timer, lock, unlock, 0};

ISR(TIMER1_COMPA_vect)
{
    if (left) {
        count_on();
        return;
    }
    TIMSK1 &= (uint8_t) ~(1 << OCIE1A);
    sei();
    dt_controller_timer(&controller);
    cli();
}

ISR(USART0_RX_vect)
{
    dt_controller_receive(&controller, UDR0);
}

/* The edge has just been made by the hardware; this says when and which way the next one goes. */
ISR(TIMER1_COMPB_vect)
{
    if (TCCR1A & 1 << COM1B0) { /* it rose */
        rise = OCR1B;
        TCCR1A = 1 << COM1B1;
        OCR1B = rise + pulse_ticks;
    } else {
        TCCR1A = 1 << COM1B1 | 1 << COM1B0;
        OCR1B = rise + FRAME;
    }
}

int main(void)
{
    DT_X_DDR |= 15 << DT_X_SHIFT;
    DT_Y_DDR |= 15 << DT_Y_SHIFT;
    DT_SERVO_DDR |= 1 << DT_SERVO_PIN;
    DT_SWITCH_PORT |= 1 << DT_SWITCH_X | 1 << DT_SWITCH_Y;
    UCSR0A = 1 << U2X0;
    UBRR0 = 16;
    UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
    TCCR1A = 1 << COM1B1 | 1 << COM1B0;
    TCCR1B = 1 << CS11;
    OCR1B = FRAME;
    TIMSK1 = 1 << OCIE1B;
    dt_controller_reset(&controller, &hardware, 0, &dt_settings_default);
    sei();
    for (;;)
        dt_controller_poll(&controller);
}
