/* commands: the one table of commands, in the order in which help and manual list them. */
#include "cli/cli.h"

const DtCommand *const dt_cli_commands[] = {
    &dt_command_plan, &dt_command_proof,   &dt_command_inspect, &dt_command_mend, &dt_command_learn,
    &dt_command_run,  &dt_command_resume,  &dt_command_jog,     &dt_command_log,  &dt_command_sheet,
    &dt_command_true, &dt_command_machine, &dt_command_rig,     &dt_command_desk,
};
const gsize dt_cli_n_commands = G_N_ELEMENTS(dt_cli_commands);
