/* truing: test sheets and their results. */
#include "drawtrue/json.h"
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <math.h>

/* The parts of a sheet, one after the other; 0 after the last. */
static DtSheetKind next_kind(guint kinds, guint after)
{
    const guint rest = after == 0 ? kinds : kinds & ~(after | (after - 1));
    return (DtSheetKind)(rest & -rest);
}

static size_t count_pauses(const DtTestSheet *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        n += s->marks[i].kind == DT_MARK_PAUSE;
    return n;
}

static gboolean is_height(const DtMark *m)
{
    return m->drop_word > 0;
}

static gboolean has_mark(const DtTestSheet *s, DtMarkKind kind, gboolean (*is)(const DtMark *m))
{
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == kind && (is == NULL || is(&s->marks[i])))
            return TRUE;
    return FALSE;
}

static char *test_sheet_json(const DtTestSheet *s, const DtTimes *t, const char *output)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_count(b, "sheet", (size_t)s->number);
    dt_json_text(b, "machine", s->machine);
    dt_json_text(b, "date", s->date);
    dt_json_text(b, "program", output);
    dt_json_begin_array(b, "parts");
    for (DtSheetKind k = next_kind(s->kinds, 0); k; k = next_kind(s->kinds, k))
        json_builder_add_string_value(b, dt_sheet_kind_name(k));
    json_builder_end_array(b);
    dt_json_count(b, "marks", s->n);
    dt_json_count(b, "pauses", count_pauses(s));
    dt_json_number(b, "time_s", t->total_s);
    dt_json_number(b, "ink_mm", t->ink_mm);
    return dt_json_end(b);
}

char *dt_report_test_sheet(const DtProfile *p, const DtTestSheet *s, const DtTimes *times,
                           const char *output, gboolean json)
{
    if (json)
        return test_sheet_json(s, times, output);
    g_autofree char *time = dt_base_duration(times->total_s);
    GString *t = g_string_new(NULL);
    g_string_append_printf(t, _("sheet %" PRId64 " of %s, %s: %s\n"), s->number, s->machine,
                           s->date, output);
    for (DtSheetKind k = next_kind(s->kinds, 0); k; k = next_kind(s->kinds, k))
        g_string_append_printf(t, "  %-8s %s\n", dt_sheet_kind_name(k), dt_sheet_kind_help(k));
    g_string_append_printf(t, _("drawing          %s, homing included; paper %s at %g, %g mm\n"),
                           time, p->paper_name, s->paper_at.x, s->paper_at.y);
    if (s->kinds & DT_SHEET_SQUARE)
        g_string_append(
            t, _("turning          the machine stops once. Turn the paper a quarter turn "
                 "counter-clockwise, lay its lower left corner where that was before, and let "
                 "it go on\n"));
    if ((s->kinds & DT_SHEET_SETTLE) && !has_mark(s, DT_MARK_DASH, is_height))
        g_string_append_printf(
            t,
            _("drop heights     are not on it: the line that drops the pen, %s, has no S of a "
              "servo that could be varied\n"),
            p->dialect.pen_down);
    if ((s->kinds & DT_SHEET_PENS) && !has_mark(s, DT_MARK_TONE, NULL))
        g_string_append(t, _("tone steps       are not on it for lack of room; 'drawtrue sheet "
                             "pens' has them\n"));
    if (s->kinds & DT_SHEET_SPEED)
        g_string_append(
            t, _("limits           set the controller's own speed, acceleration and pull-in above "
                 "five times the profile's first: a limit of its own hides the machine's\n"
                 "caution          this sheet makes the motors lose steps. Stay with the machine, "
                 "hands clear, and the switch within reach\n"));
    g_autofree char *unwaited = dt_report_unwaited(p);
    if (unwaited != NULL)
        g_string_append_printf(t, _("pen              %s\n"), unwaited);
    g_string_append_printf(
        t,
        _("then             drawtrue run %s --port PORT, and 'drawtrue true' for the "
          "readings\n"),
        output);
    return g_string_free(t, FALSE);
}

/* What a sheet showed --------------------------------------------------------------------------- */

static const double two_sided_95 = 1.96;
enum { LONG_CURVE = 3 }; /* up to this number of places is listed one by one */

/* The two columns at the start of a line: what it describes, and its axis. */
static void add_title(GString *t, const char *title, int axis)
{
    g_autofree char *column = dt_base_column(title, 32);
    g_string_append_printf(t, "%s %-2s", column, axis == 0 ? "X" : axis == 1 ? "Y" : "");
}

/* What two sheets or a machine's log show of one kind: pens by their numbers, as on the sheet, since their order in the
 * profile may have changed. */
static void add_subject(GString *t, const DtComparison *c)
{
    if (c->pen < 0) {
        add_title(t, dt_error_title(c->kind), c->axis);
        return;
    }
    g_autofree char *title = g_strdup_printf(_("pen %d: %s"), c->pen + 1, dt_error_title(c->kind));
    g_autofree char *column = dt_base_column(title, 35);
    g_string_append(t, column);
}

static void add_place(GString *t, const DtProfile *p, const DtFigure *f)
{
    g_autofree char *at = isnan(f->at) ? g_strdup("") : g_strdup_printf(_("at %.0f mm"), f->at);
    const char *pen =
        f->pen >= 0 && p && (size_t)f->pen < p->rack.n ? p->rack.pens[f->pen].name : "";
    add_title(t, dt_error_title(f->kind), f->pen >= 0 ? -1 : f->axis);
    g_string_append_printf(t, " %-10s", f->pen >= 0 ? pen : at);
}

static int decimals_of(DtErrorKind kind)
{
    switch (kind) {
    case DT_ERROR_OF_SCALE:
        return 5;
    case DT_ERROR_OF_ACCELERATION:
        return 0;
    case DT_ERROR_OF_SPEED:
    case DT_ERROR_OF_PULL_IN:
    case DT_ERROR_OF_DROP_WORD:
        return 1;
    case DT_ERROR_OF_DOT_GAIN:
        return 2;
    default:
        return 3;
    }
}

/* Remarks on a figure, beside its value. */
static char *remark_on(const DtFigure *f)
{
    if (f->kind == DT_ERROR_OF_RINGING)
        return f->value > 0
                   ? g_strdup_printf(_("   behind each sudden stop, at %.0f Hz"), f->value_2)
                   : g_strdup(_("   no oscillation stands out of the noise"));
    if (f->outdated)
        return g_strdup(_("   the profile has that of a newer sheet"));
    return g_strdup(f->proposed || f->kind == DT_ERROR_OF_MEAN_REVERSAL
                        ? ""
                        : _("   as in the profile, or too close to it to tell"));
}

static void add_figure(GString *t, const DtProfile *p, const DtFigure *f)
{
    double factor;
    const char *unit = dt_error_unit(f->kind, &factor);
    const int decimals = decimals_of(f->kind);
    add_place(t, p, f);
    if (!f->known) {
        g_string_append(t, _("  unknown\n"));
        return;
    }
    g_autofree char *remark = remark_on(f);
    g_string_append_printf(t, " %10.*f +-%.*f %s%s\n", decimals, f->value * factor, decimals,
                           two_sided_95 * f->sd * factor, unit, remark);
}

/* The figures of one curve; returns how many there are, counted from `first`. */
static size_t curve_length(const DtFigures *f, size_t first)
{
    size_t n = 1;
    while (first + n < f->n && f->f[first + n].kind == f->f[first].kind &&
           f->f[first + n].axis == f->f[first].axis && !isnan(f->f[first + n].at))
        n++;
    return isnan(f->f[first].at) ? 1 : n;
}

/* A long curve in one line: the range of what is known of it, and the widest interval. */
static void add_curve(GString *t, const DtFigure *f, size_t n)
{
    double low = G_MAXDOUBLE, high = -G_MAXDOUBLE, sd = 0;
    size_t known = 0;
    gboolean proposed = FALSE, outdated = FALSE;
    for (size_t i = 0; i < n; i++) {
        if (!f[i].known)
            continue;
        known++;
        low = MIN(low, f[i].value);
        high = MAX(high, f[i].value);
        sd = MAX(sd, f[i].sd);
        proposed |= f[i].proposed;
        outdated |= f[i].outdated;
    }
    add_title(t, dt_error_title(f->kind), f->axis);
    if (known == 0) {
        g_string_append_printf(t, _(" %zu places"), n);
        g_string_append(t, _("  unknown\n"));
        return;
    }
    if (known == n)
        g_string_append_printf(t, _(" %zu places"), n);
    else
        g_string_append_printf(t, _(" %zu of %zu places"), known, n);
    g_string_append_printf(t, _(" %.3f to %.3f +-%.3f mm%s\n"), low, high, two_sided_95 * sd,
                           outdated   ? _("   the profile has that of a newer sheet")
                           : proposed ? ""
                                      : _("   as in the profile, or too close to it to tell"));
}

/* What probably needs repair: the causes that explain most ink error first. */
static void add_suspects(GString *t, const DtProfile *p, const DtFigures *f)
{
    size_t n;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, f, &n);
    if (n > 0)
        g_string_append(t, _("\nlikely causes, those that cost most ink error first:\n"));
    for (size_t i = 0; i < n; i++) {
        const char *axis = s[i].axis == 0 ? "X: " : s[i].axis == 1 ? "Y: " : "";
        g_string_append_printf(t, "%2zu. %s%s\n      ", i + 1, axis, dt_part_title(s[i].part));
        if (s[i].part == DT_PART_TORQUE)
            g_string_append(t, _("may cost the whole drawing"));
        else if (s[i].sd_mm > 0)
            g_string_append_printf(t, _("ink error up to %.3f +-%.3f mm (95 %%)"), s[i].ink_mm,
                                   two_sided_95 * s[i].sd_mm);
        else
            g_string_append_printf(t, _("ink error up to %.3f mm (95 %%)"), s[i].ink_mm);
        g_string_append_printf(t, _("; %s\n      repair: %s\n"),
                               s[i].corrected ? _("the profile can correct it")
                                              : _("only a repair helps"),
                               dt_part_repair(s[i].part));
    }
    if (n > 0)
        g_string_append(t, _("Before a repair: switch off and unplug the machine.\n"));
}

static void add_suspects_json(JsonBuilder *b, const DtProfile *p, const DtFigures *f)
{
    size_t n;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, f, &n);
    dt_json_begin_array(b, "causes");
    for (size_t i = 0; i < n; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "part", dt_part_word(s[i].part));
        dt_json_text(b, "axis", s[i].axis == 0 ? "x" : s[i].axis == 1 ? "y" : NULL);
        if (s[i].part != DT_PART_TORQUE) {
            dt_json_number(b, "ink_mm", s[i].ink_mm);
            dt_json_number(b, "standard_uncertainty", s[i].sd_mm);
        }
        dt_json_flag(b, "corrected_by_profile", s[i].corrected);
        dt_json_text(b, "shows", dt_part_title(s[i].part));
        dt_json_text(b, "repair", dt_part_repair(s[i].part));
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

/* In the journal they are in English. */
static void append_notes(GString *t, const char *notes)
{
    g_autofree char *said = dt_messages_find_lines(notes);
    g_string_append_printf(t, "\n%s\n", said);
}

static char *truing_text(const DtProfile *p, const DtReportTruing *r)
{
    GString *t = g_string_new(NULL);
    g_string_append_printf(t, _("sheet %" PRId64 " of %s, %s: "), r->sheet->number,
                           r->sheet->machine, r->sheet->date);
    if (r->scans > 0)
        g_string_append_printf(t, P_("%zu scan, ", "%zu scans, ", r->scans), r->scans);
    g_string_append_printf(t, _("%zu of %zu readings by eye\n\n"),
                           r->readings ? dt_eye_readings_count(r->readings) : 0,
                           r->readings ? r->readings->n : 0);
    for (size_t i = 0; i < r->figures->n;) {
        const size_t n = curve_length(r->figures, i);
        if (n > LONG_CURVE)
            add_curve(t, &r->figures->f[i], n);
        for (size_t k = i; n <= LONG_CURVE && k < i + n; k++)
            add_figure(t, p, &r->figures->f[k]);
        i += n;
    }
    /* xgettext:no-c-format */
    g_string_append(t, _("\n+- is the 95 % interval (GUM)\n"));
    if (r->figures->ink_before_mm > 0)
        g_string_append_printf(
            t,
            dt_figures_lack_shape(r->figures)
                ? _("expected ink error without what is unknown, 95 %%: %.2f mm before, %.2f mm "
                    "with these corrections\n")
                : _("expected ink error, 95 %%: %.2f mm before, %.2f mm with these corrections\n"),
            r->figures->ink_before_mm, r->figures->ink_after_mm);
    if (r->figures->notes)
        append_notes(t, r->figures->notes);
    if (r->n_changes > 0)
        g_string_append_printf(t, r->written ? _("\nwritten to %s\n") : _("\nwould be written\n"),
                               r->written);
    for (size_t i = 0; i < r->n_changes; i++)
        g_string_append_printf(t, "  [%s] %s = %s\n", r->changes[i].section, r->changes[i].key,
                               r->changes[i].value);
    if (r->written)
        g_string_append_printf(t, _("'drawtrue true --undo -m %s' takes it back\n"), r->written);
    else if (r->why_not)
        g_string_append_printf(t, "%s\n", r->why_not);
    add_suspects(t, p, r->figures);
    return g_string_free(t, FALSE);
}

static void add_raw(JsonBuilder *b, const char *name, const char *json)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    json_builder_set_member_name(b, name);
    if (json && json_parser_load_from_data(parser, json, -1, NULL) && json_parser_get_root(parser))
        json_builder_add_value(b, json_node_copy(json_parser_get_root(parser)));
    else
        json_builder_add_null_value(b);
}

static char *truing_json(const DtProfile *p, const DtReportTruing *r)
{
    g_autofree char *figures = dt_figures_to_json(r->figures);
    g_autofree char *readings = r->readings ? dt_eye_readings_to_json(r->readings) : NULL;
    JsonBuilder *b = dt_json_begin();
    dt_json_count(b, "sheet", (size_t)r->sheet->number);
    dt_json_text(b, "machine", r->sheet->machine);
    dt_json_count(b, "scans", r->scans);
    add_raw(b, "readings", readings);
    add_raw(b, "result", figures);
    dt_json_begin_array(b, "changes");
    for (size_t i = 0; i < r->n_changes; i++) {
        json_builder_begin_object(b);
        dt_json_text(b, "section", r->changes[i].section);
        dt_json_text(b, "key", r->changes[i].key);
        dt_json_text(b, "value", r->changes[i].value);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    dt_json_text(b, "written", r->written);
    add_suspects_json(b, p, r->figures);
    return dt_json_end(b);
}

char *dt_report_truing(const DtProfile *p, const DtReportTruing *r, gboolean json)
{
    return json ? truing_json(p, r) : truing_text(p, r);
}

/* Before and after ------------------------------------------------------------------------------ */

static const char *const verdicts[] = {
    [DT_VERDICT_SAME] = N_("no difference that this measurement can detect"),
    [DT_VERDICT_BETTER] = N_("better"),
    [DT_VERDICT_WORSE] = N_("worse"),
    [DT_VERDICT_UNKNOWN] = N_("measured on one of them only"),
};

static void add_value(GString *t, double value, double sd, double factor, int decimals)
{
    if (isfinite(value))
        g_string_append_printf(t, "  %9.*f +-%-8.*f", decimals, value * factor, decimals,
                               two_sided_95 * sd * factor);
    else
        g_string_append_printf(t, "  %9s   %-8s", "-", "");
}

/* Of axes that both sheets have places of. */
static void add_axis_figures(GString *t, const DtFigures *a, const DtFigures *b)
{
    gboolean begun = FALSE;
    for (int axis = 0; axis < 2; axis++) {
        DtAxisFigures f[2];
        size_t n[2];
        g_autofree DtAxisPlace *pa = dt_truing_places(a, axis, &n[0]);
        g_autofree DtAxisPlace *pb = dt_truing_places(b, axis, &n[1]);
        if (n[0] == 0 || n[1] == 0)
            continue;
        if (!begun)
            g_string_append(t, _("\nby the formulas of ISO 230-2:\n"));
        begun = TRUE;
        dt_truing_iso_230_2(pa, n[0], &f[0]);
        dt_truing_iso_230_2(pb, n[1], &f[1]);
        const struct {
            const char *name;
            double a, b;
        } rows[] = {
            {N_("reversal value B"), f[0].reversal, f[1].reversal},
            {N_("mean bidirectional deviation M"), f[0].mean_bidirectional,
             f[1].mean_bidirectional},
            {N_("bidirectional repeatability R"), f[0].repeatability, f[1].repeatability},
            {N_("bidirectional accuracy A"), f[0].accuracy, f[1].accuracy},
        };
        for (size_t i = 0; i < G_N_ELEMENTS(rows); i++) {
            add_title(t, _(rows[i].name), axis);
            g_string_append_printf(t, " %9.3f %22.3f mm\n", rows[i].a, rows[i].b);
        }
    }
}

static char *comparison_text(const DtTestSheet *a, const DtTestSheet *b, const DtComparison *c,
                             size_t n, const DtFigures *fa, const DtFigures *fb)
{
    GString *t = g_string_new(NULL);
    g_string_append_printf(t,
                           _("%s: sheet %" PRId64 " of %s and sheet %" PRId64
                             " of %s\n\n%-35s  %9" PRId64 "             %9" PRId64 "\n"),
                           a->machine, a->number, a->date, b->number, b->date, "", a->number,
                           b->number);
    for (size_t i = 0; i < n; i++) {
        double factor;
        const char *unit = dt_error_unit(c[i].kind, &factor);
        add_subject(t, &c[i]);
        add_value(t, c[i].a, c[i].a_sd, factor, decimals_of(c[i].kind));
        add_value(t, c[i].b, c[i].b_sd, factor, decimals_of(c[i].kind));
        g_string_append_printf(t, " %-7s  %s\n", unit, _(verdicts[c[i].verdict]));
    }
    g_string_append(
        t,
        /* xgettext:no-c-format */
        _("\n+- is the 95 % interval; a verdict is given where the two differ by more than chance "
          "explains in 5 of 100 cases\n"));
    add_axis_figures(t, fa, fb);
    return g_string_free(t, FALSE);
}

static char *comparison_json(const DtTestSheet *a, const DtTestSheet *b, const DtComparison *c,
                             size_t n)
{
    static const char *const words[] = {"same", "better", "worse", "unknown"};
    JsonBuilder *j = dt_json_begin();
    dt_json_text(j, "machine", a->machine);
    dt_json_count(j, "before", (size_t)a->number);
    dt_json_count(j, "after", (size_t)b->number);
    dt_json_begin_array(j, "figures");
    for (size_t i = 0; i < n; i++) {
        json_builder_begin_object(j);
        dt_json_text(j, "figure", dt_error_word(c[i].kind));
        dt_json_text(j, "axis", c[i].axis == 0 ? "x" : c[i].axis == 1 ? "y" : NULL);
        if (c[i].pen >= 0)
            dt_json_count(j, "pen", (size_t)c[i].pen);
        dt_json_number(j, "before", c[i].a);
        dt_json_number(j, "before_standard_uncertainty", c[i].a_sd);
        dt_json_number(j, "after", c[i].b);
        dt_json_number(j, "after_standard_uncertainty", c[i].b_sd);
        dt_json_text(j, "verdict", words[c[i].verdict]);
        json_builder_end_object(j);
    }
    json_builder_end_array(j);
    return dt_json_end(j);
}

char *dt_report_comparison(const DtTestSheet *a, const DtTestSheet *b, const DtComparison *c,
                           size_t n, const DtFigures *fa, const DtFigures *fb, gboolean json)
{
    return json ? comparison_json(a, b, c, n) : comparison_text(a, b, c, n, fa, fb);
}

/* A machine over time --------------------------------------------------------------------------- */

static char *sheets_json(const GArray *records)
{
    JsonBuilder *b = dt_json_begin();
    dt_json_begin_array(b, "sheets");
    for (guint i = 0; i < records->len; i++) {
        const DtSheetRecord *r = &g_array_index(records, DtSheetRecord, i);
        json_builder_begin_object(b);
        dt_json_text(b, "machine", r->machine);
        dt_json_count(b, "sheet", (size_t)r->number);
        dt_json_number(b, "made", r->at);
        dt_json_flag(b, "drawn", r->drawn);
        add_raw(b, "readings", *r->readings ? r->readings : NULL);
        add_raw(b, "result", *r->figures ? r->figures : NULL);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    return dt_json_end(b);
}

/* Mean of a figure's places, as in a comparison of the sheet with itself. */
static void add_means(GString *t, const DtFigures *f)
{
    size_t n;
    g_autofree DtComparison *c = dt_truing_compare(f, f, &n);
    for (size_t i = 0; i < n; i++) {
        double factor;
        const char *unit = dt_error_unit(c[i].kind, &factor);
        const int decimals = decimals_of(c[i].kind);
        g_string_append(t, "      ");
        add_subject(t, &c[i]);
        g_string_append_printf(t, " %9.*f +-%.*f %s\n", decimals, c[i].a * factor, decimals,
                               two_sided_95 * c[i].a_sd * factor, unit);
    }
}

char *dt_report_sheets_log(const GArray *records, gboolean json)
{
    if (json)
        return sheets_json(records);
    GString *t = g_string_new(records->len == 0 ? _("no test sheet yet\n") : NULL);
    for (guint i = 0; i < records->len; i++) {
        const DtSheetRecord *r = &g_array_index(records, DtSheetRecord, i);
        g_autoptr(DtTestSheet) s = dt_sheet_from_json(r->sheet, NULL);
        g_autoptr(DtFigures) f = *r->figures ? dt_figures_from_json(r->figures, NULL) : NULL;
        g_string_append_printf(t, _("%s, sheet %" PRId64 " of %s: %s\n"), r->machine, r->number,
                               s ? s->date : "?",
                               !r->begun   ? _("not drawn by 'drawtrue run'")
                               : !r->drawn ? _("broken off")
                               : f == NULL ? _("drawn, not read yet")
                                           : _("drawn and read"));
        if (f)
            add_means(t, f);
    }
    return g_string_free(t, FALSE);
}
