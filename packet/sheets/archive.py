"""One encrypted PDF of a copy set, with files attached, for the user's own drawer."""

from __future__ import annotations

import io
from collections.abc import Mapping

from packet.errors import PacketError

ALGORITHM = "AES-256"  # pypdf's name for ISO 32000-2, 7.6: V 5, R 6, AESV3, 256 bits


def archive_pdf(copy_set: bytes, attachments: Mapping[str, bytes], password: str) -> bytes:
    """The copy set with ``attachments`` (name -> bytes), encrypted; the bytes differ each time.

    One password opens it with all rights. PacketError where the encryption is not installed or
    the password cannot be used in a PDF.
    """
    from pypdf import PdfReader, PdfWriter
    from pypdf.errors import DependencyError, PdfReadError

    try:
        writer = PdfWriter(clone_from=PdfReader(io.BytesIO(copy_set)))
        for name, data in attachments.items():
            writer.add_attachment(name, data)
        writer.pdf_header = "%PDF-2.0"
        writer.encrypt(user_password=password, algorithm=ALGORITHM)
        buffer = io.BytesIO()
        writer.write(buffer)
        writer.close()
    except DependencyError:
        raise PacketError(
            "The archive cannot be encrypted: the cryptography package is not installed. "
            "Install packet again with its requirements."
        ) from None
    except (ValueError, PdfReadError):
        raise PacketError(
            "The archive cannot be encrypted with this password. Choose one of letters, digits "
            "and signs that a keyboard has."
        ) from None
    return buffer.getvalue()
