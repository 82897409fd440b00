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

/* For poll(). */
int dt_port_fd(const DtPort *p);
/* Bytes read or written at once, 0 where none can be just now, -1 with *error where the port is
 * gone (unplugged, hung up). */
gssize dt_port_read(DtPort *p, char *to, gsize room, GError **error);
gssize dt_port_write(DtPort *p, const char *bytes, gsize n, GError **error);

/* The path under which the same port is found again after it was unplugged: the same name, or for
 * USB the same maker, product and serial number under another name. NULL while it is not there.
 * g_free. */
char *dt_port_find_again(const DtPort *p);
