/* board: the controller on a 32-bit ARM Cortex-M3, the emulator's board "mps2-an385" (Arm
 * application note AN385; register layouts from memory of the Cortex-M System Design Kit). It
 * shows how little a board must provide: one timer, one serial line, two ports. The emulated
 * board has no pins, so the switches are simulated here, 3 and 2 mm behind the position of the
 * carriage at power on. */
#include "controller.h"

#define REGISTER(address) (*(volatile uint32_t *)(address))

enum {
    CLOCK_MHZ = 25,
    HOMED_X = -300,
    HOMED_Y = -200,
    BIT_RATE = 115200,
    UART_RX_IRQ = 0,
    TIMER0_IRQ = 8,
    MEMORY = 256,
};

#define UART_DATA REGISTER(0x40004000)
#define UART_STATE REGISTER(0x40004004) /* bit 0: sending, bit 1: received, bit 3: overrun */
#define UART_CONTROL REGISTER(0x40004008)
#define UART_INTERRUPT REGISTER(0x4000400C)
#define UART_DIVISOR REGISTER(0x40004010)
#define TIMER_CONTROL REGISTER(0x40000000)
#define TIMER_VALUE REGISTER(0x40000004)
#define TIMER_RELOAD REGISTER(0x40000008)
#define TIMER_CLEAR REGISTER(0x4000000C)
#define ENABLE_INTERRUPT REGISTER(0xE000E100)

static DtController controller;
static uint8_t phase_bits[2];
static int position[2];
static uint8_t memory[MEMORY];
static uint8_t memory_is_new = 1;

static void send(void *board, char byte)
{
    (void)board;
    while (UART_STATE & 1) {
    }
    UART_DATA = (uint8_t)byte;
}

static uint8_t room(void *board)
{
    (void)board;
    return UINT8_MAX;
}

static void coils(void *board, uint8_t axis, uint8_t bits)
{
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    (void)board;
    unsigned was = 0, is = 0;
    for (unsigned i = 0; bits && i < 8; i++) {
        was = order[i] == phase_bits[axis] ? i : was;
        is = order[i] == bits ? i : is;
    }
    if (bits && phase_bits[axis])
        position[axis] += ((is - was) & 7) == 1 ? 1 : ((is - was) & 7) == 7 ? -1 : 0;
    if (bits)
        phase_bits[axis] = bits;
}

static void servo(void *board, uint16_t pulse_us)
{
    (void)board;
    (void)pulse_us;
}

static uint8_t switches(void *board)
{
    (void)board;
    return (uint8_t)((position[0] <= HOMED_X ? 1 : 0) | (position[1] <= HOMED_Y ? 2 : 0));
}

static void timer(void *board, uint16_t us)
{
    (void)board;
    TIMER_CONTROL = 0;
    TIMER_CLEAR = 1;
    if (us == 0)
        return;
    TIMER_VALUE = TIMER_RELOAD = us * (uint32_t)CLOCK_MHZ;
    TIMER_CONTROL = 1 << 3 | 1;
}

static void lock(void *board)
{
    (void)board;
    __asm__ volatile("cpsid i" ::: "memory");
}

static void unlock(void *board)
{
    (void)board;
    __asm__ volatile("cpsie i" ::: "memory");
}

static uint8_t recall(void *board, uint8_t at)
{
    (void)board;
    return memory_is_new ? 0xff : memory[at];
}

static uint8_t keep(void *board, uint8_t at, uint8_t byte)
{
    (void)board;
    for (unsigned i = 0; memory_is_new && i < MEMORY; i++)
        memory[i] = 0xff;
    memory_is_new = 0;
    memory[at] = byte;
    return 1;
}

static const DtHardware hardware = {
    .send = send,
    .room = room,
    .coils = coils,
    .servo = servo,
    .switches = switches,
    .timer = timer,
    .lock = lock,
    .unlock = unlock,
    .recall = recall,
    .keep = keep,
    .most_steps = 200000,
};

static void on_timer(void)
{
    TIMER_CLEAR = 1;
    timer(0, dt_controller_timer(&controller));
}

static void on_receive(void)
{
    UART_INTERRUPT = 2;
    if (UART_STATE & 8) {
        UART_STATE = 8;
        dt_controller_receive_fault(&controller, DT_FAULT_OVERRUN);
    }
    while (UART_STATE & 2)
        dt_controller_receive(&controller, (uint8_t)UART_DATA);
}

int main(void)
{
    UART_DIVISOR = CLOCK_MHZ * 1000000 / BIT_RATE;
    UART_CONTROL = 1 << 3 | 1 << 1 | 1; /* receive interrupt, receive, send */
    ENABLE_INTERRUPT = 1u << TIMER0_IRQ | 1u << UART_RX_IRQ;
    dt_controller_reset(&controller, &hardware, 0, &dt_settings_default);
    for (;;)
        dt_controller_poll(&controller);
}

/* Start ------------------------------------------------------------------------------------ */

extern uint32_t stack_top[], data_load[], data_start[], data_end[], bss_start[], bss_end[];

void start(void);

void start(void)
{
    const uint32_t *from = data_load;
    for (uint32_t *to = data_start; to < data_end; to++)
        *to = *from++;
    for (uint32_t *to = bss_start; to < bss_end; to++)
        *to = 0;
    main();
}

static void stop(void)
{
    for (;;) {
    }
}

typedef void (*Vector)(void);

__attribute__((section(".vectors"), used)) static const Vector vectors[16 + TIMER0_IRQ + 1] = {
    [0] = (Vector)stack_top,
    [1] = start,
    [2] = stop, /* NMI and the faults */
    [3] = stop,
    [4] = stop,
    [5] = stop,
    [6] = stop,
    [16 + UART_RX_IRQ] = on_receive,
    [16 + TIMER0_IRQ] = on_timer,
};
