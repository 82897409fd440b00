/* stage: a program, a journal and a fake board, for the tests of runs. */
#pragma once

#include "fake.h"
#include "support/drawing.h"

#define GREETING "drawtrue controller 1 ready"

typedef struct {
    DtProfile *profile;
    Fake *fake;
    char *folder, *program, *journal;
    double ink_mm, travel_mm; /* of the program, counted by itself */
    const char *port;
    DtRunOptions options;
    DtEventFunc hear; /* stage_hear() */
    GString *events;  /* a letter per event; changes of state have none */
    DtSession *session;
    DtRun *run;
    unsigned pause_after; /* progress events */
    unsigned changes;
} Stage;

/* A program of so many strokes of so many segments of 0.1 mm; its pen changes before the third. */
void stage_set(Stage *s, const FakeFaults *faults, unsigned strokes, unsigned segments);
void stage_clear(Stage *s);
/* Draws the program, and stops the board. */
gboolean stage_draw(Stage *s, GError **error);
/* The same for the last run of the journal that is not finished, on a fresh board. */
void stage_restart(Stage *s);
gboolean stage_resume(Stage *s, const DtResume *from, GError **error);
/* The listener: a letter per event; goes on at pen changes and pauses. */
void stage_hear(const DtEvent *e, void *user);
/* What a controller is to execute of the program: its lines without comments. */
GPtrArray *stage_expected_lines(const char *program);
/* The program's lines stand at the end of what was executed; before them only our own pen-up. */
void stage_assert_executed_once(Stage *s);
/* Strokes executed, by their pen-downs' places: "10 11 12 ". */
char *stage_strokes_of(GPtrArray *lines);
