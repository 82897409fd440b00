/* port: what opening a pseudo-terminal sets, what is refused and how, and a line that hangs up. */
#include "link/port.h"

#include <glib/gstdio.h>
#include <pty.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

typedef struct {
    int master, slave;
    char name[64];
} Line;

static void line_open(Line *l)
{
    g_assert_cmpint(openpty(&l->master, &l->slave, l->name, NULL, NULL), ==, 0);
}

static void line_close(Line *l)
{
    close(l->master);
    close(l->slave);
}

static DtPort *open_port(const char *path, int baud)
{
    g_autoptr(GError) error = NULL;
    DtPort *p = dt_port_open(path, baud, &error);
    g_assert_no_error(error);
    g_assert_cmpint(dt_port_fd(p), >=, 0);
    return p;
}

static void check_refused(const char *path, const char *says)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_port_open(path, 115200, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *text = g_strdup_printf("%s: %s", path, says);
    g_assert_cmpstr(error->message, ==, text);
}

/* POSIX.1-2017, 11 (General Terminal Interface): bytes as they come, eight to a frame, no echo, no signals, no waiting. */
static void test_the_line_is_raw(void)
{
    static const struct {
        int baud;
        speed_t speed;
    } rates[] = {{1200, B1200},       {2400, B2400},     {4800, B4800},     {9600, B9600},
                 {19200, B19200},     {38400, B38400},   {57600, B57600},   {115200, B115200},
                 {230400, B230400},   {460800, B460800}, {500000, B500000}, {921600, B921600},
                 {1000000, B1000000}, {12345, B38400}}; /* what it was stays */
    Line l;
    line_open(&l);
    for (gsize i = 0; i < G_N_ELEMENTS(rates); i++) {
        struct termios t;
        g_assert_cmpint(tcgetattr(l.slave, &t), ==, 0);
        t.c_lflag |= ICANON | ECHO | ISIG;
        t.c_iflag |= ICRNL | IXON;
        t.c_oflag |= OPOST;
        t.c_cflag |= CSTOPB | PARENB | CRTSCTS;
        t.c_cflag &= ~(tcflag_t)(CREAD | CLOCAL);
        t.c_cc[VMIN] = 7;
        t.c_cc[VTIME] = 9;
        cfsetspeed(&t, B38400);
        g_assert_cmpint(tcsetattr(l.slave, TCSANOW, &t), ==, 0);
        DtPort *p = open_port(l.name, rates[i].baud);
        g_assert_cmpint(tcgetattr(l.slave, &t), ==, 0);
        g_assert_cmpuint(cfgetospeed(&t), ==, rates[i].speed);
        g_assert_cmpuint(cfgetispeed(&t), ==, rates[i].speed);
        g_assert_cmpuint(t.c_lflag & (ICANON | ECHO | ISIG | IEXTEN), ==, 0);
        g_assert_cmpuint(t.c_iflag & (ICRNL | INLCR | IXON | ISTRIP), ==, 0);
        g_assert_cmpuint(t.c_oflag & OPOST, ==, 0);
        g_assert_cmpuint(t.c_cflag & CSIZE, ==, CS8);
        g_assert_cmpuint(t.c_cflag & (CSTOPB | PARENB | CRTSCTS), ==, 0);
        g_assert_cmpuint(t.c_cflag & (CREAD | CLOCAL), ==, CREAD | CLOCAL);
        g_assert_cmpuint(t.c_cc[VMIN], ==, 0);
        g_assert_cmpuint(t.c_cc[VTIME], ==, 0);
        dt_port_close(p);
    }
    line_close(&l);
}

static void test_bytes_go_both_ways(void)
{
    g_autoptr(GError) error = NULL;
    char got[16] = "";
    Line l;
    line_open(&l);
    DtPort *p = open_port(l.name, 115200);
    g_assert_cmpint(dt_port_read(p, got, sizeof got, &error), ==, 0);
    g_assert_cmpint(dt_port_write(p, "a\r\x03\n", 4, &error), ==, 4);
    g_assert_cmpint(read(l.master, got, sizeof got), ==, 4);
    g_assert_cmpmem(got, 4, "a\r\x03\n", 4);
    g_assert_cmpint(write(l.master, "b\n\r\x11", 4), ==, 4);
    g_assert_cmpint(dt_port_read(p, got, 3, &error), ==, 3);
    g_assert_cmpmem(got, 3, "b\n\r", 3);
    g_assert_cmpint(dt_port_read(p, got, sizeof got, &error), ==, 1);
    g_assert_cmpint(got[0], ==, 0x11);
    g_assert_no_error(error);
    dt_port_close(p);
    line_close(&l);
}

/* Writing until nothing more fits takes no time and is no error. */
static void test_a_full_line_takes_no_more(void)
{
    g_autoptr(GError) error = NULL;
    char block[4096];
    gssize n;
    Line l;
    line_open(&l);
    DtPort *p = open_port(l.name, 115200);
    memset(block, 'x', sizeof block);
    while ((n = dt_port_write(p, block, sizeof block, &error)) > 0)
        g_assert_cmpint(n, <=, sizeof block);
    g_assert_cmpint(n, ==, 0);
    g_assert_no_error(error);
    dt_port_close(p);
    line_close(&l);
}

typedef struct {
    int fd;
    gsize n;
    gboolean right; /* each byte is what the count of those before it makes it */
} Reader;

static char byte_of(gsize i)
{
    return (char)('a' + i % 23);
}

/* Slowly, a little at a time. */
static gpointer read_slowly(gpointer data)
{
    Reader *r = data;
    char some[400];
    for (gsize left = r->n, i = 0; left > 0;) {
        g_usleep(200);
        const gssize n = read(r->fd, some, MIN(sizeof some, left));
        g_assert_cmpint(n, >, 0);
        for (gssize k = 0; k < n; k++)
            r->right = r->right && some[k] == byte_of(i++);
        left -= (gsize)n;
    }
    return NULL;
}

/* More than the line holds: it is written as room comes, none twice and none left out; where no room
 * comes that is an error. */
static void test_all_is_written_as_room_comes(void)
{
    enum { MANY = 60000 };
    Line l;
    line_open(&l);
    DtPort *p = open_port(l.name, 9600);
    g_autofree char *bytes = g_malloc(MANY);
    g_autoptr(GError) error = NULL;
    for (gsize i = 0; i < MANY; i++)
        bytes[i] = byte_of(i);
    Reader r = {.fd = l.master, .n = MANY, .right = TRUE};
    GThread *thread = g_thread_new("reader", read_slowly, &r);
    g_assert_true(dt_port_write_all(p, bytes, MANY, &error));
    g_assert_no_error(error);
    g_thread_join(thread);
    g_assert_true(r.right);
    g_assert_true(dt_port_write_all(p, bytes, 0, &error));
    g_assert_false(dt_port_write_all(p, bytes, MANY, &error)); /* nobody reads */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_suffix(error->message, ": the port accepts no more bytes"));
    dt_port_close(p);
    line_close(&l);
}

static void test_a_line_that_hangs_up_is_gone(void)
{
    g_autoptr(GError) error = NULL;
    char got[16];
    Line l;
    line_open(&l);
    DtPort *p = open_port(l.name, 115200);
    g_autofree char *again = dt_port_find_again(p);
    g_assert_cmpstr(again, ==, l.name);
    line_close(&l);
    g_assert_cmpint(dt_port_read(p, got, sizeof got, &error), ==, -1);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_autofree char *begin = g_strdup_printf("%s: the port is gone (", l.name);
    g_assert_true(g_str_has_prefix(error->message, begin));
    g_clear_error(&error);
    g_assert_cmpint(dt_port_write(p, "x", 1, &error), ==, -1);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, begin));
    /* its name may belong to somebody else by now */
    g_assert_null(dt_port_find_again(p));
    dt_port_release(p);
    g_assert_cmpint(dt_port_fd(p), ==, -1);
    dt_port_close(p);
    dt_port_close(NULL);
}

/* A link to the board that is made anew shows where the board is now. */
static void test_a_link_made_since_leads_back(void)
{
    g_autoptr(GError) error = NULL;
    char got[16];
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *link = g_build_filename(folder, "board", NULL);
    Line l, other;
    line_open(&l);
    line_open(&other);
    g_assert_cmpint(symlink(l.name, link), ==, 0);
    DtPort *p = open_port(link, 115200);
    g_autofree char *before = dt_port_find_again(p);
    g_assert_cmpstr(before, ==, link);
    line_close(&l);
    g_assert_cmpint(dt_port_read(p, got, sizeof got, &error), ==, -1);
    g_assert_null(dt_port_find_again(p));
    g_assert_cmpint(g_unlink(link), ==, 0);
    g_assert_null(dt_port_find_again(p));
    g_assert_cmpint(symlink(other.name, link), ==, 0);
    g_autofree char *after = dt_port_find_again(p);
    g_assert_cmpstr(after, ==, link);
    dt_port_close(p);
    line_close(&other);
    g_unlink(link);
    g_rmdir(folder);
}

/* The name at which the link points is given to another; a further link plays that here. */
static void test_a_name_given_to_another_is_not_the_board(void)
{
    g_autoptr(GError) error = NULL;
    char got[16];
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *link = g_build_filename(folder, "board", NULL),
                    *name = g_build_filename(folder, "name", NULL);
    Line l, other;
    line_open(&l);
    line_open(&other);
    g_assert_cmpint(symlink(name, link), ==, 0);
    g_assert_cmpint(symlink(l.name, name), ==, 0);
    DtPort *p = open_port(link, 115200);
    line_close(&l);
    g_assert_cmpint(dt_port_read(p, got, sizeof got, &error), ==, -1);
    g_assert_cmpint(g_unlink(name), ==, 0);
    g_assert_cmpint(symlink(other.name, name), ==, 0);
    g_assert_null(dt_port_find_again(p));
    dt_port_close(p);
    line_close(&other);
    g_unlink(name);
    g_unlink(link);
    g_rmdir(folder);
}

static void test_what_is_no_port_is_refused(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL),
                    *file = g_build_filename(folder, "notes.txt", NULL),
                    *below = g_build_filename(file, "port", NULL);
    g_assert_true(g_file_set_contents(file, "seeds", -1, NULL));
    check_refused("/dev/no-such-board", "there is no such port; is the board plugged in?");
    check_refused(below, "there is no such port; is the board plugged in?");
    check_refused(file, "not a serial port");
    check_refused(folder, "not a serial port");
    check_refused("/dev/null", "not a serial port");
    g_unlink(file);
    g_rmdir(folder);
}

/* One run at a time; a program that holds the port is named. */
static void test_a_port_in_use_is_refused(void)
{
    Line l;
    line_open(&l);
    DtPort *p = open_port(l.name, 115200);
    const pid_t holder = fork();
    g_assert_cmpint(holder, >=, 0);
    if (holder == 0) { /* has inherited the line */
        pause();
        _exit(0);
    }
    g_autofree char *comm = g_strdup_printf("/proc/%d/comm", (int)holder);
    g_autofree char *name = NULL;
    g_assert_true(g_file_get_contents(comm, &name, NULL, NULL));
    g_autofree char *named =
        g_strdup_printf("process %d (%s) has it open: another program is using the port; end that "
                        "first",
                        (int)holder, g_strstrip(name));
    check_refused(l.name, named);
    kill(holder, SIGKILL);
    g_assert_cmpint(waitpid(holder, NULL, 0), ==, holder);
    check_refused(l.name, "another program is using the port; end that first");
    dt_port_close(p);
    dt_port_close(open_port(l.name, 115200));
    line_close(&l);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/port-open/raw", test_the_line_is_raw);
    g_test_add_func("/port-open/bytes", test_bytes_go_both_ways);
    g_test_add_func("/port-open/full", test_a_full_line_takes_no_more);
    g_test_add_func("/port-open/all-written", test_all_is_written_as_room_comes);
    g_test_add_func("/port-open/hang-up", test_a_line_that_hangs_up_is_gone);
    g_test_add_func("/port-open/link", test_a_link_made_since_leads_back);
    g_test_add_func("/port-open/name-given-to-another",
                    test_a_name_given_to_another_is_not_the_board);
    g_test_add_func("/port-open/no-port", test_what_is_no_port_is_refused);
    g_test_add_func("/port-open/in-use", test_a_port_in_use_is_refused);
    return g_test_run();
}
