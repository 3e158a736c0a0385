"""Writing a scenario's tables as a file that reads like one written by hand."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping


def to_toml(document: Mapping[str, Any]) -> str:
    """Write tables as TOML.

    Parameters
    ----------
    document : mapping
        Tables of a scenario file: texts, numbers, truth values, lists and tables of them.

    Returns
    -------
    str
        The file's text.
    """
    blocks = [_pairs({k: v for k, v in document.items() if not _is_block(v)})]
    for key, value in document.items():
        if isinstance(value, dict) and value and all(isinstance(v, dict) for v in value.values()):
            blocks += [
                f"[{_key(key)}.{_key(name)}]\n{_pairs(table)}" for name, table in value.items()
            ]
        elif isinstance(value, dict):
            blocks.append(f"[{_key(key)}]\n{_pairs(value)}")
        elif _is_block(value):
            blocks += [f"[[{_key(key)}]]\n{_pairs(table)}" for table in value]
    return "\n".join(block for block in blocks if block)


def _is_block(value: object) -> bool:
    rows = isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)
    return isinstance(value, dict) or rows


def _pairs(table: Mapping[str, Any]) -> str:
    return "".join(f"{_key(key)} = {_value(value)}\n" for key, value in table.items())


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _value(key)


def _value(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    # a JSON string, number or truth value is a TOML one, but for the delete character
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
