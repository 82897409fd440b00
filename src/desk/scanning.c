/* scanning: scans of the last test sheet, kept in the work folder; read and solved together with
 * the rule readings on a thread of their own, one at a time. The results go into the journal. */
#include "desk/private.h"

#include "desk/guard.h"
#include "drawtrue/json.h"
#include "drawtrue/truing.h"

#include <glib/gstdio.h>
#include <string.h>

enum { MOST_SCANS = 2, LONGEST_NAME = 80 };

static const char *const endings[] = {".png", ".jpg", ".jpeg", ".tif", ".tiff"};
static const char with_card[] = "-card"; /* inserted before the ending of a file that shows a
                                          * card as well */

/* One scan and what was found on it. */
typedef struct {
    char *path, *name;
    gboolean card; /* a bank card lies beside the sheet, as a measure of length */
    gboolean read, photograph;
    int turn;
    char *notes;
} Scan;

struct DtScanning {
    gatomicrefcount refs;
    DtDesk *desk; /* used by the main thread only; NULL: nobody waits for it any more */
    GMainContext *context;
    GThread *thread;
    DtWork *work;
    DtProfile *profile;
    DtTestSheet *sheet;
    GPtrArray *scans;
    double rule[2][DT_EYE_TIMES];
    size_t n_rule[2];
    char *figures; /* JSON; NULL with a problem */
    char *problem;
    int bad; /* index of the scan that cannot be used; -1: none */
};
typedef struct DtScanning Scanning;

static void free_scan(gpointer data)
{
    Scan *s = data;
    g_free(s->path);
    g_free(s->name);
    g_free(s->notes);
    g_free(s);
}

static void unref_scanning(gpointer data)
{
    Scanning *t = data;
    if (!g_atomic_ref_count_dec(&t->refs))
        return;
    dt_work_unref(t->work);
    dt_profile_free(t->profile);
    dt_sheet_free(t->sheet);
    g_ptr_array_unref(t->scans);
    g_main_context_unref(t->context);
    g_free(t->figures);
    g_free(t->problem);
    g_free(t);
}

static gboolean refuse(GError **error, const char *why)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, why);
    return FALSE;
}

/* Files ------------------------------------------------------------------------------------- */

/* Beginning of the names of this machine's scans of one sheet. */
static char *stem_of(const DtDesk *d, gint64 sheet)
{
    g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, d->profile->name, -1);
    return g_strdup_printf("scan-%.12s-%" PRId64 "-", sum, sheet);
}

static int by_path(gconstpointer a, gconstpointer b)
{
    return strcmp((*(const Scan *const *)a)->path, (*(const Scan *const *)b)->path);
}

static const Scan *find_known(const DtDesk *d, const char *path)
{
    for (guint i = 0; d->scans && i < d->scans->len; i++)
        if (strcmp(((const Scan *)d->scans->pdata[i])->path, path) == 0)
            return d->scans->pdata[i];
    return NULL;
}

static gboolean has_card(const char *name)
{
    const char *dot = strrchr(name, '.');
    g_autofree char *stem = dot ? g_strndup(name, (gsize)(dot - name)) : g_strdup(name);
    return g_str_has_suffix(stem, with_card);
}

/* Those in the work folder, as far as they have been read. */
static GPtrArray *find_scans(const DtDesk *d, gint64 sheet)
{
    GPtrArray *found = g_ptr_array_new_with_free_func(free_scan);
    g_autofree char *stem = stem_of(d, sheet);
    g_autoptr(GDir) dir = g_dir_open(d->work, 0, NULL);
    for (const char *name; dir && (name = g_dir_read_name(dir)) != NULL;) {
        if (!g_str_has_prefix(name, stem))
            continue;
        Scan *s = g_new0(Scan, 1);
        s->path = g_build_filename(d->work, name, NULL);
        const Scan *known = find_known(d, s->path);
        if (known != NULL)
            *s = (Scan){.path = s->path,
                        .name = g_strdup(known->name),
                        .read = known->read,
                        .photograph = known->photograph,
                        .turn = known->turn,
                        .notes = g_strdup(known->notes)};
        s->card = has_card(name);
        g_ptr_array_add(found, s);
    }
    g_ptr_array_sort(found, by_path);
    for (guint i = 0; i < found->len; i++) {
        Scan *s = found->pdata[i];
        if (s->name == NULL)
            s->name = g_strdup_printf(_("scan %u"), i + 1);
    }
    return found;
}

/* On the thread ----------------------------------------------------------------------------- */

static gboolean take(gpointer data);

/* People do not know the path of our copy. */
static char *problem_text(const Scanning *t, const GError *error)
{
    g_autoptr(GString) text = g_string_new(error->message);
    for (guint i = 0; i < t->scans->len; i++) {
        const Scan *s = t->scans->pdata[i];
        g_string_replace(text, s->path, s->name, 0);
    }
    return g_utf8_make_valid(text->str, -1);
}

static gboolean read_all(Scanning *t, DtScan **list, GError **error)
{
    for (guint i = 0; i < t->scans->len; i++) {
        Scan *s = t->scans->pdata[i];
        list[i] = dt_scan_read(s->path, t->sheet, t->work, error);
        if (list[i] == NULL || (s->card && !dt_scan_measure_card(list[i], t->sheet, error))) {
            t->bad = (int)i;
            return FALSE;
        }
        s->read = TRUE;
        s->photograph = list[i]->photograph;
        s->turn = list[i]->turn;
        g_free(s->notes);
        s->notes = g_strdup(list[i]->notes);
    }
    return TRUE;
}

static gpointer run_scanning(gpointer data)
{
    Scanning *t = data;
    g_autoptr(GError) error = NULL;
    DtScan *list[MOST_SCANS] = {NULL};
    const DtEvidence e = {.sheet = t->sheet,
                          .scans = (const DtScan *const *)list,
                          .n_scans = t->scans->len,
                          .rule_mm = {t->rule[0], t->rule[1]},
                          .n_rule = {t->n_rule[0], t->n_rule[1]}};
    g_autoptr(DtFigures) f =
        read_all(t, list, &error) ? dt_truing_solve(t->profile, &e, t->work, &error) : NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(list); i++)
        dt_scan_free(list[i]);
    if (f != NULL)
        t->figures = dt_figures_to_json(f);
    else
        t->problem = problem_text(t, error);
    GSource *source = g_idle_source_new();
    g_source_set_priority(source, G_PRIORITY_DEFAULT);
    g_source_set_callback(source, take, t, unref_scanning);
    g_source_attach(source, t->context);
    g_source_unref(source);
    return NULL;
}

/* On the main thread -------------------------------------------------------------------------- */

static void note_change(DtDesk *d)
{
    d->measure_number++;
    dt_desk_changed(d, DT_PART_MEASURE);
}

/* A picture that is not of this sheet is useless to anybody. */
static void drop_bad(Scanning *t)
{
    if (t->bad < 0 || dt_work_is_cancelled(t->work))
        return;
    g_unlink(((const Scan *)t->scans->pdata[t->bad])->path);
    g_ptr_array_remove_index(t->scans, (guint)t->bad);
}

static gboolean take(gpointer data)
{
    Scanning *t = data;
    DtDesk *d = t->desk;
    g_autoptr(GError) error = NULL;
    if (d == NULL || d->scanning != t)
        return G_SOURCE_REMOVE;
    g_thread_join(t->thread);
    d->scanning = NULL;
    drop_bad(t);
    g_clear_pointer(&d->scans, g_ptr_array_unref);
    d->scans = g_ptr_array_ref(t->scans);
    g_free(d->scan_problem);
    d->scan_problem = g_strdup(t->problem);
    if (t->figures != NULL && !dt_sheet_log_keep(d->journal, t->sheet->machine, t->sheet->number,
                                                 NULL, t->figures, &error))
        d->scan_problem = g_strdup(error->message);
    note_change(d);
    unref_scanning(t);
    return G_SOURCE_REMOVE;
}

void dt_desk_stop_scanning(DtDesk *d)
{
    Scanning *t = d->scanning;
    if (t == NULL)
        return;
    dt_work_cancel(t->work);
    g_thread_join(t->thread);
    t->desk = NULL;
    d->scanning = NULL;
    unref_scanning(t);
}

void dt_desk_solve_scans(DtDesk *d, const DtTestSheet *s, const DtEyeReadings *r)
{
    g_autofree char *json = dt_sheet_to_json(s);
    DtTestSheet *own = dt_sheet_from_json(json, NULL);
    g_autoptr(GPtrArray) scans = find_scans(d, s->number);
    dt_desk_stop_scanning(d);
    g_clear_pointer(&d->scan_problem, g_free);
    if (own == NULL || scans->len == 0 || scans->len > MOST_SCANS) {
        g_clear_pointer(&d->scans, g_ptr_array_unref);
        dt_sheet_free(own);
        note_change(d);
        return;
    }
    Scanning *t = g_new0(Scanning, 1);
    g_atomic_ref_count_init(&t->refs);
    g_atomic_ref_count_inc(&t->refs); /* of what it delivers */
    t->desk = d;
    t->context = g_main_context_ref(d->context);
    t->work = dt_work_new(NULL, NULL);
    t->profile = dt_profile_copy(d->profile);
    t->sheet = own;
    t->scans = g_steal_pointer(&scans);
    t->bad = -1;
    dt_eye_readings_rule(r, t->rule, t->n_rule);
    d->scanning = t;
    t->thread = g_thread_new("scan", run_scanning, t);
    note_change(d);
}

/* Named by time, so that they stay in the order in which they were added. */
static char *free_path(DtDesk *d, gint64 sheet, gboolean card, const char *ending, GError **error)
{
    char random[65];
    if (!dt_guard_random(random)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, "the system gives no random numbers");
        return NULL;
    }
    random[8] = '\0';
    g_autofree char *stem = stem_of(d, sheet);
    g_autofree char *file = g_strdup_printf("%s%" PRId64 "-%s%s%s", stem, g_get_real_time(), random,
                                            card ? with_card : "", ending);
    return g_build_filename(d->work, file, NULL);
}

gboolean dt_desk_keep_scan(DtDesk *d, const DtTestSheet *s, const char *name, gboolean card,
                           GBytes *bytes, GError **error)
{
    gsize n;
    const char *data = g_bytes_get_data(bytes, &n);
    g_autofree char *base = g_path_get_basename(name);
    const char *ending = dt_desk_ending_of(base, endings, G_N_ELEMENTS(endings));
    g_autoptr(GPtrArray) scans = find_scans(d, s->number);
    if (n == 0 || ending == NULL)
        return refuse(error, _("a scan is a PNG, JPEG or TIFF file"));
    if (scans->len >= MOST_SCANS)
        return refuse(error, _("two scans are all that can be used; drop the old ones first"));
    g_autofree char *path = free_path(d, s->number, card, ending, error);
    if (path == NULL || !dt_base_write_file(path, data, n, error))
        return FALSE;
    Scan *fresh = g_new0(Scan, 1);
    fresh->path = g_strdup(path);
    fresh->card = card;
    g_autofree char *valid = g_utf8_make_valid(base, -1);
    fresh->name = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), LONGEST_NAME));
    g_ptr_array_add(scans, fresh);
    g_clear_pointer(&d->scans, g_ptr_array_unref);
    d->scans = g_steal_pointer(&scans);
    return TRUE;
}

void dt_desk_drop_scans(DtDesk *d, gint64 sheet)
{
    dt_desk_stop_scanning(d);
    g_autoptr(GPtrArray) scans = find_scans(d, sheet);
    for (guint i = 0; i < scans->len; i++)
        g_unlink(((const Scan *)scans->pdata[i])->path);
    g_clear_pointer(&d->scans, g_ptr_array_unref);
    g_clear_pointer(&d->scan_problem, g_free);
    note_change(d);
}

void dt_desk_add_scans(JsonBuilder *b, const DtDesk *d, gint64 sheet)
{
    g_autoptr(GPtrArray) scans = find_scans(d, sheet);
    dt_json_flag(b, "scanning", d->scanning != NULL);
    dt_json_text(b, "scan_problem", d->scan_problem);
    dt_json_begin_array(b, "scans");
    for (guint i = 0; i < scans->len; i++) {
        const Scan *s = scans->pdata[i];
        json_builder_begin_object(b);
        dt_json_text(b, "name", s->name);
        dt_json_flag(b, "card", s->card);
        dt_json_flag(b, "read", s->read);
        dt_json_flag(b, "photograph", s->photograph);
        dt_json_count(b, "turn", (size_t)s->turn);
        dt_json_text(b, "notes", s->notes);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}
