"""``python -m hotspot`` is the same as ``hotspot``."""

from hotspot.cli import main

if __name__ == "__main__":
    main()
