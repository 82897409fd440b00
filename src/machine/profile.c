/* profile: reads a machine's file by the table of keys, and reports every problem in one pass.
 * GKeyFile holds the values; a separate scan of the text finds the line numbers. */
#include "machine/correct.h"
#include "machine/keys.h"

#include <math.h>
#include <string.h>

enum { LONGEST_PROFILE = 1 << 20, MOST_PROBLEMS = 20 };

typedef struct {
    int line; /* 0: of the file as a whole */
    char *text;
} Problem;

/* One file being read. */
typedef struct {
    const char *name;
    GKeyFile *file;
    GHashTable *lines; /* maps "section\nkey" or "section" to its 1-based line */
    GArray *problems;
    GString *notes;
    gboolean says_something; /* a key or a pen */
} Reader;

static void clear_problem(gpointer p)
{
    g_free(((Problem *)p)->text);
}

static void reader_init(Reader *r, const char *name)
{
    *r = (Reader){.name = name, .file = g_key_file_new()};
    r->notes = g_string_new(NULL);
    r->lines = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    r->problems = g_array_new(FALSE, FALSE, sizeof(Problem));
    g_array_set_clear_func(r->problems, clear_problem);
}

static void reader_clear(Reader *r)
{
    g_key_file_free(r->file);
    g_hash_table_destroy(r->lines);
    g_array_unref(r->problems);
    g_string_free(r->notes, TRUE);
}

static void G_GNUC_PRINTF(3, 4) add_problem(Reader *r, int line, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    Problem p = {line, g_strdup_vprintf(_(format), list)};
    va_end(list);
    g_array_append_val(r->problems, p);
}

static int line_of(const Reader *r, const char *section, const char *key)
{
    g_autofree char *id = key ? g_strdup_printf("%s\n%s", section, key) : g_strdup(section);
    return GPOINTER_TO_INT(g_hash_table_lookup(r->lines, id));
}

/* The scan of the text ---------------------------------------------------------------------- */

/* Records the line; FALSE, with the problem added, if the key was there before. */
static gboolean note_line(Reader *r, char *id, int line, const char *what)
{
    int before = GPOINTER_TO_INT(g_hash_table_lookup(r->lines, id));
    if (before) {
        add_problem(r, line, "%s was given on line %d already", what, before);
        g_free(id);
        return FALSE;
    }
    g_hash_table_insert(r->lines, id, GINT_TO_POINTER(line));
    return TRUE;
}

static gboolean is_pen_section(const char *section)
{
    return g_str_has_prefix(section, "pen ");
}

static gboolean is_key_name(const char *s)
{
    for (const char *c = s; *c; c++)
        if (!g_ascii_isalnum(*c) && *c != '_' && *c != '-')
            return FALSE;
    return *s != '\0';
}

static gboolean is_section_name(const char *s)
{
    for (const char *c = s; *c; c++)
        if (*c == '[' || *c == ']' || g_ascii_iscntrl(*c))
            return FALSE;
    return *s != '\0';
}

/* Processes one stripped line; appends it to `clean` if GKeyFile can read it. */
static void scan_line(Reader *r, char *text, int line, char **section, GString *clean)
{
    gsize n = strlen(text);
    if (n == 0 || *text == '#')
        return;
    if (*text == '[') {
        char *name = text + 1;
        gboolean good = text[n - 1] == ']';
        if (good)
            text[n - 1] = '\0';
        g_free(*section);
        if (!good || !is_section_name(g_strstrip(name))) {
            add_problem(r, line, "a section is written [name]");
            *section = g_strdup("");
            return;
        }
        *section = g_strdup(name);
        if (!is_pen_section(name))
            g_hash_table_insert(r->lines, g_strdup(name), GINT_TO_POINTER(line));
        else
            note_line(r, g_strdup(name), line, name);
        g_string_append_printf(clean, "[%s]\n", name);
        return;
    }
    char *equals = strchr(text, '=');
    if (equals == NULL) {
        add_problem(r, line, "'%.40s' is neither [section], key = value nor a # comment", text);
        return;
    }
    *equals = '\0';
    g_strchomp(text);
    if (!is_key_name(text)) {
        add_problem(r, line, "'%.40s' is not a key", text);
        return;
    }
    if (*section == NULL)
        add_problem(r, line, "'%s' stands before the first section", text);
    if (*section == NULL || **section == '\0')
        return;
    const char *name = dt_key_name_now(*section, text);
    if (name != text)
        g_string_append_printf(r->notes, _("%s:%d: '%s' is called '%s' now\n"), r->name, line, text,
                               name);
    if (note_line(r, g_strdup_printf("%s\n%s", *section, name), line, name))
        g_string_append_printf(clean, "%s=%s\n", name, g_strchug(equals + 1));
}

/* Fills r->file and r->lines. */
static void scan_text(Reader *r, const char *text, gsize len)
{
    if (len >= 3 && memcmp(text, "\357\273\277", 3) == 0) { /* a byte-order mark */
        text += 3;
        len -= 3;
    }
    g_autoptr(GString) clean = g_string_new(NULL);
    g_autofree char *section = NULL;
    int line = 0;
    for (const char *at = text, *end = text + len; at < end;) {
        const char *stop = memchr(at, '\n', (gsize)(end - at));
        gsize n = (gsize)((stop ? stop : end) - at);
        line++;
        if (memchr(at, '\0', n) || !g_utf8_validate(at, (gssize)n, NULL)) {
            add_problem(r, line, "this is not UTF-8 text");
            return;
        }
        g_autofree char *copy = g_strndup(at, n);
        scan_line(r, g_strstrip(copy), line, &section, clean);
        at += n + 1;
    }
    g_autoptr(GError) error = NULL;
    if (clean->len &&
        !g_key_file_load_from_data(r->file, clean->str, clean->len, G_KEY_FILE_NONE, &error))
        add_problem(r, 0, "%s", error->message);
}

/* Keys to fields ---------------------------------------------------------------------------- */

static const DtKey *find_key(const char *section, const char *name)
{
    for (gsize i = 0; i < dt_n_keys; i++)
        if (strcmp(dt_keys[i].section, section) == 0 && strcmp(dt_keys[i].name, name) == 0)
            return &dt_keys[i];
    return NULL;
}

/* A key of this name in another section, or else the nearest one in this section. */
static void refuse_key(Reader *r, const char *section, const char *table_section, const char *name)
{
    int line = line_of(r, section, name);
    const DtKey *nearest = NULL;
    for (gsize i = 0; i < dt_n_keys; i++) {
        const DtKey *k = &dt_keys[i];
        if (strcmp(k->name, name) == 0) {
            add_problem(r, line, "'%s' does not belong in [%s] but in [%s]", name, section,
                        strcmp(k->section, "pen") == 0 ? "pen NAME" : k->section);
            return;
        }
        if (strcmp(k->section, table_section) == 0 &&
            (nearest == NULL ||
             dt_base_edit_distance(k->name, name) < dt_base_edit_distance(nearest->name, name)))
            nearest = k;
    }
    add_problem(r, line, "there is no key '%s' in [%s]; the nearest is '%s'", name, section,
                nearest->name);
}

static void refuse_section(Reader *r, const char *section)
{
    const DtKeySection *nearest = &dt_key_sections[0];
    for (gsize i = 1; i < dt_n_key_sections; i++)
        if (dt_base_edit_distance(section, dt_key_sections[i].name) <
            dt_base_edit_distance(section, nearest->name))
            nearest = &dt_key_sections[i];
    add_problem(r, line_of(r, section, NULL), "there is no section [%s]; the nearest is [%s]",
                section, strcmp(nearest->name, "pen") == 0 ? "pen NAME" : nearest->name);
}

static void set_presets(const char *section, gpointer base)
{
    for (gsize i = 0; i < dt_n_keys; i++) {
        const DtKey *k = &dt_keys[i];
        gboolean of_pen = strcmp(k->section, "pen") == 0;
        if (k->preset == NULL || of_pen != (strcmp(section, "pen") == 0))
            continue;
        char *why = NULL;
        if (!dt_key_set(k, base, k->preset, &why))
            g_error(_("preset of %s: %s"), k->name, why);
    }
}

static void read_section(Reader *r, const char *section, const char *table_section, gpointer base)
{
    g_auto(GStrv) keys = g_key_file_get_keys(r->file, section, NULL, NULL);
    for (char **name = keys; *name; name++) {
        r->says_something = TRUE;
        const DtKey *k = find_key(table_section, *name);
        if (k == NULL) {
            refuse_key(r, section, table_section, *name);
            continue;
        }
        g_autofree char *value = g_key_file_get_value(r->file, section, *name, NULL);
        g_autofree char *why = NULL;
        if (!dt_key_set(k, base, value, &why))
            add_problem(r, line_of(r, section, *name), "%s: %s", *name, why);
    }
}

static void add_pen(DtRack *rack, const char *name)
{
    rack->pens = g_renew(DtPen, rack->pens, rack->n + 1);
    DtPen *pen = &rack->pens[rack->n++];
    *pen = (DtPen){.name = g_strdup(name)};
    set_presets("pen", pen);
}

static void read_pen(Reader *r, const char *section, DtRack *rack)
{
    g_autofree char *name = g_strstrip(g_strdup(section + strlen("pen ")));
    add_pen(rack, name);
    r->says_something = TRUE;
    DtPen *pen = &rack->pens[rack->n - 1];
    read_section(r, section, "pen", pen);
    if (!g_key_file_has_key(r->file, section, "colour", NULL))
        g_string_append_printf(r->notes, _("%s:%d: pen %s has no colour here: it counts as %s\n"),
                               r->name, line_of(r, section, NULL), name,
                               find_key("pen", "colour")->preset);
}

static void default_rack(DtRack *rack)
{
    static const char *const pens[][2] = {
        {"black", "#000000"}, {"red", "#c8202c"}, {"blue", "#1f4e9c"}};
    for (gsize i = 0; i < G_N_ELEMENTS(pens); i++) {
        char *why = NULL;
        add_pen(rack, pens[i][0]);
        dt_value_colour(pens[i][1], &rack->pens[i].colour, &why);
    }
}

/* What must hold between keys --------------------------------------------------------------- */

double dt_machine_drive_steps(const DtProfile *p, int axis)
{
    return p->motor_steps[axis] * p->gear[axis] / dt_correct_turn_mm(p, axis);
}

static void check_axis(Reader *r, DtProfile *p, int axis)
{
    char letter = axis ? 'y' : 'x';
    char *key = g_strdup_printf("pull_in_%c", letter);
    if (p->pull_in[axis] > p->speed[axis])
        add_problem(r, line_of(r, "motion", key),
                    "%s: %g mm/s is more than the axis's fastest speed of %g mm/s", key,
                    p->pull_in[axis], p->speed[axis]);
    g_free(key);
    if (p->steps_per_mm[axis] == 0)
        p->steps_per_mm[axis] = dt_machine_drive_steps(p, axis);
    if (p->steps_per_mm[axis] < 0.5 || p->steps_per_mm[axis] > 10000)
        add_problem(r, line_of(r, "drive", axis ? "gear_y" : "gear_x"),
                    "the drive train of %c makes %g steps per mm, which is out of range: "
                    "0.5 to 10000",
                    letter, p->steps_per_mm[axis]);
}

/* Steeper tables could not be inverted, and no pulley is that eccentric. */
static void check_pulley(Reader *r, const DtProfile *p, int axis)
{
    const double most = dt_correct_turn_mm(p, axis) / (2 * G_PI) / 4;
    const char *key = axis ? "pulley_error_y" : "pulley_error_x";
    if (p->pulley_error[axis] > most)
        add_problem(
            r, line_of(r, "corrections", key),
            "%s: %g mm is more than the %.3f mm that a pulley of this drive train can be off", key,
            p->pulley_error[axis], most);
}

static void check_place(Reader *r, const DtProfile *p, const char *key, DtPoint at)
{
    if (at.x > p->travel[0] || at.y > p->travel[1])
        add_problem(r, line_of(r, "lift", key),
                    "%s: %g, %g mm lies beyond the travel of %g by %g mm", key, at.x, at.y,
                    p->travel[0], p->travel[1]);
}

static void check_overprints(Reader *r, const DtProfile *p)
{
    for (size_t i = 0; i < p->rack.n; i++) {
        g_autofree char *problem = dt_rack_overprint_problem(&p->rack, i);
        g_autofree char *section = g_strdup_printf("pen %s", p->rack.pens[i].name);
        if (problem)
            add_problem(r, line_of(r, section, "over"), "%s", problem);
    }
}

static void check_whole(Reader *r, DtProfile *p)
{
    check_overprints(r, p);
    check_axis(r, p, 0);
    check_axis(r, p, 1);
    check_pulley(r, p, 0);
    check_pulley(r, p, 1);
    check_place(r, p, "change_at", p->change_at);
    check_place(r, p, "park", p->park);
    if (p->dialect.window && p->dialect.longest_line >= p->dialect.window)
        add_problem(r, line_of(r, "controller", "longest_line"),
                    "longest_line: a line of %d bytes and its end do not fit a window of %d bytes",
                    p->dialect.longest_line, p->dialect.window);
    if (2 * p->margin >= MIN(p->paper_w, p->paper_h))
        add_problem(r, line_of(r, "paper", "margin"),
                    "margin: twice %g mm leaves nothing of a sheet of %g by %g mm", p->margin,
                    p->paper_w, p->paper_h);
}

/*  ------------------------------------------------------------------------------------------ */

static int by_line(gconstpointer a, gconstpointer b)
{
    return ((const Problem *)a)->line - ((const Problem *)b)->line;
}

static void report_problems(Reader *r, GError **error)
{
    GArray *list = r->problems;
    g_array_sort(list, by_line);
    g_autoptr(GString) s = g_string_new(NULL);
    for (guint i = 0; i < MIN(list->len, MOST_PROBLEMS); i++) {
        const Problem *p = &g_array_index(list, Problem, i);
        g_string_append_printf(s, "%s%s:", i ? "\n" : "", r->name);
        if (p->line)
            g_string_append_printf(s, "%d:", p->line);
        g_string_append_printf(s, " %s", p->text);
    }
    if (list->len > MOST_PROBLEMS)
        g_string_append_printf(s, _("\n%s: and %u more"), r->name, list->len - MOST_PROBLEMS);
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, s->str);
}

static DtProfile *preset_profile(void)
{
    DtProfile *p = g_new0(DtProfile, 1);
    set_presets("", p);
    return p;
}

static void read_sections(Reader *r, DtProfile *p)
{
    g_auto(GStrv) sections = g_key_file_get_groups(r->file, NULL);
    for (char **section = sections; *section; section++) {
        gboolean known = FALSE;
        for (gsize i = 0; i < dt_n_key_sections && !known; i++)
            known = strcmp(dt_key_sections[i].name, *section) == 0;
        if (is_pen_section(*section))
            read_pen(r, *section, &p->rack);
        else if (strcmp(*section, "pen") == 0)
            add_problem(r, line_of(r, *section, NULL), "a pen has a name: [pen black]");
        else if (known)
            read_section(r, *section, *section, p);
        else
            refuse_section(r, *section);
    }
}

DtProfile *dt_profile_read_data(const char *text, gsize len, const char *name, GError **error)
{
    Reader r;
    reader_init(&r, name);
    DtProfile *p = preset_profile();
    p->path = g_strdup(name);
    scan_text(&r, text, len);
    read_sections(&r, p);
    if (p->rack.n == 0)
        default_rack(&p->rack);
    if (r.problems->len == 0 && !r.says_something)
        add_problem(
            &r, 0,
            "this says nothing about a machine: it has no key and no pen; 'drawtrue machine "
            "--template' writes a profile to begin with");
    if (r.problems->len == 0)
        check_whole(&r, p);
    if (r.problems->len) {
        report_problems(&r, error);
        g_clear_pointer(&p, dt_profile_free);
    }
    if (p != NULL && r.notes->len > 0)
        p->notes = g_strdup(r.notes->str);
    reader_clear(&r);
    return p;
}

DtProfile *dt_profile_load(const char *path, GError **error)
{
    gsize len;
    g_autofree char *text = dt_base_read_file(path, LONGEST_PROFILE, &len, error);
    return text ? dt_profile_read_data(text, len, path, error) : NULL;
}

DtProfile *dt_profile_new(void)
{
    Reader r;
    reader_init(&r, NULL);
    DtProfile *p = preset_profile();
    default_rack(&p->rack);
    check_whole(&r, p); /* computes the steps per mm */
    reader_clear(&r);
    return p;
}

void dt_profile_free(DtProfile *p)
{
    if (p == NULL)
        return;
    for (gsize i = 0; i < dt_n_keys; i++) {
        const DtKey *k = &dt_keys[i];
        if (strcmp(k->section, "pen") != 0)
            dt_key_clear(k, p);
        else
            for (gsize j = 0; j < p->rack.n; j++)
                dt_key_clear(k, &p->rack.pens[j]);
    }
    for (gsize j = 0; j < p->rack.n; j++)
        g_free(p->rack.pens[j].name);
    g_free(p->rack.pens);
    g_free(p->path);
    g_free(p->notes);
    g_free(p);
}

void dt_profile_keep_pens(DtProfile *p, const gboolean *keep)
{
    size_t n = 0;
    for (size_t i = 0; i < p->rack.n; i++) {
        if (keep[i]) {
            p->rack.pens[n++] = p->rack.pens[i];
            continue;
        }
        for (gsize k = 0; k < dt_n_keys; k++)
            if (strcmp(dt_keys[k].section, "pen") == 0)
                dt_key_clear(&dt_keys[k], &p->rack.pens[i]);
        g_free(p->rack.pens[i].name);
    }
    p->rack.n = n;
}

DtProfile *dt_profile_copy(const DtProfile *p)
{
    DtProfile *copy = g_memdup2(p, sizeof *p);
    copy->path = g_strdup(p->path);
    copy->notes = g_strdup(p->notes);
    copy->rack.pens = g_memdup2(p->rack.pens, p->rack.n * sizeof *p->rack.pens);
    for (gsize j = 0; j < p->rack.n; j++)
        copy->rack.pens[j].name = g_strdup(p->rack.pens[j].name);
    for (gsize i = 0; i < dt_n_keys; i++) {
        const DtKey *k = &dt_keys[i];
        if (strcmp(k->section, "pen") != 0)
            dt_key_own(k, copy);
        else
            for (gsize j = 0; j < copy->rack.n; j++)
                dt_key_own(k, &copy->rack.pens[j]);
    }
    return copy;
}

void dt_profile_drop_corrections(DtProfile *p)
{
    for (gsize i = 0; i < dt_n_keys; i++)
        if (strcmp(dt_keys[i].section, "corrections") == 0) {
            char *why = NULL;
            dt_key_set(&dt_keys[i], p, dt_keys[i].preset, &why);
        }
}

DtCost dt_profile_cost(const DtProfile *p)
{
    DtCost c = {.lift_s = p->lift_s, .drop_s = p->drop_s, .change_s = p->change_s};
    for (int axis = 0; axis < 2; axis++) {
        c.speed[axis] = p->speed[axis];
        c.acceleration[axis] = p->acceleration[axis];
        c.pull_in[axis] = p->pull_in[axis];
        c.slack[axis] = dt_table_at(&p->backlash[axis], p->travel[axis] / 2) / p->scale[axis];
    }
    return c;
}
