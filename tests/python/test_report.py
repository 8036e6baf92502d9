"""A report opens in a browser without network: its charts are there, it prints, and a strict parser finds no fault."""

import base64
import hashlib
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

# For each chart its place on the page, the boxes of its words as this browser's fonts have them, and what is told of the
# point that lies farthest right on its last curve when the pointer is there.
PROBE = """<script>
for (const chart of document.querySelectorAll("svg.chart")) {
  const box = (element) => {
    const r = element.getBoundingClientRect();
    return [r.left, r.top, r.right, r.bottom].map((v) => v.toFixed(2)).join(" ");
  };
  chart.dataset.place = box(chart);
  chart.dataset.words = Array.from(chart.querySelectorAll("text:not(.tip text)"), box).join(";");
  const lines = chart.querySelectorAll(".curve polyline");
  if (lines.length === 0) continue;
  const points = lines[lines.length - 1].points;
  const at = new DOMPoint(points[points.length - 1].x, points[points.length - 1].y).matrixTransform(chart.getScreenCTM());
  chart.dispatchEvent(new PointerEvent("pointermove", { clientX: at.x, clientY: at.y }));
  chart.dataset.shown = chart.querySelector(".tip").getAttribute("visibility");
  chart.dataset.told = chart.querySelector(".tip text").textContent;
  chart.dispatchEvent(new PointerEvent("pointerleave"));
}
</script></body>"""


def probed(report: str) -> str:
    """The report with the probe, which its own policy would not let run."""
    return re.sub('<meta http-equiv="Content-Security-Policy"[^>]*>', "", report).replace("</body>", PROBE)


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
    """Levels of headings, identifiers, and the attributes of charts."""

    def __init__(self):
        super().__init__()
        self.levels, self.identifiers, self.charts = [], [], []

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        if re.fullmatch("h[1-6]", tag):
            self.levels.append(int(tag[1]))
        if "id" in attributes:
            self.identifiers.append(attributes["id"])
        if tag == "svg" and attributes.get("class") == "chart":
            self.charts.append(attributes)


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
    assert len(outline.charts) >= 4
    assert all(chart["role"] == "img" and len(chart["aria-label"]) > 20 for chart in outline.charts)
    assert all(chart["viewbox"].startswith("0 0 680 ") for chart in outline.charts)


def test_without_scripts_the_tables_and_drawings_are_there(report):
    document = html5lib.parse(report, namespaceHTMLElements=False)
    assert len(document.findall(".//table")) > 6
    assert len(document.findall(".//{http://www.w3.org/2000/svg}svg[@class='sheet']")) == 3  # the answer has a small one
    charts = document.findall(".//{http://www.w3.org/2000/svg}svg[@class='chart']")
    assert len(charts) >= 4
    assert all(chart.findall(".//{http://www.w3.org/2000/svg}polyline") for chart in charts)
    assert document.find(".//noscript") is None
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


def dark_pixels(shot: PIL.Image.Image, place: str) -> int:
    left, top, right, bottom = (round(float(number)) for number in place.split())
    return sum(shot.crop((left, top, right, bottom)).convert("L").histogram()[:200])


def apart(one: list[float], other: list[float]) -> bool:
    return one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_every_chart_is_drawn_and_tells_values_under_the_pointer(report, folder):
    page, shot = folder / "probed.html", folder / "probed.png"
    page.write_text(probed(report), encoding="utf-8")
    window = "--window-size=900,9000"
    shown = browse(page, "--dump-dom", window)
    assert re.search('<html[^>]* data-charts="ok"', shown)
    assert "data-pwned" not in shown.split("<head>")[0]
    charts = outline_of(shown).charts
    assert len(charts) == report.count('<figure class="chart">') >= 4
    browse(page, f"--screenshot={shot}", window, "--hide-scrollbars")
    picture = PIL.Image.open(shot)
    for chart in charts:
        # Frame, grid and words of the least of them make more than two thousand.
        assert dark_pixels(picture, chart["data-place"]) > 2000
        place = [float(number) for number in chart["data-place"].split()]
        words = [[float(number) for number in box.split()] for box in chart["data-words"].split(";")]
        assert len(words) > 6
        for i, box in enumerate(words):
            assert place[0] <= box[0] and box[2] <= place[2] and place[1] <= box[1] and box[3] <= place[3]
            # Boxes are as high as the font's tallest letters; what is drawn of them is less.
            box[1] += 2
            box[3] -= 2
            assert all(apart(box, other) for other in words[:i])
    told = {chart["id"]: chart["data-told"] for chart in charts if "data-told" in chart}
    assert all(chart["data-shown"] == "visible" for chart in charts if "data-told" in chart)
    assert re.fullmatch(r"truth: 4999, 0", told["chart-series"])
    assert re.fullmatch(r"normal distribution, same mean and standard deviation: \S+, 0(\.\d+)?", told["chart-histogram"])
    assert re.fullmatch(r"translucent-polymer: 5, \d+(\.\d+)?", told["chart-linearity"])
    assert re.fullmatch(r"overlapping Allan deviation: \d+(\.\d+)?, \d+(\.\d+)?", told["chart-allan"])


def test_the_policy_lets_the_report_s_own_script_run_and_no_other(report, folder):
    for name, text in (("script", r"<script>(.*?)</script>"), ("style", r"<style>(.*?)</style>")):
        digest = hashlib.sha256(re.search(text, report, flags=re.DOTALL)[1].encode()).digest()
        assert f"{name}-src 'sha256-{base64.b64encode(digest).decode()}';" in report
    page = folder / "attacked.html"
    attack = '<p onclick="x()" style="color: red">a</p><script>document.documentElement.dataset.pwned = 1</script></body>'
    page.write_text(report.replace("</body>", attack), encoding="utf-8")
    shown = browse(page, "--dump-dom")
    assert re.search('<html[^>]* data-charts="ok"', shown)
    assert "data-pwned" not in shown.split("<head>")[0]


def test_values_that_are_told_are_those_of_the_table(report, folder):
    page = folder / "probed.html"
    page.write_text(probed(report), encoding="utf-8")
    charts = {chart["id"]: chart for chart in outline_of(browse(page, "--dump-dom", "--window-size=900,9000")).charts}
    document = html5lib.parse(report, namespaceHTMLElements=False)
    rows = document.findall(".//section[@id='allan']//details//tbody/tr")
    _, time, deviation, *_ = ["".join(cell.itertext()) for cell in rows[-1]]
    told_time, told_deviation = charts["chart-allan"]["data-told"].split(": ")[1].split(", ")
    # Three digits are told; the table has four of the time, and of a deviation the two that it is known to.
    assert float(told_time) == pytest.approx(float(time), rel=6e-3)
    assert float(told_deviation) == pytest.approx(float(deviation), rel=2e-2)


def test_the_page_looks_the_same_without_scripts(report, folder):
    page, bare = folder / "with.html", folder / "without.html"
    page.write_text(report, encoding="utf-8")
    without = re.sub("<script>.*?</script>", "", report, flags=re.DOTALL)
    assert len(without) < len(report) and "<script" not in without
    bare.write_text(without, encoding="utf-8")
    pictures = []
    for one in (page, bare):
        browse(one, f"--screenshot={folder / 'whole.png'}", "--window-size=900,9000", "--hide-scrollbars")
        pictures.append(PIL.Image.open(folder / "whole.png").convert("RGB").tobytes())
    assert pictures[0] == pictures[1]


# Sizes of the texts as they are seen: of a drawing, its own times its scale.
SIZES = """<script>
const sizes = [];
for (const text of document.querySelectorAll("svg text")) {
  const scale = text.getScreenCTM();
  sizes.push(parseFloat(getComputedStyle(text).fontSize) * Math.hypot(scale.b, scale.d));
}
for (const element of document.querySelectorAll("p, li, td, th, dd, dt, figcaption, caption, pre")) {
  sizes.push(parseFloat(getComputedStyle(element).fontSize));
}
document.documentElement.dataset.least = Math.min(...sizes).toFixed(2);
const bottom = (what) => document.querySelector(what).getBoundingClientRect().bottom.toFixed(1);
document.documentElement.dataset.panel = bottom(".answer");
</script></body>"""


# The last window is as wide as the text of an A4 page, which has room for 263 mm or 994 pixels; print is smaller.
@pytest.mark.parametrize("window, room", [("1280,720", 720), ("420,800", 10000), ("712,1000", 994)])
def test_no_text_is_smaller_than_nine_pixels_and_the_answer_comes_first(report, folder, window, room):
    page = folder / "sizes.html"
    page.write_text(probed(report).replace(PROBE, SIZES), encoding="utf-8")
    shown = browse(page, "--dump-dom", f"--window-size={window}")
    least = float(re.search('data-least="([\\d.]+)"', shown)[1])
    assert least >= 9.0
    assert float(re.search('data-panel="([\\d.]+)"', shown)[1]) <= room


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
