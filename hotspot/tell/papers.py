"""notes.md as safe HTML, and the photographs, for the report."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from hotspot.records import Papers

if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markupsafe import Markup

_HEADING = "h4"
"""Every heading of the notes: they stand under a heading of the report."""
_LEFT_OUT = ("image", "link", "autolink", "html_inline", "html_block", "reference")
"""What would lead out of the page, or let the notes write HTML of their own: it stays text."""


@cache
def _parser() -> MarkdownIt:
    from markdown_it import MarkdownIt

    return MarkdownIt("js-default", {"html": False, "linkify": False, "breaks": True}).disable(_LEFT_OUT)


def notes_html(text: str) -> Markup:
    """Markdown -> HTML: paragraphs, lists, headings, emphasis, tables, code; all else is text and escaped."""
    from markupsafe import Markup

    parser = _parser()
    tokens = parser.parse(text)
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            token.tag = _HEADING
        token.info = ""  # the language of a code block would be a class
        token.attrs = {name: value for name, value in token.attrs.items() if name in ("start", "style")}
    return Markup(parser.renderer.render(tokens, parser.options, {}))  # noqa: S704 - made by the renderer, HTML off


def photo_figures(papers: Papers) -> Sequence[dict[str, object]]:
    """The photographs for the template: a data URI, its size, and the file's name without its suffix."""
    return [
        {
            "uri": "data:image/jpeg;base64," + base64.b64encode(photo.jpeg).decode("ascii"),
            "width": photo.width,
            "height": photo.height,
            "name": photo.name.rpartition(".")[0] or photo.name,
        }
        for photo in papers.photos
    ]
