"""Everything that stops a command, and the exit code it stops with.

    PacketError                 2   could not be done (also the catch-all)
    ├── UsageError              2   the call itself is wrong
    ├── PacketFileError         2   packet.toml or a rule set cannot be used; carries every problem
    ├── ScanError               2   one scan cannot be read (becomes a finding in a build)
    │   └── ScanLimitError      2   one scan is larger than the limits allow
    ├── FontError               2   a text holds a character that the font lacks
    ├── BusyError               2   another packet command is at work in the same folder
    ├── OutputError             2   a result could not be written
    └── NothingBuiltError       2   no scan could be used; carries what was found

A thing that a user must look at but that stops nothing is not an error: it is a
``packet.model.Finding``. Messages are whole sentences (which file, what is wrong, what to do
next) and never hold a value from an identity paper.
"""

from __future__ import annotations

from collections.abc import Sequence

EXIT_DONE = 0
EXIT_FINDINGS = 1
EXIT_NOT_DONE = 2
EXIT_DISAGREES = 4
EXIT_INTERRUPTED = 130


class PacketError(Exception):
    """Something could not be done; ``str(error)`` is the sentence for the user."""

    exit_code = EXIT_NOT_DONE


class UsageError(PacketError):
    """The call is wrong: an option, a path or a combination of them."""


class PacketFileError(PacketError):
    """packet.toml, a rule set or another TOML file cannot be used.

    ``problems`` holds one sentence per fault, all of the file at once, each with its key path.
    """

    def __init__(self, file: str, problems: Sequence[str]) -> None:
        self.file = file
        self.problems = tuple(problems)
        super().__init__("\n".join(f"{file}: {problem}" for problem in self.problems))

    def __reduce__(self) -> tuple[type[PacketFileError], tuple[str, tuple[str, ...]]]:
        return type(self), (self.file, self.problems)


class ScanError(PacketError):
    """One scan cannot be read.

    ``code`` is the finding code it turns into (``unreadable`` or ``not-a-scan``), ``what`` says
    what is wrong and ``remedy`` what to do next, both without the file's name.
    """

    def __init__(self, what: str, remedy: str, code: str = "unreadable") -> None:
        self.what = what
        self.remedy = remedy
        self.code = code
        super().__init__(f"{what} {remedy}".strip())

    def __reduce__(self) -> tuple[type[ScanError], tuple[str, str, str]]:
        return type(self), (self.what, self.remedy, self.code)


class ScanLimitError(ScanError):
    """One scan is larger (bytes, pixels, pages, time) than the limits allow."""


class FontError(PacketError):
    """A text for a printed page holds a character that the embedded font lacks."""


class OutputError(PacketError):
    """A result could not be written: full disk, read-only folder, no permission."""


class BusyError(PacketError):
    """Another packet command is writing in the same folder at this moment."""


class NothingBuiltError(PacketError):
    """No scan could be used. ``findings`` (``packet.model.Finding``) say why."""

    def __init__(self, message: str, findings: Sequence[object]) -> None:
        self.findings = tuple(findings)
        super().__init__(message)
