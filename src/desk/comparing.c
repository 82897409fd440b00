/* comparing: what the sheets of this machine have shown, in order and two side by side. */
#include "desk/private.h"

#include "desk/telling.h"
#include "drawtrue/json.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static void add_side(JsonBuilder *b, const DtDesk *d, const char *name, const DtReadSheet *s)
{
    json_builder_set_member_name(b, name);
    json_builder_begin_object(b);
    dt_json_count(b, "number", (size_t)s->sheet->number);
    dt_json_text(b, "date", s->sheet->date);
    dt_desk_add_causes(b, d->profile, s->figures);
    json_builder_end_object(b);
}

static void add_comparison(JsonBuilder *b, const DtDesk *d, const DtComparison *c)
{
    static const char *const verdicts[] = {[DT_VERDICT_SAME] = "same",
                                           [DT_VERDICT_BETTER] = "better",
                                           [DT_VERDICT_WORSE] = "worse",
                                           [DT_VERDICT_UNKNOWN] = "unknown"};
    json_builder_begin_object(b);
    dt_desk_add_what(b, d->profile, c->kind, c->axis, c->pen);
    dt_desk_add_value(b, "before", c->kind, c->a, c->a_sd);
    dt_desk_add_value(b, "after", c->kind, c->b, c->b_sd);
    dt_json_text(b, "verdict", verdicts[c->verdict]);
    json_builder_end_object(b);
}

char *dt_desk_compare_json(DtDesk *d, gint64 first, gint64 second, GError **error)
{
    g_auto(DtReadSheet) a = {0}, z = {0};
    size_t n;
    if (!dt_truing_read_sheet(d->journal, d->profile->name, first, &a, error) ||
        !dt_truing_read_sheet(d->journal, d->profile->name, second, &z, error))
        return NULL;
    g_autofree DtComparison *c = dt_truing_compare(a.figures, z.figures, &n);
    JsonBuilder *b = dt_json_begin();
    add_side(b, d, "first", &a);
    add_side(b, d, "second", &z);
    dt_json_begin_array(b, "figures");
    for (size_t i = 0; i < n; i++)
        add_comparison(b, d, &c[i]);
    json_builder_end_array(b);
    return dt_json_end(b);
}

GBytes *dt_desk_compare_picture(DtDesk *d, gint64 first, gint64 second, GError **error)
{
    enum { WIDTH_PX = 1600, MOST_BYTES = 16 << 20 };
    g_auto(DtReadSheet) a = {0}, z = {0};
    gsize n = 0;
    if (!dt_truing_read_sheet(d->journal, d->profile->name, first, &a, error) ||
        !dt_truing_read_sheet(d->journal, d->profile->name, second, &z, error))
        return NULL;
    const DtCompared c = {{a.sheet, z.sheet}, {a.figures, z.figures}};
    g_autofree char *path = g_build_filename(d->work, "compare.png", NULL);
    char *bytes = dt_truing_compare_picture(&c, d->profile, path, WIDTH_PX, error)
                      ? dt_base_read_file(path, MOST_BYTES, &n, error)
                      : NULL;
    g_unlink(path);
    return bytes ? g_bytes_new_take(bytes, n) : NULL;
}

/* Over the months ------------------------------------------------------------------------------ */

/* Mean of a figure's places, as in a comparison of the sheet with itself. */
static void add_means(JsonBuilder *b, const DtDesk *d, const DtFigures *f)
{
    size_t n = 0;
    g_autofree DtComparison *c = f ? dt_truing_compare(f, f, &n) : NULL;
    dt_json_begin_array(b, "figures");
    for (size_t i = 0; i < n; i++) {
        double factor;
        dt_error_unit(c[i].kind, &factor);
        json_builder_begin_object(b);
        dt_desk_add_what(b, d->profile, c[i].kind, c[i].axis, c[i].pen);
        dt_desk_add_value(b, "text", c[i].kind, c[i].a, c[i].a_sd);
        dt_json_number(b, "value", c[i].a * factor);
        dt_json_number(b, "interval", DT_DESK_TWO_SIDED_95 * c[i].a_sd * factor);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_sheet(JsonBuilder *b, const DtDesk *d, const DtSheetRecord *r)
{
    g_autoptr(DtTestSheet) s = dt_sheet_from_json(r->sheet, NULL);
    g_autoptr(DtFigures) f = *r->figures ? dt_figures_from_json(r->figures, NULL) : NULL;
    if (s == NULL)
        return;
    json_builder_begin_object(b);
    dt_json_count(b, "number", (size_t)r->number);
    dt_json_number(b, "at", r->at);
    dt_json_text(b, "date", s->date);
    dt_json_flag(b, "scan", (s->kinds & DT_SHEET_SCAN) != 0);
    dt_json_flag(b, "drawn", r->drawn);
    dt_json_flag(b, "read", f != NULL);
    dt_json_number(b, "ink_mm", f && f->ink_before_mm > 0 ? f->ink_before_mm : NAN);
    dt_json_number(b, "corrected_mm", f && f->ink_before_mm > 0 ? f->ink_after_mm : NAN);
    add_means(b, d, f);
    json_builder_end_object(b);
}

char *dt_desk_sheets_json(DtDesk *d, GError **error)
{
    enum { MOST_SHEETS = 400 };
    g_autoptr(GArray) all = dt_sheet_log_read_all(d->journal, d->profile->name, error);
    if (all == NULL)
        return NULL;
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "machine", d->profile->name);
    dt_json_begin_array(b, "sheets");
    for (guint i = all->len > MOST_SHEETS ? all->len - MOST_SHEETS : 0; i < all->len; i++)
        add_sheet(b, d, &g_array_index(all, DtSheetRecord, i));
    json_builder_end_array(b);
    return dt_json_end(b);
}
