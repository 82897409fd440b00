/* make-manual: writes the manual and the completion into a folder, while the program is built.
 * Usage: make-manual FOLDER. Exit code 3 where a file cannot be written. */
#include "describe.h"

#include "drawtrue/rig.h"

#include <stdlib.h>

static void save(const char *folder, const char *name, char *text)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_autoptr(GError) error = NULL;
    if (!g_file_set_contents(path, text, -1, &error)) {
        g_printerr("make-manual: %s\n", error->message);
        exit(DT_ERROR_IO);
    }
    g_free(text);
}

static void save_files(const char *folder)
{
    g_autofree char *profile = dt_profile_template();
    g_autofree char *rig = dt_rig_template();
    save(
        folder, "drawtrue-profile.5",
        dt_manual_file("drawtrue-profile", "a machine's profile for drawtrue",
                       "A text file with sections in brackets and a line \"key = value\" for each "
                       "key. \"drawtrue machine --template\" prints one with every key, which are "
                       "listed here with their defaults. A key that is misspelt or out of range is "
                       "refused with its line.",
                       "drawtrue-machine", profile));
    save(folder, "drawtrue-rig.5",
         dt_manual_file("drawtrue-rig", "a rig file: the virtual machine and its faults",
                        "A text file with sections in brackets and a line \"key = value\" for each "
                        "key. \"drawtrue rig --template\" prints one with every key, which are "
                        "listed here with their defaults.",
                        "drawtrue-rig", rig));
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        g_printerr("usage: make-manual FOLDER\n");
        return DT_ERROR_USAGE;
    }
    g_autofree DtDescription **all = g_new0(DtDescription *, dt_cli_n_commands);
    for (gsize i = 0; i < dt_cli_n_commands; i++) {
        all[i] = dt_describe(dt_cli_commands[i]);
        g_autofree char *name = g_strdup_printf("drawtrue-%s.1", dt_cli_commands[i]->name);
        save(argv[1], name, dt_manual_command(all[i]));
    }
    save(argv[1], "drawtrue.1", dt_manual_overview());
    save_files(argv[1]);
    save(argv[1], "drawtrue", dt_complete_bash(all, dt_cli_n_commands));
    save(argv[1], "_drawtrue", dt_complete_zsh(all, dt_cli_n_commands));
    save(argv[1], "drawtrue.fish", dt_complete_fish(all, dt_cli_n_commands));
    for (gsize i = 0; i < dt_cli_n_commands; i++)
        dt_description_free(all[i]);
    return 0;
}
