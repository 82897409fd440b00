/* font-leaks: fontconfig keeps what it has read about fonts until the process ends, which is no leak of
 * ours. Included once by a test that draws letters. */
#pragma once

const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig.so\n";
}

const char *__lsan_default_options(void);
const char *__lsan_default_options(void)
{
    return "print_suppressions=0";
}
