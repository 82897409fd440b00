/* desk: the local web page, a second front end for the calls that the commands use. The server,
 * the session and the run live in this process; closing a page changes nothing. */
#pragma once

#include "drawtrue/base.h"

#include <stddef.h>
#include <stdint.h>

typedef struct {
    const char *machine; /* profile; NULL for the built-in one */
    const char *port;    /* serial port; NULL: chosen on the page */
    const char *journal; /* NULL for the default place */
    const char *folder;  /* the page may open files below this folder and no others; NULL: the
                          * current folder */
    const char *work;    /* where programs and uploads are kept; NULL: the default place */
    uint16_t listen;     /* TCP port on the loopback address; 0: any that is free */
    gboolean pens_ready; /* do not wait at pen changes */
    gboolean is_rig;     /* the port is the virtual machine, which the page shows */
} DtDeskOptions;

typedef struct DtDesk DtDesk;

/* Starts serving in the thread-default main context, whose loop the caller runs. The options are
 * copied. DT_ERROR_INPUT as for dt_profile_load(), DT_ERROR_IO if it cannot listen. */
DtDesk *dt_desk_new(const DtDeskOptions *o, GError **error);
/* Stops what is under way and lifts the pen; takes as long as the board does. */
void dt_desk_free(DtDesk *d);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtDesk, dt_desk_free)

/* The page's address including the secret that admits a browser; owned by the desk. */
const char *dt_desk_address(const DtDesk *d);

/* Opens a drawing or program as if it had been dropped on the page; it may lie anywhere. */
gboolean dt_desk_open(DtDesk *d, const char *path, GError **error);
