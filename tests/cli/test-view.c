/* view: what a run shows on a terminal of any width, line by line elsewhere, and for programs; word by
 * word, read from the other end of the terminal. */
#include "cli/print.h"
#include "cli/view.h"

#include <fcntl.h>
#include <pty.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

/* Standard output as a terminal of so many columns, or (0) as a pipe. */
typedef struct {
    int from, stdout_before;
} Screen;

static Screen screen_new(unsigned columns)
{
    Screen s;
    int to, ends[2];
    struct termios raw;
    struct winsize size = {.ws_row = 24, .ws_col = (unsigned short)columns};
    cfmakeraw(&raw);
    if (columns > 0)
        g_assert_cmpint(openpty(&s.from, &to, NULL, &raw, &size), ==, 0);
    else {
        g_assert_cmpint(pipe(ends), ==, 0);
        s.from = ends[0];
        to = ends[1];
    }
    fflush(stdout);
    s.stdout_before = dup(STDOUT_FILENO);
    dup2(to, STDOUT_FILENO);
    close(to);
    fcntl(s.from, F_SETFL, O_NONBLOCK);
    return s;
}

/* What was written to it, with CR as "<" and ESC as "^"; it is taken away. */
static char *screen_end(Screen *s)
{
    char text[4096];
    gssize all = 0;
    fflush(stdout);
    for (gssize n; (n = read(s->from, text + all, sizeof text - 1 - (gsize)all)) > 0;)
        all += n;
    text[all] = '\0';
    dup2(s->stdout_before, STDOUT_FILENO);
    close(s->stdout_before);
    close(s->from);
    for (char *c = text; *c != '\0'; c++)
        *c = *c == '\r' ? '<' : *c == '\033' ? '^' : *c;
    return g_strdup(text);
}

static DtEvent progress(double done, const char *pen)
{
    DtEvent e = {.kind = DT_EVENT_PROGRESS,
                 .at = {.state = DT_STATE_DRAWING,
                        .done = done,
                        .left_s = 75,
                        .ink_mm = 12.4,
                        .stroke = 3,
                        .strokes = 9}};
    g_strlcpy(e.at.pen_name, pen, sizeof e.at.pen_name);
    return e;
}

#define REST "%  red, 12 mm of ink, 1 min 15 s left"

/* Behind the bar stand 42 columns, and 3 more stay for its brackets and the last column: where less than
 * 8 are left there is none, and 40 are enough. */
static void test_the_bar_fits_the_terminal(void)
{
    static const struct {
        unsigned columns;
        double done;
        const char *line;
    } cases[] = {
        {120, 0.256, "[##########..............................]  25 " REST},
        {120, 0, "[........................................]   0 " REST},
        {120, 1, "[########################################] 100 " REST},
        {80, 0.999, "[##################################.]  99 " REST},
        {60, 0.5, "[#######........]  50 " REST},
        {53, 0.5, "[####....]  50 " REST},
        {52, 0.5, "  50 " REST},
        {30, 0.5, "  50 %  red, 12 mm of ink, 1 "},
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Screen s = screen_new(cases[i].columns);
        DtRunView v = dt_run_view(p, FALSE, FALSE);
        const DtEvent e = progress(cases[i].done, "red");
        dt_run_view_show(&v, &e);
        const gboolean open = v.line_open;
        dt_run_view_close(&v);
        dt_run_view_close(&v); /* once is enough */
        g_autofree char *have = screen_end(&s);
        g_autofree char *wanted = g_strdup_printf("<^[K%s\n", cases[i].line);
        g_assert_true(v.terminal && open && !v.line_open);
        g_assert_cmpstr(have, ==, wanted);
    }
}

static DtEvent event_in(DtEventKind kind, DtState state, DtWaits waits, guint may)
{
    return (DtEvent){.kind = kind, .at = {.state = state, .waits = waits, .may = may}};
}

/* A message ends the line of the progress; what waits for a person says what goes on. */
static void test_messages_stand_on_lines_of_their_own(void)
{
    static const guint go_on = 1u << DT_REQUEST_GO_ON, park = 1u << DT_REQUEST_PARK;
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *by_signal =
        g_strdup_printf("paused     with the pen up; kill -USR1 %d goes on\n", (int)getpid());
    const struct {
        gboolean keys;
        DtEvent event;
        const char *said;
    } cases[] = {
        {TRUE, event_in(DT_EVENT_STATE, DT_STATE_HOMING, DT_WAITS_FOR_NOTHING, 0),
         "homing     keep clear of the axes\n"},
        {TRUE, event_in(DT_EVENT_STATE, DT_STATE_DRAWING, DT_WAITS_FOR_NOTHING, 0), ""},
        {TRUE, event_in(DT_EVENT_PAUSED, DT_STATE_PAUSED, DT_WAITS_FOR_PERSON, go_on | park),
         "paused     with the pen up; Enter goes on\n"
         "           a and Enter parks it out of the way, q and Enter ends the run\n"},
        {TRUE, event_in(DT_EVENT_PAUSED, DT_STATE_PAUSED, DT_WAITS_FOR_PERSON, go_on),
         "paused     with the pen up; Enter goes on\n"},
        {FALSE, event_in(DT_EVENT_PAUSED, DT_STATE_PAUSED, DT_WAITS_FOR_PERSON, go_on | park),
         by_signal},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        for (int behind_progress = 0; behind_progress < 2; behind_progress++) {
            Screen s = screen_new(200);
            DtRunView v = dt_run_view(p, FALSE, cases[i].keys);
            const DtEvent before = progress(0.5, "red");
            if (behind_progress)
                dt_run_view_show(&v, &before);
            dt_run_view_show(&v, &cases[i].event);
            g_autofree char *have = screen_end(&s);
            const char *line = strrchr(have, '<');
            const char *rest = behind_progress ? strstr(line, "left") + 4 : have;
            if (behind_progress && *cases[i].said != '\0')
                g_assert_cmpint(*rest++, ==, '\n');
            g_assert_cmpstr(rest, ==, cases[i].said);
        }
}

/* The end shows the whole bar once more, unless it failed, which the caller says. */
static void test_the_end_is_shown(void)
{
    for (int failed = 0; failed < 2; failed++) {
        g_autoptr(DtProfile) p = dt_profile_new();
        g_autoptr(GError) error = g_error_new(DT_ERROR, DT_ERROR_IO, "worn out");
        DtEvent e = progress(1, "");
        e.kind = DT_EVENT_ENDED;
        e.at.state = failed ? DT_STATE_FAILED : DT_STATE_DONE;
        e.error = failed ? error : NULL;
        Screen s = screen_new(60);
        DtRunView v = dt_run_view(p, FALSE, TRUE);
        dt_run_view_show(&v, &e);
        g_autofree char *have = screen_end(&s);
        g_assert_cmpstr(have, ==,
                        failed ? ""
                               : "<^[K[####################] 100 %  12 mm of ink, 1 min 15 s left\n"
                                 "done       3 strokes, 0.01 m of ink, 0.00 m of travel\n");
    }
}

/* Without a terminal a line each tenth. */
static void test_without_a_terminal_each_tenth_is_a_line(void)
{
    static const double done[] = {0, 0.05, 0.0999, 0.1, 0.1, 0.19, 0.42, 1, 1};
    g_autoptr(DtProfile) p = dt_profile_new();
    Screen s = screen_new(0);
    DtRunView v = dt_run_view(p, FALSE, FALSE);
    g_assert_false(v.terminal);
    for (gsize i = 0; i < G_N_ELEMENTS(done); i++) {
        const DtEvent e = progress(done[i], "red");
        dt_run_view_show(&v, &e);
    }
    dt_run_view_say(&v, "and a word");
    g_autofree char *have = screen_end(&s);
    g_assert_cmpstr(have, ==,
                    "        0 %  12 mm of ink, stroke 3 of 9, 1 min 15 s left\n"
                    "       10 %  12 mm of ink, stroke 3 of 9, 1 min 15 s left\n"
                    "       42 %  12 mm of ink, stroke 3 of 9, 1 min 15 s left\n"
                    "      100 %  12 mm of ink, stroke 3 of 9, 1 min 15 s left\n"
                    "and a word\n");
}

/* For programs an object a line, and nothing else. */
static void test_for_programs_each_event_is_a_line(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    Screen s = screen_new(60);
    DtRunView v = dt_run_view(p, TRUE, FALSE);
    const DtEvent e = progress(0.5, "red"),
                  homing = event_in(DT_EVENT_STATE, DT_STATE_HOMING, DT_WAITS_FOR_NOTHING, 0);
    dt_run_view_show(&v, &e);
    dt_run_view_say(&v, "not for programs");
    dt_run_view_show(&v, &homing);
    g_autofree char *have = screen_end(&s);
    g_auto(GStrv) lines = g_strsplit(have, "\n", -1);
    g_assert_cmpuint(g_strv_length(lines), ==, 3);
    g_assert_true(g_str_has_prefix(lines[0], "{\"event\":\"progress\",\"state\":\"drawing\""));
    g_assert_true(g_str_has_prefix(lines[1], "{\"event\":\"state\",\"state\":\"homing\""));
    g_assert_true(g_str_has_suffix(lines[0], "}") && g_str_has_suffix(lines[1], "}"));
    g_assert_cmpstr(lines[2], ==, "");
}

/* What comes from files and boards moves no cursor; a wide name is cut by letters, not by bytes. */
static void test_a_line_is_cut_to_the_terminal(void)
{
    static const struct {
        unsigned columns;
        const char *text, *shown;
    } cases[] = {
        {30, "twenty-nine columns are enough", "twenty-nine columns are enoug"},
        {30, "short", "short"},
        {5, "never less than nineteen", "never less than nin"},
        {30,
         "K\xc3\xbc"
         "chentisch \xc3\xa4\xc3\xb6\xc3\xbc \xc3\x9f und mehr davon, viel mehr",
         "K\xc3\xbc"
         "chentisch \xc3\xa4\xc3\xb6\xc3\xbc \xc3\x9f und mehr da"},
        {30, "", ""},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Screen s = screen_new(cases[i].columns);
        g_assert_cmpuint(dt_cli_width(stdout), ==, cases[i].columns);
        dt_cli_show_line(stdout, cases[i].text);
        g_autofree char *have = screen_end(&s), *wanted = g_strconcat("<^[K", cases[i].shown, NULL);
        g_assert_cmpstr(have, ==, wanted);
    }
    Screen pipe = screen_new(0);
    g_assert_cmpuint(dt_cli_width(stdout), ==, 0);
    dt_cli_show_line(stdout, "bell \a");
    g_autofree char *have = screen_end(&pipe);
    g_assert_null(strchr(have, '\a'));
}

/* On a terminal lines break between words; a report for programs never does. */
static void test_lines_break_at_the_width(void)
{
    static const char text[] = "one two three four five six seven eight nine ten eleven twelve\n";
    for (int json = 0; json < 2; json++) {
        Screen s = screen_new(40);
        dt_cli_print_report(text, json);
        g_autofree char *have = screen_end(&s);
        if (json) {
            g_assert_cmpstr(have, ==, text);
            continue;
        }
        g_auto(GStrv) lines = g_strsplit(have, "\n", -1);
        g_assert_cmpuint(g_strv_length(lines), ==, 3);
        for (char **l = lines; *l != NULL; l++)
            g_assert_cmpuint(strlen(*l), <=, 40);
        g_assert_true(g_str_has_prefix(lines[0], "one two") &&
                      g_str_has_suffix(lines[1], "twelve"));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/cli/view/bar", test_the_bar_fits_the_terminal);
    g_test_add_func("/cli/view/messages", test_messages_stand_on_lines_of_their_own);
    g_test_add_func("/cli/view/end", test_the_end_is_shown);
    g_test_add_func("/cli/view/plain", test_without_a_terminal_each_tenth_is_a_line);
    g_test_add_func("/cli/view/programs", test_for_programs_each_event_is_a_line);
    g_test_add_func("/cli/view/line", test_a_line_is_cut_to_the_terminal);
    g_test_add_func("/cli/view/words", test_lines_break_at_the_width);
    return g_test_run();
}
