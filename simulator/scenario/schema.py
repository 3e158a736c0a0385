"""The JSON Schema of the scenario file, by which an editor completes and checks it."""

from __future__ import annotations

from typing import Any

from simulator.metering.accuracy import Kind as TransformerKind
from simulator.metering.accuracy import transformer_classes
from simulator.metering.catalogue import METHODS
from simulator.scenario.fields import LINES
from simulator.scenario.models import Scenario

Schema = dict[str, Any]
TRANSFORMERS: tuple[TransformerKind, ...] = ("current", "voltage")


def scenario_schema() -> Schema:
    """Generate the schema from the models.

    Returns
    -------
    dict
        JSON Schema. A file with labels of its own may have other names of conductors; what
        they are called is then checked only on reading.
    """
    schema: Schema = _with_any_labels(_with_words(Scenario.model_json_schema()))
    strict = _with_words(Scenario.model_json_schema(ref_template="#/then/$defs/{model}"))
    return schema | {"if": {"not": {"required": ["labels"]}}, "then": strict}


def _with_words(schema: Schema) -> Schema:
    """Name the methods and accuracy classes; leave out defaults that are numbers inside."""
    tables = schema["$defs"]
    tables["MethodTable"]["properties"]["name"]["enum"] = list(METHODS)
    for kind in TRANSFORMERS:
        table = tables[f"{kind.title()}TransformerTable"]
        table["properties"]["accuracy_class"]["anyOf"][0]["enum"] = list(transformer_classes(kind))
    found: Schema = _without_numbers(schema)
    return found


def _without_numbers(node: Any) -> Any:
    """Leave out the default of a text, which is the number that its parser gives."""
    if isinstance(node, list):
        return [_without_numbers(part) for part in node]
    if not isinstance(node, dict):
        return node
    forms = (node, *node.get("anyOf", ()), *node.get("oneOf", ()))
    parsed = any("examples" in form for form in forms)
    return {k: _without_numbers(part) for k, part in node.items() if k != "default" or not parsed}


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
