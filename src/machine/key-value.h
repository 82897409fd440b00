/* key-value: converts one value of a profile from text with a unit to numbers and back. Private
 * to the room. */
#pragma once

#include "drawtrue/machine.h"

typedef enum {
    DT_UNIT_NONE,
    DT_UNIT_LENGTH,       /* mm */
    DT_UNIT_SPEED,        /* mm/s */
    DT_UNIT_ACCELERATION, /* mm/s^2 */
    DT_UNIT_TIME,         /* s */
    DT_UNIT_ANGLE,        /* kept in radians, written in degrees */
    DT_UNIT_VOLTAGE,      /* V */
    DT_UNIT_CURRENT,      /* A */
    DT_UNIT_PER_LENGTH,   /* steps per mm */
    DT_UNIT_BYTES,
    DT_UNIT_BIT_RATE, /* bit/s */
} DtUnit;

/* How the unit is written in messages and templates; "" for DT_UNIT_NONE. */
const char *dt_value_unit_name(DtUnit unit);
/* The internal value of 1 as written: pi/180 for an angle, otherwise 1. */
double dt_value_unit_size(DtUnit unit);

/* Each parser reads the whole text. If the text is invalid it returns FALSE with the reason in
 * *why (freed by the caller) and leaves *out untouched. A unit is required for every quantity
 * that has one, except with 0 and inside tables, where mm is assumed. */
gboolean dt_value_number(const char *text, DtUnit unit, double *out, char **why);
gboolean dt_value_ratio(const char *text, double *out, char **why);
gboolean dt_value_whole(const char *text, DtUnit unit, int *out, char **why);
gboolean dt_value_flag(const char *text, gboolean *out, char **why);
gboolean dt_value_point(const char *text, DtPoint *out, char **why);
gboolean dt_value_colour(const char *text, DtColour *out, char **why);
/* "0.45 mm" or "0:0.12 150:0.20 300:0.38" in rising position. *out is overwritten, not freed. */
gboolean dt_value_table(const char *text, DtTable *out, char **why);
/* Text with the escapes \xHH \n \r \t \s \\; *out is freed by the caller. */
gboolean dt_value_bytes(const char *text, char **out, char **why);
