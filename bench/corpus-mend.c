/* corpus-mend: programs in many ways of meaning a pen, mended for three vocabularies and drawn on
 * the virtual machine.
 *
 * corpus-mend [SEED [ROUNDS [all]]]: every way with every drawing, in all vocabularies; a round takes
 * other sizes and places. One in eight is drawn on the virtual machine, or all; the others' ink is
 * what the judge finds. Ends with 1 where ink is wrong and 0 was told. */
#include "machines.h"
#include "pen-ways/trial.h"

#include <stdio.h>
#include <stdlib.h>

static const char *const vocabularies[] = {"full", "own", "plain"};

int main(int argc, char **argv)
{
    static const char *const says[TRIALS] = {"right", "in doubt, the right one named", "refused",
                                             "WRONG"};
    const guint32 seed = argc > 1 ? (guint32)strtoul(argv[1], NULL, 10) : 1;
    const int rounds = argc > 2 ? atoi(argv[2]) : 1;
    const gboolean all_on_rig = argc > 3;
    setvbuf(stdout, NULL, _IOLBF, 0);
    int count[2][TRIALS] = {{0}, {0}};
    for (int round = 0; round < rounds; round++)
        for (int way = 0; way < ways_count(); way++)
            for (int d = 0; d < ways_drawings(); d++) {
                WayProgram w;
                if (!ways_write(way, d, seed + (guint32)(1000 * round + d), &w))
                    continue;
                for (size_t v = 0; v < G_N_ELEMENTS(vocabularies); v++) {
                    g_autoptr(DtProfile) p = machine_by_name(vocabularies[v]);
                    g_autofree char *why = NULL;
                    const gboolean on_rig = all_on_rig || (way + d + (int)v) % 8 == 0;
                    const TrialResult result = trial_run(p, &w, on_rig, &why);
                    count[w.unclear ? 1 : 0][result]++;
                    if (result != TRIAL_RIGHT)
                        printf("%-8s %s for %s%s%s\n", result == TRIAL_WRONG ? "WRONG" : "", w.name,
                               vocabularies[v], why ? ": " : "", why ? why : "");
                }
                ways_clear(&w);
            }
    for (int unclear = 0; unclear < 2; unclear++) {
        int all = 0;
        for (int i = 0; i < TRIALS; i++)
            all += count[unclear][i];
        printf("%s: %d programs", unclear ? "unclear" : "clear", all);
        for (int i = 0; i < TRIALS; i++)
            printf(", %d %s", count[unclear][i], says[i]);
        printf("\n");
    }
    printf("%d ways, %d drawings, %zu vocabularies\n", ways_count(), ways_drawings(),
           G_N_ELEMENTS(vocabularies));
    return count[0][TRIAL_WRONG] + count[1][TRIAL_WRONG] > 0;
}
