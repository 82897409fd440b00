/* invented: see invented.h. */
#include "invented.h"

#include "drawtrue/code.h"

#include <glib/gstdio.h>
#include <math.h>
#include <poll.h>
#include <pty.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

struct Board {
    Invented kind;
    int master, slave;
    char *port;
    GThread *thread;
    int stop, reset_asked;
    GPtrArray *ink;
    GString *rx, *line;
    gint64 busy_until, busy_said, chat_at, boots_until, again_at;
    gboolean line_is_long, greeted, homed, relative, inches, down, held, hung, locked, working,
        dwelling;
    unsigned replies, lines, resets, taken;
    double x, y;
    char *pending;   /* the line whose answer waits for the end of its work */
    char *again;     /* what is said once more */
    GString *said;   /* on the desk: what nobody has heard yet; NULL: it has a port */
    gint64 clock_us; /* its own, then */
    gboolean has_moved;
};

/* Time of the board's clock, ms. */
static gint64 now_ms(const Board *b)
{
    return invented_now_us(b) / 1000;
}

static void say_raw(Board *b, const char *text)
{
    if (b->said != NULL)
        g_string_append(b->said, text);
    else if (write(b->master, text, strlen(text)) < 0)
        g_atomic_int_set(&b->stop, TRUE);
}

static void say(Board *b, const char *text)
{
    g_autofree char *line = g_strconcat(text, b->kind.line_end ? b->kind.line_end : "\n", NULL);
    if (!b->kind.is_mute && !b->hung)
        say_raw(b, line);
}

/* An answer to `line`, spoilt where it is the turn of that. */
static void answer(Board *b, const char *line, const char *text)
{
    const Invented *k = &b->kind;
    b->replies++;
    g_autofree char *whole =
        k->echo == ECHO_BEFORE_REPLY ? g_strconcat(line, " ", text, NULL) : g_strdup(text);
    if (k->drops && b->replies % k->drops == 0)
        return;
    if (k->garbles && b->replies % k->garbles == 0)
        whole[0] ^= 0x15;
    say(b, whole);
    if (k->answers_twice)
        say(b, whole);
    if (k->again_ms > 0) {
        g_free(b->again);
        b->again = g_steal_pointer(&whole);
        b->again_at = now_ms(b) + k->again_ms;
    }
}

static void accept(Board *b, const char *line)
{
    const Invented *k = &b->kind;
    const char *word = k->accept ? k->accept : "done";
    if (k->report)
        say(b, k->report);
    g_autofree char *text = k->counts ? g_strdup_printf("%s %u", word, ++b->taken) : g_strdup(word);
    answer(b, line, text);
}

static void refuse(Board *b, const char *line, const char *why)
{
    static const char *const own[] = {"what is that?", "no, thank you", "cannot do it",
                                      "that is nothing"};
    const Invented *k = &b->kind;
    const char *word = k->refuse ? k->refuse : "wrong";
    if (k->refuses_silently)
        return;
    g_autofree char *text = k->own_refusals ? g_strdup(own[b->replies % G_N_ELEMENTS(own)])
                            : k->says_why   ? g_strdup_printf("%s %u: %s", word, b->lines, why)
                                            : g_strdup(word);
    answer(b, line, text);
    if (k->help)
        say(b, k->help);
}

static void restart(Board *b)
{
    b->resets++;
    b->homed = b->relative = b->inches = b->held = b->hung = b->locked = FALSE;
    b->working = b->dwelling = b->greeted = b->down = FALSE;
    g_clear_pointer(&b->pending, g_free);
    g_string_truncate(b->rx, 0);
    g_string_truncate(b->line, 0);
    b->line_is_long = FALSE;
    b->x = b->y = 0;
    b->lines = 0;
    b->boots_until = now_ms(b) + b->kind.boot_ms;
}

static void greet(Board *b)
{
    b->greeted = TRUE;
    if (b->kind.greeting == NULL)
        return;
    g_auto(GStrv) lines = g_strsplit(b->kind.greeting, "\n", -1);
    for (char **l = lines; *l != NULL; l++)
        say(b, *l);
}

/* Words ------------------------------------------------------------------------------------- */

static gboolean has_word(const Board *b, const char *word)
{
    g_autofree char *all = g_strdup_printf(" %s ", b->kind.words);
    g_autofree char *spaced = g_strdup_printf(" %s ", word);
    return strstr(all, spaced) != NULL;
}

/* The words of a line, apart by single blanks; NULL with what is wrong. */
static char *read_words(const Board *b, const char *line, const char **why)
{
    const Invented *k = &b->kind;
    GString *out = g_string_new(NULL);
    *why = NULL;
    for (const char *c = line; *c != '\0' && *why == NULL;) {
        if (*c == ' ') {
            c++;
            continue;
        }
        const gboolean round =
            k->comments && (strcmp(k->comments, "round") == 0 || strcmp(k->comments, "both") == 0);
        const gboolean semicolon = k->comments && strcmp(k->comments, "round") != 0;
        if (*c == '(' && round && strchr(c, ')') != NULL) {
            c = strchr(c, ')') + 1;
            continue;
        }
        if (*c == ';' && semicolon)
            break;
        if (*c == '/' && c == line && !k->no_slash) {
            c++;
            continue;
        }
        if (!g_ascii_isupper(*c)) {
            *why = "no word";
            break;
        }
        if (k->gaps && c > line && c[-1] != ' ' && c[-1] != '/')
            *why = "no gap";
        const char *number = c + 1;
        const char *end = number;
        if (k->expressions && *end == '[' && strchr(end, ']'))
            end = strchr(end, ']') + 1;
        else {
            end += *end == '-' || *end == '+';
            end += strspn(end, "0123456789.");
        }
        if (end == number || g_ascii_isdigit(end[-1]) + (end[-1] == ']') + (end[-1] == '.') == 0)
            *why = "no number";
        const char *point = memchr(number, '.', (gsize)(end - number));
        if (point && k->decimals && end - point - 1 > k->decimals)
            *why = "too many digits";
        g_autofree char *word = *c == 'G' || *c == 'M'
                                    ? g_strdup_printf("%c%.*s", *c, (int)(end - number), number)
                                    : g_strdup_printf("%c", *c);
        if (*c == 'N' ? k->no_numbers || c != line : !has_word(b, word))
            *why = "no such word";
        if (*c == 'S' && k->most_s && g_ascii_strtod(number, NULL) > k->most_s)
            *why = "too much";
        if (*c != 'N')
            g_string_append_printf(out, "%s%.*s", out->len ? " " : "", (int)(end - c), c);
        c = end;
    }
    return g_string_free(out, *why != NULL);
}

static double number_of(const char *words, char letter, double otherwise)
{
    for (const char *c = words; *c != '\0'; c++)
        if (*c == letter)
            return g_ascii_strtod(c + 1, NULL);
    return otherwise;
}

static gboolean says(const char *words, const char *word)
{
    g_autofree char *all = g_strdup_printf(" %s ", words), *spaced = g_strdup_printf(" %s ", word);
    return strstr(all, spaced) != NULL;
}

/* Does it, and returns how long it takes, ms. */
static double execute(Board *b, const char *words)
{
    const double unit = b->inches ? 25.4 : 1;
    const double x = b->x, y = b->y;
    if (says(words, "G4"))
        return number_of(words, 'P', 0) * (b->kind.ms ? 1 : 1000);
    b->has_moved |= says(words, "G28") || says(words, "M3");
    if (says(words, "G28")) {
        b->x = b->y = 0;
        b->homed = TRUE;
        return 700 * INVENTED_FASTER / 4.0 +
               1800; /* ms; long enough for a runner to see that it worked */
    }
    b->inches = says(words, "G20") || (b->inches && !says(words, "G21"));
    b->relative = says(words, "G91") || (b->relative && !says(words, "G90"));
    b->down = says(words, "M3") || (b->down && !says(words, "M5"));
    if (strchr(words, 'X') || strchr(words, 'Y')) {
        b->x =
            number_of(words, 'X', b->relative ? 0 : b->x / unit) * unit + (b->relative ? b->x : 0);
        b->y =
            number_of(words, 'Y', b->relative ? 0 : b->y / unit) * unit + (b->relative ? b->y : 0);
        b->has_moved |= hypot(b->x - x, b->y - y) > 1e-9;
        if (b->down)
            g_ptr_array_add(b->ink, g_strdup_printf("%.2f,%.2f-%.2f,%.2f", x, y, b->x, b->y));
        return 20;
    }
    return 0;
}

/* Lines ------------------------------------------------------------------------------------- */

static End end_of(const Board *b, const char *words, gboolean *is_end)
{
    *is_end = says(words, "M2") || says(words, "M30");
    return says(words, "M2") ? b->kind.m2 : b->kind.m30;
}

/* TRUE where the line is dealt with. */
static gboolean take_end(Board *b, const char *line, const char *words)
{
    gboolean is_end;
    switch (end_of(b, words, &is_end)) {
    case END_REFUSED:
        if (is_end)
            refuse(b, line, "no end");
        return is_end;
    case END_RESTARTS:
        if (is_end) {
            accept(b, line);
            restart(b);
        }
        return is_end;
    case END_LOCKS:
        if (is_end) {
            accept(b, line);
            b->locked = TRUE;
        }
        return is_end;
    case END_UNANSWERED:
        return is_end;
    case END_TAKEN:
        break;
    }
    return FALSE;
}

/* Whether a check at its end holds; cuts it off. A board that checks none takes it for a comment. */
static gboolean check_holds(const Board *b, char *line)
{
    char *check = b->kind.checks ? strstr(line, "(*") : NULL;
    if (check == NULL)
        return TRUE;
    const unsigned crc = (unsigned)g_ascii_strtoull(check + 2, NULL, 16);
    const gboolean good = crc == dt_code_crc16(line, (gsize)(check - line));
    *check = '\0';
    return good;
}

static void finish_work(Board *b)
{
    g_autofree char *line = g_steal_pointer(&b->pending);
    b->working = b->dwelling = FALSE;
    if (line != NULL)
        accept(b, line);
}

static void take_line(Board *b, char *line)
{
    const Invented *k = &b->kind;
    b->lines++;
    if (k->echo == ECHO_LINE)
        say(b, line);
    if (k->echo == ECHO_WITH_PROMPT) {
        g_autofree char *text = g_strconcat("> ", line, NULL);
        say(b, text);
    }
    if (b->hung)
        return;
    if ((k->restarts_at && g_str_has_prefix(line, k->restarts_at)) ||
        (k->restart_once && b->resets == 1 && b->lines == k->restart_once) ||
        (k->restart_every && b->lines == k->restart_every)) {
        restart(b);
        return;
    }
    if (k->hangs_at && g_str_has_prefix(line, k->hangs_at)) {
        b->hung = TRUE;
        return;
    }
    g_autofree char *whole = g_strdup(line);
    if (b->locked || !check_holds(b, line)) {
        refuse(b, whole, b->locked ? "ended" : "check");
        return;
    }
    if (*line == '\0')
        return;
    const char *why;
    g_autofree char *words = read_words(b, line, &why);
    if (words == NULL && !k->takes_all) {
        refuse(b, whole, why);
        return;
    }
    if (take_end(b, whole, words ? words : ""))
        return;
    const double work_ms = k->delay_ms + (words ? execute(b, words) : 0);
    if (work_ms <= 0 || (k->plans && k->delay_ms == 0)) {
        accept(b, whole);
        return;
    }
    b->pending = g_steal_pointer(&whole);
    b->working = TRUE;
    b->dwelling = words && says(words, "G4");
    b->busy_until = now_ms(b) + (gint64)work_ms;
    b->busy_said = now_ms(b);
}

static void end_line(Board *b)
{
    const Invented *k = &b->kind;
    g_autofree char *line = g_strdup(b->line->str);
    const gboolean is_long = b->line_is_long;
    g_string_truncate(b->line, 0);
    b->line_is_long = FALSE;
    if (is_long && k->overlong == LONG_REFUSED)
        refuse(b, line, "too long");
    else if (!is_long || k->overlong != LONG_UNANSWERED)
        take_line(b, line);
}

static void take_byte(Board *b, char byte)
{
    const int longest = b->kind.longest ? b->kind.longest : 80;
    if (byte == '\n') {
        end_line(b);
    } else if ((int)b->line->len < longest) {
        g_string_append_c(b->line, byte);
    } else if (b->kind.overlong == LONG_SPLIT) {
        end_line(b);
        g_string_append_c(b->line, byte);
    } else {
        b->line_is_long = b->kind.overlong != LONG_CUT;
    }
}

/* Bytes that act at once -------------------------------------------------------------------- */

static void tell_state(Board *b)
{
    g_autofree char *text = b->kind.ask == BYTE_ACTS
                                ? g_strdup_printf("state %s x %.3f y %.3f pen %s line 0 switch --",
                                                  b->held      ? "held"
                                                  : b->working ? "moving"
                                                  : b->homed   ? "still"
                                                               : "unhomed",
                                                  b->x, b->y, b->down ? "down" : "up")
                                : g_strdup_printf("at X:%.3f Y:%.3f", b->x, b->y);
    say(b, text);
    if (b->kind.ask == BYTE_AND_REPLY)
        say(b, b->kind.accept ? b->kind.accept : "done");
}

/* TRUE where the byte is no part of a line. */
static gboolean acts_at_once(Board *b, char byte)
{
    const AtOnce way = byte == 0x05                   ? b->kind.ask
                       : byte == 0x13 || byte == 0x11 ? b->kind.hold
                       : byte == 0x18                 ? b->kind.abandon
                                                      : BYTE_IN_LINE;
    if (way == BYTE_IN_LINE || way == BYTE_IGNORED)
        return way == BYTE_IGNORED;
    if (byte == 0x05 && way == BYTE_STICKS)
        b->hung = TRUE;
    else if (byte == 0x05)
        tell_state(b);
    else if (byte == 0x13)
        b->held = TRUE;
    else if (byte == 0x11)
        b->held = b->held && way == BYTE_STICKS;
    else if (b->working) {
        g_clear_pointer(&b->pending, g_free);
        b->working = b->dwelling = FALSE;
        g_string_truncate(b->rx, 0);
    }
    return TRUE;
}

/* Time -------------------------------------------------------------------------------------- */

static void receive(Board *b, const char *bytes, gssize n)
{
    const int room = b->kind.rx < 0 ? 64 : b->kind.rx;
    for (gssize i = 0; i < n; i++) {
        if (now_ms(b) < b->boots_until || acts_at_once(b, bytes[i]))
            continue;
        if (!b->working && !b->held && b->rx->len == 0)
            take_byte(b, bytes[i]);
        else if ((int)b->rx->len < room)
            g_string_append_c(b->rx, bytes[i]);
    }
}

static void chatter(Board *b, gint64 now)
{
    const Invented *k = &b->kind;
    if (k->chat != NULL && now >= b->chat_at && b->greeted) {
        g_autofree char *text = g_strconcat(k->chat, k->chat_end ? k->chat_end : "\n", NULL);
        say_raw(b, text);
        b->chat_at = now + k->chat_ms;
    }
    if (b->again != NULL && now >= b->again_at) {
        say(b, b->again);
        g_clear_pointer(&b->again, g_free);
    }
    if (k->busy != NULL && b->working && now >= b->busy_said + 100) {
        say(b, k->busy);
        b->busy_said = now;
    }
}

static void go_on(Board *b)
{
    const gint64 now = now_ms(b);
    if (g_atomic_int_compare_and_exchange(&b->reset_asked, TRUE, FALSE))
        restart(b);
    if (!b->greeted && now >= b->boots_until)
        greet(b);
    if (b->working && now >= b->busy_until && !(b->held && b->dwelling))
        finish_work(b);
    while (!b->working && !b->held && b->rx->len > 0) {
        const char byte = b->rx->str[0];
        g_string_erase(b->rx, 0, 1);
        take_byte(b, byte);
    }
    chatter(b, now_ms(b));
}

static gpointer play(gpointer data)
{
    Board *b = data;
    restart(b);
    while (!g_atomic_int_get(&b->stop)) {
        struct pollfd p = {b->master, POLLIN, 0};
        const gboolean waits = b->working || b->kind.chat || !b->greeted;
        if (poll(&p, 1, waits ? 1 : 5) > 0) {
            char bytes[512];
            const ssize_t n = read(b->master, bytes, sizeof bytes);
            go_on(b);
            receive(b, bytes, n);
        }
        go_on(b);
    }
    return NULL;
}

static Board *new_board(const Invented *kind)
{
    Board *b = g_new0(Board, 1);
    b->kind = *kind;
    b->master = b->slave = -1;
    b->ink = g_ptr_array_new_with_free_func(g_free);
    b->rx = g_string_new(NULL);
    b->line = g_string_new(NULL);
    return b;
}

Board *invented_new(const Invented *kind)
{
    Board *b = new_board(kind);
    char name[64];
    struct termios raw;
    cfmakeraw(&raw);
    g_assert_cmpint(openpty(&b->master, &b->slave, name, &raw, NULL), ==, 0);
    b->port = g_strdup(name);
    b->thread = g_thread_new("board", play, b);
    return b;
}

Board *invented_new_on_desk(const Invented *kind)
{
    Board *b = new_board(kind);
    b->said = g_string_new(NULL);
    restart(b);
    return b;
}

gint64 invented_now_us(const Board *b)
{
    return b->said != NULL ? b->clock_us : g_get_monotonic_time() * INVENTED_FASTER;
}

void invented_send(Board *b, const char *bytes, gsize n)
{
    for (gsize i = 0; i < n; i++) {
        b->clock_us += 87; /* ten bits at 115200 bits/s */
        go_on(b);
        receive(b, bytes + i, 1);
    }
}

gsize invented_hear(Board *b, char *to, gsize room, double wait_s)
{
    const gint64 until = b->clock_us + (gint64)ceil(wait_s * 1e6); /* so that it goes on */
    for (go_on(b); b->said->len == 0 && b->clock_us < until; go_on(b))
        b->clock_us += 1000;
    const gsize n = MIN(room, b->said->len);
    memcpy(to, b->said->str, n);
    g_string_erase(b->said, 0, (gssize)n);
    return n;
}

const char *invented_port(const Board *b)
{
    return b->port;
}

void invented_reset(Board *b)
{
    g_atomic_int_set(&b->reset_asked, TRUE);
}

void invented_stop(Board *b)
{
    if (b->thread == NULL)
        return;
    g_atomic_int_set(&b->stop, TRUE);
    g_thread_join(b->thread);
    b->thread = NULL;
}

void invented_free(Board *b)
{
    invented_stop(b);
    if (b->said != NULL)
        g_string_free(b->said, TRUE);
    close(b->master); /* -1 on the desk */
    close(b->slave);
    g_ptr_array_unref(b->ink);
    g_string_free(b->rx, TRUE);
    g_string_free(b->line, TRUE);
    g_free(b->pending);
    g_free(b->again);
    g_free(b->port);
    g_free(b);
}

GPtrArray *invented_ink(Board *b)
{
    return b->ink;
}

GPtrArray *invented_ink_of(const Invented *kind, const char *program)
{
    Board b = {.kind = *kind, .ink = g_ptr_array_new_with_free_func(g_free)};
    b.kind.comments = "both";
    g_auto(GStrv) lines = g_strsplit(program, "\n", -1);
    for (char **line = lines; *line != NULL; line++) {
        const char *why;
        g_autofree char *words = read_words(&b, *line, &why);
        if (words != NULL)
            execute(&b, words);
    }
    return b.ink;
}

gboolean invented_pen_is_down(const Board *b)
{
    return b->down;
}

unsigned invented_resets(const Board *b)
{
    return b->resets;
}

gboolean invented_has_moved(const Board *b)
{
    return b->has_moved;
}
