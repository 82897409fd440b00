/* choose: by which reading of its pen a program is mended, or why none is clear. */
#include "code/mend/mend.h"

#include <string.h>

static void fill_reading(DtPenReading *to, const DtRatedReading *r)
{
    to->option = dt_reading_option(&r->reading);
    to->text = dt_reading_words(&r->reading);
    to->score = r->score;
    to->ink_mm = r->ink_mm;
    to->strokes = r->strokes + r->dots;
}

/* The reading used and its rivals, for the report. */
static void note_readings(DtMending *mending, const DtPenVerdict *v)
{
    if (v->n == 0)
        return;
    mending->n_readings = 1 + (size_t)v->n_rivals;
    mending->readings = g_new0(DtPenReading, mending->n_readings);
    fill_reading(&mending->readings[0], &v->best);
    for (int i = 0; i < v->n_rivals; i++)
        fill_reading(&mending->readings[i + 1], &v->rivals[i]);
}

/* How many of the readings are so close to the best that they may be meant. */
static size_t count_in_doubt(const DtMending *mending)
{
    size_t n = 0;
    while (n < mending->n_readings &&
           mending->readings[0].score - mending->readings[n].score < DT_CLEAR_BY)
        n++;
    return n;
}

static void fail_in_doubt(const DtMending *mending, const char *name, GError **error)
{
    g_autoptr(GString) text = g_string_new(NULL);
    g_string_printf(text, _("%s: it is not clear how this program controls its pen:"), name);
    for (size_t i = 0; i < mending->in_doubt; i++) {
        const DtPenReading *r = &mending->readings[i];
        g_string_append_printf(text,
                               P_("\n  --pen-by '%s'  %s: %.4g mm of ink in %zu stroke",
                                  "\n  --pen-by '%s'  %s: %.4g mm of ink in %zu strokes",
                                  r->strokes),
                               r->option, r->text, r->ink_mm, r->strokes);
    }
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, text->str);
}

void dt_mend_blank_comments(char *line, size_t len)
{
    size_t start = 0;
    while (start < len && strchr(" \t\r", line[start]))
        start++;
    gboolean rest = start < len && line[start] == '/';
    int depth = 0;
    for (size_t i = 0; i < len; i++) {
        const char c = line[i];
        rest |= depth == 0 && c == ';';
        depth += c == '(' ? 1 : 0;
        if (rest || depth > 0)
            line[i] = ' ';
        depth -= c == ')' && depth > 0 ? 1 : 0;
    }
}

/* A copy whose comments, which say nothing of the pen, are blank: a broken one hides no words. NULL where there is
 * no comment in brackets. */
static char *without_comments(const char *text, gsize len)
{
    char *copy = memchr(text, '(', len) ? g_memdup2(text, len) : NULL;
    for (gsize at = 0; copy && at < len;) {
        gsize end = at;
        while (end < len && copy[end] != '\n' && copy[end] != '\r')
            end++;
        dt_mend_blank_comments(copy + at, end - at);
        at = end + 1;
    }
    return copy;
}

typedef struct {
    size_t line; /* 0: none */
    int column;
    char *text;
    DtReader *reader;
} FirstFault;

static void on_fault(void *user, DtFaultKind kind, int column, const char *text)
{
    (void)kind;
    FirstFault *f = user;
    if (f->line > 0)
        return;
    f->line = f->reader->line;
    f->column = column;
    f->text = g_strdup(text);
}

/* A program that never lowers its pen may do so in a line that cannot be read. */
static void fail_never_down(DtMend *m, const char *text, gsize len, GError **error)
{
    static const DtListener listener = {on_fault, NULL, NULL, NULL};
    FirstFault f = {0};
    f.reader = dt_reader_new(&listener, &m->open, &f);
    dt_reader_read_text(f.reader, text, len);
    if (f.line > 0)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s:%zu:%d: %s; in what remains the pen never comes down", m->name, f.line,
                    f.column, f.text);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    len == 0 ? N_("%s: is empty")
                             : N_("%s: the program never says that its pen comes down"),
                    m->name);
    dt_reader_free(f.reader);
    g_free(f.text);
}

gboolean dt_mend_choose_reading(DtMend *m, const char *text, gsize len, DtMending *mending,
                                GError **error)
{
    if (m->options.pen_by != NULL && !dt_reading_parse(m->options.pen_by, &m->reading, error))
        return FALSE;
    DtPenVerdict v;
    g_autofree char *words = without_comments(text, len);
    dt_hypotheses_judge(&m->open, &m->rule, words ? words : text, len, &v);
    m->reading.turns = v.turns;
    if (m->options.pen_by != NULL)
        return TRUE;
    note_readings(mending, &v);
    mending->in_doubt = v.in_doubt ? count_in_doubt(mending) : 0;
    m->reading = v.best.reading;
    if (v.n == 0)
        fail_never_down(m, text, len, error);
    else if (v.in_doubt)
        fail_in_doubt(mending, m->name, error);
    return v.n > 0 && !v.in_doubt;
}
