/* place: a desk without a server in a folder of its own, and what a page would ask of it. */
#pragma once

#include "desk/private.h"

#include "desk/request.h"

typedef struct {
    char *folder, *work, *journal;
    DtDesk *d;
} Place;

/* Two lines, 40 and 30 mm long; a place has it as label.svg. */
extern const char drawing[];

void place_init(Place *p);
/* The same with this serial port. */
void place_init_at(Place *p, const char *port);
void place_clear(Place *p);
/* A file in the place's folder. */
void write_file(const Place *p, const char *name, const char *text);
/* An action by its name, with its JSON; done() and refused() fail the test where it goes otherwise. */
gboolean act(Place *p, const char *action, const char *json, GError **error);
void done(Place *p, const char *action, const char *json);
void refused(Place *p, const char *action, const char *json, DtErrorCode code, const char *why);
/* Waits until the drawing is planned, or is not. */
void settle(Place *p);
/* Takes the text; the object is freed by the caller. */
JsonObject *read_json(char *text);
/* One part of what pages are told; freed by the caller. */
JsonObject *told(Place *p, DtDeskPart part, const char *name);
/* NULL where the member is null. */
const char *text_of(JsonObject *o, const char *name);
/* NAN where the member is null. */
double number_of(JsonObject *o, const char *name);
JsonObject *object_of(JsonObject *o, const char *name);
