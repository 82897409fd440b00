/* jpeg: whether the data of a JPEG file are sound. gdk-pixbuf shows what it can make of damaged ones and
 * does not tell. */
#include "art/source/raster.h"

#include <setjmp.h>
#include <stdio.h>

#include <jpeglib.h>

typedef struct {
    struct jpeg_error_mgr manager; /* must be the first member */
    jmp_buf gives_up;
} Errors;

static void on_error(j_common_ptr file)
{
    longjmp(((Errors *)file->err)->gives_up, 1);
}

static void say_nothing(j_common_ptr file)
{
    (void)file;
}

gboolean dt_art_jpeg_is_damaged(const guchar *data, gsize len)
{
    if (len < 4 || data[0] != 0xff || data[1] != 0xd8)
        return FALSE;
    Errors errors;
    struct jpeg_decompress_struct file = {.err = jpeg_std_error(&errors.manager)};
    errors.manager.error_exit = on_error;
    errors.manager.output_message = say_nothing;
    JSAMPROW volatile row = NULL;
    volatile gboolean damaged = TRUE;
    if (setjmp(errors.gives_up) == 0) {
        jpeg_create_decompress(&file);
        jpeg_mem_src(&file, data, len);
        jpeg_read_header(&file, TRUE);
        file.scale_denom = 8; /* all data are still decoded, but fewer pixels made of them */
        jpeg_start_decompress(&file);
        row = g_malloc((gsize)file.output_width * (gsize)file.output_components);
        JSAMPROW to = row;
        while (file.output_scanline < file.output_height)
            jpeg_read_scanlines(&file, &to, 1);
        jpeg_finish_decompress(&file);
        damaged = errors.manager.num_warnings > 0;
    }
    jpeg_destroy_decompress(&file);
    g_free(row);
    return damaged;
}
