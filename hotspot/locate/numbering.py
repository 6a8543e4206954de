"""Which name belongs to which place of the grid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from hotspot.errors import refuse
from hotspot.session import Session

WHERE = "session.toml"


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the grid that holds a pin: row and column from 0 at the top left, and the pin's name."""

    row: int
    column: int
    name: str


def places(session: Session) -> tuple[Place, ...]:
    """The occupied places of a session's rows x columns grid, in the order of numbering.

    Places are counted from 1 in that order; `empty` names places by their number or by the name of their pin.
    The [[pin]]s name them in order where there is one for each; fewer that bear numbers of places are taken
    for what is said of those places only. Raises InputError where the two cannot be brought together.
    """
    connector = session.connector
    cells = list(order(connector.rows, connector.columns, connector.numbering))
    numbers = [str(k + 1) for k in range(len(cells))]
    named = [pin.name for pin in session.pin]
    empty = set(connector.empty)
    if len(named) == len(cells) and len(named) != sum(number not in empty for number in numbers):
        labels = named
    else:
        filled = [number for number in numbers if number not in empty]
        if len(named) == len(filled):
            given = dict(zip(filled, named, strict=True))
            labels = [given.get(number, number) for number in numbers]
        elif set(named) <= set(filled):
            labels = numbers
        else:
            raise refuse(
                WHERE,
                "connector.rows",
                f"{connector.rows} x {connector.columns} leave {len(filled)} pins, but {len(named)} are listed",
                "Correct rows and columns, list one [[pin]] for each, or name the places without a pin in empty.",
            )
    return tuple(
        Place(row, column, label)
        for (row, column), number, label in zip(cells, numbers, labels, strict=True)
        if number not in empty and label not in empty
    )


def order(rows: int, columns: int, numbering: str) -> Iterator[tuple[int, int]]:
    """(row, column) of the places 1, 2, ...: along the rows, down the columns, or to and fro (`snake`).

    `mirror` counts from the right instead of from the left: the mating half of the same connector.
    """
    way, _, mirror = numbering.partition(" ")
    if way == "column":
        cells = [(row, column) for column in range(columns) for row in range(rows)]
    else:
        cells = [(row, column) for row in range(rows) for column in range(columns)]
    for row, column in cells:
        turned = columns - 1 - column if way == "snake" and row % 2 else column
        yield row, columns - 1 - turned if mirror else turned
