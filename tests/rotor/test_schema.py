"""Both forms of the schema, by a validator from outside: good cases pass, bad ones do not, and both agree."""

import json
import tomllib

import jsonschema
import pytest

from rimmodel.cli import main
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case, read_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.rotor.case.schema_draft_07 import DIRECTIVE, SCHEMA_FILE, draft_07, is_schema_file
from rimmodel.version import VERSION
from tests.bad_inputs.case_slips import BLOCKED, REFUSED
from tests.bad_inputs.legal_cases import LEGAL

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
NEWER = jsonschema.Draft202012Validator(case_schema())
OLDER = jsonschema.Draft7Validator(draft_07(case_schema()))

WRONG_KEYS = (
    ("hoop_stiffness_factor = 0.85", "hoop_stifness_factor = 0.85"),
    ("[speeds]", "[speed]"),
    ('kind = "arms"\n', 'kind = "arm"\n'),
    ("[claims.float_speed]", "[claims.flot_speed]"),
    ("count = 40", 'count = "40"'),
    ('inner_radius = "3 m"', "inner_radius = 3"),
    ('excitation = "constant current"', 'excitation = "constant"'),
    ('quantity = "float_speed"', 'quantity = "speed"'),
    ('title = "My unit"\n', ""),
)


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Run the program in an empty folder: exit code and both streams."""
    monkeypatch.chdir(tmp_path)

    def call(*words):
        monkeypatch.setattr("sys.argv", ["rimmodel", *words])
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
        streams = capsys.readouterr()
        return code, streams.out, streams.err

    return call


def accepted(text):
    """Whether the validators accept a case; they must agree."""
    table = tomllib.loads(text.removeprefix("\ufeff"))
    newer, older = NEWER.is_valid(table), OLDER.is_valid(table)
    assert newer == older
    return newer


def test_both_are_schemas_of_their_draft(run):
    for words, draft in (((), jsonschema.Draft202012Validator), (("--draft-07",), jsonschema.Draft7Validator)):
        code, out, _ = run("check", "--schema", *words)
        assert code == 0
        schema = json.loads(out)
        assert jsonschema.validators.validator_for(schema) is draft
        draft.check_schema(schema)


def test_the_older_form_uses_nothing_that_its_draft_does_not_know():
    def look(node):
        if isinstance(node, dict):
            assert not {"$defs", "prefixItems", "unevaluatedProperties", "dependentRequired", "discriminator"} & {*node}
            assert "$ref" not in node or set(node) == {"$ref"}, "what stands beside a reference is not read"
            assert node.get("$ref", "#/definitions/").startswith("#/definitions/")
        for part in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
            look(part)

    look(draft_07(case_schema()))


@pytest.mark.independent
@pytest.mark.parametrize("name", ["quillmere.toml", "new_case.toml"])
def test_the_shipped_cases_are_accepted(name):
    assert accepted((EXAMPLES / name).read_text(encoding="utf-8"))


@pytest.mark.independent
@pytest.mark.parametrize("legal", LEGAL, ids=lambda legal: legal.name)
def test_legal_cases_are_accepted(legal):
    assert accepted(legal.text)


@pytest.mark.independent
@pytest.mark.parametrize(("old", "new"), WRONG_KEYS, ids=lambda text: text[:24])
def test_wrong_keys_words_and_types_are_refused_as_by_the_reader(old, new):
    assert old in NEW
    text = NEW.replace(old, new, 1)
    with pytest.raises(CaseError):
        parse_case(text.encode(), "case.toml")
    assert not accepted(text)


@pytest.mark.independent
def test_both_forms_agree_on_every_slip_and_find_some_themselves():
    verdicts = []
    for slip in (*REFUSED, *BLOCKED):
        try:
            tomllib.loads(slip.text)
        except (ValueError, RecursionError):  # no TOML, and so nothing that a schema could speak of
            continue
        verdicts.append(accepted(slip.text))
    assert len(verdicts) > 100
    assert False in verdicts


@pytest.mark.independent
def test_a_new_case_names_the_schema_that_lies_beside_it(run, tmp_path):
    code, out, err = run("new", "unit.toml")
    assert (code, out) == (0, "")
    assert SCHEMA_FILE in err
    text = (tmp_path / "unit.toml").read_text(encoding="utf-8")
    first = text.splitlines()[0]
    assert first == DIRECTIVE == f"#:schema ./{SCHEMA_FILE}"
    schema = json.loads((tmp_path / first.removeprefix("#:schema ")).read_text(encoding="utf-8"))
    assert VERSION in schema["$comment"]
    jsonschema.Draft7Validator.check_schema(schema)
    jsonschema.Draft7Validator(schema).validate(tomllib.loads(text))
    wrong = tomllib.loads(text.replace("stacking_factor", "staking_factor"))
    assert not jsonschema.Draft7Validator(schema).is_valid(wrong)
    assert read_case("unit.toml").title == "My unit"


def test_a_second_case_shares_the_schema_and_an_older_one_is_brought_up_to_date(run, tmp_path):
    assert run("new", "a.toml")[0] == 0
    schema = tmp_path / SCHEMA_FILE
    text = schema.read_text(encoding="utf-8")
    code, _, err = run("new", "b.toml")
    assert (code, SCHEMA_FILE in err) == (0, False)
    schema.write_text('{"$comment": "Written by rimmodel new, version 0.0.1"}', encoding="utf-8")
    assert run("new", "c.toml")[0] == 0
    assert schema.read_text(encoding="utf-8") == text
    assert run("new", "c.toml", "--force")[0] == 0  # as it was written


@pytest.mark.parametrize("standing", ["mine", '{"title": "mine"}', "[1]", ""])
def test_a_file_of_another_kind_is_not_replaced_by_the_schema(run, tmp_path, standing):
    (tmp_path / SCHEMA_FILE).write_text(standing, encoding="utf-8")
    for more in ((), ("--force",)):
        code, out, err = run("new", "unit.toml", *more)
        assert (code, out) == (2, "")
        assert f"{SCHEMA_FILE} is there and was not written by rimmodel" in err
    assert (tmp_path / SCHEMA_FILE).read_text(encoding="utf-8") == standing
    assert not (tmp_path / "unit.toml").exists()


def test_a_folder_in_the_place_of_the_schema_is_refused_before_the_case_is_written(run, tmp_path):
    (tmp_path / SCHEMA_FILE).mkdir()
    code, out, err = run("new", "unit.toml")
    assert (code, out) == (2, "")
    assert "is a directory" in err
    assert not (tmp_path / "unit.toml").exists()


def test_a_schema_file_is_known_by_its_comment_alone():
    assert not is_schema_file("[" * 100_000)
    assert not is_schema_file('{"$comment": 3}')
