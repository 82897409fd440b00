"""Refreshes po/drawtrue.pot and the catalogues po/*.po from the sources, and says what lacks a translation.

Usage: tools/messages.py [--check]
--check changes nothing and fails where a catalogue would change or a text is untranslated or fuzzy.
"""

import html.parser
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
PO = ROOT / "po"

# Functions and macros that look up the format or text that they take, with its place among the arguments.
C_KEYWORDS = """
_ N_ P_:1,2 C_:1c,2
g_set_error:4 g_set_error_literal:4 g_prefix_error:2
dt_cli_print:2 dt_cli_printf:2
dt_art_note:3 dt_art_note_line:3 dt_art_fail:3 append_note:2 build_fail:2 note_at_rule:4 tell_undrawn:4
dt_block_fault:6 dt_reader_fault:4 FAULT_AT:4 dt_program_fail:4 dt_judge_find:5 FIND:3
dt_mend_change:2 dt_mend_problem:3 because:2 lift_with_change:2
add_problem:3 complain:4
dt_session_trouble:3 dt_learn_tell:2 dt_journal_fail:2
dt_figures_note:2
""".split()
JS_KEYWORDS = "tr trc:1c,2 plural:2,3".split()


def run(*command, **options):
    return subprocess.run([str(c) for c in command], check=True, cwd=ROOT, **options)


class Page(html.parser.HTMLParser):
    """The texts of the page and of the attributes that are read to people."""

    def __init__(self):
        super().__init__()
        self.found = []
        self.skip = 0

    def handle_starttag(self, tag, attributes):
        self.skip = tag in ("script", "style")
        for name, value in attributes:
            if name in ("aria-label", "aria-roledescription", "title"):
                self.add(value)

    def handle_data(self, data):
        if not self.skip:
            self.add(data)

    def add(self, text):
        text = " ".join(text.split())
        if re.search("[A-Za-z]{2}", text):
            self.found.append((self.getpos()[0], text))


def sources():
    c = [*(ROOT / "src").rglob("*.c"), *(ROOT / "src").rglob("*.h"), *(ROOT / "rig").glob("*.c")]
    return [sorted(str(p.relative_to(ROOT)) for p in files)
            for files in (c, (ROOT / "web/js").glob("*.js"))]


def quoted(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def titles():
    """Names of planning options, their choices and profile keys, as the page's forms have them: format.title()."""
    options = (ROOT / "src/job/options.c").read_text(encoding="utf-8")
    keys = (ROOT / "src/machine/keys.c").read_text(encoding="utf-8")
    names = re.findall(r"^    \[\w+\] = (?:\{|FLAG\()\"([a-z-]+)\"", options, re.M)
    for choices in re.findall(r"const char \*const (?:hatches|pictures)\[\] = \{(.*?)\}", options, re.S):
        names += re.findall(r'"([a-z-]+)"', choices)
    names += re.findall(r'^    \{"[a-z]+",\s+"([a-z_]+)",', keys, re.M)
    names += [f"{name}_{axis}" for name in re.findall(r'^    BOTH_AXES\(\s*"[a-z]+",\s+"([a-z_]+)",', keys, re.M) for axis in "xy"]
    assert len(names) > 100, names
    units = sorted(set(re.findall(r'DT_OPTION_\w+, N_\("([a-z]+)"\)', options)))
    return units + [(name[0].upper() + name[1:]).replace("-", " ").replace("_", " ") for name in names]


def write_page_pot(path):
    page = Page()
    page.feed((ROOT / "web/index.html").read_text(encoding="utf-8"))
    found = [("web/index.html", text) for _, text in page.found]
    found += [("web/js/format.js", text) for text in titles()]
    with open(path, "w", encoding="utf-8") as out:
        out.write('msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n')
        seen = set()
        for place, text in found:
            if text not in seen:
                seen.add(text)
                out.write(f"\n#: {place}\nmsgid {quoted(text)}\nmsgstr \"\"\n")


def write_pot(pot, folder):
    c, js = sources()
    common = ["xgettext", "--from-code=UTF-8", "--add-location=file", "--package-name=drawtrue", "-k"]
    run(*common, "-LC", *(f"-k{k}" for k in C_KEYWORDS), "-o", folder / "c.pot", *c)
    run(*common, "-LJavaScript", *(f"-k{k}" for k in JS_KEYWORDS), "-o", folder / "js.pot", *js)
    write_page_pot(folder / "page.pot")
    parts = [folder / name for name in ("c.pot", "js.pot", "page.pot") if (folder / name).exists()]
    run("msgcat", "--sort-by-file", "--add-location=file", "-o", pot, *parts)
    text = pot.read_text(encoding="utf-8")
    text = re.sub(r'"POT-Creation-Date: .*\n', "", text)  # the same sources, the same file
    pot.write_text(text, encoding="utf-8")


def merge(po, pot, to):
    """In place, the old translation kept; obsolete ones are dropped."""
    run("msgmerge", "--quiet", "--sort-by-file", "--add-location=file", "-o", to, po, pot)
    run("msgattrib", "--no-obsolete", "--sort-by-file", "--add-location=file", "-o", to, to)


def open_texts(po):
    """What is untranslated or fuzzy."""
    found = []
    for option in ("--untranslated", "--only-fuzzy"):
        said = run("msgattrib", "--no-wrap", "--no-obsolete", option, po, stdout=subprocess.PIPE).stdout.decode()
        found += re.findall(r'^msgid ((?:".*"\n)+)', said.split("\n\n", 1)[-1], re.M)
    return [t.replace('"\n"', "").strip() for t in found]


def main():
    check = sys.argv[1:] == ["--check"]
    if sys.argv[1:] and not check:
        sys.exit(__doc__)
    failed = False
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch)
        pot = folder / "drawtrue.pot"
        write_pot(pot, folder)
        kept = PO / "drawtrue.pot"
        if check:
            failed |= not kept.exists() or kept.read_bytes() != pot.read_bytes()
            if failed:
                print("po/drawtrue.pot is not what the sources have: ./dev messages")
        else:
            kept.write_bytes(pot.read_bytes())
        for po in sorted(PO.glob("*.po")):
            to = folder / po.name
            merge(po, pot, to)
            if not check:
                po.write_bytes(to.read_bytes())
            missing = open_texts(to)
            run("msgfmt", "--check", "--statistics", "-o", folder / "messages.mo", to)
            for text in missing:
                print(f"{po.name}: {text}")
            failed |= bool(missing)
    sys.exit(check and failed)


main()
