/* chip: the simulated chip as the rig's board. The simulation runs up to the next event: a byte
 * from the host, a line for it, or the end of a millisecond. */
#include "chip-inside.h"

#include <simavr/sim_elf.h>
#include <simavr/sim_io.h>
#include <string.h>

enum { SLICE_US = 1000, IDLE_SLICE_US = 5000, STILL_US = 60000, STUCK_US = 20000000 };
enum { RAM_FROM = 0x100, POWER_ON = 1, EXTERNAL_RESET = 2 }; /* bits of MCUSR */
enum { ANSWER = 4 };                                         /* cycles */
enum { ELF_MACHINE = 18, ELF_AVR = 83, ELF_FLAGS = 36, AVR5 = 5 };

static Chip *chip_of(const DtRig *r)
{
    return r->chip;
}

gint64 chip_now_us(const Chip *c)
{
    return c->began_us + (gint64)((c->avr->cycle - c->began) / CYCLES_PER_US);
}

void chip_hook(Chip *c, uint16_t address, avr_io_read_t read, avr_io_write_t write)
{
    const unsigned i = AVR_DATA_TO_IO(address);
    if (read) {
        c->avr->io[i].r.c = read;
        c->avr->io[i].r.param = c;
    }
    if (write) {
        c->avr->io[i].w.c = write;
        c->avr->io[i].w.param = c;
    }
}

avr_int_vector_t *chip_vector(Chip *c, uint8_t number)
{
    const avr_int_table_t *t = &c->avr->interrupts;
    for (unsigned i = 0; i < t->vector_count; i++)
        if (t->vector[i]->vector == number)
            return t->vector[i];
    g_error("the simulator has no vector %u", number);
}

void chip_ask(Chip *c, uint8_t number, gboolean wanted)
{
    avr_int_vector_t *v = chip_vector(c, number);
    if (wanted)
        avr_raise_interrupt(c->avr, v);
    else if (v->pending)
        avr_clear_interrupt(c->avr, v);
}

void chip_on_interrupt(Chip *c, uint8_t number, avr_irq_notify_t hear)
{
    avr_irq_register_notify(chip_vector(c, number)->irq + AVR_INT_IRQ_RUNNING, hear, c);
}

/* The simulator answers interrupts at once, the chip in four cycles at least (section 7.7.1). */
static void on_entry(struct avr_irq_t *irq, uint32_t value, void *user)
{
    (void)irq;
    Chip *c = user;
    if (value)
        c->avr->cycle += ANSWER;
}

static void delay_interrupts(Chip *c)
{
    const avr_int_table_t *t = &c->avr->interrupts;
    for (unsigned i = 0; i < t->vector_count; i++)
        avr_irq_register_notify(t->vector[i]->irq + AVR_INT_IRQ_RUNNING, on_entry, c);
}

/* Running ------------------------------------------------------------------------------------ */

static avr_cycle_count_t on_alarm(avr_t *avr, avr_cycle_count_t when, void *user)
{
    (void)avr;
    (void)when;
    (void)user;
    return 0;
}

/* Sleep takes no time here. */
static void sleep_on(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

static void come_back(Chip *c)
{
    c->stop = TRUE;
    avr_cycle_timer_register(c->avr, 1, on_alarm, c);
}

/* Runs up to this rig time, or until there is something to report. */
static void run_to(Chip *c, gint64 us)
{
    avr_t *avr = c->avr;
    const uint64_t target = c->began + (uint64_t)(us - c->began_us) * CYCLES_PER_US;
    c->stop = FALSE;
    if (avr->cycle < target)
        avr_cycle_timer_register(avr, target - avr->cycle, on_alarm, c);
    while (avr->cycle < target && !c->stop && !c->figures.crashed) {
        const int state = avr_run(avr);
        c->figures.crashed |= state == cpu_Done || state == cpu_Crashed;
    }
    if (c->figures.crashed) /* it is halted, and time passes */
        avr->cycle = MAX(avr->cycle, target);
    c->rig->now = MAX(c->rig->now, chip_now_us(c));
}

/* If the rig's clock was advanced without the chip, the chip was asleep. */
static void take_clock(Chip *c)
{
    if (c->rig->now <= chip_now_us(c))
        return;
    c->began_us = c->rig->now;
    c->began = c->avr->cycle;
}

/* Board -------------------------------------------------------------------------------------- */

static gboolean has_line(const DtRig *r)
{
    return !g_queue_is_empty(r->lines) || r->line->len > 0 || chip_uart_waits(chip_of(r));
}

static gboolean chip_rests(const DtRig *r)
{
    const Chip *c = chip_of(r);
    const gint64 since_us = (gint64)((c->avr->cycle - MAX(c->moved, c->talked)) / CYCLES_PER_US);
    const gboolean waits = !has_line(r) || c->state == DT_STATE_STOPPED;
    return c->figures.crashed || since_us > (waits ? STILL_US : STUCK_US);
}

static gboolean chip_advance(DtRig *r, gint64 not_beyond)
{
    Chip *c = chip_of(r);
    take_clock(c);
    const gint64 from = r->now;
    if (not_beyond >= 0 && not_beyond <= from)
        return FALSE;
    const gboolean idle = not_beyond < 0 && chip_rests(r);
    const gint64 to = from + (idle ? IDLE_SLICE_US : SLICE_US);
    run_to(c, not_beyond >= 0 ? MIN(to, not_beyond) : to);
    return !idle;
}

/* A line reaches an idle board: the board has waited for its sender since it last moved or
 * answered. */
static void note_wait(Chip *c)
{
    const uint64_t since = c->avr->cycle - MAX(c->moved, c->answered);
    if (!has_line(c->rig) && since > (uint64_t)STILL_US * CYCLES_PER_US && c->answered > 0)
        c->figures.waited_s += (double)since / CHIP_CLOCK;
}

static gboolean chip_receive(DtRig *r, uint8_t byte)
{
    Chip *c = chip_of(r);
    const gboolean twice = byte == c->last_byte;
    c->last_byte = twice ? 0 : byte;
    c->abandons |= byte == DT_BYTE_ABANDON && twice && r->truth.hold;
    c->talked = c->avr->cycle;
    if (byte == DT_BYTE_GO_ON && twice)
        c->state = DT_STATE_STILL;
    if (byte != DT_BYTE_ASK && byte != DT_BYTE_GO_ON)
        note_wait(c);
    return chip_uart_receive(c, byte, TRUE);
}

static gboolean chip_poll(DtRig *r)
{
    Chip *c = chip_of(r);
    const gboolean news = c->news;
    c->news = FALSE;
    return news;
}

/* A sender with lines left would have sent them: the clock waits for it before the buffer runs
 * low. */
static gboolean chip_ready(const DtRig *r)
{
    return !has_line(r) || 2 * (r->in_bytes - r->acked_bytes) < r->most_bytes;
}

static gboolean chip_homed(const DtRig *r)
{
    return chip_of(r)->homed;
}

static gboolean chip_abandons(const DtRig *r)
{
    return chip_of(r)->abandons;
}

static gboolean homes(const DtRig *r)
{
    const char *line = g_queue_peek_head(r->lines);
    return line && strstr(line, "G28") != NULL;
}

static DtState chip_state(const DtRig *r)
{
    const Chip *c = chip_of(r);
    return c->state != DT_STATE_STOPPED && homes(r) ? DT_STATE_HOMING : c->state;
}

/* Its state is known from what it sends. */
static void chip_heard(DtRig *r, const char *text)
{
    Chip *c = chip_of(r);
    c->news = TRUE;
    come_back(c);
    if (c->on_answer)
        c->on_answer(text, c->on_answer_user);
    if (g_str_has_prefix(text, "taken ") || g_str_has_prefix(text, "refused "))
        c->answered = c->avr->cycle;
    if (g_str_has_prefix(text, "taken ")) {
        c->homed |= homes(r);
        c->state = DT_STATE_STILL;
    } else if (g_str_has_prefix(text, "refused ")) {
        c->state = DT_STATE_STILL;
        const gboolean hit = strstr(text, "switch hit") != NULL;
        r->machine.figures.stopped_on_switch |= hit && c->homed;
        c->homed = c->homed && !homes(r) && !hit;
    } else if (g_str_has_prefix(text, "state ")) {
        const gboolean unhomed = g_str_has_prefix(text, "state unhomed");
        const char *lost = strstr(text, " lost ");
        c->figures.no_room =
            lost ? (unsigned)g_ascii_strtoull(lost + strlen(" lost "), NULL, 10) : 0;
        r->machine.figures.stopped_on_switch |= unhomed && c->homed && !c->abandons;
        c->abandons = FALSE;
        c->homed = c->homed && !unhomed;
        c->state = g_str_has_prefix(text, "state stopped") ? DT_STATE_STOPPED : DT_STATE_STILL;
    } else {
        c->homed = FALSE;
        c->state = DT_STATE_STILL;
    }
}

/* Reset and power ---------------------------------------------------------------------------- */

/* From any source: the simulator has reset its registers and cancelled all pending events. */
static void on_reset(avr_t *avr)
{
    Chip *c = avr->custom.data;
    if (c->reset)
        c->reset(avr);
    c->homed = c->abandons = FALSE;
    c->state = DT_STATE_STILL;
    chip_timer_reset(c);
    chip_uart_reset(c);
    chip_eeprom_reset(c);
    chip_pins_reset(c);
    chip_switches_reset(c);
}

/* A reset that the rig did not request is the watchdog's. Lines on their way are lost. */
static void on_any_reset(avr_t *avr)
{
    Chip *c = avr->custom.data;
    c->figures.resets++;
    g_queue_clear_full(c->rig->lines, g_free);
    g_string_truncate(c->rig->line, 0);
    g_string_truncate(c->rig->answer, 0);
    on_reset(avr);
}

static void restart(Chip *c, uint8_t cause)
{
    avr_t *avr = c->avr;
    avr->reset = on_reset;
    avr_reset(avr);
    avr->reset = on_any_reset;
    avr->data[CHIP_MCUSR] = cause;
    c->moved = c->talked = avr->cycle;
}

static void power_on(Chip *c)
{
    avr_t *avr = c->avr;
    chip_eeprom_lose_power(c);
    for (unsigned i = 0; i < 32; i++)
        avr->data[i] = (uint8_t)g_rand_int(c->rand);
    for (unsigned i = RAM_FROM; i <= avr->ramend; i++)
        avr->data[i] = (uint8_t)g_rand_int(c->rand);
    restart(c, POWER_ON);
}

static void chip_unplug(DtRig *r)
{
    chip_of(r)->powerless = TRUE;
}

static void chip_reset(DtRig *r)
{
    Chip *c = chip_of(r);
    take_clock(c);
    if (c->powerless)
        power_on(c);
    else
        restart(c, EXTERNAL_RESET);
    c->powerless = FALSE;
}

void dt_rig_chip_cut_power(DtRig *r)
{
    chip_unplug(r);
    dt_rig_reset(r);
}

/* Making and unmaking ------------------------------------------------------------------------ */

static void keep_eeprom(const Chip *c)
{
    if (c->options.eeprom)
        g_file_set_contents(c->options.eeprom, (const char *)c->eeprom.cells, CHIP_EEPROM, NULL);
}

static void chip_free(DtRig *r)
{
    Chip *c = chip_of(r);
    keep_eeprom(c);
    avr_terminate(c->avr);
    g_free(c->avr);
    g_rand_free(c->rand);
    g_free((char *)c->options.eeprom);
    g_free(c);
    r->chip = NULL;
}

static const RigBoard chip_board = {
    .reset = chip_reset,
    .receive = chip_receive,
    .poll = chip_poll,
    .advance = chip_advance,
    .ready = chip_ready,
    .rests = chip_rests,
    .homed = chip_homed,
    .abandons = chip_abandons,
    .state = chip_state,
    .heard = chip_heard,
    .unplug = chip_unplug,
    .free = chip_free,
};

/* The simulator's messages are not for the user. */
static void drop_message(struct avr_t *avr, const int level, const char *format, va_list arguments)
{
    (void)avr;
    (void)level;
    (void)format;
    (void)arguments;
}

/* An ELF file for an AVR of architecture 5, to which the ATmega328P belongs. */
static gboolean is_image(const char *path, GError **error)
{
    g_autofree char *bytes = NULL;
    gsize n;
    if (!g_file_get_contents(path, &bytes, &n, error))
        return FALSE;
    if (n > 52 && memcmp(bytes, "\177ELF\1\1", 6) == 0 && bytes[ELF_MACHINE] == ELF_AVR &&
        (bytes[ELF_FLAGS] & 0x7f) == AVR5)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not an image for an ATmega328P", path);
    return FALSE;
}

static gboolean load(Chip *c, const char *path, GError **error)
{
    elf_firmware_t f = {0};
    avr_global_logger_set(drop_message);
    if (!is_image(path, error))
        return FALSE;
    if (elf_read_firmware(path, &f) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: cannot be read", path);
        return FALSE;
    }
    c->avr = avr_make_mcu_by_name("atmega328p");
    c->avr->custom.data = c;
    avr_init(c->avr);
    avr_load_firmware(c->avr, &f);
    c->avr->frequency = CHIP_CLOCK;
    c->avr->sleep = sleep_on;
    c->reset = c->avr->reset;
    return TRUE;
}

static void load_eeprom(Chip *c)
{
    g_autofree char *bytes = NULL;
    gsize n;
    if (c->options.eeprom && g_file_get_contents(c->options.eeprom, &bytes, &n, NULL))
        memcpy(c->eeprom.cells, bytes, MIN(n, CHIP_EEPROM));
}

gboolean dt_rig_use_chip(DtRig *r, const DtChipOptions *o, GError **error)
{
    Chip *c = g_new0(Chip, 1);
    c->options = *o;
    c->rig = r;
    if (!load(c, o->image, error)) {
        g_free(c);
        return FALSE;
    }
    c->options.eeprom = g_strdup(o->eeprom);
    c->rand = g_rand_new_with_seed(o->seed);
    r->chip = c;
    r->board = &chip_board;
    c->began_us = r->now;
    c->began = c->avr->cycle;
    chip_timer_init(c);
    chip_uart_init(c);
    chip_eeprom_init(c);
    chip_pins_init(c);
    delay_interrupts(c);
    load_eeprom(c);
    dt_rig_chip_watch_pulses(r);
    r->machine.axis[0].loose = r->machine.axis[1].loose = TRUE;
    r->deadline = -1;
    dt_rig_drop_out(r);
    dt_rig_chip_cut_power(r);
    return chip_settings_send(c, error);
}

/* What was seen ------------------------------------------------------------------------------ */

void dt_rig_chip_watch_pulses(DtRig *r)
{
    DtChipFigures *f = &chip_of(r)->figures;
    f->pulse_low_us = f->frame_low_us = G_MAXDOUBLE;
    f->pulse_high_us = f->frame_high_us = 0;
}

void dt_rig_chip_figures(const DtRig *r, DtChipFigures *out)
{
    const Chip *c = chip_of(r);
    *out = c->figures;
    out->cycles = c->avr->cycle;
    out->eeprom_writes = c->eeprom.writes;
    out->eeprom_busy = c->eeprom.busy;
    for (int i = 0; i < 2; i++)
        out->coils_on[i] = c->coils[i] != 0;
}

void dt_rig_chip_on_step(DtRig *r, DtChipStep step, void *user)
{
    chip_of(r)->on_step = step;
    chip_of(r)->on_step_user = user;
}

void dt_rig_chip_on_answer(DtRig *r, DtChipAnswer answer, void *user)
{
    chip_of(r)->on_answer = answer;
    chip_of(r)->on_answer_user = user;
}

void dt_rig_chip_send(DtRig *r, guint8 byte)
{
    while (r->queue_n == RIG_QUEUE)
        dt_rig_chip_run(r, 0.01);
    dt_rig_queue(r, &byte, 1, (double)r->now);
}

guint8 *dt_rig_chip_eeprom(DtRig *r)
{
    return chip_of(r)->eeprom.cells;
}

void dt_rig_chip_put_byte(DtRig *r, guint8 byte, gboolean framed)
{
    chip_uart_receive(chip_of(r), byte, framed);
}

void dt_rig_chip_run(DtRig *r, double s)
{
    const gint64 until = r->now + (gint64)(s * 1e6);
    dt_rig_settle(r);
    while (dt_rig_advance(r, until))
        dt_rig_settle(r);
}
