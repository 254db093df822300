"""``python -m packet``."""

from packet.cli import main

if __name__ == "__main__":
    main()
