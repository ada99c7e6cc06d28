"""Writes README's table of the answer's fields: `python -m tests.record_table`."""

import re
from pathlib import Path
from typing import Final, get_args

from pydantic import BaseModel

from service.judge.record import Answer

README: Final = Path(__file__).resolve().parent.parent / "README.md"
BEGIN: Final = "<!-- fields of the answer: python -m tests.record_table -->"
END: Final = "<!-- end of the fields -->"


def rows(model: type[BaseModel], before: str, told: dict[type[BaseModel], str]) -> list[str]:
    """Return a line of the table for each field, and under it those of the part it holds, each part once."""
    lines = []
    for name, field in model.model_fields.items():
        path = f"{before}{field.serialization_alias or name}"
        kind = str(field.annotation)
        inner = f"{path}{'.*' if 'dict[' in kind else '[]' if 'list[' in kind else ''}"
        parts = parts_of(field.annotation)
        again = "".join(f" Its fields are those of `{told[part]}`." for part in parts if part in told)
        lines.append(f"| `{path}` | {field.description}{again} |")
        for part in parts:
            if part not in told:
                told[part] = inner
                lines.extend(rows(part, f"{inner}.", told))
    return lines


def parts_of(annotation: object) -> list[type[BaseModel]]:
    """Return the parts of the record that a field's type holds."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [part for inner in get_args(annotation) for part in parts_of(inner)]


def table() -> str:
    """Return the whole table."""
    return "\n".join(["| field | meaning |", "|---|---|", *rows(Answer, "", {})])


def with_table(readme: str) -> str:
    """Return README's text with the table brought up to date."""
    return re.sub(f"{re.escape(BEGIN)}.*{re.escape(END)}", lambda _: f"{BEGIN}\n{table()}\n{END}", readme, flags=re.S)


if __name__ == "__main__":
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
