#!/usr/bin/env python3
"""Rooms keep their borders: each public header compiles alone and pulls in no more than is its own;
no file takes another room's private header; no two source files share a name and mean different
things. Speaks TAP. Usage: test-headers.py SOURCE-ROOT COMPILER CFLAG..."""
import collections
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

ROOT = pathlib.Path(sys.argv[1])
COMPILER = sys.argv[2:]
PUBLIC = sorted((ROOT / "include/drawtrue").glob("*.h"))
ROOMS = sorted(p.name for p in (ROOT / "src").iterdir() if p.is_dir())
# What a public header may pull in beyond the C library and GLib: outside libraries by a part of
# their header's path, and the rooms below its own.
OUTSIDE = {"json": {"json-glib"}, "options": {"json-glib"}}
LIBRARIES = {"json-glib", "libxml2", "cairo", "pango", "sqlite3", "libserialport", "jpeglib", "zlib"}
BELOW = {
    "base": set(), "json": set(), "work": set(), "geom": {"base"}, "art": {"base", "geom", "colour"},
    "ink": {"base", "geom", "art", "colour", "rack"}, "rack": {"base", "geom", "colour"}, "colour": set(),
}
# Files of one name in several rooms: the same thing at each level.
SAME_THING = {
    "log.c": "past runs: read by link, told by report",
    "private.h": "what the files of one room give to each other",
    "tiles.c": "large art over several sheets: cut by ink, planned by job, written by cli",
}
def included(header):
    """Every header that a file of this one line pulls in."""
    with tempfile.NamedTemporaryFile("w", suffix=".c") as f:
        f.write(f'#include "drawtrue/{header.name}"\nint dt_nothing;\n')
        f.flush()
        done = subprocess.run([*COMPILER, "-std=gnu17", "-Wall", "-Wextra", "-Werror", "-M",
                               f"-I{ROOT / 'include'}", f.name],
                              capture_output=True, text=True, timeout=60)
        whole = subprocess.run([*COMPILER, "-std=gnu17", "-Wall", "-Wextra", "-Werror",
                                "-fsyntax-only", f"-I{ROOT / 'include'}", f.name],
                               capture_output=True, text=True, timeout=60)
    assert done.returncode == 0 and whole.returncode == 0, done.stderr + whole.stderr
    return done.stdout.replace("\\\n", " ").split()[2:]


@case
def each_public_header_compiles_alone():
    for header in PUBLIC:
        included(header)


@case
def no_public_header_pulls_in_a_library_that_is_not_its_own():
    for header in PUBLIC:
        own = OUTSIDE.get(header.stem, set())
        for path in included(header):
            for library in LIBRARIES - own:
                assert f"/{library}" not in path, f"{header.name} pulls in {path}"


@case
def low_headers_pull_in_no_room_above_them():
    for header in PUBLIC:
        if header.stem not in BELOW:
            continue
        rooms = {pathlib.Path(p).stem for p in included(header) if "/drawtrue/" in p}
        extra = rooms - BELOW[header.stem] - {header.stem, "messages"}  # which is below all
        assert not extra, f"{header.name} pulls in {sorted(extra)}"


@case
def no_file_takes_the_private_header_of_another_room():
    for path in sorted((ROOT / "src").rglob("*.[ch]")):
        room = path.relative_to(ROOT / "src").parts[0]
        for other in re.findall(r'^#include "([^"]+)"', path.read_text(), re.M):
            first = other.split("/")[0]
            assert first in ("drawtrue", room), f"{path.relative_to(ROOT)} takes {other}"


@case
def the_rig_and_the_controller_take_nothing_of_ours():
    for folder in ("controller", "rig"):
        for path in sorted((ROOT / folder).rglob("*.[ch]")):
            for other in re.findall(r'^#include "([^"]+)"', path.read_text(), re.M):
                assert other.split("/")[0] not in ROOMS, f"{path.relative_to(ROOT)} takes {other}"
                assert not other.startswith("drawtrue/") or other in (
                    "drawtrue/rig.h", "drawtrue/base.h"), f"{path.relative_to(ROOT)} takes {other}"


@case
def no_two_source_files_share_a_name_and_mean_different_things():
    names = collections.defaultdict(list)
    for path in sorted((ROOT / "src").rglob("*.[ch]")):
        if path.name not in SAME_THING:
            names[path.name].append(str(path.relative_to(ROOT)))
    twice = [paths for paths in names.values() if len(paths) > 1]
    assert not twice, twice


@case
def every_external_symbol_has_the_prefix():
    pattern = re.compile(r"^(?!static|typedef|struct|enum|union|extern|_|G_|#|/|\s|\})"
                         r"[A-Za-z_][\w *]*?\b(\w+)\(", re.M)
    for path in sorted((ROOT / "src").rglob("*.[ch]")):
        for name in pattern.findall(path.read_text()):
            if name.startswith(("dt_", "main", "G_")) or name.isupper():
                continue
            raise AssertionError(f"{path.relative_to(ROOT)}: {name}")


run_cases()
