"""Words on the command line that no command can do anything with."""

from __future__ import annotations

import pytest

from fieldsim import cli
from fieldsim.cli.status import WRONG


@pytest.mark.parametrize(
    "words",
    [
        ("try", "a\0b.yaml"),
        ("watch", "x", "--picture", "\0"),
        ("a\0",),
        ("check", "\0\0"),
        ("base", "r", "--wear", "\0"),
    ],
)
def test_a_word_with_a_nought_in_it_is_refused_in_one_sentence(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.argv", ["fieldsim", *words])
    with pytest.raises(SystemExit) as end:
        cli.main()
    printed = capsys.readouterr()
    assert end.value.code == WRONG
    assert printed.out == ""
    assert "\0" not in printed.err
    assert "has a character in it that no word may have" in printed.err
    assert "\\0" in printed.err
