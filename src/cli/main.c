/* main: finds the command and turns its result into the exit code. */
#include "cli/cli.h"
#include "cli/print.h"

#include <gio/gio.h>
#include <string.h>

static void print_usage(FILE *out)
{
    dt_cli_print(out, "usage: drawtrue COMMAND ...\n\n");
    for (gsize i = 0; i < dt_cli_n_commands; i++)
        dt_cli_printf(out, "  %-9s%s\n", dt_cli_commands[i]->name, _(dt_cli_commands[i]->summary));
    dt_cli_print(out,
                 "\n'drawtrue help COMMAND' gives details. Exit codes: 0 done, 1 the input or the "
                 "machine\nhas a problem that the message names, 2 wrong usage, 3 internal or I/O "
                 "failure.\n");
}

static const DtCommand *find_command(const char *name)
{
    for (gsize i = 0; i < dt_cli_n_commands; i++)
        if (strcmp(dt_cli_commands[i]->name, name) == 0)
            return dt_cli_commands[i];
    return NULL;
}

static int no_such_command(const char *name)
{
    const DtCommand *nearest = dt_cli_commands[0];
    for (gsize i = 1; i < dt_cli_n_commands; i++)
        if (dt_base_edit_distance(name, dt_cli_commands[i]->name) <
            dt_base_edit_distance(name, nearest->name))
            nearest = dt_cli_commands[i];
    dt_cli_printf(stderr, "drawtrue: there is no command '%s'; did you mean '%s'?\n", name,
                  nearest->name);
    return DT_ERROR_USAGE;
}

static int exit_code(int code, const GError *error)
{
    if (error == NULL)
        return code;
    dt_cli_printf(stderr, "drawtrue: %s\n", error->message);
    if (error->domain == DT_ERROR)
        return error->code;
    if (error->domain == G_OPTION_ERROR)
        return DT_ERROR_USAGE;
    if (g_error_matches(error, G_IO_ERROR, G_IO_ERROR_CANCELLED))
        return DT_ERROR_INPUT; /* what a person ended is not complete */
    return DT_ERROR_IO;
}

static gboolean is_help(const char *word)
{
    return strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0 || strcmp(word, "help") == 0;
}

static int run_command(int argc, char **argv, GError **error)
{
    if (argc < 2) {
        print_usage(stderr);
        return DT_ERROR_USAGE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        dt_cli_printf(stdout, "drawtrue %s\n", DT_VERSION);
        return 0;
    }
    const gboolean help = is_help(argv[1]);
    if (help && argc == 2) {
        print_usage(stdout);
        return 0;
    }
    const DtCommand *command = find_command(argv[help ? 2 : 1]);
    if (command == NULL)
        return no_such_command(argv[help ? 2 : 1]);
    char *asked[] = {argv[0], (char[]){"--help"}, NULL};
    return help ? command->run(2, asked, error) : command->run(argc - 1, argv + 1, error);
}

static gboolean asks_for_json(int argc, char **argv)
{
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        if (strcmp(argv[i], "--json") == 0)
            return TRUE;
    return FALSE;
}

int main(int argc, char **argv)
{
    dt_messages_begin();
    if (asks_for_json(argc, argv))
        dt_messages_choose("en"); /* what programs read is the same in every language */
    g_autoptr(GError) error = NULL, lost = NULL;
    int code = run_command(argc, argv, &error);
    code = exit_code(code, error);
    return dt_cli_close_output(&lost) ? code : exit_code(code, lost);
}
