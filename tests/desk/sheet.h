/* sheet: a place's last test sheet, drawn by a virtual machine, and somebody who reads it. */
#pragma once

#include "place.h"

#include "support/eye-reader.h"

typedef struct {
    DtTestSheet *sheet;
    DtRig *rig;
    EyeReader eye;
    DtEyeReadings *readings; /* what was answered, apart from the desk */
} Sheet;

/* A place whose profile is "bench", its own. */
void init_own(Place *p);
/* Makes a sheet of this kind and has the machine of this truth draw it. */
void make_sheet(Place *p, const char *kind, const char *truth, Sheet *out);
void sheet_clear(Sheet *s);

/* The request for answer `i` to a question; freed by the caller. */
char *answer_json(const Sheet *s, size_t ask, size_t i, const char *text);
/* Gives it, to the desk and to `readings`. */
void give_answer(Place *p, Sheet *s, size_t ask, size_t i, const char *text);

/* What pages are told of the sheet; freed by the caller. */
JsonObject *measure(Place *p);
