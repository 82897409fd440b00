/* guard: see guard.h. Host and Origin against DNS rebinding and other pages' requests (RFC 9110 7.2,
 * RFC 6454, RFC 6455 10.2); a session cookie that differs from the token in the address (OWASP ASVS
 * 3.1.1, 3.4). */
#include "desk/guard.h"

#include "drawtrue/messages.h"

#include <string.h>
#include <sys/random.h>

char *dt_guard_cookie_name(guint16 port)
{
    return g_strdup_printf("drawtrue-desk-%u", port);
}

gboolean dt_guard_random(char out[65])
{
    guint8 bytes[32];
    if (getrandom(bytes, sizeof bytes, 0) != sizeof bytes)
        return FALSE;
    for (gsize i = 0; i < sizeof bytes; i++)
        g_snprintf(out + 2 * i, 3, "%02x", bytes[i]);
    return TRUE;
}

/* In constant time, which does not show how much of it was right. */
static gboolean is_same(const char *given, gsize n, const char *right)
{
    const gsize m = strlen(right);
    unsigned differs = n != m;
    for (gsize i = 0; i < m; i++)
        differs |= (unsigned)(guint8)right[i] ^ (unsigned)(guint8)given[i < n ? i : 0];
    return n > 0 && differs == 0;
}

static gboolean is_own_host(const DtGuard *g, const char *host)
{
    static const char *const names[] = {"127.0.0.1", "localhost"};
    for (gsize i = 0; host != NULL && i < G_N_ELEMENTS(names); i++) {
        g_autofree char *own = g_strdup_printf("%s:%u", names[i], g->port);
        if (g_ascii_strcasecmp(host, own) == 0)
            return TRUE;
    }
    return FALSE;
}

/* A page of ours was loaded from the host by which it now makes the request. */
static gboolean is_own_origin(const DtGuardRequest *r)
{
    return g_str_has_prefix(r->origin, "http://") &&
           g_ascii_strcasecmp(r->origin + 7, r->host) == 0;
}

/* One cookie pair of RFC 6265 4.2.1; a browser never sends several of the same name. */
static gboolean has_cookie(const DtGuard *g, const char *header)
{
    g_autofree char *name = dt_guard_cookie_name(g->port);
    const gsize n = strlen(name);
    const char *value = NULL;
    gsize length = 0;
    for (const char *c = header; c != NULL && *c != '\0';) {
        c += strspn(c, " \t;");
        const gsize pair = strcspn(c, ";");
        if (pair > n && strncmp(c, name, n) == 0 && c[n] == '=') {
            if (value != NULL)
                return FALSE;
            value = c + n + 1;
            length = pair - n - 1;
        }
        c += pair;
    }
    return value != NULL && is_same(value, length, g->secret);
}

static gboolean has_token(const DtGuard *g, const DtGuardRequest *r)
{
    return strcmp(r->path, "/") == 0 && r->query != NULL && g_str_has_prefix(r->query, "token=") &&
           is_same(r->query + 6, strlen(r->query + 6), g->token);
}

static gboolean takes_file(const char *path)
{
    return strcmp(path, "/file") == 0 || strcmp(path, "/scan") == 0;
}

gsize dt_guard_most_body(const char *path)
{
    return takes_file(path) ? DT_GUARD_MOST_UPLOAD : DT_GUARD_MOST_JSON;
}

static gboolean is_media_type(const char *header, const char *type)
{
    const gsize n = strlen(type);
    return header != NULL && g_ascii_strncasecmp(header, type, n) == 0 &&
           (header[n] == '\0' || header[n] == ';' || header[n] == ' ');
}

static gboolean is_too_long(const DtGuardRequest *r)
{
    if (r->length == NULL)
        return FALSE;
    guint64 n;
    return !g_ascii_string_to_unsigned(r->length, 10, 0, dt_guard_most_body(r->path), &n, NULL);
}

static DtGuardVerdict refuse(guint *status, const char **why, guint code, const char *text)
{
    *status = code;
    *why = text;
    return DT_GUARD_REFUSE;
}

DtGuardVerdict dt_guard_judge(const DtGuard *g, const DtGuardRequest *r, guint *status,
                              const char **why)
{
    const gboolean posts = strcmp(r->method, "POST") == 0;
    if (!posts && strcmp(r->method, "GET") != 0 && strcmp(r->method, "HEAD") != 0)
        return refuse(status, why, 405, _("only GET, HEAD and POST are known here"));
    if (!is_own_host(g, r->host))
        return refuse(status, why, 421, _("this server has another name"));
    if (has_token(g, r) && !posts && !r->is_websocket)
        return DT_GUARD_LET_IN;
    if (r->origin != NULL ? !is_own_origin(r) : posts || r->is_websocket)
        return refuse(status, why, 403, _("the request comes from another page"));
    if (r->fetch_site != NULL && strcmp(r->fetch_site, "same-origin") != 0 &&
        strcmp(r->fetch_site, "none") != 0)
        return refuse(status, why, 403, _("the request comes from another page"));
    if (!has_cookie(g, r->cookie))
        return refuse(
            status, why, 403,
            _("open the address that 'drawtrue desk' has printed; it lets this browser in"));
    if (posts && !is_media_type(r->type, takes_file(r->path) ? "application/octet-stream"
                                                             : "application/json"))
        return refuse(status, why, 415, _("the body is of the wrong type"));
    if (is_too_long(r))
        return refuse(status, why, 413, _("the body is too large"));
    return DT_GUARD_PASS;
}
