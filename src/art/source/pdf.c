/* pdf: a page of a PDF file as a drawing. pdftocairo of poppler-utils converts it to SVG in a
 * separate process, because linking it would impose its licence on ours. */
#include "art/source/raster.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#define CONVERTER "pdftocairo"
#define TEXT_READER "pdftotext"
#define COUNTER "pdfinfo"
#define FONT_LISTER "pdffonts"
#define SECOND_READER "pdftoppm"
#define SEEN_PX "600" /* the longer side of the page */
#define MAX_SECONDS 60
#define MAX_MEMORY ((rlim_t)3 << 30)
#define MAX_SHAPES ((rlim_t)ART_MAX_BYTES)

gboolean dt_art_is_pdf(const char *data, gsize len)
{
    return g_strstr_len(data, (gssize)MIN(len, 1024), "%PDF-") != NULL;
}

/* Runs in the child process between fork and exec. */
static void set_bounds(gpointer user)
{
    (void)user;
    struct rlimit seconds = {MAX_SECONDS, MAX_SECONDS}, memory = {MAX_MEMORY, MAX_MEMORY};
    struct rlimit size = {MAX_SHAPES, MAX_SHAPES};
    setrlimit(RLIMIT_CPU, &seconds);
    setrlimit(RLIMIT_AS, &memory);
    setrlimit(RLIMIT_FSIZE, &size);
}

/* Waits for the process, up to its time limit. FALSE if it was killed. */
static gboolean wait_for(GPid pid, int *status)
{
    gint64 end = g_get_monotonic_time() + (gint64)MAX_SECONDS * G_USEC_PER_SEC;
    for (;;) {
        pid_t done = waitpid(pid, status, WNOHANG);
        if (done == pid)
            return TRUE;
        if ((done < 0 && errno != EINTR) || g_get_monotonic_time() > end) {
            kill(pid, SIGKILL);
            waitpid(pid, status, 0);
            return FALSE;
        }
        g_usleep(5000);
    }
}

/* The first line of the program's error output; NULL if it is empty. g_free. */
static char *complaint(const char *folder)
{
    g_autofree char *path = g_build_filename(folder, "said", NULL);
    char *text = NULL;
    if (!g_file_get_contents(path, &text, NULL, NULL) || !*g_strstrip(text)) {
        g_free(text);
        return NULL;
    }
    text[MIN(strcspn(text, "\n"), 200)] = '\0';
    return text;
}

static int created(const char *folder, const char *name)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);
    return g_open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
}

/* Runs a program in the folder; its output and its error output go to files there. */
static gboolean run(const char *folder, const char *const *arguments, const char *name,
                    GError **error)
{
    g_autofree char *program = g_find_program_in_path(arguments[0]);
    GPid pid;
    int status = 0;
    if (!program) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: to read a page of a PDF file the program %s must be installed (Debian "
                    "package poppler-utils)",
                    name, arguments[0]);
        return FALSE;
    }
    const int out = created(folder, "answer"), said = created(folder, "said");
    gboolean started = g_spawn_async_with_fds(folder, (char **)(gpointer)arguments, NULL,
                                              G_SPAWN_SEARCH_PATH | G_SPAWN_DO_NOT_REAP_CHILD,
                                              set_bounds, NULL, &pid, -1, out, said, error);
    g_close(out, NULL);
    g_close(said, NULL);
    if (!started)
        return FALSE;
    if (!wait_for(pid, &status)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: its page took longer than %d s", name,
                    MAX_SECONDS);
        return FALSE;
    }
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return TRUE;
    g_autofree char *why = complaint(folder);
    if (WIFSIGNALED(status))
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: its page takes more time or memory than %d s and %u MB", name, MAX_SECONDS,
                    (unsigned)(MAX_MEMORY >> 20));
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: the page cannot be read: %s", name,
                    why ? why : _("it gave no reason"));
    return FALSE;
}

/* Letters ------------------------------------------------------------------------------------- */

static double box_side(const char *word, const char *name)
{
    const char *at = strstr(word, name);
    return at ? g_ascii_strtod(at + strlen(name), NULL) : 0;
}

/* The words of the page by their boxes, as <text> elements. */
static void add_words(GString *out, const char *words)
{
    for (const char *w = words; (w = strstr(w, "<word ")) != NULL; w++) {
        const char *from = strchr(w, '>'), *to = from ? strstr(from, "</word>") : NULL;
        if (!to)
            return;
        double x = box_side(w, "xMin=\""), y = box_side(w, "yMin=\"");
        double width = box_side(w, "xMax=\"") - x, height = box_side(w, "yMax=\"") - y;
        char number[4][G_ASCII_DTOSTR_BUF_SIZE];
        double values[4] = {x, y + height * 0.8, height * 0.85, width};
        for (int i = 0; i < 4; i++)
            g_ascii_formatd(number[i], sizeof number[i], "%.3f", values[i]);
        g_string_append_printf(out,
                               "<text x=\"%s\" y=\"%s\" font-size=\"%s\" textLength=\"%s\" "
                               "lengthAdjust=\"spacingAndGlyphs\">%.*s</text>\n",
                               number[0], number[1], number[2], number[3], (int)(to - from - 1),
                               from + 1);
    }
}

/* The page with its letters as text again: the converter's letter shapes are removed, and the
 * words of the page take their place. */
static char *with_text(char *svg, const char *words, gsize *len)
{
    GString *out = g_string_new(NULL);
    const char *last = g_strrstr(svg, "</svg>");
    for (const char *p = svg; p < last;) {
        const char *use = strstr(p, "<use xlink:href=\"#glyph");
        if (!use || use > last)
            use = last;
        g_string_append_len(out, p, use - p);
        const char *close = use < last ? strstr(use, "/>") : NULL;
        p = close ? close + 2 : last;
    }
    add_words(out, words);
    g_string_append(out, "</svg>\n");
    g_free(svg);
    *len = out->len;
    return g_string_free(out, FALSE);
}

static char *read_words(const char *folder, const char *page, const char *name, GError **error)
{
    const char *arguments[] = {TEXT_READER, "-bbox", "-cropbox", "-f",         page,
                               "-l",        page,    "in.pdf",   "words.html", NULL};
    g_autofree char *path = g_build_filename(folder, "words.html", NULL);
    char *text = NULL;
    if (run(folder, arguments, name, error))
        g_file_get_contents(path, &text, NULL, error);
    return text;
}

/* What is missing of the page although it was converted: damage that the converter went past. */
static void note_damage(const char *folder, GPtrArray *notes)
{
    g_autofree char *said = complaint(folder);
    if (said)
        g_ptr_array_add(
            notes, g_strdup_printf(_("what is drawn of the page may be incomplete: %s"), said));
}

/* Nobody asked for the first page of several. */
static gboolean note_pages(const char *folder, const char *name, int page, GPtrArray *notes,
                           GError **error)
{
    static const char *const arguments[] = {COUNTER, "in.pdf", NULL};
    g_autofree char *path = g_build_filename(folder, "answer", NULL), *text = NULL;
    if (page != 1)
        return TRUE;
    if (!run(folder, arguments, name, error) || !g_file_get_contents(path, &text, NULL, error))
        return FALSE;
    const char *line = strstr(text, "\nPages:");
    const long n = line ? strtol(line + strlen("\nPages:"), NULL, 10) : 1;
    if (n > 1)
        g_ptr_array_add(
            notes, g_strdup_printf(_("page 1 of %ld is drawn: the option page draws another"), n));
    return TRUE;
}

/* ISO 32000-1, 9.6.2.2: the fonts that need not be in the file, since every reader has their like. */
static gboolean is_standard_font(const char *name)
{
    static const char *const names[] = {"Times-Roman",
                                        "Times-Bold",
                                        "Times-Italic",
                                        "Times-BoldItalic",
                                        "Helvetica",
                                        "Helvetica-Bold",
                                        "Helvetica-Oblique",
                                        "Helvetica-BoldOblique",
                                        "Courier",
                                        "Courier-Bold",
                                        "Courier-Oblique",
                                        "Courier-BoldOblique",
                                        "Symbol",
                                        "ZapfDingbats",
                                        NULL};
    return g_strv_contains(names, name);
}

/* Each line of the list, after two of headings: the font's name, the two numbers of its object or [none],
 * what is drawn in its place, and the file of that. */
static gboolean note_fonts(const char *folder, const char *page, const char *name, GPtrArray *notes,
                           GError **error)
{
    const char *arguments[] = {FONT_LISTER, "-subst", "-f", page, "-l", page, "in.pdf", NULL};
    g_autofree char *path = g_build_filename(folder, "answer", NULL), *text = NULL;
    if (!run(folder, arguments, name, error) || !g_file_get_contents(path, &text, NULL, error))
        return FALSE;
    g_autoptr(GRegex) row = g_regex_new("^(.+?) +(?:\\d+ +\\d+|\\[none\\]) (.+?) +(?:/.*)?$",
                                        G_REGEX_MULTILINE | G_REGEX_RAW, 0, NULL);
    g_autoptr(GMatchInfo) match = NULL;
    for (g_regex_match(row, text, 0, &match); g_match_info_matches(match);
         g_match_info_next(match, NULL)) {
        g_autofree char *font = g_match_info_fetch(match, 1);
        g_autofree char *other = g_match_info_fetch(match, 2);
        if (!is_standard_font(font))
            g_ptr_array_add(notes,
                            g_strdup_printf(_("the file does not hold the font %.60s: %.60s is "
                                              "drawn in its place"),
                                            font, other));
    }
    return TRUE;
}

/* A netpbm picture "P6 W H 255", of which the rest is three bytes a pixel. */
static gboolean read_pixels(const char *path, ArtPageSeen *seen)
{
    g_autofree char *data = NULL;
    gsize len;
    int w = 0, h = 0, from = 0;
    if (!g_file_get_contents(path, &data, &len, NULL) ||
        sscanf(data, "P6 %d %d 255%n", &w, &h, &from) != 2 || from == 0 || w <= 0 || h <= 0 ||
        w > G_MAXINT16 || h > G_MAXINT16)
        return FALSE;
    const gsize n = (gsize)w * (gsize)h * 3, head = (gsize)from + 1;
    if (len < head + n)
        return FALSE;
    *seen = (ArtPageSeen){g_memdup2(data + head, n), w, h};
    return TRUE;
}

/* Where the second reader fails, nothing is known of the first: that is said. */
static void look_again(const char *folder, const char *page, const char *name, ArtPageSeen *seen,
                       GPtrArray *notes)
{
    const char *arguments[] = {SECOND_READER, "-cropbox", "-scale-to", SEEN_PX,
                               "-singlefile", "-f",       page,        "-l",
                               page,          "in.pdf",   "seen",      NULL};
    g_autofree char *path = g_build_filename(folder, "seen.ppm", NULL);
    g_autoptr(GError) error = NULL;
    if (!run(folder, arguments, name, &error) || !read_pixels(path, seen))
        g_ptr_array_add(
            notes, g_strdup(_("a second reader of PDF could not paint the page: compare the proof "
                              "with the page before it is drawn")));
}

/* Every match of the pattern replaced; takes ownership of `text`, which stays as it is where matching would take more
 * than the library allows. */
static char *replaced(char *text, const char *pattern, const char *by)
{
    g_autoptr(GRegex) regex = g_regex_new(pattern, G_REGEX_RAW, 0, NULL);
    char *out = g_regex_replace(regex, text, -1, 0, by, 0, NULL);
    if (!out)
        return text;
    g_free(text);
    return out;
}

/* The converter's SVG names the blend of a paint (ISO 32000-1, 11.3.5) as an early draft did. Those of cairo's
 * names that CSS has mean the same there (Compositing 1, 10.1); others stay, and are noted. A clip group makes
 * a backdrop of its own in CSS, though not in PDF: one around a single element takes its blend. */
static char *with_blends(char *svg, gsize *len)
{
#define NAMES                                                                                      \
    "(multiply|screen|overlay|darken|lighten|color-dodge|color-burn|hard-light|soft-light|"        \
    "difference|exclusion)"
#define BLEND "mix-blend-mode:"
    if (!strstr(svg, "comp-op"))
        return svg;
    svg = replaced(svg,
                   "(<g clip-path=[^>]*)>\n(<path style=\"[^\"]*)comp-op:" NAMES ";([^>]*/>\n</g>)",
                   "\\1 style=\"" BLEND "\\3\">\n\\2\\4");
    svg = replaced(svg, "(<g clip-path=[^>]*)>\n(<use [^>]*) comp-op=\"" NAMES "\"([^>]*/>\n</g>)",
                   "\\1 style=\"" BLEND "\\3\">\n\\2\\4");
    svg = replaced(svg,
                   "(<g clip-path=[^>]*)>\n(<g clip-path=[^>]*)( style=\"" BLEND
                   "[^>]*)>\n(<[^>]*/>\n</g>\n</g>)",
                   "\\1\\3>\n\\2>\n\\4");
    svg = replaced(svg, "comp-op:" NAMES ";", BLEND "\\1;");
    svg = replaced(svg, " comp-op=\"" NAMES "\"", " style=\"" BLEND "\\1\"");
    *len = strlen(svg);
    return svg;
#undef NAMES
#undef BLEND
}

static char *convert(const char *folder, const char *name, const DtArtOptions *o, gsize *len,
                     ArtPageSeen *seen, GPtrArray *notes, GError **error)
{
    g_autofree char *page = g_strdup_printf("%d", o->page);
    g_autofree char *path = g_build_filename(folder, "out.svg", NULL);
    const char *arguments[] = {CONVERTER, "-svg",   "-f",      page, "-l",
                               page,      "in.pdf", "out.svg", NULL};
    char *svg = NULL;
    if (!run(folder, arguments, name, error))
        return NULL;
    note_damage(folder, notes);
    if (!note_fonts(folder, page, name, notes, error) ||
        !note_pages(folder, name, o->page, notes, error) ||
        !g_file_get_contents(path, &svg, len, error))
        return NULL;
    svg = with_blends(svg, len);
    if (!o->single_line_text || !g_strrstr(svg, "</svg>")) {
        look_again(folder, page, name, seen, notes);
        return svg;
    }
    g_autofree char *words = read_words(folder, page, name, error);
    if (words)
        return with_text(svg, words, len);
    g_free(svg);
    return NULL;
}

static void remove_folder(const char *folder)
{
    static const char *const files[] = {"in.pdf",   "out.svg", "words.html",
                                        "seen.ppm", "said",    "answer"};
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autofree char *path = g_build_filename(folder, files[i], NULL);
        g_unlink(path);
    }
    g_rmdir(folder);
}

char *dt_art_pdf_page(const char *data, gsize len, const char *name, const DtArtOptions *options,
                      gsize *out_len, ArtPageSeen *seen, GPtrArray *notes, GError **error)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", error);
    if (!folder)
        return NULL;
    g_autofree char *in = g_build_filename(folder, "in.pdf", NULL);
    char *svg = NULL;
    if (g_file_set_contents(in, data, (gssize)len, error))
        svg = convert(folder, name, options, out_len, seen, notes, error);
    remove_folder(folder);
    return svg;
}
