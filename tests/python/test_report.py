"""A report opens in a browser without network: its charts are drawn, it prints, and a strict parser finds no fault."""

import html.parser
import os
import pathlib
import re
import subprocess

import html5lib
import PIL.Image
import pytest

SCENARIOS = pathlib.Path(__file__).resolve().parents[2] / "scenarios"
BROWSER = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=5000"]

# Counts the pixels of each canvas that are neither clear nor white, after the page's own scripts have run.
PROBE = """<script>
for (const canvas of document.querySelectorAll("canvas")) {
  const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  let inked = 0;
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] > 128 && data[i] + data[i + 1] + data[i + 2] < 600) ++inked;
  }
  canvas.dataset.inked = inked;
}
</script></body>"""


def written(scenario: pathlib.Path, out: pathlib.Path, *options: str) -> str:
    words = [os.environ["SPOTWRIGHT_PROGRAM"], "read", str(scenario), "--out", str(out), *options]
    words += ["--set", "run.readings=5000"]
    environment = {**os.environ, "SOURCE_DATE_EPOCH": "0"}
    subprocess.run(words, check=True, capture_output=True, env=environment)
    return out.read_text(encoding="utf-8")


def browse(page: pathlib.Path, *options: str) -> str:
    words = [*BROWSER, f"--user-data-dir={page.parent / 'profile'}", *options, page.as_uri()]
    return subprocess.run(words, check=True, capture_output=True, text=True, timeout=120).stdout


class Outline(html.parser.HTMLParser):
    """Levels of headings, identifiers, and text of charts' captions."""

    def __init__(self):
        super().__init__()
        self.levels, self.identifiers, self.canvases = [], [], []

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if "id" in attributes:
            self.identifiers.append(attributes["id"])
        if tag == "canvas":
            self.canvases.append(attributes)


def outline_of(text: str) -> Outline:
    outline = Outline()
    outline.feed(text)
    return outline


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("report")


@pytest.fixture(scope="module")
def report(folder):
    """A triangulation report whose title is an attack, as written."""
    scenario = folder / "evil.toml"
    title = '</title><script>document.documentElement.dataset.pwned = 1</script>]]>'
    scenario.write_text(
        f"schema = 1\ntitle = '''{title}'''\n[target]\nmaterial = 'white-ceramic'\n[exposure]\nexposure_us = 1.8\n"
    )
    return written(scenario, folder / "r.html")


def test_a_strict_parser_finds_no_fault(report):
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(report)
    assert parser.errors == []


def test_headings_are_in_order_and_identifiers_unique(report):
    outline = outline_of(report)
    assert outline.levels[0] == 1 and outline.levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(outline.levels, outline.levels[1:]))
    assert len(outline.identifiers) == len(set(outline.identifiers)) > 20
    assert all(canvas["role"] == "img" and len(canvas["aria-label"]) > 20 for canvas in outline.canvases)


def test_without_scripts_the_tables_and_drawings_are_there(report):
    document = html5lib.parse(report, namespaceHTMLElements=False)
    assert len(document.findall(".//table")) > 6
    assert len(document.findall(".//{http://www.w3.org/2000/svg}svg[@class='sheet']")) == 2
    assert document.find(".//noscript") is not None
    # One row for each point of the series, though closed.
    rows = document.findall(".//section[@id='series']//details//tbody/tr")
    assert 1900 < len(rows) <= 2000


def test_the_same_scenario_and_date_give_the_same_bytes_on_one_thread_and_from_python(report, folder):
    sw = pytest.importorskip("spotwright")
    scenario = sw.load(folder / "evil.toml", {"run.readings": 5000})
    again = folder / "again.html"
    sw.report(scenario, again, date="1970-01-01T00:00:00Z", threads=1)
    assert again.read_text(encoding="utf-8") == report
    with pytest.raises(ValueError, match="read, budget or advise"):
        sw.report(scenario, again, of="everything")
    assert again.read_text(encoding="utf-8") == report


def test_every_chart_is_drawn_and_no_script_fails(report, folder):
    page = folder / "probed.html"
    page.write_text(report.replace("</body>", PROBE), encoding="utf-8")
    shown = browse(page, "--dump-dom", "--window-size=900,2000")
    assert re.search('<html[^>]* data-charts="ok"', shown)
    assert "data-pwned" not in shown.split("<head>")[0]
    assert re.search('<p id="chart-errors"[^>]* hidden=""[^>]*></p>', shown)
    inked = [int(canvas["data-inked"]) for canvas in outline_of(shown).canvases]
    assert len(inked) == report.count("<canvas ") >= 4
    # Axes and words alone make about ten thousand pixels, at three to a page pixel.
    assert min(inked) > 5000


def test_a_broken_chart_is_told_on_the_page(report, folder):
    page = folder / "broken.html"
    page.write_text(report.replace('{"charts":[', '{"charts":[{"id":"no-such-chart"},'), encoding="utf-8")
    shown = browse(page, "--dump-dom")
    assert re.search('<html[^>]* data-charts="failed"', shown)
    assert re.search('<p id="chart-errors"(?![^>]*hidden)[^>]*>A chart could not be drawn: no-such-chart', shown)


def test_time_of_flight_prints_on_a_few_sheets(folder):
    page = folder / "flight.html"
    written(SCENARIOS / "21-pallet-white.toml", page)
    sheets, shot = folder / "flight.pdf", folder / "flight.png"
    browse(page, "--no-pdf-header-footer", f"--print-to-pdf={sheets}")
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", sheets.read_bytes())
    sizes = [(round(float(width)), round(float(height))) for width, height in boxes]
    assert set(sizes) == {(595, 842), (842, 595)}  # A4 both ways, in points
    assert sizes.count((842, 595)) == 2  # the drawings
    assert 5 <= len(sizes) <= 14
    browse(page, f"--screenshot={shot}", "--window-size=900,1600")
    lightness = PIL.Image.open(shot).convert("L").histogram()
    assert 0.01 < sum(lightness[:128]) / sum(lightness) < 0.2  # dark words on a light page
