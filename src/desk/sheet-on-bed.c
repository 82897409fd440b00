/* sheet-on-bed: puts a test sheet on the bed as a program. */
#include "desk/private.h"

#include "drawtrue/sheet-log.h"
#include "drawtrue/truing.h"

gboolean dt_desk_make_test_sheet(DtDesk *d, const char *kind, GError **error)
{
    const guint kinds = dt_sheet_kinds(kind);
    gint64 number = 0;
    gsize len = 0;
    if (kinds == 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "there is no such test sheet");
        return FALSE;
    }
    if (!dt_sheet_log_next(d->journal, d->profile->name, &number, error))
        return FALSE;
    g_autoptr(GDateTime) now = g_date_time_new_now_local();
    g_autofree char *day = g_date_time_format(now, "%Y-%m-%d");
    g_autoptr(DtTestSheet) s = dt_sheet_new(d->profile, kinds, day, number, error);
    g_autofree char *program = s ? dt_sheet_write(s, d->profile, &len, error) : NULL;
    g_autofree char *name = g_strdup_printf("sheet-%" PRId64 ".nc", number);
    g_autofree char *path = g_build_filename(d->work, name, NULL);
    if (program == NULL ||
        !dt_truing_keep_sheet(d->journal, d->profile, s, program, len, path, error))
        return FALSE;
    dt_desk_set_source(d, path, name, 0);
    d->measure_number++;
    dt_desk_changed(d, DT_PART_MEASURE);
    return TRUE;
}
