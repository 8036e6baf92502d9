"""Runs a notebook as a reader would, in its own folder, and fails where a cell fails or warns.

    run_notebook.py NOTEBOOK [--figures FOLDER]

The package is found by PYTHONPATH. Nothing is written but, if asked for, the figures, for looking at.
"""

import argparse
import base64
import os
import pathlib
import sys
import tempfile
import time


def run(path, kernel_folder):
    # Kernels keep a history: each its own, so that notebooks run side by side.
    searched = [os.path.abspath(folder) for folder in os.environ.get("PYTHONPATH", "").split(os.pathsep) if folder]
    os.environ["PYTHONPATH"] = os.pathsep.join(searched)  # the kernel runs in another folder
    os.environ.update(IPYTHONDIR=kernel_folder, PYDEVD_DISABLE_FILE_VALIDATION="1", MPLCONFIGDIR=kernel_folder)
    import nbclient
    import nbformat

    notebook = nbformat.read(path, as_version=4)
    client = nbclient.NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(path.resolve().parent)}}
    )
    client.comm_open_handlers = {}  # sliders run; what they look like is not kept
    client.execute()
    return notebook


def complaints(notebook):
    """What cells wrote to the error stream. An error behind a slider does not stop its cell: it ends here."""
    found = []
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            if output.output_type == "error" or output.get("name") == "stderr":
                found.append(f"cell {cell.id}: {output.get('text') or output.get('evalue')}")
    return found


def save_figures(notebook, folder, stem):
    folder.mkdir(parents=True, exist_ok=True)
    pictures = [
        (cell.id, output.data)
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if output.output_type == "display_data" or output.output_type == "execute_result"
    ]
    for number, (cell, data) in enumerate(pictures):
        if "image/png" in data:
            (folder / f"{stem}-{number:02d}.png").write_bytes(base64.b64decode(data["image/png"]))
        elif "image/svg+xml" in data:
            (folder / f"{stem}-{number:02d}.svg").write_text(data["image/svg+xml"], encoding="utf-8")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("notebook", type=pathlib.Path)
    parser.add_argument("--figures", type=pathlib.Path, metavar="FOLDER", help="keep the figures in this folder")
    options = parser.parse_args()
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        notebook = run(options.notebook, folder)
    if options.figures:
        save_figures(notebook, options.figures, options.notebook.stem)
    print(f"{options.notebook.name}: {time.monotonic() - start:.1f} s")
    found = complaints(notebook)
    print(*found, sep="\n", file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
