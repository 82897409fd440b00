#include "truing-machine.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    TruthMachine t;
    truth_draw(&t, argc > 1 ? atoi(argv[1]) : 1, argc > 2 ? 210 : 297, argc > 2 ? 148 : 210);
    g_autoptr(DtProfile) p = truth_profile(&t);
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-01-01", 1234);
    if (!dt_sheet_add_scan_part(s, p, &error)) g_error("%s", error->message);
    int n[2] = {0};
    for (size_t i = 0; i < s->n; i++) if (s->marks[i].kind == DT_MARK_POSITION) n[s->marks[i].axis]++;
    printf("%zu marks, %d %d\n", s->n, n[0], n[1]);
    g_auto(DtMoves) m = {0};
    gsize len;
    g_autofree char *text = NULL;
    if (!dt_sheet_moves(s, p, &m, &error)) g_error("%s", error->message);
    DtTimes times; dt_machine_time(p, &m, FALSE, &times);
    printf("time %.0f s: ink %.0f travel %.0f lift %.0f home %.0f; ink %.0f mm travel %.0f mm\n", times.total_s, times.ink_s, times.travel_s, times.lift_s, times.home_s, times.ink_mm, times.travel_mm);
    text = dt_sheet_write(s, p, &len, &error);
    g_autofree char *rig_text = truth_rig_text(&t);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(rig_text, "rig", &error);
    if (!rig) g_error("%s", error->message);
    gint64 t0 = g_get_monotonic_time();
    dt_rig_run_text(rig, text, len);
    DtRigFigures f; dt_rig_figures(rig, &f);
    printf("rig %.2f s: time %.0f, refused %u hits %u lifts %u\n", (g_get_monotonic_time()-t0)*1e-6, f.time_s, f.lines_refused, f.endstop_hits, f.lifts);
    DtScan *scans[2];
    for (int k = 0; k < 2; k++) {
        t0 = g_get_monotonic_time();
        g_autofree char *scan = truth_scan_text(&t, k, k ? -0.7 : 0.6, 300);
        if (!dt_rig_set_scan(rig, scan, "scan", &error)) g_error("%s", error->message);
        g_autofree char *path = g_strdup_printf("/tmp/solve/scan-%d.jpg", k);
        if (!dt_rig_scan(rig, path, &error)) g_error("%s", error->message);
        printf("scan %.2f s\n", (g_get_monotonic_time()-t0)*1e-6);
        t0 = g_get_monotonic_time();
        DtScan *sc = dt_scan_read(path, s, NULL, &error);
        if (!sc) g_error("%s", error->message);
        scans[k] = sc;
        double sd = 0, w = 0; for (size_t i = 0; i < sc->n; i++) sd += sc->seen[i].sd / sc->n, w += sc->seen[i].width / sc->n;
        printf("read %.2f s: dpi %g turn %d seen %zu sd %.4f width %.3f photo %d notes %s\n", (g_get_monotonic_time()-t0)*1e-6, sc->dpi, sc->turn, sc->n, sd, w, sc->photograph, sc->notes);
    }
    double rule[2][3]; const double *rules[2] = {rule[0], rule[1]};
    GRand *r = g_rand_new_with_seed(t.seed + 77);
    for (int axis = 0; axis < 2; axis++) {
        DtPoint at[2]; int way[2] = {1, 1}; int ne = 0;
        for (size_t i = 0; i < s->n; i++) { const DtMark *k = &s->marks[i]; if (k->kind == DT_MARK_GAUGE && k->axis == axis && k->place > 0) at[ne++] = truth_ink(&t, dt_point_lerp(k->from, k->to, 0.5), way); }
        for (int i = 0; i < 3; i++) rule[axis][i] = dt_point_distance(at[0], at[1]) + g_rand_double_range(r, -0.1, 0.1);
    }
    DtEvidence e = {.sheet = s, .scans = (const DtScan *const *)scans, .n_scans = 2, .rule_mm = {rules[0], rules[1]}, .n_rule = {3, 3}};
    t0 = g_get_monotonic_time();
    DtFigures *fs = dt_truing_solve(p, &e, NULL, &error);
    if (!fs) g_error("%s", error->message);
    printf("solve %.2f s: before %.3f after %.4f notes %s\n", (g_get_monotonic_time()-t0)*1e-6, fs->ink_before_mm, fs->ink_after_mm, fs->notes);
    printf("truth: square %.6f scale %.5f %.5f pulley %.4f %.4f scatter %.4f %.4f\n", t.square_deg*G_PI/180, t.scale[0], t.scale[1], t.pulley[0], t.pulley[1], t.scatter[0], t.scatter[1]);
    for (size_t i = 0; i < fs->n; i++) { const DtFigure *g = &fs->f[i];
        double truth = NAN;
        if (g->kind == DT_ERROR_OF_BACKLASH) truth = truth_table_at(&t.slack[g->axis], g->at);
        if (g->kind == DT_ERROR_OF_TWIST) truth = truth_table_at(&t.twist[g->axis], g->at);
        if (g->kind == DT_ERROR_OF_POSITION) truth = truth_table_at(&t.position[g->axis], g->at);
        printf("%d %d %6.1f %d %9.5f sd %.5f %8.4f gain %.4f %d  truth %.5f\n", g->kind, g->axis, g->at, g->known, g->value, g->sd, g->value_2, g->gain_mm, g->proposed, truth); }
    return 0;
}
