/* bench-chip-bytes: random bytes at the wire's rate: nothing moves before homing, nothing hangs, and each line
 * is answered. Half of them come in lines made of the words that the controller knows. */
#include "bench-chip.h"

#include <stdio.h>
#include <string.h>

enum { LOOK_EVERY = 20000, WINDOW = 100, ENQ = 5, DC1 = 0x11, DC3 = 0x13, CAN = 0x18 };

typedef struct {
    unsigned answers, states, greetings;
    gboolean stopped; /* at an M0 that the random bytes have made */
    GString *talk;    /* of this round: what was sent, and what it said */
} Heard;

static void hear(const char *text, void *user)
{
    Heard *h = user;
    if (g_str_has_prefix(text, "taken ") || g_str_has_prefix(text, "refused "))
        h->answers++;
    else if (g_str_has_prefix(text, "state "))
        h->states++, h->stopped |= g_str_has_prefix(text, "state stopped");
    else
        h->greetings++;
    g_string_append_printf(h->talk, "\n> %s\n", text);
}

static void send_byte(DtRig *r, Heard *h, guint8 b)
{
    g_string_append_printf(h->talk, b < ' ' || b > '~' ? "\\%02x" : "%c", b);
    dt_rig_chip_send(r, b);
}

/* A byte that does not home: without the letter that G28 begins with nothing can. */
static guint8 any_byte(GRand *rand, gboolean urgent)
{
    static const char likely[] = "0123456789 XYZIJRFSPNM.-+()*;/%#=\n";
    for (;;) {
        const guint8 b = g_rand_boolean(rand)
                             ? (guint8)g_rand_int(rand)
                             : (guint8)likely[g_rand_int_range(rand, 0, sizeof likely - 1)];
        const gboolean acts = b == ENQ || b == DC1 || b == DC3 || b == CAN;
        if (b != 'G' && b != 'g' && (urgent || !acts))
            return b;
    }
}

/* A stop ends by DC1; by two of them where one alone could be noise. */
static void go_on(DtRig *r, Heard *h)
{
    h->stopped = FALSE;
    dt_rig_chip_send(r, DC1);
    dt_rig_chip_send(r, DC1);
    dt_rig_chip_run(r, 0.05);
}

/* A round of bytes under way. */
typedef struct {
    unsigned n, lines, in_line,
        unanswered;    /* bytes, lines, and bytes of lines that are not answered */
    unsigned before;   /* answers before it */
    unsigned patience; /* milliseconds waited */
} Round;

static void count_answers(Round *o, const Heard *h)
{
    if (h->answers - o->before == o->lines)
        o->unanswered = o->in_line;
}

/* As a sender does who has at most WINDOW bytes of lines unanswered, so that none may be lost. */
static void wait_for_room(DtRig *r, Round *o, Heard *h)
{
    while (o->unanswered >= WINDOW && h->answers - o->before < o->lines && o->patience < o->n) {
        if (h->stopped)
            go_on(r, h);
        dt_rig_chip_run(r, 0.001);
        o->patience++;
        count_answers(o, h);
    }
}

/* With urgent bytes as fast as the wire goes; without, as a sender does. */
static void send(DtRig *r, GRand *rand, Heard *h, unsigned n, gboolean urgent, unsigned *lines)
{
    Round o = {.n = n, .before = h->answers};
    for (unsigned i = 0; i < n; i++) {
        const guint8 b = any_byte(rand, urgent);
        if (!urgent)
            wait_for_room(r, &o, h);
        if (b == CAN && g_rand_boolean(rand)) { /* alone it does nothing */
            send_byte(r, h, b);
            dt_rig_chip_run(r, 10 / 115200.0);
        }
        send_byte(r, h, b);
        o.unanswered++;
        o.in_line++;
        if (b == '\n') {
            o.lines++;
            o.in_line = 0;
        }
        dt_rig_chip_run(r, 10 / 115200.0);
        count_answers(&o, h);
        if (!urgent && h->stopped)
            go_on(r, h);
    }
    for (unsigned i = 0; i < 5; i++) {
        if (!urgent && h->stopped)
            go_on(r, h);
        dt_rig_chip_run(r, 0.2);
    }
    *lines = o.lines;
}

static const char *tail(const GString *talk)
{
    enum { MOST = 600 };
    return talk->str + (talk->len > MOST ? talk->len - MOST : 0);
}

/* It still answers a line and a question. */
static gboolean lives(DtRig *r, Heard *h)
{
    static const char end[] = {CAN, CAN, '\n', DC1, DC1, '\n', 0};
    for (const char *p = end; *p; p++)
        dt_rig_chip_send(r, (guint8)*p);
    dt_rig_chip_run(r, 0.5);
    const Heard before = *h;
    for (const char *p = "M5\n"; *p; p++)
        dt_rig_chip_send(r, (guint8)*p);
    dt_rig_chip_run(r, 1);
    dt_rig_chip_send(r, ENQ);
    dt_rig_chip_run(r, 0.1);
    return h->answers == before.answers + 1 && h->states > before.states;
}

int bench_bytes(unsigned n, guint32 seed)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GRand) rand = g_rand_new_with_seed(seed);
    g_autoptr(DtRig) r = dt_rig_new(NULL, &error);
    const DtChipOptions o = {.image = bench_image, .seed = seed};
    g_autoptr(GString) talk = g_string_new(NULL);
    Heard heard = {.talk = talk};
    unsigned dead = 0, unanswered = 0, resets = 0;
    if (r == NULL || !dt_rig_use_chip(r, &o, &error)) {
        fprintf(stderr, "bench: %s\n", error->message);
        return 1;
    }
    dt_rig_chip_on_answer(r, hear, &heard);
    dt_rig_chip_run(r, 0.1);
    for (unsigned done = 0, round = 0; done < n; done += LOOK_EVERY, round++) {
        const gboolean urgent = round % 2;
        unsigned lines = 0;
        const unsigned before = heard.answers;
        g_string_truncate(heard.talk, 0);
        send(r, rand, &heard, LOOK_EVERY, urgent, &lines);
        if (!urgent && heard.answers - before != lines) {
            send_byte(r, &heard, ENQ);
            dt_rig_chip_run(r, 0.1);
            unanswered += lines - (heard.answers - before);
            printf("bytes %u on: %u lines, %u answers; it has ended with:\n%s\n", done, lines,
                   heard.answers - before, tail(heard.talk));
        }
        DtChipFigures f;
        dt_rig_chip_figures(r, &f);
        if (f.resets > resets)
            printf("bytes %u on: reset by its watchdog\n", done);
        dead += f.resets - resets;
        resets = f.resets;
        if (!lives(r, &heard)) {
            dead++;
            printf("bytes %u on: it does not answer any more\n", done);
        }
    }
    DtChipFigures f;
    dt_rig_chip_figures(r, &f);
    dt_rig_chip_on_answer(r, NULL, NULL);
    const guint64 moved = f.half_steps[0] + f.half_steps[1];
    printf("%u lines answered, %u overruns, %u resets\n", heard.answers, f.overruns, f.resets);
    const gboolean good = dead == 0 && unanswered == 0 && moved == 0 && !f.crashed;
    bench_row("random bytes: moves, hangs, lines not answered", "0 in 10000000", good,
              "%" G_GUINT64_FORMAT ", %u, %u in %u", moved, dead + (f.crashed ? 1 : 0), unanswered,
              n);
    return !good;
}
