"""What lists show leaves the store as values with names, not as text by text."""

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2] / "exam_app"
UNTYPED = ("Document", "dict[str, Any]", "Mapping[str, Any]")
# A whole thing in its plain form is read by ``from_plain`` or by the merging of two.
PLAIN = {
    "Animals.get",
    "Drafts.get",
    "OwnerBlocks.get",
    "OwnerBlocks.of",
    "ClosedExam.to_row",
    "People.all",
    "People.get",
}
# Few rows each, read by one screen.
NOT_YET = {
    "BackupsMade.all",
    "LossReports.read",
    "Overview.bundles",
    "Overview.devices",
    "device_rows",
    "paired_devices",
}


def given(folder: Path) -> set[str]:
    """Give the public functions and attributes whose type says no names."""
    found = set()
    for path in sorted(folder.glob("*.py")):
        for node in ast.parse(path.read_text()).body:
            inside = node.body if isinstance(node, ast.ClassDef) else [node]
            owner = f"{node.name}." if isinstance(node, ast.ClassDef) else ""
            for one in inside:
                if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef):
                    name, kind = one.name, one.returns
                elif isinstance(one, ast.AnnAssign):
                    name, kind = ast.unparse(one.target), one.annotation
                else:
                    continue
                says = ast.unparse(kind) if kind else ""
                if not name.startswith("_") and any(text in says for text in UNTYPED):
                    found.add(f"{owner}{name}")
    return found


def test_no_row_of_a_list_leaves_the_store_as_fields_by_text():
    folders = (ROOT / "store" / "repositories", ROOT / "app" / "queries")
    assert set().union(*map(given, folders)) == PLAIN | NOT_YET


def test_a_function_that_gives_a_row_by_text_is_found(tmp_path):
    text = "class Kept:\n    def rows(self) -> list[dict[str, Any]]: ...\n"
    (tmp_path / "one.py").write_text(f"{text}    def _own(self) -> Document: ...\n")
    assert given(tmp_path) == {"Kept.rows"}
