/* fuzz-desk: the bytes as the JSON of each action of the desk, as the fields that its guard judges, and
 * as what comes over a connection, with and without the right to ask, WebSockets
 * included. */
#include "desk/guard.h"
#include "desk/private.h"
#include "desk/request.h"

#include <gio/gio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libsoup 3.2 itself loses the path of a request whose head it refuses: what such requests allocate is
 * not looked at. Absent without LeakSanitizer. */
void __lsan_disable(void) __attribute__((weak));
void __lsan_enable(void) __attribute__((weak));

static DtDesk *desk;

static void start_desk(void)
{
    char folder[] = "/tmp/drawtrue-fuzz-XXXXXX";
    if (g_mkdtemp(folder) == NULL)
        abort();
    g_autofree char *profile = g_build_filename(folder, "machine.ini", NULL);
    g_autofree char *drawing = g_build_filename(folder, "a.svg", NULL);
    g_autofree char *work = g_build_filename(folder, "work", NULL);
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    g_autofree char *text = dt_profile_template();
    static const char svg[] = "<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0h9'/></svg>";
    g_file_set_contents(profile, text, -1, NULL);
    g_file_set_contents(drawing, svg, -1, NULL);
    desk = dt_desk_new(&(DtDeskOptions){.machine = profile,
                                        .folder = folder,
                                        .work = work,
                                        .journal = journal,
                                        .port = "/dev/null"},
                       NULL);
    if (desk == NULL)
        abort();
}

static void settle(void)
{
    for (int i = 0; i < 50 && g_main_context_iteration(NULL, FALSE); i++)
        ;
    dt_desk_stop_draft(desk);
}

static void act(const char *text, size_t n)
{
    static const char *const names[] = {"open",
                                        "clear",
                                        "set-options",
                                        "choose-sheet",
                                        "mend",
                                        "touch-corner",
                                        "forget-corners",
                                        "jog",
                                        "request",
                                        "start",
                                        "again",
                                        "resume",
                                        "begin-at",
                                        "look-for-ports",
                                        "choose-profile",
                                        "new-profile",
                                        "choose-port",
                                        "set-keys",
                                        "learn",
                                        "new-tip",
                                        "keep-reading",
                                        "forget-scans",
                                        "write-corrections",
                                        "undo-corrections",
                                        "make-test-sheet"};
    JsonObject *in = dt_request_read(text, n, NULL);
    for (gsize i = 0; in != NULL && i < G_N_ELEMENTS(names); i++) {
        g_autoptr(GError) error = NULL;
        const gboolean good = dt_desk_act(desk, names[i], in, &error);
        if (good == (error != NULL))
            abort();
    }
    if (in != NULL)
        json_object_unref(in);
    settle();
}

static void judge(const char *text)
{
    enum { FIELDS = 9 };
    g_auto(GStrv) f = g_strsplit(text, "\n", FIELDS);
    if (g_strv_length(f) < FIELDS)
        return;
    const DtGuard guard = {8080, "0123456789abcdef", "fedcba9876543210"};
    const DtGuardRequest r = {.method = f[0],
                              .path = f[1],
                              .query = f[2],
                              .host = f[3],
                              .origin = *f[4] ? f[4] : NULL,
                              .fetch_site = *f[5] ? f[5] : NULL,
                              .cookie = f[6],
                              .type = f[7],
                              .length = *f[8] ? f[8] : NULL};
    guint status = 0;
    const char *why = NULL;
    const DtGuardVerdict v = dt_guard_judge(&guard, &r, &status, &why);
    if ((v == DT_GUARD_REFUSE) != (why != NULL))
        abort();
    if (v == DT_GUARD_PASS && strstr(f[6], guard.secret) == NULL)
        abort();
    if (v == DT_GUARD_LET_IN && strstr(f[2], guard.token) == NULL)
        abort();
}

/* Over a connection of its own: the bytes, and after an answer that begins with `until`, `more`. */
static void talk(const GString *all, const char *until, const void *more, size_t n)
{
    g_autoptr(GSocketClient) client = g_socket_client_new();
    g_autofree char *host = g_strdup_printf("127.0.0.1:%u", desk->port);
    g_autoptr(GSocketConnection) c =
        g_socket_client_connect_to_host(client, host, desk->port, NULL, NULL);
    if (c == NULL)
        return;
    GSocket *s = g_socket_connection_get_socket(c);
    g_socket_set_blocking(s, FALSE);
    g_socket_send(s, all->str, all->len, NULL, NULL);
    if (until == NULL)
        g_socket_shutdown(s, FALSE, TRUE, NULL);
    char answer[4096] = "";
    for (int i = 0; i < 100; i++) {
        while (g_main_context_iteration(NULL, FALSE))
            ;
        const gssize got = g_socket_receive(s, answer, sizeof answer - 1, NULL, NULL);
        if (got == 0)
            break;
        if (got > 0 && until != NULL && memcmp(answer, until, strlen(until)) == 0) {
            g_socket_send(s, more, n, NULL, NULL);
            g_socket_shutdown(s, FALSE, TRUE, NULL);
            until = NULL;
        }
    }
    settle();
}

/* The head of a request that may be made. */
static GString *our_head(const char *method, const char *path, int length)
{
    g_autofree char *host = g_strdup_printf("127.0.0.1:%u", desk->port);
    g_autofree char *cookie = dt_guard_cookie_name(desk->port);
    GString *all = g_string_new(NULL);
    g_string_append_printf(
        all, "%s /%.*s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: %s=%s\r\n", method,
        length, path, host, host, cookie, desk->secret);
    return all;
}

/* As a request, whose head is ours where `may` is set. */
static void send_bytes(const char *text, size_t n, gboolean may)
{
    const char *path_end = may ? memchr(text, '\n', n) : NULL;
    const size_t skip = path_end ? (size_t)(path_end + 1 - text) : 0;
    GString *all = path_end ? our_head("POST", text, (int)(path_end - text)) : g_string_new(NULL);
    if (path_end != NULL)
        g_string_append_printf(all, "Content-Type: application/json\r\nContent-Length: %zu\r\n\r\n",
                               n - skip);
    g_string_append_len(all, text + skip, (gssize)(n - skip));
    talk(all, NULL, NULL, 0);
    g_string_free(all, TRUE);
}

static void get(const char *path)
{
    g_autoptr(GString) all = our_head("GET", path, (int)strcspn(path, "\r\n "));
    g_string_append(all, "\r\n");
    talk(all, NULL, NULL, 0);
}

/* After a handshake (RFC 6455 4.1) the bytes as they are, or masked as the payload of a frame whose first
 * byte is the first of them (5.2). */
static void send_frames(const guint8 *data, size_t n, gboolean whole)
{
    enum { SHORT = 125, MASK = 4 };
    g_autoptr(GString) all = our_head("GET", "events", 6);
    g_autoptr(GByteArray) frame = g_byte_array_new();
    g_string_append(
        all, "Upgrade: websocket\r\nConnection: Upgrade\r\n"
             "Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n");
    if (whole && n > 0) {
        const size_t length = MIN(n - 1, SHORT);
        const guint8 head[2 + MASK] = {data[0], (guint8)(0x80 | length), 1, 2, 3, 4};
        g_byte_array_append(frame, head, sizeof head);
        for (size_t i = 0; i < length; i++) {
            const guint8 byte = data[1 + i] ^ head[2 + i % MASK];
            g_byte_array_append(frame, &byte, 1);
        }
    } else {
        g_byte_array_append(frame, data, (guint)n);
    }
    talk(all, "HTTP/1.1 101", frame->data, frame->len);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (desk == NULL)
        start_desk();
    if (size < 2)
        return 0;
    g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
    const guint8 *rest = data + 1;
    const size_t n = size - 1;
    switch ((data[0] - '0') & 7) {
    case 0:
        act((const char *)rest, n);
        break;
    case 1:
        judge(text);
        break;
    case 2:
        if (__lsan_disable != NULL)
            __lsan_disable();
        send_bytes((const char *)rest, n, FALSE);
        if (__lsan_enable != NULL)
            __lsan_enable();
        break;
    case 3:
        send_bytes((const char *)rest, n, TRUE);
        break;
    case 4:
    case 5:
        send_frames(rest, n, data[0] & 1);
        break;
    default:
        get(text);
    }
    return 0;
}
