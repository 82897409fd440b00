/* corpus-art: our reading of a folder of drawings beside librsvg's, both in this process.
 *
 *   corpus-art [--every N] [--pictures FOLDER] [--leave-out-dynamic] [--browser PROGRAM]
 *              [DIR or FILE ...]
 *
 * Each drawing is painted on a transparent sheet of 1000 px on its longer side: by librsvg, and by
 * cairo from our shapes. A pixel is painted where its alpha is at least one half; the figure is the
 * intersection of the two masks over their union. A drawing is of several colours where librsvg's
 * picture holds two opaque pixels that differ by more than 16 of 255 in a channel, gradients and
 * photographs not excepted. Of such a drawing, where the masks agree, the share of the pixels
 * painted by both whose colours agree within 16 of 255 in each channel counts too, edges included.
 *
 * Where the two differ, a browser may be asked as a third: it sides with us where its picture
 * agrees with ours by the same two figures. What it says is printed beside the figures, never put
 * into them.
 *
 * Without a folder it takes the W3C SVG 1.1 suite and the Open Clip Art drawings of Debian. */
#include "browser.h"
#include "drawtrue/art.h"
#include "drawtrue/base.h"
#include "marks.h"

#include <cairo.h>
#include <glib/gstdio.h>
#include <librsvg/rsvg.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <string.h>
#include <time.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

G_DEFINE_AUTOPTR_CLEANUP_FUNC(RsvgHandle, g_object_unref)

#define ALONE_OURS "--read-alone"
#define ALONE_THEIRS "--read-alone-librsvg"
#define SIDE 1000.0
#define GOOD_IOU 0.98
#define GOOD_COLOUR 0.98
#define COLOUR_STEP 16
#define LIMIT_S 2.0
#define MM_PER_PX (25.4 / 96)

#define W3C_SUITE "/usr/libexec/installed-tests/RSVG/fixtures/reftests/svg1.1"
#define OPEN_CLIP_ART "/usr/share/openclipart/svg"

static int every = 1;
static char *pictures, *browser;
static gboolean leave_out_dynamic;

typedef struct {
    char *path;
    double iou, colour;
    gboolean several;                      /* opaque colours */
    gboolean asked, with_us, with_librsvg; /* what the browser says */
    double nearer_us; /* by how much more its picture agrees with ours than with librsvg's */
    char *cause;
} Miss;

typedef struct {
    gsize files, left_out, both_refuse, only_we_refuse, only_they_refuse, compared;
    gsize good_iou, coloured, good_colour, slow;
    gsize sharp, sharp_iou, sharp_coloured, sharp_colour; /* those without filters */
    gsize flat, good_flat;                    /* of those coloured: painted in flat colours alone */
    gsize asked, browser_iou, browser_colour; /* misses of each kind on which it sides with us */
    double ours_s, theirs_s, slowest_s, shapes, points;
    char *slowest;
    GArray *misses;
} Tally;

/* A font that librsvg asked for in too large a size is spoilt for all files after it, unless its
 * fonts begin anew. */
static gboolean fonts_spoilt;

static GLogWriterOutput on_message(GLogLevelFlags level, const GLogField *fields, gsize n,
                                   gpointer user)
{
    for (gsize i = 0; i < n; i++)
        if (strcmp(fields[i].key, "GLIB_DOMAIN") == 0 && strcmp(fields[i].value, "Pango") == 0) {
            fonts_spoilt = TRUE;
            return G_LOG_WRITER_HANDLED;
        }
    return g_log_writer_default(level, fields, n, user);
}

static void mend_fonts(void)
{
    if (fonts_spoilt)
        pango_cairo_font_map_set_default(NULL);
    fonts_spoilt = FALSE;
}

/* Processor time of this process: what else the machine does counts for neither side. */
static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Files ---------------------------------------------------------------------------------------- */

static void gather(const char *path, GPtrArray *out)
{
    if (!g_file_test(path, G_FILE_TEST_IS_DIR)) {
        g_ptr_array_add(out, g_strdup(path));
        return;
    }
    GDir *dir = g_dir_open(path, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *inner = g_build_filename(path, name, NULL);
        gboolean folder = g_file_test(inner, G_FILE_TEST_IS_DIR);
        if (folder && !g_file_test(inner, G_FILE_TEST_IS_SYMLINK))
            gather(inner, out);
        else if (g_str_has_suffix(name, ".svg") || g_str_has_suffix(name, ".svgz"))
            g_ptr_array_add(out, g_strdup(inner));
    }
    if (dir)
        g_dir_close(dir);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Painting ------------------------------------------------------------------------------------- */

/* The size in px that librsvg gives the drawing; ours where it has none. */
static void size_of(RsvgHandle *h, const DtDrawing *d, double *w, double *hgt)
{
    if (h && rsvg_handle_get_intrinsic_size_in_pixels(h, w, hgt))
        return;
    gboolean has_w, has_h, has_box;
    RsvgLength lw, lh;
    RsvgRectangle box;
    if (h) {
        rsvg_handle_get_intrinsic_dimensions(h, &has_w, &lw, &has_h, &lh, &has_box, &box);
        if (has_box && box.width > 0 && box.height > 0) {
            *w = box.width;
            *hgt = box.height;
            return;
        }
    }
    *w = d ? d->width / MM_PER_PX : 100;
    *hgt = d ? d->height / MM_PER_PX : 100;
}

/* The file alone, without its folder: neither program may look at other files. */
static RsvgHandle *load(const char *path)
{
    g_autofree char *data = NULL;
    gsize len = 0;
    if (!g_file_get_contents(path, &data, &len, NULL))
        return NULL;
    RsvgHandle *h = rsvg_handle_new_from_data((const guint8 *)data, len, NULL);
    if (h)
        rsvg_handle_set_dpi(h, 96);
    return h;
}

static cairo_surface_t *sheet(double w, double h, double *scale)
{
    *scale = SIDE / MAX(w, h);
    return cairo_image_surface_create(CAIRO_FORMAT_ARGB32, (int)MAX(1, round(w * *scale)),
                                      (int)MAX(1, round(h * *scale)));
}

static cairo_surface_t *paint_theirs(RsvgHandle *h, double w, double hgt)
{
    double scale;
    cairo_surface_t *s = sheet(w, hgt, &scale);
    cairo_t *cr = cairo_create(s);
    cairo_scale(cr, scale, scale);
    RsvgRectangle page = {0, 0, w, hgt};
    rsvg_handle_render_document(h, cr, &page, NULL);
    cairo_destroy(cr);
    cairo_surface_flush(s);
    return s;
}

static cairo_surface_t *paint_ours(const DtDrawing *d, double w, double hgt)
{
    double scale;
    cairo_surface_t *s = sheet(w, hgt, &scale);
    cairo_t *cr = cairo_create(s);
    double k = scale * MIN(w / dt_box_width(d->view), hgt / dt_box_height(d->view));
    cairo_scale(cr, k, k);
    dt_art_paint(d, cr);
    cairo_destroy(cr);
    cairo_surface_flush(s);
    return s;
}

/* Comparing ------------------------------------------------------------------------------------ */

static int channel(guint32 v, int shift)
{
    guint32 alpha = v >> 24;
    return alpha ? (int)(((v >> shift & 255) * 255 + alpha / 2) / alpha) : 0;
}

static gboolean same_colour(guint32 a, guint32 b)
{
    for (int shift = 0; shift <= 16; shift += 8)
        if (abs(channel(a, shift) - channel(b, shift)) > COLOUR_STEP)
            return FALSE;
    return TRUE;
}

static void compare(cairo_surface_t *a, cairo_surface_t *b, Miss *out)
{
    int w = cairo_image_surface_get_width(a), h = cairo_image_surface_get_height(a);
    gsize both = 0, either = 0, agree = 0;
    guint32 first = 0;
    out->several = FALSE;
    for (int y = 0; y < h; y++) {
        const guint32 *p = (const guint32 *)(const void *)(cairo_image_surface_get_data(a) +
                                                           y * cairo_image_surface_get_stride(a));
        const guint32 *q = (const guint32 *)(const void *)(cairo_image_surface_get_data(b) +
                                                           y * cairo_image_surface_get_stride(b));
        for (int x = 0; x < w; x++) {
            gboolean in_a = p[x] >> 24 >= 128, in_b = q[x] >> 24 >= 128;
            either += in_a || in_b;
            if (in_b && q[x] >> 24 == 255) {
                if (!first)
                    first = q[x];
                out->several |= !same_colour(first, q[x]);
            }
            if (in_a && in_b) {
                both++;
                agree += same_colour(p[x], q[x]);
            }
        }
    }
    out->iou = either ? (double)both / (double)either : 1;
    out->colour = both ? (double)agree / (double)both : 1;
}

static void save_pictures(const char *path, cairo_surface_t *ours, cairo_surface_t *theirs)
{
    if (!pictures)
        return;
    g_mkdir_with_parents(pictures, 0777);
    int w = cairo_image_surface_get_width(ours), h = cairo_image_surface_get_height(ours);
    cairo_surface_t *both = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 2 * w + 10, h);
    cairo_t *cr = cairo_create(both);
    cairo_set_source_rgb(cr, 0.8, 0.85, 0.9);
    cairo_paint(cr);
    cairo_set_source_surface(cr, ours, 0, 0);
    cairo_paint(cr);
    cairo_set_source_surface(cr, theirs, w + 10, 0);
    cairo_paint(cr);
    cairo_set_source_rgb(cr, 1, 0, 0);
    cairo_rectangle(cr, w, 0, 10, h);
    cairo_fill(cr);
    g_autofree char *base = g_path_get_basename(path);
    g_autofree char *name = g_strdup_printf("%s/%s.png", pictures, base);
    cairo_surface_write_to_png(both, name);
    cairo_destroy(cr);
    cairo_surface_destroy(both);
}

/* How well a picture agrees with the browser's: the worse of the two figures. */
static double agreement(cairo_surface_t *a, cairo_surface_t *b)
{
    Miss m = {0};
    compare(a, b, &m);
    return MIN(m.iou / GOOD_IOU, m.colour / GOOD_COLOUR);
}

static void ask_browser(Tally *t, Miss *m, cairo_surface_t *ours, cairo_surface_t *theirs)
{
    cairo_surface_t *third = browser_paint(browser, m->path, cairo_image_surface_get_width(ours),
                                           cairo_image_surface_get_height(ours));
    if (!third)
        return;
    double with_us = agreement(ours, third), with_librsvg = agreement(theirs, third);
    m->asked = TRUE;
    m->with_us = with_us >= 1;
    m->with_librsvg = with_librsvg >= 1;
    m->nearer_us = with_us - with_librsvg;
    t->asked++;
    t->browser_iou += m->with_us && m->iou < GOOD_IOU;
    t->browser_colour += m->with_us && m->iou >= GOOD_IOU;
    cairo_surface_destroy(third);
}

static char at_work[4096];

static void on_alarm(int signal_number)
{
    (void)signal_number;
    static const char text[] = "corpus-art: no end in sight: ";
    if (write(2, text, sizeof text - 1) < 0 || write(2, at_work, strlen(at_work)) < 0 ||
        write(2, "\n", 1) < 0)
        _exit(3);
    _exit(3);
}

static void judge(Tally *t, const char *path, const char *text, RsvgHandle *h, DtDrawing *d)
{
    double w, hgt;
    size_of(h, d, &w, &hgt);
    double start = now_s();
    cairo_surface_t *theirs = paint_theirs(h, w, hgt);
    t->theirs_s += now_s() - start;
    cairo_surface_t *ours = paint_ours(d, w, hgt);
    Miss m = {.path = g_strdup(path)};
    compare(ours, theirs, &m);
    t->compared++;
    t->good_iou += m.iou >= GOOD_IOU;
    gboolean colour_counts = m.several && m.iou >= GOOD_IOU;
    t->coloured += colour_counts;
    gboolean good_colour = colour_counts && m.colour >= GOOD_COLOUR;
    t->good_colour += good_colour;
    if (!marks_filtered(text)) {
        t->sharp++;
        t->sharp_iou += m.iou >= GOOD_IOU;
        t->sharp_coloured += colour_counts;
        t->sharp_colour += good_colour;
    }
    gboolean flat = marks_flat(text);
    t->flat += colour_counts && flat;
    t->good_flat += good_colour && flat;
    if (m.iou < GOOD_IOU || (m.several && m.colour < GOOD_COLOUR)) {
        m.cause = marks_features(text);
        if (browser)
            ask_browser(t, &m, ours, theirs);
        g_array_append_val(t->misses, m);
        save_pictures(path, ours, theirs);
    } else {
        g_free(m.path);
    }
    cairo_surface_destroy(ours);
    cairo_surface_destroy(theirs);
}

static void one_file(Tally *t, const char *path)
{
    g_strlcpy(at_work, path, sizeof at_work);
    alarm(120);
    g_autofree char *text = marks_read(path);
    if (!text)
        return;
    if (leave_out_dynamic && marks_dynamic(text)) {
        t->left_out++;
        return;
    }
    t->files++;
    g_autoptr(GError) error = NULL;
    double start = now_s();
    g_autoptr(DtDrawing) d = dt_art_read(path, NULL, &error);
    double took = now_s() - start;
    t->ours_s += took;
    t->slow += took > LIMIT_S;
    if (took > t->slowest_s) {
        t->slowest_s = took;
        g_free(t->slowest);
        t->slowest = g_strdup(path);
    }
    for (gsize i = 0; d && i < d->n_shapes; i++)
        t->points += (double)d->shapes[i].outline.n_pts;
    t->shapes += d ? (double)d->n_shapes : 0;
    start = now_s();
    g_autoptr(RsvgHandle) h = load(path);
    t->theirs_s += now_s() - start;
    if (!d && !h) {
        t->both_refuse++;
    } else if (!d) {
        t->only_we_refuse++;
        Miss m = {.path = g_strdup(path), .cause = g_strdup(error->message)};
        g_array_append_val(t->misses, m);
    } else if (!h) {
        t->only_they_refuse++;
    } else {
        judge(t, path, text, h, d);
    }
    mend_fonts();
    alarm(0);
}

/* Memory --------------------------------------------------------------------------------------- */

/* Reads the files in one way alone: what a process of its own does for print_memory(). */
static int read_alone(char **files, gboolean ours)
{
    for (; *files; files++) {
        if (ours) {
            dt_drawing_free(dt_art_read(*files, NULL, NULL));
            continue;
        }
        g_autoptr(RsvgHandle) h = load(*files);
        double w, hgt;
        if (h) {
            size_of(h, NULL, &w, &hgt);
            cairo_surface_destroy(paint_theirs(h, w, hgt));
        }
    }
    return 0;
}

/* Peak resident memory, MB, of such a process: this program again, as fonts have threads. */
static double peak_mb(const GPtrArray *files, const char *way)
{
    g_autoptr(GPtrArray) args = g_ptr_array_new();
    g_ptr_array_add(args, (char *)"corpus-art");
    g_ptr_array_add(args, (char *)way);
    for (guint i = 0; i < files->len; i++)
        g_ptr_array_add(args, files->pdata[i]);
    g_ptr_array_add(args, NULL);
    pid_t child = fork();
    if (child == 0) {
        execv("/proc/self/exe", (char **)args->pdata);
        _exit(3);
    }
    struct rusage use = {0};
    int status;
    if (child < 0 || wait4(child, &status, 0, &use) != child)
        return 0;
    return (double)use.ru_maxrss / 1024;
}

static int larger_first(const void *a, const void *b)
{
    GStatBuf p, q;
    if (g_stat(*(char *const *)a, &p) != 0 || g_stat(*(char *const *)b, &q) != 0)
        return 0;
    return p.st_size < q.st_size ? 1 : p.st_size > q.st_size ? -1 : 0;
}

static void print_memory(GPtrArray *files)
{
    g_ptr_array_sort(files, larger_first);
    if (files->len > 20)
        g_ptr_array_set_size(files, 20);
    double ours = peak_mb(files, ALONE_OURS), theirs = peak_mb(files, ALONE_THEIRS);
    printf("  peak memory, %u largest files    %8.1f MB  librsvg %8.1f MB  ratio %.2f\n",
           files->len, ours, theirs, theirs > 0 ? ours / theirs : 0);
}

/* Report --------------------------------------------------------------------------------------- */

static double share(gsize part, gsize whole)
{
    return whole ? 100.0 * (double)part / (double)whole : 100;
}

static int by_cause(const void *a, const void *b)
{
    const Miss *p = a, *q = b;
    int c = strcmp(p->cause, q->cause);
    return c ? c : strcmp(p->path, q->path);
}

static const char *browser_says(const Miss *m)
{
    if (!m->asked)
        return "";
    return m->with_us ? m->with_librsvg ? "; the browser: as both" : "; the browser: as we do"
           : m->with_librsvg       ? "; the browser: as librsvg"
           : m->nearer_us > 0.005  ? "; the browser: as neither, nearer to us"
           : m->nearer_us < -0.005 ? "; the browser: as neither, nearer to librsvg"
                                   : "; the browser: as neither";
}

/* The figures as they would be with the browser's word on the misses. */
static void print_browser(const Tally *t)
{
    printf("  the browser, asked about %zu misses, sides with us on %zu masks and %zu colours\n"
           "    right by one of the two witnesses: masks %.2f %%, colours %.2f %%\n",
           t->asked, t->browser_iou, t->browser_colour,
           share(t->good_iou + t->browser_iou, t->compared),
           share(t->good_colour + t->browser_colour, t->coloured));
}

static void print_misses(Tally *t)
{
    g_array_sort(t->misses, by_cause);
    for (guint i = 0; i < t->misses->len; i++) {
        Miss *m = &g_array_index(t->misses, Miss, i);
        g_autofree char *base = g_path_get_basename(m->path);
        printf("  IoU %.3f  colour %.3f  %-40s %s%s\n", m->iou, m->colour, base, m->cause,
               browser_says(m));
        g_free(m->path);
        g_free(m->cause);
    }
}

static void run(const char *title, GPtrArray *files)
{
    Tally t = {.misses = g_array_new(FALSE, FALSE, sizeof(Miss))};
    g_autoptr(GPtrArray) taken = g_ptr_array_new();
    g_ptr_array_sort(files, by_name);
    for (guint i = 0; i < files->len; i += (guint)every)
        g_ptr_array_add(taken, files->pdata[i]);
    for (guint i = 0; i < taken->len; i++) {
        if (isatty(2) && i % 20 == 0)
            fprintf(stderr, "\r%s: %u of %u", title, i, taken->len);
        one_file(&t, taken->pdata[i]);
    }
    if (isatty(2))
        fprintf(stderr, "\r%*s\r", 60, "");
    printf("%s\n", title);
    printf("  files %zu   left out by the rule %zu   refused by both %zu, by us alone %zu, by "
           "librsvg alone %zu\n",
           t.files, t.left_out, t.both_refuse, t.only_we_refuse, t.only_they_refuse);
    printf("  mask agreement IoU >= %.2f         %6.2f %%  (%zu of %zu)\n", GOOD_IOU,
           share(t.good_iou, t.compared), t.good_iou, t.compared);
    printf("  right colour share >= %.2f         %6.2f %%  (%zu of %zu of several colours)\n",
           GOOD_COLOUR, share(t.good_colour, t.coloured), t.good_colour, t.coloured);
    printf("    of those in flat colours alone   %6.2f %%  (%zu of %zu)\n",
           share(t.good_flat, t.flat), t.good_flat, t.flat);
    printf(
        "    of those that filter nothing     %6.2f %% of the masks (%zu of %zu), %.2f %% of the "
        "colours (%zu of %zu)\n",
        share(t.sharp_iou, t.sharp), t.sharp_iou, t.sharp, share(t.sharp_colour, t.sharp_coloured),
        t.sharp_colour, t.sharp_coloured);
    printf("  time to read and flatten          %8.2f s   librsvg load and render %8.2f s   ratio "
           "%.3f\n",
           t.ours_s, t.theirs_s, t.theirs_s > 0 ? t.ours_s / t.theirs_s : 0);
    printf("  files over %.0f s                    %zu      slowest %.3f s  %s\n", LIMIT_S, t.slow,
           t.slowest_s, t.slowest ? t.slowest : "-");
    printf("  shapes %.0f   points %.0f\n", t.shapes, t.points);
    if (browser)
        print_browser(&t);
    print_memory(taken);
    print_misses(&t);
    g_array_free(t.misses, TRUE);
    g_free(t.slowest);
}

static void run_folder(const char *title, const char *folder, gboolean leave_out)
{
    if (!g_file_test(folder, G_FILE_TEST_IS_DIR))
        return;
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    gather(folder, files);
    leave_out_dynamic = leave_out;
    run(title, files);
}

int main(int argc, char **argv)
{
    g_log_set_writer_func(on_message, NULL, NULL);
    if (argc > 1 && strcmp(argv[1], ALONE_OURS) == 0)
        return read_alone(argv + 2, TRUE);
    if (argc > 1 && strcmp(argv[1], ALONE_THEIRS) == 0)
        return read_alone(argv + 2, FALSE);
    GOptionEntry entries[] = {{"every", 0, 0, G_OPTION_ARG_INT, &every, "Take each Nth file", "N"},
                              {"pictures", 0, 0, G_OPTION_ARG_FILENAME, &pictures,
                               "Write misses there: ours left, librsvg's right", "FOLDER"},
                              {"leave-out-dynamic", 0, 0, G_OPTION_ARG_NONE, &leave_out_dynamic,
                               "Leave out files with filters, animation or scripts", NULL},
                              {"browser", 0, 0, G_OPTION_ARG_STRING, &browser,
                               "Ask this browser (chromium) about each miss", "PROGRAM"},
                              {NULL}};
    g_autoptr(GOptionContext) context = g_option_context_new("[DIR or FILE ...]");
    g_option_context_add_main_entries(context, entries, NULL);
    g_autoptr(GError) error = NULL;
    if (!g_option_context_parse(context, &argc, &argv, &error) || every < 1) {
        fprintf(stderr, "corpus-art: %s\n", error ? error->message : "--every must be above 0");
        return 2;
    }
    signal(SIGALRM, on_alarm);
    if (argc < 2) {
        run_folder("W3C SVG 1.1 suite", W3C_SUITE, TRUE);
        run_folder("Open Clip Art", OPEN_CLIP_ART, FALSE);
        return 0;
    }
    g_autoptr(GPtrArray) files = g_ptr_array_new_with_free_func(g_free);
    for (int i = 1; i < argc; i++)
        gather(argv[i], files);
    run(argc == 2 ? argv[1] : "the given files", files);
    return 0;
}
