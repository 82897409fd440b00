/* port: the one narrow door to a serial line. Real ports go through libserialport; a
 * pseudo-terminal, which has no modem lines for it to set, goes through termios. Private to link.
 */
#pragma once

#include "drawtrue/base.h"

typedef struct DtPort DtPort;

/* Opens the port raw at 8 data bits, no parity, 1 stop bit, and locks it against every other run.
 * DT_ERROR_INPUT names what the maker can mend: no such port, no permission, held by another
 * program. Opening resets many boards (common practice, no source). */
DtPort *dt_port_open(const char *path, int baud, GError **error);
void dt_port_close(DtPort *p);
/* Lets go of the device and keeps what is known of it: as long as somebody has a port open that is
 * gone, the system gives its name to no other. */
void dt_port_release(DtPort *p);

/* For poll(). */
int dt_port_fd(const DtPort *p);
/* Bytes read or written at once, 0 where none can be just now, -1 with *error where the port is
 * gone (unplugged, hung up). */
gssize dt_port_read(DtPort *p, char *to, gsize room, GError **error);
gssize dt_port_write(DtPort *p, const char *bytes, gsize n, GError **error);

/* The path under which the same port is found again after it was unplugged: the same name, or for
 * USB the same device under another name. NULL while it is not there, or where it cannot be told
 * from others, as a pseudo-terminal without a link that was made anew cannot. g_free. */
char *dt_port_find_again(const DtPort *p);

/* What the system knows of a port. */
typedef struct {
    char *name;
    int vendor, product; /* of the USB device, -1 where it is none */
    char *number;        /* its serial number; NULL where it has none */
    char *socket;        /* where it is plugged in; NULL where that is not known */
} DtPortDevice;

/* Which of the `n` ports that are there now is the USB device that `was` there: of those of its
 * make the one with its serial number; where such devices have none, the one in its socket, else
 * the only one that was not there already, under one of the names of `others` (which may be NULL).
 * -1 where none can be told: the wrong machine must not move. */
gssize dt_port_choose(const DtPortDevice *was, const char *const *others, const DtPortDevice *now,
                      gsize n);
