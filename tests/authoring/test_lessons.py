"""Lessons: what is begun can be solved, and an answer the readings do not lead to is reported."""

import pytest

from authoring.test_schemas import mistakes
from faultfinder.authoring.kinds import kind_of
from faultfinder.authoring.lessons import lessons_checked
from faultfinder.authoring.scaffold import begin
from faultfinder.rulebook.rulebook import rulebook_of
from faultfinder.source.content import content_folder
from faultfinder.source.shelf import open_shelf


def findings(folder):
    return list(lessons_checked(rulebook_of(open_shelf([content_folder("rules"), folder]))))


def test_what_is_begun_can_be_solved_and_fits_its_schema(tmp_path):
    path = begin("lesson", "tea-room", tmp_path)
    assert findings(tmp_path) == []
    assert mistakes(kind_of("lessons/tea-room"), path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            'found: ["open E at S1..S2"]',
            'found: ["open N at S1..S2"]',
            'lead to "open E at S1..S2"',
        ),
        ('found: ["open E at S1..S2"]', "found: []", "and not to a sound circuit"),
        ('found: ["open E at S1..S2"] #', "#", "no answer; a lesson says what was found"),
        ("open E at S1..S2", "opne E at S1..S2", "try open"),
        ("A-N: 15.25", "A-X: 15.25", "A-X"),
    ],
)
def test_a_lesson_that_does_not_come_out_is_reported(tmp_path, old, new, said):
    path = begin("lesson", "tea-room", tmp_path)
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    (one,) = findings(tmp_path)
    assert (one.file, one.rule) == (str(path), "lessons/tea-room")
    assert said in one.problem
