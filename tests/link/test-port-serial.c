/* port: a serial line, played by functions in place of those of libserialport: how it is set, what is said where
 * that fails, and how a USB device that comes back is found. */
#include "link/port.h"

#include "drawtrue/session.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <pty.h>
#include <string.h>
#include <unistd.h>

/* A character device that no other test opens meanwhile; nothing is sent to it. */
#define PATH "/dev/random"

typedef enum { SET_RATE, SET_BITS, SET_PARITY, SET_STOP, SET_FLOW, GET_HANDLE, NO_STEP } Step;

struct sp_port {
    const char *name;
    int vendor, product;
    const char *number, *description;
};

static struct {
    int rate, bits, stop;
    enum sp_parity parity;
    enum sp_flowcontrol flow;
    Step fails;     /* which step the line refuses */
    int open_errno; /* of opening it; 0: it opens */
    int opened, fd; /* how many times it is open, and as what */
    struct sp_port own, *present[4];
    gboolean unlisted; /* the system cannot tell what is present */
    int lists;         /* handed out and not freed */
} line;

static enum sp_return step(Step s)
{
    return line.fails == s ? SP_ERR_FAIL : SP_OK;
}

enum sp_return sp_get_port_by_name(const char *name, struct sp_port **port)
{
    g_assert_cmpstr(name, ==, PATH);
    *port = &line.own;
    return SP_OK;
}

void sp_free_port(struct sp_port *port)
{
    g_assert_true(port == &line.own);
}

enum sp_return sp_open(struct sp_port *port, enum sp_mode mode)
{
    g_assert_true(port == &line.own);
    g_assert_cmpint(mode, ==, SP_MODE_READ_WRITE);
    errno = line.open_errno;
    line.opened += line.open_errno == 0;
    return line.open_errno == 0 ? SP_OK : SP_ERR_FAIL;
}

enum sp_return sp_close(struct sp_port *port)
{
    g_assert_true(port == &line.own);
    line.opened--;
    return SP_OK;
}

enum sp_return sp_get_port_handle(const struct sp_port *port, void *handle)
{
    (void)port;
    if (line.fails != GET_HANDLE)
        *(int *)handle = line.fd;
    return step(GET_HANDLE);
}

enum sp_return sp_set_baudrate(struct sp_port *port, int rate)
{
    (void)port;
    line.rate = rate;
    return step(SET_RATE);
}

enum sp_return sp_set_bits(struct sp_port *port, int bits)
{
    (void)port;
    line.bits = bits;
    return step(SET_BITS);
}

enum sp_return sp_set_parity(struct sp_port *port, enum sp_parity parity)
{
    (void)port;
    line.parity = parity;
    return step(SET_PARITY);
}

enum sp_return sp_set_stopbits(struct sp_port *port, int bits)
{
    (void)port;
    line.stop = bits;
    return step(SET_STOP);
}

enum sp_return sp_set_flowcontrol(struct sp_port *port, enum sp_flowcontrol flow)
{
    (void)port;
    line.flow = flow;
    return step(SET_FLOW);
}

enum sp_return sp_list_ports(struct sp_port ***ports)
{
    *ports = line.unlisted ? NULL : line.present;
    line.lists += !line.unlisted;
    return line.unlisted ? SP_ERR_FAIL : SP_OK;
}

void sp_free_port_list(struct sp_port **ports)
{
    g_assert_true(ports == line.present);
    line.lists--;
}

char *sp_get_port_description(const struct sp_port *port)
{
    return (char *)port->description;
}

char *sp_get_port_name(const struct sp_port *port)
{
    return (char *)port->name;
}

char *sp_get_port_usb_serial(const struct sp_port *port)
{
    return (char *)port->number;
}

enum sp_return sp_get_port_usb_vid_pid(const struct sp_port *port, int *vendor, int *product)
{
    if (port->vendor < 0)
        return SP_ERR_SUPP;
    *vendor = port->vendor;
    *product = port->product;
    return SP_OK;
}

/* ------------------------------------------------------------------------------------------------ */

static void line_init(void)
{
    int peer;
    memset(&line, 0, sizeof line);
    line.fails = NO_STEP;
    line.own = (struct sp_port){.name = PATH, .vendor = -1, .product = -1};
    g_assert_cmpint(openpty(&line.fd, &peer, NULL, NULL, NULL), ==, 0);
    close(peer);
}

static void line_clear(void)
{
    g_assert_cmpint(line.opened, ==, 0); /* whatever became of it, it is not kept open */
    close(line.fd);
}

static DtPort *open_port(int baud)
{
    g_autoptr(GError) error = NULL;
    DtPort *p = dt_port_open(PATH, baud, &error);
    g_assert_no_error(error);
    return p;
}

static void check_refused(DtErrorCode code, const char *says)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_port_open(PATH, 57600, &error));
    g_assert_true(g_error_matches(error, DT_ERROR, (int)code));
    g_assert_cmpstr(error->message, ==, says);
}

static void test_the_line_is_set_as_boards_expect_it(void)
{
    static const int rates[] = {9600, 57600, 115200, 250000};
    for (gsize i = 0; i < G_N_ELEMENTS(rates); i++) {
        line_init();
        line.parity = SP_PARITY_EVEN;
        line.flow = SP_FLOWCONTROL_RTSCTS;
        DtPort *p = open_port(rates[i]);
        g_assert_cmpint(line.rate, ==, rates[i]);
        g_assert_cmpint(line.bits, ==, 8);
        g_assert_cmpint(line.parity, ==, SP_PARITY_NONE);
        g_assert_cmpint(line.stop, ==, 1);
        g_assert_cmpint(line.flow, ==, SP_FLOWCONTROL_NONE);
        g_assert_cmpint(dt_port_fd(p), ==, line.fd);
        g_assert_cmpint(line.opened, ==, 1);
        dt_port_release(p);
        g_assert_cmpint(dt_port_fd(p), ==, -1);
        g_assert_cmpint(line.opened, ==, 0);
        dt_port_close(p);
        line_clear();
    }
}

/* A line that cannot be set so would garble what is sent. */
static void test_a_line_that_cannot_be_set_is_refused(void)
{
    for (Step s = SET_RATE; s < NO_STEP; s++) {
        line_init();
        line.fails = s;
        check_refused(DT_ERROR_INPUT,
                      PATH ": the port cannot be set to 57600 baud, 8 data bits, no "
                           "parity, 1 stop bit");
        line_clear();
    }
}

static void test_what_does_not_open_says_what_can_be_done(void)
{
    static const struct {
        int code;
        DtErrorCode kind;
        const char *says;
    } cases[] = {
        {EACCES, DT_ERROR_INPUT,
         PATH ": no permission to open the port; ask its owner or the administrator for it"},
        {EPERM, DT_ERROR_INPUT,
         PATH ": no permission to open the port; ask its owner or the administrator for it"},
        {EBUSY, DT_ERROR_INPUT, PATH ": another program is using the port; end that first"},
        {EWOULDBLOCK, DT_ERROR_INPUT, PATH ": another program is using the port; end that first"},
        {ENOENT, DT_ERROR_INPUT, PATH ": there is no such port; is the board plugged in?"},
        {ENODEV, DT_ERROR_INPUT, PATH ": there is no such port; is the board plugged in?"},
        {ENXIO, DT_ERROR_INPUT, PATH ": there is no such port; is the board plugged in?"},
        {EIO, DT_ERROR_INPUT, PATH ": there is no such port; is the board plugged in?"},
        {ENOTTY, DT_ERROR_INPUT, PATH ": not a serial port"},
        {EINVAL, DT_ERROR_INPUT, PATH ": not a serial port"},
        {EMFILE, DT_ERROR_IO, PATH ": Too many open files"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        line_init();
        line.open_errno = cases[i].code;
        check_refused(cases[i].kind, cases[i].says);
        line_clear();
    }
}

/* The board is plugged in again while the system still keeps its old name: only the same device is it. */
static void test_a_device_that_comes_back_is_found(void)
{
    struct sp_port built_in = {.name = "ttyS0", .vendor = -1, .product = -1},
                   neighbour = {.name = "ttyUSB1", .vendor = 0x1A86, .product = 0x7523},
                   back = {.name = "ttyUSB2", .vendor = 0x1A86, .product = 0x7523},
                   other = {.name = "ttyUSB3", .vendor = 0x0403, .product = 0x6001};
    line_init();
    line.own.vendor = 0x1A86;
    line.own.product = 0x7523;
    line.present[0] = &built_in;
    line.present[1] = &neighbour;
    line.present[2] = &line.own;
    DtPort *p = open_port(115200);
    dt_port_release(p);
    line.present[2] = &other;
    g_assert_null(dt_port_find_again(p));
    line.present[2] = &back;
    g_autofree char *found = dt_port_find_again(p);
    g_assert_cmpstr(found, ==, "ttyUSB2");
    dt_port_close(p);
    line_clear();
}

static void test_the_ports_of_the_computer_are_listed(void)
{
    static struct sp_port one = {.name = "/dev/ttyUSB0", .description = "a plotter"},
                          two = {.name = "/dev/ttyS0"};
    size_t n = 9;
    line_init();
    DtLinkPort *ports = dt_link_ports(&n);
    g_assert_nonnull(ports); /* there are none */
    g_assert_cmpuint(n, ==, 0);
    dt_link_ports_free(ports, n);
    line.present[0] = &one;
    line.present[1] = &two;
    ports = dt_link_ports(&n);
    g_assert_cmpuint(n, ==, 2);
    g_assert_cmpstr(ports[0].path, ==, "/dev/ttyUSB0");
    g_assert_cmpstr(ports[0].text, ==, "a plotter");
    g_assert_cmpstr(ports[1].path, ==, "/dev/ttyS0");
    g_assert_cmpstr(ports[1].text, ==, "");
    g_assert_cmpint(line.lists, ==, 0);
    dt_link_ports_free(ports, n);
    line.unlisted = TRUE;
    g_assert_null(dt_link_ports(&n));
    g_assert_cmpuint(n, ==, 0);
    line_clear();
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/port-serial/set", test_the_line_is_set_as_boards_expect_it);
    g_test_add_func("/port-serial/not-set", test_a_line_that_cannot_be_set_is_refused);
    g_test_add_func("/port-serial/not-opened", test_what_does_not_open_says_what_can_be_done);
    g_test_add_func("/port-serial/listed", test_the_ports_of_the_computer_are_listed);
    g_test_add_func("/port-serial/back", test_a_device_that_comes_back_is_found);
    return g_test_run();
}
