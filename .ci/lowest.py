"""The lowest versions of its libraries that pyproject.toml allows, as constraints for pip: python .ci/lowest.py."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in project["dependencies"]:
    name, lowest = re.match(r"([\w-]+)>=([\w.]+)", requirement).groups()
    print(f"{name}=={lowest}")
