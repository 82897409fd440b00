#!/usr/bin/env python3
"""Mutation testing: changes the C source in one small place at a time and looks whether a test notices.

Usage: mutate.py [--room ROOM] [N] [--seed S] [--jobs J] [--list]
  ROOM   one folder of src, or controller or rig; all of them without it
  N      how many mutants to try (30)
  S      the same seed draws the same mutants from the same source (1)
  --list prints the mutants and tries none

A mutant that does not compile, or whose object code equals the original's, is drawn again and not
counted. Built with AddressSanitizer and UBSan, as in CI. The tests of the room run first, then every other test; a test that runs into its time limit
notices too. Survivors are printed with their place and both lines: each is a promise that no test holds,
or a change that makes no difference, which a reader has to judge. Exit code 0 when at least 85 % were
noticed. Works on a copy of the tree in build/mutate."""
import argparse
import concurrent.futures
import hashlib
import json
import os
import pathlib
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
COPY = ROOT / "build" / "mutate" / "tree"
BUILD = ROOT / "build" / "mutate" / "build"
OUTSIDE_SRC = ("controller", "rig")
WANTED = 0.85
# A test that runs away is stopped by its processor time, so that a busy machine kills no mutant; one that
# waits for ever by the clock.
CPU_LIMIT, CPU_FLOOR = 3.0, 10.0  # times what a test took on the unchanged source, plus seconds
CLOCK_LIMIT, CLOCK_FLOOR = 8.0, 60.0

# What is blanked before places are looked for: comments, strings, characters, preprocessor lines.
HIDDEN = re.compile(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'|^[ \t]*#(?:\\\n|[^\n])*',
                    re.S | re.M)
# Each operator: its name, where it applies, and what it puts there.
SWAPS = {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==", "&&": "||", "||": "&&",
         "+": "-", "-": "+", "*": "/", "/": "*", "+=": "-=", "-=": "+=", "++": "--", "--": "++",
         "TRUE": "FALSE", "FALSE": "TRUE", "MIN": "MAX", "MAX": "MIN"}
OPERATORS = [
    ("compare", re.compile(r"(?<= )(?:<=|>=|==|!=|<|>)(?= )"), lambda m: SWAPS[m.group()]),
    ("logic", re.compile(r"&&|\|\|"), lambda m: SWAPS[m.group()]),
    ("arithmetic", re.compile(r"(?<=[\w)\]] )[-+*/](?= [\w(.])"), lambda m: SWAPS[m.group()]),
    ("step", re.compile(r"(?<= )(?:\+=|-=)(?= )|\+\+|--"), lambda m: SWAPS[m.group()]),
    ("boolean", re.compile(r"\b(?:TRUE|FALSE)\b"), lambda m: SWAPS[m.group()]),
    ("extreme", re.compile(r"\b(?:MIN|MAX)\b(?=\()"), lambda m: SWAPS[m.group()]),
    ("constant", re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])"), lambda m: _other_number(m.group())),
    ("condition", re.compile(r"\b(?:if|while) \((?=[^()]*(?:\([^()]*\)[^()]*)*\)\s)"), lambda m: m.group() + "!"),
    ("call", re.compile(r"(?<=[;{}]\n)[ ]+[a-z]\w*\((?:[^;{}])*?\);(?=\n)"), lambda m: re.match(r" +", m.group()).group() + ";"),
    ("assignment", re.compile(r"(?<=[;{}]\n)[ ]+[\w>.\[\]*-]+ [-+*/|&]?= [^;{}]*;(?=\n)"),
     lambda m: re.match(r" +", m.group()).group() + ";"),
]


def _other_number(text):
    if "." in text:
        return repr(float(text) * 1.1 + (0.1 if float(text) == 0 else 0))
    return str(int(text) + 1)


def rooms():
    return sorted(p.name for p in (ROOT / "src").iterdir() if p.is_dir()) + list(OUTSIDE_SRC)


def folder_of(room):
    return pathlib.Path(room) if room in OUTSIDE_SRC else pathlib.Path("src") / room


def bodies(blanked):
    """Which characters stand inside a function: from a brace in the first column to its end."""
    inside = bytearray(len(blanked))
    for m in re.finditer(r"^\{\n.*?^\}", blanked, re.S | re.M):
        inside[m.start():m.end()] = b"\1" * (m.end() - m.start())
    return inside


def places(path):
    """Every (operator, start, end, replacement) of a source file."""
    text = (ROOT / path).read_text()
    blanked = HIDDEN.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), text)
    inside = bodies(blanked)
    found = []
    for name, pattern, replace in OPERATORS:
        for m in pattern.finditer(blanked):
            if not inside[m.start()]:
                continue
            if name == "condition":  # negates the whole condition
                end = _closing(blanked, m.end() - 2)
                found.append((name, m.start(), end + 1,
                              text[m.start():m.end() - 1] + "(!(" + text[m.end() - 1:end] + ")))"[1:]))
            else:
                found.append((name, m.start(), m.end(), replace(m)))
    return text, found


def _closing(text, at):
    depth = 0
    for i in range(at, len(text)):
        depth += {"(": 1, ")": -1}.get(text[i], 0)
        if depth == 0 and text[i] == ")":
            return i
    return at


def run(command, **more):
    return subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **more)


def prepare():
    """The copy, built, with the tests' commands."""
    COPY.parent.mkdir(parents=True, exist_ok=True)
    if COPY.exists():
        shutil.rmtree(COPY)
    shutil.copytree(ROOT, COPY, ignore=shutil.ignore_patterns("build", ".git"), symlinks=True)
    if not (BUILD / "build.ninja").exists():
        done = run(["meson", "setup", str(BUILD), str(COPY), "-Dbuildtype=plain", "-Dwerror=false",
                    "-Dc_args=-O1 -fno-sanitize-recover=undefined", "-Db_sanitize=address,undefined",
                    "-Db_lundef=false"])
        if done.returncode:
            sys.exit(f"mutate: {done.stdout}")
    build()
    listed = json.loads(run(["meson", "introspect", "--tests", str(BUILD)]).stdout)
    return [t for t in listed if not t["name"].startswith("bench")]


def build(*targets):
    done = run(["ninja", "-C", str(BUILD), "--quiet", *targets])
    return done.returncode == 0, done.stdout


def one_test(test, limit):
    """None where it passes within `limit` (seconds by the clock), else what happened."""

    def bound_processor_time():
        seconds = int(limit)
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))

    environment = {**os.environ, "G_SLICE": "always-malloc", "ASAN_OPTIONS": "detect_leaks=1",
                   **test["env"]}
    process = subprocess.Popen(test["cmd"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                               env=environment, cwd=test["workdir"] or BUILD, start_new_session=True,
                               preexec_fn=bound_processor_time)
    try:
        out, _ = process.communicate(timeout=limit * CLOCK_LIMIT / CPU_LIMIT + CLOCK_FLOOR)
    except subprocess.TimeoutExpired:
        return "by its time"
    finally:
        try:
            os.killpg(process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
    if process.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        return "by its processor time"
    return None if process.returncode == 0 and not re.search(rb"^ *not ok ", out, re.M) else "by a check"


def timed(test):
    start = time.monotonic()
    good = one_test(test, test["timeout"] or 120) is None
    return good, time.monotonic() - start


def notices(tests, limits, jobs):
    """The name of a test that fails and how, where not by a check; or None."""
    with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
        futures = {pool.submit(one_test, t, limits[t["name"]]): t for t in tests}
        found = None
        for f in concurrent.futures.as_completed(futures):
            if f.result():
                found = futures[f]["name"] + ("" if f.result() == "by a check" else ", " + f.result())
                for other in futures:
                    other.cancel()
                break
        return found


def near_first(tests, room):
    """The room's own tests, those that name it, and all others: quick ones first."""

    def rank(t):
        words = re.split(r"[-_]", t["name"])
        return 0 if words[0] == room else 1 if room in words else 2
    near = [t for t in tests if rank(t) < 2]
    return near, [t for t in tests if rank(t) == 2]


def targets_of(tests):
    made = set()
    for t in tests:
        for part in t["cmd"]:
            path = BUILD / part  # an absolute path stays what it is; scripts get the program's own
            if BUILD in path.parents and path.is_file():
                made.add(str(path.relative_to(BUILD)))
    return sorted(made)


def sources_of(tests):
    """By test name, the source files that its programs are made of: only a change there can matter."""
    inputs = {}
    for t in tests:
        listed = set()
        for target in targets_of([t]):
            if target not in inputs:
                inputs[target] = set(run(["ninja", "-C", str(BUILD), "-t", "inputs", target]).stdout.split())
            listed |= inputs[target]
        t["sources"] = {os.path.relpath(os.path.normpath(BUILD / name), COPY) for name in listed
                        if name.endswith(".c")}


def object_of(path):
    """The digest of the machine code that a source file compiles to."""
    listing = [p for p in BUILD.rglob("*.c.o")
               if p.name == path.relative_to(folder_of(room_of(path))).as_posix().replace("/", "_") + ".o"
               and str(folder_of(room_of(path))) in str(p)]
    if not listing:
        return None
    dump = subprocess.run(["objdump", "-d", "-s", "-j", ".text", "-j", ".rodata", str(listing[0])],
                          capture_output=True).stdout
    return hashlib.sha256(re.sub(rb"^.*file format.*$", b"", dump, flags=re.M)).hexdigest()


def room_of(path):
    return path.parts[1] if path.parts[0] == "src" else path.parts[0]


def draw(dice, files):
    while True:
        path = dice.choices([f for f, _ in files], [n for _, n in files])[0]
        text, found = places(path)
        if found:
            name = dice.choice(sorted({f[0] for f in found}))
            return path, text, dice.choice([f for f in found if f[0] == name])


def show(path, text, place):
    name, start, end, new = place
    line = text.count("\n", 0, start) + 1
    old = " ".join(text[start:end].split())
    around = " ".join(text[text.rfind("\n", 0, start) + 1:text.find("\n", end)].split())
    return f"{path}:{line}: {name}: '{old[:60]}' -> '{' '.join(new.split())[:60]}'   in: {around[:110]}"


def main():
    parse = argparse.ArgumentParser(usage=__doc__.split("\n\n")[1].split("\n")[0].replace("Usage: ", ""))
    parse.add_argument("count", nargs="?", type=int, default=30)
    parse.add_argument("--room", choices=rooms())
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--jobs", type=int, default=2)
    parse.add_argument("--list", action="store_true")
    o = parse.parse_args()
    dice = random.Random(o.seed)
    wanted = [o.room] if o.room else rooms()
    files = [(p.relative_to(ROOT), p.stat().st_size)
             for r in wanted for p in sorted((ROOT / folder_of(r)).rglob("*.c")) if not {"avr", "arm"} & set(p.parts)]  # built for other chips
    if o.list:
        for _ in range(o.count):
            print(show(*draw(dice, files)))
        return 0
    print("mutate: building and timing the tests of the unchanged source", flush=True)
    tests = prepare()
    limits = {}
    for t in tests:
        good, took = timed(t)
        if not good:
            sys.exit(f"mutate: test '{t['name']}' fails on the unchanged source")
        limits[t["name"]] = took * CPU_LIMIT + CPU_FLOOR
        t["took"] = took
    sources_of(tests)
    tests.sort(key=lambda t: t["took"])
    tried = killed = 0
    score, survivors = {}, []
    while tried < o.count:
        path, text, place = draw(dice, files)
        _, start, end, new = place
        room = room_of(path)
        near, far = near_first([t for t in tests if str(path) in t["sources"]], room)
        before = object_of(path)
        (COPY / path).write_text(text[:start] + new + text[end:])
        compiled, _ = build(*targets_of(near or far))
        if compiled and (before is None or object_of(path) != before):
            noticed = notices(near, limits, o.jobs) if near else None
            if noticed is None and far and build(*targets_of(far))[0]:
                noticed = notices(far, limits, o.jobs)
            tried += 1
            killed += noticed is not None
            done, all_ = score.get(room, (0, 0))
            score[room] = (done + (noticed is not None), all_ + 1)
            print(f"{tried:4d} {'killed by ' + noticed if noticed else 'SURVIVED':34s} {show(path, text, place)}",
                  flush=True)
            if noticed is None:
                survivors.append(show(path, text, place))
        (COPY / path).write_text(text)
        build()
    print("\nroom        killed")
    for room, (done, all_) in sorted(score.items()):
        print(f"{room:10s} {done:4d} of {all_:4d}  {100 * done / all_:5.1f} %")
    print(f"{'all':10s} {killed:4d} of {tried:4d}  {100 * killed / tried:5.1f} %")
    for s in survivors:
        print(f"survivor: {s}")
    return 0 if killed >= WANTED * tried else 1


if __name__ == "__main__":
    sys.exit(main())
