/* guard: who may use the desk. Pure decisions from the header fields of one request. */
#pragma once

#include <glib.h>

typedef struct {
    guint16 port;       /* on the loopback address */
    const char *token;  /* in the address that was printed */
    const char *secret; /* in the cookie */
} DtGuard;

/* Fields as received; NULL if one is missing. */
typedef struct {
    const char *method, *path, *query;
    const char *host, *origin, *fetch_site, *cookie, *type, *length;
    gboolean is_websocket;
} DtGuardRequest;

typedef enum {
    DT_GUARD_PASS,
    DT_GUARD_LET_IN, /* the token is right: reply with the cookie and a redirect to the address
                      * without the token */
    DT_GUARD_REFUSE, /* `status` and `why` */
} DtGuardVerdict;

enum { DT_GUARD_MOST_UPLOAD = 64 << 20, DT_GUARD_MOST_JSON = 64 << 10 };

/* `why` is static. */
DtGuardVerdict dt_guard_judge(const DtGuard *g, const DtGuardRequest *r, guint *status,
                              const char **why);
/* Most bytes that the body of a request for this path may have. */
gsize dt_guard_most_body(const char *path);
/* The cookie's name, specific to this port, since cookies do not distinguish ports (RFC 6265
 * 8.5). Freed by the caller. */
char *dt_guard_cookie_name(guint16 port);
/* Sixty-four hexadecimal digits from the system's random numbers. FALSE if they are not
 * available. */
gboolean dt_guard_random(char out[65]);
