#!/usr/bin/env python3
"""Mutation testing: changes the C source in one small place at a time and looks whether a test notices.

Usage: mutate.py [--room ROOM] [N] [--seed S] [--jobs J] [--patience S] [--only TESTS] [--list]
  ROOM   one folder of src, or controller or rig; all of them without it
  N      how many mutants to try (30)
  S      the same seed draws the same mutants from the same source (1)
  J      how many compilers run at once (2); tests run one by one
  --patience S  a mutant that tests of S seconds (of the processor, on the unchanged source) let pass has
         survived; without it every test that runs the line is tried
  --only TESTS  a pattern of the names of tests; no other test is tried
  --list prints the mutants and tries none
  --unrun prints by file the lines that no test runs, and tries none

A mutant that does not compile, or whose object code equals the original's, is drawn again and not
counted. Built with AddressSanitizer and UBSan, as in CI. A second build, with gcov, shows once which lines
each test runs: only the tests that run the changed line are tried, those of the room first, quick ones
first; where there is none the mutant has survived. (A process that dies by a signal tells gcov nothing.
That, --patience and --only can only count too few.) A test notices that fails twice, so that one that fails
now and then kills nothing, or that runs into its time limit. Survivors are printed with their place and both
lines: each is a promise that no test holds, or a change that makes no difference, which a reader has to
judge. Exit code 0 when at least 85 % were noticed. Works on a copy of the tree in build/mutate; what the
tests run and how long is kept there for as long as their programs stay the same."""
import argparse
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

ROOT = pathlib.Path(__file__).resolve().parent.parent
COPY = ROOT / "build" / "mutate" / "tree"
BUILD = ROOT / "build" / "mutate" / "build"
COVER = ROOT / "build" / "mutate" / "lines"
KNOWN = ROOT / "build" / "mutate" / "known.json"
OTHER_ROOM = 3.0  # a test of another room comes as late as if it took this many times as long
LONGEST_S = 600.0  # of a test that was not timed yet
UNKNOWN_S = 2.0  # what a test is taken to take before it was tried
OUTSIDE_SRC = ("controller", "rig")
WANTED = 0.85
# A test that runs away is stopped by its processor time, so that a busy machine kills no mutant; one that
# waits for ever by the clock.
CPU_LIMIT, CPU_FLOOR = 3.0, 10.0  # times what a test took on the unchanged source, plus seconds
CLOCK_LIMIT, CLOCK_FLOOR = 8.0, 60.0

# What is blanked before places are looked for: comments, strings, characters, preprocessor lines.
HIDDEN = re.compile(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'|^[ \t]*#(?:\\\n|[^\n])*',
                    re.S | re.M)
# Nor there: a GArray that ends in a zero, or clears what it grows by, where nobody asked for either.
UNASKED = re.compile(r"\bg_array_(?:sized_)?new\((?:FALSE, FALSE|FALSE|TRUE, FALSE)")
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
    blanked = UNASKED.sub(lambda m: m.group().replace("FALSE", "     "), blanked)
    inside = bodies(blanked)
    found = []
    for name, pattern, replace in OPERATORS:
        for m in pattern.finditer(blanked):
            if not inside[m.start()]:
                continue
            if name == "condition":  # negates the whole condition
                end = _closing(blanked, m.end() - 2)
                found.append((name, m.start(), end + 1,
                              text[m.start():m.end() - 1] + "(!(" + text[m.end() - 1:end] + ")))"))
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


def copy_tree():
    """Makes the copy equal to the tree; only what differs is written, so that ninja sees what a stopped
    campaign left."""
    skip = {"build", ".git", "__pycache__"}
    kept = set()
    for folder, names, files in os.walk(ROOT):
        names[:] = [n for n in names if n not in skip]
        for name in files:
            source = pathlib.Path(folder) / name
            relative = source.relative_to(ROOT)
            target = COPY / relative
            kept.add(target)
            target.parent.mkdir(parents=True, exist_ok=True)
            if not target.is_file() or target.read_bytes() != source.read_bytes():
                target.unlink(missing_ok=True)
                shutil.copyfile(source, target)
            shutil.copymode(source, target)
    for folder, _, files in os.walk(COPY):
        for name in files:
            if (path := pathlib.Path(folder) / name) not in kept:
                path.unlink()


def set_up(folder, *options):
    if not (folder / "build.ninja").exists():
        done = run(["meson", "setup", str(folder), str(COPY), "-Dbuildtype=plain", "-Dwerror=false",
                    "-Dc_link_args=-fuse-ld=gold", *options])
        if done.returncode:
            sys.exit(f"mutate: {done.stdout}")


def tests_of(folder):
    listed = json.loads(run(["meson", "introspect", "--tests", str(folder)]).stdout)
    return [t for t in listed if not t["name"].startswith("bench")]


def prepare():
    """The copy, and its build with gcov."""
    copy_tree()
    set_up(BUILD, "-Dc_args=-O1 -fno-sanitize-recover=undefined", "-Db_sanitize=address,undefined",
           "-Db_lundef=false")
    set_up(COVER, "-Dc_args=-Og", "-Db_coverage=true")
    build("build.ninja")  # so that it knows of tests that are new
    good, said = build(folder=COVER)
    if not good:
        sys.exit(f"mutate: {said}")


class Tests:
    """The tests by name, and what is known of each: `lines` that it runs and `code`, all lines that have
    any, by source file; `cpu_s`, seconds of the processor with the sanitizers on the unchanged source, None
    where it fails. Found when first asked for."""

    def __init__(self, wanted):
        self.tests = {t["name"]: t for t in tests_of(BUILD) if re.search(wanted, t["name"])}
        self.covering = {t["name"]: t for t in tests_of(COVER)}
        made = {t["id"]: t["filename"]
                for t in json.loads(run(["meson", "introspect", "--targets", str(BUILD)]).stdout)}
        for t in self.tests.values():
            t["made"] = sorted(os.path.relpath(name, BUILD) for id_ in t["depends"]
                               for name in made.get(id_, ()))
        self.known = json.loads(KNOWN.read_text()) if KNOWN.exists() else {}
        keys = {name: digest_of(self.covering[name], COVER) for name in self.tests}
        for name, key in keys.items():
            if self.known.get(name, {}).get("key") != key:
                self.known[name] = {"key": key}
        self.sources = {}

    def learn(self, name, **facts):
        self.known[name].update(facts)
        KNOWN.write_text(json.dumps(self.known))

    def lines(self, name, path):
        """The lines of the source file that a test runs: each with those after it that have no code."""
        if "code" not in self.known[name]:
            ran, all_ = lines_of(self.covering[name])
            self.learn(name, lines=ran, code=all_)
        ran, code = (self.known[name][what].get(str(path), ()) for what in ("lines", "code"))
        after = dict(zip(code, [*code[1:], code[-1] + 1 if code else 0]))
        return {line for first in ran for line in range(first, after[first])}

    def made_of(self, name):
        """The source files that the programs of a test are made of: only a change there can matter."""
        if name not in self.sources:
            inputs = run(["ninja", "-C", str(COVER), "-t", "inputs", *self.tests[name]["made"]]).stdout.split()
            self.sources[name] = {os.path.relpath(os.path.normpath(COVER / i), COPY) for i in inputs
                                  if i.endswith(".c")}
        return self.sources[name]

    def in_order(self, path):
        """The names of the tests that a source file can matter to: the room's own and quick ones first."""
        room = room_of(path)

        def rank(name):
            own = any(f"/tests/{room}/" in "/" + part for part in self.tests[name]["cmd"])
            return (self.known[name].get("cpu_s") or UNKNOWN_S) * (1 if own else OTHER_ROOM)
        return sorted((n for n in self.tests if str(path) in self.made_of(n)), key=rank)

    def running(self, path, lines, patience):
        """Those that run one of these lines and take `patience` seconds together at most, one by one."""
        left = patience
        for name in self.in_order(path):
            if left > 0 and not set(lines).isdisjoint(self.lines(name, path)):
                yield name
                left -= self.known[name].get("cpu_s") or 0

    def is_sound(self, name, path, text):
        """Whether it passes on the unchanged source `text` of `path`."""
        if "cpu_s" not in self.known[name]:
            mutant = (COPY / path).read_text()
            (COPY / path).write_text(text)
            good, said = build(*self.tests[name]["made"])
            if not good:
                sys.exit(f"mutate: {said}")
            good, took = timed(self.tests[name])
            if not good:
                print(f"mutate: test '{name}' fails on the unchanged source and is left out", flush=True)
            self.learn(name, cpu_s=took if good else None)
            (COPY / path).write_text(mutant)
        return self.known[name]["cpu_s"] is not None

    def notice(self, path, text, lines, patience):
        """The name of the first test that fails and how, where not by a check; or None; and how many
        were tried. Raises NotBuilt."""
        tried = 0
        for name in self.running(path, lines, patience):
            if not self.is_sound(name, path, text):
                continue
            tried += 1
            if not build(*self.tests[name]["made"])[0]:
                raise NotBuilt
            limit = self.known[name]["cpu_s"] * CPU_LIMIT + CPU_FLOOR
            how = one_test(self.tests[name], limit)
            if how == "by a check":
                how = one_test(self.tests[name], limit)
            if how:
                return name + ("" if how == "by a check" else ", " + how), tried
        return None, tried


class NotBuilt(Exception):
    """A mutant that compiles and does not link."""


def build(*targets, folder=None):
    done = run(["ninja", "-C", str(folder or BUILD), "--quiet", f"-j{build.jobs}", *targets])
    return done.returncode == 0, done.stdout


build.jobs = 2


def digest_of(test, folder):
    """Of the programs and scripts that a test is made of."""
    found = hashlib.sha256(repr(test["cmd"]).encode())
    for part in test["cmd"]:
        if (folder / part).is_file():
            found.update((folder / part).read_bytes())
    return found.hexdigest()


def lines_of(test):
    """By source file, the lines that a test runs, and those that have code."""
    for old in COVER.rglob("*.gcda"):
        old.unlink()
    one_test(test, LONGEST_S, COVER)
    listed = [str(p) for p in COVER.rglob("*.gcda")]
    ran, all_ = {}, {}
    if not listed:
        return ran, all_
    said = subprocess.run(["gcov", "--json-format", "--stdout", *listed], cwd=COVER, capture_output=True,
                          text=True).stdout
    for report in said.splitlines():
        for f in json.loads(report)["files"]:
            path = os.path.relpath(os.path.normpath(COVER / f["file"]), COPY)
            if path.endswith(".c") and not path.startswith(".."):
                ran.setdefault(path, set()).update(line["line_number"] for line in f["lines"] if line["count"])
                all_.setdefault(path, set()).update(line["line_number"] for line in f["lines"])
    return tuple({path: sorted(lines) for path, lines in table.items()} for table in (ran, all_))


def one_test(test, limit, folder=None):
    """None where it passes within `limit` (seconds by the clock), else what happened."""

    def bound_processor_time():
        seconds = int(limit)
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))

    environment = {**os.environ, "G_SLICE": "always-malloc", "ASAN_OPTIONS": "detect_leaks=1",
                   **test["env"]}
    process = subprocess.Popen(test["cmd"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                               env=environment, cwd=test["workdir"] or folder or BUILD, start_new_session=True,
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
    """Whether it passes, and what processor time it took, s: a busy machine makes no test longer."""
    def used():
        u = resource.getrusage(resource.RUSAGE_CHILDREN)
        return u.ru_utime + u.ru_stime
    start = used()
    good = one_test(test, LONGEST_S) is None
    return good, used() - start


def changed_lines(text, start, end):
    """The lines of the statement up to the end of the change."""
    first = max(text.rfind(mark, 0, start) for mark in ";{}") + 1
    first += len(text[first:]) - len(text[first:].lstrip())
    return range(text.count("\n", 0, min(first, start)) + 1, text.count("\n", 0, end) + 2)


def objects_by_source():
    """By source file, the object files that are made of it."""
    found = {}
    for entry in json.loads((BUILD / "compile_commands.json").read_text()):
        source = os.path.relpath(os.path.normpath(BUILD / entry["file"]), COPY)
        found.setdefault(source, []).append(entry["output"])
    return found


def code_of(name):
    """The digest of the machine code and constants of an object file."""
    dump = subprocess.run(["objdump", "-d", "-r", "-s", "-j", ".text", "-j", ".rodata", str(BUILD / name)],
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


def show_unrun(tests, files):
    """By file, the lines with code inside a function that no test runs."""
    for path, _ in files:
        ran = {line for name in tests.in_order(path) for line in tests.lines(name, path)}
        text, found = places(path)
        missing = sorted({text.count("\n", 0, start) + 1 for _, start, end, _ in found
                          if ran.isdisjoint(changed_lines(text, start, end))})
        if missing:
            print(f"{path}: {' '.join(map(str, missing))}", flush=True)


def main():
    parse = argparse.ArgumentParser(usage=__doc__.split("\n\n")[1].split("\n")[0].replace("Usage: ", ""))
    parse.add_argument("count", nargs="?", type=int, default=30)
    parse.add_argument("--room", choices=rooms())
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--jobs", type=int, default=build.jobs)
    parse.add_argument("--patience", type=float, default=float("inf"))
    parse.add_argument("--only", default="")
    parse.add_argument("--unrun", action="store_true")
    parse.add_argument("--list", action="store_true")
    o = parse.parse_args()
    build.jobs = o.jobs
    dice = random.Random(o.seed)
    wanted = [o.room] if o.room else rooms()
    files = [(p.relative_to(ROOT), p.stat().st_size)
             for r in wanted for p in sorted((ROOT / folder_of(r)).rglob("*.c")) if not {"avr", "arm"} & set(p.parts)]  # built for other chips
    if o.list:
        for _ in range(o.count):
            print(show(*draw(dice, files)))
        return 0
    print("mutate: building the unchanged source", flush=True)
    prepare()
    tests = Tests(o.only)
    if o.unrun:
        show_unrun(tests, files)
        return 0
    objects = objects_by_source()
    originals = {}
    tried = killed = 0
    score, survivors = {}, []
    while tried < o.count:
        path, text, place = draw(dice, files)
        _, start, end, new = place
        room = room_of(path)
        made = objects.get(str(path), [])[:1]
        if not made:
            continue
        if path not in originals:
            build(*made)
            originals[path] = code_of(made[0])
        (COPY / path).write_text(text[:start] + new + text[end:])
        if build(*made)[0] and code_of(made[0]) != originals[path]:
            try:
                noticed, ran = tests.notice(path, text, changed_lines(text, start, end), o.patience)
            except NotBuilt:
                (COPY / path).write_text(text)
                continue
            tried += 1
            killed += noticed is not None
            done, all_ = score.get(room, (0, 0))
            score[room] = (done + (noticed is not None), all_ + 1)
            fate = "killed by " + noticed if noticed else f"SURVIVED {ran} tests"
            print(f"{tried:4d} {fate:34s} {show(path, text, place)}", flush=True)
            if noticed is None:
                survivors.append(show(path, text, place))
        (COPY / path).write_text(text)
    print("\nroom        killed")
    for room, (done, all_) in sorted(score.items()):
        print(f"{room:10s} {done:4d} of {all_:4d}  {100 * done / all_:5.1f} %")
    print(f"{'all':10s} {killed:4d} of {tried:4d}  {100 * killed / tried:5.1f} %")
    for s in survivors:
        print(f"survivor: {s}")
    return 0 if killed >= WANTED * tried else 1


if __name__ == "__main__":
    sys.exit(main())
