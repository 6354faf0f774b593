"""The mutation check stays true: every text it replaces is there once, and it tells caught from survived from bad."""

import pytest

from tests import mutation_check
from tests.mutation_check import MUTANTS, Mutant, caught_by, main, mutated

ARM = next(mutant for mutant in MUTANTS if mutant.name == "growth of an arm")
HARMLESS = Mutant("a comment", ARM.file, "# force of one arm per", "# force of an arm per", ARM.tests)


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_every_mutant_breaks_one_place_and_still_compiles(mutant):
    compile(mutated(mutant), mutant.file, "exec")
    assert mutant.text != mutant.broken
    assert mutant.text.count("\n") == mutant.broken.count("\n")


def test_every_mutant_has_its_own_name():
    assert len({mutant.name for mutant in MUTANTS}) == len(MUTANTS) >= 12


@pytest.mark.parametrize("text", ["no such text", "hub_radius"])
def test_a_text_that_does_not_stand_there_once_is_refused(text):
    with pytest.raises(ValueError, match=r'mutant "stale": its text stands \d+ times in behaviour/contact/spider.py'):
        mutated(Mutant("stale", ARM.file, text, "", ()))


@pytest.mark.parametrize(
    ("mutant", "code", "word"),
    [(ARM, 0, "caught    growth of an arm"), (HARMLESS, 1, "SURVIVED  a comment")],
    ids=["a factor", "a comment"],
)
def test_a_broken_formula_is_caught_and_a_changed_comment_survives(mutant, code, word, monkeypatch, capsys):
    monkeypatch.setattr(mutation_check, "MUTANTS", (mutant,))
    assert main([]) == code
    printed = capsys.readouterr().out
    assert word in printed
    assert f"{1 - code} of 1 caught; unbroken copy: passes" in printed


def test_a_mutant_that_does_not_import_is_not_caught():
    with pytest.raises(ValueError, match='mutant "typo": pytest ended with 4'):
        caught_by(Mutant("typo", ARM.file, "@cache", "@cach", ARM.tests))
