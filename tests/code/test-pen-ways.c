/* code: however a program means its pen, mending draws what it means, or says the doubt. */
#include "machines.h"
#include "pen-ways/trial.h"

enum { SEED = 20260 };

static const char *const vocabularies[] = {"full", "own", "plain"};

static int clear, not_drawn; /* of the programs that a person could tell */

static void test_way(gconstpointer data)
{
    const int way = GPOINTER_TO_INT(data);
    for (size_t v = 0; v < G_N_ELEMENTS(vocabularies); v++) {
        g_autoptr(DtProfile) p = machine_by_name(vocabularies[v]);
        /* each drawing in one vocabulary; ./dev corpus --mend takes all */
        for (int d = (int)v; d < ways_drawings(); d += (int)G_N_ELEMENTS(vocabularies)) {
            WayProgram program;
            g_autofree char *why = NULL;
            if (!ways_write(way, d, SEED + (guint32)d, &program))
                continue;
            const TrialResult result = trial_run(p, &program, d == way % 8, &why);
            if (result == TRIAL_WRONG)
                g_test_fail_printf("%s for %s: %s", program.name, vocabularies[v], why);
            clear += !program.unclear;
            not_drawn += !program.unclear && result != TRIAL_RIGHT;
            ways_clear(&program);
        }
    }
}

static void test_few_clear_ones_are_refused(void)
{
    g_test_message("%d of %d clear programs are not drawn", not_drawn, clear);
    g_assert_cmpint(clear, >=, 300);
    g_assert_cmpint(20 * not_drawn, <=, clear);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_assert_cmpint(ways_count(), >=, 40);
    for (int i = 0; i < ways_count(); i++) {
        g_autofree char *path = g_strdup_printf("/code/pen-ways/%s", ways_name(i));
        g_test_add_data_func(path, GINT_TO_POINTER(i), test_way);
    }
    g_test_add_func("/code/pen-ways-all/few-clear-ones-are-refused",
                    test_few_clear_ones_are_refused);
    return g_test_run();
}
