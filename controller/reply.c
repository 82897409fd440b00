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
                                        "switch hit\0";

static void put(DtController *c, char ch)
{
    c->hw->send(c->board, ch);
}

static void put_number(DtController *c, uint32_t n)
{
    char digits[10];
    uint8_t count = 0;
    do {
        digits[count++] = (char)('0' + n % 10);
        n /= 10;
    } while (n);
    while (count)
        put(c, digits[--count]);
}

static void put_detail(DtController *c)
{
    if (c->detail > 32 && c->detail < 127)
        put(c, c->detail);
    else
        put(c, '?');
}

/* Text, in which \1 stands for c->detail and \2 for c->detail_number. */
static void put_text(DtController *c, const DTC_FLASH char *text)
{
    for (; *text; text++) {
        if (*text == 1)
            put_detail(c);
        else if (*text == 2 && c->detail_number != UINT32_MAX)
            put_number(c, c->detail_number);
        else if (*text != 2)
            put(c, *text);
    }
}

static const DTC_FLASH char greeting[] = "drawtrue controller 1 ready\n";
static const DTC_FLASH char taken[] = "taken ";
static const DTC_FLASH char refused[] = "refused ";

void dtc_reply_greeting(DtController *c)
{
    put_text(c, greeting);
}

void dtc_reply_taken(DtController *c, uint32_t number)
{
    c->last = number;
    put_text(c, taken);
    put_number(c, number);
    put(c, '\n');
}

void dtc_reply_refused(DtController *c, uint32_t number, DtcReason reason)
{
    const DTC_FLASH char *text = reasons;
    for (uint8_t skip = (uint8_t)reason; skip; text++)
        if (*text == '\0')
            skip--;
    put_text(c, refused);
    put_number(c, number);
    put(c, ' ');
    put_text(c, text);
    put(c, '\n');
}

static const DTC_FLASH char states[] = "still\0moving\0held\0homing\0unhomed\0stopped";
static const DTC_FLASH char state_x[] = " x ";
static const DTC_FLASH char state_y[] = " y ";
static const DTC_FLASH char pen_up[] = " pen up";
static const DTC_FLASH char pen_down[] = " pen down";
static const DTC_FLASH char state_line[] = " line ";
static const DTC_FLASH char state_switch[] = " switch ";
static const DTC_FLASH char state[] = "state ";

/* Millimetres with three digits after the point. */
static void put_mm(DtController *c, uint8_t axis)
{
    c->hw->lock(c->board);
    int32_t steps = c->step.position[axis];
    c->hw->unlock(c->board);
    float um = (float)steps * 1000 / c->set->steps_per_mm[axis];
    uint32_t size = (uint32_t)((um < 0 ? -um : um) + 0.5f);
    if (um < 0 && size)
        put(c, '-');
    put_number(c, size / 1000);
    put(c, '.');
    put(c, (char)('0' + size / 100 % 10));
    put(c, (char)('0' + size / 10 % 10));
    put(c, (char)('0' + size % 10));
}

void dtc_reply_state(DtController *c)
{
    uint8_t switches = c->hw->switches(c->board);
    const DTC_FLASH char *word = states;
    for (uint8_t skip = (uint8_t)dt_controller_state(c); skip; word++)
        if (*word == '\0')
            skip--;
    put_text(c, state);
    put_text(c, word);
    put_text(c, state_x);
    put_mm(c, DTC_X);
    put_text(c, state_y);
    put_mm(c, DTC_Y);
    put_text(c, c->lifted || c->pulse_us == c->set->pen_up_us ? pen_up : pen_down);
    put_text(c, state_line);
    put_number(c, c->last);
    put_text(c, state_switch);
    put(c, switches & 1 ? 'x' : '-');
    put(c, switches & 2 ? 'y' : '-');
    put(c, '\n');
}
