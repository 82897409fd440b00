/* frame: what goes over the wire. A start-stop character of 8 data bits without parity and with one
 * stop bit has 10 bits (the start bit counted; National Semiconductor PC16550D data sheet, table II
 * and section 8.1), so B baud carry B/10 bytes a second; and the line passes every byte value as it
 * is (POSIX.1-2017, chapter 11: no canonical input, no CR/NL mapping, no XON/XOFF, no 8th-bit
 * stripping). */
#define _GNU_SOURCE /* posix_openpt */
#include "link/port.h"

#include <fcntl.h>
#include <poll.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

static unsigned bits_of_frame(const struct termios *t)
{
    static const unsigned sizes[] = {5, 6, 7, 8};
    static const tcflag_t flags[] = {CS5, CS6, CS7, CS8};
    unsigned bits = 1; /* the start bit */
    for (int i = 0; i < 4; i++)
        if ((t->c_cflag & CSIZE) == flags[i])
            bits += sizes[i];
    return bits + ((t->c_cflag & PARENB) ? 1 : 0) + ((t->c_cflag & CSTOPB) ? 2 : 1);
}

static int open_master(void)
{
    int master = posix_openpt(O_RDWR | O_NOCTTY);
    g_assert_cmpint(master, >=, 0);
    g_assert_cmpint(grantpt(master), ==, 0);
    g_assert_cmpint(unlockpt(master), ==, 0);
    return master;
}

static void test_a_character_has_ten_bits(void)
{
    static const struct {
        int baud;
        speed_t speed;
    } rates[] = {{9600, B9600}, {57600, B57600}, {115200, B115200}};
    for (gsize i = 0; i < G_N_ELEMENTS(rates); i++) {
        int master = open_master();
        g_autoptr(GError) error = NULL;
        DtPort *p = dt_port_open(ptsname(master), rates[i].baud, &error);
        g_assert_no_error(error);
        struct termios t;
        g_assert_cmpint(tcgetattr(dt_port_fd(p), &t), ==, 0);
        g_assert_cmpuint(bits_of_frame(&t), ==, 10);
        g_assert_cmpuint(cfgetospeed(&t), ==, rates[i].speed);
        g_assert_cmpuint(cfgetispeed(&t), ==, rates[i].speed);
        dt_port_close(p);
        close(master);
    }
}

static void test_every_byte_value_passes_both_ways(void)
{
    int master = open_master();
    g_autoptr(GError) error = NULL;
    DtPort *p = dt_port_open(ptsname(master), 115200, &error);
    g_assert_no_error(error);
    char all[256], back[256];
    for (int i = 0; i < 256; i++)
        all[i] = (char)i;
    g_assert_cmpint(dt_port_write(p, all, sizeof all, &error), ==, sizeof all);
    for (gsize got = 0; got < sizeof back;) {
        ssize_t n = read(master, back + got, sizeof back - got);
        g_assert_cmpint(n, >, 0);
        got += (gsize)n;
    }
    g_assert_cmpmem(back, sizeof back, all, sizeof all);
    g_assert_cmpint(write(master, all, sizeof all), ==, sizeof all);
    for (gsize got = 0; got < sizeof back;) {
        struct pollfd in = {dt_port_fd(p), POLLIN, 0};
        g_assert_cmpint(poll(&in, 1, 5000), ==, 1);
        gssize n = dt_port_read(p, back + got, sizeof back - got, &error);
        g_assert_no_error(error);
        got += (gsize)n;
    }
    g_assert_cmpmem(back, sizeof back, all, sizeof all);
    dt_port_close(p);
    close(master);
}

static void test_one_run_per_port(void)
{
    int master = open_master();
    g_autoptr(GError) error = NULL;
    DtPort *p = dt_port_open(ptsname(master), 115200, &error);
    g_assert_no_error(error);
    g_assert_null(dt_port_open(ptsname(master), 115200, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    dt_port_close(p);
    g_clear_error(&error);
    p = dt_port_open(ptsname(master), 115200, &error);
    g_assert_no_error(error);
    dt_port_close(p);
    close(master);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/link/frame", test_a_character_has_ten_bits);
    g_test_add_func("/outside/link/bytes", test_every_byte_value_passes_both_ways);
    g_test_add_func("/outside/link/lock", test_one_run_per_port);
    return g_test_run();
}
