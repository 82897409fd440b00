/* options: every option of a plan, in one table, from which the command line's options, the JSON
 * and the page's form are made. Wherever a value comes from, a wrong one is refused with the
 * same message. */
#pragma once

#include "drawtrue/job.h"

#include <json-glib/json-glib.h>

typedef enum {
    DT_OPTION_FLAG,   /* TRUE if given */
    DT_OPTION_NUMBER, /* a number with a point, in `unit` */
    DT_OPTION_WHOLE,
    DT_OPTION_CHOICE, /* one of `choices` */
    DT_OPTION_PAPER,  /* "A5", "A5 landscape", "120x80" */
    DT_OPTION_POINT,  /* "20,10"; an array of two numbers in JSON */
    DT_OPTION_GRID,   /* "2x3", or "any" */
    DT_OPTION_TEXT,   /* a list of names or pairs */
} DtOptionType;

typedef struct {
    const char *name; /* after "--" on the command line; with '_' in place of '-' in JSON */
    DtOptionType type;
    const char *unit;           /* "mm"; NULL where there is none */
    double least, most;         /* NUMBER, WHOLE, each of a POINT */
    const char *preset;         /* as text; NULL: off, or as the machine's profile says */
    const char *const *choices; /* CHOICE: NULL-terminated */
    const char *group;          /* heading in the form */
    const char *argument;       /* placeholder in the help; NULL for a flag */
    const char *help;           /* unit and default are appended */
} DtOption;

const DtOption *dt_options_table(size_t *n);

/* A set of values. */
typedef struct DtOptions DtOptions;

DtOptions *dt_options_new(void);
void dt_options_free(DtOptions *o);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtOptions, dt_options_free)

/* Sets one value from text; a flag accepts "true" and "false", NULL means "true". DT_ERROR_USAGE
 * if there is no such option or the value is wrong. */
gboolean dt_options_set(DtOptions *o, const char *name, const char *text, GError **error);
/* The value as text; NULL if it was not given. Owned by the set. */
const char *dt_options_get(const DtOptions *o, const char *name);

/* Sets the values in a JSON object: numbers, strings, booleans, arrays of two numbers; null
 * resets a value. Nothing is changed if any of them is wrong. */
gboolean dt_options_read_json(DtOptions *o, JsonObject *object, GError **error);
/* Adds the values that were given to the open object. */
void dt_options_add_json(const DtOptions *o, JsonBuilder *b);
/* Adds the table to the open object, as an array of objects under this name: what a form is made
 * from. */
void dt_options_add_table(JsonBuilder *b, const char *member);

/* Entries for a GOptionGroup whose user data is a DtOptions, which receives the values. The last
 * entry is empty; free with g_free(). */
GOptionEntry *dt_options_entries(void);

/* What a plan is made from. */
typedef struct {
    DtProfile *profile; /* a copy, with the paper that the options request */
    DtJobOptions job;
    DtJobTiling tiling;
    gboolean several; /* several sheets were requested: see dt_job_plan_sheets() */
} DtPlanInput;

/* Made from the set and the machine's profile, which stays unchanged. Clear `out` after success. */
gboolean dt_options_apply(const DtOptions *o, const DtProfile *profile, DtPlanInput *out,
                          GError **error);
void dt_plan_input_clear(DtPlanInput *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtPlanInput, dt_plan_input_clear)
