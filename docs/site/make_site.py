#!/usr/bin/python3
"""Builds the documentation site from docs/, the notebooks, the program and its package, without a network.

    make_site.py [--build FOLDER] [--program FILE] [--without-runs]

The package is found by PYTHONPATH. The site is FOLDER/site, what it is made from FOLDER/site-source. Notebooks are run, and
their results kept in FOLDER/lessons until the notebook or the program changes; with --without-runs only kept results are shown.
"""

import argparse
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

import check_links
import lessons
import reference

ROOT = pathlib.Path(__file__).resolve().parents[2]
HERE = pathlib.Path(__file__).resolve().parent
KATEX = pathlib.Path("/usr/share/javascript/katex")
LINK = re.compile(r"(\]\()([^)\s#]*)((?:#[^)\s]*)?(?:\s[^)]*)?\))")
CODE = re.compile(r"^```.*?^```$|`[^`\n]+`", re.S | re.M)


def places():
    """Where each file, or folder, of the sources stands in the site."""
    where = {"docs/README.md": "index.md", "README.md": "overview.md", "DEVELOPERS.md": "developers.md",
             "CHANGELOG.md": "changelog.md", "notebooks": "lessons/index.md", "docs/theory": "theory/index.md"}
    for path in (ROOT / "docs").rglob("*.md"):
        where.setdefault(str(path.relative_to(ROOT)), str(path.relative_to(ROOT / "docs")))
    for path in (ROOT / "docs/pictures").iterdir():
        where[str(path.relative_to(ROOT))] = str(path.relative_to(ROOT / "docs"))
    for path in (ROOT / "notebooks").glob("*.ipynb"):
        where[str(path.relative_to(ROOT))] = f"lessons/{path.stem}.md"
    return where


class Source:
    """The tree of pages that mkdocs reads."""

    def __init__(self, folder):
        self.folder = folder
        self.where = places()
        self.extra = {}  # files that pages link to and that are no pages

    def put(self, place, text):
        path = self.folder / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def put_page(self, origin, text):
        """A page of the sources, its links turned to the places of the site."""
        place = self.where[origin]
        code = [match.span() for match in CODE.finditer(text)]

        def turned(match):
            before, target, after = match.groups()
            inside_code = any(start <= match.start() and match.end() <= end for start, end in code)
            if not target or "://" in target or inside_code:
                return match[0]
            aim = os.path.normpath(os.path.join(os.path.dirname(origin), target))
            return before + os.path.relpath(self.place_of(aim, origin), os.path.dirname(place) or ".") + after

        self.put(place, LINK.sub(turned, spaced(text)))

    def place_of(self, aim, origin):
        if aim in self.where:
            return self.where[aim]
        path = ROOT / aim
        if not path.is_file():
            raise SystemExit(f"{origin}: {aim} does not exist, or is a folder without a place in the site")
        if path.suffix == ".md":
            self.where[aim] = f"more/{aim.removesuffix('.md').replace('/', '-').lower()}.md"
            self.put_page(aim, path.read_text(encoding="utf-8"))
        else:
            self.where[aim] = f"more/{aim}"
            (self.folder / "more" / aim).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(path, self.folder / "more" / aim)
        return self.where[aim]


def spaced(text):
    """A list may follow a line of text at once; Python's Markdown wants an empty line between them."""
    out, fenced = [], False
    for line in text.split("\n"):
        starts_list = re.match(r"(?:[-*]|\d+\.) ", line)
        if starts_list and not fenced and out and out[-1].strip() and not re.match(r"(?:[-*]|\d+\.) |\s", out[-1]):
            out.append("")
        fenced ^= line.startswith("```")
        out.append(line)
    return "\n".join(out)


def listed(folder):
    """Pages of a folder in the order in which docs/README.md lists them."""
    return re.findall(rf"\]\(({folder}/[\w.-]+\.md)\)", (ROOT / "docs/README.md").read_text(encoding="utf-8"))


def navigation(source):
    lesson_pages = sorted(place for place in source.where.values() if re.match(r"lessons/\d", place))
    return [
        {"Home": "index.md"},
        {"Overview": "overview.md"},
        {"Tutorial": ["guide/first-reading.md"]},
        {"Lessons": ["lessons/index.md", *lesson_pages]},
        {"How-to guides": [
            {"Sensors": "guide/sensors.md"},
            {"From a data sheet to a verdict": "guide/data-sheet.md"},
            {"Which sensor for the job": "guide/shortlist.md"}, {"How to read a verdict": "guide/verdict.md"}, {"Parts that move": "guide/motion.md"},
            {"Time of flight": "guide/flight.md"}, {"What is modelled": "guide/model.md"},
            {"All lessons": "guide/lessons.md"},
            {"Install": "guide/install.md"}, {"Python": "guide/python.md"}, {"Sweeps": "guide/sweeps.md"},
            {"Large sweeps": "scale.md"}, {"Reports": "guide/report.md"},
            {"Logs of a real sensor": "guide/bench-log.md"}, {"The live page": "guide/page.md"}]},
        {"Theory": listed("theory")},
        {"Reference": [
            {"Scenario keys": "scenario.md"}, {"Materials": "materials.md"}, {"Nomenclature": "nomenclature.md"},
            {"Commands": "reference/commands.md"}, {"Fields of results": "reference/results.md"},
            {"Python": "reference/python.md"}, {"C++ headers": "reference/headers.md"}]},
        {"Gallery": "gallery.md"},
        {"Validation": ["validation.md", "validation-random.md"]},
        {"Reliability": "reliability.md"},
        {"Benchmarks": "benchmarks.md"},
        {"Decisions": listed("decisions")},
        {"For developers": "developers.md"},
        {"Changelog": "changelog.md"},
    ]


def pages_of(entries):
    if isinstance(entries, str):
        return [entries]
    values = entries.values() if isinstance(entries, dict) else entries
    return [page for entry in values for page in pages_of(entry)]


def copy_assets(folder):
    katex = folder / "assets/katex"
    katex.mkdir(parents=True)
    for name in ("katex.min.js", "katex.min.css", "contrib/auto-render.js"):
        shutil.copy(KATEX / name, katex)
    (katex / "fonts").mkdir()
    for font in (KATEX / "fonts").glob("*.woff2"):
        shutil.copy(font, katex / "fonts")
    # The style sheet names older formats of the same fonts as well.
    style = (katex / "katex.min.css").read_text(encoding="utf-8")
    (katex / "katex.min.css").write_text(re.sub(r",url\([^)]*\.(?:woff|ttf)\) format\('\w+'\)", "", style), encoding="utf-8")
    for name in ("equations.js", "search_from_disk.js", "site.css"):
        shutil.copy(HERE / name, folder / "assets")


def make_headers(folder):
    settings = (HERE / "Doxyfile").read_text(encoding="utf-8")
    settings += f'\nINPUT = "{ROOT}/sim"\nSTRIP_FROM_PATH = "{ROOT}"\nOUTPUT_DIRECTORY = "{folder}"\n'
    folder.mkdir(parents=True)
    subprocess.run(["doxygen", "-"], input=settings, text=True, check=True, timeout=300)
    for page in folder.glob("*.html"):  # Doxygen takes `file:line:` for an address, and lists classes that it leaves out
        text = page.read_text(encoding="utf-8")
        better = re.sub(r'<a href="file:[^"]*">(.*?)</a>', r"\1", text)
        if 'name="nested-classes"' not in text:
            better = re.sub(r'<a href="#nested-classes">Classes</a> &#124;\n', "", better)
        if better != text:
            page.write_text(better, encoding="utf-8")


def make_source(folder, build, program, run):
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    source = Source(folder)
    for origin, place in sorted(source.where.items()):
        if place.endswith(".md") and origin.endswith(".md"):
            source.put_page(origin, (ROOT / origin).read_text(encoding="utf-8"))
    shutil.copytree(ROOT / "docs/pictures", folder / "pictures")
    stamp = program.read_bytes()
    titles = []
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        notebook = lessons.results_of(path, build / "lessons", stamp, run)
        origin = str(path.relative_to(ROOT))
        text = lessons.page(notebook, path.stem, folder / "lessons/pictures")
        note = f"*The notebook `{origin}`, to be run and changed.*"
        title, _, rest = text.partition("\n")
        place = source.where[origin]
        source.where.update({f"notebooks/pictures/{picture.name}": f"lessons/pictures/{picture.name}"
                             for picture in (folder / "lessons/pictures").glob(f"{path.stem}-*")})
        source.put_page(origin, f"{title}\n\n{note}\n{rest}")
        titles.append(f"- [{title.removeprefix('# ')}]({os.path.basename(place)})")
    source.put("lessons/index.md", "# Lessons\n\nEach asks a question and answers it with plots and checked numbers.\n\n"
               + "\n".join(titles) + "\n")
    source.put("reference/commands.md", reference.commands(program))
    source.put("reference/python.md", reference.python())
    source.put("reference/results.md", reference.results())
    source.put("reference/headers.md", reference.headers())
    make_headers(folder / "headers")
    copy_assets(folder)
    put_live_page(source, build / "spotwright.html")
    return source


def put_live_page(source, page):
    """The live page itself, where it has been built."""
    if not page.is_file():
        return
    shutil.copy(page, source.folder / page.name)
    guide = source.folder / "guide/page.md"
    text = guide.read_text(encoding="utf-8")
    guide.write_text(f"{text}\n## Open it\n\n[The live page]({os.path.relpath(page.name, 'guide')}), as of this site.\n",
                     encoding="utf-8")


def make_site(build, program, run):
    source = make_source(build / "site-source", build, program, run)
    pages = navigation(source)
    shown = set(pages_of(pages))
    lost = sorted(place for place in source.where.values()
                  if place.endswith(".md") and place not in shown and not place.startswith("more/"))
    if lost:
        raise SystemExit(f"pages without a place in the navigation: {', '.join(lost)}")
    config = build / "site.yml"
    config.write_text(json.dumps({  # which is YAML, too
        "INHERIT": os.path.relpath(HERE / "mkdocs.yml", build), "docs_dir": "site-source", "site_dir": "site", "nav": pages,
        "theme": {"custom_dir": str(HERE / "theme")},
    }, indent=2), encoding="utf-8")
    subprocess.run(["/usr/bin/mkdocs", "--quiet", "build", "--strict", "--clean", "--config-file", config], check=True)
    index = (build / "site/search/search_index.json").read_text(encoding="utf-8")
    (build / "site/search/search_index.js").write_text(f"var searchIndex = {index};\n", encoding="utf-8")
    faults = check_links.check(build / "site")
    print(*faults, sep="\n")
    return not faults


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--build", type=pathlib.Path, default=ROOT / "build", metavar="FOLDER")
    parser.add_argument("--program", type=pathlib.Path, metavar="FILE", help="FOLDER/spotwright if not given")
    parser.add_argument("--without-runs", action="store_true", help="run no notebook")
    options = parser.parse_args()
    build = options.build.resolve()
    program = (options.program or build / "spotwright").resolve()
    if not make_site(build, program, not options.without_runs):
        return 1
    print(f"the site is in {build / 'site'}; open {build / 'site/index.html'} in a browser")
    return 0


if __name__ == "__main__":
    sys.exit(main())
