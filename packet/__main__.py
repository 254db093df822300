"""The way in: ``packet`` and ``python -m packet``."""

import gc
import sys


def run() -> None:
    """Start the command line; Ctrl-C while it is still loading is one sentence too."""
    gc.set_threshold(
        20_000
    )  # a command lives for seconds: few looks for cycles, a tenth of its time
    try:
        from packet.ending import end_tidily

        end_tidily()
        from packet.cli import main

        main()
    except KeyboardInterrupt:
        sys.stderr.write("packet: interrupted; nothing half-written was left.\n")
        sys.exit(130)


if __name__ == "__main__":
    run()
