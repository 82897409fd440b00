/* line: a received line: its check, and the order of lines. */
#include "core.h"

/* Eight steps of the shift register at once: the polynomial has so few terms that only the byte
 * that leaves it and its upper half, shifted, are fed back. Byte by byte, for a small chip. */
uint16_t dt_controller_crc(uint16_t crc, uint8_t byte)
{
    uint8_t out = (uint8_t)(crc >> 8) ^ byte;
    out ^= (uint8_t)(out >> 4);
    uint8_t high = (uint8_t)crc ^ (uint8_t)(out << 4) ^ (uint8_t)(out >> 3);
    uint8_t low = out ^ (uint8_t)(out << 5);
    return (uint16_t)((uint16_t)high << 8 | low);
}

static int hex_digit(uint8_t ch)
{
    if (ch >= '0' && ch <= '9')
        return ch - '0';
    if (ch >= 'A' && ch <= 'F')
        return ch - 'A' + 10;
    if (ch >= 'a' && ch <= 'f')
        return ch - 'a' + 10;
    return -1;
}

enum { CHECK_BYTES = 7 }; /* (*1A2B) */

/* Where the line's check begins; `length` if it has none. */
static DtRxCount find_check(const DtController *c, DtRxCount length, uint16_t *crc)
{
    if (length < CHECK_BYTES || (c->set->quirks & (DT_QUIRK_NO_CHECK | DT_QUIRK_NO_COMMENTS)))
        return length;
    DtRxCount at = (DtRxCount)(length - CHECK_BYTES);
    if (dtc_rx(c, at) != '(' || dtc_rx(c, (DtRxCount)(at + 1)) != '*' ||
        dtc_rx(c, (DtRxCount)(length - 1)) != ')')
        return length;
    *crc = 0;
    for (DtRxCount i = (DtRxCount)(at + 2); i < (DtRxCount)(length - 1); i++) {
        int digit = hex_digit(dtc_rx(c, i));
        if (digit < 0)
            return length;
        *crc = (uint16_t)(*crc << 4 | (uint16_t)digit);
    }
    return at;
}

static bool check_holds(const DtController *c, DtRxCount length, uint16_t crc)
{
    uint16_t own = 0;
    for (DtRxCount i = 0; i < length; i++)
        own = dt_controller_crc(own, dtc_rx(c, i));
    return own == crc;
}

static uint32_t expected(const DtController *c)
{
    return c->last_n >= 99999 ? 1 : c->last_n + 1;
}

static void drop_line(DtController *c, DtRxCount bytes)
{
    c->rx_tail = (DtRxCount)(c->rx_tail + bytes);
    c->lines_out++;
}

void dtc_line_end(DtController *c, DtcReason reason)
{
    DtLine *l = &c->line;
    if (l->bytes)
        drop_line(c, l->bytes);
    /* Only now: a byte that came while the line counted twice would not fit, and be lost. */
    if (c->owes)
        c->rx_owed = (DtRxCount)(c->rx_owed + l->bytes);
    if (reason == DTC_FINE && l->sequence) {
        c->last_n = l->number;
        c->in_order = !l->program_end;
        c->may_restart = l->program_end;
    }
    l->bytes = 0;
    l->running = l->todo = l->sequence = l->homing = 0;
    if (reason == DTC_FINE)
        dtc_reply_taken(c, l->number);
    else
        dtc_reply_refused(c, l->number, reason);
}

/* Whether a numbered, checked line is in order; answers it if it is not. */
static bool in_order(DtController *c, uint32_t n)
{
    if (n == expected(c) || (n == 1 && c->may_restart))
        return true;
    bool again = n == c->last_n;
    c->detail_number = expected(c);
    dtc_line_end(c, again ? DTC_FINE : DTC_ORDER);
    return false;
}

static DtcReason interpret(DtController *c, const DtcWords *w)
{
    DtcModes m;
    DtcReason reason = dtc_interpret(c, w, &m);
    if (reason == DTC_FINE)
        reason = dtc_interpret_arc(c, w, &m);
    if (reason == DTC_FINE)
        dtc_interpret_end(c, w, &m);
    return reason;
}

static void begin_line(DtController *c, DtRxCount length)
{
    DtLine *l = &c->line;
    uint16_t crc = 0;
    while (length && dtc_rx(c, (DtRxCount)(length - 1)) <= ' ')
        length--;
    DtRxCount body = find_check(c, length, &crc);
    bool checked = body < length;
    if (checked && !check_holds(c, body, crc)) {
        l->number = expected(c);
        dtc_line_end(c, DTC_CHECK);
        return;
    }
    DtcWords w;
    DtcReason reason = dtc_words_read(c, body, &w);
    bool numbered = (w.given & 1u << DTC_N) != 0;
    if (numbered)
        l->number = w.value[DTC_N].whole;
    if (numbered && !checked && c->in_order) {
        l->number = expected(c);
        dtc_line_end(c, DTC_CHECK);
        return;
    }
    if (numbered && checked && !in_order(c, l->number))
        return;
    if (c->set->longest_line && length > c->set->longest_line)
        reason = DTC_LONG;
    if (w.deleted)
        reason = DTC_FINE;
    else if (reason == DTC_FINE)
        reason = interpret(c, &w);
    if (reason != DTC_FINE) {
        dtc_line_end(c, reason);
        return;
    }
    l->sequence = numbered && checked;
    l->running = 1;
}

void dtc_line_take(DtController *c)
{
    DtRxCount length = 0;
    while (dtc_rx(c, length) != '\n')
        length++;
    c->count++;
    c->line.program_end = 0;
    c->line.number = c->count;
    c->line.bytes = (DtRxCount)(length + 1);
    if (c->overlong) {
        c->overlong = 0;
        dtc_line_end(c, DTC_LONG);
    } else {
        begin_line(c, length);
    }
}

bool dtc_line_drop_overlong(DtController *c)
{
    if (c->lines_in != c->lines_out || dtc_rx_used(c) < c->rx_size)
        return false;
    DTC_CALL(c, lock);
    bool still_overlong = c->lines_in == c->lines_out;
    if (still_overlong)
        dtc_line_drop_received(c);
    DTC_CALL(c, unlock);
    return still_overlong;
}

void dtc_line_forget(DtController *c)
{
    c->rx_tail = c->abandon_head;
    c->lines_out = c->abandon_lines;
    c->overlong &= 2;
}
