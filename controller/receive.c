/* receive: the receive interrupt: bytes that act at once, and the buffer of all others. */
#include "core.h"

/* No single byte of noise may make it go on or discard its lines: those bytes must come twice in
 * a row. */
static inline bool is_second(DtController *c, uint8_t byte)
{
    bool second = c->seen == byte;
    c->seen = second ? 0 : byte;
    return second;
}

static inline bool is_urgent(DtController *c, uint8_t byte)
{
    uint8_t quirks = c->set->quirks;
    if (byte == DT_BYTE_ASK && !(quirks & DT_QUIRK_NO_ASK)) {
        c->asked = 1;
        c->seen = 0;
        return true;
    }
    if (quirks & DT_QUIRK_NO_HOLD)
        return false;
    switch (byte) {
    case DT_BYTE_HOLD:
        c->hold = 1;
        c->go_on = c->seen = 0;
        return true;
    case DT_BYTE_GO_ON:
        c->go_on |= is_second(c, byte);
        return true;
    case DT_BYTE_ABANDON:
        if (!is_second(c, byte))
            return true;
        c->abandon_head = c->rx_head;
        c->abandon_lines = c->lines_in;
        if (c->overlong)
            c->overlong = 1;
        c->abandon = 1;
        return true;
    default:
        return false;
    }
}

static inline void store(DtController *c, uint8_t byte)
{
    DtRxCount head = c->rx_head;
    c->rx[head & (DT_CONTROLLER_RX - 1)] = byte;
    c->rx_head = (DtRxCount)(head + 1);
}

/* Inlined, because a call in an interrupt costs more than everything done here. */
static inline __attribute__((always_inline)) uint8_t receive(DtController *c, uint8_t byte)
{
    c = DTC_ONLY(c);
    c->quiet_s = 0;
    if (byte < ' ' && is_urgent(c, byte))
        return 1;
    c->seen = 0;
    /* A sender counts what is not answered, and so does the free space. */
    bool full = (DtRxCount)(dtc_rx_used(c) + c->rx_owed) >= (DtRxCount)(c->rx_size - c->gap);
    if (full && c->rx_owed == 0 && byte == '\n' && c->lines_in == c->lines_out) {
        /* The end of an overlong line, before the main loop could drop it: it must not be lost,
         * or the end of the next line would be taken for it. */
        dtc_line_drop_received(c);
        c->gap = 0;
        full = false;
    }
    if (full) {
        c->lost++;
        c->gap = 1;
        return 0;
    }
    if (c->gap) {
        store(c, DTC_LOST);
        c->gap = 0;
    }
    store(c, byte);
    if (byte == '\n')
        c->lines_in++;
    return 1;
}

static inline void receive_fault(DtController *c, uint8_t fault)
{
    c = DTC_ONLY(c);
    c->gap = 1;
    if (fault == DT_FAULT_FRAMING)
        c->framing++;
    else
        c->overrun++;
}

uint8_t dt_controller_receive(DtController *c, uint8_t byte)
{
    return receive(c, byte);
}

void dt_controller_receive_fault(DtController *c, uint8_t fault)
{
    receive_fault(c, fault);
}
