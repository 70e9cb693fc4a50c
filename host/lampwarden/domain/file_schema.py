"""The JSON Schema of our TOML files, for editors that check while one writes, and for scripts."""

from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema

from .program import Program
from .units import seconds

DIALECT = GenerateJsonSchema.schema_dialect
DURATION_PATTERN = r"^\s*(\d+(\.\d+)?\s*(s|sec|min|h|d)\s*)+$"
"""How a duration may be written as text."""


def schema(model: type[BaseModel] = Program) -> dict[str, Any]:
    """JSON Schema of a file of this model, in the dialect of 2020-12; the program's by default.

    Keys are listed in both spellings ('start' and 'start_s'); durations are seconds or text such as '1 h 30 min'. What
    concerns several keys at once ('either end or dose_j_cm2') only the program itself checks.
    """
    written = model.model_json_schema(by_alias=True, schema_generator=_Durations)
    named = model.model_json_schema(by_alias=False, schema_generator=_Durations)
    parts = zip(written.get("$defs", {}).values(), named.get("$defs", {}).values(), strict=True)
    for table, other in [(written, named), *parts]:
        _both_spellings(table, other)
    return {"$schema": DIALECT, **_plain(written)}


class _Durations(GenerateJsonSchema):
    def function_before_schema(self, schema: Any) -> Any:
        found = super().function_before_schema(schema)
        if schema["function"]["function"] is seconds:
            found["duration"] = True
        return found


def _both_spellings(table: dict[str, Any], other: dict[str, Any]) -> None:
    """Adds the keys of the second spelling; a key that is needed may come in either."""
    if "properties" not in table:
        return
    either = []
    for one, two in zip(list(table["properties"]), other["properties"], strict=True):
        if one != two:
            table["properties"][two] = other["properties"][two]
            if one in table.get("required", ()):
                table["required"].remove(one)
                either.append({"anyOf": [{"required": [one]}, {"required": [two]}]})
    if either:
        table["allOf"] = either


def _plain(part: Any) -> Any:
    """Durations as number or text, no null (TOML has none), no titles that only repeat the key."""
    if isinstance(part, list):
        return [_plain(one) for one in part]
    if not isinstance(part, dict):
        return part
    if "properties" in part:
        part = part | {"properties": {key: _untitled(value) for key, value in part["properties"].items()}}
    kept = {key: _plain(value) for key, value in part.items()}
    if options := kept.get("anyOf"):
        options = [one for one in options if one != {"type": "null"}]
        kept = {**{key: value for key, value in kept.items() if key != "anyOf"}, "anyOf": options}
        if len(options) == 1:
            kept = {**{key: value for key, value in kept.items() if key != "anyOf"}, **options[0]}
    if kept.get("default", 0) is None:
        del kept["default"]
    if kept.pop("duration", False):
        limits = {"minimum": kept.pop("ge", 0), "maximum": kept.pop("le", None)}
        number = {"type": kept.pop("type")} | {key: value for key, value in limits.items() if value is not None}
        kept["anyOf"] = [number, {"type": "string", "pattern": DURATION_PATTERN}]
    return kept


def _untitled(part: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in part.items() if key != "title"}
