/* test-room: how full the receive interrupt finds the receive buffer, wherever it interrupts the main loop. A
 * sender fills the buffer to the last byte that is not answered; if a line counted twice even for one
 * instruction, a byte that came just then would be lost. */
#include "support/board.h"

#include <signal.h>
#include <sys/mman.h>
#include <sys/ptrace.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct {
    unsigned most;          /* bytes ever counted */
    unsigned long stepped;  /* machine instructions */
    gboolean watched, done; /* to the end */
} Seen;

static unsigned counted(const DtController *c)
{
    return (DtRxCount)((DtRxCount)(c->rx_head - c->rx_tail) + c->rx_owed);
}

/* In a process of its own, halted before the main loop gets to work. */
static void work(Board *b)
{
    if (ptrace(PTRACE_TRACEME, 0, NULL, NULL) != 0)
        _exit(1);
    raise(SIGSTOP);
    while (dt_controller_poll(&b->core)) {
    }
    _exit(0);
}

/* Looks at the counts between any two instructions of the main loop. */
static Seen watch(Board *b)
{
    Seen s = {0};
    int status = 0;
    const pid_t child = fork();
    if (child == 0)
        work(b);
    while (waitpid(child, &status, 0) == child && WIFSTOPPED(status)) {
        const int by = WSTOPSIG(status);
        s.watched |= by == SIGSTOP;
        s.most = MAX(s.most, counted(&b->core));
        s.stepped++;
        if (ptrace(PTRACE_SINGLESTEP, child, NULL, NULL) != 0)
            break;
    }
    s.done = WIFEXITED(status) && WEXITSTATUS(status) == 0;
    return s;
}

/* Lines are taken while a dwell lasts, and answered behind it. */
static void test_a_line_counts_once(void)
{
    static const char lines[] = "G4 P0.5\nG1 F600 X1\nX2\nX3\n";
    Board *b = mmap(NULL, sizeof *b, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    g_assert_true(b != MAP_FAILED);
    board_init(b, NULL);
    board_home(b);
    for (const char *p = lines; *p; p++)
        g_assert_true(dt_controller_receive(&b->core, (uint8_t)*p));
    const Seen s = watch(b);
    if (!s.watched) {
        g_test_skip("no process can be traced here");
    } else {
        g_assert_true(s.done);
        g_assert_cmpuint(s.stepped, >, 1000);
        g_assert_cmpuint(b->core.rx_owed, >, 0); /* the dwell still lasts */
        g_assert_cmpuint(s.most, ==, strlen(lines));
    }
    board_clear(b);
    munmap(b, sizeof *b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/controller/room/a-line-counts-once", test_a_line_counts_once);
    return g_test_run();
}
