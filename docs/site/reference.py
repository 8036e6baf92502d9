"""Pages of reference that are made from the program and its Python package: commands, Python, fields of results."""

import ast
import html
import inspect
import pathlib
import re
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "bindings/python/spotwright"


def commands(program):
    """What the program says of itself and of each of its commands."""

    def said(*words):
        run = subprocess.run([program, *words, "--help"], capture_output=True, text=True, check=True, timeout=60)
        return run.stdout.strip()

    whole = said()
    listed = re.search(r"^Subcommands:\n((?:  .*\n)+)", whole, re.M).group(1)
    names = re.findall(r"^  (\w[\w-]*)", listed, re.M)
    page = ["# Commands", "Made from what the program prints.", "## spotwright", fenced(whole)]
    for name in names:
        page += [f"## spotwright {name}", fenced(said(name))]
    return "\n\n".join(page) + "\n"


def fenced(text, language=""):
    return f"```{language}\n{text}\n```"


def python():
    """Everything that `spotwright` and `spotwright.plot` name in `__all__`, with types and docstrings."""
    import spotwright
    import spotwright.plot

    written = {}
    for name in ("_core.pyi", "_drawing.py", "_errors.py", "_record.py", "_series.py", "_sweep.py"):
        written.update(definitions(PACKAGE / name))
    page = ["# Python", "Made from the package. [A first session](../guide/python.md) shows it at work; what results hold "
            "is listed under [fields of results](results.md).", "## spotwright", fenced(spotwright.__doc__.strip(), "pycon")]
    for name in spotwright.__all__:
        if not name.startswith("_"):
            page += entry(name, written[name], getattr(spotwright, name), "spotwright.")
    page += ["## spotwright.plot", inspect.getdoc(spotwright.plot)]
    written = definitions(PACKAGE / "plot.py")
    for name in spotwright.plot.__all__:
        if isinstance(written.get(name), ast.FunctionDef):
            page += entry(name, written[name], getattr(spotwright.plot, name), "spotwright.plot.")
    return "\n\n".join(page) + "\n"


def definitions(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.name: node for node in tree.body if isinstance(node, (ast.ClassDef, ast.FunctionDef))}


def entry(name, node, value, module):
    """Heading, signature and text of a function or a class with its public members."""
    if isinstance(node, ast.FunctionDef):
        return [f"### {module}{name}", fenced(signature(node), "python"), numpy_style(docstring(value))]
    parts = [f"### {module}{name}", numpy_style(docstring(value))]
    for member in node.body:
        if not isinstance(member, ast.FunctionDef) or member.name.startswith("_") and member.name != "__init__":
            continue
        text = numpy_style(docstring(getattr(value, member.name, None)))
        if member.name != "__init__":
            kind = "attribute" if any(ast.unparse(mark) == "property" for mark in member.decorator_list) else ""
            shown = f"{member.name}: {ast.unparse(member.returns)}" if kind else signature(member)
            parts += [f"#### {name}.{member.name}", fenced(shown, "python"), text]
        elif type(value).__name__ == "pybind11_type":  # one made by Python's own code tells it under its name
            parts += [fenced(signature(member).replace("__init__", name).removesuffix(" -> None"), "python"), text]
    return parts


def signature(node):
    arguments = node.args
    for_who_calls = [one for one in arguments.args if one.arg not in ("self", "cls")]
    shown = ast.arguments(
        posonlyargs=arguments.posonlyargs, args=for_who_calls, vararg=arguments.vararg, kwonlyargs=arguments.kwonlyargs,
        kw_defaults=arguments.kw_defaults, kwarg=arguments.kwarg, defaults=arguments.defaults,
    )
    returns = f" -> {ast.unparse(node.returns)}" if node.returns else ""
    line = f"{node.name}({ast.unparse(shown)}){returns}"
    if len(line) <= 90:
        return line
    pieces, depth, start, text = [], 0, 0, ast.unparse(shown)
    for place, sign in enumerate(text):
        depth += (sign in "[(") - (sign in "])")
        if sign == "," and depth == 0:
            pieces.append(text[start:place])
            start = place + 1
    pieces.append(text[start:])
    return f"{node.name}(\n" + "".join(f"    {piece.strip()},\n" for piece in pieces) + f"){returns}"


def docstring(value):
    text = inspect.getdoc(value) or ""
    lines = text.split("\n")
    if re.match(r"\w+\(.*\) -> ", lines[0]):  # the binding's own line of types: the signature says it better
        lines = lines[1:]
    return "\n".join(lines).strip()


def numpy_style(text):
    """A docstring with `Parameters`, `Returns`, `Raises` underlined, as Markdown."""
    out, section, lines = [], "", text.split("\n")
    place = 0
    while place < len(lines):
        line = lines[place]
        if place + 1 < len(lines) and re.fullmatch(r"-{3,}", lines[place + 1]):
            section = line
            out += ["", f"**{line}**", ""]
            place += 2
            continue
        if section and line and not line.startswith(" "):
            name, _, kind = line.partition(" : ")
            out.append(f"- `{name}`" + (f" ({kind})" if kind else ""))
        elif section and line:
            out.append("    " + line.strip())
        else:
            out.append(line)
        place += 1
    lines = "\n".join(out).replace("``", "`")
    return re.sub(r"((?:^>>> .*\n?|^\.\.\. .*\n?)(?:^(?!>>>).+\n?)*)", r"```pycon\n\1\n```\n", lines, flags=re.M)


def results():
    """The classes of `spotwright.results`: what each record, and each JSON object, holds."""
    files = [PACKAGE / f"_results_{part}.py" for part in ("reading", "study", "bench")]
    trees = [ast.parse(file.read_text(encoding="utf-8")) for file in files]
    classes = [node for tree in trees for node in tree.body if isinstance(node, ast.ClassDef)]
    names = {node.name for node in classes}
    page = ["# Fields of results", "What `--json` prints and what the Python package returns: the same names in the same "
            "order. Names end in their units; [nomenclature](../nomenclature.md) says what each quantity is. *Sometimes*: "
            "only some scenarios have it. *None* is `null` in JSON: it does not exist.", "## Whole results"]
    whole = [node for node in classes if (ast.get_docstring(node) or "").startswith("Of ``")]
    for heading, group in (("", whole), ("## Parts of results", [node for node in classes if node not in whole])):
        page += [heading] * bool(heading)
        for node in group:
            page += record(node, names)
    return "\n\n".join(page) + "\n"


def record(node, names):
    rows = ["| field | type |", "| --- | --- |"]
    for member in node.body:
        if isinstance(member, ast.AnnAssign):
            rows.append(f"| `{member.target.id}` | {kind(ast.unparse(member.annotation), names)} |")
    bases = [kind(ast.unparse(base), names) for base in node.bases if ast.unparse(base) != "Record"]
    parts = [f"### {node.name} {{#{node.name.lower()}}}"]
    if bases:
        parts.append(f"All of {', '.join(bases)}, and:" if len(rows) > 2 else f"All of {', '.join(bases)}.")
    text = ast.get_docstring(node) or ""
    return parts + [text.replace("``", "`")] * bool(text) + ["\n".join(rows)] * (len(rows) > 2)


def kind(annotation, names):
    """A type in a table, with links to the classes it names."""
    text = html.escape(annotation.replace("Sometimes[", "sometimes [")).replace("|", "&#124;").replace("[", "&#91;")
    text = text.replace("]", "&#93;")
    return re.sub(r"\b[A-Z]\w+", lambda word: f"[{word[0]}](#{word[0].lower()})" if word[0] in names else word[0], text)


def headers():
    """A list of stations and their headers; Doxygen's pages beside it tell all."""
    page = ["# C++ headers", "Folders of `sim/` are stations on the light's path. "
            "[All names](../headers/globals.html) · [classes](../headers/annotated.html) · [files](../headers/files.html). "
            "These pages are made by Doxygen and have a search of their own."]
    folders = sorted({path.parent for path in (ROOT / "sim").rglob("*.hpp")})
    for folder in folders:
        rows = ["| header | in it |", "| --- | --- |"]
        for path in sorted(folder.glob("*.hpp")):
            rows.append(f"| [{path.name}](../headers/{doxygen_page(path)}) | {purpose(path)} |")
        page += [f"## {folder.relative_to(ROOT)}", "\n".join(rows)]
    return "\n\n".join(page) + "\n"


def purpose(path):
    lines = []
    for line in path.read_text(encoding="utf-8").split("\n"):
        if not line.startswith("// "):
            break
        lines.append(line[3:])
    first = re.split(r"(?<=\.) (?=[A-Z])", " ".join(lines))[0]
    return html.escape(first).replace("|", "&#124;").replace("*", "\\*").replace("_", "\\_")


def doxygen_page(path):
    """The name that Doxygen gives to a file's page, where file names that are not unique bear their folders."""
    spelt = {"_": "__", "/": "_2", ".": "_8", "-": "-"}
    alike = [one for one in (ROOT / "sim").rglob("*.hpp") if one.name == path.name]
    shown = path.name
    if len(alike) > 1:
        parts = path.relative_to(ROOT).parts
        shown = next("/".join(parts[-n:]) for n in range(2, len(parts) + 1)
                     if sum(one.parts[-n:] == parts[-n:] for one in alike) == 1)
    return "".join(spelt.get(sign, f"_{sign.lower()}" if sign.isupper() else sign) for sign in shown) + ".html"
