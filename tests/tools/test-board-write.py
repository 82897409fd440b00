#!/usr/bin/env python3
"""controller/write.sh with a programmer that only keeps what it was told: nothing is written unasked, what
is written is read back, and a failure of either is said. Skipped where the chip's compiler is missing."""
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

SOURCE = sys.argv[1]


def write(folder, *options, typed="", **environment):
    log = os.path.join(folder, "log")
    if os.path.exists(log):
        os.remove(log)
    env = dict(os.environ, DT_PROGRAMMER=os.path.join(folder, "programmer"), LOG=log, **environment)
    done = subprocess.run(["sh", os.path.join(SOURCE, "controller", "write.sh"), *options], input=typed,
                          capture_output=True, text=True, timeout=120, env=env)
    told = open(log, encoding="utf-8").read().splitlines() if os.path.exists(log) else []
    return done, told


if not shutil.which("avr-gcc"):
    print("1..0 # SKIP avr-gcc is not here")
    sys.exit(0)

with tempfile.TemporaryDirectory() as folder:
    programmer, port = os.path.join(folder, "programmer"), os.path.join(folder, "port")
    with open(programmer, "w", encoding="utf-8") as file:
        file.write('#!/bin/sh\necho "$*" >>"$LOG"\n'
                   'case "$*" in *flash:v:*) exit ${VERIFY:-0} ;; esac\nexit ${WRITE:-0}\n')
    os.chmod(programmer, 0o755)
    open(port, "w", encoding="utf-8").close()

    done, told = write(folder, port, "--dry-run")
    check("a dry run says what would run, and runs nothing",
          done.returncode == 0 and not told and f"-P {port}" in done.stdout and "CAUTION" in done.stdout, done)
    done, told = write(folder, port, typed="no\n")
    check("without a yes nothing is written", done.returncode == 1 and not told, done)
    done, told = write(folder, port, typed="yes\n")
    check("it is written, then read back",
          done.returncode == 0 and len(told) == 2 and "flash:w:" in told[0] and "flash:v:" in told[1] and
          all("-p m328p" in line and "atmega328p.hex" in line for line in told), (done, told))
    done, told = write(folder, port, "--chip", "atmega2560", "--yes")
    check("another chip", done.returncode == 0 and all("-p m2560" in line for line in told), told)
    done, told = write(folder, port, "--yes", WRITE="1")
    check("a failed write is said, and not read back", done.returncode == 1 and len(told) == 1 and
          "half an image" in done.stderr, done)
    done, told = write(folder, port, "--yes", VERIFY="1")
    check("what differs is said", done.returncode == 1 and "differs" in done.stderr, done)
    done, told = write(folder, os.path.join(folder, "gone"), "--yes")
    check("a port that is not there", done.returncode == 1 and not told and "no such port" in done.stderr, done)
end_checks()
