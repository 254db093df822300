"""Items to A4 pages, cover index, copy sets, count and recount."""
