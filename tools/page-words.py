"""Makes the page's catalogues, an ES module, from po/*.po: only the texts that the page has.

Usage: tools/page-words.py OUTPUT PO...
"""

import json
import pathlib
import re
import sys

KEPT = re.compile(r"web/")


def unquote(lines):
    return "".join(json.loads(line) for line in re.findall(r'".*"', lines))


def read(path):
    """{text: translation, or a list of its forms}, and the expression for the number of the form."""
    texts, plural = {}, "n != 1"
    for entry in pathlib.Path(path).read_text(encoding="utf-8").split("\n\n"):
        if re.search(r"^#,.*\bfuzzy\b", entry, re.M):
            continue
        part = {name: unquote(body) for name, body in re.findall(r"^(msg\w+(?:\[\d+\])?) ((?:\".*\"\n?)+)", entry, re.M)}
        if part.get("msgid") == "":
            plural = re.search(r"plural=([^;]+);", part["msgstr"]).group(1)
        elif any(KEPT.search(line) for line in entry.split("\n") if line.startswith("#:")):
            forms = [part[name] for name in sorted(part) if name.startswith("msgstr")]
            if all(forms):
                context = part["msgctxt"] + "\4" if "msgctxt" in part else ""
                texts[context + part["msgid"]] = forms if "msgid_plural" in part else forms[0]
    return texts, plural


def main():
    out = ["/* The page's texts in other languages, made from po/. */", "export default {"]
    for path in sorted(sys.argv[2:]):
        texts, plural = read(path)
        out.append(f"  {pathlib.Path(path).stem}: {{ form: (n) => Number({plural}), texts: "
                   f"{json.dumps(texts, ensure_ascii=False, sort_keys=True, indent=1)} }},")
    out.append("};\n")
    pathlib.Path(sys.argv[1]).write_text("\n".join(out), encoding="utf-8")


main()
