/* fuzz: any bytes at all towards the controller. It answers each line once, never steps beyond its
 * travel once homed, keeps its counts right and always comes to rest. The first byte chooses the
 * quirks of the controller, and a byte 0xff lets the clock run a while. */
#ifndef DT_CONTROLLER_RX
#define DT_CONTROLLER_RX 4096
#endif
#include "controller/controller.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define CHECK(what)                                                                                \
    do {                                                                                           \
        if (!(what))                                                                               \
            abort();                                                                               \
    } while (0)

typedef struct {
    DtController core;
    DtSettings set;
    int64_t now, deadline;
    uint16_t half_us;
    int at[2], phase[2];
    unsigned answers, lines, locked;
    char said[128];
    size_t n;
} Rig;

static void say(void *user, char byte)
{
    Rig *r = user;
    CHECK(r->n < sizeof r->said);
    if (byte != '\n') {
        CHECK(byte >= ' ' && byte < 127);
        r->said[r->n++] = byte;
        return;
    }
    r->answers += memcmp(r->said, "taken ", 6) == 0 || memcmp(r->said, "refused ", 8) == 0;
    r->n = 0;
}

static void coils(void *user, uint8_t axis, uint8_t bits)
{
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    Rig *r = user;
    int phase = 0;
    if (bits == 0) { /* the motors are let go, which they may be at rest alone */
        CHECK(r->core.step.running == 0);
        return;
    }
    while (phase < 8 && order[phase] != bits)
        phase++;
    CHECK(phase < 8);
    int change = (phase - r->phase[axis] + 8) % 8;
    CHECK(change <= 1 || change == 7);
    r->at[axis] += change == 7 ? -1 : change;
    r->phase[axis] = phase;
}

static void servo(void *user, uint16_t us)
{
    Rig *r = user;
    CHECK(us >= r->set.pen_up_us && us <= r->set.pen_up_us + r->set.s_max * r->set.pen_us_per_s);
}

static uint8_t switches(void *user)
{
    Rig *r = user;
    return (uint8_t)((r->at[0] <= -400) | (r->at[1] <= -700) << 1);
}

static void timer(void *user, uint16_t us)
{
    Rig *r = user;
    CHECK(us <= DT_CONTROLLER_FARTHEST);
    r->deadline = us ? r->now + us : -1;
}

static void lock(void *user)
{
    CHECK(((Rig *)user)->locked++ == 0);
}

static void unlock(void *user)
{
    CHECK(--((Rig *)user)->locked == 0);
}

/* Each look finds it further on, as if the main loop had taken up to its whole range. */
static uint16_t half_us(void *user)
{
    Rig *r = user;
    r->half_us = (uint16_t)(r->half_us * 5 + 7919);
    return r->half_us;
}

static const DtHardware hardware = {
    .send = say,
    .coils = coils,
    .servo = servo,
    .switches = switches,
    .timer = timer,
    .lock = lock,
    .unlock = unlock,
    .clock = half_us,
};

static void settle(Rig *r)
{
    unsigned rounds = 0;
    while (dt_controller_poll(&r->core))
        CHECK(++rounds < 2000);
    if (r->core.homed && r->core.step.running == 0)
        for (int i = 0; i < 2; i++)
            CHECK(r->core.step.position[i] >= 0 &&
                  (float)r->core.step.position[i] <= r->set.travel[i] * r->set.steps_per_mm[i] + 1);
}

static int event(Rig *r)
{
    if (r->deadline < 0)
        return 0;
    r->now = r->deadline;
    r->deadline = -1;
    uint16_t us = dt_controller_timer(&r->core);
    CHECK(us <= DT_CONTROLLER_FARTHEST);
    r->deadline = us ? r->now + us : -1;
    settle(r);
    return 1;
}

/* Lets time pass until all is still, but not through dwells of hours. */
static void rest(Rig *r, unsigned events)
{
    settle(r);
    while (events-- && event(r)) {
    }
}

static void set_up(Rig *r, uint8_t quirks)
{
    memset(r, 0, sizeof *r);
    r->set = dt_settings_default;
    r->set.travel[0] = 30; /* small, so that runs are short */
    r->set.travel[1] = 20;
    r->set.steps_per_mm[0] = r->set.steps_per_mm[1] = 20;
    r->set.quirks = quirks & 31;
    r->set.rx_bytes = quirks & 32 ? 64 : 128;
    r->set.longest_line = quirks & 64 ? 40 : 0;
    r->deadline = -1;
    dt_controller_reset(&r->core, &hardware, r, &r->set);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static Rig r;
    if (size == 0 || size > 2000)
        return 0;
    set_up(&r, data[0]);
    for (size_t i = 1; i < size; i++) {
        if (data[i] == 0xff) {
            rest(&r, 300);
            continue;
        }
        if ((uint8_t)(r.core.rx_head - r.core.rx_tail) > 50)
            rest(&r, 2000);
        int kept = dt_controller_receive(&r.core, data[i]);
        int abandons = r.core.abandon;
        r.lines += kept && data[i] == '\n';
        settle(&r);
        if (abandons) {
            rest(&r, 2000);
            r.lines = r.answers; /* forgotten lines are not answered */
        }
    }
    if (!(r.set.quirks & DT_QUIRK_NO_HOLD))
        for (int i = 0; i < 2; i++)
            dt_controller_receive(&r.core, DT_BYTE_GO_ON);
    rest(&r, 40000);
    CHECK(r.answers <= r.lines);
    CHECK(r.locked == 0);
    if (r.deadline < 0 && !r.core.stopped) {
        CHECK(r.answers == r.lines);
        for (int i = 0; i < 2; i++)
            CHECK(r.core.plan.head != r.core.plan.tail || r.core.abandon ||
                  (r.core.step.position[i] == (r.core.plan.q8[i] + 128) >> 8));
    }
    return 0;
}
