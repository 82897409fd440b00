"""axe-core, which judges a page by WCAG 2.2, and playwright-core, which drives one: where npm can fetch them
by the lock file beside, into a folder of the build. None where it cannot."""
import json
import pathlib
import shutil
import subprocess

LOCK = pathlib.Path(__file__).resolve().parent / "witness"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def modules(folder):
    """The folder of the packages as the lock file has them."""
    folder = pathlib.Path(folder).resolve()
    stamp = folder / "package-lock.json"
    if stamp.exists() and stamp.read_bytes() == (LOCK / stamp.name).read_bytes() and (folder / "node_modules").exists():
        return folder / "node_modules"
    if not shutil.which("npm"):
        return None
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("package.json", ".npmrc"):
        shutil.copy(LOCK / name, folder)
    shutil.copy(LOCK / stamp.name, stamp)
    done = subprocess.run(["npm", "ci", "--prefix", str(folder)], cwd=folder, capture_output=True, timeout=120, check=False)
    if done.returncode != 0:
        stamp.unlink()
        return None
    return folder / "node_modules"


def axe_source(folder):
    at = modules(folder)
    return (at / "axe-core/axe.min.js").read_text() if at else None


def violations(browser, script):
    """What it finds on the page as it stands: rule, how many, and the first element."""
    if not browser.run("Boolean(window.axe)"):
        browser.call("Runtime.evaluate", expression=script)
    return browser.run("axe.run(document, {runOnly: " + json.dumps(TAGS) + "}).then(r => r.violations.map(v => "
                       "[v.id, v.nodes.length, v.nodes[0].html.slice(0, 200), v.nodes[0].failureSummary.slice(0, 300)]))")
