/* program: one pass over RS-274 text that keeps only the line at hand. */
#include "program.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

struct DtProgram {
    const DtProfile *profile;
    char *path;
    FILE *file;
    size_t number;       /* of the line read last */
    goffset next_offset; /* of the line after it */
    DtTrack track;
    char down[DT_PROGRAM_LONGEST + 1], up[DT_PROGRAM_LONGEST + 1]; /* the pen's lines, squeezed */
    gboolean by_word;    /* the pen's lines differ in their first word already */
    GHashTable *words;   /* what the dialect takes */
    double dwell_unit_s; /* what the P of a dwell counts */
    DtMoves stretch;     /* motions since the last full stop, from where that was */
    DtPoint stopped_at;
    double stopped_s; /* estimated time up to that stop */
    DtCost cost;
    char made_for[128];
};

typedef struct {
    char letter;
    double value;
} Word;

enum { MOST_WORDS = 64 };

typedef struct {
    Word word[MOST_WORDS];
    size_t n;
    char comment[128]; /* the last one of the line */
} Words;

static gboolean fail_line(const DtProgram *g, GError **error, const char *format, ...)
    G_GNUC_PRINTF(3, 4);

static gboolean fail_line(const DtProgram *g, GError **error, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s:%zu: %s", g->path, g->number, text);
    return FALSE;
}

/* Text without spaces, comments, N word and line end, letters large. */
static gsize squeeze(const char *from, char *to, gsize room)
{
    gsize n = 0;
    for (; *from != '\0' && strchr("\r\n;", *from) == NULL && n + 1 < room; from++) {
        if (*from == '(') {
            const char *end = strchr(from, ')');
            if (end == NULL)
                break;
            from = end;
        } else if (n == 0 && (*from == 'N' || *from == 'n')) {
            while (g_ascii_isdigit(from[1]) || from[1] == ' ')
                from++;
        } else if (!g_ascii_isspace(*from)) {
            to[n++] = g_ascii_toupper(*from);
        }
    }
    to[n] = '\0';
    return n;
}

static gsize first_word_length(const char *squeezed)
{
    gsize n = *squeezed != '\0';
    while (g_ascii_isdigit(squeezed[n]) || squeezed[n] == '.')
        n++;
    return n;
}

static gboolean same_first_word(const char *a, const char *b)
{
    gsize n = first_word_length(a);
    return n == first_word_length(b) && strncmp(a, b, n) == 0;
}

/* One token of the dialect's list of words; its grammar is in drawtrue/code.h. Only the word itself
 * matters here: ranges and companions are the business of 'inspect'. */
static void take_token(DtProgram *g, const char *token)
{
    if (strchr(token, ':') != NULL) {
        if (strcmp(token, "dwell:ms") == 0)
            g->dwell_unit_s = 0.001;
        return;
    }
    const char letter[] = {g_ascii_toupper(*token), '\0'};
    gsize n = 1;
    if (*letter == 'G' || *letter == 'M')
        n += strspn(token + 1, "0123456789.");
    g_autofree char *rest = g_strndup(token + 1, n - 1);
    if (*rest == '\0')
        g_hash_table_add(g->words, g_strdup(letter));
    else
        g_hash_table_add(g->words, g_strdup_printf("%s%g", letter, g_ascii_strtod(rest, NULL)));
}

static void read_dialect(DtProgram *g)
{
    const DtDialect *d = &g->profile->dialect;
    squeeze(d->pen_down, g->down, sizeof g->down);
    squeeze(d->pen_up, g->up, sizeof g->up);
    g->by_word = !same_first_word(g->down, g->up);
    g->words = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    g->dwell_unit_s = 1;
    g_auto(GStrv) words = g_strsplit_set(d->words ? d->words : "", " \t,", -1);
    for (char **w = words; *w != NULL; w++)
        if (**w != '\0')
            take_token(g, *w);
}

static void start_stretch(DtProgram *g)
{
    g->stretch.n = 0;
    g->stopped_at = g->track.at;
    g->stopped_s = g->track.seconds;
}

static void rewind_program(DtProgram *g)
{
    rewind(g->file);
    g->number = 0;
    g->next_offset = 0;
    g->track = (DtTrack){.motion = -1, .unit = 1, .side = {1, 1}};
    start_stretch(g);
}

DtProgram *dt_program_open(const DtProfile *p, const char *path, GError **error)
{
    FILE *file = g_fopen(path, "rbe");
    if (file == NULL || !g_file_test(path, G_FILE_TEST_IS_REGULAR)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", path,
                    file ? "not a regular file" : g_strerror(errno));
        if (file != NULL)
            fclose(file);
        return NULL;
    }
    DtProgram *g = g_new0(DtProgram, 1);
    g->profile = p;
    g->path = g_strdup(path);
    g->file = file;
    g->cost = dt_profile_cost(p);
    dt_moves_init(&g->stretch);
    read_dialect(g);
    rewind_program(g);
    return g;
}

void dt_program_close(DtProgram *g)
{
    if (g == NULL)
        return;
    fclose(g->file);
    dt_moves_clear(&g->stretch);
    g_hash_table_unref(g->words);
    g_free(g->path);
    g_free(g);
}

const DtTrack *dt_program_track(const DtProgram *g)
{
    return &g->track;
}

gboolean dt_program_knows(const DtProgram *g, const char *word)
{
    return g_hash_table_contains(g->words, word);
}

double dt_program_dwell_unit_s(const DtProgram *g)
{
    return g->dwell_unit_s;
}

const char *dt_program_made_for(const DtProgram *g)
{
    return g->made_for;
}

/* Comments ------------------------------------------------------------------------------------ */

static void name_pen(DtProgram *g, const char *name, gsize n)
{
    n = MIN(n, sizeof g->track.pen - 1);
    memcpy(g->track.pen, name, n);
    g->track.pen[n] = '\0';
}

/* (drawtrue 1.0 for MACHINE, profile FILE), (pen NAME), (stroke 12 pen NAME) */
static void take_comment(DtProgram *g, const char *comment)
{
    const char *pen = NULL, *made_for;
    if (g_str_has_prefix(comment, "drawtrue ") && (made_for = strstr(comment, " for ")) != NULL) {
        g_strlcpy(g->made_for, made_for + 5, sizeof g->made_for);
        return;
    }
    if (g_str_has_prefix(comment, "pen "))
        pen = comment + 4;
    else if (g_str_has_prefix(comment, "stroke ") && (pen = strstr(comment, " pen ")) != NULL)
        pen += 5;
    if (pen != NULL)
        name_pen(g, pen, strlen(pen));
}

/* Lines --------------------------------------------------------------------------------------- */

/* One raw line into `raw`. FALSE at the end of the file or with *error. */
static gboolean read_raw(DtProgram *g, char *raw, gsize room, GError **error)
{
    if (fgets(raw, (int)room, g->file) == NULL) {
        if (ferror(g->file))
            g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
        return FALSE;
    }
    g->number++;
    gsize n = strlen(raw);
    if (n + 1 == room && raw[n - 1] != '\n')
        return fail_line(g, error, "the line is longer than %d characters", DT_PROGRAM_LONGEST);
    g->next_offset = ftello(g->file);
    return TRUE;
}

/* A decimal of RS-274, which has neither exponents nor, unlike strtod(), hexadecimals: "G0X10" is
 * two words. FALSE where there are no digits. */
static gboolean read_decimal(const char **from, double *value)
{
    const char *c = *from;
    const gboolean negative = *c == '-';
    c += *c == '-' || *c == '+';
    double number = 0, place = 1;
    int digits = 0;
    for (gboolean point = FALSE; g_ascii_isdigit(*c) || (*c == '.' && !point); c++) {
        if (*c == '.') {
            point = TRUE;
            continue;
        }
        digits++;
        number = number * 10 + (*c - '0');
        place *= point ? 10 : 1;
    }
    *from = c;
    *value = (negative ? -number : number) / place;
    return digits > 0;
}

static gboolean split_words(const DtProgram *g, const char *raw, Words *out, GError **error)
{
    out->n = 0;
    out->comment[0] = '\0';
    for (const char *c = raw; *c != '\0' && *c != '\n' && *c != '\r';) {
        if (g_ascii_isspace(*c)) {
            c++;
        } else if (*c == '(') {
            const char *end = strchr(c, ')');
            if (end == NULL)
                return fail_line(g, error, "a comment is not closed");
            g_strlcpy(out->comment, c + 1, MIN(sizeof out->comment, (gsize)(end - c)));
            c = end + 1;
        } else if (*c == ';') {
            g_strlcpy(out->comment, c + 1, sizeof out->comment);
            g_strchomp(out->comment);
            return TRUE;
        } else if (*c == '%' && out->n == 0) {
            return TRUE;
        } else if (g_ascii_isalpha(*c) && out->n < MOST_WORDS) {
            char letter = g_ascii_toupper(*c++);
            while (*c == ' ' || *c == '\t')
                c++;
            double value;
            if (!read_decimal(&c, &value))
                return fail_line(g, error, "there is no number behind '%c'", letter);
            if (letter != 'N')
                out->word[out->n++] = (Word){letter, value};
        } else {
            return fail_line(g, error, "'%.1s' is not a word of RS-274",
                             g_ascii_isprint(*c) ? c : "?");
        }
    }
    return TRUE;
}

static const Word *find_word(const Words *w, char letter)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->word[i].letter == letter)
            return &w->word[i];
    return NULL;
}

static gboolean has_code(const Words *w, char letter, double value)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->word[i].letter == letter && fabs(w->word[i].value - value) < 1e-6)
            return TRUE;
    return FALSE;
}

static gboolean is_pen_line(const DtProgram *g, const char *text, const char *pen_line)
{
    if (*pen_line == '\0')
        return FALSE;
    return g->by_word ? same_first_word(text, pen_line) : strcmp(text, pen_line) == 0;
}

static DtLineKind classify(const DtProgram *g, const Words *w, const DtProgramLine *line)
{
    if (w->n == 0)
        return DT_LINE_BLANK;
    if (is_pen_line(g, line->text, g->down))
        return DT_LINE_PEN_DOWN;
    if (is_pen_line(g, line->text, g->up))
        return DT_LINE_PEN_UP;
    if (has_code(w, 'M', 0))
        return DT_LINE_STOP;
    if (has_code(w, 'G', 4))
        return DT_LINE_DWELL;
    if (has_code(w, 'G', 28))
        return DT_LINE_HOME;
    if (find_word(w, 'X') || find_word(w, 'Y'))
        return DT_LINE_MOVE;
    return DT_LINE_OTHER;
}

static void take_modes(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    for (size_t i = 0; i < w->n; i++) {
        if (w->word[i].letter != 'G')
            continue;
        long code = lround(w->word[i].value * 10);
        if (code >= 0 && code <= 30 && code % 10 == 0) {
            t->motion = (int)(code / 10);
            line->names_motion = TRUE;
        } else if (code == 200) {
            t->unit = 25.4;
        } else if (code == 210) {
            t->unit = 1;
        } else if (code == 900 || code == 910) {
            t->relative = code == 910;
        }
    }
    const Word *f = find_word(w, 'F');
    if (f != NULL) {
        t->feed = f->value;
        line->names_feed = TRUE;
    }
}

enum { LONGEST_STRETCH = 2000 }; /* motions: bounds the memory of an endless stroke */

/* A full stop: the machine's own model of time, with its look-ahead, replaces the rough count of
 * the stretch's lines. */
static void end_stretch(DtProgram *g)
{
    if (g->stretch.n > 0) {
        DtTimes times;
        dt_machine_time(g->profile, &g->stretch, FALSE, &times);
        g->stopped_s += times.total_s;
        g->stretch.n = 0;
    } else {
        g->stopped_s = g->track.seconds;
    }
    g->track.seconds = g->stopped_s;
    g->stopped_at = g->track.at;
}

static void add_to_stretch(DtProgram *g, DtPoint to, double feed_mm_s)
{
    DtMoves *s = &g->stretch;
    if (s->n == LONGEST_STRETCH)
        end_stretch(g);
    if (s->n == s->cap) {
        s->cap = MAX(64, 2 * s->cap);
        s->m = g_renew(DtMove, s->m, s->cap);
    }
    s->m[s->n++] = (DtMove){.kind = feed_mm_s > 0 ? DT_MOVE_DRAW : DT_MOVE_TRAVEL,
                            .to = dt_point_sub(to, g->stopped_at),
                            .feed_mm_s = feed_mm_s};
}

static double speed_along(const DtProfile *p, DtPoint d, double feed_mm_s)
{
    double length = hypot(d.x, d.y), speed = feed_mm_s;
    if (fabs(d.x) > 1e-9 * length)
        speed = MIN(speed, p->speed[0] * length / fabs(d.x));
    if (fabs(d.y) > 1e-9 * length)
        speed = MIN(speed, p->speed[1] * length / fabs(d.y));
    return speed;
}

static void take_move(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    DtPoint to = t->at;
    const Word *x = find_word(w, 'X'), *y = find_word(w, 'Y');
    if (x != NULL)
        to.x = x->value * t->unit + (t->relative ? t->at.x : 0);
    if (y != NULL)
        to.y = y->value * t->unit + (t->relative ? t->at.y : 0);
    DtPoint d = dt_point_sub(to, t->at);
    double length = hypot(d.x, d.y);
    if (length > 0) {
        const double feed = t->motion == 0 ? 0 : t->feed * t->unit / 60;
        add_to_stretch(g, to, feed);
        line->work_s = length / speed_along(g->profile, d, feed > 0 ? feed : G_MAXDOUBLE);
        t->seconds += line->work_s;
        *(t->pen_down ? &t->ink_mm : &t->travel_mm) += length;
    }
    if (d.x != 0)
        t->side[0] = d.x > 0 ? 1 : -1;
    if (d.y != 0)
        t->side[1] = d.y > 0 ? 1 : -1;
    t->at = to;
    t->carriage[0] = dt_machine_follow(g->profile, 0, t->carriage[0], to.x);
    t->carriage[1] = dt_machine_follow(g->profile, 1, t->carriage[1], to.y);
}

static void take_home(DtProgram *g)
{
    DtTrack *t = &g->track;
    t->seconds += dt_route_hop_s(&g->cost, t->homed ? t->at : g->profile->park, dt_point(0, 0));
    for (int i = 0; i < 2; i++) {
        t->side[i] = 1;
        t->carriage[i] = 0;
    }
    t->at = dt_point(0, 0);
    t->homed = TRUE;
}

static void take_line(DtProgram *g, const Words *w, DtProgramLine *line)
{
    DtTrack *t = &g->track;
    if (line->kind != DT_LINE_MOVE && line->kind != DT_LINE_BLANK)
        end_stretch(g);
    switch (line->kind) {
    case DT_LINE_PEN_DOWN:
        t->begun += t->pen_down ? 0 : 1;
        t->pen_down = TRUE;
        break;
    case DT_LINE_PEN_UP:
        t->drawn += t->pen_down ? 1 : 0;
        t->pen_down = FALSE;
        break;
    case DT_LINE_DWELL: {
        const Word *p = find_word(w, 'P');
        line->dwell_s = p ? MAX(0, p->value) * g->dwell_unit_s : 0;
        line->work_s = line->dwell_s;
        t->seconds += line->dwell_s;
        break;
    }
    case DT_LINE_HOME:
        take_home(g);
        break;
    case DT_LINE_MOVE:
        take_move(g, w, line);
        break;
    default:
        break;
    }
}

static gboolean read_line(DtProgram *g, DtProgramLine *line, Words *words, GError **error)
{
    char raw[DT_PROGRAM_LONGEST + 3];
    if (!read_raw(g, raw, sizeof raw, error) || !split_words(g, raw, words, error))
        return FALSE;
    *line = (DtProgramLine){.number = g->number, .from = g->track.at};
    if (words->n > 0)
        line->len = squeeze(raw, line->text, sizeof line->text);
    line->kind = classify(g, words, line);
    take_modes(g, words, line);
    take_line(g, words, line);
    if (words->comment[0] != '\0')
        take_comment(g, words->comment);
    return TRUE;
}

gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error)
{
    Words words;
    return read_line(g, line, &words, error);
}

/* The check before the run -----------------------------------------------------------------------
 */

static gboolean knows_word(const DtProgram *g, Word w)
{
    if (w.letter == 'M' && w.value >= 0 && w.value <= 1)
        return TRUE; /* the sender itself waits at these */
    char name[G_ASCII_DTOSTR_BUF_SIZE + 1] = {w.letter, '\0'};
    if (w.letter == 'G' || w.letter == 'M')
        g_ascii_formatd(name + 1, sizeof name - 1, "%g", w.value);
    return g_hash_table_contains(g->words, name);
}

static gboolean check_words(const DtProgram *g, const Words *w, GError **error)
{
    if (g_hash_table_size(g->words) == 0)
        return TRUE; /* the profile does not say */
    for (size_t i = 0; i < w->n; i++)
        if (!knows_word(g, w->word[i])) {
            char value[G_ASCII_DTOSTR_BUF_SIZE];
            return fail_line(g, error,
                             "the controller of this profile does not take '%c%s'; 'drawtrue mend' "
                             "makes such a file fit",
                             w->word[i].letter,
                             g_ascii_formatd(value, sizeof value, "%g", w->word[i].value));
        }
    return TRUE;
}

static gboolean check_travel(const DtProgram *g, GError **error)
{
    const double at[2] = {g->track.at.x, g->track.at.y};
    for (int i = 0; i < 2; i++)
        if (!(at[i] >= -1e-6 && at[i] <= g->profile->travel[i] + 1e-6))
            return fail_line(g, error, "%c %.3f mm is outside of the machine's travel, 0 to %g mm",
                             'X' + i, at[i], g->profile->travel[i]);
    return TRUE;
}

static gboolean check_line(const DtProgram *g, const DtProgramLine *line, const Words *w,
                           gsize extra, GError **error)
{
    const DtDialect *d = &g->profile->dialect;
    if (d->longest_line > 0 && line->len + extra > (gsize)d->longest_line)
        return fail_line(g, error, "the line is %zu bytes long; this controller takes %d",
                         line->len + extra, d->longest_line);
    if (d->window > 0 && line->len + extra + 2 > (gsize)d->window)
        return fail_line(g, error, "the line does not fit the controller's window of %d bytes",
                         d->window);
    return check_words(g, w, error) && check_travel(g, error);
}

static void count_line(DtProgramTotals *out, const DtProgramLine *line, const DtTrack *track)
{
    if (line->kind == DT_LINE_STOP)
        out->changes++;
    if (line->kind == DT_LINE_HOME && track->ink_mm + track->travel_mm <= 0)
        out->homes = TRUE;
}

static gboolean hash_file(DtProgram *g, char sha256[65], GError **error)
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    guchar buffer[16384];
    rewind(g->file);
    for (gsize n; (n = fread(buffer, 1, sizeof buffer, g->file)) > 0;)
        g_checksum_update(sum, buffer, (gssize)n);
    g_strlcpy(sha256, g_checksum_get_string(sum), 65);
    if (!ferror(g->file))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
    return FALSE;
}

gboolean dt_program_check(DtProgram *g, DtProgramTotals *out, GError **error)
{
    *out = (DtProgramTotals){0};
    if (!hash_file(g, out->sha256, error))
        return FALSE;
    rewind_program(g);
    const gsize extra = g->profile->dialect.line_check ? strlen("N99999") + strlen("(*FFFF)") : 0;
    DtProgramLine line;
    Words words;
    g_autoptr(GError) problem = NULL;
    while (read_line(g, &line, &words, &problem)) {
        if (!check_line(g, &line, &words, extra, &problem))
            break;
        count_line(out, &line, &g->track);
    }
    if (problem != NULL) {
        g_propagate_error(error, g_steal_pointer(&problem));
        return FALSE;
    }
    end_stretch(g);
    out->lines = g->number;
    out->strokes = g->track.begun;
    out->seconds = g->track.seconds;
    out->ink_mm = g->track.ink_mm;
    out->travel_mm = g->track.travel_mm;
    if (out->strokes == 0 && out->travel_mm <= 0)
        return fail_line(g, error, "the program draws nothing");
    if (g->track.pen_down)
        return fail_line(g, error, "the program ends with the pen down");
    rewind_program(g);
    return TRUE;
}

static void restore(DtProgram *g, const DtTrack *track, size_t number, goffset offset)
{
    g->track = *track;
    start_stretch(g);
    g->number = number;
    g->next_offset = offset;
    fseeko(g->file, offset, SEEK_SET);
}

gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error)
{
    rewind_program(g);
    if (drawn == 0)
        return TRUE;
    DtProgramLine line;
    g_autoptr(GError) problem = NULL;
    while (g->track.drawn < drawn && dt_program_next(g, &line, &problem))
        ;
    while (problem == NULL) {
        const DtTrack before = g->track;
        const size_t number = g->number;
        const goffset offset = g->next_offset;
        gboolean more = dt_program_next(g, &line, &problem);
        if (!more || line.kind != DT_LINE_DWELL) {
            restore(g, &before, number, offset);
            break;
        }
    }
    if (problem != NULL)
        g_propagate_error(error, g_steal_pointer(&problem));
    else if (g->track.drawn < drawn)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the program has only %zu strokes",
                    g->path, g->track.drawn);
    else
        return TRUE;
    return FALSE;
}
