/* store: one arena for everything that a drawing points to. */
#define _GNU_SOURCE /* MADV_HUGEPAGE */
#include "art/private.h"

#include <sys/mman.h>

#define CHUNK ((gsize)64 << 10)
#define LARGEST_CHUNK ((gsize)32 << 20)
#define LARGE_PAGE ((gsize)2 << 20)

struct ArtChunk {
    struct ArtChunk *next;
    gsize size;
};

#define HEAD ((sizeof(struct ArtChunk) + 15) & ~(gsize)15)

ArtStore *dt_art_store_new(void)
{
    ArtStore *s = g_new0(ArtStore, 1);
    s->tones = g_ptr_array_new();
    s->softs = g_ptr_array_new();
    s->blocks = g_ptr_array_new_with_free_func(g_free);
    return s;
}

void dt_art_store_free(ArtStore *s)
{
    if (!s)
        return;
    for (struct ArtChunk *c = s->chunks, *next; c; c = next) {
        next = c->next;
        g_free(c);
    }
    g_ptr_array_unref(s->tones);
    g_ptr_array_unref(s->softs);
    g_ptr_array_unref(s->blocks);
    g_free(s);
}

void dt_art_expect_use(void *room, gsize size)
{
#ifdef MADV_HUGEPAGE
    guintptr from = ((guintptr)room + LARGE_PAGE - 1) & ~(guintptr)(LARGE_PAGE - 1);
    guintptr to = ((guintptr)room + size) & ~(guintptr)(LARGE_PAGE - 1);
    if (from < to)
        (void)madvise((void *)from, to - from, MADV_HUGEPAGE); /* only a hint */
#else
    (void)room, (void)size;
#endif
}

static void *new_chunk(ArtStore *s, gsize size)
{
    struct ArtChunk *c = g_malloc(HEAD + size);
    dt_art_expect_use(c, HEAD + size);
    c->size = size;
    c->next = s->chunks;
    s->chunks = c;
    return (char *)c + HEAD;
}

void *dt_art_store_alloc(ArtStore *s, gsize size)
{
    size = (size + 7) & ~(gsize)7;
    if (size <= (gsize)(s->end - s->at)) {
        void *p = s->at;
        s->at += size;
        return p;
    }
    gsize chunk = s->chunks ? MIN(s->chunks->size * 2, LARGEST_CHUNK) : CHUNK;
    chunk = MAX(chunk, CHUNK);
    if (size > chunk / 4)
        return new_chunk(s, size); /* a chunk of its own; the current one stays in use */
    char *p = new_chunk(s, chunk);
    s->at = p + size;
    s->end = p + chunk;
    return p;
}

void *dt_art_store_zero(ArtStore *s, gsize size)
{
    return memset(dt_art_store_alloc(s, size), 0, size);
}

char *dt_art_store_text(ArtStore *s, const char *text, gsize len)
{
    char *p = dt_art_store_alloc(s, len + 1);
    memcpy(p, text, len);
    p[len] = '\0';
    return p;
}
