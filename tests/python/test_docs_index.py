"""docs/README.md lists every page of the documentation, and links lead somewhere."""

import pathlib
import re

ROOT = pathlib.Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = sorted(DOCS.rglob("*.md"))


def links_of(page):
    return [link for link in re.findall(r"\]\(([^)\s#]+)[^)\s]*\)", page.read_text()) if "://" not in link]


def test_every_page_is_listed_once():
    linked = [(DOCS / link).resolve() for link in links_of(DOCS / "README.md")]
    listed = sorted(path for path in linked if DOCS in path.parents)
    assert listed == [page for page in PAGES if page != DOCS / "README.md"]


def test_links_between_pages_lead_somewhere():
    broken = [
        f"{page.relative_to(ROOT)}: {link}"
        for page in PAGES
        for link in links_of(page)
        if not (page.parent / link).resolve().exists()
    ]
    assert broken == []


def test_links_of_lessons_lead_somewhere():
    broken = [
        f"{lesson.name}: {link}"
        for lesson in sorted((ROOT / "notebooks").glob("*.ipynb"))
        for link in links_of(lesson)
        if not (lesson.parent / link).resolve().exists()
    ]
    assert broken == []
