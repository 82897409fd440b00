/* ports: the serial ports of this computer. */
#include "drawtrue/session.h"

#include <libserialport.h>

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
