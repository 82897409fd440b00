/* board: see board.h. */
#include "support/board.h"

static void say(void *user, char byte)
{
    Board *b = user;
    if (b->slow)
        g_assert_cmpuint(b->room--, >, 0);
    g_string_append_c(b->said, byte);
}

static uint8_t room(void *user)
{
    const Board *b = user;
    return b->slow ? b->room : UINT8_MAX;
}

static void coils(void *user, uint8_t axis, uint8_t bits)
{
    /* One coil, two, one, two: the half steps of a four-wire motor; common practice, no source. */
    static const uint8_t order[8] = {1, 3, 2, 6, 4, 12, 8, 9};
    Board *b = user;
    int phase = 0;
    b->loose[axis] = bits == 0;
    if (bits == 0)
        return; /* let go */
    while (phase < 8 && order[phase] != bits)
        phase++;
    int change = (phase - b->phase[axis] + 8) % 8;
    if (phase == 8 || (change > 1 && change < 7))
        b->bad_patterns++;
    b->phase[axis] = phase & 7;
    if (change != 1 && change != 7)
        return;
    BoardStep s = {b->now, axis, (int8_t)(change == 1 ? 1 : -1)};
    b->at[axis] += s.turn;
    g_array_append_val(b->steps, s);
}

static void servo(void *user, uint16_t us)
{
    ((Board *)user)->pulse = us;
}

static uint8_t switches(void *user)
{
    Board *b = user;
    uint8_t bits = b->forced;
    for (int i = 0; i < 2; i++)
        if (b->at[i] <= b->closed_at[i])
            bits |= (uint8_t)(1 << i);
    return (uint8_t)((bits ^ b->inverted) & ~b->broken);
}

static void timer(void *user, uint16_t us)
{
    Board *b = user;
    g_assert_cmpuint(us, <=, DT_CONTROLLER_FARTHEST);
    b->deadline = us ? b->now + us : -1;
}

static void lock(void *user)
{
    ((Board *)user)->locked++;
}

static void unlock(void *user)
{
    Board *b = user;
    b->locked--;
    for (unsigned i = 0; i < b->eager && b->locked == 0 && b->deadline >= 0; i++) {
        b->now = b->deadline;
        const uint16_t us = dt_controller_timer(&b->core);
        b->deadline = us ? b->now + us : -1;
    }
}

static uint8_t recall(void *user, uint8_t at)
{
    return ((Board *)user)->memory[at];
}

/* Every other call finds the memory busy, and writing ends where the power does. */
static uint8_t keep(void *user, uint8_t at, uint8_t byte)
{
    Board *b = user;
    b->busy = !b->busy;
    if (b->busy)
        return 0;
    if (b->writes_left == 0)
        return 1;
    b->writes_left--;
    b->writes++;
    b->memory[at] = byte;
    return 1;
}

static uint8_t cause(void *user)
{
    return ((Board *)user)->cause;
}

static uint16_t half_us(void *user)
{
    return (uint16_t)(2 * ((Board *)user)->now);
}

static void target(void *user, const int64_t nm[2])
{
    g_array_append_vals(((Board *)user)->targets, nm, 1);
}

static const DtHardware hardware = {
    .send = say,
    .room = room,
    .coils = coils,
    .servo = servo,
    .switches = switches,
    .timer = timer,
    .lock = lock,
    .unlock = unlock,
    .recall = recall,
    .keep = keep,
    .clock = half_us,
    .cause = cause,
    .target = target,
    .most_steps = 200000,
};

void board_init(Board *b, const DtSettings *set)
{
    memset(b, 0, sizeof *b);
    b->set = set ? *set : dt_settings_default;
    if (set == NULL)
        b->set.pull_in[0] = b->set.pull_in[1] = 1.3f;
    b->said = g_string_new(NULL);
    b->steps = g_array_new(FALSE, FALSE, sizeof(BoardStep));
    b->targets = g_array_new(FALSE, FALSE, 2 * sizeof(int64_t));
    memset(b->memory, 0xff, sizeof b->memory);
    b->writes_left = G_MAXUINT;
    b->deadline = -1;
    b->closed_at[0] = -3000;
    b->closed_at[1] = -2000;
    dt_controller_reset(&b->core, &hardware, b, &b->set);
}

void board_restart(Board *b)
{
    b->deadline = -1;
    b->writes_left = G_MAXUINT;
    b->busy = FALSE;
    g_string_truncate(b->said, 0);
    dt_controller_reset(&b->core, &hardware, b, &b->set);
}

void board_go_on(Board *b)
{
    dt_controller_receive(&b->core, DT_BYTE_GO_ON);
    dt_controller_receive(&b->core, DT_BYTE_GO_ON);
}

void board_abandon(Board *b)
{
    dt_controller_receive(&b->core, DT_BYTE_ABANDON);
    dt_controller_receive(&b->core, DT_BYTE_ABANDON);
}

void board_clear(Board *b)
{
    g_string_free(b->said, TRUE);
    g_array_unref(b->steps);
    g_array_unref(b->targets);
}

static void interrupt(Board *b)
{
    b->now = b->deadline;
    b->deadline = -1;
    b->events++;
    uint16_t us = dt_controller_timer(&b->core);
    g_assert_cmpuint(us, <=, DT_CONTROLLER_FARTHEST);
    b->deadline = us ? b->now + us : -1;
}

/* The timer's interrupts come in between. */
static void settle(Board *b)
{
    while (dt_controller_poll(&b->core) || b->core.kept) {
        const gint64 until = b->now + b->poll_us;
        while (b->poll_us && b->deadline >= 0 && b->deadline <= until)
            interrupt(b);
        b->now = until;
    }
}

static gboolean event(Board *b)
{
    if (b->deadline < 0)
        return FALSE;
    interrupt(b);
    settle(b);
    return TRUE;
}

gboolean board_run(Board *b, unsigned events)
{
    settle(b);
    for (unsigned i = 0; i < events; i++)
        if (!event(b))
            return TRUE;
    return FALSE;
}

void board_pass(Board *b, gint64 us)
{
    gint64 until = b->now + us;
    settle(b);
    while (b->deadline >= 0 && b->deadline <= until)
        event(b);
    b->now = MAX(b->now, until);
}

void board_feed_bytes(Board *b, const char *bytes, gsize n)
{
    for (gsize i = 0; i < n; i++) {
        while ((uint8_t)(b->core.rx_head - b->core.rx_tail) >= 120) {
            settle(b);
            if ((uint8_t)(b->core.rx_head - b->core.rx_tail) >= 120 && !event(b))
                break;
        }
        dt_controller_receive(&b->core, (uint8_t)bytes[i]);
        settle(b);
    }
}

void board_feed(Board *b, const char *text)
{
    board_feed_bytes(b, text, strlen(text));
}

const char *board_heard(Board *b)
{
    static char *last;
    g_free(last);
    last = g_strdup(b->said->str);
    g_string_truncate(b->said, 0);
    return last;
}

void board_home(Board *b)
{
    board_feed(b, "G28\n");
    g_assert_true(board_run(b, 1000000));
    g_assert_true(b->core.homed);
    g_string_truncate(b->said, 0);
    g_array_set_size(b->steps, 0);
    g_array_set_size(b->targets, 0);
    b->at[0] = b->at[1] = 0;
    b->closed_at[0] = b->closed_at[1] = -150;
}

const char *board_line(Board *b, const char *line)
{
    g_string_truncate(b->said, 0);
    board_feed(b, line);
    board_feed(b, "\n");
    g_assert_true(board_run(b, 10000000));
    return board_heard(b);
}
