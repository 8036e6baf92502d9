"""The documentation site builds, its links lead somewhere, and it loads nothing from elsewhere."""

import os
import pathlib
import re
import shutil
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "docs/site"))
import check_links

pytestmark = pytest.mark.skipif(shutil.which("mkdocs") is None, reason="mkdocs is not installed")


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    folder = tmp_path_factory.mktemp("build")
    command = [sys.executable, ROOT / "docs/site/make_site.py", "--build", folder,
               "--program", os.environ["SPOTWRIGHT_PROGRAM"], "--without-runs"]
    run = subprocess.run(command, capture_output=True, text=True, timeout=600)
    assert run.returncode == 0, run.stdout + run.stderr
    return folder / "site"


def text(path):
    return path.read_text(encoding="utf-8")


def test_links_lead_somewhere_and_nothing_comes_from_elsewhere(site):
    assert check_links.check(site) == []


def test_every_page_and_every_notebook_is_there(site):
    docs = {path.relative_to(ROOT / "docs").with_suffix(".html") for path in (ROOT / "docs").rglob("*.md")}
    lessons = {pathlib.Path("lessons", path.stem + ".html") for path in (ROOT / "notebooks").glob("*.ipynb")}
    wanted = docs - {pathlib.Path("README.html")} | lessons
    assert len(wanted) > 40
    assert [str(page) for page in sorted(wanted) if not (site / page).is_file()] == []


def test_the_search_finds_words_of_all_kinds_of_pages(site):
    index = text(site / "search/search_index.json")
    for word in ("waist_displacement_mm", "Scheimpflug", "spotwright sweep", "expanded_uncertainty_um", "simulate_log"):
        assert word in index


@pytest.mark.skipif(shutil.which("chromium") is None, reason="chromium is not installed")
def test_a_site_that_is_opened_from_disk_can_be_searched(site, tmp_path):
    def shown(words):
        page = f"{(site / 'guide/verdict.html').as_uri()}?q={words}"
        command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=20000",
                   f"--user-data-dir={tmp_path / 'profile'}", "--dump-dom", page]
        return subprocess.run(command, check=True, capture_output=True, text=True, timeout=300).stdout

    def summary(page):
        return re.search(r'md-search-result__meta">([^<]*)', page).group(1).strip()

    found = shown("Scheimpflug")
    assert re.fullmatch(r"\d+ matching documents", summary(found))
    assert "theory/receiver.html" in "".join(re.findall(r'<a href="([^"]*)" class="md-search-result__link"', found))
    assert summary(shown("zzzzqqqq")) == "No matching documents"


def test_reference_tells_every_command_function_and_header(site):
    commands = text(site / "reference/commands.html")
    assert all(f"Usage: spotwright {name} " in commands for name in ("read", "sweep", "bench"))
    python = text(site / "reference/python.html")
    import spotwright

    assert [name for name in spotwright.__all__ if not name.startswith("_") and f"spotwright.{name}" not in python] == []
    headers = text(site / "reference/headers.html")
    links = re.findall(r'href="\.\./headers/[\w-]+_8hpp\.html"', headers)
    assert len(links) == len(set(links)) == len(list((ROOT / "sim").rglob("*.hpp")))


def test_equations_keep_their_numbers(site):
    pages = [path for path in sorted((ROOT / "docs/theory").glob("*.md")) if path.stem != "index"]
    all_tags = [re.findall(r"\\tag\{([\w.]+)\}", text(path)) for path in pages]
    assert [path.stem for path, tags in zip(pages, all_tags) if not tags] == []
    tags = sum(all_tags, [])
    assert len(tags) == len(set(tags)) > 150
    for path in pages:
        page = text(site / f"theory/{path.stem}.html")
        assert page.count('class="arithmatex"') == text(path).count("$$") // 2


def test_a_broken_link_a_lost_anchor_and_a_foreign_script_are_found(tmp_path):
    (tmp_path / "other.html").write_text('<p id="here">', encoding="utf-8")
    (tmp_path / "style.css").write_text("@import url(https://example.org/a.css); b { background: url(none.png) }")
    (tmp_path / "page.html").write_text(
        '<a href="other.html#here">good</a> <a href="https://example.org">good</a> <a href="gone.html">bad</a>'
        '<a href="other.html#there">bad</a> <script src="https://example.org/a.js"></script> <img src="//example.org/a.png">'
        '<style>@font-face { src: url("http://example.org/a.woff") }</style>', encoding="utf-8")
    faults = check_links.check(tmp_path)
    for part in ("gone.html", "#there", "a.js", "a.png", "a.css", "none.png", "a.woff"):
        assert sum(part in fault for fault in faults) == 1, part
    assert len(faults) == 7
