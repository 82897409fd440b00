/* look: what of the artwork is compared with the ink. */
#include "job.h"

#include <string.h>

/* Paper that the artwork paints white is not compared: with a field on a white page the look is that of the field. */
static void test_white_is_no_paint(void)
{
    static const char *const shapes[] = {"<path d='M119.2 -29.2h61.6v-30.4h-61.6z' fill='#b33'/>",
                                         "<rect y='-148' width='210' height='148' fill='#fff'/>"
                                         "<path d='M119.2 -29.2h61.6v-30.4h-61.6z' fill='#b33'/>",
                                         "<rect y='-148' width='210' height='148' fill='#fff'/>"};
    Job j;
    job_make(&j);
    DtProofLook look[3];
    for (int i = 0; i < 3; i++) {
        g_autofree char *svg =
            g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='210mm' height='148mm'"
                            " viewBox='0 -148 210 148'>%s</svg>",
                            shapes[i]);
        g_autoptr(DtDrawing) d =
            dt_art_read_data(svg, strlen(svg), "a.svg", &DT_ART_OPTIONS_DEFAULT, NULL);
        dt_art_place(d, (DtAffine){1, 0, 0, -1, 0, 148});
        const DtProofInput in = {.profile = j.p, .drawing = d, .sequence = &j.s};
        g_assert_true(dt_proof_look(&in, &look[i]) == (i < 2));
    }
    g_assert_cmpfloat(look[0].far, >, 5);
    g_assert_cmpfloat_with_epsilon(look[0].far, look[1].far, 0.5);
    g_assert_cmpfloat_with_epsilon(look[0].near, look[1].near, 0.5);
    job_clear(&j);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/proof/look/white", test_white_is_no_paint);
    return g_test_run();
}
