"""Notebooks as pages of Markdown, with what their cells print and draw."""

import base64
import hashlib
import html
import importlib.util
import pathlib
import re
import sys
import tempfile

import nbformat
from nbclient.exceptions import CellExecutionError

ROOT = pathlib.Path(__file__).resolve().parents[2]


def results_of(path, cache, program_stamp, run):
    """The notebook with its results: stored ones, those kept from an earlier run, or those of a run now."""
    notebook = nbformat.read(path, as_version=4)
    if any(cell.get("outputs") for cell in notebook.cells):
        return notebook
    stamp = hashlib.sha256(path.read_bytes() + program_stamp).hexdigest()[:16]
    kept = cache / f"{path.stem}-{stamp}.ipynb"
    if kept.exists():
        return nbformat.read(kept, as_version=4)
    if not run:
        return notebook
    runner = load_runner()
    print(f"running {path.name}", flush=True)
    try:
        with tempfile.TemporaryDirectory() as folder:
            ran = runner.run(path, folder)
        faults = runner.complaints(ran)
    except CellExecutionError as error:
        faults = [str(error).strip().rpartition("\n")[2]]
    if faults:  # a time that a busy machine does not keep should not cost the whole site
        print(f"{path.name} fails and is shown without results: {'; '.join(faults)}", file=sys.stderr)
        return notebook
    notebook = ran
    cache.mkdir(parents=True, exist_ok=True)
    for old in cache.glob(f"{path.stem}-*.ipynb"):
        old.unlink()
    nbformat.write(notebook, kept)
    return notebook


def load_runner():
    spec = importlib.util.spec_from_file_location("run_notebook", ROOT / "tests/python/run_notebook.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def page(notebook, stem, folder):
    """Markdown of a notebook. Its pictures are written into the folder."""
    parts = []
    for number, cell in enumerate(notebook.cells):
        if cell.cell_type == "markdown":
            parts.append(cell.source)
        elif cell.cell_type == "code":
            parts.append(f"```python\n{cell.source}\n```")
            outputs = [shown(output, f"{stem}-{number:02d}-{place}", folder)
                       for place, output in enumerate(cell.get("outputs", []))]
            outputs = [text for text in outputs if text]
            if outputs:
                parts.append('<div class="lesson-output" markdown="1">\n\n' + "\n\n".join(outputs) + "\n\n</div>")
    return "\n\n".join(parts) + "\n"


def shown(output, name, folder):
    if output.output_type == "stream":
        return f"```text\n{output.text.rstrip()}\n```"
    data = output.get("data", {})
    if "application/vnd.jupyter.widget-view+json" in data:
        return "*Here the notebook has sliders.*"
    if "image/png" in data:
        return picture(f"{name}.png", base64.b64decode(data["image/png"]), folder)
    if "image/svg+xml" in data:
        return picture(f"{name}.svg", data["image/svg+xml"].encode(), folder)
    text = data.get("text/plain", "")
    if "text/html" in data and "<script" not in data["text/html"] and "<style" not in data["text/html"]:
        joined = re.sub(r"\s*\n\s*", " ", data["text/html"])
        return f"<div>{joined}</div>"
    return f"<pre><code>{html.escape(text)}</code></pre>" if text else ""


def picture(name, content, folder):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content)
    return f"![Output of the cell above](pictures/{name})"
