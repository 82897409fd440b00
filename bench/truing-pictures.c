/* truing-pictures: the guide's picture of right and wrong readings: one vernier of a sheet as it looks with
 * a known slack. Usage: truing-pictures OUT.png */
#include "drawtrue/proof.h"
#include "drawtrue/truing.h"

#include <stdio.h>
#include <string.h>

enum { PANELS = 3, ROW = 0, LEAST = -2, MOST = 15 };

typedef struct {
    const char *title, *figures;
    double slack;
    int from, to; /* ticks in the frame */
} Example;

static const Example examples[PANELS] = {
    {"right: 6",
     "The upper tick 6 goes on in the tick below it; 5 is a little to the right, 7 to the left.",
     0.24, 6, 6},
    {"right: between 8 and 9",
     "8 is still to the right of its neighbour, 9 already to the left, both by as much.", 0.34, 8,
     9},
    {"wrong: 5",
     "A long tick catches the eye, but it does not line up. Look where upper and lower tick meet: "
     "11.",
     0.44, 5, 5},
};

/* The comb's ticks with its vernier behind by the slack; `frame` gets those of the example. */
static void add_comb(const DtTestSheet *s, const Example *e, DtLines *out, DtBox *frame)
{
    *frame = DT_BOX_EMPTY;
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        const gboolean vernier = m->kind == DT_MARK_VERNIER;
        if (m->row != ROW || (m->kind != DT_MARK_COMB && !vernier) || m->place < LEAST ||
            m->place > MOST)
            continue;
        const DtPoint by = {vernier ? e->slack : 0, 0}, from = dt_point_add(m->from, by),
                      to = dt_point_add(m->to, by);
        dt_lines_begin(out);
        dt_lines_point(out, from);
        dt_lines_point(out, to);
        if (m->place >= e->from && m->place <= e->to)
            *frame = dt_box_add_point(dt_box_add_point(*frame, from), to);
        char number[8];
        g_snprintf(number, sizeof number, "%d", m->place);
        g_auto(DtLines) letters = {0};
        if (vernier && m->place % 10 == 0 && dt_art_letters(number, 1.8, &letters, NULL, NULL)) {
            dt_lines_transform(&letters, dt_affine_translate(to.x - 0.6, MAX(from.y, to.y) + 0.8));
            dt_lines_append_lines(out, &letters);
        }
    }
    *frame = dt_box_grow(*frame, 0.7);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 1, &error);
    DtLines lines[PANELS] = {{0}};
    DtBox frames[PANELS];
    DtProofLayer layers[PANELS];
    DtProofPanel panels[PANELS];
    if (argc != 2 || s == NULL) {
        fprintf(stderr, "usage: truing-pictures OUT.png\n");
        return 2;
    }
    p->paper_w = p->paper_h = p->travel[0] = p->travel[1] = 0;
    for (int i = 0; i < PANELS; i++) {
        add_comb(s, &examples[i], &lines[i], &frames[i]);
        layers[i] = (DtProofLayer){&lines[i], p->rack.pens[0].colour, 0.35};
        panels[i] = (DtProofPanel){.title = examples[i].title,
                                   .figures = examples[i].figures,
                                   .view = dt_box_grow(dt_lines_box(&lines[i]), 1.5),
                                   .layers = &layers[i],
                                   .n_layers = 1,
                                   .marks = &frames[i],
                                   .n_marks = 1};
    }
    const DtProofSheet sheet = {.title = "Which number lines up?",
                                .profile = p,
                                .panels = panels,
                                .n_panels = PANELS,
                                .columns = 1};
    const gboolean good = dt_proof_write_sheet(&sheet, argv[1], 1000, &error);
    for (int i = 0; i < PANELS; i++)
        dt_lines_clear(&lines[i]);
    if (!good)
        fprintf(stderr, "%s\n", error->message);
    return good ? 0 : 1;
}
