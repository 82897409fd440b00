/* port: opening, locking and finding serial lines. */
#include "link/port.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <grp.h>
#include <libserialport.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

struct DtPort {
    char *path;             /* as given */
    int fd;                 /* -1 if it is closed */
    struct sp_port *serial; /* NULL for a pseudo-terminal */
    gboolean is_link;       /* the path is a link that somebody keeps pointed at the board */
    struct stat link;       /* of that name, as it was when the port was opened */
    gboolean hung_up;
    DtPortDevice device; /* its strings are owned by the port */
    GStrv others;        /* ports that existed beside it when it was opened */
};

/* Who has the device open: "process 123 (name)", or NULL. */
static char *find_holder(const char *real)
{
    g_autoptr(GDir) proc = g_dir_open("/proc", 0, NULL);
    const char *pid;
    while (proc != NULL && (pid = g_dir_read_name(proc)) != NULL) {
        if (!g_ascii_isdigit(*pid) || atoi(pid) == getpid())
            continue;
        g_autofree char *folder = g_strdup_printf("/proc/%s/fd", pid);
        g_autoptr(GDir) fds = g_dir_open(folder, 0, NULL);
        const char *fd;
        while (fds != NULL && (fd = g_dir_read_name(fds)) != NULL) {
            g_autofree char *link = g_build_filename(folder, fd, NULL);
            g_autofree char *target = g_file_read_link(link, NULL);
            if (target == NULL || strcmp(target, real) != 0)
                continue;
            g_autofree char *comm = g_strdup_printf("/proc/%s/comm", pid);
            g_autofree char *name = NULL;
            if (!g_file_get_contents(comm, &name, NULL, NULL))
                return g_strdup_printf(_("process %s"), pid);
            return g_strdup_printf(_("process %s (%s)"), pid, g_strstrip(name));
        }
    }
    return NULL;
}

static void set_busy(GError **error, const char *path, const char *real)
{
    g_autofree char *holder = find_holder(real);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: %s%sanother program is using the port; end that first", path,
                holder ? holder : "", holder ? _(" has it open: ") : "");
}

static void set_no_permission(GError **error, const char *path, const char *real)
{
    struct stat st;
    const struct group *group = stat(real, &st) == 0 ? getgrgid(st.st_gid) : NULL;
    if (group != NULL && st.st_gid != 0 && (st.st_mode & S_IWGRP))
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: no permission to open the port; join its group with 'sudo usermod -aG %s "
                    "%s' and log in again",
                    path, group->gr_name, g_get_user_name());
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: no permission to open the port; ask its owner or the administrator for it",
                    path);
}

static void set_open_error(GError **error, const char *path, const char *real, int code)
{
    if (code == EACCES || code == EPERM)
        set_no_permission(error, path, real);
    else if (code == EBUSY || code == EWOULDBLOCK)
        set_busy(error, path, real);
    else if (code == ENOENT || code == ENODEV || code == ENXIO || code == EIO)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: there is no such port; is the board plugged in?", path);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, g_strerror(code));
}

static gboolean set_raw(int fd, int baud)
{
    static const struct {
        int baud;
        speed_t speed;
    } speeds[] = {
        {1200, B1200},       {2400, B2400},     {4800, B4800},     {9600, B9600},
        {19200, B19200},     {38400, B38400},   {57600, B57600},   {115200, B115200},
        {230400, B230400},   {460800, B460800}, {500000, B500000}, {921600, B921600},
        {1000000, B1000000},
    };
    struct termios t;
    if (tcgetattr(fd, &t) != 0)
        return FALSE;
    cfmakeraw(&t);
    t.c_cflag |= CLOCAL | CREAD;
    t.c_cflag &= ~(tcflag_t)(CSTOPB | CRTSCTS);
    t.c_cc[VMIN] = 0;
    t.c_cc[VTIME] = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(speeds); i++)
        if (speeds[i].baud == baud)
            cfsetspeed(&t, speeds[i].speed);
    return tcsetattr(fd, TCSANOW, &t) == 0;
}

static gboolean is_pseudo_terminal(const char *real)
{
    return g_str_has_prefix(real, "/dev/pts/");
}

static gboolean open_pseudo_terminal(DtPort *p, const char *real, int baud, GError **error)
{
    p->fd = g_open(real, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC, 0);
    if (p->fd < 0) {
        set_open_error(error, p->path, real, errno);
        return FALSE;
    }
    if (!isatty(p->fd) || !set_raw(p->fd, baud)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a serial port", p->path);
        return FALSE;
    }
    return TRUE;
}

static gboolean set_up_serial(struct sp_port *s, int baud)
{
    return sp_set_baudrate(s, baud) == SP_OK && sp_set_bits(s, 8) == SP_OK &&
           sp_set_parity(s, SP_PARITY_NONE) == SP_OK && sp_set_stopbits(s, 1) == SP_OK &&
           sp_set_flowcontrol(s, SP_FLOWCONTROL_NONE) == SP_OK;
}

/* Where the device is plugged in, such as "1-1.2:1.0"; NULL if unknown. The folder of the
 * interface is the last but one or two in the path of the port's own. */
static char *find_socket(const char *name)
{
    g_autofree char *base = g_path_get_basename(name);
    g_autofree char *link = g_build_filename("/sys/class/tty", base, "device", NULL);
    g_autofree char *real = realpath(link, NULL);
    if (real == NULL)
        return NULL;
    g_auto(GStrv) parts = g_strsplit(real, "/", -1);
    for (guint i = g_strv_length(parts); i-- > 0;)
        if (g_ascii_isdigit(parts[i][0]) && strchr(parts[i], '-') && strchr(parts[i], ':'))
            return g_strdup(parts[i]);
    return NULL;
}

static DtPortDevice describe_device(struct sp_port *serial)
{
    DtPortDevice d = {.name = g_strdup(sp_get_port_name(serial)), .vendor = -1, .product = -1};
    if (sp_get_port_usb_vid_pid(serial, &d.vendor, &d.product) != SP_OK)
        d.vendor = d.product = -1;
    d.number = g_strdup(sp_get_port_usb_serial(serial));
    d.socket = find_socket(d.name);
    return d;
}

static void clear_device(gpointer device)
{
    DtPortDevice *d = device;
    g_free(d->name);
    g_free(d->number);
    g_free(d->socket);
}

/* Every existing port. */
static GArray *list_devices(void)
{
    GArray *devices = g_array_new(FALSE, FALSE, sizeof(DtPortDevice));
    g_array_set_clear_func(devices, clear_device);
    struct sp_port **ports = NULL;
    if (sp_list_ports(&ports) != SP_OK)
        return devices;
    for (gsize i = 0; ports[i] != NULL; i++) {
        DtPortDevice d = describe_device(ports[i]);
        g_array_append_val(devices, d);
    }
    sp_free_port_list(ports);
    return devices;
}

static void remember_device(DtPort *p)
{
    p->device = describe_device(p->serial);
    g_autoptr(GArray) all = list_devices();
    g_autoptr(GStrvBuilder) others = g_strv_builder_new();
    for (guint i = 0; i < all->len; i++) {
        const DtPortDevice *d = &g_array_index(all, DtPortDevice, i);
        if (strcmp(d->name, p->device.name) != 0)
            g_strv_builder_add(others, d->name);
    }
    p->others = g_strv_builder_end(others);
}

static gboolean open_serial(DtPort *p, const char *real, int baud, GError **error)
{
    struct stat st;
    if (stat(real, &st) == 0 && !S_ISCHR(st.st_mode)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a serial port", p->path);
        return FALSE;
    }
    if (sp_get_port_by_name(real, &p->serial) != SP_OK) {
        if (stat(real, &st) == 0)
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a serial port", p->path);
        else
            set_open_error(error, p->path, real, errno ? errno : ENOENT);
        return FALSE;
    }
    errno = 0;
    enum sp_return opened = sp_open(p->serial, SP_MODE_READ_WRITE);
    if (opened != SP_OK) {
        int code = errno ? errno : EIO;
        if (code == ENOTTY || code == EINVAL)
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a serial port", p->path);
        else
            set_open_error(error, p->path, real, code);
        return FALSE;
    }
    remember_device(p);
    if (!set_up_serial(p->serial, baud) || sp_get_port_handle(p->serial, &p->fd) != SP_OK) {
        sp_close(p->serial); /* without a handle nobody else does */
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: the port cannot be set to %d baud, 8 data bits, no parity, 1 stop bit",
                    p->path, baud);
        return FALSE;
    }
    return TRUE;
}

DtPort *dt_port_open(const char *path, int baud, GError **error)
{
    g_autofree char *real = realpath(path, NULL);
    if (real == NULL) {
        set_open_error(error, path, path, errno == ENOTDIR ? ENOENT : errno);
        return NULL;
    }
    DtPort *p = g_new0(DtPort, 1);
    p->path = g_strdup(path);
    p->fd = -1;
    p->is_link = lstat(path, &p->link) == 0 && S_ISLNK(p->link.st_mode);
    p->device.vendor = p->device.product = -1;
    gboolean good = is_pseudo_terminal(real) ? open_pseudo_terminal(p, real, baud, error)
                                             : open_serial(p, real, baud, error);
    /* TIOCEXCL alone does not stop a second run by root; the lock does. */
    if (good && flock(p->fd, LOCK_EX | LOCK_NB) != 0) {
        set_busy(error, path, real);
        good = FALSE;
    }
    if (!good) {
        dt_port_close(p);
        return NULL;
    }
    return p;
}

void dt_port_release(DtPort *p)
{
    if (p->fd >= 0 && p->serial != NULL)
        sp_close(p->serial);
    else if (p->fd >= 0)
        close(p->fd);
    p->fd = -1;
}

void dt_port_close(DtPort *p)
{
    if (p == NULL)
        return;
    dt_port_release(p);
    if (p->serial != NULL)
        sp_free_port(p->serial);
    clear_device(&p->device);
    g_strfreev(p->others);
    g_free(p->path);
    g_free(p);
}

int dt_port_fd(const DtPort *p)
{
    return p->fd;
}

static gssize fail_gone(DtPort *p, int code, GError **error)
{
    p->hung_up = TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the port is gone (%s)", p->path,
                code ? g_strerror(code) : _("hung up"));
    return -1;
}

gssize dt_port_read(DtPort *p, char *to, gsize room, GError **error)
{
    struct pollfd probe = {p->fd, POLLIN, 0};
    if (poll(&probe, 1, 0) <= 0)
        return 0;
    ssize_t n = read(p->fd, to, room);
    if (n > 0)
        return n;
    if (n < 0 && (errno == EAGAIN || errno == EINTR))
        return 0;
    return fail_gone(p, n < 0 ? errno : 0, error);
}

gssize dt_port_write(DtPort *p, const char *bytes, gsize n, GError **error)
{
    ssize_t done = write(p->fd, bytes, n);
    if (done >= 0)
        return done;
    if (errno == EAGAIN || errno == EINTR)
        return 0;
    return fail_gone(p, errno, error);
}

gboolean dt_port_write_all(DtPort *p, const char *bytes, gsize n, GError **error)
{
    enum { PATIENCE_MS = 1000 };
    for (gsize done = 0; done < n;) {
        const gssize now = dt_port_write(p, bytes + done, n - done, error);
        if (now < 0)
            return FALSE;
        done += (gsize)now;
        struct pollfd out = {p->fd, POLLOUT, 0};
        if (done < n && poll(&out, 1, PATIENCE_MS) == 0) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the port accepts no more bytes",
                        p->path);
            return FALSE;
        }
    }
    return TRUE;
}

gssize dt_port_choose(const DtPortDevice *was, const char *const *others, const DtPortDevice *now,
                      gsize n)
{
    gssize found = -1;
    gsize like = 0;
    for (gsize i = 0; i < n; i++) {
        if (was->vendor < 0 || now[i].vendor != was->vendor || now[i].product != was->product ||
            g_strcmp0(now[i].number, was->number) != 0)
            continue;
        if (was->number != NULL || (was->socket && g_strcmp0(now[i].socket, was->socket) == 0))
            return (gssize)i;
        if (others != NULL && g_strv_contains(others, now[i].name))
            continue;
        found = (gssize)i;
        like++;
    }
    return like == 1 ? found : -1;
}

/* A pseudo-terminal that hung up never returns, and the system gives its name to the next
 * program that requests one: only a link made since then shows where the board is now. */
static gboolean is_link_made_since(const DtPort *p)
{
    struct stat now;
    return p->is_link && lstat(p->path, &now) == 0 &&
           (now.st_ino != p->link.st_ino || now.st_ctim.tv_sec != p->link.st_ctim.tv_sec ||
            now.st_ctim.tv_nsec != p->link.st_ctim.tv_nsec);
}

char *dt_port_find_again(const DtPort *p)
{
    if (p->serial == NULL && p->hung_up && !is_link_made_since(p))
        return NULL;
    const gboolean exists = g_file_test(p->path, G_FILE_TEST_EXISTS);
    if (p->device.vendor < 0 || (p->is_link && exists))
        return exists ? g_strdup(p->path) : NULL;
    g_autoptr(GArray) now = list_devices();
    const DtPortDevice *devices = (const DtPortDevice *)(const void *)now->data;
    const gssize i = dt_port_choose(&p->device, (const char *const *)p->others, devices, now->len);
    return i >= 0 ? g_strdup(devices[i].name) : NULL;
}
