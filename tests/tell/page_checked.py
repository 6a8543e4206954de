"""A page as a test looks at it: tags in order, no address outside it, no script but ours; text that would break one."""

import html.parser
import re
from pathlib import Path

from hotspot.tell import report

HOSTILE = "<script>alert(1)</script> \"quoted\" 'single' & {{ 7*7 }} \u202e\u05d0 " + "long " * 60
TEMPLATES = Path(report.__file__).parent / "templates"


class _Balance(html.parser.HTMLParser):
    """Every tag that opens is closed in order; notes addresses and scripts."""

    VOID = ("meta", "img", "br", "link")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.addresses: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "xlink:href")]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def checked(page: str) -> _Balance:
    seen = _Balance()
    seen.feed(page)
    assert seen.open == []
    # no script but our own, to the letter: nothing of the user's is in it
    ours = {path.read_text("utf-8").strip() for path in TEMPLATES.glob("*.js")}
    assert {text.strip() for text in re.findall(r"<script>(.*?)</script>", page, re.DOTALL)} <= ours
    assert len(re.findall("<script", page)) == len(re.findall(r"<script>", page))
    assert all(address.startswith(("data:", "#")) for address in seen.addresses)
    assert not re.search(r"url\((?!#)|@import|<link", page)
    assert "nan" not in re.sub(r"base64,[^\"]*", "", page).lower().replace("finance", "").split()
    return seen
