"""The JSON Schema of the scenario file, by which an editor completes and checks it."""

from __future__ import annotations

from typing import Any

from simulator.scenario.fields import LINES
from simulator.scenario.models import Scenario

Schema = dict[str, Any]


def scenario_schema() -> Schema:
    """Generate the schema from the models.

    Returns
    -------
    dict
        JSON Schema. A file with labels of its own may have other names of conductors; what
        they are called is then checked only on reading.
    """
    schema: Schema = _with_any_labels(Scenario.model_json_schema())
    strict = Scenario.model_json_schema(ref_template="#/then/$defs/{model}")
    return schema | {"if": {"not": {"required": ["labels"]}}, "then": strict}


def _with_any_labels(node: Any) -> Any:
    """Allow other names wherever the models have those of conductors, as keys or as values."""
    if isinstance(node, list):
        return [_with_any_labels(part) for part in node]
    if not isinstance(node, dict):
        return node
    found = {key: _with_any_labels(part) for key, part in node.items()}
    if any("L1" in str(text) for text in found.get("enum", ())):
        del found["enum"]
    if LINES[0] in found.get("properties", ()):
        found["additionalProperties"] = found["properties"][LINES[0]]
        found["required"] = [key for key in found.get("required", ()) if key not in LINES]
    return found
