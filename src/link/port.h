/* port: the only interface to a serial line. Real ports use libserialport; a pseudo-terminal,
 * which has no modem lines, uses termios. Private to link. */
#pragma once

#include "drawtrue/base.h"

typedef struct DtPort DtPort;

/* Opens the port raw at 8 data bits, no parity, 1 stop bit, and locks it against every other
 * run. DT_ERROR_INPUT for what the user can fix: no such port, no permission, held by another
 * program. Opening resets many boards (common practice, no source). */
DtPort *dt_port_open(const char *path, int baud, GError **error);
void dt_port_close(DtPort *p);
/* Closes the device and keeps what is known of it: as long as somebody has a port open that is
 * gone, the system gives its name to no other. */
void dt_port_release(DtPort *p);

/* For poll(). */
int dt_port_fd(const DtPort *p);
/* Bytes read or written at once, 0 if none can be now, -1 with *error if the port is gone
 * (unplugged, hung up). */
gssize dt_port_read(DtPort *p, char *to, gsize room, GError **error);
gssize dt_port_write(DtPort *p, const char *bytes, gsize n, GError **error);
/* Writes all of them; FALSE with *error if the port is gone, or accepts none for a second. */
gboolean dt_port_write_all(DtPort *p, const char *bytes, gsize n, GError **error);

/* The path under which the same port is found again after it was unplugged: the same name, or
 * for USB the same device under another name. NULL while it is absent, or if it cannot be
 * identified, like a pseudo-terminal without a new link. g_free. */
char *dt_port_find_again(const DtPort *p);

/* What the system knows about a port. */
typedef struct {
    char *name;
    int vendor, product; /* of the USB device, -1 if it is not one */
    char *number;        /* its serial number; NULL if it has none */
    char *socket;        /* where it is plugged in; NULL if unknown */
} DtPortDevice;

/* Which of the `n` present ports is the USB device that `was` there: among devices of its
 * product the one with its serial number; if they have none, the one in its socket, otherwise
 * the only one that was not present before, under one of the names of `others` (which may be
 * NULL). -1 if none can be identified: the wrong machine must not move. */
gssize dt_port_choose(const DtPortDevice *was, const char *const *others, const DtPortDevice *now,
                      gsize n);
