"""The codes of all findings, so that a word under ``accept`` that is none is seen.

A new code is added here; ``tests/checks/test_finding_codes.py`` compares the list with the code.
"""

from __future__ import annotations

FINDING_CODES = frozenset(
    {
        "blank",
        "blurred",
        "booklet-pages-missing",
        "cut-off",
        "date-doubt",
        "date-order",
        "duplicate",
        "email",
        "form-leaves-unconfirmed",
        "form-not-scanned",
        "form-pages",
        "form-signature",
        "glare",
        "held-after-all",
        "letters",
        "low-resolution",
        "missing-document",
        "missing-name",
        "missing-openings",
        "missing-side",
        "more-pictures",
        "mrz",
        "mrz-disagrees",
        "names-nothing",
        "near-edge",
        "not-a-scan",
        "not-found",
        "not-used",
        "opening-not-seen",
        "opening-order",
        "other-person",
        "packet-file",
        "papers-disagree",
        "postcode",
        "read-disagrees",
        "reduced",
        "same-passport",
        "same-scan",
        "size-mismatch",
        "size-unknown",
        "tax-code",
        "tax-code-disagrees",
        "turn-unsure",
        "two-cells",
        "unknown-province",
        "unknown-state",
        "unreadable",
        "wrong-document",
    }
)
