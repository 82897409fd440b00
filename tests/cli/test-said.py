#!/usr/bin/env python3
"""What the commands say, whole: said.txt has a command line after "$ ", its exit code after "= ", what it prints as it
is, and what goes to the error stream after "! ". "..." ends what is compared of a line. Nothing is made but by a
command that is done. Speaks TAP.
Usage: test-said.py DRAWTRUE"""
import os
import pathlib
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

PROGRAM = os.path.abspath(sys.argv[1])
LEAKS = pathlib.Path(__file__).resolve().parents[1] / "fuzz" / "leaks.txt"  # of libraries
HANGS_AFTER = 60  # seconds; only a hang takes so long
GIVEN = {"a.svg": '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm"><path d="M9 9h40" '
                  'stroke="black" fill="none"/></svg>',
         "good.nc": "G21 G90\nG28\nG0 X10 Y10\nM3\nG1 X20 Y10 F600\nM5\nM2\n",
         "sound.nc": "G21 G90\nM5\nG4 P0.2\nG28\nG0 X10 Y10\nM3 S40\nG4 P0.2\nG1 X20 F600\nM5\nG4 P0.2\nG0 X0 Y0\nM2\n",
         "dry.nc": "G21 G90\nG28\nG0 X10 Y10\nM2\n",
         "dots.nc": "G21 G90\nM5\nG4 P0.1\nG28\nG0 X10 Y10\nM3 S40\nG4 P0.15\nM5\nG4 P0.1\nG0 X0 Y0\nM2\n",
         "m.ini": "[machine]\nname = Workbench\n"}


def agrees(said, wanted):
    if len(said) != len(wanted):
        return False
    return all(s.startswith(w[:-3]) if w.endswith("...") else s == w for s, w in zip(said, wanted))


def case(arguments, wanted):
    with tempfile.TemporaryDirectory(prefix="drawtrue-") as name:
        folder = pathlib.Path(name)
        for given, text in GIVEN.items():
            (folder / given).write_text(text)
        environment = {k: v for k, v in os.environ.items() if not k.startswith(("DRAWTRUE", "LANG", "LC_"))}
        environment["LSAN_OPTIONS"] = f"suppressions={LEAKS}:print_suppressions=0"
        environment.update({v: str(folder / "home") for v in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")})
        done = subprocess.run([PROGRAM, *arguments], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                              capture_output=True, text=True, timeout=HANGS_AFTER)
        said = [f"= {done.returncode}", *done.stdout.splitlines(),
                *(f"! {line}".rstrip() for line in done.stderr.replace(str(folder), "FOLDER").splitlines())]
        check(" ".join(arguments) or "nothing", agrees(said, wanted), "\n".join(said))
        made = {p.name for p in folder.iterdir()} - set(GIVEN) - {"home"}
        check("and nothing is made", not made or done.returncode == 0, made)


def main():
    table = (pathlib.Path(__file__).parent / "said.txt").read_text().split("\n$ ")[1:]
    for block in table:
        line, *wanted = block.rstrip("\n").split("\n")
        case(line.split() if line != "nothing" else [], wanted)
    end_checks()


main()
