"""Build the API reference from the docstrings; warnings are errors.

Run ``python -m tests.docs.reference FOLDER``; needs the extra ``docs``. Each public module is
a page. A package's page lists the names that it exports, linked to where they are defined.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
import tempfile
from pathlib import Path
from types import ModuleType

import handread

OPTIONAL = ("pymc", "arviz", "pytensor", "matplotlib", "dask", "distributed")

# References to names of other packages are not checked: that would need their inventories.
_CONF = """
project = "handread"
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon"]
autodoc_member_order = "bysource"
autodoc_mock_imports = {mock!r}
napoleon_google_docstring = False
napoleon_use_ivar = True
nitpicky = True
nitpick_ignore_regex = [
    (r".*", r"(?!handread\\b).*"), (r".*", r"handread\\..*\\b_.*"),
    (r".*", r"handread\\..*\\.([A-Z]|Out)"),  # type variables
]
suppress_warnings = ["ref.python"]  # a name that two modules have, each by its own right
html_theme = "alabaster"
html_copy_source = False
"""


def modules() -> list[str]:
    """Names of the public modules, packages before what they hold."""
    root = Path(handread.__file__).parent
    files = [path.relative_to(root.parent).with_suffix("") for path in root.rglob("*.py")]
    names = [".".join(path.parts).removesuffix(".__init__") for path in files]
    return sorted(name for name in names if "._" not in name)


def exported(module: ModuleType) -> list[str]:
    """Full names of what a package exports from its modules, as they are defined."""
    names = []
    for name in getattr(module, "__all__", ()):
        value = getattr(module, name)
        home, within = getattr(value, "__module__", None), getattr(value, "__qualname__", None)
        if home and within and home.startswith("handread.") and home != module.__name__:
            names.append(f"{home}.{within}")
    return names


def page(name: str) -> str:
    """Text of one module's page in reStructuredText."""
    lines = [name, "=" * len(name), "", f".. automodule:: {name}"]
    lines += ["   :members:", "   :show-inheritance:", "   :ignore-module-all:", ""]
    try:
        module = importlib.import_module(name)
    except ModuleNotFoundError as error:
        if error.name not in OPTIONAL:
            raise
        return "\n".join(lines)
    if hasattr(module, "__path__") and (names := exported(module)):
        lines += ["Exported here:", ""] + [f"* :py:obj:`{full}`" for full in names] + [""]
    return "\n".join(lines)


def build(into: Path) -> int:
    """Write the pages to a scratch folder and have Sphinx build them; its exit status."""
    from sphinx.cmd.build import main as sphinx

    mock = [name for name in OPTIONAL if importlib.util.find_spec(name) is None]
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder)
        (source / "conf.py").write_text(_CONF.format(mock=mock), encoding="utf-8")
        names = modules()
        for name in names:
            (source / f"{name}.rst").write_text(page(name), encoding="utf-8")
        toc = "".join(f"   {name}\n" for name in names)
        index = f"handread\n========\n\n.. toctree::\n   :maxdepth: 1\n\n{toc}"
        (source / "index.rst").write_text(index, encoding="utf-8")
        flags = ["--fail-on-warning", "--keep-going", "--quiet", "--fresh-env"]
        return sphinx([*flags, "--builder", "html", str(source), str(into)])


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit("usage: python -m tests.docs.reference FOLDER")
    raise SystemExit(build(Path(sys.argv[1])))
