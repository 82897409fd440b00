#!/usr/bin/env python3
"""machine --board and --send, as their user runs them, on the virtual machine."""
import json
import os
import subprocess
import sys
import tempfile

DRAWTRUE = sys.argv[1]
count = failed = 0


def check(name, good, detail=""):
    global count, failed
    count += 1
    failed += not good
    print(f"{'ok' if good else 'not ok'} {count} {name}")
    if not good:
        print(f"# {detail!r}")


def run(*args):
    return subprocess.run([DRAWTRUE, "machine", *args], capture_output=True, text=True, timeout=60)


def results(done):
    return {s["name"]: s["result"] for s in json.loads(done.stdout)["settings"]}


def settings(folder):
    profile, link = os.path.join(folder, "my.ini"), os.path.join(folder, "port")
    with open(profile, "w", encoding="utf-8") as file:
        file.write("[motion]\nsteps_per_mm_x = 99.8125 /mm\nsteps_per_mm_y = 100 /mm\nspeed_x = 14 mm/s\n")
    rig = subprocess.Popen([DRAWTRUE, "rig", "--link", link, "--json"], stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    try:
        found = run("-m", profile, "--board", link, "--json")
        differ = sorted(n for n, r in results(found).items() if r == "differs")
        check("what differs is told, with exit code 1",
              found.returncode == 1 and differ == ["speed_x", "steps_per_mm_x"], found)
        sent = run("-m", profile, "--send", link, "--json")
        check("send writes what differs and nothing else",
              sent.returncode == 0 and
              sorted(n for n, r in results(sent).items() if r == "written") == differ, sent)
        again = run("-m", profile, "--board", link, "--json")
        check("a board that was reset still has them",
              again.returncode == 0 and set(results(again).values()) == {"the same"}, again)
        with open(profile, "w", encoding="utf-8") as file:
            file.write("[motion]\ntravel_x = 5000 mm\nsteps_per_mm_x = 3000 /mm\n")
        refused = run("-m", profile, "--send", link)
        check("what the board refuses is said in its words",
              refused.returncode == 1 and "travel has too many steps" in refused.stderr, refused)
    finally:
        rig.terminate()
        rig.wait(20)
    gone = run("-m", profile, "--send", os.path.join(folder, "nowhere"))
    check("a port that is not there", gone.returncode == 1 and "no such port" in gone.stderr, gone)


with tempfile.TemporaryDirectory() as where:
    settings(where)
print(f"1..{count}")
sys.exit(failed > 0)
