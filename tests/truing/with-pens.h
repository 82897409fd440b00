/* with-pens: a machine of several pens, and a sheet drawn on it. */
#pragma once

#include "drawtrue/rig.h"
#include "drawtrue/truing.h"
#include "support/truing-machine.h"

#include <glib/gstdio.h>
#include <string.h>

/* The profile of the machine with [pen] sections of its own. */
static inline DtProfile *profile_with_pens(const TruthMachine *m, const char *pens)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = truth_profile_text(m), *all = g_strconcat(text, pens, NULL);
    DtProfile *p = dt_profile_read_data(all, strlen(all), "test", &error);
    g_assert_no_error(error);
    return p;
}

/* The virtual machine with its [pens] section, after it has drawn the sheet; no line was refused. */
static inline DtRig *draw_with_pens(const TruthMachine *m, const char *pens, const DtTestSheet *s,
                                    const DtProfile *p)
{
    g_autoptr(GError) error = NULL;
    gsize len = 0;
    g_autofree char *text = dt_sheet_write(s, p, &len, &error);
    g_autofree char *truth = truth_rig_text(m), *all = g_strconcat(truth, pens, NULL);
    g_assert_no_error(error);
    DtRig *rig = dt_rig_new_from_text(all, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, text, len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    g_assert_cmpuint(f.lines_refused, ==, 0);
    return rig;
}

/* One scan of the drawn sheet, `turn` quarters round and rotated by `rotation_deg`, with `more` keys of [scan]. */
static inline DtScan *scan_of(const TruthMachine *m, DtRig *rig, const DtTestSheet *s, int turn,
                              double rotation_deg, const char *more)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "scan.png", NULL);
    g_autofree char *text = truth_scan_text(m, turn, rotation_deg, 300);
    g_autofree char *keys = g_strconcat(text, more, NULL);
    g_assert_true(dt_rig_set_scan(rig, keys, "scan", &error));
    g_assert_true(dt_rig_scan(rig, path, &error));
    DtScan *out = dt_scan_read(path, s, NULL, &error);
    g_assert_no_error(error);
    g_unlink(path);
    g_rmdir(folder);
    return out;
}
