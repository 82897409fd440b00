/* cli: one file per command. Each file defines one DtCommand: its name, usage, help and entry point
 * in one place; commands.c lists them. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/machine.h"
#include <stdio.h>

typedef struct {
    const char *name;
    const char *usage;          /* what follows the name in the usage line */
    const char *summary;        /* one line */
    const char *about;          /* paragraphs with an empty line between them, for the manual */
    const char *examples;       /* lines "drawtrue ...  # what it does", for the manual */
    const GOptionEntry *shared; /* options that several commands have in common; may be NULL */
    /* argv[0] is the command's name. Parses with dt_cli_parse(). Returns the exit code; sets *error
     * for every code but 0 unless it has reported in full already. */
    int (*run)(int argc, char **argv, GError **error);
} DtCommand;

extern const DtCommand dt_command_plan, dt_command_proof, dt_command_machine, dt_command_inspect,
    dt_command_mend, dt_command_run, dt_command_rig, dt_command_resume, dt_command_log,
    dt_command_learn, dt_command_jog, dt_command_sheet, dt_command_true, dt_command_desk;

extern const DtCommand *const dt_cli_commands[];
extern const gsize dt_cli_n_commands;

/* Calls the listener with every option of a command, whose memory it must not keep; nothing is
 * run. Used to make the manual and the completions. Not for several threads. */
typedef void (*DtOptionListener)(const GOptionEntry *entry, void *user);
void dt_cli_list_options(const DtCommand *c, DtOptionListener listener, void *user);

/* GOptionContext over the command's own entries; unknown options are DT_ERROR_USAGE. What
 * remains in argv are the plain arguments. FALSE with *error set, or with *error unset after
 * --help. */
gboolean dt_cli_parse(const DtCommand *c, const GOptionEntry *entries, int *argc, char ***argv,
                      GError **error);

/* The same with several tables of entries, NULL-terminated; `user` is passed to their callbacks. */
gboolean dt_cli_parse_all(const DtCommand *c, const GOptionEntry *const *entries, gpointer user,
                          int *argc, char ***argv, GError **error);

/* The profile of --machine FILE, or of $DRAWTRUE_MACHINE, or the built-in one. */
DtProfile *dt_cli_profile(const char *path, GError **error);

/* Option of every command that writes a file: it may replace a file that this program did not
 * write. */
#define DT_CLI_FORCE(variable)                                                                     \
    {                                                                                              \
        "force", 0, 0, G_OPTION_ARG_NONE, &(variable),                                             \
            N_("Replace a file that drawtrue did not write, or that a run still needs"), NULL      \
    }

/* Whether a file may be written there; called before any work, see dt_base_check_output().
 * `input` and the profile's file are what is read; either may be NULL. */
gboolean dt_cli_claim_output(const char *output, DtFileKind kind, const char *input,
                             const DtProfile *p, gboolean force, GError **error);

/* Whether no run of this journal needs the program that is at `output`: one that draws it, or could go on with it. NULL:
 * the default journal, of which dt_cli_claim_output() asks already. */
gboolean dt_cli_keep_unfinished(const char *journal, const char *output, gboolean force,
                                GError **error);

/* Of a program that has been corrected: says so where it cannot be told whether it was before. */
void dt_cli_note_origin(const DtProfile *p, const char *program);
