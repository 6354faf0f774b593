"""What is made once in a run: by one process, by several that share a folder, and after a failure."""

import pytest

from tests.once import Once


def test_one_process_makes_it_once():
    once, made = Once(), []
    for _ in range(3):
        assert once("numbers", lambda: made.append(1) or [1.5, 2.5]) == [1.5, 2.5]
    assert made == [1]


def test_another_process_of_the_run_finds_it(tmp_path):
    first, second = Once(), Once()
    first.folder = second.folder = tmp_path / "shared"
    assert first("numbers", lambda: [1.5, 2.5]) == [1.5, 2.5]
    assert second("numbers", lambda: pytest.fail("made again")) == [1.5, 2.5]
    assert second("other numbers", lambda: 3) == 3


def test_a_failure_is_that_of_each_process_and_nobody_waits_for_it(tmp_path):
    first, second = Once(), Once()
    first.folder = second.folder = tmp_path / "shared"
    with pytest.raises(ZeroDivisionError):
        first("number", lambda: 1 / 0)
    assert second("number", lambda: 2) == 2
