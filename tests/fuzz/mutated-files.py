#!/usr/bin/env python3
"""Damaged drawings through `drawtrue proof` under AddressSanitizer and UBSan.

    ./dev fuzz --files N [--seed S] [FOLDER ...]

Takes drawings of the folders (examples and those of one feature each where none is given), damages
copies of them (bits, bytes, cuts, doubled and exchanged pieces, numbers at the edge of what can be
held) and asks for a proof of each. Exit code 1 where one ends otherwise than with 0, or with 1 or 2 and
a message; such files are kept in build/fuzz/found/files.
"""
import argparse
import concurrent.futures
import os
import pathlib
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = TOP / "build/checked/src/cli/drawtrue"
FOUND = TOP / "build/fuzz/found/files"
ENDINGS = (".svg", ".svgz", ".png", ".jpg", ".pdf", ".tif", ".webp", ".gif")
NUMBERS = [b"0", b"-1", b"1e9", b"-1e30", b"1e-30", b"1e308", b"9" * 40, b"NaN", b"2147483648", b"%"]
# Of processor time, so that a busy machine fails no drawing; the clock ends one that waits for ever.
CPU_LIMIT_S, CLOCK_LIMIT_S = 60, 900


def drawings(folders):
    """(name, bytes) of every drawing, and of every line of a table of one-feature drawings."""
    found = []
    for folder in folders:
        for path in sorted(pathlib.Path(folder).rglob("*")):
            if path.suffix in ENDINGS and path.stat().st_size < 300_000:
                found.append((path.name, path.read_bytes()))
            elif path.suffix == ".txt":
                found += of_table(path)
    return found


def of_table(path):
    head = b'<svg xmlns="http://www.w3.org/2000/svg" width="100" height="100" viewBox="0 0 100 100">'
    pattern, found = b"%", []
    for line in path.read_bytes().split(b"\n"):
        if line.startswith(b"="):
            pattern = line[2:] or b"%"
        elif b"\t" in line:
            name, value = line.split(b"\t", 1)
            body = pattern.replace(b"%", value, 1)
            whole = body if body.startswith((b"<svg xmlns", b"<?")) else head + body + b"</svg>"
            found.append((name.decode(errors="replace") + ".svg", whole))
    return found


def values_of(data):
    """Where attributes' values and the text between tags lie, but for the first tag and its namespaces."""
    start = data.find(b">") + 1
    found = re.finditer(rb"=\"([^\"<&]+)\"|='([^'<&]+)'|>([^<>&]+)<", data[start:])
    return [(start + m.start(m.lastindex), start + m.end(m.lastindex)) for m in found]


def damage_value(data, others, r):
    """Damages one value, so that the drawing stays XML and its reader goes on."""
    places = values_of(bytes(data))
    if not places:
        return
    a, b = r.choice(places)
    value = data[a:b]
    at = r.randrange(len(value))
    kind = r.randrange(5)
    numbers = list(re.finditer(rb"-?\d+\.?\d*", value))
    if kind == 0 or (kind < 3 and not numbers):
        value[at] = r.choice(b"abcxyzMLCAZQ0123456789-+.,;:()#% /*e")
    elif kind < 3:
        one = r.choice(numbers)
        value[one.start():one.end()] = r.choice(NUMBERS)
    elif kind == 3:
        value[at:at] = value[:r.randint(1, 200)] * r.choice([1, 1, 2, 50])
    else:
        other = r.choice(others)[1]
        taken = values_of(other)
        if taken:
            c, d = r.choice(taken)
            value = bytearray(re.sub(rb"[\"'<&]", b"", other[c:d]))
    data[a:b] = value


def damage(data, others, r):
    """One to four damages of a kind each; two of three drawings stay XML."""
    data = bytearray(data)
    well_formed = r.randrange(3) > 0 and b"<svg" in data
    for _ in range(r.choice([1, 1, 2, 4])):
        if not data:
            break
        if well_formed:
            damage_value(data, others, r)
            continue
        at = r.randrange(len(data))
        kind = r.choice([0, 1, 2, 3, 4, 5, 6, 6, 6, 6, 6, 6])
        if kind == 0:
            data[at] ^= 1 << r.randrange(8)
        elif kind == 1:
            data[at] = r.randrange(256)
        elif kind == 2:
            del data[at:]
        elif kind == 3:
            del data[at:at + r.randint(1, 60)]
        elif kind == 4:
            piece = data[at:at + r.randint(1, 200)]
            data[at:at] = piece * r.choice([1, 1, 2, 50])
        elif kind == 5:
            other = r.choice(others)[1]
            where = r.randrange(len(other) + 1)
            data[at:at + 40] = other[where:where + r.randint(1, 200)]
        else:
            numbers = list(re.finditer(rb"-?\d+\.?\d*", data))
            if numbers:
                one = r.choice(numbers)
                data[one.start():one.end()] = r.choice(NUMBERS)
    return bytes(data)


def limit_processor_time():
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_LIMIT_S, CPU_LIMIT_S + 5))


def try_one(work, name, data, number):
    """What went wrong, or None."""
    path = pathlib.Path(work) / f"{number}-{re.sub(r'[^A-Za-z0-9._-]', '_', name)}"
    picture = path.with_suffix(".out.png")
    path.write_bytes(data)
    environment = dict(os.environ, ASAN_OPTIONS="detect_leaks=1:allocator_may_return_null=1",
                       LSAN_OPTIONS=f"suppressions={TOP}/tests/fuzz/leaks.txt:print_suppressions=0",
                       UBSAN_OPTIONS="halt_on_error=1", G_SLICE="always-malloc")
    try:
        ran = subprocess.run([PROGRAM, "proof", path, "-o", picture, "--force"], env=environment,
                             capture_output=True, timeout=CLOCK_LIMIT_S, preexec_fn=limit_processor_time)
    except subprocess.TimeoutExpired:
        return keep(path, f"has not ended after {CLOCK_LIMIT_S} s")
    if ran.returncode == -signal.SIGXCPU:
        return keep(path, f"takes more than {CPU_LIMIT_S} s of processor time")
    text = ran.stderr.decode(errors="replace")
    if "Sanitizer" in text or "runtime error" in text or ran.returncode not in (0, 1, 2):
        return keep(path, f"ended with {ran.returncode}: {text.strip().splitlines()[-1:] }")
    if ran.returncode != 0 and not text.strip():
        return keep(path, f"ended with {ran.returncode} and says nothing")
    if ran.returncode == 0 and not picture.exists():
        return keep(path, "ended with 0 and made no picture")
    path.unlink()
    picture.unlink(missing_ok=True)
    return ran.returncode


def keep(path, what):
    FOUND.mkdir(parents=True, exist_ok=True)
    shutil.copy(path, FOUND)
    return f"{path.name}: {what}"


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--files", type=int, required=True)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("folder", nargs="*")
    options = ask.parse_args()
    r = random.Random(options.seed)
    sources = drawings(options.folder or [TOP / "examples", TOP / "tests/art/features"])
    if not sources:
        sys.exit("mutated-files: there are no drawings")
    bad, drawn, refused = [], 0, 0
    with tempfile.TemporaryDirectory() as work, \
            concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        jobs = []
        for i in range(options.files):
            name, data = r.choice(sources)
            jobs.append(pool.submit(try_one, work, name, damage(data, sources, r), i))
        for i, job in enumerate(concurrent.futures.as_completed(jobs)):
            result = job.result()
            drawn += result == 0
            refused += result in (1, 2)
            if isinstance(result, str):
                bad.append(result)
                print(result, flush=True)
            if i % 100 == 99:
                print(f"{i + 1} of {options.files}: drawn {drawn}, refused {refused}, wrong "
                      f"{len(bad)}", file=sys.stderr, flush=True)
    print(f"{options.files} damaged drawings: drawn {drawn}, refused with a message {refused}, wrong "
          f"{len(bad)}")
    sys.exit(1 if bad else 0)


main()
