"""From a folder of results to a page on disk."""

from __future__ import annotations

from pathlib import Path

from handread.errors import HandreadError
from handread.report.page.matrix import matrix_page
from handread.report.page.study import study_page
from handread.study import summary_from_json
from handread.study.matrix import read_matrix
from handread.study.running import read_result
from handread.study.running.store import put_file


def write_page(folder: str | Path, out: str | Path | None = None) -> Path:
    """Write the page of a finished study or matrix.

    Parameters
    ----------
    folder
        Folder of the results.
    out
        File of the page; ``report.html`` in the folder if None.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    HandreadError
        If the folder holds neither, or one that is not finished.
    """
    place = Path(folder)
    if (place / "matrix.json").exists():
        page = matrix_page(read_matrix(place))
    elif (place / "study.json").exists():
        figures = place / "summary.json"
        summary = summary_from_json(figures.read_bytes()) if figures.exists() else None
        page = study_page(read_result(place), summary)
    else:
        raise HandreadError(
            f"{str(place)!r} holds neither study.json nor matrix.json; accepted: the folder of a "
            "study, study-NAME unless another was given"
        )
    file = Path(out) if out is not None else place / "report.html"
    put_file(file, page.encode())
    return file
