"""The flags that several commands share, declared once."""

from pathlib import Path
from typing import Annotated

import typer

Folder = Annotated[Path, typer.Argument(help="The session folder.", show_default=False)]
Out = Annotated[Path | None, typer.Option("--out", help="Where the results go; the session folder stays as it is.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")]
Units = Annotated[str | None, typer.Option("--units", help="C, F or K: what people read.")]
Text = str | None
