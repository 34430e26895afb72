"""The habits of DEVELOPERS.md that a test can keep true."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import re
import subprocess
import typing
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import msgspec
import numpy as np
import pytest

from tests.docs.sources import published_files, source_lines

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "handread"
TESTS = ROOT / "tests"
LONGEST_FILE = 600

#: Packages of optional extras; a module that needs one is looked at where it is installed.
OPTIONAL = {"pymc", "arviz", "pytensor", "matplotlib", "dask", "distributed"}

#: Packages whose public classes keep the habits of values, exported or not.
WHOLE = ("handread.fitting",)

#: Functions exported by ``handread.reading`` that infer nothing, each with the reason.
NO_INFERENCE: dict[str, str] = {
    "build_model": "puts card, weights and prior together",
    "default_weights": "reads a file",
    "stored_model": "reads a file",
    "stored_prior": "reads a file",
}


def nothing(faults: Iterable[object]) -> None:
    """Fail with every fault on a line of its own."""
    lines = [str(fault) for fault in faults]
    assert not lines, "\n".join(["", *lines])


def python_files() -> list[Path]:
    return sorted([*PACKAGE.rglob("*.py"), *TESTS.rglob("*.py")])


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def public_modules() -> Iterator[ModuleType]:
    for path in sorted(PACKAGE.rglob("*.py")):
        name = module_name(path)
        if "._" in name or name.endswith(".__main__"):
            continue
        try:
            yield importlib.import_module(name)
        except ModuleNotFoundError as error:
            if error.name not in OPTIONAL:
                raise


def defined_here(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """Public functions and classes that the module itself defines."""
    for name, value in vars(module).items():
        home = getattr(value, "__module__", None)
        if not name.startswith("_") and callable(value) and home == module.__name__:
            yield f"{module.__name__}.{name}", value


def public_classes() -> Iterator[tuple[str, type]]:
    """Classes that a module exports, or a package above it; all, where none says what it does.

    All as well in the packages of ``WHOLE``, whose classes go from module to module.
    """
    for module in public_modules():
        lists = [vars(above)["__all__"] for above in above_and(module) if "__all__" in vars(above)]
        if any(module.__name__.startswith(f"{package}.") for package in WHOLE):
            lists = []
        for name, value in defined_here(module):
            if inspect.isclass(value) and (not lists or any(value.__name__ in x for x in lists)):
                yield name, value


def above_and(module: ModuleType) -> list[ModuleType]:
    """The module and the packages that hold it, handread itself left out."""
    parts = module.__name__.split(".")
    return [importlib.import_module(".".join(parts[:n])) for n in range(2, len(parts) + 1)]


# --- small rooms ---


def test_files_stay_small() -> None:
    lengths = {
        path.relative_to(ROOT): path.read_text(encoding="utf-8").count("\n")
        for path in python_files()
    }
    nothing({path: n for path, n in lengths.items() if n > LONGEST_FILE}.items())


def test_every_folder_is_a_package() -> None:
    """The contracts of import-linter pass over a folder that is none."""
    folders = {path.parent for path in PACKAGE.rglob("*.py")}
    nothing(folder for folder in folders if not (folder / "__init__.py").is_file())


# --- published values carry their source ---


def test_published_values_name_their_source() -> None:
    files = published_files()
    assert files, "tests/published is empty"
    nothing([path.name for path in files if not source_lines(path)])


# --- every grammar goes both ways ---


def functions_named(prefix: str) -> dict[str, str]:
    """Public functions at the top of a module whose names begin so: rest of name -> module."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith(prefix):
                found[node.name.removeprefix(prefix)] = module_name(path)
    return found


def property_tests() -> Iterator[set[str]]:
    """Names used in each function of the tests that hypothesis drives."""
    for path in sorted(TESTS.rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and any(
                "given" in {getattr(part, "id", ""), getattr(part, "attr", "")}
                for decorator in node.decorator_list
                for part in ast.walk(decorator)
            ):
                yield {
                    name
                    for part in ast.walk(node)
                    for name in (getattr(part, "id", ""), getattr(part, "attr", ""))
                }


def test_every_parser_has_a_formatter() -> None:
    parsers, formatters = functions_named("parse_"), functions_named("format_")
    assert "kind" in parsers
    nothing(sorted({f"{parsers[x]}.parse_{x}" for x in parsers.keys() - formatters.keys()}))


def test_every_parser_has_a_property_test_of_the_round_trip() -> None:
    tests = list(property_tests())
    missing = [
        f"{module}.parse_{what}"
        for what, module in functions_named("parse_").items()
        if not any({f"parse_{what}", f"format_{what}"} <= names for names in tests)
    ]
    nothing(missing)


# --- values that do not change ---


def is_value(kind: type) -> bool:
    return dataclasses.is_dataclass(kind) or issubclass(kind, msgspec.Struct)


def is_frozen(kind: type) -> bool:
    if dataclasses.is_dataclass(kind):
        return bool(kind.__dataclass_params__.frozen)  # type: ignore[attr-defined]
    return bool(kind.__struct_config__.frozen)  # type: ignore[attr-defined]


def fields_of(value: Any) -> list[str]:
    if dataclasses.is_dataclass(value):
        return [field.name for field in dataclasses.fields(value)]
    return list(value.__struct_fields__)


def test_public_values_are_frozen() -> None:
    values = {name: kind for name, kind in public_classes() if is_value(kind)}
    assert values
    nothing([name for name, kind in values.items() if not is_frozen(kind)])


def is_array_hint(hint: Any) -> bool:
    """Whether an annotation is an array, an optional one, or a tuple or mapping of arrays."""
    origin = typing.get_origin(hint) or hint
    if origin is Callable:
        return False
    return origin is np.ndarray or any(is_array_hint(part) for part in typing.get_args(hint))


def holds_arrays(kind: type) -> bool:
    hints = typing.get_type_hints(kind)
    return any(is_array_hint(hints[name]) for name in fields_of(kind) if name in hints)


def test_values_that_hold_arrays_compare_by_content_and_have_no_hash() -> None:
    """A generated ``__eq__`` would ask for the truth of an array, the default one for identity."""
    faults = []
    for name, kind in public_classes():
        if not is_value(kind) or not holds_arrays(kind):
            continue
        written = [base for base in kind.__mro__ if inspect.isfunction(vars(base).get("__eq__"))]
        if not written:
            faults.append(f"{name}: compares by identity")
        elif dataclasses.is_dataclass(kind) and "__eq__" in generated(kind):
            faults.append(f"{name}: its generated __eq__ cannot compare arrays")
        if kind.__hash__ is not None:
            faults.append(f"{name}: has a hash")
    nothing(faults)


def generated(kind: type) -> set[str]:
    """Methods of a dataclass that no source file holds."""
    functions = {name: f for name, f in vars(kind).items() if inspect.isfunction(f)}
    return {name for name, f in functions.items() if f.__code__.co_filename == "<string>"}


def arrays_in(value: Any, name: str, seen: set[int]) -> Iterator[tuple[str, np.ndarray[Any, Any]]]:
    """Every array within a value, through its fields, tuples and mappings."""
    if id(value) in seen:
        return
    seen.add(id(value))
    if isinstance(value, np.ndarray):
        yield name, value
    elif isinstance(value, tuple | list | frozenset):
        for index, part in enumerate(value):
            yield from arrays_in(part, f"{name}[{index}]", seen)
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from arrays_in(part, f"{name}[{key!r}]", seen)
    elif not inspect.isclass(value) and is_value(type(value)):
        for field in fields_of(value):
            yield from arrays_in(getattr(value, field), f"{name}.{field}", seen)


def test_arrays_in_constants_cannot_be_written() -> None:
    seen: set[int] = set()
    found = [
        pair
        for module in public_modules()
        for name, value in vars(module).items()
        for pair in arrays_in(value, f"{module.__name__}.{name}", seen)
    ]
    assert any(name.endswith(".COPIES") for name, _ in found)
    nothing([name for name, array in found if array.flags.writeable])


def test_arrays_in_values_of_the_main_job_cannot_be_written() -> None:
    import handread as hr

    card = hr.house_card()
    record = hr.load_record(str(ROOT / "data" / "records" / "change-of-plan.txt"))
    reader = hr.Reader(card)
    evidence = [reader.observe(event) for event in record.public(viewer="floor")]
    seen: set[int] = set()
    values = {"card": card, "record": record, "evidence": evidence, "reader": vars(reader)}
    found = [pair for name, value in values.items() for pair in arrays_in(value, name, seen)]
    assert found
    nothing([name for name, array in found if array.flags.writeable])


# --- docstrings say what is so ---


def section(docstring: str, title: str) -> list[str]:
    """Names listed in a section of a numpy docstring, ``*`` before a name left out."""
    lines = inspect.cleandoc(docstring).splitlines()
    rule = "-" * len(title)
    starts = [i for i in range(len(lines) - 1) if lines[i] == title and lines[i + 1] == rule]
    if not starts:
        return []
    names: list[str] = []
    for index in range(starts[0] + 2, len(lines)):
        line = lines[index]
        if index + 1 < len(lines) and re.fullmatch(r"-{3,}", lines[index + 1]):
            break
        if line and not line.startswith(" "):
            listed = line.split(" : ")[0].rstrip(" :")
            names += [name.strip().lstrip("*") for name in listed.split(",")]
    return names


def functions_with_docstrings() -> Iterator[tuple[str, Any]]:
    for module in public_modules():
        for name, value in defined_here(module):
            if not inspect.isclass(value):
                yield name, value
                continue
            for attribute, member in vars(value).items():
                function = inspect.unwrap(getattr(member, "__func__", member))
                if not attribute.startswith("_") and inspect.isfunction(function):
                    yield f"{name}.{attribute}", function


def test_docstrings_list_the_real_parameters() -> None:
    faults = {}
    for name, function in functions_with_docstrings():
        listed = section(function.__doc__ or "", "Parameters")
        parameters = inspect.signature(function).parameters.values()
        real = [p.name for p in parameters if p.name not in ("self", "cls")]
        keyword_only = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
        in_order = [name for name in listed if name not in keyword_only]
        if listed and (
            sorted(listed) != sorted(real) or in_order != [p for p in real if p not in keyword_only]
        ):
            faults[name] = f"documents {listed}, takes {real}"
    nothing(faults.items())


def test_docstrings_of_classes_list_real_attributes_and_parameters() -> None:
    faults = {}
    for name, kind in public_classes():
        docstring = kind.__doc__ or ""
        attributes = section(docstring, "Attributes")
        annotated = {key for base in kind.__mro__ for key in inspect.get_annotations(base)}
        source = inspect.getsource(kind)
        if wrong := [
            x
            for x in attributes
            if not hasattr(kind, x) and x not in annotated and f"self.{x} = " not in source
        ]:
            faults[name] = f"has no {wrong}"
        if parameters := section(docstring, "Parameters"):
            real = list(inspect.signature(kind).parameters)
            if parameters != real:
                faults[name] = f"documents {parameters}, takes {real}"
    nothing(faults.items())


def test_the_docstring_reader_reads() -> None:
    docstring = """Do.

    Parameters
    ----------
    a, b
        Two.
    c : int
        Three.
    *rest
        Others.

    Returns
    -------
    int
    """
    assert section(docstring, "Parameters") == ["a", "b", "c", "rest"]
    assert section(docstring, "Attributes") == []


# --- an oracle for every inference routine ---


def test_every_inference_name_meets_its_oracle() -> None:
    reading = importlib.import_module("handread.reading")
    exported = [name for name in reading.__all__ if inspect.isfunction(getattr(reading, name))]
    assert exported
    assert set(NO_INFERENCE) <= set(exported), "exempted here, but not exported"
    oracle = [
        path.read_text(encoding="utf-8")
        for path in sorted((TESTS / "oracle").rglob("*.py"))
    ]  # fmt: skip
    missing = [
        name
        for name in exported
        if name not in NO_INFERENCE and not any(re.search(rf"\b{name}\b", text) for text in oracle)
    ]
    nothing(missing)


# --- the text speaks of the project alone ---

# Written in pieces, so that this file passes its own test.
_FOREIGN = re.compile(
    "|".join(
        [
            r"(?<![\w.~])/(?:" + "|".join(("work", "root", "home", "Users")) + r")/",
            r"(?<![\w.])/tmp/" + "v/",
            r"\b[A-Z]:" + r"\\Users",
            r"\b(?:files\.)?python" + r"hosted\.org",
            r"\bpypi\." + r"(?:org|python)",
            r"\bregistry\." + r"(?:npmjs|yarnpkg)",
            r"\bdeb\.debian" + r"\.org",
            r"\b(?:extra-)?index-" + r"url\b",
            r"\bfile:" + r"//",
            r"\bissue " + r"#?\d",
        ]
    )
)
_LOCKS = {"poetry.lock", "uv.lock", "pdm.lock", "Pipfile.lock", "pylock.toml", "package-lock.json"}
_NOT_OURS = {"__pycache__", "dist", "build", "node_modules"}


def project_files() -> list[Path]:
    """Files that git knows or would add; without git, all but hidden and built ones."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode == 0 and done.stdout and (ROOT / ".git").exists():
        found = [ROOT / name for name in done.stdout.split("\0") if name]
        return sorted(path for path in found if path.is_file())
    return sorted(
        path
        for path in ROOT.rglob("*")
        if path.is_file()
        and not any(
            part in _NOT_OURS
            or part.endswith(".egg-info")
            or (part.startswith(".") and part not in (".ci", ".gitignore"))
            for part in path.relative_to(ROOT).parts
        )
    )


def foreign_lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if _FOREIGN.search(line)]


def test_files_name_no_machine_and_no_registry() -> None:
    files = project_files()
    assert ROOT / "README.md" in files
    faults = {}
    for path in files:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        if lines := foreign_lines(text):
            faults[str(path.relative_to(ROOT))] = lines
    nothing(faults.items())


def test_no_lock_file_is_kept() -> None:
    nothing([path.name for path in project_files() if path.name in _LOCKS])


@pytest.mark.parametrize(
    ("text", "foreign"),
    [
        ("see /" + "work/main", True),
        ("open('/" + "home/ann/x')", True),
        ("https://pypi" + ".org/simple", True),
        ("as issue" + " 12 says", True),
        ("data/" + "work/main", False),
        ("~/.pyenv/versions", False),
        ("a clear issue, 12 tiles", False),
    ],
)
def test_the_text_rule_bites(text: str, foreign: bool) -> None:
    assert bool(foreign_lines(text)) is foreign
