/* board: the controller on an ATmega328P at 16 MHz, the 8-bit board whose 2 KB of RAM and 32 KB of
 * flash are the wall. Motor X on port D 4-7, motor Y on port B 0-3, servo on port C 2, switches
 * that close to ground on port C 0 and 1, UART at 115200 baud. */
#include "controller.h"

#include <avr/interrupt.h>
#include <avr/io.h>

static DtController controller;
static volatile uint8_t going; /* the last interrupt's time counts for the next one */
static volatile uint16_t due;
static volatile uint32_t left; /* timer ticks still to count beyond the coming compare */
static volatile uint8_t pulse_ticks, frame;

enum { LONGEST = 16384 };

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
        PORTD = (uint8_t)((PORTD & 0x0f) | bits << 4);
    else
        PORTB = (uint8_t)((PORTB & 0xf0) | bits);
}

static void servo(void *board, uint16_t pulse_us)
{
    (void)board;
    pulse_ticks = (uint8_t)(pulse_us / 8);
}

static uint8_t switches(void *board)
{
    (void)board;
    return (uint8_t)~PINC & 3;
}

/* Counts towards the next interrupt. Steps that come too close together are late, but the next one
 * is counted from when they were due: no time is lost. */
static void count_on(void)
{
    uint16_t now = left > LONGEST ? LONGEST : (uint16_t)left;
    left -= now;
    due += now;
    uint16_t soonest = TCNT1 + 8;
    OCR1A = (int16_t)(due - soonest) < 0 ? soonest : due;
    TIFR1 = 1 << OCF1A;
}

/* Two ticks a microsecond. */
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

/* The receive interrupt may come in between; another timer interrupt may not. */
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

ISR(USART_RX_vect)
{
    dt_controller_receive(&controller, UDR0);
}

/* A servo frame of 20 ms: the pulse, then ten times 1.9 ms. */
ISR(TIMER2_COMPA_vect)
{
    if (frame == 0) {
        PORTC |= 1 << 2;
        OCR2A = pulse_ticks;
    } else {
        PORTC &= (uint8_t) ~(1 << 2);
        OCR2A = 237;
    }
    frame = frame == 10 ? 0 : frame + 1;
}

int main(void)
{
    DDRD = 0xf0;
    DDRB = 0x0f;
    DDRC = 1 << 2;
    PORTC = 3;
    UCSR0A = 1 << U2X0;
    UBRR0 = 16;
    UCSR0B = 1 << RXEN0 | 1 << TXEN0 | 1 << RXCIE0;
    TCCR1B = 1 << CS11;
    TCCR2A = 1 << WGM21;
    TCCR2B = 1 << CS22 | 1 << CS20;
    TIMSK2 = 1 << OCIE2A;
    dt_controller_reset(&controller, &hardware, 0, &dt_settings_default);
    sei();
    for (;;)
        dt_controller_poll(&controller);
}
