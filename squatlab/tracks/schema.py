"""The side file of a CSV file: a Table Schema that says what it means."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from squatlab.tracks.heading import LISTED, TIME, Heading
from squatlab.tracks.tracks import Tracks, TracksError

SCHEMA = "https://datapackage.org/profiles/2.0/tableschema.json"

ARGUMENTS = {
    "view": ("view", str),
    "units": ("units", str),
    "axes": ("axes", str),
    "rate_hz": ("rate", float),
    "scale_px_per_m": ("scale_px_per_m", float),
    "source": ("source", str),
    "notes": ("notes", list),
}
"""What the side file says beyond the columns, and what `receive` calls it."""


def schema_path(path: str | Path) -> Path:
    """Return where the side file of a CSV file is: <name>.schema.json."""
    return Path(path).with_suffix(".schema.json")


def write_schema(tracks: Tracks, path: Path, columns: list[str]) -> None:
    """Write beside a CSV file what its columns mean."""
    fields = [
        {"name": TIME, "type": "number", "unit": "s", "constraints": {"required": True}},
        *({"name": name, "type": "number", "unit": tracks.units} for name in columns[1:]),
    ]
    meaning = {
        "view": tracks.view,
        "units": tracks.units,
        "axes": tracks.axes,
        "rate_hz": tracks.rate,
        "scale_px_per_m": tracks.scale_px_per_m,
        "source": tracks.source,
        "notes": list(tracks.notes),
    }
    schema = {"$schema": SCHEMA, "fields": fields, "missingValues": [""], "squatlab": meaning}
    words = json.dumps(schema, indent=1, ensure_ascii=False)
    schema_path(path).write_text(words + "\n", encoding="utf-8")


def read_schema(path: Path, heading: Heading) -> dict[str, Any]:
    """Return what a CSV file's side file says, as arguments of `receive`.

    Empty if there is none. Raises TracksError if it is no Table Schema,
    or belongs to other columns.
    """
    side = schema_path(path)
    if not side.exists():
        return {}
    try:
        schema = json.loads(side.read_text(encoding="utf-8-sig"))
        units = {str(field["name"]): field.get("unit") for field in schema["fields"]}
        given = dict(schema.get("squatlab", {}))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise TracksError(
            f'the side file {side.name} is not a Table Schema with "fields" ({error}); mend it, or '
            "take it away and declare view and units when reading"
        ) from error
    absent = [name for name in units if name not in heading.columns]
    if absent:
        raise TracksError(
            f"the side file {side.name} describes columns that are not there: "
            f"{', '.join(absent[:LISTED])}; it may belong to another file"
        )
    meaning = _arguments(given, side.name)
    named = {str(unit) for name, unit in units.items() if name != TIME and unit is not None}
    named |= {meaning["units"]} if "units" in meaning else set()
    if len(named) > 1 or units.get(TIME, "s") not in ("s", None):
        raise TracksError(
            f"the side file {side.name} gives the units {', '.join(sorted(named))} and for time "
            f"{units.get(TIME, 's')}; use one unit for all positions, and s for time"
        )
    return meaning | ({"units": named.pop()} if named else {})


def _arguments(given: dict[str, Any], name: str) -> dict[str, Any]:
    arguments = {}
    for key, (argument, kind) in ARGUMENTS.items():
        value = given.get(key)
        if value in (None, "", []):
            continue
        if kind is float and type(value) is int:
            value = float(value)
        if (
            not isinstance(value, kind)
            or kind is list
            and not all(isinstance(v, str) for v in value)
        ):
            raise TracksError(
                f'the side file {name} says "{key}": {value!r}; that must be a {kind.__name__}'
            )
        arguments[argument] = value
    return arguments
