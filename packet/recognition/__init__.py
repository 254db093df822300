"""Reading the text of normalised items: an optional extra (``packet[read]``)."""
