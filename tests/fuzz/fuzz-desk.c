/* fuzz-desk: the bytes as the JSON of each action of the desk, as the fields that its guard judges, and
 * as what comes over a connection, with and without the right to ask. */
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
    static const char *const names[] = {
        "open",         "clear",          "set-options", "choose-sheet",   "mend",
        "touch-corner", "forget-corners", "jog",         "request",        "start",
        "again",        "resume",         "begin-at",    "look-for-ports", "choose-profile",
        "new-profile",  "choose-port",    "set-keys",    "learn"};
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

/* As a request, whose head is ours where `may` is set. */
static void send_bytes(const char *text, size_t n, gboolean may)
{
    g_autoptr(GSocketClient) client = g_socket_client_new();
    g_autofree char *host = g_strdup_printf("127.0.0.1:%u", desk->port);
    g_autoptr(GSocketConnection) c =
        g_socket_client_connect_to_host(client, host, desk->port, NULL, NULL);
    if (c == NULL)
        return;
    g_autofree char *cookie = dt_guard_cookie_name(desk->port);
    const char *path_end = may ? memchr(text, '\n', n) : NULL;
    g_autoptr(GString) all = g_string_new(NULL);
    if (path_end != NULL)
        g_string_append_printf(
            all,
            "POST /%.*s HTTP/1.1\r\nHost: %s\r\nOrigin: http://%s\r\nCookie: %s=%s\r\n"
            "Content-Type: application/json\r\nContent-Length: %zu\r\n\r\n",
            (int)(path_end - text), text, host, host, cookie, desk->secret,
            n - (size_t)(path_end + 1 - text));
    const size_t skip = path_end ? (size_t)(path_end + 1 - text) : 0;
    g_string_append_len(all, text + skip, (gssize)(n - skip));
    GSocket *s = g_socket_connection_get_socket(c);
    g_socket_set_blocking(s, FALSE);
    g_socket_send(s, all->str, all->len, NULL, NULL);
    g_socket_shutdown(s, FALSE, TRUE, NULL);
    char answer[4096];
    for (int i = 0; i < 100; i++) {
        while (g_main_context_iteration(NULL, FALSE))
            ;
        if (g_socket_receive(s, answer, sizeof answer, NULL, NULL) == 0)
            break;
    }
    settle();
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (desk == NULL)
        start_desk();
    if (size < 2)
        return 0;
    g_autofree char *text = g_strndup((const char *)data + 1, size - 1);
    switch (data[0] % 4) {
    case 0:
        act((const char *)data + 1, size - 1);
        break;
    case 1:
        judge(text);
        break;
    case 2:
        if (__lsan_disable != NULL)
            __lsan_disable();
        send_bytes((const char *)data + 1, size - 1, FALSE);
        if (__lsan_enable != NULL)
            __lsan_enable();
        break;
    default:
        send_bytes((const char *)data + 1, size - 1, TRUE);
    }
    return 0;
}
