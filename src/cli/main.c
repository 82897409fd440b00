/* main: finds the command and turns its outcome into the exit code. */
#include "cli/cli.h"

#include <gio/gio.h>
#include <locale.h>
#include <string.h>

static const DtCommand *const commands[] = {
    &dt_command_plan,    &dt_command_proof, &dt_command_inspect, &dt_command_mend,
    &dt_command_learn,   &dt_command_run,   &dt_command_resume,  &dt_command_jog,   &dt_command_log,
    &dt_command_machine, &dt_command_rig,
};

static void print_usage(FILE *out)
{
    fputs("usage: drawtrue COMMAND ...\n\n", out);
    for (gsize i = 0; i < G_N_ELEMENTS(commands); i++)
        fprintf(out, "  %-9s%s\n", commands[i]->name, commands[i]->summary);
    fputs("\n'drawtrue COMMAND --help' tells more. Exit codes: 0 done, 1 the input or the machine\n"
          "has a problem that the message names, 2 wrong usage, 3 internal or I/O failure.\n",
          out);
}

static const DtCommand *find_command(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(commands); i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

static int no_such_command(const char *name)
{
    const DtCommand *nearest = commands[0];
    for (gsize i = 1; i < G_N_ELEMENTS(commands); i++)
        if (dt_base_edit_distance(name, commands[i]->name) <
            dt_base_edit_distance(name, nearest->name))
            nearest = commands[i];
    fprintf(stderr, "drawtrue: there is no command '%s'; did you mean '%s'?\n", name,
            nearest->name);
    return DT_ERROR_USAGE;
}

static int exit_code(int code, const GError *error)
{
    if (error == NULL)
        return code;
    fprintf(stderr, "drawtrue: %s\n", error->message);
    if (error->domain == DT_ERROR)
        return error->code;
    if (error->domain == G_OPTION_ERROR)
        return DT_ERROR_USAGE;
    return DT_ERROR_IO;
}

int main(int argc, char **argv)
{
    setlocale(LC_CTYPE, ""); /* numbers stay in the C locale: programs and profiles need a point */
    if (argc < 2) {
        print_usage(stderr);
        return DT_ERROR_USAGE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts("drawtrue " DT_VERSION);
        return 0;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        print_usage(stdout);
        return 0;
    }
    const DtCommand *command = find_command(argv[1]);
    if (command == NULL)
        return no_such_command(argv[1]);
    g_autoptr(GError) error = NULL;
    int code = command->run(argc - 1, argv + 1, &error);
    return exit_code(code, error);
}
