/* bench-link: parts of the benchmark in files of their own. */
#pragma once

/* argv[1]: how many drawings of the corpus are planned; argv[2]: its folder. */
int bench_link_dense(int argc, char **argv, const char *folder);
