"""The digest of what build and count read from packet.toml and its rule set."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from packet.model import DocumentSpec, Packet


def values_digest(packet: Packet) -> str:
    """SHA-256 (hex) of the canonical JSON of every value that build and count read.

    A changed comment, layout or value that is not read (visa, entry, address, passport number,
    permits, appointment, receipt, how box 22 is answered) leaves it as it is; a changed value of a
    user's own rule set does not.
    """
    values: dict[str, Any] = {
        "rule_set": {
            "name": packet.rule_set.name,
            "titles": [packet.rule_set.title_it, packet.rule_set.title_en],
            "form": _spec(packet.rule_set.form),
            "form_pages": sorted(packet.rule_set.form_pages.items()),
            "is_renewal": packet.rule_set.is_renewal,
            "source": packet.rule_set.source,
            "as_of": packet.rule_set.as_of.isoformat(),
        },
        "documents": [_spec(spec) for spec in packet.documents],
        "not_held": sorted(packet.not_held),
        "name": [packet.applicant.surname, packet.applicant.given_names],
        "passport": [
            packet.passport.booklet_pages,
            packet.passport.pages,
            packet.passport.openings_per_sheet,
        ],
        "form": {
            "modules": packet.form.modules,
            "copied_by_hand": packet.form.copied_by_hand,
        },
        "count": asdict(packet.count),
        "order": {folder: [asdict(one) for one in lines] for folder, lines in packet.order.items()},
        "items": [asdict(override) for override in packet.overrides],
    }
    text = json.dumps(values, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _spec(spec: DocumentSpec) -> dict[str, Any]:
    """A document without what only ``packet new`` and ``packet batch`` read."""
    values = asdict(spec)
    for unread in ("scan_note", "identity", "renewable", "renewal_note"):
        del values[unread]
    values["as_of"] = spec.as_of.isoformat() if spec.as_of else None
    return values
