"""The published schema describes the files that the program reads."""

import re
import tomllib
from pathlib import Path

import pytest

import lampwarden.rig
from lampwarden.domain.chamber import Chamber
from lampwarden.domain.file_schema import DURATION_PATTERN, schema
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Checkpoint, Exposure, Program
from lampwarden.domain.sheet import Sheet

SCENARIO = Path(lampwarden.rig.__file__).parent / "scenario"


def unknown(data, part, root, where=""):
    """Keys of a file that its schema does not list, and keys it misses, followed through tables and lists."""
    if "$ref" in part:
        part = root["$defs"][part["$ref"].rsplit("/", 1)[1]]
    if isinstance(data, list):
        return [found for one in data for found in unknown(one, part["items"], root, where)]
    if not isinstance(data, dict) or "properties" not in part:
        return []
    needed = [key for key in part.get("required", ()) if key not in data]
    found = [f"{where}.{key}" for key in (*needed, *(key for key in data if key not in part["properties"]))]
    for key, value in data.items():
        if key in part["properties"]:
            found += unknown(value, part["properties"][key], root, f"{where}.{key}")
    return found


@pytest.mark.parametrize(
    ("model", "file"),
    [(Program, "ferry_timetable"), (Program, "stifling_attic"), (Chamber, "chamber"), (Sheet, "sheet")],
)
def test_the_shipped_files_have_only_keys_of_the_schema(model, file):
    data = tomllib.loads((SCENARIO / f"{file}.toml").read_text(encoding="utf-8"))
    whole = schema(model)
    assert unknown(data, whole, whole) == []
    assert unknown({**data, "colour": 1}, whole, whole) == [".colour"]


def test_each_key_of_the_models_is_there_in_both_spellings():
    parts = schema()["$defs"]
    for model in (Exposure, Checkpoint):
        names = {n for name, field in model.model_fields.items() for n in (name, field.alias) if n}
        assert set(parts[model.__name__]["properties"]) == names
    assert parts["Checkpoint"]["required"] == ["name"]
    assert parts["Checkpoint"]["allOf"] == [{"anyOf": [{"required": ["at"]}, {"required": ["at_s"]}]}]


def test_durations_are_numbers_or_text_with_the_same_limits():
    pause = schema()["$defs"]["Checkpoint"]["properties"]["pause"]
    assert pause["anyOf"] == [
        {"type": "number", "minimum": 5, "maximum": 3600},
        {"type": "string", "pattern": DURATION_PATTERN},
    ]
    assert "anyOf" in schema()["$defs"]["Exposure"]["properties"]["end"]


@pytest.mark.parametrize("text", ["45 s", "15 min", "1 h 30 min", "1.5h", "2 d", " 8 h "])
def test_durations_as_text_fit_the_pattern(text):
    assert re.match(DURATION_PATTERN, text)
    assert Checkpoint(name="look", at=text).at_s > 0


@pytest.mark.parametrize("text", ["8", "8 hours", "", "h 8", "-1 h"])
def test_what_is_no_duration_does_not(text):
    assert not re.match(DURATION_PATTERN, text)
    with pytest.raises(ValueError, match="duration"):
        Checkpoint(name="look", at=text)


@pytest.mark.parametrize("model", [Program, Chamber, Sheet, Plan])
def test_every_schema_names_its_dialect_and_has_no_null(model):
    whole = schema(model)
    assert whole["$schema"].startswith("https://json-schema.org/")
    assert whole["additionalProperties"] is False
    assert "'null'" not in str(whole)
    assert "duration'" not in str(whole)
