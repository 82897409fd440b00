/* desk: the local web page, a second front end over the calls that the commands use. The server, the
 * session and the run live in this process; a page that is closed changes nothing. */
#pragma once

#include "drawtrue/base.h"

#include <stddef.h>
#include <stdint.h>

typedef struct {
    const char *machine; /* profile; NULL for the built-in one */
    const char *port;    /* serial port; NULL: chosen on the page */
    const char *journal; /* NULL for the default place */
    const char *folder;  /* the page may open files below it, and no other; NULL: the current one */
    const char *work;    /* where programs and uploads are kept; NULL for the default place */
    uint16_t listen;     /* TCP port on the loopback address; 0: any that is free */
    gboolean pens_ready; /* do not wait at pen changes */
    gboolean is_rig;     /* the port is the virtual machine: the page says so */
} DtDeskOptions;

typedef struct DtDesk DtDesk;

/* Starts to serve in the main context that is the thread's default, whose loop the caller runs. The
 * options are copied. DT_ERROR_INPUT as dt_profile_load(), DT_ERROR_IO where it cannot listen. */
DtDesk *dt_desk_new(const DtDeskOptions *o, GError **error);
/* Stops what is under way, the pen lifted, which takes as long as the board does. */
void dt_desk_free(DtDesk *d);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtDesk, dt_desk_free)

/* The page's address with the secret that lets a browser in; the desk's own. */
const char *dt_desk_address(const DtDesk *d);

/* Opens a drawing or program as if it was dropped on the page; it may lie anywhere. */
gboolean dt_desk_open(DtDesk *d, const char *path, GError **error);
