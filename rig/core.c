/* core: the controller's core, compiled in, as the board: it runs on events, its own timer and
 * the bytes that have arrived. */
#include "inside.h"

/* What the core calls ------------------------------------------------------------------------ */

static void board_send(void *board, char byte)
{
    dt_rig_hear(board, byte);
}

static void board_coils(void *board, uint8_t axis, uint8_t bits)
{
    dt_rig_machine_coils(&((DtRig *)board)->machine, axis, bits);
}

static void board_servo(void *board, uint16_t pulse_us)
{
    dt_rig_servo(board, pulse_us);
}

static uint8_t board_switches(void *board)
{
    DtRig *r = board;
    /* The core asks right after its step, when the motors have turned. */
    dt_rig_machine_turn(&r->machine, r->now);
    return dt_rig_machine_switches(&r->machine);
}

static void board_timer(void *board, uint16_t us)
{
    DtRig *r = board;
    r->deadline = us ? r->now + us : -1;
}

static uint8_t board_recall(void *board, uint8_t at)
{
    return ((DtRig *)board)->memory[at];
}

static uint8_t board_keep(void *board, uint8_t at, uint8_t byte)
{
    ((DtRig *)board)->memory[at] = byte;
    return 1;
}

static void board_lock(void *board)
{
    (void)board;
}

static void board_target(void *board, const int64_t nm[2])
{
    DtRig *r = board;
    if (r->watch)
        r->watch(nm, r->watch_user);
}

const DtHardware dt_rig_core_hardware = {
    .send = board_send,
    .coils = board_coils,
    .servo = board_servo,
    .switches = board_switches,
    .timer = board_timer,
    .lock = board_lock,
    .unlock = board_lock,
    .recall = board_recall,
    .keep = board_keep,
    .target = board_target,
};

/* What the rig calls ------------------------------------------------------------------------- */

static void core_reset(DtRig *r)
{
    r->deadline = -1;
    r->next_second = r->now + G_USEC_PER_SEC;
    dt_controller_reset(&r->core, &r->hardware, r, &r->settings);
}

static gboolean core_receive(DtRig *r, uint8_t byte)
{
    return dt_controller_receive(&r->core, byte);
}

static gboolean core_poll(DtRig *r)
{
    return dt_controller_poll(&r->core);
}

/* A stop with the pen down and no line there is starvation if the next line is a move. */
void dt_rig_watch_hunger(DtRig *r)
{
    gboolean running = r->core.step.running;
    gboolean drawing = r->machine.commanded_down && !r->core.hold && !r->core.abandon;
    if (!drawing || r->core.step.waiting)
        r->hungry = FALSE;
    else if (running && !r->was_running && r->hungry)
        r->machine.figures.starved++;
    if (running || !drawing)
        r->hungry = FALSE;
    else if (r->was_running && dt_controller_ready(&r->core))
        r->hungry = TRUE;
    r->was_running = running;
}

/* The board's seconds pass with its clock; none passes while the clock waits for a sender. */
static gboolean core_second(DtRig *r, gint64 not_beyond)
{
    const gint64 due = MAX(r->next_second, r->now);
    const gboolean in_time = (r->deadline < 0 || due <= r->deadline) && due <= not_beyond;
    if (!in_time)
        return FALSE;
    r->now = due;
    r->next_second = due + G_USEC_PER_SEC;
    dt_controller_second(&r->core);
    return TRUE;
}

static gboolean core_advance(DtRig *r, gint64 not_beyond)
{
    if (core_second(r, not_beyond >= 0 ? not_beyond : r->deadline))
        return TRUE;
    if (r->deadline < 0 || (not_beyond >= 0 && r->deadline > not_beyond))
        return FALSE;
    const gint64 due = r->deadline;
    r->now = MAX(r->now, due);
    r->deadline = -1;
    const uint16_t us = dt_controller_timer(&r->core);
    r->deadline = us ? due + us : -1;
    dt_rig_machine_turn(&r->machine, r->now);
    dt_rig_watch_hunger(r);
    return TRUE;
}

static gboolean core_ready(const DtRig *r)
{
    return dt_controller_ready(&r->core);
}

static gboolean core_rests(const DtRig *r)
{
    return r->deadline < 0;
}

static gboolean core_homed(const DtRig *r)
{
    return r->core.homed;
}

static gboolean core_abandons(const DtRig *r)
{
    return r->core.abandon;
}

static DtState core_state(const DtRig *r)
{
    return dt_controller_state(&r->core);
}

static void core_unplug(DtRig *r)
{
    r->deadline = -1;
}

const RigBoard dt_rig_core_board = {
    .reset = core_reset,
    .receive = core_receive,
    .poll = core_poll,
    .advance = core_advance,
    .ready = core_ready,
    .rests = core_rests,
    .homed = core_homed,
    .abandons = core_abandons,
    .state = core_state,
    .unplug = core_unplug,
};
