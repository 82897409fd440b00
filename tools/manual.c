/* manual: the pages of the manual, in the macros of man(7). */
#include "describe.h"

#include <string.h>

/* Text that the formatter takes letter by letter; beyond ASCII by its number. */
static void add_text(GString *s, const char *text)
{
    static const struct {
        gunichar letter;
        const char *escape;
    } special[] = {{'\\', "\\e"},  {'-', "\\-"},   {'\'', "\\(aq"}, {'`', "\\(ga"},
                   {'^', "\\(ha"}, {'~', "\\(ti"}, {'"', "\\(dq"}};
    for (const char *c = text; *c != '\0'; c = g_utf8_next_char(c)) {
        const gunichar letter = g_utf8_get_char(c);
        const char *escape = NULL;
        for (gsize i = 0; i < G_N_ELEMENTS(special); i++)
            if (special[i].letter == letter)
                escape = special[i].escape;
        if (escape != NULL)
            g_string_append(s, escape);
        else if (letter == '.' && (s->len == 0 || s->str[s->len - 1] == '\n'))
            g_string_append(s, "\\&.");
        else if (letter < 0x80)
            g_string_append_c(s, (char)letter);
        else
            g_string_append_printf(s, "\\[u%04X]", (unsigned)letter);
    }
}

static void add_font(GString *s, char font, const char *text)
{
    g_string_append_printf(s, "\\f%c", font);
    add_text(s, text);
    g_string_append(s, "\\fR");
}

/* Paragraphs, with an empty line between them in the source. */
static void add_paragraphs(GString *s, const char *text)
{
    g_auto(GStrv) parts = g_strsplit(text, "\n\n", -1);
    for (char **p = parts; *p != NULL; p++) {
        if (p != parts)
            g_string_append(s, ".PP\n");
        add_text(s, *p);
        g_string_append_c(s, '\n');
    }
}

static GString *begin_page(const char *name, int section, const char *summary)
{
    GString *s = g_string_new(".\\\" Made from the tables of the program.\n");
    g_autofree char *title = g_ascii_strup(name, -1);
    g_string_append(s, ".TH ");
    add_text(s, title);
    g_string_append_printf(
        s, " %d \"\" \"drawtrue " DT_VERSION "\" \"drawtrue manual\"\n.SH NAME\n", section);
    add_text(s, name);
    g_string_append(s, " \\- ");
    add_text(s, summary);
    g_string_append_c(s, '\n');
    return s;
}

static void add_reference(GString *s, const char *page, const char *section, gboolean last)
{
    g_string_append(s, ".BR ");
    add_text(s, page);
    g_string_append_printf(s, " (%s)%s\n", section, last ? "" : ",");
}

/* The words of a usage line: placeholders in italics, what is typed in bold. */
static void add_usage(GString *s, const char *usage)
{
    const char *c = usage;
    while (*c != '\0') {
        const gsize word =
            strspn(c, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789,.-_");
        const gsize dots = strncmp(c, "...", 3) == 0 ? 3 : 0;
        if (word > dots) {
            g_autofree char *text = g_strndup(c, word);
            char *trail = strstr(text, "...");
            if (trail != NULL)
                *trail = '\0';
            add_font(s, g_ascii_isupper(*text) ? 'I' : 'B', text);
            c += strlen(text);
        } else {
            const gsize n = dots ? dots : 1;
            g_autofree char *text = g_strndup(c, n);
            add_text(s, text);
            c += n;
        }
    }
    g_string_append_c(s, '\n');
}

/* "From 0 to 1000 mm." and the values of a choice. */
static void add_range(GString *s, const DtOption *o)
{
    const gboolean is_number = o->type == DT_OPTION_NUMBER || o->type == DT_OPTION_WHOLE;
    if (!is_number || o->least >= o->most)
        return;
    g_autofree char *range = g_strdup_printf(" From %.10g to %.10g%s%s.", o->least, o->most,
                                             o->unit ? " " : "", o->unit ? o->unit : "");
    add_text(s, range);
}

static void add_option(GString *s, const DtDescribedOption *o)
{
    g_string_append(s, ".TP\n");
    if (o->letter != '\0') {
        const char letter[] = {'-', o->letter, '\0'};
        add_font(s, 'B', letter);
        g_string_append(s, ", ");
    }
    g_autofree char *name = g_strconcat("--", o->name, NULL);
    add_font(s, 'B', name);
    if (o->argument != NULL) {
        g_string_append_c(s, '=');
        add_font(s, 'I', o->argument);
    }
    g_string_append_c(s, '\n');
    add_text(s, o->help);
    if (!g_str_has_suffix(o->help, "."))
        g_string_append_c(s, '.');
    if (o->planning != NULL)
        add_range(s, o->planning);
    g_string_append_c(s, '\n');
}

/* The command's own options, then the planning options under the headings of their table. */
static void add_options(GString *s, const DtDescription *d)
{
    g_autoptr(GPtrArray) groups = g_ptr_array_new();
    g_string_append(s, ".SH OPTIONS\n");
    for (guint i = 0; i < d->options->len; i++) {
        const DtDescribedOption *o = d->options->pdata[i];
        if (o->planning == NULL)
            add_option(s, o);
        else if (!g_ptr_array_find_with_equal_func(groups, o->planning->group, g_str_equal, NULL))
            g_ptr_array_add(groups, (gpointer)o->planning->group);
    }
    for (guint g = 0; g < groups->len; g++) {
        const char *group = groups->pdata[g];
        g_string_append_printf(s, ".SS %c%s\n", g_ascii_toupper(*group), group + 1);
        for (guint i = 0; i < d->options->len; i++) {
            const DtDescribedOption *o = d->options->pdata[i];
            if (o->planning != NULL && strcmp(o->planning->group, group) == 0)
                add_option(s, o);
        }
    }
}

static void add_examples(GString *s, const char *examples)
{
    g_auto(GStrv) lines = g_strsplit(examples, "\n", -1);
    g_string_append(s, ".SH EXAMPLES\n");
    for (char **l = lines; *l != NULL; l++) {
        char *what = strstr(*l, "  # ");
        if (what != NULL)
            *what = '\0';
        g_string_append(s, ".TP\n");
        add_font(s, 'B', *l);
        g_string_append_c(s, '\n');
        if (what != NULL)
            add_text(s, what + strlen("  # "));
        g_string_append_c(s, '\n');
    }
}

static void add_exit_codes(GString *s)
{
    static const char *const codes[] = {
        "Done.", "The input or the machine has a problem, which the message names.", "Wrong usage.",
        "Internal or I/O failure."};
    g_string_append(s, ".SH EXIT STATUS\n");
    for (gsize i = 0; i < G_N_ELEMENTS(codes); i++) {
        g_string_append_printf(s, ".TP\n.B %zu\n", i);
        add_text(s, codes[i]);
        g_string_append_c(s, '\n');
    }
}

static void add_environment(GString *s)
{
    g_string_append(s, ".SH ENVIRONMENT\n.TP\n.B DRAWTRUE_MACHINE\n");
    add_text(s, "The machine's profile where --machine is not given.");
    g_string_append(s, "\n.TP\n.B XDG_STATE_HOME\n");
    add_text(s, "The journal is kept in the folder drawtrue below it (~/.local/state).");
    g_string_append_c(s, '\n');
}

char *dt_manual_overview(void)
{
    GString *s = begin_page("drawtrue", 1, "draw vector artwork true on a home-made pen plotter");
    g_string_append(s, ".SH SYNOPSIS\n.B drawtrue\n.I COMMAND\n.RI [ OPTION... ]\n.br\n"
                       ".B drawtrue help\n.I COMMAND\n.br\n.B drawtrue \\-\\-help\n.br\n"
                       ".B drawtrue \\-\\-version\n.SH DESCRIPTION\n");
    add_paragraphs(
        s,
        "Takes an SVG drawing, a page of a PDF file or a photograph to true ink on paper on one "
        "pen plotter, which a profile describes: it finds every line and fill that the pens must "
        "trace, orders them for the least time, corrects each move by what was measured on that "
        "machine's own paper, writes RS-274 text in the words that its controller takes, and "
        "streams it without losing a line. A virtual machine comes with it, to try everything "
        "on.\n\n"
        "A plotter moves by itself: keep fingers, hair and cords out of its way, keep its switch "
        "in reach, do not leave it alone, and feed its motors from a supply made for them. Leave "
        "work on mains voltage to a qualified person, by the rules where you live.");
    g_string_append(s, ".SH COMMANDS\n");
    for (gsize i = 0; i < dt_cli_n_commands; i++) {
        g_string_append(s, ".TP\n.BR drawtrue\\-");
        add_text(s, dt_cli_commands[i]->name);
        g_string_append(s, " (1)\n");
        add_text(s, dt_cli_commands[i]->summary);
        g_string_append(s, ".\n");
    }
    add_exit_codes(s);
    add_environment(s);
    g_string_append(s, ".SH SEE ALSO\n");
    add_reference(s, "drawtrue-profile", "5", FALSE);
    add_reference(s, "drawtrue-rig", "5", TRUE);
    return g_string_free(s, FALSE);
}

char *dt_manual_command(const DtDescription *d)
{
    const DtCommand *c = d->command;
    g_autofree char *name = g_strconcat("drawtrue-", c->name, NULL);
    GString *s = begin_page(name, 1, c->summary);
    g_string_append(s, ".SH SYNOPSIS\n.nh\n.ad l\n\\fBdrawtrue ");
    add_text(s, c->name);
    g_string_append(s, "\\fR ");
    add_usage(s, c->usage);
    g_string_append(s, ".ad b\n.SH DESCRIPTION\n");
    add_paragraphs(s, c->about != NULL ? c->about : c->summary);
    add_options(s, d);
    if (c->examples != NULL)
        add_examples(s, c->examples);
    add_exit_codes(s);
    add_environment(s);
    g_string_append(s, ".SH SEE ALSO\n");
    add_reference(s, "drawtrue", "1", FALSE);
    if (strcmp(c->name, "rig") == 0)
        add_reference(s, "drawtrue-rig", "5", FALSE);
    add_reference(s, "drawtrue-profile", "5", TRUE);
    return g_string_free(s, FALSE);
}

/* A file's page ---------------------------------------------------------------------------------- */

/* Comment lines gathered up to the section or the key that they are about. */
static void add_gathered(GString *s, GString *gathered)
{
    if (gathered->len == 0)
        return;
    add_text(s, gathered->str);
    g_string_append_c(s, '\n');
    g_string_truncate(gathered, 0);
}

/* Whether a comment line is a key that is off by default, "#key = value". */
static gboolean is_hidden_key(const char *line)
{
    return line[0] == '#' && g_ascii_islower(line[1]) && strstr(line, " =") != NULL;
}

static void add_line(GString *s, const char *line, GString *gathered, gboolean *in_section)
{
    if (line[0] == '[') {
        g_string_append(s, ".SS ");
        add_text(s, line);
        g_string_append_c(s, '\n');
        add_gathered(s, gathered);
        *in_section = TRUE;
    } else if (line[0] == '#' && !is_hidden_key(line)) {
        const char *text = line + strspn(line, "# ");
        g_string_append_printf(gathered, "%s%s", gathered->len ? " " : "", text);
    } else if (line[0] == '\0' && !*in_section) {
        add_gathered(s, gathered);
    } else if (line[0] != '\0') {
        g_string_append(s, ".TP\n");
        add_font(s, 'B', is_hidden_key(line) ? line + 1 : line);
        if (is_hidden_key(line))
            g_string_append(s, "  (not set)");
        g_string_append_c(s, '\n');
        add_gathered(s, gathered);
    }
}

char *dt_manual_file(const char *page, const char *summary, const char *about, const char *command,
                     const char *template_text)
{
    GString *s = begin_page(page, 5, summary);
    g_autoptr(GString) gathered = g_string_new(NULL);
    gboolean in_section = FALSE;
    g_auto(GStrv) lines = g_strsplit(template_text, "\n", -1);
    g_string_append(s, ".SH DESCRIPTION\n");
    add_paragraphs(s, about);
    g_string_append(s, ".SH KEYS\n");
    for (char **l = lines; *l != NULL; l++)
        add_line(s, *l, gathered, &in_section);
    g_string_append(s, ".SH SEE ALSO\n");
    add_reference(s, "drawtrue", "1", FALSE);
    add_reference(s, command, "1", TRUE);
    return g_string_free(s, FALSE);
}
