/* bench-faults-kinds: the kinds of faults of the campaign, and the table of what came of them. */
#include "bench-faults.h"

#include <stdio.h>

const Kind faults_kinds[KINDS] = {
    {"byte lost on the way", "lose at byte %u", TRUE, DRAWS_ON},
    {"burst of bytes lost", "lose 25 at byte %u", TRUE, DRAWS_ON},
    {"byte doubled", "double at byte %u", TRUE, DRAWS_ON},
    {"byte garbled", "garble at byte %u", TRUE, DRAWS_ON},
    {"burst garbled", "garble 12 at byte %u", TRUE, DRAWS_ON},
    {"noise that says hold", "stray 19 at byte %u", TRUE, DRAWS_ON},
    {"noise that says abandon", "stray 24 at byte %u; stray 24 at byte %u", TRUE, DRAWS_ON},
    {"reply lost", "lose-reply at line %u", FALSE, DRAWS_ON},
    {"three replies lost", "lose-reply 3 at line %u", FALSE, DRAWS_ON},
    {"reply doubled", "double-reply at line %u", FALSE, DRAWS_ON},
    {"reply garbled", "garble-reply at line %u", FALSE, DRAWS_ON},
    {"reply cut short", "cut-reply at line %u", FALSE, DRAWS_ON},
    {"an earlier reply instead", "stale-reply at line %u", FALSE, DRAWS_ON},
    {"two replies swapped", "swap-replies at line %u", FALSE, DRAWS_ON},
    {"reply forged", "forge-reply at line %u", FALSE, DRAWS_ON},
    {"two replies merged", "merge-replies at line %u", FALSE, DRAWS_ON},
    {"reply 6 s late", "late-reply 6 at line %u", FALSE, DRAWS_ON},
    {"reply late", "late-reply 0.6 at line %u", FALSE, DRAWS_ON},
    {"noisy line", "garble at every 0.002; garble-reply at every 0.01", FALSE, DRAWS_ON},
    {"noisy line, forged replies", "lose at every 0.002; forge-reply at every 0.03", FALSE,
     DRAWS_ON},
    {"board reset", "reset at line %u", FALSE, DRAWS_ON},
    {"unplugged", "unplug 0.4 at line %u", FALSE, DRAWS_ON},
    {"cable cut, board runs on", "cut 0.4 at line %u", FALSE, DRAWS_ON},
    {"silent for a while", "silence 0.8 at line %u", FALSE, DRAWS_ON},
    [SILENT] = {"silent for good", "silence at line %u", FALSE, STOPS},
    [LEARNING] = {"reset while learning", "reset at line %u", FALSE, DRAWS_ON},
    [SWITCH] = {"end switch hit", "switch x at line %u", FALSE, STOPS_AND_RESUMES},
    [REFUSED_LINE] = {"line refused", NULL, FALSE, STOPS},
    [FULL_DISK] = {"journal's disk full", NULL, FALSE, STOPS_AND_RESUMES},
    [PARKED] = {"parked by hand", NULL, FALSE, DRAWS_ON},
    [HELD] = {"held by hand", NULL, FALSE, DRAWS_ON},
    [SLEEPS] = {"Ctrl-Z, woken again", NULL, FALSE, DRAWS_ON},
    [HANGS_UP] = {"SIGHUP", NULL, FALSE, DRAWS_ON},
    [CLOSED] = {"terminal closed", NULL, FALSE, DRAWS_ON},
};

static void print_row(const char *name, const Tally *t)
{
    printf("%-26s %6u %10u %8u %8u %6u %9.2f\n", name, t->runs, t->recovered, t->stopped, t->spared,
           t->wrong, t->seconds / MAX(t->runs, 1));
}

void faults_print_table(const Tally *t)
{
    printf("\n%-26s %6s %10s %8s %8s %6s %9s\n", "kind", "runs", "recovered", "stopped", "spared",
           "wrong", "s a run");
    Tally sum = {0};
    for (unsigned k = 0; k <= KILLED; k++) {
        if (t[k].runs > 0)
            print_row(k < KINDS ? faults_kinds[k].name : "killed and resumed", &t[k]);
        sum.runs += t[k].runs;
        sum.recovered += t[k].recovered;
        sum.stopped += t[k].stopped;
        sum.spared += t[k].spared;
        sum.wrong += t[k].wrong;
        sum.seconds += t[k].seconds;
    }
    print_row("all", &sum);
}
