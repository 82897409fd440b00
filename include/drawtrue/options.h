/* options: every choice of a plan, in one table. The command line's options, JSON and a form are made
 * from it, and a wrong value is refused with the same words wherever it comes from. */
#pragma once

#include "drawtrue/job.h"

#include <json-glib/json-glib.h>

typedef enum {
    DT_OPTION_FLAG,   /* TRUE where given */
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
    const char *const *choices; /* CHOICE: ends with NULL */
    const char *group;          /* a heading of the form */
    const char *argument;       /* its placeholder in the help; NULL for a flag */
    const char *help;           /* unit and default are added to it */
} DtOption;

const DtOption *dt_options_table(size_t *n);

/* A set of values. */
typedef struct DtOptions DtOptions;

DtOptions *dt_options_new(void);
void dt_options_free(DtOptions *o);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtOptions, dt_options_free)

/* Sets one from text; a flag takes "true" and "false", NULL is "true". DT_ERROR_USAGE with
 * "--name takes ..." where there is no such option, or the value is wrong. */
gboolean dt_options_set(DtOptions *o, const char *name, const char *text, GError **error);
/* The value as text; NULL where it was not given. Owned by the set. */
const char *dt_options_get(const DtOptions *o, const char *name);

/* Sets what an object's members say: numbers, strings, booleans, arrays of two numbers; null takes a
 * value back. Nothing is changed where any of it is wrong. */
gboolean dt_options_read_json(DtOptions *o, JsonObject *object, GError **error);
/* The values that were given, as members of the open object. */
void dt_options_add_json(const DtOptions *o, JsonBuilder *b);
/* The table, as an array of objects under a member of the open object: what a form is made from. */
void dt_options_add_table(JsonBuilder *b, const char *member);

/* What a GOptionGroup parses by whose user data is a DtOptions, which takes the values. Ends with an
 * empty entry; freed with g_free(). */
GOptionEntry *dt_options_entries(void);

/* What a plan is made from. */
typedef struct {
    DtProfile *profile; /* a copy, with the paper that the options ask for */
    DtJobOptions job;
    DtJobTiling tiling;
    gboolean several; /* several sheets were asked for: see dt_job_plan_sheets() */
} DtPlanInput;

/* From the set and the machine's profile, which stays as it is. Clear `out` after success. */
gboolean dt_options_apply(const DtOptions *o, const DtProfile *profile, DtPlanInput *out,
                          GError **error);
void dt_plan_input_clear(DtPlanInput *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtPlanInput, dt_plan_input_clear)
