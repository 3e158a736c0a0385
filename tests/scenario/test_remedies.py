"""A file that cannot be read: the message says what to do about it."""

from __future__ import annotations

import pytest

from simulator.errors import ScenarioError
from simulator.scenario.reader import parse_scenario, read_bytes

HEAD = 'title = "t"\n'


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("L1 = 20 ohm", '; texts and quantities stand in quotation marks, as in "20 ohm"'),
        ("L1 = 20 ohm  # wet", '; texts and quantities stand in quotation marks, as in "20 ohm"'),
        ("L1 = 50 ohm, 0.6 lag", ', as in "50 ohm, 0.6 lag"'),
        ("name = ovens", ', as in "ovens"'),
        ("L1 = “20 ohm”", '; quotation marks must be straight, as in "400 V"'),
        ('L1 = "20 ohm', "; a quotation mark is missing"),
        ("accuracy_class = 0,5", "; a decimal point, no comma"),
        ('title = "u"', "; this key stands there twice"),
        ("[supply", "(at line 2, column 8)"),
        ("wires = 03", "(at line 2, column 10)"),
    ],
)
def test_what_is_no_toml_comes_with_its_usual_reason(line, remedy):
    with pytest.raises(ScenarioError, match=r"expected TOML: .*line 2, ") as caught:
        parse_scenario(f"{HEAD}{line}\n[method]\n")
    assert str(caught.value).endswith(remedy)


def test_the_line_of_another_encoding():
    with pytest.raises(ScenarioError, match="UTF-8, line 2 is not; save it as UTF-8"):
        parse_scenario((HEAD + 'description = "Übung"').encode("latin-1"))


def test_a_file_of_a_similar_name(tmp_path):
    (tmp_path / "lesson.toml").write_text(HEAD)
    for wrong in ("lesson", "lessn.toml"):
        with pytest.raises(ScenarioError, match=r"; did you mean 'lesson\.toml'\?$"):
            read_bytes(tmp_path / wrong)
    for wrong in (tmp_path / "other.csv", tmp_path / "no folder" / "lesson.toml"):
        with pytest.raises(ScenarioError, match=r"No such file or directory$"):
            read_bytes(wrong)
