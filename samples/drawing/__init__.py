"""Drawing of the invented demo papers: items in true size, then scanned or photographed."""
