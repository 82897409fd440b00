#!/usr/bin/env python3
"""The completion of three shells offers what the program takes, asked of the shells themselves.
Speaks TAP. Usage: test-completion.py DRAWTRUE A-PAGE."""
import pathlib
import shlex
import subprocess
import sys
import tempfile

from described import commands, options

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

PROGRAM, FILES = sys.argv[1], pathlib.Path(sys.argv[2]).parent
HATCHES = {"fastest", "serpentine", "lines", "crossed", "rings"}


def shell(program, script, folder="/"):
    with tempfile.TemporaryDirectory() as home:
        done = subprocess.run([program, *(["--no-config"] if program == "fish" else []), "-c", script],
                              capture_output=True, text=True, timeout=60, cwd=folder,
                              env={"PATH": "/usr/bin:/bin", "HOME": home, "LC_ALL": "C.UTF-8", "TERM": "dumb"})
    assert done.returncode == 0, (script, done.stderr)
    return [line for line in done.stdout.splitlines() if line]


def bash(line, folder="/"):
    """What bash offers for the last word, which is cut at '=' as readline does."""
    words = [w for part in line.split(" ") for w in part.replace("=", " = ").split(" ")]
    if line.endswith("="):
        words = words[:-1]
    script = (f"source {shlex.quote(str(FILES / 'drawtrue'))}\n"
              f"COMP_WORDS=({' '.join(shlex.quote(w) for w in words)})\nCOMP_CWORD={len(words) - 1}\n"
              "_drawtrue\nprintf '%s\\n' \"${COMPREPLY[@]}\"")
    return set(shell("bash", script, folder))


def fish(line, folder="/"):
    script = f"source {FILES / 'drawtrue.fish'}\ncomplete -C {shlex.quote(line)}"
    return {offer.split("\t")[0] for offer in shell("fish", script, folder)}


ZSH = """
autoload -Uz compinit; compinit -u -D
compadd() {
    local -a all
    if (( ! ${@[(I)-[OAD]*]} )); then
        builtin compadd -A all "$@"
        (( $#all )) && print -rl -- "@@"${^all}
    fi
    builtin compadd "$@"
}
offer() { _main_complete; compstate[insert]=; compstate[list]=; print "END$((1+1))" }
zle -C offer complete-word offer
bindkey "^I" offer
print "READY$((1+1))"
"""


def zsh(line):
    """What zsh would add, caught at its compadd on a pseudo-terminal."""
    with tempfile.NamedTemporaryFile("w", suffix=".zsh") as f:
        f.write(f"fpath=({FILES} $fpath)\n" + ZSH)
        f.flush()
        script = f"""
            zmodload zsh/zpty
            zpty shell zsh -f -i
            zpty -w shell 'PS1=; source {f.name}'
            while zpty -r shell part && [[ $part != *READY2* ]]; do :; done
            zpty -w -n shell {shlex.quote(line)}$'\\t'
            while zpty -r shell part; do print -r -- "$part"; [[ $part == *END2* ]] && break; done
            zpty -d shell
        """
        text = "\n".join(shell("zsh", script))
    return {w.split("@@")[1].strip() for w in text.replace("\r", "\n").splitlines() if "@@" in w}


def wants(command):
    found = set()
    for name, (letter, _, _) in options(PROGRAM, command).items():
        found |= {f"--{name}"} | ({f"-{letter}"} if letter else set())
    return found


@case
def bash_offers_every_command_and_every_option():
    names = set(commands(PROGRAM))
    assert bash("drawtrue ") == names | {"help", "--help", "--version"}
    assert bash("drawtrue help ") >= names
    for name in names:
        assert bash(f"drawtrue {name} -") == wants(name), name


@case
def bash_offers_kinds_and_the_files_that_fit():
    with tempfile.TemporaryDirectory() as folder:
        for name in ("my.ini", "art.svg", "a b.svg", "job.nc", "notes.txt"):
            pathlib.Path(folder, name).touch()
        pathlib.Path(folder, "sheets").mkdir()
        assert bash("drawtrue plan --hatch ") == HATCHES
        assert bash("drawtrue plan --hatch=") == HATCHES
        assert bash("drawtrue plan --hatch=r") == {"rings"}
        assert bash("drawtrue mend x.nc --units ") == {"mm", "in"}
        assert bash("drawtrue plan ", folder) == {"art.svg", "a b.svg", "sheets"}
        assert bash("drawtrue plan -m ", folder) == {"my.ini", "sheets"}
        assert bash("drawtrue run ", folder) == {"job.nc", "sheets"}
        assert bash("drawtrue rig --out ", folder) == {"sheets"}
        assert bash("drawtrue plan --seed ", folder) == set()
        assert bash("drawtrue jog --port P ") == {"home", "by", "to", "up", "down", "park"}


@case
def fish_offers_every_command_and_every_option():
    names = set(commands(PROGRAM))
    assert fish("drawtrue ") == names | {"help"}
    for name in names:
        asked = wants(name)
        long = {o for o in asked if o.startswith("--")}
        got = {o.rstrip("=") for o in fish(f"drawtrue {name} --")}
        assert got == long, (name, got ^ long)
        assert asked - long <= fish(f"drawtrue {name} -"), name


@case
def fish_offers_kinds_and_the_files_that_fit():
    with tempfile.TemporaryDirectory() as folder:
        for name in ("my.ini", "art.svg", "job.nc", "notes.txt"):
            pathlib.Path(folder, name).touch()
        pathlib.Path(folder, "sheets").mkdir()
        assert fish("drawtrue plan --hatch ") == HATCHES
        assert fish("drawtrue plan -m ", folder) == {"my.ini", "sheets/"}
        assert fish("drawtrue run ", folder) == {"job.nc", "sheets/"}
        assert fish("drawtrue rig --out ", folder) == {"sheets/"}


@case
def zsh_offers_commands_options_and_kinds():
    names = set(commands(PROGRAM))
    assert zsh("drawtrue ") >= names
    assert zsh("drawtrue plan --hatch=") >= HATCHES
    got = {o.rstrip("=+") for o in zsh("drawtrue plan --")}
    assert got >= {o for o in wants("plan") if o.startswith("--")}, got


@case
def zsh_has_every_option_of_every_command():
    text = (FILES / "_drawtrue").read_text()
    for name in commands(PROGRAM):
        part = text[text.index(f"\n    {name})\n"):]
        part = part[:part.index(";;")]
        for option, (letter, argument, _) in options(PROGRAM, name).items():
            assert f"--{option}{'=' if argument else ''}" in part, (name, option)
            assert letter is None or f"{{-{letter}" in part, (name, letter)


run_cases()
