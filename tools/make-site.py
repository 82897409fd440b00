#!/usr/bin/env python3
"""The guide, the documents and the manual pages as one static site.
Usage: make-site.py MANUAL-FOLDER SITE-FOLDER

mkdocs makes the pages, mandoc the manual's text. Nothing on a page comes from elsewhere. Afterwards
every link is followed: a page, an anchor or a picture that is not there makes exit code 1."""
import html
import html.parser
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.parse

ROOT = pathlib.Path(__file__).resolve().parent.parent
# The order in which somebody new reads them.
PAGES = [("Guide", "guide.md"), ("The desk", "desk.md"), ("Test sheets", "truing.md"), ("Running a job", "running.md"),
         ("Drawings", "drawings.md"), ("Ink", "ink.md"), ("Time", "time.md"), ("Controllers", "controller.md"),
         ("The board", "board.md"), ("The virtual machine", "rig.md"), ("Terms", "terms.md")]
ABOUT = [("Changes", "CHANGELOG.md"), ("Contributing", "CONTRIBUTING.md")]
SETTINGS = """site_name: drawtrue
docs_dir: {source}
site_dir: {site}
use_directory_urls: false
theme:
  name: mkdocs
  highlightjs: false
  nav_style: light
markdown_extensions: [tables, sane_lists, toc]
nav:
"""


def manual_pages(folder):
    """(name, section, text as HTML) of each manual page."""
    for path in sorted(folder.glob("*.[0-9]")):
        made = subprocess.run(["mandoc", "-T", "html", "-O", "fragment,man=%N.%S.html", path], check=True,
                              capture_output=True, text=True).stdout
        # Its heading and foot are a table each, and mkdocs has its own.
        made = re.sub(r'<table class="(head|foot)">.*?</table>', "", made, flags=re.S)
        # Headings as mkdocs knows them, so that it lists them beside the page.
        made = re.sub(r'</?section[^>]*>|^<div class="manual-text">|</div>\s*$', "", made.strip())
        made = re.sub(r'<h1[^>]*>(?:<a[^>]*>)?(.*?)(?:</a>)?</h1>',
                      lambda m: f"\n\n## {' '.join(m.group(1).split()).capitalize()}\n\n", made, flags=re.S)
        made = re.sub(r'<h2[^>]*>(?:<a[^>]*>)?(.*?)(?:</a>)?</h2>', r"\n\n### \1\n\n", made, flags=re.S)
        yield path.stem, path.suffix[1:], made


def write_manual(folder, to):
    """The manual's pages, and a page that lists them; their entries for the menu."""
    to.mkdir()
    entries, rows = [], []
    pages = list(manual_pages(folder))
    known = {f"{name}.{section}.html" for name, section, _ in pages}
    for name, section, text in pages:
        # A page of another program is not here: its name stays, its link goes.
        text = re.sub(r'<a class="Xr" href="([^"]*)">(.*?)</a>',
                      lambda m: m.group() if m.group(1) in known else m.group(2), text, flags=re.S)
        (to / f"{name}.{section}.md").write_text(f"# {name}({section})\n\n{text}\n")
        summary = html.unescape(re.sub(r"<[^>]*>", "", re.search(r"<p[^>]*>(.*?)</p>", text, re.S).group(1)))
        summary = " ".join(summary.split())
        rows.append(f"| [{name}({section})]({name}.{section}.md) | {summary.split(' - ', 1)[-1].strip()} |")
        entries.append((f"{name}({section})", f"manual/{name}.{section}.md"))
    (to / "index.md").write_text("# Manual\n\n| page | what it is about |\n|---|---|\n" + "\n".join(rows) + "\n")
    return [("All pages", "manual/index.md"), *entries]


def write_sources(source, manual):
    """Every document at the top of `source`, links of the README without their folder; the menu."""
    for path in (ROOT / "docs").iterdir():
        shutil.copy(path, source)
    for _, name in ABOUT:
        shutil.copy(ROOT / name, source)
    readme = (ROOT / "README.md").read_text()
    (source / "index.md").write_text(readme.replace("](docs/", "]("))
    menu = [("Start", "index.md")]
    menu += [page for page in PAGES if (source / page[1]).exists()]
    listed = {name for _, name in menu + ABOUT}
    missing = sorted(p.name for p in source.glob("*.md") if p.name not in listed)
    if missing:
        sys.exit(f"make-site: {', '.join(missing)} has no place in the menu")
    return menu, write_manual(manual, source / "manual")


def make(manual, site):
    with tempfile.TemporaryDirectory() as scratch:
        source = pathlib.Path(scratch) / "pages"
        source.mkdir()
        documents, pages = write_sources(source, manual)
        settings = SETTINGS.format(source=source, site=site)
        settings += f"  - Start: {documents[0][1]}\n  - Documents:\n"
        settings += "".join(f"    - {title}: {name}\n" for title, name in documents[1:])
        settings += "  - Manual:\n" + "".join(f"    - {title}: {name}\n" for title, name in pages)
        settings += "  - About:\n" + "".join(f"    - {title}: {name}\n" for title, name in ABOUT)
        (pathlib.Path(scratch) / "mkdocs.yml").write_text(settings)
        done = subprocess.run(["mkdocs", "build", "--strict", "--clean", "-f",
                               pathlib.Path(scratch) / "mkdocs.yml"], capture_output=True, text=True)
        if done.returncode:
            sys.exit(f"make-site: {done.stdout}{done.stderr}")


class Page(html.parser.HTMLParser):
    """The anchors of a page and what it refers to."""

    def __init__(self, path):
        super().__init__()
        self.anchors, self.targets = {""}, []
        self.feed(path.read_text())

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        for name in ("id", "name"):
            self.anchors.add(attributes.get(name))
        for name in ("href", "src"):
            if attributes.get(name) and tag != "base":
                self.targets.append((tag, attributes[name]))


def broken_links(site):
    pages = {path.resolve(): Page(path) for path in site.rglob("*.html")}
    for path, page in pages.items():
        for tag, target in page.targets:
            parts = urllib.parse.urlsplit(target)
            if parts.scheme or parts.netloc:
                if tag != "a":
                    yield f"{path.name}: takes {target} from elsewhere"
                continue
            to = (path.parent / urllib.parse.unquote(parts.path)).resolve() if parts.path else path
            if parts.path.startswith("/"):
                continue  # the page for addresses that are not there is shown at any of them
            if to.is_dir():
                to = to / "index.html"
            if not to.exists():
                yield f"{path.name}: {target} is not there"
            elif to in pages and urllib.parse.unquote(parts.fragment) not in pages[to].anchors:
                yield f"{path.name}: {target} has no such place"


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__.split("\n")[1])
    manual, site = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
    make(manual, site)
    broken = sorted(set(broken_links(site)))
    for line in broken:
        print(f"make-site: {line}", file=sys.stderr)
    count = len(list(site.rglob("*.html")))
    print(f"{count} pages in {sys.argv[2]}, {len(broken)} broken links")
    sys.exit(1 if broken else 0)


main()
