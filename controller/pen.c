/* pen: the servo. It rises at once; lowering may take time, in small steps during a wait. */
#include "core.h"

enum { PIECE_MS = 20 };

static void send(DtController *c, uint16_t pulse_us)
{
    c->servo_us = pulse_us;
    DTC_CALL1(c, servo, pulse_us);
}

void dtc_pen_move(DtController *c, uint16_t pulse_us)
{
    c->drop_ms = 0;
    if (pulse_us != c->set->pen_up_us && pulse_us != c->servo_us)
        c->drop_ms = c->set->drop_ms;
    if (c->drop_ms == 0)
        send(c, pulse_us);
    dtc_wait_ms(c, c->drop_ms);
}

bool dtc_pen_go_on(DtController *c)
{
    if (!c->step.ticked)
        return false;
    c->step.ticked = 0;
    if (c->drop_ms == 0)
        return false;
    int32_t way = (int32_t)c->pulse_us - (int32_t)c->servo_us;
    if (c->drop_ms > PIECE_MS) {
        send(c, (uint16_t)((int32_t)c->servo_us + way * PIECE_MS / (int32_t)c->drop_ms));
        c->drop_ms = (uint16_t)(c->drop_ms - PIECE_MS);
    } else {
        send(c, c->pulse_us);
        c->drop_ms = 0;
    }
    return true;
}
