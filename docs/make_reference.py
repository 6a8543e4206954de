"""Writes docs/reference from the registries of the program: python docs/make_reference.py."""

from __future__ import annotations

import tomllib
import typing
from pathlib import Path

HERE = Path(__file__).parent / "reference"
HEAD = "<!-- Made by docs/make_reference.py from the code: do not edit here. -->\n"


def pages() -> dict[str, str]:
    """Name -> text of each page of the reference."""
    made = {"session-keys": session_keys, "columns": columns, "doubts": doubts, "criteria": criteria}
    made |= {"commands": commands}
    return {f"{name}.md": HEAD + make() for name, make in made.items()}


def session_keys() -> str:
    """Every key of session.toml with its type, default and meaning."""
    from hotspot.session import Session

    text = "# The keys of session.toml\n\nOnly `frames.files` and the place of the pins are ever needed. Temperatures "
    text += "are in `units`.\n\n" + _key_table(Session, plain=True)
    for name, field in Session.model_fields.items():
        inner, many = _part(field.annotation)
        if inner is not None:
            heading = f"[[{name}]]" if many else f"[{name}]"
            about = (inner.__doc__ or "").split(": ", 1)[-1].strip()
            text += f"\n## {heading}\n\n{about[:1].upper()}{about[1:]}\n\n" + _key_table(inner)
    return text


def _key_table(model, plain: bool = False) -> str:
    lines = ["| key | value | default | meaning |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        if field.exclude or (plain and _part(field.annotation)[0] is not None):
            continue
        default = "*needed*" if field.is_required() else _default(field.get_default(call_default_factory=True))
        lines.append(f"| `{name}` | {_type(field.annotation)} | {default} | {field.description or ''} |")
    return "\n".join(lines) + "\n"


def _default(value) -> str:
    return "" if value is None or value in ("", []) else f"`{value}`"


def _part(annotation):
    """(the model of a table, whether there are many of it), or (None, False)."""
    from hotspot.session import Part

    many = typing.get_origin(annotation) is list
    inner = typing.get_args(annotation)[0] if many else annotation
    is_part = isinstance(inner, type) and issubclass(inner, Part)
    return (inner, many) if is_part else (None, False)


def _type(annotation) -> str:
    origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
    if origin is typing.Annotated:
        return _type(inside[0])
    if origin is typing.Literal:
        return " or ".join(f"`{value}`" for value in inside)
    if origin is list:
        return f"list of {_type(inside[0])}s"
    if origin is dict:
        return f"table of {_type(inside[1])}s"
    if inside:
        return " or ".join(dict.fromkeys(_type(part) for part in inside if part is not type(None)))
    return {float: "number", int: "whole number", str: "text", bool: "true or false"}.get(annotation, str(annotation))


def columns() -> str:
    """The columns of the tables that the program writes."""
    from hotspot import columns, views

    text = "# The columns of the tables\n\nNumbers are always in the unit given here, whatever people read.\n"
    for name, registry in (
        ("readings.csv", columns.READINGS),
        ("pins.csv", columns.PINS),
        ("compare.csv", columns.COMPARE),
        ("views.npz", views.VIEWS),
    ):
        text += f"\n## {name}\n\n| column | unit | kind | meaning |\n|---|---|---|---|\n"
        text += "".join(f"| `{c.name}` | {c.unit} | {c.kind} | {c.meaning} |\n" for c in registry)
    return text


def doubts() -> str:
    """The reasons to doubt a number."""
    from hotspot.doubts import REGISTRY

    text = "# Doubts\n\nNames in the `quality` column of readings.csv.\n\n"
    text += "| name | what it means | what to do |\n|---|---|---|\n"
    return text + "".join(f"| `{row.name}` | {row.sentence} | {row.remedy} |\n" for row in REGISTRY)


def criteria() -> str:
    """The numbers that verdicts and quotations rest on, each with its source."""
    import hotspot.handbook

    folder = Path(hotspot.handbook.__file__).parent
    text = "# Criteria and sources\n"
    for name, table in tomllib.loads((folder / "criteria.toml").read_text(encoding="utf-8")).items():
        for block in table if isinstance(table, list) else [table]:
            text += f"\n## {name}\n\nSource: {block.get('source', 'see the sources below')}.\n\n"
            rows = {key: value for key, value in block.items() if key != "source"}
            text += "| key | value |\n|---|---|\n" + "".join(f"| `{k}` | {v} |\n" for k, v in rows.items())
    text += "\n# Sources\n\n| key | title | edition | how far it was seen |\n|---|---|---|---|\n"
    for key, row in tomllib.loads((folder / "sources.toml").read_text(encoding="utf-8")).items():
        text += f"| `{key}` | {row['title']} | {row.get('edition', '')} | {row.get('read', '')} |\n"
    return text


def commands() -> str:
    """Every command, its arguments and options."""
    import inspect

    import typer

    from hotspot.cli import app

    group = typer.main.get_command(app)
    text = f"# The commands\n\n{inspect.cleandoc(app.info.help)}\n"
    for name, command in group.commands.items():
        text += f"\n## hotspot {name}\n\n{inspect.cleandoc(command.help)}\n\n| option | meaning |\n|---|---|\n"
        for param in command.params:
            named = ", ".join([*param.opts, *param.secondary_opts]) if param.param_type_name == "option" else param.name
            text += f"| `{named}` | {getattr(param, 'help', None) or ''} |\n"
    return text


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    for name, text in pages().items():
        (HERE / name).write_text(text, encoding="utf-8", newline="\n")
