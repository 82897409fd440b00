/* fuzz: any text as a rig file: read, or refused with one message; then it can run. */
#include "drawtrue/rig.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) rig = dt_rig_new_from_text(text, "fuzz", &error);
    if ((rig == NULL) != (error != NULL))
        abort();
    if (rig)
        dt_rig_run_text(rig, "M5\nG4 P0.1\n", 11);
    return 0;
}
