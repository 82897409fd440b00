/* changes: figures as values of the profile, written with their origin, and undone. */
#include "drawtrue/code.h"
#include "drawtrue/sheet-log.h"
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

typedef struct {
    GArray *list; /* DtProfileChange */
    const DtTestSheet *s;
} Changes;

static void put(Changes *c, const char *section, const char *key, char *value)
{
    const DtProfileChange change = {
        g_strdup(section), g_strdup(key), value,
        g_strdup_printf("truing: sheet %" PRId64 ", %s", c->s->number, c->s->date)};
    g_array_append_val(c->list, change);
}

static void put_axis(Changes *c, const char *section, const char *key, int axis, char *value)
{
    g_autofree char *name = g_strdup_printf("%s_%c", key, axis == 0 ? 'x' : 'y');
    put(c, section, name, value);
}

/* The figures of one kind and axis, which form one key; whether any of them is proposed. */
static GString *table_text(const DtFigures *f, DtErrorKind kind, int axis, gboolean *proposed)
{
    GString *text = g_string_new(NULL);
    *proposed = FALSE;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != kind || g->axis != axis || !g->known)
            continue;
        *proposed |= g->proposed;
        if (isnan(g->at))
            g_string_printf(text, "%.3f mm", g->value);
        else
            g_string_append_printf(text, "%s%.1f:%.3f", text->len ? " " : "", g->at, g->value);
    }
    return text;
}

static void put_tables(Changes *c, const DtFigures *f)
{
    static const struct {
        DtErrorKind kind;
        const char *key;
    } tables[] = {
        {DT_ERROR_OF_BACKLASH, "backlash"},
        {DT_ERROR_OF_POSITION, "position"},
        {DT_ERROR_OF_STRAIGHT, "straight"},
        {DT_ERROR_OF_TWIST, "twist"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(tables); i++)
        for (int axis = 0; axis < 2; axis++) {
            gboolean proposed;
            GString *text = table_text(f, tables[i].kind, axis, &proposed);
            if (proposed && text->len > 0)
                put_axis(c, "corrections", tables[i].key, axis, g_string_free(text, FALSE));
            else
                g_string_free(text, TRUE);
        }
}

/* Both offsets of a pen are one key. */
static void put_pens(Changes *c, const DtProfile *p, const DtFigures *f)
{
    for (size_t pen = 0; pen < p->rack.n; pen++) {
        DtPoint offset = p->rack.pens[pen].offset;
        gboolean moved = FALSE;
        g_autofree char *section = g_strdup_printf("pen %s", p->rack.pens[pen].name);
        for (size_t i = 0; i < f->n; i++) {
            const DtFigure *g = &f->f[i];
            if (!g->proposed || g->pen != (int)pen)
                continue;
            if (g->kind == DT_ERROR_OF_PEN_X || g->kind == DT_ERROR_OF_PEN_Y) {
                *(g->kind == DT_ERROR_OF_PEN_X ? &offset.x : &offset.y) = g->value;
                moved = TRUE;
            } else if (g->kind == DT_ERROR_OF_TIP_WIDTH) {
                put(c, section, "tip", g_strdup_printf("%.2f mm", g->value));
            } else if (g->kind == DT_ERROR_OF_DOT_GAIN) {
                put(c, section, "dot_gain", g_strdup_printf("%.2f", CLAMP(g->value, 1, 10)));
            }
        }
        if (moved)
            put(c, section, "offset", g_strdup_printf("%.3f, %.3f mm", offset.x, offset.y));
    }
}

double dt_truing_limit_share(DtErrorKind kind)
{
    if (kind == DT_ERROR_OF_SPEED)
        return 0.7;
    /* each given the other; the jump goes with the square root of the acceleration */
    return kind == DT_ERROR_OF_ACCELERATION ? 0.78 : kind == DT_ERROR_OF_PULL_IN ? sqrt(0.78) : 1;
}

static void put_single(Changes *c, const DtProfile *p, const DtFigure *f)
{
    switch (f->kind) {
    case DT_ERROR_OF_SCALE:
        put_axis(c, "corrections", "scale", f->axis, g_strdup_printf("%.5f", f->value));
        break;
    case DT_ERROR_OF_SQUARE:
        put(c, "corrections", "square", g_strdup_printf("%.4f deg", f->value * 180 / G_PI));
        break;
    case DT_ERROR_OF_PULLEY:
        put_axis(c, "corrections", "pulley_error", f->axis, g_strdup_printf("%.3f mm", f->value));
        put_axis(c, "corrections", "pulley_phase", f->axis,
                 g_strdup_printf("%.1f deg", remainder(f->value_2, 2 * G_PI) * 180 / G_PI));
        break;
    case DT_ERROR_OF_LIFT_TIME:
        put(c, "lift", "lift_time", g_strdup_printf("%.3f s", ceil(f->value * 1000) / 1000));
        break;
    case DT_ERROR_OF_DROP_TIME:
        put(c, "lift", "drop_time", g_strdup_printf("%.3f s", ceil(f->value * 1000) / 1000));
        break;
    case DT_ERROR_OF_DROP_WORD:
        put(c, "controller", "pen_down", dt_code_drop_line(p->dialect.pen_down, f->value));
        break;
    case DT_ERROR_OF_SPEED:
        put_axis(c, "motion", "speed", f->axis,
                 g_strdup_printf("%.1f mm/s", f->value * dt_truing_limit_share(f->kind)));
        break;
    case DT_ERROR_OF_ACCELERATION:
        put_axis(c, "motion", "acceleration", f->axis,
                 g_strdup_printf("%.0f mm/s2", f->value * dt_truing_limit_share(f->kind)));
        break;
    case DT_ERROR_OF_PULL_IN:
        put_axis(c, "motion", "pull_in", f->axis,
                 g_strdup_printf("%.1f mm/s", f->value * dt_truing_limit_share(f->kind)));
        break;
    default:
        break;
    }
}

DtProfileChange *dt_truing_changes(const DtProfile *p, const DtTestSheet *s, const DtFigures *f,
                                   size_t *n)
{
    Changes c = {g_array_new(FALSE, FALSE, sizeof(DtProfileChange)), s};
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].proposed && f->f[i].known)
            put_single(&c, p, &f->f[i]);
    put_tables(&c, f);
    put_pens(&c, p, f);
    *n = c.list->len;
    return (DtProfileChange *)(void *)g_array_free(c.list, FALSE);
}

void dt_truing_free_changes(DtProfileChange *c, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        g_free((char *)c[i].section);
        g_free((char *)c[i].key);
        g_free((char *)c[i].value);
        g_free((char *)c[i].remark);
    }
    g_free(c);
}

/* Written and taken back ------------------------------------------------------------------------ */

enum { LONGEST_PROFILE = 1 << 20 };

static char *sum_of(const char *text)
{
    return g_compute_checksum_for_string(G_CHECKSUM_SHA256, text, -1);
}

char *dt_truing_drive_sum(const DtProfile *p)
{
    g_autoptr(GString) t = g_string_new(NULL);
    for (int i = 0; i < 2; i++)
        g_string_append_printf(t, "%.9g %.9g %.9g %.9g %.9g %.9g ", p->travel[i],
                               p->steps_per_mm[i], p->motor_steps[i], p->gear[i],
                               p->pulley_diameter[i], p->cord_diameter[i]);
    return sum_of(t->str);
}

gboolean dt_truing_keep_sheet(const char *journal, const DtProfile *p, const DtTestSheet *s,
                              const char *program, gsize len, const char *path, GError **error)
{
    g_autofree char *sum =
        g_compute_checksum_for_data(G_CHECKSUM_SHA256, (const guchar *)program, len);
    g_autofree char *profile_sum = dt_truing_drive_sum(p);
    g_autofree char *truth = dt_sheet_to_json(s);
    g_autofree char *profile = p->path ? g_canonicalize_filename(p->path, NULL) : g_strdup("");
    const DtSheetRecord r = {.number = s->number,
                             .machine = s->machine,
                             .profile = profile,
                             .profile_sum = profile_sum,
                             .program_sum = sum,
                             .sheet = truth};
    return dt_sheet_log_add(journal, &r, error) && dt_base_write_file(path, program, len, error);
}

gboolean dt_truing_check_record(const DtSheetRecord *r, const DtProfile *p, GError **error)
{
    g_autofree char *sum = dt_truing_drive_sum(p);
    if (r->begun && !r->drawn)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "sheet %" PRId64
                    " was broken off after %zu of %zu strokes; resume its run, or draw a new one",
                    r->number, r->strokes_drawn, r->strokes);
    else if (*r->profile_sum && strcmp(sum, r->profile_sum) != 0)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the travel, steps or drive train of this profile were changed since sheet "
                    "%" PRId64
                    " was drawn; it says nothing of the machine as it is now: draw a new one",
                    r->number);
    else
        return TRUE;
    return FALSE;
}

gboolean dt_truing_write(const char *journal, const char *machine, const char *path, gint64 sheet,
                         const DtProfileChange *c, size_t n, GError **error)
{
    g_autofree char *before = dt_base_read_file(path, LONGEST_PROFILE, NULL, error);
    g_autofree char *after = before ? dt_profile_changed_text(path, c, n, error) : NULL;
    if (after == NULL)
        return FALSE;
    g_autofree char *sum = sum_of(after), *whole = g_canonicalize_filename(path, NULL);
    const DtCorrectionRecord r = {.number = sheet, .before = before, .after_sum = sum};
    return dt_sheet_log_correct(journal, machine, whole, &r, error) &&
           dt_base_write_file(path, after, strlen(after), error);
}

gboolean dt_truing_undo(const char *journal, const char *path, gint64 *sheet, GError **error)
{
    g_auto(DtCorrectionRecord) r = {0};
    g_autofree char *whole = g_canonicalize_filename(path, NULL);
    g_autofree char *now = dt_base_read_file(path, LONGEST_PROFILE, NULL, error);
    if (now == NULL || !dt_sheet_log_last_correction(journal, whole, &r, error))
        return FALSE;
    g_autofree char *sum = sum_of(now);
    if (strcmp(sum, r.after_sum) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s was changed after the corrections of sheet %" PRId64
                    " were written; take them back by hand: their remarks name the sheet",
                    path, r.number);
        return FALSE;
    }
    *sheet = r.number;
    return dt_base_write_file(path, r.before, strlen(r.before), error) &&
           dt_sheet_log_take_back(journal, r.id, error);
}

void dt_read_sheet_clear(DtReadSheet *s)
{
    dt_sheet_record_clear(&s->record);
    dt_sheet_free(s->sheet);
    dt_figures_free(s->figures);
}

gboolean dt_truing_read_sheet(const char *journal, const char *machine, gint64 number,
                              DtReadSheet *out, GError **error)
{
    if (!dt_sheet_log_read(journal, machine, number, &out->record, error))
        return FALSE;
    if (*out->record.figures == '\0') {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "sheet %" PRId64 " was not read yet; 'drawtrue true --sheet %" PRId64
                    " --show' does it",
                    number, number);
        return FALSE;
    }
    out->sheet = dt_sheet_from_json(out->record.sheet, error);
    out->figures = out->sheet ? dt_figures_from_json(out->record.figures, error) : NULL;
    return out->figures != NULL;
}
