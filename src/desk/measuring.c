/* measuring: the last test sheet as read on the page: its questions with pictures, answers and
 * scans, and the resulting corrections, written and undone. */
#include "desk/private.h"

#include "desk/request.h"
#include "desk/telling.h"
#include "drawtrue/json.h"

#include <math.h>
#include <string.h>

enum { LONGEST_ANSWER = 100 };

/* Everything known about the sheet. */
typedef struct {
    DtSheetRecord record;
    DtTestSheet *sheet;
    DtEyeReadings *readings;
    DtFigures *figures;       /* NULL: none yet */
    DtProfileChange *changes; /* those that the profile does not contain yet */
    size_t n_changes;
    GKeyFile *keys;
    char *digest; /* of the changes and the values they replace */
} Reading;

static void reading_clear(Reading *r)
{
    dt_truing_free_changes(r->changes, r->n_changes);
    dt_figures_free(r->figures);
    dt_eye_readings_free(r->readings);
    dt_sheet_free(r->sheet);
    dt_sheet_record_clear(&r->record);
    g_clear_pointer(&r->keys, g_key_file_unref);
    g_free(r->digest);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Reading, reading_clear)

static gboolean refuse(GError **error, const char *why)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, why);
    return FALSE;
}

static gboolean read_last(DtDesk *d, Reading *r, GError **error)
{
    if (!dt_sheet_log_read(d->journal, d->profile->name, 0, &r->record, error))
        return FALSE;
    r->sheet = dt_sheet_from_json(r->record.sheet, error);
    r->readings = r->sheet ? dt_eye_readings_new(r->sheet) : NULL;
    return r->readings != NULL &&
           (*r->record.readings == '\0' ||
            dt_eye_readings_from_json(r->readings, r->record.readings, error));
}

static gboolean is_for_scans(const Reading *r)
{
    return (r->sheet->kinds & DT_SHEET_SCAN) != 0;
}

static char *value_now(const Reading *r, const DtProfileChange *c)
{
    return g_key_file_get_value(r->keys, c->section, c->key, NULL);
}

static void drop_change(Reading *r, size_t i)
{
    DtProfileChange *gone = g_new(DtProfileChange, 1);
    *gone = r->changes[i];
    dt_truing_free_changes(gone, 1);
    r->n_changes--;
    memmove(&r->changes[i], &r->changes[i + 1], (r->n_changes - i) * sizeof *r->changes);
}

/* What the profile contains already is not written again. */
static void take_changes(DtDesk *d, Reading *r)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    r->keys = dt_desk_read_keys(d);
    r->changes = dt_truing_changes(d->profile, r->sheet, r->figures, &r->n_changes);
    for (size_t i = 0; i < r->n_changes;) {
        const DtProfileChange *c = &r->changes[i];
        g_autofree char *now = value_now(r, c);
        if (g_strcmp0(now, c->value) == 0) {
            drop_change(r, i);
            continue;
        }
        g_autofree char *line =
            g_strdup_printf("%s\n%s\n%s\n%s\n", c->section, c->key, now ? now : "", c->value);
        g_checksum_update(sum, (const guchar *)line, -1);
        i++;
    }
    r->digest = g_strdup(g_checksum_get_string(sum));
}

/* Scans of the sheet in the journal. */
static DtFigures *figures_of_scans(const DtDesk *d, const Reading *r, GError **error)
{
    if (*r->record.figures != '\0')
        return dt_figures_from_json(r->record.figures, error);
    refuse(error,
           d->scanning ? _("the scans are being read") : _("no scan of it has been read yet"));
    return NULL;
}

/* FALSE with the reason if the readings are not sufficient, or not yet. */
static gboolean solve(DtDesk *d, Reading *r, GError **error)
{
    if (is_for_scans(r))
        r->figures = figures_of_scans(d, r, error);
    else if (dt_eye_readings_count(r->readings) == 0)
        return refuse(error, _("nothing has been read yet"));
    else
        r->figures = dt_eye_solve(d->profile, r->sheet, r->readings, error);
    if (r->figures == NULL ||
        !dt_truing_pool(d->journal, d->profile, r->sheet->number, r->figures, error))
        return FALSE;
    take_changes(d, r);
    return TRUE;
}

static void note_change(DtDesk *d)
{
    d->measure_number++;
    dt_desk_changed(d, DT_PART_MEASURE);
}

/* Telling ----------------------------------------------------------------------------------- */

static void add_figures(JsonBuilder *b, const DtDesk *d, const DtFigures *f)
{
    dt_json_begin_array(b, "figures");
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        json_builder_begin_object(b);
        dt_desk_add_what(b, d->profile, g->kind, g->axis, g->pen);
        dt_json_number(b, "at_mm", g->at);
        dt_desk_add_value(b, "found", g->kind, g->known ? g->value : NAN, g->sd);
        dt_json_number(b, "gain_mm", g->known ? g->gain_mm : NAN);
        dt_json_flag(b, "proposed", g->known && g->proposed);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_changes(JsonBuilder *b, const Reading *r)
{
    dt_json_begin_array(b, "changes");
    for (size_t i = 0; i < r->n_changes; i++) {
        g_autofree char *now = value_now(r, &r->changes[i]);
        json_builder_begin_object(b);
        dt_json_text(b, "section", r->changes[i].section);
        dt_json_text(b, "key", r->changes[i].key);
        dt_json_text(b, "now", now);
        dt_json_text(b, "value", r->changes[i].value);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_result(JsonBuilder *b, DtDesk *d, Reading *r)
{
    g_autoptr(GError) error = NULL;
    const gboolean good = solve(d, r, &error);
    dt_json_text(b, "unsolved", good ? NULL : error->message);
    if (!good)
        return;
    json_builder_set_member_name(b, "result");
    json_builder_begin_object(b);
    add_figures(b, d, r->figures);
    dt_json_number(b, "ink_before_mm", r->figures->ink_before_mm);
    dt_json_number(b, "ink_after_mm", r->figures->ink_after_mm);
    g_autofree char *notes = r->figures->notes ? dt_messages_find_lines(r->figures->notes) : NULL;
    dt_json_text(b, "notes", notes);
    dt_json_text(b, "digest", r->digest);
    add_changes(b, r);
    dt_desk_add_causes(b, d->profile, r->figures);
    json_builder_end_object(b);
}

static void add_asks(JsonBuilder *b, const DtEyeReadings *r)
{
    static const char *const kinds[] = {[DT_ASK_VERNIER] = "vernier",
                                        [DT_ASK_RULE] = "rule",
                                        [DT_ASK_EDGE] = "edge",
                                        [DT_ASK_LADDER] = "ladder",
                                        [DT_ASK_TONE] = "tone"};
    dt_json_begin_array(b, "asks");
    for (size_t i = 0; i < r->n; i++) {
        const DtAsk *a = &r->asks[i];
        g_autofree char *question = dt_eye_question(a);
        json_builder_begin_object(b);
        dt_json_text(b, "name", a->name);
        dt_json_text(b, "kind", kinds[a->kind]);
        dt_json_text(b, "question", question);
        dt_json_number(b, "least", a->least);
        dt_json_number(b, "most", a->most);
        dt_json_begin_array(b, "answers");
        for (size_t k = 0; k < a->times; k++) {
            const char *text = r->answers[i].text[k];
            json_builder_add_string_value(b, text ? text : "");
        }
        json_builder_end_array(b);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void add_sheet(JsonBuilder *b, DtDesk *d, Reading *r)
{
    g_autoptr(GError) error = NULL;
    const gboolean fit = dt_truing_check_record(&r->record, d->profile, &error);
    json_builder_set_member_name(b, "sheet");
    json_builder_begin_object(b);
    dt_json_count(b, "number", (size_t)r->sheet->number);
    dt_json_text(b, "date", r->sheet->date);
    dt_json_flag(b, "drawn", r->record.drawn);
    dt_json_flag(b, "scan", is_for_scans(r));
    dt_json_text(b, "problem", fit ? NULL : error->message);
    dt_json_count(b, "read", dt_eye_readings_count(r->readings));
    add_asks(b, r->readings);
    if (is_for_scans(r))
        dt_desk_add_scans(b, d, r->sheet->number);
    if (fit)
        add_result(b, d, r);
    json_builder_end_object(b);
}

/* The corrections that can be undone: the number of their sheet; 0: none. */
static gint64 last_correction(const DtDesk *d)
{
    g_auto(DtCorrectionRecord) c = {0};
    g_autofree char *whole =
        d->profile->path ? g_canonicalize_filename(d->profile->path, NULL) : NULL;
    return whole && dt_sheet_log_last_correction(d->journal, whole, &c, NULL) ? c.number : 0;
}

char *dt_desk_measure_json(DtDesk *d, GError **error)
{
    g_auto(Reading) r = {0};
    g_autoptr(GError) problem = NULL;
    const gboolean has = read_last(d, &r, &problem);
    if (!has && (r.record.sheet != NULL || problem->code != DT_ERROR_INPUT)) {
        g_propagate_error(error, g_steal_pointer(&problem));
        return NULL;
    }
    g_autofree char *name = d->profile->path ? g_path_get_basename(d->profile->path) : NULL;
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "profile", name);
    dt_json_count(b, "undo", (size_t)last_correction(d));
    if (has)
        add_sheet(b, d, &r);
    return dt_json_end(b);
}

/* A question's picture ------------------------------------------------------------------------ */

static const DtAsk *find_ask(const Reading *r, const char *name, size_t *at, GError **error)
{
    for (size_t i = 0; i < r->readings->n; i++)
        if (strcmp(r->readings->asks[i].name, name) == 0) {
            *at = i;
            return &r->readings->asks[i];
        }
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "the sheet has no such question");
    return NULL;
}

static gboolean is_seen(DtBox view, const DtPoint *p, size_t n)
{
    DtBox box = DT_BOX_EMPTY;
    for (size_t i = 0; i < n; i++)
        box = dt_box_add_point(box, p[i]);
    return box.x0 <= view.x1 && box.x1 >= view.x0 && box.y0 <= view.y1 && box.y1 >= view.y0;
}

static void add_lines(JsonBuilder *b, const DtTestSheet *s, DtBox view, size_t pen)
{
    DtLines lines = {0};
    dt_sheet_lines(s, (uint16_t)pen, &lines);
    dt_json_begin_array(b, "lines");
    for (size_t i = 0; i < lines.n; i++) {
        const size_t n = dt_lines_count(&lines, i);
        const DtPoint *p = dt_lines_at(&lines, i);
        if (!is_seen(view, p, n))
            continue;
        json_builder_begin_array(b);
        for (size_t k = 0; k < n; k++) {
            json_builder_add_double_value(b, p[k].x);
            json_builder_add_double_value(b, p[k].y);
        }
        json_builder_end_array(b);
    }
    json_builder_end_array(b);
    dt_lines_clear(&lines);
}

static void add_choices(JsonBuilder *b, const DtTestSheet *s, const DtAsk *a)
{
    size_t n;
    g_autofree DtEyeChoice *c = dt_eye_choices(s, a, &n);
    dt_json_begin_array(b, "choices");
    for (size_t i = 0; i < n; i++) {
        json_builder_begin_object(b);
        dt_json_number(b, "place", c[i].place);
        dt_json_numbers(b, "line", (double[]){c[i].from.x, c[i].from.y, c[i].to.x, c[i].to.y}, 4);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

char *dt_desk_comb_json(DtDesk *d, const char *ask, GError **error)
{
    g_auto(Reading) r = {0};
    size_t at;
    const DtAsk *a = read_last(d, &r, error) ? find_ask(&r, ask, &at, error) : NULL;
    if (a == NULL)
        return NULL;
    const DtTestSheet *s = r.sheet;
    const DtBox view =
        dt_box_intersect(a->view, (DtBox){s->paper_at.x, s->paper_at.y, s->paper_at.x + s->paper_w,
                                          s->paper_at.y + s->paper_h});
    JsonBuilder *b = dt_json_begin();
    dt_json_numbers(b, "view", (double[]){view.x0, view.y0, view.x1, view.y1}, 4);
    dt_json_begin_array(b, "pens");
    for (size_t i = 0; i < d->profile->rack.n; i++) {
        json_builder_begin_object(b);
        add_lines(b, s, view, i);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    add_choices(b, s, a);
    return dt_json_end(b);
}

/* Changing ------------------------------------------------------------------------------------- */

/* Whether the sheet of this number is still the last one and was drawn by this machine. */
static gboolean read_number(DtDesk *d, gint64 number, Reading *r, GError **error)
{
    return read_last(d, r, error) &&
           (number == r->sheet->number ||
            refuse(error, _("there is a newer sheet now; look again"))) &&
           dt_truing_check_record(&r->record, d->profile, error);
}

static gboolean read_seen(DtDesk *d, JsonObject *in, Reading *r, GError **error)
{
    gint64 number;
    return dt_request_whole(in, "sheet", 1, G_MAXINT32, &number, error) &&
           read_number(d, number, r, error);
}

/* What the readings show so far, by which sheets are compared; scans take longer. */
static char *solve_again(DtDesk *d, Reading *r)
{
    g_autoptr(DtFigures) f =
        is_for_scans(r) ? NULL : dt_eye_solve(d->profile, r->sheet, r->readings, NULL);
    return f ? dt_figures_to_json(f) : g_strdup("");
}

gboolean dt_desk_keep_reading(DtDesk *d, JsonObject *in, GError **error)
{
    g_auto(Reading) r = {0};
    const char *name, *text;
    gint64 i;
    size_t at = 0;
    if (!dt_request_text(in, "ask", sizeof((DtAsk *)NULL)->name - 1, &name, error) ||
        !dt_request_text(in, "text", LONGEST_ANSWER, &text, error) || !read_seen(d, in, &r, error))
        return FALSE;
    const DtAsk *a = find_ask(&r, name, &at, error);
    if (a == NULL || !dt_request_whole(in, "i", 0, (gint64)a->times - 1, &i, error))
        return FALSE;
    g_autofree char *answer = g_strstrip(g_strdup(text));
    if (!dt_eye_readings_set(r.readings, at, (size_t)i, *answer ? answer : "?", error))
        return FALSE;
    g_autofree char *json = dt_eye_readings_to_json(r.readings), *solved = solve_again(d, &r);
    if (!dt_sheet_log_keep(d->journal, r.sheet->machine, r.sheet->number, json, solved, error))
        return FALSE;
    if (is_for_scans(&r))
        dt_desk_solve_scans(d, r.sheet, r.readings);
    note_change(d);
    return TRUE;
}

/* Scans -------------------------------------------------------------------------------------- */

gboolean dt_desk_take_scan(DtDesk *d, const char *name, gint64 sheet, gboolean card, GBytes *bytes,
                           GError **error)
{
    g_auto(Reading) r = {0};
    if (!read_number(d, sheet, &r, error))
        return FALSE;
    if (!is_for_scans(&r))
        return refuse(error, _("this sheet is read by eye; the one for a scanner is 'scan'"));
    if (!dt_desk_keep_scan(d, r.sheet, name, card, bytes, error))
        return FALSE;
    dt_desk_solve_scans(d, r.sheet, r.readings);
    return TRUE;
}

gboolean dt_desk_forget_scans(DtDesk *d, JsonObject *in, GError **error)
{
    g_auto(Reading) r = {0};
    if (!read_seen(d, in, &r, error) ||
        !dt_sheet_log_keep(d->journal, r.sheet->machine, r.sheet->number, NULL, "", error))
        return FALSE;
    dt_desk_drop_scans(d, r.sheet->number);
    return TRUE;
}

gboolean dt_desk_write_corrections(DtDesk *d, JsonObject *in, GError **error)
{
    g_auto(Reading) r = {0};
    const char *seen;
    if (!dt_request_text(in, "digest", 64, &seen, error) || !dt_desk_may_change_profile(d, error) ||
        !read_seen(d, in, &r, error) || !solve(d, &r, error))
        return FALSE;
    if (strcmp(seen, r.digest) != 0)
        return refuse(error,
                      _("readings or profile have changed since; look again at what follows"));
    if (d->profile->path == NULL)
        return refuse(error, _("this is the built-in profile; make one of your own first"));
    if (r.n_changes == 0)
        return refuse(error, _("the profile already agrees with this sheet"));
    /* the journal has the sheet's own figures; these are combined with those of older sheets */
    if (!dt_truing_write(d->journal, r.sheet->machine, d->profile->path, r.sheet->number, r.changes,
                         r.n_changes, error))
        return FALSE;
    dt_desk_reload_profile(d, d->profile->path);
    note_change(d);
    return TRUE;
}

gboolean dt_desk_undo_corrections(DtDesk *d, JsonObject *in, GError **error)
{
    gint64 seen, sheet = 0;
    if (!dt_request_whole(in, "sheet", 1, G_MAXINT32, &seen, error) ||
        !dt_desk_may_change_profile(d, error))
        return FALSE;
    if (seen != last_correction(d))
        return refuse(error, _("there are newer corrections now; look again"));
    if (!dt_truing_undo(d->journal, d->profile->path, &sheet, error))
        return FALSE;
    dt_desk_reload_profile(d, d->profile->path);
    note_change(d);
    return TRUE;
}
