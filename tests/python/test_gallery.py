"""The pictures of the gallery are what the lines below them make today."""

import pathlib
import re
import sys

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]
PICTURES = ROOT / "docs/pictures"
sys.path.insert(0, str(ROOT / "docs"))
import make_gallery

NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gallery")
    make_gallery.make_all(folder)
    return folder


def names(language):
    return [name for name, of, _ in make_gallery.pictures() if of == language]


def parts(text):
    """A drawing of matplotlib as words and numbers; what it says of itself, and names made from bytes, are left out."""
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)
    text = re.sub(r"\b[mp][0-9a-f]{10}\b", "name", text)
    return NUMBER.sub("#", text), [float(number) for number in NUMBER.findall(text)]


def test_every_picture_of_the_gallery_has_its_lines():
    text = (ROOT / "docs/gallery.md").read_text(encoding="utf-8")
    shown = re.findall(r"\]\(pictures/([\w.-]+)\)", text)
    assert shown == [name for name, _, _ in make_gallery.pictures()]
    assert len(names("sh")) >= 5 and len(names("python")) >= 5
    assert {path.name for path in PICTURES.iterdir()} == {*shown, "layout.svg"}  # the latter is README's


@pytest.mark.parametrize("name", names("sh"))
def test_drawings_of_the_program_are_the_same_to_the_byte(made, name):
    assert (made / name).read_bytes() == (PICTURES / name).read_bytes()


@pytest.mark.parametrize("name", names("python"))
def test_plots_say_the_same_and_no_line_has_moved(made, name):
    (words, numbers), (kept_words, kept_numbers) = (parts((of / name).read_text()) for of in (made, PICTURES))
    assert words == kept_words
    # In points of the page. Another processor may round the last digit of a sine; it does not move a line by 1/7000 inch.
    assert numbers == pytest.approx(kept_numbers, abs=0.01)


def test_pictures_are_small_and_need_nothing_else():
    sizes = {path.name: path.stat().st_size for path in PICTURES.iterdir()}
    assert sum(sizes.values()) < 600_000
    for path in PICTURES.iterdir():
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.S)  # names of vocabularies
        assert not re.search(r'(?:href="|url\()(?!#|data:)', text), path.name
