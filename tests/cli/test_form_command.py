"""The command that writes a blank form: a PDF where none was, or a clear refusal."""

import pytest

from exam_app.__main__ import main
from tests.printed import words_of


def test_form_is_written_where_no_file_is(tmp_path, capsys):
    path = tmp_path / "sheep.pdf"
    assert main(["form", "sheep", str(path), "--scope", "intake"]) == 0
    assert str(path) in capsys.readouterr().out
    printed = words_of(path.read_bytes())
    assert "Intakelook-over:sheep,blankform" in printed
    assert "Telephonenumberoftheclinic" in printed


def test_file_that_is_there_stays_as_it_is(tmp_path, capsys):
    path = tmp_path / "kept.pdf"
    path.write_bytes(b"kept")
    assert main(["form", "dog", str(path)]) == 1
    assert "Nothing was changed" in capsys.readouterr().err
    assert path.read_bytes() == b"kept"
    assert main(["form", "dog", str(tmp_path / "none" / "a.pdf")]) == 1


def test_species_and_scopes_that_are_not_there_are_named_with_those_that_are(capsys):
    for wrong in (["phoenix", "a.pdf"], ["dog", "a.pdf", "--scope", "focused"]):
        with pytest.raises(SystemExit) as ended:
            main(["form", *wrong])
        assert ended.value.code == 2
        assert "choose from" in capsys.readouterr().err
