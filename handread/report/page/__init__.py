"""Pages: one HTML file, complete in itself; no script, nothing loaded from elsewhere."""

from handread.report.page.matrix import matrix_page
from handread.report.page.study import study_page
from handread.report.page.writing import write_page

__all__ = ["matrix_page", "study_page", "write_page"]
