/* chip-inside: shared by the files of the simulated chip. Peripherals according to the
 * ATmega328P data sheet (Microchip DS40002061; section numbers and timing from memory),
 * replacing the simulator's own where those fall short: its timer 1 repeats past compare matches
 * whenever a compare register is written, its UART has neither overruns nor frame errors, and
 * its EEPROM takes no time to write. A timer of the simulator that is registered again is moved. */
#pragma once

#include "chip.h"
#include "inside.h"

#include <simavr/sim_avr.h>
#include <simavr/sim_interrupts.h>

enum { CHIP_CLOCK = 16000000, CYCLES_PER_US = 16, CHIP_EEPROM = 1024 };

/* Addresses in data space and vectors of the ATmega328P, its data sheet, sections 30 and 11. */
enum {
    CHIP_PINB = 0x23,
    CHIP_PINC = 0x26,
    CHIP_PIND = 0x29,
    CHIP_TIFR1 = 0x36,
    CHIP_EECR = 0x3f,
    CHIP_EEDR = 0x40,
    CHIP_EEARL = 0x41,
    CHIP_EEARH = 0x42,
    CHIP_MCUSR = 0x54,
    CHIP_TIMSK1 = 0x6f,
    CHIP_TCCR1A = 0x80,
    CHIP_TCCR1B = 0x81,
    CHIP_TCCR1C = 0x82,
    CHIP_TCNT1L = 0x84,
    CHIP_TCNT1H = 0x85,
    CHIP_OCR1AL = 0x88,
    CHIP_OCR1AH = 0x89,
    CHIP_OCR1BL = 0x8a,
    CHIP_OCR1BH = 0x8b,
    CHIP_UCSR0A = 0xc0,
    CHIP_UCSR0B = 0xc1,
    CHIP_UBRR0L = 0xc4,
    CHIP_UBRR0H = 0xc5,
    CHIP_UDR0 = 0xc6,
    CHIP_TIMER1_COMPA = 11,
    CHIP_TIMER1_COMPB = 12,
    CHIP_TIMER1_OVF = 13,
    CHIP_USART_RX = 18,
    CHIP_USART_UDRE = 19,
    CHIP_USART_TX = 20,
    CHIP_EE_READY = 22,
};

typedef struct Chip Chip;

/* Timer 1, chip-timer.c: normal mode. */
typedef struct {
    uint16_t prescale; /* 0: stopped */
    uint64_t since;    /* cycle at which the count was `count` */
    uint16_t count, compare[2];
    uint8_t temp;   /* one for all 16-bit registers, section 16.3 */
    uint8_t flags;  /* as in TIFR1 */
    uint8_t output; /* OC1A and OC1B */
} ChipTimer;

enum { CHIP_FIFO = 3, CHIP_FRAME = 0x100 };

/* USART 0, chip-uart.c. */
typedef struct {
    uint16_t fifo[CHIP_FIFO]; /* bytes, with CHIP_FRAME; the last is in the shift register */
    unsigned n;
    gboolean overrun;
    uint8_t sending, next;
    gboolean busy, full, sent; /* sending; the next one waits; TXC */
} ChipUart;

/* EEPROM, chip-eeprom.c. */
typedef struct {
    uint8_t cells[CHIP_EEPROM];
    uint64_t armed_until, done; /* cycles */
    gboolean busy;
    uint8_t mode, value;
    uint16_t at;
    unsigned writes;
} ChipEeprom;

/* Switch lines, chip-switch.c. */
typedef struct {
    gboolean reached; /* as reported by the machine */
    gboolean level;   /* of the contact, which bounces */
    uint64_t settles; /* cycle at which bouncing ends */
    gboolean spike;
} ChipSwitch;

struct Chip {
    DtRig *rig;
    avr_t *avr;
    DtChipOptions options;
    GByteArray *flash;
    void (*reset)(avr_t *avr); /* of the simulator */
    GRand *rand;
    gint64 began_us; /* rig time at cycle 0 */
    uint64_t began;  /* cycles at that time */
    gboolean stop;   /* something to report: the simulation returns */
    ChipTimer timer;
    ChipUart uart;
    ChipEeprom eeprom;
    ChipSwitch switches[2];
    uint64_t burst_end, next_burst;
    uint8_t coils[2];
    int phase[2];
    gboolean servo_pin;
    uint64_t rose, last_rise, moved, talked;
    uint64_t answered; /* the latest line */
    uint16_t pulse_us;
    DtState state;
    uint8_t last_byte; /* received */
    gboolean homed, abandons, news, powerless;
    DtChipFigures figures;
    DtChipStep on_step;
    DtChipAnswer on_answer;
    void *on_step_user, *on_answer_user;
};

gint64 chip_now_us(const Chip *c);
/* Installs the simulator's hooks for an address; either may be NULL, which leaves the present
 * one. */
void chip_hook(Chip *c, uint16_t address, avr_io_read_t read, avr_io_write_t write);
avr_int_vector_t *chip_vector(Chip *c, uint8_t number);
/* Asks for an interrupt, or no longer. */
void chip_ask(Chip *c, uint8_t number, gboolean wanted);
/* Called when the interrupt is entered (1) or left (0). */
void chip_on_interrupt(Chip *c, uint8_t number, avr_irq_notify_t hear);

void chip_timer_init(Chip *c);
void chip_timer_reset(Chip *c);
/* Level of PB2 if OC1B drives it. */
gboolean chip_timer_drives_servo(const Chip *c, gboolean *level);

void chip_uart_init(Chip *c);
void chip_uart_reset(Chip *c);
/* FALSE if it was lost. */
gboolean chip_uart_receive(Chip *c, uint8_t byte, gboolean framed);
gboolean chip_uart_waits(const Chip *c);

void chip_eeprom_init(Chip *c);
void chip_eeprom_reset(Chip *c);
void chip_eeprom_lose_power(Chip *c);

/* FALSE if the chip refuses the rig file's settings, or has no settings. */
gboolean chip_settings_send(Chip *c, GError **error);

void chip_pins_init(Chip *c);
void chip_pins_reset(Chip *c);
void chip_pins_servo(Chip *c);
/* The machine has moved: its switches may have closed or opened. */
void chip_switches_follow(Chip *c);
void chip_switches_spike(Chip *c);
void chip_switches_reset(Chip *c);
/* The level at the pin of an axis' switch. */
gboolean chip_switch_level(const Chip *c, int axis);
