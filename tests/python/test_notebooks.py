"""Notebooks are stored without results, ask a question, caption their figures and check their own numbers."""

import ast
import pathlib
import re

import nbformat
import pytest

NOTEBOOKS = sorted((pathlib.Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))
DRAWS = re.compile(r"\b(sw\.plot\.|plt\.|sw\.drawing\(|sw\.picture\()|\binteract\(")


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=nbformat.NO_CONVERT)


def code(notebook):
    return [cell.source for cell in notebook.cells if cell.cell_type == "code"]


def test_there_are_notebooks():
    assert len(NOTEBOOKS) >= 5
    assert all(re.fullmatch(r"\d\d_[a-z0-9_]+", path.stem) for path in NOTEBOOKS)


def test_nothing_of_a_run_is_stored(notebook):
    nbformat.validate(notebook)
    assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
    assert notebook.metadata.kernelspec.name == "python3"
    for cell in notebook.cells:
        assert cell.cell_type == "markdown" or (cell.outputs == [] and cell.execution_count is None)
    identifiers = [cell.id for cell in notebook.cells]
    assert len(set(identifiers)) == len(identifiers)


def test_it_begins_with_a_title_and_a_question(notebook):
    first = notebook.cells[0]
    assert first.cell_type == "markdown" and first.source.startswith("# ")
    assert re.search(r"\*\*Question\.\*\* .*\?", first.source, re.S)


def test_every_figure_has_a_caption_below_it(notebook):
    drawn = [place for place, cell in enumerate(notebook.cells) if cell.cell_type == "code" and DRAWS.search(cell.source)]
    assert drawn
    for place in drawn:
        below = notebook.cells[place + 1]
        assert below.cell_type == "markdown" and re.match(r"\*Figure \d+", below.source), notebook.cells[place].source


def test_numbers_are_asserted(notebook):
    asserts = [node for source in code(notebook) for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Assert)]
    assert len(asserts) >= 3
    # A claim of constants alone cannot fail.
    assert all(any(isinstance(part, (ast.Name, ast.Attribute)) for part in ast.walk(claim.test)) for claim in asserts)
