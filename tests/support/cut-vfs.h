/* cut-vfs: a file system for SQLite that keeps what was written and what was synced apart, so that
 * the power can be cut: unsynced sectors are then kept or lost at random. It can also be full, or fail. */
#pragma once

#include <glib.h>

/* Makes it SQLite's default. Files live in memory until cut_vfs_remove(). */
void cut_vfs_install(guint32 seed);
void cut_vfs_remove(void);

/* The power fails: of everything since each file's last sync, every sector is there or not by the
 * toss of a coin. Open connections are worthless afterwards. */
void cut_vfs_cut(void);

/* After this many further write calls the power fails: they then do nothing and report success, as
 * a drive's cache does. 0: it stays on. cut_vfs_is_off() tells. */
void cut_vfs_cut_after(unsigned writes);
void cut_vfs_power_off(void); /* now */
gboolean cut_vfs_is_off(void);

/* After this many further bytes the disk is full; -1: never. */
void cut_vfs_set_room(gint64 bytes);

/* After this many further reads, writes, syncs and openings each of them fails; -1: none.
 * cut_vfs_has_failed() tells whether one did since this was said last. */
void cut_vfs_fail_after(int calls);
gboolean cut_vfs_has_failed(void);
