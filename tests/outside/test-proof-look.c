/* outside: the difference that a proof tells, held against librsvg's picture of the same drawing, painted
 * and blurred by another implementation (tests/support/look). */
#include "drawtrue/proof.h"
#include "support/look.h"

#include <glib/gstdio.h>

#define MOST_PENS 8
/* CSS pixels per mm. */
#define PX (96 / 25.4)

static char *examples;

static void witness_figures(const DtProfile *p, const char *svg, const DtJob *job, DtProofLook *out)
{
    g_autoptr(GError) error = NULL;
    const WitnessSheet sheet = {
        job->drawing->width * PX,
        job->drawing->height * PX,
        dt_affine_then(dt_affine_scale(1 / PX, 1 / PX), job->placed),
        {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w, p->paper_at.y + p->paper_h},
        10};
    g_auto(WitnessInk) ink = {0};
    g_auto(LookPicture) art = {0}, picture = {0};
    LookPicture near[2] = {{0}, {0}}, far[2] = {{0}, {0}};
    LookPen pens[MOST_PENS];
    for (size_t i = 0; i < p->rack.n; i++) {
        const DtColour c = p->rack.pens[i].colour;
        pens[i] = (LookPen){{c.r, c.g, c.b}, p->rack.pens[i].tip};
    }
    witness_ink_init(&ink);
    for (size_t i = 0; i < job->strokes.n; i++) {
        const DtStroke *s = &job->strokes.strokes[i];
        witness_ink_add(&ink, job->strokes.pts + s->first, s->n, s->closed != 0, s->pen);
    }
    g_assert_true(look_of_art(svg, &sheet, &art, &error));
    look_of_ink(&ink, pens, p->rack.n, &sheet, &picture);
    look_blur(&art, LOOK_NEAR, &near[0]);
    look_blur(&picture, LOOK_NEAR, &near[1]);
    look_blur(&art, LOOK_FAR, &far[0]);
    look_blur(&picture, LOOK_FAR, &far[1]);
    out->near = look_compare(&near[0], &near[1], art.painted).difference;
    const LookFigures f = look_compare(&far[0], &far[1], art.painted);
    out->far = f.difference;
    out->lightness = f.lightness;
    for (int i = 0; i < 2; i++) {
        look_clear(&near[i]);
        look_clear(&far[i]);
    }
}

/* The program's pictures have half the witness's resolution before they are blurred. */
static void compare_file(const char *svg, gboolean black_alone)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *profile = g_build_filename(examples, "workshop.ini", NULL);
    g_autoptr(DtProfile) p = dt_profile_load(profile, &error);
    g_assert_no_error(error);
    if (black_alone) {
        const gboolean keep[MOST_PENS] = {TRUE};
        dt_profile_keep_pens(p, keep);
    }
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 0;
    g_assert_true(dt_job_plan(p, svg, &o, &job, NULL, &error));
    const DtProofInput in = {.profile = p, .drawing = job.drawing, .moves = &job.moves};
    DtProofLook look, witness;
    g_assert_true(dt_proof_look(&in, &look));
    witness_figures(p, svg, &job, &witness);
    g_test_message("%s: %.2f %.2f %.2f, witness %.2f %.2f %.2f", svg, look.near, look.far,
                   look.lightness, witness.near, witness.far, witness.lightness);
    g_assert_cmpfloat_with_epsilon(look.near, witness.near, 0.8);
    g_assert_cmpfloat_with_epsilon(look.far, witness.far, 0.4);
    g_assert_cmpfloat_with_epsilon(look.lightness, witness.lightness, 0.4);
}

static void compare(const char *name, gboolean black_alone)
{
    g_autofree char *svg = g_build_filename(examples, name, NULL);
    compare_file(svg, black_alone);
}

static void test_as_a_witness_sees_it(void)
{
    compare("packet-label.svg", FALSE);
    compare("planting-calendar.svg", FALSE);
}

/* Green and terracotta drawn in black: the difference is large, and both see it alike. */
static void test_with_a_pen_missing(void)
{
    compare("garden-bed.svg", TRUE);
}

/* Greys from 30 to 60 % of white: lines with gaps of about a pixel, which must not close. */
static void test_gaps_of_a_pixel(void)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", &error);
    g_assert_no_error(error);
    g_autofree char *svg = g_build_filename(folder, "greys.svg", NULL);
    for (unsigned grey = 0x58; grey <= 0x98; grey += 0x10) {
        g_autofree char *text = g_strdup_printf(
            "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='80mm' "
            "viewBox='0 0 100 80'><rect x='10' y='10' width='60' height='60' fill='#%06x'/></svg>",
            grey * 0x010101);
        g_assert_true(g_file_set_contents(svg, text, -1, &error));
        compare_file(svg, TRUE);
    }
    g_assert_cmpint(g_remove(svg), ==, 0);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    examples = g_build_filename(argc > 1 ? argv[1] : ".", "examples", NULL);
    g_test_add_func("/outside/proof-look/witness", test_as_a_witness_sees_it);
    g_test_add_func("/outside/proof-look/pen-missing", test_with_a_pen_missing);
    g_test_add_func("/outside/proof-look/gaps", test_gaps_of_a_pixel);
    const int failed = g_test_run();
    g_free(examples);
    return failed;
}
