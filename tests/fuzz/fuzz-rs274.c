/* Fuzzes the reader with everything above it: judging, explaining, mending. The first byte chooses
 * the controller. What mend gives out must be fit, so that mending it again changes nothing. */
#include "drawtrue/code.h"

#include <stdlib.h>
#include <string.h>

#define PLAIN "G0 G1 G4 G21 G28 G90 M2 M3 M5 F N P S X Y"
#define FULL                                                                                       \
    PLAIN " G2 G3 G10 G17 G18 G19 G20 G53 G54 G55 G80 G81 G83 G91 G92 G92.1 G93 G94 G98 I J K L "  \
          "Q R Z"                                                                                  \
          " expressions:taken"

static const struct {
    const char *words, *down, *up;
} machines[] = {
    {PLAIN, "M3 S40", "M5"},
    {FULL, "M3 S40", "M5"},
    {FULL, "G1 Z-1 F300", "G0 Z3"},
    {PLAIN " M41 M42 comment:none gap:needed delete:refused", "M41", "M42"},
};

static void replace(char **text, const char *by)
{
    g_free(*text);
    *text = g_strdup(by);
}

static void on_words(size_t line, const char *source, gsize len, const char *words, void *user)
{
    (void)source;
    *(size_t *)user += line + len + strlen(words);
}

static void mend_twice(const DtProfile *p, const char *text, gsize len)
{
    DtMending m;
    gsize once_len, twice_len;
    DtMendOptions o = {.clip = TRUE};
    g_autofree char *once = dt_code_mend_text(p, text, len, "a.nc", &o, &once_len, &m, NULL);
    dt_mending_clear(&m);
    if (once == NULL)
        return;
    g_autofree char *twice = dt_code_mend_text(p, once, once_len, "a.nc", &o, &twice_len, &m, NULL);
    if (twice == NULL || twice_len != once_len || memcmp(once, twice, once_len) != 0)
        abort();
    dt_mending_clear(&m);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size == 0)
        return 0;
    unsigned which = data[0] % G_N_ELEMENTS(machines);
    g_autoptr(DtProfile) p = dt_profile_new();
    replace(&p->dialect.words, machines[which].words);
    replace(&p->dialect.pen_down, machines[which].down);
    replace(&p->dialect.pen_up, machines[which].up);
    const char *text = (const char *)data + 1;
    gsize len = size - 1;
    size_t sum = 0;
    DtInspection i;
    if (dt_code_inspect_text(p, text, len, &i, NULL))
        dt_inspection_clear(&i);
    dt_code_explain_text(p, text, len, on_words, &sum, NULL);
    mend_twice(p, text, len);
    return 0;
}
