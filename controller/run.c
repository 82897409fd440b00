/* run: the main loop's part: carries out the current line, in order, and whatever cannot wait
 * for a line. */
#include "core.h"

const DTC_FLASH DtSettings dt_settings_default = {
    .steps_per_mm = {100, 100},
    .speed = {15, 12},
    .acceleration = {150, 100},
    .pull_in = {4, 3},
    .travel = {300, 220},
    .home_speed = 8,
    .pull_off = 2,
    .chord = 0.005f,
    .pen_up_us = 1000,
    .pen_us_per_s = 10,
    .s_max = 100,
    .settle_ms = 300,
    .debounce_us = 150,
    .rest_s = 120,
    .words = UINT32_MAX,
};

/* No more than its counters can distinguish. */
static DtRxCount rx_size(const DtSettings *s)
{
    const DtRxCount most = (DtRxCount) ~(DtRxCount)0;
    uint16_t size = s->rx_bytes ? s->rx_bytes : DT_CONTROLLER_RX;
    return size > most ? most : (DtRxCount)size;
}

void dt_controller_reset(DtController *c, const DtHardware *hw, void *board,
                         const DTC_FLASH DtSettings *set)
{
    uint8_t *bytes = (uint8_t *)c;
    for (size_t i = 0; i < sizeof *c; i++)
        bytes[i] = 0;
    c->hw = hw;
    c->board = board;
    c->set = &c->settings;
    c->motion = UINT8_MAX;
    c->cause = DTC_HAS(c, cause) ? DTC_CALL(c, cause) : 0;
    dtc_settings_recall(c, set);
    c->rx_size = rx_size(c->set);
    c->pulse_us = c->set->pen_up_us;
    dtc_plan_reset(c);
    dtc_step_reset(c);
    dtc_pen_move(c, c->pulse_us);
    dtc_reply_greeting(c);
}

static bool is_homing(const DtController *c)
{
    return c->line.running && c->line.homing;
}

DtState dt_controller_state(const DtController *c)
{
    if (c->stopped)
        return DT_STATE_STOPPED;
    if (c->hold && !c->step.running)
        return DT_STATE_HELD;
    if (is_homing(c))
        return DT_STATE_HOMING;
    if (!dtc_still(c))
        return DT_STATE_MOVING;
    return c->homed ? DT_STATE_STILL : DT_STATE_UNHOMED;
}

uint8_t dt_controller_ready(const DtController *c)
{
    return !c->line.running && !c->owes && !dtc_line_waits(c) && dtc_plan_room(c);
}

static void move_pen(DtController *c, uint16_t pulse_us)
{
    c->pulse_us = pulse_us;
    c->lifted = 0;
    dtc_pen_move(c, pulse_us);
}

/* Up instead of down, so that it leaves no blot. */
static bool lift(DtController *c)
{
    if (c->lifted || c->pulse_us == c->set->pen_up_us)
        return false;
    c->lifted = 1;
    dtc_pen_move(c, c->set->pen_up_us);
    return true;
}

static void put_back_down(DtController *c)
{
    if (!c->lifted)
        return;
    c->lifted = 0;
    dtc_pen_move(c, c->pulse_us);
    dtc_wait_ms(c, c->set->settle_ms);
}

/* NISTIR 6556, 3.6.1: what the end of a program resets, as far as it exists here. Nothing moves
 * from now on, and motors that stand still with their coils on get hot. */
static void end_program(DtController *c)
{
    c->motion = 10;
    c->relative = 0;
    c->spindle = 0;
    move_pen(c, c->set->pen_up_us);
    dtc_step_release(c);
}

static bool do_arc(DtController *c)
{
    int64_t nm[DT_CONTROLLER_AXES];
    dtc_arc_point(c, nm);
    dtc_plan_line(c, nm, c->line.feed);
    return ++c->arc.chord > c->arc.chords;
}

/* Motion words need room in the planner, the others wait for all motion to stop. */
static bool may_begin(const DtController *c, uint8_t what)
{
    if (what & (DTC_DO_MOVE | DTC_DO_ARC))
        return dtc_plan_room(c);
    if (what == DTC_DO_SET && !dtc_reply_may_at_length(c))
        return false;
    return !c->hold && dtc_still(c);
}

static uint16_t now(DtController *c)
{
    return DTC_HAS(c, clock) ? DTC_CALL(c, clock) : 0;
}

static void do_pen(DtController *c)
{
    move_pen(c, c->line.pulse_us);
    dtc_wait_ms(c, c->set->pen_wait_ms);
    c->sent_at = now(c);
    c->sent = c->pulse_us != c->set->pen_up_us && !c->step.waiting;
}

/* After a line that lowered the pen it counts from that moment, if its own line was in the
 * buffer by then: a small chip takes half a millisecond to read it. Not so after one that lifts
 * it: a servo receives its new position with its next pulse, and a pen that is not up yet when
 * the motors start leaves ink. */
static void do_dwell(DtController *c)
{
    uint16_t passed = c->sent ? (uint16_t)(now(c) - c->sent_at) : 0;
    dtc_wait_rest(c, c->line.dwell_ms, passed / 2);
}

static DtcReason do_part(DtController *c, uint8_t what, bool *done)
{
    DtLine *l = &c->line;
    *done = true;
    if ((what & (DTC_DO_MOVE | DTC_DO_ARC)) && !c->hold)
        put_back_down(c);
    switch (what) {
    case DTC_DO_PEN:
        do_pen(c);
        break;
    case DTC_DO_DWELL:
        do_dwell(c);
        break;
    case DTC_DO_MOVE:
        dtc_plan_line(c, l->target, l->feed);
        break;
    case DTC_DO_ARC:
        *done = do_arc(c);
        break;
    case DTC_DO_SET:
        return dtc_settings_change(c);
    case DTC_DO_HOME:
        if (!l->homing) {
            l->homing = 1;
            dtc_home_begin(c);
            *done = false;
            break;
        }
        return dtc_home_go_on(c, done);
    default:
        if (l->program_end) {
            end_program(c);
        } else if (!(c->set->quirks & DT_QUIRK_NO_HOLD)) {
            c->stopped = 1;
            c->go_on = 0;
            dtc_reply_state(c);
        }
        break;
    }
    return DTC_FINE;
}

/* During a dwell or a pen move, the moves that wait after it are planned, so that the motors
 * start when it ends; its answer, and then theirs, are sent in order. */
static bool may_be_owed(const DtController *c)
{
    return c->step.waiting && dtc_plan_count(c) == 0 && dtc_line_waits(c);
}

static bool end_line(DtController *c)
{
    if (c->kept)
        return false;
    if (!c->owes && c->line.sync && !dtc_still(c)) {
        if (!may_be_owed(c))
            return false;
        c->owes = 1;
    }
    dtc_line_end(c, DTC_FINE);
    return true;
}

bool dtc_line_go_on(DtController *c)
{
    DtLine *l = &c->line;
    if (c->stopped)
        return false;
    if (l->todo == 0)
        return end_line(c);
    uint8_t what = (uint8_t)(l->todo & -l->todo);
    if (!may_begin(c, what))
        return false;
    bool done;
    DtcReason reason = do_part(c, what, &done);
    if (reason != DTC_FINE)
        dtc_line_end(c, reason);
    else if (done)
        l->todo &= (uint8_t)~what;
    return true;
}

/* If answers are pending, they wait for the dwell; those after it are discarded. */
static void end_under_way(DtController *c, DtcReason reason)
{
    if (!c->line.running && !c->owes)
        return;
    if (c->owes)
        c->line.number = dtc_owed_next(c);
    c->owed_tail = c->owed_head;
    c->owes = c->refusing = 0;
    c->rx_owed = 0;
    dtc_line_end(c, reason);
}

/* Ends a current line and lifts the pen: CAN, or a switch hit. */
static void drop_everything(DtController *c, DtcReason reason)
{
    if (is_homing(c) || reason == DTC_SWITCH_HIT)
        c->homed = 0;
    dtc_wait_end(c);
    c->step.seek = c->step.found = c->step.tripped = 0;
    dtc_plan_forget(c);
    c->hold = c->go_on = c->stopped = 0;
    c->spindle = 0;
    move_pen(c, c->set->pen_up_us);
    end_under_way(c, reason);
}

static bool abandon(DtController *c)
{
    if (c->step.running)
        return false; /* decelerating */
    drop_everything(c, DTC_ABANDONED);
    DTC_CALL(c, lock); /* a CAN from here on is a new one */
    c->abandon = 0;
    dtc_line_forget(c);
    DTC_CALL(c, unlock);
    /* Lines that were on their way would draw from a wrong position, with a pen that is not up
     * yet. */
    c->last = c->last_n = 0;
    c->in_order = c->may_restart = 0;
    dtc_reply_state(c);
    return true;
}

static bool trip(DtController *c)
{
    drop_everything(c, DTC_SWITCH_HIT);
    c->locked = 1;
    dtc_reply_state(c);
    return true;
}

/* Unless a hold has come since. */
static bool go_on(DtController *c)
{
    DTC_CALL(c, lock);
    bool goes = c->go_on != 0;
    c->go_on = 0;
    if (goes)
        c->hold = 0;
    DTC_CALL(c, unlock);
    if (!goes)
        return false;
    c->stopped = 0;
    put_back_down(c);
    return true;
}

static bool do_urgent(DtController *c)
{
    if (c->step.tripped)
        return trip(c);
    if (c->abandon && abandon(c))
        return true;
    if (c->asked) {
        c->asked = 0;
        dtc_reply_state(c);
        return true;
    }
    if (c->go_on && go_on(c))
        return true;
    return c->hold && !c->step.running && lift(c);
}

static bool do_line(DtController *c)
{
    if (c->line.running)
        return dtc_line_go_on(c);
    if (c->refusing != DTC_FINE || dtc_owed_count(c) == DT_CONTROLLER_OWED)
        return false;
    if (!dtc_line_waits(c))
        return dtc_line_drop_overlong(c);
    dtc_line_take(c);
    return true;
}

enum { QUIET_S = 3 };

/* Number of blocks that are planned before the motors start, if their lines have arrived. */
enum { BLOCKS_AT_START = 4 };

static bool work(DtController *c)
{
    bool answered = dtc_reply_go_on(c);
    dtc_cut_start(c); /* when a wait ends, before the other answers that were held back */
    if (answered || dtc_pen_go_on(c))
        return true;
    dtc_step_doubt_switches(c);
    bool pressing = c->step.running || dtc_plan_count(c) >= BLOCKS_AT_START;
    if (pressing && dtc_cut_go_on(c))
        return true;
    if (dtc_settings_keep(c))
        return true;
    if (dtc_reply_may(c)) {
        if (do_urgent(c))
            return true;
        if (!c->abandon && do_line(c))
            return true;
    }
    return !pressing && dtc_cut_go_on(c);
}

uint8_t dt_controller_poll(DtController *c)
{
    bool busy = work(c);
    if (!busy)
        c->sent = 0;
    return busy;
}

void dt_controller_second(DtController *c)
{
    DTC_CALL(c, lock);
    c->second = c->seen ? (uint8_t)(c->second + 1) : 0;
    if (c->second > 1)
        c->seen = 0;
    DTC_CALL(c, unlock);
    if (c->step.running || c->step.waiting || c->step.loose) {
        c->rest_s = c->quiet_s = 0;
        return;
    }
    /* A sender of a program has fallen silent: a cable may have come loose. A person who types
     * lines may look at the pen for any time. */
    if (++c->quiet_s == QUIET_S && c->in_order)
        lift(c);
    if (c->set->rest_s == 0)
        return;
    c->rest_s++;
    if (c->rest_s >= c->set->rest_s)
        dtc_step_release(c);
}
