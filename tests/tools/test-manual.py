#!/usr/bin/env python3
"""The manual holds what the program takes: every command, option, profile key and rig key, and no
more. Speaks TAP. Usage: test-manual.py DRAWTRUE A-PAGE SOURCE-ROOT VERSION."""
import pathlib
import re
import subprocess
import sys

from described import commands, options, output

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

PROGRAM, PAGES = sys.argv[1], pathlib.Path(sys.argv[2]).parent
ROOT, VERSION = pathlib.Path(sys.argv[3]), sys.argv[4]


def formatted(page):
    """The page as groff formats it, without a warning, in columns wide enough that no line breaks."""
    done = subprocess.run(["groff", "-man", "-ww", "-Tutf8", "-P-cbou", "-rLL=2000n", "-rHY=0", str(PAGES / page)],
                          capture_output=True, text=True, timeout=60)
    assert done.returncode == 0 and done.stderr == "", (page, done.stderr)
    return done.stdout


def squeezed(text):
    return re.sub(r"\s+", " ", text)


@case
def every_command_has_a_page_that_the_overview_lists():
    overview = formatted("drawtrue.1")
    names = commands(PROGRAM)
    assert len(names) >= 11, names
    for name in names:
        assert f"drawtrue-{name}(1)" in overview, name
        page = formatted(f"drawtrue-{name}.1")
        for part in ("NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXIT STATUS", "ENVIRONMENT", "SEE ALSO"):
            assert re.search(f"^{part}$", page, re.M), (name, part)
    assert {p.name for p in PAGES.glob("drawtrue-*.1")} == {f"drawtrue-{n}.1" for n in names}


@case
def every_option_of_every_command_is_in_its_page_with_its_help_and_no_other():
    for command in commands(PROGRAM):
        page = formatted(f"drawtrue-{command}.1")
        body = page[page.index("\nOPTIONS"):]
        found = set(re.findall(r"^\s+(?:-\w, )?--([a-z-]+)(?:=\S+)?(?:\s|$)", body, re.M))
        asked = options(PROGRAM, command)
        assert found == set(asked), (command, found ^ set(asked))
        for name, (letter, argument, text) in asked.items():
            head = (f"-{letter}, " if letter else "") + f"--{name}" + (f"={argument}" if argument else "")
            assert head in body, (command, head)
            assert squeezed(text) in squeezed(body), (command, text)


def keys_of(template):
    return re.findall(r"^#?([a-z]\w*) =(.*)$", template, re.M)


@case
def every_key_of_a_profile_is_in_its_page_with_its_default():
    for command, page in (("machine", "drawtrue-profile.5"), ("rig", "drawtrue-rig.5")):
        template, text = output(PROGRAM, command, "--template"), formatted(page)
        keys = keys_of(template)
        assert len(keys) > 30, keys
        for key, default in keys:
            line = squeezed(f"{key} ={default}").strip()
            assert re.search(rf"^\s+{re.escape(line)}", text, re.M), (page, line)
        for section in re.findall(r"^\[.*\]$", template, re.M):
            assert section in text, (page, section)


@case
def the_version_is_one_everywhere():
    assert output(PROGRAM, "--version") == f"drawtrue {VERSION}\n"
    assert f"drawtrue {VERSION}" in formatted("drawtrue.1")
    assert re.fullmatch(r"\d+\.\d+\.\d+", VERSION), "semantic versions"


run_cases()
