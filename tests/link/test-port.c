/* port: which of the ports is the board that was unplugged. */
#include "link/port.h"

/* A common adapter, with and without a serial number, and another maker's. */
#define NUMBERED(name_, number_, socket_)                                                          \
    {                                                                                              \
        .name = name_, .vendor = 0x1A86, .product = 0x7523, .number = number_, .socket = socket_   \
    }
#define PLAIN(name_, socket_) NUMBERED(name_, NULL, socket_)
#define FOREIGN(name_, socket_)                                                                    \
    {                                                                                              \
        .name = name_, .vendor = 0x0403, .product = 0x6001, .socket = socket_                      \
    }
#define BUILT_IN(name_)                                                                            \
    {                                                                                              \
        .name = name_, .vendor = -1, .product = -1                                                 \
    }

typedef struct {
    const char *what;
    DtPortDevice was;
    const char *others[4];
    DtPortDevice now[4];
    gsize n;
    gssize chosen;
} Case;

static Case cases[] = {
    {"nothing is there", PLAIN("ttyUSB0", "1-1:1.0"), {NULL}, {BUILT_IN("")}, 0, -1},
    {"under its own name", PLAIN("ttyUSB0", NULL), {NULL}, {PLAIN("ttyUSB0", NULL)}, 1, 0},
    {"under another name",
     PLAIN("ttyUSB0", NULL),
     {NULL},
     {BUILT_IN("ttyS0"), FOREIGN("ttyUSB0", NULL), PLAIN("ttyUSB1", NULL)},
     3,
     2},
    {"its name was given to another make",
     PLAIN("ttyUSB0", "1-1:1.0"),
     {NULL},
     {FOREIGN("ttyUSB0", "1-1:1.0")},
     1,
     -1},
    {"by its serial number, wherever it is plugged in",
     NUMBERED("ttyUSB0", "A7", "1-1:1.0"),
     {NULL},
     {NUMBERED("ttyUSB0", "B2", "1-1:1.0"), NUMBERED("ttyUSB3", "A7", "1-4:1.0")},
     2,
     1},
    {"another serial number is another board",
     NUMBERED("ttyUSB0", "A7", "1-1:1.0"),
     {NULL},
     {NUMBERED("ttyUSB0", "B2", "1-1:1.0"), PLAIN("ttyUSB1", "1-1:1.0")},
     2,
     -1},
    {"two alike have changed names: by the socket",
     PLAIN("ttyUSB0", "1-1:1.0"),
     {"ttyUSB1", NULL},
     {PLAIN("ttyUSB0", "1-2:1.0"), PLAIN("ttyUSB1", "1-1:1.0")},
     2,
     1},
    {"a neighbour that was there before is not it",
     PLAIN("ttyUSB0", "1-1:1.0"),
     {"ttyUSB1", NULL},
     {PLAIN("ttyUSB1", "1-2:1.0")},
     1,
     -1},
    {"in another socket, beside such a neighbour",
     PLAIN("ttyUSB0", "1-1:1.0"),
     {"ttyUSB1", NULL},
     {PLAIN("ttyUSB1", "1-2:1.0"), PLAIN("ttyUSB2", "1-4:1.0")},
     2,
     1},
    {"two new ones that nobody can tell apart",
     PLAIN("ttyUSB0", "1-1:1.0"),
     {NULL},
     {PLAIN("ttyUSB2", "1-3:1.0"), PLAIN("ttyUSB3", "1-4:1.0")},
     2,
     -1},
    {"no USB device has no mark", BUILT_IN("ttyS0"), {NULL}, {BUILT_IN("ttyS1")}, 1, -1},
};

static void test_the_board_that_was_unplugged_is_told_from_others(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const Case *c = &cases[i];
        g_test_message("%s", c->what);
        g_assert_cmpint(dt_port_choose(&c->was, c->others, c->now, c->n), ==, c->chosen);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/port/told-from-others",
                    test_the_board_that_was_unplugged_is_told_from_others);
    return g_test_run();
}
