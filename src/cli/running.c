/* running: shows a run and lets a person steer it. */
#include "cli/running.h"
#include "drawtrue/json.h"

#include <errno.h>
#include <fcntl.h>
#include <gio/gio.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { PLAIN_EVERY_US = 10 * G_USEC_PER_SEC };

#define KEYS                                                                                       \
    "keys       with Enter: p pauses at the next lift, h at once, c at the next pen change;\n"     \
    "           a parks to look at the sheet, Enter alone goes on, q ends the run"

static char *port, *machine, *journal;
static gboolean pens_ready, as_json, other_machine, doubts, background;
static double replug_s;

const GOptionEntry dt_cli_running_entries[] = {
    {"port", 'p', 0, G_OPTION_ARG_FILENAME, &port, "Serial port of the controller", "PORT"},
    {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine, "Machine profile", "FILE"},
    {"pens-ready", 0, 0, G_OPTION_ARG_NONE, &pens_ready, "Do not wait at pen changes", NULL},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Print events as JSON, one on each line", NULL},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal, "Keep the journal in this file", "FILE"},
    {"replug", 0, 0, G_OPTION_ARG_DOUBLE, &replug_s, "Wait this long for an unplugged port (600 s)",
     "SECONDS"},
    {"other-machine", 0, 0, G_OPTION_ARG_NONE, &other_machine,
     "Draw though the program was made for another machine or an older profile", NULL},
    {"despite-doubts", 0, 0, G_OPTION_ARG_NONE, &doubts,
     "Draw though 'drawtrue inspect' says that it will look wrong", NULL},
    {"background", 0, 0, G_OPTION_ARG_NONE, &background,
     "Leave the terminal and go on drawing; 'drawtrue log' shows how it fares", NULL},
    G_OPTION_ENTRY_NULL,
};

const char *dt_cli_running_machine(void)
{
    return machine;
}

DtRunOptions dt_cli_running_options(void)
{
    return (DtRunOptions){
        .port = port,
        .journal = journal,
        .pens_ready = pens_ready,
        .replug_s = replug_s,
        .doubts = doubts,
        .other_machine = other_machine,
    };
}

static int reads_keys; /* atomic: lines typed are read */

void dt_cli_running_accept_machine(void)
{
    other_machine = TRUE;
}

/* What is shown ------------------------------------------------------------------------------- */

typedef struct {
    gboolean terminal;  /* one line that is written over */
    gboolean line_open; /* such a line stands there now */
    gint64 shown_us;
    int shown_tenth;
} View;

static int terminal_width(void)
{
    struct winsize w;
    return ioctl(STDOUT_FILENO, TIOCGWINSZ, &w) == 0 && w.ws_col > 20 ? w.ws_col : 80;
}

static void close_line(View *v)
{
    if (v->line_open)
        putchar('\n');
    v->line_open = FALSE;
}

static void show_bar(View *v, const DtRunEvent *e)
{
    g_autofree char *left = dt_base_duration(e->left_s);
    g_autofree char *rest =
        g_strdup_printf(" %3.0f %%  %s%s%.0f mm of ink, %s left", floor(e->done * 100),
                        *e->pen_name ? e->pen_name : "", *e->pen_name ? ", " : "", e->ink_mm, left);
    const int room = terminal_width() - 1;
    const int bar = CLAMP(room - (int)g_utf8_strlen(rest, -1) - 2, 0, 40);
    fputs("\r\033[K", stdout);
    if (bar >= 8) {
        const int full = (int)(e->done * bar);
        putchar('[');
        for (int i = 0; i < bar; i++)
            putchar(i < full ? '#' : '.');
        putchar(']');
    }
    const char *end = g_utf8_validate(rest, -1, NULL) && g_utf8_strlen(rest, -1) > room
                          ? g_utf8_offset_to_pointer(rest, room)
                          : rest + strlen(rest);
    fwrite(rest, 1, (size_t)(end - rest), stdout);
    fflush(stdout);
    v->line_open = TRUE;
}

static void show_plain(View *v, const DtRunEvent *e)
{
    const gint64 now = g_get_monotonic_time();
    const int tenth = (int)(e->done * 10);
    if (tenth == v->shown_tenth && now - v->shown_us < PLAIN_EVERY_US)
        return;
    v->shown_tenth = tenth;
    v->shown_us = now;
    g_autofree char *left = dt_base_duration(e->left_s);
    printf("%9.0f %%  %.0f mm of ink, stroke %zu of %zu, %s left\n", floor(e->done * 100),
           e->ink_mm, e->stroke, e->strokes, left);
}

/* What makes the run go on. */
static const char *go_on_by(void)
{
    static char text[64];
    if (g_atomic_int_get(&reads_keys))
        return "Enter goes on";
    g_snprintf(text, sizeof text, "kill -USR1 %d goes on", (int)getpid());
    return text;
}

static void show_pen_change(View *v, const DtRunEvent *e, const DtProfile *p)
{
    close_line(v);
    g_autofree char *wait =
        e->text ? g_strdup_printf("; %s, and %s", e->text, go_on_by()) : g_strdup("");
    if (e->pen >= 0) {
        const DtPen *pen = &p->rack.pens[e->pen];
        printf("pen        %s: colour #%02x%02x%02x, tip %g mm%s\n", e->pen_name,
               (unsigned)lround(pen->colour.r * 255), (unsigned)lround(pen->colour.g * 255),
               (unsigned)lround(pen->colour.b * 255), pen->tip, wait);
    } else if (*e->pen_name) {
        printf("pen        %s%s\n", e->pen_name, wait);
    } else {
        printf("stop       the program asks for a person%s%s\n", e->text ? "; " : "",
               e->text ? go_on_by() : "");
    }
}

static void show(View *v, const DtRunEvent *e, const DtProfile *p)
{
    switch (e->kind) {
    case DT_RUN_PROGRESS:
        if (v->terminal)
            show_bar(v, e);
        else
            show_plain(v, e);
        break;
    case DT_RUN_PEN_CHANGE:
        show_pen_change(v, e, p);
        break;
    case DT_RUN_PAUSED:
        close_line(v);
        printf("paused     %s; %s\n", e->text, go_on_by());
        if (g_atomic_int_get(&reads_keys))
            puts("           a and Enter parks it out of the way, q and Enter ends the run");
        break;
    case DT_RUN_DONE:
        if (v->terminal)
            show_bar(v, e);
        close_line(v);
        printf("done       %zu %s, %.2f m of ink, %.2f m of travel\n", e->stroke,
               e->stroke == 1 ? "stroke" : "strokes", e->ink_mm / 1000, e->travel_mm / 1000);
        break;
    case DT_RUN_REPEATED:
    case DT_RUN_REFUSED:
        break; /* mended already; reported at the end */
    case DT_RUN_RECOVERED:
        close_line(v);
        printf("goes on    homed again at stroke %zu of %zu\n", e->stroke + 1, e->strokes);
        break;
    case DT_RUN_WAITING:
        close_line(v);
        printf("board      %s\n", e->text);
        break;
    }
    fflush(stdout);
}

static void print_json(const DtRunEvent *e)
{
    static const char *const names[] = {"waiting", "progress", "pen-change", "repeated",
                                        "refused", "paused",   "recovered",  "done"};
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "event", names[e->kind]);
    dt_json_number(b, "done", e->done);
    dt_json_number(b, "left_s", e->left_s);
    dt_json_number(b, "ink_mm", e->ink_mm);
    dt_json_number(b, "travel_mm", e->travel_mm);
    dt_json_text(b, "pen", e->pen_name);
    dt_json_count(b, "line", e->line);
    dt_json_count(b, "stroke", e->stroke);
    dt_json_count(b, "strokes", e->strokes);
    if (e->text != NULL) {
        dt_json_text(b, "text", e->text);
    }
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, FALSE);
    puts(text);
    fflush(stdout);
}

/* A person steers --------------------------------------------------------------------------- */

static DtRunner *steered; /* for the signal handlers and the keys */
static volatile sig_atomic_t interrupts;

static void on_signal(int number)
{
    const int before = errno; /* of what was interrupted */
    if (steered == NULL)
        _exit(DT_ERROR_INPUT);
    if (number == SIGUSR1)
        dt_run_go_on(steered);
    else if (number == SIGUSR2 || (number == SIGINT && interrupts++ == 0))
        dt_run_pause_at_lift(steered);
    else
        dt_run_stop(steered);
    errno = before;
}

static void catch_signals(void)
{
    struct sigaction a = {.sa_handler = on_signal};
    sigemptyset(&a.sa_mask);
    sigaction(SIGINT, &a, NULL);
    sigaction(SIGTERM, &a, NULL);
    sigaction(SIGUSR1, &a, NULL);
    sigaction(SIGUSR2, &a, NULL);
    /* A run does not die with its terminal. */
    signal(SIGHUP, SIG_IGN);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGTTIN, SIG_IGN);
    signal(SIGTTOU, SIG_IGN);
}

static const struct {
    char key;
    void (*wish)(DtRunner *r);
    const char *said; /* at once, as the wish may come true only later */
} keys[] = {
    {'\n', dt_run_go_on, NULL},
    {'p', dt_run_pause_at_lift, "pauses at the next lift"},
    {'c', dt_run_pause_at_change, "waits at the next pen change"},
    {'h', dt_run_pause_now, NULL},
    {'a', dt_run_park, "parks at the next lift"},
    {'q', dt_run_stop, "ends the run"},
};

static void take_key(DtRunner *r, char key)
{
    if (key == '\n')
        interrupts = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(keys); i++) {
        if (keys[i].key != key)
            continue;
        keys[i].wish(r);
        if (keys[i].said != NULL && !as_json)
            printf("%s%c          %s\n", isatty(STDOUT_FILENO) ? "\r\033[K" : "", key,
                   keys[i].said);
    }
}

/* Lines typed; see KEYS. Ends with the input; a terminal that has the run in its background is
 * tried again. */
static gpointer read_keys(gpointer data)
{
    char line[64];
    struct pollfd in = {STDIN_FILENO, POLLIN, 0};
    while (g_atomic_int_get(&reads_keys)) {
        if (poll(&in, 1, 200) <= 0)
            continue;
        ssize_t n = read(STDIN_FILENO, line, sizeof line);
        if (n > 0)
            take_key(data, line[0]);
        else if (n < 0 && errno == EIO && isatty(STDIN_FILENO))
            g_usleep(G_USEC_PER_SEC);
        else
            g_atomic_int_set(&reads_keys, FALSE);
    }
    return NULL;
}

/* A terminal or a pipe; a file or nothing types no lines. */
static gboolean has_keys(void)
{
    struct stat st;
    return isatty(STDIN_FILENO) ||
           (fstat(STDIN_FILENO, &st) == 0 && (S_ISFIFO(st.st_mode) || S_ISSOCK(st.st_mode)));
}

/* In the background ------------------------------------------------------------------------- */

static gboolean detached; /* this process has told its parent that it draws */

static void replace_fd(int fd, int by)
{
    if (dup2(by, fd) < 0)
        _exit(DT_ERROR_IO);
}

/* The parent stays until the run draws or has failed, and passes on what it says until then. */
static int watch_start(pid_t child, int from)
{
    g_autoptr(GString) text = g_string_new(NULL);
    char bytes[512];
    for (ssize_t n; (n = read(from, bytes, sizeof bytes)) > 0;)
        g_string_append_len(text, bytes, n);
    if (g_str_has_prefix(text->str, "background")) {
        fputs(text->str, stdout);
        return 0;
    }
    fputs(text->str, stderr);
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : DT_ERROR_IO;
}

/* TRUE in the process that draws. */
static gboolean leave_terminal(int *code, GError **error)
{
    int ends[2];
    const int nothing = open("/dev/null", O_RDWR | O_CLOEXEC);
    fflush(NULL);
    const pid_t child = nothing < 0 || pipe(ends) != 0 ? -1 : fork();
    if (child < 0) {
        *code = DT_ERROR_IO;
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "cannot leave the terminal: %s",
                    g_strerror(errno));
        return FALSE;
    }
    if (child > 0) {
        close(ends[1]);
        *code = watch_start(child, ends[0]);
        close(ends[0]);
        return FALSE;
    }
    setsid();
    close(ends[0]);
    replace_fd(STDIN_FILENO, nothing);
    replace_fd(STDOUT_FILENO, nothing);
    replace_fd(STDERR_FILENO, ends[1]);
    close(ends[1]);
    return TRUE;
}

static void tell_parent(gint64 id)
{
    fprintf(stderr,
            "background run %" G_GINT64_FORMAT " draws as process %d; 'drawtrue log' shows it\n"
            "           kill -USR2 %d pauses it at the next lift, kill -USR1 %d goes on (after a\n"
            "           pen change too), kill %d ends it with the pen up\n",
            id, (int)getpid(), (int)getpid(), (int)getpid(), (int)getpid());
    fflush(stderr);
    replace_fd(STDERR_FILENO, STDOUT_FILENO);
    detached = TRUE;
}

void dt_cli_running_tell_paper(const DtProfile *p)
{
    if (!as_json)
        printf(
            "paper      %s, %g x %g mm, its lower left corner %g mm right of and %g mm behind the "
            "origin\n",
            p->paper_name ? p->paper_name : "sheet", p->paper_w, p->paper_h, p->paper_at.x,
            p->paper_at.y);
}

void dt_cli_running_tell_resumed(const DtRunner *r)
{
    if (as_json)
        return;
    size_t drawn;
    const size_t strokes = dt_run_strokes(r, &drawn);
    g_autofree char *program = g_path_get_basename(dt_run_program(r));
    printf("resumes    run %" G_GINT64_FORMAT ", %s: homes, then stroke %zu of %zu\n", dt_run_id(r),
           program, MIN(drawn + 1, strokes), strokes);
}

void dt_cli_running_caution(const DtProfile *p)
{
    g_auto(DtLog) log = {0};
    if (as_json || !dt_log_read(journal, &log, NULL))
        return;
    for (size_t i = 0; i < log.n_runs; i++)
        if (g_strcmp0(log.runs[i].machine, p->name) == 0)
            return;
    fputs(
        "First run on this machine. Keep fingers, hair and cables away from what moves, stay with\n"
        "it while it runs, and know how to cut its supply. Motors and drivers get hot, and no "
        "more\n"
        "current may be drawn than the supply is made for. Where a laser is fitted: eyes "
        "protected\n"
        "for its wavelength, an enclosure, fumes led away, something at hand against fire. Local\n"
        "rules and trained people come first.\n",
        stderr);
}

typedef struct {
    View view;
    const DtProfile *profile;
} Listening;

static void listen(const DtRunEvent *e, void *user)
{
    Listening *l = user;
    if (background) {
        if (!detached && e->kind != DT_RUN_WAITING)
            tell_parent(dt_run_id(steered));
        return;
    }
    if (as_json)
        print_json(e);
    else
        show(&l->view, e, l->profile);
}

int dt_cli_running_draw(const DtProfile *p, DtCliRunnerMaker make, void *user, GError **error)
{
    Listening l = {{.terminal = isatty(STDOUT_FILENO), .shown_tenth = -1}, p};
    DtRunOptions o = dt_cli_running_options();
    o.listener = listen;
    o.user = &l;
    int code = 0;
    if (!(replug_s >= 0)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "--replug takes 0 seconds or more");
        return DT_ERROR_USAGE;
    }
    if (background && !leave_terminal(&code, error))
        return code;
    catch_signals();
    g_autoptr(DtRunner) r = make(p, &o, user, error);
    if (r == NULL)
        return DT_ERROR_INPUT;
    steered = r;
    g_atomic_int_set(&reads_keys, !background && has_keys());
    if (reads_keys && !as_json)
        puts(KEYS);
    GThread *typed = reads_keys ? g_thread_new("keys", read_keys, r) : NULL;
    const gboolean good = dt_run_draw(r, error);
    close_line(&l.view);
    g_atomic_int_set(&reads_keys, FALSE);
    if (typed != NULL)
        g_thread_join(typed);
    steered = NULL;
    if (!good && g_error_matches(*error, G_IO_ERROR, G_IO_ERROR_CANCELLED)) {
        g_autofree char *text = g_strdup((*error)->message);
        g_clear_error(error);
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, text);
    }
    return good ? 0 : DT_ERROR_INPUT;
}
