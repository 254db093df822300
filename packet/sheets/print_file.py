"""Both copy sets in one file, for a printer that takes one file at a time.

Every picture is in the file once, whichever set shows it: the file is hardly larger than one set.
"""

from __future__ import annotations

import hashlib
import io

from packet.errors import PacketError
from packet.sheets.recount import count_pages

BOTH_SETS = "copy-sets.pdf"


def both_sets(copy_set: bytes) -> bytes:
    """The pages of a copy set, twice over; same input, same bytes. PacketError where the second
    reader does not count twice the pages.
    """
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import ArrayObject, ByteStringObject, NameObject

    reader = PdfReader(io.BytesIO(copy_set))
    source = reader.root_object
    writer = PdfWriter()
    writer.pdf_header = "%PDF-1.7"
    for _ in range(2):  # the same reader: what both show is copied once
        writer.append(reader, import_outline=False)
    for key in ("/Lang", "/ViewerPreferences"):
        if key in source:
            writer.root_object[NameObject(key)] = source[key].clone(writer)
    title = reader.metadata.title if reader.metadata else None
    writer.metadata = {"/Title": title or "", "/Producer": "packet"}
    name = ByteStringObject(hashlib.sha256(copy_set).digest()[:16])
    writer._ID = ArrayObject([name, name])
    out = io.BytesIO()
    writer.write(out)
    made = out.getvalue()
    if count_pages(made) != 2 * count_pages(copy_set):
        raise PacketError(f"{BOTH_SETS}: the second reader does not count both sets in it.")
    return made
