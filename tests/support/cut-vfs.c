/* cut-vfs: see cut-vfs.h. The interface is that of sqlite.org/vfs.html. */
#include "support/cut-vfs.h"

#include <sqlite3.h>
#include <string.h>

enum { SECTOR = 512, REGION = 32768 };

typedef struct {
    GByteArray *now, *durable;
    GPtrArray *shared; /* regions of the WAL index; lost with the power */
} Image;

typedef struct {
    sqlite3_file base;
    Image *image;
} File;

static GHashTable *images;
static GPtrArray *deleted; /* an open file may outlive its name */
static GRand *rand_;
static unsigned writes_left;
static gboolean off;
static gint64 room = -1;
static int good_calls = -1; /* left; -1: all */
static gboolean failed;

static void free_image(gpointer data)
{
    Image *i = data;
    g_byte_array_unref(i->now);
    g_byte_array_unref(i->durable);
    g_ptr_array_unref(i->shared);
    g_free(i);
}

static int close_file(sqlite3_file *f)
{
    (void)f;
    return SQLITE_OK;
}

/* Whether this call fails. */
static gboolean fails(void)
{
    if (good_calls > 0)
        good_calls--;
    else if (good_calls == 0)
        failed = TRUE;
    else
        return FALSE;
    return failed;
}

static int read_file(sqlite3_file *f, void *to, int n, sqlite3_int64 at)
{
    if (fails())
        return SQLITE_IOERR_READ;
    const GByteArray *b = ((File *)f)->image->now;
    const gint64 have = CLAMP((gint64)b->len - at, 0, n);
    memset(to, 0, (gsize)n);
    if (have > 0)
        memcpy(to, b->data + at, (gsize)have);
    return have == n ? SQLITE_OK : SQLITE_IOERR_SHORT_READ;
}

static void grow(GByteArray *b, gsize size)
{
    const gsize old = b->len;
    if (size <= old)
        return;
    g_byte_array_set_size(b, (guint)size);
    memset(b->data + old, 0, size - old);
}

static int write_file(sqlite3_file *f, const void *from, int n, sqlite3_int64 at)
{
    if (fails())
        return SQLITE_IOERR_WRITE;
    if (writes_left > 0 && --writes_left == 0)
        off = TRUE;
    if (off)
        return SQLITE_OK;
    if (room >= 0 && room < n)
        return SQLITE_FULL;
    room -= room >= 0 ? n : 0;
    GByteArray *b = ((File *)f)->image->now;
    grow(b, (gsize)(at + n));
    memcpy(b->data + at, from, (gsize)n);
    return SQLITE_OK;
}

static int truncate_file(sqlite3_file *f, sqlite3_int64 size)
{
    if (!off)
        g_byte_array_set_size(((File *)f)->image->now, (guint)size);
    return SQLITE_OK;
}

static int sync_file(sqlite3_file *f, int flags)
{
    (void)flags;
    Image *i = ((File *)f)->image;
    if (fails())
        return SQLITE_IOERR_FSYNC;
    if (off)
        return SQLITE_OK;
    g_byte_array_set_size(i->durable, 0);
    g_byte_array_append(i->durable, i->now->data, i->now->len);
    return SQLITE_OK;
}

static int size_file(sqlite3_file *f, sqlite3_int64 *size)
{
    *size = ((File *)f)->image->now->len;
    return SQLITE_OK;
}

static int lock_file(sqlite3_file *f, int level)
{
    (void)f;
    (void)level;
    return SQLITE_OK;
}

static int check_lock(sqlite3_file *f, int *out)
{
    (void)f;
    *out = 0;
    return SQLITE_OK;
}

static int control_file(sqlite3_file *f, int op, void *arg)
{
    (void)f;
    (void)op;
    (void)arg;
    return SQLITE_NOTFOUND;
}

static int sector_size(sqlite3_file *f)
{
    (void)f;
    return SECTOR;
}

static int characteristics(sqlite3_file *f)
{
    (void)f;
    return SQLITE_IOCAP_POWERSAFE_OVERWRITE;
}

static int map_shared(sqlite3_file *f, int region, int size, int extend, void volatile **out)
{
    GPtrArray *shared = ((File *)f)->image->shared;
    *out = NULL;
    while ((int)shared->len <= region && extend)
        g_ptr_array_add(shared, g_malloc0((gsize)MAX(size, REGION)));
    if ((int)shared->len > region)
        *out = shared->pdata[region];
    return SQLITE_OK;
}

static int lock_shared(sqlite3_file *f, int offset, int n, int flags)
{
    (void)f;
    (void)offset;
    (void)n;
    (void)flags;
    return SQLITE_OK;
}

static void barrier(sqlite3_file *f)
{
    (void)f;
}

static int unmap_shared(sqlite3_file *f, int delete)
{
    if (delete)
        g_ptr_array_set_size(((File *)f)->image->shared, 0);
    return SQLITE_OK;
}

static const sqlite3_io_methods methods = {
    .iVersion = 2,
    .xClose = close_file,
    .xRead = read_file,
    .xWrite = write_file,
    .xTruncate = truncate_file,
    .xSync = sync_file,
    .xFileSize = size_file,
    .xLock = lock_file,
    .xUnlock = lock_file,
    .xCheckReservedLock = check_lock,
    .xFileControl = control_file,
    .xSectorSize = sector_size,
    .xDeviceCharacteristics = characteristics,
    .xShmMap = map_shared,
    .xShmLock = lock_shared,
    .xShmBarrier = barrier,
    .xShmUnmap = unmap_shared,
};

static int open_file(sqlite3_vfs *v, const char *name, sqlite3_file *f, int flags, int *out)
{
    (void)v;
    f->pMethods = NULL;
    if (fails())
        return SQLITE_CANTOPEN;
    Image *i = g_hash_table_lookup(images, name ? name : "temporary");
    if (i == NULL) {
        i = g_new0(Image, 1);
        i->now = g_byte_array_new();
        i->durable = g_byte_array_new();
        i->shared = g_ptr_array_new_with_free_func(g_free);
        g_hash_table_insert(images, g_strdup(name ? name : "temporary"), i);
    }
    *(File *)f = (File){{&methods}, i};
    if (out != NULL)
        *out = flags;
    return SQLITE_OK;
}

static int delete_file(sqlite3_vfs *v, const char *name, int sync)
{
    (void)v;
    (void)sync;
    gpointer key, image;
    if (!off && g_hash_table_steal_extended(images, name, &key, &image)) {
        g_free(key);
        g_ptr_array_add(deleted, image);
    }
    return SQLITE_OK;
}

static int access_file(sqlite3_vfs *v, const char *name, int flags, int *out)
{
    (void)v;
    (void)flags;
    const Image *i = g_hash_table_lookup(images, name);
    *out = i != NULL && i->now->len > 0;
    return SQLITE_OK;
}

static int full_name(sqlite3_vfs *v, const char *name, int n, char *out)
{
    (void)v;
    g_strlcpy(out, name, (gsize)n);
    return SQLITE_OK;
}

static sqlite3_vfs vfs;

void cut_vfs_install(guint32 seed)
{
    const sqlite3_vfs *system = sqlite3_vfs_find("unix");
    images = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_image);
    deleted = g_ptr_array_new_with_free_func(free_image);
    rand_ = g_rand_new_with_seed(seed);
    vfs = *system; /* its clock, sleep and randomness */
    vfs.pNext = NULL;
    vfs.zName = "cut";
    vfs.szOsFile = sizeof(File);
    vfs.xOpen = open_file;
    vfs.xDelete = delete_file;
    vfs.xAccess = access_file;
    vfs.xFullPathname = full_name;
    off = FALSE;
    writes_left = 0;
    room = -1;
    cut_vfs_fail_after(-1);
    sqlite3_vfs_register(&vfs, 1);
}

void cut_vfs_remove(void)
{
    sqlite3_vfs_unregister(&vfs);
    g_hash_table_unref(images);
    g_ptr_array_unref(deleted);
    g_rand_free(rand_);
}

static void settle_image(Image *i)
{
    GByteArray *kept = g_byte_array_new();
    const gsize size = g_rand_boolean(rand_) ? i->now->len : i->durable->len;
    grow(kept, size);
    for (gsize at = 0; at < size; at += SECTOR) {
        const gsize n = MIN(SECTOR, size - at);
        const GByteArray *from = g_rand_boolean(rand_) ? i->now : i->durable;
        if (at < from->len)
            memcpy(kept->data + at, from->data + at, MIN(n, from->len - at));
    }
    g_byte_array_unref(i->now);
    i->now = kept;
    g_byte_array_set_size(i->durable, 0);
    g_byte_array_append(i->durable, kept->data, kept->len);
    g_ptr_array_set_size(i->shared, 0);
}

void cut_vfs_cut(void)
{
    GHashTableIter iter;
    gpointer image;
    g_hash_table_iter_init(&iter, images);
    while (g_hash_table_iter_next(&iter, NULL, &image))
        settle_image(image);
    off = FALSE;
    writes_left = 0;
}

void cut_vfs_cut_after(unsigned writes)
{
    writes_left = writes;
}

void cut_vfs_power_off(void)
{
    off = TRUE;
}

gboolean cut_vfs_is_off(void)
{
    return off;
}

void cut_vfs_set_room(gint64 bytes)
{
    room = bytes;
}

void cut_vfs_fail_after(int calls)
{
    good_calls = calls;
    failed = FALSE;
}

gboolean cut_vfs_has_failed(void)
{
    return failed;
}
