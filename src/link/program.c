/* program: one pass over RS-274 text that keeps only the line at hand. */
#include "link/program-inside.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

gboolean dt_program_fail(const DtProgram *g, GError **error, const char *format, ...)
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

gboolean dt_program_same_first_word(const char *a, const char *b)
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
    g->by_word = !dt_program_same_first_word(g->down, g->up);
    g->words = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    g->dwell_unit_s = 1;
    g_auto(GStrv) words = g_strsplit_set(d->words ? d->words : "", " \t,", -1);
    for (char **w = words; *w != NULL; w++)
        if (**w != '\0')
            take_token(g, *w);
}

void dt_program_rewind(DtProgram *g)
{
    rewind(g->file);
    g->number = 0;
    g->next_offset = 0;
    g->track = (DtTrack){.motion = -1, .unit = 1, .side = {1, 1}};
    dt_program_start_stretch(g);
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
    dt_program_rewind(g);
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

void dt_program_watch(DtProgram *g, DtProgramWatch watch, void *user)
{
    g->watch = watch;
    g->watch_user = user;
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

/* A checked program must stay as it was: a run reads it for hours. A file whose time alone has
 * changed is the same. */
static gboolean is_as_checked(DtProgram *g, GError **error)
{
    struct stat now;
    if (*g->sha256 == '\0')
        return TRUE;
    if (fstat(fileno(g->file), &now) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
        return FALSE;
    }
    if (now.st_size == g->seen.st_size && now.st_mtim.tv_sec == g->seen.st_mtim.tv_sec &&
        now.st_mtim.tv_nsec == g->seen.st_mtim.tv_nsec)
        return TRUE;
    char sha256[65];
    if (!dt_program_hash(g, sha256, error))
        return FALSE;
    if (strcmp(sha256, g->sha256) == 0) {
        g->seen = now;
        return TRUE;
    }
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: the file was changed while it was being drawn", g->path);
    return FALSE;
}

/* One raw line into `raw`. FALSE at the end of the file or with *error. */
static gboolean read_raw(DtProgram *g, char *raw, gsize room, GError **error)
{
    const gboolean more = fgets(raw, (int)room, g->file) != NULL;
    if (!more && ferror(g->file)) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", g->path, g_strerror(errno));
        return FALSE;
    }
    if (!is_as_checked(g, error) || !more)
        return FALSE;
    g->number++;
    gsize n = strlen(raw);
    if (n + 1 == room && raw[n - 1] != '\n')
        return dt_program_fail(g, error, "the line is longer than %d characters",
                               DT_PROGRAM_LONGEST);
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
                return dt_program_fail(g, error, "a comment is not closed");
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
                return dt_program_fail(g, error, "there is no number behind '%c'", letter);
            if (letter != 'N')
                out->word[out->n++] = (Word){letter, value};
        } else {
            return dt_program_fail(g, error, "'%.1s' is not a word of RS-274",
                                   g_ascii_isprint(*c) ? c : "?");
        }
    }
    return TRUE;
}

gboolean dt_program_read_line(DtProgram *g, DtProgramLine *line, Words *words, GError **error)
{
    char raw[DT_PROGRAM_LONGEST + 3];
    if (!read_raw(g, raw, sizeof raw, error) || !split_words(g, raw, words, error))
        return FALSE;
    *line = (DtProgramLine){.number = g->number, .from = g->track.at};
    if (words->n > 0)
        line->len = squeeze(raw, line->text, sizeof line->text);
    dt_program_take_line(g, words, line);
    if (words->comment[0] != '\0')
        take_comment(g, words->comment);
    return TRUE;
}

gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error)
{
    Words words;
    return dt_program_read_line(g, line, &words, error);
}

static void restore(DtProgram *g, const DtTrack *track, size_t number, goffset offset)
{
    g->track = *track;
    dt_program_start_stretch(g);
    g->number = number;
    g->next_offset = offset;
    fseeko(g->file, offset, SEEK_SET);
}

gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error)
{
    dt_program_rewind(g);
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
