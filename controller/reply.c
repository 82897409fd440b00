/* reply: the controller's lines to the sender. */
#include "core.h"

static const DTC_FLASH char reasons[] = "\0"
                                        "check\0"
                                        "order \2\0"
                                        "line too long\0"
                                        "character \1\0"
                                        "comment not closed\0"
                                        "no comments here\0"
                                        "number missing after \1\0"
                                        "number too large at \1\0"
                                        "wrong number at \1\0"
                                        "space missing before \1\0"
                                        "word \1\2 not known\0"
                                        "second \1\0"
                                        "two words of one group at \1\2\0"
                                        "N not first\0"
                                        "\1 without its G word\0"
                                        "\1 missing\0"
                                        "no motion word in force\0"
                                        "axis word missing\0"
                                        "feed missing\0"
                                        "S out of range\0"
                                        "arc needs I J or R\0"
                                        "arc ends do not meet its radius\0"
                                        "arc radius\0"
                                        "axis words claimed twice\0"
                                        "\1 beyond travel\0"
                                        "unhomed\0"
                                        "locked by a switch, home first\0"
                                        "abandoned\0"
                                        "switch \1 does not open\0"
                                        "switch \1 not found\0"
                                        "switch hit\0"
                                        "parameter \2 not known\0"
                                        "parameter needs = and a number\0"
                                        "two parameters at most, and no words\0"
                                        "parameter \2 out of range\0"
                                        "needs \2 steps a second, most is \3\0"
                                        "travel has too many steps\0";

static void put(DtController *c, char ch)
{
    DTC_CALL1(c, send, ch);
}

/* By subtraction: a small chip has no division. */
static void put_number(DtController *c, uint32_t n)
{
    bool begun = false;
    for (uint8_t i = 0; i < 10; i++) {
        char digit = '0';
        for (; n >= dtc_tens[i]; n -= dtc_tens[i])
            digit++;
        begun = begun || digit > '0' || i == 9;
        if (begun)
            put(c, digit);
    }
}

static void put_detail(DtController *c)
{
    if (c->detail > 32 && c->detail < 127)
        put(c, c->detail);
    else
        put(c, '?');
}

/* Text, in which \1 stands for c->detail, \2 for c->detail_number and \3 for what the chip can do. */
static void put_text(DtController *c, const DTC_FLASH char *text)
{
    for (; *text; text++) {
        if (*text == 1)
            put_detail(c);
        else if (*text == 2 && c->detail_number != UINT32_MAX)
            put_number(c, c->detail_number);
        else if (*text == 3)
            put_number(c, DTC_MOST_STEPS(c));
        else if (*text != 2)
            put(c, *text);
    }
}

static const DTC_FLASH char greeting[] = "drawtrue controller 1 ready";
static const DTC_FLASH char after_watchdog[] = " after watchdog";
static const DTC_FLASH char after_brown_out[] = " after brown-out";
static const DTC_FLASH char after_power[] = " after power-on";
static const DTC_FLASH char after_pin[] = " after reset";
static const DTC_FLASH char settings_lost[] = ", settings lost";
static const DTC_FLASH char taken[] = "taken ";
static const DTC_FLASH char refused[] = "refused ";

/* A chip that starts by power-on also records the other causes. */
static const DTC_FLASH char *cause_text(uint8_t cause)
{
    return cause & DT_CAUSE_POWER       ? after_power
           : cause & DT_CAUSE_WATCHDOG  ? after_watchdog
           : cause & DT_CAUSE_BROWN_OUT ? after_brown_out
                                        : after_pin;
}

void dtc_reply_greeting(DtController *c)
{
    put_text(c, greeting);
    if (c->cause)
        put_text(c, cause_text(c->cause));
    if (c->forgotten)
        put_text(c, settings_lost);
    put(c, '\n');
}

static void tell_taken(DtController *c, uint32_t number)
{
    c->last = number;
    put_text(c, taken);
    put_number(c, number);
    put(c, '\n');
}

void dtc_reply_taken(DtController *c, uint32_t number)
{
    if (c->owes)
        c->owed[c->owed_head++ & (DT_CONTROLLER_OWED - 1)] = number;
    else
        tell_taken(c, number);
}

/* The next answer that waited for a dwell to end. */
static void pay(DtController *c)
{
    tell_taken(c, dtc_owed_next(c));
    c->owed_tail++;
    c->rx_owed = 0;
    c->owes = dtc_owed_count(c) > 0;
}

/* No acceptance, no part of a state, and no other reply to a line is longer than this. */
enum { LONGEST_TAKEN = 16, LONGEST_PART = 32, LONGEST_REPLY = 60 };

static bool has_room(const DtController *c, uint8_t bytes)
{
    return !DTC_HAS(c, room) || DTC_CALL(c, room) >= bytes;
}

bool dtc_reply_may(const DtController *c)
{
    return c->telling == 0 && (c->refusing == DTC_FINE || c->owes) && has_room(c, LONGEST_TAKEN);
}

bool dtc_reply_may_at_length(const DtController *c)
{
    return dtc_reply_may(c) && has_room(c, LONGEST_REPLY);
}

static void refuse(DtController *c)
{
    const DTC_FLASH char *text = reasons;
    for (uint8_t skip = c->refusing; skip; text++)
        if (*text == '\0')
            skip--;
    put_text(c, refused);
    put_number(c, c->refused);
    put(c, ' ');
    put_text(c, text);
    put(c, '\n');
    c->refusing = DTC_FINE;
}

/* At once, or as soon as its turn comes and there is room; no other line is accepted until then. */
void dtc_reply_refused(DtController *c, uint32_t number, DtcReason reason)
{
    c->refusing = (uint8_t)reason;
    c->refused = number;
    if (!c->owes && has_room(c, LONGEST_REPLY))
        refuse(c);
}

static const DTC_FLASH char states[] = "still\0moving\0held\0homing\0unhomed\0stopped";
static const DTC_FLASH char state_x[] = " x ";
static const DTC_FLASH char state_y[] = " y ";
static const DTC_FLASH char pen_up[] = " pen up";
static const DTC_FLASH char pen_down[] = " pen down";
static const DTC_FLASH char state_line[] = " line ";
static const DTC_FLASH char state_switch[] = " switch ";
static const DTC_FLASH char state[] = "state ";

static const DTC_FLASH char state_lost[] = " lost ";
static const DTC_FLASH char state_framing[] = " framing ";
static const DTC_FLASH char state_overrun[] = " overrun ";
static const DTC_FLASH char state_late[] = " late ";
static const DTC_FLASH char parameter_text[] = "parameter ";

/* With `digits` digits after the point. */
static void put_decimal(DtController *c, float value, uint8_t digits)
{
    uint32_t one = 1;
    for (uint8_t i = 0; i < digits; i++)
        one *= 10;
    uint32_t size = (uint32_t)((value < 0 ? -value : value) * (float)one + 0.5f);
    if (value < 0 && size)
        put(c, '-');
    put_number(c, size / one);
    put(c, '.');
    while ((one /= 10) > 0)
        put(c, (char)('0' + size / one % 10));
}

static void put_place(DtController *c, uint8_t axis)
{
    put_text(c, axis == DTC_X ? state_x : state_y);
    put_decimal(c, (float)c->told[axis] / c->set->steps_per_mm[axis], 3);
}

static void put_count(DtController *c, const DTC_FLASH char *what, const volatile uint16_t *count)
{
    DTC_CALL(c, lock);
    uint16_t n = *count;
    DTC_CALL(c, unlock);
    if (n == 0)
        return;
    put_text(c, what);
    put_number(c, n);
}

static void put_state_word(DtController *c)
{
    const DTC_FLASH char *word = states;
    for (uint8_t skip = (uint8_t)dt_controller_state(c); skip; word++)
        if (*word == '\0')
            skip--;
    put_text(c, state);
    put_text(c, word);
    put_place(c, DTC_X);
}

static void put_state_end(DtController *c)
{
    uint8_t switches = dtc_switches(c);
    put_text(c, state_line);
    put_number(c, c->last);
    put_text(c, state_switch);
    put(c, switches & 1 ? 'x' : '-');
    put(c, switches & 2 ? 'y' : '-');
}

static void put_part(DtController *c, uint8_t part)
{
    switch (part) {
    case 1:
        put_state_word(c);
        break;
    case 2:
        put_place(c, DTC_Y);
        put_text(c, c->lifted || c->pulse_us == c->set->pen_up_us ? pen_up : pen_down);
        break;
    case 3:
        put_state_end(c);
        break;
    case 4:
        put_count(c, state_lost, &c->lost);
        put_count(c, state_framing, &c->framing);
        break;
    default:
        put_count(c, state_overrun, &c->overrun);
        put_count(c, state_late, &c->step.late);
        put(c, '\n');
        break;
    }
}

bool dtc_reply_go_on(DtController *c)
{
    if (c->owes && !c->step.waiting && c->telling == 0 && has_room(c, LONGEST_TAKEN)) {
        pay(c);
        return true;
    }
    if (c->refusing != DTC_FINE && !c->owes) {
        if (!has_room(c, LONGEST_REPLY))
            return false;
        refuse(c);
        return true;
    }
    if (c->telling == 0 || !has_room(c, LONGEST_PART))
        return false;
    put_part(c, c->telling);
    c->telling = c->telling == 5 ? 0 : (uint8_t)(c->telling + 1);
    return true;
}

void dtc_reply_state(DtController *c)
{
    if (c->telling) {
        c->asked = 1; /* again, when this one is told */
        return;
    }
    DTC_CALL(c, lock);
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++)
        c->told[axis] = c->step.position[axis];
    DTC_CALL(c, unlock);
    c->telling = 1;
    while (dtc_reply_go_on(c)) {
    }
}

void dtc_reply_parameter(DtController *c, uint16_t parameter)
{
    float value;
    dtc_settings_value(c, parameter, &value);
    put_text(c, parameter_text);
    put_number(c, parameter);
    put(c, ' ');
    put_decimal(c, value, 4);
    put(c, '\n');
}
