"""Messages in the reader's language: the German catalogue is whole and sound, German is spoken where it is asked
for and nowhere else, and what programs read is the same in every language. Speaks TAP.

Usage: test-words.py DRAWTRUE SOURCE CATALOGUES
"""

import json
import os
import pathlib
import pty
import re
import sqlite3
import struct
import subprocess
import sys
import tempfile
import fcntl
import termios

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

PROGRAM, SOURCE, CATALOGUES = (str(pathlib.Path(word).resolve()) for word in sys.argv[1:4])
SOURCE = pathlib.Path(SOURCE)
ART = SOURCE / "examples/packet-label.svg"
COMMANDS = "plan proof inspect mend learn run resume jog log sheet true machine rig desk".split()
WIDTH = 80


def run(*words, columns=None, code=None, folder=None, **language):
    """The outcome of the program under a language's environment alone; on a terminal where `columns` are given."""
    env = {"PATH": "/usr/bin:/bin", "HOME": folder or "/nonexistent", "TEXTDOMAINDIR": CATALOGUES, **language}
    command = [PROGRAM, *map(str, words)]
    if columns is None:
        done = subprocess.run(command, env=env, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, timeout=120)
        out, err, status = done.stdout.decode(), done.stderr.decode(), done.returncode
    else:
        master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 25, columns, 0, 0))
        with subprocess.Popen(command, env=env, cwd=folder, stdin=subprocess.DEVNULL, stdout=slave, stderr=slave) as p:
            os.close(slave)
            out = b""
            while True:
                try:
                    some = os.read(master, 65536)
                except OSError:
                    break
                if not some:
                    break
                out += some
            status = p.wait(timeout=60)
        os.close(master)
        out, err = out.decode().replace("\r\n", "\n"), ""
    assert code is None or status == code, (command, status, err)
    return out, err, status


GERMAN = {"LC_ALL": "de_DE.UTF-8"}
ENGLISH = {"LC_ALL": "C"}


def entries():
    """(lines of references and flags, text, its plural or None, translations) of po/de.po."""
    unquote = lambda body: "".join(json.loads(line.replace("\\a", "\\u0007")) for line in re.findall(r'".*"', body))
    for entry in (SOURCE / "po/de.po").read_text(encoding="utf-8").split("\n\n")[1:]:
        part = {name: unquote(body) for name, body in re.findall(r"^(msg\w+(?:\[\d\])?) ((?:\".*\"\n?)+)", entry, re.M)}
        marks = [line for line in entry.split("\n") if line.startswith("#")]
        yield marks, part["msgid"], part.get("msgid_plural"), [v for k, v in part.items() if k.startswith("msgstr")]


# The catalogue ------------------------------------------------------------------------------------


@case
def every_message_has_its_german():
    done = subprocess.run([sys.executable, SOURCE / "tools/messages.py", "--check"], capture_output=True, timeout=120)
    assert done.returncode == 0, done.stdout.decode() + done.stderr.decode()


@case
def places_of_the_page_are_kept():
    wrong = [text for marks, text, plural, german in entries()
             if any("web/" in m for m in marks)
             for form in german if sorted(set(re.findall(r"\{\d\}", form)) - {"{0}"})
             != sorted(set(re.findall(r"\{\d\}", plural or text)) - {"{0}"})]
    assert not wrong, wrong


@case
def blanks_and_line_ends_at_the_edges_are_kept():
    edge = lambda t: (len(t) - len(t.lstrip("\n")), t[:1] == " ", len(t) - len(t.rstrip("\n")))
    wrong = [text for marks, text, plural, german in entries() for i, form in enumerate(german)
             if not any("web/" in m for m in marks) and edge(form) != edge(plural if i and plural else text)]
    assert not wrong, wrong


@case
def messages_laid_out_by_hand_fit_the_width():
    """Lines that the program does not break itself, as wide as the English ones where those are wider."""
    wide = []
    for marks, text, plural, german in entries():
        if "\n" not in text[:-1] or all("web/" in m for m in marks):
            continue
        most = max(WIDTH, *(len(line) for line in text.split("\n")))
        wide += [line for form in german for line in form.split("\n") if len(line) > most]
    assert not wide, wide


@case
def no_text_for_people_is_unmarked():
    """Every literal of the sources that reads like prose is a message, or is listed as none."""
    files = sorted([*(SOURCE / "src").rglob("*.c"), *(SOURCE / "src").rglob("*.h"), SOURCE / "rig/keys.c"])
    said = subprocess.run(["xgettext", "-a", "-LC", "--from-code=UTF-8", "--no-wrap", "--add-location=full", "-o-",
                           *[str(f.relative_to(SOURCE)) for f in files]],
                          cwd=SOURCE, capture_output=True, timeout=120).stdout.decode()
    marked = set()
    for marks, text, plural, _ in entries():
        marked |= {text, plural}
    exempt = [re.compile(line.rstrip("\n")) for line in open(pathlib.Path(__file__).parent / "not-messages.txt", encoding="utf-8")
              if line.strip() and not line.startswith("#")]
    found = []
    for entry in said.split("\n\n")[1:]:
        body = re.search(r'^msgid ((?:".*"\n?)+)', entry, re.M)
        text = "".join(line[1:-1] for line in body.group(1).split("\n") if line) if body else ""
        plain = re.sub(r"\\(.)", lambda m: {"n": "\n", "t": "\t"}.get(m[1], m[1]), text)
        prose = re.search(r"[A-Za-z]{2,} [a-zA-Z(%']", text) or re.search(r"[a-z]{3,}:? ", text)
        place = re.search(r"^#: (\S+)", entry, re.M)
        if prose and plain not in marked and not any(e.search(f"{place.group(1)} {text}") for e in exempt):
            found.append(f"{place.group(1)} {text}")
    assert not found, "neither messages nor in not-messages.txt:\n" + "\n".join(found)


# The language ---------------------------------------------------------------------------------------


@case
def german_is_spoken_where_it_is_asked_for():
    for language in (GERMAN, {"LANG": "de_AT.UTF-8"}, {"LC_MESSAGES": "de_DE.UTF-8", "LANG": "en_GB.UTF-8"},
                     {"LC_ALL": "C.UTF-8", "LANGUAGE": "de"}, {"LANG": "en_US.UTF-8", "LANGUAGE": "nds:de"}):
        out, _, _ = run("--help", code=0, **language)
        assert "die lokale Webseite" in out and "usage" not in out, (language, out)


@case
def english_is_spoken_otherwise():
    for language in ({}, ENGLISH, {"LC_ALL": "C", "LANGUAGE": "de"}, {"LC_ALL": "POSIX"}, {"LANG": "zu_ZA.UTF-8"},
                     {"LANG": "de_DE.UTF-8", "LC_ALL": "en_GB.UTF-8"}, {"LANG": "de_DE.UTF-8", "LANGUAGE": "en"}):
        out, _, _ = run("--help", code=0, **language)
        assert "the local web page" in out and "Webseite" not in out, (language, out)


@case
def help_errors_and_reports_are_german():
    with tempfile.TemporaryDirectory() as folder:
        out, _, _ = run("plan", "--help", code=0, **GERMAN)
        assert "Das zu schreibende Programm" in out and "The program" not in out, out
        _, err, _ = run("plam", code=2, **GERMAN)
        assert "einen Befehl 'plam' gibt es nicht; ist 'plan' gemeint?" in err, err
        bad = pathlib.Path(folder, "bad.svg")
        bad.write_text("<g/>")
        _, err, _ = run("plan", bad, "-o", f"{folder}/a.nc", code=1, **GERMAN)
        assert f"{bad}:1: keine SVG-Zeichnung: das erste Element ist <g>, nicht <svg>" in err, err
        out, _, _ = run("plan", ART, "-o", f"{folder}/a.nc", code=0, folder=folder, **GERMAN)
        assert re.search(r"Tinte \d+\.\d\d m, Leerweg \d+\.\d\d m, \d+-mal Abheben", out), out
        assert not re.search(r"\d,\d\d? (m|mm)\b", out), out


@case
def programs_journal_and_json_are_the_same_in_every_language():
    with tempfile.TemporaryDirectory() as folder:
        made = {}
        for name, language in (("de", GERMAN), ("en", ENGLISH)):
            own = pathlib.Path(folder, name)
            own.mkdir()
            said = [run("plan", ART, "-o", "label.nc", "--json", code=0, folder=own, **language)[0],
                    run("inspect", "label.nc", "--json", code=0, folder=own, **language)[0],
                    run("machine", "--json", code=0, folder=own, **language)[0],
                    run("sheet", "slack", "-o", "sheet.nc", "--journal", "j.db", "--date", "2026-03-14", "--json",
                        code=0, folder=own, **language)[0],
                    run("log", "--journal", "j.db", "--json", code=0, folder=own, **language)[0]]
            run("plan", ART, "-o", "again.nc", code=0, folder=own, **language)
            foreign = (own / "label.nc").read_text().replace("M3 S40", "M3 S40 (pen)", 1)
            (own / "foreign.nc").write_text("G187 P1\n" + foreign)
            run("mend", "foreign.nc", "-o", "mended.nc", "--leave-out", "G187", code=0, folder=own, **language)
            run("true", "X1=6", "--journal", "j.db", code=0, folder=own, **language)
            kept = sqlite3.connect(own / "j.db").execute("SELECT readings, figures FROM sheets").fetchall()
            assert kept and kept[0][1], kept
            made[name] = said + kept + [(own / n).read_bytes() for n in ("label.nc", "again.nc", "sheet.nc", "mended.nc")]
        assert made["de"] == made["en"], [a for a, b in zip(made["de"], made["en"]) if a != b]


@case
def german_help_fits_a_terminal():
    for words in [("--help",), *((c, "--help") for c in COMMANDS)]:
        out, _, _ = run(*words, columns=WIDTH, code=0, **GERMAN)
        wide = [line for line in out.split("\n") if len(line) > WIDTH]
        assert not wide, (words, wide)
    out, _, _ = run("plan", ART, "-o", "/dev/null", "--pens", "violet", columns=WIDTH, **GERMAN)
    assert all(len(line) <= WIDTH for line in out.split("\n")), out


run_cases(wanted=sys.argv[4:])
