"""The files that come with handread are found in a checkout, an editable install and a wheel."""

from __future__ import annotations

import json
import tarfile
import zipfile
from pathlib import Path

import pytest

from handread.errors import HandreadError
from handread.shipped import NotShipped, available, shipped
from tests.packaging.clean import ask_clean, run_clean
from tests.packaging.conftest import Install, build, unpack

FOLDERS = (("data", "cards"), ("data", "records"), ("data", "studies"), ("models",))
DEMO = ("data", "records", "change-of-plan.txt")

LOOK = f"""
import handread
from handread.shipped import available, shipped
answer = {{"package": handread.__file__, "files": {{}}}}

def look(*parts):
    for name in available(*parts):
        path = shipped(*parts, name)
        if path.is_dir():
            look(*parts, name)
        else:
            answer["files"]["/".join((*parts, name))] = str(path)

for folder in {FOLDERS!r}:
    look(*folder)
"""


def shipped_files(checkout: Path) -> dict[str, bytes]:
    """What the checkout holds, by a plain walk."""
    return {
        path.relative_to(checkout).as_posix(): path.read_bytes()
        for folder in FOLDERS
        for path in checkout.joinpath(*folder).rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }


def test_the_checkout_has_something_to_ship(checkout: Path) -> None:
    for folder in FOLDERS:
        top = "/".join(folder)
        assert any(name.startswith(top) for name in shipped_files(checkout)), top


def test_each_install_finds_every_file(install: Install, checkout: Path, tmp_path: Path) -> None:
    found = ask_clean(LOOK, install.folder, tmp_path, as_site=install.as_site)
    package = install.root.parent if install.root.name == "_shipped" else install.root / "handread"
    assert Path(found["package"]).parent == package
    contents = {name: Path(path).read_bytes() for name, path in found["files"].items()}
    assert contents == shipped_files(checkout)
    assert all(Path(path).is_relative_to(install.root) for path in found["files"].values())


@pytest.fixture
def printed(install: Install, tmp_path: Path) -> str:
    """What an install prints of a demo; not a test's own work, since a new one compiles for it."""
    demo = str(install.root.joinpath(*DEMO))
    return run_clean(
        "from handread.cli import main\nmain()",
        install.folder,
        tmp_path,
        as_site=install.as_site,
        arguments=("read", demo, "--json"),
    )


def test_each_install_does_the_main_job(printed: str) -> None:
    assert set(json.loads(printed)["seats"]) == {"East", "South", "West", "North"}


@pytest.mark.parametrize("install", ["wheel"], indirect=True)
def test_a_first_reading_compiles_each_pass_once(install: Install, printed: str) -> None:
    """An array read-only at one call and writable at the next would compile a pass again."""
    assert printed
    compiled = [path.name for path in install.folder.rglob("*.nbc")]
    assert len([name for name in compiled if name.endswith(".1.nbc")]) > 30
    assert [name for name in compiled if not name.endswith(".1.nbc")] == []


def test_the_wheel_holds_the_package_and_nothing_of_the_checkout_beside_it(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"handread"}
    assert "handread/py.typed" in names
    assert not [name for name in names if "__pycache__" in name or "/tests/" in name]
    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_a_wheel_from_the_sdist_is_the_same(wheel: Path, sdist: Path, tmp_path: Path) -> None:
    with tarfile.open(sdist) as archive:
        archive.extractall(tmp_path, filter="data")
    source = tmp_path / sdist.name.removesuffix(".tar.gz")
    again = build("wheel", source, tmp_path / "dist")
    first, second = unpack(wheel, tmp_path / "first"), unpack(again, tmp_path / "second")

    def contents(folder: Path) -> dict[str, bytes]:
        files = (path for path in folder.rglob("*") if path.is_file())
        return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}

    assert contents(first) == contents(second)


def test_a_missing_file_says_where_it_looked_and_what_is_there(checkout: Path) -> None:
    with pytest.raises(NotShipped, match=r"no 'data/card': looked in .*data; did you mean 'cards'"):
        shipped("data", "card", "house.toml")
    with pytest.raises(NotShipped, match=r"no 'data/records/nowhere'.*accepted: "):
        shipped("data", "records", "nowhere")


@pytest.mark.parametrize(
    "parts", [(), ("",), ("handread",), ("/etc",), ("data", "..", "pyproject.toml"), ("data/../x",)]
)
def test_only_shipped_names_are_taken(parts: tuple[str, ...]) -> None:
    with pytest.raises(
        NotShipped, match=r"names nothing that is shipped.*'data/\.\.\.' or 'models"
    ):
        shipped(*parts)


def test_the_error_is_one_of_ours_and_a_missing_file() -> None:
    assert issubclass(NotShipped, HandreadError)
    assert issubclass(NotShipped, FileNotFoundError)


def test_available_wants_a_folder(checkout: Path) -> None:
    name = available("data", "records")[0]
    with pytest.raises(NotShipped, match=rf"'data/records/{name}' is a file, not a folder"):
        available("data", "records", name)
    with pytest.raises(NotShipped, match="that is a file"):
        shipped("data", "records", name, "deeper")
