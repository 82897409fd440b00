/* describe: what a command takes, gathered from the tables that parse it, for manual and completion. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/options.h"

typedef enum {
    DT_VALUE_NONE, /* a flag */
    DT_VALUE_OTHER,
    DT_VALUE_FILE, /* `words`: its usual endings; none: any file */
    DT_VALUE_FOLDER,
    DT_VALUE_PORT,
    DT_VALUE_CHOICE, /* one of `words` */
} DtValueKind;

typedef struct {
    char *name; /* long name, or NULL for a plain argument */
    char letter;
    char *argument; /* its placeholder; NULL for a flag */
    char *help;
    const DtOption *planning; /* its row in the table of planning options, or NULL */
    DtValueKind kind;
    GPtrArray *words; /* of char * */
} DtDescribedOption;

typedef struct {
    const DtCommand *command;
    GPtrArray *options;          /* of DtDescribedOption * */
    DtDescribedOption *argument; /* what plain arguments are; DT_VALUE_OTHER where there are none */
} DtDescription;

DtDescription *dt_describe(const DtCommand *c);
void dt_description_free(DtDescription *d);

/* The parts of the manual and the completion for one shell each. Freed by the caller. */
char *dt_manual_overview(void);
char *dt_manual_command(const DtDescription *d);
/* A page about a file from its template, as `drawtrue machine --template` prints one. */
char *dt_manual_file(const char *page, const char *summary, const char *about, const char *command,
                     const char *template_text);
char *dt_complete_bash(DtDescription *const *all, gsize n);
char *dt_complete_zsh(DtDescription *const *all, gsize n);
char *dt_complete_fish(DtDescription *const *all, gsize n);

/* The kinds of serial port that are offered, as a pattern of the shell. */
#define DT_PORT_PATTERN "/dev/ttyUSB* /dev/ttyACM* /dev/serial/by-id/*"
