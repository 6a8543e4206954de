"""A page of ours in Chromium, opened from disk with the network off."""

from __future__ import annotations

from pathlib import Path


class Opened:
    """A page in a window of its own: what its console said and which addresses it asked for."""

    def __init__(self, browser, path: Path, width: int = 1280, scheme: str = "light") -> None:
        view = {"viewport": {"width": width, "height": 800}, "color_scheme": scheme, "offline": True}
        self.context = browser.new_context(**view)
        self.tab = self.context.new_page()
        self.said, self.asked = [], []
        self.tab.on("console", lambda line: self.said.append(line.text))
        self.tab.on("pageerror", lambda error: self.said.append(str(error)))
        self.tab.on("request", lambda request: self.asked.append(request.url))
        self.tab.goto(path.as_uri())

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.context.close()

    def outside(self) -> list[str]:
        """Addresses asked for that are neither the page itself nor inside it."""
        return [url for url in self.asked if not url.startswith(("file:", "data:", "blob:"))]
