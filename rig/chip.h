/* chip: the controller's real image on a simulated ATmega328P in place of the rig's core: its
 * coil pins turn the rig's motors, its servo pin lowers the pen, the rig's switches drive its
 * pins, and its UART is the rig's port. A test tool, never part of the program, because of the
 * simulator's licence.
 *
 * Pins: motor X on PD4-PD7, motor Y on PC0-PC3, servo on PB2 (OC1B), switches of X and Y on PD2
 * and PD3. */
#pragma once

#include "drawtrue/rig.h"

typedef struct {
    const char *image;  /* .elf */
    const char *eeprom; /* file that stores it; NULL: blank, and not stored */
    gboolean opens[2];  /* the switch opens when it is reached (normally closed) */
    double bounce_s;    /* longest time for which a switch bounces when it closes or opens */
    double burst_hz;    /* bursts of coil noise on the switch lines per second; 0: none */
    double burst_s;     /* longest burst */
    double spike_s;     /* longest spike in a burst; one may follow each change of a coil */
    guint32 seed;
} DtChipOptions;

/* What was observed at the pins. */
typedef struct {
    guint64 cycles;
    guint64 pulses;                     /* of the servo */
    double pulse_low_us, pulse_high_us; /* shortest and longest since dt_rig_chip_watch_pulses() */
    double frame_low_us, frame_high_us; /* between rising edges, in the same period */
    guint64 half_steps[2];              /* in both directions */
    unsigned bad_patterns;              /* coil patterns that no motor could follow */
    unsigned unasked;                   /* half steps while no line asked for motion */
    unsigned overruns;                  /* bytes lost in the UART */
    unsigned no_room; /* bytes lost because the buffer was full, as its latest state says */
    unsigned resets;  /* by the watchdog */
    guint64 closings[2], bursts, spikes; /* of the switches; of noise */
    guint64 after_closing[2]; /* half steps of the axis since its switch was last reached */
    double waited_s; /* idle without a line until the sender's next one came; the core's clock
                   * stands still then */
    gboolean crashed;
    gboolean coils_on[2];
    double pulse_us;        /* the latest; 0: none for 0.1 s */
    unsigned eeprom_writes; /* bytes */
    gboolean eeprom_busy;
} DtChipFigures;

/* Replaces the core by the chip: switches its power on and gives it the settings of the rig file
 * that differ from the defaults. DT_ERROR_INPUT on a wrong image, and if it refuses them. */
gboolean dt_rig_use_chip(DtRig *r, const DtChipOptions *o, GError **error);
void dt_rig_chip_figures(const DtRig *r, DtChipFigures *out);
void dt_rig_chip_watch_pulses(DtRig *r);

/* Called for each half step and each closing of a switch; times in cycles of 1/16 us. */
typedef void (*DtChipStep)(guint64 cycle, int axis, int turn, void *user);
void dt_rig_chip_on_step(DtRig *r, DtChipStep step, void *user);

/* Power off and on again: RAM is lost, a byte of the EEPROM that was being written takes any
 * value, and motors and pen stay where they are. */
void dt_rig_chip_cut_power(DtRig *r);
/* The EEPROM, 1024 bytes. */
guint8 *dt_rig_chip_eeprom(DtRig *r);
/* A byte on the wire, after those that are on their way. */
void dt_rig_chip_send(DtRig *r, guint8 byte);
/* Called for each line that the chip has sent. */
typedef void (*DtChipAnswer)(const char *text, void *user);
void dt_rig_chip_on_answer(DtRig *r, DtChipAnswer answer, void *user);
/* A byte at the UART at once, as it is, with or without its stop bit. */
void dt_rig_chip_put_byte(DtRig *r, guint8 byte, gboolean framed);
/* Runs the chip for this time, s, with the queued bytes arriving in time. */
void dt_rig_chip_run(DtRig *r, double s);
