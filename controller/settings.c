/* settings: the parameters of NISTIR 6556 (3.2.1, 3.3.2.2) by which a machine's settings are
 * changed and read back, and the memory in which they survive a power failure. */
#include "core.h"

enum { FLOAT, WHOLE, BIT_X, BIT_Y };
enum { CHANGES_PLACE = 1 }; /* the position is no longer valid */

typedef struct {
    uint16_t number;
    uint8_t at, kind, effect;
    float least, most;
} Parameter;

#define AT(field) offsetof(DtSettings, field)
#define AXES(number, field, effect, least, most)                                                   \
    {number, AT(field[0]), FLOAT, effect, least, most},                                            \
    {                                                                                              \
        (number) + 10, AT(field[1]), FLOAT, effect, least, most                                    \
    }

/* Units as in DtSettings. */
static const DTC_FLASH Parameter parameters[] = {
    AXES(411, steps_per_mm, CHANGES_PLACE, 0.5f, 3800),
    AXES(412, speed, 0, 0.1f, 1000),
    AXES(413, acceleration, 0, 1, 100000),
    AXES(414, pull_in, 0, 0, 1000),
    AXES(415, travel, 0, 1, 10000),
    {431, AT(home_speed), FLOAT, 0, 0.1f, 1000},
    {432, AT(pull_off), FLOAT, CHANGES_PLACE, 0.1f, 50},
    {451, AT(chord), FLOAT, 0, 0.0001f, 1},
    {441, AT(pen_up_us), WHOLE, 0, 100, 3000},
    {442, AT(pen_us_per_s), WHOLE, 0, 0, 100},
    {443, AT(s_max), WHOLE, 0, 1, 1000},
    {444, AT(pen_wait_ms), WHOLE, 0, 0, 10000},
    {445, AT(settle_ms), WHOLE, 0, 0, 10000},
    {446, AT(drop_ms), WHOLE, 0, 0, 10000},
    {416, AT(opens), BIT_X, CHANGES_PLACE, 0, 1},
    {426, AT(opens), BIT_Y, CHANGES_PLACE, 0, 1},
    {433, AT(debounce_us), WHOLE, 0, 0, 20000},
    {417, AT(reverse), BIT_X, CHANGES_PLACE, 0, 1},
    {427, AT(reverse), BIT_Y, CHANGES_PLACE, 0, 1},
    {452, AT(rest_s), WHOLE, 0, 0, 60000},
};
enum { PARAMETERS = sizeof parameters / sizeof parameters[0] };

static const DTC_FLASH Parameter *find(uint16_t number)
{
    for (uint8_t i = 0; i < PARAMETERS; i++)
        if (parameters[i].number == number)
            return &parameters[i];
    return NULL;
}

static float get(const DtSettings *s, const DTC_FLASH Parameter *p)
{
    const uint8_t *field = (const uint8_t *)s + p->at;
    if (p->kind == FLOAT)
        return *(const float *)(const void *)field;
    if (p->kind == WHOLE)
        return (float)*(const uint16_t *)(const void *)field;
    return (float)(p->kind == BIT_Y ? *field >> 1 & 1 : *field & 1);
}

static void put(DtSettings *s, const DTC_FLASH Parameter *p, float value)
{
    uint8_t *field = (uint8_t *)s + p->at;
    uint8_t bit = p->kind == BIT_Y ? 2 : 1;
    if (p->kind == FLOAT)
        *(float *)(void *)field = value;
    else if (p->kind == WHOLE)
        *(uint16_t *)(void *)field = (uint16_t)(value + 0.5f);
    else
        *field = (uint8_t)(value > 0 ? *field | bit : *field & ~bit);
}

bool dtc_settings_value(const DtController *c, uint16_t parameter, float *value)
{
    const DTC_FLASH Parameter *p = find(parameter);
    if (p != NULL)
        *value = get(c->set, p);
    return p != NULL;
}

enum { MOST_PULSE_US = 3000 };
#define MOST_TRAVEL_STEPS 8388000.0f /* times 256 in 32 bits */

/* Conditions beyond a parameter's own range. */
static DtcReason judge(DtController *c, const DtSettings *s)
{
    float rate = 0;
    for (uint8_t axis = 0; axis < DT_CONTROLLER_AXES; axis++) {
        rate += s->speed[axis] * s->steps_per_mm[axis];
        if (s->travel[axis] * s->steps_per_mm[axis] > MOST_TRAVEL_STEPS)
            return DTC_TOO_FAR;
    }
    c->detail_number = (uint32_t)rate;
    if (DTC_MOST_STEPS(c) && rate > (float)DTC_MOST_STEPS(c))
        return DTC_TOO_FAST;
    c->detail_number = 443;
    uint32_t pulse = s->pen_up_us + (uint32_t)s->s_max * s->pen_us_per_s;
    return pulse > MOST_PULSE_US ? DTC_RANGE : DTC_FINE;
}

static bool all_in_range(DtController *c, const DtSettings *s)
{
    for (uint8_t i = 0; i < PARAMETERS; i++) {
        float value = get(s, &parameters[i]);
        if (!(value >= parameters[i].least && value <= parameters[i].most))
            return false;
    }
    return judge(c, s) == DTC_FINE;
}

static void begin_to_keep(DtController *c)
{
    c->keep_copy = c->keep_at = 0;
    c->sequence++;
    c->kept = DTC_HAS(c, keep);
}

DtcReason dtc_settings_change(DtController *c)
{
    DtLine *l = &c->line;
    float old[2];
    bool changes = false, changes_place = false;
    uint8_t n = l->parameter[1] ? 2 : 1;
    for (uint8_t i = 0; i < n; i++) {
        const DTC_FLASH Parameter *p = find(l->parameter[i]);
        c->detail_number = p->number;
        if (!(l->value[i] >= p->least && l->value[i] <= p->most))
            return DTC_RANGE;
    }
    for (uint8_t i = 0; i < n; i++) {
        const DTC_FLASH Parameter *p = find(l->parameter[i]);
        old[i] = get(&c->settings, p);
        put(&c->settings, p, l->value[i]);
        bool differs = get(&c->settings, p) != old[i];
        changes = changes || differs;
        changes_place = changes_place || (differs && p->effect == CHANGES_PLACE);
    }
    DtcReason reason = judge(c, &c->settings);
    if (reason != DTC_FINE) {
        for (uint8_t i = n; i > 0; i--)
            put(&c->settings, find(l->parameter[i - 1]), old[i - 1]);
        return reason;
    }
    for (uint8_t i = 0; i < n; i++)
        dtc_reply_parameter(c, l->parameter[i]);
    if (changes_place) {
        c->homed = 0;
        dtc_plan_reset(c);
        dtc_cut_forget(c);
        c->step.position[DTC_X] = c->step.position[DTC_Y] = 0;
    }
    if (changes)
        begin_to_keep(c);
    return DTC_FINE;
}

/* In the board's memory: two copies, each a version, a sequence number, the settings and a CRC
 * over everything except the version. A copy's version is erased before the rest is written and
 * written last, so that one copy is intact at every moment, whenever the power fails. */
enum {
    VERSION = 1,
    VIRGIN = 0xff,
    BODY = offsetof(DtSettings, longest_line),
    COPY = 2 + BODY + 2,
};
_Static_assert(2 * COPY <= 200, "what controller.h says of the memory");

static uint8_t recall(const DtController *c, uint8_t copy, uint8_t at)
{
    return DTC_CALL1(c, recall, (uint8_t)(copy * COPY + at));
}

static bool is_whole(const DtController *c, uint8_t copy)
{
    uint16_t check = 0;
    for (uint8_t at = 1; at < COPY; at++)
        check = dt_controller_crc(check, recall(c, copy, at));
    return recall(c, copy, 0) == VERSION && check == 0;
}

static void take(DtController *c, uint8_t copy)
{
    uint8_t *bytes = (uint8_t *)&c->settings;
    for (uint8_t i = 0; i < BODY; i++)
        bytes[i] = recall(c, copy, (uint8_t)(2 + i));
    c->sequence = recall(c, copy, 1);
}

void dtc_settings_recall(DtController *c, const DTC_FLASH DtSettings *instead)
{
    c->settings = *instead;
    if (!DTC_HAS(c, recall))
        return;
    bool whole[2] = {is_whole(c, 0), is_whole(c, 1)};
    bool virgin = recall(c, 0, 0) == VIRGIN || recall(c, 1, 0) == VIRGIN;
    if (!whole[0] && !whole[1]) {
        c->forgotten = !virgin;
        return;
    }
    uint8_t newer = whole[1];
    if (whole[0] && whole[1])
        newer = (int8_t)(recall(c, 1, 1) - recall(c, 0, 1)) > 0;
    take(c, newer);
    c->keep_first = !newer;
    if (!all_in_range(c, &c->settings)) {
        c->settings = *instead;
        c->forgotten = 1;
    } else if (!whole[0] || !whole[1] || recall(c, 0, 1) != recall(c, 1, 1)) {
        begin_to_keep(c); /* the power failed while they were written */
    }
}

/* The byte at this position of a copy; updates the check. */
static uint8_t content(DtController *c, uint8_t at)
{
    uint8_t byte = at == 1 ? c->sequence : ((const uint8_t *)&c->settings)[at - 2];
    if (at == 1)
        c->keep_check = 0;
    if (at < COPY - 2)
        c->keep_check = dt_controller_crc(c->keep_check, byte);
    else
        byte = (uint8_t)(at == COPY - 2 ? c->keep_check >> 8 : c->keep_check);
    return byte;
}

bool dtc_settings_keep(DtController *c)
{
    if (!c->kept)
        return false;
    uint8_t at = c->keep_at, copy = c->keep_copy ? !c->keep_first : c->keep_first;
    uint16_t check = c->keep_check;
    uint8_t byte = at == 0 ? 0 : at == COPY ? VERSION : content(c, at);
    uint8_t place = (uint8_t)(copy * COPY + (at == COPY ? 0 : at));
    if (DTC_CALL1(c, recall, place) != byte && !DTC_CALL2(c, keep, place, byte)) {
        c->keep_check = check;
        return false; /* busy */
    }
    if (c->keep_at++ < COPY)
        return true;
    c->keep_at = 0;
    c->kept = c->keep_copy == 0;
    c->keep_copy++;
    if (!c->kept)
        c->keep_first = !c->keep_first;
    return true;
}
