"""``example`` on the command line."""

from __future__ import annotations

from analysis.cli import main
from analysis.model.workshop import Form
from analysis.services import example
from analysis.services.log import forms, open_log
from analysis.services.records import add


def test_writes_the_workshop(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(example, "_add_photo", lambda *_: None)

    assert main(["example", "--log", str(tmp_path)]) == 0

    assert "26 pours, 221 pieces" in capsys.readouterr().out
    assert len(forms(open_log(tmp_path))) == 9


def test_refuses_a_log_in_use(tmp_path, capsys):
    add(open_log(tmp_path), Form(name="My trough"), save_token="own")

    assert main(["example", "--log", str(tmp_path)]) == 2
    assert "holds other forms or pieces" in capsys.readouterr().err


def test_refuses_a_blank_log(capsys):
    assert main(["example", "--log", " "]) == 2
    assert "is blank" in capsys.readouterr().err
