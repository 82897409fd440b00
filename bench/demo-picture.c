/* demo-picture: artwork, uncorrected ink and corrected ink side by side. */
#include "demo.h"
#include "drawtrue/proof.h"

#define WIDTH_PX 2000

static const DtColour plan_colour = {0.0, 0.45, 1.0, 1.0};

/* The landed ink of each pen, and over it the planned lines where a detail shows them. */
typedef struct {
    DtLines *lines; /* one for each pen, then the plan */
    DtProofLayer *layers;
    size_t n_pens;
} Layers;

static void layers_init(Layers *l, const DtProfile *p, const WitnessInk *landed,
                        const WitnessInk *planned)
{
    l->n_pens = p->rack.n;
    l->lines = g_new(DtLines, l->n_pens + 1);
    l->layers = g_new(DtProofLayer, l->n_pens + 1);
    for (size_t i = 0; i < l->n_pens; i++) {
        const DtPen *pen = &p->rack.pens[i];
        dt_lines_init(&l->lines[i]);
        l->layers[i] = (DtProofLayer){&l->lines[i], pen->colour, pen->tip};
    }
    dt_lines_init(&l->lines[l->n_pens]);
    l->layers[l->n_pens] = (DtProofLayer){&l->lines[l->n_pens], plan_colour, 0};
    const WitnessInk *both[] = {landed, planned};
    for (size_t k = 0; k < 2; k++)
        for (guint i = 0; i < both[k]->lines->len; i++) {
            const WitnessLine *line = &g_array_index(both[k]->lines, WitnessLine, i);
            DtLines *to = &l->lines[k == 1 ? l->n_pens : line->pen];
            dt_lines_append(to, &g_array_index(both[k]->pts, DtPoint, line->first), line->n, FALSE);
        }
}

static void layers_clear(Layers *l)
{
    for (size_t i = 0; i <= l->n_pens; i++)
        dt_lines_clear(&l->lines[i]);
    g_free(l->lines);
    g_free(l->layers);
}

static char *figures_of(const Verdict *v)
{
    return g_strdup_printf("ink error %.2f mm for 95 of 100 samples, at most %.2f mm\n"
                           "covered area agrees to %.1f %%",
                           v->error.p95, v->error.max, 100 * v->coverage.iou);
}

gboolean demo_picture(const DtProfile *p, const DtJob *job, const DemoRun *trued,
                      const DemoRun *plain, DtBox detail, const char *path, GError **error)
{
    g_auto(WitnessInk) planned;
    verdict_planned(job, &planned);
    Layers without, with;
    layers_init(&without, p, &plain->landed, &planned);
    layers_init(&with, p, &trued->landed, &planned);
    const DtBox sheet = {p->paper_at.x, p->paper_at.y, p->paper_at.x + p->paper_w,
                         p->paper_at.y + p->paper_h};
    const size_t n = p->rack.n;
    g_autofree char *plain_figures = figures_of(&plain->verdict);
    g_autofree char *trued_figures = figures_of(&trued->verdict);
    const DtProofPanel panels[] = {
        {.title = "the drawing",
         .figures = "what the artist drew\n ",
         .view = sheet,
         .drawing = job->drawing,
         .marks = &detail,
         .n_marks = 1},
        {.title = "ink without corrections",
         .figures = plain_figures,
         .view = sheet,
         .layers = without.layers,
         .n_layers = n,
         .marks = &detail,
         .n_marks = 1},
        {.title = "ink with corrections",
         .figures = trued_figures,
         .view = sheet,
         .layers = with.layers,
         .n_layers = n,
         .marks = &detail,
         .n_marks = 1},
        {.view = detail, .drawing = job->drawing},
        {.view = detail, .layers = without.layers, .n_layers = n + 1},
        {.view = detail, .layers = with.layers, .n_layers = n + 1},
    };
    const DtProofSheet all = {
        .title = "The same drawing on the same home-made machine",
        .figures =
            "Below: the framed part magnified; thin blue lines are where the plan has the pen.",
        .profile = p,
        .panels = panels,
        .n_panels = G_N_ELEMENTS(panels),
        .columns = 3,
    };
    const gboolean ok = dt_proof_write_sheet(&all, path, WIDTH_PX, error);
    layers_clear(&without);
    layers_clear(&with);
    return ok;
}
