/* The host of a rig at its pseudo-terminal, for the tests of the port: it plugs in, sends and reads lines. */
#pragma once

#include "drawtrue/rig.h"

typedef struct {
    DtRig *rig;
    gboolean real_time, once;
    volatile int stop;
    GThread *thread;
    char *port;
    int fd;
    GString *heard;
} Host;

/* A rig of this rig file's text that serves at its port, on a thread of its own. */
void host_start(Host *h, const char *rig_text, gboolean real_time, gboolean once);
/* The same at a link, which leads to the port wherever it comes back. */
void host_start_at(Host *h, const char *link, const char *rig_text, gboolean once);
/* What the rig's thread does, for a test that starts it again; `user` is the host. */
gpointer host_serve(gpointer user);
void host_plug_in(Host *h);
void host_hang_up(Host *h);
/* Ends the rig; figures and ink can be read afterwards. */
void host_finish(Host *h);
void host_clear(Host *h);

/* The next line from the rig, freed by the caller; NULL after `ms` without one, or where the port is gone. */
char *host_hear(Host *h, int ms);
void host_say(Host *h, const char *text);
/* One line, followed by the comment with its check. */
void host_say_checked(Host *h, const char *body);
/* Fails the test where the next line is another one. */
void host_expect(Host *h, const char *line);
/* Streams a program as many bytes ahead as the window allows; every line must be taken. */
void host_stream(Host *h, const char *program, unsigned window);
