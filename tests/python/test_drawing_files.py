"""Drawings for CAD programs and for paper, read by independent readers: ezdxf and poppler.

Coordinates are compared with the numbers of `layout --json`. DXF has 1e-6 mm, JSON about 1e-9 of each value.
"""

import json
import math
import os
import subprocess

import ezdxf
import pytest

PROGRAM = os.environ["SPOTWRIGHT_PROGRAM"]
LAYERS = {"HOUSING", "BEAM", "RECEIVER_AXIS", "CHIEF_RAYS", "LENS", "ARRAY", "RANGE", "PART", "DIMENSIONS"}
ROUNDING_MM = 5e-6


def scenario_file(folder, sensor):
    file = folder / "case.toml"
    file.write_text(f'schema = 1\nsensor = "{sensor}"\ntitle = "Wärme & <Gap>"\n[target]\nmaterial = "white-ceramic"\n',
                    encoding="utf-8")
    return file


def run(*words):
    return subprocess.run([PROGRAM, *map(str, words)], capture_output=True, text=True)


def drawn(folder, sensor, *settings):
    """The entities of each layer, and the numbers of the layout."""
    words = ["layout", scenario_file(folder, sensor), "--json", "--out", folder / "case.dxf"]
    for setting in settings:
        words += ["--set", setting]
    done = run(*words)
    assert done.returncode == 0, done.stderr
    document = ezdxf.readfile(folder / "case.dxf")
    assert document.dxfversion == "AC1009"
    audit = document.audit()
    assert not audit.errors and not audit.fixes
    assert {layer.dxf.name for layer in document.layers} >= LAYERS
    entities = {name: [e for e in document.modelspace() if e.dxf.layer == name] for name in LAYERS}
    assert sum(map(len, entities.values())) == len(document.modelspace())
    return entities, json.loads(done.stdout)


def points(entity):
    if entity.dxftype() == "LINE":
        return [(entity.dxf.start.x, entity.dxf.start.y), (entity.dxf.end.x, entity.dxf.end.y)]
    return [(vertex.dxf.location.x, vertex.dxf.location.y) for vertex in entity.vertices]


def texts(entities):
    return [e.dxf.text for e in entities["DIMENSIONS"] if e.dxftype() == "TEXT"]


def near(value):
    return pytest.approx(value, abs=ROUNDING_MM, rel=1e-7)


def length(line):
    return math.dist(*line)


def clearance_of(entities):
    """Least distance of the housing's corners from the line of the part."""
    (start, end) = points(entities["PART"][0])
    along = ((end[0] - start[0]) / math.dist(start, end), (end[1] - start[1]) / math.dist(start, end))
    return min(abs((x - start[0]) * along[1] - (y - start[1]) * along[0]) for x, y in points(entities["HOUSING"][0]))


@pytest.mark.parametrize("sensor, settings", [
    ("short-45", []),
    ("short-45", ["target.tilt_deg=[20,0]"]),
    ("short-45", ["mount.tilt_deg=[20,0]"]),
    ("mirror-36", []),
    ("fine-10", []),
    ("long-1000", []),
])
def test_dxf_has_the_coordinates_of_the_layout(tmp_path, sensor, settings):
    entities, numbers = drawn(tmp_path, sensor, *settings)
    room = numbers["room"]
    body = entities["HOUSING"][0]
    assert body.is_closed
    x, z = zip(*points(body))
    assert max(x) - min(x) == near(room["width_mm"])
    # Planes of the range, near end first; along the beam they stand at the distances of the layout.
    planes = [points(line)[0][1] for line in entities["RANGE"]]
    assert planes[0] - planes[2] == near(numbers["span_mm"])
    assert max(z) - planes[2] == near(room["height_mm"])
    (face, end) = points(entities["BEAM"][0])
    cosine = (face[1] - end[1]) / math.dist(face, end)
    assert [(face[1] - plane) / cosine for plane in planes] == [near(d) for d in numbers["distance_mm"]]
    # The array: tilt from the lens, images of the three places on it.
    lens, array = points(entities["LENS"][0]), points(entities["ARRAY"][0])
    direction = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in (lens[::-1], array)]
    assert math.degrees(direction[1] - direction[0]) == pytest.approx(numbers["detector_tilt_deg"], abs=1e-4)
    middle = [(a + b) / 2 for a, b in zip(*array)]
    unit = [(b - a) / length(array) for a, b in zip(*array)]
    images = [points(ray)[2] for ray in entities["CHIEF_RAYS"]]
    assert [sum((p - m) * u for p, m, u in zip(image, middle, unit)) for image in images] == [
        near(u) for u in numbers["image_position_mm"]
    ]
    reference = points(entities["RECEIVER_AXIS"][0])
    assert math.dist(*reference[1:]) / math.dist(*reference[:2]) == pytest.approx(numbers["magnification"], rel=1e-6)
    assert clearance_of(entities) == near(room["clearance_mm"])
    assert f"clearance {room['clearance_mm']:.5g} mm" in texts(entities)


def test_beam_has_its_true_width(tmp_path):
    entities, numbers = drawn(tmp_path, "short-45")
    left, right = (points(line) for line in entities["BEAM"] if line.dxftype() == "POLYLINE")
    # At the far end, where the drawn beam ends.
    assert (right[-1][0] - left[-1][0]) / 2 == near(numbers["beam_radius_um"][2] / 1000)


def test_time_of_flight_has_its_housing_and_distances(tmp_path):
    entities, numbers = drawn(tmp_path, "phase-3000")
    face = points(entities["BEAM"][0])[0]
    planes = [points(line)[0][1] for line in entities["RANGE"]]
    assert [face[1] - plane for plane in planes] == [near(d) for d in numbers["distance_mm"]]
    assert clearance_of(entities) == near(numbers["room"]["clearance_mm"])
    x, z = zip(*points(entities["HOUSING"][0]))
    assert max(z) - planes[2] == near(numbers["room"]["height_mm"])


def test_a_shaped_part_is_drawn_by_its_outline(tmp_path):
    entities, _ = drawn(tmp_path, "short-45", "target.shape=step", "target.step.height_mm=2")
    outline = points(entities["PART"][0])
    assert max(z for _, z in outline) - min(z for _, z in outline) == near(2.0)


def test_title_of_the_dxf_is_the_scenario_s(tmp_path):
    entities, _ = drawn(tmp_path, "short-45")
    assert any(ezdxf.lldxf.encoding.decode_dxf_unicode(text) == "Wärme & <Gap>" for text in texts(entities))


def pdf_text(file):
    return subprocess.run(["pdftotext", "-layout", file, "-"], check=True, capture_output=True, text=True).stdout


def check_page(file):
    info = subprocess.run(["pdfinfo", file], check=True, capture_output=True, text=True).stdout
    lines = dict(line.split(":", 1) for line in info.splitlines() if ":" in line)
    assert lines["Pages"].strip() == "1"
    width, _, height = lines["Page size"].split()[:3]
    # 297 x 210 mm in points of 1/72 inch.
    assert (float(width), float(height)) == (pytest.approx(841.89, abs=0.01), pytest.approx(595.28, abs=0.01))
    return lines


def has_pdf(folder):
    done = run("sensors", "--out", folder / "try.pdf")
    if done.returncode == 0:
        return True
    assert "built without librsvg" in done.stderr and "allowed: .svg" in done.stderr
    return False


def test_pdf_of_a_layout_is_one_page_with_its_words(tmp_path):
    if not has_pdf(tmp_path):
        pytest.skip("built without librsvg")
    file = tmp_path / "case.pdf"
    for _ in range(2):
        done = run("layout", scenario_file(tmp_path, "short-45"), "--json", "--out", file)
        assert done.returncode == 0, done.stderr
    assert file.read_bytes().startswith(b"%PDF-")
    lines = check_page(file)
    assert lines["Title"].strip() == "Wärme & <Gap>"
    text = " ".join(pdf_text(file).split())
    assert "Wärme & <Gap>" in text
    assert f"clearance {json.loads(done.stdout)['room']['clearance_mm']:g} mm" in text
    assert {p.name for p in tmp_path.iterdir()} == {"case.toml", "case.pdf", "try.pdf"}


def test_pdf_is_the_same_at_the_same_date(tmp_path, monkeypatch):
    if not has_pdf(tmp_path):
        pytest.skip("built without librsvg")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    for name in ("a.pdf", "b.pdf"):
        assert run("sensors", "--out", tmp_path / name).returncode == 0
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_pdf_of_the_shelf_names_every_sensor(tmp_path):
    if not has_pdf(tmp_path):
        pytest.skip("built without librsvg")
    check_page(tmp_path / "try.pdf")
    text = pdf_text(tmp_path / "try.pdf")
    for sensor in json.loads(run("sensors", "--json").stdout):
        assert sensor["name"].split("-")[0] in text
