/* open: ports without a run: which there are, and one for whoever talks to a controller line by
 * line. */
#include "link/port.h"

#include "drawtrue/link.h"

#include <errno.h>
#include <libserialport.h>
#include <math.h>
#include <poll.h>

static gboolean write_all(void *user, const char *bytes, gsize n, GError **error)
{
    DtPort *p = user;
    for (gsize done = 0; done < n;) {
        gssize now = dt_port_write(p, bytes + done, n - done, error);
        if (now < 0)
            return FALSE;
        done += (gsize)now;
        struct pollfd out = {dt_port_fd(p), POLLOUT, 0};
        if (done < n && poll(&out, 1, 1000) == 0) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "the port takes no more bytes");
            return FALSE;
        }
    }
    return TRUE;
}

static gssize read_some(void *user, char *to, gsize room, double wait_s, GError **error)
{
    DtPort *p = user;
    struct pollfd in = {dt_port_fd(p), POLLIN, 0};
    if (poll(&in, 1, (int)ceil(MAX(wait_s, 0) * 1000)) <= 0)
        return 0;
    return dt_port_read(p, to, room, error);
}

gboolean dt_link_open(const char *port, int baud, DtWire *out, GError **error)
{
    DtPort *p = dt_port_open(port, baud, error);
    *out = (DtWire){write_all, read_some, p};
    return p != NULL;
}

void dt_link_close(DtWire *w)
{
    dt_port_close(w->user);
    *w = (DtWire){0};
}

DtLinkPort *dt_link_ports(size_t *n)
{
    struct sp_port **found = NULL;
    *n = 0;
    if (sp_list_ports(&found) != SP_OK)
        return NULL;
    while (found[*n] != NULL)
        ++*n;
    DtLinkPort *ports = g_new0(DtLinkPort, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        const char *text = sp_get_port_description(found[i]);
        ports[i] = (DtLinkPort){g_strdup(sp_get_port_name(found[i])), g_strdup(text ? text : "")};
    }
    sp_free_port_list(found);
    return ports;
}

void dt_link_ports_free(DtLinkPort *ports, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        g_free(ports[i].path);
        g_free(ports[i].text);
    }
    g_free(ports);
}
